"""`job.toml`, beside the recordings: what the office knows of one job and nobody has to say."""

from __future__ import annotations

import copy
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from pathlib import Path, PurePath
from typing import Any

from jobnotes.office import misnamed
from jobnotes.office.cover import Cover, cover_of
from jobnotes.office.currency import minor_unit
from jobnotes.office.party import party_of
from jobnotes.office.stated import EntryError, Table, toml
from jobnotes.office.workshop import Workshop
from jobnotes.record import Party

NAME = "job.toml"
FORMAT, VERSION = "jobnotes-job", 1


@dataclass(frozen=True, slots=True)
class AgreedAllowance:
    """An amount off the customer's invoice as a whole. `tax` names one of the workshop's taxes."""

    reason: str
    amount: Decimal
    tax: str | None = None


@dataclass(frozen=True, slots=True)
class JobDetails:
    """All of it is optional. `payer` is who the claim goes to, `claim_number` what it goes under; `policy` is
    the file of a claim policy in the workshop's folder; `order` is the customer's own, which the invoice
    names; `cover` takes the place of the workshop's."""

    number: str | None = None
    registration: str | None = None
    vin: str | None = None
    technician: str | None = None
    in_service_on: date | None = None
    failed_on: date | None = None
    claimed_on: date | None = None
    claim_number: str | None = None
    payer: str | None = None
    policy: str | None = None
    customer: Party | None = None
    invoice_number: str | None = None
    issued_on: date | None = None
    due_on: date | None = None
    terms: str | None = None
    order: str | None = None
    paid: Decimal = Decimal(0)
    discount_percent: Decimal | None = None
    allowances: tuple[AgreedAllowance, ...] = ()
    cover: Cover | None = None


def refuse_misnamed(folder: Path) -> None:
    """Raises JobnotesError where a file beside the recordings is meant as job.toml and called otherwise."""
    misnamed.refuse_misnamed(folder, (NAME,))
    misnamed.refuse_format_elsewhere(folder, FORMAT, NAME)


def load(path: Path, label: str | None = None, workshop: Workshop | None = None) -> JobDetails:
    """What that file states. `label` is what it is called in errors. Raises JobnotesError.

    With `workshop` its taxes must be that workshop's, and its amounts have the places of its currency.
    """
    return details_of(read(path, label), workshop)


def read(path: Path, label: str | None = None) -> Table:
    """That file as it was written. Raises JobnotesError."""
    return toml(path, label or str(path), FORMAT, VERSION)


def details_of(table: Table, workshop: Workshop | None = None) -> JobDetails:
    """What is stated there; see `load`."""
    table.known(
        *("number", "registration", "vin", "technician", "in_service_on", "failed_on", "claimed_on"),
        *("claim_number", "payer", "policy", "customer", "invoice", "cover"),
    )
    policy = table.words("policy")
    if policy is not None and PurePath(policy).name != policy:
        raise table.error("policy", f"is {policy!r}", "name a file in the workshop's folder, without a path")
    invoice = table.table("invoice")
    invoice.known("number", "issued_on", "due_on", "terms", "order", "paid", "discount_percent", "allowance")
    allowances = []
    for row in invoice.tables("allowance"):
        row.known("reason", "amount", "tax")
        reason, amount = row.words("reason"), row.amount("amount")
        if reason is None:
            raise row.error("reason", "is missing", 'add reason = "…": what the amount is taken off for')
        if amount is None:
            raise row.error("amount", "is missing", 'add amount = "10.00"')
        tax = row.words("tax")
        if workshop is not None and workshop.tax(tax) is None:
            known = ", ".join(t.name for t in workshop.taxes)
            raise row.error("tax", f"is {tax!r}", f"name one of workshop.toml's: {known}, or add it there")
        _payable(row, "amount", amount, workshop)
        allowances.append(AgreedAllowance(reason, amount, tax))
    issued, due = invoice.day("issued_on"), invoice.day("due_on")
    if issued and due and due < issued:
        raise invoice.error("due_on", f"is before {issued}", "correct one of the two dates")
    paid = invoice.amount("paid") or Decimal(0)
    _payable(invoice, "paid", paid, workshop)
    return JobDetails(
        number=table.words("number"),
        registration=table.words("registration"),
        vin=table.words("vin"),
        technician=table.words("technician"),
        in_service_on=table.day("in_service_on"),
        failed_on=table.day("failed_on"),
        claimed_on=table.day("claimed_on"),
        claim_number=table.words("claim_number"),
        payer=table.words("payer"),
        policy=policy,
        customer=party_of(table.table("customer")),
        invoice_number=invoice.words("number"),
        issued_on=issued,
        due_on=due,
        terms=invoice.words("terms"),
        order=invoice.words("order"),
        paid=paid,
        discount_percent=invoice.amount("discount_percent", most=Decimal(100)),
        allowances=tuple(allowances),
        cover=cover_of(table.table("cover")) if "cover" in table.values else None,
    )


def _payable(table: Table, key: str, amount: Decimal, workshop: Workshop | None) -> None:
    """Raises where nobody can pay that amount: half a cent, say."""
    places = minor_unit(workshop.currency) if workshop else None
    if workshop and places is not None and amount != round(amount, places):
        what = f"has more decimals than {workshop.currency}"
        raise table.error(key, f"is {amount}, which {what}", f"write it with {places} at most")


# --- entry by entry ------------------------------------------------------------------------------

#: One entry's value: text, or the rows of a list, each with its own entries
Entry = str | list[dict[str, str]]

#: entries that are dates without quotes, and those that are lists of words
DAYS = ("in_service_on", "failed_on", "claimed_on", "invoice.issued_on", "invoice.due_on")
WORDS = ("words",)


def entries_of(table: Table) -> dict[str, Entry]:
    """Each entry by its key with its table before it ("customer.name"), as text; words parted by commas."""
    return _entries(table.values, "")


def _entries(values: Mapping[str, Any], before: str) -> dict[str, Entry]:
    found: dict[str, Entry] = {}
    for key, value in values.items():
        if isinstance(value, dict):
            found |= _entries(value, f"{before}{key}.")
        elif isinstance(value, list) and all(isinstance(row, dict) for row in value):
            found[before + key] = [{k: _text(v) for k, v in row.items()} for row in value]
        else:
            found[before + key] = _text(value)
    return found


def _text(value: Any) -> str:
    return ", ".join(map(str, value)) if isinstance(value, list) else str(value)


def overlaid(file: Table | None, entries: Mapping[str, Entry | None], label: str) -> Table:
    """What the file states, with these entries in the place of its own; None takes one out.

    `label` is what it is called in errors. Raises JobnotesError where an entry can't be what it is meant as.
    """
    values: dict[str, Any] = copy.deepcopy(dict(file.values)) if file else {}
    for key, entry in entries.items():
        *tables, last = key.split(".")
        within = values
        for name in tables:
            within = within.setdefault(name, {})
        if entry is None:
            within.pop(last, None)
        else:
            within[last] = _value(key, entry, label)
    return Table(label, "", _without_empty(values))


def _without_empty(values: Mapping[str, Any]) -> dict[str, Any]:
    """Without the tables that hold nothing: "[cover]" alone would take the place of the workshop's."""
    kept = {k: _without_empty(v) if isinstance(v, dict) else v for k, v in values.items()}
    return {k: v for k, v in kept.items() if v not in ({}, [])}


def _value(key: str, entry: Entry, label: str) -> Any:
    if isinstance(entry, str):
        if key not in DAYS:
            return entry
        try:
            return date.fromisoformat(entry)
        except ValueError:
            said = EntryError(label, f"{key} is not a date", "write it as 2026-02-12", key)
            raise said from None
    return [{k: _row_value(k, v) for k, v in row.items()} for row in entry]


def _row_value(key: str, text: str) -> Any:
    return [word.strip() for word in text.split(",") if word.strip()] if key in WORDS else text

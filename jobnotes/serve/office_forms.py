"""The form of what the office knows of a job: the entries of `job.toml`, to be filled in by hand.

Each field is one entry, under its name there. `entry_of` brings what was typed to what the file would hold;
whether all of it makes sense together is for `office.job` to say, as it is for the file.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any, Literal

from jobnotes.office.cover import COVERED
from jobnotes.office.job import Entry
from jobnotes.office.stated import decimal_of
from jobnotes.office.workshop import Workshop

Shape = Literal["text", "long", "day", "number", "choice", "rows"]

_MOST_LINE = 200
_MOST_LONG = 2000
_MOST_ROWS = 20
_COVERED = {"parts": "Parts", "labour": "Labour", "consumables": "Materials", "sundry": "Small things"}


@dataclass(frozen=True, slots=True)
class OfficeField:
    """`key` is its name in job.toml with its table before it; of a column, its name in the row. `most` is the
    greatest number that makes sense. `columns` are those of a list's rows."""

    key: str
    label: str
    shape: Shape = "text"
    needed: bool = False
    hint: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    most: Decimal | None = None
    columns: tuple[OfficeField, ...] = ()


@dataclass(frozen=True, slots=True)
class Group:
    title: str
    fields: tuple[OfficeField, ...]
    hint: str = ""


_PERCENT = Decimal(100)
_YEAR_FIRST = "As in 2026-02-12"


def groups(own: Workshop | None, policies: tuple[str, ...] = ()) -> tuple[Group, ...]:
    """The form for a job of that workshop, whose folder has those claim policies."""
    taxes = tuple((tax.name, tax.name) for tax in own.taxes) if own else ()
    named = tuple((name, name) for name in policies)
    return (
        Group(
            "Job and vehicle",
            (
                OfficeField("number", "Job number"),
                OfficeField("registration", "Registration"),
                OfficeField("vin", "Vehicle identification number"),
                OfficeField("technician", "Technician"),
            ),
            "What was said of number and vehicle counts before this; where they differ, “What is missing” "
            "says so. The odometer is a statement: add it by hand.",
        ),
        Group(
            "Dates",
            (
                OfficeField("in_service_on", "In service since", "day"),
                OfficeField("failed_on", "Failed on", "day"),
                OfficeField("claimed_on", "Claimed on", "day"),
            ),
            "The year first: 2026-02-12. When it was repaired is told by the recordings.",
        ),
        Group(
            "Claim",
            (
                OfficeField("payer", "Claimed from"),
                OfficeField("claim_number", "Claim number"),
                OfficeField("policy", "Claim policy", "choice", choices=named, hint=_policies(named)),
            ),
        ),
        Group(
            "Customer",
            (
                OfficeField(
                    "customer.name", "Name", hint="Needed as soon as anything of the customer is known"
                ),
                OfficeField("customer.street", "Street"),
                OfficeField("customer.postcode", "Postcode"),
                OfficeField("customer.city", "Town"),
                OfficeField("customer.country", "Country", hint="Two letters, as in GB"),
                OfficeField("customer.tax_id", "Tax number", hint="With its country’s letters first"),
                OfficeField("customer.registration", "Number in the register of companies"),
                OfficeField("customer.contact", "Contact"),
                OfficeField("customer.phone", "Telephone"),
                OfficeField("customer.email", "Email"),
                OfficeField("customer.iban", "Account (IBAN)"),
            ),
        ),
        Group(
            "Invoice",
            (
                OfficeField("invoice.number", "Invoice number"),
                OfficeField("invoice.issued_on", "Date of the invoice", "day", hint=_YEAR_FIRST),
                OfficeField("invoice.due_on", "Payable by", "day", hint=_YEAR_FIRST),
                OfficeField("invoice.terms", "How it is to be paid", "long"),
                OfficeField("invoice.order", "The customer’s order"),
                OfficeField("invoice.paid", "Paid already", "number"),
                OfficeField("invoice.discount_percent", "Discount on every line, %", "number", most=_PERCENT),
                OfficeField(
                    "invoice.allowance",
                    "Amounts off the whole invoice",
                    "rows",
                    columns=(
                        OfficeField("reason", "For what", needed=True),
                        OfficeField("amount", "Amount, without tax", "number", needed=True),
                        OfficeField("tax", "Tax of its lines", "choice", choices=taxes),
                    ),
                ),
            ),
        ),
        Group(
            "Who bears what",
            (
                *(
                    OfficeField(
                        f"cover.{kind}.{payer}", f"{_COVERED[kind]}: {name}, %", "number", most=_PERCENT
                    )
                    for kind in COVERED
                    for payer, name in (("warranty", "warranty"), ("goodwill", "goodwill"))
                ),
                OfficeField(
                    "cover.except",
                    "Lines that are borne otherwise",
                    "rows",
                    columns=(
                        OfficeField("words", "Words or numbers", needed=True, hint="Parted by commas"),
                        OfficeField("warranty", "Warranty, %", "number", most=_PERCENT),
                        OfficeField("goodwill", "Goodwill, %", "number", most=_PERCENT),
                    ),
                ),
            ),
            "In percent; the customer has the rest. Once one of these is filled in, they take the place of "
            "the workshop’s own cover for this job.",
        ),
    )


def _policies(named: tuple[tuple[str, str], ...]) -> str:
    return "" if named else "The workshop’s folder has none of its own"


def field_of(key: str, form: tuple[Group, ...]) -> OfficeField | None:
    return next((field for group in form for field in group.fields if field.key == key), None)


def entry_of(field: OfficeField, typed: Any, wrong: dict[str, str]) -> Entry | None:
    """What was typed into a field, as the file would hold it; None where it was left empty.

    What is wrong is added to `wrong`, by the field's key; of a list with the row's place and the column.
    """
    if field.shape != "rows":
        return _plain(field, typed, field.key, wrong)
    if typed in (None, ""):
        return None
    if not isinstance(typed, list) or len(typed) > _MOST_ROWS:
        wrong[field.key] = f"must be a list of {_MOST_ROWS} rows at most"
        return None
    rows: list[dict[str, str]] = []
    for row in typed:
        given = row if isinstance(row, Mapping) else {}
        before = f"{field.key}.{len(rows)}"
        plain = {c.key: _plain(c, given.get(c.key), f"{before}.{c.key}", wrong) for c in field.columns}
        filled = {name: value for name, value in plain.items() if value is not None}
        if not filled and not any(name.startswith(f"{before}.") for name in wrong):
            continue
        for column in field.columns:
            if column.needed and column.key not in filled:
                wrong.setdefault(f"{before}.{column.key}", "is missing")
        rows.append(filled)
    return list(rows) or None


def _plain(field: OfficeField, typed: Any, name: str, wrong: dict[str, str]) -> str | None:
    if typed is None:
        return None
    if not isinstance(typed, str):
        wrong[name] = "must be text"
        return None
    # a lone surrogate can't be stored, nor a control character printed
    text = typed.encode("utf-8", "replace").decode("utf-8")
    text = "".join(c if c.isprintable() or (c == "\n" and field.shape == "long") else " " for c in text)
    text = text.strip() if field.shape == "long" else " ".join(text.split())
    if not text:
        return None
    most = _MOST_LONG if field.shape == "long" else _MOST_LINE
    if len(text) > most:
        wrong[name] = f"is too long: {most} characters at most"
    elif field.shape == "day" and not _is_day(text):
        wrong[name] = "write the date with the year first: 2026-02-12"
    elif field.shape == "number" and (why := _not_a_number(text, field.most)):
        wrong[name] = why
    elif field.shape == "choice" and text not in {value for value, _ in field.choices}:
        wrong[name] = "choose one of the list"
    return text


def _is_day(text: str) -> bool:
    if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
        return False
    try:
        date.fromisoformat(text)
    except ValueError:
        return False
    return True


def _not_a_number(text: str, most: Decimal | None) -> str | None:
    number = decimal_of(text)
    if number is None:
        return "write digits, with a point before decimals: 12.50"
    if number < 0:
        return "must not be below 0"
    return f"must be {most} at most" if most is not None and number > most else None

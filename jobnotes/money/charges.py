"""The priced lines of a job: what is charged, at which price, and who bears it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal
from typing import Literal

from jobnotes.chronology import as_said
from jobnotes.money.accounts import Taxed, TaxKey, account, totals
from jobnotes.money.currency import divided, percent, places, product, rounded
from jobnotes.money.parts_used import SameObject, Used, parts_used
from jobnotes.office.cover import Covered
from jobnotes.office.job import NAME as JOB_FILE
from jobnotes.office.job import AgreedAllowance, JobDetails
from jobnotes.office.names import is_plural, singular_words
from jobnotes.office.office import Office
from jobnotes.office.prices import NAME as PRICES
from jobnotes.office.prices import Price
from jobnotes.office.rates import NAME as RATES
from jobnotes.office.standard_times import NAME as STANDARD_TIMES
from jobnotes.office.units import HOUR, PIECE, in_unit
from jobnotes.office.workshop import Tax, Workshop
from jobnotes.record import (
    Account,
    Allowance,
    Charge,
    Fact,
    Invoice,
    LabourLine,
    LabourSaid,
    OfficeRow,
    Part,
    Party,
    Payer,
    Record,
    Share,
    Totals,
)

PAYERS: tuple[Payer, ...] = ("customer", "warranty", "goodwill")
_COVERED: dict[str, Covered] = {
    "part": "parts",
    "consumable": "consumables",
    "labour": "labour",
    "sundry": "sundry",
}
_SUNDRY = "consumables"
_NO_TOTAL = "there is no total"


@dataclass(frozen=True, slots=True)
class Charged:
    """`totals` is None where there is no line, or one without a price. `remarks`: a line each."""

    charges: tuple[Charge, ...] = ()
    remarks: tuple[str, ...] = ()
    totals: Totals | None = None
    invoice: Invoice | None = None
    workshop: Party | None = None


def charge(record: Record, office: Office, details: JobDetails | None, same_object: SameObject) -> Charged:
    """What the record's usable facts and labour cost by the office's prices.

    `record.labour` has to be filled in before. `same_object` says whether two names may mean one thing.
    Nothing in doubt is charged, nothing private, and nothing that was re-used, taken off or only ordered.
    """
    own = office.workshop
    if own is None:
        return Charged()
    pricing = _Pricing(own, office, details or JobDetails(), same_object)
    invoice = pricing.invoice()
    if office.prices is None and office.rates is None:
        return Charged(invoice=invoice, workshop=own.party)
    shown = [f for f in record.facts if f.audience == "all"]
    facts = as_said(f for f in shown if f.usable)
    remarks = [what for f in shown if f.status == "check" and (what := _not_charged(f))]
    used = parts_used(facts, same_object)
    billed = [thing for thing in used if pricing.has_line(thing)]
    remarks += [remark for thing in billed for remark in thing.remarks]
    lines = [pricing.part(thing, remarks) for thing in billed]
    lines += pricing.sundry(lines, [u for u in used if u.consumed])
    private = {f.id for f in record.facts if f.audience != "all"}
    hours = [line for line in record.labour if not line.fact_ids or not private.issuperset(line.fact_ids)]
    lines += pricing.labour(hours, remarks)
    lines = [pricing.shared(line) for line in _told_apart(lines)]
    found = _totals(lines, pricing, remarks)
    return Charged(tuple(lines), tuple(dict.fromkeys(remarks)), found, invoice, own.party)


def _not_charged(fact: Fact) -> str | None:
    """What is left out since somebody has to look at it first."""
    detail = fact.detail
    if isinstance(detail, Part) and detail.action in ("fitted", "consumed"):
        return f"{detail.name} needs checking and isn't charged"
    if isinstance(detail, LabourSaid):
        return f"{detail.hours} h for {detail.operation or 'labour'} needs checking and isn't charged"
    return None


@dataclass(frozen=True)
class _Pricing:
    own: Workshop
    office: Office
    details: JobDetails
    same_object: SameObject

    @property
    def places(self) -> int:
        return places(self.own.currency)

    # --- parts and materials ---------------------------------------------------------------------

    def has_line(self, used: Used) -> bool:
        return not used.consumed or self.own.consumables == "each"

    def part(self, used: Used, remarks: list[str]) -> Charge:
        kind: Literal["part", "consumable"] = "consumable" if used.consumed else "part"
        amount = Decimal(1) if used.quantity is None else used.quantity
        bare = Charge(
            _id(kind, used.lead.id),
            kind,
            used.name,
            amount,
            used.unit or PIECE,
            tuple(f.id for f in used.facts),
            used.number,
        )
        price, why = self._price(used)
        if price is None:
            return replace(bare, why=why)
        if amount <= 0:
            return replace(bare, why=f"a quantity of {amount:f} can't be charged")
        if used.second_hand:
            return replace(bare, why="a used one was fitted, and the price list's is of a new one")
        if price.unit != PIECE and used.quantity is None:
            return replace(bare, why=f"its price is for 1 {price.unit}, and how much was used was not said")
        converted = in_unit(amount, bare.unit, price.unit)
        if converted is None:
            said = f"{amount:f} {bare.unit if bare.unit != PIECE else 'pieces'}"
            per = price.unit if price.unit != PIECE else "piece"
            return replace(bare, why=f"its price is for 1 {per}, and the amount said is {said}")
        if used.quantity is None and is_plural(used.name):
            remarks.append(f"how many {used.name} was not said; one is charged")
        if used.number and not self._may_be(used.name, price):
            remarks.append(
                f"number {used.number} was said for {used.name}; in the price list it is {price.description}"
            )
        return self._priced(
            replace(bare, quantity=converted, unit=price.unit, number=price.number or used.number),
            price.price,
            price.discount_percent,
            price.tax,
            (_row(PRICES, price.line),),
        )

    def _price(self, used: Used) -> tuple[Price | None, str]:
        listed = self.office.prices
        if listed is None:
            return None, "there is no price list"
        if used.number is not None:
            return listed.by_number(used.number), f"number {used.number} is not in the price list"
        named = listed.by_name(used.name)
        bare = [p for p in named if p.number is None]
        numbers = " or ".join(p.number for p in named if p.number)
        if len(bare) == 1:
            return bare[0], ""
        if numbers:
            # which of them it was nobody said, and the next one may cost ten times as much
            return None, f"its number was not said; the price list has {numbers} of that name"
        return None, "neither its number nor its name is in the price list"

    def _may_be(self, name: str, price: Price) -> bool:
        """Whether the price may be of what was named: a word in common, or another for it.

        By any of its names; a list in another language has ours in `said_as`.
        """
        if price.number is not None and price.names == (price.number,):
            return True
        said = set(singular_words(name))
        return any(said & set(singular_words(n)) or self.same_object(name, n) for n in price.names)

    def sundry(self, lines: Sequence[Charge], consumed: Sequence[Used]) -> list[Charge]:
        """A line for everything that was used up, as a share of the parts."""
        if self.own.consumables != "percent" or not consumed:
            return []
        facts = tuple(dict.fromkeys(f.id for used in consumed for f in used.facts))
        bare = Charge(_id("sundry", *facts[:1]), "sundry", _SUNDRY, Decimal(1), PIECE, facts)
        nets = [line.net for line in lines if line.kind == "part"]
        if any(net is None for net in nets):
            return [replace(bare, why="it is a share of the parts, and one of them has no price")]
        whole = sum((net for net in nets if net is not None), Decimal(0))
        share = percent(whole, self.own.consumables_percent, self.places)
        # what was taken off the parts is off their share already
        return [self._at(bare, share, Decimal(0), None)]

    # --- labour ----------------------------------------------------------------------------------

    def labour(self, lines: Sequence[LabourLine], remarks: list[str]) -> list[Charge]:
        said = [line for line in lines if line.basis == "said"]
        clock = [line for line in lines if line.basis == "clock"]
        first, second = (clock, said) if self.own.labour == "clock" else (said, clock)
        if second and not first:
            what = "the time on the clock is" if second is clock else "the hours that were said are"
            remarks.append(f"{what} charged, as there is nothing else")
        chosen = first or second
        if self.own.labour == "standard" and chosen is said:
            chosen = _once(chosen)
        remarks += _said_in_two_ways(chosen)
        return [self._hours(line) for line in chosen]

    def _hours(self, line: LabourLine) -> Charge:
        standard = self.own.labour == "standard" and line.basis == "said"
        hours = line.standard if standard and line.standard is not None else line.hours
        bare = Charge(
            _id("labour", *(line.fact_ids[:1] or (line.operation,))),
            "labour",
            line.operation,
            hours,
            HOUR,
            line.fact_ids,
        )
        if standard and line.standard is None:
            return replace(bare, why=f"there is no standard time for {line.operation}")
        if hours <= 0:
            return replace(bare, why=f"{hours:f} h can't be charged")
        if self.office.rates is None:
            return replace(bare, why="there are no labour rates")
        found = self.office.rates.candidates(line.operation)
        if not found:
            return replace(bare, why=f"there is no labour rate for {line.operation}")
        if len(found) > 1:
            which = " or ".join(rate.operation for rate in found)
            return replace(bare, why=f"its labour rate may be that of {which}")
        times = self.office.standard_times
        allowed = times.time_for(line.operation) if standard and times else None
        rows = (_row(RATES, found[0].line), _row(STANDARD_TIMES, allowed.line if allowed else None))
        return self._priced(bare, found[0].rate, None, found[0].tax, rows)

    # --- money -----------------------------------------------------------------------------------

    def _priced(
        self,
        bare: Charge,
        price: Decimal,
        discount: Decimal | None,
        tax_name: str | None,
        rows: Sequence[OfficeRow | None],
    ) -> Charge:
        """The line at that price, less the larger of its own discount and the job's: they aren't added."""
        off = max(discount or Decimal(0), self.details.discount_percent or Decimal(0))
        line = self._at(bare, price, off, tax_name)
        return replace(line, rows=tuple(row for row in rows if row is not None))

    def _at(self, bare: Charge, price: Decimal, off: Decimal, tax_name: str | None) -> Charge:
        tax = self.tax(tax_name)
        return replace(
            bare,
            unit_price=price,
            discount_percent=off or None,
            net=percent(product(bare.quantity, price), 100 - off, self.places),
            tax_category=tax.category,
            tax_rate=tax.rate,
        )

    def tax(self, name: str | None) -> Tax:
        return self.own.tax(name) or self.own.taxes[0]

    def shared(self, line: Charge) -> Charge:
        """The line with what each payer bears of it; who bears less than a minor unit has no share."""
        if line.net is None:
            return line
        cover = self.details.cover or self.own.cover
        borne = cover.of(_COVERED[line.kind], line.description, line.number)
        percents: dict[Payer, Decimal] = {
            "warranty": borne.warranty,
            "goodwill": borne.goodwill,
            # of equals the last, to whom an odd cent should not fall
            "customer": 100 - borne.warranty - borne.goodwill,
        }
        parts = dict(zip(percents, divided(line.net, list(percents.values()), self.places), strict=True))
        bearing = [payer for payer in PAYERS if parts[payer]]
        # a line that comes to nothing is shown to whom it would have been charged
        bearing = bearing or [max(reversed(percents), key=lambda payer: percents[payer])]
        return replace(line, shares=tuple(Share(payer, parts[payer]) for payer in bearing))

    def invoice(self) -> Invoice | None:
        details, own = self.details, self.own
        due = details.due_on
        if due is None and details.issued_on is not None and own.invoice_days is not None:
            due = details.issued_on + timedelta(days=own.invoice_days)
        found = Invoice(
            number=details.invoice_number,
            issued_on=details.issued_on,
            due_on=due,
            terms=details.terms or own.terms,
            buyer=details.customer,
            order=details.order,
        )
        return None if found == Invoice() else found


def _row(file: str, line: int | None) -> OfficeRow | None:
    return None if line is None else OfficeRow(file, line)


def _totals(lines: Sequence[Charge], pricing: _Pricing, remarks: list[str]) -> Totals | None:
    if not lines or any(line.net is None for line in lines):
        return None
    own, details = pricing.own, pricing.details
    reasons: dict[TaxKey, str] = {(t.category, t.rate): t.reason for t in own.taxes if t.reason}
    accounts: list[Account] = []
    for payer in PAYERS:
        shares = [
            Taxed(share.net, line.tax_category or "", line.tax_rate or Decimal(0))
            for line in lines
            for share in line.shares
            if share.payer == payer
        ]
        allowances: list[Allowance] = []
        paid = details.paid if payer == "customer" else Decimal(0)
        for agreed in details.allowances if payer == "customer" else ():
            taken = _allowance(agreed, shares, pricing)
            if isinstance(taken, str):
                remarks.append(f"{taken}; {_NO_TOTAL}")
                return None
            allowances.append(taken)
        if not shares and not allowances and not paid:
            continue
        try:
            found = account(payer, shares, pricing.places, allowances=allowances, paid=paid, reasons=reasons)
        except ValueError as error:
            what = f"{_named(error)} is more than the customer's lines with its tax"
            remarks.append(f"{what}; {_NO_TOTAL}")
            return None
        accounts.append(found)
    return totals(accounts, own.currency, pricing.places)


def _allowance(agreed: AgreedAllowance, shares: Sequence[Taxed], pricing: _Pricing) -> Allowance | str:
    """What was agreed, with its tax; a text where nobody can tell which that is."""
    if pricing.own.tax(agreed.tax) is None:
        return f"{_named(agreed.reason)} names an unknown tax"
    taxes = dict.fromkeys(share.key for share in shares)
    if agreed.tax is None and len(taxes) > 1:
        which = " or ".join(f"{category} {rate:f} %" for category, rate in taxes)
        return f"{_named(agreed.reason)} names no tax, and the customer's lines have {which}"
    tax = pricing.tax(agreed.tax)
    category, rate = (tax.category, tax.rate) if agreed.tax or not taxes else next(iter(taxes))
    return Allowance(agreed.reason, rounded(agreed.amount, pricing.places), category, rate)


def _named(reason: object) -> str:
    return f"the allowance “{reason}” in {JOB_FILE}"


def _once(lines: Sequence[LabourLine]) -> list[LabourLine]:
    """A line for each operation: its standard time is allowed once, however often hours were said for it."""
    merged: dict[tuple[str, ...], LabourLine] = {}
    for line in lines:
        key = singular_words(line.operation)
        first = merged.get(key)
        ids = (*first.fact_ids, *line.fact_ids) if first else line.fact_ids
        merged[key] = replace(first or line, fact_ids=tuple(dict.fromkeys(ids)))
    return list(merged.values())


def _said_in_two_ways(lines: Sequence[LabourLine]) -> list[str]:
    """A remark for each operation with several lines: it may have been done twice, or the hours corrected."""
    hours: dict[tuple[str, ...], list[str]] = {}
    for line in lines:
        hours.setdefault(singular_words(line.operation), []).append(f"{line.hours:f}")
    return [
        f"{' '.join(operation)}: {' and '.join(said)} h were said; all of them are charged"
        for operation, said in hours.items()
        if len(said) > 1
    ]


def _told_apart(lines: Sequence[Charge]) -> list[Charge]:
    """The lines with ids that differ, also where one statement gives two alike."""
    seen: dict[str, int] = {}
    told = []
    for line in lines:
        seen[line.id] = seen.get(line.id, 0) + 1
        told.append(line if seen[line.id] == 1 else replace(line, id=f"{line.id}-{seen[line.id]}"))
    return told


def _id(kind: str, *of: str) -> str:
    return "C" + hashlib.sha256("\n".join((kind, *of)).encode()).hexdigest()[:10]

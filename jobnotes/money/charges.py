"""The priced lines of a job: what is charged, at which price, and who bears it."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import timedelta
from decimal import Decimal

from jobnotes.money.accounts import Taxed, TaxKey, account, totals
from jobnotes.money.amounts import in_unit
from jobnotes.money.currency import divided, places, rounded
from jobnotes.money.parts_used import SameObject, Used, parts_used
from jobnotes.office.cover import Borne, Cover, Covered
from jobnotes.office.job import JobDetails
from jobnotes.office.names import is_plural, words_of
from jobnotes.office.office import Office
from jobnotes.office.prices import PIECE, Price, suggestions
from jobnotes.office.workshop import Tax, Workshop
from jobnotes.record import (
    Account,
    Allowance,
    Charge,
    Invoice,
    LabourLine,
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
_HOUR = "h"
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
    facts = [f for f in record.facts if f.usable and f.audience == "all"]
    if all(f.at for f in facts):
        facts.sort(key=lambda f: f.at.timestamp() if f.at else 0.0)
    remarks = [
        f"{f.detail.name} needs checking and isn't charged"
        for f in record.facts
        if isinstance(f.detail, Part) and f.detail.action in ("fitted", "consumed") and f.status == "check"
    ]
    used = parts_used(facts, same_object)
    remarks += [remark for thing in used for remark in thing.remarks]
    lines = [pricing.part(thing, remarks) for thing in used if pricing.has_line(thing)]
    lines += pricing.sundry(lines, [u for u in used if u.consumed])
    lines += pricing.labour(record.labour, remarks)
    lines = [pricing.shared(line) for line in _told_apart(lines)]
    found = _totals(lines, pricing, remarks)
    return Charged(tuple(lines), tuple(dict.fromkeys(remarks)), found, pricing.invoice(), own.party)


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
        kind = "consumable" if used.consumed else "part"
        amount = Decimal(1) if used.quantity is None else used.quantity
        bare = Charge(
            _id(kind, used.facts[0].id),
            "consumable" if used.consumed else "part",
            used.name,
            amount,
            used.unit or PIECE,
            tuple(dict.fromkeys(f.id for f in used.facts)),
            used.number,
        )
        price, why = self._price(used)
        if price is None:
            return replace(bare, why=why)
        if price.unit != PIECE and used.quantity is None:
            return replace(bare, why=f"its price is for 1 {price.unit}, and how much was used was not said")
        converted = in_unit(amount, bare.unit, price.unit)
        if converted is None:
            said = f"{amount} {bare.unit}" if bare.unit != PIECE else f"{amount} of them"
            per = price.unit if price.unit != PIECE else "piece"
            return replace(bare, why=f"its price is for 1 {per}, and {said} was said")
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
        )

    def _price(self, used: Used) -> tuple[Price | None, str]:
        listed = self.office.prices
        if listed is None:
            return None, "there is no price list"
        if used.number is not None:
            return listed.by_number(used.number), f"number {used.number} is not in the price list"
        named = listed.by_name(used.name)
        bare = [p for p in named if p.number is None]
        if len(bare) == 1:
            return bare[0], ""
        if named and suggestions(named):
            return None, f"its number was not said; the price list has {suggestions(named)} of that name"
        return None, "neither its number nor its name is in the price list"

    def _may_be(self, name: str, price: Price) -> bool:
        """Whether the price's description may be of what was named: a word in common, or another for it."""
        said, listed = set(words_of(name)), set(words_of(price.description))
        unnamed = price.number is not None and price.description == price.number
        return unnamed or bool(said & listed) or self.same_object(name, price.description)

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
        share = rounded(whole * self.own.consumables_percent / 100, self.places)
        return [self._priced(bare, share, None, None)]

    # --- labour ----------------------------------------------------------------------------------

    def labour(self, lines: Sequence[LabourLine], remarks: list[str]) -> list[Charge]:
        said = [line for line in lines if line.basis == "said"]
        clock = [line for line in lines if line.basis == "clock"]
        first, second = (clock, said) if self.own.labour == "clock" else (said, clock)
        if second and not first:
            what = "the time on the clock is" if second is clock else "the hours that were said are"
            remarks.append(f"{what} charged, as there is nothing else")
        return [self._hours(line) for line in first or second]

    def _hours(self, line: LabourLine) -> Charge:
        standard = self.own.labour == "standard" and line.basis == "said"
        hours = line.standard if standard and line.standard is not None else line.hours
        bare = Charge(
            _id("labour", line.operation, *line.fact_ids[:1]),
            "labour",
            line.operation,
            hours,
            _HOUR,
            line.fact_ids,
        )
        if standard and line.standard is None:
            return replace(bare, why=f"there is no standard time for {line.operation}")
        rates = self.office.rates
        rate = rates.for_operation(line.operation) if rates else None
        if rate is None:
            lacks = f"there is no labour rate for {line.operation}" if rates else "there are no labour rates"
            return replace(bare, why=lacks)
        return self._priced(bare, rate.rate, None, rate.tax)

    # --- money -----------------------------------------------------------------------------------

    def _priced(self, bare: Charge, price: Decimal, discount: Decimal | None, tax_name: str | None) -> Charge:
        tax = self.tax(tax_name)
        off = max(discount or Decimal(0), self.details.discount_percent or Decimal(0))
        net = rounded(bare.quantity * price * (100 - off) / 100, self.places)
        return replace(
            bare,
            unit_price=price,
            discount_percent=off or None,
            net=net,
            tax_category=tax.category,
            tax_rate=tax.rate,
        )

    def tax(self, name: str | None) -> Tax:
        return self.own.tax(name) or self.own.taxes[0]

    def shared(self, line: Charge) -> Charge:
        """The line with what each payer bears of it."""
        if line.net is None:
            return line
        borne = self._borne(line)
        percents = {
            "customer": 100 - borne.warranty - borne.goodwill,
            "warranty": borne.warranty,
            "goodwill": borne.goodwill,
        }
        bearing = [payer for payer in PAYERS if percents[payer]]
        # of equals the customer comes last, to whom an odd cent should not fall
        order = sorted(bearing, key=lambda payer: payer == "customer")
        parts = dict(zip(order, divided(line.net, [percents[p] for p in order], self.places), strict=True))
        return replace(line, shares=tuple(Share(payer, parts[payer]) for payer in bearing))

    def _borne(self, line: Charge) -> Borne:
        cover: Cover = self.details.cover or self.own.cover
        named = set(words_of(f"{line.description} {line.number or ''}"))
        for exempt in cover.exceptions:
            if any(set(words_of(words)) <= named for words in exempt.words):
                return exempt.borne
        return cover.kinds.get(_COVERED[line.kind], Borne())

    def invoice(self) -> Invoice | None:
        details, own = self.details, self.own
        due = details.due_on
        if due is None and details.issued_on is not None and own.invoice_days is not None:
            due = details.issued_on + timedelta(days=own.invoice_days)
        found = Invoice(
            details.invoice_number, details.issued_on, due, details.terms or own.terms, details.customer
        )
        return None if found == Invoice() else found


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
        if payer != "customer":
            if shares:
                accounts.append(account(payer, shares, pricing.places, reasons=reasons))
            continue
        allowances = []
        for agreed in details.allowances:
            if own.tax(agreed.tax) is None:
                remarks.append(f"the allowance “{agreed.reason}” names an unknown tax; {_NO_TOTAL}")
                return None
            tax = pricing.tax(agreed.tax)
            allowances.append(
                Allowance(agreed.reason, rounded(agreed.amount, pricing.places), tax.category, tax.rate)
            )
        if not shares and not allowances and not details.paid:
            continue
        try:
            accounts.append(
                account(
                    payer, shares, pricing.places, allowances=allowances, paid=details.paid, reasons=reasons
                )
            )
        except ValueError as error:
            remarks.append(f"the allowance “{error}” is more than the lines that it is off; {_NO_TOTAL}")
            return None
    return totals(accounts, own.currency, pricing.places)


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

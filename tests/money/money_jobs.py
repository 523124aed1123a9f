"""Jobs and offices in one line each, for the tests of what is charged. All of it invented."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import count

from jobnotes.checking import pairs
from jobnotes.money.charges import Charged, charge
from jobnotes.office.cover import Cover
from jobnotes.office.job import JobDetails
from jobnotes.office.office import Office
from jobnotes.office.prices import Price, PriceList
from jobnotes.office.rates import LabourRates, Rate
from jobnotes.office.workshop import Tax, Workshop
from jobnotes.record import Charge, Fact, Job, LabourLine, LabourSaid, Part, Party, Payer, Record, Statement

D = Decimal
_number = count(1)
SAME = pairs.load().same_object

PRICES = (
    Price("water pump", "1", D("120"), "4471-20"),
    Price("air hose", "1", D("36.75"), "55-1"),
    Price("coolant hose", "1", D("12"), "55-2"),
    Price("injector", "1", D("200"), "INJ 1"),
    Price("coolant", "L", D("4.10")),
    Price("cable tie", "1", D("0.18")),
    Price("hose clamp", "1", D("2.10"), tax="low", discount_percent=D(10)),
)
RATES = (Rate("diagnosis", D("92")), Rate("*", D("84")))
TAXES = (
    Tax("standard", "S", D(20)),
    Tax("low", "S", D("5.5")),
    Tax("abroad", "AE", D(0), "Reverse charge"),
    Tax("zero", "Z", D(0)),
)


def fact(detail: object, **changes: object) -> Fact:
    n = next(_number)
    return replace(Fact(f"F{n}", detail, f"words {n}", 0.9, "sure"), **changes)  # type: ignore[arg-type]


def part(
    name: str,
    quantity: object = None,
    unit: str | None = None,
    *,
    number: str | None = None,
    action: str = "fitted",
    serial: str | None = None,
    condition: str | None = None,
    **changes: object,
) -> Fact:
    amount = None if quantity is None else D(str(quantity))
    detail = Part(name, action, amount, unit, number, serial, condition)  # type: ignore[arg-type]
    return fact(detail, **changes)


def used_up(name: str, quantity: object = None, unit: str | None = None, **changes: object) -> Fact:
    return part(name, quantity, unit, action="consumed", **changes)  # type: ignore[arg-type]


def correction(text: str, **changes: object) -> Fact:
    return fact(Statement("correction", text), **{"quote": text, **changes})


def hours(operation: str, said: str, *, standard: str | None = None, basis: str = "said") -> LabourLine:
    ids = (f"F{next(_number)}",)
    return LabourLine(operation, D(said), basis, ids, D(standard) if standard else None)  # type: ignore[arg-type]


def doubtful_hours(operation: str, said: str, **changes: object) -> Fact:
    return fact(LabourSaid(D(said), operation), **{"status": "check", **changes})


def office(
    prices: tuple[Price, ...] | None = PRICES, rates: tuple[Rate, ...] | None = RATES, **workshop: object
) -> Office:
    own = Workshop(Party("Sample Quay Repairs (invented)"), "EUR", TAXES)
    return Office(
        replace(own, **workshop),  # type: ignore[arg-type]
        None if prices is None else PriceList(prices),
        None if rates is None else LabourRates(rates),
    )


def charged(
    *facts: Fact,
    labour: tuple[LabourLine, ...] = (),
    own: Office | None = None,
    details: JobDetails | None = None,
) -> Charged:
    return charge(Record(Job(), facts=facts, labour=labour), own or office(), details, SAME)


def only(found: Charged) -> Charge:
    """The one line there is."""
    (line,) = found.charges
    return line


def shares(line: Charge) -> dict[Payer, Decimal]:
    return {share.payer: share.net for share in line.shares}


def covering(**kinds: object) -> Cover:
    return Cover(kinds)  # type: ignore[arg-type]

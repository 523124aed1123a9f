"""`labour_rates.csv`: what an hour costs, by operation."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from jobnotes.office.names import the_one, words_of
from jobnotes.office.prices import tax_named
from jobnotes.office.stated import rows
from jobnotes.office.workshop import Workshop

NAME = "labour_rates.csv"
ANY = "*"


@dataclass(frozen=True, slots=True)
class Rate:
    """What an hour costs without tax. `tax` names one of the workshop's taxes."""

    operation: str
    rate: Decimal
    tax: str | None = None


@dataclass(frozen=True, slots=True)
class LabourRates:
    """The rates by operation; the one called "*" is for any other."""

    rates: tuple[Rate, ...] = ()

    def for_operation(self, operation: str) -> Rate | None:
        named = {words_of(r.operation): n for n, r in enumerate(self.rates) if r.operation != ANY}
        place = the_one(operation, named)
        if place is not None:
            return self.rates[place]
        return next((r for r in self.rates if r.operation == ANY), None)


def load(path: Path, workshop: Workshop) -> LabourRates:
    """The rates in that file. Raises JobnotesError with file, line and remedy."""
    found: dict[tuple[str, ...], Rate] = {}
    for row in rows(path, str(path), ("operation", "rate"), ("tax",)):
        operation, rate = row.text("operation"), row.number("rate")
        if operation is None:
            raise row.error("names no operation", f"write it, or {ANY} for any other")
        if rate is None:
            raise row.error(f"{operation} has no rate", "write what an hour costs")
        key = words_of(operation) or (operation,)
        if key in found:
            raise row.error(f"{operation} stands there twice", "keep the row that holds")
        found[key] = Rate(operation, rate, tax_named(row, workshop))
    return LabourRates(tuple(found.values()))

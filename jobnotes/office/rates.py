"""`labour_rates.csv`: what an hour costs, by operation."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from jobnotes.office.names import meant, singular_words
from jobnotes.office.prices import tax_named
from jobnotes.office.stated import refuse_cut_numbers, rows
from jobnotes.office.workshop import Workshop

NAME = "labour_rates.csv"
ANY = "*"


@dataclass(frozen=True, slots=True)
class Rate:
    """What an hour costs without tax. `tax` names one of the workshop's taxes, `line` is that of its
    file."""

    operation: str
    rate: Decimal
    tax: str | None = None
    line: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class LabourRates:
    """The rates by operation; the one called "*" is for any other."""

    rates: tuple[Rate, ...] = ()

    def for_operation(self, operation: str) -> Rate | None:
        """The rate of that operation, else of any other; None where there is none, or it lies between two."""
        found = self.candidates(operation)
        return found[0] if len(found) == 1 else None

    def candidates(self, operation: str) -> tuple[Rate, ...]:
        """The rates that may be meant: more than one where its words fit several."""
        named = [r for r in self.rates if r.operation != ANY]
        places = meant(operation, [r.operation for r in named])
        if places:
            return tuple(named[place] for place in places)
        return tuple(r for r in self.rates if r.operation == ANY)


def load(path: Path, workshop: Workshop) -> LabourRates:
    """The rates in that file. Raises JobnotesError with file, line and remedy."""
    found: dict[tuple[str, ...], Rate] = {}
    table = rows(path, str(path), ("operation", "rate"), ("tax",))
    refuse_cut_numbers(table, "rate")
    for row in table:
        operation = row.text("operation")
        if operation is None or not (singular_words(operation) or operation == ANY):
            raise row.error("names no operation", f"write it, or {ANY} for any other")
        rate = row.price("rate", operation)
        key = tuple(sorted(singular_words(operation))) or (ANY,)
        if key in found:
            raise row.error(f"{operation} stands there twice", "keep the row that holds")
        found[key] = Rate(operation, rate, tax_named(row, workshop), row.line)
    return LabourRates(tuple(found.values()))

"""`standard_times.csv`: the hours that an operation is allowed."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from jobnotes.office.names import the_one, words_of
from jobnotes.office.stated import rows

NAME = "standard_times.csv"


@dataclass(frozen=True, slots=True)
class StandardTime:
    """`code` is the operation's number in the table that the times are from."""

    operation: str
    hours: Decimal
    code: str | None = None


@dataclass(frozen=True, slots=True)
class StandardTimes:
    times: tuple[StandardTime, ...] = ()

    def hours_for(self, operation: str) -> Decimal | None:
        """The hours for an operation; None where no row is meant, or more than one may be."""
        place = the_one(operation, {words_of(t.operation): n for n, t in enumerate(self.times)})
        return None if place is None else self.times[place].hours


def load(path: Path) -> StandardTimes:
    """The table in that file. Raises JobnotesError with file, line and remedy."""
    found: dict[tuple[str, ...], StandardTime] = {}
    for row in rows(path, str(path), ("operation", "hours"), ("code",)):
        operation, hours = row.text("operation"), row.number("hours")
        if operation is None or not words_of(operation):
            raise row.error("names no operation", "write it, or take the row out")
        if hours is None:
            raise row.error(f"{operation} has no hours", "write them, as in 1.5")
        if words_of(operation) in found:
            raise row.error(f"{operation} stands there twice", "keep the row that holds")
        found[words_of(operation)] = StandardTime(operation, hours, row.text("code"))
    return StandardTimes(tuple(found.values()))

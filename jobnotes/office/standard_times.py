"""`standard_times.csv`: the hours that an operation is allowed."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from jobnotes.office.names import meant, plain_number, singular_words
from jobnotes.office.stated import refuse_cut_numbers, rows

NAME = "standard_times.csv"


@dataclass(frozen=True, slots=True)
class StandardTime:
    """`code` is the operation's number in the table that the times are from. `line` is where it stands in its
    file."""

    operation: str
    hours: Decimal
    code: str | None = None
    line: int | None = field(default=None, compare=False)


@dataclass(frozen=True, slots=True)
class StandardTimes:
    times: tuple[StandardTime, ...] = ()

    def hours_for(self, operation: str) -> Decimal | None:
        """The hours for an operation; None where no row is meant, or more than one."""
        time = self.time_for(operation)
        return time.hours if time else None

    def time_for(self, operation: str) -> StandardTime | None:
        """The row of an operation, by its code or name; None where no row is meant, or more than one."""
        coded = [t for t in self.times if t.code and plain_number(t.code) == plain_number(operation)]
        if coded:
            return coded[0]
        places = meant(operation, [t.operation for t in self.times])
        return self.times[places[0]] if len(places) == 1 else None


def load(path: Path) -> StandardTimes:
    """The table in that file. Raises JobnotesError with file, line and remedy."""
    found: dict[tuple[str, ...], StandardTime] = {}
    codes: set[str] = set()
    table = rows(path, str(path), ("operation", "hours"), ("code",))
    refuse_cut_numbers(table, "hours")
    for row in table:
        operation, code = row.text("operation"), row.text("code")
        if operation is None or not singular_words(operation):
            raise row.error("names no operation", "write it, or take the row out")
        hours = row.price("hours", operation)
        key = tuple(sorted(singular_words(operation)))
        if key in found:
            raise row.error(f"{operation} stands there twice", "keep the row that holds")
        if code is not None and plain_number(code) in codes:
            raise row.error(f"code {code} stands there twice", "give each operation its own")
        codes.add(plain_number(code or ""))
        found[key] = StandardTime(operation, hours, code, row.line)
    return StandardTimes(tuple(found.values()))

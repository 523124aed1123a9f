"""Dates of originals: from text in the file, from the file's name, from the file system.

All results are aware datetimes with a **fixed** offset: adding seconds to them, or taking their
difference, is then right across a change of the clocks too.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Literal

from jobnotes.record import NoteTimeDoubt

NAME_IT = "put the date and time in its name, like 20261103_081502, and run again"


@dataclass(frozen=True, slots=True)
class NameDate:
    """A date read from a file name: local unless `utc`; midnight if the name tells only the day."""

    at: datetime
    has_time: bool
    utc: bool = False


@dataclass(frozen=True, slots=True)
class FileDate:
    """A date from outside the file's content, and what is uncertain about it."""

    at: datetime
    source: Literal["file name", "file time"]
    doubt: NoteTimeDoubt | None = None

    @property
    def why(self) -> str | None:
        """The doubt in words."""
        if self.doubt is None:
            return None
        if self.doubt == "day only":
            return f"its name tells the day, {self.at:%Y-%m-%d}, but nothing tells the time of day"
        return (
            f"holds no date, nor does its name; {self.at:%Y-%m-%d %H:%M} is by when the file was last saved"
        )


def fixed(at: datetime, zone: tzinfo) -> datetime:
    """The same instant on the clock of `zone`, with the offset that holds there at that instant."""
    there = at.astimezone(zone)
    return there.replace(tzinfo=timezone(there.utcoffset() or timedelta()), fold=0)


def localised(naive: datetime, zone: tzinfo, near: datetime | None = None) -> datetime:
    """The instant at which the clocks of `zone` show `naive`.

    In the hour that a zone goes through twice in autumn, or skips in spring, there are two readings:
    the one nearer to `near` is taken if that is within half a day, else the one with the offset from
    before the change. A skipped time comes back as the time that the clocks really showed.
    """
    readings = [naive.replace(tzinfo=zone, fold=fold).astimezone(UTC) for fold in (0, 1)]
    chosen = readings[0]
    if near is not None and readings[0] != readings[1]:
        nearest = min(readings, key=lambda reading: abs(reading - near))
        if abs(nearest - near) <= timedelta(hours=12):
            chosen = nearest
    return fixed(chosen, zone)


def plausible(at: datetime) -> bool:
    """False for what unset clocks and empty fields give: the epochs 1904, 1970 and 1980, 1 January 2000.

    The upper bound catches seconds counted from the wrong epoch (66 years off between 1904 and 1970).
    """
    return datetime(2000, 1, 2) < at.replace(tzinfo=None) < datetime(2080, 1, 1)


def stated(text: str, zone: tzinfo) -> datetime | None:
    """A container's ISO 8601 date; UTC if it has no offset. None if it is malformed or implausible."""
    try:
        at = datetime.fromisoformat(text.strip())
    except ValueError:
        return None
    if len(text.strip()) < len("2026-11-03T08:15") or not plausible(at):
        return None
    return fixed(at if at.tzinfo is not None else at.replace(tzinfo=UTC), zone)


# Usual patterns (common practice, no source): 20261103_081502, 20261103081502123, 2026-11-03 08.15.02,
# 2026-11-03 at 8.15.02 PM, 20261103T081502Z, 261103_081502; with only the day: AUD-20261103-0001.
# Four digits after the day, without a separator in them, are as often a counter and are not taken as a time.
_DAY = r"(?<!\d)(?P<year>20\d\d)(?P<ds>[-_.]?)(?P<month>\d\d)(?P=ds)(?P<day>\d\d)"
_SHORT_DAY = r"(?<!\d)(?P<year>\d\d)(?P<month>\d\d)(?P<day>\d\d)[-_]"
_COMPACT_TIME = r"(?P<hour>\d\d)(?P<minute>\d\d)(?P<second>\d\d)(?P<fraction>\d{3})?"
_SPACED_TIME = r"(?P<hour>\d\d?)(?P<ts>[-_.:h])(?P<minute>\d\d)(?:[-_.:m](?P<second>\d\d))?"
_HALF_DAY = r"(?:[ _]?(?P<half>[ap])\.?m\b\.?)?"
_BETWEEN = r"(?:[ T_.,-]{0,3}|[ _]at[ _])"
_PATTERNS = (
    (re.compile(rf"{_DAY}{_BETWEEN}{_COMPACT_TIME}(?!\d)(?P<utc>Z)?"), True),
    (re.compile(rf"{_DAY}{_BETWEEN}(?<!\d){_SPACED_TIME}(?!\d){_HALF_DAY}(?P<utc>Z)?", re.IGNORECASE), True),
    (re.compile(rf"{_SHORT_DAY}{_COMPACT_TIME}(?!\d)"), True),
    (re.compile(rf"{_DAY}(?!\d)"), False),
)


def in_name(name: str) -> NameDate | None:
    """The first date in a file name, of the usual patterns of phones and recorders; None if there is none.

    A date that isn't in the calendar is no date.
    """
    for pattern, has_time in _PATTERNS:
        for match in pattern.finditer(name):
            part = match.groupdict()
            hour = int(part.get("hour") or 0)
            if part.get("half"):
                if not 1 <= hour <= 12:
                    continue
                hour = hour % 12 + (12 if part["half"].lower() == "p" else 0)
            year = int(part["year"])
            try:
                at = datetime(
                    year if year > 99 else 2000 + year,
                    int(part["month"]),
                    int(part["day"]),
                    hour,
                    int(part.get("minute") or 0),
                    int(part.get("second") or 0),
                    int(part.get("fraction") or 0) * 1000,
                )
            except ValueError:
                continue
            if plausible(at):
                return NameDate(at, has_time, utc=bool(part.get("utc")))
    return None


def modified(path: Path, zone: tzinfo) -> datetime:
    """When the file was last written, by the file system."""
    return fixed(datetime.fromtimestamp(path.stat().st_mtime, UTC), zone)


def named_time(name: str, zone: tzinfo, near: datetime | None = None) -> datetime | None:
    """The instant that the file name tells, if it tells the time of day; `near` as in `localised`."""
    date = in_name(name)
    return _instant(date, zone, near) if date is not None and date.has_time else None


def named_utc(name: str, zone: tzinfo) -> datetime | None:
    """The instant that the file name tells in UTC ("20261103T081502Z"), on the clock of `zone`.

    Whoever writes the Z has a clock that knows its zone: `jobnotes serve` names so what a phone sent, with
    the phone's clock put right, which the phone itself could not do within the file.
    """
    date = in_name(name)
    return _instant(date, zone) if date is not None and date.utc else None


def _instant(date: NameDate, zone: tzinfo, near: datetime | None = None) -> datetime:
    return fixed(date.at.replace(tzinfo=UTC), zone) if date.utc else localised(date.at, zone, near)


def outside(name: str, by_file: datetime, zone: tzinfo) -> FileDate:
    """The date by the file's name, else `by_file`, which comes from the file system.

    A name that tells only the day is too coarse to place a note among photos: the file system's time
    stands if it falls on that day. If not, the file has been copied since; then the start of the day
    named is all that is known. Copying and editing change the file system's time too: where no name bears
    it out, it is in doubt.
    """
    date = in_name(name)
    if date is None:
        return FileDate(by_file, "file time", "file time")
    if date.has_time:
        return FileDate(_instant(date, zone, by_file), "file name")
    if by_file.astimezone(zone).date() == date.at.date():
        return FileDate(by_file, "file time")
    return FileDate(localised(date.at, zone), "file name", "day only")

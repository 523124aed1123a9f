"""Labour: the hours that were said, those that the clock statements show and those of a table of standard
times, and how they differ."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import Literal

from jobnotes.checking.pairs import words_of
from jobnotes.past import OtherWork
from jobnotes.record import Clock, Fact, LabourLine, LabourSaid

# Nobody works longer without a pause; a clock that ran on was forgotten. Common practice, no source.
LONGEST_STRETCH_H = Decimal(14)
# Said and worked hours closer than this agree: labour is claimed in tenths. Common practice, no source.
AGREE_H = Decimal("0.1")
# The same thing said again so soon is one statement: "pausing the job … waiting for parts".
SAID_AGAIN_S = 60.0
WORKED = "time on the clock"
NO_OPERATION = "labour"


@dataclass(frozen=True, slots=True)
class Stretch:
    """Work without a pause, between two POSIX times in seconds; `ended` says by what."""

    start_s: float
    end_s: float
    ended: Literal["pause", "stop"]
    reason: str | None = None


StandardHours = Callable[[str], Decimal | None]
"""What a table allows for an operation, in hours; None where it doesn't know it."""


@dataclass(frozen=True, slots=True)
class Labour:
    """`lines`: each operation said, then the time on the clock. `said` and `worked` are their sums in hours,
    None where nothing certain was said. `uncounted`: what could not be counted, or only with a question.
    `difference`: how said and worked hours differ, None where they agree or can't be compared. `overlaps`:
    a line for each other job on whose clock the same hours are. `standards`: a line for each operation that
    differs from its standard time.
    """

    lines: tuple[LabourLine, ...]
    said: Decimal | None
    worked: Decimal | None
    difference: str | None
    uncounted: tuple[str, ...]
    overlaps: tuple[str, ...] = ()
    standards: tuple[str, ...] = ()

    @property
    def remarks(self) -> tuple[str, ...]:
        """All of it, a line each."""
        difference = (self.difference,) if self.difference else ()
        return (*self.uncounted, *difference, *self.overlaps, *self.standards)

    def over_standard(self, tolerance_h: Decimal) -> list[tuple[str, Decimal, Decimal]]:
        """Operation, hours said and standard time, where more was said by over `tolerance_h`."""
        return [row for row in _by_operation(self.lines) if row[1] - row[2] > tolerance_h]


def labour(
    facts: Sequence[Fact],
    *,
    standard: StandardHours | None = None,
    meanwhile: Sequence[OtherWork] = (),
    technician: str | None = None,
) -> Labour:
    """Labour from the facts that may be used as they stand; those in doubt are named, not counted.

    `meanwhile` are other jobs whose clock may have run at the same time. Two people may well work at once,
    so those of another technician than `technician` don't count; where one isn't named, they do.
    """
    said, said_remarks = _said(facts)
    stretches, clock_facts, clock_remarks = worked_stretches(facts)
    total = sum((line.hours for line in said), Decimal(0)) if said else None
    lines = [replace(line, standard=standard(line.operation)) for line in said] if standard else list(said)
    standards = tuple(
        _standard_remark(*row) for row in _by_operation(lines) if abs(row[1] - row[2]) >= AGREE_H
    )
    worked = None
    if stretches:
        worked = _hours(sum(s.end_s - s.start_s for s in stretches))
        lines.append(LabourLine(WORKED, worked, "clock", tuple(f.id for f in clock_facts)))
    zone = clock_facts[0].at.tzinfo if clock_facts and clock_facts[0].at else None
    return Labour(
        tuple(lines),
        total,
        worked,
        _difference(total, worked, stretches),
        (*said_remarks, *clock_remarks),
        tuple(_overlaps(stretches, zone, meanwhile, technician)),
        standards,
    )


# --- said ----------------------------------------------------------------------------------------


def _said(facts: Sequence[Fact]) -> tuple[list[LabourLine], list[str]]:
    """A line for each operation; the same said twice is one line, and a total isn't added to its parts."""
    lines: dict[tuple[str, Decimal], LabourLine] = {}
    remarks = []
    for fact in facts:
        if not isinstance(fact.detail, LabourSaid) or not fact.stands:
            continue
        hours, operation = fact.detail.hours, fact.detail.operation or NO_OPERATION
        if not fact.usable:
            remarks.append(f"{hours} h for {operation} needs checking and isn't counted")
            continue
        key = operation.casefold(), hours.normalize()
        if known := lines.get(key):
            lines[key] = LabourLine(known.operation, known.hours, "said", (*known.fact_ids, fact.id))
            remarks.append(f"{hours} h for {operation} was said more than once and is counted once")
        else:
            lines[key] = LabourLine(operation, hours, "said", (fact.id,))
    for operation in dict.fromkeys(name for name, _ in lines):
        same = [str(line.hours) for (name, _), line in lines.items() if name == operation]
        if len(same) > 1:
            remarks.append(
                f"different hours were said for {operation} ({' and '.join(same)} h); all are counted"
            )
    parts = [line for (name, _), line in lines.items() if name != NO_OPERATION]
    for key, line in list(lines.items()):
        if key[0] == NO_OPERATION and len(parts) > 1 and line.hours == sum(p.hours for p in parts):
            del lines[key]
            remarks.append(f"{line.hours} h is the sum of the operations and isn't added")
    return list(lines.values()), remarks


# --- on the clock --------------------------------------------------------------------------------


def worked_stretches(facts: Sequence[Fact]) -> tuple[list[Stretch], list[Fact], list[str]]:
    """The stretches of work between clock statements, those statements, and what could not be counted.

    Elapsed time, so midnight and the change to summer time make no difference. A statement in doubt stops
    the count altogether: without a pause that may have been said, the hours would be wrong.
    """
    clock = [f for f in facts if isinstance(f.detail, Clock) and f.stands and f.at is not None]
    clock.sort(key=lambda f: f.at.timestamp() if f.at else 0.0)
    doubtful = [f"“{f.quote}”" for f in clock if not f.usable]
    if doubtful:
        what = "a clock statement needs" if len(doubtful) == 1 else "clock statements need"
        return [], [], [f"{what} checking ({', '.join(doubtful)}), so the time on the clock isn't counted"]

    stretches: list[Stretch] = []
    remarks: list[str] = []
    running_since: Fact | None = None
    begun = False
    before: Fact | None = None
    for fact in clock:
        assert isinstance(fact.detail, Clock)
        action = fact.detail.action
        if before is not None and _said_again(before, fact):
            continue
        before = fact
        if action in ("start", "resume"):
            if running_since is not None:
                remarks.append(f"“{fact.quote}” at {_clock(fact)}: the clock was running already")
                continue
            if action == "resume" and not begun:
                remarks.append(f"work was resumed at {_clock(fact)} without a start; counted from there")
            running_since, begun = fact, True
        elif running_since is None:
            # stopping after a pause ends the job, and there is nothing to count
            if not (action == "stop" and begun):
                remarks.append(f"“{fact.quote}” at {_clock(fact)}: the clock wasn't running")
        else:
            stretch = Stretch(
                _posix(running_since),
                _posix(fact),
                "stop" if action == "stop" else "pause",
                fact.detail.reason,
            )
            stretches.append(stretch)
            if (hours := _hours(stretch.end_s - stretch.start_s)) > LONGEST_STRETCH_H:
                remarks.append(f"{hours} h without a pause until {_clock(fact)}: was the clock forgotten?")
            running_since = None
    if running_since is not None:
        since = f"from {_clock(running_since)}"
        remarks.append(f"the clock was never stopped: the time {since} isn't counted")
    return stretches, clock if stretches else [], remarks


def _said_again(before: Fact, fact: Fact) -> bool:
    assert isinstance(before.detail, Clock)
    assert isinstance(fact.detail, Clock)
    return before.detail.action == fact.detail.action and _posix(fact) - _posix(before) <= SAID_AGAIN_S


def _posix(fact: Fact) -> float:
    assert fact.at is not None
    return fact.at.timestamp()


def _clock(fact: Fact) -> str:
    return f"{fact.at:%H:%M}"


def _hours(seconds: float) -> Decimal:
    return (Decimal(round(seconds)) / 3600).quantize(Decimal("0.01"), ROUND_HALF_UP)


# --- compared ------------------------------------------------------------------------------------


def _difference(said: Decimal | None, worked: Decimal | None, stretches: Sequence[Stretch]) -> str | None:
    if said is None or worked is None or abs(said - worked) < AGREE_H:
        return None
    less_more = "more" if said > worked else "less"
    text = f"{said} h said, {worked} h on the clock: {abs(said - worked)} h {less_more} said than worked"
    pauses = []
    for one, then in pairwise(stretches):
        if one.ended == "pause":
            length = f"{_hours(then.start_s - one.end_s)} h"
            pauses.append(f"{length} ({one.reason})" if one.reason else length)
    return f"{text}; paused for {', '.join(pauses)}" if pauses else text


def _by_operation(lines: Sequence[LabourLine]) -> list[tuple[str, Decimal, Decimal]]:
    """Operation, hours said and standard time, for each operation that has one."""
    said: dict[str, tuple[str, Decimal, Decimal]] = {}
    for line in lines:
        if line.standard is not None:
            key = line.operation.casefold()
            name, hours, _ = said.get(key, (line.operation, Decimal(0), line.standard))
            said[key] = name, hours + line.hours, line.standard
    return list(said.values())


def _standard_remark(operation: str, hours: Decimal, standard: Decimal) -> str:
    less_more = "more" if hours > standard else "less"
    return (
        f"{operation}: {hours} h said, standard time {standard} h: "
        f"{abs(hours - standard)} h {less_more} than standard"
    )


def _overlaps(
    stretches: Sequence[Stretch], zone: tzinfo | None, meanwhile: Sequence[OtherWork], technician: str | None
) -> list[str]:
    """A line for each other job on whose clock hours of `stretches` are too; times are told in `zone`."""
    remarks = []
    for other in meanwhile:
        if technician and other.technician and words_of(technician) != words_of(other.technician):
            continue
        theirs, _, _ = worked_stretches(other.clock)
        both = [
            (max(a.start_s, b.start_s), min(a.end_s, b.end_s))
            for a in stretches
            for b in theirs
            if min(a.end_s, b.end_s) > max(a.start_s, b.start_s)
        ]
        hours = _hours(sum(end - start for start, end in both))
        if not hours:
            continue
        since, until = (datetime.fromtimestamp(at, zone) for at in (min(both)[0], max(e for _, e in both)))
        same_day = since.date() == until.date()
        who = "" if technician and other.technician else "; no technician is named for both"
        remarks.append(
            f"{hours} h of this clock are on that of job {other.number or other.job} too "
            f"({since:%Y-%m-%d %H:%M} to {until:{'%H:%M' if same_day else '%Y-%m-%d %H:%M'}}){who}"
        )
    return remarks

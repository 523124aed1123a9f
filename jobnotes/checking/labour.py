"""Labour: the hours that were said, the hours that the clock statements show, and how they differ."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise
from typing import Literal

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


@dataclass(frozen=True, slots=True)
class Labour:
    """`lines`: each operation said, then the time on the clock. `said` and `worked` are their sums in hours,
    None where nothing certain was said. `remarks`: what could not be counted, and why. `difference`: in one
    line how said and worked hours differ, None where they agree or can't be compared.
    """

    lines: tuple[LabourLine, ...]
    said: Decimal | None
    worked: Decimal | None
    difference: str | None
    remarks: tuple[str, ...]


def labour(facts: Sequence[Fact]) -> Labour:
    """Labour from the facts that may be used as they stand; those in doubt are named, not counted."""
    said, said_remarks = _said(facts)
    stretches, clock_facts, clock_remarks = worked_stretches(facts)
    lines = list(said)
    total = sum((line.hours for line in said), Decimal(0)) if said else None
    worked = None
    if stretches:
        worked = _hours(sum(s.end_s - s.start_s for s in stretches))
        lines.append(LabourLine(WORKED, worked, "clock", tuple(f.id for f in clock_facts)))
    return Labour(
        tuple(lines), total, worked, _difference(total, worked, stretches), (*said_remarks, *clock_remarks)
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

"""The clock: the stretches of work that its statements show, and what could not be counted."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import ROUND_HALF_UP, Decimal
from types import MappingProxyType
from typing import Literal

from jobnotes.chronology import as_said
from jobnotes.record import Clock, Fact

# Nobody works longer without a pause; a clock that ran on was forgotten. Common practice, no source.
LONGEST_STRETCH_H = Decimal(14)
# The same thing said again so soon is one statement: "pausing the job … waiting for parts".
SAID_AGAIN_S = 60.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Work without a pause, between two POSIX times in seconds; `ended` says by what."""

    start_s: float
    end_s: float
    ended: Literal["pause", "stop"]
    reason: str | None = None


def worked_stretches(
    facts: Sequence[Fact],
    last_note: datetime | None = None,
    ill_dated: Mapping[str, str] = MappingProxyType({}),
) -> tuple[list[Stretch], list[Fact], list[str]]:
    """The stretches of work between clock statements, those statements, and what could not be counted.

    Elapsed time, so midnight and the change to summer time make no difference. A statement in doubt stops
    the count altogether: without a pause that may have been said, the hours would be wrong. `last_note`, when
    the last note ended, is told where the clock ran on. `ill_dated` are the files of the notes whose time is
    in doubt, by their id: from one note to another they tell no time.
    """
    clock = as_said(f for f in facts if isinstance(f.detail, Clock) and f.stands and f.at is not None)
    doubtful = [f"“{f.quote}”" for f in clock if not f.usable]
    if doubtful:
        what = "a clock statement needs" if len(doubtful) == 1 else "clock statements need"
        return [], [], [f"{what} checking ({', '.join(doubtful)}), so the time on the clock isn't counted"]

    if len({fact.note for fact in clock}) > 1:
        files = dict.fromkeys(ill_dated[n] for f in clock if (n := f.note or "") in ill_dated)
        if files:
            whose = " and ".join(files)
            return [], [], [f"the time on the clock isn't counted: the time of {whose} is in doubt"]

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
            if (hours := hours_of(stretch.end_s - stretch.start_s)) > LONGEST_STRETCH_H:
                remarks.append(f"{hours} h without a pause until {_clock(fact)}: was the clock forgotten?")
            running_since = None
    if running_since is not None:
        hint = f"; the last note ended at {last_note:%H:%M}" if last_note else ""
        remarks.append(
            f"the clock was never stopped: the time from {_clock(running_since)} isn't counted{hint}"
        )
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


def hours_of(seconds: float) -> Decimal:
    """Hours to two places, rounded half up."""
    return (Decimal(round(seconds)) / 3600).quantize(Decimal("0.01"), ROUND_HALF_UP)

"""Repeat repairs: earlier jobs of the same vehicle, not long ago, with something in common with this one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal

from jobnotes.checking.distance import driven, in_km
from jobnotes.checking.pairs import SameObject
from jobnotes.checking.supports import names
from jobnotes.office.names import plain_number
from jobnotes.past import Past, PastJob, letters_and_digits
from jobnotes.record import EarlierRepair, Fact, FaultCode, Job, Part, Statement


@dataclass(frozen=True, slots=True)
class Window:
    """Not long ago: at most so many days, or so much driven meanwhile ("km" or "[mi_i]")."""

    days: int | None = None
    distance: Decimal | None = None
    unit: str = "km"


def repeats(
    job: Job, facts: Sequence[Fact], past: Past, same_object: SameObject, windows: Sequence[Window]
) -> tuple[EarlierRepair, ...]:
    """Those of `past` that lie in one of the windows and share a fault code, a cause's component or a part.

    `facts` are those of this job that may be relied on. The latest comes first, as in `past`.
    """
    if job.opened_at is None:
        return ()
    found = []
    for earlier in past.earlier:
        # a job that ended later than this one began is of the same visit: no days lie between
        days = max(0, (job.opened_at.date() - earlier.ended_on).days)
        way = driven(earlier.odometer, job.odometer)
        unit = (job.odometer.unit if job.odometer else None) or "km"
        if not any(_within(days, way, unit, window) for window in windows):
            continue
        if same := tuple(dict.fromkeys(_in_common(facts, earlier, same_object))):
            found.append(
                EarlierRepair(
                    earlier.job,
                    earlier.ended_on,
                    days,
                    same,
                    earlier.number,
                    way,
                    unit if way is not None else None,
                )
            )
    return tuple(found)


def _within(days: int, way: Decimal | None, unit: str, window: Window) -> bool:
    if window.days is not None and days <= window.days:
        return True
    return (
        window.distance is not None
        and way is not None
        and in_km(way, unit) <= in_km(window.distance, window.unit)
    )


def _in_common(facts: Sequence[Fact], earlier: PastJob, same_object: SameObject) -> Iterable[str]:
    """What both have, in words. Seals and clamps are fitted every time, so a part counts only where it is
    what failed now."""
    codes = {letters_and_digits(code) for code in earlier.codes}
    causes = [f.detail for f in facts if isinstance(f.detail, Statement) and f.kind == "cause"]
    for fact in facts:
        if isinstance(fact.detail, FaultCode) and letters_and_digits(fact.detail.code) in codes:
            yield f"fault code {fact.detail.code}"
    for cause in causes:
        if not cause.component:
            continue
        alike = [c for c in earlier.causes if c.component and same_object(c.component, cause.component)]
        if cause.failure and any(c.failure == cause.failure for c in alike):
            yield f"cause {cause.component} {cause.failure}"
        elif alike:
            yield f"component {cause.component}"
    for part in earlier.parts:
        if any(names(cause, part.name, same_object) for cause in causes):
            yield f"part {part.name}"
    numbers = {plain_number(p.number) for p in earlier.parts if p.number}
    for fact in facts:
        match fact.detail:
            case Part(action="fitted", number=str(number), name=name) if plain_number(number) in numbers:
                if any(names(cause, name, same_object) for cause in causes):
                    yield f"part {name}"

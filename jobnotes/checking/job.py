"""The head of the record: which job, which vehicle, and when, from what was said of them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from itertools import pairwise

from jobnotes.record import Fact, Identity, IdentityKind, Job, Note, Odometer

# A road test moves the counters; two readings no further apart than this are of one visit, in the unit of the
# reading. Common practice, no source.
SAME_VISIT: dict[IdentityKind, Decimal] = {"odometer": Decimal(200), "engine_hours": Decimal(24)}
_KINDS: tuple[IdentityKind, ...] = ("job_number", "registration", "vin", "odometer", "engine_hours")


@dataclass(frozen=True, slots=True)
class Conflict:
    """Values said of one thing that can't all be right, each by the fact that says it."""

    kind: IdentityKind
    values: tuple[str, ...]
    fact_ids: tuple[str, ...]


def job_of(facts: Sequence[Fact], notes: Sequence[Note]) -> Job:
    """The job as the usable facts tell it, the latest where there are several, and when its notes were made.

    Facts that are in doubt don't make a job's head; `conflicts` names values that contradict each other.
    """
    latest = {kind: told[-1].detail for kind in _KINDS if (told := _told(facts, kind))}

    def value(kind: IdentityKind) -> str | None:
        identity = latest.get(kind)
        return identity.value if isinstance(identity, Identity) else None

    def counter(kind: IdentityKind) -> Odometer | None:
        identity = latest.get(kind)
        return Odometer(identity.value, identity.unit) if isinstance(identity, Identity) else None

    begun = [note.started_at for note in notes]
    ended = [_end(note) for note in notes]
    return Job(
        number=value("job_number"),
        registration=value("registration"),
        vin=value("vin"),
        odometer=counter("odometer"),
        engine_hours=counter("engine_hours"),
        opened_at=min(begun, key=datetime.timestamp, default=None),
        closed_at=max(ended, key=datetime.timestamp, default=None),
    )


def conflicts(facts: Sequence[Fact]) -> tuple[Conflict, ...]:
    """Usable facts that give one job, vehicle or counter different values."""
    found = []
    for kind in _KINDS:
        told = _told(facts, kind)
        shown = dict.fromkeys(_shown(f) for f in told)
        if len(shown) > 1 and not _same_visit(kind, told):
            found.append(Conflict(kind, tuple(shown), tuple(f.id for f in told)))
    return tuple(found)


def _told(facts: Sequence[Fact], kind: IdentityKind) -> list[Fact]:
    told = [f for f in facts if f.kind == kind and f.usable]
    if all(f.at for f in told):
        told.sort(key=lambda f: f.at.timestamp() if f.at else 0.0)
    return told


def _shown(fact: Fact) -> str:
    """The value as compared: upper case, without the spaces and dashes that a number is said with."""
    assert isinstance(fact.detail, Identity)
    value = "".join(c for c in fact.detail.value.upper() if c.isalnum() or c == ".")
    return f"{value} {fact.detail.unit}" if fact.detail.unit else value


def _same_visit(kind: IdentityKind, told: Sequence[Fact]) -> bool:
    if kind not in SAME_VISIT:
        return False
    units, values = set(), []
    for fact in told:
        assert isinstance(fact.detail, Identity)
        units.add(fact.detail.unit)
        try:
            values.append(Decimal(fact.detail.value))
        except InvalidOperation:
            return False
    rising = all(a <= b for a, b in pairwise(values))
    return len(units) == 1 and rising and values[-1] - values[0] <= SAME_VISIT[kind]


def _end(note: Note) -> datetime:
    # by way of UTC, since adding to a local time ignores that summer time may begin or end meanwhile
    end = note.started_at.astimezone(UTC) + timedelta(seconds=note.duration_s)
    return end.astimezone(note.started_at.tzinfo)

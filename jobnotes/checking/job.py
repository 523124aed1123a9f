"""The head of the record: which job, which vehicle, and when, as was said and as the office states."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal, InvalidOperation
from itertools import pairwise

from jobnotes.chronology import as_said, well_dated
from jobnotes.office.job import JobDetails
from jobnotes.past import letters_and_digits
from jobnotes.record import Fact, Identity, IdentityKind, Job, Note, Odometer, Photo

# A road test moves the counters; two readings no further apart than this are of one visit, in the unit of the
# reading. Common practice, no source.
SAME_VISIT: dict[IdentityKind, Decimal] = {"odometer": Decimal(200), "engine_hours": Decimal(24)}
_KINDS: tuple[IdentityKind, ...] = ("job_number", "registration", "vin", "odometer", "engine_hours")


@dataclass(frozen=True, slots=True)
class Conflict:
    """Values of one thing that can't all be right: those said, each by the fact that says it, and the one
    that the office states or that a job card shows, if it contradicts them."""

    kind: IdentityKind
    values: tuple[str, ...]
    fact_ids: tuple[str, ...]
    stated: str | None = None
    carded: str | None = None

    def __str__(self) -> str:
        said = " or ".join(self.values)
        told = [f"{said} was said"] if said else []
        told += [f"{self.stated} is stated by the office"] if self.stated else []
        told += [f"{self.carded} is on the job card"] if self.carded else []
        return f"{self.kind.replace('_', ' ')} {said if len(told) == 1 and said else ', '.join(told)}"


def job_of(
    facts: Sequence[Fact],
    notes: Sequence[Note],
    details: JobDetails | None = None,
    photos: Sequence[Photo] = (),
) -> Job:
    """The job as the usable facts tell it, the latest where there are several, and when its notes were made.

    What nobody said is taken from the office's `details`, and then from the job card among the `photos`. A
    note whose time is in doubt doesn't tell when the work was done, unless all are.
    Facts that are in doubt don't make a job's head; `conflicts` names values that contradict each other.
    """
    latest = {kind: told[-1].detail for kind in _KINDS if (told := _told(facts, kind))}

    def value(kind: IdentityKind) -> str | None:
        identity = latest.get(kind)
        return identity.value if isinstance(identity, Identity) else None

    def counter(kind: IdentityKind) -> Odometer | None:
        identity = latest.get(kind)
        return Odometer(identity.value, identity.unit) if isinstance(identity, Identity) else None

    timed = well_dated(notes) or notes
    begun = [note.started_at for note in timed]
    ended = [_end(note) for note in timed]
    job = Job(
        number=value("job_number"),
        registration=value("registration"),
        vin=value("vin"),
        odometer=counter("odometer"),
        engine_hours=counter("engine_hours"),
        opened_at=min(begun, key=datetime.timestamp, default=None),
        closed_at=max(ended, key=datetime.timestamp, default=None),
    )
    if details is not None:
        job = _with_details(job, details)
    return job if job.number else replace(job, number=_on_card(facts, photos))


def _with_details(job: Job, details: JobDetails) -> Job:
    return replace(
        job,
        number=job.number or details.number,
        registration=job.registration or details.registration,
        vin=job.vin or details.vin,
        customer=details.customer.name if details.customer else None,
        technician=details.technician,
        in_service_on=details.in_service_on,
        failed_on=details.failed_on,
        claimed_on=details.claimed_on,
        claim_number=details.claim_number,
        payer=details.payer,
    )


def _on_card(facts: Sequence[Fact], photos: Sequence[Photo]) -> str | None:
    """The number on the job's card, where it is one and nothing that was heard says another."""
    numbers = _carded(photos)
    said = {letters_and_digits(_shown(f)) for f in facts if f.kind == "job_number" and f.stands}
    return next(iter(numbers.values())) if len(numbers) == 1 and said <= numbers.keys() else None


def _carded(photos: Sequence[Photo]) -> dict[str, str]:
    """The numbers on the job's cards as printed, by how they are compared. Where all cards are of other jobs,
    one of them may be this one's after all."""
    cards = [p for p in photos if p.card]
    own = [p for p in cards if p.job is None] or cards
    return {letters_and_digits(p.card.number): p.card.number for p in own if p.card}


def conflicts(
    facts: Sequence[Fact], details: JobDetails | None = None, photos: Sequence[Photo] = ()
) -> tuple[Conflict, ...]:
    """What gives one job, vehicle or counter different values: usable facts, the office's `details`, and the
    job cards among the `photos`.

    What the office states and what a card shows is held against what was heard in doubt too: a slip of the
    pen is as likely.
    """
    stated: dict[IdentityKind, str | None] = {}
    if details:
        stated = {
            "job_number": details.number,
            "registration": details.registration,
            "vin": details.vin,
        }
    carded = _carded(photos)
    found = []
    for kind in _KINDS:
        told = _told(facts, kind)
        shown = dict.fromkeys(_shown(f) for f in told)
        office = stated.get(kind)
        cards = carded if kind == "job_number" else {}
        wanted = {*cards, *([letters_and_digits(office)] if office else [])}
        against = [f for f in facts if f.kind == kind and f.stands] if wanted else []
        denied = [f for f in against if {letters_and_digits(_shown(f))} != wanted]
        if denied or len(wanted) > 1:
            values = dict.fromkeys((*shown, *(_shown(f) for f in denied)))
            ids = dict.fromkeys(f.id for f in (*told, *denied))
            card = " or ".join(cards.values()) or None
            found.append(Conflict(kind, tuple(values), tuple(ids), office, card))
        elif len(shown) > 1 and not _same_visit(kind, told):
            found.append(Conflict(kind, tuple(shown), tuple(f.id for f in told)))
    return tuple(found)


def _told(facts: Sequence[Fact], kind: IdentityKind) -> list[Fact]:
    return as_said(f for f in facts if f.kind == kind and f.usable)


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

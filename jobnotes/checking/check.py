"""The checking stage: from linked facts to the job's head, loose ends, labour, money and claim gaps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jobnotes.checking import pairs as pairs_data
from jobnotes.checking import policy as policy_data
from jobnotes.checking.case import Case
from jobnotes.checking.job import conflicts, job_of
from jobnotes.checking.labour import labour
from jobnotes.checking.loose_ends import loose_ends
from jobnotes.checking.narrative_rules import CauseSupported
from jobnotes.checking.pairs import Pairs
from jobnotes.checking.policy import Policy, claim_gaps
from jobnotes.checking.supports import Things, Weighing, supports
from jobnotes.checking.whole_rules import NotRepeated, earlier_repairs
from jobnotes.chronology import well_dated
from jobnotes.money.charges import charge
from jobnotes.office.job import JobDetails
from jobnotes.office.office import Office
from jobnotes.office.workshop import NAME as WORKSHOP
from jobnotes.past import Past
from jobnotes.record import Charge, Job, OfficeFile, Record, Support


def check(
    record: Record,
    *,
    policy: Policy | None = None,
    pairs: Pairs | None = None,
    office: Office | None = None,
    details: JobDetails | None = None,
    past: Past | None = None,
) -> Record:
    """The record with everything filled in that can be concluded from its notes, facts and photos, from what
    the `office` has and states of the job (`details`), and from the workshop's other jobs (`past`).

    Of the job that it holds, what no fact can say (customer, technician, the office's dates) is kept without
    `details`, and so is the money without `office`. Checking what has been checked gives the same again.
    Without `policy` and `pairs`, those that ship are used.
    """
    policy = policy or policy_data.load()
    pairs = pairs or pairs_data.load()
    past = past or Past()
    job = head(record, details)
    timed = well_dated(record.notes)
    hours = labour(
        record.facts,
        standard=office.standard_times.hours_for if office and office.standard_times else None,
        meanwhile=past.meanwhile,
        technician=job.technician,
        first_note=job.opened_at if timed else None,
        last_note=job.closed_at if timed else None,
        ill_dated={note.id: note.file for note in record.notes if note not in timed},
    )
    concluded = replace(
        record,
        job=job,
        loose_ends=loose_ends(record.facts, pairs),
        labour=hours.lines,
        labour_remarks=hours.remarks,
    )
    if office is not None:
        charged = charge(concluded, office, details, pairs.same_object)
        by_clock = bool(charged.charges) and office.workshop is not None and office.workshop.labour == "clock"
        concluded = replace(
            concluded,
            workshop=charged.workshop,
            invoice=charged.invoice,
            charges=charged.charges,
            charge_remarks=(*charged.remarks, *(hours.unsure_clock if by_clock else ())),
            totals=charged.totals,
            office_files=_rested_on(charged.charges, office),
        )
    said_otherwise = conflicts(record.facts, details, record.photos)
    case = Case(
        concluded,
        pairs.same_object,
        hours,
        said_otherwise,
        past,
        pairs.little_words,
        pairs.kind_of,
        pairs.failures_in,
    )
    asked = [rule.asks for rule in policy.rules if isinstance(rule.asks, NotRepeated)]
    concluded = replace(concluded, supports=_supports(case, policy), earlier=earlier_repairs(case, asked))
    return replace(concluded, claim_gaps=claim_gaps(replace(case, record=concluded), policy))


def _rested_on(charges: Sequence[Charge], office: Office) -> tuple[OfficeFile, ...]:
    """The office's files that the charges are by: taxes and who bears what stand in the workshop's own."""
    named = {row.file for charge in charges for row in charge.rows}
    return tuple(f for f in office.files if f.file in named or (charges and f.file == WORKSHOP))


def head(record: Record, details: JobDetails | None = None) -> Job:
    """The job's head, as `check` fills it in: enough to ask the library for its past."""
    told = job_of(record.facts, record.notes, details, record.photos)
    if details is None:
        return replace(told, **{name: getattr(record.job, name) for name in _ONLY_STATED})
    return replace(
        told,
        customer=told.customer or record.job.customer,
        technician=told.technician or record.job.technician,
    )


# What no fact can say of a job, so that it is kept.
_ONLY_STATED = (
    *("customer", "technician", "in_service_on", "failed_on", "claimed_on"),
    *("claim_number", "payer"),
)


def _supports(case: Case, policy: Policy) -> tuple[Support, ...]:
    """What supports each cause; what bears one out is in the policy's rules."""
    weighing = _weighing([rule.asks for rule in policy.rules if isinstance(rule.asks, CauseSupported)])
    things = Things(case.same_object, case.kind_of, case.failures_in, case.little)
    return tuple(
        support
        for cause in case.causes
        for support in supports(cause, case.facts, case.record.photos, things, weighing)
    )


def _weighing(asked: Sequence[CauseSupported]) -> Weighing:
    fits: dict[str, list[int]] = {}
    for rule in asked:
        for failure, modes in rule.fmi_fits.items():
            fits.setdefault(failure, []).extend(modes)
    return Weighing(
        fits,
        not_photos=tuple(word for rule in asked for word in rule.not_photos),
        circuit_modes=frozenset(mode for rule in asked for mode in rule.circuit_modes),
        circuit_kinds=frozenset(kind for rule in asked for kind in rule.circuit_kinds),
        gone_states=frozenset(state for rule in asked for state in rule.gone_states),
    )

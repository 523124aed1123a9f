"""The checking stage: from linked facts to the job's head, loose ends, labour and claim gaps."""

from __future__ import annotations

from dataclasses import replace

from jobnotes.checking import pairs as pairs_data
from jobnotes.checking import policy as policy_data
from jobnotes.checking.job import job_of
from jobnotes.checking.labour import labour
from jobnotes.checking.loose_ends import loose_ends
from jobnotes.checking.pairs import Pairs
from jobnotes.checking.policy import Policy, claim_gaps
from jobnotes.record import Record


def check(record: Record, *, policy: Policy | None = None, pairs: Pairs | None = None) -> Record:
    """The record with everything filled in that can be concluded from its notes, facts and photos.

    Of the job that it holds, what no fact can say (customer and technician) is kept. Checking what has been
    checked gives the same again. Without `policy` and `pairs`, those that ship are used.
    """
    policy = policy or policy_data.load()
    pairs = pairs or pairs_data.load()
    told = job_of(record.facts, record.notes)
    concluded = replace(
        record,
        job=replace(told, customer=record.job.customer, technician=record.job.technician),
        loose_ends=loose_ends(record.facts, pairs),
        labour=labour(record.facts).lines,
    )
    return replace(concluded, claim_gaps=claim_gaps(concluded, policy, pairs.same_object))

"""Warranty in time, distance and hours, and claims in time, as a payer's policy states them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest
from complete_job import DETAILS, HEAD, complete, gaps, policy_of, record
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.checking.case import Case
from jobnotes.checking.policy import Policy, Rule, claim_gaps
from jobnotes.checking.vehicle_rules import ClaimedWithin, WithinWarranty, last_day
from jobnotes.record import Job, Odometer, Record

REPAIRED = datetime(2031, 3, 4, 8, tzinfo=UTC)
JOB = Job(
    odometer=Odometer("218400", "km"),
    engine_hours=Odometer("9120", "h"),
    opened_at=REPAIRED,
    closed_at=REPAIRED.replace(hour=17),
    in_service_on=date(2029, 3, 4),
)


def unmet(rule, **changes) -> str | None:
    return rule.unmet(Case(Record(replace(JOB, **changes)), lambda a, b: a == b))


@pytest.mark.parametrize(
    ("begun", "months", "last"),
    [
        # Regulation (EEC, Euratom) No 1182/71, Article 3(2)(c): a period in months ends with the day that is
        # the same date; or, if the last month has none, with its last day
        (date(2029, 3, 4), 24, date(2031, 3, 4)),
        (date(2030, 12, 31), 2, date(2031, 2, 28)),
        (date(2031, 11, 30), 3, date(2032, 2, 29)),
        (date(2031, 1, 31), 3, date(2031, 4, 30)),
        (date(2031, 12, 1), 1, date(2032, 1, 1)),
    ],
)
def test_months_end_on_the_same_day_or_the_last_of_the_month(begun, months, last):
    assert last_day(begun, months) == last


def test_a_warranty_for_ever_never_ends():
    assert last_day(date(2029, 3, 4), 10**6) == date.max


@given(st.dates(date(1990, 1, 1), date(2100, 1, 1)), st.integers(1, 120), st.integers(1, 120))
def test_a_longer_warranty_never_ends_sooner(begun, months, more):
    assert begun < last_day(begun, months) < last_day(begun, months + more)


@pytest.mark.parametrize(
    ("stated", "met"),
    [
        ({"failed_on": date(2031, 3, 4)}, True),
        ({"failed_on": date(2031, 3, 5)}, False),
        ({}, True),  # repaired on the last day
        ({"opened_at": REPAIRED.replace(day=5)}, False),
        # it failed in time, and was repaired later
        ({"failed_on": date(2031, 3, 1), "opened_at": REPAIRED.replace(day=20)}, True),
        ({"failed_on": date(2029, 3, 3)}, False),
    ],
)
def test_warranty_in_time_counts_the_day_of_the_failure(stated, met):
    assert (unmet(WithinWarranty(months=24), **stated) is None) == met


@pytest.mark.parametrize(
    ("rule", "met"),
    [
        (WithinWarranty(distance=Decimal(218400)), True),
        (WithinWarranty(distance=Decimal(218399)), False),
        (WithinWarranty(distance=Decimal(135708), unit="[mi_i]"), True),
        (WithinWarranty(distance=Decimal(135707), unit="[mi_i]"), False),
        (WithinWarranty(hours=Decimal(9120)), True),
        (WithinWarranty(hours=Decimal("9119.9")), False),
        (WithinWarranty(months=24, distance=Decimal(200000)), False),
        (WithinWarranty(months=12, distance=Decimal(300000)), False),
        (WithinWarranty(months=24, distance=Decimal(300000), hours=Decimal(10000)), True),
    ],
)
def test_warranty_ends_with_what_comes_first(rule, met):
    assert (unmet(rule) is None) == met


def test_what_ended_first_is_told_with_both_values():
    said = unmet(WithinWarranty(months=12, distance=Decimal(200000)))
    assert said == ("failed on 2031-03-04, its last day was 2030-03-04; 218400 km against 200000 km")


@pytest.mark.parametrize(
    ("rule", "unknown", "words"),
    [
        (WithinWarranty(months=24), {"in_service_on": None}, "began"),
        (WithinWarranty(months=24), {"opened_at": None}, "failure"),
        (WithinWarranty(distance=Decimal(1)), {"odometer": None}, "odometer"),
        (WithinWarranty(distance=Decimal(1)), {"odometer": Odometer("a lot", "km")}, "odometer"),
        (WithinWarranty(hours=Decimal(1)), {"engine_hours": None}, "engine hours"),
    ],
)
def test_what_cannot_be_told_is_not_taken_for_granted(rule, unknown, words):
    assert words in (unmet(rule, **unknown) or "")


@pytest.mark.parametrize(
    ("claimed", "met"), [(date(2031, 3, 14), True), (date(2031, 3, 15), False), (None, True)]
)
def test_a_claim_is_in_time_for_so_many_days_after_the_repair(claimed, met):
    assert (unmet(ClaimedWithin(10), claimed_on=claimed) is None) == met


PAYER = """
include = ["default"]

[[rule]]
id = "warranty"
type = "within_warranty"
months = 24
distance = "250000"
severity = "refused"
missing = "Outside the warranty"
why = "This payer's warranty had ended."
remedy = "Ask for goodwill."

[[rule]]
id = "claim-in-time"
type = "claimed_within"
days = 1
severity = "refused"
missing = "The claim is late"
why = "This payer takes claims for a day."
remedy = "Ask for an extension."
"""


def test_a_payers_policy_adds_its_warranty_to_the_default(tmp_path):
    payer = policy_of(tmp_path, HEAD + PAYER)
    assert gaps(record(complete()), payer) == ["claim-in-time"]
    in_time = replace(DETAILS, claimed_on=date(2031, 3, 5))
    assert gaps(record(complete()), payer, details=in_time) == []
    old = replace(in_time, in_service_on=date(2029, 3, 1))
    assert gaps(record(complete()), payer, details=old) == ["warranty"]
    facts = complete()
    del facts["complaint"]
    assert gaps(record(facts), payer, details=in_time) == ["complaint"]


def test_what_cannot_be_told_is_not_called_expired():
    """Without an odometer reading, nobody knows whether the distance was driven: the gap says just that."""
    policy = Policy(
        (
            Rule(
                "warranty",
                "refused",
                "Outside the warranty",
                "It has ended by then.",
                "Ask for goodwill.",
                WithinWarranty(months=24, distance=Decimal(250000)),
            ),
        )
    )
    unknown = Case(Record(replace(JOB, odometer=None)), lambda a, b: a == b)
    (gap,) = claim_gaps(unknown, policy)
    assert gap.message == "Not known whether the warranty still ran: no odometer reading is known."
    assert "goodwill" not in gap.remedy
    late = Case(Record(replace(JOB, odometer=None, failed_on=date(2040, 1, 1))), lambda a, b: a == b)
    (gap,) = claim_gaps(late, policy)
    assert gap.message.startswith("Outside the warranty: ")

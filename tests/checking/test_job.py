"""The job's head holds what was said for certain, and contradictions are named."""

from __future__ import annotations

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from checking_builders import START, identity, later, note

from jobnotes.checking.job import conflicts, job_of
from jobnotes.record import Odometer


def test_what_was_said_of_the_job_is_its_head():
    facts = [
        identity("job_number", "4417"),
        identity("registration", "QQ00TST"),
        identity("vin", "9ZZWK2HG4N0300761"),
        identity("odometer", "418206", "km"),
        identity("engine_hours", "9120", "h"),
    ]
    job = job_of(facts, [note("N2", later(120), 600), note("N1", START, 60)])
    assert (job.number, job.registration, job.vin) == ("4417", "QQ00TST", "9ZZWK2HG4N0300761")
    assert (job.odometer, job.engine_hours) == (Odometer("418206", "km"), Odometer("9120", "h"))
    assert (job.opened_at, job.closed_at) == (START, later(130))


def test_doubtful_and_rejected_facts_make_no_head():
    facts = [identity("vin", "X", status="check"), identity("job_number", "1", status="rejected")]
    job = job_of(facts, [])
    assert (job.vin, job.number, job.opened_at, job.closed_at) == (None, None, None, None)


def test_the_latest_value_stands_and_the_contradiction_is_named():
    facts = [identity("job_number", "4418", at=later(9)), identity("job_number", "4417", at=later(1))]
    assert job_of(facts, []).number == "4418"
    (conflict,) = conflicts(facts)
    assert conflict.kind == "job_number"
    assert conflict.values == ("4417", "4418")
    assert set(conflict.fact_ids) == {f.id for f in facts}


def test_one_number_in_two_spellings_is_no_contradiction():
    assert conflicts([identity("registration", "QQ00 TST"), identity("registration", "qq00-tst")]) == ()


def test_an_odometer_that_moved_by_a_road_test_is_no_contradiction():
    assert conflicts([identity("odometer", "418206", "km"), identity("odometer", "418218", "km")]) == ()
    assert len(conflicts([identity("odometer", "418206", "km"), identity("odometer", "481206", "km")])) == 1
    assert len(conflicts([identity("odometer", "418218", "km"), identity("odometer", "418206", "km")])) == 1
    assert (
        len(conflicts([identity("odometer", "418206", "km"), identity("odometer", "418206", "[mi_i]")])) == 1
    )


def test_a_doubtful_value_contradicts_nothing():
    assert conflicts([identity("vin", "A"), identity("vin", "B", status="check")]) == ()


def test_a_job_through_the_end_of_summer_time_closes_when_it_did():
    """The clock goes back at 01:00 UTC on the last Sunday of October (EU Directive 2000/84/EC)."""
    start = datetime(2026, 10, 25, 2, 30, tzinfo=ZoneInfo("Europe/Berlin"))
    closed = job_of([], [note("N1", start, 7200)]).closed_at
    assert closed is not None
    assert closed.astimezone(UTC) == datetime(2026, 10, 25, 2, 30, tzinfo=UTC)

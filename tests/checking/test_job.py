"""The job's head holds what was said for certain, and contradictions are named."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from checking_builders import START, identity, later, note

from jobnotes.checking.job import conflicts, job_of
from jobnotes.office.job import JobDetails
from jobnotes.record import Odometer, Party


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


# --- what the office states ----------------------------------------------------------------------

STATED = JobDetails(
    number="4417",
    registration="QQ00 TST",
    vin="9ZZWK2HG4N0300761",
    technician="R. Sample",
    customer=Party("Sampleton Town Transport"),
    in_service_on=date(2029, 6, 1),
    failed_on=date(2031, 3, 3),
    claimed_on=date(2031, 3, 6),
    claim_number="C-88",
    payer="Example Warranty Fund",
)


def test_the_office_fills_in_what_nobody_said():
    job = job_of([], [note("N1", START)], STATED)
    assert (job.number, job.registration, job.vin) == ("4417", "QQ00 TST", "9ZZWK2HG4N0300761")
    assert (job.customer, job.technician) == ("Sampleton Town Transport", "R. Sample")
    assert (job.in_service_on, job.failed_on, job.claimed_on) == (
        date(2029, 6, 1),
        date(2031, 3, 3),
        date(2031, 3, 6),
    )
    assert (job.claim_number, job.payer) == ("C-88", "Example Warranty Fund")
    assert job.opened_at == START


def test_what_was_said_stands_and_is_named_with_what_the_office_states():
    facts = [identity("job_number", "4418"), identity("registration", "qq00-tst")]
    assert job_of(facts, [], STATED).number == "4418"
    (conflict,) = conflicts(facts, STATED)
    assert (conflict.kind, conflict.values, conflict.stated) == ("job_number", ("4418",), "4417")
    assert str(conflict) == "job number 4418 was said, 4417 is stated by the office"


def test_a_value_in_doubt_gives_way_to_the_office_but_both_are_named_where_they_differ():
    facts = [identity("vin", "9ZZWK2HG4N0300751", status="check")]
    assert job_of(facts, [], STATED).vin == STATED.vin
    (conflict,) = conflicts(facts, STATED)
    assert (conflict.values, conflict.stated) == (("9ZZWK2HG4N0300751",), STATED.vin)
    assert conflicts([identity("vin", STATED.vin, status="check")], STATED) == ()


def test_two_values_said_are_told_apart_from_the_one_stated():
    facts = [identity("job_number", "4417"), identity("job_number", "4471")]
    (conflict,) = conflicts(facts, STATED)
    assert conflict.values == ("4417", "4471")
    assert conflict.stated == "4417"
    assert str(conflicts(facts)[0]) == "job number 4417 or 4471"


def test_a_note_dated_only_by_its_file_does_not_stretch_the_work():
    """A recording that was renamed and saved again in spring would make the work last for months."""
    notes = [
        note("N1", START, 60),
        note("N2", later(120), 600),
        replace(note("N3", START + timedelta(days=90)), started_at_doubt="file time"),
        replace(note("N4", START - timedelta(hours=8)), started_at_doubt="day only"),
    ]
    job = job_of([], notes)
    assert (job.opened_at, job.closed_at) == (START, later(130))


def test_where_no_note_has_a_time_of_its_own_the_files_dates_are_all_there_is():
    notes = [replace(note("N1", START, 60), started_at_doubt="file time")]
    assert job_of([], notes).opened_at == START

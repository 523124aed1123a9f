"""What other jobs tell about one: earlier repairs of its vehicle, and work at the same time."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from pathlib import Path

import pytest
from library_jobs import AT, STAMP, make_recording
from sqlite_utils import Database

from jobnotes import record_json
from jobnotes.checking.check import check, head
from jobnotes.library.database import APPLICATION_ID, NAME
from jobnotes.library.library import GivenFile, Library
from jobnotes.library.migrations import MIGRATIONS
from jobnotes.past import OtherWork, PastCause, PastJob, PastPart
from jobnotes.record import Clock, Fact, FaultCode, Identity, Job, Note, Odometer, Part, Record, Statement

DAY = timedelta(days=1)
HOUR = timedelta(hours=1)
VIN = "9ZZWK2HG4N0300761"
Save = Callable[..., str]


def said(id: str, detail: object, **rest: object) -> Fact:
    return Fact(**{"id": id, "detail": detail, "quote": id, "confidence": 0.9, "status": "sure", **rest})  # type: ignore[arg-type]


FACTS = (
    said("F1", FaultCode("SPN 110 FMI 0")),
    said("F2", Statement("cause", "the pump leaks", "water pump", "leaking")),
    said("F3", Part("water pump", "fitted", Decimal(1), number="4471-20")),
    said("F4", Part("hose", "removed")),
    said("F5", FaultCode("P0299"), status="check"),
    said("F6", Statement("cause", "the belt", "belt", "worn"), status="rejected"),
    said("F7", Part("mirror", "fitted"), audience="workshop"),
    said("F8", FaultCode("SPN 110 FMI 0", state="cleared")),
)


def of(begun: datetime = AT, facts: tuple[Fact, ...] = FACTS, hours: int = 2, **head: object) -> Record:
    """A record of a job that took that many hours."""
    known = {"vin": VIN, "number": "4711", "odometer": Odometer("218400", "km"), **head}
    return Record(Job(opened_at=begun, closed_at=begun + hours * HOUR, **known), facts=facts)  # type: ignore[arg-type]


def clocked(begun: datetime, hours: int = 2, **head: object) -> Record:
    start, stop = said("C1", Clock("start"), at=begun), said("C2", Clock("stop"), at=begun + hours * HOUR)
    return of(begun, (start, stop), hours, **head)


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with Library.open(tmp_path / "library") as opened:
        yield opened


@pytest.fixture
def save(library: Library, tmp_path: Path) -> Save:
    """Saves a record as a job of its own, the id of which it gives."""
    made = 0

    def saved(record: Record) -> str:
        nonlocal made
        made += 1
        kept = library.keep(make_recording(tmp_path / "given" / f"{made}.wav", made), "recording")
        job = library.file_job([GivenFile(kept.sha256, kept.file)]).job
        library.save(record, job)
        return job

    return saved


def earlier(library: Library, record: Record, job: str = "J-new") -> list[str]:
    return [past.job for past in library.past(job, record).earlier]


def test_an_earlier_job_of_the_vehicle_is_told_with_what_could_stand_in_a_claim(
    library: Library, save: Save
) -> None:
    job = save(of())
    (found,) = library.past("J-new", of(AT + 30 * DAY)).earlier
    assert found == PastJob(
        job,
        date(2031, 4, 7),
        "4711",
        Odometer("218400", "km"),
        ("SPN 110 FMI 0",),
        (PastCause("water pump", "leaking"),),
        (PastPart("water pump", "4471-20"),),
    )


def test_the_latest_comes_first_and_later_ones_do_not_count(library: Library, save: Save) -> None:
    jobs = [save(of(AT + days * DAY)) for days in (0, 20, 40)]
    assert earlier(library, of(AT + 30 * DAY)) == [jobs[1], jobs[0]]


def test_a_job_is_not_its_own_past(library: Library, save: Save) -> None:
    job = save(of())
    assert earlier(library, of(AT + DAY), job) == []


@pytest.mark.parametrize(
    ("then", "now", "same"),
    [
        ({"vin": "9zzwk2hg4n-0300 761"}, {"vin": VIN}, True),
        ({"vin": None, "registration": "QQ 00-tst"}, {"vin": None, "registration": "qq00 TST"}, True),
        ({"vin": None, "registration": "MÜ Ö 99"}, {"vin": None, "registration": "müö-99"}, True),
        ({"vin": VIN, "registration": "QQ00TST"}, {"vin": None, "registration": "QQ00TST"}, True),
        ({"vin": None, "registration": "QQ00TST"}, {"vin": VIN, "registration": "QQ00TST"}, True),
        # a registration passed on to another vehicle, and a vehicle that got another registration
        ({"vin": VIN, "registration": "QQ00TST"}, {"vin": "X" + VIN[1:], "registration": "QQ00TST"}, False),
        ({"vin": VIN, "registration": "QQ00TST"}, {"vin": VIN, "registration": "QQ99TST"}, True),
        ({"vin": None, "registration": None}, {"vin": None, "registration": None}, False),
        ({"vin": None, "registration": "-"}, {"vin": None, "registration": " "}, False),
    ],
)
def test_a_vehicle_is_known_by_its_number_then_by_its_registration(
    library: Library, save: Save, then: dict[str, object], now: dict[str, object], same: bool
) -> None:
    job = save(of(**then))
    assert earlier(library, of(AT + DAY, **now)) == ([job] if same else [])


def test_what_is_rejected_later_no_longer_counts(library: Library, save: Save) -> None:
    job = save(of())
    library.save(of(facts=tuple(replace(f, status="rejected") for f in FACTS)), job)
    (found,) = library.past("J-new", of(AT + DAY)).earlier
    assert (found.codes, found.causes, found.parts) == ((), (), ())


def test_a_job_without_dates_has_no_past(library: Library, save: Save) -> None:
    save(of())
    assert earlier(library, Record(Job(vin=VIN))) == []


def test_work_at_the_same_time_is_told_with_its_clock(library: Library, save: Save) -> None:
    record = clocked(AT, vin="other", technician="R. Sample")
    job = save(record)
    save(clocked(AT + 2 * HOUR))  # begins when this one ends
    save(clocked(AT - 2 * HOUR))  # ends when this one begins
    save(of())  # has no clock
    past = library.past("J-new", clocked(AT))
    assert past.meanwhile == (OtherWork(job, record.facts, "4711", "R. Sample"),)
    assert library.past(job, record).meanwhile == ()


def test_the_past_is_that_of_what_was_saved_last(library: Library, save: Save) -> None:
    job = save(of(vin="mistaken"))
    assert earlier(library, of(AT + DAY)) == []
    library.save(of(), job)
    assert earlier(library, of(AT + DAY)) == [job]


def noted(begun: datetime, facts: tuple[Fact, ...]) -> Record:
    """A record of facts as a run has it before the check."""
    note = Note("N1", "a.wav", "0" * 64, begun, "file name", 60.0, STAMP, "", ())
    known = (said("I1", Identity("vin", VIN)), said("I2", Identity("odometer", "218400", "km")))
    return Record(Job(), (note,), facts=(*known, *facts))


def test_a_repeat_repair_is_found_from_what_was_saved_of_the_first(library: Library, save: Save) -> None:
    first = check(noted(AT, FACTS))
    job = save(first)
    second = noted(AT + 20 * DAY, FACTS[:1])
    past = library.past("J-new", replace(second, job=head(second)))
    done = check(second, past=past)
    (earlier,) = done.earlier
    assert (earlier.job, earlier.ended_on, earlier.days) == (job, AT.date(), 20)
    assert earlier.same == ("fault code SPN 110 FMI 0",)
    (gap,) = (gap for gap in done.claim_gaps if gap.rule == "not-repeated")
    assert f"job {job} of 2031-04-07" in gap.message
    # and the first, run again, has no repeat: the second is not earlier than it
    save(done)
    assert check(first, past=library.past(job, first)).earlier == ()


def test_jobs_from_before_there_was_a_history_are_in_it(tmp_path: Path) -> None:
    folder = tmp_path / "old"
    folder.mkdir()
    with closing(Database(folder / NAME)) as db:
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        MIGRATIONS.apply(db, stop_before="0006_history")
        texts = {"J1": record_json.dumps(of()), "J2": "{}", "J3": "no JSON", "J4": "[]", "J5": '{"job": 3}'}
        for job, text in texts.items():
            db.table("jobs").insert({"id": job, "opened_at": AT.isoformat()})
            row = {"job": job, "json": text, "sha256": "", "saved_at": AT.isoformat()}
            db.table("records").insert(row)
    with Library.open(folder) as library:
        (found,) = library.past("J-new", of(AT + DAY)).earlier
    assert (found.job, found.codes) == ("J1", ("SPN 110 FMI 0",))


def test_history_is_found_by_its_indexes(library: Library, save: Save) -> None:
    """Among many jobs a scan would take long: https://www.sqlite.org/eqp.html names what is searched how."""
    save(of())
    with closing(sqlite3.connect(library.folder / NAME)) as db:
        for column in ("vin", "registration"):
            sql = f"EXPLAIN QUERY PLAN SELECT * FROM history WHERE {column} = ? AND began_s < ?"
            plan = " ".join(row[3] for row in db.execute(sql, ["x", 0.0]))
            assert f"SEARCH history USING INDEX history_by_{column}" in plan


def test_what_the_office_states_is_kept_and_filed_with_its_job(library: Library, tmp_path: Path) -> None:
    recording = library.keep(make_recording(tmp_path / "note.wav"), "recording")
    given = GivenFile(recording.sha256, "note.wav")
    stated = []
    for text in ("number = '1'", "number = '2'"):
        path = tmp_path / "job.toml"
        path.write_text(text, "utf-8")
        stated.append(GivenFile(library.keep(path, "details").sha256, "job.toml"))
        filed = library.file_job([given], details=stated[-1:])
    assert library.original(stated[0].sha256).kind == "details"
    assert library.path_of(stated[0].sha256).read_text("utf-8") == "number = '1'"
    # what was stated before is not lost
    assert set(library.originals(filed.job)) == {given, *stated}
    assert library.originals(filed.job)[0] == given
    # it tells no job: the same file beside another job's recordings is filed with both
    other = library.keep(make_recording(tmp_path / "other.wav", 9), "recording")
    second = library.file_job([GivenFile(other.sha256, "other.wav")], details=stated[-1:])
    assert (second.new, second.problems) == (True, ())
    assert list(library.verify()) == []

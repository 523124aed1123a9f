"""What people add to a job and state of it by hand: kept like decisions, and never changed."""

from __future__ import annotations

import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from library_jobs import file_and_save, make_recording

from jobnotes.library.library import GivenFile, Library
from jobnotes.library.stated import Entry, StatedEntry, in_force, laid_over, taken_back

AT = datetime(2031, 4, 7, 9, 30, tzinfo=UTC)
ROWS: Entry = [{"reason": "fleet agreement", "amount": "4.00"}]


@pytest.fixture
def library(tmp_path: Path) -> Any:
    with Library.open(tmp_path / "library") as opened:
        yield opened


def kept(library: Library, path: Path) -> GivenFile:
    return GivenFile(library.keep(path, "recording").sha256, path.name)


# --- added ---------------------------------------------------------------------------------------


def test_what_is_added_is_told_from_what_was_given_and_is_not_missed(
    library: Library, recording: Path, tmp_path: Path
) -> None:
    first = kept(library, recording)
    job = library.file_job([first]).job
    more = kept(library, make_recording(tmp_path / "more" / "memo.wav", 9))
    assert library.add_to_job(job, [more], [], "clerk") == ()
    assert library.added(job) == {more.sha256}
    assert library.job_of(more.sha256) == job
    again = library.file_job([first])
    assert (again.job, again.problems) == (job, ())


def test_adding_what_the_job_has_makes_nothing_of_it_an_addition(library: Library, recording: Path) -> None:
    first = kept(library, recording)
    job = library.file_job([first]).job
    library.add_to_job(job, [first], [], "clerk")
    assert library.added(job) == frozenset()


def test_a_recording_of_another_job_stays_there(library: Library, recording: Path, tmp_path: Path) -> None:
    first, other = kept(library, recording), kept(library, make_recording(tmp_path / "b" / "b.wav", 5))
    job, theirs = library.file_job([first]).job, library.file_job([other]).job
    (problem,) = library.add_to_job(job, [other], [], "clerk")
    assert theirs in problem.message
    assert library.job_of(other.sha256) == theirs
    assert library.added(job) == frozenset()


def test_a_job_can_be_opened_before_its_recordings_are_there(library: Library, recording: Path) -> None:
    job = library.open_job()
    assert library.file_job([kept(library, recording)], job=job).job == job
    assert library.open_job() != job


def test_a_job_whose_opener_was_killed_is_given_again_while_it_is_empty(
    library: Library, recording: Path
) -> None:
    """Else the job's id, which comes from its first recording, would be another one after the next start."""
    first = kept(library, recording)
    job = library.open_job(first.sha256)
    assert library.open_job(first.sha256) == job
    other = library.open_job(first.sha256, taken={job})
    assert other != job
    library.file_job([first], job=job)
    assert library.open_job(first.sha256, taken={other}) not in (job, other)


# --- stated --------------------------------------------------------------------------------------


def test_what_was_stated_comes_back_in_order_with_all_that_belongs_to_it(
    library: Library, recording: Path
) -> None:
    job = library.file_job([kept(library, recording)]).job
    entries = [
        StatedEntry("payer", "clerk", AT, None, "North Lease", "South Lease"),
        StatedEntry("invoice.allowance", "clerk", AT, None, ROWS),
        StatedEntry("payer", "chief", AT + timedelta(hours=1), "North Lease", None, None, "withdrawn"),
    ]
    ids = [e.id for e in library.state(job, entries)]
    assert ids == sorted(ids, key=lambda i: i or 0)
    back = library.stated(job)
    assert [e.id for e in back] == ids
    assert [(e.key, e.who, e.at, e.before, e.after, e.file, e.action) for e in back] == [
        (e.key, e.who, e.at, e.before, e.after, e.file, e.action) for e in entries
    ]


def test_it_is_stored_whole_or_not_at_all(library: Library, recording: Path) -> None:
    job = library.file_job([kept(library, recording)]).job
    good, bad = StatedEntry("payer", "clerk", AT, None, "x"), StatedEntry("", "clerk", AT, None, "y")
    with pytest.raises(sqlite3.IntegrityError):
        library.state(job, [good, bad])
    assert library.stated(job) == ()


@pytest.mark.parametrize(
    "wrong",
    [
        {"who": " "},
        {"at": datetime(2031, 4, 7)},
        {"action": "withdrawn", "after": "x"},
    ],
)
def test_an_entry_that_makes_no_sense_is_none(wrong: dict[str, Any]) -> None:
    with pytest.raises(ValueError, match=r"statement|withdrawn"):
        StatedEntry(**({"key": "payer", "who": "clerk", "at": AT} | wrong))


values = st.none() | st.text(min_size=1, max_size=5)
entries = st.lists(
    st.builds(
        lambda key, value, back, n: (key, None if back else value, back, n),
        st.sampled_from(["payer", "number", "customer.name"]),
        values,
        st.booleans(),
        st.integers(0, 3),
    ),
    max_size=8,
)
files = st.dictionaries(st.sampled_from(["payer", "number", "vin"]), st.text(min_size=1, max_size=5))


def made(words: list[tuple[str, str | None, bool, int]]) -> list[StatedEntry]:
    return [
        StatedEntry(
            key,
            "clerk",
            AT + timedelta(minutes=at),
            None,
            value,
            None,
            "withdrawn" if back else "stated",
            at + 1,
        )
        for at, (key, value, back, _) in enumerate(words)
    ]


@given(entries, files)
def test_what_counts_is_the_last_word_on_each_entry_then_the_file(
    words: list[tuple[str, str | None, bool, int]], file: dict[str, Entry]
) -> None:
    stated = made(words)
    now = laid_over(file, stated)
    for key in {*file, *(e.key for e in stated)}:
        said = [e for e in stated if e.key == key]
        expected = file.get(key) if not said or said[-1].action == "withdrawn" else said[-1].after
        assert now.get(key) == expected
    assert set(in_force(stated)) == {
        e.key for e in stated if [x for x in stated if x.key == e.key][-1].action == "stated"
    }


@given(entries.filter(bool), files)
def test_what_is_taken_back_is_as_if_it_had_not_been_stated(
    words: list[tuple[str, str | None, bool, int]], file: dict[str, Entry]
) -> None:
    stated = made(words)
    back = taken_back(stated, stated[-1], file, "chief", AT + timedelta(days=1))
    assert laid_over(file, [*stated, *back]) == laid_over(file, stated[:-1])


def test_what_a_later_word_builds_on_is_not_taken_back() -> None:
    stated = made([("payer", "a", False, 0), ("payer", "b", False, 0)])
    with pytest.raises(ValueError, match="builds on"):
        taken_back(stated, stated[0], {}, "chief", AT)


# --- what a list and a page ask ------------------------------------------------------------------


def test_a_job_in_short_is_what_its_record_says_and_is_asked_for_once(
    library: Library, recording: Path
) -> None:
    job, record = file_and_save(library, recording)
    (short,) = library.in_short()
    assert (short.job, short.number, short.notes) == (job, "4711", len(record.notes))
    assert short.facts == len([f for f in record.facts if f.stands])
    assert short.to_check == len([f for f in record.facts if f.status == "check"])
    assert short.gaps == len(record.claim_gaps)
    assert library.in_short({job: short.sha256}) == ()
    with pytest.raises(KeyError):
        library.job_in_short("J000000000000")


def test_whatever_changes_a_job_shows_in_how_it_stands(library: Library, recording: Path) -> None:
    job, record = file_and_save(library, recording)
    seen = {library.as_it_stands(job)}
    library.state(job, [StatedEntry("payer", "clerk", AT, None, "x")])
    seen.add(library.as_it_stands(job))
    library.save(record.__class__(record.job, record.notes), job)
    seen.add(library.as_it_stands(job))
    assert len(seen) == 3
    assert library.as_it_stands(job) in seen


def test_being_alone_with_a_job_is_for_jobs_only(library: Library) -> None:
    with pytest.raises(ValueError, match="no job"), library.alone_with("../../etc"):
        pass

from __future__ import annotations

import hashlib
import multiprocessing
import os
import resource
import signal
import sqlite3
import tempfile
from collections.abc import Callable, Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from library_jobs import (
    AT,
    FACTS,
    STAMP,
    WORDS,
    fact,
    file_and_save,
    in_child,
    kill_self,
    make_recording,
)

from jobnotes import record_json
from jobnotes.errors import JobnotesError
from jobnotes.library.database import NAME
from jobnotes.library.decisions import Decision, apply
from jobnotes.library.library import GivenFile, Library
from jobnotes.record import Job, PhotoText, Record, Sight

NOBODY = 65534


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "library"


@pytest.fixture
def library(folder: Path) -> Iterator[Library]:
    with Library.open(folder) as library:
        yield library


def given_file(library: Library, path: Path) -> GivenFile:
    return GivenFile(library.keep(path, "recording").sha256, path.name)


# --- originals and jobs --------------------------------------------------------------------------


def test_what_is_kept_can_be_found_after_the_library_is_opened_again(folder: Path, recording: Path) -> None:
    with Library.open(folder) as library:
        kept = library.keep(recording, "recording", file="day 1/Note 1.WAV")
    with Library.open(folder) as library:
        assert library.original(kept.sha256) == kept
        assert kept.file == "day 1/Note 1.WAV"
        assert kept.bytes == recording.stat().st_size
        assert library.path_of(kept.sha256).read_bytes() == recording.read_bytes()


def test_keeping_the_same_again_changes_nothing(library: Library, recording: Path) -> None:
    first = library.keep(recording, "recording")
    assert library.keep(recording.rename(recording.with_name("b.wav")), "recording") == first


def test_a_file_name_that_is_no_utf8_is_kept_too(library: Library, recording: Path) -> None:
    odd = Path(os.fsdecode(os.fsencode(recording.parent) + b"/n\xf6te.wav"))
    recording.rename(odd)
    kept = library.keep(odd, "recording")
    assert kept.file.isprintable()
    assert not library.file_job([GivenFile(kept.sha256, odd.name)]).problems


def test_a_folder_that_gains_a_recording_stays_the_same_job(library: Library, tmp_path: Path) -> None:
    one, two = (given_file(library, make_recording(tmp_path / f"{n}.wav", n)) for n in (1, 2))
    first = library.file_job([one])
    assert first.new
    # the new one comes first this time: the job is known by any of them
    again = library.file_job([two, one])
    assert (again.job, again.new, again.problems) == (first.job, False, ())
    assert library.originals(first.job) == (two, one)


def test_a_library_made_anew_gives_the_job_the_same_id(tmp_path: Path) -> None:
    ids = set()
    for name in ("library", "another"):
        with Library.open(tmp_path / name) as library:
            ids.add(library.file_job([given_file(library, make_recording(tmp_path / "a.wav"))]).job)
    assert len(ids) == 1


def test_two_folders_that_share_a_photo_are_two_jobs(library: Library, tmp_path: Path, photo: Path) -> None:
    one, two = (given_file(library, make_recording(tmp_path / f"{n}.wav", n)) for n in (1, 2))
    shared = GivenFile(library.keep(photo, "photo").sha256, photo.name)
    first, second = library.file_job([one], [shared]), library.file_job([two], [shared])
    assert first.job != second.job
    assert not first.problems + second.problems
    assert shared in library.originals(first.job)
    assert shared in library.originals(second.job)


def test_recordings_of_two_jobs_are_named_and_stay_where_they_are(library: Library, tmp_path: Path) -> None:
    a1, b1, b2 = (given_file(library, make_recording(tmp_path / f"{n}.wav", i)) for i, n in enumerate("xyz"))
    a, b = library.file_job([a1]).job, library.file_job([b1, b2]).job
    mixed = library.file_job([a1, b1, b2])
    assert mixed.job == b  # which has more of them, though it is the younger
    assert [p.file for p in mixed.problems] == ["x.wav"]
    assert a in mixed.problems[0].message
    assert library.job_of(a1.sha256) == a
    assert library.file_job([a1]).job == a
    assert library.file_job([a1, b1]).job == a  # as many of each: the older


def test_the_database_itself_holds_a_recording_to_one_job(
    library: Library, recording: Path, photo: Path
) -> None:
    _, record = file_and_save(library, recording, photo)
    sql = "INSERT INTO job_originals SELECT ?, original, kind, file, 0 FROM job_originals WHERE original = ?"
    with closing(sqlite3.connect(library.folder / NAME)) as db:
        db.execute("INSERT INTO jobs VALUES ('J2', ?)", [AT.isoformat()])
        db.execute(sql, ["J2", record.photos[0].sha256])
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(sql, ["J2", record.notes[0].sha256])


def test_a_recording_that_is_gone_from_the_folder_is_named(library: Library, tmp_path: Path) -> None:
    one, two = (given_file(library, make_recording(tmp_path / f"{n}.wav", n)) for n in (1, 2))
    job = library.file_job([one, two]).job
    less = library.file_job([one])
    assert less.job == job
    assert [p.file for p in less.problems] == ["2.wav"]


def test_only_what_was_kept_can_be_filed(library: Library) -> None:
    with pytest.raises(sqlite3.IntegrityError):
        library.file_job([GivenFile("0" * 64, "a.wav")])
    assert library.job_of("0" * 64) is None


# --- derived data --------------------------------------------------------------------------------


def test_words_come_back_as_they_were_heard_by_that_recogniser_only(
    library: Library, recording: Path
) -> None:
    sha256 = library.keep(recording, "recording").sha256
    assert library.heard(sha256, STAMP) is None
    library.store_heard(sha256, STAMP, WORDS, 1.5)
    assert library.heard(sha256, STAMP) == WORDS
    for other in (
        replace(STAMP, engine="vosk"),
        replace(STAMP, model="base"),
        replace(STAMP, sha256="2b" * 32),
    ):
        assert library.heard(sha256, other) is None


def test_silence_that_was_heard_is_not_heard_again(library: Library, recording: Path) -> None:
    sha256 = library.keep(recording, "recording").sha256
    library.store_heard(sha256, STAMP, (), 0.5)
    assert library.heard(sha256, STAMP) == ()


def test_pieces_come_back_for_that_recogniser_until_all_of_the_recording_was_heard(
    library: Library, recording: Path
) -> None:
    sha256 = library.keep(recording, "recording").sha256
    library.keep_heard_piece(sha256, STAMP, "0-9", WORDS)
    library.keep_heard_piece(sha256, STAMP, "12-20", ())
    library.keep_heard_piece(sha256, STAMP, "12-20", ())  # two processes may hear the same at once
    assert library.heard_pieces(sha256, STAMP) == {"0-9": WORDS, "12-20": ()}
    assert library.heard_pieces(sha256, replace(STAMP, sha256="2b" * 32)) == {}
    assert library.heard(sha256, STAMP) is None
    library.store_heard(sha256, STAMP, WORDS, 1.5)
    assert library.heard_pieces(sha256, STAMP) == {}


def test_what_was_seen_in_a_photo_comes_back_for_that_reader_only(library: Library, recording: Path) -> None:
    sha256 = library.keep(recording, "photo").sha256
    text = PhotoText("P/N 1 874 552", 0.97, ((0.1, 0.2), (0.5, 0.2), (0.5, 0.3), (0.1, 0.3)), "Code 128")
    sight = Sight(STAMP, (text,), ("too dark",), 12.5, "0f")
    assert library.seen(sha256, STAMP) is None
    library.store_seen(sha256, sight)
    assert library.seen(sha256, STAMP) == sight
    assert library.seen(sha256, replace(STAMP, model="base")) is None


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(times=st.lists(st.floats(0, 1e5), max_size=4))
def test_times_of_words_come_back_exactly(library: Library, recording: Path, times: list[float]) -> None:
    sha256 = library.keep(recording, "recording").sha256
    words = tuple(replace(WORDS[0], start_s=t, end_s=t) for t in times)
    library.store_heard(sha256, STAMP, words, 1.5)
    assert library.heard(sha256, STAMP) == words


def test_the_stored_record_is_the_file_to_the_byte(library: Library, recording: Path, tmp_path: Path) -> None:
    job, record = file_and_save(library, recording)
    record_json.write(record, tmp_path / "record.json")
    written = (tmp_path / "record.json").read_bytes()
    stored = library.record(job)
    assert stored is not None
    assert stored.text.encode() == written
    assert stored.sha256 == hashlib.sha256(written).hexdigest()
    assert library.record_with(stored.sha256) == stored
    assert library.record_with("0" * 64) is None
    assert library.record("J0") is None


def test_saving_again_replaces_the_facts_of_that_job_only(library: Library, tmp_path: Path) -> None:
    (one, record), (two, _) = (
        file_and_save(library, make_recording(tmp_path / f"{n}.wav", n)) for n in (1, 2)
    )
    library.save(replace(record, facts=(fact(quote="nothing but an earth strap"),)), one)
    assert [h.job for h in library.search("lift pump seal")] == [two]
    assert [h.job for h in library.search("earth strap")] == [one]


def test_a_save_that_fails_leaves_the_record_before(library: Library, recording: Path) -> None:
    job, record = file_and_save(library, recording)
    before = library.record(job)
    with pytest.raises(sqlite3.IntegrityError):
        library.save(replace(record, facts=(*FACTS, FACTS[0])), job)
    assert library.record(job) == before
    assert library.search("lift pump seal")


# --- search --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("twelve point six", "F1"),
        ("12.6", "F1"),  # as read, though it was heard in words
        ("LEAK seals", "F2"),  # by the stem, whatever the case
        ("leaks", "F2"),
        ("A4710901850", "F3"),  # a number without the gaps it was written with
        ("a 471 0901850", "F3"),  # and with others
        ("471 090", "F3"),
        ("lift pu fitted", "F3"),  # a word that is still being typed
    ],
)
def test_a_fact_is_found_by_what_was_heard_or_read(
    library: Library, recording: Path, text: str, found: str
) -> None:
    file_and_save(library, recording)
    assert [h.fact_id for h in library.search(text)] == [found]


def test_a_hit_says_where_it_was_said(library: Library, recording: Path) -> None:
    job, _ = file_and_save(library, recording)
    (hit,) = library.search("battery")
    assert (hit.job, hit.kind, hit.status, hit.note, hit.start_s) == (job, "measurement", "sure", "N1", 0.1)
    assert hit.quote == FACTS[0].quote


@pytest.fixture(scope="module")
def shared_library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    folder = tmp_path_factory.mktemp("shared")
    with Library.open(folder / "library") as library:
        file_and_save(library, make_recording(folder / "a.wav"))
        yield library


@given(
    st.text(st.characters(exclude_categories=()))  # lone surrogates too
    | st.text(st.sampled_from("\"*()^:+-{}, \0'ORANDTNE2."))
    | st.text("x ", min_size=3000, max_size=9000)
)
def test_any_text_may_be_searched_for(shared_library: Library, text: str) -> None:
    assert isinstance(shared_library.search(text), tuple)


@given(st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "Zs", "Mn", "S")), min_size=1))
def test_a_fact_is_found_by_its_own_words(shared_library: Library, quote: str) -> None:
    job = shared_library.search("battery")[0].job
    facts = (*FACTS, fact("F4", quote=f"plug {quote}"))
    shared_library.save(Record(Job(), facts=facts), job)
    assert "F4" in [h.fact_id for h in shared_library.search(f"plug {quote}")]


def test_no_words_find_nothing(shared_library: Library) -> None:
    for text in ("", "  ", '"', "***", "\0"):
        assert shared_library.search(text) == ()


# --- decisions -----------------------------------------------------------------------------------


def test_decisions_come_back_as_they_were_made(library: Library, recording: Path) -> None:
    job, _ = file_and_save(library, recording)
    made = [
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0])),
        library.decide(job, Decision("F2", "Ben", AT, "edited", FACTS[1], replace(FACTS[1], confidence=1.0))),
        library.decide(job, Decision("A1", "Ben", AT, "added", after=fact("A1", "24.60"))),
    ]
    made.append(library.decide(job, Decision("F2", "Ann", AT, "undone", undoes=made[1].id)))
    assert [d.id for d in made] == sorted({d.id for d in made})
    assert library.decisions(job) == tuple(made)
    assert library.decisions("J0") == ()


def test_a_new_run_keeps_decisions_and_applies_them(library: Library, recording: Path) -> None:
    job, record = file_and_save(library, recording)
    library.decide(job, Decision("F2", "Ann", AT, "accepted", FACTS[1]))
    again, _ = file_and_save(library, recording)
    assert again == job
    reviewed = apply(library.decisions(job), record.facts)
    assert [f.status for f in reviewed.facts] == ["sure", "accepted", "sure"]


def test_undo_of_a_decision_on_another_fact_is_refused(library: Library, recording: Path) -> None:
    job, _ = file_and_save(library, recording)
    made = library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
    for undo in (
        Decision("F2", "Ann", AT, "undone", undoes=made.id),
        Decision("F1", "Ann", AT, "undone", undoes=99),
    ):
        with pytest.raises(ValueError, match="to take back"):
            library.decide(job, undo)
    assert library.decisions(job) == (made,)


@pytest.mark.parametrize(
    "forged",
    [
        "UPDATE decisions SET who = 'somebody else'",
        "DELETE FROM decisions",
        "INSERT OR REPLACE INTO decisions (id, job, fact, who, at, action, before) "
        "SELECT id, job, fact, 'somebody else', at, action, before FROM decisions",
        "REPLACE INTO decisions SELECT * FROM decisions",
        "DELETE FROM jobs",
    ],
)
def test_no_statement_changes_or_removes_a_decision(folder: Path, recording: Path, forged: str) -> None:
    with Library.open(folder) as library:
        job, _ = file_and_save(library, recording)
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
        before = library.decisions(job)
    # from outside, without this program's own settings of the connection but for foreign keys
    with closing(sqlite3.connect(folder / NAME)) as db:
        db.execute("PRAGMA foreign_keys = ON")
        with pytest.raises(sqlite3.IntegrityError):
            db.execute(forged)
    with Library.open(folder) as library:
        assert library.decisions(job) == before


# --- whether it fits -----------------------------------------------------------------------------


def test_a_record_that_was_changed_in_the_database_does_not_fit(library: Library, recording: Path) -> None:
    job, _ = file_and_save(library, recording)
    assert list(library.verify()) == []
    with closing(sqlite3.connect(library.folder / NAME)) as db:
        db.execute("UPDATE records SET json = replace(json, '12.6', '10.6')")
        db.commit()
    (misfit,) = library.verify()
    assert job in misfit.subject


def test_a_row_that_refers_to_nothing_does_not_fit(library: Library, recording: Path) -> None:
    file_and_save(library, recording)
    with closing(sqlite3.connect(library.folder / NAME)) as db:
        db.execute("DELETE FROM job_originals")
        db.execute("DELETE FROM originals")
        db.execute("INSERT INTO job_originals VALUES ('J0', ?, 'photo', 'a.jpg', 0)", ["0" * 64])
        db.commit()
    assert {m.subject for m in library.verify()} == {NAME}


# --- several processes, and kills ----------------------------------------------------------------


def _open_and_decide(folder: Path, recording: Path, who: str, times: int) -> None:
    with Library.open(folder) as library:
        for _ in range(times):
            job, _ = file_and_save(library, recording)
            library.decide(job, Decision("F1", who, AT, "accepted", FACTS[0]))


def test_processes_that_write_at_once_lose_nothing(folder: Path, recording: Path) -> None:
    # none of them finds a library: they also make it at once
    fork = multiprocessing.get_context("fork")
    people = [f"clerk {n}" for n in range(6)]
    workers = [
        fork.Process(target=_open_and_decide, args=(folder, recording, who, 8), daemon=True) for who in people
    ]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert [w.exitcode for w in workers] == [0] * len(people)
    with Library.open(folder) as library:
        (job,) = {h.job for h in library.search("battery")}
        assert sorted(d.who for d in library.decisions(job)) == sorted(people * 8)
        assert list(library.verify()) == []


def test_a_library_that_is_held_for_long_is_told_not_waited_for_ever(folder: Path, recording: Path) -> None:
    with Library.open(folder, wait_s=0.1) as library:
        job, _ = file_and_save(library, recording)
        with closing(sqlite3.connect(folder / NAME)) as holder:
            holder.execute("BEGIN IMMEDIATE")
            with pytest.raises(JobnotesError, match="another program is writing"):
                library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
            assert library.record(job) is not None  # reading goes on
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))


def _killed_at(step: int, act: Callable[[Library], object], folder: Path) -> int:
    """Run `act` on the library in a child that is killed at the `step`th statement of SQL."""

    def run() -> None:
        left = step

        def count(_: str) -> None:
            nonlocal left
            left -= 1
            if left == 0:
                kill_self()

        with Library.open(folder) as library:
            library._db.conn.set_trace_callback(count)
            act(library)
            library._db.conn.set_trace_callback(None)

    return in_child(run)


def test_a_kill_at_any_statement_leaves_the_old_record_or_the_new_one(folder: Path, recording: Path) -> None:
    with Library.open(folder) as library:
        job, old = file_and_save(library, recording)
    new = replace(old, facts=(fact(quote="an earth strap was loose"),))
    texts = {record_json.dumps(old), record_json.dumps(new)}
    step, ended = 0, -signal.SIGKILL
    while ended:
        step += 1
        ended = _killed_at(step, lambda library: library.save(new, job), folder)
        with Library.open(folder) as library:
            stored = library.record(job)
            assert stored is not None
            assert stored.text in texts
            # facts and search are of the same record
            assert bool(library.search("earth strap")) == (stored.text == record_json.dumps(new))
            assert bool(library.search("lift pump")) == (stored.text == record_json.dumps(old))
            assert list(library.verify()) == []
            library.save(old, job)
    assert step > 4


def test_a_confirmed_decision_outlasts_a_kill(folder: Path, recording: Path) -> None:
    with Library.open(folder) as library:
        job, _ = file_and_save(library, recording)

    def decide_and_die() -> None:
        library = Library.open(folder)
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
        kill_self()

    assert in_child(decide_and_die) == -signal.SIGKILL
    with Library.open(folder) as library:
        assert [d.who for d in library.decisions(job)] == ["Ann"]


def test_a_full_disk_leaves_the_record_before(folder: Path, recording: Path) -> None:
    with Library.open(folder) as library:
        job, record = file_and_save(library, recording)
        before = library.record(job)

    def save_with_little_room() -> None:
        size = (folder / NAME).stat().st_size
        with Library.open(folder) as library:
            resource.setrlimit(resource.RLIMIT_FSIZE, (size + 100_000, size + 100_000))
            big = replace(record, facts=(fact(quote="ohm " * 100_000),))
            with pytest.raises(JobnotesError, match=r"disk"):
                library.save(big, job)

    assert in_child(save_with_little_room) == 0
    with Library.open(folder) as library:
        assert library.record(job) == before
        assert list(library.verify()) == []


# --- folders that can't be one -------------------------------------------------------------------


def test_a_file_in_place_of_the_folder_is_refused(folder: Path) -> None:
    folder.write_text("a file")
    with pytest.raises(JobnotesError, match="--library") as caught:
        Library.open(folder)
    assert "\n" not in str(caught.value)
    assert folder.read_text() == "a file"


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs a file system that takes no files")
def test_a_file_system_that_takes_no_files_is_refused() -> None:
    with pytest.raises(JobnotesError, match="--library"):
        Library.open(Path("/proc/self/library"))


@pytest.mark.parametrize("locked", ["an empty folder", "a library", "only its database"])
def test_a_place_without_leave_to_write_is_refused(recording: Path, locked: str) -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o777)
        if locked != "an empty folder":
            with Library.open(folder) as library:
                library.keep(recording, "recording")
        if locked == "only its database":
            (folder / NAME).chmod(0o444)
        else:
            folder.chmod(0o555)

        def open_it() -> None:
            if os.geteuid() == 0:
                os.setuid(NOBODY)
            with pytest.raises(JobnotesError, match="--library"):
                Library.open(folder)

        ended = in_child(open_it)
        folder.chmod(0o755)
        assert ended == 0


def test_a_folder_that_serves_another_purpose_is_left_alone(folder: Path) -> None:
    make_recording(folder / "note.wav")
    with pytest.raises(JobnotesError, match="not empty"):
        Library.open(folder)
    assert [p.name for p in folder.iterdir()] == ["note.wav"]


def test_originals_without_their_database_are_not_taken_for_a_new_library(
    folder: Path, recording: Path
) -> None:
    with Library.open(folder) as library:
        library.keep(recording, "recording")
    (folder / NAME).unlink()
    with pytest.raises(JobnotesError, match="missing"):
        Library.open(folder)
    assert not (folder / NAME).exists()


def test_no_library_is_made_where_one_should_be(folder: Path) -> None:
    with pytest.raises(JobnotesError, match="no library"):
        Library.open(folder, create=False)
    assert not folder.exists()


@pytest.mark.parametrize("content", [b"not a database at all, only some text" * 50, b"\0" * 4096])
def test_a_file_that_is_no_database_is_refused_and_left_as_it_is(folder: Path, content: bytes) -> None:
    folder.mkdir()
    (folder / NAME).write_bytes(content)
    with pytest.raises(JobnotesError):
        Library.open(folder)
    assert (folder / NAME).read_bytes() == content


def test_another_programs_database_is_refused_and_left_as_it_is(folder: Path) -> None:
    folder.mkdir()
    with closing(sqlite3.connect(folder / NAME)) as db:
        db.execute("CREATE TABLE orders (id)")
        db.commit()
    before = (folder / NAME).read_bytes()
    with pytest.raises(JobnotesError, match="not a library"):
        Library.open(folder)
    assert (folder / NAME).read_bytes() == before


def test_a_damaged_database_is_told_with_a_remedy(folder: Path, recording: Path) -> None:
    with Library.open(folder) as library:
        job, _ = file_and_save(library, recording)
    data = bytearray((folder / NAME).read_bytes())
    data[4096 : len(data) // 2] = b"\xff" * (len(data) // 2 - 4096)
    (folder / NAME).write_bytes(data)
    with pytest.raises(JobnotesError, match="damaged"), Library.open(folder) as library:
        library.record(job)


def test_a_new_library_can_be_opened_at_once_by_the_standard_tools(library: Library, folder: Path) -> None:
    # SQLite, "Database File Format", section 1.3: the header string, the write version (2 is WAL) and
    # the application id lie at offsets 0, 18 and 68
    header = (folder / NAME).read_bytes()[:100]
    assert header[:16] == b"SQLite format 3\0"
    assert header[18:20] == b"\x02\x02"
    assert header[68:72] == b"JOBN"

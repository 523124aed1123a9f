"""A customer's data can be deleted, and what stays still holds."""

from __future__ import annotations

import json
import signal
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from library_jobs import AT, FACTS, STAMP, WORDS, fact, file_and_save, in_child, kill_self, make_recording

from jobnotes import record_json
from jobnotes.commands.delete import delete
from jobnotes.commands.verify import verify
from jobnotes.errors import JobnotesError
from jobnotes.library import deletion
from jobnotes.library.decisions import Decision
from jobnotes.library.library import GivenFile, Library
from jobnotes.library.media import MediaStore
from jobnotes.library.stated import StatedEntry
from jobnotes.record import Word
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import ServeJob, Store

CUSTOMER = "Zyglanthe Coachlines"
SAID = "the quixotic throttle bracket whispered"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return tmp_path / "library"


@pytest.fixture
def jobs(folder: Path, tmp_path: Path, photo: Path) -> tuple[str, str]:
    """A customer's job, which is told from others by words that occur nowhere else; and another's."""
    with Library.open(folder) as library:
        other, _ = file_and_save(library, make_recording(tmp_path / "given" / "other.wav", 5), photo)
        mine, record = file_and_save(
            library, make_recording(tmp_path / "given" / f"{CUSTOMER}.wav", 6), photo
        )
        said = tuple(Word(text, 0.1, 0.2, 0.9) for text in SAID.split())
        library.keep_heard_piece(record.notes[0].sha256, STAMP, "0-9", said)
        library.store_heard(record.notes[0].sha256, STAMP, WORDS, 1.5)
        library.save(
            replace(
                record,
                job=replace(record.job, customer=CUSTOMER),
                facts=(fact(quote=SAID), *FACTS[1:]),
            ),
            mine,
        )
        library.decide(mine, Decision("F1", "Ann", AT, "edited", FACTS[0], fact(quote=SAID)))
        library.decide(mine, Decision("F1", "Ann", AT, "undone", undoes=1))
        library.state(mine, [StatedEntry("customer.name", "Bea", AT, None, CUSTOMER)])
        added = library.keep(make_recording(tmp_path / "given" / "added.wav", 8), "recording")
        library.add_to_job(mine, [GivenFile(added.sha256, "added.wav")], [], "Cy")
        library.keep_heard_piece(added.sha256, STAMP, "0-9", said)
        saved = library.record(mine)
        assert saved is not None
        library.documents_drawn(mine, saved.sha256, {"claim.docx": "cd" * 32})
    return mine, other


def told(folder: Path, *args: object) -> Result:
    return CliRunner().invoke(delete, ["--library", str(folder), "--by", "Dee", *map(str, args)])


def bytes_in(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def test_nothing_of_the_customer_is_left_on_the_disk(folder: Path, jobs: tuple[str, str]) -> None:
    mine, _ = jobs
    for said in (CUSTOMER, "quixotic", "whispered"):
        assert said.encode() in bytes_in(folder)
    result = told(folder, mine, "--yes")
    assert result.exit_code == 0, result.output
    for said in (CUSTOMER, "quixotic", "whispered"):
        assert said.encode() not in bytes_in(folder), said
    with Library.open(folder) as library:
        assert library.originals(mine) == library.decisions(mine) == library.stated(mine) == ()
        assert library.record(mine) is None
        assert library.search("quixotic") == ()


def test_nothing_of_an_earlier_record_is_left_either(folder: Path, jobs: tuple[str, str]) -> None:
    mine, _ = jobs
    with Library.open(folder) as library:
        library._db.execute("PRAGMA secure_delete = OFF")  # as SQLite is built on some systems
        stored = library.record(mine)
        assert stored is not None
        record = record_json.from_json(json.loads(stored.text))
        # as long as a record is, and then replaced by a short one: its pages are free, and not overwritten
        long = tuple(fact(f"F{n}", quote=f"xylophonic {SAID} {n}") for n in range(400))
        library.save(replace(record, facts=long), mine)
        library.save(record, mine)
    assert b"xylophonic" in bytes_in(folder)
    assert told(folder, mine, "--yes").exit_code == 0
    assert b"xylophonic" not in bytes_in(folder)


def test_another_job_keeps_all_that_it_has(folder: Path, jobs: tuple[str, str]) -> None:
    mine, other = jobs
    with Library.open(folder) as library:
        before = library.originals(other), library.record(other), library.search("battery")
    told(folder, mine, "--yes")
    with Library.open(folder) as library:
        after = library.originals(other), library.record(other), library.search("battery")
        # the photo too that both had
        assert all(library.media.fits(given.sha256) for given in library.originals(other))
    assert after[:2] == before[:2]
    assert {hit.job for hit in after[2]} == {other}


def test_verify_says_deleted_and_by_whom_and_the_rest_fits(folder: Path, jobs: tuple[str, str]) -> None:
    mine, _ = jobs
    with Library.open(folder) as library:
        gone = [given.sha256 for given in library.originals(mine)]
    told(folder, mine, "--yes")
    result = CliRunner().invoke(verify, ["--library", str(folder)])
    assert (result.exit_code, result.stderr) == (0, "")
    assert f"job {mine} was deleted on " in result.stdout
    assert "by Dee" in result.stdout
    with Library.open(folder) as library:
        misfits = [m.reason for m in library.verify(gone[:1])]
        tombstone = library.deletion_of(mine)
        assert tombstone is not None
        # the photo belongs to another job too
        assert len(tombstone.said["originals"]) == 2
    assert len(misfits) == 1
    assert misfits[0].startswith("was deleted on ")


def test_a_folder_of_a_deleted_job_says_so(folder: Path, jobs: tuple[str, str], tmp_path: Path) -> None:
    mine, _ = jobs
    with Library.open(folder) as library:
        saved = library.record(mine)
    assert saved is not None
    (tmp_path / "out").mkdir()
    record_json.write_text(tmp_path / "out" / "record.json", saved.text)
    told(folder, mine, "--yes")
    for more in ([], ["--everything"]):
        args = ["--out", str(tmp_path / "out"), "--library", str(folder), "--json", *more]
        result = CliRunner().invoke(verify, args)
        assert result.exit_code == 1
        reasons = [m["reason"] for m in json.loads(result.stdout)["misfits"]]
        assert f"its job {mine} was deleted on" in reasons[0]
        assert len(reasons) > 1
        assert all("was deleted on" in reason and "by Dee" in reason for reason in reasons)


def test_a_deleted_job_takes_nothing_more(folder: Path, jobs: tuple[str, str]) -> None:
    mine, _ = jobs
    told(folder, mine, "--yes")
    with Library.open(folder) as library:
        for act in (
            lambda: library.decide(mine, Decision("F1", "Ann", AT, "accepted", FACTS[0])),
            lambda: library.state(mine, [StatedEntry("customer.name", "Bea", AT, None, "x")]),
        ):
            with pytest.raises(JobnotesError, match="was deleted on"):
                act()
        assert library.verify_journal() == ()


def test_the_same_recordings_given_again_are_a_new_job(
    folder: Path, jobs: tuple[str, str], tmp_path: Path
) -> None:
    mine, _ = jobs
    told(folder, mine, "--yes")
    with Library.open(folder) as library:
        again, _ = file_and_save(library, make_recording(tmp_path / "given" / "again.wav", 6))
        assert again != mine
        assert list(library.verify()) == []
        assert library.verify_journal() == ()


def test_all_jobs_of_a_customer_are_deleted_by_name(folder: Path, jobs: tuple[str, str]) -> None:
    result = told(folder, "--customer", CUSTOMER.upper(), "--yes", "--json")
    assert [d["job"] for d in json.loads(result.stdout)["deleted"]] == [jobs[0]]


@pytest.mark.parametrize(
    ("args", "said"),
    [
        (["9999", "--yes"], "9999"),
        (["--customer", "Nobody", "--yes"], "Nobody"),
        ([], "no job"),
        (["4711"], "--yes"),  # nobody is there to be asked
    ],
)
def test_what_can_not_be_deleted_is_told_in_one_line_and_deletes_nothing(
    folder: Path, jobs: tuple[str, str], args: list[str], said: str
) -> None:
    result = told(folder, *args)
    assert result.exit_code == 2
    assert said in result.stderr.splitlines()[-1]
    assert result.stdout == ""
    with Library.open(folder) as library:
        assert library.deletions() == ()


@pytest.mark.parametrize("step", ["before the files", "between two files"])
def test_a_deletion_that_is_killed_is_finished_when_the_library_is_opened(
    folder: Path, jobs: tuple[str, str], monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    mine, _ = jobs
    remove = MediaStore.remove

    def killed(store: MediaStore, sha256: str) -> None:
        if step == "between two files":
            remove(store, sha256)
        kill_self()

    def act() -> None:
        monkeypatch.setattr(MediaStore, "remove", killed)
        with Library.open(folder) as library:
            library.delete_job(mine, "Dee")

    assert in_child(act) == -signal.SIGKILL
    with Library.open(folder) as library:
        assert library.deletion_of(mine) is not None
        gone = library.deletion_of(mine).said["originals"]  # type: ignore[union-attr]
        assert not any(library.media.has(sha256) for sha256 in gone)
        assert list(library.verify()) == []


def test_an_original_kept_while_its_deletion_is_carried_out_is_not_lost(
    folder: Path, jobs: tuple[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    mine, _ = jobs
    given = make_recording(tmp_path / "given" / "again.wav", 6)
    keep, tries = MediaStore.keep, []

    def slowly(store: MediaStore, path: Path) -> str:
        sha256 = keep(store, path)
        if not tries:  # another process deletes between the copy and its row
            tries.append(sha256)
            with Library.open(folder) as other:
                other.delete_job(mine, "Dee")
        return sha256

    monkeypatch.setattr(MediaStore, "keep", slowly)
    with Library.open(folder) as library:
        kept = library.keep(given, "recording")
        assert library.media.fits(kept.sha256)
        assert library.verify_journal() == ()


def test_what_belongs_to_no_job_is_deleted_when_it_is_a_day_old(
    folder: Path, jobs: tuple[str, str], tmp_path: Path
) -> None:
    with Library.open(folder) as library:
        library.keep(make_recording(tmp_path / "given" / "damaged.wav", 11), "recording")
        assert told(folder, "--unfiled", "--yes").exit_code == 0
        assert library.deletions() == ()
        done = library.delete_unfiled("Dee", datetime.now(UTC) + timedelta(seconds=1))
        assert len(done.originals) == 1
        assert list(library.verify()) == []
        assert library.verify_journal() == ()


def test_what_phones_sent_for_it_goes_too(folder: Path, jobs: tuple[str, str]) -> None:
    mine, _ = jobs
    settings = Settings(folder)
    store = Store(settings.database)
    with Library.open(folder) as library:
        store.open_job(ServeJob("a1b2", None, CUSTOMER, None, 0.0, "desk"), [])
        store.in_library("a1b2", mine)
        store.concluded(
            "a1b2", library.job_in_short(mine), record_json.from_json(json.loads(library.record(mine).text))
        )  # type: ignore[union-attr]
    settings.given("a1b2").mkdir(parents=True)
    (settings.given("a1b2") / "note.wav").write_bytes(SAID.encode())
    store.close()
    assert told(folder, mine, "--yes").exit_code == 0
    assert CUSTOMER.encode() not in bytes_in(folder)
    assert SAID.encode() not in bytes_in(folder)
    store = Store(settings.database)
    assert store.jobs() == ()
    store.close()


def test_copies_that_upgrades_left_are_told_of_and_deleted_on_request(
    folder: Path, jobs: tuple[str, str]
) -> None:
    copy = folder / "backups" / "jobnotes-20310101T000000Z-before-0009.db"
    copy.parent.mkdir()
    copy.write_bytes(CUSTOMER.encode())
    result = told(folder, jobs[0], "--yes")
    assert str(copy.parent) in result.stderr
    assert copy.exists()
    told(folder, jobs[0], "--yes", "--with-backups")
    assert not copy.exists()


def test_the_words_for_it_name_the_day_and_the_person(folder: Path, jobs: tuple[str, str]) -> None:
    told(folder, jobs[0], "--yes")
    with Library.open(folder) as library:
        entry = library.deletion_of(jobs[0])
        assert entry is not None
        assert deletion.told(entry) == f"was deleted on {entry.at.date().isoformat()} by Dee"

"""Every step that ever led to the schema is a library that somebody may still have."""

from __future__ import annotations

import multiprocessing
import signal
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from library_jobs import AT, FACTS, STAMP, WORDS, file_and_save, in_child, kill_self
from sqlite_utils import Database, Migrations

from jobnotes.errors import JobnotesError
from jobnotes.library.database import APPLICATION_ID, BACKUPS, NAME, open_database
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.library.migrations import MIGRATIONS

Step = Callable[[Database], None]
STEPS = [step.name for step in MIGRATIONS.pending(Database(memory=True))]


def as_left_before(folder: Path, step: str) -> None:
    """A library as the version before `step` left it, with a row in every table that it had."""
    folder.mkdir()
    with closing(Database(folder / NAME)) as db:
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        MIGRATIONS.apply(db, stop_before=step)
        db.enable_wal()
        have = set(db.table_names())
        job, digest, at = "J1", "ab" * 32, AT.isoformat()
        db.table("originals").insert(
            {"sha256": digest, "kind": "recording", "bytes": 1, "file": "a.wav", "kept_at": at}
        )
        db.table("jobs").insert({"id": job, "opened_at": at})
        db.table("job_originals").insert(
            {"job": job, "original": digest, "kind": "recording", "file": "a.wav", "position": 0}
        )
        if "heard" in have:
            db.table("heard").insert(
                {
                    "original": digest,
                    "engine": STAMP.engine,
                    "model": STAMP.model,
                    "model_sha256": STAMP.sha256,
                    "words": '[{"text":"battery","start_s":0.1,"end_s":0.42,"confidence":0.98}]',
                    "text": "battery",
                    "duration_s": 1.5,
                    "made_at": at,
                }
            )
            row = {"job": job, "fact": "F1", "kind": "cause", "status": "sure", "json": "{}"}
            db.table("facts").insert({**row, "quote": "seal was leaking", "text": "leaking"})
        if "decisions" in have:
            row = {"job": job, "fact": "F1", "who": "Ann", "at": at, "action": "accepted"}
            fact = '{"id":"F1","kind":"cause","text":"leaking","quote":"x","confidence":1,"status":"sure"}'
            db.table("decisions").insert({**row, "before": fact})


def tables(path: Path) -> dict[str, list[tuple[object, ...]]]:
    """Everything in a database, by table."""
    with closing(sqlite3.connect(path)) as db:
        names = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")]
        return {name: db.execute(f'SELECT * FROM "{name}"').fetchall() for name in names}


@pytest.mark.parametrize("step", STEPS[1:])
def test_a_library_of_an_earlier_schema_opens_with_all_it_had(tmp_path: Path, step: str) -> None:
    folder = tmp_path / "library"
    as_left_before(folder, step)
    had = tables(folder / NAME)
    with Library.open(folder) as library:
        assert library.job_of("ab" * 32) == "J1"
        if "heard" in had:
            assert library.heard("ab" * 32, STAMP) == WORDS[:1]
            # facts from before there was a search are found by it
            assert [h.fact_id for h in library.search("leaks")] == ["F1"]
        if "decisions" in had:
            assert [d.who for d in library.decisions("J1")] == ["Ann"]
    # and the copy that was made first is the library as it was
    (backup,) = (folder / BACKUPS).iterdir()
    assert step in backup.name
    assert tables(backup) == had


def test_a_backup_can_be_put_back(tmp_path: Path) -> None:
    folder = tmp_path / "library"
    as_left_before(folder, STEPS[-1])
    Library.open(folder).close()
    (backup,) = (folder / BACKUPS).iterdir()
    backup.replace(folder / NAME)
    with Library.open(folder) as library:
        assert [d.who for d in library.decisions("J1")] == ["Ann"]


def test_a_current_library_is_not_backed_up_each_time(tmp_path: Path) -> None:
    for _ in range(2):
        Library.open(tmp_path / "library").close()
    assert not (tmp_path / "library" / BACKUPS).exists()


def with_later(*steps: Step) -> Migrations:
    """The migrations of a later version, which has `steps` besides."""
    later = Migrations("jobnotes")
    for old in MIGRATIONS.pending(Database(memory=True)):
        later(name=old.name)(old.fn)
    for number, step in enumerate(steps):
        later(name=f"9{number:03}_later")(step)
    return later


@pytest.fixture
def kept(tmp_path: Path, recording: Path) -> tuple[Path, str]:
    """A library with a job and a decision in it: its folder, the job."""
    with Library.open(tmp_path / "library") as library:
        job, _ = file_and_save(library, recording)
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
    return tmp_path / "library", job


def _adds_a_table(db: Database) -> None:
    db.execute("CREATE TABLE IF NOT EXISTS later (id)")
    db.execute("UPDATE records SET json = 'changed'")


def _is_killed(db: Database) -> None:
    _adds_a_table(db)
    kill_self()


def _fails(db: Database) -> None:
    _adds_a_table(db)
    raise RuntimeError


def _breaks_a_reference(db: Database) -> None:
    db.execute("DELETE FROM jobs")


def test_a_newer_library_is_refused_and_left_as_it_is(kept: tuple[Path, str]) -> None:
    folder, _ = kept
    open_database(folder, migrations=with_later(_adds_a_table)).close()
    before = (folder / NAME).read_bytes()
    with pytest.raises(JobnotesError, match="newer version"):
        Library.open(folder)
    assert (folder / NAME).read_bytes() == before


def test_a_migration_killed_in_the_middle_rolls_back(kept: tuple[Path, str]) -> None:
    folder, job = kept
    before = tables(folder / NAME)
    later = with_later(_adds_a_table, _is_killed)
    assert in_child(lambda: open_database(folder, migrations=later)) == -signal.SIGKILL
    with Library.open(folder) as library:
        assert [d.who for d in library.decisions(job)] == ["Ann"]
        assert list(library.verify()) == []
    assert tables(folder / NAME) == before


@pytest.mark.parametrize(("step", "error"), [(_fails, RuntimeError), (_breaks_a_reference, JobnotesError)])
def test_a_migration_that_fails_rolls_back(
    kept: tuple[Path, str], step: Step, error: type[Exception]
) -> None:
    folder, _ = kept
    before = tables(folder / NAME)
    with pytest.raises(error):
        open_database(folder, migrations=with_later(_adds_a_table, step))
    assert tables(folder / NAME) == before


def test_processes_that_find_an_older_library_at_once_migrate_it_once(tmp_path: Path) -> None:
    folder = tmp_path / "library"
    as_left_before(folder, STEPS[-1])
    fork = multiprocessing.get_context("fork")
    workers = [fork.Process(target=lambda: Library.open(folder).close(), daemon=True) for _ in range(6)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert [w.exitcode for w in workers] == [0] * 6
    assert len(list((folder / BACKUPS).iterdir())) == 1

"""Libraries that earlier versions really left (tests/library/earlier) open with all they had."""

from __future__ import annotations

import signal
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from library_jobs import in_child, kill_self
from sqlite_utils import Database, Migrations

from jobnotes.library import database
from jobnotes.library.database import BACKUPS, NAME, open_database
from jobnotes.library.library import Library
from jobnotes.library.media import MediaStore
from jobnotes.library.migrations import MIGRATIONS
from jobnotes.record import Measurement

sys.path.insert(0, str(Path(__file__).parent / "earlier"))
from make import AT, STAMP, WORDS, recording

EARLIER = sorted((Path(__file__).parent / "earlier").glob("*.sql"))
STEPS = [step.name for step in MIGRATIONS.pending(Database(memory=True))]

pytestmark = pytest.mark.parametrize("earlier", EARLIER, ids=lambda path: path.stem)


@pytest.fixture
def folder(tmp_path: Path, earlier: Path) -> Path:
    """The library as that version left it."""
    folder = tmp_path / "library"
    folder.mkdir()
    with closing(sqlite3.connect(folder / NAME)) as db:
        db.executescript(earlier.read_text("utf-8"))
        db.execute("PRAGMA journal_mode = WAL")
        kept = {row[0] for row in db.execute("SELECT sha256 FROM originals")}
    store = MediaStore(folder / "media")
    for level in range(1, len(kept) + 1):
        assert store.keep(recording(tmp_path / f"{level}.wav", level)) in kept
    return folder


def tables(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with closing(sqlite3.connect(path)) as db:
        names = [r[0] for r in db.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY 1")]
        return {name: db.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall() for name in names}


def test_it_opens_with_all_it_had_after_a_copy_was_made(folder: Path, earlier: Path) -> None:
    had = tables(folder / NAME)
    with Library.open(folder) as library:
        (hit,) = library.search("battery")
        job = hit.job
        (first,) = [given.sha256 for given in library.originals(job) if given.file == "one.wav"]
        assert library.heard(first, STAMP) == WORDS
        stored = library.record(job)
        assert stored is not None
        assert stored.text.encode() == str(had["records"][0][1]).encode()
        edit, undone = library.decisions(job)
        assert (edit.who, edit.at, edit.action, undone.undoes) == ("Ann", AT, "edited", edit.id)
        assert edit.after is not None
        assert isinstance(edit.after.detail, Measurement)
        assert edit.after.detail.value == Decimal("12.4")
        if "stated" in had:
            (said,) = library.stated(job)
            assert (said.key, said.who, said.after) == ("customer.name", "Bea", "Quayside Buses")
            assert len(library.added(job)) == 1
        if "seen" in had:
            assert library.seen(first, STAMP) is not None
        assert list(library.verify()) == []
    (copy,) = (folder / BACKUPS).iterdir()
    assert STEPS[STEPS.index(earlier.stem) + 1] in copy.name
    assert tables(copy) == had


def test_all_that_it_had_is_carried_over_into_the_journal(folder: Path, earlier: Path) -> None:
    had = tables(folder / NAME)
    with Library.open(folder) as library:
        entries = library.journal_entries()
        assert library.verify_journal() == ()
    if "journal" in had:
        assert [entry.number for entry in entries] == [row[0] for row in had["journal"]]
        return
    assert all(entry.said["carried_over"] is True for entry in entries)
    by_kind = {kind: sum(entry.kind == kind for entry in entries) for kind in {e.kind for e in entries}}
    tables_of = {
        "original": "originals", "filed": "job_originals", "added": "additions", "decision": "decisions",
        "statement": "stated", "record": "records",
    }  # fmt: skip
    assert by_kind == {kind: len(had[table]) for kind, table in tables_of.items() if had.get(table)}


def failing_after(step: str) -> Migrations:
    """The migrations, of which that one fails when it has done all it does."""

    def failing(do: Callable[[Database], None]) -> Callable[[Database], None]:
        def done(db: Database) -> None:
            do(db)
            raise RuntimeError(step)

        return done

    made = Migrations("jobnotes")
    for known in MIGRATIONS.pending(Database(memory=True)):
        made(name=known.name)(failing(known.fn) if known.name == step else known.fn)
    return made


def test_a_step_that_fails_leaves_it_as_it_was(folder: Path, earlier: Path) -> None:
    had = tables(folder / NAME)
    pending = STEPS[STEPS.index(earlier.stem) + 1 :]
    assert pending
    for step in pending:
        with pytest.raises(RuntimeError, match=step):
            open_database(folder, migrations=failing_after(step))
        assert tables(folder / NAME) == had
    with Library.open(folder) as library:
        assert list(library.verify()) == []


def _watched(at: Callable[[int], None]) -> Any:
    """sqlite3.connect, of whose connections `at` is told each statement's number."""
    connect, count = sqlite3.connect, [0]

    def made(*args: Any, **rest: Any) -> sqlite3.Connection:
        connection = connect(*args, **rest)

        def told(_: str) -> None:
            count[0] += 1
            at(count[0])

        connection.set_trace_callback(told)
        return connection

    return made


def test_a_kill_anywhere_in_the_upgrade_leaves_it_as_it_was_or_done(
    folder: Path, earlier: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    had = tables(folder / NAME)
    log = tmp_path / "statements"

    def counted() -> None:
        monkeypatch.setattr(database.sqlite3, "connect", _watched(lambda n: log.write_text(str(n)) and None))
        open_database(folder).close()

    def killed_at(number: int) -> Callable[[], None]:
        def act() -> None:
            watched = _watched(lambda n: kill_self() if n == number else None)
            monkeypatch.setattr(database.sqlite3, "connect", watched)
            open_database(folder).close()

        return act

    # the copy shows how many statements there are, in a library of its own
    whole = tmp_path / "whole"
    whole.mkdir()
    (folder / NAME).replace(whole / NAME)
    here, folder = folder, whole
    assert in_child(counted) == 0
    total = int(log.read_text())
    assert total > 20
    folder = here
    with (
        closing(sqlite3.connect(next((whole / BACKUPS).iterdir()))) as copy,
        closing(sqlite3.connect(folder / NAME)) as again,
    ):
        copy.backup(again)
    done = 0
    for number in range(1, total + 1, max(1, total // 12)):
        assert in_child(killed_at(number)) == -signal.SIGKILL
        now = tables(folder / NAME)
        done += now != had
        assert now == had or "journal" in now
    assert done <= 1  # after the commit only
    with Library.open(folder) as library:
        assert list(library.verify()) == []
        assert library.verify_journal() == ()
        assert len(library.decisions(library.search("battery")[0].job)) == 2

"""The library's SQLite file: opened, brought up to date, and never left half-way.

Opening tells apart a new file, a library of this version, an older one (backed up, then migrated in one
transaction) and what must not be touched: a newer library, or something that is no library at all.
"""

from __future__ import annotations

import contextlib
import os
import sqlite3
import tempfile
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from sqlite_utils import Database, Migrations

from jobnotes.durable import make_folder
from jobnotes.errors import JobnotesError
from jobnotes.library import rights
from jobnotes.library.migrations import MIGRATIONS

NAME = "jobnotes.db"
BACKUPS = "backups"
APPLICATION_ID = 0x4A4F424E  # "JOBN", in the file's header, where file(1) and SQLite look for it
WAIT_S = 20.0
"""How long one process waits for another's write, in seconds."""


def open_database(
    folder: Path, *, create: bool = True, migrations: Migrations = MIGRATIONS, wait_s: float = WAIT_S
) -> Database:
    """The database of the library in `folder`, up to date, ready to write.

    `create` makes it where there is none. Raises JobnotesError if it can't be written, is no library, was
    made by a newer version, or another program holds it for longer than `wait_s` seconds.
    """
    path = folder / NAME
    with told_plainly(path):
        if not path.exists():
            _check_free(folder, create)
            make_folder(folder)
            rights.give(folder, rights.OWN)
            _make_private(path)
        connection = sqlite3.connect(path, timeout=wait_s)
        try:
            # plugins that happen to be installed beside sqlite-utils have no business here
            db = Database(connection, execute_plugins=False)
            _check_ours(db, path, migrations)
            if not _is_current(db, migrations):
                _migrate(db, path, migrations)
            _use_wal(db, wait_s)
            db.execute("PRAGMA foreign_keys = ON")
            if not os.access(path, os.W_OK):
                # SQLite opens what it may only read without a word; better to hear of it now
                raise JobnotesError(str(path), "can't be written", _ELSEWHERE)
            # a decision that was confirmed must outlast a power cut
            db.execute("PRAGMA synchronous = FULL")
        except BaseException:
            connection.close()
            raise
    return db


@contextlib.contextmanager
def writing(db: Database) -> Iterator[None]:
    """One transaction that has the right to write from its first statement.

    A transaction that reads first and writes later would fail, not wait, when another process has written
    in between.
    """
    db.execute("BEGIN IMMEDIATE")
    try:
        yield
    except BaseException:
        db.rollback()
        raise
    db.commit()


@contextlib.contextmanager
def told_plainly(path: Path) -> Iterator[None]:
    """What SQLite or the file system reports about `path`, as a JobnotesError with a remedy.

    Errors of the program itself (a constraint, bad SQL) pass through as they are.
    """
    try:
        yield
    except sqlite3.IntegrityError:
        raise
    except sqlite3.DatabaseError as error:
        said = _SAID.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
        if said is None:
            raise
        raise JobnotesError(str(path), *said) from error
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise JobnotesError(str(path.parent), f"can't be used as a library ({reason})", _ELSEWHERE) from error


_ELSEWHERE = "choose a folder that can be written with --library"
_NO_LIBRARY = "name an empty or a new folder with --library"
_DAMAGED = ("the database is damaged", f"put back the latest copy from {BACKUPS} or from your own backup")
_SAID: dict[int, tuple[str, str]] = {
    sqlite3.SQLITE_BUSY: ("another program is writing to it", "try again when that has finished"),
    sqlite3.SQLITE_LOCKED: ("another program is writing to it", "try again when that has finished"),
    sqlite3.SQLITE_READONLY: ("can't be written", _ELSEWHERE),
    sqlite3.SQLITE_PERM: ("can't be written", _ELSEWHERE),
    sqlite3.SQLITE_CANTOPEN: ("can't be opened for writing", _ELSEWHERE),
    sqlite3.SQLITE_FULL: ("the disk is full", "make room, then run it again"),
    sqlite3.SQLITE_IOERR: ("the disk reports an error", "check the disk, then run it again"),
    sqlite3.SQLITE_NOTADB: ("not a library of jobnotes", _NO_LIBRARY),
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
}


def _check_free(folder: Path, create: bool) -> None:
    """Refuse a folder that already serves another purpose, or whose database has gone."""
    if not create:
        raise JobnotesError(str(folder), "there is no library", "name the library's folder with --library")
    if not folder.exists():
        return
    there = {entry.name for entry in folder.iterdir() if not entry.name.startswith(".")}
    if NAME in there:
        return  # another process has made it since
    if {"media", BACKUPS} & there:
        # a new database beside old originals would look like a library in which nobody decided anything
        raise JobnotesError(
            str(folder), f"holds originals, but its database {NAME} is missing", f"put it back, see {BACKUPS}"
        )
    if there:
        raise JobnotesError(str(folder), "not a library of jobnotes, and not empty", _NO_LIBRARY)


def _make_private(path: Path) -> None:
    """An empty file that is its owner's alone: SQLite takes its rights for the companions too."""
    with contextlib.suppress(FileExistsError):  # another process has made it since
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))


def _check_ours(db: Database, path: Path, migrations: Migrations) -> None:
    with db.atomic():  # one view of it, whatever another process makes of it meanwhile
        application_id = db.execute("PRAGMA application_id").fetchone()[0]
        is_new = application_id == 0 and not db.table_names()
        applied = {m.name for m in migrations.applied(db)}
    if is_new:
        return
    if application_id != APPLICATION_ID:
        raise JobnotesError(str(path), "not a library of jobnotes", _NO_LIBRARY)
    newer = applied - {m.name for m in migrations.pending(Database(memory=True, execute_plugins=False))}
    if newer:
        raise JobnotesError(
            str(path),
            f"made by a newer version of jobnotes (it has {min(newer)})",
            "install that version; this one leaves the library as it is",
        )


def _is_current(db: Database, migrations: Migrations) -> bool:
    return not migrations.pending(db)


def _migrate(db: Database, path: Path, migrations: Migrations) -> None:
    # a step may rebuild a table that others refer to; the references are checked before it counts
    db.execute("PRAGMA foreign_keys = OFF")
    with writing(db):
        # another process may have come first while this one waited
        if _is_current(db, migrations):
            return
        if migrations.applied(db):
            _back_up(path, migrations.pending(db)[0].name)
        db.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        migrations.apply(db)
        broken = db.execute("PRAGMA foreign_key_check").fetchall()
        if broken:
            raise JobnotesError(
                str(path), f"a row of {broken[0][0]} refers to nothing", "the library was left as it was"
            )


def copy_whole(path: Path, to: Path) -> bool:
    """Copy the database as it is at one moment, whoever uses it, into one file; False if it is damaged."""
    with contextlib.closing(sqlite3.connect(to)) as copy:
        with contextlib.closing(sqlite3.connect(path)) as original:
            original.backup(copy)
        # a copy in WAL mode would need its two companions to be whole
        copy.execute("PRAGMA journal_mode = DELETE")
        return bool(copy.execute("PRAGMA integrity_check(1)").fetchone()[0] == "ok")


def _back_up(path: Path, before: str) -> Path:
    """A checked copy of the database as it is; the name says when, and before which step."""
    folder = path.parent / BACKUPS
    rights.make_folder(folder, path.parent)
    handle, half = tempfile.mkstemp(dir=folder, prefix=".half-")
    os.close(handle)
    try:
        if not copy_whole(path, Path(half)):
            raise JobnotesError(str(path), *_DAMAGED)
        stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%fZ")
        target = folder / f"{path.stem}-{stamp}-before-{before}.db"
        rights.give(Path(half), rights.of_file(path.parent))
        os.replace(half, target)
    except BaseException:
        Path(half).unlink(missing_ok=True)
        raise
    return target


def _use_wal(db: Database, wait_s: float) -> None:
    """Readers and a writer side by side. The switch itself doesn't wait for others, so try again."""
    until = time.monotonic() + wait_s
    while True:
        try:
            db.enable_wal()
            return
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                raise
            time.sleep(0.02)

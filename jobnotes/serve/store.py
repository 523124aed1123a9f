"""serve.db: devices, pairing codes, sessions, jobs, what was sent, and the queue of what is unheard.

What is here is the server's own; originals, words and decisions are the library's. Any number of threads and
processes may use one store at a time. Times are seconds since 1970 (UTC).
"""

from __future__ import annotations

import contextlib
import sqlite3
import threading
import time
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

from jobnotes.errors import JobnotesError
from jobnotes.library.database import WAIT_S, told_plainly
from jobnotes.library.library import InShort
from jobnotes.record import Record

Role = Literal["technician", "clerk"]
Kind = Literal["recording", "photo"]

MOST_TRIES = 3


@dataclass(frozen=True, slots=True)
class Device:
    id: str
    name: str
    role: Role
    paired_at: float
    seen_at: float
    revoked_at: float | None = None


@dataclass(frozen=True, slots=True)
class ServeJob:
    """A job as the server knows it. `library_job` is its id in the library, once something was heard.

    `version` rises with every change that a page would show. `facts` stand in the record, `to_check` of them
    wait for a person; it has `notes`. `from_library`: it was made by `jobnotes run`, and what was sent for
    it comes on top of what its folder holds.
    """

    id: str
    number: str | None
    registration: str | None
    technician: str | None
    opened_at: float
    opened_by: str
    version: int = 0
    library_job: str | None = None
    facts: int = 0
    to_check: int = 0
    gaps: int = 0
    loose_ends: int = 0
    notes: int = 0
    from_library: bool = False

    @property
    def is_heard(self) -> bool:
        """Something of it is in a record."""
        return self.notes > 0


@dataclass(frozen=True, slots=True)
class SentFile:
    """One file of a job. `heard`: a recording whose words are in the record, or that can't be heard."""

    job: str
    sha256: str
    kind: Kind
    file: str
    bytes: int
    device: str
    upload: str
    at: float
    sent_at: float
    heard: bool = False


@dataclass(frozen=True, slots=True)
class Queued:
    """A job's place in the queue. What came in is counted: `wanted` all of it, `done` what is in the record.

    `problem` says why the job was given up; `worker` is the process that is at it.
    """

    job: str
    wanted: int
    done: int
    tries: int
    problem: str | None = None
    worker: int | None = None

    @property
    def is_waiting(self) -> bool:
        return self.wanted > self.done and self.problem is None


_SCHEMA = (
    """
    CREATE TABLE devices (id TEXT PRIMARY KEY, name TEXT NOT NULL, role TEXT NOT NULL,
        paired_at REAL NOT NULL, seen_at REAL NOT NULL, revoked_at REAL);
    CREATE TABLE codes (code TEXT PRIMARY KEY, role TEXT NOT NULL, device TEXT, expires_at REAL NOT NULL,
        used_at REAL);
    CREATE TABLE sessions (token TEXT PRIMARY KEY, device TEXT NOT NULL REFERENCES devices (id),
        made_at REAL NOT NULL, seen_at REAL NOT NULL);
    CREATE TABLE jobs (id TEXT PRIMARY KEY, number TEXT, registration TEXT, technician TEXT,
        opened_at REAL NOT NULL, opened_by TEXT NOT NULL, version INTEGER NOT NULL DEFAULT 0,
        library_job TEXT, facts INTEGER NOT NULL DEFAULT 0, to_check INTEGER NOT NULL DEFAULT 0,
        gaps INTEGER NOT NULL DEFAULT 0, loose_ends INTEGER NOT NULL DEFAULT 0);
    CREATE TABLE job_devices (job TEXT NOT NULL REFERENCES jobs (id), device TEXT NOT NULL,
        PRIMARY KEY (job, device)) WITHOUT ROWID;
    CREATE TABLE files (job TEXT NOT NULL REFERENCES jobs (id), sha256 TEXT NOT NULL, kind TEXT NOT NULL,
        file TEXT NOT NULL, bytes INTEGER NOT NULL, device TEXT NOT NULL, upload TEXT NOT NULL,
        at REAL NOT NULL, sent_at REAL NOT NULL, heard INTEGER NOT NULL DEFAULT 0,
        PRIMARY KEY (job, sha256));
    CREATE TABLE uploads (job TEXT NOT NULL, device TEXT NOT NULL, upload TEXT NOT NULL, sha256 TEXT NOT NULL,
        PRIMARY KEY (job, device, upload)) WITHOUT ROWID;
    CREATE TABLE queue (job TEXT PRIMARY KEY REFERENCES jobs (id), wanted INTEGER NOT NULL DEFAULT 0,
        done INTEGER NOT NULL DEFAULT 0, tries INTEGER NOT NULL DEFAULT 0, problem TEXT,
        worker INTEGER, since REAL NOT NULL DEFAULT 0) WITHOUT ROWID;
    CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
    """,
    """
    ALTER TABLE jobs ADD COLUMN notes INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE jobs ADD COLUMN from_library INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE jobs ADD COLUMN record_sha256 TEXT;
    CREATE INDEX jobs_by_library_job ON jobs (library_job) WHERE library_job IS NOT NULL;
    UPDATE jobs SET notes = 1 WHERE facts > 0;
    """,
)


class Store:
    """The server's database, open. Each thread has a connection of its own; writes wait for each other."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._local = threading.local()
        self._connections: list[tuple[threading.Thread, sqlite3.Connection]] = []
        self._lock = threading.Lock()
        self._writing = threading.RLock()
        with told_plainly(path):
            path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            self._upgrade()

    def close(self) -> None:
        with self._lock:
            for _, connection in self._connections:
                connection.close()
            self._connections.clear()
        self._local = threading.local()

    # --- devices and sessions ----------------------------------------------------------------------

    def add_code(self, code: str, role: Role, expires_at: float, device: str | None = None) -> None:
        """`code` is the digest of a pairing code, never the code itself."""
        with self._write() as db:
            db.execute("DELETE FROM codes WHERE expires_at < ?", (time.time() - 86400,))
            db.execute("INSERT INTO codes VALUES (?, ?, ?, ?, NULL)", (code, role, device, expires_at))

    def redeem(self, code: str, name: str, device: str, token: str) -> Device | None:
        """Use up the code with that digest: the device, with a session of that token's digest.

        None if there is no such code, or it was used or has expired. A code for a device that is known
        pairs that one again: it keeps its jobs, and its earlier sessions end.
        """
        now = time.time()
        with self._write() as db:
            row = db.execute(
                "UPDATE codes SET used_at = ? WHERE code = ? AND used_at IS NULL AND expires_at > ? "
                "RETURNING role, device",
                (now, code, now),
            ).fetchone()
            if row is None:
                return None
            role, again = row
            if again is not None:
                device = again
                db.execute("DELETE FROM sessions WHERE device = ?", (device,))
                db.execute(
                    "UPDATE devices SET role = ?, paired_at = ?, seen_at = ?, revoked_at = NULL WHERE id = ?",
                    (role, now, now, device),
                )
            else:
                db.execute("INSERT INTO devices VALUES (?, ?, ?, ?, ?, NULL)", (device, name, role, now, now))
            db.execute("INSERT INTO sessions VALUES (?, ?, ?, ?)", (token, device, now, now))
            return self._device(db, device)

    def session(self, token: str, *, idle_s: float, most_s: float) -> Device | None:
        """The device whose session has that token's digest, if it hasn't ended."""
        now = time.time()
        row = self._db.execute(
            "SELECT d.id, d.name, d.role, d.paired_at, d.seen_at, d.revoked_at, s.made_at, s.seen_at "
            "FROM sessions s JOIN devices d ON d.id = s.device WHERE s.token = ? AND d.revoked_at IS NULL",
            (token,),
        ).fetchone()
        if row is None or now - row[6] > most_s or now - row[7] > idle_s:
            return None
        if now - row[7] > 60.0:  # to the minute is exact enough, and spares a write a request
            # a disk that is full mustn't shut out who could make room
            with contextlib.suppress(JobnotesError), self._write() as db:
                db.execute("UPDATE sessions SET seen_at = ? WHERE token = ?", (now, token))
                db.execute("UPDATE devices SET seen_at = ? WHERE id = ?", (now, row[0]))
        return Device(*row[:6])

    def end_session(self, token: str) -> None:
        with self._write() as db:
            db.execute("DELETE FROM sessions WHERE token = ?", (token,))

    def devices(self) -> tuple[Device, ...]:
        rows = self._db.execute(
            "SELECT id, name, role, paired_at, seen_at, revoked_at FROM devices ORDER BY paired_at"
        )
        return tuple(Device(*row) for row in rows)

    def device(self, device: str) -> Device | None:
        return self._device(self._db, device)

    def revoke(self, device: str) -> bool:
        """End all that the device may do, at once; False if there is no such device."""
        with self._write() as db:
            db.execute("DELETE FROM sessions WHERE device = ?", (device,))
            db.execute("DELETE FROM codes WHERE device = ?", (device,))
            done = db.execute(
                "UPDATE devices SET revoked_at = coalesce(revoked_at, ?) WHERE id = ?", (time.time(), device)
            )
            return done.rowcount == 1

    @staticmethod
    def _device(db: sqlite3.Connection, device: str) -> Device | None:
        row = db.execute(
            "SELECT id, name, role, paired_at, seen_at, revoked_at FROM devices WHERE id = ?", (device,)
        ).fetchone()
        return Device(*row) if row else None

    # --- jobs --------------------------------------------------------------------------------------

    def open_job(self, job: ServeJob, devices: Sequence[str]) -> None:
        """A new job, which those devices may work on."""
        with self._write() as db:
            db.execute(
                "INSERT INTO jobs (id, number, registration, technician, opened_at, opened_by) "
                "VALUES (?, ?, ?, ?, ?, ?)",
                (job.id, job.number, job.registration, job.technician, job.opened_at, job.opened_by),
            )
            db.executemany("INSERT OR IGNORE INTO job_devices VALUES (?, ?)", [(job.id, d) for d in devices])

    def give_job(self, job: str, device: str) -> None:
        with self._write() as db:
            db.execute("INSERT OR IGNORE INTO job_devices VALUES (?, ?)", (job, device))

    def may_work_on(self, device: Device, job: str) -> bool:
        """True for a clerk, and for the devices that opened the job or were given it."""
        if device.role == "clerk":
            return self._db.execute("SELECT 1 FROM jobs WHERE id = ?", (job,)).fetchone() is not None
        return (
            self._db.execute(
                "SELECT 1 FROM job_devices WHERE job = ? AND device = ?", (job, device.id)
            ).fetchone()
            is not None
        )

    def job(self, job: str) -> ServeJob | None:
        row = self._db.execute(f"SELECT {_JOB} FROM jobs WHERE id = ?", (job,)).fetchone()
        return _served(row) if row else None

    def job_in_library(self, library_job: str) -> ServeJob | None:
        """The job that has that id in the library."""
        row = self._db.execute(
            f"SELECT {_JOB} FROM jobs WHERE library_job = ? ORDER BY opened_at LIMIT 1", (library_job,)
        ).fetchone()
        return _served(row) if row else None

    def jobs(self, device: Device | None = None, *, start: int = 0, most: int = -1) -> tuple[ServeJob, ...]:
        """The jobs that the device may work on, the latest first; all of them without a device.

        Of these `most`, or all if it is negative, from the one after `start` others on.
        """
        if device is None or device.role == "clerk":
            rows = self._db.execute(
                f"SELECT {_JOB} FROM jobs ORDER BY opened_at DESC, id LIMIT ? OFFSET ?", (most, start)
            )
        else:
            rows = self._db.execute(
                f"SELECT {_JOB} FROM jobs WHERE id IN (SELECT job FROM job_devices WHERE device = ?) "
                "ORDER BY opened_at DESC, id LIMIT ? OFFSET ?",
                (device.id, most, start),
            )
        return tuple(_served(row) for row in rows)

    def how_many_jobs(self) -> int:
        return int(self._db.execute("SELECT count(*) FROM jobs").fetchone()[0])

    def jobs_in_library(self) -> frozenset[str]:
        """The ids in the library of all jobs that have one."""
        rows = self._db.execute("SELECT library_job FROM jobs WHERE library_job IS NOT NULL")
        return frozenset(row[0] for row in rows)

    def touch(self, job: str) -> None:
        """Something changed that a page would show."""
        with self._write() as db:
            _touch(db, job)

    def told_in_library(self) -> dict[str, str]:
        """By the id in the library, the digest of the record by which a job was last told in the list."""
        rows = self._db.execute(
            "SELECT library_job, record_sha256 FROM jobs WHERE library_job IS NOT NULL "
            "AND record_sha256 IS NOT NULL"
        )
        return dict(rows.fetchall())

    def tell_in_library(self, jobs: Iterable[tuple[str, InShort]]) -> None:
        """What the library's jobs are in short, each with the id that it gets here if it has none yet."""
        with self._write() as db:
            for new_id, job in jobs:
                known = self.job_in_library(job.job)
                job_id = known.id if known else new_id
                if known is None:
                    opened_at = (job.opened_at or job.saved_at).timestamp()
                    db.execute(
                        "INSERT OR IGNORE INTO jobs (id, technician, opened_at, opened_by, library_job, "
                        "from_library) VALUES (?, ?, ?, '', ?, 1)",
                        (job_id, job.technician, opened_at, job.job),
                    )
                self._conclude(db, job_id, job)

    def concluded(self, job: str, in_short: InShort, record: Record) -> None:
        """Keep what the list of jobs shows of the record, and which of the files sent are in it."""
        seen = {note.sha256 for note in record.notes} | {photo.sha256 for photo in record.photos}
        named = {problem.file for problem in record.problems}
        with self._write() as db:
            self._conclude(db, job, in_short)
            db.executemany(
                "UPDATE files SET heard = 1 WHERE job = ? AND sha256 = ?",
                [(job, f.sha256) for f in self._files(db, job) if f.sha256 in seen or f.file in named],
            )

    @staticmethod
    def _conclude(db: sqlite3.Connection, job: str, told: InShort) -> None:
        # what was stated when the job was opened here stays as it is
        db.execute(
            "UPDATE jobs SET library_job = ?, record_sha256 = ?, notes = ?, facts = ?, to_check = ?, "
            "gaps = ?, loose_ends = ?, version = version + 1, "
            "number = CASE WHEN from_library THEN ? ELSE coalesce(number, ?) END, "
            "registration = CASE WHEN from_library THEN ? ELSE coalesce(registration, ?) END WHERE id = ?",
            (
                *(told.job, told.sha256, told.notes, told.facts, told.to_check, told.gaps, told.loose_ends),
                *(told.number, told.number, told.registration, told.registration, job),
            ),
        )

    def in_library(self, job: str, library_job: str) -> str:
        """Give the job that id in the library, if it has none yet; the one that it has."""
        with self._write() as db:
            sql = "UPDATE jobs SET library_job = coalesce(library_job, ?) WHERE id = ? RETURNING library_job"
            row = db.execute(sql, (library_job, job)).fetchone()
            return str(row[0]) if row else library_job

    def call(self, job: str, number: str | None, registration: str | None) -> None:
        """How the list calls the job from now on."""
        with self._write() as db:
            db.execute(
                "UPDATE jobs SET number = ?, registration = ?, version = version + 1 WHERE id = ?",
                (number, registration, job),
            )

    def forget_job(self, job: str) -> None:
        """Nothing of the job stays here, not even in what the database's file no longer uses."""
        db = self._db
        db.execute("PRAGMA secure_delete = ON")
        with self._write():
            for table in ("queue", "uploads", "files", "job_devices"):
                db.execute(f"DELETE FROM {table} WHERE job = ?", (job,))
            db.execute("DELETE FROM jobs WHERE id = ?", (job,))

    def empty_log(self) -> None:
        """Empty the database's log, which holds what was forgotten; not while another process reads."""
        with told_plainly(self._path):
            self._db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()

    # --- what was sent -----------------------------------------------------------------------------

    def files(self, job: str) -> tuple[SentFile, ...]:
        """The job's recordings and photos, by time."""
        return self._files(self._db, job)

    @staticmethod
    def _files(db: sqlite3.Connection, job: str) -> tuple[SentFile, ...]:
        rows = db.execute(
            f"SELECT {', '.join(_FILE)} FROM files WHERE job = ? ORDER BY at, file",
            (job,),
        )
        return tuple(
            SentFile(**{**dict(zip(_FILE, row, strict=True)), "heard": bool(row[-1])}) for row in rows
        )

    def counts(self) -> dict[str, tuple[int, int]]:
        """By job, how many recordings it has and how many of them wait to be heard."""
        rows = self._db.execute(
            "SELECT job, count(*), sum(1 - heard) FROM files WHERE kind = 'recording' GROUP BY job"
        )
        return {job: (notes, waiting) for job, notes, waiting in rows}

    def file_with(self, job: str, sha256: str) -> SentFile | None:
        return next((f for f in self.files(job) if f.sha256 == sha256), None)

    def finished(self, job: str, device: str, upload: str) -> str | None:
        """The digest of what that upload brought, if it was finished."""
        row = self._db.execute(
            "SELECT sha256 FROM uploads WHERE job = ? AND device = ? AND upload = ?", (job, device, upload)
        ).fetchone()
        return row[0] if row else None

    def add_file(self, file: SentFile) -> None:
        """The file is in its place: note it, and queue its job, in one step."""
        with self._write() as db:
            added = db.execute(
                "INSERT OR IGNORE INTO files VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, 0)",
                (
                    file.job,
                    file.sha256,
                    file.kind,
                    file.file,
                    file.bytes,
                    file.device,
                    file.upload,
                    file.at,
                    file.sent_at,
                ),
            ).rowcount
            self._finish(db, file.job, file.device, file.upload, file.sha256)
            if added:
                _want(db, file.job)
                _touch(db, file.job)

    def finish_upload(self, job: str, device: str, upload: str, sha256: str) -> None:
        """The upload brought what the job had already."""
        with self._write() as db:
            self._finish(db, job, device, upload, sha256)

    @staticmethod
    def _finish(db: sqlite3.Connection, job: str, device: str, upload: str, sha256: str) -> None:
        db.execute("INSERT OR IGNORE INTO uploads VALUES (?, ?, ?, ?)", (job, device, upload, sha256))

    # --- the queue ---------------------------------------------------------------------------------

    def want(self, job: str) -> None:
        """Queue the job: something that its record is derived from has changed."""
        with self._write() as db:
            _want(db, job)

    def take(self, worker: int, *, retry_s: float = 0.0) -> Queued | None:
        """The job that has waited longest and is nobody's, for the process `worker`; `tries` counts this one.

        A job without a recording waits for one, and one that failed for `retry_s` seconds a try.
        """
        waiting = (
            "wanted > done AND worker IS NULL AND problem IS NULL AND (tries = 0 OR since + tries * ? < ?) "
            "AND EXISTS (SELECT 1 FROM files WHERE files.job = queue.job AND (kind = 'recording' "
            "OR EXISTS (SELECT 1 FROM jobs WHERE jobs.id = queue.job AND from_library)))"
        )
        when = (retry_s, time.time())
        if self._db.execute(f"SELECT 1 FROM queue WHERE {waiting}", when).fetchone() is None:
            return None  # which is so most of the time, and needs no right to write
        with self._write() as db:
            row = db.execute(
                f"UPDATE queue SET worker = ?, tries = tries + 1 WHERE job = (SELECT job FROM queue WHERE "
                f"{waiting} ORDER BY since, job LIMIT 1) RETURNING job, wanted, done, tries",
                (worker, *when),
            ).fetchone()
            return Queued(row[0], row[1], row[2], row[3], worker=worker) if row else None

    def done(self, queued: Queued) -> None:
        """All that was wanted when the job was taken is in its record."""
        with self._write() as db:
            db.execute(
                "UPDATE queue SET done = max(done, ?), tries = 0, worker = NULL, since = ? WHERE job = ?",
                (queued.wanted, time.time(), queued.job),
            )

    def failed(self, queued: Queued, problem: str, *, final: bool = False) -> None:
        """It didn't work; after MOST_TRIES times, or if `final`, the job is marked with the problem."""
        with self._write() as db:
            given_up = final or queued.tries >= MOST_TRIES
            db.execute(
                "UPDATE queue SET worker = NULL, since = ?, problem = ? WHERE job = ? AND wanted = ?",
                (time.time(), problem if given_up else None, queued.job, queued.wanted),
            )
            # what came meanwhile is a reason to try anew
            db.execute("UPDATE queue SET worker = NULL WHERE job = ?", (queued.job,))
            if given_up:
                _touch(db, queued.job)

    def free(self, worker: int, problem: str) -> None:
        """Give back what the process `worker`, which died, was at."""
        for queued in self.queue():
            if queued.worker == worker:
                self.failed(queued, problem)

    def free_all(self) -> None:
        """Give back everything: the server starts, so nothing is being heard; that was no job's fault."""
        with self._write() as db:
            db.execute("UPDATE queue SET worker = NULL, tries = 0")

    def queue(self) -> tuple[Queued, ...]:
        rows = self._db.execute(f"SELECT {_QUEUED} FROM queue ORDER BY since")
        return tuple(Queued(*row) for row in rows)

    def waiting(self, job: str) -> Queued | None:
        row = self._db.execute(f"SELECT {_QUEUED} FROM queue WHERE job = ?", (job,)).fetchone()
        return Queued(*row) if row else None

    # --- what a second program may ask -------------------------------------------------------------

    def tell(self, key: str, value: str) -> None:
        with self._write() as db:
            db.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value))

    def told(self, key: str) -> str | None:
        row = self._db.execute("SELECT value FROM about WHERE key = ?", (key,)).fetchone()
        return row[0] if row else None

    # --- connections -------------------------------------------------------------------------------

    @property
    def _db(self) -> sqlite3.Connection:
        connection: sqlite3.Connection | None = getattr(self._local, "connection", None)
        if connection is None:
            connection = sqlite3.connect(
                self._path, timeout=WAIT_S, isolation_level=None, check_same_thread=False
            )
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA foreign_keys = ON")
            # what was confirmed to a phone must outlast a power cut
            connection.execute("PRAGMA synchronous = FULL")
            self._local.connection = connection
            with self._lock:
                # the threads that answer requests come and go
                for at in [at for at in self._connections if not at[0].is_alive()]:
                    at[1].close()
                    self._connections.remove(at)
                self._connections.append((threading.current_thread(), connection))
        return connection

    @contextlib.contextmanager
    def _write(self) -> Iterator[sqlite3.Connection]:
        # SQLite's own waiting is by turns of sleep; within this process a lock is quicker and fair
        with self._writing, told_plainly(self._path):
            db = self._db
            db.execute("BEGIN IMMEDIATE")
            try:
                yield db
            except BaseException:
                db.rollback()
                raise
            db.commit()

    def _upgrade(self) -> None:
        with self._write() as db:
            version: int = db.execute("PRAGMA user_version").fetchone()[0]
            if version > len(_SCHEMA):
                raise JobnotesError(
                    str(self._path), "made by a newer version of jobnotes", "install that version"
                )
            for step in _SCHEMA[version:]:
                for statement in step.split(";"):
                    if statement.strip():
                        db.execute(statement)
            db.execute(f"PRAGMA user_version = {len(_SCHEMA)}")
        with contextlib.suppress(OSError):  # it may be another's file that this user may write
            self._path.chmod(0o600)


_FILE = ("job", "sha256", "kind", "file", "bytes", "device", "upload", "at", "sent_at", "heard")
_QUEUED = "job, wanted, done, tries, problem, worker"
_JOB = (
    "id, number, registration, technician, opened_at, opened_by, version, library_job, facts, to_check, "
    "gaps, loose_ends, notes, from_library"
)


def _served(row: Sequence[Any]) -> ServeJob:
    job = ServeJob(*row)
    return replace(job, from_library=bool(job.from_library))


def _touch(db: sqlite3.Connection, job: str) -> None:
    db.execute("UPDATE jobs SET version = version + 1 WHERE id = ?", (job,))


def _want(db: sqlite3.Connection, job: str) -> None:
    # new material is a new chance for a job that was given up
    values: tuple[Any, ...] = (job, time.time())
    db.execute(
        "INSERT INTO queue (job, wanted, since) VALUES (?, 1, ?) ON CONFLICT (job) DO UPDATE SET "
        "since = CASE WHEN wanted > done AND problem IS NULL THEN since ELSE excluded.since END, "
        "wanted = wanted + 1, tries = CASE WHEN worker IS NULL THEN 0 ELSE tries END, problem = NULL",
        values,
    )

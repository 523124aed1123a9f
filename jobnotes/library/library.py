"""The library: the workshop's own store of originals, derived data and decisions, behind one class.

    with Library.open(folder) as library:
        original = library.keep(path, "recording")
        filed = library.file_job([GivenFile(original.sha256, path.name)])
        library.save(record, filed.job)

A job is known by its recordings: a folder that gains a recording stays the same job, under whatever name
or path it is given. Every method raises JobnotesError, in one line, when the disk or the database fails.
"""

from __future__ import annotations

import hashlib
import json
import re
import secrets
import sqlite3
from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Literal, Self

import cattrs
from filelock import FileLock
from sqlite_utils import Database

from jobnotes import record_json
from jobnotes.errors import JobnotesError, Problem
from jobnotes.library import deletion, history, journal, journal_check, rights, signing
from jobnotes.library.database import NAME, WAIT_S, open_database, told_plainly, writing
from jobnotes.library.decisions import Decision
from jobnotes.library.deletion import Deleted
from jobnotes.library.journal import Entry as JournalEntry
from jobnotes.library.journal import Head
from jobnotes.library.media import MediaStore, Misfit
from jobnotes.library.signing import Signature
from jobnotes.library.stated import Entry, StatedEntry
from jobnotes.past import Past
from jobnotes.record import Fact, RecogniserStamp, Record, Sight, Word

OriginalKind = Literal["recording", "photo", "details"]
"""`details`: the file in which the office states what it knows of a job."""

_MOST_SEARCH_WORDS = 32
_JOB_ID_DIGITS = 12
_LOCKS = "locks"
_JOB_ID = re.compile(r"J[0-9a-f]{12,64}")


@dataclass(frozen=True, slots=True)
class Original:
    """One original as kept; `file` is the name that it first came under."""

    sha256: str
    kind: OriginalKind
    bytes: int
    file: str
    kept_at: datetime


@dataclass(frozen=True, slots=True)
class GivenFile:
    """An original that was kept before, under the name that it was given this time."""

    sha256: str
    file: str


@dataclass(frozen=True, slots=True)
class Filed:
    """The job that the recordings belong to; `problems` where they don't agree on one."""

    job: str
    new: bool
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class StoredRecord:
    """`text` is record.json to the byte; `sha256` is the digest of its UTF-8 form."""

    job: str
    text: str
    sha256: str
    saved_at: datetime


@dataclass(frozen=True, slots=True)
class InShort:
    """A job in a list, by its record as last saved, which has that digest. `facts` are those that stand."""

    job: str
    sha256: str
    saved_at: datetime
    opened_at: datetime | None
    number: str | None
    registration: str | None
    technician: str | None
    notes: int
    facts: int
    to_check: int
    gaps: int
    loose_ends: int


@dataclass(frozen=True, slots=True)
class Hit:
    """One fact that a search found; `text` is what it was read as."""

    job: str
    fact_id: str
    kind: str
    status: str
    quote: str
    text: str
    note: str | None = None
    start_s: float | None = None


class Library:
    """One library, open. For one thread; any number of processes may have it open at once."""

    def __init__(self, folder: Path, db: Database) -> None:
        self.folder = folder
        self.media = MediaStore(folder / "media")
        self._db = db

    @classmethod
    def open(cls, folder: Path, *, create: bool = True, wait_s: float = WAIT_S) -> Self:
        """The library in `folder`, made there if `create` and there is none, migrated if it is older.

        Raises JobnotesError if it can't be written, is something else, or was made by a newer version.
        """
        library = cls(folder, open_database(folder, create=create, wait_s=wait_s))
        library.media.clear_abandoned()
        with library._told():
            deletion.finish(library._db, library.media)
        return library

    def close(self) -> None:
        self._db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # --- originals and jobs ----------------------------------------------------------------------

    def keep(self, path: Path, kind: OriginalKind, file: str | None = None) -> Original:
        """Keep the file at `path`, unchanged and read-only; the same bytes again are the same original.

        `file` is the name under which the person knows it, if that isn't just the last part of `path`.
        Raises UnusableInputError if the file can't be read.
        """
        while True:
            sha256 = self.media.keep(path)
            with self._told(), writing(self._db):
                if not self.media.has(sha256):
                    continue  # another process has just carried out its deletion: keep it anew
                added = self._db.execute(
                    "INSERT OR IGNORE INTO originals (sha256, kind, bytes, file, kept_at) "
                    "VALUES (?, ?, ?, ?, ?)",
                    [
                        *(sha256, kind, self.media.path_of(sha256).stat().st_size),
                        *(_storable(file or path.name), _now()),
                    ],
                )
                if added.rowcount:
                    self._db.execute("DELETE FROM to_remove WHERE original = ?", [sha256])
                    journal.append(self._db, "original", {"original": sha256})
            return self.original(sha256)

    def original(self, sha256: str) -> Original:
        """KeyError if it isn't kept."""
        with self._told():
            row = self._one("SELECT * FROM originals WHERE sha256 = ?", sha256)
        if row is None:
            raise KeyError(sha256)
        return Original(
            row["sha256"], row["kind"], row["bytes"], row["file"], datetime.fromisoformat(row["kept_at"])
        )

    def path_of(self, sha256: str) -> Path:
        """Where the original lies, to be read only; KeyError if it isn't kept."""
        return self.media.path_of(sha256)

    def job_of(self, sha256: str) -> str | None:
        """The job that a recording belongs to; None if it is new, or a photo."""
        with self._told():
            row = self._one("SELECT job FROM job_originals WHERE original = ? AND kind = 'recording'", sha256)
        return None if row is None else str(row["job"])

    def originals(self, job: str) -> tuple[GivenFile, ...]:
        """Everything ever filed under the job: recordings, photos, details, each in the order given."""
        # which is the order of the alphabet, backwards
        sql = "SELECT original, file FROM job_originals WHERE job = ? ORDER BY kind DESC, position, original"
        with self._told():
            return tuple(GivenFile(r["original"], r["file"]) for r in self._db.query(sql, [job]))

    def file_job(
        self,
        recordings: Sequence[GivenFile],
        photos: Sequence[GivenFile] = (),
        details: Sequence[GivenFile] = (),
        *,
        job: str | None = None,
    ) -> Filed:
        """Find the job of these recordings, or open one, and file them, the photos and `details` under it.

        `job` is theirs if that is known already (see `open_job`). `details` are what the office stated of
        the job; what it stated before stays filed. Neither they nor photos tell a job: two folders may share
        one. Where the recordings belong to several jobs, the one with the most of them is taken (then the
        older one), the others stay where they are, and `problems` names them; it also says when recordings
        of the job are missing from those given.
        """
        if not recordings:
            raise ValueError("a job has at least one recording")
        with self._told(), writing(self._db):
            if job is not None:
                self._check_not_deleted(job)
            owner = {given.sha256: self.job_of(given.sha256) for given in recordings}
            job = job or self._most_likely([j for j in owner.values() if j is not None])
            new = job is None
            if job is None:
                job = self._new_job(recordings[0].sha256)
            elsewhere = [g for g in recordings if owner[g.sha256] not in (None, job)]
            own = [g for g in recordings if g not in elsewhere]
            self._file(job, "recording", own)
            self._file(job, "photo", photos)
            self._file(job, "details", details)
            missing = self._missing(job, own)
        problems = [_elsewhere(given, owner[given.sha256], job) for given in elsewhere]
        problems += [
            Problem(
                file,
                f"belongs to job {job}, but is not among the recordings given, so nothing said in it counts; "
                "put it back beside the others (the library still has it)",
            )
            for file in missing
        ]
        return Filed(job, new, tuple(problems))

    def open_job(self, sha256: str | None = None, taken: Collection[str] = ()) -> str:
        """A new job, before any recording of it is filed; its id, which comes from that of a recording.

        One that was opened for the recording before, and has stayed empty since, is given again, unless it is
        `taken`: whoever opened it was killed before they could keep its id.
        """
        with self._told(), writing(self._db):
            for job in _job_ids(sha256) if sha256 is not None else ():
                if not self.has_job(job):
                    break
                if job not in taken and self._is_empty(job):
                    return job
            return self._new_job(sha256 or secrets.token_hex(32))

    def _is_empty(self, job: str) -> bool:
        tables = ("job_originals", "records", "decisions", "stated")
        there = " OR ".join(f"EXISTS (SELECT 1 FROM {table} WHERE job = :job)" for table in tables)
        row = self._one(f"SELECT {there} AS used", job=job)
        return row is not None and not row["used"]

    def add_to_job(
        self, job: str, recordings: Sequence[GivenFile], photos: Sequence[GivenFile], who: str
    ) -> tuple[Problem, ...]:
        """File under a job what a person adds by hand to what its folder holds.

        What the job has already stays as it is. A recording of another job stays there; problems name it.
        """
        with self._told(), writing(self._db):
            self._check_not_deleted(job)
            owner = {given.sha256: self.job_of(given.sha256) for given in recordings}
            elsewhere = [g for g in recordings if owner[g.sha256] not in (None, job)]
            kinds: tuple[tuple[OriginalKind, list[GivenFile]], ...] = (
                ("recording", [g for g in recordings if g not in elsewhere]),
                ("photo", list(photos)),
            )
            for kind, files in kinds:
                for position, given in enumerate(files):
                    about = [job, given.sha256]
                    if self._is_filed(*about):
                        continue
                    self._file(job, kind, [given], first=position)
                    self._db.execute("INSERT INTO additions VALUES (?, ?, ?, ?)", [*about, who, _now()])
                    journal.append(self._db, "added", {"job": job, "original": given.sha256})
        return tuple(_elsewhere(given, owner[given.sha256], job) for given in elsewhere)

    def added(self, job: str) -> frozenset[str]:
        """The digests of what was added to the job by hand."""
        sql = "SELECT original FROM additions WHERE job = ?"
        with self._told():
            return frozenset(row["original"] for row in self._db.query(sql, [job]))

    @contextmanager
    def alone_with(self, job: str) -> Iterator[None]:
        """Held from reading what people decided about a job until its record is saved, by whatever process:
        so nothing that was decided is missing from what is saved last.
        """
        if not _JOB_ID.fullmatch(job):
            raise ValueError(f"no job is called {job!r}")
        lock = FileLock(self.folder / _LOCKS / f"{job}.lock", mode=rights.of_file(self.folder))
        try:
            rights.make_folder(self.folder / _LOCKS, self.folder)
            lock.acquire()
        except OSError as error:
            reason = error.strerror or "can't be written"
            raise JobnotesError(
                str(self.folder / _LOCKS), reason, "make room, or change its rights"
            ) from error
        try:
            yield
        finally:
            lock.release()

    def _most_likely(self, jobs: list[str]) -> str | None:
        if not jobs:
            return None
        votes = Counter(jobs)
        opened = {job: self._db.table("jobs").get(job)["opened_at"] for job in votes}
        return min(votes, key=lambda job: (-votes[job], opened[job], job))

    def _new_job(self, sha256: str) -> str:
        for job in _job_ids(sha256):
            if not self.has_job(job):
                break
        self._db.table("jobs").insert({"id": job, "opened_at": _now()})
        return job

    def _is_filed(self, job: str, sha256: str) -> bool:
        known = "SELECT 1 AS known FROM job_originals WHERE job = ? AND original = ?"
        return self._one(known, job, sha256) is not None

    def _file(self, job: str, kind: OriginalKind, files: Sequence[GivenFile], first: int = 0) -> None:
        for position, given in enumerate(files, first):
            new = not self._is_filed(job, given.sha256)
            self._db.execute(
                "INSERT INTO job_originals (job, original, kind, file, position) VALUES (?, ?, ?, ?, ?) "
                "ON CONFLICT (job, original) "
                "DO UPDATE SET file = excluded.file, position = excluded.position",
                [job, given.sha256, kind, _storable(given.file), position],
            )
            if new:
                journal.append(self._db, "filed", {"job": job, "original": given.sha256, "as": kind})

    def _missing(self, job: str, given: Sequence[GivenFile]) -> list[str]:
        here = {g.sha256 for g in given}
        sql = (
            "SELECT original, file FROM job_originals WHERE job = :job AND kind = 'recording' "
            "AND original NOT IN (SELECT original FROM additions WHERE job = :job) ORDER BY file"
        )
        return [r["file"] for r in self._db.query(sql, {"job": job}) if r["original"] not in here]

    # --- derived data ----------------------------------------------------------------------------

    def heard(self, sha256: str, stamp: RecogniserStamp) -> tuple[Word, ...] | None:
        """The words that this very recogniser heard in the recording before; None if it didn't."""
        with self._told():
            row = self._one(
                "SELECT words FROM heard "
                "WHERE original = ? AND engine = ? AND model = ? AND model_sha256 = ?",
                *(sha256, stamp.engine, stamp.model, stamp.sha256),
            )
        return None if row is None else cattrs.structure(json.loads(row["words"]), tuple[Word, ...])

    def store_heard(
        self, sha256: str, stamp: RecogniserStamp, words: Sequence[Word], duration_s: float
    ) -> None:
        """Keep what was heard in a recording that was kept before, to spare hearing it again.

        Of its pieces nothing is needed any more.
        """
        row = {
            "original": sha256,
            "engine": stamp.engine,
            "model": stamp.model,
            "model_sha256": stamp.sha256,
            "words": _compact(tuple(words)),
            "text": " ".join(word.text for word in words),
            "duration_s": duration_s,
            "made_at": _now(),
        }
        with self._told(), writing(self._db):
            self._db.table("heard").upsert(row, pk=("original", "engine", "model", "model_sha256"))
            self._db.execute("DELETE FROM heard_pieces WHERE original = ?", [sha256])

    def heard_pieces(self, sha256: str, stamp: RecogniserStamp) -> dict[str, tuple[Word, ...]]:
        """What this very recogniser heard in pieces of a recording, by their names, before it was stopped."""
        sql = (
            "SELECT piece, words FROM heard_pieces "
            "WHERE original = ? AND engine = ? AND model = ? AND model_sha256 = ?"
        )
        with self._told():
            rows = list(self._db.query(sql, [sha256, stamp.engine, stamp.model, stamp.sha256]))
        return {row["piece"]: cattrs.structure(json.loads(row["words"]), tuple[Word, ...]) for row in rows}

    def keep_heard_piece(
        self, sha256: str, stamp: RecogniserStamp, piece: str, words: Sequence[Word]
    ) -> None:
        """Keep what was heard in one piece of a recording, until all of it is stored."""
        row = [sha256, stamp.engine, stamp.model, stamp.sha256, piece, _compact(tuple(words)), _now()]
        with self._told(), writing(self._db):
            self._db.execute("INSERT OR REPLACE INTO heard_pieces VALUES (?, ?, ?, ?, ?, ?, ?)", row)

    def seen(self, sha256: str, stamp: RecogniserStamp) -> Sight | None:
        """What this very reader saw in the photo before; None if it didn't look."""
        with self._told():
            row = self._one(
                "SELECT sight FROM seen WHERE original = ? AND engine = ? AND model = ? AND model_sha256 = ?",
                *(sha256, stamp.engine, stamp.model, stamp.sha256),
            )
        return None if row is None else cattrs.structure(json.loads(row["sight"]), Sight)

    def store_seen(self, sha256: str, sight: Sight) -> None:
        """Keep what was seen in a photo that was kept before, to spare looking again."""
        row = {
            "original": sha256,
            "engine": sight.reader.engine,
            "model": sight.reader.model,
            "model_sha256": sight.reader.sha256,
            "sight": _compact(sight),
            "made_at": _now(),
        }
        with self._told(), writing(self._db):
            self._db.table("seen").upsert(row, pk=("original", "engine", "model", "model_sha256"))

    def save(self, record: Record, job: str) -> str:
        """Store the record of a job that was filed before; the digest of its record.json.

        The job's facts are replaced as a whole; decisions are not touched.
        """
        text = record_json.dumps(record)
        sha256 = digest_of(text)
        with self._told(), writing(self._db):
            self._check_not_deleted(job)
            known = self._one("SELECT sha256 FROM records WHERE job = ?", job)
            row = {"job": job, "json": text, "sha256": sha256, "saved_at": _now()}
            self._db.table("records").upsert(row, pk="job")
            if known is None or known["sha256"] != sha256:
                journal.append(self._db, "record", {"job": job, "record": sha256})
            self._db.table("facts").delete_where("job = ?", [job])
            self._db.table("facts").insert_all(_fact_row(job, fact) for fact in record.facts)
            history.store(self._db, job, json.loads(text))
        return sha256

    def past(self, job: str, record: Record) -> Past:
        """What other jobs tell about this one: earlier ones of its vehicle, and work at the same time.

        Of `record` only the job's head and the clock statements count, so it need not be finished, and what
        was saved of the job itself doesn't count. Times are those of the records as last saved.
        """
        with self._told():
            return history.past(self._db, job, record)

    def record(self, job: str) -> StoredRecord | None:
        """The record that was last saved for the job."""
        return self._stored("SELECT * FROM records WHERE job = ?", job)

    def as_it_stands(self, job: str) -> str:
        """Another text for each record, decision and statement that the job has had: whether one is new."""
        with self._told():
            row = self._one(
                "SELECT (SELECT sha256 FROM records WHERE job = :job) AS record, "
                "(SELECT count(*) FROM decisions WHERE job = :job) AS decisions, "
                "(SELECT count(*) FROM stated WHERE job = :job) AS stated",
                job=job,
            )
        assert row is not None
        return f"{(row['record'] or '')[:16]}.{row['decisions']}.{row['stated']}"

    def in_short(self, known: Mapping[str, str] | None = None) -> tuple[InShort, ...]:
        """All jobs that have a record, but those of which `known` has that record's digest already."""
        known = known or {}
        with self._told():
            saved = list(self._db.query("SELECT job, sha256 FROM records"))
            new = [row["job"] for row in saved if known.get(row["job"]) != row["sha256"]]
            return tuple(self._in_short(job) for job in new)

    def job_in_short(self, job: str) -> InShort:
        """One job that has a record; KeyError if it has none."""
        with self._told():
            return self._in_short(job)

    def _in_short(self, job: str) -> InShort:
        row = self._one(
            "SELECT job, sha256, saved_at, json_extract(json, '$.job') AS head, "
            "json_array_length(json, '$.notes') AS notes, json_array_length(json, '$.claim_gaps') AS gaps, "
            "json_array_length(json, '$.loose_ends') AS loose_ends, "
            "(SELECT count(*) FROM facts WHERE facts.job = records.job AND status <> 'rejected') AS facts, "
            "(SELECT count(*) FROM facts WHERE facts.job = records.job AND status = 'check') AS to_check "
            "FROM records WHERE job = ?",
            job,
        )
        if row is None:
            raise KeyError(job)
        head = json.loads(row["head"] or "{}")
        opened = head.get("opened_at")
        return InShort(
            job,
            row["sha256"],
            datetime.fromisoformat(row["saved_at"]),
            datetime.fromisoformat(opened) if opened else None,
            head.get("number"),
            head.get("registration"),
            head.get("technician"),
            *(row[key] or 0 for key in ("notes", "facts", "to_check", "gaps", "loose_ends")),
        )

    def record_with(self, sha256: str) -> StoredRecord | None:
        """The saved record whose record.json has that digest."""
        return self._stored("SELECT * FROM records WHERE sha256 = ? ORDER BY job LIMIT 1", sha256)

    def _stored(self, sql: str, value: str) -> StoredRecord | None:
        with self._told():
            row = self._one(sql, value)
        if row is None:
            return None
        return StoredRecord(row["job"], row["json"], row["sha256"], datetime.fromisoformat(row["saved_at"]))

    def search(self, text: str, *, limit: int = 50) -> tuple[Hit, ...]:
        """Facts of all jobs that hold every word of `text`, in what was heard or how it was read.

        The best come first. Words match by their beginning and by their English stem; any text is allowed,
        and one without words finds nothing.
        """
        query = _search_query(text)
        if not query:
            return ()
        with self._told():
            # the best are chosen within the index, before a row of the table is touched
            rows = list(
                self._db.query(
                    "SELECT job, fact AS fact_id, kind, status, quote, text, note, start_s "
                    "FROM (SELECT rowid AS hit, rank AS place FROM facts_fts WHERE facts_fts MATCH ? "
                    "ORDER BY rank LIMIT ?) JOIN facts ON facts.id = hit ORDER BY place, id",
                    [query, limit],
                )
            )
        return tuple(Hit(**row) for row in rows)

    # --- decisions -------------------------------------------------------------------------------

    def decide(self, job: str, decision: Decision) -> Decision:
        """Add a decision on a fact of a job that was filed before; it comes back with its id.

        ValueError if it takes back a decision on another fact.
        """
        (made,) = self.decide_all(job, [decision])
        return made

    def decide_all(self, job: str, decisions: Sequence[Decision]) -> tuple[Decision, ...]:
        """Add what a person did in one go, all of it or nothing: half a merger would count a part twice."""
        with self._told(), writing(self._db):
            self._check_not_deleted(job)
            return tuple(self._decided(job, decision) for decision in decisions)

    def _decided(self, job: str, decision: Decision) -> Decision:
        if decision.undoes is not None:
            undone = self._one("SELECT job, fact FROM decisions WHERE id = ?", decision.undoes)
            if undone is None or (undone["job"], undone["fact"]) != (job, decision.fact_id):
                raise ValueError(f"there is no decision {decision.undoes} on {decision.fact_id} to take back")
        cursor = self._db.execute(
            "INSERT INTO decisions (job, fact, who, at, action, before, after, undoes) "
            "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [
                job,
                decision.fact_id,
                decision.who,
                decision.at.isoformat(),
                decision.action,
                None if decision.before is None else _compact(decision.before),
                None if decision.after is None else _compact(decision.after),
                decision.undoes,
            ],
        )
        journal.append(self._db, "decision", {"job": job, "id": cursor.lastrowid})
        return replace(decision, id=cursor.lastrowid)

    def decisions(self, job: str) -> tuple[Decision, ...]:
        """Every decision ever made on the job, in order, also those that were taken back."""
        sql = "SELECT * FROM decisions WHERE job = ? ORDER BY id"
        with self._told():
            return tuple(
                Decision(
                    fact_id=row["fact"],
                    who=row["who"],
                    at=datetime.fromisoformat(row["at"]),
                    action=row["action"],
                    before=self._fact_back(row["id"], row["before"]),
                    after=self._fact_back(row["id"], row["after"]),
                    undoes=row["undoes"],
                    id=row["id"],
                )
                for row in self._db.query(sql, [job])
            )

    def decision_count(self, job: str) -> int:
        """How many decisions were ever made on the job. As none is changed, more tell that one was added."""
        with self._told():
            (count,) = self._db.execute("SELECT count(*) FROM decisions WHERE job = ?", [job]).fetchone()
        return int(count)

    def state(self, job: str, entries: Sequence[StatedEntry]) -> tuple[StatedEntry, ...]:
        """Add what a person states of a job, all of it or nothing; it comes back with its ids."""
        made = []
        with self._told(), writing(self._db):
            self._check_not_deleted(job)
            for entry in entries:
                cursor = self._db.execute(
                    "INSERT INTO stated (job, key, who, at, action, before, after, file) "
                    "VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
                    [
                        *(job, entry.key, entry.who, entry.at.isoformat(), entry.action),
                        *(_optional(value) for value in (entry.before, entry.after, entry.file)),
                    ],
                )
                journal.append(self._db, "statement", {"job": job, "id": cursor.lastrowid})
                made.append(replace(entry, id=cursor.lastrowid))
        return tuple(made)

    def stated(self, job: str) -> tuple[StatedEntry, ...]:
        """All that was ever stated of the job by hand, in order, also what counts no more."""
        sql = "SELECT * FROM stated WHERE job = ? ORDER BY id"
        with self._told():
            return tuple(
                StatedEntry(
                    row["key"],
                    row["who"],
                    datetime.fromisoformat(row["at"]),
                    _entry(row["before"]),
                    _entry(row["after"]),
                    _entry(row["file"]),
                    row["action"],
                    row["id"],
                )
                for row in self._db.query(sql, [job])
            )

    def _fact_back(self, decision_id: int, text: str | None) -> Fact | None:
        if text is None:
            return None
        try:
            return record_json.facts_from_json([json.loads(text)])[0]
        except JobnotesError as error:
            raise JobnotesError(
                str(self.folder / NAME), f"decision {decision_id} is damaged", "put back the latest backup"
            ) from error

    # --- the journal -----------------------------------------------------------------------------

    def documents_drawn(self, job: str, record_sha256: str, documents: Mapping[str, str]) -> Head:
        """Journal the documents that were drawn from a record, by name the SHA-256 of each; the last entry.

        The same bytes drawn again from the same record add nothing. Where the workshop has a signing key, it
        signs the journal up to here. Called before anybody can see the documents: so each document that is
        out is journalled.
        """
        said = {
            "job": job,
            "record": record_sha256,
            "documents": [{"name": name, "sha256": sha256} for name, sha256 in sorted(documents.items())],
        }
        with self._told(), writing(self._db):
            self._check_not_deleted(job)
            if not any(
                all(entry.said[key] == value for key, value in said.items())
                for entry in journal.entries(self._db, kind="documents", job=job)
            ):
                journal.append(self._db, "documents", said)
            return self._sign()

    def journal_head(self) -> Head:
        """The last entry of the journal."""
        with self._told():
            return journal.head(self._db)

    def journal_entries(self, job: str | None = None) -> tuple[JournalEntry, ...]:
        """The journal, or what it has of one job."""
        with self._told():
            return tuple(journal.entries(self._db, job=job))

    def journal_entry(self, number: int) -> JournalEntry | None:
        with self._told():
            return journal.entry(self._db, number)

    def drawn_as(self, sha256: str) -> JournalEntry | None:
        """The last entry that has a document of that digest; None if it was never drawn here."""
        return self._journalled(
            "SELECT max(number) FROM journal, json_each(entry, '$.documents') AS document "
            "WHERE kind = 'documents' AND json_extract(document.value, '$.sha256') = ?",
            sha256,
        )

    def drew_from(self, record_sha256: str) -> JournalEntry | None:
        """The last entry of documents that were drawn from the record of that digest."""
        return self._journalled(
            "SELECT max(number) FROM journal "
            "WHERE kind = 'documents' AND json_extract(entry, '$.record') = ?",
            record_sha256,
        )

    def had_record(self, sha256: str) -> JournalEntry | None:
        """The last entry by which a record of that digest was saved, whether it is still kept or not."""
        return self._journalled(
            "SELECT max(number) FROM journal WHERE kind = 'record' AND json_extract(entry, '$.record') = ?",
            sha256,
        )

    def deletion_of(self, job: str) -> JournalEntry | None:
        """The entry by which the job was deleted."""
        return self._journalled("SELECT max(number) FROM journal WHERE kind = 'deletion' AND job = ?", job)

    def deletions(self) -> tuple[JournalEntry, ...]:
        """Every deletion there was."""
        with self._told():
            return tuple(journal.entries(self._db, kind="deletion"))

    def deleted_originals(self) -> dict[str, JournalEntry]:
        """By digest, the deletion of each original that is gone; nothing where the journal is damaged."""
        try:
            return {sha256: entry for entry in self.deletions() for sha256 in entry.said["originals"]}
        except (ValueError, LookupError, TypeError, sqlite3.OperationalError):
            return {}  # what is wrong with it, the journal's own check says

    def signatures(self) -> tuple[Signature, ...]:
        """Every signature of the journal, in the order of the entries."""
        with self._told():
            return signing.signatures(self._db)

    def _journalled(self, sql: str, value: str) -> JournalEntry | None:
        with self._told():
            (number,) = self._db.execute(sql, [value]).fetchone()
            return None if number is None else journal.entry(self._db, number)

    def _sign(self) -> Head:
        """Within a transaction: sign the last entry, if there is a key."""
        last = journal.head(self._db)
        key = signing.key_in(self.folder)
        if key is not None and last.number:
            signing.sign(self._db, key, last)
        return last

    # --- deletion --------------------------------------------------------------------------------

    def delete_job(self, job: str, who: str) -> Deleted:
        """Delete all that is kept of a job, but for the entries of the journal; KeyError if there is none.

        What another job has too stays. Who calls is alone with the job.
        """
        return self._delete(lambda: deletion.delete_job(self._db, job, who))

    def delete_unfiled(self, who: str, before: datetime) -> Deleted:
        """Delete the originals that belong to no job and were kept before that time."""
        return self._delete(lambda: deletion.delete_unfiled(self._db, who, before))

    def _delete(self, delete: Callable[[], Deleted]) -> Deleted:
        """The rows and the signed entry in one transaction, then the files and the database's log."""
        with self._told():
            with writing(self._db):
                deleted = delete()
                self._sign()
            deletion.finish(self._db, self.media)
            deletion.empty_log(self._db)
        return deleted

    def forget_deleted(self) -> None:
        """Write the database's file anew, so that nothing is left in it of what was ever deleted or replaced.

        It takes as much room again, and a second for some hundred megabytes.
        """
        with self._told():
            deletion.write_anew(self._db)

    def jobs_where(self, key: Literal["customer", "number"], value: str) -> tuple[str, ...]:
        """The jobs whose record names that customer or number, whatever the case and gaps of its letters."""
        said = " ".join(value.split()).casefold()
        sql = f"SELECT job, json_extract(json, '$.job.{key}') AS said FROM records ORDER BY job"
        with self._told():
            return tuple(
                row["job"]
                for row in self._db.query(sql)
                if isinstance(row["said"], str) and " ".join(row["said"].split()).casefold() == said
            )

    def has_job(self, job: str) -> bool:
        """Whether there is a job of that id, which may have been deleted."""
        with self._told():
            return self._one("SELECT 1 AS known FROM jobs WHERE id = ?", job) is not None

    def _check_not_deleted(self, job: str) -> None:
        gone = self.deletion_of(job)
        if gone is not None:
            raise JobnotesError(f"job {job}", deletion.told(gone), "take its recordings in as a new job")

    # --- whether all of it still fits ------------------------------------------------------------

    def verify(
        self, sha256s: Sequence[str] | None = None, progress: Callable[[int, int], None] | None = None
    ) -> Iterator[Misfit]:
        """What no longer fits: the database's own order, then originals missing or changed, then records.

        `sha256s` limits the originals to those, and leaves out the records. `progress` is told how many of
        how many originals were read.
        """
        with self._told():
            for (said,) in self._db.execute("PRAGMA integrity_check(10)").fetchall():
                if said != "ok":
                    yield Misfit(NAME, f"damaged: {said}")
            for table, *_ in self._db.execute("PRAGMA foreign_key_check").fetchall():
                yield Misfit(NAME, f"a row of {table} refers to nothing")
            kept = {r["sha256"]: r["file"] for r in self._db.query("SELECT sha256, file FROM originals")}
        gone = self.deleted_originals()
        wanted = list(kept) if sha256s is None else sorted(set(sha256s))
        for count, sha256 in enumerate(wanted, start=1):
            name = kept.get(sha256, sha256)
            if sha256 in gone and sha256 not in kept:
                yield Misfit(name, deletion.told(gone[sha256]))
                continue
            try:
                self.media.path_of(sha256)
            except KeyError:
                yield Misfit(name, f"its original is missing from the library ({sha256})")
            else:
                if not self.media.fits(sha256):
                    yield Misfit(name, f"its original is no longer what was taken in ({sha256})")
            if progress is not None:
                progress(count, len(wanted))
        if sha256s is None:
            with self._told():
                for row in self._db.query("SELECT job, json, sha256 FROM records ORDER BY job"):
                    if digest_of(row["json"]) != row["sha256"]:
                        yield Misfit(f"record of {row['job']}", "is no longer what was saved")

    def verify_journal(self, progress: Callable[[int, int], None] | None = None) -> tuple[Misfit, ...]:
        """What doesn't fit the journal; `progress` is told how many of how many entries were read."""
        with self._told():
            self._db.execute("BEGIN")  # one view of it, whatever is added meanwhile
            try:
                return tuple(journal_check.misfits(self._db, progress))
            finally:
                self._db.rollback()

    # --- small things ----------------------------------------------------------------------------

    def _told(self) -> AbstractContextManager[None]:
        return told_plainly(self.folder / NAME)

    def _one(self, sql: str, *values: object, **named: object) -> dict[str, Any] | None:
        rows = list(self._db.query(sql, named or list(values)))
        return rows[0] if rows else None


def _elsewhere(given: GivenFile, owner: str | None, job: str) -> Problem:
    return Problem(
        given.file,
        f"already belongs to job {owner}, but lies with recordings of job {job}; "
        "take it out of one of the two folders",
    )


def _job_ids(sha256: str) -> Iterator[str]:
    """What a job that begins with that recording may be called: as short as is free.

    From the digest, so that a library that was lost and made again gives the same ids.
    """
    return (f"J{sha256[:digits]}" for digits in range(_JOB_ID_DIGITS, len(sha256) + 1))


def digest_of(text: str) -> str:
    """SHA-256 of `text` in UTF-8, as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _now() -> str:
    return datetime.now(UTC).isoformat()


def _compact(value: object) -> str:
    return json.dumps(record_json.to_json(value), ensure_ascii=False, separators=(",", ":"), sort_keys=True)


def _entry(text: str | None) -> Entry | None:
    entry: Entry | None = None if text is None else json.loads(text)
    return entry


def _optional(value: object) -> str | None:
    return None if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True)


def _storable(name: str) -> str:
    """A file name as text; bytes of it that are no UTF-8 come out escaped, not as an error."""
    return name.encode("utf-8", "backslashreplace").decode("utf-8")


def _fact_row(job: str, fact: Fact) -> dict[str, object]:
    return {
        "job": job,
        "fact": fact.id,
        "kind": fact.kind,
        "status": fact.status,
        "quote": fact.quote,
        "text": _search_text(fact),
        "note": fact.note,
        "start_s": fact.start_s,
        "json": _compact(fact),
    }


def _search_text(fact: Fact) -> str:
    """What the fact says, as words; numbers in groups also without their gaps ("A 12-3" as "A123")."""
    said = [text for text in _leaves(record_json.to_json(fact.detail)) if text != fact.kind]
    joined = [_joined(text) for text in said if any(c.isdigit() for c in text)]
    return " ".join(dict.fromkeys(said + joined))


def _leaves(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for inner in value.values():
            yield from _leaves(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _leaves(inner)
    else:
        yield str(value)


def _joined(text: str) -> str:
    return re.sub(r"[\W_]+", "", text)


def _search_query(text: str) -> str:
    """`text` as an FTS5 query that can't be malformed: each word a quoted prefix, all of them wanted.

    https://www.sqlite.org/fts5.html#full_text_query_syntax
    """
    # the tokeniser, not this function, says what a word is: only what would end a quoted string goes
    plain = text.encode("utf-8", "ignore").decode("utf-8").replace('"', " ").replace("\0", " ")
    words = plain.split()[:_MOST_SEARCH_WORDS]
    query = " ".join(f'"{word}"*' for word in words)
    joined = "".join(_joined(word) for word in words)
    if len(words) > 1 and any(c.isdigit() for c in joined):
        # a number may have been said, or be typed, in other groups
        query = f'({query}) OR "{joined}"*'
    return query

"""The journal: what was taken in, decided, stated, drawn and deleted, one entry each, in one chain.

An entry is a JSON object in canonical form (RFC 8785). It names its number, its time by this machine's clock,
its kind, and the SHA-256 of the entry before it, so that none can be changed, left out or put in between
without every later one showing it. The database refuses to change or delete an entry, or to add one that
doesn't follow the last.

What an entry is about lies in a row elsewhere. The entry holds a digest of that row with a salt ("sealed"):
who deletes the row and its salt deletes what was said, and the chain stays whole. Functions that write are
called within the transaction that writes what they journal.
"""

from __future__ import annotations

import hashlib
import json
import secrets
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any, Literal

import rfc8785
from sqlite_utils import Database

Kind = Literal["original", "filed", "added", "decision", "statement", "record", "documents", "deletion"]
BEFORE_THE_FIRST = "0" * 64
"""What the first entry names as the digest of the one before it."""

_SALT_BYTES = 16


@dataclass(frozen=True, slots=True)
class Sealed:
    """Which row an entry of some kind is about: its table, what identifies it, and the columns that count.

    `key` are the columns by which it is found, under the names that they have in the entry; `columns` never
    change, whatever a later schema adds to the table.
    """

    table: str
    key: Mapping[str, str]
    columns: tuple[str, ...]


SEALED: dict[str, Sealed] = {
    "original": Sealed("originals", {"original": "sha256"}, ("sha256", "kind", "bytes", "file", "kept_at")),
    "added": Sealed("additions", {"job": "job", "original": "original"}, ("job", "original", "who", "at")),
    "decision": Sealed(
        "decisions",
        {"job": "job", "id": "id"},
        ("id", "job", "fact", "who", "at", "action", "before", "after", "undoes"),
    ),
    "statement": Sealed(
        "stated",
        {"job": "job", "id": "id"},
        ("id", "job", "key", "who", "at", "action", "before", "after", "file"),
    ),
}


@dataclass(frozen=True, slots=True)
class Head:
    """The last entry: its number, 0 where there is none yet, and its digest."""

    number: int
    sha256: str

    def __str__(self) -> str:
        return f"{self.number}:{self.sha256}"


@dataclass(frozen=True, slots=True)
class Entry:
    """One entry as stored: `text` is its canonical form, `said` the same parsed."""

    number: int
    text: str
    sha256: str
    said: Mapping[str, Any]

    @property
    def kind(self) -> str:
        return str(self.said["kind"])

    @property
    def at(self) -> datetime:
        return datetime.fromisoformat(self.said["at"])


def canonical(value: object) -> bytes:
    """`value` as canonical JSON (RFC 8785), in UTF-8."""
    return rfc8785.dumps(value)  # type: ignore[arg-type]


def digest(content: bytes) -> str:
    """SHA-256, as 64 lower-case hexadecimal digits."""
    return hashlib.sha256(content).hexdigest()


def sealed(row: Mapping[str, object], salt: str) -> str:
    """The digest of a row of the database with its salt; what is NULL is left out."""
    return digest(canonical(_sealed(row, salt)))


def _sealed(row: Mapping[str, object], salt: str) -> dict[str, object]:
    return {"row": {key: value for key, value in row.items() if value is not None}, "salt": salt}


def is_canonical(said: object, text: str) -> bool:
    """True if `text` is the canonical form of what it says."""
    return quickly(said) == text or canonical(said) == text.encode("utf-8")


def is_sealed(row: Mapping[str, object], salt: str, said: str) -> bool:
    """True if the row and its salt have that digest."""
    return digest(quickly(_sealed(row, salt)).encode("utf-8")) == said or sealed(row, salt) == said


#: The canonical form, in a fifth of the time, of text, whole numbers, lists and objects of them with ASCII
#: keys. It is enough to read by: what differs is compared with `canonical`.
quickly = json.JSONEncoder(ensure_ascii=False, separators=(",", ":"), sort_keys=True).encode


def head(db: Database) -> Head:
    """The last entry of the journal."""
    row = db.execute("SELECT number, sha256 FROM journal ORDER BY number DESC LIMIT 1").fetchone()
    return Head(*row) if row else Head(0, BEFORE_THE_FIRST)


def append(db: Database, kind: Kind, said: Mapping[str, object], *, carried_over: bool = False) -> Head:
    """Add one entry; `said` is what it holds besides what every entry has.

    Where its kind has a row (`SEALED`), that row is there already. `carried_over` marks what was in the
    library before there was a journal.
    """
    last = head(db)
    number = last.number + 1
    entry: dict[str, object] = {
        "number": number,
        "previous": last.sha256,
        "at": datetime.now(UTC).isoformat(),
        "kind": kind,
        **said,
    }
    if carried_over:
        entry["carried_over"] = True
    salt = None
    if kind in SEALED:
        salt = secrets.token_hex(_SALT_BYTES)
        row = row_of(db, kind, said)
        assert row is not None
        entry["sealed"] = sealed(row, salt)
    text = canonical(entry)
    made = Head(number, digest(text))
    db.execute(
        "INSERT INTO journal (number, entry, sha256) VALUES (?, ?, ?)",
        [number, text.decode("utf-8"), made.sha256],
    )
    if salt is not None:
        db.execute("INSERT INTO journal_salts (number, salt) VALUES (?, ?)", [number, salt])
    return made


def row_of(db: Database, kind: str, said: Mapping[str, Any]) -> dict[str, object] | None:
    """The row that an entry of that kind is about; None if it isn't there."""
    shape = SEALED[kind]
    where = " AND ".join(f'"{column}" = ?' for column in shape.key.values())
    columns = ", ".join(f'"{column}"' for column in shape.columns)
    found = db.execute(
        f"SELECT {columns} FROM {shape.table} WHERE {where}", [said.get(name) for name in shape.key]
    ).fetchone()
    return None if found is None else dict(zip(shape.columns, found, strict=True))


def entries(db: Database, *, kind: Kind | None = None, job: str | None = None) -> Iterator[Entry]:
    """The entries in their order: all of them, of one kind, of one job."""
    wanted = [(column, value) for column, value in (("kind", kind), ("job", job)) if value is not None]
    where = " AND ".join(f"{column} = ?" for column, _ in wanted) or "1"
    for number, text, sha256 in db.execute(
        f"SELECT number, entry, sha256 FROM journal WHERE {where} ORDER BY number", [v for _, v in wanted]
    ):
        yield Entry(number, text, sha256, json.loads(text))


def entry(db: Database, number: int) -> Entry | None:
    """The entry of that number."""
    row = db.execute("SELECT entry, sha256 FROM journal WHERE number = ?", [number]).fetchone()
    return None if row is None else Entry(number, row[0], row[1], json.loads(row[0]))


def make(db: Database) -> None:
    """The journal's tables and what guards them, empty."""
    db.execute(
        """
        CREATE TABLE journal (
            number INTEGER PRIMARY KEY CHECK (number > 0),
            entry TEXT NOT NULL, -- canonical JSON
            sha256 TEXT NOT NULL CHECK (length(sha256) = 64), -- of its UTF-8 form
            kind TEXT GENERATED ALWAYS AS (json_extract(entry, '$.kind')) VIRTUAL,
            job TEXT GENERATED ALWAYS AS (json_extract(entry, '$.job')) VIRTUAL
        )
        """
    )
    db.execute("CREATE INDEX journal_by_job ON journal (job, kind) WHERE job IS NOT NULL")
    db.execute("CREATE INDEX journal_by_kind ON journal (kind)")
    db.execute(
        """
        CREATE TABLE journal_salts (
            number INTEGER PRIMARY KEY REFERENCES journal(number),
            salt TEXT NOT NULL
        )
        """
    )
    db.execute(
        """
        CREATE TABLE journal_signatures (
            number INTEGER NOT NULL REFERENCES journal(number),
            public_key TEXT NOT NULL, -- Ed25519, hexadecimal (RFC 8032)
            signature TEXT NOT NULL, -- hexadecimal
            PRIMARY KEY (number, public_key)
        ) WITHOUT ROWID
        """
    )
    # which files are still to be removed, after the transaction in which they were deleted
    db.execute("CREATE TABLE to_remove (original TEXT PRIMARY KEY) WITHOUT ROWID")
    for table in ("journal", "journal_signatures"):
        for event in ("UPDATE", "DELETE"):
            _forbid(db, f"{table}_no_{event.lower()}", f"BEFORE {event} ON {table}", _NEVER)
    _forbid(db, "journal_salts_no_update", "BEFORE UPDATE ON journal_salts", _NEVER)
    _forbid(
        db,
        "journal_salts_no_delete",
        "BEFORE DELETE ON journal_salts WHEN NOT EXISTS (SELECT 1 FROM journal, "
        "json_each(entry, '$.entries') AS gone WHERE kind = 'deletion' AND gone.value = OLD.number)",
        _NEVER,
    )
    # INSERT OR REPLACE would delete the old row without asking the triggers above
    for table, same in (
        ("journal_salts", "number = NEW.number"),
        ("journal_signatures", "number = NEW.number AND public_key = NEW.public_key"),
    ):
        _forbid(
            db,
            f"{table}_no_replace",
            f"BEFORE INSERT ON {table} WHEN EXISTS (SELECT 1 FROM {table} WHERE {same})",
            _NEVER,
        )
    _forbid(
        db,
        "journal_in_order",
        "BEFORE INSERT ON journal WHEN NEW.number IS NOT (SELECT coalesce(max(number), 0) + 1 FROM journal) "
        "OR json_extract(NEW.entry, '$.number') IS NOT NEW.number "
        "OR json_extract(NEW.entry, '$.previous') IS NOT coalesce("
        f"(SELECT sha256 FROM journal ORDER BY number DESC LIMIT 1), '{BEFORE_THE_FIRST}')",
        "an entry of the journal follows the last one",
    )
    for table, said in (("decisions", "a decision"), ("stated", "what was stated")):
        # only what a deletion names may go, and only after the journal has it
        db.execute(f"DROP TRIGGER {table}_no_delete")
        _forbid(
            db,
            f"{table}_no_delete",
            f"BEFORE DELETE ON {table} WHEN NOT EXISTS "
            "(SELECT 1 FROM journal WHERE kind = 'deletion' AND job = OLD.job)",
            f"{said} is never changed",
        )


_NEVER = "the journal is never changed"


def _forbid(db: Database, name: str, when: str, said: str) -> None:
    db.execute(f"CREATE TRIGGER {name} {when} BEGIN SELECT RAISE(ABORT, '{said}'); END")


def carry_over(db: Database) -> None:
    """Entries for all that a library holds already, marked as such: the order is the rows' own."""
    rows: Sequence[tuple[Kind, str, tuple[str, ...]]] = (
        ("original", "SELECT sha256 FROM originals ORDER BY kept_at, sha256", ("original",)),
        ("filed", "SELECT job, original, kind FROM job_originals ORDER BY rowid", ("job", "original", "as")),
        ("added", "SELECT job, original FROM additions ORDER BY at, job, original", ("job", "original")),
        ("decision", "SELECT job, id FROM decisions ORDER BY id", ("job", "id")),
        ("statement", "SELECT job, id FROM stated ORDER BY id", ("job", "id")),
        ("record", "SELECT job, sha256 FROM records ORDER BY saved_at, job", ("job", "record")),
    )
    for kind, sql, names in rows:
        for row in db.execute(sql).fetchall():
            append(db, kind, dict(zip(names, row, strict=True)), carried_over=True)

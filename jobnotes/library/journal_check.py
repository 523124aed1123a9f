"""Whether the journal is whole, and whether what lies in the library is what it journalled.

It finds whatever was changed in the database by hand: an entry, a row that an entry is about, a row that no
entry is about, a row that is gone. Who makes the whole chain anew isn't found by the chain itself, but by a
signature, or by somebody who has noted an earlier entry's digest.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from sqlite_utils import Database

from jobnotes.library import journal
from jobnotes.library.journal import SEALED, Entry, Head
from jobnotes.library.media import Misfit

JOURNAL = "journal"
_EVERY = 5000
"""Entries between two reports of progress."""


@dataclass(slots=True)
class _Seen:
    """What the entries have told so far."""

    #: by kind, the keys of the rows that live entries are about
    rows: dict[str, set[tuple[Any, ...]]] = field(default_factory=lambda: {kind: set() for kind in SEALED})
    filed: set[tuple[str, str]] = field(default_factory=set)
    records: dict[str, str] = field(default_factory=dict)


def misfits(db: Database, progress: Callable[[int, int], None] | None = None) -> Iterator[Misfit]:
    """What doesn't fit, in the order of the entries, then the rows that no entry is about.

    Who calls holds a transaction, so that nothing is added meanwhile.
    """
    count = journal.head(db).number
    last = Head(0, journal.BEFORE_THE_FIRST)
    gone: set[int] = set()
    for number, text, sha256 in db.execute("SELECT number, entry, sha256 FROM journal ORDER BY number"):
        said = _parsed(text)
        broken = _broken(number, text, sha256, said, last)
        if broken is not None or said is None:
            # what follows a break is no longer known to be what it was
            yield Misfit(f"{JOURNAL} entry {number}", broken or _NOT_CANONICAL)
            return
        last = Head(number, sha256)
        if said["kind"] == "deletion":
            gone.update(said["entries"])
    seen = _Seen()
    for entry in journal.entries(db):
        if entry.number not in gone:
            found = _against_row(db, entry, seen)
            if found is not None:
                yield found
        if progress is not None and (entry.number % _EVERY == 0 or entry.number == count):
            progress(entry.number, count)
    yield from _unjournalled(db, seen)


_NOT_CANONICAL = "is not in canonical form (RFC 8785)"


def _parsed(text: object) -> dict[str, Any] | None:
    """The entry, if it is one: canonical, and with what its kind has."""
    try:
        if not isinstance(text, str):
            return None
        said = json.loads(text)
        if not isinstance(said, dict) or not journal.is_canonical(said, text):
            return None
    except (ValueError, RecursionError):
        return None
    return said


def _broken(number: int, text: str, sha256: str, said: dict[str, Any] | None, last: Head) -> str | None:
    if number != last.number + 1:
        return f"follows entry {last.number}; what was between them is gone"
    if not isinstance(text, str) or journal.digest(text.encode("utf-8", "replace")) != sha256:
        return "is no longer what was written"
    if said is None:
        return _NOT_CANONICAL
    if said.get("number") != number or said.get("previous") != last.sha256:
        return "doesn't follow the entry before it: one of the two was changed, or some were left out"
    if not _is_time(said.get("at")):
        return "doesn't say when it was written"
    if any(not isinstance(said.get(key), kind) for key, kind in _SHAPES.get(said.get("kind"), _NO_KIND)):
        return "is no entry as this version writes them"
    return None


def _is_time(said: object) -> bool:
    try:
        return isinstance(said, str) and datetime.fromisoformat(said).tzinfo is not None
    except ValueError:
        return False


#: what an entry of each kind has
_NO_KIND = (("kind", dict),)  # which no kind is
_ROW = (("job", str), ("id", int), ("sealed", str))
_SHAPES: Mapping[object, tuple[tuple[str, type], ...]] = {
    "original": (("original", str), ("sealed", str)),
    "filed": (("job", str), ("original", str)),
    "added": (("job", str), ("original", str), ("sealed", str)),
    "decision": _ROW,
    "statement": _ROW,
    "record": (("job", str), ("record", str)),
    "documents": (("job", str), ("record", str), ("documents", list)),
    "deletion": (("by", str), ("originals", list), ("entries", list)),
}


def _against_row(db: Database, entry: Entry, seen: _Seen) -> Misfit | None:
    """What isn't right with the row that the entry is about."""
    said, kind = entry.said, entry.kind
    if kind == "filed":
        seen.filed.add((said["job"], said["original"]))
        sql = "SELECT 1 FROM job_originals WHERE job = ? AND original = ?"
        if db.execute(sql, [said["job"], said["original"]]).fetchone() is None:
            return Misfit(_named(entry), f"is no longer there, but entry {entry.number} has it")
    if kind == "record":
        seen.records[said["job"]] = said["record"]
    if kind not in SEALED:
        return None
    row = journal.row_of(db, kind, said)
    if row is None:
        return Misfit(_named(entry), f"is no longer there, but entry {entry.number} has it")
    seen.rows[kind].add(tuple(said[name] for name in SEALED[kind].key))
    salt = db.execute("SELECT salt FROM journal_salts WHERE number = ?", [entry.number]).fetchone()
    if salt is None or not journal.is_sealed(row, salt[0], said["sealed"]):
        return Misfit(_named(entry), f"is no longer what entry {entry.number} has")
    return None


def _unjournalled(db: Database, seen: _Seen) -> Iterator[Misfit]:
    for kind, shape in SEALED.items():
        columns = ", ".join(f'"{column}"' for column in shape.key.values())
        for key in db.execute(f"SELECT {columns} FROM {shape.table} ORDER BY {columns}"):
            if tuple(key) not in seen.rows[kind]:
                yield Misfit(_about(kind, dict(zip(shape.key, key, strict=True))), _NO_ENTRY)
    for job, original in db.execute("SELECT job, original FROM job_originals ORDER BY job, original"):
        if (job, original) not in seen.filed:
            yield Misfit(_about("filed", {"job": job, "original": original}), _NO_ENTRY)
    for job, sha256 in db.execute("SELECT job, sha256 FROM records ORDER BY job"):
        if seen.records.get(job) != sha256:
            yield Misfit(_about("record", {"job": job}), "is not the one that was last journalled")


_NO_ENTRY = "is in no entry of the journal"


def _named(entry: Entry) -> str:
    return _about(entry.kind, entry.said)


def _about(kind: str, said: Mapping[str, Any]) -> str:
    match kind:
        case "original":
            return f"original {said['original']}"
        case "filed":
            return f"original {said['original']} in job {said['job']}"
        case "added":
            return f"original {said['original']}, added to job {said['job']}"
        case "record":
            return f"record of {said['job']}"
        case _:
            return f"{kind} {said['id']} on job {said['job']}"

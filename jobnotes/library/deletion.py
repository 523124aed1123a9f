"""Deleting what a customer, or the law, wants deleted, while the journal's chain stays whole.

The journal keeps the digests of what is gone, who deleted it and when; its salts go with the rows, so that
nothing can be guessed from a digest. The rows go in one transaction with the entry that names them. The files
follow: what was not yet removed when a process was killed is removed when the library is next opened.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from sqlite_utils import Database

from jobnotes.errors import JobnotesError
from jobnotes.library import journal
from jobnotes.library.database import writing
from jobnotes.library.journal import Entry
from jobnotes.library.media import MediaStore

#: what stays of a job when it is deleted: its id, which says nothing of anybody, and the journal
_STAYS = ("jobs", "originals", "journal", "journal_salts", "journal_signatures", "to_remove")


@dataclass(frozen=True, slots=True)
class Deleted:
    """What was deleted: the job, if it was one, its originals, and how many rows were about them."""

    job: str | None
    originals: tuple[str, ...]
    rows: int
    shared: int = 0
    """Originals of the job that stay, because another job has them too."""


def delete_job(db: Database, job: str, who: str) -> Deleted:
    """Within a transaction: delete all rows of a job and mark its files. KeyError if there is no such job."""
    if db.execute("SELECT 1 FROM jobs WHERE id = ?", [job]).fetchone() is None:
        raise KeyError(job)
    again = db.execute("SELECT 1 FROM journal WHERE kind = 'deletion' AND job = ?", [job]).fetchone()
    if again is not None:
        raise JobnotesError(f"job {job}", "was deleted already", "there is nothing left to delete")
    filed = [row[0] for row in db.execute("SELECT original FROM job_originals WHERE job = ?", [job])]
    own = [
        original
        for original in filed
        if db.execute(
            "SELECT 1 FROM job_originals WHERE original = ? AND job <> ?", [original, job]
        ).fetchone()
        is None
    ]
    about = db.execute(
        "SELECT number FROM journal WHERE job = ? AND kind NOT IN ('record', 'documents')", [job]
    ).fetchall()
    _tombstone(db, who, own, [number for (number,) in about], job=job)
    rows = _delete_rows(db, "jobs", "job", [job]) + _delete_originals(db, own)
    # the index for searching keeps deleted words until it is made anew
    db.execute("INSERT INTO facts_fts (facts_fts) VALUES ('rebuild')")
    return Deleted(job, tuple(own), rows, len(filed) - len(own))


def delete_unfiled(db: Database, who: str, before: datetime) -> Deleted:
    """Within a transaction: delete the originals of no job, such as damaged ones, kept before that time."""
    rows = db.execute(
        "SELECT sha256, kept_at FROM originals WHERE sha256 NOT IN (SELECT original FROM job_originals) "
        "ORDER BY sha256"
    ).fetchall()
    own = [sha256 for sha256, kept_at in rows if datetime.fromisoformat(kept_at) < before]
    if not own:
        return Deleted(None, (), 0)
    _tombstone(db, who, own, [])
    return Deleted(None, tuple(own), _delete_originals(db, own))


def finish(db: Database, media: MediaStore) -> None:
    """Remove the files of what was deleted."""
    if db.execute("SELECT 1 FROM to_remove LIMIT 1").fetchone() is None:
        return
    # while this process has the right to write, no other can be keeping the same original again
    with writing(db):
        for (original,) in db.execute("SELECT original FROM to_remove").fetchall():
            if db.execute("SELECT 1 FROM originals WHERE sha256 = ?", [original]).fetchone() is None:
                try:
                    media.remove(original)
                except OSError as error:
                    raise JobnotesError(
                        str(media.folder),
                        f"a deleted original can't be removed ({error.strerror})",
                        "change the rights of that folder, then open the library again",
                    ) from error
        db.execute("DELETE FROM to_remove")
    empty_log(db)


def empty_log(db: Database) -> None:
    """Empty the database's log, which holds what was deleted; not while another process reads."""
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()


def write_anew(db: Database) -> None:
    """Write the database's file anew, without the pages that are free: earlier records may lie there."""
    db.execute("VACUUM")
    empty_log(db)


def told(deletion: Entry) -> str:
    """When and by whom, for a person."""
    return f"was deleted on {deletion.at.date().isoformat()} by {deletion.said['by']}"


def _tombstone(
    db: Database, who: str, originals: Iterable[str], entries: Iterable[int], *, job: str | None = None
) -> None:
    if not who.strip():
        raise ValueError("a deletion needs the person who asked for it")
    own = list(originals)
    kept = [
        number
        for (number,) in db.execute(
            "SELECT number FROM journal, json_each(?) AS own WHERE kind = 'original' "
            "AND json_extract(entry, '$.original') = own.value "
            "AND number IN (SELECT number FROM journal_salts)",
            [journal.canonical(own).decode()],
        )
    ]
    gone = sorted({*entries, *kept})
    said: dict[str, object] = {"by": who, "originals": own, "entries": gone}
    if job is not None:
        said["job"] = job
    journal.append(db, "deletion", said)
    # freed pages are overwritten, in the index for searching too
    db.execute("PRAGMA secure_delete = ON")
    for number in gone:
        db.execute("DELETE FROM journal_salts WHERE number = ?", [number])


def _delete_originals(db: Database, originals: list[str]) -> int:
    rows = _delete_rows(db, "originals", "original", originals)
    for original in originals:
        db.execute("DELETE FROM originals WHERE sha256 = ?", [original])
        db.execute("INSERT OR IGNORE INTO to_remove VALUES (?)", [original])
    return rows + len(originals)


def _delete_rows(db: Database, refers_to: str, column: str, keys: list[str]) -> int:
    """Delete, in every table that refers to one, the rows of these keys: so a later table isn't forgotten.

    `column` is what the key is called where a table refers to it by way of `job_originals`.
    """
    # whatever the order in which they go, nothing refers to nothing in the end
    db.execute("PRAGMA defer_foreign_keys = ON")
    rows = 0
    for table in db.table_names():
        if table in _STAYS:
            continue
        for _, _, other, own, its, *_ in db.execute(f"PRAGMA foreign_key_list('{table}')").fetchall():
            if other == refers_to or (other == "job_originals" and its == column):
                for key in keys:
                    rows += db.execute(f'DELETE FROM "{table}" WHERE "{own}" = ?', [key]).rowcount
    return rows

"""Whether what lies in a folder still fits: originals, record and documents against each other.

It shows that nothing was changed since the record was drawn up, not that what was recorded is true. A
document is known by the record it names as its source; its own text can be changed without that showing.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import docx

from jobnotes import record_json
from jobnotes.errors import JobnotesError
from jobnotes.library.library import Library, StoredRecord
from jobnotes.library.media import Misfit
from jobnotes.record import Record

RECORD = "record.json"
Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Verification:
    """How much was checked, and every misfit in the order in which it was found."""

    originals: int
    records: int
    documents: int
    misfits: tuple[Misfit, ...]

    @property
    def fits(self) -> bool:
        return not self.misfits


def identifier_of(record_file: bytes) -> str:
    """What a document drawn from that record.json carries as its core property `identifier`."""
    return f"sha256:{hashlib.sha256(record_file).hexdigest()}"


def verify_folder(
    out: Path, library: Path, *, everything: bool = False, progress: Progress | None = None
) -> Verification:
    """Check the record and the documents in `out` and the originals in `library` against each other.

    Only the originals of the record's job are read, unless `everything`. Raises JobnotesError if there is
    nothing that could be checked.
    """
    content = _bytes(out / RECORD)
    documents = _documents(out)
    has_library = library.is_dir()
    if content is None and not documents and not has_library:
        raise JobnotesError(
            str(out),
            "there is nothing to check, neither a record nor documents nor a library",
            "name the folder that jobnotes run wrote, with --out",
        )
    misfits: list[Misfit] = []
    originals = 0
    record = None if content is None else _record(content, misfits)
    if content is None:
        misfits.append(Misfit(RECORD, f"is missing in {out}"))
    if not has_library:
        misfits.append(Misfit(str(library), "there is no library, so no original could be checked"))
    else:
        try:
            with Library.open(library, create=False) as kept:
                originals = _against_library(kept, content, record, misfits, everything, progress)
        except JobnotesError as error:
            misfits.append(Misfit(error.subject, f"{error.reason}; {error.remedy}"))
    for document in documents:
        misfits += _document(document, content)
    return Verification(originals, int(content is not None), len(documents), tuple(misfits))


def _record(content: bytes, misfits: list[Misfit]) -> Record | None:
    try:
        return record_json.from_json(json.loads(content))
    except JobnotesError as error:
        misfits.append(Misfit(RECORD, error.reason))
    except (ValueError, RecursionError):
        misfits.append(Misfit(RECORD, "is not JSON"))
    return None


def _against_library(
    kept: Library,
    content: bytes | None,
    record: Record | None,
    misfits: list[Misfit],
    everything: bool,
    progress: Progress | None,
) -> int:
    """Add what doesn't fit to `misfits`; the number of originals that were read."""
    named: dict[str, str] = {}
    if record is not None:
        named = {n.sha256: n.file for n in record.notes} | {p.sha256: p.file for p in record.photos}
        if record.details is not None:
            named[record.details.sha256] = record.details.file
    stored = None
    if content is not None:
        stored = kept.record_with(hashlib.sha256(content).hexdigest()) or _of_same_job(kept, record)
        misfits += _stored_misfits(content, stored)
    wanted: set[str] | None = None
    if record is not None and not everything:
        wanted = set(named)
        if stored is not None:
            wanted |= {given.sha256 for given in kept.originals(stored.job)}
    read = 0

    def count(done: int, of: int) -> None:
        nonlocal read
        read = done
        if progress is not None:
            progress(done, of)

    misfits += kept.verify(None if wanted is None else sorted(wanted), count)
    if wanted is None:
        for sha256, file in named.items():
            try:
                kept.original(sha256)
            except KeyError:
                misfits.append(
                    Misfit(file, f"the record names it, but the library has no such original ({sha256})")
                )
    return read


def _of_same_job(kept: Library, record: Record | None) -> StoredRecord | None:
    for note in () if record is None else record.notes:
        job = kept.job_of(note.sha256)
        if job is not None:
            return kept.record(job)
    return None


def _stored_misfits(content: bytes, stored: StoredRecord | None) -> list[Misfit]:
    if stored is None:
        return [Misfit(RECORD, "the library keeps no record of this job")]
    if stored.text.encode("utf-8") != content:
        saved = stored.saved_at.isoformat(timespec="seconds")
        return [
            Misfit(RECORD, f"is not the record of job {stored.job} that the library keeps (saved {saved})")
        ]
    return []


def _documents(out: Path) -> list[Path]:
    # "~$…" are the lock files of a document that somebody has open
    return sorted(p for p in out.glob("*.docx") if p.is_file() and not p.name.startswith(("~$", ".")))


def _document(path: Path, content: bytes | None) -> list[Misfit]:
    try:
        said = docx.Document(str(path)).core_properties.identifier
    except Exception:  # whatever the zip or XML reader makes of a damaged file, it is damaged
        return [Misfit(path.name, "can't be opened; make it again with jobnotes run")]
    if not said:
        return [Misfit(path.name, "doesn't say which record it was drawn from")]
    if content is not None and said != identifier_of(content):
        return [Misfit(path.name, f"was drawn from another record than {RECORD} ({said})")]
    return []


def _bytes(path: Path) -> bytes | None:
    try:
        return path.read_bytes()
    except FileNotFoundError:
        return None
    except OSError as error:
        raise JobnotesError(
            str(path),
            f"can't be read ({error.strerror})",
            "name the folder that jobnotes run wrote, with --out",
        ) from error

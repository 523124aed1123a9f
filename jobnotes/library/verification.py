"""Whether what is kept still fits: originals, journal, record and documents against each other.

It shows that nothing was changed since the record was drawn up, not that what was recorded is true; what it
proves and what not is in docs/evidence.md.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import chain
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PublicKey

from jobnotes import record_json
from jobnotes.errors import JobnotesError
from jobnotes.library import deletion, signing
from jobnotes.library.in_hand import DamagedError, Standing, identifier_in, standing
from jobnotes.library.journal import Head, digest
from jobnotes.library.journal_check import JOURNAL
from jobnotes.library.library import Library, StoredRecord
from jobnotes.library.media import Misfit
from jobnotes.record import Record

RECORD = "record.json"
Progress = Callable[[str, int, int], None]
"""Told of what ("originals", "entries") how many of how many were read."""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a check goes by besides what lies in the library: each says what somebody outside of it has kept.

    `everything`: every original of the library is read, not only those of the record's job. `public_key`: the
    workshop's, with which the journal must be signed. `known`: an entry that somebody noted earlier.
    """

    everything: bool = False
    public_key: Ed25519PublicKey | None = None
    known: Head | None = None


@dataclass(frozen=True, slots=True)
class JournalState:
    """The journal's last entry, and up to which entry it is signed: by the given key, else by any."""

    head: Head
    signed: int = 0


@dataclass(frozen=True, slots=True)
class Verification:
    """How much was checked, and every misfit in the order in which it was found.

    `in_hand` is what the library says of each document that was given. `remarks` are no misfits.
    """

    originals: int
    records: int
    documents: int
    misfits: tuple[Misfit, ...]
    journal: JournalState | None = None
    in_hand: tuple[Standing, ...] = ()
    remarks: tuple[str, ...] = ()

    @property
    def fits(self) -> bool:
        return not self.misfits


def identifier_of(record_file: bytes) -> str:
    """What a document drawn from that record.json carries as its core property `identifier`."""
    return f"sha256:{digest(record_file)}"


def verify_folder(
    out: Path, library: Path, asked: Asked | None = None, *, progress: Progress | None = None
) -> Verification:
    """Check the record and the documents in `out` and the originals in `library` against each other.

    Raises JobnotesError if there is nothing that could be checked.
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
    drawn = {path: _document(path, content) for path in documents}
    originals, state = 0, None
    record = None if content is None else _record(content, misfits)
    if content is None:
        misfits.append(Misfit(RECORD, f"is missing in {out}"))
    if not has_library:
        misfits.append(Misfit(str(library), "there is no library, so no original could be checked"))
    else:
        try:
            with Library.open(library, create=False) as kept:
                asked = asked or Asked()
                entries: list[Misfit] = []
                state = _journal(kept, entries, asked, progress)
                originals = _against_library(
                    kept, content, record, misfits, asked.everything, progress, journal=state is not None
                )
                misfits += entries
                if state is not None:
                    for path in documents:
                        drawn[path] = drawn[path] or _altered(path, kept)
        except JobnotesError as error:
            misfits.append(Misfit(error.subject, f"{error.reason}; {error.remedy}"))
    misfits += chain.from_iterable(drawn.values())
    return Verification(
        originals,
        int(content is not None),
        len(documents),
        tuple(misfits),
        state,
        remarks=_may_be_read(library),
    )


def verify_library(
    library: Path,
    documents: Sequence[Path] = (),
    asked: Asked | None = None,
    *,
    progress: Progress | None = None,
) -> Verification:
    """Check the whole library, or, where documents are given, its journal and what it says of each of them.

    Raises JobnotesError if there is no library, or a document can't be read.
    """
    asked = asked or Asked()
    misfits: list[Misfit] = []
    in_hand: tuple[Standing, ...] = ()
    originals, remarks = 0, _may_be_read(library)
    with Library.open(library, create=False) as kept:
        if asked.everything or not documents:
            originals = _originals(kept, None, misfits, progress)
        state = _journal(kept, misfits, asked, progress)
        if state is not None:
            in_hand = tuple(standing(path, kept) for path in documents)
            misfits += [Misfit(found.file, found.reason) for found in in_hand if not found.fits]
            remarks += tuple(
                f"{_gone(entry.said.get('job'), len(entry.said['originals']))} {deletion.told(entry)}"
                for entry in kept.deletions()
            )
    return Verification(originals, 0, len(documents), tuple(misfits), state, in_hand, remarks)


def noted(text: str) -> Head:
    """An entry as `jobnotes verify` prints it, NUMBER:SHA256. Raises JobnotesError if it is none."""
    found = re.fullmatch(r"(\d{1,15}):([0-9a-f]{64})", text.strip())
    if found is None:
        raise JobnotesError(text, "is no entry of a journal", "give it as verify prints it, NUMBER:SHA256")
    return Head(int(found[1]), found[2])


def _gone(job: str | None, originals: int) -> str:
    return f"job {job}" if job is not None else f"{originals} originals of no job"


def _may_be_read(library: Path) -> tuple[str, ...]:
    """Whether other accounts of this machine may read the library, where the system has such rights."""
    if os.name != "posix" or not library.is_dir() or not library.stat().st_mode & 0o077:
        return ()
    return (f"other accounts of this machine may use {library}; chmod 700 keeps them out",)


def _journal(
    kept: Library, misfits: list[Misfit], asked: Asked, progress: Progress | None
) -> JournalState | None:
    """Add what doesn't fit the journal; None where it is broken, so that it can say nothing."""
    found = kept.verify_journal(None if progress is None else lambda *done: progress("entries", *done))
    misfits += found
    if any(misfit.subject.startswith(f"{JOURNAL} entry") for misfit in found):
        return None
    if asked.known is not None:
        entry = kept.journal_entry(asked.known.number)
        if entry is None or entry.sha256 != asked.known.sha256:
            reason = (
                f"entry {asked.known.number} is not the one that was noted: the journal was made anew or cut"
            )
            misfits.append(Misfit(JOURNAL, reason))
    return JournalState(kept.journal_head(), _signed(kept, misfits, asked.public_key))


def _signed(kept: Library, misfits: list[Misfit], public_key: Ed25519PublicKey | None) -> int:
    """Up to which entry the journal is signed, 0 where it isn't; bad signatures are added to `misfits`."""
    wanted = None if public_key is None else signing.public_hex(public_key)
    good = 0
    for signature in kept.signatures():
        entry = kept.journal_entry(signature.number)
        if entry is None or not signing.is_good(signature, Head(entry.number, entry.sha256)):
            misfits.append(Misfit(f"signature of entry {signature.number}", "is not one of this journal"))
        elif wanted in (None, signature.public_key):
            good = max(good, signature.number)
    if wanted is not None and not good:
        misfits.append(Misfit(JOURNAL, "is not signed with the key that was given"))
    return good


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
    *,
    journal: bool,
) -> int:
    """Add what doesn't fit to `misfits`; how many originals were read. `journal`: it can be asked."""
    named: dict[str, str] = {}
    if record is not None:
        named = {n.sha256: n.file for n in record.notes} | {p.sha256: p.file for p in record.photos}
        if record.details is not None:
            named[record.details.sha256] = record.details.file
    stored = None
    if content is not None:
        stored = kept.record_with(digest(content)) or _of_same_job(kept, record)
        misfits += _stored_misfits(kept if journal else None, content, stored)
    wanted: set[str] | None = None
    if record is not None and not everything:
        wanted = set(named)
        if stored is not None:
            wanted |= {given.sha256 for given in kept.originals(stored.job)}
    read = _originals(kept, wanted, misfits, progress)
    if wanted is None:
        gone = kept.deleted_originals()
        for sha256, file in named.items():
            try:
                kept.original(sha256)
            except KeyError:
                reason = f"the record names it, but the library has no such original ({sha256})"
                misfits.append(Misfit(file, deletion.told(gone[sha256]) if sha256 in gone else reason))
    return read


def _of_same_job(kept: Library, record: Record | None) -> StoredRecord | None:
    for note in () if record is None else record.notes:
        job = kept.job_of(note.sha256)
        if job is not None:
            return kept.record(job)
    return None


def _originals(
    kept: Library, wanted: set[str] | None, misfits: list[Misfit], progress: Progress | None
) -> int:
    """Read originals, all or those wanted, and add what doesn't fit; how many were read."""
    read = 0

    def count(done: int, of: int) -> None:
        nonlocal read
        read = done
        if progress is not None:
            progress("originals", done, of)

    misfits += kept.verify(None if wanted is None else sorted(wanted), count)
    return read


def _stored_misfits(kept: Library | None, content: bytes, stored: StoredRecord | None) -> list[Misfit]:
    if stored is None:
        gone = None if kept is None else _deletion(kept, content)
        if gone is not None:
            return [Misfit(RECORD, gone)]
        return [Misfit(RECORD, "the library keeps no record of this job")]
    if stored.text.encode("utf-8") != content:
        saved = stored.saved_at.isoformat(timespec="seconds")
        return [
            Misfit(RECORD, f"is not the record of job {stored.job} that the library keeps (saved {saved})")
        ]
    return []


def _deletion(kept: Library, content: bytes) -> str | None:
    """That the job of this record was deleted, and by whom."""
    saved = kept.had_record(digest(content))
    gone = None if saved is None else kept.deletion_of(saved.said["job"])
    return None if saved is None or gone is None else f"its job {saved.said['job']} {deletion.told(gone)}"


def _documents(out: Path) -> list[Path]:
    # "~$…" are the lock files of a document that somebody has open
    return sorted(p for p in out.glob("*.docx") if p.is_file() and not p.name.startswith(("~$", ".")))


def _document(path: Path, content: bytes | None) -> list[Misfit]:
    """What is wrong with a document of the folder by what it says itself."""
    try:
        said = identifier_in(path)
    except DamagedError:
        return [Misfit(path.name, "can't be opened; make it again with jobnotes run")]
    if not said:
        return [Misfit(path.name, "doesn't say which record it was drawn from")]
    if content is not None and said != identifier_of(content):
        return [Misfit(path.name, f"was drawn from another record than {RECORD} ({said})")]
    return []


def _altered(path: Path, kept: Library) -> list[Misfit]:
    """What the library's journal has against a document that says that it was drawn from the record."""
    found = standing(path, kept)
    return [Misfit(path.name, found.reason)] if found.state == "altered" else []


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

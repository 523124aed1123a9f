"""A whole library in one file, made while it is in use, and made into a library again.

The file is a zip: `manifest.json` names each other file with its size and SHA-256, and the journal's last
entry. The database is copied first, as it is at one moment; originals never change, so those it names can
follow at leisure. The signing key isn't in it, nor what is half sent.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import IO, Any

from sqlite_utils import Database

from jobnotes.durable import clear_abandoned, make_folder, place_new, sync_folder
from jobnotes.errors import JobnotesError, Problem
from jobnotes.library import journal, rights
from jobnotes.library.database import NAME, copy_whole, told_plainly
from jobnotes.library.journal import Head
from jobnotes.library.library import Library
from jobnotes.library.media import MediaStore
from jobnotes.progress import Progress, Silent

_FORMAT, _VERSION = "jobnotes-backup", 1
_MANIFEST = "manifest.json"
_ORIGINALS = "media/"
_PACKING, _RESTORING = ".jobnotes-packing-", ".jobnotes-restoring-"
_MOST_MANIFEST = 256 << 20
_CHUNK = 1 << 20
_DIGEST = re.compile(r"[0-9a-f]{64}")
_PLAIN = re.compile(r"[^\0-\x1f/\\:]+")
_TRIES = 3


@dataclass(frozen=True, slots=True)
class Beside:
    """What else lies in the library's folder and belongs in a backup, by its path there.

    `databases` are SQLite files, `folders` hold plain files; the first part of each path is `within`.
    """

    within: str
    databases: tuple[str, ...] = ()
    folders: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class BackedUp:
    """The file that was written; `problems` names originals that are missing or no longer what they were."""

    path: Path
    files: int
    bytes: int
    journal: Head
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class Restored:
    """The library that was made; `problems` is what was wrong in it when it was backed up."""

    folder: Path
    files: int
    made_at: str
    journal: Head
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True)
class _Source:
    """What is to be backed up: under which name, from where, and which original it is."""

    name: str
    path: Path
    original: str | None = None


@dataclass(frozen=True, slots=True)
class _File:
    """One file in a backup."""

    name: str
    bytes: int
    sha256: str


class _ChangedError(Exception):
    """Something was deleted while the backup was made: it must not be in it."""


def back_up(
    library: Path, target: Path, beside: Sequence[Beside] = (), progress: Progress | None = None
) -> BackedUp:
    """Write the library to `target`, which must not be there, or into that folder under a name with the time.

    The file is read back before it gets its name. Raises JobnotesError if it can't be made.
    """
    if target.is_dir():
        target /= f"jobnotes-{datetime.now(UTC).strftime('%Y%m%dT%H%M%SZ')}.zip"
    if target.exists():
        raise JobnotesError(str(target), "is there already", "name another file with --to")
    progress = progress or Silent()
    clear_abandoned(target.parent, [f"{_PACKING}*"])
    for _ in range(_TRIES):
        with contextlib.suppress(_ChangedError):
            return _made(library, target, beside, progress)
    raise JobnotesError(str(library), "changes all the time", "make the backup when nothing is being deleted")


def _made(library: Path, target: Path, beside: Sequence[Beside], progress: Progress) -> BackedUp:
    with (
        _writable(target),
        tempfile.TemporaryDirectory(dir=target.parent, prefix=_PACKING) as folder,
        Library.open(library, create=False) as kept,
    ):
        scratch = Path(folder)
        deletions = len(kept.deletions())
        sources = list(_databases(library, beside, scratch))
        with contextlib.closing(sqlite3.connect(scratch / NAME)) as db:
            originals = dict(db.execute("SELECT sha256, file FROM originals ORDER BY sha256").fetchall())
            head = journal.head(Database(db, execute_plugins=False))
        sources += _originals(kept.media, library, originals)
        for more in beside:
            sources += _in_folders(library, more)
        half = scratch / "half.zip"
        files = _pack(half, sources, head, progress)
        _read_back(half, progress)
        if len(kept.deletions()) != deletions:
            raise _ChangedError
        place_new(half, target)
    return BackedUp(
        target, len(files), target.stat().st_size, head, tuple(_not_as_taken_in(originals, sources, files))
    )


def _databases(library: Path, beside: Sequence[Beside], scratch: Path) -> Iterator[_Source]:
    names = [NAME, *(f"{more.within}/{name}" for more in beside for name in more.databases)]
    for name in names:
        path, copy = library / name, scratch / name
        if not path.exists():
            continue
        copy.parent.mkdir(exist_ok=True)
        with told_plainly(path):
            if not copy_whole(path, copy):
                raise JobnotesError(str(path), "the database is damaged", "see what jobnotes verify says")
        yield _Source(name, copy)


def _originals(media: MediaStore, library: Path, originals: Iterable[str]) -> Iterator[_Source]:
    for sha256 in originals:
        with contextlib.suppress(KeyError):
            path = media.path_of(sha256)
            yield _Source(path.relative_to(library).as_posix(), path, sha256)


def _in_folders(library: Path, more: Beside) -> Iterator[_Source]:
    for folder in more.folders:
        for path in sorted((library / more.within / folder).rglob("*")):
            if path.is_file() and not path.is_symlink():
                yield _Source(path.relative_to(library).as_posix(), path)


def _not_as_taken_in(
    originals: Mapping[str, str], sources: Iterable[_Source], files: Iterable[_File]
) -> Iterator[Problem]:
    """What is wrong with the originals: they are backed up as they are."""
    written = {file.name: file.sha256 for file in files}
    found = {source.original: written.get(source.name) for source in sources}
    for sha256, name in originals.items():
        if found.get(sha256) is None:
            yield Problem(name, f"its original is missing from the library ({sha256})")
        elif found[sha256] != sha256:
            yield Problem(name, f"its original is no longer what was taken in ({sha256})")


def _pack(half: Path, sources: Sequence[_Source], head: Head, progress: Progress) -> list[_File]:
    """Write the file; what went into it. What is gone by the time it would be read isn't in it."""
    files: list[_File] = []
    sizes = [source.path.stat().st_size if source.path.exists() else 0 for source in sources]
    tick, done = progress.step("Copying", sum(sizes)), 0
    with half.open("xb") as out:
        with zipfile.ZipFile(out, "w") as package:
            for source, size in zip(sources, sizes, strict=True):
                with contextlib.suppress(FileNotFoundError), source.path.open("rb") as file:
                    # recordings and photos are compressed already
                    info = zipfile.ZipInfo(source.name)
                    info.compress_type = (
                        zipfile.ZIP_DEFLATED if source.name.endswith(".db") else zipfile.ZIP_STORED
                    )
                    info.external_attr = 0o600 << 16
                    with package.open(info, "w", force_zip64=True) as entry:
                        copied = _copied(file, entry, _after(tick, done))
                    files.append(_File(source.name, *copied))
                done += size
            package.writestr(_MANIFEST, json.dumps(_manifest_of(files, head), ensure_ascii=False, indent=1))
        out.flush()
        os.fsync(out.fileno())
    half.chmod(0o600)
    return files


def _manifest_of(files: Iterable[_File], head: Head) -> dict[str, object]:
    return {
        "format": _FORMAT,
        "version": _VERSION,
        "made_at": datetime.now(UTC).isoformat(),
        "journal": {"number": head.number, "sha256": head.sha256},
        "files": [{"name": f.name, "bytes": f.bytes, "sha256": f.sha256} for f in files],
    }


def _copied(
    source: IO[bytes], into: IO[bytes] | None, told: Callable[[float], None], most: int | None = None
) -> tuple[int, str]:
    """Copy, or only read: how many bytes and their digest. It stops where there are more than `most`."""
    digest, done = hashlib.sha256(), 0
    while (most is None or done <= most) and (chunk := source.read(_CHUNK)):
        digest.update(chunk)
        done += len(chunk)
        if into is not None:
            into.write(chunk)
        told(done)
    return done, digest.hexdigest()


def _after(tick: Callable[[float], None], done: float) -> Callable[[float], None]:
    return lambda more: tick(done + more)


def _read_back(half: Path, progress: Progress) -> None:
    with zipfile.ZipFile(half) as package:
        files, _ = _manifest(package, half)
        tick, done = progress.step("Reading back", sum(file.bytes for file in files)), 0
        for file in files:
            _unpack(package, file, None, half, _after(tick, done))
            done += file.bytes


def _unpack(
    package: zipfile.ZipFile,
    file: _File,
    into: IO[bytes] | None,
    source: Path,
    told: Callable[[float], None],
) -> None:
    """Take one file out, or only read it. Raises JobnotesError if it isn't what the manifest says."""
    try:
        with package.open(file.name) as entry:
            found = _copied(entry, into, told, file.bytes)
    except (zipfile.BadZipFile, zlib.error, EOFError, ValueError) as error:
        raise _damaged(source, f"{file.name} can't be read") from error
    if found != (file.bytes, file.sha256):
        raise _damaged(source, f"{file.name} is not what was backed up")


def restore(source: Path, folder: Path, progress: Progress | None = None) -> Restored:
    """Make the library that `source` holds in `folder`, which must be new or empty.

    Every file is checked against the manifest, and then the library as a whole. Raises JobnotesError, and
    leaves nothing, if the backup is damaged or isn't one.
    """
    progress = progress or Silent()
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise JobnotesError(str(folder), "is there already", "name a new or an empty folder with --library")
    with _readable(source), zipfile.ZipFile(source) as package:
        files, manifest = _manifest(package, source)
        with _writable(folder):
            make_folder(folder.parent)
            clear_abandoned(folder.parent, [f"{_RESTORING}*"])
            half = Path(tempfile.mkdtemp(dir=folder.parent, prefix=_RESTORING))
            try:
                tick, done = progress.step("Restoring", sum(file.bytes for file in files)), 0
                for file in files:
                    path = half.joinpath(*PurePosixPath(file.name).parts)
                    for parent in reversed(path.relative_to(half).parents):
                        (half / parent).mkdir(exist_ok=True, mode=rights.OWN)
                    with path.open("xb") as into:
                        _unpack(package, file, into, source, _after(tick, done))
                        into.flush()
                        os.fsync(into.fileno())
                    rights.give(path, 0o400 if file.name.startswith(_ORIGINALS) else 0o600)
                    done += file.bytes
                head, problems = _checked(half, manifest, source)
                for inside, *_ in os.walk(half):
                    sync_folder(Path(inside))
                if folder.exists():
                    folder.rmdir()
                os.rename(half, folder)
                sync_folder(folder.parent)
            except BaseException:
                shutil.rmtree(half, ignore_errors=True)
                raise
    return Restored(folder, len(files), str(manifest["made_at"]), head, problems)


def _checked(half: Path, manifest: dict[str, Any], source: Path) -> tuple[Head, tuple[Problem, ...]]:
    """The library as it was restored: its journal's last entry, and what doesn't fit in it."""
    said = manifest["journal"]
    with Library.open(half, create=False) as kept:
        misfits = (*kept.verify(), *kept.verify_journal())
        entry = kept.journal_entry(said["number"])
        if said["number"] and (entry is None or entry.sha256 != said["sha256"]):
            raise _damaged(source, "its journal is not the one that it names")
        return kept.journal_head(), tuple(Problem(m.subject, m.reason) for m in misfits)


def _manifest(package: zipfile.ZipFile, source: Path) -> tuple[list[_File], dict[str, Any]]:
    """What a backup says it holds. Raises JobnotesError unless it holds exactly that."""
    try:
        info = package.getinfo(_MANIFEST)
        if info.file_size > _MOST_MANIFEST:
            raise _damaged(source, "its manifest is too large")
        manifest = json.loads(package.read(info))
        if manifest["format"] != _FORMAT:
            raise KeyError
        if manifest["version"] != _VERSION:
            raise JobnotesError(
                str(source), "was made by a newer version of jobnotes", "install that version to restore it"
            )
        files = [_File(str(f["name"]), int(f["bytes"]), str(f["sha256"])) for f in manifest["files"]]
        str(manifest["made_at"]), int(manifest["journal"]["number"]), str(manifest["journal"]["sha256"])
    except (KeyError, TypeError, ValueError, RecursionError) as error:
        raise JobnotesError(
            str(source), "is not a backup of jobnotes", "give the file that jobnotes backup wrote"
        ) from error
    names = [file.name for file in files]
    if sorted([*names, _MANIFEST]) != sorted(package.namelist()) or NAME not in names:
        raise _damaged(source, "it holds other files than it names")
    for file in files:
        if not _is_safe(file.name) or not _DIGEST.fullmatch(file.sha256) or file.bytes < 0:
            raise _damaged(source, f"it names {file.name!r}")
    return files, manifest


def _is_safe(name: str) -> bool:
    """A path below the library's folder, on any system."""
    parts = name.split("/")
    return len(name) < 1000 and all(_PLAIN.fullmatch(p) and p == p.rstrip(". ") for p in parts)


def _damaged(source: Path, reason: str) -> JobnotesError:
    return JobnotesError(str(source), f"the backup is damaged: {reason}", "use another backup")


@contextlib.contextmanager
def _writable(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise JobnotesError(
            str(path), error.strerror or "can't be written", "make room, or name another place"
        ) from error


@contextlib.contextmanager
def _readable(source: Path) -> Iterator[None]:
    try:
        yield
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError) as error:
        raise JobnotesError(
            str(source),
            "is not a backup of jobnotes, or is damaged",
            "give the file that jobnotes backup wrote",
        ) from error
    except OSError as error:
        raise JobnotesError(
            str(source), f"can't be read ({error.strerror or error})", "name the file of the backup"
        ) from error

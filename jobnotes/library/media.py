"""The store of originals: each file lies under the SHA-256 of its bytes, read-only, and never changes.

`media/ab/ab12….m4a`: the first two digits name the folder, the suffix is the one that the file came
with, for whoever opens the folder by hand. Nothing here needs the database.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import stat
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from io import BufferedReader
from pathlib import Path

from jobnotes.durable import clear_abandoned, sync_folder
from jobnotes.errors import JobnotesError, UnusableInputError
from jobnotes.library import rights

_CHUNK = 1 << 20
_INCOMING = ".incoming-"
_SAFE_SUFFIX = re.compile(r"\.[a-z0-9]{1,8}")
_DIGEST = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Misfit:
    """One thing that is not as it should be: what, and in what way."""

    subject: str
    reason: str


class MediaStore:
    """The originals in `folder`, which is made when the first one is kept."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def keep(self, path: Path) -> str:
        """Copy the file at `path` into the store; its SHA-256, as 64 lower-case hexadecimal digits.

        After the call the copy is whole, on disk and has been read back. A copy that is there already is
        read back too, and left alone if it fits its digest. The file that was given is only ever read.
        Raises UnusableInputError if `path` can't be read, JobnotesError if the store can't be written.
        """
        with _readable(path) as source:
            digest = self._digest_of_source(source, path)
            kept = self._find(digest)
            if kept is not None and _digest_of(kept) == digest:
                return digest
            source.seek(0)
            try:
                self._copy(source, path, digest, kept or self._place(digest, path.suffix))
            except OSError as error:
                raise self._unwritable(error) from error
        return digest

    def path_of(self, sha256: str) -> Path:
        """Where the original with that digest lies; KeyError if it isn't kept."""
        kept = self._find(sha256)
        if kept is None:
            raise KeyError(sha256)
        return kept

    def has(self, sha256: str) -> bool:
        """True if there is an original of that digest, whatever its bytes are now."""
        return self._find(sha256) is not None

    def remove(self, sha256: str) -> None:
        """Take every copy of the original away; it may be gone already."""
        for kept in self._copies(sha256):
            # where the system won't remove what is read-only
            kept.chmod(0o600)
            kept.unlink()
            sync_folder(kept.parent)

    def fits(self, sha256: str) -> bool:
        """True if the original is there and its bytes still have that digest."""
        kept = self._find(sha256)
        return kept is not None and _digest_of(kept) == sha256

    def verify(self) -> Iterator[str]:
        """Read every original; yield the digests that their bytes no longer have."""
        for kept in sorted(self.folder.glob("[0-9a-f][0-9a-f]/*")):
            digest = kept.name.partition(".")[0]
            if _DIGEST.fullmatch(digest) and _digest_of(kept) != digest:
                yield digest

    def clear_abandoned(self) -> None:
        """Remove half copies that a killed run left behind; one that may still be in the making stays."""
        clear_abandoned(self.folder, [f"{_INCOMING}*"])

    def _place(self, digest: str, suffix: str) -> Path:
        suffix = suffix.lower()
        return self.folder / digest[:2] / (digest + (suffix if _SAFE_SUFFIX.fullmatch(suffix) else ""))

    def _find(self, digest: str) -> Path | None:
        # two runs may have kept the same bytes at the same moment under two suffixes: either will do
        return min(self._copies(digest), default=None)

    def _copies(self, digest: str) -> list[Path]:
        return list((self.folder / digest[:2]).glob(f"{digest}*")) if _DIGEST.fullmatch(digest) else []

    def _digest_of_source(self, source: BufferedReader, path: Path) -> str:
        try:
            return _digest(source)
        except OSError as error:
            raise _unreadable(path, error) from error

    def _copy(self, source: BufferedReader, path: Path, digest: str, target: Path) -> None:
        library = self.folder.parent
        rights.make_folder(self.folder, library)
        handle, name = tempfile.mkstemp(dir=self.folder, prefix=_INCOMING)
        half = Path(name)
        try:
            with os.fdopen(handle, "wb") as copy:
                while chunk := _read(source, path):
                    copy.write(chunk)
                copy.flush()
                os.fsync(copy.fileno())
            if _digest_of(half) != digest:
                # either the given file is still being written, or the disk doesn't return what it was given
                raise UnusableInputError(
                    path.name, "changed while it was being copied", "try again when it is complete"
                )
            half.chmod(rights.of_file(library) & 0o444)  # which nobody may write
            rights.make_folder(target.parent, library)
            os.replace(half, target)
            sync_folder(target.parent)
        except BaseException:
            with contextlib.suppress(OSError):  # a disk that may only be read now
                half.unlink()
            raise

    def _unwritable(self, error: OSError) -> JobnotesError:
        reason = error.strerror or type(error).__name__
        return JobnotesError(
            str(self.folder),
            f"can't keep originals there ({reason})",
            "make room, or choose another --library",
        )


@contextlib.contextmanager
def _readable(path: Path) -> Iterator[BufferedReader]:
    try:
        # a pipe or a device would hang or never end
        if not stat.S_ISREG(path.stat().st_mode):
            raise UnusableInputError(path.name, "not a file", "give the recording or photo itself")
        source = path.open("rb")
    except OSError as error:
        raise _unreadable(path, error) from error
    with source:
        yield source


def _unreadable(path: Path, error: OSError) -> UnusableInputError:
    return UnusableInputError(
        path.name, f"can't be read ({error.strerror or type(error).__name__})", "copy it from the phone again"
    )


def _read(source: BufferedReader, path: Path) -> bytes:
    try:
        return source.read(_CHUNK)
    except OSError as error:
        raise _unreadable(path, error) from error


def _digest(file: BufferedReader) -> str:
    return hashlib.file_digest(file, "sha256").hexdigest()


def _digest_of(path: Path) -> str | None:
    """The digest of a kept file; None if it can't be read to its end, which is as bad as a wrong one."""
    try:
        with path.open("rb") as file:
            return _digest(file)
    except OSError:
        return None

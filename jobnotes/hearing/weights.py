"""Weights that installed packages carry: found without importing the packages, checked, joined if in pieces.

Nothing here touches the network.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

from jobnotes.errors import JobnotesError
from jobnotes.hearing.catalogue import FilePiece, Packaged, WeightFile
from jobnotes.hearing.folders import cache_place, file_sha256

_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class PackagedWeights:
    """The weights of `packaged`: name and digest at once, the checked folder when it is asked for."""

    packaged: Packaged

    @property
    def name(self) -> str:
        return self.packaged.name

    @property
    def sha256(self) -> str:
        """Over the digests that the files must have; `folder` makes sure that they do."""
        listed = "".join(f"{f.name} {f.sha256}\n" for f in sorted(self.packaged.files, key=lambda f: f.name))
        return hashlib.sha256(listed.encode()).hexdigest()

    def present(self) -> bool:
        """Whether every piece is installed; its content is not looked at."""
        return all(_find(piece) is not None for file in self.packaged.files for piece in file.pieces)

    def folder(self) -> str:
        """A folder with all files under their names, each checked against its digest.

        The packages' own folder where it holds them so, else one in the user's cache that is made once.
        Raises JobnotesError where a package is missing, a digest differs or the cache can't be written.
        """
        in_place = self._in_place()
        if in_place is not None:
            self._check(in_place)
            return str(in_place)
        cached = cache_place() / "weights" / f"{self.name}-{self.sha256[:16]}"
        if not self._fits(cached):
            self._join(cached)
        return str(cached)

    def _in_place(self) -> Path | None:
        folders = set()
        for file in self.packaged.files:
            if len(file.pieces) != 1:
                return None
            path = self._located(file.pieces[0])
            if path.name != file.name:
                return None
            folders.add(path.parent)
        return folders.pop() if len(folders) == 1 else None

    def _located(self, piece: FilePiece) -> Path:
        path = _find(piece)
        if path is None:
            raise JobnotesError(
                self.name,
                f"the recogniser's weights are not installed (package {piece.package})",
                self.packaged.install,
            )
        return path

    def _check(self, folder: Path) -> None:
        for file in self.packaged.files:
            if file_sha256(folder / file.name) != file.sha256:
                raise self._wrong(file)

    def _fits(self, folder: Path) -> bool:
        try:
            return all(file_sha256(folder / file.name) == file.sha256 for file in self.packaged.files)
        except OSError:
            return False

    def _join(self, target: Path) -> None:
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            beside = Path(tempfile.mkdtemp(prefix=".joining-", dir=target.parent))
        except OSError as error:
            raise _not_writable(target.parent, error) from None
        try:
            for file in self.packaged.files:
                self._write(file, beside / file.name)
            shutil.rmtree(target, ignore_errors=True)
            try:
                os.rename(beside, target)
            except OSError:
                if not self._fits(target):  # another run may have been quicker
                    raise
        except OSError as error:
            raise _not_writable(target.parent, error) from None
        finally:
            shutil.rmtree(beside, ignore_errors=True)

    def _write(self, file: WeightFile, path: Path) -> None:
        digest = hashlib.sha256()
        with path.open("wb") as out:
            for piece in file.pieces:
                for chunk in _chunks(self._located(piece)):
                    digest.update(chunk)
                    out.write(chunk)
        if digest.hexdigest() != file.sha256:
            raise self._wrong(file)

    def _wrong(self, file: WeightFile) -> JobnotesError:
        return JobnotesError(
            self.name,
            f"the recogniser's {file.name} is not the file it should be (its SHA-256 differs)",
            f"install it again: {self.packaged.install} --force-reinstall",
        )


def _find(piece: FilePiece) -> Path | None:
    """Where the piece is; None where its package isn't installed or lacks the file."""
    try:
        path = Path(str(metadata.distribution(piece.package).locate_file(piece.file)))
    except metadata.PackageNotFoundError:
        return None
    return path if path.is_file() else None


def _chunks(path: Path) -> Iterator[bytes]:
    with path.open("rb") as file:
        while chunk := file.read(_CHUNK):
            yield chunk


def _not_writable(folder: Path, error: OSError) -> JobnotesError:
    return JobnotesError(
        str(folder),
        f"the weights can't be put together there ({error.strerror or error})",
        "make room or name another cache folder in XDG_CACHE_HOME",
    )

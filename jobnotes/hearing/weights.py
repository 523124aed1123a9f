"""Weights that installed packages carry: found without importing the packages, checked, joined if in pieces,
tuned if there is a tuning for them.

Nothing here touches the network.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from importlib import metadata, resources
from pathlib import Path

from jobnotes.errors import JobnotesError
from jobnotes.hearing.catalogue import FilePiece, Packaged, WeightFile
from jobnotes.hearing.folders import file_sha256
from jobnotes.hearing.tuning import loaded, tuned


@dataclass(frozen=True, slots=True)
class PackagedWeights:
    """The weights of `packaged`: name and digest at once, the checked files when they are asked for."""

    packaged: Packaged

    @property
    def name(self) -> str:
        return self.packaged.name

    @property
    def sha256(self) -> str:
        """Over the digests that the files must have; `place` makes sure that they do."""
        listed = "".join(f"{f.name} {f.sha256}\n" for f in sorted(self.packaged.files, key=lambda f: f.name))
        return hashlib.sha256(listed.encode()).hexdigest()

    def present(self) -> bool:
        """Whether every piece is installed; its content is not looked at."""
        return all(_find(piece) is not None for file in self.packaged.files for piece in file.pieces)

    def place(self) -> tuple[str, dict[str, bytes] | None]:
        """The package's own folder where that holds all files as they are to be, and None; else a name for
        them, and their content by file name. Every file is checked against its digest; nothing is written.

        Raises JobnotesError where a package is missing or a digest differs.
        """
        folder = self._in_place()
        if folder is None:
            return self.name, {file.name: self._content(file) for file in self.packaged.files}
        for file in self.packaged.files:
            if file_sha256(folder / file.name) != file.sha256:
                raise self._wrong(file)
        return str(folder), None

    def _in_place(self) -> Path | None:
        folders = set()
        for file in self.packaged.files:
            if len(file.pieces) != 1 or file.tuning is not None:
                return None
            path = self._located(file.pieces[0])
            if path.name != file.name:
                return None
            folders.add(path.parent)
        return folders.pop() if len(folders) == 1 else None

    def _content(self, file: WeightFile) -> bytes:
        content = b"".join(self._located(piece).read_bytes() for piece in file.pieces)
        if file.tuning is not None:
            addition = (resources.files("jobnotes") / "data" / file.tuning).read_bytes()
            try:
                content = b"".join(tuned(content, loaded(addition)))
            except ValueError:
                raise self._wrong(file) from None
        if hashlib.sha256(content).hexdigest() != file.sha256:
            raise self._wrong(file)
        return content

    def _located(self, piece: FilePiece) -> Path:
        path = _find(piece)
        if path is None:
            raise JobnotesError(
                self.name,
                f"the recogniser's weights are not installed (package {piece.package})",
                self.packaged.install,
            )
        return path

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

"""Originals: the files as they were given. They are hashed before anything else and only ever read."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Protocol, TypeVar

from jobnotes.errors import UnusableInputError

COPY_AGAIN = "copy it again from the device that made it"


class Original(Protocol):
    """What a recording and a photo have in common."""

    @property
    def sha256(self) -> str: ...
    @property
    def dated_at(self) -> datetime: ...
    @property
    def dated_by(self) -> str: ...


AnyOriginal = TypeVar("AnyOriginal", bound=Original)


def file_name(path: Path, folder: Path | None) -> str:
    """The name under which the person knows the file: relative to the folder given, with `/`.

    Bytes that are no UTF-8 become U+FFFD, so that the name can be written anywhere.
    """
    inside = folder is not None and path.is_relative_to(folder)
    name = path.relative_to(folder).as_posix() if folder is not None and inside else path.name
    return name.encode("utf-8", "surrogateescape").decode("utf-8", "replace")


def require_file(path: Path, file: str) -> None:
    """Pass only what can be read at all.

    Raises UnusableInputError, whose subject is `file`, for what is missing, empty, unreadable or no
    regular file (opening a pipe would wait for ever).
    """
    try:
        if path.is_dir():
            raise UnusableInputError(file, "is a folder, not a file", "give the files inside it")
        if not path.is_file():
            reason = "is not a regular file" if path.exists() else "is not there"
            raise UnusableInputError(file, reason, COPY_AGAIN)
        with path.open("rb") as stream:
            if not stream.read(1):
                raise UnusableInputError(file, "is empty (0 bytes)", COPY_AGAIN)
    except OSError as error:
        raise _unreadable(file, error) from error


def digest(path: Path) -> str:
    """SHA-256 of the file's bytes, as 64 lower-case hexadecimal digits; read in pieces, whatever its size.

    Raises UnusableInputError if the file can't be read to its end.
    """
    try:
        with path.open("rb") as stream:
            return hashlib.file_digest(stream, "sha256").hexdigest()
    except OSError as error:
        raise _unreadable(path.name, error) from error


def unique(items: Iterable[AnyOriginal]) -> tuple[tuple[AnyOriginal, ...], tuple[AnyOriginal, ...]]:
    """(kept, repeats): the same bytes given twice, under whatever names, are one note or one photo.

    That is no problem to report. Of equal files the one with the better date is kept (a copy may have
    lost the date in its name, and was saved later), otherwise the first; `kept` is in the order given.
    """
    best: dict[str, AnyOriginal] = {}
    repeats: list[AnyOriginal] = []
    for item in items:
        known = best.get(item.sha256)
        if known is None:
            best[item.sha256] = item
        elif _doubt(item) < _doubt(known):
            best[item.sha256] = item  # a dict keeps the place of the first
            repeats.append(known)
        else:
            repeats.append(item)
    return tuple(best.values()), tuple(repeats)


_LESS_CERTAIN = ("file name", "file time")


def _doubt(item: Original) -> tuple[int, datetime]:
    rank = _LESS_CERTAIN.index(item.dated_by) + 1 if item.dated_by in _LESS_CERTAIN else 0
    return rank, item.dated_at


def _unreadable(file: str, error: OSError) -> UnusableInputError:
    if isinstance(error, PermissionError):
        return UnusableInputError(file, "may not be read", "give yourself permission to read it")
    reason = f"can't be read ({error.strerror or os.strerror(error.errno or 0)})"
    return UnusableInputError(file, reason, COPY_AGAIN)

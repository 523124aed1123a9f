"""Who may read what is kept, where the system has such rights (POSIX): nobody but its owner.

A workshop that shares its library between accounts gives its folder other rights; what is made in it
afterwards has these too.
"""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from jobnotes import durable

OWN = 0o700
"""Of a library that is made: its owner's alone."""


def of_folder(library: Path) -> int:
    """The rights that a folder within the library has: those of the library's own."""
    with contextlib.suppress(OSError):
        return (library.stat().st_mode & 0o777) | OWN
    return OWN


def of_file(library: Path) -> int:
    """The rights that a file within the library has: as `of_folder`, and it is no program."""
    return of_folder(library) & 0o666


def give(path: Path, mode: int) -> None:
    """Give a path its rights; one that belongs to somebody else, or can't have any, stays as it is."""
    if os.name == "posix":
        with contextlib.suppress(OSError):
            path.chmod(mode)


def make_folder(path: Path, library: Path) -> None:
    """A folder within the library, with its rights; it may be there."""
    if not path.is_dir():
        durable.make_folder(path)
        give(path, of_folder(library))

"""Files that are whole under their name or not there, and outlast a power cut once they are.

A file is written beside its name, synchronised and renamed; then its folder is, for a name lasts no longer
than that by itself (fsync(2): "Calling fsync() does not necessarily ensure that the entry in the directory
containing the file has also reached disk").
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import tempfile
import time
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import BinaryIO

_ABANDONED_AFTER_S = 24 * 3600.0


@contextlib.contextmanager
def written(path: Path, mode: int = 0o644) -> Iterator[BinaryIO]:
    """A file that takes its place at `path` when all of it is written; where that fails, nothing is left.

    OSError passes. What a killed process leaves is hidden, and begins with ".<name>.".
    """
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.")
    try:
        with os.fdopen(handle, "wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        os.chmod(name, mode)
        os.replace(name, path)
    except BaseException:
        with contextlib.suppress(OSError):  # a disk that may only be read now
            os.unlink(name)
        raise
    sync_folder(path.parent)


def place_new(half: Path, target: Path) -> None:
    """Give a whole and synchronised file its name; FileExistsError if there is one by now. OSError passes."""
    try:
        os.link(half, target)
    except FileExistsError:
        raise
    except OSError:  # a file system without links, such as a memory stick's
        if target.exists():
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target)) from None
        os.rename(half, target)
    sync_folder(target.parent)


def sync_folder(folder: Path) -> None:
    """Make the names in `folder` last, where the system lets a folder be synchronised."""
    if os.name != "posix":
        return  # there the rename itself is journalled
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path, mode: int = 0o777) -> None:
    """The folder with all that it lies in, as lasting as what is written into it. OSError passes."""
    if folder.is_dir():
        return
    if folder.parent != folder:
        if folder.parent.exists() and not folder.parent.is_dir():
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR), str(folder))
        make_folder(folder.parent)
    folder.mkdir(mode=mode, exist_ok=True)
    sync_folder(folder.parent)


def clear_abandoned(folder: Path, patterns: Iterable[str]) -> None:
    """Remove what killed processes left half-written; what may still be in the making stays."""
    oldest = time.time() - _ABANDONED_AFTER_S
    for pattern in patterns:
        for half in folder.glob(pattern):
            with contextlib.suppress(OSError):
                if half.stat().st_mtime < oldest:
                    shutil.rmtree(half) if half.is_dir() else half.unlink()

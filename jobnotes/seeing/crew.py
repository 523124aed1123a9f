"""Looks at many photos: in this process if there are few, else in one process a core.

Whatever a damaged picture does to the libraries that read it, the others are still seen: a process that dies
or takes too long is replaced, and its photo is named.
"""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import time
from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from multiprocessing.process import BaseProcess
from pathlib import Path

from jobnotes.errors import UnusableInputError
from jobnotes.intake.photos import shown
from jobnotes.processes import CONTEXT, started
from jobnotes.record import Sight
from jobnotes.seeing.reader import PhotoReader, UnreadableError

MOST_SIDE = 4096  # pixels of the longer side, to which a larger photo is made smaller before it is looked at
_FEW = 4  # photos that are seen before another process would have begun
_LONGEST_S = 60.0  # on one photo, together with the loading of the weights
_MOST_PROCESSES = 8


@dataclass(frozen=True, slots=True)
class PhotoFile:
    """A photo to look at: where it is kept, its digest, and its name for people."""

    path: Path
    sha256: str
    file: str


Seen = tuple[PhotoFile, Sight | UnusableInputError]


def look(photos: Sequence[PhotoFile], reader: PhotoReader, processes: int | None = None) -> Iterator[Seen]:
    """What `reader` sees in each photo, or why it can't be looked at, in the order in which they are done.

    `processes`: as many as there are cores, if not given. Raises UnreadableError where the weights
    can't be used.
    """
    if processes is None:
        processes = _processes(len(photos))
    if processes > 1:
        yield from _Crew(photos, reader, processes).results()
        return
    for photo in photos:
        yield photo, _look(photo, reader)


def _processes(photos: int) -> int:
    if multiprocessing.current_process().daemon:
        return 1  # the server's workers are as many as it wants, and may have no children
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(cores, _MOST_PROCESSES, photos // _FEW)


def _look(photo: PhotoFile, reader: PhotoReader) -> Sight | UnusableInputError:
    try:
        return reader.see(shown(photo.path, MOST_SIDE, photo.file))
    except UnusableInputError as error:
        return error
    except (MemoryError, ValueError, RuntimeError) as error:
        return _not_seen(photo, f"{type(error).__name__} while it was looked at")


def _not_seen(photo: PhotoFile, reason: str) -> UnusableInputError:
    return UnusableInputError(photo.file, f"can't be read: {reason}", "what it shows has to be said or typed")


@dataclass(slots=True)
class _Helper:
    process: BaseProcess
    line: Connection
    lifeline: Connection
    photo: PhotoFile | None = None
    since: float = 0.0


class _Crew:
    """Helper processes, each of which is given one photo after the other."""

    def __init__(self, photos: Sequence[PhotoFile], reader: PhotoReader, processes: int) -> None:
        self._waiting = deque(photos)
        self._reader = reader
        self._processes = processes
        self._helpers: list[_Helper] = []

    def results(self) -> Iterator[Seen]:
        try:
            self._helpers = [self._new() for _ in range(self._processes)]
            for helper in self._helpers:
                self._give(helper)
            while any(helper.photo for helper in self._helpers):
                yield from self._next()
        finally:
            self._end()

    def _next(self) -> Iterator[Seen]:
        busy = {helper.line: helper for helper in self._helpers if helper.photo}
        for line in wait(list(busy), timeout=1.0):
            helper = busy[line]  # type: ignore[index]
            photo = helper.photo
            assert photo is not None
            try:
                result: Sight | UnusableInputError | UnreadableError = helper.line.recv()
            except (EOFError, OSError):
                result = _not_seen(photo, "the process that looked at it ended unexpectedly")
                helper = self._replaced(helper)
            if isinstance(result, UnreadableError):
                raise result
            self._give(helper)
            yield photo, result
        for helper in list(self._helpers):
            if helper.photo and time.monotonic() - helper.since > _LONGEST_S:
                photo = helper.photo
                self._give(self._replaced(helper))
                yield photo, _not_seen(photo, f"it takes longer than {_LONGEST_S:.0f} s")

    def _give(self, helper: _Helper) -> None:
        helper.photo = self._waiting.popleft() if self._waiting else None
        helper.since = time.monotonic()
        if helper.photo is not None:
            with contextlib.suppress(OSError):  # it has died: that is seen when it is asked for the result
                helper.line.send(helper.photo)

    def _new(self) -> _Helper:
        line, theirs = CONTEXT.Pipe()
        process, lifeline = started(_help, self._reader, theirs, name="jobnotes-seeing")
        theirs.close()
        return _Helper(process, line, lifeline)

    def _replaced(self, helper: _Helper) -> _Helper:
        _kill(helper)
        fresh = self._new()
        self._helpers[self._helpers.index(helper)] = fresh
        return fresh

    def _end(self) -> None:
        for helper in self._helpers:
            _kill(helper)
        self._helpers = []


def _kill(helper: _Helper) -> None:
    helper.lifeline.close()
    helper.line.close()
    helper.process.kill()  # it holds nothing that could be lost
    helper.process.join()


def _help(reader: PhotoReader, line: Connection) -> None:
    """What a helper process does: it looks at what it is given until nobody asks any more."""
    with contextlib.suppress(EOFError, OSError):
        while True:
            photo: PhotoFile = line.recv()
            try:
                line.send(_look(photo, reader))
            except UnreadableError as error:
                line.send(error)

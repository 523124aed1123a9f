"""A process that hears what phones send while they record, so that a page can show words before the stop.

It has a recogniser of its own: one that hears a whole note may be at it for minutes.
"""

from __future__ import annotations

import contextlib
import os
from multiprocessing.connection import Connection
from typing import Protocol

import numpy as np

from jobnotes.errors import JobnotesError
from jobnotes.hearing.listening import Listening, listener, listening, load_to_listen
from jobnotes.hearing.recogniser import Recogniser
from jobnotes.processes import CONTEXT, started
from jobnotes.serve.settings import Settings

_STOP_S = 1.0

#: what was said since the last time, and what is being said just now; "" where there is nothing
Said = tuple[str, str]


class DeafError(Exception):
    """Nothing can be heard just now: the process has ended, or its recogniser can't be used."""


class Ear(Protocol):
    """Hears several streams of sound, each by its number. Raises DeafError."""

    def hear(self, stream: int, sound: bytes) -> Said:
        """Hears on in that stream. `sound`: signed 16-bit samples, little endian, mono, 16 kHz."""
        ...

    def forget(self, stream: int) -> None: ...

    def close(self) -> None: ...


class OwnEar:
    """Hears in this process."""

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser = listener(recogniser)
        self._streams: dict[int, Listening] = {}

    def hear(self, stream: int, sound: bytes) -> Said:
        """See `Ear`."""
        try:
            heard = self._streams.get(stream)
            if heard is None:
                heard = self._streams[stream] = listening(self._recogniser)
            words = heard.feed(np.frombuffer(sound, "<i2").astype(np.float32) / np.float32(32768))
        except JobnotesError as error:
            raise DeafError(str(error)) from error
        return " ".join(word.text for word in words), heard.partial

    def forget(self, stream: int) -> None:
        """See `Ear`."""
        self._streams.pop(stream, None)

    def load(self) -> None:
        """Loads the weights now, where that is possible."""
        with contextlib.suppress(JobnotesError):  # it is said when something is to be heard
            load_to_listen(self._recogniser)

    def close(self) -> None:
        """See `Ear`."""
        self._streams.clear()


class DistantEar:
    """Has a helper process hear; that is started here, and takes a few seconds until it hears."""

    def __init__(self, settings: Settings) -> None:
        self._line, theirs = CONTEXT.Pipe()
        self._process, self._lifeline = started(_main, settings, theirs, name="jobnotes-live")
        theirs.close()

    def hear(self, stream: int, sound: bytes) -> Said:
        """See `Ear`."""
        try:
            self._line.send((stream, sound))
            said: Said | str = self._line.recv()
        except (EOFError, OSError) as error:
            raise DeafError("the process has ended") from error
        if isinstance(said, str):
            raise DeafError(said)
        return said

    def forget(self, stream: int) -> None:
        """See `Ear`."""
        with contextlib.suppress(OSError):
            self._line.send((stream, None))

    def close(self) -> None:
        """See `Ear`."""
        self._lifeline.close()
        self._line.close()
        self._process.join(_STOP_S)
        if self._process.is_alive():
            self._process.kill()
            self._process.join()


def _main(settings: Settings, line: Connection) -> None:
    """What the process does: it answers each piece of sound, and says nothing of what it is to forget."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(3)  # pages come first, then words that somebody waits for, then whole notes
    ear = OwnEar(settings.recogniser())
    ear.load()
    with contextlib.suppress(EOFError, OSError):
        while True:
            stream, sound = line.recv()
            if sound is None:
                ear.forget(stream)
                continue
            try:
                line.send(ear.hear(stream, sound))
            except DeafError as error:
                line.send(str(error))

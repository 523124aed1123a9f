"""Words while it is still being recorded: a page sends the sound as it comes, and is told what was heard so
far.

All of it passes: neither sound nor words are written anywhere, and nothing is read from them. The recording
that counts is the one that the phone keeps and sends (`uploads`). What can't be heard at once is refused, and
the page does without.
"""

from __future__ import annotations

import itertools
import threading
import time
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes.hearing.recogniser import RATE_HZ
from jobnotes.serve import access, state, uploads
from jobnotes.serve.live_hearing import DeafError, DistantEar, Ear
from jobnotes.serve.settings import Settings

_BYTES_A_S = 2 * RATE_HZ
_MOST_SAID = 12  # the last so many stretches of speech are told
_LOOK_S = 1.0


@dataclass(slots=True)
class _Stream:
    number: int
    name: tuple[str, str]  # the job, and what the recording is called
    seen_at: float
    turn: int = 0  # the one with the lowest is heard next
    arrived: int = 0  # samples
    waiting: bytearray = field(default_factory=bytearray)
    said: deque[str] = field(default_factory=lambda: deque(maxlen=_MOST_SAID))
    saying: str = ""


class ElsewhereError(Exception):
    """The stream doesn't stand there: it is to begin anew."""


class Live:
    """The streams of the phones that record just now: one a device, so many at once as the limits say.

    One thread has them heard in turn, by an ear that is opened with the first stream and closed when there
    was none for a while.
    """

    def __init__(self, settings: Settings, open_ear: Callable[[], Ear] | None = None) -> None:
        self._limits = settings.limits
        self._on = settings.live and (open_ear is not None or settings.workers > 0)
        self._open_ear = open_ear or (lambda: DistantEar(settings))
        self._streams: dict[str, _Stream] = {}
        self._gone: list[int] = []
        self._numbers = itertools.count(1)
        self._turns = itertools.count(1)
        self._news = threading.Condition()
        self._thread: threading.Thread | None = None
        self._deaf_until = 0.0
        self._stopping = False

    def add(self, device: str, name: tuple[str, str], at: int, sound: bytes) -> tuple[list[str], str]:
        """Sound of the device's stream, from sample `at` on: what was heard of it, and what is being said.

        At 0 a stream begins, in the place of the one that the device had. Raises ElsewhereError where
        the stream doesn't stand there, HTTPException where nobody can hear it now.
        """
        now = time.monotonic()
        with self._news:
            stream = self._streams.get(device)
            if at == 0:
                stream = self._begun(device, name, now)
            elif stream is None or stream.name != name or stream.arrived != at:
                raise ElsewhereError
            stream.arrived += len(sound) // 2
            if stream.arrived > self._limits.live_s * RATE_HZ:
                self._drop(device)
                raise HTTPException(413, "too long to be heard while it is recorded")
            if len(stream.waiting) + len(sound) > self._limits.live_behind_s * _BYTES_A_S:
                self._drop(device)
                raise _busy("what was sent before isn't heard yet")
            stream.waiting += sound
            stream.seen_at = now
            if self._thread is None:
                self._thread = threading.Thread(target=self._hear, name="live", daemon=True)
                self._thread.start()
            self._news.notify()
            return list(stream.said), stream.saying

    def stop(self) -> None:
        """Hear nothing any more."""
        with self._news:
            self._stopping, thread = True, self._thread
            self._news.notify()
        if thread is not None:
            thread.join(_LOOK_S)  # what its ear is at ends with this process

    def _begun(self, device: str, name: tuple[str, str], now: float) -> _Stream:
        self._drop(device)
        self._drop_silent(now)
        if not self._on or self._stopping:
            raise _busy("this server doesn't hear what is still being recorded")
        if now < self._deaf_until or len(self._streams) >= self._limits.live_phones:
            raise _busy("the server has no ear free")
        self._streams[device] = _Stream(next(self._numbers), name, now, next(self._turns))
        return self._streams[device]

    def _drop(self, device: str) -> None:
        stream = self._streams.pop(device, None)
        if stream is not None:
            self._gone.append(stream.number)

    def _drop_silent(self, now: float) -> None:
        for device, stream in list(self._streams.items()):
            if now - stream.seen_at > self._limits.live_gone_s:
                self._drop(device)

    # --- the thread ----------------------------------------------------------------------------------

    def _hear(self) -> None:
        ear: Ear | None = None
        try:
            while (work := self._work()) is not None:
                stream, sound, gone = work
                try:
                    ear = ear or self._open_ear()
                    for number in gone:
                        ear.forget(number)
                    said, saying = ear.hear(stream.number, sound)
                except (DeafError, OSError):
                    _close(ear)
                    ear = None
                    self._deaf()
                    continue
                with self._news:
                    stream.saying = saying
                    if said:
                        stream.said.append(said)
        finally:
            _close(ear)

    def _work(self) -> tuple[_Stream, bytes, list[int]] | None:
        """What to hear next, and which streams are over; None when nobody spoke for so long that it ends."""
        idle_since = time.monotonic()
        with self._news:
            while True:
                self._drop_silent(time.monotonic())
                waiting = [stream for stream in self._streams.values() if stream.waiting]
                if waiting and not self._stopping:
                    break
                if self._stopping or time.monotonic() - idle_since > self._limits.live_idle_s:
                    self._thread = None
                    return None
                self._news.wait(_LOOK_S)
            stream = min(waiting, key=lambda each: each.turn)
            stream.turn = next(self._turns)
            sound = bytes(stream.waiting)
            stream.waiting.clear()
            gone, self._gone = self._gone, []
            return stream, sound, gone

    def _deaf(self) -> None:
        """Whoever is being heard does without, and is refused for a while: it may not come right soon."""
        with self._news:
            self._streams.clear()
            self._gone.clear()
            self._deaf_until = time.monotonic() + self._limits.live_deaf_s


def _close(ear: Ear | None) -> None:
    if ear is not None:
        ear.close()


def _busy(reason: str) -> HTTPException:
    return HTTPException(503, f"{reason}; the recording itself is kept as always", {"Retry-After": "15"})


# --- the endpoint --------------------------------------------------------------------------------


async def live(request: Request) -> Response:
    """POST: sound of a recording that is still being made; tells what was heard of it so far."""
    settings = access.settings_of(request)
    job, device = access.job_of(request), access.device_of(request)
    upload = uploads.upload_in(request)
    at = uploads.whole_number(request.query_params.get("at"))
    if at is None:
        raise HTTPException(400, "at must be a whole number: which sample of the recording comes first")
    sound = await uploads.body_of(request, settings.limits.live_piece)
    if len(sound) % 2:
        raise HTTPException(400, "send whole samples: 16 bits each")
    try:
        said, saying = live_of(request).add(device.id, (job.id, upload), at, sound)
    except ElsewhereError:
        return JSONResponse({"error": "the sound before this isn't here; begin anew", "offset": 0}, 409)
    return JSONResponse({"said": said} | state.some(saying=saying or None))


def live_of(request: Request) -> Live:
    there: Any = request.app.state.live
    assert isinstance(there, Live)
    return there


routes: list[BaseRoute] = [Route("/api/jobs/{job}/live/{upload}", live, methods=["POST"])]

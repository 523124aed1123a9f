"""What to hear next of sound that is still coming: stretches of speech, each whole once a pause follows it.

Pure: the sound goes in as it comes, and what tells a voice from the rest is given (`speech.voice`).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jobnotes.hearing.recogniser import RATE_HZ, Samples, checked

#: samples for each of which there is one probability of a voice: 32 ms
FRAME = 512
_LOOKED_AT = 6  # frames at a time: 0.19 s, by which a pause is noticed later
_CONTEXT = 32  # frames before them, 1 s: what tells a voice goes by what came before

Voice = Callable[[Samples], NDArray[np.float32]]


@dataclass(frozen=True, slots=True)
class Breath:
    """What ends a stretch. Probabilities of a voice, and seconds.

    Speech begins at `threshold`, and goes on while it doesn't fall below `goes_on`. `longest_s`: who doesn't
    pause is cut off where the voice was weakest in the second half.
    """

    threshold: float = 0.5
    goes_on: float = 0.35
    pause_s: float = 0.5
    margin_s: float = 0.3
    longest_s: float = 15.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Speech with a margin: `start` is the number of its first sample, from the first that ever came."""

    start: int
    samples: Samples


class Stretches:
    """The stretches in one stream of sound. What they are doesn't depend on the pieces in which it comes.

    What is held is never longer than the longest stretch, its margins and the piece that came last.
    """

    def __init__(self, voice: Voice, breath: Breath | None = None) -> None:
        self._voice = voice
        self._breath = breath or Breath()
        self._held: Samples = np.zeros(0, np.float32)
        self._begin = 0  # the number of the first sample that is held
        self._looked_to = 0
        self._since: int | None = None  # where the speech began that goes on now
        self._voiced_to = 0
        self._told_to = 0
        self._voices: list[float] = []  # one a frame since then

    def add(self, samples: Samples) -> tuple[Stretch, ...]:
        """The stretches that are whole with these `samples`, which follow those before: see `Recogniser`."""
        self._held = np.concatenate([self._held, checked(samples)])
        found: list[Stretch] = []
        step = _LOOKED_AT * FRAME
        while self._looked_to + step <= self._begin + len(self._held):
            found.extend(self._look(step))
        return tuple(found)

    def rest(self) -> Stretch | None:
        """What was being said when the sound ended, if anything was."""
        end = self._begin + len(self._held)
        return self._told(end) if self._since is not None else None

    def _look(self, step: int) -> Iterator[Stretch]:
        start = max(self._begin, self._looked_to - _CONTEXT * FRAME)
        voices = self._voice(self._cut(start, self._looked_to + step))[-_LOOKED_AT:]
        for at, voice in enumerate(voices.tolist()):
            if (stretch := self._frame(self._looked_to + at * FRAME, voice)) is not None:
                yield stretch
        self._looked_to += step
        needed = self._looked_to - _CONTEXT * FRAME
        if self._since is not None:
            needed = min(needed, self._since - self._samples(self._breath.margin_s))
        gone = max(0, needed - self._begin)
        # a copy: a part of it would hold on to all of it
        self._held = self._held[gone:].copy()
        self._begin += gone

    def _frame(self, start: int, voice: float) -> Stretch | None:
        breath, end = self._breath, start + FRAME
        if self._since is None:
            if voice < breath.threshold:
                return None
            self._since, self._voiced_to, self._voices = start, end, [voice]
            return None
        self._voices.append(voice)
        if voice >= breath.goes_on:
            self._voiced_to = end
        if end - self._voiced_to >= self._samples(breath.pause_s):
            return self._told(self._voiced_to + self._samples(breath.margin_s))
        if end - self._since < self._samples(breath.longest_s):
            return None
        half = len(self._voices) // 2
        weakest = half + int(np.argmin(self._voices[half:]))
        cut, left = self._since + weakest * FRAME, self._voices[weakest:]
        stretch = self._told(cut)
        self._since, self._voices = cut, left
        return stretch

    def _told(self, end: int) -> Stretch:
        assert self._since is not None
        start = max(self._since - self._samples(self._breath.margin_s), self._told_to, self._begin)
        self._since, self._told_to, self._voices = None, end, []
        return Stretch(start, self._cut(start, end).copy())

    def _cut(self, start: int, end: int) -> Samples:
        return self._held[start - self._begin : end - self._begin]

    @staticmethod
    def _samples(seconds: float) -> int:
        return round(seconds * RATE_HZ)

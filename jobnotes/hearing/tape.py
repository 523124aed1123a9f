"""Sound that needn't fit in memory: read from its beginning, a block at a time, as often as it is wanted."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Self

import numpy as np

from jobnotes.hearing.recogniser import RATE_HZ, Samples, checked

_BLOCK = 30 * RATE_HZ


@dataclass(frozen=True, slots=True)
class Tape:
    """A recording: `blocks` gives its samples anew from the first, in arrays of any length.

    Each is as `Recogniser.hear` wants them. `length_s` tells how far one is; the sound itself tells its end.
    """

    blocks: Callable[[], Iterator[Samples]]
    length_s: float

    @classmethod
    def of(cls, samples: Samples) -> Self:
        """A tape of what is in memory already."""
        starts = range(0, len(samples), _BLOCK)
        return cls(lambda: (samples[at : at + _BLOCK] for at in starts), len(samples) / RATE_HZ)

    def play(self) -> Playback:
        return Playback(self.blocks())

    def whole(self) -> Samples:
        """All of it at once: 4 MB a minute."""
        whole = bytearray()  # grows in its place, so that a long recording isn't there twice
        for block in self.blocks():
            whole += block.data
        return np.frombuffer(whole, np.float32)


class Playback:
    """One pass over a tape. Only what was asked for and isn't forgotten yet is in memory."""

    def __init__(self, blocks: Iterator[Samples]) -> None:
        self._blocks = blocks
        self._held: Samples = np.zeros(0, np.float32)
        self._begin = 0  # the number of the first sample that is held
        self._forgotten = 0

    def cut(self, start: int, end: int) -> Samples:
        """Samples `start` … `end`, end excluded; fewer where the sound ends before. Not to be written to."""
        if start < self._forgotten:
            raise ValueError(f"sample {start} is forgotten")
        self._read_to(end)
        return self._held[max(0, start - self._begin) : max(0, end - self._begin)]

    def goes_on_at(self, sample: int) -> bool:
        """Whether there is a sample of that number."""
        self._read_to(sample + 1)
        return self._begin + len(self._held) > sample

    def forget(self, before: int) -> None:
        """Nothing that comes before that sample is asked for any more."""
        self._forgotten = max(self._forgotten, before)
        gone = min(max(0, before - self._begin), len(self._held))
        self._held = self._held[gone:]
        self._begin += gone

    def _read_to(self, end: int) -> None:
        held = [self._held]
        until = self._begin + len(self._held)
        while until < end and (block := next(self._blocks, None)) is not None:
            until += len(block)
            if until <= self._forgotten:
                self._begin = until
            else:
                held.append(checked(block))
        if len(held) > 1:
            self._held = np.concatenate(held)

"""Where speech is: stretches of voice, and how they are put together into pieces that are heard at once.

The voice-activity model is the one inside faster-whisper (Silero's), read from that package.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from jobnotes.hearing.offline import stay_offline
from jobnotes.hearing.recogniser import RATE_HZ, Samples
from jobnotes.hearing.tape import Playback

BLOCK_S = 120.0  # how much is looked at for speech at a time: it bounds the memory, whatever the length


@dataclass(frozen=True, slots=True)
class Activity:
    """How speech is told from the rest. `threshold` is a probability; the others are seconds."""

    threshold: float = 0.5
    shortest_pause_s: float = 0.5
    margin_s: float = 0.3
    longest_s: float = 28.0


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of speech, as sample numbers: `start` is in it, `end` isn't."""

    start: int
    end: int

    @property
    def length_s(self) -> float:
        return (self.end - self.start) / RATE_HZ


@dataclass(frozen=True, slots=True)
class Speech:
    """A stretch of speech with its sound."""

    span: Span
    samples: Samples


@dataclass(frozen=True)
class Piece:
    """Spans that are heard as one, the pauses between them left out; `sounds` is theirs."""

    spans: tuple[Span, ...]
    sounds: tuple[Samples, ...] = field(default=(), compare=False, repr=False)

    @property
    def samples(self) -> Samples:
        """The sound of the piece: shape (m,)."""
        return np.concatenate(self.sounds)

    @property
    def name(self) -> str:
        """Which piece of its recording it is: no other has these spans."""
        return " ".join(f"{span.start}-{span.end}" for span in self.spans)

    @cached_property
    def _begins_s(self) -> tuple[float, ...]:
        # summed as whole samples: sums of seconds would miss the border between two spans by a rounding
        lengths = (span.end - span.start for span in self.spans)
        return tuple(begin / RATE_HZ for begin in accumulate(lengths, initial=0))[:-1]

    @property
    def length_s(self) -> float:
        return sum(span.length_s for span in self.spans)

    def times(self, start_s: float, end_s: float) -> tuple[float, float]:
        """Times within the piece as times of the recording, in seconds.

        Both are placed in the span that holds their middle: a word doesn't reach over a pause that was
        left out.
        """
        middle = (start_s + end_s) / 2
        at = max(i for i, begin in enumerate(self._begins_s) if i == 0 or begin <= middle)
        span, begin = self.spans[at], self._begins_s[at]
        low, high = span.start / RATE_HZ, span.end / RATE_HZ
        start, end = (min(max(t - begin + low, low), high) for t in (start_s, end_s))
        return start, max(start, end)


def speech(sound: Playback, activity: Activity | None = None, block_s: float = BLOCK_S) -> Iterator[Speech]:
    """The stretches of speech in order, not overlapping, each with a margin, none longer than `longest_s`.

    The recording is looked at in blocks of `block_s` seconds; speech that is still going on at the end of
    a block is looked at again from its own start, so a block's edge cuts no word.
    """
    activity = activity or Activity()
    block = max(int(block_s * RATE_HZ), int(2 * activity.longest_s * RATE_HZ))
    unsure = int((activity.shortest_pause_s + 2 * activity.margin_s) * RATE_HZ)
    begin = found_to = 0
    while len(samples := sound.cut(begin, begin + block)):
        end = begin + len(samples)
        here = _spans_of_block(samples, begin, activity)
        goes_on = here and here[-1].end > end - unsure and here[-1].start > begin
        after = here.pop().start if goes_on and sound.goes_on_at(end) else end
        for span in here:
            start = max(span.start, found_to)
            if span.end > start:
                # a copy: a part of the block would hold on to all of it
                yield Speech(Span(start, span.end), sound.cut(start, span.end).copy())
                found_to = span.end
        begin = after
        sound.forget(begin)


def voice(samples: Samples) -> NDArray[np.float32]:
    """The probability of a voice in each 512 samples (32 ms) of `samples`, which are a multiple of that.

    The first few are less sure than the rest: the model goes by what came before.
    """
    stay_offline()
    # imported here because it takes seconds, which a run that hears nothing needn't spend
    from faster_whisper.vad import get_vad_model

    # a copy, as the model silences the last samples of what it is given
    return np.asarray(get_vad_model()(samples.copy()), np.float32).reshape(-1)


def pieces(of: Iterable[Speech], longest_s: float) -> Iterator[Piece]:
    """`of` in order, put together as long as a piece stays within `longest_s` seconds."""
    group: list[Speech] = []
    for one in of:
        if group and sum(s.span.length_s for s in group) + one.span.length_s > longest_s:
            yield _piece(group)
            group = []
        group.append(one)
    if group:
        yield _piece(group)


def _piece(of: list[Speech]) -> Piece:
    return Piece(tuple(one.span for one in of), tuple(one.samples for one in of))


def _spans_of_block(samples: Samples, offset: int, activity: Activity) -> list[Span]:
    stay_offline()
    # imported here because it takes seconds, which a run that hears nothing needn't spend
    from faster_whisper.vad import VadOptions, get_speech_timestamps

    options = VadOptions(
        threshold=activity.threshold,
        min_silence_duration_ms=round(activity.shortest_pause_s * 1000),
        speech_pad_ms=round(activity.margin_s * 1000),
        max_speech_duration_s=activity.longest_s,
    )
    found = get_speech_timestamps(samples, options)
    return [Span(offset + int(s["start"]), offset + int(s["end"])) for s in found]

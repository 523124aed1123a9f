"""Hearing while somebody still speaks: sound goes in as it comes, words come out as soon as there are any.

A recogniser that hears streams (vosk) gives words at once, and what is being said just now. Any other one
hears a stretch when a pause follows it. Either way the words are a first impression: what counts is heard
from the whole recording.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Protocol, runtime_checkable

from jobnotes.hearing.recogniser import Recogniser, Samples, load
from jobnotes.hearing.second import TwoListeners
from jobnotes.hearing.speech import Piece, Span, Speech, pieces, voice
from jobnotes.hearing.stretches import Stretch, Stretches
from jobnotes.hearing.two_hearings import TwoHearings
from jobnotes.record import Word

_PIECE_S = 28.0  # how much speech is heard at once, as in `whisper.Settings`


class Listening(Protocol):
    """One stream of sound being heard: `feed` it as it comes, `finish` it once.

    `partial` is what is being said just now and may still change; "" where that isn't known.
    """

    @property
    def partial(self) -> str: ...

    def feed(self, samples: Samples) -> tuple[Word, ...]:
        """Hears on: shape (n,), float32 in -1…1, 16 kHz. Gives the words that are there by now, else none.

        Times, where they have any, are seconds from the first sample that was ever fed. Raises ValueError
        once finished.
        """
        ...

    def finish(self) -> tuple[Word, ...]:
        """The last words; nothing can be fed after that."""
        ...


@runtime_checkable
class HearsStreams(Protocol):
    """A recogniser that hears sound as it comes."""

    def listen(self) -> Listening: ...


@runtime_checkable
class Drafts(Protocol):
    """A recogniser that can tell words sooner than it can hear them: without times and confidence."""

    def draft(self, samples: Samples) -> tuple[Word, ...]: ...

    def load_to_draft(self) -> None:
        """Loads what drafts need now rather than with the first of them; see `recogniser.load`."""
        ...


class AtPauses:
    """A stream that `recogniser`, which hears whole recordings, hears stretch by stretch.

    The words have no times and no confidence where it `Drafts`.
    """

    partial = ""

    def __init__(self, recogniser: Recogniser) -> None:
        self._recogniser = recogniser
        self._stretches = Stretches(voice)
        self._finished = False

    def feed(self, samples: Samples) -> tuple[Word, ...]:
        """See `Listening.feed`. With a pause in it, this takes as long as hearing what came before."""
        if self._finished:
            raise ValueError("this stream is finished")
        return self._heard(self._stretches.add(samples))

    def finish(self) -> tuple[Word, ...]:
        """See `Listening.finish`."""
        if self._finished:
            return ()
        self._finished = True
        rest = self._stretches.rest()
        return self._heard((rest,) if rest else ())

    def _heard(self, stretches: tuple[Stretch, ...]) -> tuple[Word, ...]:
        """Several at once, as there are when hearing has fallen behind, cost hardly more than one."""
        spoken = (Speech(Span(s.start, s.start + len(s.samples)), s.samples) for s in stretches)
        return tuple(word for piece in pieces(spoken, _PIECE_S) for word in self._words(piece))

    def _words(self, piece: Piece) -> Iterator[Word]:
        if isinstance(self._recogniser, Drafts):
            yield from self._recogniser.draft(piece.samples)
            return
        for word in self._recogniser.hear(piece.samples):
            start_s, end_s = piece.times(word.start_s or 0.0, word.end_s or 0.0)
            yield replace(word, start_s=start_s, end_s=end_s)


def listener(recogniser: Recogniser) -> Recogniser:
    """The one of `recogniser`'s parts that is quick enough to hear while somebody speaks.

    Of two that hear everything: the one that hears streams, else the second, the lighter one.
    """
    if isinstance(recogniser, TwoListeners):
        return listener(recogniser.first)
    if isinstance(recogniser, TwoHearings):
        first, second = listener(recogniser.first), listener(recogniser.second)
        return first if isinstance(first, HearsStreams) else second
    return recogniser


def load_to_listen(recogniser: Recogniser) -> None:
    """Loads what its streams need, which may be less than its recordings do; see `recogniser.load`."""
    if isinstance(recogniser, Drafts) and not isinstance(recogniser, HearsStreams):
        recogniser.load_to_draft()
    else:
        load(recogniser)


def listening(recogniser: Recogniser) -> Listening:
    """A new stream that `recogniser` hears; streams are independent of each other."""
    return recogniser.listen() if isinstance(recogniser, HearsStreams) else AtPauses(recogniser)

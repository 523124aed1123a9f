"""A recording heard piece by piece: several at a time, each kept as soon as it is heard.

A piece's words depend on its own sound alone. So they are the same however many are heard at a time, in
whatever order they are done, and whether they were heard now or kept by a run that was broken off.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait
from dataclasses import dataclass
from typing import Any, Protocol

from jobnotes.hearing.recogniser import Progress, Recogniser, Samples
from jobnotes.hearing.speech import Piece
from jobnotes.hearing.tape import Tape
from jobnotes.record import RecogniserStamp, Word

#: from this length on it pays to spread a recording's pieces over the cores, and to keep each of them
LONG_S = 120.0

Words = tuple[Word, ...]


class Kept(Protocol):
    """What was heard of one recording before all of it was: by recogniser, and by the piece's name."""

    def heard(self, stamp: RecogniserStamp) -> Mapping[str, Words]: ...

    def keep(self, stamp: RecogniserStamp, piece: str, words: Words) -> None: ...


class HearsTapes(Recogniser, Protocol):
    """A recogniser that doesn't need all of a recording at once: `hear_tape` hears what `hear` would.

    `kept` has the pieces that were heard before, and is given those that are heard now.
    """

    def hear_tape(
        self, tape: Tape, *, progress: Progress | None = None, kept: Kept | None = None
    ) -> Words: ...


def hear_tape(
    recogniser: Recogniser, tape: Tape, *, progress: Progress | None = None, kept: Kept | None = None
) -> Words:
    """What `recogniser` hears on the tape: piece by piece, or all of it at once where it can't."""
    piecewise: Callable[..., Words] | None = getattr(recogniser, "hear_tape", None)
    if piecewise is None:
        return recogniser.hear(tape.whole(), progress=progress)
    if tape.length_s < LONG_S:
        kept = None
    return piecewise(tape, progress=progress, kept=kept)


@dataclass(slots=True)
class _Heard:
    piece: Piece
    words: Words | None


def hear_pieces(
    pieces: Iterator[Piece],
    hear: Callable[[Samples], Words],
    at_a_time: int = 1,
    *,
    known: Mapping[str, Words] | None = None,
    keep: Callable[[str, Words], None] | None = None,
) -> Iterator[tuple[Piece, Words]]:
    """Each of `pieces`, without its sound, with what `hear` makes of it: in order.

    `hear` is called in threads, `at_a_time` at once; one more goes through `pieces`, no further ahead than
    there is work. What is `known` by the piece's name isn't heard again. All else is given to `keep`, in the
    thread of whoever asks, as soon as it is heard.
    """
    known = known or {}
    finder, crew = ThreadPoolExecutor(1), ThreadPoolExecutor(at_a_time)
    order: deque[_Heard] = deque()
    at_work: dict[Future[Words], _Heard] = {}
    last = False
    found: Future[Piece | None] | None = finder.submit(next, pieces, None)
    try:
        while found or at_work:
            asked: list[Future[Any]] = [*at_work, found] if found else [*at_work]
            done, _ = wait(asked, return_when=FIRST_COMPLETED)
            for future in [future for future in at_work if future in done]:
                heard = at_work.pop(future)
                heard.words = future.result()
                if keep is not None:
                    keep(heard.piece.name, heard.words)
            if found and found in done:
                piece, found = found.result(), None
                last = piece is None
                if piece is not None:
                    heard = _Heard(Piece(piece.spans), known.get(piece.name))
                    order.append(heard)
                    if heard.words is None:
                        at_work[crew.submit(hear, piece.samples)] = heard
            if not (found or last) and len(at_work) <= at_a_time:
                found = finder.submit(next, pieces, None)
            while order and (words := order[0].words) is not None:
                yield order.popleft().piece, words
    finally:
        finder.shutdown(cancel_futures=True)
        crew.shutdown(cancel_futures=True)

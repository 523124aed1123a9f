"""Words out of what a decoder gives: its pieces joined, and its loops found."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from jobnotes.record import Word

_MOST_REPEATS = {1: 5, 2: 3, 3: 3}  # of so many words; longer phrases aren't said three times in a row
_MOST_REPEATS_OF_LONGER = 2
_LONGEST_PHRASE = 12
_CRAMMED_S = 0.3
_CRAMMED_WORDS = 4


@dataclass(frozen=True, slots=True)
class Heard:
    """What a decoder calls a word. Without a space before it, it goes on with the one before.

    Times in seconds, `probability` 0–1.
    """

    text: str
    start_s: float
    end_s: float
    probability: float


def joined(heard: Sequence[Heard]) -> tuple[Word, ...]:
    """The words as a person would write them: "60" ".2" is one word, and so are "40" "%" and "re" "-used".

    A word is as sure as the least sure of what it was joined from. What is only punctuation belongs to the
    word before it, or is dropped where there is none.
    """
    words: list[Word] = []
    for piece in heard:
        text = piece.text.strip()
        if not text:
            continue
        spoken = any(c.isalnum() for c in text)
        if words and (not piece.text[0].isspace() or not spoken):
            before = words[-1]
            words[-1] = replace(
                before,
                text=before.text + text,
                end_s=max(before.end_s or 0.0, piece.end_s) if spoken else before.end_s,
                confidence=min(before.confidence or 0.0, _share(piece.probability))
                if spoken
                else before.confidence,
            )
        elif spoken or text in ("%", "°", "$", "£", "€", "+", "-", "="):
            words.append(
                Word(text, piece.start_s, max(piece.start_s, piece.end_s), _share(piece.probability))
            )
    return tuple(words)


def crammed(words: Sequence[Word]) -> tuple[bool, ...]:
    """For each word, whether it is one of more than anybody says in so short a time.

    A decoder that goes on after speech has ended finds no time for the words it makes up: they lie on top
    of each other. Four words begin within 0.3 s in no speech (common practice, no source).
    """
    starts = [word.start_s or 0.0 for word in words]
    within = [
        [abs(other - start) <= _CRAMMED_S / 2 for other in starts[max(0, i - 9) : i + 10]]
        for i, start in enumerate(starts)
    ]
    return tuple(sum(near) >= _CRAMMED_WORDS for near in within)


def loop(words: Sequence[Word]) -> tuple[int, int, int] | None:
    """The first place where the same words come again and again: (start, length of the phrase, how often).

    A person does say "no no no" or a digit four times; the thresholds lie above that (common practice, no
    source). None if there is no loop.
    """
    plain = [_plain(word.text) for word in words]
    for start in range(len(plain)):
        for length in range(1, min(_LONGEST_PHRASE, (len(plain) - start) // 2) + 1):
            times = _repeats(plain, start, length)
            if times > _MOST_REPEATS.get(length, _MOST_REPEATS_OF_LONGER):
                return start, length, times
    return None


def without_loops(words: Sequence[Word]) -> tuple[Word, ...]:
    """`words` with each loop cut down to its phrase once, which then has no confidence left."""
    left = tuple(words)
    while (found := loop(left)) is not None:
        start, length, times = found
        once = tuple(replace(word, confidence=0.0) for word in left[start : start + length])
        left = left[:start] + once + left[start + length * times :]
    return left


def _repeats(plain: Sequence[str], start: int, length: int) -> int:
    phrase = plain[start : start + length]
    times = 1
    while plain[start + times * length : start + (times + 1) * length] == phrase:
        times += 1
    return times


def _plain(text: str) -> str:
    return "".join(c for c in text.lower() if c.isalnum()) or text


def _share(probability: float) -> float:
    return min(max(probability, 0.0), 1.0)

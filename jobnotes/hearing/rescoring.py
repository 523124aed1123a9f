"""Two decoders' hearings of one piece made into one: where they differ, the words that both believe more.

Each word of either hearing has its probability in both decoders. The hearings are laid side by side, and each
stretch in which they differ goes to the side with the higher log-probability, summed over both decoders, over
its tokens and those of the next words that are the same again (log-linear combination of models, as in the
rescoring of n-best lists: Ostendorf et al. 1991, from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from jobnotes.hearing.words import Heard

_WORDS_AFTER = 2  # a word too many, or one left out, shows in how the next ones fit


@dataclass(frozen=True, slots=True)
class Scored:
    """A word with what each decoder makes of it, given the words before it in its own hearing.

    `log_p`: natural logarithm of its probability, summed over its tokens; `p`: the mean of its tokens' own.
    """

    heard: Heard
    log_p: tuple[float, ...]
    p: tuple[float, ...]


def agreed(one: Sequence[Scored], other: Sequence[Scored]) -> list[Heard]:
    """The words of the piece, each with its probability in the first decoder, their times rising.

    Where both are believed alike it is what `one` has. A hearing without words has no say.
    """
    if not one or not other:
        return [_believed(word) for word in one or other]
    words: list[Heard] = []
    matcher = SequenceMatcher(None, [_key(w) for w in one], [_key(w) for w in other], autojunk=False)
    steps = matcher.get_opcodes()
    for at, (what, a, b, c, d) in enumerate(steps):
        side = one[a:b]
        if what != "equal":
            following = min(_WORDS_AFTER, steps[at + 1][2] - steps[at + 1][1]) if at + 1 < len(steps) else 0
            ours, theirs = _belief(one[a : b + following]), _belief(other[c : d + following])
            side = side if ours >= theirs else other[c:d]
        for word in side:
            words.append(_after(words[-1:], _believed(word)))
    return words


def _belief(words: Sequence[Scored]) -> float:
    return sum(sum(word.log_p) for word in words)


def _believed(word: Scored) -> Heard:
    return replace(word.heard, probability=word.p[0])


def _after(before: Sequence[Heard], word: Heard) -> Heard:
    """Two decoders place the same sound a little differently: none begins before the last has ended."""
    earliest = before[0].end_s if before else word.start_s
    start = max(word.start_s, earliest)
    return replace(word, start_s=start, end_s=max(start, word.end_s))


def _key(word: Scored) -> str:
    letters = "".join(c for c in word.heard.text.casefold() if c.isalnum())
    return letters or word.heard.text.strip()

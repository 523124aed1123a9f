"""Two decoders' hearings of one piece made into one: where they differ, the words that both believe more.

Each word of either hearing has its probability in both decoders. The hearings are laid side by side, and each
stretch in which they differ goes to the side with the higher log-probability, summed over both decoders, over
its tokens and those of the next words that are the same again (log-linear combination of models, as in the
rescoring of n-best lists: Ostendorf et al. 1991, from memory).

"Twelve litres" and "12 liters" are no difference: what may be the same words stays as the first has it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import SequenceMatcher

from jobnotes.hearing.comparing import said_alike
from jobnotes.hearing.spoken_forms import SpokenForms
from jobnotes.hearing.words import Heard, joined

_LONGEST_ALIKE = 12  # words of a stretch in which what is only written otherwise is looked for
_WORDS_AFTER = 2  # a word too many, or one left out, shows in how the next ones fit


@dataclass(frozen=True, slots=True)
class Scored:
    """A word with what each decoder makes of it, given the words before it in its own hearing.

    `log_p`: natural logarithm of its probability, summed over its tokens; `p`: the mean of its tokens' own.
    """

    heard: Heard
    log_p: tuple[float, ...]
    p: tuple[float, ...]


def agreed(one: Sequence[Scored], other: Sequence[Scored], forms: SpokenForms) -> list[Heard]:
    """The words of the piece, each with its probability in the first decoder, their times rising.

    Where both are believed alike, or only written otherwise by `forms`, it is what `one` has. A hearing
    without words has no say.
    """
    if not one or not other:
        return [_believed(word) for word in one or other]
    words: list[Heard] = []
    matcher = SequenceMatcher(None, [_key(w) for w in one], [_key(w) for w in other], autojunk=False)
    steps = matcher.get_opcodes()
    for at, (what, a, b, c, d) in enumerate(steps):
        side = one[a:b]
        if what != "equal":
            head, tail = _alike_around(side, other[c:d], forms)
            following = 0 if tail[0] else _following(steps, at)
            ours, theirs = one[a + head[0] : b - tail[0]], other[c + head[1] : d - tail[1]]
            belief = _belief([*ours, *one[b : b + following]])
            if belief < _belief([*theirs, *other[d : d + following]]):
                side = [*side[: head[0]], *theirs, *side[len(side) - tail[0] :]]
        for word in side:
            words.append(_after(words[-1:], _believed(word)))
    return words


def _following(steps: Sequence[tuple[str, int, int, int, int]], at: int) -> int:
    """How many of the next words, which are the same again, tell which side fits."""
    return min(_WORDS_AFTER, steps[at + 1][2] - steps[at + 1][1]) if at + 1 < len(steps) else 0


def _alike_around(
    one: Sequence[Scored], other: Sequence[Scored], forms: SpokenForms
) -> tuple[tuple[int, int], tuple[int, int]]:
    """How many words of each side, at its head and at its tail, are only written otherwise."""
    if not one or not other or max(len(one), len(other)) > _LONGEST_ALIKE:
        return (0, 0), (0, 0)
    ways = [(i, j) for i in range(len(one), 0, -1) for j in range(len(other), 0, -1)]
    head = next(((i, j) for i, j in ways if _written_otherwise(one[:i], other[:j], forms)), (0, 0))
    rest, others_rest = one[head[0] :], other[head[1] :]
    tail = next(
        (
            (i, j)
            for i, j in ways
            if i <= len(rest)
            and j <= len(others_rest)
            and _written_otherwise(rest[len(rest) - i :], others_rest[len(others_rest) - j :], forms)
        ),
        (0, 0),
    )
    return head, tail


def _written_otherwise(one: Sequence[Scored], other: Sequence[Scored], forms: SpokenForms) -> bool:
    words = joined([w.heard for w in one]), joined([w.heard for w in other])
    return bool(words[0]) and bool(words[1]) and said_alike(*words, forms)


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

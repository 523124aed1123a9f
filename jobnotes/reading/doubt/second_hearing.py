"""What a second listener's words say: facts that the first missed, and which of its facts they bear out.

The second hearing is read like the first. A fact that only it has is shown, for a person to check; and so is
a fact of the first that the second doesn't have in the same seconds.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime

from jobnotes.reading.doubt.confidence import MARKS
from jobnotes.reading.utterances import Utterances
from jobnotes.record import Fact, Note, Statement, Word

_NEVER = datetime.max.replace(tzinfo=UTC)


def heard_by_the_second(said: Utterances) -> Utterances | None:
    """The same notes in the second listener's words; None where there was none, or it heard the same."""
    if all(word.instead is None for word in said.words):
        return None
    notes: list[Note] = []
    for at, note in enumerate(said.notes):
        words = [w for w, n in zip(said.words, said.note_of, strict=True) if n == at]
        notes.append(replace(note, words=tuple(_in_their_places(words))))
    return Utterances.of_notes(notes)


def _in_their_places(words: Sequence[Word]) -> Iterator[Word]:
    """The second hearing; what stands for several words is spread evenly over their time."""
    at = 0
    while at < len(words):
        word = words[at]
        if word.instead is None:
            yield word
            at += 1
            continue
        end = at + 1
        while end < len(words) and words[end].instead == "":
            end += 1
        texts = word.instead.split()
        start_s, end_s = word.start_s, words[end - 1].end_s
        for k, text in enumerate(texts):
            if start_s is None or end_s is None:
                yield Word(text, confidence=word.confidence)
            else:
                step = (end_s - start_s) / len(texts)
                yield Word(text, start_s + k * step, start_s + (k + 1) * step, word.confidence)
        at = end


#: (note, from, to) in seconds.
Span = tuple[str | None, float, float]


def joined(
    first: Sequence[Fact], second: Sequence[Fact], said: Utterances, private: Sequence[Span]
) -> tuple[Fact, ...]:
    """`first`, the facts of the first hearing of `said`, with what those of the `second` say to them.

    What the first hearing has as `private` stays out of what only the second heard.
    """
    ours = _ByPlace(first)
    theirs = _ByPlace(second)
    told = {fact.detail for fact in first}
    words = _WordsByTime(said)
    out = [fact if theirs.beside(fact) else _only_first(fact, words.of(fact)) for fact in first]
    for fact in second:
        if fact.status == "rejected" or fact.detail in told or ours.beside(fact):
            continue
        if any(_meet(_span(fact), span) for span in private):
            continue
        out.append(_only_second(fact))
    return tuple(sorted(out, key=lambda f: (f.at is None, f.at or _NEVER)))


def _only_first(fact: Fact, words: Sequence[Word]) -> Fact:
    """For a person to check, where only the first listener heard it.

    What is told in free words is told in other words soon; and the ending of a verb is lost easily.
    """
    differing = [w for w in words if w.instead is not None]
    only_endings = bool(differing) and all(_same_stem(w) for w in differing)
    if fact.status != "sure" or isinstance(fact.detail, Statement) or only_endings:
        return fact
    why = f"only the first listener heard this: '{fact.quote}'"
    return replace(fact, status="check", confidence=min(fact.confidence, 0.5), why=why)


def _same_stem(word: Word) -> bool:
    """Whether both hearings have the word, but for an ending: "closed", "close"."""
    one, other = (text.casefold().strip(MARKS) for text in (word.text, word.instead or ""))
    return bool(one and other) and (one.startswith(other) or other.startswith(one))


class _WordsByTime:
    """The words of each note, as the first listener heard them, by their seconds."""

    def __init__(self, said: Utterances) -> None:
        self._words: dict[str, list[Word]] = {}
        for word, note in zip(said.words, said.note_of, strict=True):
            self._words.setdefault(said.notes[note].id, []).append(word)

    def of(self, fact: Fact) -> list[Word]:
        words = self._words.get(fact.note or "", [])
        start_s, end_s = fact.start_s or 0.0, fact.end_s or 0.0
        low = bisect_right(words, start_s, key=lambda w: w.end_s or 0.0)
        high = bisect_left(words, end_s, key=lambda w: w.start_s or 0.0)
        return words[low:high]


def _only_second(fact: Fact) -> Fact:
    why = f"only the second listener heard this: '{fact.quote}'"
    return replace(fact, status="check", confidence=min(fact.confidence, 0.5), why=why)


def _span(fact: Fact) -> Span:
    return fact.note, fact.start_s or 0.0, fact.end_s or 0.0


def _meet(one: Span, other: Span) -> bool:
    return one[0] == other[0] and one[1] < other[2] and other[1] < one[2]


class _ByPlace:
    """Facts by where they were said."""

    def __init__(self, facts: Sequence[Fact]) -> None:
        self._facts: dict[tuple[str | None, str], list[Span]] = {}
        self._longest_s = max((fact.end_s or 0.0) - (fact.start_s or 0.0) for fact in facts) if facts else 0.0
        for fact in sorted(facts, key=lambda f: f.start_s or 0.0):
            self._facts.setdefault((fact.note, fact.kind), []).append(_span(fact))

    def beside(self, fact: Fact) -> bool:
        """Whether there is one of its kind that was said in the same seconds."""
        spans = self._facts.get((fact.note, fact.kind), [])
        place = _span(fact)
        low = bisect_left(spans, place[1] - self._longest_s, key=lambda s: s[1])
        high = bisect_left(spans, place[2], key=lambda s: s[1])
        return any(_meet(span, place) for span in spans[low:high])

"""Listed phrases and how they are found in speech."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Generic, TypeVar

from jobnotes.reading.tokens import without_is

M = TypeVar("M")


def spoken(phrase: str) -> list[str]:
    """The words of a listed phrase, as the tokens of speech are cut."""
    words = (phrase.replace("-", " ") if "-" in phrase else phrase).split()
    if "'" not in phrase:
        return words  # most often
    out: list[str] = []
    for word in words:
        owner, contracted = without_is(word)
        out += [owner, "is"] if contracted else [word]
    return out


class Phrases(Generic[M]):
    """Finds the longest listed phrase at a position, one look-up a word.

    `M` is what a phrase means; one phrase may mean several things.
    """

    __slots__ = ("_begun", "_open", "first_words", "last_words")

    def __init__(self, entries: Iterable[tuple[str, M]] = ()) -> None:
        #: What each beginning of a phrase means if the phrase ends there, and () if it only goes on. One
        #: table of strings, not a tree: the garbage collector would walk over each of its nodes.
        self._begun: dict[str, tuple[M, ...]] = {}
        #: The beginnings that go on.
        self._open: set[str] = set()
        #: The words that a listed phrase can begin with.
        self.first_words: set[str] = set()
        #: … and those that one can end with.
        self.last_words: set[str] = set()
        self.update(entries)

    def update(self, entries: Iterable[tuple[str, M]]) -> None:
        begun = self._begun
        for phrase, meaning in entries:
            words = spoken(phrase)
            if not words:
                continue
            self.first_words.add(words[0])
            self.last_words.add(words[-1])
            said = words[0]
            for word in words[1:]:
                begun.setdefault(said, ())
                self._open.add(said)
                said = f"{said} {word}"
            begun[said] = (*begun.get(said, ()), meaning)

    def add(self, phrase: str, meaning: M) -> None:
        self.update(((phrase, meaning),))

    def at(self, norms: list[str], position: int) -> tuple[int, tuple[M, ...]]:
        """(end, meanings) of the longest phrase that starts at `position`; (position, ()) if none does."""
        last = len(norms)
        if not 0 <= position < last or (told := self._begun.get(norms[position])) is None:
            return position, ()  # most often
        said: str = norms[position]
        end, index = position, position + 1
        meanings: tuple[M, ...] = ()
        while told is not None:
            if told:
                end, meanings = index, told
            if index == last or said not in self._open:
                break
            said = f"{said} {norms[index]}"
            told = self._begun.get(said)
            index += 1
        return end, meanings

    def all_at(self, norms: list[str], position: int) -> list[tuple[int, M]]:
        """Every listed phrase that starts at `position`, shortest first, as (end, meaning)."""
        found: list[tuple[int, M]] = []
        if not 0 <= position < len(norms):
            return found
        said = norms[position]
        told = self._begun.get(said)
        index = position + 1
        while told is not None:
            found += [(index, meaning) for meaning in told]
            if index == len(norms) or said not in self._open:
                break
            said = f"{said} {norms[index]}"
            told = self._begun.get(said)
            index += 1
        return found

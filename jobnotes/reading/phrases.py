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


class _Node(Generic[M]):
    """A word of a phrase: the words that may follow it, and what the phrase means if it ends here."""

    __slots__ = ("meanings", "next")

    def __init__(self) -> None:
        self.next: dict[str, _Node[M]] = {}
        # a tuple, since the garbage collector walks over a list of each of so many nodes
        self.meanings: tuple[M, ...] = ()


class Phrases(Generic[M]):
    """Finds the longest listed phrase at a position: a trie over words, one step a word.

    `M` is what a phrase means; one phrase may mean several things.
    """

    __slots__ = ("_last", "_root", "first_words")

    def __init__(self, entries: Iterable[tuple[str, M]] = ()) -> None:
        self._root: dict[str, _Node[M]] = {}
        #: The words that a listed phrase can begin with.
        self.first_words = self._root.keys()
        self._last: set[str] = set()
        self.update(entries)

    def update(self, entries: Iterable[tuple[str, M]]) -> None:
        last = self._last
        for phrase, meaning in entries:
            words = spoken(phrase)
            following, node = self._root, None
            for word in words:
                if word in following:
                    node = following[word]
                else:
                    node = following[word] = _Node()
                following = node.next
            if node is not None:
                node.meanings += (meaning,)
                last.add(words[-1])

    def add(self, phrase: str, meaning: M) -> None:
        self.update(((phrase, meaning),))

    def can_end_with(self, word: str) -> bool:
        return word in self._last

    def at(self, norms: list[str], position: int) -> tuple[int, tuple[M, ...]]:
        """(end, meanings) of the longest phrase that starts at `position`; (position, ()) if none does."""
        last = len(norms)
        if not 0 <= position < last or norms[position] not in self._root:
            return position, ()  # most often
        node: _Node[M] | None = self._root[norms[position]]
        end = position
        meanings: tuple[M, ...] = ()
        index = position + 1
        while node is not None:
            if node.meanings:
                end, meanings = index, node.meanings
            if index == last or not node.next:
                break
            node = node.next.get(norms[index])
            index += 1
        return end, meanings

    def all_at(self, norms: list[str], position: int) -> list[tuple[int, M]]:
        """Every listed phrase that starts at `position`, shortest first, as (end, meaning)."""
        found: list[tuple[int, M]] = []
        if not 0 <= position < len(norms):
            return found
        node = self._root.get(norms[position])
        index = position + 1
        while node is not None:
            found += [(index, meaning) for meaning in node.meanings]
            node = node.next.get(norms[index]) if index < len(norms) else None
            index += 1
        return found

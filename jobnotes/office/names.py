"""Names and numbers compared: of parts, operations and prices."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache

_WORD = re.compile(r"[^\W_]+")


def plain_number(number: str) -> str:
    """A number as it is compared: printed, spaced, dotted or hyphenated, in either case, it is the same.

    Nothing else is alike: "12/3" is not "123", nor is O nought.
    """
    text = unicodedata.normalize("NFKC", number).casefold()
    return "".join(c for c in text if c != "." and not c.isspace() and unicodedata.category(c) != "Pd")


def words_of(text: str) -> list[str]:
    """Lower-case words, "o-ring" as two."""
    return _WORD.findall(text.casefold())


def singular(word: str) -> str:
    """The regular singular of an English noun: "hoses" → "hose", "bushes" → "bush"."""
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 4 and word.endswith(("sses", "xes", "ches", "shes")):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


# what a price list and a claim policy name is compared with all that was said
@lru_cache(maxsize=4096)
def singular_words(name: str) -> tuple[str, ...]:
    """The words of a name as they are compared: lower case, in the singular."""
    return tuple(singular(w) for w in words_of(name))


def is_plural(name: str) -> bool:
    """True where some word of the name is in the plural: "hoses", "lines at the tank"."""
    return any(singular(word) != word for word in words_of(name))


def has_words(name: str, phrase: str) -> bool:
    """True where the words of `phrase` stand in `name` one after the other."""
    return stand_in(singular_words(phrase), singular_words(name))


def stand_in(wanted: Sequence[str], words: Sequence[str]) -> bool:
    """True where there are `wanted` words and they stand in `words` one after the other."""
    n = len(wanted)
    return n > 0 and any(words[at : at + n] == wanted for at in range(len(words) - n + 1))


def meant(name: str, rows: Sequence[str]) -> tuple[int, ...]:
    """Which of `rows` the name may mean, by their places: one if it is clear, none, or those that it lies
    between.

    The row of its very words, in any order; else those all of whose words it has. Of these one that says all
    that the others say is meant: "air hose" rather than "hose" by "left air hose".
    """
    said = singular_words(name)
    split = [singular_words(row) for row in rows]
    for same in (
        [at for at, words in enumerate(split) if words and words == said],
        [at for at, words in enumerate(split) if words and sorted(words) == sorted(said)],
    ):
        if same:
            return tuple(same)
    within = [at for at, words in enumerate(split) if words and set(words) <= set(said)]
    fullest = [at for at in within if all(set(split[other]) <= set(split[at]) for other in within)]
    return tuple(fullest or within)

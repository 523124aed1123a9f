"""Names and numbers compared: of parts, operations and prices."""

from __future__ import annotations

import re


def plain_number(number: str) -> str:
    """A number as it is compared: printed, spaced, dotted or hyphenated, in either case, it is the same."""
    return "".join(c for c in number.casefold() if c.isalnum())


def words_of(name: str) -> tuple[str, ...]:
    """The words of a name as they are compared: lower case, in the singular."""
    return tuple(_singular(w) for w in re.findall(r"[^\W_]+", name.casefold()))


def is_plural(name: str) -> bool:
    """Whether some word of it is in the plural, by its ending."""
    return words_of(name) != tuple(re.findall(r"[^\W_]+", name.casefold()))


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    if len(word) > 4 and re.search(r"(s|x|z|ch|sh)es$", word):
        return word[:-2]
    if len(word) > 3 and word.endswith("s") and not word.endswith(("ss", "us", "is")):
        return word[:-1]
    return word


def the_one(name: str, rows: dict[tuple[str, ...], int]) -> int | None:
    """Which row `name` means: the one of the very words, else the only one all of whose words it has.

    `rows` gives each row's place by its words. None where there is none, or more than one.
    """
    wanted = words_of(name)
    if wanted in rows:
        return rows[wanted]
    within = [place for words, place in rows.items() if words and set(words) <= set(wanted)]
    # of "hose" and "air hose" the longer one is meant by "left air hose"
    longest = max((len(w) for w, p in rows.items() if p in within), default=0)
    best = [place for words, place in rows.items() if place in within and len(words) == longest]
    return best[0] if len(best) == 1 else None

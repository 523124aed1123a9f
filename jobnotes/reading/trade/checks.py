"""Checks of the entries of trade files: what comes in is any TOML value, what goes out has the right type.

`label` is the file and `where` the entry, as the message of the JobnotesError names them.
"""

from __future__ import annotations

import math
import re
from collections.abc import Collection, Iterator, Mapping
from difflib import get_close_matches
from itertools import product
from math import prod
from typing import Any

from jobnotes.errors import JobnotesError
from jobnotes.reading.trade.phrases import spoken

#: So many names an error tells in full, where none looks like what was written.
_TOLD_IN_FULL = 30

#: "(one|two)" in a phrase.
_CHOICE = re.compile(r"(\([^()|]*(?:\|[^()|]*)+\))")
#: So many phrases one entry may stand for.
_MOST_ALTERNATIVES = 5000


def strings(label: str, where: str, value: Any, *, marks: bool = False) -> list[str]:
    """A list of phrases, in lower case, words apart by one space; each has something that can be said.

    "(driver|crew) (says|reports)" stands for the four phrases that it allows; "(the|) clip" for "the
    clip" and "clip". With `marks` a mark that stands alone, as "-" between two numbers, is an entry too.
    """
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        raise JobnotesError(label, f"{where} is not a list of phrases", 'write it as ["one", "two"]')
    phrases: list[str] = []
    for written in value:
        for one in _alternatives(label, where, written):
            phrase = " ".join(one.casefold().split())
            if not (phrase if marks else any(spoken(phrase))):
                raise JobnotesError(label, f'{where} holds the empty phrase "{written}"', "take it out")
            phrases.append(phrase)
    return phrases


def _alternatives(label: str, where: str, written: str) -> list[str]:
    """The phrases that "(one|two) three" stands for; brackets without a bar stand for themselves."""
    if "|" not in written:
        return [written]  # most often
    pieces = [
        piece[1:-1].split("|") if at % 2 else [piece] for at, piece in enumerate(_CHOICE.split(written))
    ]
    if prod(map(len, pieces)) > _MOST_ALTERNATIVES:
        reason = f'{where}: "{written}" stands for more than {_MOST_ALTERNATIVES} phrases'
        raise JobnotesError(label, reason, "write it as several entries")
    return [" ".join(choice) for choice in product(*pieces)]


def some_strings(label: str, where: str, row: Mapping[str, Any], key: str) -> list[str]:
    """The phrases under `key`, of which there must be one."""
    found = strings(label, f"{where}.{key}", row.get(key, []))
    if not found:
        raise JobnotesError(label, f"{where} lacks {key}", f'add {key} = ["..."]')
    return found


def table(label: str, where: str, value: Any) -> dict[str, Any]:
    """A table with its keys."""
    if not isinstance(value, dict):
        raise JobnotesError(label, f"{where} is not a table", f"write it as [{where}] with its keys below")
    return value


def lists(
    label: str, where: str, value: Any, names: Collection[str] | None = None, *, marks: bool = False
) -> Iterator[tuple[str, list[str]]]:
    """A table of lists of phrases, name by name; only those of `names`, or any name if that is None."""
    entries = table(label, where, value)
    if names is not None:
        known(label, where, entries, names)
    for name, listed in entries.items():
        if not name.strip():
            raise JobnotesError(label, f"[{where}] has a list without a name", "name it")
        yield name, strings(label, f"{where}.{name}", listed, marks=marks)


def known(label: str, where: str, given: Collection[str], names: Collection[str]) -> None:
    """Refuses the first name of `given` that isn't one of `names`; `where` is "" at the top of the file."""
    for name in given:
        if name in names:
            continue
        near = get_close_matches(name, sorted(names), 3, 0.7)
        if len(near) == 1:
            remedy = f"write {near[0]}, or take it out"
        elif near or len(names) <= _TOLD_IN_FULL:
            remedy = f"use one of {', '.join(near or sorted(names))}"
        else:
            remedy = "use a name of the shipped file"
        raise JobnotesError(label, f"unknown name {name!r}" + (f" in {where}" if where else ""), remedy)


def rows(label: str, where: str, value: Any, keys: Collection[str]) -> list[dict[str, Any]]:
    """A list of tables, which have only these keys."""
    if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
        raise JobnotesError(label, f"{where} is not a list of entries", f"write each as [[{where}]]")
    for row in value:
        known(label, f"[[{where}]]", row, keys)
    return value


def text(label: str, where: str, row: Mapping[str, Any], key: str) -> str:
    """The text under `key`, which must be there."""
    if key not in row:
        raise JobnotesError(label, f"{where} lacks {key}", f'add {key} = "..."')
    return a_text(label, f"{where}: {key}", row[key])


def a_text(label: str, where: str, value: Any) -> str:
    """A text that isn't blank."""
    if not isinstance(value, str) or not value.strip():
        raise JobnotesError(label, f"{where} is no text", 'write it as "..."')
    return value


def number(label: str, where: str, row: Mapping[str, Any], key: str) -> float:
    """The finite number under `key`, which must be there."""
    if key not in row:
        raise JobnotesError(label, f"{where} lacks {key}", f"add {key} = a number")
    value = row[key]
    # TOML has inf and nan, and whole numbers of any size; to Python, true is a number too
    if isinstance(value, bool) or not isinstance(value, int | float) or not abs(value) < math.inf:
        raise JobnotesError(label, f"{where}: {key} is no number", f"write it as {key} = 12.5")
    try:
        return float(value)
    except OverflowError:
        raise JobnotesError(label, f"{where}: {key} is out of bounds", "give a smaller number") from None


def flag(label: str, where: str, row: Mapping[str, Any], key: str) -> bool:
    """True or false under `key`; false if it isn't there."""
    value = row.get(key, False)
    if not isinstance(value, bool):
        raise JobnotesError(label, f"{where}: {key} is neither true nor false", f"write {key} = true")
    return value

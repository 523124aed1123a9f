"""Written words as they may have been said: "1,500" is "fifteen hundred", "P0299" is "p zero two nine nine".

What is said is given in symbols: an English word in small letters, or a letter's name with a full stop.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from importlib import resources
from itertools import product

import cattrs

from jobnotes.errors import JobnotesError
from jobnotes.record import Word

_FILE = "second_listener.toml"

#: One way to say something, symbol by symbol; and all that were thought of.
Way = tuple[str, ...]
Ways = tuple[Way, ...]

_MOST_WAYS = 60
_LONGEST_NUMBER = 12
_PIECE = re.compile(r"\d{1,3}(?:,\d{3})+|\d+|\.|[a-z']+|%|-|°")
_EDGES = " .,;:!?\"'()"


@dataclass(frozen=True, slots=True)
class Numbers:
    """The words of numbers. `between` and `after` may stand for one where numbers stand around them."""

    digits: tuple[tuple[str, ...], ...]
    teens: tuple[str, ...]
    tens: tuple[str, ...]
    hundred: str
    thousand: str
    link: str
    one_of: str
    point: str
    dash: str
    minus: str
    double: str
    others: tuple[str, ...]
    between: tuple[str, ...]
    after: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Letters:
    codes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """What the second listener can hear, as `jobnotes/data/second_listener.toml` has it."""

    format: str
    version: int
    numbers: Numbers
    letters: Letters
    written: Mapping[str, str]
    pronunciations: Mapping[str, tuple[str, ...]]


@lru_cache(maxsize=1)
def vocabulary() -> Vocabulary:
    """The vocabulary that jobnotes carries; raises JobnotesError where the file was damaged."""
    text = (resources.files("jobnotes") / "data" / _FILE).read_text("utf-8")
    try:
        found = cattrs.Converter(forbid_extra_keys=True).structure(tomllib.loads(text), Vocabulary)
    except (tomllib.TOMLDecodeError, cattrs.BaseValidationError) as error:
        raise JobnotesError(_FILE, f"can't be read ({error})", "install jobnotes again") from None
    if (found.format, found.version) != ("jobnotes-second-listener", 1):
        raise JobnotesError(_FILE, "is of another kind or version", "install jobnotes again")
    return found


def bare(text: str) -> str:
    """A written word in small letters, without the marks around it."""
    return _plain(text).strip(_EDGES)


def _plain(text: str) -> str:
    return text.casefold().replace("x-ray", "xray")  # one word, whose hyphen is no dash


@dataclass(frozen=True)
class SpokenForms:
    """How written words are said, by `known`; `spelling` gives each spelling word its letter."""

    known: Vocabulary
    spelling: Mapping[str, str]

    @cached_property
    def number_words(self) -> frozenset[str]:
        """Words that are or begin a number by themselves."""
        n = self.known.numbers
        named = (n.hundred, n.thousand, n.point, n.dash, n.minus, n.double)
        return frozenset({w for d in n.digits for w in d} | {*n.teens, *n.tens, *named, *n.others})

    def carries(self, text: str) -> bool:
        """Whether the written word holds a digit, is a number, a letter or a spelling word."""
        word = bare(text)
        if any(c.isdigit() for c in word) or word in self.number_words or word in self.spelling:
            return True
        if len(word) == 1 and word.isalpha():
            return word not in "ai"
        parts = [p for p in word.split("-") if p]
        return len(parts) > 1 and all(p in self.number_words or p in self.spelling for p in parts)

    def parted(self, text: str) -> tuple[str, Way]:
        """A number and how its unit is said: "94%." gives ("94", ("percent",)); no unit: ()."""
        word = text.casefold().strip(" .,;:!?")
        unit = next((u for u in sorted(self.known.written, key=len, reverse=True) if word.endswith(u)), None)
        if unit is None or not word[: -len(unit)][-1:].isdigit():
            return word, ()
        return word[: -len(unit)], tuple(self.known.written[unit].split())

    def ways(self, text: str) -> Ways:
        """The ways to say a written word, none where it holds what can't be said."""
        pieces = _PIECE.findall(_plain(text))
        while pieces and pieces[-1] in ".-":
            pieces.pop()
        made: list[Way] = [()]
        for at, piece in enumerate(pieces):
            here = self._piece(pieces, at, piece)
            if not here:
                return ()
            made = [a + b for a, b in product(made, here)][:_MOST_WAYS]
        return tuple(dict.fromkeys(way for way in made if way))

    def _piece(self, pieces: Sequence[str], at: int, piece: str) -> Ways:
        n = self.known.numbers
        before = pieces[at - 1] if at else ""
        if piece[0].isdigit():
            number = piece.replace(",", "")
            if before == ".":
                return self._places(number)
            if len(number) > _LONGEST_NUMBER:
                return ()
            left_out: Ways = ((),) if number == "0" and pieces[at + 1 : at + 2] == ["."] else ()
            return self._number(number) + left_out
        if piece == ".":
            return ((n.point,),)
        if piece == "-":
            return ((), (n.dash,)) + (() if at else ((n.minus,),))
        if piece in self.known.written and before[:1].isdigit():
            return (tuple(self.known.written[piece].split()),)
        if piece in ("%", "°"):
            return (tuple(self.known.written[piece].split()),)
        if piece in self.known.letters.codes:
            return (tuple(f"{c}." for c in piece),)
        if len(piece) == 1:
            return ((f"{piece}.",),) + (((piece,),) if piece in "ai" else ())
        return ((piece,),)

    def _places(self, digits: str) -> Ways:
        """Digits after the point: one by one, or two as a number."""
        as_one = self._below_hundred(int(digits)) if len(digits) == 2 and digits[0] != "0" else ()
        return (*self._each(digits), *as_one)

    def _each(self, digits: str) -> Ways:
        """One by one, a nought in its two usual forms."""
        forms = [self.known.numbers.digits[int(d)][:2] for d in digits]
        return tuple(product(*forms))[:16] if len(digits) <= 8 else (tuple(f[0] for f in forms),)

    def _number(self, digits: str) -> Ways:
        """A run of digits: one by one, as an amount, in groups of two, with "double"."""
        made = list(self._each(digits))
        if digits[0] != "0" and len(digits) <= 6:
            made += self._amount(int(digits))
        for cut in _GROUPS.get(len(digits), ()):
            at, parts = 0, []
            for length in cut:
                parts.append(self._group(digits[at : at + length]))
                at += length
            made += [tuple(s for part in way for s in part) for way in product(*parts)]
        for twice in re.finditer(r"(\d)(?=\1)", digits):
            at = twice.start()
            head = self._each(digits[:at])[:2] if at else ((),)
            tail = self._each(digits[at + 2 :])[:2] if digits[at + 2 :] else ((),)
            digit = self.known.numbers.digits[int(digits[at])][0]
            made += [(*a, self.known.numbers.double, digit, *b) for a, b in product(head, tail)]
        return tuple(dict.fromkeys(made))[:_MOST_WAYS]

    def _group(self, digits: str) -> Ways:
        if len(digits) == 2 and digits[0] == "0":
            return tuple(
                (z, self._below_hundred(int(digits))[0][0]) for z in self.known.numbers.digits[0][:2]
            )
        return self._below_hundred(int(digits))

    def _below_hundred(self, value: int) -> Ways:
        n = self.known.numbers
        if value < 10:
            return ((n.digits[value][0],),)
        if value < 20:
            return ((n.teens[value - 10],),)
        ten, one = n.tens[value // 10 - 2], value % 10
        return ((ten, n.digits[one][0]),) if one else ((ten,),)

    def _amount(self, value: int) -> Ways:
        """Up to 999,999 in words, with and without "and"."""
        n = self.known.numbers
        if value < 100:
            return self._below_hundred(value)
        if value < 1000:
            hundreds, rest = divmod(value, 100)
            heads: list[Way] = [(n.digits[hundreds][0], n.hundred)]
            heads += [(n.one_of, n.hundred)] if hundreds == 1 else []
            return self._with_rest(heads, rest, (True, False))
        thousands, rest = divmod(value, 1000)
        heads = [(*way, n.thousand) for way in self._amount(thousands)]
        made = self._with_rest(heads, rest, (rest < 100,))
        if value < 10_000 and value % 100 == 0 and rest:
            made += tuple((*way, n.hundred) for way in self._below_hundred(value // 100))
        return made

    def _with_rest(self, heads: Sequence[Way], rest: int, linked: Sequence[bool]) -> Ways:
        if not rest:
            return tuple(heads)
        link = self.known.numbers.link
        return tuple(
            (*head, *((link,) if link_it else ()), *tail)
            for head in heads
            for tail in self._amount(rest)
            for link_it in linked
        )


_GROUPS: Mapping[int, tuple[tuple[int, ...], ...]] = {
    3: ((1, 2), (2, 1)),
    4: ((2, 2),),
    5: ((1, 2, 2), (2, 1, 2), (2, 2, 1)),
    6: ((2, 2, 2),),
}


def spelling_words() -> Mapping[str, str]:
    """Each word of the spelling alphabet and its letter, from `jobnotes/data/spelling.toml`."""
    text = (resources.files("jobnotes") / "data" / "spelling.toml").read_text("utf-8")
    letters: Mapping[str, Sequence[str]] = tomllib.loads(text)["letters"]
    return {
        word.replace("x-ray", "xray"): letter
        for letter, words in letters.items()
        for word in words
        if " " not in word
    }


def carrying(words: Sequence[Word], forms: SpokenForms) -> list[bool]:
    """Which words carry numbers or codes; "for" and "and" do between two that do."""
    n = forms.known.numbers
    plain = [forms.carries(word.text) for word in words]
    found = list(plain)
    for at, word in enumerate(words):
        text = bare(word.text)
        near_before = at > 0 and found[at - 1] and _start(word) - _end(words[at - 1]) < 0.4
        near_after = at + 1 < len(words) and plain[at + 1] and _start(words[at + 1]) - _end(word) < 0.4
        if near_before and (text in n.after or (near_after and text in (n.link, n.one_of, *n.between))):
            found[at] = True
    return found


def _start(word: Word) -> float:
    return word.start_s or 0.0


def _end(word: Word) -> float:
    return word.end_s or 0.0


@lru_cache(maxsize=1)
def spoken_forms() -> SpokenForms:
    return SpokenForms(vocabulary(), spelling_words())

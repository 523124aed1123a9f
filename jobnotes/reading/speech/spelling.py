"""Strings of digits and letters as they are spelled.

`digits` reads digits in which leading zeros count ("zero two nine nine", "52 46", "double four"), `spelled`
letters and digits mixed ("alfa 12 bravo", "dash")."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from jobnotes.reading.speech.numbers import (
    LONGEST,
    REPEATS,
    TENS,
    UNITS,
    cardinal,
    is_ring,
    norm_at,
    number,
)
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP, Token, shouted
from jobnotes.reading.trade.knowledge import Trade

#: In words from here on it is a number of its own: "… six six oh four thousand and eleven engine hours".
_NEVER_SPELLED = 1000


@dataclass(frozen=True, slots=True)
class Spelled:
    """A string of digits and letters; `text` has capitals, and hyphens only where they were said."""

    start: int
    end: int
    text: str
    exact: bool = True


def digits(
    tokens: Sequence[Token], i: int, trade: Trade, *, due: bool = True, longest: int = 24, gap: int = COMMA
) -> Spelled | None:
    """The string of digits at `i`; runs over breaks up to `gap`. Decimals end it."""
    text, j, exact = "", i, True
    while j < len(tokens) and len(text) < longest and (j == i or tokens[j].gap <= gap):
        norm = tokens[j].norm
        if j > i and tokens[j].gap == COMMA and (_counts_a_thing(tokens, j, trade) or _other_hand(tokens, j)):
            break
        if j > i and _opens_more(tokens, j, trade):
            break
        if norm == "-" and j > i and dictated(tokens[j - 1].text) and j + 1 < len(tokens):
            j += 1  # "4-1-8" is how a recogniser writes digits said one by one
            continue
        if norm in REPEATS:
            digit = trade.digits.get(norm_at(tokens, j + 1)) or (
                norm_at(tokens, j + 1) if norm_at(tokens, j + 1).isdigit() else None
            )
            if digit is not None and _several_digits(digit):  # "double 27": "double two seven"
                text, j, exact = text + digit[0] * (REPEATS[norm] - 1) + digit, j + 2, False
                continue
            if digit is None or len(digit) != 1:
                break
            text, j = text + digit * REPEATS[norm], j + 2
            continue
        if norm.isdigit() and norm.isascii() and len(norm) <= LONGEST:
            text, j = text + norm, j + 1
            continue
        if norm in UNITS or norm in TENS or norm in ("a", "hundred"):
            words = cardinal(tokens, j)
            if words is None or (text and words[0] >= _NEVER_SPELLED):
                break
            exact = exact and not (
                text and norm == "hundred"
            )  # "forty two | hundred and ten": or forty, 210?
            text, j = text + str(words[0]), words[1]
            continue
        if norm in trade.digits and not is_ring(tokens, j):
            text, j = text + trade.digits[norm], j + 1
            continue
        if due and norm in trade.homophones and (j > i or _digit_like(tokens, j + 1, trade)):
            after = _digit_like(tokens, j + 1, trade)
            if not after and not _ends(tokens, j + 1):
                break
            text, j, exact = text + trade.homophones[norm], j + 1, False
            continue
        break
    exact = exact and not (j > i and _perhaps_exclaimed(tokens, j, trade))
    return Spelled(i, j, text, exact) if text else None


def _several_digits(norm: str) -> bool:
    return len(norm) > 1 and norm.isdigit() and norm.isascii()


def _digit_like(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    norm = norm_at(tokens, i)
    return (norm.isdigit() and norm.isascii()) or norm in trade.digits or norm in TENS or norm in UNITS


def _ends(tokens: Sequence[Token], i: int) -> bool:
    return i >= len(tokens) or tokens[i].gap > NO_BREAK


def spelled(
    tokens: Sequence[Token],
    norms: list[str],
    i: int,
    trade: Trade,
    *,
    longest: int = 40,
    words: bool = False,
    due: bool = False,
) -> Spelled | None:
    """Letters and digits from `i`: spelling words, single letters, digits, printed groups, "dash".

    Printed groups that hold letters only ("BC") count when short or in capitals; with `words` off a plain
    word ends the string. `exact` is False where a spelling word had to be repaired. With `due` the first may
    be a word that sounds like a digit.
    """
    text, j, exact = "", i, True
    last = len(tokens)
    while j < last and len(text) < longest and (j == i or tokens[j].gap <= COMMA):
        if (
            j > i
            and tokens[j].gap == COMMA
            and (
                not _spells(tokens, norms, j, trade)
                or _counts_a_thing(tokens, j, trade)
                or _other_hand(tokens, j)
                or _THOUSANDS.search(tokens[j].text) is not None  # "QI12 CJM, 918,500 on the clock"
            )
        ):
            break
        norm = norms[j]
        if j > i and _opens_more(tokens, j, trade):
            break
        if norm == "-" and text and dictated(tokens[j - 1].text):
            j += 1
            continue
        if norm in ("-", "dash", "hyphen"):
            if not text or j + 1 >= last or not _spells(tokens, norms, j + 1, trade):
                break
            text, j = text + "-", j + 1
            continue
        if norm in ("/", "slash", "stroke"):
            if not text or j + 1 >= last or not _spells(tokens, norms, j + 1, trade):
                break
            text, j = text + "/", j + 1
            continue
        if norm in REPEATS:
            nxt = norms[j + 1] if j + 1 < last else ""
            digit = trade.digits.get(nxt) or (nxt if len(nxt) == 1 and nxt.isalnum() else None)
            if not digit and nxt in trade.homophones and text:
                digit, exact = trade.homophones[nxt], False  # "double to ate"
            end, meaning = trade.letters.at(norms, j + 1)
            if digit:
                text, j = text + digit.upper() * REPEATS[norm], j + 2
                continue
            if _several_digits(nxt):  # "double 27": "double two seven"
                text, j, exact = text + nxt[0] * (REPEATS[norm] - 1) + nxt, j + 2, False
                continue
            if meaning:
                text, j = text + meaning[0].upper() * REPEATS[norm], end
                continue
            break
        if (
            j > i
            and trade.cue["identity"].at(norms, j)[0] > j
            and (
                len(norm) > 1 or (tokens[j].gap > NO_BREAK and trade.cue["identity"].at(norms, j)[0] > j + 1)
            )
            and not trade.cue["identity.is_words"].at(norms, j)[1]
        ):
            break  # "…, VIN": the next thing is named
        end, meaning = trade.letters.at(norms, j)
        if meaning:
            text, j = text + meaning[0].upper(), end
            continue
        if _digit_like(tokens, j, trade) or (norm == "a" and norm_at(tokens, j + 1) == "hundred"):
            words_said = cardinal(tokens, j) if text else None
            if words_said is not None and text[-1:].isdigit() and words_said[0] >= _NEVER_SPELLED:
                break
            if words_said is not None and words_said[0] >= _NEVER_AFTER_LETTERS:
                break  # "… november alfa two hundred and sixty thousand kilometres"
            run = digits(tokens, j, trade, due=False, gap=COMMA)
            if run is None:
                break
            text, j, exact = text + run.text, run.end, exact and run.exact
            continue
        if norm[:1].isdigit() or (any(c.isdigit() for c in norm) and norm.isalnum() and norm.isascii()):
            if "." in norm:
                dotted = norm_at(tokens, j + 1) == "-" and tokens[j + 1].joined
                if not dotted:
                    break
                norm = norm.replace(".", "")  # "51.06402-0077"
            text, j = text + norm.upper(), j + 1
            continue
        raw = tokens[j].text
        if trade.cue["codes"].at(norms, j)[1] and (
            len(norm) > 1 or trade.cue["codes"].at(norms, j)[0] > j + 1
        ):
            break  # "5246 FMI 7": a label, not a letter group
        if len(norm) == 1 and norm.isalpha() and norm.isascii():
            glued = j > i and tokens[j].joined and tokens[j].word == tokens[j - 1].word  # "003A"
            shut = raw.strip(".,;:") == "A" and _ends(tokens, j + 1) and not shouted(tokens, j) and j > i
            if (
                norm == "a"
                and not glued
                and not shut
                and not (_spells(tokens, norms, j + 1, trade) or norm_at(tokens, j + 1) == "a")
            ):
                break
            if norm == "i" and not _spells(tokens, norms, j + 1, trade):
                break
            text, j = text + norm.upper(), j + 1
            continue
        if (
            norm.isalpha()
            and norm.isascii()
            and len(norm) <= 4
            and (norm not in trade.stop or _capitals_before_figures(tokens, norms, j, trade))
            and (
                (raw.strip(".,-/:;").isupper() and len(raw) >= 2 and not shouted(tokens, j))
                or "-" in raw
                or "/" in raw
                or any(c.isdigit() for c in raw)
            )
        ):
            text, j = text + norm.upper(), j + 1
            continue
        end, meaning = trade.letters_misheard.at(norms, j)
        if meaning and (j > i or _spells(tokens, norms, end, trade)):
            text, j, exact = text + meaning[0].upper(), end, False
            continue
        if (
            norm in trade.homophones
            and (text or due)
            and (tokens[j].gap == NO_BREAK or not text)
            and _goes_on_by_sound(tokens, norms, j, trade, text)
        ):
            text, j, exact = text + trade.homophones[norm], j + 1, False
            continue
        break
    text = text.rstrip("-/")
    exact = exact and not (j > i and _perhaps_exclaimed(tokens, j, trade))
    return Spelled(i, j, text, exact) if text else None


#: Digits by sound that are also words of every sentence, and the digits before them that make a number plain.
_LITTLE_WORDS, _PLAIN = frozenset(("to", "too", "for")), 4


def _goes_on_by_sound(tokens: Sequence[Token], norms: list[str], j: int, trade: Trade, text: str) -> bool:
    """Whether the word at `j` can only be the digit that it sounds like, in a string after `text`."""
    shut = _ends(tokens, j + 1)
    if not shut and (_digit_like(tokens, j + 1, trade) or norms[j + 1] in REPEATS):
        return True
    if not text and not shut and trade.letters.at(norms, j + 1)[1] and len(norms[j + 1]) > 1:
        return True  # "part number ate papa kilo": a letter said by its word goes on
    if norms[j] not in _LITTLE_WORDS:
        return bool(text) and (shut or norms[j + 1] == "and" or _spells(tokens, norms, j + 1, trade))
    if not shut and norms[j + 1] in trade.homophones and _digit_like(tokens, j + 2, trade):
        return True  # "number for ate zero one"
    return shut and norms[j] == "for" and sum(c.isdigit() for c in text) >= _PLAIN


#: Nor is a number as large as this, in words, a part of a string that ends in letters.
_NEVER_AFTER_LETTERS = 10_000


def _other_hand(tokens: Sequence[Token], j: int) -> bool:
    """ "899 760 510, one": figures, a comma, and a number in words, which is another number."""
    if not (tokens[j - 1].norm.isdigit() and len(tokens[j - 1].norm) > 1 and tokens[j].norm.isalpha()):
        return False
    follows = (
        j + 1 >= len(tokens)
        or tokens[j + 1].gap > NO_BREAK
        or tokens[j + 1].norm in ("times", "off", "of", "pieces", "counts")
    )
    return follows and tokens[j].norm in UNITS


def _counts_a_thing(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    """ "…, 8 bolts": after a comma the number belongs to the thing, not to the string before it."""
    found = number(tokens, i, trade)
    if found is None:
        return False
    after: list[str] = []
    for token in tokens[found.end : found.end + 5]:
        if token.gap == STOP:
            break  # "… two one eight. Valve refitted": nothing is counted
        after.append(token.norm)
    if after[:1] == ["new"]:
        after = after[1:]  # "…, two new bearings"
    unit = trade.unit_forms.at(after, 0)[1]
    return bool(trade.components.at(after, 0)[1]) or (bool(unit) and len(unit[0][1]) > 1)


def _capitals_before_figures(tokens: Sequence[Token], norms: list[str], j: int, trade: Trade) -> bool:
    """ "number AS 4471": in capitals before figures a little word is none."""
    capitals = tokens[j].text.strip(".,-/:;").isupper() and not shouted(tokens, j)
    return capitals and j + 1 < len(norms) and norms[j + 1][:1].isdigit()


def _opens_more(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    """Whether what was spelled ends before token `i`: a count, a rating or an afterthought begins there."""
    return _counted(tokens, i) or _rated(tokens, i, trade) or _in_passing(tokens, i, trade)


def _counted(tokens: Sequence[Token], i: int) -> bool:
    """ "two off", "two of them": how many there are."""
    norm = tokens[i].norm
    if not (norm in UNITS or (norm.isdigit() and len(norm) == 1)) or norm_at(tokens, i + 1)[:2] != "of":
        return False
    off = norm_at(tokens, i + 1) == "off" and tokens[i + 1].gap == NO_BREAK
    of_them = norm_at(tokens, i + 1) == "of" and norm_at(tokens, i + 2) in ("them", "these", "those", "each")
    return off or of_them


#: A unit of fewer letters may be spelled: the "A" of "twenty four A".
_SPELLED_UNIT = 3


def _rated(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    """ "twenty four volts": what the thing is made for, told right behind its number."""
    norm = tokens[i].norm
    if norm not in TENS and not 10 <= UNITS.get(norm, 0) <= 19:
        return False
    whole = cardinal(tokens, i)
    unit = [t.norm for t in tokens[whole[1] : whole[1] + 4]] if whole else []
    return len("".join(unit[:1])) >= _SPELLED_UNIT and bool(trade.unit_forms.at(unit, 0)[1])


def _in_passing(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    """ "05512-8, oh and two rings", "05512-8 oh yeah two rings": "oh" opens an afterthought."""
    if tokens[i].norm not in _OH:
        return False
    after = norm_at(tokens, i + 1)
    if tokens[i].gap == NO_BREAK:
        return after in trade.words["after_exclaimed"] and not _ends(tokens, i + 1)
    said = tokens[i].gap == COMMA
    return said and after.isalpha() and after not in UNITS and after not in REPEATS and after not in _OH


_OH = frozenset(("oh", "o"))


def _perhaps_exclaimed(tokens: Sequence[Token], end: int, trade: Trade) -> bool:
    """ "99021 oh and I dropped a socket": whether the "oh" before `end` is a nought can't be told."""
    if tokens[end - 1].norm not in _OH or _ends(tokens, end):
        return False
    follows = norm_at(tokens, end + 1) if tokens[end].norm == "and" else tokens[end].norm
    return follows in trade.words["after_exclaimed_perhaps"]


_THOUSANDS = re.compile(r"\d,\d{3}(?!\d)")
_DICTATED = re.compile(r"\W*\d(-\d{1,2})+(-[a-z]{3,}(-\d+)?)?\W*", re.IGNORECASE)


def dictated(word: str) -> bool:
    """Single digits with hyphens between ("7-3", "4-4-17"): hyphens that nobody said. A word may follow, as
    in "1-1-0-FMI-0"."""
    return bool(_DICTATED.fullmatch(word))


def _spells(tokens: Sequence[Token], norms: list[str], i: int, trade: Trade) -> bool:
    """Whether token `i` can go on a spelled string."""
    if i >= len(tokens):
        return False
    norm = norms[i]
    if (
        _digit_like(tokens, i, trade)
        or norm in REPEATS
        or (len(norm) == 1 and norm.isalpha() and norm not in ("a", "i"))
    ):
        return True
    if norm in ("-", "dash", "hyphen", "slash", "/"):
        return True
    if norm in trade.homophones and norm not in _LITTLE_WORDS:
        return True
    if any(c.isdigit() for c in norm) and norm.isalnum():
        return True
    raw = tokens[i].text.strip(".,-/:;")
    if (
        norm.isalpha()
        and len(norm) <= 4
        and raw.isupper()
        and len(raw) >= 2
        and norm not in trade.stop
        and not shouted(tokens, i)
    ):
        return True
    return bool(trade.letters.at(norms, i)[1])

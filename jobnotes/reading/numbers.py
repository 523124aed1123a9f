"""The one grammar of spoken numbers: cardinals, decimals, digit strings, spelling.

A number may be in words, in digits, or half and half; `number` reads a quantity ("sixty point two",
"twelve hundred", "two and a half", "minus 5"), `digits` a string of digits in which leading zeros count
("zero two nine nine", "52 46", "double four"), `spelled` letters and digits mixed ("alfa 12 bravo").
Homophones ("for", "to") are digits only where the caller says that a number is due, and then `exact` is False.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP, Token
from jobnotes.reading.trade import Trade

_UNITS = {
    w: n
    for n, w in enumerate(
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
        "sixteen seventeen eighteen nineteen".split()
    )
}
_UNITS |= {"nought": 0, "naught": 0, "nil": 0}
_TENS = {w: 10 * n for n, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}
_TENS["fourty"] = 40
_SCALES = {"thousand": 10**3, "million": 10**6, "billion": 10**9, "grand": 10**3}
_REPEATS = {"double": 2, "triple": 3, "treble": 3}
_ZERO = {"oh", "o", "zero", "nought", "naught"}


#: A printed run of digits longer than this is no number that anybody says.
LONGEST = 18


@dataclass(frozen=True, slots=True)
class Number:
    """Tokens `start` … `end` (end excluded) say `value`; `text` keeps the places and zeros that were said.

    `exact` is False where a homophone or a loose form had to be guessed. `atoms` are the separate numbers it
    is made of: "twenty-four six" has two.
    """

    start: int
    end: int
    value: Decimal
    text: str
    exact: bool = True
    atoms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Spelled:
    """A string of digits and letters; `text` has capitals, and hyphens only where they were said."""

    start: int
    end: int
    text: str
    exact: bool = True


def _printed(norm: str) -> bool:
    return (
        norm[:1].isdigit() and len(norm) <= LONGEST and norm.replace(".", "", 1).isdigit() and norm.isascii()
    )


def _below_hundred(tokens: Sequence[Token], i: int) -> tuple[int, int] | None:
    if i >= len(tokens):
        return None
    norm = tokens[i].norm
    if norm in _UNITS:
        return _UNITS[norm], i + 1
    if norm in _TENS:
        value = _TENS[norm]
        if (
            i + 1 < len(tokens)
            and 1 <= _UNITS.get(tokens[i + 1].norm, 0) <= 9
            and tokens[i + 1].gap == NO_BREAK
        ):
            return value + _UNITS[tokens[i + 1].norm], i + 2
        return value, i + 1
    return None


def _below_thousand(tokens: Sequence[Token], i: int) -> tuple[int, int] | None:
    """ "a hundred and ten", "twelve hundred", "seven"."""
    if (
        i < len(tokens)
        and tokens[i].norm == "a"
        and _norm(tokens, i + 1) in ("hundred", "thousand", "million")
    ):
        head: tuple[int, int] | None = (1, i + 1)
    elif _norm(tokens, i) == "hundred":
        head = (1, i)
    else:
        head = _below_hundred(tokens, i)
    if head is None:
        return None
    value, j = head
    if _norm(tokens, j) in ("hundred", "hundreds") and 1 <= value <= 99:
        value, j = value * 100, j + 1
        k = j + 1 if _norm(tokens, j) == "and" else j
        rest = _below_hundred(tokens, k)
        if rest and rest[0] > 0 and (k > j or tokens[k].gap == NO_BREAK):
            value, j = value + rest[0], rest[1]
    return value, j


def _norm(tokens: Sequence[Token], i: int) -> str:
    return tokens[i].norm if 0 <= i < len(tokens) else ""


def cardinal(tokens: Sequence[Token], i: int) -> tuple[int, int] | None:
    """(value, end) of the cardinal in words that starts at `i`."""
    group = _below_thousand(tokens, i)
    if group is None:
        return None
    total, value, j = 0, group[0], group[1]
    ceiling = 10**12
    while _norm(tokens, j) in _SCALES:
        scale = _SCALES[_norm(tokens, j)]
        if scale >= ceiling or value >= 10**5:
            break
        total, ceiling, j = total + value * scale, scale, j + 1
        k = j + 1 if _norm(tokens, j) == "and" else j
        rest = _below_thousand(tokens, k)
        if rest is None or rest[0] == 0 or (k < len(tokens) and tokens[k].gap == STOP) or rest[0] >= ceiling:
            return total, j
        value, j = rest
        if _norm(tokens, j) not in _SCALES or _SCALES[_norm(tokens, j)] >= ceiling:
            return total + value, j
    return total + value, j


def _atom(tokens: Sequence[Token], i: int) -> tuple[str, int] | None:
    """One number as a run of digits: a printed one, or a cardinal in words; ("24", end)."""
    norm = _norm(tokens, i)
    if _printed(norm):
        text, j = norm, i + 1
        if _norm(tokens, j) in ("thousand", "grand", "million", "hundred") and Decimal(text) < 10000:
            scale = {"hundred": 100, "million": 10**6}.get(_norm(tokens, j), 1000)
            value, j = Decimal(text) * scale, j + 1
            k = j + 1 if _norm(tokens, j) == "and" else j
            rest = _below_thousand(tokens, k)
            if rest is None and _printed(_norm(tokens, k)) and "." not in _norm(tokens, k):
                rest = (int(Decimal(_norm(tokens, k))), k + 1)
            if (
                rest
                and 0 < rest[0] < scale
                and value == value.to_integral_value()
                and tokens[k].gap == NO_BREAK
            ):
                value, j = value + rest[0], rest[1]
            return format(value.normalize(), "f"), j
        return text, j
    if norm in _REPEATS and 0 <= _UNITS.get(_norm(tokens, i + 1), 10) <= 9:
        return str(_UNITS[_norm(tokens, i + 1)]) * _REPEATS[norm], i + 2
    words = cardinal(tokens, i)
    return (str(words[0]), words[1]) if words else None


def _fraction(tokens: Sequence[Token], i: int) -> tuple[Decimal, int] | None:
    """ "and a half", "and three quarters": what is added to a whole number."""
    if _norm(tokens, i) != "and":
        return None
    for words, value in (
        (("a", "half"), "0.5"),
        (("half",), "0.5"),
        (("a", "quarter"), "0.25"),
        (("three", "quarters"), "0.75"),
        (("a", "third"), "0.33"),
    ):
        if tuple(_norm(tokens, i + 1 + k) for k in range(len(words))) == words:
            return Decimal(value), i + 1 + len(words)
    return None


def _places(tokens: Sequence[Token], i: int) -> tuple[str, int] | None:
    """The digits after "point": "two five", "25", "seventy-five", "oh five"."""
    text, j = "", i
    while j < len(tokens) and (j == i or tokens[j].gap == NO_BREAK):
        norm = tokens[j].norm
        if norm in _ZERO:
            text, j = text + "0", j + 1
        elif norm in _REPEATS and _UNITS.get(_norm(tokens, j + 1), 10) <= 9:
            text, j = text + str(_UNITS[_norm(tokens, j + 1)]) * _REPEATS[norm], j + 2
        elif norm in _TENS or 10 <= _UNITS.get(norm, 0) <= 19:
            pair = _below_hundred(tokens, j)
            if text or pair is None:
                break
            return str(pair[0]), pair[1]
        elif norm in _UNITS:
            text, j = text + str(_UNITS[norm]), j + 1
        elif norm.isdigit() and norm.isascii() and (len(norm) == 1 or not text):
            text, j = text + norm, j + 1
            if len(norm) > 1:
                break
        else:
            break
    return (text, j) if text else None


def number(tokens: Sequence[Token], i: int, trade: Trade, *, due: bool = False) -> Number | None:
    """The quantity that starts at `i`, or None.

    With `due`, homophones and the radio digits of `spelling.toml` count too.
    """
    j, sign = i, ""
    if _norm(tokens, j) in ("minus", "negative") or (_norm(tokens, j) == "-" and not tokens[j].joined):
        sign, j = "-", j + 1
        if j >= len(tokens):
            return None
    norm = _norm(tokens, j)
    if norm == "half" or (norm == "a" and _norm(tokens, j + 1) == "half"):
        k = j + (2 if norm == "a" else 1)
        if _norm(tokens, k) in ("a", "an"):
            k += 1
        if _norm(tokens, k) in ("million", "thousand"):
            value = str(_SCALES[_norm(tokens, k)] // 2)
            return Number(i, k + 1, Decimal(sign + value), sign + value)
        return Number(i, k, Decimal(sign + "0.5"), sign + "0.5")
    if norm == "quarter" and _norm(tokens, j + 1) in ("of", "a"):
        k = j + 1
        while _norm(tokens, k) in ("of", "a", "an"):
            k += 1
        return Number(i, k, Decimal(sign + "0.25"), sign + "0.25")
    if norm == "three" and _norm(tokens, j + 1) == "quarters":
        k = j + 2
        while _norm(tokens, k) in ("of", "a", "an"):
            k += 1
        return Number(i, k, Decimal(sign + "0.75"), sign + "0.75")
    if norm == "point" or (norm in _ZERO and _norm(tokens, j + 1) == "point"):
        k = j + 1 if norm == "point" else j + 2
        places = _places(tokens, k)
        if places and not (norm == "point" and not _starts_point(tokens, j)):
            text = f"{sign}0.{places[0]}"
            return Number(i, places[1], Decimal(text), text)
        if norm == "point":
            return None
    exact = True
    head = _atom(tokens, j)
    if head is None and norm in _ZERO and norm not in ("oh", "o"):
        head = ("0", j + 1)
    if head is None and due:
        digit = trade.digits.get(norm) or trade.homophones.get(norm)
        if digit is not None:
            exact = norm in trade.digits and norm not in ("oh", "o")
            head = (digit, j + 1)
    if head is None:
        return None
    text, j = head
    if _norm(tokens, j) == "point" and "." not in text:
        places = _places(tokens, j + 1)
        if places:
            text, j = f"{text}.{places[0]}", places[1]
            if _norm(tokens, j) in ("thousand", "grand", "million"):
                scale = 1000 if _norm(tokens, j) != "million" else 10**6
                text, j = format((Decimal(text) * scale).normalize(), "f"), j + 1
            return Number(i, j, Decimal(sign + text), sign + text, exact)
    if "." not in text:
        fraction = _fraction(tokens, j)
        if fraction:
            value = Decimal(text) + fraction[0]
            return Number(i, fraction[1], Decimal(sign + str(value)), sign + str(value), exact)
    atoms = [text]
    while "." not in text and j < len(tokens) and tokens[j].gap == NO_BREAK and len(atoms) < 12:
        if _norm(tokens, j - 1)[:1].isalpha() and len(_norm(tokens, j)) > 1 and _printed(_norm(tokens, j)):
            break  # "cylinder three 19 bar": words and then print are two numbers
        more = _atom(tokens, j)
        if more is None and _norm(tokens, j) in _ZERO and not _ring(tokens, j):
            more = ("0", j + 1)
        if more is None or "." in more[0]:
            break
        atoms.append(more[0])
        j = more[1]
    if len(atoms) == 1:
        return Number(i, j, Decimal(sign + text), sign + text, exact, (text,))
    joined, certain = _joined(atoms)
    if _norm(tokens, j) == "point":  # "one two point five", "one twenty point four"
        places = _places(tokens, j + 1)
        if places:
            text = f"{joined}.{places[0]}"
            return Number(i, places[1], Decimal(sign + text), sign + text, exact and certain)
    return Number(i, j, Decimal(sign + joined), sign + joined, exact and certain, tuple(atoms))


def _ring(tokens: Sequence[Token], j: int) -> bool:
    """ "1 O-ring": the O is no zero."""
    return _norm(tokens, j) == "o" and _norm(tokens, j + 1) in ("ring", "rings")


def _starts_point(tokens: Sequence[Token], j: int) -> bool:
    """ "point five" is a number; "test point five" names a place."""
    return _norm(tokens, j - 1) not in (
        "test",
        "measuring",
        "pivot",
        "check",
        "pick",
        "pick-up",
        "this",
        "that",
        "the",
    )


def _joined(atoms: Sequence[str]) -> tuple[str, bool]:
    """Several numbers in a row as one, and whether that is the only sensible reading.

    "one twenty" is 120, "twelve fifty" 1250, "one two oh" 120; "twenty-four six" could be 24.6 or 246.
    """
    text = "".join(atoms)
    if all(len(a) == 1 for a in atoms):
        return text, True
    if len(atoms) == 2 and len(atoms[0]) <= 2 and len(atoms[1]) == 2:
        return text, True
    if all(a.isdigit() and len(a) == 3 for a in atoms[1:]) and len(atoms[0]) <= 3:
        return text, True  # 312 000 as printed
    return text, False


def digits(
    tokens: Sequence[Token], i: int, trade: Trade, *, due: bool = True, longest: int = 24, gap: int = COMMA
) -> Spelled | None:
    """The string of digits at `i`; runs over breaks up to `gap`. Decimals end it."""
    text, j, exact = "", i, True
    while j < len(tokens) and len(text) < longest and (j == i or tokens[j].gap <= gap):
        norm = tokens[j].norm
        if j > i and tokens[j].gap == COMMA and _counts_a_thing(tokens, j, trade):
            break
        if norm in _REPEATS:
            digit = trade.digits.get(_norm(tokens, j + 1)) or (
                _norm(tokens, j + 1) if _norm(tokens, j + 1).isdigit() else None
            )
            if digit is None or len(digit) != 1:
                break
            text, j = text + digit * _REPEATS[norm], j + 2
            continue
        if norm.isdigit() and norm.isascii() and len(norm) <= LONGEST:
            text, j = text + norm, j + 1
            continue
        if _below_hundred(tokens, j) or norm in ("a", "hundred"):
            words = cardinal(tokens, j)
            if words is None:
                break
            text, j = text + str(words[0]), words[1]
            continue
        if norm in trade.digits and not _ring(tokens, j):
            text, j = text + trade.digits[norm], j + 1
            continue
        if due and norm in trade.homophones and (j > i or _digit_like(tokens, j + 1, trade)):
            after = _digit_like(tokens, j + 1, trade)
            if not after and not _ends(tokens, j + 1):
                break
            text, j, exact = text + trade.homophones[norm], j + 1, False
            continue
        break
    return Spelled(i, j, text, exact) if text else None


def _digit_like(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    norm = _norm(tokens, i)
    return (norm.isdigit() and norm.isascii()) or norm in trade.digits or norm in _TENS or norm in _UNITS


def _ends(tokens: Sequence[Token], i: int) -> bool:
    return i >= len(tokens) or tokens[i].gap > NO_BREAK


def spelled(
    tokens: Sequence[Token], norms: list[str], i: int, trade: Trade, *, longest: int = 40, words: bool = False
) -> Spelled | None:
    """Letters and digits from `i`: spelling words, single letters, digits, printed groups, "dash".

    Printed groups that hold letters only ("BC") count when short or in capitals; with `words` off a plain
    word ends the string. `exact` is False where a spelling word had to be repaired.
    """
    text, j, exact = "", i, True
    last = len(tokens)
    while j < last and len(text) < longest and (j == i or tokens[j].gap <= COMMA):
        if (
            j > i
            and tokens[j].gap == COMMA
            and (not _spells(tokens, norms, j, trade) or _counts_a_thing(tokens, j, trade))
        ):
            break
        norm = norms[j]
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
        if norm in _REPEATS:
            nxt = norms[j + 1] if j + 1 < last else ""
            digit = trade.digits.get(nxt) or (nxt if len(nxt) == 1 and nxt.isalnum() else None)
            end, meaning = trade.letters.at(norms, j + 1)
            if digit:
                text, j = text + digit.upper() * _REPEATS[norm], j + 2
                continue
            if meaning:
                text, j = text + meaning[0].upper() * _REPEATS[norm], end
                continue
            break
        if (
            j > i
            and trade.cue["identity"].at(norms, j)[0] > j
            and len(norm) > 1
            and not trade.cue["identity.is_words"].at(norms, j)[1]
        ):
            break  # "…, VIN": the next thing is named
        end, meaning = trade.letters.at(norms, j)
        if meaning:
            text, j = text + meaning[0].upper(), end
            continue
        if _digit_like(tokens, j, trade) or norm == "a" and _norm(tokens, j + 1) == "hundred":
            run = digits(tokens, j, trade, due=False, gap=COMMA)
            if run is None:
                break
            text, j = text + run.text, run.end
            continue
        if norm[:1].isdigit() or (any(c.isdigit() for c in norm) and norm.isalnum() and norm.isascii()):
            if "." in norm:
                break
            text, j = text + norm.upper(), j + 1
            continue
        raw = tokens[j].text
        if trade.cue["codes"].at(norms, j)[1] and (
            len(norm) > 1 or trade.cue["codes"].at(norms, j)[0] > j + 1
        ):
            break  # "5246 FMI 7": a label, not a letter group
        if len(norm) == 1 and norm.isalpha() and norm.isascii():
            if norm == "a" and not (_spells(tokens, norms, j + 1, trade) or _norm(tokens, j + 1) == "a"):
                break
            if norm == "i" and not _spells(tokens, norms, j + 1, trade):
                break
            text, j = text + norm.upper(), j + 1
            continue
        if (
            norm.isalpha()
            and norm.isascii()
            and len(norm) <= 4
            and norm not in trade.stop
            and (
                (raw.strip(".,-/:;").isupper() and len(raw) >= 2 and not _shouted(tokens, j))
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
            and text
            and _digit_like(tokens, j + 1, trade)
            and tokens[j].gap == NO_BREAK
        ):
            text, j, exact = text + trade.homophones[norm], j + 1, False
            continue
        break
    text = text.rstrip("-/")
    return Spelled(i, j, text, exact) if text else None


def _counts_a_thing(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    """ "…, 8 bolts": after a comma the number belongs to the thing, not to the string before it."""
    found = number(tokens, i, trade)
    if found is None:
        return False
    after = [t.norm for t in tokens[found.end : found.end + 4]]
    return bool(trade.components.at(after, 0)[1]) or bool(trade.unit_forms.at(after, 0)[1])


def _shouted(tokens: Sequence[Token], j: int) -> bool:
    """Everything around is in capitals, so that capitals tell no letter group."""
    around = [t.text.strip(".,-/:;") for t in tokens[max(0, j - 5) : j + 6]]
    return any(len(w) >= 4 and w.isalpha() and w.isupper() for w in around)


def _spells(tokens: Sequence[Token], norms: list[str], i: int, trade: Trade) -> bool:
    """Whether token `i` can go on a spelled string."""
    if i >= len(tokens):
        return False
    norm = norms[i]
    if (
        _digit_like(tokens, i, trade)
        or norm in _REPEATS
        or (len(norm) == 1 and norm.isalpha() and norm not in ("a", "i"))
    ):
        return True
    if norm in ("-", "dash", "hyphen", "slash", "/"):
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
        and not _shouted(tokens, i)
    ):
        return True
    return bool(trade.letters.at(norms, i)[1])

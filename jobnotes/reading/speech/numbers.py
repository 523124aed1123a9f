"""Spoken numbers: cardinals, decimals, fractions, in words, in digits, or half and half.

`number` reads a quantity ("sixty point two", "twelve hundred", "two and a half", "minus 5"). Homophones
("for", "to") are digits only where the caller says that a number is due, and then `exact` is False."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP, Token
from jobnotes.reading.trade.knowledge import Trade

UNITS = {
    w: n
    for n, w in enumerate(
        "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen "
        "sixteen seventeen eighteen nineteen".split()
    )
}
UNITS |= {"nought": 0, "naught": 0, "nil": 0}


TENS = {w: 10 * n for n, w in enumerate("twenty thirty forty fifty sixty seventy eighty ninety".split(), 2)}
TENS["fourty"] = 40


_SCALES = {"thousand": 10**3, "million": 10**6, "billion": 10**9, "grand": 10**3}
#: Words that make the number before them so many times as large.
MANY = _SCALES.keys() | {"hundred"}


REPEATS = {"double": 2, "triple": 3, "treble": 3}


ZEROS = {"oh", "o", "zero", "nought", "naught"}


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


def _printed(norm: str) -> bool:
    return (
        norm[:1].isdigit() and len(norm) <= LONGEST and norm.replace(".", "", 1).isdigit() and norm.isascii()
    )


def below_hundred(tokens: Sequence[Token], i: int) -> tuple[int, int] | None:
    if i >= len(tokens):
        return None
    norm = tokens[i].norm
    if norm in UNITS:
        return UNITS[norm], i + 1
    if norm in TENS:
        value = TENS[norm]
        if (
            i + 1 < len(tokens)
            and 1 <= UNITS.get(tokens[i + 1].norm, 0) <= 9
            and tokens[i + 1].gap == NO_BREAK
        ):
            return value + UNITS[tokens[i + 1].norm], i + 2
        return value, i + 1
    return None


def _below_thousand(tokens: Sequence[Token], i: int) -> tuple[int, int] | None:
    """ "a hundred and ten", "twelve hundred", "seven"."""
    if (
        i < len(tokens)
        and tokens[i].norm == "a"
        and norm_at(tokens, i + 1) in ("hundred", "thousand", "million")
    ):
        head: tuple[int, int] | None = (1, i + 1)
    elif norm_at(tokens, i) == "hundred":
        head = (1, i)
    else:
        head = below_hundred(tokens, i)
    if head is None:
        return None
    value, j = head
    if norm_at(tokens, j) in ("hundred", "hundreds") and 1 <= value <= 99:
        value, j = value * 100, j + 1
        k = j + 1 if norm_at(tokens, j) == "and" else j
        rest = below_hundred(tokens, k)
        if rest and rest[0] > 0 and (k > j or tokens[k].gap == NO_BREAK):
            value, j = value + rest[0], rest[1]
    return value, j


def norm_at(tokens: Sequence[Token], i: int) -> str:
    return tokens[i].norm if 0 <= i < len(tokens) else ""


def cardinal(tokens: Sequence[Token], i: int) -> tuple[int, int] | None:
    """(value, end) of the cardinal in words that starts at `i`."""
    group = _below_thousand(tokens, i)
    if group is None:
        return None
    total, value, j = 0, group[0], group[1]
    ceiling = 10**12
    while norm_at(tokens, j) in _SCALES:
        scale = _SCALES[norm_at(tokens, j)]
        if scale >= ceiling or value >= 10**5:
            break
        total, ceiling, j = total + value * scale, scale, j + 1
        k = j + 1 if norm_at(tokens, j) == "and" else j
        rest = _below_thousand(tokens, k)
        if rest is None or rest[0] == 0 or (k < len(tokens) and tokens[k].gap == STOP) or rest[0] >= ceiling:
            return total, j
        if tokens[k].norm == "a" and tokens[k].gap > NO_BREAK:
            return total, j  # "engine at two thousand, a hundred and twenty bar"
        value, j = rest
        if norm_at(tokens, j) not in _SCALES or _SCALES[norm_at(tokens, j)] >= ceiling:
            return total + value, j
    return total + value, j


def _atom(tokens: Sequence[Token], i: int) -> tuple[str, int] | None:
    """One number as a run of digits: a printed one, or a cardinal in words; ("24", end)."""
    norm = norm_at(tokens, i)
    if _printed(norm):
        text, j = norm, i + 1
        if norm_at(tokens, j) in ("thousand", "grand", "million", "hundred") and Decimal(text) < 10000:
            scale = {"hundred": 100, "million": 10**6}.get(norm_at(tokens, j), 1000)
            value, j = Decimal(text) * scale, j + 1
            k = j + 1 if norm_at(tokens, j) == "and" else j
            rest = _below_thousand(tokens, k)
            if rest is None and _printed(norm_at(tokens, k)) and "." not in norm_at(tokens, k):
                rest = (int(Decimal(norm_at(tokens, k))), k + 1)
            if (
                rest
                and 0 < rest[0] < scale
                and value == value.to_integral_value()
                and tokens[k].gap == NO_BREAK
            ):
                value, j = value + rest[0], rest[1]
            return format(value.normalize(), "f"), j
        return text, j
    if norm in REPEATS and 0 <= UNITS.get(norm_at(tokens, i + 1), 10) <= 9:
        return str(UNITS[norm_at(tokens, i + 1)]) * REPEATS[norm], i + 2
    words = cardinal(tokens, i)
    return (str(words[0]), words[1]) if words else None


def _in_pieces(tokens: Sequence[Token], i: int, text: str, j: int, trade: Trade) -> Number | None:
    """ "200, and 85 millimetres": how recognisers write "two hundred and eighty-five"; never exact."""
    if (
        not _printed(norm_at(tokens, j - 1))
        or not text.endswith("00")
        or not text.isdigit()
        or norm_at(tokens, j) != "and"
    ):
        return None
    rest = _atom(tokens, j + 1)
    if rest is None or tokens[j].gap > COMMA or tokens[j + 1].gap > NO_BREAK or not rest[0].isdigit():
        return None
    after = [t.norm for t in tokens[rest[1] : rest[1] + 3]]
    if not 0 < int(rest[0]) < 100 or trade.components.at(after, 0)[1]:
        return None
    value = int(text) + int(rest[0])
    return Number(i, rest[1], Decimal(value), str(value), False, (text, rest[0]))


def _fraction(tokens: Sequence[Token], i: int) -> tuple[Decimal, int] | None:
    """ "and a half", "and three quarters": what is added to a whole number."""
    if norm_at(tokens, i) != "and":
        return None
    for words, value in (
        (("a", "half"), "0.5"),
        (("half",), "0.5"),
        (("a", "quarter"), "0.25"),
        (("three", "quarters"), "0.75"),
        (("three", "quarter"), "0.75"),
        (("a", "third"), "0.33"),
    ):
        if tuple(norm_at(tokens, i + 1 + k) for k in range(len(words))) == words:
            return Decimal(value), i + 1 + len(words)
    return _parts_of_inch(tokens, i + 1)


_PARTS = {"eighth": 8, "eighths": 8, "sixteenth": 16, "sixteenths": 16, "quarters": 4}


def _parts_of_inch(tokens: Sequence[Token], i: int) -> tuple[Decimal, int] | None:
    """ "three eighths", "five sixteenths": as imperial measures are told."""
    norm = norm_at(tokens, i)
    top = int(norm) if norm.isdecimal() and norm.isascii() and len(norm) <= 2 else UNITS.get(norm, 0)
    below = _PARTS.get(norm_at(tokens, i + 1), 0)
    # "one of the sixteenth" has no break either, but no number before it
    return (Decimal(top) / below, i + 2) if 0 < top < below and tokens[i + 1].gap == NO_BREAK else None


def one_and_more(tokens: Sequence[Token], i: int) -> tuple[Decimal, int] | None:
    """(value, end) of "and a half", "and five eighths" at `i`, behind a unit: "an inch and a half"."""
    more = _fraction(tokens, i)
    return (1 + more[0], more[1]) if more else None


def _over(tokens: Sequence[Token], j: int, text: str) -> tuple[str, int] | None:
    """ "3/8", "1 and 3/8", "1 3/8" as figures: (decimal, end). Halves down to sixty-fourths."""
    if "/" not in (norm_at(tokens, j), norm_at(tokens, j + 1), norm_at(tokens, j + 2)) or not text.isdigit():
        return None
    whole, k = 0, j
    top = text
    if norm_at(tokens, j) != "/":
        k = j + 1 if norm_at(tokens, j) == "and" else j
        whole, top, k = int(text), norm_at(tokens, k), k + 1
    below = norm_at(tokens, k + 1)
    if (
        norm_at(tokens, k) != "/"
        or not tokens[k].joined
        or not top.isdigit()
        or below not in _FRACTIONS_OF_INCH
    ):
        return None
    if not 0 < int(top) < int(below):
        return None
    return format(whole + Decimal(top) / Decimal(below), "f"), k + 2


_FRACTIONS_OF_INCH = frozenset(("2", "4", "8", "16", "32", "64"))


def _places(tokens: Sequence[Token], i: int) -> tuple[str, int] | None:
    """The digits after "point": "two five", "25", "seventy-five", "oh five"."""
    text, j = "", i
    while j < len(tokens) and (j == i or tokens[j].gap == NO_BREAK):
        norm = tokens[j].norm
        if norm in ZEROS:
            text, j = text + "0", j + 1
        elif norm in REPEATS and UNITS.get(norm_at(tokens, j + 1), 10) <= 9:
            text, j = text + str(UNITS[norm_at(tokens, j + 1)]) * REPEATS[norm], j + 2
        elif norm in TENS or 10 <= UNITS.get(norm, 0) <= 19:
            pair = below_hundred(tokens, j)
            if text or pair is None:
                break
            return str(pair[0]), pair[1]
        elif norm in UNITS:
            text, j = text + str(UNITS[norm]), j + 1
        elif norm.isdigit() and norm.isascii() and (len(norm) == 1 or not text):
            text, j = text + norm, j + 1
            if len(norm) > 1:
                break
        else:
            break
    return (text, j) if text else None


#: Digits by sound that are also words of every sentence.
_LITTLE_WORDS = frozenset(("to", "too", "for"))


def _place_as_heard(tokens: Sequence[Token], i: int, trade: Trade) -> tuple[str, int] | None:
    """ "nought point for millimetres": the one digit after "point", heard as a word that sounds like it."""
    digit = trade.homophones.get(norm_at(tokens, i))
    after = [t.norm for t in tokens[i + 1 : i + 4]]
    closes = i + 1 >= len(tokens) or tokens[i + 1].gap > NO_BREAK or bool(trade.unit_forms.at(after, 0)[1])
    return (digit, i + 1) if digit and closes else None


#: After "a quarter" these make a time of day, a movement, or a part of something.
_NO_AMOUNT = frozenset(("of", "to", "past", "turn", "turns", "after", "before"))


#: The words that a quantity begins with, besides printed figures.
_OPENERS = frozenset(
    (*UNITS, *TENS, *REPEATS, *ZEROS, *"minus negative - half a quarter three point hundred".split())
)


def may_begin(norm: str) -> bool:
    """Whether a quantity can begin with that word at all, where no number is due."""
    return norm in _OPENERS or norm[:1].isdigit()


def heard_before_many(tokens: Sequence[Token], i: int, trade: Trade) -> bool:
    """Whether a word that sounds like a digit stands at `i` before "hundred" or "thousand": "too hundred"."""
    return (
        norm_at(tokens, i + 1) in ("hundred", "thousand")
        and norm_at(tokens, i) in trade.homophones
        and digit_by_sound(tokens, i, trade)
    )


def number(tokens: Sequence[Token], i: int, trade: Trade, *, due: bool = False) -> Number | None:
    """The quantity that starts at `i`, or None.

    With `due`, homophones and the radio digits of `spelling.toml` count too.
    """
    if not due and not may_begin(norm_at(tokens, i)) and not heard_before_many(tokens, i, trade):
        return None  # most often
    found = _number(tokens, i, trade, due=due)
    at = found.end if found is not None else i
    if at < len(tokens):
        at += found is not None and tokens[at].norm == "and"
        norm = norm_at(tokens, at)
        if (norm in trade.homophones or norm in trade.digits) and digit_by_sound(tokens, at, trade):
            digit = trade.homophones.get(norm) or trade.digits[norm]
            meant = [*tokens[:at], replace(tokens[at], norm=_UNIT_WORDS[digit]), *tokens[at + 1 : at + 16]]
            whole = number(meant, i, trade, due=due)
            if whole is not None and (found is None or (whole.end > at and whole.end > found.end)):
                return replace(whole, exact=False)
    return found


_UNIT_WORDS = {str(n): w for w, n in UNITS.items() if w != "naught" and 1 <= n <= 9}


def digit_by_sound(tokens: Sequence[Token], k: int, trade: Trade) -> bool:
    """ "fifty ate bar", "forty won degrees", "three hundred and too", "fore thousand": inside a number the
    word at `k` can only be the digit that it sounds like."""
    norm, prev, after = norm_at(tokens, k), norm_at(tokens, k - 1), norm_at(tokens, k + 1)
    if norm == "to" or norm in UNITS or norm in ZEROS or len(norm) < 3:
        return False
    apart = k + 1 >= len(tokens) or tokens[k + 1].gap > NO_BREAK
    if after in ("hundred", "thousand") and not apart:
        return norm != "for"
    if prev == "and":
        inside = k > 1 and norm_at(tokens, k - 2) in ("hundred", "thousand")
    else:
        after_zero = (
            norm in trade.homophones and prev in ZEROS and 1 <= UNITS.get(norm_at(tokens, k - 2), 0) <= 9
        )  # "two oh ate"
        inside = k > 0 and (prev in TENS or prev == "hundred" or after_zero)
    if not inside or tokens[k].gap > NO_BREAK:
        return False
    if norm not in _LITTLE_WORDS:
        return True
    measured = not apart and (
        after == "point" or bool(trade.unit_forms.at([t.norm for t in tokens[k + 1 : k + 4]], 0)[1])
    )
    return measured or (norm == "too" and apart)


def _number(tokens: Sequence[Token], i: int, trade: Trade, *, due: bool = False) -> Number | None:
    j, sign = i, ""
    if norm_at(tokens, j) in ("minus", "negative") or (norm_at(tokens, j) == "-" and not tokens[j].joined):
        sign, j = "-", j + 1
        if j >= len(tokens) or (norm_at(tokens, i) == "negative" and tokens[j].gap > NO_BREAK):
            return None  # "body to battery negative, 5.4 V"
    norm = norm_at(tokens, j)
    if norm == "half" or (norm == "a" and norm_at(tokens, j + 1) == "half"):
        k = j + (2 if norm == "a" else 1)
        if norm_at(tokens, k) in ("a", "an"):
            k += 1
        if norm_at(tokens, k) in ("million", "thousand"):
            value = str(_SCALES[norm_at(tokens, k)] // 2)
            return Number(i, k + 1, Decimal(sign + value), sign + value)
        return Number(i, k, Decimal(sign + "0.5"), sign + "0.5")
    if norm == "quarter" and norm_at(tokens, j + 1) in ("of", "a"):
        k = j + 1
        while norm_at(tokens, k) in ("of", "a", "an"):
            k += 1
        return Number(i, k, Decimal(sign + "0.25"), sign + "0.25")
    if norm == "three" and norm_at(tokens, j + 1) == "quarters":
        k = j + 2
        while norm_at(tokens, k) in ("of", "a", "an"):
            k += 1
        return Number(i, k, Decimal(sign + "0.75"), sign + "0.75")
    if norm == "point" or (norm in ZEROS and norm_at(tokens, j + 1) == "point"):
        k = j + 1 if norm == "point" else j + 2
        places = _places(tokens, k)
        heard = _place_as_heard(tokens, k, trade) if places is None else None
        if (places or heard) and not (norm == "point" and not _starts_point(tokens, j)):
            digits, end = places or heard or ("", k)
            text = f"{sign}0.{digits}"
            return Number(i, end, Decimal(text), text, heard is None)
        if norm == "point":
            return None
    told = norm_at(tokens, j - 1) in ("is", "are", "be") and norm_at(tokens, j + 2) not in _NO_AMOUNT
    if norm == "a" and norm_at(tokens, j + 1) == "quarter" and told:  # "minimum's a quarter"
        return Number(i, j + 2, Decimal(sign + "0.25"), sign + "0.25")
    parts = _parts_of_inch(tokens, j)
    if parts is not None:
        return Number(i, parts[1], Decimal(f"{sign}{parts[0]}"), f"{sign}{parts[0]}")
    exact = True
    head = _atom(tokens, j)
    if head is None and norm in ZEROS and norm not in ("oh", "o"):
        head = ("0", j + 1)
    if head is None and due:
        digit = trade.digits.get(norm) or trade.homophones.get(norm)
        if digit is not None:
            exact = norm in trade.digits and norm not in ("oh", "o")
            head = (digit, j + 1)
    if head is None:
        return None
    text, j = head
    whole = _in_pieces(tokens, i, text, j, trade)
    if whole is not None and not sign:
        return whole
    over = _over(tokens, j, text)
    if over is not None:
        return Number(i, over[1], Decimal(sign + over[0]), sign + over[0], exact)
    if norm_at(tokens, j) == "point" and "." not in text:
        places = _places(tokens, j + 1)
        if places:
            text, j = f"{text}.{places[0]}", places[1]
            more = _place_as_heard(tokens, j, trade) if norm_at(tokens, j) not in _LITTLE_WORDS else None
            if more is not None and tokens[j].gap == NO_BREAK and more[1] < len(tokens):
                text = f"{sign}{text}{more[0]}"  # "one point seven ate bar"
                return Number(i, more[1], Decimal(text), text, False)
            if norm_at(tokens, j) in ("thousand", "grand", "million"):
                scale = 1000 if norm_at(tokens, j) != "million" else 10**6
                text, j = format((Decimal(text) * scale).normalize(), "f"), j + 1
            return Number(i, j, Decimal(sign + text), sign + text, exact)
        heard = _place_as_heard(tokens, j + 1, trade)
        measured = trade.unit_forms.at([t.norm for t in tokens[j + 2 : j + 5]], 0)[1]
        if heard is not None and (measured or norm_at(tokens, j + 1) not in _LITTLE_WORDS):
            # "one point ate litres", but not "to one point too"
            text = f"{sign}{text}.{heard[0]}"
            return Number(i, heard[1], Decimal(text), text, False)
    if "." not in text:
        fraction = _fraction(tokens, j)
        if fraction:
            text = f"{sign}{Decimal(text) + fraction[0]}"
            return Number(i, fraction[1], Decimal(text), text, exact)
    atoms = [text]
    while "." not in text and j < len(tokens) and tokens[j].gap == NO_BREAK and len(atoms) < 12:
        if (
            norm_at(tokens, j - 1)[:1].isalpha()
            and len(norm_at(tokens, j)) > 1
            and _printed(norm_at(tokens, j))
        ):
            break  # "cylinder three 19 bar": words and then print are two numbers
        more = _atom(tokens, j)
        if more is None and norm_at(tokens, j) in ZEROS and not is_ring(tokens, j):
            more = ("0", j + 1)
        if more is None or "." in more[0]:
            break
        atoms.append(more[0])
        j = more[1]
    if len(atoms) == 1:
        return Number(i, j, Decimal(sign + text), sign + text, exact, (text,))
    joined, certain = _joined(atoms, all(_printed(tokens[k].norm) for k in range(j - len(atoms), j)))
    figures = [tokens[k].norm for k in range(i, j) if tokens[k].norm.isdigit()]
    if (
        len(figures) == len(atoms)
        and len({len(f) for f in figures}) > 1
        and len(figures[0]) < len(figures[1])
    ):
        certain = certain and all(len(f) == 3 for f in figures[1:])  # "number 1 14 mL" is no 114
    if norm_at(tokens, j) == "point":  # "one two point five", "one twenty point four"
        places = _places(tokens, j + 1)
        if places:
            text = f"{joined}.{places[0]}"
            return Number(i, places[1], Decimal(sign + text), sign + text, exact and certain)
    return Number(i, j, Decimal(sign + joined), sign + joined, exact and certain, tuple(atoms))


def is_ring(tokens: Sequence[Token], j: int) -> bool:
    """ "1 O-ring": the O is no zero."""
    return norm_at(tokens, j) == "o" and norm_at(tokens, j + 1) in ("ring", "rings")


def _starts_point(tokens: Sequence[Token], j: int) -> bool:
    """ "point five" is a number; "test point five" names a place."""
    return norm_at(tokens, j - 1) not in (
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


def _joined(atoms: Sequence[str], printed: bool) -> tuple[str, bool]:
    """Several numbers in a row as one, and whether that is the only sensible reading.

    "one twenty" is 120, "twelve fifty" 1250, "one two oh" 120; "twenty-four six" could be 24.6 or 246.
    """
    text = "".join(atoms)
    if all(len(a) == 1 for a in atoms):
        return text, True
    if len(atoms) == 2 and len(atoms[0]) <= 2 and len(atoms[1]) == 2:
        return text, True
    if printed and all(a.isdigit() and len(a) == 3 for a in atoms[1:]) and len(atoms[0]) <= 3:
        return text, True  # 312 000, but not "two six hundred"
    return text, False

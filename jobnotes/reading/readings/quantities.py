"""Numbers with their units: "60.2 ohms", "8 to 10 bar", "one hour forty", "four to six".

Values keep the places that were said. A number without a unit is kept too: what stands around it may tell."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import pairwise
from operator import attrgetter

from jobnotes.reading.speech.limit_phrases import limit_before
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.numbers import MANY, TENS, UNITS, ZEROS, Number, one_and_more
from jobnotes.reading.speech.numbers import number as parse
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.trade.knowledge import Alike, Trade, Unit, convert
from jobnotes.record import Repair

#: From here on a "mil" of something unnamed may be of fluid.
LARGE = 60
#: Up to here "degrees" of something unnamed may be of an angle.
FEW = 10


@dataclass
class Quantity:
    """A number with a unit (or one that it shares with a neighbour), and what part it plays."""

    start: int
    end: int
    value: Decimal
    high: Decimal | None
    unit: Unit | None
    number: Number
    role: str = "value"  # value, max, min, nominal, tolerance, condition, skip
    cue_start: int = 0
    doubts: list[str] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    tolerance: Decimal | None = None
    borrowed: bool = False
    leads: bool = False  # a condition of the value right after it only: "drop in ten minutes, 1.1 bar"
    limits: list[Quantity] = field(default_factory=list)
    named: tuple[int, int] | None = None  # the words that told its unit: "charging"


def find_quantities(text: Text) -> list[Quantity]:
    found: list[Quantity] = []
    loose: str | None = None
    i = 0
    units, homophones = text.trade.unit_forms.first_words, text.trade.homophones
    while i < len(text.tokens):
        norm = text.norms[i]
        opens = text.numeric[i] or norm in units or norm in homophones or norm == "an"
        if not opens or text.claimed[i]:
            i += 1  # most often
            continue
        prev = text.norm(i - 1)
        alone = text.norm(i) == "one" and text.norm(i + 1) not in MANY  # and not "rear one thousand"
        if (
            alone
            and (
                prev in text.trade.words["before_one"]
                or (prev in text.trade.opposite and text.number(i + 1) is None)
            )
            and text.norms[i + 1 : i + 3] != ["and", "a"]
            and not text.unit_follows(i + 1)
            and text.norm(i + 1) != "point"
        ):
            i += 1  # "with a new one", "on that one three millimetres"
            continue
        if alone and _one_of_two(text, i):
            i += 1
            continue
        if prev == "x" and text.tokens[i].joined:
            i = text.number_end(i)  # "air filter x1"
            continue
        run_in = _label_run_in(text, i)
        if run_in is not None:
            loose, apart = run_in
            if apart:
                i += 1  # "battery one twelve point one volts", "axle two six hundred"
                continue
        if prev in text.trade.words["numbered"] and text.tokens[i].gap == NO_BREAK:
            first = text.number(i)
            if text.norm(i) in UNITS and text.norm(i + 1) in ZEROS and text.norm(i + 2) == "point":
                i += 1  # "cylinder one nought point four one"
                continue
            if first is not None and (no_label(text, first) or _decimal_in_figures(text, first)):
                first = None  # "height at the axle two hundred and ten"
            elif first is not None and len(first.atoms) > 1 and len(first.atoms[0]) == 1:
                loose = None if text.norm(i).isdigit() else text.said(first.start, first.end)
                i += 1  # "cylinder 1 28 bar", "cylinder one twenty-eight"
                continue
            volts = first is not None and len(first.atoms) == 2 and len(first.atoms[0]) == 2
            if first is not None and (not text.unit_follows(first.end) and not (volts and not first.exact)):
                i = text.number_end(i)  # "axle two", "pin 4", but not "battery twelve six"
                more = text.number(i + 1) if text.norm(i) in ("and", "to", "or", "&") else None
                if more is not None and not text.unit_follows(more.end):
                    i = more.end  # "pins 1 and 2"
                continue
        if text.norm(i) == "minus" and text.norm(i - 1) in ("or", "plus", "and"):
            i += 1  # "plus or minus five" is a tolerance, not a negative number
            continue
        whole = _one_and_more(text, i)
        if whole is not None:
            found.append(whole)
            i = whole.end
            continue
        number = text.number(i)
        if (
            number is None
            and text.norm(i) in text.trade.homophones
            and (
                (text.norm(i + 1) == "point" and not _leads_to(text, i))
                or (text.norm(i) in ("ate", "won", "too", "fore") and _long_unit(text, i + 1))
                or (text.norm(i) in ("ate", "won", "fore") and text.quantity_at(i + 1) == "pressure")
            )
        ):
            number = text.number(i, due=True)
        if number is None or not text.free(number.start, number.end):
            i += 1
            continue
        if _half_of_what(text, number):
            i = number.end  # "half a turn per second", "again in half a year"
            continue
        series = _series(text, number)
        if series:
            found += series
            i = number.end if series[-1].unit is None else series[-1].end
            continue
        if _label_of_a_value(text, number):
            i = number.end  # "two is 12 ohms"
            continue
        q = _quantity(text, number, found[-1] if found else None)
        if q is None:
            i = number.end
            continue
        if loose is not None:
            q.doubts.append(f"'{loose}' after a numbered thing can be read in more than one way")
            loose = None
        found.append(q)
        i = q.end
    _doubt_neighbours(text, found)
    for q in found:
        q.doubts += _cut_short(text, q)
    _in_the_same_degrees(text, found)
    return found


def _told_apart(text: Text, q: Quantity, form: str, alike: Alike, end: int) -> None:
    """`q` in the other unit that its form may mean, where what is spoken of tells so; a doubt if it is open.

    `end` is where the unit ends.
    """
    assert q.unit is not None
    start, stop = text.breath(q.start)
    first = max(start, q.start - 14)
    words = text.norms[first : end + 5]
    which = f"'{form}': {q.unit.ucum} or {alike.ucum}?"
    far = text.trade.words["measured_far"]
    length = q.unit.quantity == "length"
    if text.find(alike.open, first, min(end + 5, stop)):
        q.doubts.append(which)
    elif not alike.near.isdisjoint(words):
        own = _between_commas(text, q.start, end)
        if length and alike.near.isdisjoint(own):
            if not (text.trade.words["wears_thin"] | far).isdisjoint(own):
                return
            q.doubts.append(which)  # "fuel tank strap snapped, the tank had dropped 20 mil"
        q.unit = text.trade.units[alike.ucum]
    elif (length and q.value >= LARGE and far.isdisjoint(words)) or (
        form in q.unit.assumed and _like_an_angle(q) and not _spoken_of(text, q.unit.quantity, words)
    ):
        q.doubts.append(which)


def _between_commas(text: Text, start: int, end: int) -> list[str]:
    """The words from one comma or stop to the next that hold tokens `start` … `end`."""
    first, last = text.breath(start)
    while start > first and text.tokens[start].gap == NO_BREAK:
        start -= 1
    while end < last and text.tokens[end].gap == NO_BREAK:
        end += 1
    if start > first and not any(text.component_at(k)[1] for k in range(start, end)):
        return text.norms[first:end]  # "return is way over, eighty five mil against twenty"
    return text.norms[start:end]


def _half_of_what(text: Text, number: Number) -> bool:
    """Whether "half a" or "a quarter of a" is of a thing that is no unit, and so no value."""
    article = text.norm(number.end - 1) in ("a", "an") and number.end - number.start > 1
    return article and text.goes_on(number.end) and not text.unit_follows(number.end)


def _label_of_a_value(text: Text, number: Number) -> bool:
    """Whether a small number only tells which of several the value behind it is of: "two is 12 ohms"."""
    if number.value > _ALIKE or "." in number.text or text.norm(number.end) not in ("is", "reads", "was"):
        return False
    value = text.number(number.end + 1) if text.goes_on(number.end + 1) else None
    return value is not None and text.unit_follows(value.end) and text.goes_on(number.end)


#: So many alike are told apart by their number alone.
_ALIKE = 12


def _one_of_two(text: Text, i: int) -> bool:
    """ "left one 3.5 mm": which of two a value is of, where the value is printed with its decimals."""
    value = text.norm(i + 1)
    side = text.norm(i - 1) in text.trade.words["sides"]
    return side and "." in value and value[:1].isdigit() and text.tokens[i + 1].gap == NO_BREAK


def no_label(text: Text, number: Number) -> bool:
    """Whether a number is too large, and told too fully, to say which of several: "two hundred and ten"."""
    return number.value > _LABELS and "and" in text.norms[number.start : number.end]


def _decimal_in_figures(text: Text, number: Number) -> bool:
    """Whether a number is written with its decimals, as no label is: "front axle 12.1 and 11.8"."""
    return "." in text.norm(number.start) and number.end == number.start + 1


#: Of several alike there are no more.
_LABELS = 100


def _in_the_same_degrees(text: Text, quantities: list[Quantity]) -> None:
    """Bare "degrees" are Fahrenheit where temperatures were told in them elsewhere: to be checked."""
    other = next((q.unit for q in quantities if q.unit is not None and q.unit.ucum == "[degF]"), None)
    if other is None:
        return
    for q in quantities:
        if q.unit is not None and q.unit.ucum == "Cel" and text.norm(q.end - 1) in q.unit.assumed:
            q.unit = other
            q.doubts.append("bare degrees, in a job told in Fahrenheit")


def _label_run_in(text: Text, i: int) -> tuple[str | None, bool] | None:
    """Whether the word at `i` may only say which of several it is: "cylinder three eight point five".

    (what is doubtful, whether the value begins right after it), or None: by its words alone it could be 38.5.
    """
    before, words = text.norm(i - 1), text.trade.words
    if not 1 <= UNITS.get(text.norm(i), 0) <= 9 or not (text.goes_on(i) and text.goes_on(i + 1)):
        return None
    numbered = before in words["numbered"]
    of_two = text.norm(i) == "one" and (before in text.trade.opposite or before in words["sides"])
    other = before in words["numbered_at_times"] or (
        before in ("and", "to") and text.norm(i - 2) in UNITS and text.norm(i - 3) in words["numbered"]
    )
    value = text.number(i + 1) if text.norm(i + 1) in UNITS or text.norm(i + 1) in TENS else None
    if not (numbered or of_two or other) or value is None or (numbered and value.value < 1):
        return None
    if not MANY.isdisjoint(text.norms[value.start : value.end]):
        return None, True  # "two six hundred" is no number
    doubt = text.said(i, value.end)
    the_one = not of_two or text.norm(i - 2) in words["definite"]  # "the left one", but "left one ninety"
    if "." in value.text:
        return (doubt if value.value < 10 or not numbered else None), the_one
    return (doubt, False) if the_one and not numbered else None  # "one sixty eight" is 168 as well


def _leads_to(text: Text, i: int) -> bool:
    """ "down to point six", "from one bar to point six": the "to" at `i` is none of the number."""
    if text.norm(i) != "to":
        return False
    for cue in ("readings.verbs", "limits.max"):
        phrase = text.ends_at(text.trade.cue[cue], i + 1, 5)
        if phrase is not None and phrase[0] < i:
            return True
    return "from" in text.norms[max(text.breath(i)[0], i - _FROM) : i]


#: So many tokens before "to" its "from" may stand.
_FROM = 6


def _one_and_more(text: Text, i: int) -> Quantity | None:
    """ "an inch and five eighths", "inch and a half": one of a unit, and a part of it; not of hours."""
    j = i + 1 if text.norm(i) in ("a", "an", "one") else i
    after_number = j == i and i > 0 and text.tokens[i].gap == NO_BREAK and text.number(i - 1) is not None
    if after_number or j >= len(text.tokens):
        return None
    end, meanings = text.trade.unit_forms.at(text.norms, j)
    if not meanings or len(meanings[0][1]) < 3 or meanings[0][0].quantity == "time":
        return None
    more = one_and_more(text.tokens, end)
    if more is None or any(t.gap > NO_BREAK for t in text.tokens[i + 1 : more[1]]):
        return None
    number = Number(i, more[1], more[0], str(more[0]))
    return Quantity(i, more[1], more[0], None, meanings[0][0], number)


def _series(text: Text, number: Number) -> list[Quantity]:
    """ "sixty two sixty four sixty one", "one twenty eight two twenty seven": values in a row."""
    atoms = number.atoms
    if len(atoms) < 3 or not all(a.isdigit() for a in atoms):
        return []
    plain = all(len(a) == 2 for a in atoms)
    numbered = (
        len(atoms) >= 4
        and len(atoms) % 2 == 0
        and [*atoms[::2]] == [str(n) for n in range(1, len(atoms) // 2 + 1)]
        and all(len(a) >= 2 for a in atoms[1::2])
    )
    if not plain and not numbered:
        return []
    found: list[Quantity] = []
    i = number.start
    for at, atom in enumerate(atoms):
        single = parse(text.tokens[: i + len(_words_of(text, i, atom))], i, text.trade)
        if single is None:
            return []
        i = single.end
        if numbered and at % 2 == 0:
            continue
        q = Quantity(single.start, single.end, single.value, None, None, single)
        q.doubts.append(f"one of several numbers in a row: '{text.said(number.start, number.end)}'")
        found.append(q)
    unit = unit_at(text, number.end, number)
    if unit is not None and found:
        for q in found:
            q.unit = unit[0]
        found[-1].end = unit[2]
    return found


def _words_of(text: Text, i: int, atom: str) -> list[str]:
    """The words from `i` that say `atom`."""
    for width in (1, 2):
        single = parse(text.tokens[: i + width], i, text.trade)
        if single is not None and single.text == atom and single.end == i + width:
            return text.norms[i : i + width]
    return text.norms[i : i + 1]


def _cut_short(text: Text, q: Quantity) -> Iterator[str]:
    """What a number shows that was cut by a mishearing: "zero point U", "a point six two", "58 to to 62"."""
    behind, number = text.norm(q.number.end), text.said(q.number.start, q.number.end)
    if behind == "point" and text.goes_on(q.number.end) and "." not in q.number.text:
        yield f"'{number} point' goes on with no number: what was said?"
    if text.norm(q.start) == "point" and text.norm(q.start - 1) == "a" and text.goes_on(q.start):
        yield f"'a {number}': was a number said before 'point'?"
    if q.high is None and behind == text.norm(q.number.end + 1) == "to" and text.goes_on(q.number.end):
        yield f"'{number} to …': up to what?"


def _doubt_neighbours(text: Text, found: list[Quantity]) -> None:
    """A value with an unread number right beside it ("190, 8 ohms", "28-4") may be half of what was said."""
    for first, second in pairwise(found):
        between = text.norms[first.end : second.start]
        if between not in ([], ["and"], ["-"]) or text.breath(first.start) != text.breath(second.start):
            continue
        if between == [] and text.tokens[second.start].gap > NO_BREAK and set_at(text, first.start):
            continue  # "engine at two thousand, 120 bar"
        beside = f"two numbers side by side: '{text.said(first.start, second.end)}'"
        if first.unit is None and first.high is None and not name_counted(text, first):
            first.doubts.append(beside)
            second.doubts.append(beside)
        elif (
            second.unit is None
            and second.role != "range after"
            and between != ["and"]
            and not name_counted(text, second)
        ):
            first.doubts.append(beside)
        elif _either_or(text, first, second):
            first.doubts.append(beside)
            second.doubts.append(beside)


def _either_or(text: Text, first: Quantity, second: Quantity) -> bool:
    """ "oil pressure 3 bar er 4 bar": nothing but a hesitation between them, so one puts the other right."""
    if first.unit is None or second.unit is None or first.unit.ucum != second.unit.ucum:
        return False
    hesitated = text.tokens[second.start].word - text.tokens[first.end - 1].word > 1
    return hesitated and second.start == first.end and first.high is None and second.high is None


def set_at(text: Text, i: int) -> bool:
    """Whether the number at `i` is what something was at while another thing was read: "engine at 2000"."""
    if text.norm(i - 1) != "at" or i < 2:
        return False
    number = text.number(i)
    if number is None or text.unit_follows(number.end):
        return False
    turns = number.value >= LEAST_SPEED and number.value == number.value.to_integral_value()
    return turns or text.norm(i - 2) in text.trade.words["set_at"]


#: A whole number from here on, behind "at", is a speed.
LEAST_SPEED = 400


def unit_at(text: Text, i: int, number: Number) -> tuple[Unit, str, int] | None:
    """(unit, form, end) of the unit that follows a number."""
    if i >= len(text.tokens):
        return None
    if text.norms[i : i + 2] in (["of", "a"], ["of", "an"]) and 0 < number.value < 1:
        return unit_at(text, i + 2, number)  # "point eight of a mil"
    j = i + 1 if text.norm(i) == "-" and text.tokens[i].joined else i
    if j < len(text.tokens) and text.tokens[j].gap == STOP:
        return None
    end, meanings = text.trade.unit_forms.at(text.norms, j)
    if number.value == 1 and text.norm(j) == "second" and not text.component_at(j + 1)[1]:
        return text.trade.units["s"], "second", j + 1  # "less than one second"
    if not meanings:
        return None
    unit, form = meanings[0]
    if (small := _by_its_capital(text, unit, form, j)) is not None:
        return small, form, end
    if len(form) <= 3 and text.tokens[j].gap > NO_BREAK:
        return None  # "max 8.5, min 7.5"
    if trade_letter(text, j) and (
        text.number(end) is not None or text.cue("identity", i) or _spelled_on(text, end)
    ):
        return None  # "seven three kilo two nine": a letter of a number that is spelled
    if form == "min" and (text.number(end) is not None or text.norm(end) in ("is", "of")):
        return None
    printed = text.norm(number.end - 1).replace(".", "").isdigit()
    if len(form) == 1 and not (
        printed and (text.tokens[j].joined or form in "vωVΩ%" or _unit_closes(text, end))
    ):
        return None
    if form in text.trade.words["units_when_printed"] and not printed:
        return None
    if len(form) == 1 and j > i and form not in "vωVΩ%":
        return None  # "5081-A" is a number with a letter
    return unit, form, end


def _by_its_capital(text: Text, unit: Unit, form: str, j: int) -> Unit | None:
    """ "mΩ" and "MΩ" differ by their capital only: milli, where it is small."""
    if unit.ucum != "MOhm" or form not in ("mω", "mohm", "mohms"):
        return None
    printed = text.tokens[j].text.lstrip("0123456789.,- (")
    return text.trade.units.get("mOhm") if printed.startswith("m") else None


def trade_letter(text: Text, i: int) -> bool:
    return bool(text.trade.letters.at(text.norms, i)[1])


def _spelled_on(text: Text, i: int) -> bool:
    """A letter by the spelling alphabet follows, or something that has an identifier stands in the line."""
    if trade_letter(text, i):
        return True
    start, end = text.breath(max(0, i - 1))
    cues = ("identity.vin", "identity.registration", "identity.part_number", "identity.serial")
    return any(text.find(text.trade.cue[cue], max(start, i - 20), min(end, i + 8)) for cue in cues)


def _unit_closes(text: Text, end: int) -> bool:
    """After "24 m" or "3 a" the clause ends or a preposition follows: a unit, not an article."""
    return not text.goes_on(end) or text.norm(end) in text.trade.stop


def _long_unit(text: Text, i: int) -> bool:
    """A unit that is more than a letter or two: "ate litres", but not "too a"."""
    _, meanings = text.trade.unit_forms.at(text.norms, i)
    return bool(meanings) and len(meanings[0][1]) >= 4


def _two_halves(text: Text, number: Number) -> Number | None:
    """The first of two bounds that run together at the "and" between them."""
    for k in range(number.start + 1, number.end):
        if text.norm(k) != "and":
            continue
        first = parse(text.tokens[:k], number.start, text.trade)
        second = text.number(k + 1)
        if first and second and first.end == k and second.end == number.end and second.value > first.value:
            return first
    return None


def _parted_by_hyphen(text: Text, number: Number) -> Quantity | None:
    """ "190-8 ohms", as a recogniser writes "one ninety eight": hundreds or tens and what goes into them."""
    end = number.end
    if text.norm(end) != "-" or not text.tokens[end].joined or limit_before(text, number.start) is not None:
        return None
    second = text.number(end + 1)
    if second is None or not number.text.isdigit() or not second.text.isdigit():
        return None
    unit = unit_at(text, second.end, second)
    room = 10 ** (len(number.text) - len(number.text.rstrip("0")))
    if unit is None or not 0 < second.value < room or number.value == 0:
        return None
    value = number.value + second.value
    said = f"'{text.said(number.start, second.end)}': is it {value}?"
    whole = replace(number, end=second.end, value=value, text=str(value))
    return Quantity(number.start, unit[2], value, None, unit[0], whole, doubts=[said])


def _quantity(text: Text, number: Number, previous: Quantity | None) -> Quantity | None:
    start, end = number.start, number.end
    high: Decimal | None = None
    unit = unit_at(text, end, number)
    q = Quantity(start, end, number.value, None, None, number)
    between = text.norm(start - 1) == "between" or text.norm(start - 2) == "between"
    halves = _two_halves(text, number) if between else None
    if halves is not None:
        number, unit, end = halves, None, halves.end  # "between three hundred and three fifty"
        q = Quantity(start, end, number.value, None, None, number)
    after_unit = unit[2] if unit else end
    joiner = text.norm(after_unit)
    whole = _parted_by_hyphen(text, number) if unit is None else None
    if whole is not None:
        return whole
    if (
        joiner in text.trade.words["range"]
        and (joiner != "and" or between)
        and (joiner != "-" or text.tokens[after_unit].joined)
    ):
        second = text.number(after_unit + 1)
        if second is None and limit_before(text, start) is not None:
            second = _bound_as_heard(text, after_unit + 1)  # "spec two point five to for"
        if second and text.tokens[after_unit + 1].gap <= COMMA:
            unit2 = unit_at(text, second.end, second)
            plausible = (
                second.value > number.value
                or joiner in ("and", "-")
                or (unit2 is not None and second.value < 0)
            )
            is_range = joiner != "to" or not _from_to(text, start) or _wanted_from(text, start, second.end)
            if plausible and is_range and (unit2 or unit):
                high, end = second.value, unit2[2] if unit2 else second.end
                unit = unit2 or unit
                q.number = replace(number, exact=number.exact and second.exact)
                if not second.exact:
                    q.doubts.append(f"'{text.said(second.start, second.end)}' was read as {second.text}")
            elif (
                plausible
                and is_range
                and previous is not None
                and previous.unit is not None
                and previous.high is None
                and previous.end == start
                and (text.tokens[start].gap == COMMA or text.tokens[start].text.startswith("("))
                and second.value > number.value
            ):
                high, end = second.value, second.end  # "coil 21 ohms (20 to 24)"
                q.role = "range after"
            elif (
                plausible
                and is_range
                and (
                    limit_before(text, start) is not None
                    or text.cue("limits.nominal_after", second.end)
                    or text.cue("limits.range_after", second.end)
                    or text.cue("limits.max_after", second.end)
                    or _next_range(text, start, previous)
                )
            ):
                high, end = second.value, second.end
                if not second.exact:
                    q.doubts.append(f"'{text.said(second.start, second.end)}' was read as {second.text}")
    elif joiner in ("2", "two", "too") and unit is None and limit_before(text, start) is not None:
        second = text.number(after_unit + 1)  # "ten two fourteen ohms"
        if (
            second
            and second.value > number.value
            and unit_at(text, second.end, second)
            and len(number.atoms) == 1
        ):
            high = second.value
            unit = unit_at(text, second.end, second)
            end = unit[2] if unit else second.end
            q.doubts.append(f"'{joiner}' between {number.text} and {second.text} was read as 'to'")
    elif unit is None and limit_before(text, start) is not None and _range_in_a_row(number):
        low, _, top = number.atoms  # "book eighteen two twenty two"
        q.value, high = Decimal(low), Decimal(top)
        q.doubts.append(f"'two' between {low} and {top} was read as 'to'")
    elif unit is None and limit_before(text, start) is not None and _bounds_run_in(number, previous):
        low, top = number.atoms  # "60.3 ohms, limit fifty eight sixty two"
        q.value, high = Decimal(low), Decimal(top)
        q.doubts.append(f"'{text.said(number.start, number.end)}' was read as {low} to {top}")
    if unit is None and text.norm(end) in ("tenth", "tenths") and number.value < 10:
        tenths = Decimal(number.value) / 10  # "six tenths of a mil"
        found = unit_at(text, end + 1, replace(number, value=tenths))
        if found is not None and number.value == number.value.to_integral_value():
            unit, q.value = found, tenths
    if unit is not None and high is None:
        end = unit[2]
    if unit is not None:
        q.unit = unit[0]
        form = unit[1]
        weighed = text.norm(start - 1) in text.trade.words["rated"] and text.tokens[start].gap == NO_BREAK
        if unit[0].quantity == "mass" and (weighed or _rated(text, unit[2])):
            q.role = "skip"  # "twenty tonne excavator": what it is, and no reading
        alike = text.trade.alike.get(form)
        if alike is not None:
            _told_apart(text, q, form, alike, unit[2])
        _two_units(text, q, unit)
        _of_a_rate(text, q, unit)
        end = max(end, q.end) if high is None else end
        for k in range(number.end, unit[2]):
            repair = text.repairs.get(k)
            if repair is not None and text.trade.components.at(repair.heard.split(), 0)[1]:
                q.doubts.append(f"the unit was heard as '{repair.heard}'")  # "8.1 bolts"
        if form in q.unit.misheard:
            q.doubts.append(f"the unit was heard as '{form}'")
            q.repairs.append(Repair(form, unit[0].ucum))
    q.end, q.high = end, high
    atoms = number.atoms
    if (
        not number.exact
        and len(atoms) == 2
        and len(atoms[0]) == 2
        and len(atoms[1]) == 1
        and q.unit
        and q.unit.ucum in ("V", "bar")
    ):
        q.value = Decimal(f"{atoms[0]}.{atoms[1]}")
        q.number = replace(number, value=q.value, text=str(q.value), exact=True)
    elif q.value < 0 and limit_before(text, start) is not None:
        q.doubts.append("a limit below zero: which way does it bound?")
    elif not number.exact and q.unit is not None and high is None:
        q.doubts.append(
            f"the number '{text.said(number.start, number.end)}' can be read in more than one way"
        )
    if (
        q.unit is not None
        and len(atoms) == 2
        and all(len(a) == 1 for a in atoms)
        and not text.norm(start).isdigit()
    ):
        q.doubts.append(f"'{text.said(number.start, number.end)}': {number.text}, or {'.'.join(atoms)}?")
    if q.unit is not None and high is None:
        _compound(text, q)
    if len(atoms) == 2 and atoms[0] == atoms[1] and len(atoms[0]) > 1 and not text.norm(start).isdigit():
        q.doubts.append(f"'{text.said(number.start, number.end)}': {number.text}, or {atoms[0]} said twice?")
    if q.unit is None and high is None and len(atoms) > 3:
        return None
    return q


def _bound_as_heard(text: Text, i: int) -> Number | None:
    """The upper bound at `i` where it was heard as a word that sounds like a digit."""
    if text.norm(i) not in text.trade.homophones or text.norm(i) == "to":
        return None
    number = text.number(i, due=True)
    closes = number is not None and (
        number.end >= len(text.tokens)
        or text.tokens[number.end].gap > NO_BREAK
        or text.unit_follows(number.end)
    )
    return number if closes else None


def _range_in_a_row(number: Number) -> bool:
    """ "eighteen two twenty two": two bounds of as many figures, and between them what sounds like "to"."""
    if len(number.atoms) != 3 or number.atoms[1] != "2":
        return False
    low, _, top = number.atoms
    return len(low) == len(top) >= 2 and low.isdigit() and top.isdigit() and int(low) < int(top)


def _bounds_run_in(number: Number, previous: Quantity | None) -> bool:
    """ "60.3, limit fifty eight sixty two": bounds of the reading's size, as all figures in one are not."""
    atoms = number.atoms
    if len(atoms) != 2 or any(len(a) < 2 or not a.isdigit() for a in atoms) or previous is None:
        return False
    low, top, read = int(atoms[0]), int(atoms[1]), abs(previous.value)
    return (
        low < top and read > 0 and low / _ALIKE_IN_SIZE <= read <= top * _ALIKE_IN_SIZE < int("".join(atoms))
    )


#: A reading is this many times smaller or larger than its bounds, at most.
_ALIKE_IN_SIZE = 3


def _rated(text: Text, i: int) -> bool:
    """What is told by how much it weighs or bears follows at `i`: an excavator, a jack."""
    return (
        i < len(text.tokens) and text.tokens[i].gap == NO_BREAK and text.norm(i) in text.trade.words["rated"]
    )


def _like_an_angle(q: Quantity) -> bool:
    """A few degrees and a fraction: nobody tells a temperature so."""
    return abs(q.value) <= FEW and q.value != q.value.to_integral_value()


def _spoken_of(text: Text, quantity: str, words: list[str]) -> bool:
    return any(text.trade.quantity_words.get(word) == quantity for word in words)


def _compound(text: Text, q: Quantity) -> None:
    """ "one hour forty", "four minutes ten": a smaller unit of time that may go unnamed."""
    assert q.unit is not None
    smaller = {"h": ("min", 60), "min": ("s", 60)}.get(q.unit.ucum)
    if smaller is None or q.value != q.value.to_integral_value():
        return
    j = q.end + 1 if text.norm(q.end) == "and" else q.end
    if j < len(text.tokens) and text.tokens[j].gap > NO_BREAK:
        return
    rest = text.number(j)
    if rest is None or rest.value >= 60 or rest.value != rest.value.to_integral_value():
        return
    unit = unit_at(text, rest.end, rest)
    if unit and unit[0].ucum != smaller[0]:
        return
    if unit is None and text.norm(q.end) == "and":
        return
    if unit is None and rest.end < len(text.tokens) and text.tokens[rest.end].gap == NO_BREAK:
        counted = name_at(text, rest.end)
        if counted is not None and counted.kind:
            return
    q.value = (q.value + rest.value / smaller[1]).quantize(Decimal("0.01"))
    q.end = unit[2] if unit else rest.end


def _next_range(text: Text, start: int, previous: Quantity | None) -> bool:
    """ "limits are 115 to 120 and 148 to 155": a range goes on after a range that bounds."""
    return (
        previous is not None
        and previous.high is not None
        and previous.end == start - 1
        and text.norm(start - 1) == "and"
        and limit_before(text, previous.start) is not None
    )


def _from_to(text: Text, start: int) -> bool:
    """ "dropped from 8 to 6 bar" is a change, not a range."""
    return text.norm(start - 1) in ("from", "all", "both") or text.norm(start - 2) == "from"


def _wanted_from(text: Text, start: int, end: int) -> bool:
    """ "anything from 12 to 16", "from 12 to 16 is fine": no change, but what it may be."""
    phrase = limit_before(text, start)
    return (phrase is not None and "from" in text.norms[phrase[0] : start]) or (
        text.cue("limits.range_after", end) is not None
    )


_start = attrgetter("start")


def quantities_in(quantities: list[Quantity], q: Quantity, span: tuple[int, int]) -> list[Quantity]:
    """The quantities of `span`; they are in the order of their tokens."""
    low = bisect_left(quantities, span[0], key=_start)
    high = bisect_left(quantities, span[1], key=_start)
    return quantities[low:high]


def said_like_volts(q: Quantity) -> bool:
    """ "twenty-four six": how voltages are said, and little else."""
    atoms = q.number.atoms
    return len(atoms) == 2 and len(atoms[0]) == 2 and len(atoms[1]) == 1 and not q.number.exact


def _two_units(text: Text, q: Quantity, unit: tuple[Unit, str, int]) -> None:
    """ "28 mm bar" is how a recogniser writes millibar; any other two units in a row are doubted."""
    end = unit[2]
    if not text.goes_on(end):
        return
    stop, meanings = text.trade.unit_forms.at(text.norms, end)
    if not meanings or len(meanings[0][1]) < 3 or meanings[0][1] in ("min", "mil"):
        return
    if unit[0].quantity == "time" or text.number(end) is not None:
        return
    q.doubts.append(f"two units in a row: '{text.said(unit[2] - 1, stop)}'")
    milli = text.trade.units.get("m" + meanings[0][0].ucum)
    if unit[0].ucum == "mm" and milli is not None:
        q.unit, q.end = milli, stop


def _of_a_rate(text: Text, q: Quantity, unit: tuple[Unit, str, int]) -> None:
    """ "two bar a minute": a rate in a unit that the trade's data don't have is for a person to say."""
    end = unit[2]
    if text.norm(end) not in ("a", "an", "per") or unit[0].quantity == "time":
        return
    stop, meanings = text.trade.unit_forms.at(text.norms, end + 1)
    if meanings and meanings[0][0].quantity == "time" and len(meanings[0][1]) > 1:
        q.doubts.append(f"'{text.said(q.start, stop)}': a rate, not an amount?")


#: So many words may tell how one value became the next.
_LONGEST_CHANGE = 6


def changed_to(text: Text, first: Quantity, second: Quantity) -> bool:
    """ "from 4.8 bar to 0.9", "one bar and it was down to 0.6": the second value is what the first became."""
    between = text.norms[first.end : second.start]
    if between == ["to"]:
        return "from" in text.norms[max(0, first.start - 2) : first.start]
    words = text.trade.words
    return (
        1 < len(between) <= _LONGEST_CHANGE
        and between[-1] == "to"
        and bool(words["changes"] & set(between))
        and set(between) <= words["changes"] | words["fillers"] | words["around_subject"]
    )


def name_counted(text: Text, q: Quantity) -> bool:
    """ "got six bolts": the number counts things."""
    if text.norm(q.end) in text.trade.words["numbered"] and text.number(q.end + 1) is not None:
        return False  # "left nine axle two left eight"
    if q.value > _LABELS and "and" in text.norms[q.start : q.end]:
        return False  # "bolts two hundred and eighty new bolts"
    name = name_at(text, q.end)
    return (
        name is not None
        and name.start == q.end
        and text.tokens[q.end].gap == NO_BREAK
        and not name.pronoun
        and bool(name.kind)
        and "." not in q.number.text
    )


def is_reported(text: Text, q: Quantity) -> bool:
    return text.ends_at(text.trade.cue["readings.verbs"], q.start, 4) is not None


def same_dimension(trade: Trade, a: Unit, b: Unit) -> bool:
    return a.ucum == b.ucum or (a.quantity == b.quantity and convert(trade, 1.0, a.ucum, b.ucum) is not None)

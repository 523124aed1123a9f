"""Spans of time: "one hour forty", "90 minutes", "half an hour"."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK

_FRACTIONS = (
    (("and", "a", "half"), Decimal("0.5")),
    (("and", "a", "quarter"), Decimal("0.25")),
    (("and", "three", "quarters"), Decimal("0.75")),
    (("and", "three", "quarter"), Decimal("0.75")),
    (("and", "3", "quarters"), Decimal("0.75")),
    (("and", "3", "quarter"), Decimal("0.75")),
    (("and", "half"), Decimal("0.5")),
    (("and", "quarter"), Decimal("0.25")),
)


def duration(text: Text, i: int, *, due: bool = False) -> tuple[Decimal, int] | None:
    """(hours, end) of the span of time that starts at `i`: "one hour forty", "90 minutes", "half an hour".

    With `due`, words that sound like a digit are one: "ate hours".
    """
    bare = (
        text.norm(i) == "hour"
        and text.norm(i + 1) == "and"
        and text.norm(i - 1) not in ("per", "every", "the")
    )
    if text.norm(i) == "hour" and text.norm(i - 1) not in ("per", "every", "the", "an", "a", "half", "one"):
        alone = i == text.breath(i)[0] or text.tokens[i].gap > NO_BREAK
        if alone and (number := text.number(i + 1)) is not None and number.value < 60:
            return _minutes_after(text, Decimal(1), i + 1)  # "hour forty five labour"
    if bare or (text.norm(i) in ("an", "a") and text.norm(i + 1) == "hour"):
        hours: Decimal = Decimal(1)
        end = i + (1 if bare else 2)
        for words, more in _FRACTIONS:
            if tuple(text.norms[end : end + len(words)]) == words:
                return hours + more, end + len(words)
        return _minutes_after(text, hours, end)
    if text.norms[i : i + 2] == ["quarter", "hour"] and text.norm(i - 1) not in ("three", "3", "and", "a"):
        return Decimal("0.25"), i + 2
    number = text.number(i, due=due)
    if number is None:
        return None
    j = number.end
    value = number.value
    for words, more in _FRACTIONS:
        if tuple(text.norms[j : j + len(words)]) == words and value == value.to_integral_value():
            value, j = value + more, j + len(words)  # "four and three quarter hours"
            break
    if j < len(text.tokens) and text.tokens[j].gap > NO_BREAK:
        return None
    if text.norm(j) in ("of", "a", "an"):
        j += 1
    found, meanings = text.trade.unit_forms.at(text.norms, j)
    if not meanings or meanings[0][0].ucum not in ("h", "min"):
        return None
    if meanings[0][0].ucum == "min":
        return (value / 60).quantize(Decimal("0.01"), ROUND_HALF_UP), found
    atoms = number.atoms
    if len(atoms) == 2 and len(atoms[0]) <= 2 and len(atoms[1]) == 2 and int(atoms[1]) < 60:
        clocked = Decimal(atoms[0]) + Decimal(atoms[1]) / 60  # "2:45 hours"
        return clocked.quantize(Decimal("0.01"), ROUND_HALF_UP), found
    if (
        text.norm(found) == "and"
        and text.norm(found + 1) == "a"
        and text.norm(found + 2) in ("half", "quarter")
    ):
        return value + (Decimal("0.5") if text.norm(found + 2) == "half" else Decimal("0.25")), found + 3
    for words, more in _FRACTIONS:
        if tuple(text.norms[found : found + len(words)]) == words and value == value.to_integral_value():
            return value + more, found + len(words)  # "one hour and three quarters"
    return _minutes_after(text, value, found)


def misheard_duration(text: Text, i: int) -> tuple[Decimal, int] | None:
    """ "labour ate hours", "labour too point five hours": what sounds like a digit."""
    if text.norm(i) not in text.trade.homophones or text.norm(i - 1) not in text.trade.words["labour_words"]:
        return None
    unit = text.trade.unit_forms.at(text.norms, i + 1)[1]
    if text.norm(i + 1) != "point" and not (unit and unit[0][0].ucum == "h"):
        return None
    return duration(text, i, due=True)


def unnamed_hours(text: Text, i: int) -> tuple[Decimal, int] | None:
    """ "labour naught point eight": hours that go unnamed, right after a word of labour, as a decimal."""
    found = text.ends_at(text.trade.cue["labour.strong"], i, 4)
    headed = text.norm(i - 1) == "hours" and i - 1 == text.breath(i - 1)[0]  # "hours: 9.25 for the joint"
    found = found or ((i - 1, "hours") if headed else None)
    put_down = text.norm(i - 1) == "put" and text.norm(text.number_end(i)) == "down"  # "put 1.8 down"
    number = text.number(i) if found or put_down else None
    if number is None or "." not in number.text or not 0 < number.value < 24:
        return None
    if text.unit_follows(number.end):
        return None
    return number.value, number.end


def _minutes_after(text: Text, hours: Decimal, end: int) -> tuple[Decimal, int]:
    short = duration(text, end + 1) if text.norm(end) in ("less", "minus") else None
    if short is not None and short[0] < hours:
        return hours - short[0], short[1]  # "an hour less five minutes"
    j = end + 1 if text.norm(end) == "and" else end
    if j < len(text.tokens) and text.tokens[j].gap == NO_BREAK and hours == hours.to_integral_value():
        rest = text.number(j)
        if rest is not None and rest.value < 60:
            unit, meanings = text.trade.unit_forms.at(text.norms, rest.end)
            named = bool(meanings) and meanings[0][0].ucum == "min"
            plain = text.norm(end) != "and" or (rest.value % 5 == 0 and _ends(text, rest.end))
            if named or (not meanings and plain):
                total = hours + rest.value / 60
                return total.quantize(Decimal("0.01"), ROUND_HALF_UP), unit if named else rest.end
    return hours, end


def _ends(text: Text, i: int) -> bool:
    """Nothing that could be counted follows: "an hour and ten on that", but not "an hour and ten bolts"."""
    return (
        i >= len(text.tokens)
        or text.tokens[i].gap > NO_BREAK
        or text.norm(i) in ("on", "for", "all", "in", "total", "that", "so", "flat", "call", "say")
    )


def plain_hours(hours: Decimal) -> Decimal:
    """Whole hours without decimals, others with the places that were said."""
    return hours.normalize() + 0 if hours == hours.to_integral_value() else hours

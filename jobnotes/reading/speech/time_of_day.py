"""Times of day as they are said or printed: "8:50", "twenty to four", "half three", "five past midnight"."""

from __future__ import annotations

from jobnotes.reading.speech.numbers import below_hundred
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK

_NAMED = frozenset(("midnight", "midday", "noon"))
_DIRECTIONS = frozenset(("past", "to", "after", "before", "till"))


def time_of_day(text: Text, i: int, *, bare: bool = False) -> int | None:
    """The end of the time of day that starts at `i`; None if there is none.

    A number alone is a time of day only where the caller says so (`bare`: after "clocked off at"). What a
    unit follows is an amount.
    """
    for end in sorted(_ends(text, i, bare), reverse=True):
        broken = any(text.tokens[k].gap > NO_BREAK for k in range(i + 1, end))
        unit = end < len(text.tokens) and text.tokens[end].gap == NO_BREAK and text.unit_follows(end)
        if not broken and not unit:
            return end
    return None


def _ends(text: Text, i: int, bare: bool) -> set[int]:
    ends: set[int] = set()
    if text.norm(i) in _NAMED:
        return {i + 1}
    if text.norm(i) == "half":
        hour = _small(text, i + 2 if text.norm(i + 1) == "past" else i + 1)
        return {hour[1]} if hour and 1 <= hour[0] <= 12 else set()
    j = i + 1 if text.norm(i) == "a" else i
    minutes = (15, j + 1) if text.norm(j) == "quarter" else _small(text, i)
    if minutes is not None and 1 <= minutes[0] <= 59:
        k = minutes[1] + (text.norm(minutes[1]) in ("minutes", "minute"))
        if text.norm(k) in _DIRECTIONS:
            hour = _small(text, k + 1)
            if text.norm(k + 1) in _NAMED:
                ends.add(k + 2)
            elif hour is not None and 1 <= hour[0] <= 12:
                ends.add(_past_the_half(text, hour[1]))
    hour = _small(text, i)
    if hour is None or hour[0] > 24:
        return ends | ({i + 1} if _four_figures(text.norm(i)) else set())
    after = hour[1]
    more = text.number(i) if text.norm(after) == "hundred" else None
    if more is not None and more.end > after + 1 and text.norm(after + 1) == "and":
        return set()  # "out at one hundred and ninety eight bar"
    if text.norm(after) in ("o'clock", "am", "pm", "hundred") or text.norms[after : after + 2] in (
        ["a", "m"],
        ["p", "m"],
    ):
        ends.add(after + (2 if text.norm(after) in ("a", "p") else 1))
    minute = _minute(text, after)
    if minute is not None:
        ends.add(_past_the_half(text, minute))
    if bare:
        ends.add(after)
    return ends


def _past_the_half(text: Text, end: int) -> int:
    """Past "am" or "pm"."""
    if text.norm(end) in ("am", "pm"):
        return end + 1
    return end + 2 if text.norms[end : end + 2] in (["a", "m"], ["p", "m"]) else end


def _small(text: Text, i: int) -> tuple[int, int] | None:
    """(value, end) of a number of two figures at most."""
    norm = text.norm(i)
    if norm.isdecimal() and norm.isascii() and len(norm) <= 2:
        return int(norm), i + 1
    return below_hundred(text.tokens, i)


def _minute(text: Text, i: int) -> int | None:
    """The end of minutes after an hour: two figures, "oh five", "fifty"."""
    norm = text.norm(i)
    if norm.isdecimal() and norm.isascii():
        return i + 1 if len(norm) == 2 and int(norm) < 60 else None
    if norm in ("oh", "o", "zero"):
        rest = below_hundred(text.tokens, i + 1)
        return rest[1] if rest is not None and 1 <= rest[0] <= 9 else None
    rest = below_hundred(text.tokens, i)
    return rest[1] if rest is not None and 10 <= rest[0] < 60 else None


def _four_figures(norm: str) -> bool:
    """ "0850", "1620": as a clock of 24 hours writes them."""
    return (
        len(norm) == 4
        and norm.isdecimal()
        and norm.isascii()
        and int(norm[:2]) < 24
        and int(norm[2:]) < 60
        and norm[0] in "012"
    )

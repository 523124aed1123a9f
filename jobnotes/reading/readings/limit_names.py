"""What a limit is told of: a place, a name or a condition, which may not be that of the reading beside it."""

from __future__ import annotations

from jobnotes.reading.readings.quantities import Quantity, quantities_in
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK

#: So many tokens before a value tell where it was read.
NAMED = 3


def other_place(text: Text, q: Quantity, target: Quantity) -> str | None:
    """Another place that the limit was told of: "high side 90, low should be 20", "rears all above 7"."""
    start = _piece(text, q, target)
    if start is None or text.tokens[start].gap == NO_BREAK:
        return None
    here = {_singular(word) for word in text.norms[max(0, target.start - NAMED) : start]}
    elsewhere = text.trade.words["value_places"] - here - {"both"}
    return next((w for w in text.norms[start : q.cue_start] if _singular(w) in elsewhere), None)


def own_name(text: Text, limit: Quantity, reading: Quantity) -> tuple[int, int] | None:
    """What a limit behind a reading is told of, where that isn't named before the reading: tokens.

    "cut-in is 8.2 bar, cut-out should be 10"; but "22 V at the plug, should be 24" and "6 mm play, maximum 2"
    tell more of the reading.
    """
    start = _piece(text, limit, reading)
    if start is None:
        return None
    breath = text.breath(reading.start)[0]
    lead = {_singular(word) for word in text.norms[breath : reading.start]}
    apart = text.tokens[start].gap > NO_BREAK
    words = text.trade.words
    spent = False
    k = start
    while k < limit.cue_start:
        end, meanings = text.trade.conditions.at(text.norms, k)
        if meanings:
            k, spent = end, True
            continue
        if spent and text.component_at(k)[1]:
            return None  # "with the engine running and the wheels on full lock, 130 at least"
        if text.norm(k) in words["tells_where"] or text.norm(k) in words["shows_at"]:
            return None
        name = _name_of(text, reading, k, limit.cue_start)
        more = text.norm(k) in words["told_behind_value"] or text.norm(k) in text.trade.quantity_words
        behind = k == reading.end and not apart and (more or text.component_at(k)[1])  # "6 mm play"
        if name is not None and not behind and not {_singular(w) for w in text.norms[k:name]} <= lead:
            return k, name
        k += 1
    return None


def _piece(text: Text, limit: Quantity, reading: Quantity) -> int | None:
    """Where the words from a pause to a limit begin, behind the reading; else None."""
    start = limit.cue_start
    while start > reading.end and text.tokens[start].gap == NO_BREAK:
        start -= 1
    return start if start >= reading.end else None


def other_condition(
    text: Text, limit: Quantity, reading: Quantity, quantities: list[Quantity]
) -> tuple[int, int] | None:
    """The tokens before a limit that tell of another condition than the reading had, if they do.

    "1.8 bar at idle, flat out it should be 4".
    """
    start = _piece(text, limit, reading)
    if start is None or text.tokens[start].gap == NO_BREAK:
        return None
    breath = text.breath(reading.start)[0]
    had = _conditions(text, quantities, reading, (breath, start))
    told = _conditions(text, quantities, reading, (start, limit.cue_start))
    return (start, limit.cue_start) if had and told and not had & told else None


def _conditions(
    text: Text, quantities: list[Quantity], reading: Quantity, span: tuple[int, int]
) -> frozenset[str]:
    """The conditions told in these tokens, by name or by number."""
    named = {str(name) for _, _, name in text.find(text.trade.conditions, *span)}
    counted = {str(o.value) for o in quantities_in(quantities, reading, span) if o.role == "condition"}
    return frozenset(named | counted)


def holds_at(text: Text, limit: Quantity, reading: Quantity, quantities: list[Quantity]) -> str | None:
    """ "24.1 V key on, should be 28 running": the condition behind a limit that it holds for, if another."""
    start = limit.cue_start
    if start < reading.end or not text.goes_on(limit.end) or text.breath(start) != text.breath(reading.start):
        return None
    end = text.trade.conditions.at(text.norms, limit.end)[0]
    if end == limit.end:
        behind = list(quantities_in(quantities, limit, (limit.end, limit.end + 3)))
        end = behind[0].end if behind and behind[0].role == "condition" else end
    had = _conditions(text, quantities, reading, (text.breath(start)[0], start))
    told = _conditions(text, quantities, reading, (limit.end, end))
    return text.said(limit.end, end) if had and told and not had & told else None


def _name_of(text: Text, reading: Quantity, k: int, stop: int) -> int | None:
    """The end of the name that begins at `k`: a component's, or of what is measured in the reading's unit."""
    end, component = text.component_at(k)
    if component and end <= stop:
        return end
    if reading.unit is None:
        return None
    if text.trade.quantity_words.get(text.norm(k)) == reading.unit.quantity:
        return k + 1
    ends = [
        end
        for one in text.trade.implied
        if one.unit.quantity == reading.unit.quantity
        for end, meanings in (one.near.at(text.norms, k),)
        if meanings and end <= stop
    ]
    return max(ends, default=None)


def named_one(text: Text, limit: Quantity, before: list[Quantity]) -> Quantity | None:
    """ "suction 0.6 bar, discharge 8 bar. Suction should be 1.5": the one that a limit names, of several.

    `before`: those that it may be of, the nearest first. None where it names none of them, or the nearest.
    """
    values = [o for o in before if o.role == "value" and o.unit is not None and o.end <= limit.cue_start]
    if len(values) < 2 or values[0].unit is None:
        return None
    start = max(text.breath(limit.cue_start)[0], values[0].end)
    apart = [k for k in range(start, limit.cue_start) if text.tokens[k].gap > NO_BREAK]
    said = text.norms[max([start, *apart]) : limit.cue_start]
    words = text.trade.words
    name = set(said) - text.trade.quantity_words.keys() - words["around_subject"] - text.trade.stop
    if not name or len(said) > _LONG_NAME:
        return None
    for n, o in enumerate(values):
        first = max(o.start - NAMED, values[n + 1].end if n + 1 < len(values) else 0)
        if name <= set(text.norms[first : o.start]):
            same = o.unit is not None and o.unit.quantity == values[0].unit.quantity
            return o if n and same else None
    return None


#: What a limit is of has at most so many words.
_LONG_NAME = 5


def of_another_name(text: Text, reading: Quantity, own: tuple[int, int]) -> bool:
    """Whether the limit's own name stands against another of its sort, which the reading was told of."""
    joined = text.tokens[own[0]].gap == NO_BREAK
    if joined and text.norm(own[0] - 1) not in text.trade.words["around_subject"]:
        return False
    if text.component_at(own[0])[1]:
        return False
    for k in range(text.breath(reading.start)[0], reading.start):
        named = _name_of(text, reading, k, reading.start) is not None
        if named and not text.component_at(k)[1]:
            return True
    return False


def _singular(word: str) -> str:
    return word.removesuffix("s")  # "rears all above 7"

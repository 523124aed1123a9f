"""Conditions of a reading: "ignition on", "under load", "at 1200 rpm"."""

from __future__ import annotations

from collections.abc import Iterator

from jobnotes.reading.readings.limit_names import other_condition
from jobnotes.reading.readings.limits import at_bare_speed
from jobnotes.reading.readings.quantities import Quantity, quantities_in, set_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK

#: Words that lead to a condition that is a number.
_LEADS = ("at", "for", "after", "within", "in", "over", "with")


def _of_the_other(text: Text, q: Quantity, values: list[Quantity], start: int, end: int) -> bool:
    """Whether a condition between two readings is by its pauses the other one's, not that of `q`:
    "at rest 25.1, cranking 21.4", "28.0 V at 1000 rpm, 28.6 at 2000"."""
    before = [o for o in values if o.end <= start]
    after = [o for o in values if o.start >= end]
    if not before or not after or q not in (before[-1], after[0]):
        return False
    apart = text.tokens[start].gap > NO_BREAK or text.norm(start - 1) == "and"
    closed = end < len(text.tokens) and (text.tokens[end].gap > NO_BREAK or text.norm(end) == "and")
    if apart == closed:
        # "cold two ten bar hot one sixty five": where each condition stands before its value
        first = max((o.end for o in values if o.end <= before[-1].start), default=text.breath(start)[0])
        leads = not apart and bool(text.find(text.trade.conditions, first, before[-1].start))
        return leads and end == after[0].start and q is before[-1]
    return q is before[-1] if apart else q is after[0]


def conditions_of(text: Text, q: Quantity, quantities: list[Quantity], said_from: int) -> tuple[str, ...]:
    """The conditions said with the value `q`, whose test point begins at token `said_from`."""
    start, end = text.breath(q.start)
    start, end = max(start, q.start - 24), min(end, q.end + 18)
    if said_from < start:
        start = text.breath(said_from)[0]  # "ignition off, resistance across the pair. 60.2 ohms"
    if start > 0:
        before = text.breath(start - 1)[0]
        if text.trade.conditions.at(text.norms, before)[0] >= start:
            start = before  # "ignition off." is a sentence of its own
    if end > text.sentence(q.start)[1]:
        end = text.sentence(q.start)[1]
    nearby = quantities_in(quantities, q, (start, end))
    values = [o for o in nearby if o.role == "value" and o.unit]
    found: list[tuple[int, str]] = []
    limits = (o for o in nearby if o.role in ("max", "min", "nominal") and o.start >= q.end)
    others = [told for limit in limits if (told := other_condition(text, limit, q, quantities)) is not None]
    for i, j, name in text.find(text.trade.conditions, start, end):
        if _of_the_other(text, q, values, i, j) or any(low <= i < high for low, high in others):
            continue
        # with several readings in one sentence a condition belongs to what follows it, unless none does
        between = [o for o in values if o is not q and (i < o.start < q.start or q.start < o.start < i)]
        if between and i > q.start:
            continue
        if between and i < q.start and any(text.find(text.trade.conditions, o.end, q.start) for o in between):
            continue
        found.append((i, name))
    for o in nearby:
        if o.leads and next((v for v in values if v.start >= o.end), None) is not q:
            continue
        if o.role == "condition" and not any(low <= o.start < high for low, high in others):
            at = o.start - (text.norm(o.start - 1) in _LEADS)
            if not o.leads and _of_the_other(text, q, values, at, o.end):
                continue
            word = text.norm(o.start - 1) if text.norm(o.start - 1) in _LEADS else "at"
            found.append((o.start, f"{word} {o.value} {o.unit.ucum if o.unit else ''}".strip()))
    behind = text.trade.conditions.at(text.norms, q.end)[0] if text.goes_on(q.end) else q.end
    for k in dict.fromkeys((q.end, behind)):  # "3.8 bar at 1200", "3.8 bar hot at 1200"
        if at_bare_speed(text, k):
            number = text.number(k + 1)
            assert number is not None
            found.append((k, f"at {number.text}"))
    found += _set_before(text, q, max([start, *(o.end for o in values if o.end <= q.start)]))
    headed = _after_the_repair(text, q.start)
    if headed is not None and not any(name in (_AFTER, _BEFORE) for _, name in found):
        found.append((headed, _AFTER))
    return tuple(dict.fromkeys(name for _, name in sorted(found)))


def _set_before(text: Text, q: Quantity, start: int) -> Iterator[tuple[int, str]]:
    """ "oil at fifty, engine at two thousand, 120 bar": what was set before the value, with no unit said."""
    for k in range(start + 2, q.start):
        number = text.number(k) if text.norm(k - 1) == "at" and set_at(text, k) else None
        if number is None or not (number.end == q.start or text.tokens[number.end].gap > NO_BREAK):
            continue
        word = text.norm(k - 2)
        named = word in text.trade.words["set_at"] and text.goes_on(k - 1)
        yield k, f"{word} at {number.text}" if named else f"at {number.text}"


_AFTER, _BEFORE = "after repair", "before repair"
#: "After the repair." holds for the readings in so many words behind it.
_HEADS = 80


def _after_the_repair(text: Text, at: int) -> int | None:
    """Where "after the repair" is a sentence of its own, not long before token `at`: it heads the readings
    that follow, until something is told of before the repair."""
    end = text.breath(at)[0]
    while end > 0 and at - end <= _HEADS:
        start = text.breath(end - 1)[0]
        stop, names = text.trade.conditions.at(text.norms, start)
        if _AFTER in names and stop == end:
            return start
        if any(name == _BEFORE for _, _, name in text.find(text.trade.conditions, start, end)):
            return None
        end = start
    return None

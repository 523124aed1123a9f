"""Amounts of a fluid that was named before them: "power steering fluid: level low, 0.6 litres added"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from jobnotes.reading.speech.names import Name, name_at, name_before
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.record import Step

#: So many tokens before or behind an amount its verb may stand, and so many before it its fluid may be named.
_NEAR, _FAR = 4, 16


def poured_amounts(text: Text, found: Sequence[Draft]) -> Iterator[Draft]:
    """Steps of filling whose amount stands apart from the fluid's name; `found`: what was read already."""
    told = [
        (d.start, d.end)
        for d in found
        if isinstance(d.detail, Step) and d.detail.action in ("filled", "drained")
    ]
    for i in range(len(text.tokens)):
        number = text.number(i) if text.numeric[i] else None
        if number is None or text.quantity_at(number.end) != "volume" or number.start != i:
            continue
        unit, forms = text.trade.unit_forms.at(text.norms, number.end)
        if any(a < unit and i < b for a, b in told) or text.number(i - 1) is not None:
            continue
        end = _poured_behind(text, unit)
        start: int | None = i
        if end is None:
            start, end = _poured_before(text, i), unit
        wanted = set(text.norms[max(text.breath(i)[0], i - _NEAR) : i]) & text.trade.words["wants_filling"]
        if start is None or end is None or wanted or text.sense(i) is not None or text.negated_before(i):
            continue
        named = _fluid(text, start, i, unit)
        fluid = named.text if named is not None else _let_out_before(text, i, unit, found)
        if fluid is not None:
            detail = Step("filled", fluid, Decimal(number.value), forms[0][0].ucum)
            yield Draft(detail, min(start, i), end, 0.88, keys=((i, unit),))


def _poured_behind(text: Text, i: int) -> int | None:
    """The end of "added", "of it", "goes back in", where that follows the amount that ends at `i`."""
    k = i
    if not text.goes_on(k):
        return None
    if text.norms[k : k + 2] == ["of", "it"]:
        closes = not text.goes_on(k + 2)
        new_in = {"put", "new", "in"} <= set(text.norms[max(text.breath(i)[0], i - 12) : i])
        return k + 2 if closes and new_in else None
    if text.norm(k) == "of":
        name = _grade_and_fluid(text, k + 1)
        if name is None:
            return None
        k = name.end
    cue = text.cue("fluids.went_in", k) if text.goes_on(k) else None
    return cue[0] if cue is not None and not text.goes_on(cue[0]) else None


def _grade_and_fluid(text: Text, i: int) -> Name | None:
    """ "forty six oil": a fluid with its grade before it."""
    grade = text.number(i)
    name = name_at(text, grade.end if grade is not None else i, text.breath(i)[1])
    return name if name is not None and name.kind in text.trade.kinds["poured"] else None


def _poured_before(text: Text, i: int) -> int | None:
    """Where "put", "poured back" begins, right before the amount at `i`."""
    cue = text.ends_at(text.trade.cue["fluids.put_in"], i, _NEAR)
    return cue[0] if cue is not None else None


def _fluid(text: Text, start: int, i: int, end: int) -> Name | None:
    """What was poured: named behind the amount, or last in the same breath before it."""
    behind = _grade_and_fluid(text, end + 1) if text.norm(end) == "of" else None
    if behind is not None:
        return behind
    first = text.breath(start)[0]
    for k in range(start, max(first, start - _FAR), -1):
        name = name_before(text, k, first)
        if name is not None and name.end == k and name.kind in text.trade.kinds["poured"]:
            return name
    return None


#: So many tokens before it was poured back the fluid was let out.
_LONG_AGO = 120


def _let_out_before(text: Text, i: int, end: int, found: Sequence[Draft]) -> str | None:
    """ "seventeen litres of what was in it": the fluid that was let out last, not long before."""
    if text.cue("fluids.what_came_out", end) is None:
        return None
    for draft in reversed(found):
        step = draft.detail
        if isinstance(step, Step) and step.action == "drained" and draft.end <= i < draft.end + _LONG_AGO:
            return step.object
    return None

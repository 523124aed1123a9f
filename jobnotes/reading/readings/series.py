"""Readings told as a list: "limits 0.3 to 0.6 ohm. Cylinder 1, 0.42. Cylinder 2, 0.44."

The line before the list, or an entry of it, tells the unit; the entries say which of several each is."""

from __future__ import annotations

from collections.abc import Iterator

from jobnotes.reading.readings.quantities import Quantity, name_counted
from jobnotes.reading.speech.text import Text
from jobnotes.reading.trade.knowledge import Unit

#: So many tokens after what tells its unit an entry may stand.
REACH = 60
#: An entry's number is not so many times larger or smaller than what its unit was told with.
LIKE = 20


def tell_entries(text: Text, quantities: list[Quantity]) -> None:
    """Give bare numbers that are entries of a list their unit, and the limit told before the list."""
    for at, q in enumerate(quantities):
        unsaid = q.unit is None or q.number.end == q.end
        if q.role not in ("bare", "value") or not unsaid or (label := _label(text, quantities, at)) is None:
            continue
        source = _entry_before(text, quantities, at, label) or _limit_before(text, quantities, at)
        if source is None or source.unit is None:
            continue
        if q.unit is None:
            q.unit, q.role, q.borrowed = source.unit, "value", True
            q.doubts.append(f"no unit was said; {source.unit.ucum} as told before the list")
        if not q.limits and q.unit.ucum == source.unit.ucum:
            told_before = [o for o in source.limits if o.start < source.start]
            q.limits = [source] if source.role in _BOUNDS else told_before


_BOUNDS = ("max", "min", "nominal")


def _label(text: Text, quantities: list[Quantity], at: int) -> frozenset[str] | None:
    """The words that tell which entry the number is, where it is told by nothing else: "cylinder 1"."""
    q = quantities[at]
    first, end = text.breath(q.start)
    start = max(first, quantities[at - 1].end if at else 0)
    words = text.trade.words
    told: set[str] = set()
    k = start
    while k < q.start:
        norm = text.norm(k)
        number = text.number(k)
        if norm in words["places"] | words["numbered"]:
            told.add(norm)
        elif number is not None and number.end <= q.start and told & words["numbered"]:
            k = number.end
            continue
        elif norm not in words["before_a_value"] | {"and", "now", "the"}:
            return None
        k += 1
    closed = q.end >= len(text.tokens) or q.end >= end or text.tokens[q.end].gap or _label_ahead(text, q.end)
    if not told or not closed or name_counted(text, q) or not q.number.exact:
        return None
    return frozenset(told)


def _label_ahead(text: Text, i: int) -> bool:
    return text.norm(i) in text.trade.words["places"] | text.trade.words["numbered"] | {"and"}


def _entry_before(text: Text, quantities: list[Quantity], at: int, label: frozenset[str]) -> Quantity | None:
    """The last reading with a unit that stands behind one of the same words: "upper pin play 2.6 mm"."""
    for o in _before(quantities, at):
        if o.unit is None or o.role != "value":
            continue
        first = max(text.breath(o.start)[0], o.start - 8)
        if label & set(text.norms[first : o.start]) and _alike(quantities[at], o, o.unit):
            return o
    return None


def _limit_before(text: Text, quantities: list[Quantity], at: int) -> Quantity | None:
    """The limit with its unit that was told before the list, and bounds no other reading."""
    q = quantities[at]
    for o in _before(quantities, at):
        if o.unit is None or (o.role == "value" and o.borrowed):
            continue
        if o.role not in _BOUNDS or text.breath(o.start) == text.breath(q.start):
            return None
        bounds_another = any(limit is o for other in _before(quantities, at) for limit in other.limits)
        return o if _alike(q, o, o.unit) and not bounds_another else None
    return None


def _before(quantities: list[Quantity], at: int) -> Iterator[Quantity]:
    """The quantities before that at `at`, from the last one back, as far as a list may reach."""
    for k in range(at - 1, -1, -1):
        if quantities[at].start - quantities[k].end > REACH:
            return
        yield quantities[k]


def _alike(q: Quantity, o: Quantity, unit: Unit) -> bool:
    """Whether the numbers are of one size, and no times or places."""
    if unit.quantity in ("time", "distance"):
        return False
    low, high = sorted((abs(q.value), abs(o.high if o.high is not None else o.value)))
    return low > 0 and high <= LIKE * low

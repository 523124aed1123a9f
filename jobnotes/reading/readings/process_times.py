"""How long the vehicle took for something, as a reading: "built up in four minutes", "22 seconds to rise"."""

from __future__ import annotations

from collections.abc import Iterable

from jobnotes.reading.readings.quantities import Quantity
from jobnotes.reading.speech.text import Text

#: So many tokens before the value the process may be named, and so many behind it.
_BEFORE, _BEHIND = 12, 4
#: So many tokens before the value its rise may begin: "from 0 to 7 bar at 1500 rpm, 11 minutes".
_RISE = 14
#: What is timed while it builds up.
_RISES = frozenset(("pressure", "temperature", "rotational speed"))


def rise_before(text: Text, q: Quantity) -> tuple[int, int] | None:
    """(start, end) of what rose in the time `q`: "from nought to seven bar at 1500 rpm, 11 minutes 20"."""
    if (
        q.unit is None
        or q.unit.quantity != "time"
        or text.norm(q.start - 1) in ("for", "after", "every", "at")
    ):
        return None
    for k in range(q.start - 1, max(text.sentence(q.start)[0], q.start - _RISE) - 1, -1):
        low = text.number(k)
        if low is None or text.norm(low.end) != "to" or low.end + 1 >= q.start:
            continue
        high = text.number(low.end + 1)
        end, meanings = text.trade.unit_forms.at(text.norms, high.end) if high is not None else (0, ())
        if high is not None and low.value < high.value and meanings and meanings[0][0].quantity in _RISES:
            return k, end
    return None


def takes(text: Text, q: Quantity) -> bool:
    """Whether a span of time (or a number whose unit goes unsaid) is what a process took."""
    if q.unit is not None and q.unit.quantity != "time":
        return False
    words = text.trade.words
    start = text.clause(q.start)[0]
    before = text.norms[max(start, q.start - _BEFORE) : q.start]
    if q.unit is not None and q.unit.ucum in ("s", "ms") and _told_in_seconds(text, q, before):
        return True
    return (
        bool(before)
        and (
            before[-1] in words["before_taken"]
            or q.unit is None
            or q.unit.ucum in ("s", "ms")
            or (before[-1] in words["process_ends"] and _goes_on(text, before[-2:-1]))
        )
        and _goes_on(text, before)
    )


def _told_in_seconds(text: Text, q: Quantity, before: list[str]) -> bool:
    """Seconds are nobody's labour: "goes to the top in 38 seconds", "six seconds closing", "right 41 s"."""
    words = text.trade.words
    behind = text.norms[q.end : min(q.end + _BEHIND, text.breath(q.start)[1])]
    if before and before[-1] in words["before_taken"] | words["value_places"]:
        return True
    return bool(before) and (_goes_on(text, behind) or behind[:1] == ["to"])


def _goes_on(text: Text, said: Iterable[str]) -> bool:
    stems = tuple(text.trade.words["process_stems"])
    return any(word.startswith(stems) for word in said)


def process_of(text: Text, q: Quantity) -> str | None:
    """The process that a span of time was told of: "builds", "goes to the top", "six seconds closing"."""
    if q.unit is None or q.unit.quantity != "time":
        return None
    words = text.trade.words
    start, end = text.clause(q.start)[0], q.start
    if (rise := rise_before(text, q)) is not None:
        while start < rise[0] and text.norm(start) in words["around_subject"]:
            start += 1
        told = start < rise[0] and _goes_on(text, text.norms[start : rise[0]])
        return text.said(start if told else rise[0], rise[1])  # "build time 85 to 100 psi"
    while end > start and text.norm(end - 1) in words["before_taken"] | {"a", "about"}:
        end -= 1
    took = set(text.norms[end : q.start]) & words["taking"]  # "zero to eight bar takes eleven minutes"
    while start < end and text.norm(start) in words["around_subject"]:
        start += 1
    if 0 < end - start <= _BEFORE and (took or _goes_on(text, text.norms[start:end])):
        return text.said(start, end)
    behind = text.norms[q.end : min(q.end + 1, text.breath(q.start)[1])]
    return text.said(q.end, q.end + 1) if start == end and _goes_on(text, behind) else None

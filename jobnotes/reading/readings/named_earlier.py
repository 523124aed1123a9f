"""What a reading is of, where the words right at its value don't say: named earlier in the same breath.

"Vent temperature, I let it run and it's nine degrees now", "battery 49.6 volts, under load 46.8".
"""

from __future__ import annotations

from collections.abc import Sequence

from jobnotes.reading.readings.quantities import Quantity, quantities_in
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.record import Measurement

#: A stretch of so many words between commas names a thing as a whole.
_LONGEST = 6
#: What names the thing is looked for so many tokens before the value.
_REACH = 30


def says_nothing(text: Text, subject: str | None) -> bool:
    """Whether the words that were taken for what was measured name nothing: "what", "that one", "moving"."""
    words = text.trade.words
    hollow = words["hollow_subjects"] | words["around_subject"]
    return subject is None or set(subject.casefold().split()) <= hollow


def named_earlier(
    text: Text, q: Quantity, quantities: list[Quantity], last: tuple[Quantity, Measurement] | None
) -> str | None:
    """What the reading `q` is of; `last` is the reading before it, with its fact."""
    start = max(text.breath(q.start)[0], q.start - _REACH)
    before = last if last is not None and start <= last[0].start < q.start else None
    low = before[0].end if before is not None else start
    for o in quantities_in(quantities, q, (low, q.start)):
        if o.end <= q.start and o.role not in ("condition", "bare", "skip"):
            low = max(low, o.end)
    spans = _named_between(text, low, q.start)
    if spans:
        return _one_of(text, spans, q.start)
    if before is not None and q.unit is not None and before[1].unit == q.unit.ucum:
        return before[1].subject
    return None


def _one_of(text: Text, spans: Sequence[tuple[int, int]], end: int) -> str | None:
    """What is meant of all that was named before `end`: the one right at it, or the whole place."""
    if len({text.said(*span) for span in spans}) == 1:
        return text.said(*spans[-1])
    if not any(text.tokens[k].gap > NO_BREAK for k in range(spans[-1][1], end + 1)):
        return text.said(*spans[-1])  # "ran the engine 20 min, sensor now 35 ppm"
    first = spans[0][0]
    if any(text.tokens[k].gap > NO_BREAK for k in range(first + 1, spans[-1][1])):
        return None
    for k in range(first - 1, max(text.breath(first)[0], first - _LONGEST) - 1, -1):
        if text.tokens[k + 1].gap > NO_BREAK:
            break
        if text.cue("readings.at", k) is not None:  # "measured between the two wires at the plug, it's 60"
            return text.said(k, spans[-1][1])
    return None


def _named_between(text: Text, low: int, high: int) -> Sequence[tuple[int, int]]:
    """The stretches of `low` … `high` that name a component or a quantity, conditions left out."""
    spans: list[tuple[int, int]] = []
    k = low
    while k < high:
        held = text.trade.conditions.at(text.norms, k)[0]
        if held > k + 1 or (held > k and text.norm(k) not in text.trade.quantity_words):
            k = max(held, k + 1)
            continue
        found = _thing(text, k, high)
        if found is None:
            k += 1
            continue
        spans.append(_whole(text, found, low, high))
        k = max(found[1], spans[-1][1])
    return spans


def _thing(text: Text, k: int, high: int) -> tuple[int, int] | None:
    """(start, end) of the component or quantity that is named at `k`."""
    name = name_at(text, k, high)
    gear = text.trade.kinds["test_gear"]
    if name is not None and name.kind is not None and not name.pronoun and name.kind not in gear:
        return (name.start, name.end) if name.kind != "everything" else None
    return (k, k + 1) if text.norm(k) in text.trade.quantity_words else None


def _whole(text: Text, found: tuple[int, int], low: int, high: int) -> tuple[int, int]:
    """The stretch between commas around `found`, where it is short, without what is no name."""
    start, end = found
    while start > low and text.tokens[start].gap == NO_BREAK and start > found[0] - _LONGEST:
        start -= 1
    while end < high and text.tokens[end].gap == NO_BREAK and end < found[1] + _LONGEST:
        end += 1
    words = text.trade.words["around_subject"] | text.trade.words["after_subject"]
    while start < found[0] and text.norm(start) in words:
        start += 1
    while end > found[1] and text.norm(end - 1) in words | text.trade.stop:
        end -= 1
    plain = not any(text.reports(k) or text.number(k) is not None for k in range(start, end))
    return (start, end) if end - start <= _LONGEST and plain else found

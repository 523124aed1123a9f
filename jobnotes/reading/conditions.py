"""Conditions of a reading: "ignition on", "under load", "at 1200 rpm"."""

from __future__ import annotations

from jobnotes.reading.limits import at_bare_speed
from jobnotes.reading.quantities import Quantity, quantities_in
from jobnotes.reading.text import Text


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
    for i, _, name in text.find(text.trade.conditions, start, end):
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
        if o.role == "condition":
            word = (
                text.norm(o.start - 1)
                if text.norm(o.start - 1) in ("at", "for", "after", "within", "in", "over", "with")
                else "at"
            )
            found.append((o.start, f"{word} {o.value} {o.unit.ucum if o.unit else ''}".strip()))
    if at_bare_speed(text, q.end):
        number = text.number(q.end + 1)
        assert number is not None
        found.append((q.end, f"at {number.text}"))
    return tuple(dict.fromkeys(name for _, name in sorted(found)))

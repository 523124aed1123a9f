"""Parts: fitted, removed for good, re-used, ordered, consumed; pieces, number, serial, new or old."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from jobnotes.reading.part_lists import kept_back, listed, named_new, used_with
from jobnotes.reading.part_numbers import with_numbers
from jobnotes.reading.parts_from_verbs import parts_from_verbs
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import COMMA
from jobnotes.reading.work import Work
from jobnotes.record import Part


def parts(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """Every part with an action; part numbers and serials said nearby are attached."""
    from_verbs = list(parts_from_verbs(text, works))
    found = [*from_verbs, *named_new(text, works), *used_with(text, from_verbs, works), *kept_back(text)]
    found += listed(text, found, works)
    found.sort(key=lambda d: d.start)
    found = [_counted_after(text, d) for d in found]
    unique: list[Draft] = []
    for draft in found:
        if not any(_same(draft, other) for other in unique):
            unique.append(draft)
    kept: list[Draft] = []
    for draft in with_numbers(text, unique, works):
        if not any(_same(draft, other) for other in kept):
            kept.append(draft)
    for at, draft in enumerate(kept):
        if not any(_told_again(text, draft, other) for other in kept[:at]):
            yield draft


def _told_again(text: Text, draft: Draft, earlier: Draft) -> bool:
    """ "… I replaced the height sensor": a part that was told before, with its number, summed up."""
    now, before = draft.detail, earlier.detail
    assert isinstance(now, Part)
    assert isinstance(before, Part)
    if now.action != "fitted" or before.action != "fitted" or now.number or now.serial:
        return False
    if now.quantity not in (None, before.quantity) or now.condition == "new":
        return False
    if text.norm(draft.keys[0][0]) not in text.trade.determiners or text.norm(draft.keys[0][0]) in (
        "a",
        "an",
        "another",
    ):
        return False
    a, b = set(now.name.casefold().split()), set(before.name.casefold().split())
    return bool(a & b) and (a <= b or b <= a)


def _counted_after(text: Text, draft: Draft) -> Draft:
    """ "flange bolts were renewed, sixteen of them": the number of pieces comes last."""
    part = draft.detail
    assert isinstance(part, Part)
    number = text.number(draft.end) if part.quantity is None and draft.end < len(text.tokens) else None
    if number is None or text.tokens[draft.end].gap > COMMA:
        return draft
    tail = text.norms[number.end : number.end + 2]
    if tail == ["of", "them"] or tail[:1] == ["off"]:
        return replace(
            draft,
            detail=replace(part, quantity=number.value),
            end=number.end + len(tail[:2] if tail[0] == "of" else tail[:1]),
        )
    return draft


def _same(a: Draft, b: Draft) -> bool:
    """Two readings of the same words."""
    return bool(a.keys and b.keys) and max(a.keys[0][0], b.keys[0][0]) < min(a.keys[0][1], b.keys[0][1])

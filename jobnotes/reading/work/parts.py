"""Parts: fitted, removed for good, re-used, ordered, consumed; pieces, number, serial, new or old."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from functools import partial

from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA
from jobnotes.reading.work.new_parts import named_new, named_then_new, new_ones
from jobnotes.reading.work.part_lists import counted_off, listed, listed_alone, part_of
from jobnotes.reading.work.part_numbers import with_numbers
from jobnotes.reading.work.parts_from_verbs import parts_from_verbs
from jobnotes.reading.work.spoken_work import Work
from jobnotes.reading.work.used_parts import kept_back, kept_by_us, old_among_new, old_went_on, still_old
from jobnotes.reading.work.used_up import amounts_alone, laid_on, measured_out, used_with
from jobnotes.record import Part

#: What there may be so much of, by the quantities of units.
AMOUNTS = frozenset(("volume", "mass", "length", "area"))
#: With one of these a correction says that a part was not a new one, or not fitted.
_OTHERWISE = frozenset(("old", "original", "same", "not", "didn't", "reused", "kept", "re"))


def parts(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """Every part with an action; part numbers and serials said nearby are attached."""
    told = [*parts_from_verbs(text, works), *named_new(text, works)]
    found = [
        *told,
        *named_then_new(text, works),
        *still_old(text),
        *old_went_on(text, works),
        *used_with(text, told, works),
        *old_among_new(text, told, works),
        *measured_out(text),
        *amounts_alone(text, works),
        *laid_on(text, works),
        *new_ones(text, works),
        *kept_back(text, works),
        *kept_by_us(text),
    ]
    found += listed(text, found, works)
    found += counted_off(text, found, works)
    found += listed_alone(text, found, works)
    found.sort(key=lambda d: d.start)
    found = [_doubted(text, _doubted_after(text, _counted_after(text, d))) for d in found]
    kept = _without_overlaps(with_numbers(text, _without_overlaps(found), works))
    fitted = _Fitted()
    for draft in map(partial(_amount_after, text), kept):
        if not _an_amount(text, draft):
            continue
        if not _told_again(text, draft, fitted):
            yield draft
        elif not _summed_up(text, draft):
            again = "a part of that name was told before: is it the same one?"
            yield draft.doubted(again)
        fitted.add(draft)


def _without_overlaps(drafts: Sequence[Draft]) -> list[Draft]:
    """Of two readings of the same words, the first."""
    kept: list[Draft] = []
    taken: set[int] = set()
    for draft in drafts:
        words = range(*draft.keys[0])
        if taken.isdisjoint(words):
            kept.append(draft)
            taken.update(words)
    return kept


def _an_amount(text: Text, draft: Draft) -> bool:
    """Nobody uses up a resistance: "2.4 Mohm positive" is a reading."""
    part = part_of(draft)
    unit = text.trade.units.get(part.unit) if part.unit is not None else None
    return unit is None or unit.quantity in AMOUNTS or part.action != "consumed"


class _Fitted:
    """The names and counts of parts that were fitted, by each word of the name."""

    def __init__(self) -> None:
        self._by_word: dict[str, set[tuple[frozenset[str], Decimal | None]]] = {}

    def add(self, draft: Draft) -> None:
        part = part_of(draft)
        words = frozenset(part.name.casefold().split())
        for word in words if part.action == "fitted" else ():
            self._by_word.setdefault(word, set()).add((words, part.quantity))

    def holds(self, part: Part) -> bool:
        """Whether one of this count, if it has one, was fitted under this name, a longer or a shorter one."""
        words = frozenset(part.name.casefold().split())
        return any(
            part.quantity in (None, quantity) and (words <= other or other <= words)
            for word in words
            for other, quantity in self._by_word.get(word, ())
        )


def _told_again(text: Text, draft: Draft, earlier: _Fitted) -> bool:
    """ "… I replaced the height sensor": a part that was told before, with its number, summed up."""
    now = draft.detail
    assert isinstance(now, Part)
    if now.action != "fitted" or now.number or now.serial or now.condition == "new":
        return False
    if text.norm(draft.keys[0][0]) not in text.trade.determiners or text.norm(draft.keys[0][0]) in (
        "a",
        "an",
        "another",
    ):
        return False
    return earlier.holds(now)


def _summed_up(text: Text, draft: Draft) -> bool:
    """ "Correction: I replaced …" tells again what was done."""
    start = text.breath(draft.start)[0]
    before = text.breath(start - 1)[0] if start else start
    return bool(text.find(text.trade.cue["headings.correction"], before, draft.start + 1))


def _doubted_after(text: Text, draft: Draft) -> Draft:
    """ "new boot on the cable. Actually no, it's the old boot I put back": then it is for a person to say."""
    part = part_of(draft)
    if part.action not in ("fitted", "consumed"):
        return draft
    head = part.name.casefold().split()[-1]
    stop = min(len(text.tokens), draft.end + 18)
    if text.trade.cue["amend.cues"].first_words.isdisjoint(text.norms[draft.end : stop]):
        return draft  # most often
    for k in range(draft.end, stop):
        if text.cue("amend.cues", k) is None:
            continue
        after = text.norms[k : min(stop, k + 10)]
        if head in after and _OTHERWISE & set(after):
            return draft.doubted("something else was said of this part right after")
    return draft


def _doubted(text: Text, draft: Draft) -> Draft:
    """A part that was perhaps only tried, or is none ("chip of paint"): for a person to say."""
    part = part_of(draft)
    if part.action not in ("fitted", "consumed"):
        return draft
    doubts: list[str] = []
    stop = min(text.breath(draft.start)[1], draft.end + 12)
    if part.action == "fitted" and text.find(text.trade.cue["parts.lent"], draft.start, stop):
        doubts.append("was it fitted for good, or only to try?")
    for i, j, _ in text.find(text.trade.cue["parts.another_time"], draft.start, stop)[:1]:
        doubts.append(f"'{text.said(i, j)}': was it on this job?")
    start = draft.keys[0][0]
    if part.quantity is not None and text.norm(start - 1) in ("to", "or"):
        before = [n for back in (1, 2, 3) if (n := text.number(start - 1 - back)) and n.end == start - 1]
        doubts += [f"'{text.said(n.start, draft.keys[0][1])}': how many were there?" for n in before[:1]]
    more = text.norms[draft.end : draft.end + 4]
    if (
        part.quantity is not None
        and "another" in more
        and set(more[: more.index("another")]) <= {"and", "then"}
    ):
        number = text.number(draft.end + more.index("another") + 1)
        if number is not None and text.norm(number.end) not in text.trade.kind_of:
            doubts.append(f"'{text.said(start, number.end)}': how many were there?")
    words = part.name.casefold().split()
    measures = text.trade.words["dabs"] | text.trade.words["containers"] | text.trade.words["made_up_of"]
    if words[1:2] == ["of"] and words[0] not in measures and words[0] not in text.trade.kind_of:
        doubts.append(f"'{part.name}': is it a part?")
    return draft.doubted(*doubts)


def _on_both(text: Text, draft: Draft) -> Draft | None:
    """ "a new copper washer either side": two."""
    part = part_of(draft)
    i = draft.keys[0][1]
    said = text.norms[i : i + 3]
    sides = said[:2] in (
        ["both", "sides"],
        ["either", "side"],
        ["each", "side"],
        ["both", "ends"],
        ["each", "end"],
    )
    on_both = (said[:2] == ["on", "both"] and text.goes_on(i + 1)) or said[:3] == ["changed", "both", "sides"]
    in_each = said[:1] == ["in"] and said[1:2] in (["both"], ["either"], ["each"])
    sides = sides or (in_each and said[2:3] in (["side"], ["sides"], ["end"], ["ends"]))
    if not (sides or on_both) or part.quantity not in (None, 1) or part.action != "fitted" or part.unit:
        return None
    if {"set", "kit", "pads", "linings", "shoes"} & set(text.norms[max(0, draft.start - 2) : i]):
        return None
    return replace(draft, detail=replace(part, quantity=Decimal(2)))


def _told_in_all(text: Text, draft: Draft) -> Draft:
    """ "two washers each, four in all": how many there were; without the total, for a person to say."""
    part = part_of(draft)
    number = text.number(draft.end + 1) if draft.end + 1 < len(text.tokens) else None
    if number is not None and number.value > 0 and text.tokens[draft.end + 1].gap <= COMMA:
        tail = text.norms[number.end : number.end + 2]
        if tail in (["in", "all"], ["in", "total"], ["all", "told"]) or tail[:1] == ["altogether"]:
            return replace(draft, detail=replace(part, quantity=number.value), end=number.end + len(tail))
    doubt = f"'{text.norm(draft.end)}': how many were there in all?"
    return draft.doubted(doubt)


def _amount_after(text: Text, draft: Draft) -> Draft:
    """ "… and the oil, 1.6 litres": what was used up, with its amount behind a comma."""
    part = part_of(draft)
    i = draft.end
    if part.action != "consumed" or part.quantity is not None or i >= len(text.tokens):
        return draft
    number = text.number(i) if text.tokens[i].gap == COMMA else None
    if number is None:
        return draft
    stop, measured = text.trade.unit_forms.at(text.norms, number.end)
    closed = not text.goes_on(stop)
    if not (measured and measured[0][0].quantity in ("volume", "mass") and closed):
        return draft
    return replace(draft, detail=replace(part, quantity=number.value, unit=measured[0][0].ucum), end=stop)


def _counted_after(text: Text, draft: Draft) -> Draft:
    """ "flange bolts were renewed, sixteen of them": the number of pieces comes last."""
    part = part_of(draft)
    both = _on_both(text, draft)
    if both is not None:
        return both
    if part.quantity is not None and text.norm(draft.end) in ("each", "apiece"):
        return _told_in_all(text, draft)
    if any(text.component_at(k)[1] for k in range(draft.keys[0][1], draft.end)):
        return draft  # "a new valve and O-ring two pieces": the last of them
    also = text.norm(draft.end) in text.trade.words["likewise"]
    if also and draft.end + 1 < len(text.tokens) and text.tokens[draft.end + 1].gap == COMMA:
        counted = _counted_after(text, replace(draft, end=draft.end + 1))
        return counted if part_of(counted).quantity is not None else draft  # "new bolts also, 8 pieces"
    times = draft.end + (text.norm(draft.end) in ("times", "x"))
    number = text.number(times) if part.quantity is None and times < len(text.tokens) else None
    if number is not None and number.value <= 0:
        return draft
    if number is not None and times > draft.end and number.value == number.value.to_integral_value():
        if text.tokens[draft.end].gap <= COMMA and number.value < 60:
            return replace(draft, detail=replace(part, quantity=number.value), end=number.end)
        return draft
    if number is None or text.tokens[draft.end].gap > COMMA:
        return draft
    alone = number.end >= len(text.tokens) or text.tokens[number.end].gap > 0
    small = len(number.atoms) == 1 and number.value == number.value.to_integral_value() and number.value < 60
    if text.tokens[draft.end].gap == COMMA and alone and small and part.number is None:
        return replace(draft, detail=replace(part, quantity=number.value), end=number.end)  # "…, six, …"
    tail = text.norms[number.end : number.end + 2]
    pieces = bool(tail) and tail[0] in text.trade.words["piece_words"] and number.value < 60
    if tail in (["of", "them"], ["of", "those"], ["of", "these"]) or pieces:
        return replace(
            draft,
            detail=replace(part, quantity=number.value),
            end=number.end + len(tail[:2] if tail[0] == "of" else tail[:1]),
        )
    return draft

"""Lists of parts: what goes on after a part, counts of things that are named alone."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import takewhile

from jobnotes.reading.speech.names import Name, name_at, names_at
from jobnotes.reading.speech.near import Near
from jobnotes.reading.speech.numbers import Number
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.trade.knowledge import PartAction
from jobnotes.reading.work.spoken_work import Work, Works
from jobnotes.record import Part

#: What is counted after one of these was what came off or was done up, and no part that was fitted.
_NO_FITTING = frozenset(("removed", "disconnected", "refitted", "tightened", "loosened"))

#: What is counted after one of these went into the work.
_TAKES_PARTS = frozenset(("repaired", "lubricated"))

#: Nobody fits more pieces of a part than this in one go and says so.
LARGEST_COUNT = 99

#: Verbs beside which "two of the old ones" went on again.
PUTS_ON = frozenset(("fitted", "refitted", "reconnected", "reused", "tightened", "closed"))


def list_goes_on(text: Text, i: int, works: Works) -> Iterator[Name]:
    """ "new filter, pan gasket and the sensor": bare names that go on after the first."""
    end = text.breath(i - 1)[1]
    while i < end:
        i = _past_where(text, i, end)
        counted = i < end and text.tokens[i].gap == NO_BREAK and text.number(i) is not None
        if text.norm(i) in ("and", "plus", "with"):
            i += 1
            while i < end and text.norm(i) in text.trade.words["hesitation"]:
                i += 1
        elif i < end and text.tokens[i].gap != COMMA and not counted:
            return
        name = name_at(text, i, end)
        if counted and (name is None or name.count is None):
            return  # "four new u bolts eight nuts …": a number of things goes on without "and"
        if name is None or name.kind is None or name.pronoun or name.condition == "used":
            return
        if text.norm(name.end) in ("at", "to") and text.number(name.end + 1) is not None:
            return  # "…, banjo bolts at 35 newton metres": the next statement
        closed = (
            name.end >= end
            or text.tokens[name.end].gap > NO_BREAK
            or text.norm(name.end) in text.trade.words["after_list_item"]
            or (text.number(name.end) is not None and _sizes(text, name.end))
            or numbered(text, name.end)
            or _pieces_after(text, name.end) is not None
            or (text.norm(name.end) in ("that", "which") and text.norm(name.end + 1) in ("comes", "came"))
            or (counted and text.number(name.end) is not None)
        )
        if not closed or works.reaching(name.start + 1, name.start + 1):
            return
        yield name
        i = name.end
        if text.norm(i) in ("on", "in", "fitted") and i < end and text.tokens[i].gap == NO_BREAK:
            i += 1  # "new tensioner and idler on, and one belt"


def for_tests(text: Text, name: Name) -> bool:
    """Whether it is test gear; a cap or bung that is told as new is a part."""
    also_part = text.norm(name.end - 1) in text.trade.words["also_parts"]
    return name.kind in text.trade.kinds["test_gear"] and not also_part


def _past_where(text: Text, i: int, end: int) -> int:
    """Past what tells only where the part before `i` went: "on the right", "both sides", "in it"."""
    words = text.trade.words
    while i < end and text.tokens[i].gap == NO_BREAK:
        told = text.norm(i) in ("on", "in", "at", "to") and i + 1 < end
        j = i + 1 if told else i
        j += told and text.norm(j) in ("the", "each", "both", "there", "it")
        first = j
        while j < end and text.tokens[j].gap == NO_BREAK and text.norm(j) in words["sides"]:
            j += 1  # "new pads both sides and two wear sensors"
        if j == first and not (
            told and first == i + 2 and text.norm(i + 1) in ("there", "it", "each", "both")
        ):
            return i
        if (
            j < end
            and text.norm(j) not in ("and", "plus", "with")
            and text.tokens[j].gap == NO_BREAK
            and told
        ):
            return i
        i = j
    return i


def _sizes(text: Text, i: int) -> bool:
    """Whether the number at `i` tells how large each piece is: "four shims one millimetre each"."""
    number = text.number(i)
    unit = text.trade.unit_forms.at(text.norms, number.end)[1] if number is not None else ()
    return bool(unit) and unit[0][0].quantity == "length"


def _pieces_after(text: Text, i: int) -> Number | None:
    """The number of pieces that stands behind a name, which ends at `i`: "clips, 4 off", "tie 12 piece"."""
    if i >= len(text.tokens) or text.tokens[i].gap > COMMA:
        return None
    times = i + (text.norm(i) in ("x", "times", "qty", "quantity"))
    number = text.number(times)
    if number is None or not 0 < number.value <= LARGEST_COUNT or "." in number.text:
        return None
    closes = not text.goes_on(number.end)
    named = text.norm(number.end) in text.trade.words["piece_words"] and text.goes_on(number.end)
    return number if named or (times > i and closes) else None


def counted_off(text: Text, told: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """ "Hose clips, 4 off.", "cable tie 12 piece": a line of a list of parts, that no verb took along."""
    near, taken = Works(works), Near(told, lambda d: d.start)
    for start in sorted({*text.stops, *(k for k, t in enumerate(text.tokens) if t.gap == COMMA)}):
        name = name_at(text, start)
        if name is None or name.kind is None or name.pronoun or name.count is not None:
            continue
        if name.condition == "used" or name.kind in text.trade.kinds["test_gear"]:
            continue
        number = _pieces_after(text, name.end)
        if number is None or text.sense(start) is not None or near.starting(start, number.end + 1):
            continue
        if taken.between(start, number.end) or text.find(
            text.trade.failures, start, min(number.end + 3, len(text.tokens))
        ):
            continue
        used_up = name.kind in text.trade.kinds["used_up"]
        part = Part(name.text, "consumed" if used_up else "fitted", number.value, condition=name.condition)
        end = number.end + (text.norm(number.end) in text.trade.words["piece_words"])
        doubts = ("listed without saying that it was fitted",)
        yield Draft(part, start, end, score=0.85, doubts=doubts, keys=((name.start, name.end),))


#: So many items make a list of parts where nothing else is told, and so many of them have their number.
_ITEMS, _COUNTED = 3, 2


def listed_alone(text: Text, told: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """ "Set of pads, two discs, wear leads, four caliper bolts.": a sentence that is a list, and no more."""
    near, taken = Works(works), Near(told, lambda d: d.start)
    for start in text.stops:
        end = text.breath(start)[1]
        if end - start < 2 * _ITEMS or near.starting(start, end) or taken.between(start, end):
            continue
        names = _items(text, start, end)
        counted = sum(n.count is not None or text.norm(n.start + 1) == "of" for n in names)
        if len(names) < _ITEMS or counted < _COUNTED or not text.free(start, end):
            continue
        if text.sense(start) is not None or text.find(text.trade.failures, start, end):
            continue
        for name in names:
            used_up = name.kind in text.trade.kinds["used_up"] or name.unit
            part = as_told(name, "consumed" if used_up else "fitted")
            doubts = ("listed without saying that it was fitted",)
            span = (name.start, name.end)
            yield Draft(part, *span, score=0.85, doubts=doubts, keys=(span,))


def _items(text: Text, start: int, end: int) -> list[Name]:
    """The components of the list that `start` … `end` is; none where it is anything else."""
    names: list[Name] = []
    i = start
    while i < end:
        if names and text.norm(i) in ("and", "plus"):
            i += 1
        elif names and text.tokens[i].gap != COMMA:
            return []
        name = name_at(text, i, end)
        if name is None or name.kind is None or name.pronoun or name.condition == "used":
            return []
        if name.kind in text.trade.kinds["test_gear"]:
            return []
        names.append(name)
        i = _past_where(text, name.end, end)
    return names


def numbered(text: Text, i: int) -> bool:
    """Whether what looks like a part number stands at `i`: "cabin filter 990-008"."""
    run = text.spelled(i) if i < len(text.tokens) and text.tokens[i].gap <= COMMA else None
    if run is None or sum(c.isdigit() for c in run.text) < 5 or text.norm(run.end) in ("off", "of"):
        return False
    return not text.unit_follows(run.end)


def as_told(name: Name, action: PartAction) -> Part:
    """A part with its number of pieces or amount, and whether it is new, as its name tells them."""
    part = Part(name.text, action, name.count, name.unit)
    return replace(part, condition="new") if name.condition == "new" else part


def part_of(draft: Draft) -> Part:
    assert isinstance(draft.detail, Part)
    return draft.detail


def action_of(draft: Draft) -> str:
    return part_of(draft).action


def listed(text: Text, found: Sequence[Draft], works: Sequence[Work]) -> list[Draft]:
    """A stretch that only counts things, said after parts were fitted: "one copper washer, one pipe"."""
    borders = sorted(
        {*text.sentences, *(i for i, t in enumerate(text.tokens) if t.gap > NO_BREAK), len(text.tokens)}
    )
    near, told = Works(works), Near(found, lambda d: d.start)
    used = Near((d for d in found if action_of(d) in ("fitted", "consumed")), lambda d: d.end)
    own: list[Draft] = []  # a list goes on after a list
    start = 0
    for border in borders:
        first, end, start = start, border, border
        border_at = first
        if text.norm(first) in ("and", "plus", "used"):
            first += 1
        if text.norm(first) in ("it's", "that's") and text.number(first + 1) is not None:
            first += 1  # "and it's eight cable ties to hang it up", "that's nine ring terminals"
        names = names_at(text, first, end)
        if not names or any(
            n.kind is None
            or n.pronoun
            or n.kind in text.trade.kinds["test_gear"]
            or n.text.casefold() in text.trade.words["dabs"]
            or text.norm(n.end - 1) in text.trade.words["remaining"]  # "two strands left"
            or (n.kind in text.trade.kinds["poured"] and n.unit is None)  # "filters changed, oil and air"
            for n in names
        ):
            continue
        tail = names[-1].end
        also = tail < end and text.norm(tail) in text.trade.words["likewise"]
        also = also and _after_fitting(text, first, used)
        one = text.norm(names[0].start) in ("a", "an") and text.tokens[border_at].gap == COMMA  # goes on
        if names[0].count is None and names[0].unit is None and not also and not one:
            continue
        while tail < end and text.norm(tail) in text.trade.words["list_tail"]:
            tail += 1
        if text.norm(tail) in ("to", "for", "with") and tail < end and not also:
            tail = end  # "six cable ties to keep it off the bracket", "a head gasket for it"
        inside = any(w.form != "used" for w in near.starting(first, end))
        if tail < end or inside or told.between(first, end):
            continue
        breath = text.breath(first)[0]
        before = used.between(first - 29, first + 1)
        before += takewhile(lambda d: first - d.end < 30, reversed(own))  # noqa: B023 used at once
        done = near.starting(breath, first)
        same = also or any(breath <= d.start for d in before) or any(w.action in _TAKES_PARTS for w in done)
        after_removal = bool(done) and done[-1].action in _NO_FITTING
        used_up = all(n.kind in text.trade.kinds["used_up"] or n.unit for n in names)
        if (not before and not used_up and not same) or (after_removal and not used_up):
            continue
        if one and not (same and before):
            continue
        for name in names:
            gone = name.kind in text.trade.kinds["used_up"] or name.unit
            action: PartAction = "consumed" if gone else "fitted"
            own.append(
                Draft(
                    as_told(name, action),
                    name.start,
                    name.end,
                    score=0.85,
                    doubts=_listed_doubts(text, name, before if same else None),
                    keys=((name.start, name.end),),
                )
            )
    return own


def _after_fitting(text: Text, start: int, fitted: Near[Draft]) -> bool:
    """Whether a sentence begins at `start`, and the one before it told of a part that was fitted."""
    if start == 0 or text.breath(start)[0] != start:
        return False
    before = text.breath(start - 1)[0]
    return any(draft.start >= before for draft in fitted.between(before, start + 1))


def _listed_doubts(text: Text, name: Name, before: Sequence[Draft] | None) -> tuple[str, ...]:
    """What speaks against an item of a list; `before`: the parts told with it, None where there are none."""
    head = text.norm(name.end - 1)
    several = name.count is not None and name.count > 1 and name.unit is None and not head.endswith("s")
    if several and text.trade.components.at([head + "s"], 0)[1]:
        said = text.said(name.start, name.end)
        return (f"'{said}': is {name.count} how many, or what it is made with?",)
    if before is None:
        return ("listed without saying that it was fitted",)
    if name.unit is None or name.kind in text.trade.kinds["used_up"]:
        return ()
    for draft in before:
        told = name_at(text, draft.keys[0][0], draft.keys[0][1])
        if told is not None and told.kind == name.kind and told.unit is None:
            # "grease line renewed, eighty centimetres of nylon"
            return (f"is it what the {part_of(draft).name} was made of?",)
    return ()

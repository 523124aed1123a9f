"""Old parts: what went on again, and what left the vehicle and was kept, sent back or scrapped."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from jobnotes.reading.speech.names import Name, head_of, name_at, name_before, thing
from jobnotes.reading.speech.near import Near
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.reading.work.part_lists import LARGEST_COUNT, PUTS_ON, part_of
from jobnotes.reading.work.spoken_work import Work, Works
from jobnotes.record import Part


def still_old(text: Text) -> Iterator[Draft]:
    """ "cap's the old one", "six screws the same ones": what went on again, told of no verb."""
    for i, norm in enumerate(text.norms):
        if norm != "the" or text.norm(i + 1) not in ("old", "same", "original"):
            continue
        if text.norm(i + 2) not in ("one", "ones") or text.sense(i) is not None or text.negated_before(i):
            continue
        after = i + 3
        while text.norm(after) in ("again", "as", "well", "too") and text.goes_on(after):
            after += 1
        if text.goes_on(after) and text.norm(after) not in ("and", "plus", "back"):
            continue
        end = i - 1 if text.norm(i - 1) in ("is", "are") else i
        name = name_before(text, end, text.clause(i)[0])
        if name is None or name.kind is None or name.pronoun or name.end != end:
            continue
        if any(text.reports(k) for k in range(text.clause(i)[0], name.start)):
            continue
        part = Part(name.text, "reused", name.count)
        yield Draft(part, name.start, i + 3, score=0.88, keys=((name.start, name.end),))


def old_went_on(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "the old blade went on the new clutch": used again."""
    for work in works:
        if work.form not in text.trade.words["going_on"] or work.passive or not work.objects:
            continue
        name = name_before(text, work.start, text.breath(work.start)[0])
        used = name is not None and name.condition == "used" and name.definite and not name.pronoun
        if name is None or not used or name.kind is None or text.sense(work.start) is not None:
            continue
        if not text.negated_before(work.start):
            yield Draft(
                Part(name.text, "reused", name.count),
                name.start,
                work.end,
                0.9,
                keys=((name.start, name.end),),
            )


def kept_back(text: Text, works: Sequence[Work] = ()) -> Iterator[Draft]:
    """What left the vehicle for good and is kept for the claim, sent back or scrapped."""
    near = Works(works)
    taken: set[int] = set()
    for i, j, _ in text.find(text.trade.cue["parts.kept"], 0, len(text.tokens)):
        if text.sense(i) is not None or text.negated_before(i):
            continue
        start, _ = text.sentence(i)
        end = i
        while end > start and text.norm(end - 1) in text.trade.words["before_kept"]:
            end -= 1
        name = name_before(text, end, start) or name_at(text, j, text.breath(i)[1])
        name = _that_stays(text, name, start)
        if name is None or name.kind is None:
            name = _kept_of(text, near, i, end) or _that_came_off(text, near, i) or name
        doubts: tuple[str, ...] = ()
        if name is not None and name.pronoun and name.condition == "used":
            name = old_one(near, name)
            other = _named_since(text, near, name) if name is not None else None
            if name is not None and other is not None:
                doubts = (f"is it the old {name.text} or the old {other.text}?",)
        known = name is not None and (
            name.kind is not None or (name.condition == "used" and thing(text, name))
        )
        if name is None or name.pronoun or not known:
            continue
        if (
            text.norm(i) in text.trade.words["only_marks"]
            and name.condition != "used"
            and not _put_by(text, j, name)
        ):
            if name.start >= j:
                continue  # "labelled the pipes", so that they go back where they were
            if not text.find(text.trade.cue["parts.where"], i, text.breath(i)[1]):
                doubts = (*doubts, "was it kept, or only marked?")
        taken.update(range(i, j))
        yield _kept(name, min(name.start, i), max(j, name.end), doubts)
    for cue, alone in (("parts.keeping", True), ("parts.putting", False)):
        for i, j, _ in text.find(text.trade.cue[cue], 0, len(text.tokens)):
            if i in taken or text.sense(i) is not None or text.negated_before(i):
                continue
            stop = text.sentence(i)[1]
            name = name_at(text, j, stop)
            if name is None:
                continue
            tail = text.find(text.trade.cue["parts.where"], name.end, min(stop, name.end + 6))
            if name.pronoun:
                if not (tail or alone) or (name.condition != "used" and not (tail and alone)):
                    continue
                found = old_one(near, name)
                if found is None:
                    continue
                name = found
            if name.kind is None or name.kind in text.trade.kinds["poured"] or name.condition == "new":
                continue
            old = name.condition == "used"
            if not tail and not (alone and old):
                continue
            doubts = () if old or alone else (f"is it the {name.text} that came off?",)
            yield _kept(name, i, tail[0][1] if tail else name.end, doubts)


def _put_by(text: Text, j: int, name: Name) -> bool:
    """Whether "tagged" goes on with where it went: "tagged the pump for the claim", "… with the number"."""
    after = max(j, name.end)
    stop = min(text.breath(j - 1)[1], after + 8)
    return bool(text.find(text.trade.cue["parts.where"], after, stop)) or text.norms[after : after + 2] in (
        ["with", "the"],
        ["for", "return"],
        ["and", "kept"],
        ["and", "boxed"],
        ["and", "bagged"],
    )


def kept_by_us(text: Text) -> Iterator[Draft]:
    """ "the flywheel we keep": used again; "the old lamp I keep for the customer": out, and put by."""
    for i in (k - 1 for k, norm in enumerate(text.norms) if norm == "keep" and k > 1):
        if text.norm(i) not in ("i", "we") or text.negated_before(i):
            continue
        name = name_before(text, i, text.breath(i)[0])
        if name is None or name.kind is None or name.pronoun or not name.definite:
            continue
        stop = min(text.breath(i)[1], i + 8)
        put_by = bool(text.find(text.trade.cue["parts.where"], i + 2, stop)) or (
            text.norm(i + 2) in ("for", "in") and i + 2 < stop
        )
        closes = not text.goes_on(i + 2)
        if put_by or closes:
            part = Part(name.text, "removed" if put_by else "reused", name.count)
            yield Draft(part, name.start, i + 2, 0.9, keys=((name.start, name.end),))


def _that_stays(text: Text, name: Name | None, start: int) -> Name | None:
    """ "old compressor stays on the pallet": what stays there, and no stays."""
    if (
        name is None
        or name.end - name.start != 1
        or text.norm(name.start) not in text.trade.words["stays_in_place"]
    ):
        return name
    before = name_before(text, name.start, start) if text.tokens[name.start].gap == NO_BREAK else None
    return before if before is not None and before.end == name.start else name


def _kept_of(text: Text, works: Works, i: int, end: int) -> Name | None:
    """What was kept, where other words stand between: "old strip removed and kept"."""
    for work in reversed(works.reaching(end - 1, i)):
        if work.action == "removed" and not work.part and work.end <= i and work.objects:
            return replace(work.objects[-1], condition="used")
    start = text.sentence(i)[0]
    name = name_at(text, start, i)
    if name is None or name.condition != "used" or name.kind is None or i - name.end > 10:
        return None
    if any(w.start >= name.end for w in works.starting(start, i)):
        return None
    return name


#: So many tokens back what "it" stands for may have come off, where "it" was kept.
_JUST_OFF = 8


def _that_came_off(text: Text, works: Works, i: int) -> Name | None:
    """ "the pump's away and it's tagged with the job number": what "it" is, which came off right before."""
    at = i - (text.norm(i - 1) == "is")
    if text.norm(at - 1) not in ("it", "that", "they", "it's", "that's", "they're"):
        return None
    for work in reversed(works.reaching(max(text.breath(i)[0], at - _JUST_OFF), at)):
        known = [o for o in work.objects if o.kind and not o.pronoun and o.kind != "everything"]
        if work.end <= at and work.action in ("removed", "disconnected") and known:
            return replace(known[-1], condition="used")
    return None


def _kept(name: Name, start: int, end: int, doubts: tuple[str, ...] = ()) -> Draft:
    part = Part(
        name.text,
        "removed",
        name.count,
        name.unit,
        condition="used" if name.condition == "used" else None,
    )
    return Draft(part, start, end, score=0.9, doubts=doubts, keys=((name.start, name.end),))


def old_one(works: Works, name: Name, actions: tuple[str, ...] = ("fitted", "removed")) -> Name | None:
    """What "the old one" is: the part that was replaced last, or else what came off last."""
    before = [w for w in works.reaching(name.start - 80, name.start) if w.end <= name.start]
    for action in actions:
        for work in reversed(before):
            known = [o for o in work.objects if o.kind and not o.pronoun] if work.action == action else []
            if known:
                return replace(
                    known[0], start=name.start, end=name.end, condition=name.condition, count=name.count
                )
    return None


def _named_since(text: Text, works: Works, old: Name) -> Name | None:
    """ "pulled the pump. New cartridge. Old one's binned.": the other part that a sentence of its own began
    with since work was done on what `old` was taken for."""
    done = [w for w in works.reaching(old.start - 80, old.start) if w.end <= old.start]
    last = max((w.end for w in done if any(o.text == old.text for o in w.objects)), default=old.start)
    i = text.sentence(last - 1)[1]
    while i < text.sentence(old.start)[0]:
        name = name_at(text, i, text.sentence(i)[1])
        terse = name is not None and (name.condition == "new" or text.norm(i) not in text.trade.determiners)
        if name is not None and terse and name.kind and not name.pronoun and not _counted_or_like(name, old):
            closes = not text.goes_on(name.end)
            if closes or name.condition == "new":
                return name
        i = text.sentence(i)[1]
    return None


def _counted_or_like(name: Name, old: Name) -> bool:
    """Whether it can't be what "the old one" is told beside: several, or the same thing by its last word."""
    several = name.count is not None and name.count != 1
    return several or head_of(name) == head_of(old)


def old_among_new(text: Text, told: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """ "three of the old bolts and one new", "… four new clamps and two of the old ones"."""
    near, before = Works(works), Near(told, lambda d: d.end)
    for i, norm in enumerate(text.norms):
        if norm != "of" or text.norm(i + 1) not in text.trade.words["definite"]:
            continue
        start = i
        for back in (1, 2):
            number = text.number(i - back)
            if number is not None and number.end == i and number.value < LARGEST_COUNT:
                start = number.start
        if start == i or text.sense(start) is not None or text.negated_before(start):
            continue
        name = name_at(text, start, text.breath(i)[1])
        if name is None or name.condition != "used" or name.count is None:
            continue
        first = text.clause(start)[0]
        if any(w.action not in PUTS_ON for w in near.starting(first, name.end + 4)):
            continue
        if text.norm(name.end) in text.trade.words["after_thing"] or text.find(
            text.trade.failures, first, min(name.end + 4, len(text.tokens))
        ):
            continue
        opens = start == first or text.norm(start - 1) in ("with", "and", "plus", "using")
        if not opens and not near.reaching(start, start):
            continue  # "threw out three of the old clips"
        called = name.text
        if name.pronoun:
            drafts = before.between(max(first, start - 12), start + 1)
            called = part_of(drafts[-1]).name if drafts else ""
        elif name.kind is None:
            called = ""
        if not called:
            continue
        yield Draft(Part(called, "reused", name.count), start, name.end, score=0.9, keys=((start, name.end),))
        yield from _and_new(text, name.end, called)


def _and_new(text: Text, i: int, called: str) -> Iterator[Draft]:
    """ "… and one new", right after the old ones of the same name."""
    number = text.number(i + 1) if text.norm(i) in ("and", "plus") else None
    if number is None or text.norm(number.end) != "new":
        return
    end = number.end + 1 + (text.norm(number.end + 1) in ("one", "ones"))
    if end < len(text.tokens) and text.tokens[end].gap == NO_BREAK and name_at(text, end) is not None:
        return
    part = Part(called, "fitted", number.value, condition="new")
    yield Draft(part, number.start, end, score=0.9, keys=((number.start, end),))

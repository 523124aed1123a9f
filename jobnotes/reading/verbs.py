"""What was done to what: all verbs of the text in order, with what "it" and "them" mean.

Steps and parts are both read from these."""

from __future__ import annotations

from dataclasses import replace

from jobnotes.reading.names import Name, head_of, name_at, thing
from jobnotes.reading.narrated import narrated_at
from jobnotes.reading.text import Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.reading.verb_phrases import work_at
from jobnotes.reading.where_now import where_now_at
from jobnotes.reading.work import Work


def works(text: Text) -> list[Work]:
    """All verbs of the text with their objects, in order."""
    found: list[Work] = []
    last_names: list[Name] = []
    i = 0
    while i < len(text.tokens):
        work = None if text.claimed[i] else _work_or_place(text, i, found)
        if work is None:
            i += 1
            continue
        objects = tuple(o for name in work.objects for o in _resolved(text, name, last_names, work, found))
        known = [o for o in objects if not o.pronoun and o.kind != "everything"]
        if known:
            last_names = known
        objects = tuple(o for o in objects if not o.pronoun)
        if not work.objects and not objects and found and work.tense == "past" and not work.part:
            last = found[-1]  # "injector off, cleaned in hot water, back on"
            if (
                work.start - last.end <= 7
                and text.breath(last.start) == text.breath(work.start)
                and not last.part
                and not _another_thing(text, last.end, work.start)
            ):
                objects = tuple(
                    replace(o, start=work.start, end=work.end, count=None, unit=None)
                    for o in last.objects
                    if not o.pronoun
                )
        if not work.objects and not objects and not work.part and work.tense == "past" and _alone(text, work):
            objects = tuple(
                replace(o, start=work.start, end=work.end, definite=True) for o in _undone(text, work, found)
            )
        if not work.objects and not objects and not work.part and _says_it_goes(text, work):
            objects = tuple(
                replace(o, start=work.start, end=work.end, definite=True)
                for o in _undone(text, work, found, single=True)
            )  # "back in she goes"
        work = replace(work, objects=objects)
        if (
            found
            and objects
            and not work.passive
            and not found[-1].objects
            and not found[-1].passive
            and (found[-1].tense, found[-1].end) == (work.tense, work.start - 1)
            and text.norm(work.start - 1) == "and"
        ):
            found[-1] = replace(found[-1], objects=objects)  # "removed and cleaned the injector"
        if _goes_back(text, work, found):
            work = replace(work, action="refitted", part=False)
        elif _for_a_test(text, work):
            work = replace(work, action="connected", part=False)
        found.append(work)
        i = max(work.end if not work.passive or work.start == i else i + 1, i + 1)
        if not work.passive and work.objects:
            i = max(i, min(work.end, len(text.tokens)))
    return found


def _work_or_place(text: Text, i: int, earlier: list[Work]) -> Work | None:
    """The verb at `i`, or a thing and where it is now; "plug" and "trim" are rather things."""
    work = narrated_at(text, i) or work_at(text, i)
    if work is None or (work.tense == "base" and not work.objects):
        return where_now_at(text, i, earlier) or work
    return work


def _for_a_test(text: Text, work: Work) -> bool:
    """ "put a gauge on the port"."""
    name = work.objects[0] if work.objects else None
    return (
        work.part
        and work.action == "fitted"
        and name is not None
        and name.kind in text.trade.kinds["test_gear"]
        and name.condition is None
        and (work.form in text.trade.words["loose_fitting"] or work.form in text.trade.part_splits)
    )


def _alone(text: Text, work: Work) -> bool:
    """ "plugged in again.": a sentence that is little more than its verb."""
    start, end = text.sentence(work.start)
    return end - start <= work.end - work.start + 3


def _goes_back(text: Text, work: Work, earlier: list[Work]) -> bool:
    """ "popped the cover on" after it came off: put back, not a new one."""
    if not work.part or work.action != "fitted" or not work.objects:
        return False
    if work.form in text.trade.replaces or text.norm(work.end - 1) in ("for", "with"):
        return False
    loose = work.form in text.trade.words["loose_fitting"] or work.form in text.trade.part_splits
    name = work.objects[0]
    if text.norm(work.end) == "again" and text.tokens[work.end].gap == NO_BREAK and name.condition is None:
        return True  # "fitted the pipe again"
    if not loose or name.condition is not None or name.kind is None:
        return False
    head = head_of(name)
    for one in reversed(earlier):
        if work.start - one.end > 250:
            break
        if one.action in ("removed", "disconnected", "opened") and any(
            head_of(o) == head for o in one.objects
        ):
            return True
    return False


def _another_thing(text: Text, start: int, end: int) -> bool:
    """Whether a component is named between, but for where or with what: "two plugs there undone"."""
    return any(
        text.component_at(k)[1]
        and text.norm(k - 1) not in text.trade.words["tells_where"] | text.trade.determiners
        and text.norm(k - 2) not in text.trade.words["tells_where"]
        for k in range(start, end)
    )


def _says_it_goes(text: Text, work: Work) -> bool:
    return bool({"it", "she", "he", "they"} & set(text.norms[work.start : work.end]))


def _undone(text: Text, work: Work, earlier: list[Work], *, single: bool = False) -> list[Name]:
    """What an earlier verb took off, unplugged or opened that this one can put back: what "it" then means.

    `single`: only things that "it" can stand for, not "six clamps".
    """
    for one in reversed(earlier):
        action = text.trade.actions.get(one.action)
        if work.start - one.end > 120:
            break
        if action and not one.part and work.action in action.undone_by:
            names = [o for o in one.objects if not o.pronoun and o.kind != "everything"]
            if names and not (single and _several(text, names[-1])):
                return names
    return []


def _resolved(text: Text, name: Name, last: list[Name], work: Work, earlier: list[Work]) -> list[Name]:
    if not name.pronoun:
        return [name]
    plural = name.text in ("them", "those", "these")
    undone = _undone(text, work, earlier, single=not plural)
    subject = None if plural else _subject_here(text, work.start)
    if subject is not None and (not undone or undone[-1].end < text.breath(work.start)[0]):
        return [
            replace(
                subject,
                start=name.start,
                end=name.end,
                definite=True,
                count=name.count,
                unit=None,
                condition=name.condition or subject.condition,
            )
        ]
    if undone and not plural and name.condition is None:
        return [replace(undone[-1], start=name.start, end=name.end, definite=True, count=None, unit=None)]
    if text.norm(name.end - 1) in ("one", "ones", "one's") or (
        work.action == "ordered" and name.count is not None
    ):
        gone = _gone(text, name.start, earlier)
        if gone is not None:
            return [_one_like(text, name, gone, _mentioned(text, work.start, last))]
    candidates = [n for n in last if name.start - n.end < 40]
    mention = _last_component(text, work.start, [n.end for n in candidates])
    if mention is not None:
        count = name.count if name.count is not None else mention.count
        condition = name.condition or mention.condition
        return [
            replace(mention, start=name.start, end=name.end, definite=True, count=count, condition=condition)
        ]
    if not candidates:
        return []
    chosen = candidates if plural else [_singular(text, candidates, earlier, name.start) or candidates[-1]]
    return [
        replace(
            n,
            start=name.start,
            end=name.end,
            definite=True,
            condition=name.condition,
            count=name.count or (n.count if plural else None),
            unit=None,
        )
        for n in chosen
    ]


def _gone(text: Text, before: int, earlier: list[Work]) -> Name | None:
    """What came off last and is more than a fastener or a plug: what a new one then is like."""
    beside = _beside(text)
    doubt = ""
    for work in reversed(earlier):
        if before - work.end > 24:
            return None
        if work.action not in ("removed", "disconnected") or work.part:
            continue
        for name in work.objects:
            if name.kind in beside and not _several(text, name):
                doubt = name.text
            elif name.kind not in beside and name.kind not in (None, "everything"):
                return replace(name, doubt=f"is it the {name.text} or the {doubt}?" if doubt else "")
    return None


def _mentioned(text: Text, before: int, last: list[Name]) -> Name | None:
    """A component that was named since, other than to tell where something is."""
    found = _last_component(text, before, [n.end for n in last if before - n.end < 40])
    placed = found is not None and text.norm(found.start - 1) in text.trade.words["tells_where"]
    return None if placed or (found is not None and found.kind in _beside(text)) else found


def _beside(text: Text) -> frozenset[str]:
    """Kinds of what comes off along with something: fasteners, plugs, fluids."""
    kinds = text.trade.kinds
    return kinds["fastening"] | kinds["plugged"] | kinds["poured"] | kinds["test_gear"]


def _one_like(text: Text, name: Name, gone: Name, mention: Name | None) -> Name:
    """ "ordered one", "put a new one on": like what was named last, or else like what came off."""
    chosen, doubt = gone, gone.doubt
    if mention is not None and mention.text.split()[-1].casefold() not in gone.text.casefold():
        chosen, doubt = mention, f"is it the {mention.text} or the {gone.text}?"
    return replace(
        chosen,
        start=name.start,
        end=name.end,
        definite=True,
        count=name.count,
        unit=None,
        condition=name.condition,
        doubt=doubt,
    )


def _singular(text: Text, last: list[Name], earlier: list[Work], before: int) -> Name | None:
    """What "it" means where several things were named: the last single one, not the "three hoses"."""
    for name in reversed(last):
        if not _several(text, name):
            return name
    for work in reversed(earlier):
        if before - work.end > 60:
            return None
        for name in reversed(work.objects):
            if not name.pronoun and name.kind not in (None, "everything") and not _several(text, name):
                return name
    return None


def _several(text: Text, name: Name) -> bool:
    if name.count is not None and name.count != 1 and name.unit is None:
        return True
    head = name.text.split()[-1].casefold()
    return head.endswith("s") and not head.endswith(("ss", "us")) and text.trade.kind_of.get(head) is not None


def _last_component(text: Text, before: int, ends: list[int]) -> Name | None:
    """A component named after the last object and before the verb, which "it" then means.

    What only tells where that is comes second: "the connector's soaked past the seal, unplugged it".
    """
    low = max([0, before - 16, *ends])
    place: Name | None = None
    i = before - 1
    while i >= low:
        _, meanings = text.trade.components.at(text.norms, i)
        name = None
        if meanings and meanings[0][0] not in text.trade.kinds["poured"]:
            for j in range(max(low, i - 4), i + 1):
                found = name_at(text, j, before)
                if found and found.kind and found.end > i and not found.pronoun:
                    name = found
                    break
        if name is None:
            i -= 1
        elif name.start > 0 and text.norm(name.start - 1) in text.trade.words["tells_where"]:
            place, i = place or name, name.start - 1
        else:
            return name
    return _unknown_subject(text, before, low) or place


def _subject_here(text: Text, before: int) -> Name | None:
    """What the breath began with and told of: "air pipe's off its spigot, pushed it back on"."""
    start = text.breath(before)[0]
    name = name_at(text, start, before) if 1 < before - start < 10 else None
    told = name is not None and name.kind is not None and not name.pronoun and name.count is None
    return name if name is not None and told and text.norm(name.end) in ("is", "was") else None


def _unknown_subject(text: Text, before: int, low: int) -> Name | None:
    """What no lexicon knows, but was told of right before: "bore's carboned up, cleaned it"."""
    start = text.breath(before)[0]
    if start < low or before - start > 12:
        return None
    name = name_at(text, start, before)
    told = name is not None and name.kind is None and not name.pronoun and thing(text, name)
    return name if name is not None and told and text.norm(name.end) in ("is", "was") else None

"""What was done to what: all verbs of the text in order, with what "it" and "them" mean.

Steps and parts are both read from these."""

from __future__ import annotations

from dataclasses import replace

from jobnotes.reading.speech.names import Name, head_of, name_at, names_at, thing
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.work.narrated import narrated_at
from jobnotes.reading.work.spoken_work import Work
from jobnotes.reading.work.verb_phrases import work_at
from jobnotes.reading.work.where_now import came_off, where_now_at


def works(text: Text) -> list[Work]:
    """All verbs of the text with their objects, in order."""
    found: list[Work] = []
    last_names: list[Name] = []
    named = False  # whether the last verb told what it was done to, if only by "it"
    i = 0
    while i < len(text.tokens):
        work = None if text.claimed[i] else _work_or_place(text, i, found)
        if work is None:
            i += 1
            continue
        if _stays_so(text, work):
            i = max(work.end, i + 1)
            continue
        work = _without_what_opens_anew(text, work)
        told = bool(work.objects)
        if (same := _same_subject(text, work, found)) is not None:
            work = replace(work, objects=same)  # "top plate bolts cleaned up and used again"
        objects = tuple(o for name in work.objects for o in _resolved(text, name, last_names, work, found))
        known = [o for o in objects if not o.pronoun and o.kind != "everything"]
        if known:
            last_names = known
        objects = tuple(o for o in objects if not o.pronoun)
        if work.action in ("refitted", "reconnected"):
            objects = tuple(one for o in objects for one in _run_together(text, o, found))
        if not work.objects and not objects and _plugged_in(text, work):
            objects = tuple(_hung_on(text, work, last_names, found))
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
            and not named
            and not found[-1].objects
            and not found[-1].passive
            and (found[-1].tense, found[-1].end) == (work.tense, work.start - 1)
            and text.norm(work.start - 1) == "and"
        ):
            found[-1] = replace(found[-1], objects=objects)  # "removed and cleaned the injector"
        if work.action == "tested" and _came_out(text, work, found):
            work = replace(work, action="removed")  # "unplugged the sensor and took it out"
        elif _goes_back(text, work, found):
            work = replace(work, action="refitted", part=False)
        elif work.action == "refitted" and _poured_back(text, work):
            work = replace(work, action="filled")
        elif _for_a_test(text, work):
            work = replace(work, action="connected", part=False)
        found.append(work)
        named = told
        i = max(work.end, i + 1)
        if not work.passive and work.objects:
            i = max(i, min(work.end, len(text.tokens)))
    return found


def _poured_back(text: Text, work: Work) -> bool:
    """ "put the coolant back in": what is poured is filled in, not fitted."""
    kinds = {o.kind for o in work.objects}
    return not work.part and bool(kinds) and kinds <= set(text.trade.kinds["poured"])


def _stays_so(text: Text, work: Work) -> bool:
    """ "so the fridge stays unplugged": nothing is done, and "stays" are none of its parts."""
    last = work.objects[-1].end - 1 if work.passive and work.objects else -1
    return (
        last > 0
        and text.norm(last) in text.trade.words["stays_in_place"]
        and text.tokens[last].gap == NO_BREAK
        and last + 1 == work.end - len(work.form.split())
    )


def _work_or_place(text: Text, i: int, earlier: list[Work]) -> Work | None:
    """The verb at `i`, or a thing and where it is now; "plug" and "trim" are rather things."""
    work = work_at(text, i) if text.may_be_verb(i) else None
    if text.norms[i] in text.trade.words["taking_now"]:
        work = narrated_at(text, i) or work
    if text.norms[i] == "then":
        work = work or _likewise(text, i, earlier)
    if work is None or (work.tense == "base" and not work.objects):
        return where_now_at(text, i, earlier) or work
    if work.tense == "base" and not work.subject and text.norm(i) in text.trade.words["names_too"]:
        placed = where_now_at(text, i, earlier)  # "drain plug out", "top cover off"
        return placed if placed is not None and placed.objects[0].start == i else work
    return work


def _likewise(text: Text, i: int, earlier: list[Work]) -> Work | None:
    """ "drum went back on, then the wheel": what is told after "then", in one breath, was done likewise."""
    last = earlier[-1] if earlier else None
    if last is None or text.norm(i) != "then" or last.part or last.action not in ("refitted", "removed"):
        return None
    if last.start < text.breath(i)[0] or not last.objects or text.sense(i) is not None:
        return None
    names = names_at(text, i + 1, text.breath(i)[1])
    closes = names and not text.goes_on(names[-1].end)
    if not closes or any(n.kind is None or n.pronoun or not n.definite for n in names):
        return None
    return Work(i, names[-1].end, last.action, False, "past", "then", tuple(names), True)


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


def _same_subject(text: Text, work: Work, earlier: list[Work]) -> tuple[Name, ...] | None:
    """What was used again, where that is told of the subject of the verb right before it."""
    if work.action != "reused" or not work.part or text.norm(work.start - 1) != "and" or not earlier:
        return None
    last = earlier[-1]
    told = last.passive and last.end == work.start - 1 and last.objects and not last.part
    alone = not work.objects or (len(work.objects) == 1 and work.objects[0].pronoun)
    if not told or not alone:
        return None
    return tuple(replace(o, start=work.start, end=work.end) for o in last.objects)


def _without_what_opens_anew(text: Text, work: Work) -> Work:
    """ "dumped the air, axle on stands": the axle opens a statement of its own."""
    if len(work.objects) < 2 or work.passive or work.objects[-1].pronoun:
        return work
    last, before = work.objects[-1], work.objects[-2]
    apart = text.tokens[last.start].gap == COMMA and text.norm(last.start - 1) != "and"
    placed = text.goes_on(last.end) and text.norm(last.end) in text.trade.words["places_now"]
    if not apart or not placed or work.end > last.end:
        return work
    return replace(work, objects=work.objects[:-1], end=max(before.end, work.start + 1))


def _run_together(text: Text, name: Name, earlier: list[Work]) -> list[Name]:
    """ "hub caliper and wheel are back on": two things, where each came off on its own."""
    if name.pronoun or name.kind is None or name.end - name.start < 2:
        return [name]
    pieces: list[Name] = []
    k = name.start
    while k < name.end:
        end = text.trade.components.at(text.norms, k)[0]
        piece = name_at(text, k, end) if end > k and end <= name.end else None
        if piece is None or piece.kind is None or (piece.start, piece.end) != (k, end):
            return [name]
        pieces.append(piece)
        k = end
    off = sum(came_off(piece, name.start, earlier) for piece in pieces)
    enough = off >= len(pieces) - (len(pieces) > 2)
    return pieces if len(pieces) > 1 and enough else [name]


def _plugged_in(text: Text, work: Work) -> bool:
    """Whether a verb says that something was plugged in, and not what."""
    return work.action == "reconnected" and text.norm(work.start) == "plugged" and not work.part


def _hung_on(text: Text, work: Work, last: list[Name], earlier: list[Work]) -> list[Name]:
    """What "plugged back in" was said of: what was unplugged, else a plug or sensor named just before."""
    undone = _undone(text, work, earlier, single=True)
    kinds = text.trade.kinds["plugged"] | text.trade.kinds["wired"]
    near = [n for n in last if n.kind in kinds and work.start - n.end < _NEAR]
    return [
        replace(n, start=work.start, end=work.end, definite=True, count=None, unit=None, condition=None)
        for n in undone or near[-1:]
    ]


#: So many tokens before "plugged back in" what it is said of may be named.
_NEAR = 20


def _came_out(text: Text, work: Work, earlier: list[Work]) -> bool:
    """Whether "took it out" was done to what was taken apart right before it, and is no road test."""
    if not {"took", "taken"} & set(text.norms[work.start : work.end]) or not earlier or not work.objects:
        return False
    last = earlier[-1]
    undone = last.action in ("disconnected", "loosened", "removed", "opened")
    return undone and text.breath(last.start) == text.breath(work.start) and work.start - last.end <= 4


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
    if text.norm(name.start) in ("a", "an", "another"):
        return False  # "bulb out, put a bulb in"
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
    apart = mention is not None and plural and not _several(text, mention)
    if apart and any(_several(text, n) for n in candidates):
        mention = None  # "pipes off the motor and capped them"
    if mention is not None:
        count = name.count if name.count is not None else mention.count
        condition = name.condition or mention.condition
        odd = not plural and _several(text, mention) and mention.condition == "new"
        doubt = f"'{name.text}' was taken for the {mention.text}" if odd else mention.doubt
        return [
            replace(
                mention,
                start=name.start,
                end=name.end,
                definite=True,
                count=count,
                condition=condition,
                doubt=doubt,
            )
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
        gone = [o for o in work.objects if o.kind not in beside and o.kind not in (None, "everything")]
        for name in work.objects:
            if name.kind in beside and not _several(text, name):
                doubt = name.text
            elif name in gone:
                doubt = gone[-1].text if len(gone) > 1 else doubt  # "took off the pipe and the valve"
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


#: After these a word tells what something does.
_DOES = frozenset(("it", "she", "he", "they", "that", "which"))


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
        if text.norm(i - 1) in _DOES:
            meanings = ()  # "it stays, i put the same one back"
        if meanings and any(text.trade.failures.at(text.norms, k)[0] > i for k in (i - 2, i - 1) if k >= 0):
            meanings = ()  # the "circuit" of "horn open circuit, replaced"
        if _stays_there(text, i):
            i, meanings = i - 1, text.trade.components.at(text.norms, i - 1)[1]
        if meanings and _worked_with(text, i, meanings[0][0]):
            meanings = ()  # "cleaned it up with emery, re-using it"
        if meanings and meanings[0][0] not in text.trade.kinds["poured"]:
            for j in range(max(low, i - 4), i + 1):
                found = name_at(text, j, i + 1 if _stays_there(text, i + 1) else before)
                if found and found.kind and found.end > i and not found.pronoun:
                    name = found
                    break
        if name is None:
            i -= 1
        elif (
            name.start > 1
            and text.norm(name.start - 1) in text.trade.words["tells_where"]
            and text.norm(name.start - 2) not in text.trade.words["traced"]  # "traced to a pinched wire"
        ):
            place, i = place or name, name.start - 1
        else:
            return name
    return _unknown_subject(text, before, low) or place


#: So many words after "with" what was used may be named: "with a bit of emery cloth".
_WITH = 5


def _worked_with(text: Text, i: int, kind: str) -> bool:
    """Whether what is named at `i` was used up, or is the tool, and stands behind "with"."""
    used = kind in text.trade.kinds["used_with"] or text.norm(i) in text.trade.words["tools"]
    return used and bool({"with", "using"} & set(text.norms[max(text.breath(i)[0], i - _WITH) : i]))


def _stays_there(text: Text, i: int) -> bool:
    """ "flywheel stays, I cleaned it": the "stays" at `i` tells that what the sentence opens with is left
    there, and is no stay of it."""
    if text.norm(i) != "stays" or text.goes_on(i + 1) or not text.component_at(i - 1)[1]:
        return False
    name = name_at(text, text.breath(i)[0], i)
    return name is not None and name.end == i and name.condition != "new" and name.count is None


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

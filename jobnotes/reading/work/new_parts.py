"""Parts told as new where no verb takes them along: "and a new gasket", "four new", "a new one on"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from jobnotes.reading.speech.names import Name, name_at, name_before, names_at
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.trade.knowledge import PartAction
from jobnotes.reading.work.part_lists import LARGEST_COUNT, PUTS_ON, for_tests, list_goes_on, numbered
from jobnotes.reading.work.part_numbers import number_after
from jobnotes.reading.work.spoken_work import Work, Works
from jobnotes.reading.work.used_parts import old_one
from jobnotes.record import Part


def named_new(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "… and a new gasket", "with new copper washers": a new part that no verb took along."""
    taken = {
        k
        for w in works
        if w.part
        for o in w.objects
        if w.action != "reused" or o.condition != "new"  # "kept the old bowl, new bowl seal"
        for k in range(o.start, o.end)
    }
    near = Works(works)
    listed_to = -1  # where the last one ended that goes without a doubt
    i = 0
    openers = {"new", "fresh"} | text.trade.words["exchanged"]
    while i < len(text.tokens):
        if text.norms[i] not in openers:
            i += 1  # most often
            continue
        fresh = text.norm(i) == "fresh"
        if (
            not (fresh or text.norm(i) == "new" or _exchanged(text, i))
            or i in taken
            or _one_of_a_row(text, i)
        ):
            i += 1
            continue
        start = i
        while (
            start > 0
            and text.tokens[start].gap == NO_BREAK
            and (
                (
                    text.norm(start - 1) in text.trade.words["new_part_lead"]
                    and (text.norm(start - 1) not in ("set", "pair") or text.norm(start) == "of")
                )
                or (
                    text.norm(start) not in ("a", "an")  # "number 19 766 a new hub seal"
                    and (number := text.number(start - 1)) is not None
                    and start <= number.end <= i
                )
            )
        ):
            start -= 1
        if _of_a_larger(text, start, i):
            start = i  # "two hundred and eighty new bolts": no count of theirs
        if start == i and text.norm(i - 1) in text.trade.homophones and _counts_by_sound(text, i - 1):
            start = i - 1  # "fore new o rings"
        name = name_at(text, start)
        prev = text.norm(start - 1)
        if (
            name is None
            or name.kind is None
            or for_tests(text, name)
            or (fresh and name.kind in text.trade.kinds["used_up"])
            or prev in text.trade.words["before_no_new_part"]
            or text.sense(i) is not None
            or text.negated_before(i)
            or text.norms[max(text.breath(i)[0], i - 3) : i][:1] in (["didn't"], ["haven't"], ["never"])
            or _photo_clause(text, i)
            or _followed_by_reading(text, name.end)
            or _wanted_after(text, name.end)
            or _never_used(text, name.end)
            or {text.norm(name.end), text.norm(name.end - 1)} & text.trade.words["after_no_new_part"]
            or text.norm(i + 1) in text.trade.words["new_kind_of"]
        ):
            i += 1
            continue
        before = [w for w in near.reaching(start - 24, start + 1) if w.part]
        action: PartAction = (
            before[-1].part_action
            if before
            and before[-1].action in ("ordered",)
            and text.sentence(before[-1].start) == text.sentence(i)
            else "fitted"
        )
        if name.kind in text.trade.kinds["used_up"]:
            action = "consumed"
        linked = (
            prev in text.trade.words["before_new_part"]
            or any(
                not w.passive
                for w in near.starting(text.sentence(i)[0], min(text.sentence(i)[1], start + 1))
                if w.action in ("fitted", "repaired", "refitted", "reconnected")
            )
            or any(w.passive and w.part for w in near.starting(start, name.end + 4))
        )
        after = text.norm(name.end)
        doubts = (
            ()
            if linked
            or start in (listed_to, listed_to + 1)
            or (listed_to >= 0 and start == _past_its_number(text, listed_to, start))
            or after in ("fitted", "installed", "on", "in")
            or text.clause(i)[0] >= start - 1
            else ("a new part was named, but not that it was fitted",)
        )
        if not doubts and text.find(text.trade.cue["parts.fetched"], text.clause(i)[0], start):
            doubts = ("it was got: was it fitted?",)
        if not name.exact:
            doubts = (*doubts, f"the number of pieces was heard as '{text.norm(start)}'")
        yield Draft(
            Part(name.text, action, name.count, name.unit, condition="new"),
            start,
            name.end,
            score=0.88,
            doubts=(*doubts, name.doubt) if name.doubt else doubts,
            keys=((name.start, name.end),),
        )
        listed_to = -1 if doubts else name.end
        i = max(name.end, i + 1)
        for more in list_goes_on(text, name.end, near):
            if text.norm(more.start) == "new" or more.condition == "new":
                break
            said = text.norms[more.start : more.end]
            if "of" in said and text.trade.words["dabs"] & set(said):
                continue  # "and a smear of grease" is told on its own
            joined = text.norm(more.start - 1) in ("and", "plus") or text.tokens[more.start].gap > NO_BREAK
            plainly = joined and not doubts and more.count is not None and not more.definite
            yield Draft(
                Part(
                    more.text,
                    "consumed" if more.kind in text.trade.kinds["used_up"] else "fitted",
                    more.count,
                    more.unit,
                ),
                more.start,
                more.end,
                score=0.8,
                doubts=() if plainly else ("listed after a new part, without saying that it was fitted",),
                keys=((more.start, more.end),),
            )


def _counts_by_sound(text: Text, i: int) -> bool:
    """Whether the word before "new" at `i` can only be the number that it sounds like: no "to", no "for"."""
    opens = i == 0 or text.tokens[i].gap > NO_BREAK or text.norm(i - 1) in ("and", "plus")
    return text.norm(i) not in ("to", "for") and text.goes_on(i + 1) and (opens or text.norm(i) != "too")


def _past_its_number(text: Text, i: int, stop: int) -> int:
    """Where the part number ends of the part whose name ends at `i`: "… on, part number 19 766"."""
    while i < stop and text.norm(i) in text.trade.words["sides"] | {"on", "in", "and", "side"}:
        i += 1
    found = text.cue("identity.part_number", i)
    run = number_after(text, found[0])[1] if found is not None else None
    return run.end if run is not None else i


#: So many tokens lie at most between a unit that was exchanged and its number.
_NUMBERED = 5


def _exchanged(text: Text, i: int) -> bool:
    """ "recon compressor on": a unit that was made as good as new, and where it is now."""
    if text.norm(i) not in text.trade.words["exchanged"] or not text.goes_on(i + 1):
        return False
    name = name_at(text, i)
    if name is not None and name.kind is not None and i == text.breath(i)[0]:
        stop = min(text.breath(i)[1], name.end + _NUMBERED)
        if any(numbered(text, k) for k in range(name.end, stop)):
            return True  # "reman alternator, 110 amp, number LX 4409"
    names = names_at(text, i, text.breath(i)[1])
    name = (
        names[-1] if len(names) > 1 and all(n.kind for n in names) else name
    )  # "recon final drive and motor on"
    where = name.end if name is not None and name.kind is not None else 0
    where += text.norm(where) == "is"
    return bool(where) and text.norm(where) in ("on", "in", "fitted") and text.goes_on(where)


def named_then_new(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "charge air hose and two clamps new", "copper washers four new", "strap, new": "new" said last."""
    near = Works(works)
    for i, norm in enumerate(text.norms):
        if norm != "new" or i == 0 or text.tokens[i].gap > COMMA:
            continue
        closed = _closes(text, i + 1)
        if closed is None or text.sense(i) is not None or text.negated_before(i):
            continue
        start = _since_last(text, i, near)
        end, count, doubts = _before_new(text, i, start)
        count = count if count is not None else closed.count
        if end == i and text.norm(i - 1) in ("both", "all") and i - 1 > start:
            end = i - 1
            start = max(start, end - 12)
            first = next((k for k in range(start, end) if _list_ends_at(text, k, end)), end)
            if first == end and _several_alike(text, start, end):
                first = start  # "gaskets all new"
            start = first
        names = names_at(text, start, end)
        if not names or names[-1].end != end or any(n.kind is None for n in names[:-1]):
            last = name_before(text, end, start)  # "… number 71 80 30 and the pipe is new as well"
            apart = last is not None and (
                text.norm(last.start - 1) in ("and", "plus") or text.tokens[last.start].gap == COMMA
            )
            names = [last] if last is not None and apart else []
        if not names or any(n.kind is None or n.pronoun for n in names):
            continue
        if any(for_tests(text, n) or n.kind == "everything" for n in names):
            continue
        if text.tokens[i].gap == COMMA and (len(names) > 1 or names[0].start > start):
            continue  # "fitted the hose, new": the verb has it
        for name in names:
            quantity = name.count if name.count is not None else (count if len(names) == 1 else None)
            action: PartAction = "consumed" if name.kind in text.trade.kinds["used_up"] else "fitted"
            part = Part(name.text, action, quantity, name.unit, condition="new")
            yield Draft(
                part, name.start, closed.end, score=0.88, doubts=doubts, keys=((name.start, name.end),)
            )


@dataclass(frozen=True, slots=True)
class _Closed:
    """Where the words after "new" end, and the number of pieces that they tell."""

    end: int
    count: Decimal | None = None


def _closes(text: Text, i: int) -> _Closed | None:
    """Whether "new", which ends at `i`, closes what is said of the part; None where a name follows it."""
    after = i
    while text.norm(after) in ("as", "well", "too", "also", "one", "ones") and text.goes_on(after):
        after += 1  # "spigot bearing new as well", "nearside drum new one"
    count = text.number(after) if text.goes_on(after) else None
    if count is not None and text.norm(count.end) in text.trade.words["piece_words"] - {"off"}:
        return _Closed(count.end + 1, count.value)  # "caps new 2 piece"
    if _one_of_a_row(text, i - 1):
        return _Closed(after)
    if count is not None and text.norm(count.end) in ("off", "of"):
        of_them = text.norm(count.end) == "of"
        them = text.norm(count.end + 1) == "them" and text.goes_on(count.end + 1)
        if count.value <= LARGEST_COUNT and (not of_them or them or not text.goes_on(count.end + 1)):
            return _Closed(count.end + 1 + (of_them and them), count.value)  # "return springs new eight off"
    if not text.goes_on(after) or text.cue("identity.part_number", after) is not None:
        return _Closed(after)
    if text.norm(after) in ("and", "plus") and (
        text.norm(after + 1) in text.trade.determiners or text.component_at(after + 1)[1]
    ):
        return _Closed(after)  # "suction filter new and the return filter new"
    return None


def _one_of_a_row(text: Text, i: int) -> bool:
    """ "discharge pipe new cartridge new two washers new": the "new" at `i` is said last, like the others."""
    start, end = text.breath(i)
    if text.norm(i) != "new" or text.norm(end - 1) != "new" or text.norm(start) == "new":
        return False
    return i < end - 1 or "new" in text.norms[start : end - 1]


def _since_last(text: Text, i: int, works: Works) -> int:
    """Where the names before the "new" at `i` may begin: behind the last verb of work in its breath."""
    start = text.breath(i)[0]
    if _one_of_a_row(text, i):
        start = max((k + 1 for k in range(start, i) if text.norm(k) == "new"), default=start)
    before = works.starting(start, i)
    if not before:
        return start + (text.norm(start) in ("and", "plus", "also", "then", "so"))
    done = max(w.end for w in before)
    for k in range(max(start + 1, done - 1), i):
        joined = text.norm(k) in ("and", "plus")
        if k + joined >= done and (joined or text.tokens[k].gap > NO_BREAK):
            return k + joined
    return i


def _before_new(text: Text, i: int, start: int) -> tuple[int, Decimal | None, tuple[str, ...]]:
    """(end of the name, pieces, doubts) before the "new" at `i`."""
    end = i
    doubts: tuple[str, ...] = ()
    if text.norm(end - 1) == "also" and end - 1 > start:
        end -= 1
    if text.norm(end - 1) in ("is", "are") and end - 1 > start:
        end -= 1  # "hub cap gasket's new": perhaps since long ago
        doubts = ("it was said to be new: was it fitted on this job?",)
    pieces = end - 1 if text.norm(end - 1) in text.trade.words["piece_words"] else end
    for back in (1, 2):
        number = text.number(pieces - back)
        if number is not None and number.end == pieces and pieces - back > start:
            times = text.norm(number.start - 1) in ("x", "times") and number.start - 1 > start
            return number.start - times, number.value, doubts
    return end, None, doubts


def _wanted_after(text: Text, i: int) -> bool:
    """Whether a list of new parts that goes on at `i` ends with "needed": "new pads, new discs required"."""
    for k in range(i, min(text.breath(i - 1)[1], i + 10)):
        if text.norm(k) in text.trade.words["after_no_new_part"]:
            return True
        if text.reports(k) or (text.norm(k) in text.trade.stop and text.norm(k) not in ("and", "are", "is")):
            return False
    return False


#: So many tokens after a new part may be told that it was never used.
_UNUSED = 14


def _never_used(text: Text, i: int) -> bool:
    """ "had a new governor out of the stores but never used it": it wasn't fitted."""
    stop = min(text.sentence(i - 1)[1] + _UNUSED, text.breath(i - 1)[1], i + _UNUSED)
    return bool(text.find(text.trade.cue["parts.not_used"], i, stop))


def _several_alike(text: Text, start: int, end: int) -> bool:
    """ "gaskets" are all that is named in these tokens."""
    name = name_at(text, start, end)
    return name is not None and name.end == end and name.kind is not None and text.norm(end - 1).endswith("s")


def _list_ends_at(text: Text, start: int, end: int) -> bool:
    """Whether a list of two things or more, each with an article, begins at `start` and closes at `end`."""
    names = names_at(text, start, end)
    return (
        len(names) > 1
        and names[-1].end == end
        and all(text.norm(n.start) in ("a", "an", "the") and n.kind for n in names)
    )


def _of_a_larger(text: Text, start: int, end: int) -> bool:
    """The count at `start` is the end of a number too large to count parts with."""
    for k in range(max(text.breath(start)[0], start - 6), start + 1):
        number = text.number(k)
        if number is not None and number.end == end and number.value > LARGEST_COUNT:
            return True
    return False


def _photo_clause(text: Text, i: int) -> bool:
    start, end = text.clause(i)
    return bool(text.find(text.trade.cue["photo.cues"], start, end))


def _followed_by_reading(text: Text, i: int) -> bool:
    if text.norm(i) == "is" and text.norm(i + 1) in ("on", "in", "fitted", "installed"):
        return False  # "new alternator's on"
    return text.norm(i) in ("reads", "measures", "is", "shows", "was")


def new_ones(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "rod off and a new one on": what was just taken off, new."""
    near = Works(works)
    for i, norm in enumerate(text.norms):
        if norm != "new" or text.norm(i + 1) not in ("one", "ones", "one's"):
            continue
        after = text.norms[i + 2 : i + 4]
        if (added := _added_to(text, near, i)) is not None:
            yield added
            continue
        told = i + 2 if text.norm(i + 1) == "one's" else i + 3
        cue = text.cue("identity.part_number", told) if told == i + 2 or after[:1] == ["is"] else None
        if cue is not None:
            after = ["fitted"]  # "new one's number …"
        if after[:1] not in (["on"], ["in"], ["fitted"], ["installed"], ["went"], ["bolted"], ["popped"]):
            continue
        if text.sense(i) is not None or text.negated_before(i) or text.norm(i - 1) in ("with", "for"):
            continue
        if text.norm(i - 1) == "the" and (cue is None or number_after(text, cue[0])[1] is None):
            continue  # "the new one's number is on the box"
        if any(w.part for w in near.starting(max(0, i - 4), i + 4)):
            continue
        gone = _found_bad(text, i) or old_one(
            near, Name(i, i + 2, "it", condition="new", pronoun=True), ("removed", "cut")
        )
        if text.norm(i - 1) == "the":
            gone = _in_the_place_of(near, i)
        if gone is None or i - gone.start > 40:
            continue
        doubts = (gone.doubt,) if gone.doubt else ()
        part = Part(gone.text, "fitted", gone.count, condition="new")
        yield Draft(part, i, i + 3, 0.9, doubts, keys=((i, i + 2),))


#: So many tokens before "the new one's number" the old one came off.
_CAME_OFF = 60


def _in_the_place_of(works: Works, i: int) -> Name | None:
    """What "the new one" at `i` is that has a number: like what came off last, if nothing was put on since;
    of several that came off, a person has to tell which."""
    for work in reversed(works.starting(i - _CAME_OFF, i)):
        if work.part or work.action in PUTS_ON:
            return None
        known = [o for o in work.objects if o.kind and not o.pronoun] if work.action == "removed" else []
        if known:
            others = " or ".join(f"the {o.text}" for o in known)
            doubt = f"is the new one {others}?" if len(known) > 1 else ""
            return replace(known[-1], start=i, end=i + 2, condition="new", count=None, doubt=doubt)
    return None


def _found_bad(text: Text, i: int) -> Name | None:
    """ "the cabin filter was filthy so there's a new one in": what was found bad right before."""
    start = text.breath(i)[0]
    failed = text.find(text.trade.failures, max(start, i - 10), i)
    if not failed:
        return None
    end = failed[-1][0]
    while end > start and text.norm(end - 1) in ("is", "was", "are", "were", "all", "badly", "absolutely"):
        end -= 1
    name = name_before(text, end, start)
    return name if name is not None and name.kind is not None and not name.pronoun else None


def _added_to(text: Text, works: Works, i: int) -> Draft | None:
    """ "put seven of the bolts back and one new one": a new piece of what went on again."""
    number = next((n for back in (1, 2) if (n := text.number(i - back)) is not None and n.end == i), None)
    if number is None or text.norm(number.start - 1) not in ("and", "plus") or text.sense(i) is not None:
        return None
    before = works.starting(max(text.breath(i)[0], i - 14), number.start)
    if not before or before[-1].action not in PUTS_ON or not before[-1].objects:
        return None
    part = Part(before[-1].objects[-1].text, "fitted", number.value, condition="new")
    return Draft(part, number.start, i + 2, score=0.9, keys=((number.start, i + 2),))

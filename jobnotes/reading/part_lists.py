"""Parts that no verb takes along: new ones named alone, what things were done with, lists, what was kept."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import takewhile

from jobnotes.reading.knowledge import PartAction
from jobnotes.reading.names import Name, name_at, name_before, names_at, thing
from jobnotes.reading.near import Near
from jobnotes.reading.numbers import Number
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.reading.work import Work, Works
from jobnotes.record import Part

#: What is counted after one of these was what came off or was done up, and no part that was fitted.
_NO_FITTING = frozenset(("removed", "disconnected", "refitted", "tightened", "loosened"))
#: What is counted after one of these went into the work.
_TAKES_PARTS = frozenset(("repaired", "lubricated"))
#: Nobody fits more pieces of a part than this in one go and says so.
LARGEST_COUNT = 99


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
    while i < len(text.tokens):
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
                or ((number := text.number(start - 1)) is not None and start <= number.end <= i)
            )
        ):
            start -= 1
        if _of_a_larger(text, start, i):
            start = i  # "two hundred and eighty new bolts": no count of theirs
        name = name_at(text, start)
        prev = text.norm(start - 1)
        if (
            name is None
            or name.kind is None
            or name.kind in text.trade.kinds["test_gear"]
            or (fresh and name.kind in text.trade.kinds["used_up"])
            or prev in text.trade.words["before_no_new_part"]
            or text.sense(i) is not None
            or text.negated_before(i)
            or text.norms[max(text.breath(i)[0], i - 3) : i][:1] in (["didn't"], ["haven't"], ["never"])
            or _photo_clause(text, i)
            or _followed_by_reading(text, name.end)
            or _wanted_after(text, name.end)
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
            or after in ("fitted", "installed", "on", "in")
            or text.clause(i)[0] >= start - 1
            else ("a new part was named, but not that it was fitted",)
        )
        if not doubts and text.find(text.trade.cue["parts.fetched"], text.clause(i)[0], start):
            doubts = ("it was got: was it fitted?",)
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
                doubts=("listed after a new part, without saying that it was fitted",),
                keys=((more.start, more.end),),
            )


def _exchanged(text: Text, i: int) -> bool:
    """ "recon compressor on": a unit that was made as good as new, and where it is now."""
    if text.norm(i) not in text.trade.words["exchanged"] or not _goes_straight_on(text, i + 1):
        return False
    name = name_at(text, i)
    where = name.end if name is not None and name.kind is not None else 0
    where += text.norm(where) == "is"
    return bool(where) and text.norm(where) in ("on", "in", "fitted") and _goes_straight_on(text, where)


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
            while start < end and not _list_ends_at(text, start, end):
                start += 1
        names = names_at(text, start, end)
        if not names or names[-1].end != end or any(n.kind is None or n.pronoun for n in names):
            continue
        if any(n.kind in text.trade.kinds["test_gear"] for n in names):
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
    while text.norm(after) in ("as", "well", "too", "also", "one", "ones") and _goes_straight_on(text, after):
        after += 1  # "spigot bearing new as well", "nearside drum new one"
    count = text.number(after) if _goes_straight_on(text, after) else None
    if count is not None and text.norm(count.end) in text.trade.words["piece_words"] - {"off"}:
        return _Closed(count.end + 1, count.value)  # "caps new 2 piece"
    if _one_of_a_row(text, i - 1):
        return _Closed(after)
    if count is not None and text.norm(count.end) in ("off", "of"):
        of_them = text.norm(count.end) == "of"
        if count.value <= LARGEST_COUNT and (not of_them or text.norm(count.end + 1) == "them"):
            return _Closed(count.end + 1 + of_them, count.value)  # "return springs new eight off"
    if not _goes_straight_on(text, after) or text.cue("identity.part_number", after) is not None:
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


def _goes_straight_on(text: Text, i: int) -> bool:
    return i < len(text.tokens) and text.tokens[i].gap == NO_BREAK


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


def still_old(text: Text) -> Iterator[Draft]:
    """ "cap's the old one", "six screws the same ones": what went on again, told of no verb."""
    for i, norm in enumerate(text.norms):
        if norm != "the" or text.norm(i + 1) not in ("old", "same", "original"):
            continue
        if text.norm(i + 2) not in ("one", "ones") or text.sense(i) is not None or text.negated_before(i):
            continue
        after = i + 3
        while text.norm(after) in ("again", "as", "well", "too") and _goes_straight_on(text, after):
            after += 1
        if _goes_straight_on(text, after) and text.norm(after) not in ("and", "plus", "back"):
            continue
        end = i - 1 if text.norm(i - 1) in ("is", "are") else i
        name = name_before(text, end, text.clause(i)[0])
        if name is None or name.kind is None or name.pronoun or name.end != end:
            continue
        if any(text.reports(k) for k in range(text.clause(i)[0], name.start)):
            continue
        part = Part(name.text, "reused", name.count)
        yield Draft(part, name.start, i + 3, score=0.88, keys=((name.start, name.end),))


def _wanted_after(text: Text, i: int) -> bool:
    """Whether a list of new parts that goes on at `i` ends with "needed": "new pads, new discs required"."""
    for k in range(i, min(text.breath(i - 1)[1], i + 10)):
        if text.norm(k) in text.trade.words["after_no_new_part"]:
            return True
        if text.reports(k) or (text.norm(k) in text.trade.stop and text.norm(k) not in ("and", "are", "is")):
            return False
    return False


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
        closed = (
            name.end >= end
            or text.tokens[name.end].gap > NO_BREAK
            or text.norm(name.end) in text.trade.words["after_list_item"]
            or (text.number(name.end) is not None and _sizes(text, name.end))
            or numbered(text, name.end)
            or _pieces_after(text, name.end) is not None
            or (counted and text.number(name.end) is not None)
        )
        if not closed or works.reaching(name.start + 1, name.start + 1):
            return
        yield name
        i = name.end
        if text.norm(i) in ("on", "in", "fitted") and i < end and text.tokens[i].gap == NO_BREAK:
            i += 1  # "new tensioner and idler on, and one belt"


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
    closes = number.end >= len(text.tokens) or text.tokens[number.end].gap > NO_BREAK
    named = text.norm(number.end) in text.trade.words["piece_words"] and _goes_straight_on(text, number.end)
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


def numbered(text: Text, i: int) -> bool:
    """Whether what looks like a part number stands at `i`: "cabin filter 990-008"."""
    run = text.spelled(i) if i < len(text.tokens) and text.tokens[i].gap <= COMMA else None
    if run is None or sum(c.isdigit() for c in run.text) < 5 or text.norm(run.end) in ("off", "of"):
        return False
    return not text.unit_follows(run.end)


def _photo_clause(text: Text, i: int) -> bool:
    start, end = text.clause(i)
    return bool(text.find(text.trade.cue["photo.cues"], start, end))


def _followed_by_reading(text: Text, i: int) -> bool:
    if text.norm(i) == "is" and text.norm(i + 1) in ("on", "in", "fitted", "installed"):
        return False  # "new alternator's on"
    return text.norm(i) in ("reads", "measures", "is", "shows", "was")


def used_with(text: Text, told: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """What something was done with: "secured with two cable ties", "pump replaced, with gasket".

    `told`: the parts that are told already.
    """
    fitting = Near((d for d in told if _action(d) == "fitted"), lambda d: d.start)
    near = Near(works, lambda w: w.start)
    put_back = Near((w for w in works if w.action in ("refitted", "reconnected")), lambda w: w.start)
    repairing = Near((w for w in works if w.action == "repaired"), lambda w: w.start)
    for i, norm in enumerate(text.norms):
        if norm not in ("with", "using", "plus"):
            continue
        if norm == "using" and text.norm(i - 1) in text.trade.words["vehicle_does"]:
            continue  # "it's using two litres of oil a week"
        if text.norm(i - 1) in text.trade.words["marks"]:
            continue  # "hoses marked with paint"
        if text.sense(i) is not None or text.negated_before(i):
            continue
        sentence = text.sentence(i)
        breath = text.breath(i)[0]
        fitted = bool(fitting.between(breath, i) or repairing.between(breath, i))
        for name in names_at(text, i + 1, sentence[1]):
            if (
                norm == "with"
                and (fitted or put_back.between(breath, i))
                and name.condition == "used"
                and name.definite
                and name.kind
                and not name.pronoun
            ):
                yield Draft(
                    Part(name.text, "reused", name.count),
                    i,
                    name.end,
                    score=0.9,
                    keys=((name.start, name.end),),
                )
                continue
            if name.pronoun or name.condition == "used" or name.definite or name.kind == "everything":
                break
            if norm == "with" and name.condition != "new" and _equipped(text, i):
                break  # "the truck is fitted with drum brakes"
            if name.kind in text.trade.kinds["used_with"] or (
                name.kind in text.trade.kinds["poured"] and name.unit
            ):
                action: PartAction = "consumed"
            elif (
                (norm == "with" or name.condition == "new")
                and fitted
                and name.kind
                and name.kind not in text.trade.kinds["not_fitted_with"]
            ):
                action = "fitted"
            else:
                break
            piece = (
                name.text.casefold().split()[0] in text.trade.words["dabs"] | text.trade.words["made_up_of"]
            )
            driven = any(w.form.split()[0] in text.trade.words["driven_in"] for w in near.between(breath, i))
            tool = (
                action == "fitted"
                and name.condition is None
                and (not fitting.between(breath, i) or ((piece or driven) and name.count is None))
                and text.cue("identity.part_number", name.end) is None
            )
            yield Draft(
                Part(
                    name.text,
                    action,
                    name.count,
                    name.unit,
                    condition="new" if name.condition == "new" else None,
                ),
                i,
                name.end,
                score=0.9,
                doubts=("was it fitted, or was it the tool?",) if tool else (),
                keys=((name.start, name.end),),
            )


def _equipped(text: Text, i: int) -> bool:
    """Whether the "with" at `i` tells what a vehicle has: "it's fitted with …", not "was fitted with …"."""
    return text.norm(i - 1) in ("fitted", "equipped") and text.norm(i - 2) in ("is", "are", "it's", "they're")


def _detail(draft: Draft) -> Part:
    assert isinstance(draft.detail, Part)
    return draft.detail


def _action(draft: Draft) -> str:
    return _detail(draft).action


def listed(text: Text, found: Sequence[Draft], works: Sequence[Work]) -> list[Draft]:
    """A stretch that only counts things, said after parts were fitted: "one copper washer, one pipe"."""
    borders = sorted(
        {*text.sentences, *(i for i, t in enumerate(text.tokens) if t.gap > NO_BREAK), len(text.tokens)}
    )
    near, told = Works(works), Near(found, lambda d: d.start)
    used = Near((d for d in found if _action(d) in ("fitted", "consumed")), lambda d: d.end)
    own: list[Draft] = []  # a list goes on after a list
    start = 0
    for border in borders:
        first, end, start = start, border, border
        if text.norm(first) in ("and", "plus", "used"):
            first += 1
        names = names_at(text, first, end)
        if not names or any(
            n.kind is None
            or n.pronoun
            or n.kind in text.trade.kinds["test_gear"]
            or n.text.casefold() in text.trade.words["dabs"]
            or (n.kind in text.trade.kinds["poured"] and n.unit is None)  # "filters changed, oil and air"
            for n in names
        ):
            continue
        tail = names[-1].end
        also = tail < end and text.norm(tail) in text.trade.words["likewise"]
        also = also and _after_fitting(text, first, used)
        if names[0].count is None and names[0].unit is None and not also:
            continue
        while tail < end and text.norm(tail) in text.trade.words["list_tail"]:
            tail += 1
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
        for name in names:
            gone = name.kind in text.trade.kinds["used_up"] or name.unit
            action: PartAction = "consumed" if gone else "fitted"
            own.append(
                Draft(
                    Part(
                        name.text,
                        action,
                        name.count,
                        name.unit,
                        condition="new" if name.condition == "new" else None,
                    ),
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
    if before is None:
        return ("listed without saying that it was fitted",)
    if name.unit is None or name.kind in text.trade.kinds["used_up"]:
        return ()
    for draft in before:
        told = name_at(text, draft.keys[0][0], draft.keys[0][1])
        if told is not None and told.kind == name.kind and told.unit is None:
            # "grease line renewed, eighty centimetres of nylon"
            return (f"is it what the {_detail(draft).name} was made of?",)
    return ()


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
        if (told == i + 2 or after[:1] == ["is"]) and text.cue("identity.part_number", told):
            after = ["fitted"]  # "new one's number …"
        if after[:1] not in (["on"], ["in"], ["fitted"], ["installed"], ["went"], ["bolted"], ["popped"]):
            continue
        if text.sense(i) is not None or text.negated_before(i) or text.norm(i - 1) in ("the", "with", "for"):
            continue
        if any(w.part for w in near.starting(max(0, i - 4), i + 4)):
            continue
        gone = _old_one(near, Name(i, i + 2, "it", condition="new", pronoun=True), ("removed",))
        if gone is None or i - gone.start > 40:
            continue
        yield Draft(Part(gone.text, "fitted", gone.count, condition="new"), i, i + 3, 0.9, keys=((i, i + 2),))


def _added_to(text: Text, works: Works, i: int) -> Draft | None:
    """ "put seven of the bolts back and one new one": a new piece of what went on again."""
    number = next((n for back in (1, 2) if (n := text.number(i - back)) is not None and n.end == i), None)
    if number is None or text.norm(number.start - 1) not in ("and", "plus") or text.sense(i) is not None:
        return None
    before = works.starting(max(text.breath(i)[0], i - 14), number.start)
    if not before or before[-1].action not in _PUTS_ON or not before[-1].objects:
        return None
    part = Part(before[-1].objects[-1].text, "fitted", number.value, condition="new")
    return Draft(part, number.start, i + 2, score=0.9, keys=((number.start, i + 2),))


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
        if name is None or name.kind is None:
            name = _kept_of(text, near, i, end) or name
        old = name is not None and name.pronoun and name.condition == "used"
        if name is not None and old:
            name = _old_one(near, name)
        known = name is not None and (
            name.kind is not None or (name.condition == "used" and thing(text, name))
        )
        if name is None or name.pronoun or not known:
            continue
        taken.update(range(i, j))
        yield _kept(name, min(name.start, i), max(j, name.end))
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
                found = _old_one(near, name)
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


def _kept(name: Name, start: int, end: int, doubts: tuple[str, ...] = ()) -> Draft:
    part = Part(
        name.text,
        "removed",
        name.count,
        name.unit,
        condition="used" if name.condition == "used" else None,
    )
    return Draft(part, start, end, score=0.9, doubts=doubts, keys=((name.start, name.end),))


def _old_one(works: Works, name: Name, actions: tuple[str, ...] = ("fitted", "removed")) -> Name | None:
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


def measured_out(text: Text) -> Iterator[Draft]:
    """ "gave it a squirt of anti seize", "a bit of tape round it": what is used up, by what it comes in."""
    for i, norm in enumerate(text.norms):
        if norm not in text.trade.words["dabs"] or text.norm(i + 1) != "of":
            continue
        name = name_at(text, i + 2, text.sentence(i)[1])
        if name is None or name.kind not in text.trade.kinds["used_with"] or name.pronoun:
            continue
        if text.sense(i) is not None or text.negated_before(i) or text.norm(i - 1) in ("no", "more", "the"):
            continue
        count = None
        for back in (1, 2):
            number = text.number(i - back)
            if number is not None and number.end == i and norm in text.trade.words["containers"]:
                count = number.value
        yield Draft(
            Part(name.text, "consumed", count), i, name.end, score=0.9, keys=((name.start, name.end),)
        )


def amounts_alone(text: Text) -> Iterator[Draft]:
    """ "600 grams of grease.", "Chain lube, half a can.": what is used up, with its amount and no verb."""
    for i in range(len(text.tokens)):
        opens = i == text.breath(i)[0] or text.tokens[i].gap > NO_BREAK or text.norm(i - 1) in ("and", "plus")
        if not opens or text.sense(i) is not None or text.negated_before(i):
            continue
        number = text.number(i)
        if number is not None:
            unit, at = _weighed(text, number.end)
            name = name_at(text, at, text.sentence(i)[1]) if at > number.end else None
            end = name.end if name is not None else at
        else:
            name = name_at(text, i, text.sentence(i)[1])
            number = text.number(name.end) if name is not None and name.end < len(text.tokens) else None
            unit, end = None, number.end + 1 if number is not None else i
            if number is None or text.norm(end - 1) not in text.trade.words["containers"]:
                continue
            end += text.norm(end) == "used"
            if end < len(text.tokens) and text.tokens[end].gap == NO_BREAK:
                continue
        if name is None or name.pronoun or name.kind not in text.trade.kinds["used_with"]:
            continue
        yield Draft(
            Part(name.text, "consumed", number.value, unit), i, end, score=0.9, keys=((name.start, name.end),)
        )


def _weighed(text: Text, i: int) -> tuple[str | None, int]:
    """(UCUM, end) of a unit of mass or volume with its "of" at `i`; else `i` itself."""
    end, meanings = text.trade.unit_forms.at(text.norms, i)
    fits = bool(meanings) and meanings[0][0].quantity in ("mass", "volume") and text.norm(end) == "of"
    return (meanings[0][0].ucum, end + 1) if fits else (None, i)


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
        if any(w.action not in _PUTS_ON for w in near.starting(first, name.end + 4)):
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
            called = _detail(drafts[-1]).name if drafts else ""
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


#: Verbs beside which "two of the old ones" went on again.
_PUTS_ON = frozenset(("fitted", "refitted", "reconnected", "reused", "tightened", "closed"))

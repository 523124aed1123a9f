"""Test points: what was measured, named before the value or after it ("across CAN high and low")."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

from jobnotes.reading.readings.limits import at_bare_speed
from jobnotes.reading.readings.quantities import Quantity, changed_to, quantities_in, unit_at
from jobnotes.reading.speech.limit_phrases import limit_before
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK

#: Through so many values in a row ("down to 4 bar, down to 3 …") a test point is handed on.
_HANDED_ON = 6
#: So many tokens a value with its unit takes at most.
_LONGEST_VALUE = 12


def test_point_of(
    text: Text, q: Quantity, quantities: list[Quantity], done: Sequence[int]
) -> tuple[str | None, int]:
    """(test point, first token of it): what stands before the value, and what "at" names after it."""
    return _point_of(text, q, quantities, done, 0)


def _point_of(
    text: Text, q: Quantity, quantities: list[Quantity], done: Sequence[int], handed_on: int
) -> tuple[str | None, int]:
    start, _ = text.clause(q.start)
    low = start
    before: Quantity | None = None
    if (lost := _lost_before(text, q, quantities)) is not None:
        return lost
    for o in quantities_in(quantities, q, (max(0, start - 30), q.start)):
        if o is not q and low < o.end <= q.start:
            low = max(low, o.end if o.role == "condition" else _after_place(text, o, quantities))
            behind = _quantity_after(text, o, o.end) if o.role == "value" and text.goes_on(o.end) else None
            low = max(low, behind[1]) if behind is not None and behind[1] <= q.start else low
            before = o
    if (
        before is not None
        and before.role == "value"
        and changed_to(text, before, q)
        and handed_on < _HANDED_ON
    ):
        return _point_of(text, before, quantities, done, handed_on + 1)[0], q.start
    named_first = _measured_by_whom(text, q.start)  # "air to the gearbox, I measure 7.9 bar"
    until = q.start if named_first is None else max(low, named_first)
    hollow = all(w in text.trade.words["around_subject"] for w in text.norms[low:until])
    if hollow and low == start and start > text.breath(q.start)[0]:
        previous = text.clause(start - 1)
        told = [o for o in quantities_in(quantities, q, (previous[0], start)) if o.end <= start]
        if not told:
            low = previous[0]
        elif all(o.role in ("max", "min", "nominal") for o in told):
            # "the shield should read under one ohm, I've got 84": named with its limit
            named = _strip(text, previous[0], min(min(o.cue_start or o.start, o.start) for o in told))
            if named[0] < named[1] and _names_something(text, text.said(*named)):
                return text.said(*named), named[0]
    if before is not None and before.role == "condition":
        whole = _before_condition(text, q, quantities, before, (start, low, until))
        if whole is not None:
            return whole
    breath = text.breath(q.start)[0]
    if low == breath and q.start - breath <= 1 and breath > 0:
        earlier = text.breath(breath - 1)  # "resistance between can high and can low. 60.2 ohms"
        if (
            breath - earlier[0] <= 14
            and not any(text.claimed[earlier[0] : breath])
            and not text.negated(*earlier)
            and not quantities_in(quantities, q, earlier)
            and (
                set(text.norms[earlier[0] : breath]) & text.trade.quantity_words.keys()
                or _measuring(text, earlier)  # "I measured at the socket."
                # "ignition on, supply at the plug. 2.9 volts": who names a condition is about to measure
                or earlier[0] < text.trade.conditions.at(text.norms, earlier[0])[0] < breath
            )
        ):
            low = earlier[0]
    worked = bisect_right(done, q.start) - 1
    if worked >= 0 and low < done[worked]:
        rest = _strip(text, done[worked], q.start)  # "wheels back on, nuts to 600 Nm"
        if any(text.trade.components.at(text.norms, k)[1] for k in range(*rest)):
            low = done[worked]
    used = max((k + 1 for k in range(low, q.start) if text.claimed[k]), default=low)
    left = _strip(text, used, q.start)
    if left[0] >= left[1] and used > low:
        first = next(k for k in range(low, q.start) if text.claimed[k])
        left = _strip(text, low, first)  # "an outlet sensor, number 7721, torqued to …"
    for i, j, _ in reversed(text.find(text.trade.conditions, left[0], left[1])):
        if i == left[0]:
            left = _strip(text, j, left[1])
        elif j == left[1]:
            left = _strip(text, left[0], i)
    left = _named_last(text, *left)
    after = _after_place(text, q, quantities)
    right = (q.end, after) if after > q.end else _right(text, q)
    words = []
    if left[1] > left[0]:
        words.append(text.said(*left))
    if (
        before is not None
        and before.unit is not None
        and q.unit is not None
        and before.unit.ucum == q.unit.ucum
    ):
        own = set(text.norms[left[0] : left[1]]) | (set(text.norms[q.end : after]))
        if (
            own
            and own <= text.trade.words["places"] | {"after", "before"}
            and text.breath(before.start) == text.breath(q.start)
        ):
            base = _base(text, before, quantities)
            if base:
                words.insert(0, base)
    elif (
        left[0] > low
        and text.trade.conditions.at(text.norms, low)[0] > low
        # "ignition on, supply voltage at the plug": what is measured is named, the condition is none of it
        and not (left[1] - left[0] > 1 and _says_what(text, *left))
    ):
        words.append(
            text.said(low, text.trade.conditions.at(text.norms, low)[0])
        )  # "charging is now 28.2 volts"
    elif any(w in ("it", "them") for w in text.norms[low : q.start]) and not (
        (_says_what(text, *left) and not _acts_at(text, q.start)) or (right and _says_what(text, *right))
    ):
        thing = _spoken_of(text, low)
        if thing:
            words.append(thing)
    if right is not None:
        words.append(text.said(*right))
    subject = " ".join(words)
    if not _names_something(text, subject):
        subject = ""
    return (subject or None), (left[0] if left[1] > left[0] else q.start)


def _before_condition(
    text: Text, q: Quantity, quantities: list[Quantity], condition: Quantity, span: tuple[int, int, int]
) -> tuple[str, int] | None:
    """ "stroke at 90 psi: left front 2.1 inches": what is measured stands before what it was taken at.

    `span`: where the clause begins, where the condition ends, and where the value or who measured it begins.
    """
    start, low, until = span
    if not _hollow_or_place(text, low, until):
        return None
    earlier = quantities_in(quantities, q, (start, condition.start))
    first = max((o.end for o in earlier), default=start)
    lead = _without_claimed(text, first, _condition_start(text, condition))
    if lead[0] >= lead[1]:
        return None
    own = _strip(text, low, until)
    after = _after_place(text, q, quantities)
    spans = [lead, *([own] if own[0] < own[1] else []), *([(q.end, after)] if after > q.end else [])]
    subject = " ".join(text.said(*one) for one in spans)
    return (subject, lead[0]) if _names_something(text, subject) else None


def _hollow_or_place(text: Text, start: int, end: int) -> bool:
    """Whether nothing is named in these tokens but a place, a condition or how the reading was taken."""
    start, end = _strip(text, start, end)
    for i, j, _ in text.find(text.trade.conditions, start, end):
        if i == start:
            start = j
    start, end = _strip(text, start, end)
    words = text.trade.words["places"] | text.trade.words["changes"]
    return all(text.norm(k) in words for k in range(start, end))


def _condition_start(text: Text, condition: Quantity) -> int:
    """Where "at 1500 rpm", "with eight hundred kilos" begins."""
    before = ("at", "for", "after", "within", "in", "over", "with", "by")
    return condition.start - 1 if text.norm(condition.start - 1) in before else condition.start


def _without_claimed(text: Text, start: int, end: int) -> tuple[int, int]:
    """What of these tokens may name what was measured: after what other facts used up."""
    start = max((k + 1 for k in range(start, end) if text.claimed[k]), default=start)
    start, end = _strip(text, start, end)
    for i, j, _ in reversed(text.find(text.trade.conditions, start, end)):
        if j == end and i > start:
            start, end = _strip(text, start, i)
    return start, end


def _lost_before(text: Text, q: Quantity, quantities: list[Quantity]) -> tuple[str, int] | None:
    """ "leak test, pressure drop in ten minutes, 1.1 bar": what stands before the time of the loss."""
    words = text.trade.words
    near = quantities_in(quantities, q, (q.start - 12, q.start))
    if (
        not near
        or not near[-1].leads
        or not set(text.norms[near[-1].end : q.start]) <= words["before_a_value"]
    ):
        return None
    timed = near[-1]
    first = max(text.clause(timed.start)[0], timed.start - 14)
    earlier = [o.end for o in quantities_in(quantities, q, (first, timed.start)) if o is not timed]
    used = [k + 1 for k in range(first, timed.start) if text.claimed[k]]
    start, end = _strip(text, max((first, *earlier, *used)), timed.start - 1)
    for k in range(end - 1, start, -1):
        if (
            text.tokens[k].gap > NO_BREAK
            and text.ends_at(text.trade.cue["stop.test_names"], k, 4) is not None
        ):
            start, end = _strip(text, k, end)  # that there was a leak test is a statement of its own
            break
    for i, j, _ in text.find(text.trade.conditions, start, end):
        if i == start:
            start, end = _strip(text, j, end)
            break
    subject = text.said(start, end) if end > start else ""
    return (subject, start) if subject and _names_something(text, subject) else None


def _names_something(text: Text, subject: str) -> bool:
    """Whether words can name what was measured: "bled diesel", "she fires" and "off" don't."""
    if subject.casefold() in text.trade.words["whole_test_points"]:
        return True
    words = set(subject.casefold().split())
    return bool(words - text.trade.words["no_test_point"]) and not words & text.trade.words["tells_no_place"]


def _says_what(text: Text, start: int, end: int) -> bool:
    """Whether the words name a quantity or a component."""
    return bool(set(text.norms[start:end]) & text.trade.quantity_words.keys()) or any(
        text.trade.components.at(text.norms, k)[1] for k in range(start, end)
    )


def _place_before(text: Text, q: Quantity, quantities: list[Quantity]) -> bool:
    """ "left 9.2", "left is now 9.2": the place stands before the value.

    In "9.2 left 7.1 right" it belongs to the value before, where nothing stands for the place of that.
    """
    k, places = q.start, text.trade.words["value_places"]
    between = text.trade.words["before_a_value"] | {"now"}
    while text.tokens[k].gap == NO_BREAK and text.norm(k - 1) in between:
        k -= 1
    if text.norm(k - 1) not in places or text.tokens[k].gap > NO_BREAK:
        return False
    followed = q.end < len(text.tokens) and text.norm(q.end) in places and text.tokens[q.end].gap == NO_BREAK
    while k > 0 and text.norm(k - 1) in places and text.tokens[k].gap == NO_BREAK:
        k -= 1
    before = quantities_in(quantities, q, (max(0, k - _LONGEST_VALUE), k)) if followed else []
    at_once = bool(before) and before[-1].end == k and text.tokens[k].gap == NO_BREAK
    return not at_once or _place_before(text, before[-1], quantities)


def _after_place(text: Text, q: Quantity, quantities: list[Quantity]) -> int:
    """The end of the places that follow a value, where places follow values ("8.2 bar front, 7.9 rear")."""
    i = q.end
    if (
        i >= len(text.tokens)
        or text.tokens[i].gap > NO_BREAK
        or text.norm(i) not in text.trade.words["value_places"]
        or _place_before(text, q, quantities)
    ):
        return q.end
    while (
        i < len(text.tokens)
        and text.norm(i) in text.trade.words["value_places"]
        and text.tokens[i].gap == NO_BREAK
    ):
        i += 1
    following = text.number(i)
    if following is None and i < len(text.tokens) and text.tokens[i].gap == NO_BREAK:
        # "high side 8 bar low side 4": the place opens the name of what was measured next
        ahead = range(i + 1, min(i + 4, text.breath(q.start)[1]))
        limited = any(text.cue(f"limits.{role}", i) for role in ("max", "min", "nominal"))
        named_next = text.norm(i) not in text.trade.stop and not limited
        if named_next and any(text.number(k) is not None for k in ahead):
            return q.end
    # "… left five right": what stands between two values belongs to the first if nothing stood before it
    return (
        q.end
        if following is None
        and i < len(text.tokens)
        and text.tokens[i].gap == NO_BREAK
        and text.trade.components.at(text.norms, i)[1]
        else i
    )


def _acts_at(text: Text, i: int) -> bool:
    """ "… in hot water, it opened at 86": "it" is what the value is of, whatever else was named."""
    return any(
        text.norm(k) in text.trade.words["acts_at"] and text.norm(k - 1) == "it" for k in range(i - 3, i)
    )


def _spoken_of(text: Text, i: int) -> str | None:
    """The component named last before token `i`: what "it" and "them" mean."""
    for k in range(i - 1, max(-1, i - 16), -1):
        if text.trade.components.at(text.norms, k)[1]:
            for j in range(max(0, k - 4), k + 1):
                name = name_at(text, j, i)
                if name and name.kind and name.end > k and not name.pronoun:
                    return name.text
    return None


#: Besides words of place, what may stand between the values of one series.
_BETWEEN = frozenset(("and", "side", "all", "axle", "the", "which", "much", "hot", "too", "that's"))


#: So many values of a series are looked back on.
_SERIES = 16


def _base(text: Text, q: Quantity, quantities: list[Quantity]) -> str | None:
    """What a series measures: the words before its first value, without the place; None where something else
    is named since: "steer left 102, right 101, rear drive left 96"."""
    breath = text.breath(q.start)[0]
    within = quantities_in(quantities, q, (breath, q.start + 1))
    first = next((o for o in within if o.unit is not None), q)
    places = text.trade.words["places"]
    alike = [o for o in within[-_SERIES:] if o.unit is not None and o.unit == q.unit]
    since = (k for a, b in pairwise(alike) for k in range(a.end, b.start))
    told = {text.norm(k) for k in since if not text.numeric[k]}
    if told - text.trade.stop - places - text.trade.quantity_words.keys() - _BETWEEN:
        return None
    start, end = _strip(text, max(breath, first.start - 8), first.start)
    while end > start and text.norm(end - 1) in places:
        end -= 1
    return text.said(start, end) if end > start else None


def _measuring(text: Text, span: tuple[int, int]) -> bool:
    """Whether these tokens tell who measured: "I measured at the socket"."""
    found = text.find(text.trade.cue["readings.verbs"], *span)
    return any({text.norm(i), text.norm(i - 1)} & text.trade.words["who_measures"] for i, _, _ in found)


def _measured_by_whom(text: Text, end: int) -> int | None:
    """Where "I measure" or its like begins, that ends at token `end`."""
    verb = text.ends_at(text.trade.cue["readings.verbs"], end, 5)
    return verb[0] if verb is not None and text.norm(verb[0]) in text.trade.words["who_measures"] else None


def _strip(text: Text, start: int, end: int) -> tuple[int, int]:
    limit = limit_before(text, end)
    if limit is not None:
        end = max(start, limit[0])
    who = _measured_by_whom(text, end)
    if who is not None:
        end = max(start, who)
    changed = True
    while changed:
        changed = False
        while start < end and (
            text.norms[start] in text.trade.words["around_subject"]
            or text.norms[start] == "-"
            or _aside(text, start)
        ):
            start, changed = start + 1, True
        while (
            end > start
            and text.norms[end - 2 : end] not in (["cut", "out"], ["cut", "in"], ["run", "out"])
            and (
                text.norms[end - 1] in text.trade.words["around_subject"] | text.trade.words["after_subject"]
                or text.norms[end - 1] == "-"
            )
        ):
            end, changed = end - 1, True
        for k in range(max(start, end - 4), end):
            stop, meanings = text.trade.cue["readings.verbs"].at(text.norms, k)
            if meanings and stop == end:
                end, changed = k, True
                break
    return start, end


def _named_last(text: Text, start: int, end: int) -> tuple[int, int]:
    """Of a span that tells what somebody did, the name it ends in; any other span as it is.

    "hooked the gauge up, PTO clutch pressure", "before I started the supply", "ran her up and the fan".
    """
    words = text.trade.words
    told = [k for k in range(start, end) if text.norm(k) in words["no_name_of_a_reading"]]
    if not told:
        return start, end
    after = range(told[-1] + 1, end)
    apart = [k for k in reversed(after) if text.tokens[k].gap > NO_BREAK]
    joined = [k for k in reversed(after) if text.norm(k - 1) in ("and", "then", "so", "now")]
    named = [k for k in after if text.norm(k - 1) in words["before_a_name"] or k - 1 in told]
    placed = [k for k in after if text.norm(k - 1) in words["shows_at"]]
    for k in (*apart, *joined, *named, *placed):
        while k < end and text.norm(k) in words["before_its_name"]:
            k += 1
        first, last = _strip(text, k, end)
        if first < last and _may_be_measured(text, first, last) and not _instrument(text, first):
            return first, last
    return start, end


def _may_be_measured(text: Text, start: int, end: int) -> bool:
    """Whether the words name a component, a quantity, or what a unit is told by ("supply", "cut out")."""
    return _says_what(text, start, end) or any(
        one.near.at(text.norms, k)[1] for one in text.trade.implied for k in range(start, end)
    )


def _instrument(text: Text, i: int) -> bool:
    """What it was measured with, and not at."""
    return any(m[0] in text.trade.kinds["test_gear"] for m in text.component_at(i)[1])


def _aside(text: Text, i: int) -> bool:
    """ "right, …" opens a sentence; "right rear" is a place."""
    return (
        text.norms[i] == "right"
        and i + 1 < len(text.tokens)
        and (text.tokens[i + 1].gap > NO_BREAK or text.norms[i + 1] in ("so", "then", "i", "now"))
    )


def _right(text: Text, q: Quantity) -> tuple[int, int] | None:
    """The test point after a value: "at the plug", "across CAN high and low", "between pin 1 and pin 2"."""
    i = q.end
    if not text.goes_on(i):
        return None
    if text.norm(i) in text.trade.words["before_test_point"] and text.cue("readings.at", i + 1) is not None:
        i += 1  # "4.8 volts drop on the ground"
    if at_bare_speed(text, i) or text.trade.conditions.at(text.norms, i)[1]:
        return None
    found = text.cue("readings.at", i)
    if found is None and (named := _quantity_after(text, q, i)) is not None:
        return named
    if found is None:
        name = name_at(text, i)
        ends = name.end if name is not None else i
        ends += text.norm(ends) in text.trade.quantity_words  # "… right oil pressure 6.1"
        if name is not None and (text.number(ends) is not None or _next_entry(text, i)):
            return None  # "… 12.4 battery two 12.6": the next reading's own
        return (
            (name.start, name.end)
            if name and name.kind and name.start == i and text.sentence(i) == text.sentence(q.start)
            else None
        )
    if found[1] in ("for", "to", "in", "of") and name_at(text, found[0]) is None:
        return None
    stop = text.sentence(q.start)[1]
    j = found[0]
    while j < stop and text.tokens[j].gap == NO_BREAK and j - i < 10:
        if (
            any(text.cue(f"limits.{r}", j) for r in ("max", "min", "nominal", "tolerance"))
            and text.norm(j) not in text.trade.words["places_like_limits"]
        ):
            break
        if text.trade.conditions.at(text.norms, j)[1] and text.norm(j) not in ("hot", "cold", "loaded"):
            break
        if text.norm(j) in text.trade.words["ends_test_point"]:
            break
        number = text.number(j)
        if number and unit_at(text, number.end, number):
            j -= 1 if text.norm(j - 1) in ("at", "and", "is") else 0
            break
        j += 1
    while j > found[0] and text.norm(j - 1) in text.trade.words["test_point_tail"]:
        j -= 1
    return (i, j) if j > found[0] else None


def _quantity_after(text: Text, q: Quantity, i: int) -> tuple[int, int] | None:
    """ "0.8 mm end play on the gauge", "8.1 volts supply at the plug": what was measured, told behind it."""
    words = text.trade.words["told_behind_value"]
    end = i
    while end < i + 2 and text.goes_on(end) and text.norm(end) in words:
        end += 1
    last = text.norm(end - 1)
    fits = text.trade.quantity_words.get(last, q.unit.quantity if q.unit is not None else None)
    if end == i or q.unit is None or fits != q.unit.quantity or text.number(end) is not None:
        return None
    found = text.cue("readings.at", end) if text.goes_on(end) else None
    name = name_at(text, found[0], text.breath(q.start)[1]) if found is not None else None
    return (i, name.end) if name is not None and name.kind is not None and not name.pronoun else (i, end)


def _next_entry(text: Text, i: int) -> bool:
    """ "cylinder two nought point four": a label of one of several, and its own number."""
    return text.norm(i) in text.trade.words["numbered"] and text.number(i + 2) is not None


def place_after_ends(text: Text, q: Quantity) -> int:
    right = _right(text, q)
    return right[1] if right else q.end

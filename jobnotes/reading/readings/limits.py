"""Limits to their readings: the one before, the one after, in the order of a series, or one for all."""

from __future__ import annotations

from jobnotes.reading.readings.limit_names import (
    NAMED,
    holds_at,
    named_one,
    of_another_name,
    other_condition,
    other_place,
    own_name,
)
from jobnotes.reading.readings.process_times import takes
from jobnotes.reading.readings.quantities import (
    LEAST_SPEED,
    Quantity,
    is_reported,
    name_counted,
    quantities_in,
    same_dimension,
)
from jobnotes.reading.speech.limit_phrases import limit_for
from jobnotes.reading.speech.text import Text
from jobnotes.reading.trade.knowledge import convert


def attach_limits(text: Text, quantities: list[Quantity]) -> None:
    paired = _in_order(text, quantities)
    for at, q in enumerate(quantities):
        if id(q) in paired:
            continue
        if q.role not in ("max", "min", "nominal"):
            continue
        if {text.norm(q.cue_start - 1), text.norm(q.cue_start - 2)} & text.trade.words["others_of_it"]:
            continue  # "… ninety mil in a minute, the rest under twenty"
        target = _reading_for(text, q, at, quantities)
        if target is not None:
            if other_condition(text, q, target, quantities) is not None:
                continue  # "1.8 bar at idle, flat out it should be 4": at that nothing was read
            own = own_name(text, q, target)
            if own is not None and of_another_name(text, target, own):
                continue  # "cut-in 8.2 bar, cut-out should be 10": of that no reading was told
            if target.unit is None and q.unit is not None:
                target.unit, target.borrowed = q.unit, True
                target.role = "value"
            if target.role == "maybe":
                target.role = "value"
            breath = text.breath(target.start)
            if q.unit is None and text.breath(q.start) != breath:
                rivals = [
                    o for o in quantities_in(quantities, q, breath) if o.role == "value" and o is not target
                ]
                if rivals and not _names_its_reading(text, q, target):
                    target.doubts.append("several readings came before this limit: which does it belong to?")
            if (other := other_place(text, q, target)) is not None:
                target.doubts.append(f"the limit was told of '{other}': does it hold for this reading?")
            told = text.said(*own) if own is not None else holds_at(text, q, target, quantities)
            if told is not None:
                target.doubts.append(f"the limit was told of '{told}': does it hold for this reading?")
            if _prefix_apart(text, target, q):
                target.doubts.append(
                    "the limit's unit is a million times smaller or larger: is the unit right?"
                )
            target.limits.append(q)
            _forget_size_as_new(text, target)


def _prefix_apart(text: Text, reading: Quantity, limit: Quantity) -> bool:
    """ "1.9 megohms, specification 4 to 6 ohms": figures alike, in units a million times apart."""
    if reading.unit is None or limit.unit is None or not limit.value or not reading.value:
        return False
    factor = convert(text.trade, 1.0, reading.unit.ucum, limit.unit.ucum)
    if factor is None or 1 / _FAR_APART < abs(factor) < _FAR_APART:
        return False
    return 1 / _ALIKE < abs(float(reading.value / limit.value)) < _ALIKE


#: Two prefixes apart, and so many times between two figures that are alike.
_FAR_APART, _ALIKE = 5e5, 1e3


def _of_that_one(text: Text, limit: Quantity, reading: Quantity) -> bool:
    """Whether a limit was told of one place, and so can't be shared: "maximum behind it 180"."""
    told = limit_for(text, limit.start)
    return (told is not None and not told.sure) or other_place(text, limit, reading) is not None


def _names_its_reading(text: Text, limit: Quantity, reading: Quantity) -> bool:
    """ "inlet 310, outlet 340. Outlet should reach 550": the limit names what the reading was told of."""
    start = text.breath(limit.cue_start)[0]
    if start < reading.end:
        return False
    here = set(text.norms[max(0, reading.start - NAMED) : reading.start])
    lead = set(text.norms[start : limit.cue_start])
    return bool(here & lead - text.trade.stop - text.trade.words["around_subject"])


def _place_behind(text: Text, q: Quantity) -> str | None:
    """ "should be about 30 low and 225 high": the place that is told behind a limit, which closes it."""
    told = text.norm(q.end) if text.goes_on(q.end) else ""
    closed = not text.goes_on(q.end + 1) or text.norm(q.end + 1) in ("and", "to")
    return told if told in text.trade.words["value_places"] - {"before", "after", "both"} and closed else None


def _forget_size_as_new(text: Text, q: Quantity) -> None:
    """ "new is 45, minimum is 37": how thick it was when new bounds nothing where a limit is told."""
    as_new = [o for o in q.limits if text.cue("limits.as_new", o.cue_start) and o.role == "nominal"]
    if len(as_new) < len(q.limits):
        q.limits = [o for o in q.limits if o not in as_new]


def _in_order(text: Text, quantities: list[Quantity]) -> set[int]:
    """ "high side 8, low side 4.5, should be 14 to 18 and 1.5 to 2.5": ranges in the order of readings."""
    done: set[int] = set()
    for at in range(1, len(quantities)):
        first, second = quantities[at - 1], quantities[at]
        if (
            first.role != "nominal"
            or first.high is None
            or second.high is None
            or second.start != first.end + 1
        ):
            continue
        if text.norm(first.end) != "and" or second.role not in ("skip", "nominal"):
            continue
        values = [
            o
            for o in quantities[max(0, at - 6) : at - 1]
            if o.role == "value" and not o.limits and first.start - o.end < 30
        ]
        if (
            len(values) < 2
            or values[-1].unit is None
            or values[-2].unit is None
            or values[-1].unit.ucum != values[-2].unit.ucum
        ):
            continue
        second.role, second.cue_start = "nominal", second.start
        values[-2].limits.append(first)
        values[-1].limits.append(second)
        done |= {id(first), id(second)}
    return done


def _reading_for(text: Text, q: Quantity, at: int, quantities: list[Quantity]) -> Quantity | None:
    def fits(o: Quantity, bare: bool) -> bool:
        if o.role not in ("value", "maybe") and not (bare and o.role == "bare" and q.unit is not None):
            return False
        if any(_conflict(limit, q) for limit in o.limits):
            return False
        if o.unit is None or q.unit is None:
            return o.unit is None or o.unit.quantity != "distance"  # "road test, 25 km, under 85 all the way"
        return same_dimension(text.trade, o.unit, q.unit)

    sentence = text.sentence(q.start)
    if q.unit is None:
        nearest = quantities[at - 1 : at] if at else []
        bare = [
            o
            for o in nearest
            if o.role == "bare"
            and text.breath(o.start) == text.breath(q.start)
            and not name_counted(text, o)
            and text.norm(o.start - 1) not in text.trade.words["before_no_value"]
            and not at_bare_speed(text, o.start - 1)
        ]
        if bare:
            return _bare_reading(text, bare[-1], quantities)
    elif at and quantities[at - 1].role == "bare" and _just_before(text, quantities[at - 1], q):
        bare_one = quantities[at - 1]  # "key off, one twenty. Should be sixty ohms."
        bare_one.unit, bare_one.role, bare_one.borrowed = q.unit, "value", True
        return bare_one
    breath = text.breath(q.start)[0]
    # "turbo shaft has four thou of end play, max of 6" bounds that, not the reading before it
    own_subject = q.cue_start - breath >= _LEAD and _of_something(text, breath, q.cue_start)
    before = [o for o in reversed(quantities[max(0, at - 6) : at]) if q.start - o.end < 30]
    if q.unit is None and before and q.cue_start - before[0].end <= 2 and _took_so_long(text, before):
        before[0].role = "value"  # "ejects in 11 seconds, no more than 15"
        return before[0]
    place = _place_behind(text, q)
    named = named_one(text, q, [o for o in before if fits(o, False)])
    if named is not None:
        return named
    for o in before:
        if o.role in ("max", "min", "nominal", "tolerance", "condition", "skip", "bare"):
            continue
        if place is not None and place not in text.norms[max(0, o.start - NAMED - 1) : o.start]:
            continue
        if own_subject and o.end <= breath:
            break
        if fits(o, False):
            near = text.sentence(o.start) == sentence or _next_sentence(text, o, q)
            if near:
                return o
        if o.unit is not None and q.unit is not None:
            continue
        break
    timed = [o for o in before if o.role == "condition" and o.unit is not None and o.unit.quantity == "time"]
    if q.unit is None and timed and q.start - timed[0].end <= 12:
        timed[0].role = "value"  # "built up in eleven minutes at 1500, should be under six"
        return timed[0]
    if " ".join(text.norms[q.cue_start : q.start]) in text.trade.words["comparisons"]:
        return None  # "over 23.9 volts at the stud" bounds nothing that comes after
    for o in quantities[at + 1 : at + 4]:
        if q.unit is None and any(b.end > text.breath(q.start)[0] for b in before):
            break  # a limit without a unit that follows a reading doesn't bound the next
        if q.unit is None and text.sentence(o.start) != sentence:
            break
        alone = q.end >= text.breath(q.start)[1] - 1  # "spec is ten to fourteen." and then the reading
        if text.breath(o.start) != text.breath(q.start) and not alone:
            break
        if o.start - q.end > 22 or not (text.sentence(o.start) == sentence or _next_sentence(text, q, o)):
            break
        if o.role in ("max", "min", "nominal", "tolerance"):
            continue
        if o.unit is None and text.norms[o.start : o.end] == ["one"]:
            break  # "… no more than two mil. The edge has lost one reflector"
        if fits(o, is_reported(text, o)):
            return o
    return None


#: So many tokens before the words of a limit may name what it is of.
_LEAD = 4


def _of_something(text: Text, start: int, end: int) -> bool:
    """Whether a thing or a value is named before a limit; "it's hot but it's fine, max is 120" names none."""
    words = text.trade.words
    empty = words["around_subject"] | words["empty_remarks"] | text.trade.stop
    return any(text.norm(k) not in empty for k in range(start, end))


def _took_so_long(text: Text, before: list[Quantity]) -> bool:
    """ "ejects in 11 seconds", but not "drops 0.2 bar in ten minutes", where the drop is what is bounded."""
    o = before[0]
    low = max(text.breath(o.start)[0], o.start - 12, *(p.end for p in before[1:2]))
    said = text.norms[low : o.start]
    if len(before) > 1 and not any(w.startswith(tuple(text.trade.words["process_stems"])) for w in said):
        return False  # "12 ml in 30 seconds": the amount is bounded
    return takes(text, o) and not any(w.startswith(tuple(text.trade.words["rate_stems"])) for w in said)


def at_bare_speed(text: Text, i: int) -> bool:
    """ "21 kPa at 1800": "at" and a speed whose unit goes unsaid, right after a value with a unit."""
    number = text.number(i + 1) if text.norm(i) == "at" else None
    return (
        number is not None
        and number.value >= LEAST_SPEED
        and number.value == number.value.to_integral_value()
        and not text.unit_follows(number.end)
        and bool(text.ends_at(text.trade.unit_forms, i, 4) or text.ends_at(text.trade.conditions, i, 5))
    )


def _just_before(text: Text, o: Quantity, q: Quantity) -> bool:
    """`o` ends the sentence, or the clause, right before the limit `q`."""
    if (
        name_counted(text, o)
        or text.norm(o.start - 1) in text.trade.words["before_no_value"]
        or text.norm(o.start - 1) in text.trade.words["numbered"]
    ):
        return False
    start = min(q.cue_start, q.start)
    return (
        (
            start == o.end
            or (start == o.end + 1 and text.norm(o.end) in ("it", "and", "that", "which", "they"))
        )
        and o.start > text.breath(o.start)[0]
        and (o.number.exact or len(o.number.atoms) <= 1)
    )


def _bare_reading(text: Text, q: Quantity, quantities: list[Quantity]) -> Quantity | None:
    """ "3.4, limit 3": a reading without a unit; it takes that of the reading before, to be checked."""
    earlier = [
        o
        for o in quantities_in(quantities, q, (max(0, q.start - 60), q.start))
        if o.end <= q.start and o.unit is not None and o.role == "value" and q.start - o.end < 60
    ]
    if not earlier:
        return None
    q.unit, q.role, q.borrowed = earlier[-1].unit, "value", True
    q.doubts.append(f"no unit was said; {q.unit.ucum if q.unit else ''} as for the reading before")
    return q


def _next_sentence(text: Text, a: Quantity, b: Quantity) -> bool:
    """`b` stands in the sentence after that of `a`, near enough to belong to it."""
    _, end = text.sentence(a.start)
    start, _ = text.sentence(b.start)
    if b.start - a.end > 16:
        return False
    if end == start:
        return True
    middle = text.sentence(end)
    return middle[1] == start and middle[1] - middle[0] <= 8


def _conflict(a: Quantity, b: Quantity) -> bool:
    return a.role == b.role or (a.high is not None) or (b.high is not None and a.role != "nominal")


def _of_another_size(text: Text, first: Quantity, second: Quantity) -> bool:
    """ "supply 24.3 V, ground drop 0.08 V, maximum 0.2": two things that no one limit is of."""
    said = set(text.norms[first.end : second.start])
    places = text.trade.words["places"] | text.trade.words["numbered"] | {"and", "is", "the", "on", "at"}
    sizes = sorted((abs(first.value), abs(second.value)))
    return sizes[0] * _AS_LARGE < sizes[1] and bool(said - places)


def _on_the_other_side(text: Text, first: Quantity, second: Quantity) -> bool:
    """ "suction 1.2 bar and discharge only 9, I'd want fifteen": two sides of which no one limit is told."""
    before = set(text.norms[max(text.breath(first.start)[0], first.start - NAMED) : first.start])
    between = set(text.norms[first.end : second.start])
    pairs = (pair.split() for pair in text.trade.words["unlike_sides"])
    return any((a in before and b in between) or (b in before and a in between) for a, b in pairs)


#: So many times larger is no reading of the same series.
_AS_LARGE = 25


def share_limits(text: Text, quantities: list[Quantity]) -> None:
    """One limit after a series holds for all of it; as many as there are readings go to them in order."""
    for at, q in enumerate(quantities):
        if not q.limits or q.role != "value" or q.unit is None:
            continue
        group = [q]
        for k in range(at - 1, -1, -1):
            other = quantities[k]
            if other.role in ("condition", "skip", "bare"):
                continue
            if (
                other.role != "value"
                or other.limits
                or other.unit is None
                or other.unit.ucum != q.unit.ucum
                or text.breath(other.start) != text.breath(q.start)
                or group[0].start - other.end > 8
                or _of_another_size(text, other, group[0])
                or _on_the_other_side(text, other, group[0])
            ):
                break
            group.insert(0, other)
        if len(group) < 2 or any(limit.start < q.start for limit in q.limits):
            continue
        if text.norm(q.end) == "apart":
            continue  # "front 3.5, rear 5.2, so 1.7 apart, should be below 1"
        if any(_of_that_one(text, limit, q) or _names_its_reading(text, limit, q) for limit in q.limits):
            continue
        told = text.norms[max(0, group[0].start - 4) : q.end + 3]
        if not any(w in text.trade.words["places"] | text.trade.words["numbered"] for w in told):
            continue
        between = text.norms[group[0].start : q.end + 3]
        if set(between) & text.trade.words["other_state"] or text.find(
            text.trade.conditions, group[0].end, q.end + 3
        ):
            continue  # "engine off 23.9, running 24.1, needs over 27.5": the last one's alone
        ranges = [limit for limit in q.limits if limit.high is not None]
        if len(ranges) == len(group):
            for one, limit in zip(group, ranges, strict=True):
                one.limits = [limit]
        elif len(q.limits) == 1:
            for one in group:
                one.limits = list(q.limits)

"""What each quantity is: a reading, a limit, a tolerance, what a reading was taken at, or none of these."""

from __future__ import annotations

from jobnotes.reading.readings.process_times import rise_before, takes
from jobnotes.reading.readings.quantities import (
    Quantity,
    is_reported,
    name_counted,
    quantities_in,
    same_dimension,
)
from jobnotes.reading.speech.limit_phrases import bounds_a_value, limit_before, limit_for
from jobnotes.reading.speech.names import name_at, name_before
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP


def assign_roles(text: Text, quantities: list[Quantity]) -> None:
    for at, q in enumerate(quantities):
        if q.role == "range after":
            q.role = "nominal"
            if not text.tokens[q.start].text.startswith("("):
                quantities[at - 1].doubts.append(f"'{text.said(q.start, q.end)}' was taken for its limit")
            continue
        limit = None
        if text.tokens[q.start].gap != STOP:
            limit = limit_before(text, q.start) or _limit_of_that(text, q, quantities)
        if q.unit is None and name_counted(text, q) and not bounds_a_value(text, q.start):
            limit = None  # "over five pipes"
        if text.norm(q.start - 1) == "over" and (
            _time_of_a_loss(text, q) or _time_of_a_value(q, quantities, at)
        ):
            limit = None  # "pressure drop over ten minutes, 0.3 bar", "drops to 0.7 over ten minutes"
        apart = text.norms[q.end : q.end + 2]
        if limit is None and apart[:1] == ["apart"] and at and _difference(text, q, quantities[at - 1]):
            continue
        if apart[:1] in (["apart"], ["difference"]) or apart in (["of", "each"], ["of", "one"]):
            q.role = "skip"  # "should be within two seconds of each other"
            continue
        if limit is not None and at and _other_one(text, q, quantities[at - 1], limit[0]):
            continue
        if limit is not None and _pulled_up(text, q, limit[0]):
            limit = None
        if limit is not None:
            q.cue_start, q.role = limit
            if _bad_beyond(text, q) or _turned(text, q):
                q.role = "max" if q.role == "min" else "min"  # "anything above 1.0 is a failure"
            after = _closing(text, "limits.min_after", q)
            if (
                after
                and q.role in ("max", "nominal")
                and q.high is None
                and text.norm(q.end) in ("minimum", "min", "or", "at")
            ):
                q.role, q.end = "min", after[0]  # "limit is five minimum"
            after = _closing(text, "limits.max_after", q)
            if (
                after
                and q.role == "nominal"
                and q.high is None
                and text.norm(q.end) in ("maximum", "max", "or", "tops", "at")
            ):
                q.role, q.end = "max", after[0]
        else:
            placed = text.norm(q.start - 1) in text.trade.words["value_places"]
            for role in ("max_after", "min_after", "nominal_after"):
                opens = text.cue(f"limits.{role}", q.end)
                if opens is not None and (
                    text.number(opens[0]) is not None or text.number(opens[0] + 1) is not None
                ):
                    continue  # "four millimetres minimum five": the word belongs to the number after it
                if placed and q.unit is not None and opens is not None:
                    # "front right 2.2 mm minimum …": the number after the word was not heard
                    q.doubts.append("a limit was named, but its number was not heard")
                    break
                found = opens
                if found and text.tokens[q.end].gap == NO_BREAK:
                    follows = text.number(found[0])
                    if (
                        follows is not None
                        and at + 1 < len(quantities)
                        and quantities[at + 1].start == follows.start
                    ):
                        break  # "8 bar maximum 10": the word belongs to the number after it
                    if any(
                        text.cue(f"limits.{r}", k)
                        for r in ("max", "min", "nominal")
                        for k in (found[0], found[0] + 1)
                    ):
                        break  # "8.1 bar, spec is between …": the word opens what follows
                    nxt = text.norm(found[0])
                    if nxt in ("is", "of", "was") and text.number(found[0] + 1):
                        break
                    if nxt in ("it", "we", "i", "she", "he"):
                        break  # "eighty nine degrees maximum it saw": what was seen
                    if q.high is None and _judged(text, q, quantities):
                        break  # "coil 14.2 ohms is good"
                    q.role, q.cue_start, q.end = role.removesuffix("_after"), q.start, found[0]
                    break
        if q.role == "max" and q.high is None and _wears(text, q):
            q.role = "min"  # "pads at 4 mm, limit is 3"
            q.doubts.append("a limit on what wears thin was read as the least that is allowed")
        if q.high is not None and q.role in ("max", "min"):
            q.role = "nominal"
        if q.high is not None and q.role == "value":
            # a bare range is a limit if a reading of its kind is near; else what was seen to vary
            q.role = (
                "nominal"
                if any(
                    o is not q
                    and o.high is None
                    and o.unit
                    and q.unit
                    and same_dimension(text.trade, o.unit, q.unit)
                    for o in quantities_in(quantities, q, (q.start - 15, q.start + 16))
                )
                else "skip"
            )
        if q.role == "tolerance":
            previous = quantities[at - 1] if at else None
            if previous is not None and previous.role == "value" and _of_its_own(text, previous, q):
                continue
            if (
                previous is not None
                and previous.role in ("nominal", "value", "max", "bare")
                and q.start - previous.end < 8
            ):
                previous.tolerance = q.value
                if q.unit is not None and q.unit.ucum == "%":
                    previous.tolerance = (previous.value * q.value / 100).normalize()
                if previous.unit is None:
                    previous.unit = q.unit
                if previous.role == "max":
                    previous.role = "nominal"
                if previous.role in ("value", "bare") and not is_reported(text, previous):
                    previous.role = "nominal"
            continue
        if q.role == "value" and q.unit is not None:
            q.role = _value_role(text, q, quantities)
        if q.role == "value" and q.unit is None:
            q.role = "bare"


def _difference(text: Text, q: Quantity, before: Quantity) -> bool:
    """ "front 3.5 degrees, rear 5.2 degrees, so 1.7 apart": a reading, in the unit of the two."""
    same = text.breath(before.start) == text.breath(q.start) and before.role == "value"
    if not same or before.unit is None or not (q.unit is None or q.unit.ucum == before.unit.ucum):
        return False
    if q.unit is None or q.borrowed:
        q.doubts = [*q.doubts, f"no unit was said; {before.unit.ucum} as for the two readings before"]
    q.unit, q.role, q.borrowed = before.unit, "value", True
    return True


def _bad_beyond(text: Text, q: Quantity) -> bool:
    """Whether what lies beyond the bound is said to be bad: "over 3 is scrap", "under 2 and it fails"."""
    cue = set(text.norms[q.cue_start : q.start])
    if q.role not in ("max", "min") or q.high is not None or not cue & text.trade.words["beyond"]:
        return False
    return not cue & text.trade.words["no_beyond"] and text.cue("limits.fails_after", q.end) is not None


def _turned(text: Text, q: Quantity) -> bool:
    """Whether what lies beyond the bound is denied or bad: "must not be over 3", "scrap if it's under 2"."""
    words = text.trade.words
    cue = set(text.norms[q.cue_start : q.start])
    if q.role not in ("max", "min") or q.high is not None or not cue & words["beyond"]:
        return False
    at = q.cue_start - (text.norm(q.cue_start - 1) in ("it", "that", "they"))
    if at >= 2 and text.norms[at - 2 : at] == ["no", "way"]:
        return True
    if cue & (words["no_beyond"] | words["denies_a_bound"]):
        return False
    k = q.cue_start
    while k > max(0, q.cue_start - _FAR_DENIED) and text.tokens[k].gap == NO_BREAK:
        k -= 1
        outside = text.norms[k : k + 3] == ["out", "of", "spec"]
        if outside or text.norm(k) in words["denies_a_bound"] | words["bad_beyond_a_bound"]:
            return True
        if text.norm(k) not in words["before_a_bound"]:
            return False
    return False


#: So many words stand at most between a denial and the bound.
_FAR_DENIED = 6


def _limit_of_that(text: Text, q: Quantity, quantities: list[Quantity]) -> tuple[int, str] | None:
    """ "pads at 4 mm, minimum on these is two": it bounds a reading told before."""
    told = limit_for(text, q.start)
    if told is None:
        return None
    begin = _sentence_before(text, text.sentence(told.start)[0])
    read = [
        o
        for o in quantities_in(quantities, q, (begin, told.start))
        if o.unit is not None and (q.unit is None or same_dimension(text.trade, o.unit, q.unit))
    ]
    if not read or read[-1].role != "value":
        return None
    if not told.sure:
        q.doubts.append(f"'{text.said(told.start, q.end)}' was taken for a limit: or was it read?")
    return told.start, told.role


def _judged(text: Text, q: Quantity, quantities: list[Quantity]) -> bool:
    """What was read, and is good: nothing else of its kind was read near it that it could bound."""
    start = text.breath(q.start)[0]
    if q.start == start or text.cue("limits.judged_after", q.end) is None:
        return False
    near = quantities_in(quantities, q, (_sentence_before(text, start), q.start + 16))
    return not any(
        o is not q and (o.unit is None or q.unit is None or same_dimension(text.trade, o.unit, q.unit))
        for o in near
    )


def _sentence_before(text: Text, start: int) -> int:
    """Where the sentence begins that ends at token `start`."""
    return text.sentence(max(0, start - 1))[0]


def _of_its_own(text: Text, value: Quantity, tolerance: Quantity) -> bool:
    """ "pointing down 2.4 degrees, tolerance is plus or minus one": how far it may be off, not it."""
    return (
        value.unit is not None
        and text.tokens[value.end].gap > NO_BREAK
        and bool(set(text.norms[value.end : tolerance.start]) & text.trade.words["limit_nouns"])
    )


#: So many tokens before "up to" the value may be told from which it came.
_LONGEST_RISE = 5


def _made_to_a_size(text: Text, i: int, end: int) -> bool:
    """Whether something that is named by its size stands at `i`, and no value behind it."""
    name = name_at(text, i, end)
    kinds = text.trade.kinds["sized"]
    return name is not None and name.start == i and name.kind in kinds and not text.goes_on(name.end)


def _pulled_up(text: Text, q: Quantity, cue: int) -> bool:
    """ "bolts up to 85 newton metres", "bolted it up to 25": what they were pulled up to, and no limit."""
    if text.norms[cue : q.start] != ["up", "to"]:
        return False
    start = max(text.clause(q.start)[0], cue - _LONGEST_RISE)
    if text.norm(cue - 1) in text.trade.words["rises_to"] or "from" in text.norms[start:cue]:
        return True  # "got up to 228 degrees", "gone from 240 up to 455 kPa"
    if q.unit is None or q.unit.quantity != "torque":
        return False
    fasteners = text.trade.kinds["fastening"]
    named = any(
        text.component_at(k)[0] == cue and text.component_at(k)[1][0][0] in fasteners
        for k in range(max(0, cue - 3), cue)
        if text.component_at(k)[1]
    )
    return named or (
        text.norm(cue - 1) in ("it", "them", "that", "those") and text.norm(cue - 2).endswith("ed")
    )


def _other_one(text: Text, q: Quantity, before: Quantity, cue: int) -> bool:
    """ "310 mm against 345 on the other side": no limit, but a reading of the other one, compared to it."""
    words = text.trade.words
    compared = bool(set(text.norms[cue : q.start]) & words["compares"]) and before.unit is not None
    k = q.end
    while k < len(text.tokens) and text.tokens[k].gap == NO_BREAK and text.norm(k) in words["leads_to_other"]:
        k += 1
    if not compared or k == q.end or text.norm(k) not in words["other_one"] or q.high is not None:
        return False
    if q.unit is None:
        q.unit, q.borrowed = before.unit, True
        q.doubts.append(
            f"no unit was said; {before.unit.ucum if before.unit else ''} as for the reading before"
        )
    return True


def _closing(text: Text, cue: str, q: Quantity) -> tuple[int, str] | None:
    """A limit word that closes `q` ("five minimum"); in "8.5, minimum 7.5" it opens the next number."""
    if not text.goes_on(q.end):
        return None
    found = text.cue(cue, q.end)
    if found is None:
        return None
    if found[0] < len(text.tokens) and text.tokens[found[0]].gap == STOP:
        return found  # "should be 32 minimum." and then another number
    if text.number(found[0]) is not None:
        return None
    opens = text.norm(found[0]) in ("is", "of", "was") and text.number(found[0] + 1) is not None
    return None if opens else found


def _wears(text: Text, q: Quantity) -> bool:
    """A bare "limit" on something that wears thin, where "maximum" wasn't said."""
    cue = text.norms[q.cue_start : q.start]
    until = cue[-1:] == ["at"]  # "scrap at 5"
    if ("limit" not in cue and not until) or {"max", "maximum", "upper"} & set(cue):
        return False
    breath = text.breath(q.start)[0]
    low = max(breath, q.cue_start - 30)
    if breath > 0 and q.cue_start - breath <= 2:
        low = text.breath(breath - 1)[0]  # "pads at 4 mm." "Limit's 3."
    return bool(set(text.norms[low : q.cue_start]) & text.trade.words["wears_thin"])


def _unchanged_in(text: Text, q: Quantity) -> bool:
    """ "no drop in fifteen minutes": how long nothing happened is no reading."""
    if (
        q.unit is None
        or q.unit.quantity != "time"
        or text.norm(q.start - 1) not in ("in", "for", "over", "after")
    ):
        return False
    low = max(text.clause(q.start)[0], q.start - 4)
    return not {"no", "zero", "without"}.isdisjoint(text.norms[low : q.start - 1])


def _value_role(text: Text, q: Quantity, quantities: list[Quantity]) -> str:
    """Whether a number with a unit is a reading, a condition of one, or neither."""
    assert q.unit is not None
    trade, norms = text.trade, text.norms
    if text.sense(q.start, measured=True) is not None:
        return "skip"
    if text.norm(q.start - 1) == "to" and any(
        (rise := rise_before(text, o)) is not None and rise[0] < q.start < rise[1]
        for o in quantities_in(quantities, q, (q.end, q.end + 14))
    ):
        return "skip"  # "from 0 to 7 bar, 11 minutes 20": what was timed
    if text.norm(q.start - 1) in ("no", "not") or _unchanged_in(text, q):
        return "skip"
    start, end = text.clause(q.start)
    last_form = text.norms[q.end - 1]
    # "24.8 volt key on", "cylinder one 0.41 cylinder two …": what follows is no name of a thing of that size
    unbroken = (
        q.number.end < q.end < len(norms)
        and text.tokens[q.end].gap == NO_BREAK
        and not text.trade.conditions.at(norms, q.end)[1]
    )
    if (
        last_form in q.unit.singular
        or " ".join(text.norms[q.end - 2 : q.end]) in q.unit.singular
        or q.unit.quantity in ("length", "mass", "power")
    ):
        name = name_at(text, q.end, end) if unbroken else None
        if (
            name
            and name.start == q.end
            and not name.pronoun
            and norms[q.end] not in trade.determiners
            and name.kind
            and text.number(name.end) is None  # but "inlet 0.25 mm exhaust 0.4 mm"
        ):
            return "skip"  # "a 24 volt relay", "ten mil hose"
    if (
        q.unit.quantity in ("voltage", "current", "resistance")
        and text.tokens[q.end - 1].gap == NO_BREAK
        and unbroken
    ):
        name = name_at(text, q.end, end)
        if (
            name
            and name.start == q.end
            and name.kind in text.trade.kinds["rated"]
            and text.norm(q.start - 1) in ("a", "the", "an", "new", "this")
        ):
            return "skip"
    prev = norms[q.start - 1] if q.start else ""
    if q.unit.quantity == "length" and prev == "of" and _counted_before(text, q.start - 1):
        return "skip"  # "2 shims of 3 mm"
    if q.unit.quantity == "length" and q.end < len(norms) and norms[q.end] in trade.words["tools"]:
        return "skip"  # "hand me the nineteen mil spanner"
    sized = (
        q.unit.ucum in ("mm", "[in_i]", "cm", "m")
        and q.end < len(norms)
        and text.tokens[q.end].gap == NO_BREAK
    )
    if sized and _made_to_a_size(text, q.end, end):
        return "skip"  # "three metres half inch air pipe"
    if (
        sized
        and prev in ("a", "an", "the", "my", "with", "that", "this", "your", "his")
        and norms[q.end] not in trade.stop
        and norms[q.end].isalpha()
    ):
        return "skip"  # "a 10 mm spanner"
    if last_form in q.unit.singular and prev in ("a", "an", "the", "new"):
        return "skip"  # "replaced with a 10 amp"
    if (
        last_form in q.unit.singular
        and q.unit.quantity in ("voltage", "current")
        and "." not in q.number.text
    ):
        q.doubts.append(f"'{last_form}': a rating or a reading?")
    if (
        last_form in q.unit.singular
        and q.unit.quantity in ("voltage", "current")
        and unbroken
        and norms[q.end].isalpha()
        and norms[q.end] not in trade.stop
        and not any(
            text.cue(f"limits.{r}", q.end) for r in ("max", "min", "nominal", "max_after", "min_after")
        )
    ):
        return "skip"  # "the five volt supply"

    def main(o: Quantity) -> bool:
        """A reading by its own right, not what it was taken at."""
        assert o.unit is not None
        if o.unit.quantity in ("time", "speed", "distance"):
            return False
        before = norms[o.start - 1] if o.start else ""
        return not (
            o.unit.quantity in ("rotational speed", "temperature") and before in ("at", "around", "about")
        )

    others = [
        o
        for o in quantities_in(quantities, q, text.sentence(q.start))
        if o is not q
        and o.unit
        and o.role in ("value",)
        and main(o)
        and text.sentence(o.start) == text.sentence(q.start)
    ]
    if q.unit.quantity == "time":
        if rise_before(text, q) is not None:
            return "value"
        if any(
            text.find(trade.cue[c], start, end) for c in ("labour.strong", "clock", "labour")
        ) and not takes(text, q):
            return "maybe" if prev in ("took", "takes") else "skip"  # "takes eleven minutes, should be six"
        if others and prev in ("in", "over"):
            own = max((o.end for o in others if o.end <= q.start), default=start)
            process = text.norms[own : q.start - 1]
            if _lost_in(text, q, others, process):
                q.leads = True
                return "condition"  # "pressure drop in ten minutes, 1.1 bar"
            if any(w.startswith(tuple(trade.words["process_stems"])) for w in process) and takes(text, q):
                return "value"  # "170 bar, ejects in 11 seconds"
            return "condition"
        if prev in ("for", "after", "every", "within", "of") or norms[q.end : q.end + 1] in (
            ["later"],
            ["ago"],
            ["labour"],
            ["labor"],
        ):
            return "condition" if others else "skip"
        if takes(text, q):
            return "value"
        return "maybe" if not others else "skip"
    if q.unit.quantity == "distance":
        return "maybe" if text.norm(q.start - 1) not in ("for", "at", "did", "of") else "skip"
    if q.unit.quantity in ("speed",):
        return "condition" if others or prev == "at" else "value"
    if q.unit.quantity == "rotational speed" and any(
        (rise := rise_before(text, o)) is not None and rise[0] < q.start
        for o in quantities_in(quantities, q, (q.end, q.end + 6))
    ):
        return "condition"  # "0 to 7 bar, 1500 rpm, 4 minutes 50"
    if (
        q.unit.quantity == "rotational speed"
        and prev in ("at", "by", "to", "and", "about", "around")
        and (others or text.ends_at(trade.cue["readings.verbs"], q.start, 4) is None or prev == "at")
    ):
        subject = norms[max(start, q.start - 4) : q.start]
        if prev in trade.words["taken_at"] and others:
            return "condition"
        if not others and not any(w in text.trade.words["turns"] for w in subject):
            return "condition"
        return "value"
    if q.unit.quantity == "temperature" and prev == "at" and _named_at_a_break(text, q.start - 1):
        return "value"  # "…, hydraulic oil at 140 F"
    told = text.ends_at(trade.cue["readings.verbs"], q.start, 4)
    reached = told is not None and told[0] < q.start - 1  # "topped out at 560 degrees"
    if q.unit.quantity == "temperature" and prev in trade.words["taken_at"] and others and not reached:
        return "condition"
    if q.unit.quantity == "length" and prev == "at":
        forces = [o for o in others if o.unit and o.unit.quantity in ("force", "mass") and o.end <= q.start]
        if forces and q.start - forces[-1].end <= 2:
            return "condition"  # "180 newtons at 20 millimetres of deflection"
    if prev == "with" and q.unit.quantity in ("mass", "force"):
        return "condition" if others else "skip"  # "eight mil with ten kilos on it", "ran with a tonne on"
    if q.unit.quantity == "mass" and prev in trade.words["lifts"]:
        return "condition" if others else "skip"  # "lifted one tonne": what it was tried with
    if q.unit.ucum == "W" and not is_reported(text, q) and "power" not in norms[start : q.start]:
        return "skip"  # "put a bulb in, 21 watt"
    after = q.end + 1
    closed = after >= len(norms) or text.tokens[after].gap > NO_BREAK
    if q.unit.quantity == "temperature" and unbroken and norms[q.end] == "outside" and closed:
        return "condition" if others else "skip"
    if (
        q.unit.quantity == "pressure"
        and prev == "at"
        and any(o.unit and o.unit.quantity != "pressure" for o in others)
    ):
        return "condition"
    if q.unit.ucum in ("m", "cm", "[ft_i]") and norms[q.end : q.end + 1] == ["of"]:
        return "skip"  # "20 cm of sleeve"
    turned = q.unit.assumed and any(
        o.unit is not None and o.unit.quantity == "torque" and 0 <= q.start - o.end <= 3
        for o in quantities_in(quantities, q, text.breath(q.start))
    )
    if turned or (prev == "plus" and q.unit.assumed):
        return "skip"  # "plus ninety degrees": an angle after a torque
    if q.unit.quantity in ("volume", "mass") and (
        norms[q.end : q.end + 1] == ["of"] or _amount_verb(text, q, start)
    ):
        return "skip"
    if q.unit.quantity == "volume" and prev in ("out", "in"):
        at = q.start - 2 if text.norm(q.start - 2) == "back" else q.start - 1
        poured = name_before(text, at, start)
        if poured is not None and poured.kind in text.trade.kinds["poured"]:
            return "skip"  # "oil out, nine litres"
    if q.unit.quantity in ("volume", "mass") and text.tokens[q.start].gap == COMMA:
        used = name_before(text, q.start, start)
        alone = used is not None and used.start == start and used.kind in text.trade.kinds["used_with"]
        if alone and (q.end >= len(norms) or text.tokens[q.end].gap > NO_BREAK):
            return "skip"  # "grease, two hundred grams"
    if q.unit.quantity in ("volume", "mass"):
        name = name_at(text, q.end, end)
        if name and name.kind in text.trade.kinds["by_amount"] and text.tokens[q.end].gap == NO_BREAK:
            return "skip"
    if q.unit.quantity == "length" and q.unit.ucum in ("m", "[ft_i]"):
        return "maybe"
    return "value"


def _counted_before(text: Text, end: int) -> bool:
    """Whether a number of pieces, and what they are, end at `end`: "2 shims"."""
    for k in range(max(text.breath(end - 1)[0], end - _LONGEST_RISE), end):
        if text.number(k) is not None or text.norm(k) in ("a", "an", "few", "several", "some"):
            name = name_at(text, k, end)
            if name is not None and name.end == end and name.kind is not None:
                return name.start == k or name.count is not None
    return False


def _named_at_a_break(text: Text, end: int) -> bool:
    """A component whose name opens after a break ends at `end`."""
    first = end
    while first > 0 and text.tokens[first].gap == NO_BREAK and end - first < 4:
        first -= 1
    name = name_at(text, first, end) if first < end else None
    return name is not None and bool(name.kind) and name.end == end and not name.pronoun


def _lost_in(text: Text, q: Quantity, others: list[Quantity], process: list[str]) -> bool:
    """Whether `q` is the time in which the reading right after it was lost, as the words before it tell."""
    return _tells_of_a_loss(text, process) and any(
        o.start >= q.end and set(text.norms[q.end : o.start]) <= text.trade.words["before_a_value"]
        for o in others
    )


def _time_of_a_loss(text: Text, q: Quantity) -> bool:
    """ "pressure drop over ten minutes, 0.3 bar": a loss is named right before, and a value right after."""
    if q.unit is None or q.unit.quantity != "time":
        return False
    start = max(text.clause(q.start)[0], q.start - 5)
    after = q.end
    while text.norm(after) in text.trade.words["before_a_value"]:
        after += 1
    number = text.number(after) if after < len(text.tokens) else None
    return (
        number is not None
        and text.unit_follows(number.end)
        and _tells_of_a_loss(text, text.norms[start : q.start - 1])
    )


def _time_of_a_value(q: Quantity, quantities: list[Quantity], at: int) -> bool:
    """ "0.7 over ten minutes": a value of something else than time stands right before."""
    if q.unit is None or q.unit.quantity != "time" or not at:
        return False
    before = quantities[at - 1]
    return before.end == q.start - 1 and (before.unit is None or before.unit.quantity != "time")


def _tells_of_a_loss(text: Text, process: list[str]) -> bool:
    """Whether the last that goes on in these words is a loss: "pressure drop", but not "built up"."""
    told = [w for w in process if w.startswith(tuple(text.trade.words["process_stems"]))]
    return bool(told) and told[-1].startswith(tuple(text.trade.words["loss_stems"]))


def _amount_verb(text: Text, q: Quantity, start: int) -> bool:
    """A filling, draining or using verb before it: an amount, not a reading."""
    for i in range(start, q.start):
        _, meanings = text.steps_at(i)
        if any(m[0] in ("filled", "drained", "cut") for m in meanings):
            return True
        _, fitting = text.fittings_at(i)
        if any(m[0] in ("consumed", "fitted", "ordered") for m in fitting):
            return True
        if (
            text.norm(i) in text.trade.words["amount_verbs"]
            and q.unit
            and q.unit.quantity in ("volume", "mass")
        ):
            return True
    return False

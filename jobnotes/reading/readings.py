"""Readings: a value with its unit, test point, conditions and limit, and the verdict that follows.

Values keep the places that were said. Limits are brought into the unit of their reading by pint. A nominal
value without a tolerance bounds nothing exactly: a reading that rounds to it is within, one that is more than
`CLEARLY_OFF` away is outside, and between the two no verdict is given.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from decimal import Decimal

from jobnotes.reading.names import name_at
from jobnotes.reading.numbers import Number
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.trade import Trade, Unit, convert
from jobnotes.record import Limit, Measurement, Repair

#: Relative distance from a nominal value without tolerance that is plainly outside (common practice, no source).
CLEARLY_OFF = Decimal("0.10")


@dataclass
class _Quantity:
    """A number with a unit (or one that it shares with a neighbour), and what part it plays."""

    start: int
    end: int
    value: Decimal
    high: Decimal | None
    unit: Unit | None
    number: Number
    role: str = "value"  # value, max, min, nominal, tolerance, condition, skip
    cue_start: int = 0
    doubts: list[str] = field(default_factory=list)
    repairs: list[Repair] = field(default_factory=list)
    tolerance: Decimal | None = None
    borrowed: bool = False
    limits: list[_Quantity] = field(default_factory=list)


def readings(text: Text) -> Iterator[Draft]:
    quantities = _quantities(text)
    _series(text, quantities)
    _unnamed(text, quantities)
    _roles(text, quantities)
    _attach(text, quantities)
    _shared_limits(text, quantities)
    last: Measurement | None = None
    for q in quantities:
        if q.role != "value" or q.unit is None:
            continue
        draft = _draft(text, q, quantities, last)
        if draft is None:
            continue
        assert isinstance(draft.detail, Measurement)
        last = draft.detail
        yield draft


# --- finding ------------------------------------------------------------------------------------


def _unit_at(text: Text, i: int, number: Number) -> tuple[Unit, str, int] | None:
    """(unit, form, end) of the unit that follows a number."""
    if i >= len(text.tokens):
        return None
    j = i + 1 if text.norm(i) == "-" and text.tokens[i].joined else i
    if j < len(text.tokens) and text.tokens[j].gap == STOP:
        return None
    end, meanings = text.trade.unit_forms.at(text.norms, j)
    if not meanings:
        return None
    unit, form = meanings[0]
    printed = text.norm(number.end - 1).replace(".", "").isdigit()
    if len(form) == 1 and not (
        printed and (text.tokens[j].joined or form in "vωVΩ" or _unit_closes(text, end))
    ):
        return None
    if form in text.trade.words["units_when_printed"] and not printed:
        return None
    return unit, form, end


def _unit_closes(text: Text, end: int) -> bool:
    """After "24 m" or "3 a" the clause ends or a preposition follows: a unit, not an article."""
    return end >= len(text.tokens) or text.tokens[end].gap > NO_BREAK or text.norm(end) in text.trade.stop


def _quantities(text: Text) -> list[_Quantity]:
    found: list[_Quantity] = []
    i = 0
    while i < len(text.tokens):
        if text.claimed[i]:
            i += 1
            continue
        prev, alone = text.norm(i - 1), text.norm(i) == "one"
        if (
            alone
            and prev in text.trade.words["before_one"]
            and not _unit_after(text, i + 1)
            and text.norm(i + 1) != "point"
        ):
            i += 1  # "with a new one", "on that one three millimetres"
            continue
        if prev in text.trade.words["numbered"] and text.tokens[i].gap == NO_BREAK:
            first = text.number(i)
            if first is not None and len(first.atoms) > 1 and text.norm(i).isdigit():
                i += 1  # "cylinder 1 28 bar"
                continue
            if not _unit_after(text, number_end(text, i)):
                i = number_end(text, i)  # "axle two", "pin 4"
                continue
        if text.norm(i) == "minus" and text.norm(i - 1) in ("or", "plus", "and"):
            i += 1  # "plus or minus five" is a tolerance, not a negative number
            continue
        number = text.number(i)
        if (
            number is None
            and text.norm(i) in text.trade.homophones
            and (
                text.norm(i + 1) == "point"
                or (text.norm(i) in ("ate", "won", "too", "fore") and _long_unit(text, i + 1))
            )
        ):
            number = text.number(i, due=True)
        if number is None or not text.free(number.start, number.end):
            i += 1
            continue
        q = _quantity(text, number, found[-1] if found else None)
        if q is None:
            i = number.end
            continue
        found.append(q)
        i = q.end
    return found


def _long_unit(text: Text, i: int) -> bool:
    """A unit that is more than a letter or two: "ate litres", but not "too a"."""
    end, meanings = text.trade.unit_forms.at(text.norms, i)
    return bool(meanings) and len(meanings[0][1]) >= 4


def number_end(text: Text, i: int) -> int:
    number = text.number(i)
    return number.end if number else i + 1


def _unit_after(text: Text, i: int) -> bool:
    return bool(text.trade.unit_forms.at(text.norms, i)[1])


def _quantity(text: Text, number: Number, previous: _Quantity | None) -> _Quantity | None:
    start, end = number.start, number.end
    high: Decimal | None = None
    unit = _unit_at(text, end, number)
    q = _Quantity(start, end, number.value, None, None, number)
    between = text.norm(start - 1) == "between" or text.norm(start - 2) == "between"
    after_unit = unit[2] if unit else end
    joiner = text.norm(after_unit)
    if (
        joiner in text.trade.words["range"]
        and (joiner != "and" or between)
        and (joiner != "-" or text.tokens[after_unit].joined)
    ):
        second = text.number(after_unit + 1)
        if second and text.tokens[after_unit + 1].gap <= COMMA:
            unit2 = _unit_at(text, second.end, second)
            plausible = (
                second.value > number.value
                or joiner in ("and", "-")
                or (unit2 is not None and second.value < 0)
            )
            is_range = joiner != "to" or not _from_to(text, start)
            if plausible and is_range and (unit2 or unit):
                high, end = second.value, unit2[2] if unit2 else second.end
                unit = unit2 or unit
                q.number = replace(number, exact=number.exact and second.exact)
            elif (
                plausible
                and is_range
                and (_limit_before(text, start) is not None or text.cue("limits.nominal_after", second.end))
            ):
                high, end = second.value, second.end
    elif joiner in ("2", "two", "too") and unit is None and _limit_before(text, start) is not None:
        second = text.number(after_unit + 1)  # "ten two fourteen ohms"
        if (
            second
            and second.value > number.value
            and _unit_at(text, second.end, second)
            and len(number.atoms) == 1
        ):
            high = second.value
            unit = _unit_at(text, second.end, second)
            end = unit[2] if unit else second.end
            q.doubts.append(f"'{joiner}' between {number.text} and {second.text} was read as 'to'")
    if unit is not None and high is None:
        end = unit[2]
    if unit is not None:
        q.unit = unit[0]
        form = unit[1]
        alike = text.trade.alike.get(form)
        if alike is not None:
            words = text.norms[max(text.sentence(start)[0], start - 14) : unit[2] + 5]
            if any(w in alike[1] for w in words):
                q.unit = text.trade.units[alike[0]]
        if form in q.unit.misheard:
            q.doubts.append(f"the unit was heard as '{form}'")
            q.repairs.append(Repair(form, unit[0].ucum))
    q.end, q.high = end, high
    atoms = number.atoms
    if (
        not number.exact
        and len(atoms) == 2
        and len(atoms[0]) == 2
        and len(atoms[1]) == 1
        and q.unit
        and q.unit.ucum in ("V", "bar")
    ):
        q.value = Decimal(f"{atoms[0]}.{atoms[1]}")
        q.number = replace(number, value=q.value, text=str(q.value), exact=True)
    elif q.value < 0 and _limit_before(text, start) is not None:
        q.doubts.append("a limit below zero: which way does it bound?")
    elif not number.exact and q.unit is not None and high is None:
        q.doubts.append(
            f"the number '{text.said(number.start, number.end)}' can be read in more than one way"
        )
    if (
        q.unit is not None
        and len(atoms) == 2
        and all(len(a) == 1 for a in atoms)
        and not text.norm(start).isdigit()
    ):
        q.doubts.append(f"'{text.said(number.start, number.end)}': {number.text}, or {'.'.join(atoms)}?")
    if q.unit is not None and high is None:
        _compound(text, q)
    if q.unit is None and high is None and len(atoms) > 3:
        return None
    return q


def _compound(text: Text, q: _Quantity) -> None:
    """ "one hour forty", "four minutes ten": a smaller unit of time that may go unnamed."""
    assert q.unit is not None
    smaller = {"h": ("min", 60), "min": ("s", 60)}.get(q.unit.ucum)
    if smaller is None or q.value != q.value.to_integral_value():
        return
    j = q.end + 1 if text.norm(q.end) == "and" else q.end
    if j < len(text.tokens) and text.tokens[j].gap > NO_BREAK:
        return
    rest = text.number(j)
    if rest is None or rest.value >= 60 or rest.value != rest.value.to_integral_value():
        return
    unit = _unit_at(text, rest.end, rest)
    if unit and unit[0].ucum != smaller[0]:
        return
    if unit is None and (
        text.norm(q.end) == "and"
        or (
            rest.end < len(text.tokens)
            and text.tokens[rest.end].gap == NO_BREAK
            and name_at(text, rest.end)
            and name_at(text, rest.end).kind
        )
    ):  # type: ignore[union-attr]
        return
    q.value = (q.value + rest.value / smaller[1]).quantize(Decimal("0.01"))
    q.end = unit[2] if unit else rest.end


def _from_to(text: Text, start: int) -> bool:
    """ "dropped from 8 to 6 bar" is a change, not a range."""
    return text.norm(start - 1) in ("from", "all", "both") or text.norm(start - 2) == "from"


def _limit_before(text: Text, i: int) -> tuple[int, str] | None:
    """(start, role) of the limit phrases that end at token `i`, fillers skipped.

    Where several stand in a row ("should be at least", "max should be") the one that bounds decides.
    """
    found = _limit_phrase(text, i)
    if found is None:
        return None
    start, role = found
    while True:
        more = _limit_phrase(text, start)
        if more is None or more[0] >= start:
            return start, role
        start = more[0]
        if role == "nominal" and more[1] != "tolerance":
            role = more[1]


def _limit_phrase(text: Text, i: int) -> tuple[int, str] | None:
    j = i
    while j > 0 and text.norms[j - 1] in text.trade.words["fillers"] and text.tokens[j].gap == NO_BREAK:
        j -= 1
    best: tuple[int, str] | None = None
    for end in (i, j):
        for role in ("tolerance", "max", "min", "nominal"):
            found = text.ends_at(text.trade.cue[f"limits.{role}"], end, 6)
            if found and (best is None or found[0] < best[0]):
                best = (found[0], role)
    if best is None:
        return None
    for end in (i, j):
        reading = text.ends_at(text.trade.cue["readings.verbs"], end, 4)
        if reading and reading[0] < best[0]:
            return None
    return best


# --- roles ---------------------------------------------------------------------------------------


def _series(text: Text, quantities: list[_Quantity]) -> None:
    """ "left rear two point one, right rear one point two kilo ohms": a shared unit."""
    for at, q in enumerate(quantities):
        if q.unit is not None or q.high is not None or _limit_before(text, q.start):
            continue
        if text.norm(q.start - 1) in ("at", "to") or name_counted(text, q):
            continue
        near = [*reversed(quantities[max(0, at - 3) : at]), *quantities[at + 1 : at + 4]]
        for other in near:
            if other.unit is None or other.unit.quantity == "time":
                continue
            if text.breath(other.start) != text.breath(q.start) or _limit_before(text, other.start):
                continue
            low, high = sorted(((q.start, q.end), (other.start, other.end)))
            span = text.norms[low[1] : high[0]]
            near_q = (
                text.norms[max(text.sentence(q.start)[0], q.start - 4) : q.start]
                + text.norms[q.end : q.end + 3]
            )
            if (
                len(span) <= 9
                and any(w in text.trade.words["places"] for w in span)
                and any(w in text.trade.words["places"] for w in near_q)
            ):
                q.unit, q.borrowed = other.unit, True
                break
            if (
                span in (["and"], []) and other.start > q.start
            ):  # "sixty-two, sixty-four and sixty-six degrees"
                q.unit, q.borrowed = other.unit, True
                break


def _unnamed(text: Text, quantities: list[_Quantity]) -> None:
    """Numbers without a unit, where a word before them names one ("charging at twenty-eight four"), a change
    leads on from a reading ("from 4.8 bar to 0.9"), or the same thing was measured before: the latter is doubted."""
    for at, q in enumerate(quantities):
        if q.unit is not None or q.high is not None or _limit_before(text, q.start):
            continue
        if _bounded_after(text, q):
            continue
        if text.norm(q.start - 1) in text.trade.words["before_no_value"] or (
            q.end < len(text.norms) and name_counted(text, q)
        ):
            continue
        if text.sense(q.start) is not None or (
            q.end < len(text.tokens) and text.norm(q.end) in ("times", "off", "of")
        ):
            continue
        breath = text.breath(q.start)[0]
        start = max(breath, quantities[at - 1].end if at else 0, q.start - 10)
        decimal = "." in q.number.text
        at_speed = text.norm(q.start - 1) == "at" and q.value >= 400 and not decimal  # "at twelve hundred"
        named = text.find(text.trade.unnamed, start, q.start)
        if (
            named
            and not any(t.gap > NO_BREAK for t in text.tokens[named[-1][1] : q.start + 1])
            and (decimal or len(q.number.atoms) > 1 or _reported(text, q) or named[-1][1] == q.start)
        ):
            q.unit = named[-1][2]
            _split_volts(text, q, sure=True)
            continue
        before = [
            o
            for o in quantities[:at]
            if o.unit is not None and o.role != "condition" and o.unit.quantity != "time"
        ]
        if not before:
            continue
        same_breath = [
            o
            for o in before
            if o.start >= breath
            and o.unit is not None
            and o.unit.quantity not in ("rotational speed", "speed")
        ]
        if same_breath and q.start - same_breath[-1].end <= 3 and _changes(text, q, same_breath[-1]):
            q.unit = same_breath[-1].unit
            continue
        words = (
            set(text.norms[start : q.start]) - text.trade.words["around_subject"] - text.trade.stop - {"at"}
        )
        doubt: Unit | None = None
        if same_breath and (decimal or _reported(text, q)) and not at_speed:
            doubt = same_breath[-1].unit
        for other in reversed(before):
            if doubt is not None or q.start - other.end > 150:
                break
            other_start = max(text.breath(other.start)[0], other.start - 10)
            shared = words & (
                set(text.norms[other_start : other.start])
                - text.trade.words["around_subject"]
                - text.trade.stop
            )
            if at_speed and (other.unit is None or other.unit.quantity != "rotational speed"):
                continue
            if shared and (_reported(text, q) or decimal or len(shared) >= 2 or _closed(text, q.end)):
                doubt = other.unit
        volts = [o for o in before if o.unit is not None and o.unit.ucum == "V"]
        if doubt is None and volts and _like_volts(q):
            doubt = volts[-1].unit
        conditioned = text.find(text.trade.conditions, breath, min(q.end + 4, text.breath(q.start)[1]))
        if (
            doubt is None
            and decimal
            and (
                conditioned
                or {"now", "before", "after"} & set(text.norms[max(breath, q.start - 3) : q.end + 2])
            )
        ):
            doubt = before[-1].unit if q.start - before[-1].end < 60 else None
        if doubt is not None:
            q.unit = doubt
            _split_volts(text, q, sure=True)
            q.doubts.append(f"no unit was said; {doubt.ucum} as for the reading before")


def _bounded_after(text: Text, q: _Quantity) -> bool:
    """ "50 allowed": a word of limit that closes the number, rather than opening the next."""
    i = q.end
    if i >= len(text.tokens) or text.tokens[i].gap > NO_BREAK:
        return False
    for role in ("max_after", "min_after", "nominal_after"):
        found = text.cue(f"limits.{role}", i)
        if (
            found
            and text.number(found[0]) is None
            and text.norm(found[0]) not in ("is", "of", "was", "should")
        ):
            return True
    return False


def _closed(text: Text, i: int) -> bool:
    return (
        i >= len(text.tokens) or text.tokens[i].gap > NO_BREAK or text.norm(i) in ("now", "before", "after")
    )


def _like_volts(q: _Quantity) -> bool:
    """ "twenty-four six": how voltages are said, and little else."""
    atoms = q.number.atoms
    return len(atoms) == 2 and len(atoms[0]) == 2 and len(atoms[1]) == 1 and not q.number.exact


def _split_volts(text: Text, q: _Quantity, *, sure: bool) -> None:
    if _like_volts(q):
        value = ".".join(q.number.atoms)
        q.value, q.number = Decimal(value), replace(q.number, value=Decimal(value), text=value, exact=True)
    elif not q.number.exact and sure:
        q.doubts.append(f"the number '{text.said(q.start, q.end)}' can be read in more than one way")


def _changes(text: Text, q: _Quantity, other: _Quantity) -> bool:
    """ "from 4.8 bar to 0.9", "one bar, dropped to 0.6"."""
    between = text.norms[other.end : q.start]
    if between == ["to"]:
        return text.norm(other.start - 1) == "from"
    return len(between) == 2 and between[1] == "to" and between[0] in text.trade.words["changes"]


def name_counted(text: Text, q: _Quantity) -> bool:
    """ "got six bolts": the number counts things."""
    name = name_at(text, q.end)
    return (
        name is not None
        and name.start == q.end
        and text.tokens[q.end].gap == NO_BREAK
        and not name.pronoun
        and bool(name.kind)
    )


def _shared_limits(text: Text, quantities: list[_Quantity]) -> None:
    """One limit after a series holds for all of it; as many as there are readings go to them in order."""
    for at, q in enumerate(quantities):
        if not q.limits or q.role != "value" or q.unit is None:
            continue
        group = [q]
        for other in reversed(quantities[:at]):
            if other.role in ("condition", "skip", "bare"):
                continue
            if (
                other.role != "value"
                or other.limits
                or other.unit is None
                or other.unit.ucum != q.unit.ucum
                or text.sentence(other.start) != text.sentence(q.start)
            ):
                break
            group.insert(0, other)
        if len(group) < 2 or any(limit.start < q.start for limit in q.limits):
            continue
        if not any(
            w in text.trade.words["places"] for w in text.norms[max(0, group[0].start - 4) : q.end + 3]
        ):
            continue
        ranges = [limit for limit in q.limits if limit.high is not None]
        if len(ranges) == len(group):
            for one, limit in zip(group, ranges, strict=True):
                one.limits = [limit]
        elif len(q.limits) == 1:
            for one in group:
                one.limits = list(q.limits)


def _roles(text: Text, quantities: list[_Quantity]) -> None:
    for at, q in enumerate(quantities):
        limit = None if text.tokens[q.start].gap == STOP else _limit_before(text, q.start)
        if q.unit is None and name_counted(text, q):
            limit = None  # "over five pipes"
        if limit is not None:
            q.cue_start, q.role = limit
            after = text.cue("limits.min_after", q.end)
            if (
                after
                and q.role in ("max", "nominal")
                and q.high is None
                and text.norm(q.end) in ("minimum", "min", "or", "at")
            ):
                q.role, q.end = "min", after[0]  # "limit is five minimum"
            after = text.cue("limits.max_after", q.end)
            if (
                after
                and q.role == "nominal"
                and q.high is None
                and text.norm(q.end) in ("maximum", "max", "or", "tops")
            ):
                q.role, q.end = "max", after[0]
        else:
            for role in ("max_after", "min_after", "nominal_after"):
                found = text.cue(f"limits.{role}", q.end)
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
                    q.role, q.cue_start, q.end = role.removesuffix("_after"), q.start, found[0]
                    break
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
                    and _same_dimension(text.trade, o.unit, q.unit)
                    and abs(o.start - q.start) < 16
                    for o in quantities
                )
                else "skip"
            )
        if q.role == "tolerance":
            previous = quantities[at - 1] if at else None
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
                if previous.role in ("value", "bare") and not _reported(text, previous):
                    previous.role = "nominal"
            continue
        if q.role == "value" and q.unit is not None:
            q.role = _value_role(text, q, quantities)
        if q.role == "value" and q.unit is None:
            q.role = "bare"


def _reported(text: Text, q: _Quantity) -> bool:
    return text.ends_at(text.trade.cue["readings.verbs"], q.start, 4) is not None


def _value_role(text: Text, q: _Quantity, quantities: list[_Quantity]) -> str:
    """Whether a number with a unit is a reading, a condition of one, or neither."""
    assert q.unit is not None
    trade, norms = text.trade, text.norms
    if text.sense(q.start) is not None:
        return "skip"
    if text.norm(q.start - 1) in ("no", "not"):
        return "skip"
    start, end = text.clause(q.start)
    last_form = text.norms[q.end - 1]
    if (
        last_form in q.unit.singular
        or " ".join(text.norms[q.end - 2 : q.end]) in q.unit.singular
        or q.unit.quantity in ("length", "mass", "power")
    ):
        name = (
            name_at(text, q.end, end) if q.end < len(norms) and text.tokens[q.end].gap == NO_BREAK else None
        )
        if (
            name
            and name.start == q.end
            and not name.pronoun
            and norms[q.end] not in trade.determiners
            and name.kind
        ):
            return "skip"  # "a 24 volt relay", "ten mil hose"
    if (
        q.unit.quantity in ("voltage", "current", "resistance")
        and text.tokens[q.end - 1].gap == NO_BREAK
        and q.end < len(norms)
        and text.tokens[q.end].gap == NO_BREAK
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
    sized = (
        q.unit.ucum in ("mm", "[in_i]", "cm", "m")
        and q.end < len(norms)
        and text.tokens[q.end].gap == NO_BREAK
    )
    if (
        sized
        and prev in ("a", "an", "the", "my", "with")
        and norms[q.end] not in trade.stop
        and norms[q.end].isalpha()
    ):
        return "skip"  # "a 10 mm spanner"
    if last_form in q.unit.singular and prev in ("a", "an", "the", "new"):
        return "skip"  # "replaced with a 10 amp"

    def main(o: _Quantity) -> bool:
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
        for o in _near(quantities, q, text.sentence(q.start))
        if o is not q
        and o.unit
        and o.role in ("value",)
        and main(o)
        and text.sentence(o.start) == text.sentence(q.start)
    ]
    if q.unit.quantity == "time":
        if any(
            text.find(trade.cue[c], start, end) for c in ("labour.strong", "clock", "labour")
        ) and not _takes(text, q):
            return "skip"
        if others and prev in ("in", "over"):
            return "condition"
        if prev in ("for", "after", "every", "within", "of") or norms[q.end : q.end + 1] in (
            ["later"],
            ["ago"],
            ["labour"],
            ["labor"],
        ):
            return "condition" if others else "skip"
        if _takes(text, q):
            return "value"
        return "maybe" if not others else "skip"
    if q.unit.quantity == "distance":
        return "maybe" if text.norm(q.start - 1) not in ("for", "at", "did", "of") else "skip"
    if q.unit.quantity in ("speed",):
        return "condition" if others or prev == "at" else "value"
    if (
        q.unit.quantity == "rotational speed"
        and prev in ("at", "to", "and", "about", "around")
        and (others or text.ends_at(trade.cue["readings.verbs"], q.start, 4) is None or prev == "at")
    ):
        subject = norms[max(start, q.start - 4) : q.start]
        if prev == "at" and others:
            return "condition"
        if not others and not any(w in ("idle", "idling", "speed", "cut") for w in subject):
            return "condition"
        return "value"
    if q.unit.quantity == "temperature" and prev == "at" and others:
        return "condition"
    if (
        q.unit.quantity == "pressure"
        and prev == "at"
        and any(o.unit and o.unit.quantity != "pressure" for o in others)
    ):
        return "condition"
    if q.unit.ucum in ("m", "cm", "[ft_i]") and norms[q.end : q.end + 1] == ["of"]:
        return "skip"  # "20 cm of sleeve"
    if prev == "plus" and q.unit.assumed:
        return "skip"  # "plus ninety degrees": an angle after a torque
    if q.unit.quantity in ("volume", "mass") and (
        norms[q.end : q.end + 1] == ["of"] or _amount_verb(text, q, start)
    ):
        return "skip"
    if q.unit.quantity in ("volume", "mass"):
        name = name_at(text, q.end, end)
        if name and name.kind in text.trade.kinds["by_amount"] and text.tokens[q.end].gap == NO_BREAK:
            return "skip"
    if q.unit.quantity == "length" and q.unit.ucum in ("m", "[ft_i]"):
        return "maybe"
    return "value"


def _limit_words(text: Text, q: _Quantity) -> bool:
    """A limit on time follows at once: "in eleven minutes, should be under six"."""
    i = q.end
    return any(text.cue(f"limits.{role}", i) for role in ("max", "min", "nominal"))


def _near(quantities: list[_Quantity], q: _Quantity, span: tuple[int, int]) -> list[_Quantity]:
    """The quantities of `span`; they are in the order of their tokens."""
    low = bisect_left(quantities, span[0], key=lambda o: o.start)
    high = bisect_left(quantities, span[1], key=lambda o: o.start)
    return quantities[low:high]


def _takes(text: Text, q: _Quantity) -> bool:
    """ "built up in four minutes": how long something took, as a reading."""
    start, _ = text.clause(q.start)
    before = text.norms[max(start, q.start - 12) : q.start]
    return (
        bool(before)
        and before[-1] in ("in", "takes", "takes about", "about", "only")
        and any(w.startswith(tuple(text.trade.words["process_stems"])) for w in before)
    )


def _amount_verb(text: Text, q: _Quantity, start: int) -> bool:
    """A filling, draining or using verb before it: an amount, not a reading."""
    for i in range(start, q.start):
        _, meanings = text.trade.action_forms.at(text.norms, i)
        if any(m[0] in ("filled", "drained", "cut") for m in meanings):
            return True
        _, meanings = text.trade.part_forms.at(text.norms, i)
        if any(m[0] in ("consumed", "fitted", "ordered") for m in meanings):
            return True
        if (
            text.norm(i) in text.trade.words["amount_verbs"]
            and q.unit
            and q.unit.quantity in ("volume", "mass")
        ):
            return True
    return False


def _same_dimension(trade: Trade, a: Unit, b: Unit) -> bool:
    return a.ucum == b.ucum or (a.quantity == b.quantity and convert(trade, 1.0, a.ucum, b.ucum) is not None)


# --- limits to their readings --------------------------------------------------------------------


def _attach(text: Text, quantities: list[_Quantity]) -> None:
    paired = _in_order(text, quantities)
    for at, q in enumerate(quantities):
        if id(q) in paired:
            continue
        if q.role not in ("max", "min", "nominal"):
            continue
        target = _reading_for(text, q, at, quantities)
        if target is not None:
            if target.unit is None and q.unit is not None:
                target.unit, target.borrowed = q.unit, True
                target.role = "value"
            if target.role == "maybe":
                target.role = "value"
            breath = text.breath(target.start)
            if q.unit is None and text.breath(q.start) != breath:
                rivals = [o for o in _near(quantities, q, breath) if o.role == "value" and o is not target]
                if rivals:
                    target.doubts.append("several readings came before this limit: which does it belong to?")
            target.limits.append(q)


def _in_order(text: Text, quantities: list[_Quantity]) -> set[int]:
    """ "high side 8 bar, low side 4.5, should be 14 to 18 and 1.5 to 2.5": ranges in the order of readings."""
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


def _reading_for(text: Text, q: _Quantity, at: int, quantities: list[_Quantity]) -> _Quantity | None:
    def fits(o: _Quantity, bare: bool) -> bool:
        if o.role not in ("value", "maybe") and not (bare and o.role == "bare" and q.unit is not None):
            return False
        if any(_conflict(limit, q) for limit in o.limits):
            return False
        if o.unit is None or q.unit is None:
            return True
        return _same_dimension(text.trade, o.unit, q.unit)

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
        ]
        if bare:
            return _bare_reading(text, bare[-1], quantities)
    elif at and quantities[at - 1].role == "bare" and _just_before(text, quantities[at - 1], q):
        bare_one = quantities[at - 1]  # "key off, one twenty. Should be sixty ohms."
        bare_one.unit, bare_one.role, bare_one.borrowed = q.unit, "value", True
        return bare_one
    before = [o for o in reversed(quantities[max(0, at - 6) : at]) if q.start - o.end < 30]
    for o in before:
        if o.role in ("max", "min", "nominal", "tolerance", "condition", "skip", "bare"):
            continue
        if fits(o, False):
            near = text.sentence(o.start) == sentence or _next_sentence(text, o, q)
            if near:
                return o
        if o.unit is not None and q.unit is not None:
            continue
        break
    for o in quantities[at + 1 : at + 4]:
        if q.unit is None and text.sentence(o.start) != sentence:
            break
        if o.start - q.end > 22 or not (text.sentence(o.start) == sentence or _next_sentence(text, q, o)):
            break
        if o.role in ("max", "min", "nominal", "tolerance"):
            if o.role != "tolerance" and o.unit is None:
                continue
            continue
        if fits(o, _reported(text, o)):
            return o
    # "60.2, should be 60": the reading itself had no unit but a reading's verb
    return None


def _just_before(text: Text, o: _Quantity, q: _Quantity) -> bool:
    """`o` ends the sentence, or the clause, right before the limit `q`."""
    if (
        name_counted(text, o)
        or text.norm(o.start - 1) in text.trade.words["before_no_value"]
        or text.norm(o.start - 1) in text.trade.words["numbered"]
    ):
        return False
    start = min(q.cue_start, q.start)
    return (
        0 <= start - o.end <= 1
        and o.start > text.breath(o.start)[0]
        and (o.number.exact or len(o.number.atoms) <= 1)
    )


def _bare_reading(text: Text, q: _Quantity, quantities: list[_Quantity]) -> _Quantity | None:
    """ "3.4, limit 3": a reading without a unit; it takes that of the reading before, to be checked."""
    earlier = [
        o
        for o in _near(quantities, q, (max(0, q.start - 60), q.start))
        if o.end <= q.start and o.unit is not None and o.role == "value" and q.start - o.end < 60
    ]
    if not earlier:
        return None
    q.unit, q.role, q.borrowed = earlier[-1].unit, "value", True
    q.doubts.append(f"no unit was said; {q.unit.ucum if q.unit else ''} as for the reading before")
    return q


def _next_sentence(text: Text, a: _Quantity, b: _Quantity) -> bool:
    """`b` stands in the sentence after that of `a`, near enough to belong to it."""
    _, end = text.sentence(a.start)
    start, _ = text.sentence(b.start)
    if b.start - a.end > 16:
        return False
    if end == start:
        return True
    middle = text.sentence(end)
    return middle[1] == start and middle[1] - middle[0] <= 8


def _conflict(a: _Quantity, b: _Quantity) -> bool:
    return a.role == b.role or (a.high is not None) or (b.high is not None and a.role != "nominal")


# --- the fact ------------------------------------------------------------------------------------


def _draft(text: Text, q: _Quantity, quantities: list[_Quantity], last: Measurement | None) -> Draft | None:
    assert q.unit is not None
    limit, limit_span, doubts = _limit(text.trade, q)
    start, end = text.clause(q.start)
    subject, left = _subject(text, q, quantities)
    conditions = _conditions(text, q, quantities)
    if (
        subject is None
        and last is not None
        and last.subject
        and q.unit
        and last.unit == q.unit.ucum
        and q.start - start < 6
    ):
        subject = last.subject
    value = q.value
    verdict, doubt = verdict_of(value, limit)
    all_doubts = [*q.doubts, *doubts]
    if doubt:
        all_doubts.append(doubt)
    for o in q.limits:
        all_doubts += o.doubts
    approx = text.ends_at(text.trade.cue["limits.approx"], q.start, 4)
    quantity = _quantity_name(text, q, start, end)
    begin = min([left, q.start, *(s for s, _ in limit_span)])
    finish = max([q.end, *(e for _, e in limit_span)])
    if begin < q.start - 40:
        begin = q.start
    measurement = Measurement(value, q.unit.ucum, quantity, subject, conditions, limit, verdict)
    if approx:
        pass  # an estimate is still what was said; the quote shows the word
    keys = ((q.start, q.end), *((o.start, o.end) for o in q.limits))
    return Draft(
        measurement,
        begin,
        min(max(finish, _right_end(text, q)), begin + 60),
        score=0.95 if subject else 0.85,
        doubts=tuple(dict.fromkeys(all_doubts)),
        repairs=tuple(q.repairs),
        keys=keys,
    )


def _quantity_name(text: Text, q: _Quantity, start: int, end: int) -> str:
    assert q.unit is not None
    return q.unit.quantity


def _in_unit(trade: Trade, value: Decimal, q: _Quantity, unit: str) -> Decimal | None:
    if q.unit is None or q.unit.ucum == unit:
        return value
    converted = convert(trade, float(value), q.unit.ucum, unit)
    return None if converted is None else Decimal(f"{converted:.6g}")


def _split_limit(o: _Quantity, q: _Quantity) -> None:
    """ "limit twenty-seven five": said like the voltage that it bounds."""
    if o.unit is None and q.unit is not None and q.unit.ucum == "V" and _like_volts(o):
        o.value = Decimal(".".join(o.number.atoms))
        if o.high is not None and o.high > 99 and o.high == o.high.to_integral_value():
            o.high = o.high / 10


def _limit(trade: Trade, q: _Quantity) -> tuple[Limit | None, list[tuple[int, int]], list[str]]:
    assert q.unit is not None
    low: Decimal | None = None
    high: Decimal | None = None
    nominal: Decimal | None = None
    spans: list[tuple[int, int]] = []
    doubts: list[str] = []
    sources = list(q.limits)
    if q.tolerance is not None and not sources:
        return None, spans, doubts
    for o in sources:
        spans.append((min(o.cue_start, o.start), o.end))
        _split_limit(o, q)
        value = _in_unit(trade, o.value, o, q.unit.ucum)
        top = _in_unit(trade, o.high, o, q.unit.ucum) if o.high is not None else None
        if value is None or (o.high is not None and top is None):
            doubts.append("the limit is in a unit that can't be compared")
            continue
        if o.high is not None:
            low, high = (value, top) if top is not None and value <= top else (top, value)
        elif o.tolerance is not None:
            nominal, low, high = value, value - o.tolerance, value + o.tolerance
        elif o.role == "max":
            high = value
        elif o.role == "min":
            low = value
        else:
            nominal = value
    if low is None and high is None and nominal is None:
        return None, spans, doubts
    if low is not None and high is not None and low > high:
        doubts.append(f"the limits contradict each other: at least {low}, at most {high}")
    return Limit(low, high, nominal, "said"), spans, doubts


def verdict_of(value: Decimal, limit: Limit | None):  # type: ignore[no-untyped-def]
    """(verdict, doubt) of a value against a limit in the same unit."""
    if limit is None:
        return "no limit given", None
    if limit.min is not None or limit.max is not None:
        if limit.min is not None and value < limit.min:
            return "outside", None
        if limit.max is not None and value > limit.max:
            return "outside", None
        return "within", None
    assert limit.nominal is not None
    if value.quantize(limit.nominal) == limit.nominal:
        return "within", None
    if abs(value - limit.nominal) > CLEARLY_OFF * abs(limit.nominal):
        return "outside", None
    return "no limit given", None


def _subject(text: Text, q: _Quantity, quantities: list[_Quantity]) -> tuple[str | None, int]:
    """(test point, first token of it): what stands before the value, and what "at", "across" … name after it."""
    start, end = text.clause(q.start)
    sentence_start, sentence_end = text.sentence(q.start)
    low = start
    before: _Quantity | None = None
    for o in _near(quantities, q, (max(0, start - 30), q.start)):
        if o is not q and low < o.end <= q.start:
            low = max(low, _after_place(text, o, quantities))
            before = o
    hollow = all(w in text.trade.words["around_subject"] for w in text.norms[low : q.start])
    if hollow and low == start and start > text.breath(q.start)[0]:
        previous = text.clause(start - 1)
        if not any(o.start >= previous[0] and o.end <= start and o is not q for o in quantities):
            low = previous[0]
    left = _strip(text, low, q.start)
    for i, j, _ in reversed(text.find(text.trade.conditions, left[0], left[1])):
        if i == left[0]:
            left = _strip(text, j, left[1])
        elif j == left[1]:
            left = _strip(text, left[0], i)
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
    elif left[0] > low and text.trade.conditions.at(text.norms, low)[0] > low:
        words.append(
            text.said(low, text.trade.conditions.at(text.norms, low)[0])
        )  # "charging is now 28.2 volts"
    elif any(w in ("it", "them") for w in text.norms[low : q.start]):
        thing = _spoken_of(text, low)
        if thing:
            words.append(thing)
    if right is not None:
        words.append(text.said(*right))
    return (" ".join(words) or None), (left[0] if left[1] > left[0] else q.start)


def _after_place(text: Text, q: _Quantity, quantities: list[_Quantity]) -> int:
    """The end of the place words that follow a value, where places follow values ("8.2 bar front, 7.9 rear")."""
    i = q.end
    if (
        i >= len(text.tokens)
        or text.tokens[i].gap > NO_BREAK
        or text.norm(i) not in text.trade.words["value_places"]
        or text.norm(q.start - 1) in text.trade.words["value_places"]
    ):
        return q.end
    while (
        i < len(text.tokens)
        and text.norm(i) in text.trade.words["value_places"]
        and text.tokens[i].gap == NO_BREAK
    ):
        i += 1
    following = text.number(i)
    # "… left five right": what stands between two values belongs to the first if nothing stood before that one
    return (
        q.end
        if following is None and i < len(text.tokens) and text.trade.components.at(text.norms, i)[1]
        else i
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


def _base(text: Text, q: _Quantity, quantities: list[_Quantity]) -> str | None:
    """What a series measures: the words before its first value, without the place."""
    breath = text.breath(q.start)[0]
    first = next((o for o in _near(quantities, q, (breath, q.start + 1)) if o.unit is not None), q)
    start, end = _strip(text, max(breath, first.start - 8), first.start)
    while end > start and text.norm(end - 1) in text.trade.words["places"]:
        end -= 1
    return text.said(start, end) if end > start else None


def _strip(text: Text, start: int, end: int) -> tuple[int, int]:
    limit = _limit_before(text, end)
    if limit is not None:
        end = max(start, limit[0])
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
            and text.norms[end - 2 : end] not in (["cut", "out"], ["cut", "in"])
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


def _aside(text: Text, i: int) -> bool:
    """ "right, …" opens a sentence; "right rear" is a place."""
    return (
        text.norms[i] == "right"
        and i + 1 < len(text.tokens)
        and (text.tokens[i + 1].gap > NO_BREAK or text.norms[i + 1] in ("so", "then", "i", "now"))
    )


def _right(text: Text, q: _Quantity) -> tuple[int, int] | None:
    """The test point after a value: "at the plug", "across CAN high and low", "between pin 1 and pin 2"."""
    i = q.end
    if i >= len(text.tokens) or text.tokens[i].gap > NO_BREAK:
        return None
    found = text.cue("readings.at", i)
    if found is None:
        name = name_at(text, i)
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
        if number and _unit_at(text, number.end, number):
            j -= 1 if text.norm(j - 1) in ("at", "and", "is") else 0
            break
        j += 1
    while j > found[0] and text.norm(j - 1) in text.trade.words["test_point_tail"]:
        j -= 1
    return (i, j) if j > found[0] else None


def _right_end(text: Text, q: _Quantity) -> int:
    right = _right(text, q)
    return right[1] if right else q.end


def _conditions(text: Text, q: _Quantity, quantities: list[_Quantity]) -> tuple[str, ...]:
    start, end = text.breath(q.start)
    start, end = max(start, q.start - 24), min(end, q.end + 18)
    if end > text.sentence(q.start)[1]:
        end = text.sentence(q.start)[1]
    nearby = _near(quantities, q, (start, end))
    values = [o for o in nearby if o.role == "value" and o.unit]
    found: list[tuple[int, str]] = []
    for i, _, name in text.find(text.trade.conditions, start, end):
        # with several readings in one sentence a condition belongs to what follows it, unless none does
        between = [o for o in values if o is not q and (i < o.start < q.start or q.start < o.start < i)]
        if between and i > q.start:
            continue
        if between and i < q.start and any(text.find(text.trade.conditions, o.end, q.start) for o in between):
            continue
        found.append((i, name))
    for o in nearby:
        if o.role == "condition":
            word = (
                text.norm(o.start - 1) if text.norm(o.start - 1) in ("at", "for", "after", "within") else "at"
            )
            found.append((o.start, f"{word} {o.value} {o.unit.ucum if o.unit else ''}".strip()))
    return tuple(dict.fromkeys(name for _, name in sorted(found)))

"""Units that are not said: one for a whole series, one that a word before the number names, or the last."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import replace
from decimal import Decimal

from jobnotes.reading.readings.quantities import (
    Quantity,
    changed_to,
    is_reported,
    name_counted,
    no_label,
    said_like_volts,
)
from jobnotes.reading.speech.limit_phrases import bounds, limit_before
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK, STOP
from jobnotes.reading.trade.knowledge import Implied, Unit, breached

#: What a reading was taken at has units of these quantities; no other number shares them.
_TAKEN_AT = frozenset(("time", "distance", "speed", "rotational speed"))


def unit_told_apart(text: Text, quantities: list[Quantity]) -> None:
    """ "pads in millimetres, left 9, right 7", "left 102, right 101, all in psi": one unit for them all."""
    for i in range(1, len(text.tokens) - 1):
        if text.norm(i) != "in" or not text.goes_on(i + 1) or text.numeric[i - 1]:
            continue
        end, meanings = text.trade.unit_forms.at(text.norms, i + 1)
        if (
            not meanings
            or len(meanings[0][1]) < _SPELT_OUT
            or meanings[0][0].quantity in ("time", "distance")
        ):
            continue
        places = text.trade.words["places"]
        every = text.norm(i - 1) == "all"
        if not every and text.goes_on(end) and text.norm(end) not in places:
            continue
        begin, stop = text.breath(i)
        near = (max(begin, i - _TOGETHER), min(stop, i + _TOGETHER))
        first, last = (bisect_left(quantities, at, key=lambda q: q.start) for at in near)
        for q in quantities[first:last]:
            told = q.unit is None and q.high is None and (every or q.start >= end) and _may_share(text, q)
            if told and not places.isdisjoint((text.norm(q.start - 1), text.norm(q.end))):
                q.unit, q.borrowed = meanings[0][0], True


#: So many tokens on either side a unit that is told once may reach.
_TOGETHER = 60
#: A unit of fewer letters may be a word or a letter: "in a", "in m".
_SPELT_OUT = 2


def share_units(text: Text, quantities: list[Quantity]) -> None:
    """ "left rear two point one, right rear one point two kilo ohms": a unit, handed along a series."""
    bare = [at for at, q in enumerate(quantities) if q.unit is None and _may_share(text, q)]
    for _ in range(_PASSES):
        left = [at for at in bare if not _share(text, quantities, at)]
        if len(left) == len(bare):
            break
        bare = left


#: So many steps a unit is handed on from its last reading to the first of a series.
_PASSES = 6


def _part_of_a_name(text: Text, q: Quantity) -> bool:
    """ "supply at the seven pin", "back off 1/6 turn": no value of anything."""
    words = text.trade.words
    named = text.norm(q.start - 1) == "the" and text.norm(q.end) in words["named_by_number"]
    fraction = "/" in (text.norm(q.start - 1), text.norm(q.end))
    return fraction or (named and text.tokens[q.end].gap == NO_BREAK)


def _may_share(text: Text, q: Quantity) -> bool:
    """Whether the number may have the unit of another: it is no limit, name or count."""
    if q.high is not None or bounds(text, q.start) or _part_of_a_name(text, q):
        return False
    before = text.norm(q.start - 1)
    if before in text.trade.words["before_terminal"] or before in text.trade.words["jobs"]:
        return False
    if before in ("all", "both"):
        return False  # "600 newton metres, all ten"
    # "nuts, 16 off", "after fifty k"
    return not name_counted(text, q) and text.norm(q.end) not in ("off", "of", "times", "pieces", "k")


def _share(text: Text, quantities: list[Quantity], at: int) -> bool:
    """Whether the number at that place of `quantities` was given the unit of one beside it."""
    q = quantities[at]
    if _counts_what_follows(text, q):
        return False
    places = text.trade.words["places"]
    # the "two" of "two point five" is no place
    around = quantities[max(0, at - 3) : at + 4]
    values = {k for other in around if other.unit is not None for k in range(other.start, other.end)}
    near = (*range(max(text.sentence(q.start)[0], q.start - 4), q.start), *range(q.end, q.end + 3))
    near_q = [text.norm(k) for k in near if k not in values]
    for other in (*reversed(quantities[max(0, at - 3) : at]), *quantities[at + 1 : at + 4]):
        if other.unit is None or other.unit.quantity in _TAKEN_AT:
            continue
        if text.breath(other.start) != text.breath(q.start) or bounds(text, other.start):
            continue
        low, high = sorted(((q.start, q.end), (other.start, other.end)))
        span = text.norms[low[1] : high[0]]
        told = [text.norm(k) for k in range(low[1], high[0]) if k not in values]
        in_a_row = not span and other.start < q.start and _IN_A_ROW in _begins(q) & _begins(other)
        placed = len(span) <= 9 and not places.isdisjoint(told) and not places.isdisjoint(near_q)
        listed = span in (["and"], []) and other.start > q.start
        staged = other.start < q.start and other.unit.quantity == "torque" and span in _STAGES
        if in_a_row or placed or listed or staged:
            # "compression 28 27 28 19"; "sixty-two, sixty-four and sixty-six degrees"
            _borrow(text, q, other)
            if staged and text.goes_on(q.end) and text.component_at(q.end)[1]:
                q.doubts.append(f"{_UNSAID}: of what was spoken of before, or of what follows?")
            return True
    return False


#: Between the stages of a torque: "27 newton metres then 45".
_STAGES = (["then"], ["and", "then"], ["then", "to"], ["first", "then"], ["first", "and", "then"])
#: A larger number than this is hardly one of pieces that are told beside a reading.
_PIECES = 12


def _counts_what_follows(text: Text, q: Quantity) -> bool:
    """ "two push fittings", "three goes", "the one beside it": a small number with a word right behind it
    that tells no place is no value."""
    behind = text.norm(q.end)
    if not text.goes_on(q.end) or q.value > _PIECES or "." in q.number.text:
        return False
    pronoun = text.norms[q.start : q.end] == ["one"]
    known = text.trade.words["places"] if pronoun else text.trade.words["places"] | text.trade.stop
    return behind not in known and text.number(q.end) is None and not text.unit_follows(q.end)


#: How the doubt begins about numbers told one right after another.
_IN_A_ROW = "one of several numbers in a row"


def _begins(q: Quantity) -> set[str]:
    return {doubt.partition(":")[0] for doubt in q.doubts}


def _borrow(text: Text, q: Quantity, other: Quantity) -> None:
    """`q` is in the unit of `other`, and as doubtful as that is."""
    q.unit, q.borrowed = other.unit, True
    q.doubts += [doubt for doubt in other.doubts if doubt.startswith(_UNSAID)]
    _doubt_loose(text, q)


#: How the doubt begins where a unit was taken from elsewhere.
_UNSAID = "no unit was said"


def take_units(text: Text, quantities: list[Quantity]) -> None:
    """Numbers without a unit, where it can be told.

    A word before them names it ("charging at twenty-eight four"), a change leads on from a reading ("from
    4.8 bar to 0.9"), or the same thing was measured before: that is doubted.
    """
    before: list[Quantity] = []
    volts: Unit | None = None
    for at, q in enumerate(quantities):
        last = quantities[at - 1] if at else None
        if last is not None and last.unit is not None and last.role != "condition":
            if last.unit.quantity != "time":
                before.append(last)
            if last.unit.ucum == "V":
                volts = last.unit
        if q.unit is not None or q.high is not None or bounds(text, q.start) or _part_of_a_name(text, q):
            continue
        if _bounded_after(text, q) or _digits_apart(text, q):
            continue
        labelled = text.norm(q.start - 1) in text.trade.words["before_no_value"] and not no_label(
            text, q.number
        )
        if labelled or (q.end < len(text.norms) and name_counted(text, q)):
            continue
        counted = text.norm(q.end) in text.trade.words["after_a_count"] and text.tokens[q.end].gap < STOP
        planned = text.sense(q.start) is not None and not text.seen_to_move(q.start)
        if planned or counted:
            continue  # "nuts 12, all new"
        breath = text.breath(q.start)[0]
        start = max(breath, quantities[at - 1].end if at else 0, q.start - 10)
        decimal = "." in q.number.text
        at_speed = text.norm(q.start - 1) == "at" and q.value >= 400 and not decimal  # "at twelve hundred"
        at_speed = at_speed and not _tightened_at(text, q, before)
        named = text.find(text.trade.unnamed, start, q.start)
        if (
            named
            and not any(t.gap > NO_BREAK for t in text.tokens[named[-1][1] : q.start + 1])
            and (decimal or len(q.number.atoms) > 1 or is_reported(text, q) or named[-1][1] == q.start)
        ):
            q.unit = named[-1][2]
            q.named = (named[-1][0], named[-1][1])
            _split_volts(text, q, sure=True)
            continue
        same_breath = _last_since(before, breath)
        if (moved := _moved_on(text, q, before, start)) is not None and _possible(text, q, moved):
            q.unit = moved
            q.doubts.append(f"{_UNSAID}; {moved.ucum} as for the reading before")
            continue
        if same_breath and changed_to(text, same_breath, q):
            q.unit = same_breath.unit
            continue
        if last is not None and last.unit is not None and _is_now(text, last, q):
            q.unit = last.unit
            q.doubts.append(f"{_UNSAID}; {last.unit.ucum} as for the reading before")
            continue
        words = (
            set(text.norms[start : q.start])
            - text.trade.words["around_subject"]
            - text.trade.words["places"]
            - text.trade.stop
            - {"at"}
        )
        words |= _place_behind(text, q)
        doubt: Unit | None = None
        if same_breath and (decimal or is_reported(text, q)) and not at_speed:
            doubt = same_breath.unit
        for other in reversed(before):
            if doubt is not None or q.start - other.end > 150:
                break
            other_start = max(text.breath(other.start)[0], other.start - 10)
            shared = words & (
                (set(text.norms[other_start : other.start]) | _place_behind(text, other))
                - text.trade.words["around_subject"]
                - text.trade.stop
            )
            if at_speed and (other.unit is None or other.unit.quantity != "rotational speed"):
                continue
            if shared and (
                is_reported(text, q) or decimal or len(shared) >= 2 or _closed_or_condition(text, q)
            ):
                doubt = other.unit
        if doubt is None and volts is not None and said_like_volts(q):
            doubt = volts
        conditioned = text.find(text.trade.conditions, breath, min(q.end + 4, text.breath(q.start)[1]))
        alone = text.breath(q.start)
        if doubt is None and before and alone[1] - alone[0] <= 5 and "now" in text.norms[alone[0] : alone[1]]:
            doubt = before[-1].unit if q.start - before[-1].end < 30 else None  # "Now it's 26."
        if (
            doubt is None
            and decimal
            and (
                conditioned
                or {"now", "before", "after"} & set(text.norms[max(breath, q.start - 3) : q.end + 2])
            )
        ):
            doubt = before[-1].unit if before and q.start - before[-1].end < 60 else None
        if doubt is not None and (other_unit := _named_otherwise(text, q, start, doubt)):
            q.unit = other_unit
            _split_volts(text, q, sure=True)
            q.doubts.append(f"{_UNSAID}; {other_unit.ucum} for what is spoken of")
            continue
        said_of = _quantity_told(text, q, start)
        if doubt is not None and said_of is not None and said_of != doubt.quantity:
            doubt = next((o.unit for o in reversed(before) if o.unit and o.unit.quantity == said_of), doubt)
        if doubt is not None and not _possible(text, q, doubt):
            doubt = next(
                (one.unit for one in _spoken_of(text, q, start) if _possible(text, q, one.unit)), None
            )
            if doubt is None:
                continue
        if doubt is not None:
            q.unit = doubt
            _split_volts(text, q, sure=True)
            q.doubts.append(f"{_UNSAID}; {doubt.ucum} as for the reading before")
            continue
        nothing_named = not any(text.trade.components.at(text.norms, k)[1] for k in range(start, q.start))
        if (
            before
            and nothing_named
            and is_reported(text, q)
            and q.start - before[-1].end < 16
            and not at_speed
        ):
            spoken = {"we", "i", "i've", "now", "it", "it's", "only", "got"} & set(
                text.norms[start : q.start]
            )
            if spoken and _closed_or_condition(text, q):
                q.unit = before[-1].unit
                q.doubts.append("no unit was said; the same as for the reading before")
                continue
        if (sized := _alike_in_size(text, q, before)) is not None and not at_speed:
            q.unit = sized
            q.doubts.append(f"{_UNSAID}; {sized.ucum} as for a reading of about that size")
            continue
        other_one = before[-1].unit if before and _of_the_other_one(text, q, before[-1]) else None
        if other_one is not None:  # "left play 0.6 mm. Right is 0.1."
            q.unit = other_one
            q.doubts.append(f"{_UNSAID}; {other_one.ucum} as for the reading before")
            continue
        following = quantities[at + 1] if at + 1 < len(quantities) else None
        if (
            following is not None
            and following.unit is not None
            and following.start - q.end < 8
            and limit_before(text, following.start) is not None
        ):
            continue  # "one twenty. Should be sixty ohms": its limit tells
        like = (
            _counterpart(text, q, last, before) or _adjusted(text, q, before) or _next_torque(text, q, last)
        )
        if like is not None and not at_speed:
            q.unit = like
            _split_volts(text, q, sure=True)
            q.doubts.append(f"{_UNSAID}; {like.ucum} as for the reading before")
            continue
        thousand = text.trade.units.get("kOhm") if text.norm(q.end) == "k" and decimal else None
        if thousand is not None:
            q.unit, q.end = thousand, q.end + 1
            q.doubts.append("'k' was taken for kilo-ohms")
            continue
        implied = None if at_speed else _implied(text, q, start, quantities)
        if implied is not None:
            q.unit = implied
            _split_volts(text, q, sure=True)
            q.doubts.append(f"{_UNSAID}; {implied.ucum} for what is spoken of")


def _quantity_told(text: Text, q: Quantity, start: int) -> str | None:
    """The quantity that the words before a number name last: "fluid temp on the same route 92"."""
    words = text.trade.quantity_words
    return next((words[n] for n in reversed(text.norms[start : q.start]) if n in words), None)


def _is_now(text: Text, last: Quantity, q: Quantity) -> bool:
    """ "raise time was nine seconds, now five and a half": the same again, in the same unit."""
    between = text.norms[last.end : q.start]
    return (
        last.role == "value"
        and "now" in between
        and set(between) <= text.trade.words["around_subject"] | text.trade.words["fillers"]
        and text.breath(last.start) == text.breath(q.start)
        and not text.unit_follows(q.end)
    )


#: Quantities whose value may be negative: gauge pressure, what has a sign, what is told from a set point.
_SIGNED = frozenset(("pressure", "temperature", "voltage", "current", "ratio", "angle", "torque", "length"))


def _possible(text: Text, q: Quantity, unit: Unit) -> bool:
    """Whether a value may be in a unit that nobody said: -18 is no pressure in bar, and no volume."""
    signed = q.value >= 0 or unit.quantity in _SIGNED
    return signed and breached(text.trade, float(q.value), unit.ucum) is None


def _place_behind(text: Text, q: Quantity) -> set[str]:
    """The component that is named right behind a value as where it was taken: "24.1 on the coil"."""
    if not text.goes_on(q.end):
        return set()
    found = text.cue("readings.at", q.end)
    name = name_at(text, found[0], text.breath(q.start)[1]) if found is not None else None
    return {text.norm(name.end - 1)} if name is not None and name.kind is not None else set()


def _moved_on(text: Text, q: Quantity, before: list[Quantity], start: int) -> Unit | None:
    """ "tested to 1.1 bar. Drops to 0.7": a sentence that opens with how the value before it moved."""
    first = text.breath(q.start)[0]
    lead = text.norms[first : q.start]
    words = text.trade.words
    if not before or start > first or not 1 < len(lead) <= 4 or lead[-1] != "to":
        return None
    if lead[0] not in words["changes"] - {"down", "up", "lost"} and not (
        lead[0] == "it" and lead[1] in words["changes"]
    ):
        return None
    return before[-1].unit if q.start - before[-1].end <= _COUNTERPART else None


#: "It's 211 now" may be of what was measured so many tokens before.
_LONG_AGO = 200
#: … and was so many times as large or small at most.
_NEAR_IN_SIZE = 1.25


def _alike_in_size(text: Text, q: Quantity, before: list[Quantity]) -> Unit | None:
    """ "it's 211 and 209 now": the unit of the one reading of that size; the sentence names nothing."""
    first, end = text.breath(q.start)
    words = text.trade.words
    empty = words["around_subject"] | words["before_a_value"] | {"that's", "and", "or"}
    lead = [text.norm(k) for k in range(first, q.start) if text.number(k) is None]
    if (
        not {"it", "it's", "she's", "now", "that's"} & set(text.norms[first:end])
        or not set(lead) <= empty
        or q.value < 10
    ):
        return None
    if not (_closed_or_condition(text, q) or text.norm(q.end) == "and"):
        return None
    units = {
        o.unit.ucum: o.unit
        for o in _recent(before, q.start - _LONG_AGO)
        if o.unit is not None
        and q.start - o.end <= _LONG_AGO
        and o.value > 0
        and max(o.value, q.value) <= min(o.value, q.value) * Decimal(_NEAR_IN_SIZE)
    }
    return next(iter(units.values())) if len(units) == 1 else None


#: So many tokens back the other of two places may have been measured.
_COUNTERPART = 30
#: One of two alike is at most so many times as large as the other.
_ALIKE = 15


def _counterpart(text: Text, q: Quantity, last: Quantity | None, before: list[Quantity]) -> Unit | None:
    """ "top front pad is nine mil … the bottom one's at fifteen": the unit of the other of the two, or of
    what was told of the same place before."""
    told = _labels(text, q, last)
    if not told:
        return None
    for other in reversed(before):
        away = q.start - other.end
        if away > _LONG_AGO:
            return None
        if other.unit is None or other.unit.quantity == "time":
            continue
        low = max(text.breath(other.start)[0], other.start - 10)
        named = set(text.norms[low : other.start]) | set(text.norms[other.end : other.end + 3])
        pairs = (pair.split() for pair in text.trade.words["counterparts"])
        opposite = any((a in told and b in named) or (b in told and a in named) for a, b in pairs)
        if (opposite and away <= _COUNTERPART) or told & named:
            sizes = sorted((abs(q.value), abs(other.value)))
            if sizes[1] <= _ALIKE * sizes[0]:
                return other.unit
    return None


def _labels(text: Text, q: Quantity, last: Quantity | None) -> set[str]:
    """The words of place that stand alone before a number and say which of two it is of."""
    words = text.trade.words
    places = words["value_places"] | {w for pair in words["counterparts"] for w in pair.split()}
    around = words["around_subject"] | words["with_counterpart"] | words["before_a_value"] | places
    low = max(text.breath(q.start)[0], last.end if last is not None else 0)
    start = q.start
    while (
        start > low
        and text.norm(start - 1) in around
        and (start == q.start or text.tokens[start].gap == NO_BREAK)
    ):
        start -= 1
    whole = start == low or text.tokens[start].gap > NO_BREAK
    ahead = text.norm(q.end) in places | words["with_counterpart"] or text.norm(q.end) == "at"
    return set(text.norms[start : q.start]) & places if whole and (_closed(text, q.end) or ahead) else set()


def _adjusted(text: Text, q: Quantity, before: list[Quantity]) -> Unit | None:
    """ "wound it back to 5.3", "set it at two eight five": what was put right is in the unit of the reading
    that was not."""
    if text.norm(q.end) == "point":
        return None  # "shimmed it to one point too"
    lead = text.norms[max(text.clause(q.start)[0], q.start - _LEAD) : q.start]
    if not before or not lead or lead[-1] not in ("to", "at") or q.start - before[-1].end > _COUNTERPART * 4:
        return None
    words = text.trade.words
    if not words["adjusts"] & set(lead) or not {"it", "them", "that", "both"} & set(lead):
        return None
    sizes = [
        (max(abs(o.value), abs(q.value)) / min(abs(o.value), abs(q.value)), -o.start, o.unit)
        for o in _recent(before, q.start - _COUNTERPART * 4)
        if o.value and q.value and o.unit is not None and q.start - o.end <= _COUNTERPART * 4
    ]
    nearest = min(sizes, key=lambda one: one[:2], default=None)
    return nearest[2] if nearest is not None and nearest[0] <= 2 else None


#: So many tokens before a number the verb that put a thing to it may stand.
_LEAD = 6


def _next_torque(text: Text, q: Quantity, last: Quantity | None) -> Unit | None:
    """ "bolts 75 newton metres main cable fourteen": a component and a number, right after a torque."""
    if last is None or last.unit is None or last.unit.quantity != "torque" or not _closed(text, q.end):
        return None
    start = last.end
    while start < q.start and text.norm(start) in text.trade.words["before_a_value"] | {"and", "the", "then"}:
        start += 1
    name = name_at(text, start, q.start) if start < q.start else None
    end = q.start
    while end > start and text.norm(end - 1) in text.trade.words["before_a_value"] | {"to"}:
        end -= 1
    whole = (
        name is not None and name.kind not in (None, "everything") and name.end == end and name.count is None
    )
    return last.unit if whole and text.breath(last.start) == text.breath(q.start) and q.value >= 4 else None


def _digits_apart(text: Text, q: Quantity) -> bool:
    """ "two clamps 1 2 5": figures one by one are a string that was spelled, and no value."""
    figures = text.norms[q.start : q.end]
    return len(figures) >= 3 and all(len(f) == 1 and f.isdigit() for f in figures)


def _tightened_at(text: Text, q: Quantity, before: list[Quantity]) -> bool:
    """ "nuts at five hundred", "calipers on at 225 foot pounds and wheels on at four fifty": a torque."""
    near = before[-1] if before else None
    torque = near is not None and near.unit is not None and near.unit.quantity == "torque"
    if torque and near is not None and text.breath(near.start) == text.breath(q.start):
        return True
    named = text.ends_at(text.trade.components, q.start - 1, 4)
    return named is not None and named[1][0] in text.trade.kinds["fastening"]


#: So many tokens after a reading the same of the other side may be told.
_OTHER_SIDE = 16


def _of_the_other_one(text: Text, q: Quantity, before: Quantity) -> bool:
    """A sentence of nothing but a place and the number: "Right is 8.", "The other side is at 5"."""
    start = text.breath(q.start)[0]
    words = text.trade.words
    lead = set(text.norms[start : q.start])
    places = lead & (words["value_places"] | words["other_one"])
    rest = lead - places - words["around_subject"] - words["other_one"] - text.trade.stop - {"side", "one"}
    rest -= words["for_comparison"]
    if "side" in lead and len(rest) <= 1:
        places, rest = places | rest, set()  # "on the ground side, 0.15"
    near = q.start - before.end <= _OTHER_SIDE and before.role != "condition"
    closed = _closed_or_condition(text, q) or text.norm(q.end) in ("is", "so", "that's")
    low, high = sorted((abs(q.value), abs(before.value)))
    alike = low > 0 and high <= _ALIKE * low
    return (
        alike
        and bool(places)
        and not rest
        and near
        and closed
        and (is_reported(text, q) or "." in q.number.text)
    )


#: So few tokens before a number what tells its unit counts for more than the reading before it.
_RIGHT_BEFORE = 3


def _spoken_of(text: Text, q: Quantity, start: int) -> list[Implied]:
    """The units that words right beside a number tell."""
    low = max(start, q.start - _RIGHT_BEFORE)
    return [
        one
        for one in text.trade.implied
        if text.find(one.near, low, q.start) or text.find(one.near, q.end, q.end + 1)
    ]


def _named_otherwise(text: Text, q: Quantity, start: int, unit: Unit) -> Unit | None:
    """ "hub nut 100 newton metres, end float 0.05": what is named right before is in no newton metres.

    Only where the reading before was a torque, or this one is the speed of something that turns: these are
    named by what no other quantity is said of.
    """
    decimal = "." in q.number.text or said_like_volts(q)
    near = _spoken_of(text, q, start)
    if q.named is not None or any(one.unit.quantity == unit.quantity for one in near):
        return None
    for one in near:
        fits = one.min <= float(q.value) <= one.max and (decimal or not one.decimal)
        if fits and (unit.quantity == "torque" or one.unit.quantity == "rotational speed"):
            return one.unit
    return None


def _closed_or_condition(text: Text, q: Quantity) -> bool:
    return (
        _closed(text, q.end)
        or text.norm(q.end) == "at"
        or bool(text.trade.conditions.at(text.norms, q.end)[1])
    )


def _implied(text: Text, q: Quantity, start: int, quantities: list[Quantity]) -> Unit | None:
    """The unit that what is spoken of tells: "cut out eight point five", "nuts to six hundred"."""
    decimal = "." in q.number.text or said_like_volts(q)
    if set(text.norms[text.clause(q.start)[0] : q.start]) & text.trade.words["modal"]:
        return None  # "should cut out at eight five": a limit, and no reading
    hundreds = said_in_hundreds(q)
    if not decimal and not hundreds and not (q.number.exact and abs(q.value) >= 10):
        return None
    placed = text.norm(q.end) in text.trade.words["value_places"]
    in_a_row = _IN_A_ROW in _begins(q)
    timed = _timed_behind(text, q, quantities)
    if not (decimal or placed or in_a_row or timed or _closed(text, q.end) or is_reported(text, q)):
        return None
    end = q.end
    if not timed and text.norm(end) in ("on", "at", "across", "from", "in") and not decimal and not hundreds:
        return None
    stop = min(text.sentence(q.start)[1], q.end + 6)
    for k in range(q.end, stop):
        if text.tokens[k].gap > NO_BREAK or text.number(k) is not None:
            stop = k
            break
    value = float(q.value)
    if said_like_volts(q):
        value = float(".".join(q.number.atoms))
    best: tuple[int, Unit] | None = None
    for one in text.trade.implied:
        if not one.min <= value <= one.max or (one.decimal and not decimal):
            continue
        if hundreds and one.decimal:
            continue
        if said_like_volts(q) and not one.decimal and not q.number.exact and one.unit.ucum != "bar":
            continue
        for low, high in ((start, q.start), (q.end, stop)):
            for i, _, _ in text.find(one.near, low, high):
                away = min(abs(i - q.start), abs(i - q.end))
                if best is None or away < best[0]:
                    best = (away, one.unit)
    if best is None:
        return None
    unit = best[1]
    for at in range(bisect_left(quantities, q.start, key=lambda o: o.start) - 1, -1, -1):
        o = quantities[at]
        if o.unit is not None and o.unit.quantity == unit.quantity and o.end <= q.start and not o.borrowed:
            return o.unit
    return unit


def _timed_behind(text: Text, q: Quantity, quantities: list[Quantity]) -> bool:
    """ "pulled down to minus 20 in one hour fifty": how long it took follows."""
    at = bisect_left(quantities, q.end, key=lambda o: o.start)
    behind = quantities[at] if at < len(quantities) else None
    return (
        text.norm(q.end) in ("in", "within", "after")
        and behind is not None
        and behind.start == q.end + 1
        and behind.unit is not None
        and behind.unit.quantity == "time"
    )


def said_in_hundreds(q: Quantity) -> bool:
    """ "six fifty", "two ten": how hundreds are said."""
    atoms = q.number.atoms
    return len(atoms) == 2 and len(atoms[0]) == 1 and len(atoms[1]) == 2 and q.value >= 100


def _doubt_loose(text: Text, q: Quantity) -> None:
    """A number that can be read in more than one way, with a unit from elsewhere, is for a person."""
    if not q.number.exact:
        q.doubts.append(f"the number '{text.said(q.start, q.end)}' can be read in more than one way")


def _bounded_after(text: Text, q: Quantity) -> bool:
    """ "50 allowed": a word of limit that closes the number, rather than opening the next."""
    i = q.end
    if not text.goes_on(i):
        return False
    placed = text.norm(q.start - 1) in text.trade.words["value_places"]
    if placed and text.cue("limits.judged_after", i) is not None:
        return False  # "front left 8.4 is ok"
    for role in ("max_after", "min_after", "nominal_after"):
        found = text.cue(f"limits.{role}", i)
        if (
            found
            and text.number(found[0]) is None
            and text.norm(found[0]) not in ("is", "of", "was", "should")
        ):
            return True
    return False


#: No value takes more tokens.
_LONGEST = 60


def _recent(before: list[Quantity], end: int) -> list[Quantity]:
    """Those of `before`, and no earlier ones, that may end at token `end` or later."""
    return before[bisect_left(before, end - _LONGEST, key=lambda o: o.start) :]


def _last_since(quantities: list[Quantity], start: int) -> Quantity | None:
    """The last one from token `start` on that is no speed."""
    for q in reversed(quantities):
        if q.start < start:
            return None
        if q.unit is not None and q.unit.quantity not in ("rotational speed", "speed"):
            return q
    return None


def _closed(text: Text, i: int) -> bool:
    return (
        i >= len(text.tokens)
        or text.tokens[i].gap > NO_BREAK
        or text.norm(i) in ("now", "before", "after")
        or (text.norm(i) == "and" and text.opens_clause(i))
    )


def _split_volts(text: Text, q: Quantity, *, sure: bool) -> None:
    if said_like_volts(q):
        value = ".".join(q.number.atoms)
        q.value, q.number = Decimal(value), replace(q.number, value=Decimal(value), text=value, exact=True)
    elif not q.number.exact and sure:
        q.doubts.append(f"the number '{text.said(q.start, q.end)}' can be read in more than one way")

"""Time: labour said per operation, and the clock started, paused, resumed, stopped."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import ROUND_HALF_UP, Decimal

from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK, STOP
from jobnotes.record import Clock, LabourSaid


_FRACTIONS = (
    (("and", "a", "half"), Decimal("0.5")),
    (("and", "a", "quarter"), Decimal("0.25")),
    (("and", "three", "quarters"), Decimal("0.75")),
    (("and", "three", "quarter"), Decimal("0.75")),
)


def duration(text: Text, i: int) -> tuple[Decimal, int] | None:
    """(hours, end) of the span of time that starts at `i`: "one hour forty", "90 minutes", "half an hour"."""
    bare = (
        text.norm(i) == "hour"
        and text.norm(i + 1) == "and"
        and text.norm(i - 1) not in ("per", "every", "the")
    )
    if bare or (text.norm(i) in ("an", "a") and text.norm(i + 1) == "hour"):
        hours: Decimal = Decimal(1)
        end = i + (1 if bare else 2)
        for words, more in _FRACTIONS:
            if tuple(text.norms[end : end + len(words)]) == words:
                return hours + more, end + len(words)
        return _minutes_after(text, hours, end)
    number = text.number(i)
    if number is None:
        return None
    j = number.end
    value = number.value
    for words, more in _FRACTIONS:
        if tuple(text.norms[j : j + len(words)]) == words and value == value.to_integral_value():
            value, j = value + more, j + len(words)  # "four and three quarter hours"
            break
    if text.norm(j) in ("of", "a", "an"):
        j += 1
    found, meanings = text.trade.unit_forms.at(text.norms, j)
    if not meanings or meanings[0][0].ucum not in ("h", "min"):
        return None
    if meanings[0][0].ucum == "min":
        return (value / 60).quantize(Decimal("0.01"), ROUND_HALF_UP), found
    atoms = number.atoms
    if len(atoms) == 2 and len(atoms[0]) <= 2 and len(atoms[1]) == 2 and int(atoms[1]) < 60:
        clocked = Decimal(atoms[0]) + Decimal(atoms[1]) / 60  # "2:45 hours"
        return clocked.quantize(Decimal("0.01"), ROUND_HALF_UP), found
    if (
        text.norm(found) == "and"
        and text.norm(found + 1) == "a"
        and text.norm(found + 2) in ("half", "quarter")
    ):
        return value + (Decimal("0.5") if text.norm(found + 2) == "half" else Decimal("0.25")), found + 3
    return _minutes_after(text, value, found)


def _unnamed(text: Text, i: int) -> tuple[Decimal, int] | None:
    """ "labour naught point eight": hours that go unnamed, right after a word of labour, as a decimal."""
    found = text.ends_at(text.trade.cue["labour.strong"], i, 4)
    number = text.number(i) if found else None
    if number is None or "." not in number.text or not 0 < number.value < 24:
        return None
    if text.trade.unit_forms.at(text.norms, number.end)[1]:
        return None
    return number.value, number.end


def _minutes_after(text: Text, hours: Decimal, end: int) -> tuple[Decimal, int]:
    j = end + 1 if text.norm(end) == "and" else end
    if j < len(text.tokens) and text.tokens[j].gap == NO_BREAK and hours == hours.to_integral_value():
        rest = text.number(j)
        if rest is not None and rest.value < 60:
            unit, meanings = text.trade.unit_forms.at(text.norms, rest.end)
            named = bool(meanings) and meanings[0][0].ucum == "min"
            if named or (not meanings and text.norm(end) != "and"):
                total = hours + rest.value / 60
                return total.quantize(Decimal("0.01"), ROUND_HALF_UP), unit if named else rest.end
    return hours, end


def labour(text: Text) -> Iterator[Draft]:
    """Hours said with a word of labour near them, with the operation they were for."""
    i = 0
    last_end: int | None = None
    while i < len(text.tokens):
        span = duration(text, i) if not text.claimed[i] else None
        if span is None and not text.claimed[i]:
            span = _unnamed(text, i)
        if span is None:
            i += 1
            continue
        hours, end = span
        start, stop = max(text.sentence(i)[0], last_end or 0), text.breath(i)[1]
        near = last_end is not None and i - last_end <= 5
        if _is_labour(text, start, i, end, stop) or (near and _only_named(text, i, end)):
            last_end = end
            operation, op_end, op_start = _operation(text, start, i, end, stop)
            doubts = [] if Decimal("0") < hours <= 24 else [f"{hours} hours in one go is unusual"]
            yield Draft(
                LabourSaid(hours.normalize() + 0 if hours == hours.to_integral_value() else hours, operation),
                min(op_start, i),
                max(op_end, end),
                score=0.94,
                doubts=tuple(doubts),
                keys=((i, end),),
            )
            text.claim(i, end)
        i = end


def _is_labour(text: Text, start: int, i: int, end: int, stop: int) -> bool:
    trade = text.trade
    if text.sense(i, ("condition", "question")) is not None:
        return False
    if text.norm(i - 1) in text.trade.words["before_no_labour"] or text.norm(end) in (
        "ago",
        "later",
    ):
        return False
    strong = text.find(trade.cue["labour.strong"], max(start, i - 8), i)
    if (
        strong
        and all(text.norm(a) in ("took", "it", "that") for a, _, _ in strong)
        and _of_a_process(text, start, i, end)
    ):
        return False
    if strong:
        return not text.find(trade.cue["limits.max"], max(start, i - 3), i)
    if text.norm(end) in ("labour", "labor") or text.norms[end : end + 2] in (
        ["of", "labour"],
        ["of", "labor"],
    ):
        return True
    if text.find(trade.cue["identity.engine_hours"], max(start, i - 6), i) or text.cue(
        "identity.engine_hours_after", end
    ):
        return False
    after = text.norm(end)
    if after in text.trade.words["after_hours"] and i - start <= 3 and end < stop:
        verb = text.ends_at(trade.cue["readings.verbs"], i, 3)
        held = text.norms[max(start, i - 4) : i]
        return not any(w in ("held", "for", "in", "waiting", "wait") for w in held) and not (
            verb and verb[1] in ("at", "holds")
        )
    if after == "on" or (after == "total" and i - start < 5):
        return True
    # a sentence that says nothing but a span of time: "that'll be two hours", "2.75 hours"
    lead = text.norms[start:i]
    while end < stop and text.norm(end) in text.trade.words["labour_tail"]:
        end += 1
    closed = end >= stop or text.tokens[end].gap > NO_BREAK
    return closed and len(lead) <= 4 and all(w in text.trade.words["labour_lead"] for w in lead)


def _only_named(text: Text, i: int, end: int) -> bool:
    """ "… Repair, one and a half hours.": the next line of a list of hours."""
    start, stop = text.breath(i)
    return i - start <= 4 and end >= stop


def _of_a_process(text: Text, start: int, i: int, end: int) -> bool:
    """ "build-up took nine minutes, the limit is five": what the vehicle took, not the technician."""
    limit = any(text.cue(f"limits.{r}", k) for k in range(end, end + 3) for r in ("max", "min", "nominal"))
    return limit or any(
        w.startswith(tuple(text.trade.words["vehicle_process_stems"])) for w in text.norms[start:i]
    )


def _operation(text: Text, start: int, i: int, end: int, stop: int) -> tuple[str | None, int, int]:
    """(operation, end, start) said after or before the hours."""
    before = text.find(text.trade.cue["labour.strong"], start, i)
    begin = before[0][0] if before else i
    j = end
    while j < stop and text.norm(j) in text.trade.words["before_operation"]:
        if text.norm(j) == "and":
            break
        j += 1
    if j < stop and text.tokens[j].gap < STOP and text.norm(j) not in ("and", "i", "then"):
        last = j
        while last < stop and last - j < 10 and (text.tokens[last].gap == NO_BREAK or last == j):
            if duration(text, last) is not None:
                break
            last += 1
        while last > j and text.norm(last - 1) in ("and", "the"):
            last -= 1
        if last > j:
            return text.said(j, last), last, begin
    if before:
        k = before[-1][1]
        last = i
        while k < last and text.norm(k) in text.trade.words["after_labour"]:
            k += 1
        while last > k and text.norm(last - 1) in text.trade.words["operation_end"]:
            last -= 1
        if last > k and not all(
            w in text.trade.words["labour_lead"] or text.trade.cue["labour.cues"].at([w], 0)[1]
            for w in text.norms[k:last]
        ):
            return text.said(k, last), end, begin
        if before[0][0] > start:
            first = start
            while first < before[0][0] and text.norm(first) in text.trade.words["operation_start"]:
                first += 1
            if first < before[0][0]:
                return text.said(first, before[0][0]), end, first
    if before and before[0][0] == start:
        named = text.find(text.trade.cue["labour.operations"], start, i)
        return (text.said(named[0][0], named[0][1]) if named else None), end, begin
    first = start
    while first < i and text.norm(first) in text.trade.words["operation_lead"]:
        first += 1
    last = i
    while last > first and text.norm(last - 1) in text.trade.words["operation_tail"]:
        last -= 1
    return (text.said(first, last) if last > first else None), end, min(first, begin)


def clock(text: Text) -> Iterator[Draft]:
    i = 0
    last_pause: int | None = None
    while i < len(text.tokens):
        best: tuple[int, str] | None = None
        for action in ("pause", "resume", "start", "stop"):
            found = text.cue(f"clock.{action}", i)
            if found and (best is None or found[0] > best[0]):
                best = (found[0], action)
        if best is None or text.claimed[i]:
            i += 1
            continue
        end, action = best
        back = (
            text.norm(i) == "back"
            and text.tokens[i].gap == NO_BREAK
            and text.norm(i - 1) not in text.trade.words["before_back"]
            and i > 0
        )
        if back or text.sense(i, ("condition", "question", "plan")) is not None or text.negated_before(i):
            i = end
            continue
        reason = None
        stop = text.sentence(i)[1]
        last = end
        if action == "pause":
            j = end
            while j < stop and text.norm(j) in text.trade.words["pause_lead"]:
                j += 1
            if text.norm(j) in ("at", "from", "until", "till") and (told := text.number(j + 1)) is not None:
                j = told.end  # "pausing at three fifteen, waiting for …": the time is no reason
                while j < stop and text.norm(j) in ("the", "for", "while", "because", "to"):
                    j += 1
            if j < stop and text.tokens[j].gap < STOP:
                last = min(stop, j + 8)
                reason = text.said(j, last)
            elif text.norms[i:end][0] not in ("pause", "pausing", "paused"):
                reason = text.said(i, end)
        text.claim(i, end)
        if action == "pause" and last_pause is not None and i - last_pause <= 8:
            i = end
            continue
        last_pause = last if action == "pause" else None
        yield Draft(Clock(action, reason or None), i, last, 0.93)  # type: ignore[arg-type]
        i = end

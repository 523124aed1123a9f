"""Labour said per operation."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

from jobnotes.reading.job.hour_lists import PART_OF_THEM, hour_lists, part_of_the_whole
from jobnotes.reading.job.identity import MANY_HOURS, names_a_meter
from jobnotes.reading.speech.durations import duration, misheard_duration, plain_hours, unnamed_hours
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK, STOP
from jobnotes.record import LabourSaid

#: So many words before a word of labour may be the operation; more are other statements.
LONGEST_OPERATION = 10
#: So many tokens behind the hours of a job, a part of them is told.
_WITHIN = 12
#: Nobody writes down less than this, in hours.
SHORTEST = Decimal("0.08")


def labour(text: Text) -> Iterator[Draft]:
    """Hours said with a word of labour near them, with the operation they were for."""
    yield from hour_lists(text)
    i = 0
    last_end: int | None = None
    told_to = 0  # where what was told last with hours ends
    openers = {"hour", "a", "an", "quarter"} | text.trade.homophones.keys()
    while i < len(text.tokens):
        if not text.numeric[i] and text.norms[i] not in openers:
            i += 1  # most often
            continue
        one = text.norm(i) == "one" and text.norm(i - 1) in text.trade.words["before_pronoun_one"]
        if one and _a_span_follows(text, i + 1):
            i += 1  # "labour on this one, one hour ten", "it stays the old one two hours labour"
            continue
        span = duration(text, i) if not text.claimed[i] else None
        as_heard = span is None and not text.claimed[i]
        if as_heard:
            span = misheard_duration(text, i)
        as_heard = as_heard and span is not None
        unnamed = span is None
        if span is None and not text.claimed[i]:
            span = unnamed_hours(text, i)
        more = False
        told_short = None
        if unnamed and not text.claimed[i]:
            told_short = _put_down(text, i) or _short_list(text, i)
            span = told_short or span
        if span is None and not text.claimed[i] and last_end is not None and i - last_end <= 4:
            span = _more_hours(text, i) if text.breath(i) == text.breath(last_end - 1) else None
            more = span is not None
        if span is None:
            i += 1
            continue
        hours, end = span
        heard = _misheard_before(text, i)
        if heard is not None:
            hours, i = hours + heard, i - 2  # "labour too and a half hours"
        start, stop = max(text.sentence(i)[0], last_end or 0), text.breath(i)[1]
        while text.claimed[start] and start < i:
            start += 1  # "off at 8:50, 1.8 hours"
        near = last_end is not None and (i - last_end <= 5 or 0 <= i - told_to <= 1)
        waited = set(text.norms[start:i]) & text.trade.words["waited"]
        if waited and not text.find(text.trade.cue["labour.strong"], start, i):
            i = end
            continue
        if (
            more
            or told_short is not None
            or (as_heard and text.norm(i - 1) in ("labour", "labor"))
            or _is_labour(text, start, i, end, stop)
            or (near and _goes_on(text, i, end))
        ):
            operation, op_end, op_start = _operation(text, start, i, end, stop)
            told_to = max(end, op_end)
            if unnamed and operation_before(text, start, i) is not None:
                operation, op_end, op_start = operation_before(text, start, i), end, start
            doubts = [] if SHORTEST < hours <= 24 else [f"{hours} hours in one go is unusual"]
            doubts += _doubts(text, start, i, end)
            if last_end is not None and i - last_end <= _WITHIN and part_of_the_whole(text, i, end):
                doubts.append(PART_OF_THEM)
            if told_short is not None:
                operation, op_end = _for_what(text, end)
                doubts.append("no hours were said: is it labour?")
            number = text.number(i)
            by_sound = (
                number is not None and not number.exact and {*text.norms[i:end]} & {*text.trade.homophones}
            )
            if (heard is not None or as_heard or by_sound) and told_short is None:
                doubts.append(f"the hours were heard as '{text.said(i, end)}'")
            instead = _put_right(text, end, stop)
            if instead is not None:
                told = text.said(instead[1], instead[2])
                doubts.append(f"'{told}' was said after it: which hours count?")
                op_end = min(op_end, end)
                operation = None if op_start >= i else operation
            yield Draft(
                LabourSaid(plain_hours(hours), operation),
                min(op_start, i),
                max(op_end, end),
                score=0.94,
                doubts=tuple(doubts),
                keys=((i, end),),
            )
            text.claim(i, end)
            last_end = end
            if instead is not None:
                value, first, last = instead
                doubt = f"'{text.said(i, end)}' was said before it: which hours count?"
                yield Draft(LabourSaid(value), first, last, 0.9, (doubt,), keys=((first, last),))
                text.claim(first, last)
                end = last
        elif not unnamed and not as_heard and _perhaps_worked(text, i, end, hours):
            yield Draft(
                LabourSaid(hours.normalize() + 0), i, end, 0.7, (_NOT_CALLED_LABOUR,), keys=((i, end),)
            )
            text.claim(i, end)
            last_end = end
        i = end


def _a_span_follows(text: Text, i: int) -> bool:
    """A number of its own, or an hour, right behind "one": "that's this one an hour and ten"."""
    number = text.number(i) is not None and text.norm(i) != "point"
    return number or text.norms[i : i + 2] in (["an", "hour"], ["a", "hour"])


_NOT_CALLED_LABOUR = "nobody called it labour: was it worked?"


def _perhaps_worked(text: Text, i: int, end: int, hours: Decimal) -> bool:
    """ "four hours and that's with brewing up": hours that open a breath, late in the job."""
    words = text.trade.words
    if not SHORTEST < hours <= 24 or not words["hour_words"] & set(text.norms[i:end]):
        return False
    start = text.breath(i)[0]
    opens = set(text.norms[start:i]) <= words["labour_lead"] | {"and"}
    stops = text.cue("clock.stop", end) is not None  # "… three point seven hours clock me out"
    told_last = text.norm(end) in ("done", "finished") and end + 1 >= text.breath(i)[1]
    in_all = text.norm(end) in ("all", "in") and text.norm(end + 1) in ("up", "told", "in", "all", "total")
    opens = opens or stops or told_last or in_all  # "three hours twenty done", "nine and a half hours all up"
    late = 2 * i > len(text.tokens)
    until = min(text.breath(i)[1], end + 5)
    behind = set(text.norms[end:until]) & words["not_worked"] and not stops
    other = text.norm(end) in words["no_hours_of_work"] or behind
    sense = text.sense(i, ("condition", "question")) is None
    return opens and late and sense and not other and not _of_a_process(text, start, i, end)


#: So many tokens after hours, others may be told in their place.
_PUT_RIGHT = 14


def _put_right(text: Text, end: int, stop: int) -> tuple[Decimal, int, int] | None:
    """(hours, start, end) of hours told in the place of those before, in words that tell no more of them:
    "five hours but the tea comes off so 4.5", "two hours, well, one and a half to be honest"."""
    for k in range(end, min(stop, end + _PUT_RIGHT)):
        if text.tokens[k].gap == STOP:
            return None
        number = text.number(k)
        if number is None:
            continue
        closed = number.end >= stop or text.tokens[number.end].gap > NO_BREAK
        closed = closed or text.cue("labour.put_right_after", number.end) is not None
        leads = text.norm(k - 1) in text.trade.words["puts_hours_right"]
        if leads and closed and SHORTEST < number.value <= 24:
            return number.value, k, number.end
        return None
    return None


def _doubts(text: Text, start: int, i: int, end: int) -> list[str]:
    """What speaks against a span of time as labour, though it was told like labour."""
    before = text.norms[max(start, i - 6) : i]
    after = text.norms[end : min(text.breath(i)[1], end + 6)]
    doubts: list[str] = []
    if "book" in before and {"time", "says", "gives", "allows", "is", "figure"} & set(before):
        doubts.append("book time: is it what was worked?")
    elif {"book", "booked", "booking"} & set(before) and before[-1:] == ["for"]:
        doubts.append("booked for so long: was it worked?")
    if {"tomorrow", "next", "other"} & set(after) and after[:1] != ["on"]:
        doubts.append("is it time still to come?")
    if after[:2] == ["of", "which"] and text.trade.words["waited"] & set(after):
        doubts.append("of which a part was told to be something else")
    if "of" in before and {"us", "them"} & set(before):
        doubts.append("several people: is it their time together?")
    if text.negated(end, min(end + 4, len(text.tokens))) or set(after[:1]) & text.trade.words["waited"]:
        doubts.append("was it worked?")
    if after[:1] == ["to"] and not _work_named(text, end + 1):
        doubts.append("what the job took, or what the vehicle took?")
    return doubts


def _work_named(text: Text, i: int) -> bool:
    """A verb of the trade at `i`, in any form: "to strip", "to find"."""
    named = text.norm(i) in text.trade.words["work_verbs"]
    return named or bool(text.steps_at(i)[1] or text.fittings_at(i)[1] or text.trade.splits.get(text.norm(i)))


def _is_labour(text: Text, start: int, i: int, end: int, stop: int) -> bool:
    trade, words = text.trade, text.trade.words
    if text.sense(i, ("condition", "question")) is not None:
        return False
    if text.norms[max(start, i - 2) : i] in (["i'll", "be"], ["we'll", "be"]):
        return False
    if text.norm(end) in ("on", "under") and text.norm(end + 1) in text.trade.words["held_on"]:
        return False  # "thirty minutes on vacuum and it held"
    if text.norm(i - 1) == "in" and i - 1 == text.breath(i)[0]:
        return False  # "in an hour it lost a litre"
    if text.norm(i - 1) == "in" and text.ends_at(text.trade.unit_forms, i - 1, 3) is not None:
        return False  # "12 mm in five minutes"
    if "inside" in text.norms[max(start, i - 2) : i]:
        return False  # "down to 0.6 inside of three minutes"
    if set(text.norms[start:i]) & trade.words["others_at_work"]:
        return False  # "it took the driver two hours"
    asked_for = text.ends_at(trade.cue["labour.strong"], i, 6) is not None  # "put me down for"
    ran = text.norm(i - 1) in ("in", "for") or not words["ran"].isdisjoint(text.norms[max(start, i - 3) : i])
    if not asked_for and ran and _run_on(text, end):
        return (
            False  # "it didn't come back in forty minutes on the dyno", "spun it ten minutes on the rollers"
        )
    inside = i > text.breath(i)[0] and not asked_for
    if (inside and text.norm(i - 1) in text.trade.words["before_no_labour"]) or text.norm(end) in (
        "ago",
        "later",
    ):
        return False
    strong = text.find(trade.cue["labour.strong"], max(start, i - 8), i)
    strong = [cue for cue in strong if not _of_another_quantity(text, cue[1], i)]
    if strong and (
        text.negated(max(start, strong[0][0] - 2), strong[0][0] + 1)
        or (text.norm(strong[0][0] - 1) == "on" and text.norm(strong[0][0]) == "charge")
    ):
        return False  # "no charge for the half hour", "on charge for two hours"
    if "quote" in text.norms[max(0, start - 1) : i]:
        return False
    if (
        strong
        and all(text.norm(a) in ("took", "it", "that") for a, _, _ in strong)
        and _of_a_process(text, start, i, end)
    ):
        return False
    until = min(stop, end + 5)
    until = next(
        (k for k in range(end, until) if text.tokens[k].gap > NO_BREAK or text.cue("clock.stop", k)), until
    )  # "1.7 hours labour clock off"
    rest = set(text.norms[end:until])
    if rest & text.trade.words["not_worked"] and not strong:
        return False  # "thirty minutes for the part", "half an hour for smoko"
    if strong:
        return not text.find(trade.cue["limits.max"], max(start, i - 3), i)
    if text.norm(i - 1) in ("time", "hours") and text.norm(i - 2) not in text.trade.words["times_of_things"]:
        # "section eight, time one point nine hours", "hours: 9.25 for the joint"
        return not _of_a_process(text, start, i, end)
    if text.norm(end) in ("labour", "labor") or text.norms[end : end + 2] in (
        ["of", "labour"],
        ["of", "labor"],
        ["is", "labour"],
        ["is", "labor"],
    ):  # "an hour's labour", but "no drop in ten minutes labour four point two hours"
        return duration(text, end + 1) is None or not _of_a_process(text, start, i, end)
    metered = text.find(trade.cue["identity.engine_hours"], max(start, i - 6), i)
    meter = text.cue("identity.engine_hours_after", end)
    if metered or (meter and not text.claimed[max(i - 1, 0)] and _metered(text, i, end, meter[0])):
        return False
    told = text.cue("labour.strong", end)
    if (
        told is not None
        and end < stop
        and text.norms[end] in ("that", "it", "labour", "labor", "to", "travel", "in")
    ):
        return not _of_a_process(text, start, i, end)  # "twenty five minutes that took me"
    after = text.norm(end)
    if after in text.trade.words["after_hours"] and i - start <= 3 and end < stop:
        verb = text.ends_at(trade.cue["readings.verbs"], i, 3)
        held = text.norms[max(start, i - 4) : i]
        if after == "to" and _of_a_process(text, start, i, end):
            return False  # "four minutes to build"
        return not any(w in ("held", "for", "in", "waiting", "wait") for w in held) and not (
            verb and verb[1] in ("at", "holds")
        )
    if after == "on" or (after == "total" and i - start < 5):
        return True
    first = max((k for k in range(start, i + 1) if text.tokens[k].gap > NO_BREAK), default=start)
    said_alone = set(text.norms[first:i]) <= trade.words["labour_lead"]
    if after == "with" and text.norm(end + 1) in trade.determiners and said_alone and end < stop:
        return True  # "two and a half hours with the press"
    if text.tokens[end].gap > NO_BREAK if end < stop else False:
        behind = text.norms[end : min(stop, end + 3)]
        if any(w.startswith(tuple(trade.words["vehicle_process_stems"])) for w in behind):
            return False  # "ten minutes, no drop": how long a test lasted
    # a sentence that says nothing but a span of time: "that'll be two hours", "2.75 hours"
    lead = text.norms[start:i]
    first = i
    while first > start and text.tokens[first].gap == NO_BREAK:
        first -= 1
    if first > start:  # "…, an hour and a half so far"
        lead = text.norms[first:i]
        held = text.norms[max(text.breath(i)[0], first - 6) : first]
        if any(w.startswith(("hold", "held")) for w in held):
            return False  # "holds one bar, ten minutes"
        if (
            text.norm(i - 1) in ("in", "for")
            or text.sense(i) is not None
            or text.sense(first - 1) is not None
        ):
            return False
    while (
        end < stop
        and text.norm(end) in text.trade.words["labour_tail"]
        and text.tokens[end].gap == NO_BREAK
        and not text.opens_sentence(end)
        and text.cue("clock.stop", end) is None
    ):
        end += 1
    closed = (
        end >= stop
        or text.tokens[end].gap > NO_BREAK
        or text.cue("clock.stop", end) is not None  # "right, two point two hours that clock off"
        or text.opens_sentence(end)
        or text.norm(end) == "but"
        or (text.norm(end) == "plus" and text.number(end + 1) is not None)
        or _more_follows(text, end, stop)
    )
    return closed and len(lead) <= 6 and all(w in text.trade.words["labour_lead"] for w in lead)


def _run_on(text: Text, i: int) -> bool:
    """ "on the rollers", "under load": what a vehicle is run on, so that a time right before is its own."""
    if text.norm(i) not in ("on", "under"):
        return False
    i += 1 + (text.norm(i + 1) in text.trade.determiners)
    return text.norm(i) in text.trade.words["run_on"] | text.trade.words["held_on"]


def _of_another_quantity(text: Text, start: int, end: int) -> bool:
    """ "charged it to 9 bar, lost 0.3 in five minutes": what was told of is no time."""
    for k in range(start, end):
        number = text.number(k)
        if number is not None and text.quantity_at(number.end) not in (None, "time"):
            return True
    return False


def _more_follows(text: Text, end: int, stop: int) -> bool:
    """ "half an hour and repair one hour", "an hour and three quarters and forty mile each way"."""
    if text.norm(end) not in ("and", "plus"):
        return False
    if any(duration(text, k) is not None for k in range(end + 1, min(end + 4, stop))):
        return True
    number = text.number(end + 1)
    unit = text.trade.unit_forms.at(text.norms, number.end)[1] if number is not None else ()
    return bool(unit) and unit[0][0].quantity == "distance"


def _metered(text: Text, i: int, end: int, meter: int) -> bool:
    """ "9,040 hours on the pump": a machine's, unlike "two hours on the pump" and "2.2 hours on this"."""
    span = duration(text, i)
    on_a_thing = text.norms[end:meter][:2] in (["on", "the"], ["on", "this"], ["on", "it"])
    on_a_thing = on_a_thing and not names_a_meter(text, end, meter)
    return not on_a_thing or span is None or span[0] >= MANY_HOURS


def _misheard_before(text: Text, i: int) -> Decimal | None:
    """The whole hours before "and a half", where they were heard as a word ("too", "for")."""
    if text.norms[i : i + 2] != ["a", "half"] or text.norm(i - 1) != "and":
        return None
    digit = text.trade.homophones.get(text.norm(i - 2))
    return Decimal(digit) if digit else None


def operation_before(text: Text, start: int, i: int) -> str | None:
    """ "labour: diag 0.5, strip 1.2": what stands right before hours that go unnamed."""
    first = i
    while first > start and text.tokens[first].gap == NO_BREAK and i - first < 3:
        word = text.norm(first - 1)
        if (
            word in text.trade.stop
            or word == "plus"
            or (
                text.trade.cue["labour.strong"].at([word], 0)[1]
                and not text.trade.cue["labour.operations"].at([word], 0)[1]
            )
        ):
            break
        if text.number(first - 1) is not None:
            break
        first -= 1
    return text.said(first, i) if first < i else None


#: A breath that lists hours so has at most so many tokens.
_LONGEST_LIST = 40
#: So many tokens after hours that were told what is to be put down may be said.
_PUT_DOWN = 14


def _put_down(text: Text, i: int) -> tuple[Decimal, int] | None:
    """ "two hours and a bit. Put two and a quarter.", "put 1.8 down": what goes on the bill, after hours."""
    number = text.number(i)
    opens = text.norm(i - 1) in ("put", "book", "charge", "say") and i - 1 == text.breath(i)[0]
    if number is None or not opens or not 0 < number.value < 24 or text.unit_follows(number.end):
        return None
    end = number.end + (text.norm(number.end) == "down")
    closed = not text.goes_on(end)
    first = max(0, i - 1 - _PUT_DOWN)
    told = any(duration(text, k) is not None for k in range(first, i - 1))
    return (number.value, number.end) if closed and told else None


def _short_list(text: Text, i: int) -> tuple[Decimal, int] | None:
    """ "one point one for the valve, point four for the diag": decimals, each for what was done."""
    start, stop = text.breath(i)
    if stop - start > _LONGEST_LIST or _entry(text, i, start, stop) is None:
        return None
    entries = [k for k in range(start, stop) if _entry(text, k, start, stop) is not None]
    if (
        len(entries) < 2
        or i not in entries
        or len(entries) != 1 + sum(text.tokens[k].gap > NO_BREAK for k in range(start + 1, stop))
    ):
        return None
    return _entry(text, i, start, stop)


def _entry(text: Text, i: int, start: int, stop: int) -> tuple[Decimal, int] | None:
    """A decimal below a day that opens its part of a list, and "for" with what it was for up to the next."""
    if i > start and text.tokens[i].gap == NO_BREAK:
        return None
    number = text.number(i)
    if (
        number is None
        or "." not in number.text
        or not 0 < number.value < 24
        or text.norm(number.end) != "for"
    ):
        return None
    end = next((k for k in range(number.end, stop) if text.tokens[k].gap > NO_BREAK), stop)
    named = end - number.end - 1
    return (number.value, number.end) if 0 < named <= _LONGEST_NAME + 1 else None


def _for_what(text: Text, end: int) -> tuple[str | None, int]:
    """What hours were for that is told right behind them, and where it ends."""
    if text.norm(end) != "for":
        return None, end
    first = end + 1
    while text.norm(first) in text.trade.determiners:
        first += 1
    last = next(
        (k for k in range(first, len(text.tokens)) if text.tokens[k].gap > NO_BREAK), len(text.tokens)
    )
    return (text.said(first, last), last) if first < last else (None, end)


def _more_hours(text: Text, i: int) -> tuple[Decimal, int] | None:
    """ "labour 2.1, plus 0.3 for the test": a decimal after hours that went unnamed too."""
    number = text.number(i)
    spelled_out = text.norm(i) in ("a", "half", "quarter", "three")
    if number is None or spelled_out or "." not in number.text:
        return None
    named = text.norm(i - 1).isalpha() and text.norm(i - 1) not in text.trade.stop
    if text.norm(i - 1) not in ("plus", "and") and not named:
        return None
    if text.unit_follows(number.end) or not 0 < number.value < 24:
        return None
    return number.value, number.end


def _goes_on(text: Text, i: int, end: int) -> bool:
    """ "… Repair, one and a half hours.", "plus 20 minutes cleaning up": the next of a list of hours."""
    start, stop = text.breath(i)
    start = max((k for k in range(start, i + 1) if text.tokens[k].gap > NO_BREAK), default=start)
    if text.norm(i - 1) in ("plus", "and", "another") or text.norm(i - 2) in ("plus", "and"):
        return True
    if text.norm(end) == "for" and text.norm(i - 1) not in ("in", "for", "after", "every", "within"):
        return True  # "three hours for the fifth wheel twenty minutes for the grease line"
    return i - start <= 4 and end >= stop


def _of_a_process(text: Text, start: int, i: int, end: int) -> bool:
    """ "build-up took nine minutes, the limit is five": what the vehicle took, not the technician."""
    limit = any(text.cue(f"limits.{r}", k) for k in range(end, end + 3) for r in ("max", "min", "nominal"))
    told = [*text.norms[start:i], *(text.norms[end + 1 : end + 3] if text.norm(end) == "to" else [])]
    return limit or any(w.startswith(tuple(text.trade.words["vehicle_process_stems"])) for w in told)


def _named_before(text: Text, k: int, last: int) -> str | None:
    """The operation between a word of labour, which ends at `k`, and its hours at `last`."""
    while k < last and text.norm(k) in text.trade.words["after_labour"]:
        k += 1
    while last > k and text.norm(last - 1) in text.trade.words["operation_end"]:
        last -= 1
    tells_nothing = all(
        w in text.trade.words["labour_lead"] or text.trade.cue["labour.cues"].at([w], 0)[1]
        for w in text.norms[k:last]
    )
    return None if tells_nothing else text.said(k, last)


#: So many words may name what hours were for, right before them.
_LONGEST_NAME = 4


def _own_name(text: Text, start: int, i: int) -> tuple[int, int] | None:
    """What stands between a break and the hours at `i`, where it names work: "diag one hour, …"."""
    first, last = i, i
    while first > start and text.tokens[first].gap == NO_BREAK:
        first -= 1
    first, last = _without_edges(text, first, last)
    names = set(text.norms[first:last]) - text.trade.words["labour_lead"] - text.trade.words["labour_words"]
    told = any(text.number(k) is not None or text.claimed[k] for k in range(first, last))
    return (first, last) if names and not told and last - first <= _LONGEST_NAME else None


def _without_edges(text: Text, first: int, last: int) -> tuple[int, int]:
    """Tokens `first` … `last` without the words that only lead to an operation or follow it."""
    while first < last and text.norm(first) in text.trade.words["operation_lead"]:
        first += 1
    while last > first and text.norm(last - 1) in text.trade.words["operation_tail"]:
        last -= 1
    return first, last


def _operation(text: Text, start: int, i: int, end: int, stop: int) -> tuple[str | None, int, int]:
    """(operation, end, start) said after or before the hours."""
    before = text.find(text.trade.cue["labour.strong"], start, i)
    begin = before[0][0] if before else i
    j = end
    while j < stop and text.norm(j) in text.trade.words["before_operation"]:
        if text.norm(j) == "and":
            break
        j += 1
    named_before = _named_before(text, before[-1][1], i) if before else None
    apart = j < stop and text.tokens[j].gap > NO_BREAK
    if apart and named_before is not None:
        return named_before, end, begin  # "labour, thermostat, two hours, clocking off"
    own = _own_name(text, start, i) if apart else None
    if own is not None and not _tells_of_another_thing(text, *own):
        return text.said(*own), end, own[0]  # "travel 1.5 hours, work on site 4 hours"
    if (
        j < stop
        and text.tokens[j].gap < STOP
        and text.norm(j) not in ("and", "plus", "i", "then")
        and text.cue("clock", j) is None
    ):
        last = j
        while last < stop and last - j < 10 and (text.tokens[last].gap == NO_BREAK or last == j):
            if duration(text, last) is not None or (last > j and text.opens_sentence(last)):
                break
            last += 1
        last = next((k for k in range(j, last) if text.norm(k) in text.trade.words["speakers"]), last)
        while last > j and text.norm(last - 1) in ("and", "the", "but"):
            last -= 1
        if apart and any(text.number(k) is not None for k in range(j, last)):
            last = j  # "labour 1.2, travelling 0.8": the next is another's
        if not text.trade.words["states"].isdisjoint(text.norms[j:last]):
            last = j  # "five hours all in the tank cap is missing"
        if last > j and not set(text.norms[j:last]) <= text.trade.words["labour_tail"]:
            return text.said(j, last), last, begin
    if before:
        if named_before is not None:
            return named_before, end, begin
        if before[0][0] > start:
            first = start
            while first < before[0][0] and text.norm(first) in text.trade.words["operation_start"]:
                first += 1
            if 0 < before[0][0] - first <= LONGEST_OPERATION:
                return text.said(first, before[0][0]), end, first
    if before and before[0][0] == start:
        named = text.find(text.trade.cue["labour.operations"], start, i)
        return (text.said(named[0][0], named[0][1]) if named else None), end, begin
    first, last = _without_edges(text, start, i)
    if first == last or _tells_of_another_thing(text, first, last):
        return None, end, begin
    return text.said(first, last), end, min(first, begin)


#: Headings of what is left for another time.
_FOR_LATER = ("headings.advisory", "headings.loose_end")


def _tells_of_another_thing(text: Text, first: int, last: int) -> bool:
    """ "do it next service one point seven hours labour": what stands before the hours is not their work."""
    ordered = any(m[0] == "ordered" for k in range(first, last) for m in text.fittings_at(k)[1])
    stated = any(
        text.norm(k) in text.trade.words["be_before_place"] | text.trade.words["speakers"]
        for k in range(first, last)
    )
    for_later = any(text.find(text.trade.cue[c], first, last) for c in _FOR_LATER)
    pronoun = text.norm(last - 1) in ("one", "it", "them", "that")  # "it stays the old one two hours labour"
    return (
        ordered
        or stated
        or for_later
        or pronoun
        or text.sense(first, ("plan", "condition", "question", "others")) is not None
    )

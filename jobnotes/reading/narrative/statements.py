"""The told part: complaint, cause, correction, finding, advisory, loose end, hazard, as text with its span.

A cause names a component and how it failed: one that doesn't, or that is a symptom or a code, is for a person
to check."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from jobnotes.reading.narrative.findings import (
    Covered,
    blurred_findings,
    described_findings,
    each_of_several,
    evidence,
    failed_alone,
    malfunctions,
    marked,
    missing_things,
    several_failed,
    unheaded_findings,
    what_failed,
)
from jobnotes.reading.narrative.headings import KEEPS_HEADING, heading_at, stands_alone
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import Statement, StatementKind


def statements(text: Text) -> Iterator[Draft]:
    """Statements under a spoken heading, then findings without one; each thing that was found is one."""
    for draft in _statements(text):
        yield from each_of_several(text, draft)


def _statements(text: Text) -> Iterator[Draft]:
    covered = Covered(len(text.tokens))
    told_last = list(_causes_told_last(text))
    headed = sorted((*told_last, *_headed(text, covered, told_last)), key=lambda d: d.start)
    for draft, following in zip(headed, [*headed[1:], None], strict=False):
        if following is None or not _told_again(draft, following):
            yield draft
    missing = list(missing_things(text))
    for draft in missing:
        if _after_putting_back(text, draft.start):
            covered.add(draft.start, draft.end)  # lost in the work: the vehicle hadn't that fault
    first = _first_complaint(text, covered)
    if first is not None:
        covered.add(first.start, first.end)
        yield first
    for start, end in malfunctions(text):
        if covered.any(start, end) or text.sense(start, ("condition", "question")):
            continue
        component, failure = what_failed(text, start, end)
        if component is not None:
            covered.add(start, end)
            yield Draft(Statement("finding", text.told(start, end), component, failure), start, end, 0.85)
    yield from missing
    for draft in (*_deduced(text, covered), *failed_alone(text, covered), *evidence(text, covered)):
        covered.add(draft.start, draft.end)
        yield draft
    yield from unheaded_findings(text, covered)
    for draft in list(marked(text, covered)):
        covered.add(draft.start, draft.end)
        yield draft
    yield from blurred_findings(text, covered)
    yield from described_findings(text, covered)


#: So many tokens may say how or where the thing failed that was found to be at fault.
_TOLD_ON = 8


def _deduced(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "it still drops so it's the rams, not the spool": what the technician concludes is the cause."""
    for i, norm in enumerate(text.norms):
        if norm != "so" or covered.any(i, i + 1):
            continue
        stop = min(text.breath(i)[1], i + 2 * _TOLD_ON)
        at = _it_is(text, i + 1, stop)
        if at is not None and text.norm(at) == "not":  # "so it's not the governor at all it's the pipe"
            following = next((k for k in range(at + 1, stop) if _it_is(text, k, stop) is not None), None)
            at = _it_is(text, following, stop) if following is not None else None
        if (
            at is None
            or text.norm(at) not in ("the", "its")
            or text.sense(i, ("condition", "question", "plan"))
        ):
            continue
        name = name_at(text, at, stop)
        if name is None or name.kind is None or name.pronoun or name.condition == "new":
            continue
        end = min((k for k in range(name.end, stop) if text.tokens[k].gap > NO_BREAK), default=stop)
        end = min(end, name.end + _TOLD_ON)
        if any(text.number(k) is not None or text.reports(k) for k in range(name.end, end)):
            continue
        last = next((k for k in range(name.end, end) if text.norm(k) == "not"), end)
        failure = what_failed(text, at, last)[1]
        if failure is None and (how := _how_it_failed(text, end)) is not None:
            end, failure = how
        doubts = () if failure is not None else ("the cause doesn't say how the component failed",)
        detail = Statement("cause", text.told(at, end), name.text, failure)
        yield Draft(detail, i, end, 0.85, doubts)


#: So many tokens a sentence has at most that only tells how what was named before it failed.
_HOW = 7


def _how_it_failed(text: Text, i: int) -> tuple[int, str] | None:
    """ "so it's the pump, it's worn": (end, failure) of what follows at `i`, where it tells no more."""
    if i >= len(text.tokens) or text.norm(i) not in ("it's", "it", "they're", "its"):
        return None
    end = text.breath(i)[1]
    stop = text.unbroken(i, end)
    if stop - i > _HOW or text.negated(i, stop) or text.sense(i) is not None:
        return None
    if any(text.component_at(k)[1] or text.number(k) is not None for k in range(i, stop)):
        return None
    found = text.find(text.trade.failures, i, stop)
    return (stop, str(found[-1][2])) if found else None


def _it_is(text: Text, i: int, stop: int) -> int | None:
    """Where "it's", "it is", "that's" or the like ends that begins at `i`."""
    if text.norm(i) in ("it's", "that's"):
        return i + 1 if i + 1 < stop else None
    said = text.norm(i) in ("it", "that") and text.norm(i + 1) in ("is", "was")
    return i + 2 if said and i + 2 < stop else None


def _after_putting_back(text: Text, i: int) -> bool:
    """Whether the sentence at `i` or the one before it tells of putting something back."""
    start = text.sentence(i)[0]
    start = text.sentence(start - 1)[0] if start else start
    return any(
        action in ("refitted", "reconnected", "tightened") and tense == "past"
        for k in range(start, i)
        for action, tense in text.steps_at(k)[1]
    )


def _causes_told_last(text: Text) -> Iterator[Draft]:
    """ "diaphragm split, that's the cause": what was told right before is the cause."""
    for i, j, _ in text.find(text.trade.cue["told_last.cause"], 0, len(text.tokens)):
        begin, end = text.breath(i)[0], i
        if begin == i and i > 0:
            begin = text.breath(i - 1)[0]
        if text.tokens[j - 1].text.endswith(":"):
            continue  # "This is the cause: hose is rubbing": it comes after
        if end - begin < 2 or text.sense(i, ("condition", "question")) or text.negated(max(begin, i - 2), i):
            continue
        if text.find(text.trade.cue["headings.cause"], begin, end):
            continue
        rest = (j, text.breath(j - 1)[1])
        if rest[1] - j > 1 and text.cue("headings.cause", i) and what_failed(text, *rest)[1] is not None:
            continue  # "that's your cause, collapsed suction hose": it comes after
        own = max(begin, text.sentence(end - 1)[0])
        begin = own if what_failed(text, own, end)[1] else begin
        if what_failed(text, begin, end)[1] is None:
            continue
        cause = _statement(text, "cause", begin, begin, end)
        if cause is not None:
            yield replace(cause, end=j)
    for at in range(2, len(text.stops)):
        i = text.stops[at - 1]
        if text.stops[at] == i + 1 and text.norm(i) == "cause" and _alone_at_the_end(text, at):
            begin = text.stops[at - 2]
            cause = _statement(text, "cause", begin, begin, i)
            if cause is not None:
                yield replace(cause, end=i + 1)


def _alone_at_the_end(text: Text, at: int) -> bool:
    """ "Pump shaft sheared. Cause. Cover off": the word is of what failed before it, not of the rest."""
    i = text.stops[at - 1]
    if text.tokens[i].text.endswith(":") or what_failed(text, text.stops[at - 2], i)[1] is None:
        return False
    end = text.stops[at + 1] if at + 1 < len(text.stops) else len(text.tokens)
    return what_failed(text, i + 1, end)[1] is None


def _headed(text: Text, covered: Covered, told_last: Sequence[Draft]) -> Iterator[Draft]:
    """Statements under a spoken heading; what `told_last` holds has its heading at its end."""
    for cause in told_last:
        covered.add(cause.start, cause.end)
    held = {k for cause in told_last for k in range(cause.start, cause.end)}
    free = 0
    for i in text.where("headings"):
        found = heading_at(text, i) if i >= free and i not in held else None
        if found is None:
            continue
        kind, body, begin, end = found
        if end <= body and not KEEPS_HEADING[kind]:
            free = body
            continue
        draft = _statement(text, kind, begin, body, end)
        if draft is not None:
            extended = kind in ("advisory", "loose_end") and draft.start < begin
            covered.add(begin if extended else draft.start, draft.end)  # what was found stays a finding too
            yield draft
            if kind == "cause" and stands_alone(text, begin, body):
                for more in _more_causes(text, end, held):
                    covered.add(more.start, more.end)
                    end = more.end
                    yield more
        free = body if kind == "finding" else end


def _more_causes(text: Text, start: int, held: Collection[int]) -> Iterator[Draft]:
    """ "Cause. The seal leaked. The hose chafed through.": each sentence of what failed, and how, is one."""
    while start < len(text.tokens):
        end = text.sentence(start)[1]
        failed = None not in what_failed(text, start, end)
        if not failed or any(k in held or heading_at(text, k) for k in range(start, end)):
            return
        draft = _statement(text, "cause", start, start, end)
        if draft is None:
            return
        yield draft
        start = end


def _told_again(draft: Draft, following: Draft) -> bool:
    """Whether the next statement says all of this one: "advisory. the bag is perished. it will need …"."""
    one, other = draft.detail, following.detail
    assert isinstance(one, Statement)
    assert isinstance(other, Statement)
    return one.kind == other.kind and draft.start < following.start and other.text.startswith(one.text)


def _statement(text: Text, kind: StatementKind, begin: int, body: int, end: int) -> Draft | None:
    if kind in ("advisory", "loose_end") and what_failed(text, begin, end)[0] is None and begin > 0:
        before = text.breath(begin - 1)
        if (
            begin == text.breath(begin)[0]
            and before[1] == begin
            and begin - before[0] <= 12
            and what_failed(text, *before)[0]
        ):
            begin = before[0]
        elif 0 < begin - (breath := text.breath(begin)[0]) <= 12 and what_failed(text, breath, end)[0]:
            begin = breath  # "return hose is chafed, not done, needs doing next week"
    if kind == "finding" and what_failed(text, body, end)[0] is None:
        breath = text.breath(begin)[0]
        if begin - breath <= 8 and what_failed(text, breath, end)[0]:
            begin = body = breath
    first = begin if KEEPS_HEADING[kind] and not stands_alone(text, begin, body) else body
    if kind == "cause" and begin < body and text.norm(body - 1) in ("by", "to") and begin != body:
        first = body
    if kind == "cause" and what_failed(text, first, end)[1] is None:
        end = _failed_so(text, end)
    while first + 2 < end and text.norm(first) in _POINTS and text.tokens[first + 1].gap == COMMA:
        first += 1  # "cable tied it, needs a sleeve"
    if kind in ("finding", "cause"):
        worked = _before_the_work(text, first, end)
        end = worked if worked < end else _where_it_is(text, first, end)
    said = text.told(first, end).strip()
    if not said:
        return None
    component, failure = what_failed(text, first, end)
    if kind == "finding" and component is None and failure is None and _only_numbers(text, first, end):
        return None
    doubts: list[str] = []
    score = 0.92
    if kind == "cause":
        if component is None and failure is None:
            doubts.append(
                "the cause names neither a component nor how it failed: a symptom or a code is not a cause"
            )
        elif component is None:
            doubts.append("the cause names no component")
        elif failure is None:
            doubts.append("the cause doesn't say how the component failed")
    if kind == "correction":
        doubts += (
            f"“{text.said(k, k + 3)} …” after a full stop: does it go on from what stands before it?"
            for k in range(first + 1, end)
            if text.tokens[k].gap == STOP and text.norm(k) in _joins_otherwise(text)
        )
    if end - first < 2 and kind in ("complaint", "correction", "finding", "cause"):
        doubts.append("very short: was more said?")
    return Draft(Statement(kind, said, component, failure), begin, end, score, tuple(doubts))


def _joins_otherwise(text: Text) -> frozenset[str]:
    """Words that a recogniser writes for the "and" that goes on with a correction."""
    return text.trade.words["goes_on_correcting"] - {"and"}


#: What ends the clause before a statement, rather than beginning it.
_POINTS = frozenset(("it", "them", "that", "those", "him", "her"))


def _before_the_work(text: Text, start: int, end: int) -> int:
    """Where what was found ends and what was done about it begins: "leak at the union, sealed it"."""
    for k in range(start + 2, end):
        if text.tokens[k].gap != COMMA or text.trade.failures.at(text.norms, k)[1]:
            continue
        told = text.reports(k) or (
            (name := name_at(text, k, end)) is not None and _done_to(text, name.end, end)
        )
        if told and None not in what_failed(text, start, k):
            return k
    return end


def _done_to(text: Text, i: int, end: int) -> bool:
    """Whether a verb of work, and no word of failure, follows a thing at `i`: "… , doser swapped"."""
    return text.goes_on(i) and i < end and text.reports(i) and not text.trade.failures.at(text.norms, i)[1]


#: So many tokens a sentence has at most that only tells where what was named before it is.
_PLACE = 7


def _where_it_is(text: Text, first: int, end: int) -> int:
    """Past "At the lower ball joint.", which a recogniser cut off what failed there; else `end` itself."""
    if end >= len(text.tokens) or text.norm(end) not in ("at", "on", "near", "behind", "under", "inside"):
        return end
    stop = text.breath(end)[1]
    if stop - end > _PLACE or any(t.gap for t in text.tokens[end + 1 : stop]) or any(text.claimed[end:stop]):
        return end
    name = name_at(text, end + 1, stop)
    place = name is not None and name.kind is not None and name.end == stop
    return stop if place and what_failed(text, first, end)[1] is not None else end


def _failed_so(text: Text, end: int) -> int:
    """Past "…, it's worn", right behind a cause that tells only what failed; else `end` itself."""
    if end >= len(text.tokens) or text.tokens[end].gap > COMMA or not text.opens_clause(end):
        return end
    stop = min(text.clause(end)[1], text.breath(end)[1])
    goes_on = (
        text.norm(end) in ("it's", "it", "they're", "they", "which")
        or text.norm(end) in text.trade.determiners
    )
    told = what_failed(text, end, stop)[1] is not None and text.sense(end) is None
    return stop if goes_on and told and not text.negated(end, stop) else end


def _inferred(text: Text, start: int, end: int) -> tuple[str, ...]:
    """What speaks against a complaint that nobody called one: a guess, a denial, another vehicle."""
    words = set(text.norms[start:end])
    guessed = words & text.trade.words["guesses"]
    denied = text.find(text.trade.sound, start + 2, end) or text.norms[end - 2 : end] == ["it", "isn't"]
    other = text.find(text.trade.cue["elsewhere.vehicle"], start, end)
    found = several_failed(text, start, end)
    if guessed or denied or other or found or {"or", "but"} & words or _measured(text, start, end):
        return (_NOT_CALLED_ONE,)
    return ()


def _bounded(text: Text, start: int, end: int) -> bool:
    """ "play at the rim 45 mm, limit 30": a reading with its limit, and no complaint."""
    roles = ("limits.max", "limits.min", "limits.nominal")
    return _measured(text, start, end) and any(text.find(text.trade.cue[r], start, end) for r in roles)


def _measured(text: Text, start: int, end: int) -> bool:
    """ "play at the kingpin was 0.6 mm" is a reading; "misfires at 1500 rpm" is none."""
    numbers = (
        text.number(k)
        for k in range(start, end)
        if text.norm(k - 1) not in text.trade.words["before_a_condition"]
    )
    return any(n is not None and n.end < end and text.unit_follows(n.end) for n in numbers)


def _only_numbers(text: Text, start: int, end: int) -> bool:
    """ "I like to see fifty-five to sixty-five": values, and nothing found."""
    i = start
    while i < end:
        number = text.number(i)
        if number is not None:
            i = max(number.end, text.trade.unit_forms.at(text.norms, number.end)[0])
        elif text.norm(i) in text.trade.words["range"]:
            i += 1
        else:
            return False
    return True


def _first_complaint(text: Text, covered: Covered) -> Draft | None:
    """A symptom told before any work, or with "the driver says" at its end, is what was complained of."""
    for i, j, _ in text.find(text.trade.cue["symptoms.said_last"], 0, len(text.tokens)):
        start, end = text.sentence(i)
        if text.norm(i - 1) == "no":
            continue  # "inspection, no complaint reported"
        if j >= end and i - start >= 2 and not covered.any(start, start + 1):
            return Draft(Statement("complaint", text.told(start, i)), start, end, 0.9)
        runs_on = (
            text.norm(i) in text.trade.words["told_by"] and text.norm(j) in text.trade.words["tells_more"]
        )
        if (
            j < end
            and runs_on
            and i - start > 2
            and text.sense(i) is None
            and not covered.any(start, start + 1)
        ):
            return Draft(Statement("complaint", text.told(start, i)), start, j, 0.88)
        between = j < end and text.tokens[i].gap > 0 and text.tokens[j].gap > 0 and i - start >= 2
        if between and not covered.any(
            start, start + 1
        ):  # "axle whine, says the driver, worst on the overrun"
            return Draft(Statement("complaint", text.told(start, end)), start, end, 0.88)
    headed = any(text.trade.cue["headings.complaint"].at(text.norms, a)[1] for a in covered.starts)
    done = 0
    start = 0
    while start < len(text.tokens) and done < (2 if headed else 3):
        first, end = text.sentence(start)
        start = end
        if all(text.claimed[first:end]):
            continue  # job number, meter reading: nothing is told yet
        done += 1
        if covered.any(first, end) or any(
            text.steps_at(k)[1] and text.steps_at(k)[1][0][1] == "past" and text.norm(k) != "back"
            for k in range(first, end)
        ):
            continue
        body = first
        while body < end and text.claimed[body]:
            body += 1
        found = text.find(text.trade.cue["symptoms.words"], body, end)
        found = [
            one
            for one in found
            if not text.negated(max(body, one[0] - 2), one[0])
            and not _at_pressure(text, one[1])
            and not all(text.claimed[one[0] : one[1]])  # "the mileage on the dash is …"
        ]
        alone = found and (found[0][0], found[0][1]) == (body, end)  # "Misfire."
        if (
            found
            and (end - body >= 2 or alone)
            and text.sense(found[0][0], ("condition", "question")) is None
            and not _bounded(text, body, end)
        ):
            last = end
            while last > body and text.claimed[last - 1]:
                last -= 1
            beside = any(
                (n := text.number(k)) is not None and n.end == found[0][0] for k in range(body, last)
            )
            doubts = (_NOT_CALLED_ONE,) if beside else _inferred(text, body, last)  # "pressure 240 stalled"
            return Draft(
                Statement("complaint", text.told(body, last), what_failed(text, body, last)[0]),
                body,
                last,
                0.85,
                doubts or (("very short: was more said?",) if alone else ()),
            )
    return None if headed else _perhaps_complained(text, covered)


def _at_pressure(text: Text, i: int) -> bool:
    """ "cuts out at 8.6 bar": what a governor does, and no complaint."""
    number = text.number(i + 1) if text.norm(i) == "at" else None
    return number is not None and text.quantity_at(number.end) == "pressure"


#: So many sentences a job has at least, of which the first may be a complaint that nobody called one.
_LEAST = 4


def _perhaps_complained(text: Text, covered: Covered) -> Draft | None:
    """ "wanders, needs two hands": where no complaint was told as one, what the job begins with may be it."""
    if len(text.sentences) < _LEAST:
        return None
    start = 0
    for _ in range(_OPENING):
        first, end = text.sentence(start)
        start = end
        for begin, stop in _unclaimed(text, first, end):
            if not covered.any(begin, stop) and _tells_of_trouble(text, begin, stop):
                said = text.told(begin, stop)
                component = what_failed(text, begin, stop)[0]
                return Draft(Statement("complaint", said, component), begin, stop, 0.7, (_NOT_CALLED_ONE,))
        if end >= len(text.tokens):
            break
    return None


#: So many sentences open a job.
_OPENING = 3
_NOT_CALLED_ONE = "nobody called it a complaint: is it one?"


def _unclaimed(text: Text, first: int, end: int) -> Iterator[tuple[int, int]]:
    """The stretches of a sentence that no number or name of the vehicle has used up."""
    begin = first
    for k in (*(k for k in range(first, end) if text.claimed[k]), end):
        if k - begin >= 2:
            yield begin, k
        begin = k + 1


def _tells_of_trouble(text: Text, begin: int, stop: int) -> bool:
    words = text.norms[begin:stop]
    if any(text.reports(k) or text.unit_follows(text.number_end(k)) for k in range(begin, stop)):
        return False
    if text.sense(begin) is not None or text.sense(stop - 1) is not None:
        return False
    private = text.find(text.trade.cue["private.open"], begin, stop)
    if private or what_failed(text, begin, stop)[1] is not None:
        return False  # for nobody, or what was found
    told_no_fault = text.find(text.trade.cue["codes.fault"], begin, stop) or words[0] in ("no", "did", "with")
    return bool(text.trade.words["trouble"] & set(words)) and not told_no_fault

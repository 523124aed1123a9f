"""Hours told as a list, each with what it was for: "drag link 1.4 hours, alignment 0.9 hours".

Only a breath that is nothing but such a list counts: what its parts are is then told by the whole of it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

from jobnotes.reading.speech.durations import duration, plain_hours
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.record import LabourSaid

#: A list has at most so many tokens; what hours were for, so many words before them, and so many behind.
_LONGEST, _BEFORE, _BEHIND = 40, 4, 6
#: Nobody works longer in a day.
_DAY = Decimal(24)
_NOT_CALLED_LABOUR = "nobody called it labour: was it worked?"
_NO_UNIT = "the unit of these hours was not said"


@dataclass(frozen=True, slots=True)
class _Entry:
    """The tokens of an amount of hours, what it is for, whether its unit and a link ("on") were said."""

    start: int
    end: int
    hours: Decimal
    named: bool
    linked: bool = False
    first: int = 0
    last: int = 0


def hour_lists(text: Text) -> Iterator[Draft]:
    """The hours of each breath that lists two or more of them, with their operations."""
    words = text.trade.words
    for start in (begin for opens in text.stops for begin in (opens, *_headings_within(text, opens))):
        stop = text.breath(start)[1]
        headed = _headed(text, start)
        hours = words["hour_words"] & set(text.norms[start:stop]) if stop - start <= _LONGEST else None
        if not hours and not headed:
            continue
        entries = _entries(text, start, stop)
        if entries is None or len(entries) < 2:
            continue
        if not any(e.named for e in entries) and text.norm(start) not in words["hours_unsaid"]:
            continue
        if not headed and 2 * stop < len(text.tokens):
            continue  # hours of work are told at the end of a job
        worked = headed or any(e.linked or _names_work(text, e) for e in entries)
        for n, entry in enumerate(entries):
            yield _draft(text, entry, worked, headed, None if n else start)
            text.claim(entry.start, entry.end)


PART_OF_THEM = "is it a part of the hours told before it?"


def part_of_the_whole(text: Text, start: int, end: int) -> bool:
    """Whether the hours at `start` … `end` are a part of those before, of which both would be charged: "three
    hours including half an hour diagnosis", "two hours in all, half an hour of that …"."""
    opens = text.norms[max(0, start - 3) : start]
    inside = any(" ".join(opens[k:]) in text.trade.words["hours_within"] for k in range(len(opens)))
    return inside or " ".join(text.norms[end : end + 2]) in text.trade.words["hours_of_that"]


def _headings_within(text: Text, start: int) -> Iterator[int]:
    """Where "labour" opens a list in the middle of a breath that told no hours before it."""
    words, (_, stop) = text.trade.words, text.breath(start)
    for k in range(start + 1, stop - 1):
        if text.norm(k) in words["hour_words"]:
            return
        if text.norm(k) in words["labour_words"] and text.tokens[k].gap == NO_BREAK:
            yield k
            return


def _headed(text: Text, start: int) -> bool:
    opens = text.cue("labour.strong", start)
    return opens is not None or text.norm(start) in text.trade.words["labour_words"]


def _names_work(text: Text, entry: _Entry) -> bool:
    words = text.trade.words
    told = text.norms[entry.first : entry.last]
    return bool(set(told) & (words["after_hours"] | words["work_verbs"] | words["names_of_work"]))


def _draft(text: Text, entry: _Entry, worked: bool, headed: bool, opens: int | None) -> Draft:
    """`opens` is where the list begins, for its first entry."""
    doubts = () if worked else (_NOT_CALLED_LABOUR,)
    heard = {*text.norms[entry.start : entry.end]} & {*text.trade.homophones}
    if heard:
        doubts = (*doubts, f"the hours were heard as '{text.said(entry.start, entry.end)}'")
    elif not entry.named and not headed and not entry.linked and not _names_work(text, entry):
        doubts = (*doubts, _NO_UNIT)
    if opens is None and part_of_the_whole(text, entry.start, entry.end):
        doubts = (*doubts, PART_OF_THEM)
    says_nothing = set(text.norms[entry.first : entry.last]) <= text.trade.words["labour_tail"]
    operation = None if says_nothing else text.said(entry.first, entry.last)
    first, last = (
        (min(entry.start, entry.first), max(entry.end, entry.last)) if operation else (entry.start, entry.end)
    )
    if opens is not None and headed and not operation:
        first = opens
    detail = LabourSaid(plain_hours(entry.hours), operation)
    return Draft(detail, first, last, 0.9, doubts, keys=((entry.start, entry.end),))


def _entries(text: Text, start: int, stop: int) -> list[_Entry] | None:
    """The entries of a list that fills tokens `start` … `stop`; None where anything else stands there."""
    k = _past_heading(text, start, stop)
    found: list[_Entry] = []
    while k < stop:
        before = k
        while k < stop and text.norm(k) in text.trade.words["joins_hours"]:
            k += 1
        first = k
        amount = _amount(text, k, stop, told=bool(found))
        while amount is None and k < stop and k - first < _BEFORE + 1 and _may_name(text, k):
            k += 1
            if k < stop and text.tokens[k].gap > NO_BREAK and text.norm(k - 1) not in ("labour", "time"):
                break
            amount = _amount(text, k, stop, told=bool(found)) if k < stop else None
        if amount is None:
            return found if len(found) > 1 and _told_to_its_end(text, before, stop) else None
        amount_end, hours, named = amount
        if text.claimed[k] or not 0 < hours <= _DAY or text.sense(k, ("plan", "question")) is not None:
            return None
        begin, last = _trimmed(text, first, k)
        entry = _Entry(k, amount_end, hours, named, False, begin, last)
        k = amount_end
        behind = _behind(text, k, stop)
        if behind is not None and (last == begin or text.norm(k) in _LINKS):
            linked = text.norm(k) in _LINKS
            begin, last = _trimmed(text, k + linked, behind)
            entry = _Entry(entry.start, entry.end, hours, named, linked, begin, last)
            k = behind
        if entry.first == entry.last and (found or first == start):
            return None  # but "labour 2 hours, travel half an hour"
        found.append(entry)
    return found


_LINKS = frozenset(("on", "for", "to", "of", "doing"))


def _past_heading(text: Text, start: int, stop: int) -> int:
    k = start
    while k < stop:
        cue = text.cue("labour.strong", k)
        operation = text.cue("labour.operations", k) is not None
        if cue is not None and not operation and cue[0] <= stop:
            k = cue[0]
        elif text.norm(k) in text.trade.words["labour_words"] | text.trade.words["opens_hours"]:
            k += 1
        else:
            break
    return k


def _may_name(text: Text, k: int) -> bool:
    norm, words = text.norm(k), text.trade.words
    return (
        not text.claimed[k]
        and text.number(k) is None
        and not norm.endswith("ed")
        and norm not in words["before_no_labour"] - words["names_of_work"]
        and norm not in words["not_worked"]
        and norm not in words["waited"]
        and norm not in words["does_by_itself"]
        and norm not in words["others_at_work"]
        and not text.negated(k, k + 1)
    )


def _behind(text: Text, k: int, stop: int) -> int | None:
    """The end of what the hours that end at `k` were for, told behind them; None where nothing is."""
    if k >= stop or text.tokens[k].gap > NO_BREAK:
        return None
    first = k + (text.norm(k) in _LINKS)
    last = first
    while last < stop and last - first < _BEHIND and (last == first or text.tokens[last].gap == NO_BREAK):
        if text.norm(last) in ("and", "plus") or _amount(text, last, stop, told=False) is not None:
            break
        within = text.norm(last) in _LINKS and last > first  # "second man for lifting"
        if not (within or _may_name(text, last) or text.norm(last) in text.trade.words["does_by_itself"]):
            return None
        last += 1
    goes_on = last < stop and text.tokens[last].gap == NO_BREAK and text.norm(last) not in ("and", "plus")
    if goes_on and _amount(text, last, stop, told=False) is None:
        return None
    return last if last > first else None


def _trimmed(text: Text, first: int, last: int) -> tuple[int, int]:
    words = text.trade.words
    while first < last and text.norm(first) in words["operation_lead"] | text.trade.determiners:
        first += 1
    while last > first and text.norm(last - 1) in words["operation_tail"]:
        last -= 1
    return first, last


def _amount(text: Text, k: int, stop: int, *, told: bool) -> tuple[int, Decimal, bool] | None:
    """(end, hours, whether their unit was said) of an amount at `k`; `told`: another was told before."""
    norms = text.norms
    if k >= stop:
        return None
    if norms[k : k + 3] == ["one", "half", "hour"]:
        return k + 3, Decimal("0.5"), True
    by_sound = norms[k] in text.trade.homophones and (
        norms[k + 1 : k + 2] == ["point"] or text.norm(k + 1) in text.trade.words["hour_words"] | {"and"}
    )
    span = duration(text, k, due=by_sound)
    if span is not None and span[1] <= stop:
        return span[1], span[0], True
    if by_sound and text.norm(k + 1) == "and":
        return None
    quarter = k + (norms[k] == "a")
    if told and norms[quarter : quarter + 1] == ["quarter"]:
        ends = not text.goes_on(quarter + 1) or text.norm(quarter + 1) in _LINKS
        return (quarter + 1, Decimal("0.25"), False) if ends else None  # "… and a quarter for filling"
    number = text.number(k, due=by_sound)
    if number is None or number.end > stop or text.unit_follows(number.end):
        return None
    if text.norm(number.end) in ("tenth", "tenths") and number.value < 10:
        return number.end + 1, number.value / 10, False
    part = norms[k] in ("half", "quarter") or norms[k : k + 2] in (["a", "half"], ["a", "quarter"])
    decimal = "." in number.text and not part and number.value < _DAY
    closes = not text.goes_on(number.end) or number.end >= stop or text.norm(number.end) in _LINKS
    if decimal or (part and told and closes):
        return number.end, number.value, False
    return None


def _told_to_its_end(text: Text, k: int, stop: int) -> bool:
    """Whether what begins at `k`, behind the hours of a list, is none of it."""
    if text.norm(k) in text.trade.words["speakers"] and text.tokens[k].gap == NO_BREAK:
        return True  # "… repair two point eight hours I looked under the cab"
    return text.tokens[k].gap > NO_BREAK and _says_no_more(text, k, stop)


def _says_no_more(text: Text, k: int, stop: int) -> bool:
    """Whether no number stands between `k` and `stop`: "…, shared between the two of us"."""
    return all(text.number(j) is None for j in range(k, stop))

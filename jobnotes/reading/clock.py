"""The clock: started, paused, resumed, stopped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from operator import itemgetter
from typing import Literal

from jobnotes.reading.clock_spans import spans
from jobnotes.reading.durations import duration
from jobnotes.reading.names import name_at
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.time_of_day import time_of_day
from jobnotes.reading.tokens import NO_BREAK, STOP
from jobnotes.record import Clock

#: So many tokens may stand between "off to …" and the time.
_LONGEST_REASON = 8
_ACTIONS: tuple[Literal["pause", "resume", "start", "stop"], ...] = ("pause", "resume", "start", "stop")


def clock(text: Text) -> Iterator[Draft]:
    """What started, stopped or held up the clock, and what resumed it."""
    yield from spans(text)
    i = 0
    waiting: Draft | None = None
    while i < len(text.tokens):
        heard = [(found[0], action) for action in _ACTIONS if (found := text.cue(f"clock.{action}", i))]
        if not heard and (timed := _at_a_time(text, i)) is not None:
            heard = [timed]
        if not heard and (alone := _alone(text, i)) is not None:
            heard = [alone]
        if not heard or text.claimed[i]:
            i += 1
            continue
        end, action = max(heard, key=itemgetter(0))  # the longest; of equals the first
        if any(t.gap > NO_BREAK for t in text.tokens[i + 1 : end]):
            i += 1  # "hold on, hold on"
            continue
        back = (
            text.norm(i) == "back"
            and not _back_at_a_time(text, i, end)
            and text.tokens[i].gap == NO_BREAK
            and text.norm(i - 1) not in text.trade.words["before_back"]
            and i > 0
        )
        if action == "pause" and _in_passing(text, i, end):
            i = end
            continue
        only_meant = text.norm(i - 1) in text.trade.words["before_no_stop"] and text.tokens[i].gap == NO_BREAK
        unreal = text.sense(i, ("condition", "question", "plan")) is not None or text.negated_before(i)
        fitted = text.norm(end - 1) == "in" and text.norm(end) in text.trade.determiners | {"new", "both"}
        if fitted and (name := name_at(text, end)) is not None and name.kind:
            i = end  # "punching in the new seal"
            continue
        if back or unreal or only_meant:
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
            if (timed_until := time_of_day(text, j)) is not None and timed_until < stop:
                j = timed_until  # "downed tools quarter past ten waiting on the van"
            if j < stop and text.tokens[j].gap < STOP and _more_said(text, j, min(stop, j + 8), most=0):
                last = min(stop, j + 8)
                reason = text.said(j, last)
            elif text.norms[i:end][0] not in ("pause", "pausing", "paused"):
                reason = text.said(i, end)
        if action == "stop":
            held_up = next(
                (
                    k
                    for k in range(end, min(stop, end + 9))
                    if text.norm(k) in ("waiting", "till", "until", "awaiting")
                    or _only_a_meal(text, k, text.breath(i)[1])
                    or (text.norm(k) == "for" and text.norm(k + 1) not in text.trade.words["for_good"])
                    or (k > end and text.cue("clock.resume", k) is not None)
                ),
                None,
            )
            if held_up is not None:  # "clocking off this one at ten past two, waiting for the hub"
                action, last = "pause", min(text.breath(i)[1], held_up + 8)
                reason = text.said(held_up, last)
        text.claim(i, end)
        told_at = end + (text.norm(end) in ("at", "on"))
        until = time_of_day(text, told_at, bare=text.norm(told_at - 1) in ("at", "on"))
        if until is not None and text.breath(i) == text.breath(until - 1):
            text.claim(end, until)  # "clocked off at twenty to four three hours on it"
            last = max(last, until)
        if action == "pause" and waiting is not None and i - waiting.end <= 8:
            held = waiting.detail
            assert isinstance(held, Clock)
            if held.reason is None:  # "pause the clock, waiting for parts" is one pause
                waiting = replace(waiting, detail=replace(held, reason=reason or text.said(i, end)), end=last)
            i = end
            continue
        if waiting is not None:
            yield waiting
            waiting = None
        doubts: tuple[str, ...] = ()
        if (
            action == "stop"
            and _more_said(text, end, text.breath(i)[1])
            and not _hours_told(text, end, text.breath(i)[1])
        ):
            doubts = ("more was said with it: is the job done, or is this a pause?",)
        if _of_a_thing(text, i, end):
            doubts = (*doubts, "is it the clock of this job?")
        draft = Draft(Clock(action, reason or None), i, last, 0.93, doubts)
        if action == "pause":
            waiting = draft
        else:
            yield draft
        i = end
    if waiting is not None:
        yield waiting


def _hours_told(text: Text, start: int, end: int) -> bool:
    """ "stop the clock, call it two hours"; but not "call it away"."""
    told = text.find(text.trade.cue["labour.strong"], start, end)
    return bool(told) and any(text.number(k) is not None for k in range(told[0][0], end))


def _only_a_meal(text: Text, i: int, end: int) -> bool:
    """ "stopping the clock, breakfast.": a meal is all that is told after it."""
    return i == end - 1 and text.norm(i) in text.trade.words["meals"] - text.trade.words["time_of_day"]


def _back_at_a_time(text: Text, i: int, end: int) -> bool:
    """ "waiting on the van back on it twenty past eleven"; but "service plug back in at 15:20" is a step."""
    timed = time_of_day(text, end + (text.norm(end) == "at")) is not None
    return timed and text.ends_at(text.trade.components, i, 4) is None


def _at_a_time(text: Text, i: int) -> tuple[int, Literal["pause", "resume", "start", "stop"]] | None:
    """ "off at 8:50", "back at five to midnight": (end, action) of a word that only a time of day makes one
    of the clock, where a statement opens with it."""
    opens = i == text.breath(i)[0] or text.tokens[i].gap > NO_BREAK
    if not opens and text.norm(i - 1) not in text.trade.words["before_clock_word"]:
        return None
    for action in _ACTIONS:
        found = text.cue(f"clock_with_a_time.{action}", i)
        if found is None:
            continue
        at = found[0] + (text.norm(found[0]) in ("at", "on"))
        reach = at + _LONGEST_REASON if action == "pause" else at + 1
        for k in range(at, min(reach, text.breath(i)[1])):
            if time_of_day(text, k) is not None:
                return found[0], action
    return None


#: So many tokens beside "finished" its hours may be told.
_HOURS_NEAR = 8


def _alone(text: Text, i: int) -> tuple[int, Literal["pause", "resume", "start", "stop"]] | None:
    """ "On the clock.", "finished, one hour twenty labour": what stands between breaks and says no more."""
    if i > 0 and text.tokens[i].gap == NO_BREAK:
        return None
    for action in _ACTIONS:
        found = text.cue(f"clock_alone.{action}", i)
        if found is None or (found[0] < len(text.tokens) and text.tokens[found[0]].gap == NO_BREAK):
            continue
        near = range(max(0, i - _HOURS_NEAR), min(len(text.tokens), found[0] + _HOURS_NEAR))
        if action == "pause" and not set(text.norms[max(0, i - 3) : i]) & text.trade.words["clock_words"]:
            continue  # "clock off, tea", but not "milk and two sugars, tea"
        if action == "stop" and not any(duration(text, k) is not None for k in near):
            continue  # "finished" may be said of anything
        return found[0], action
    return None


def _more_said(text: Text, start: int, end: int, *, most: int = 2) -> bool:
    """More than the time of day and `most` words."""
    i, words = start, 0
    while i < end:
        number = text.number(i)
        if number is not None:
            i = number.end
            continue
        words += text.norm(i) not in text.trade.words["time_of_day"]
        i += 1
    return words > most


def _of_a_thing(text: Text, i: int, end: int) -> bool:
    """ "the wipers park and then carry on", "resume button": no job starts or stops there."""
    place = end + 1 if text.norm(end) == "the" else end
    if text.norm(place) in text.trade.words["clock_places"]:
        return True  # "the clock on the dash"
    said = text.norms[i:end]
    if len(said) > 1 and set(said) & text.trade.words["clock_words"]:
        return False
    if end < text.sentence(i)[1] and text.tokens[end].gap == NO_BREAK:
        skip = 1 if text.norm(end) in text.trade.determiners else 0
        if text.norm(end) in text.trade.words["of_a_thing"]:
            return True
        if text.trade.components.at(text.norms, end + skip)[1]:
            return True
    if text.norm(i - 1) in text.trade.words["shifts"] and text.tokens[i].gap == NO_BREAK:
        return True
    if text.norm(end) in text.trade.determiners and text.tokens[end].gap == NO_BREAK:
        return text.norm(end + 1) not in text.trade.words["clock_words"]  # "pause that video"
    told = text.norms[text.breath(i)[0] : i]
    if len(told) >= 4 and text.tokens[i].gap == NO_BREAK and not set(told) & text.trade.words["clock_words"]:
        return True  # "the one in the canteen stopped at ten past four"
    if text.norm(i - 1) in ("now", "so", "right", "okay", "ok", "and", "lunch", "back"):
        return False
    before = text.norms[max(text.breath(i)[0], i - 8) : i]
    first = i - len(before)
    named = any(text.trade.components.at(text.norms, k)[1] for k in range(first, i))
    return named and not any(t.gap > NO_BREAK for t in text.tokens[first + 1 : i + 1]) and i - first <= 6


def _in_passing(text: Text, i: int, end: int) -> bool:
    """ "blows warm after dinner time": the time of a meal, named within a sentence about something else."""
    if not set(text.norms[i:end]) <= text.trade.words["meals"]:
        return False
    start, stop = text.breath(i)
    if i == start:
        return False
    return stop - start > end - i + 4 or (i > start and text.tokens[i].gap == NO_BREAK and i - start > 2)

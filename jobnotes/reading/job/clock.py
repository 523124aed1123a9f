"""The clock: started, paused, resumed, stopped."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from operator import itemgetter
from typing import Literal

from jobnotes.reading.job.clock_spans import spans
from jobnotes.reading.speech.durations import duration
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.speech.time_of_day import time_of_day
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import Clock

#: So many tokens may stand between "off to …" and the time.
_LONGEST_REASON = 8
_ACTIONS: tuple[Literal["pause", "resume", "start", "stop"], ...] = ("pause", "resume", "start", "stop")
#: The cue tables that tell of the clock.
_CUES = (
    *(f"{table}.{action}" for table in ("clock", "clock_with_a_time", "clock_alone") for action in _ACTIONS),
    "clock_after_job.start",
)


def clock(text: Text) -> Iterator[Draft]:
    """What started, stopped or held up the clock, and what resumed it."""
    yield from spans(text)
    i = 0
    waiting: Draft | None = None
    openers = set(text.where(*_CUES))
    while i < len(text.tokens):
        if i not in openers and not text.claimed[i - 1]:
            i += 1  # most often
            continue
        heard = [(found[0], action) for action in _ACTIONS if (found := text.cue(f"clock.{action}", i))]
        if not heard and (timed := _at_a_time(text, i)) is not None:
            heard = [timed]
        if not heard and (alone := _alone(text, i) or _after_job(text, i)) is not None:
            heard = [alone]
        if not heard and text.claimed[i - 1] and (away := _meal_taken(text, i)) is not None:
            yield Draft(Clock("pause", text.said(away[0], away[1])), i, away[1], 0.9)
            text.claim(i, away[1])
            i = away[1]
            continue
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
        if _of_a_gauge(text, i, end):
            text.claim(i, end)
            i = end
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
            names_reason = _names_its_reason(text, i, end)
            if names_reason and text.cue("clock_with_a_time.resume", j) is not None:
                stop = j  # "clocked off for dinner at twelve back half past"
            if not names_reason and j == stop < text.breath(i)[1] and text.tokens[j].gap == COMMA:
                stop = text.breath(i)[1]  # "clock paused, I have to sign for a delivery"
            if j < stop and text.tokens[j].gap < STOP and _more_said(text, j, min(stop, j + 8), most=0):
                last = min(stop, j + 8)
                apart = any(text.tokens[k].gap == COMMA for k in range(end, j + 1))
                reason = text.said(i if names_reason and apart else j, last)
            elif names_reason:
                reason = text.said(i, end)
            else:
                reason = _waited_before(text, i)
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
            if held_up is not None and _then_so_long(text, end):
                held_up = None  # "finished 1:30, half an hour lunch": that was in between
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
        if action == "resume" and text.norm(i) == "back" and _came_off(text, i):
            doubts = (*doubts, "is it the technician who is back, or the thing that came off?")
        draft = Draft(Clock(action, reason or None), i, last, 0.93, doubts)
        if action == "pause":
            waiting = draft
        else:
            yield draft
        i = end
    if waiting is not None:
        yield waiting


def _meal_taken(text: Text, i: int) -> tuple[int, int] | None:
    """(start, end) of the meal in "started 8:15 finished 1:30 half an hour lunch", whose length is at `i`,
    right behind a time of the clock."""
    if i == 0 or not text.claimed[i - 1] or text.claimed[i] or (span := duration(text, i)) is None:
        return None
    at = span[1] + (text.norm(span[1]) in ("for", "of"))
    here = text.norm(at) in text.trade.words["meals"] - text.trade.words["time_of_day"]
    told = any(
        text.cue(f"clock_with_a_time.{action}", k) for action in _ACTIONS for k in range(max(0, i - 9), i)
    )
    return (at, at + 1) if here and told and not text.goes_on(at + 1) else None


def _then_so_long(text: Text, i: int) -> bool:
    """Whether a time of day stands at `i`, and a length of time right behind it."""
    timed = time_of_day(text, i + (text.norm(i) in ("at", "on")))
    return timed is not None and timed < len(text.tokens) and duration(text, timed) is not None


def _names_its_reason(text: Text, i: int, end: int) -> bool:
    """Whether the words of a pause say why: "clock off for lunch" does, "clock paused" doesn't."""
    meals = text.trade.words["meals"]
    if text.norm(i) in ("pause", "pausing", "paused"):
        return False
    of_the_clock = text.trade.words["clock_words"] - meals
    return bool(meals & set(text.norms[i:end])) or not of_the_clock & {text.norm(i), text.norm(end - 1)}


def _waited_before(text: Text, i: int) -> str | None:
    """ "waiting on coolant, job paused": what is waited for stands right before the pause at `i`."""
    k = i - (text.norm(i - 1) in text.trade.words["clock_words"])
    start = text.breath(i)[0]
    if not start < k or text.tokens[k].gap != COMMA or text.norm(start) not in text.trade.words["waits"]:
        return None
    return text.said(start, k)


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
    opens = i == text.breath(i)[0] or text.tokens[i].gap > NO_BREAK or text.claimed[i - 1]
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


#: So many tokens before it the job may be named whose clock starts: another number may stand between.
_JOB_NEAR = 16


def _after_job(text: Text, i: int) -> tuple[int, Literal["start"]] | None:
    """ "job four zero one seven on the clock", "job 4017. Started.": it starts where the job is named."""
    if not i or not text.claimed[i - 1]:
        return None
    found = text.cue("clock_alone.start", i) if text.tokens[i].gap == NO_BREAK else None
    only = text.cue("clock_after_job.start", i)
    if only is not None and (not text.goes_on(only[0]) or text.opens_clause(only[0])):
        found = only
    if found is None:
        return None
    job = text.find(text.trade.cue["identity.job_number"], max(0, i - _JOB_NEAR), i)
    return (found[0], "start") if job else None


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


def _of_a_gauge(text: Text, i: int, end: int) -> bool:
    """ "put the clock on it, radial play is 0.3", "dial clock on the disc": what measures, set on a thing."""
    if text.norms[i:end] != ["clock", "on"] or not text.goes_on(end):
        return False
    if text.norm(i - 1) not in text.trade.determiners | text.trade.words["before_clock_gauge"]:
        return False
    name = name_at(text, end)
    return name is not None and (name.pronoun or name.kind is not None)


def _came_off(text: Text, i: int) -> bool:
    """ "took it off, greased the bush, back on at 110": something was taken off, in one breath."""
    start = text.breath(i)[0]
    words = text.trade.words
    if set(text.norms[start:i]) & (words["meals"] | words["clock_words"]):
        return False
    if not any(text.component_at(k)[1] for k in range(start, i)):
        return False
    off = {"removed", "disconnected", "opened"}
    return any(
        {"off", "out"} & {text.norm(k)} or off & {meaning[0] for meaning in text.steps_at(k)[1]}
        for k in range(start, i)
    )


def _in_passing(text: Text, i: int, end: int) -> bool:
    """ "blows warm after dinner time": the time of a meal, named within a sentence about something else."""
    if not set(text.norms[i:end]) <= text.trade.words["meals"]:
        return False
    start, stop = text.breath(i)
    if i == start:
        return False
    return stop - start > end - i + 4 or (i > start and text.tokens[i].gap == NO_BREAK and i - start > 2)

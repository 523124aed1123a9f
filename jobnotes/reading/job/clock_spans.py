"""Times at work from one time of day to another: "I was there from 13:00 until half past three"."""

from __future__ import annotations

from collections.abc import Iterator

from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.speech.time_of_day import time_of_day
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.record import Clock

_LONGEST_REASON = 8


def spans(text: Text) -> Iterator[Draft]:
    """The start and stop of work, or of a pause, that one statement tells with both its times."""
    for i, norm in enumerate(text.norms):
        if norm != "from" or text.claimed[i] or (first := time_of_day(text, i + 1)) is None:
            continue
        start, stop = text.breath(i)
        words = text.trade.words
        if not words["who_measures"] & set(text.norms[start:i] + text.norms[first : first + 2]):
            continue
        if text.sense(i) is not None or text.negated(start, i):
            continue
        away = words["away_from_work"] & set(text.norms[first : min(stop, first + 6)])
        last = time_of_day(text, first + 1) if text.norm(first) in ("until", "till", "to") else None
        if away:
            yield Draft(Clock("pause", _reason(text, last or first, stop)), i, first, 0.9)
            text.claim(i, first)
        elif last is not None and words["at_work"] & set(text.norms[start:i]):
            yield Draft(Clock("start", None), i, first, 0.9)
            yield Draft(Clock("stop", None), first, last, 0.9)
            text.claim(i, last)


def _reason(text: Text, start: int, stop: int) -> str | None:
    """ "from 11:30 I was to eat, …": what was done instead."""
    while start < stop and text.norm(start) in text.trade.words["before_away"]:
        start += 1
    end = start
    while end < stop and end - start < _LONGEST_REASON and (end == start or text.tokens[end].gap == NO_BREAK):
        end += 1
    return text.said(start, end) if end > start else None

"""Phrases of limits before a number: "should be at least", "limit is", fillers skipped."""

from __future__ import annotations

from jobnotes.reading.text import Text
from jobnotes.reading.tokens import NO_BREAK


def limit_before(text: Text, i: int) -> tuple[int, str] | None:
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

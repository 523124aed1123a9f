"""Phrases of limits before a number: "should be at least", "limit is", fillers skipped."""

from __future__ import annotations

from typing import NamedTuple

from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK

#: Actions that bring something up to a value.
_BRINGS = frozenset(("tightened", "adjusted", "filled", "tested", "lifted"))


def limit_before(text: Text, i: int) -> tuple[int, str] | None:
    """(start, role) of the limit phrases that end at token `i`, fillers skipped.

    Where several stand in a row ("should be at least", "max should be") the one that bounds decides.
    """
    found = _limit_phrase(text, i)
    found = found or _wanted_before(text, i)
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


def _wanted_before(text: Text, i: int) -> tuple[int, str] | None:
    """ "desired rail pressure 600": the value that was asked for, named before what it is of."""
    start = text.breath(i)[0]
    for k in range(i - 1, max(start, i - _LONGEST_PLACE) - 1, -1):
        if text.tokens[k + 1].gap > NO_BREAK or text.number(k) is not None:
            return None
        if text.norm(k) in text.trade.words["wanted_values"] and k < i - 1:
            first = k - (text.norm(k - 1) == "the" and k > start)  # but "gap to the target 11 mm"
            opens = text.tokens[first].gap > NO_BREAK or first == text.clause(k)[0]
            return (k, "nominal") if opens or text.norm(first - 1) == "and" else None
    return None


def bounds(text: Text, i: int) -> bool:
    """Whether the number at token `i` is a limit by the words before it."""
    if limit_before(text, i) is not None:
        return True
    told = limit_for(text, i)
    return told is not None and told.sure


def bounds_a_value(text: Text, i: int) -> bool:
    """ "22 thou limit is five new switch": a limit that is named as one, behind a value, counts nothing."""
    words = text.trade.words["limit_nouns"]
    if (
        text.tokens[i].gap > NO_BREAK
        or not {w.removesuffix("'s") for w in text.norms[max(0, i - 2) : i]} & words
    ):
        return False
    found = limit_before(text, i)
    if found is None:
        return False
    first = max(text.breath(i)[0], found[0] - _NEAR_ITS_LIMIT)
    return any(text.numeric[first : found[0]])


#: So many tokens at most stand between a value and its limit that has no unit of its own.
_NEAR_ITS_LIMIT = 8


class LimitFor(NamedTuple):
    """Where the words of a limit begin, its role, and whether it can be nothing else."""

    start: int
    role: str
    sure: bool


#: So many words at most tell what a limit holds for.
_LONGEST_PLACE = 5


def limit_for(text: Text, i: int) -> LimitFor | None:
    """The limit words before token `i` that tell what it holds for: "minimum on these is two".

    Not sure where the same words may tell of something read: "maximum under load 20".
    """
    words = text.trade.words
    told = text.norm(i - 1) in ("is", "was")
    end = i - 1 if told else i
    for k in range(end - 1, max(text.breath(i)[0], end - _LONGEST_PLACE) - 1, -1):
        if text.tokens[k + 1].gap > NO_BREAK or text.number(k) is not None:
            return None
        what = text.norm(k) in words["limits_what"]
        if (
            not (what or text.norm(k) in words["limits_where"])
            or text.norm(k - 1) not in words["limit_nouns"]
        ):
            continue
        phrase = _limit_phrase(text, k)
        if phrase is None or text.tokens[k].gap > NO_BREAK:
            return None
        no_reading = text.norm(k - 1) in ("limit", "limits", "tolerance")
        return LimitFor(*phrase, sure=no_reading or (told and what))
    return None


_ROLES = ("tolerance", "max", "min", "nominal")


def _limit_phrase(text: Text, i: int) -> tuple[int, str] | None:
    j = i
    while j > 0 and text.norms[j - 1] in text.trade.words["fillers"] and text.tokens[j].gap == NO_BREAK:
        j -= 1
    best: tuple[int, str] | None = None
    cues = text.trade.cue
    for end in range(i, j - 1, -1):
        last = text.norm(end - 1)
        for role in _ROLES:
            phrases = cues[f"limits.{role}"]
            found = text.ends_at(phrases, end, 6) if last in phrases.last_words else None
            if found and (best is None or found[0] < best[0]) and not _in_condition(text, found[0], end):
                best = (found[0], role)
    if best is None:
        return None
    if text.norm(best[0] - 1) == "within" and best[0] == i - 1:
        return None  # "within limits three hundred and four millimetres"
    if text.norm(best[0] - 1) == "the" and text.norm(best[0] - 2) in text.trade.words["before_a_things_name"]:
        return None  # "gap to the target 11 millimetres"
    if text.norms[best[0] : i] == ["up", "to"] and (
        _moved_up(text, best[0])
        or _rose(text, best[0])
        or text.norm(best[0] - 1) in text.trade.words["good_up_to"]
    ):
        return None  # "nipped the gland up to 350": it was brought there; "jumps straight up to 5"
    for end in (i, j):
        reading = text.ends_at(text.trade.cue["readings.verbs"], end, 4)
        if reading and reading[0] < best[0]:
            return None
    return best


def _in_condition(text: Text, start: int, end: int) -> bool:
    """ "with the key held over 23.9 volts": the words belong to the condition before the value."""
    held = text.ends_at(text.trade.conditions, end, 8)
    return held is not None and held[0] < start


def _rose(text: Text, i: int) -> bool:
    """Whether a verb of rising stands right before "up to"."""
    return bool(set(text.norms[max(text.clause(i)[0], i - 2) : i]) & text.trade.words["rises"])


def _moved_up(text: Text, i: int) -> bool:
    """A verb that brings something to a value stands before "up to" in its clause."""
    start = text.clause(max(0, i - 1))[0]
    if text.tokens[i].gap > NO_BREAK:
        return False
    for k in range(i - 1, max(start, i - 8) - 1, -1):
        if any(m[0] in _BRINGS and m[1] != "base" for m in text.steps_at(k)[1]):
            return True
        if text.number(k) is not None:
            return False
        if k < i - 1 and any(
            s.action in _BRINGS and s.tense != "base" for s in text.trade.splits.get(text.norm(k), ())
        ):
            return True
    return False

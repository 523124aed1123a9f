"""Fault codes that were announced but can't be read: "fault code part zero two nine nine".

What was heard of them is kept, for a person to check: a code that leaves no trace is a claim without one."""

from __future__ import annotations

import re

from jobnotes.reading.codes.heard_codes import HeardCode, skip
from jobnotes.reading.codes.j1939 import j1939_code
from jobnotes.reading.codes.trouble_codes import trouble_code
from jobnotes.reading.speech import spelling
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.record import FaultCode

#: So many words may stand between the announcement and the figures, and so many in the place of a letter.
_BETWEEN, _LETTER = 4, 2
#: The figures of a trouble code (ISO 15031-6): four, of which the first is 0 to 3; the last may be a letter.
_FIGURES = re.compile(r"[0-3][0-9]{3}")


def unread_code(text: Text, i: int) -> HeardCode | None:
    """The figures after an announced code, where no grammar reads the words before them."""
    announced = text.cue("codes.announced", i)
    loosely = announced is None and text.norm(i) == "code"
    cue = (i + 1, "code") if loosely else announced
    if cue is None or text.negated_before(i) or text.norm(i - 1) in text.trade.words["before_no_fault_code"]:
        return None
    start = skip(text, cue[0], ("is", "number", "of", "was", "reads", "says", "shows", "it's", "a", "the"))
    for j in range(start, min(start + (1 if loosely else _BETWEEN) + 1, text.breath(i)[1])):
        if text.claimed[j] or text.tokens[j].gap > NO_BREAK:
            return None
        run = spelling.digits(text.tokens, j, text.trade, due=False, longest=8)
        if j1939_code(text, j, None) or trouble_code(text, j):
            return None  # the next code is one that can be read
        if run is None:
            continue
        return _doubted(text, start, run, loosely=loosely)
    return None


def _doubted(text: Text, start: int, run: spelling.Spelled, *, loosely: bool) -> HeardCode | None:
    like = _FIGURES.fullmatch(run.text)
    apart = run.start - start
    if len(run.text) < 2 or not apart or (loosely and not like):
        return None
    if text.unit_follows(run.end) or text.cue("codes.count", run.end):
        return None
    heard = text.said(start, run.start)
    if like and apart <= _LETTER:
        doubt = f"'{heard}' was heard before {run.text}: which letter is it, P, C, B or U?"
    else:
        doubt = f"a code was announced, and '{text.said(start, run.end)}' was heard: which code is it?"
    return HeardCode(start, run.end, FaultCode(run.text, "maker"), (doubt,))


def next_in_list(text: Text, before: HeardCode) -> HeardCode | None:
    """ "a four one seven and a four one nine": a second maker's code of as many figures."""
    if text.norm(before.end) not in ("and", "plus") or not before.code.code.isdigit():
        return None
    j = skip(text, before.end + 1, ("a", "an", "also", "the", "code", "then"))
    run = spelling.digits(text.tokens, j, text.trade, due=False, longest=8, gap=NO_BREAK)
    if run is None or not run.exact or len(run.text) != len(before.code.code) or len(run.text) < 2:
        return None
    if any(t.gap > COMMA for t in text.tokens[before.end : run.end]) or text.unit_follows(run.end):
        return None
    counts = text.cue("codes.count", run.end) or text.trade.components.at(text.norms, run.end)[1]
    return None if counts else HeardCode(j, run.end, FaultCode(run.text, "maker"))

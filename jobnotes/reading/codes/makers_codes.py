"""Makers' own numbers: flash codes, error codes."""

from __future__ import annotations

import re
from collections.abc import Set

from jobnotes.reading.codes.code_news import is_control_unit
from jobnotes.reading.codes.heard_codes import HeardCode, skip
from jobnotes.reading.codes.trouble_codes import trouble_code
from jobnotes.reading.speech import spelling
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import FaultCode, Repair

#: A trouble code that lost or gained a character on the way.
_BROKEN = re.compile(r"[PCBU][0-9A-F]{2,3}|[PCBU][0-9A-F]{5}")
#: Letters in a row that spell a word, as "high-end" for two nines: nobody's code holds one.
_WORD_IN_IT = re.compile(r"[A-Z]{4,}")


def listed_code(text: Text, i: int) -> HeardCode | None:
    """ "… two codes, 5021 active and 5023 stored": a number with its state, where codes were announced."""
    run = spelling.digits(text.tokens, i, text.trade, due=False, longest=6, gap=NO_BREAK)
    if run is None or not run.exact or len(run.text) < 2 or text.norm(i - 1) in ("spn", "fmi", "part", "job"):
        return None
    several = {"codes", "faults"} & set(text.norms[max(text.breath(i)[0], i - 5) : i])
    if len(run.text) < 3 and not several:
        return None
    state = text.cue("states", run.end)
    if state is None or text.tokens[run.end].gap > COMMA or text.unit_follows(run.end):
        return None
    start = max(text.breath(i)[0], i - 20)
    announced = [end for _, end, _ in text.find(text.trade.cue["codes.fault"], start, i)]
    if not announced or text.negated(max(start, announced[0] - 3), announced[0]):
        return None
    return HeardCode(i, run.end, FaultCode(run.text, "maker"))


def known_again(text: Text, i: int, known: Set[str]) -> HeardCode | None:
    """ "118 cleared", "cleared 53": the number of a code that was told before, with its new state."""
    run = spelling.digits(text.tokens, i, text.trade, due=False, longest=8, gap=NO_BREAK) if known else None
    if run is None or run.text not in known or text.norm(i - 1) in text.trade.words["before_no_value"]:
        return None
    if text.unit_follows(run.end):
        return None
    start, end = text.breath(i)
    states = {meaning for _, _, meaning in text.find(text.trade.cue["states"], start, end)}
    if not states:
        return None
    return HeardCode(i, run.end, FaultCode(run.text, "maker"))


def _told_with_state(text: Text, i: int) -> tuple[int, str] | None:
    """ "maker's number 2210 stored": said of parts too, so that only a state makes it a code."""
    cue = text.cue("codes.maker_with_state", i)
    run = spelling.digits(text.tokens, cue[0], text.trade, due=False, gap=NO_BREAK) if cue else None
    return cue if run is not None and text.cue("states", run.end) else None


def _added(text: Text, number: str, end: int) -> str | None:
    """ "code 100 and 12": how a recogniser writes a hundred and twelve."""
    more = text.number(end + 1) if text.norm(end) == "and" and number.endswith("00") else None
    if more is None or not 0 < more.value < 100 or text.tokens[end].gap > NO_BREAK:
        return None
    return text.said(end, more.end)


def makers_code(text: Text, i: int) -> HeardCode | None:
    cue = text.cue("codes.maker", i) or _told_with_state(text, i)
    misheard = text.cue("codes.misheard_fault", i)
    if misheard and (cue is None or misheard[0] > cue[0]):
        cue = misheard
    elif cue is None or text.norm(i - 1) in ("spn", "part", "no"):
        return None
    else:
        misheard = None
    j = cue[0]
    if text.norm(j) in ("on", "in", "from"):  # "code on the machine controller is 4062"
        where = name_at(text, j + 1, text.sentence(i)[1])
        if where is not None and is_control_unit(text, where):
            j = where.end
    j = skip(text, j, ("is", "number", "of", "was", "reads", "says", "shows", "showing", "it's", "a", "an"))
    run = text.spelled(j, 12)
    if run is None or not any(c.isdigit() for c in run.text) or text.tokens[j].gap == STOP:
        return None
    if text.unit_follows(run.end) or text.cue("codes.count", run.end):
        return None
    if text.norm(i - 1) in text.trade.words["before_no_fault_code"] and not text.cue("states", run.end):
        return None  # "injector trim code 7A3F90"
    if trouble_code(text, j) or len(run.text.strip("-")) < 2:
        return None
    counted = text.tokens[j].gap == COMMA and text.number(j) is not None and len(run.text) < 3
    if counted and run.end < len(text.tokens) and text.tokens[run.end].gap == NO_BREAK:
        return None  # "cleared the code, ten cycles run"
    doubts: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()
    if not run.exact:
        doubts = (f"code {run.text}: a letter or digit was repaired",)
    if _BROKEN.fullmatch(run.text):
        doubts = (*doubts, f"{run.text} is not what a trouble code looks like: a letter and four digits")
    elif _WORD_IN_IT.search(run.text):
        doubts = (*doubts, f"{run.text} holds a word: were its digits heard as one?")
    elif (more := _added(text, run.text, run.end)) is not None:
        doubts = (*doubts, f"'{more}' after {run.text} may belong to the number")
    if misheard:
        heard = text.said(i, cue[0])
        repairs = (Repair(heard, "fault code"),)
    return HeardCode(i, run.end, FaultCode(run.text, "maker"), doubts, repairs)

"""Trouble codes: P, C, B, U and four digits, with a failure type byte or without.

A letter, a digit 0–3 and three hexadecimal digits (ISO 15031-6 / SAE J2012); the failure type is two more
(ISO 14229)."""

from __future__ import annotations

import re

from jobnotes.reading.codes.heard_codes import HeardCode, skip
from jobnotes.reading.speech import spelling
from jobnotes.reading.speech.printed_code import written_as_code
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.record import FaultCode, Repair

_SYSTEMS = "pcbu"


def trouble_code(text: Text, i: int) -> HeardCode | None:
    norm = text.norm(i)
    doubts: list[str] = []
    repairs: list[Repair] = []
    if written_as_code(norm):
        letter, body, j = norm[0], norm[1:], i + 1
    else:
        letter = ""
        j = i
        if text.norm(i - 1) == "°":
            return None  # "180 °C, 1400 rpm"
        if len(norm) == 1 and norm in _SYSTEMS:
            letter, j = norm, i + 1
        else:
            end, meanings = text.trade.letters.at(text.norms, i)
            if meanings and meanings[0] in _SYSTEMS:
                letter, j = meanings[0], end
            else:
                end, meanings = text.trade.letters_misheard.at(text.norms, i)
                if text.norm(i - 1) in text.trade.words["before_a_verb"]:
                    return None  # "it should be 1200", "I see 1200"
                if meanings and meanings[0] in _SYSTEMS:
                    letter, j = meanings[0], end
                    doubts.append(f"'{letter.upper()}' was heard as '{text.said(i, end)}'")
                    repairs.append(Repair(text.said(i, end), letter.upper()))
        if not letter:
            return None
        body, j, exact = _hex(text, j, _DIGITS)
        if len(body) == 3 and body.endswith("00") and exact and j - i == 3:
            body = "0" + body
            doubts.append(f"read as {letter.upper()}{body}: three digits were said")
        if len(body) != 4 or body[0] not in "0123":
            return None
        if not exact:
            doubts.append("a digit of the code was heard as a word")
        if "-" in text.norms[i:j]:
            doubts.append(f"a digit of the code was heard apart: '{text.said(i, j)}'")
        more, _, _ = _hex(text, j, 3)
        if len(more) >= 3:  # too long for a trouble code: a part number or the like
            return None
    code = (letter + body).upper()
    k = j
    byte = text.cue("codes.fail_byte", k) or ((k + 1, "-") if text.norm(k) == "-" else None)
    if byte:
        k = skip(text, byte[0], ("byte", "is", "of", "type"))
        pair, end, exact = _hex(text, k, 2)
        if len(pair) == 2:
            code, j = f"{code}-{pair.upper()}", end
            if not exact:
                doubts.append("the failure type was heard as a word")
    elif j < len(text.tokens) and text.tokens[j].gap == NO_BREAK:
        pair, end, _ = _hex(text, j, 2)
        unit = text.unit_follows(end) or text.cue("codes.count", end)
        if len(pair) == 2 and not unit and text.norm(j) not in ("a", "b"):
            code, j = f"{code}-{pair.upper()}", end
            doubts.append("two more digits followed the code: a failure type, if so")
    if (
        j < len(text.tokens)
        and text.tokens[j].gap <= COMMA
        and text.norm(j).isdigit()
        and not text.cue("codes.count", j + 1)
    ):
        doubts.append(f"another digit follows the code: '{text.said(i, j + 1)}'")
    system = text.trade.dtc_system.get(letter.upper())
    return HeardCode(i, j, FaultCode(code, system), tuple(doubts), tuple(repairs))


#: So many digits a trouble code has behind its letter (ISO 15031-6, SAE J2012).
_DIGITS = 4


def _hex(text: Text, i: int, wanted: int) -> tuple[str, int, bool]:
    """Up to `wanted` hexadecimal digits from `i`, spoken or written: (digits, end, exact)."""
    body, j, exact = "", i, True
    while j < len(text.tokens) and len(body) < wanted and (j == i or text.tokens[j].gap <= COMMA):
        norm = text.norm(j)
        if norm == "-" and 0 < len(body) < wanted == _DIGITS and text.tokens[j].joined:
            j += 1  # "041-1", as a recogniser writes digits said one by one
            continue
        if len(norm) == 1 and norm in "abcdef" and not (norm == "a" and wanted - len(body) == wanted):
            piece, end = norm, j + 1
        else:
            end, meanings = text.trade.letters.at(text.norms, j)
            if meanings and meanings[0] in "abcdef":
                piece = meanings[0]
            elif re.fullmatch(r"[0-9a-f]{1,4}", norm) and (
                any(c.isdigit() for c in norm) or (wanted == 2 and len(norm) == 2 and text.norm(j - 1) == "-")
            ):
                piece, end = norm, j + 1
            elif norm in text.trade.homophones and body:
                piece, end, exact = text.trade.homophones[norm], j + 1, False
            else:
                run = spelling.digits(text.tokens, j, text.trade, due=False, longest=1, gap=NO_BREAK)
                if run is None:
                    break
                piece, end = run.text, run.end
        if len(body) + len(piece) > wanted:
            break
        body, j = body + piece, end
    return body, j, exact

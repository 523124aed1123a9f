"""Fault codes: J1939 SPN and FMI, trouble codes (P, C, B, U), makers' own numbers; state, count, control unit.

SPN is 19 bits wide, FMI 5 (SAE J1939-73: 0–524287, 0–31). A trouble code is a letter, a digit 0–3 and three
hexadecimal digits (ISO 15031-6 / SAE J2012), with a failure type byte of two more (ISO 14229).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from jobnotes.reading import numbers
from jobnotes.reading.names import name_at
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import FaultCode, Repair

SPN_MAX = (1 << 19) - 1
FMI_MAX = 31
_DTC = re.compile(r"[pcbu][0-3][0-9a-f]{3}")
_SYSTEMS = "pcbu"
_STATES = {
    "active": "active",
    "inactive": "inactive",
    "stored": "stored",
    "pending": "pending",
    "cleared": "cleared",
}
_NO_FMI = "no FMI was heard"
_TIMES = {"once": 1, "twice": 2, "thrice": 3}


@dataclass(frozen=True, slots=True)
class _Heard:
    """A code as it stands in the text, before its state, count and unit are looked for."""

    start: int
    end: int
    code: FaultCode
    doubts: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()


def fault_codes(text: Text) -> Iterator[Draft]:
    heard = _completed(list(_all(text)))
    told: set[str] = set()
    for at, one in enumerate(heard):
        if text.sense(one.start, ("condition", "question")) is not None:
            continue
        if text.norm(one.start - 1) in ("no", "not", "without") and text.tokens[one.start].gap == NO_BREAK:
            continue
        before = heard[at - 1].end if at else 0
        after = heard[at + 1].start if at + 1 < len(heard) else len(text.tokens)
        code, end, doubts = _dress(text, one, before, after, heard[at + 1 :])
        text.claim(one.start, one.end)
        if code.state == "absent":  # type: ignore[comparison-overlap]
            if code.code not in told:
                continue  # never there: no fact
            code = replace(code, state="cleared")
        told.add(code.code)
        yield Draft(
            code,
            one.start,
            end,
            doubts=(*one.doubts, *doubts),
            repairs=one.repairs,
            keys=((one.start, one.end),),
        )


def _completed(heard: list[_Heard]) -> list[_Heard]:
    """An SPN named again without its FMI is the code that was read before, where there is only one such."""
    known: dict[int, set[FaultCode]] = {}
    out: list[_Heard] = []
    for one in heard:
        code = one.code
        if code.spn is not None and code.fmi is None and len(known.get(code.spn, ())) == 1:
            (full,) = known[code.spn]
            doubts = tuple(d for d in one.doubts if d != _NO_FMI)
            one = replace(one, code=full, doubts=doubts)
        elif code.spn is not None and code.fmi is not None:
            known.setdefault(code.spn, set()).add(code)
        out.append(one)
    return out


def _all(text: Text) -> Iterator[_Heard]:
    last_spn: int | None = None
    i = 0
    while i < len(text.tokens):
        if text.claimed[i]:
            i += 1
            continue
        found = _j1939(text, i, last_spn) or _trouble_code(text, i) or _makers(text, i)
        if found is None:
            i += 1
            continue
        last_spn = found.code.spn if found.code.spn is not None else last_spn
        yield found
        i = found.end


# --- J1939 ---------------------------------------------------------------------------------------


def _skip(text: Text, i: int, words: tuple[str, ...]) -> int:
    while text.norm(i) in words:
        i += 1
    return i


def _j1939(text: Text, i: int, last_spn: int | None) -> _Heard | None:
    doubts: list[str] = []
    repairs: list[Repair] = []
    spn: int | None
    same = text.cue("codes.same_spn", i)
    if same and last_spn is not None:
        j = _skip(text, same[0], ("again", "and", "with", "but", "different"))
        if text.cue("codes.fmi", j) is None and text.cue("codes.fmi_misheard", j) is None:
            return None
        spn = last_spn
    else:
        cue = text.cue("codes.spn", i) or text.cue("codes.spn_misheard", i)
        if cue is not None:
            misheard = text.cue("codes.spn_misheard", i) is not None
            j = _skip(text, cue[0], ("number", "is", "of", "code", "was"))
            run = numbers.digits(text.tokens, j, text.trade, gap=STOP if j == cue[0] else COMMA, longest=9)
            if run is None:
                return _without_spn(text, i, j, last_spn)
            if misheard and text.norm(i) in ("spend", "spin") and text.cue("codes.fmi", run.end) is None:
                return None
            if misheard:
                doubts.append(f"SPN heard as '{text.said(i, cue[0])}'")
                repairs.append(Repair(text.said(i, cue[0]), "SPN"))
            if not run.exact:
                doubts.append(f"SPN {run.text}: a number was heard as a word")
            spn, j = int(run.text), run.end
        else:
            fmi_first = text.cue("codes.fmi", i)
            if fmi_first is None or last_spn is None or not _same_breath(text, i):
                return None
            spn, j = last_spn, i
            doubts.append(f"no SPN was said with this FMI; {last_spn} was the one before")
    if spn > SPN_MAX:
        doubts.append(f"SPN {spn} is out of bounds: the largest is {SPN_MAX}")
    k = _skip(text, j, ("and", "with", "dash", "-", "/", "slash", "stroke", "is", "an", "at"))
    fmi_cue = text.cue("codes.fmi", k)
    fmi_wrong = text.cue("codes.fmi_misheard", k)
    if fmi_wrong and (fmi_cue is None or fmi_wrong[0] >= fmi_cue[0]):
        heard = text.said(k, fmi_wrong[0])
        doubts.append(
            f"FMI heard as '{heard}'; check the number after it"
            + (", could be 8 or 18" if heard.lower().endswith("a") else "")
        )
        repairs.append(Repair(heard, "FMI"))
        k = fmi_wrong[0]
    elif fmi_cue:
        k = fmi_cue[0]
    elif k == j or text.norm(k - 1) not in ("dash", "-", "/", "slash", "stroke"):
        k = -1
    fmi, end = (
        (None, j) if k < 0 else _fmi(text, _skip(text, k, ("is", "of", "number", "was", "code")), doubts)
    )
    if fmi is None and k >= 0:
        end = k
    if fmi is None and fmi_wrong and k >= 0 and text.norms[fmi_wrong[0] - 1].endswith("a"):
        fmi = 8  # "F M I eight" run together
    if fmi is None:
        doubts.append(_NO_FMI)
        code = f"SPN {spn}"
    else:
        code = f"SPN {spn} FMI {fmi}"
    if fmi is not None and fmi > FMI_MAX:
        doubts.append(f"FMI {fmi} is out of bounds: 0 to {FMI_MAX}")
    meaning = text.trade.fmi.get(fmi) if fmi is not None else None
    return _Heard(i, end, FaultCode(code, "J1939", spn, fmi, meaning), tuple(doubts), tuple(repairs))


def _without_spn(text: Text, i: int, j: int, last_spn: int | None) -> _Heard | None:
    """ "… SPN, with FMI 7": the number was not heard; most likely "same SPN"."""
    k = _skip(text, j, ("with", "and", "but"))
    cue = text.cue("codes.fmi", k)
    if cue is None or last_spn is None:
        return None
    doubts = [f"no SPN was heard with this FMI; {last_spn} was the one before"]
    fmi, end = _fmi(text, _skip(text, cue[0], ("is", "of", "number")), doubts)
    if fmi is None or fmi > FMI_MAX:
        return None
    return _Heard(
        i,
        end,
        FaultCode(f"SPN {last_spn} FMI {fmi}", "J1939", last_spn, fmi, text.trade.fmi.get(fmi)),
        tuple(doubts),
    )


def _same_breath(text: Text, i: int) -> bool:
    return text.norm(i - 1) in ("and", "also", "another", "plus", "or") or text.tokens[i].gap == COMMA


def _fmi(text: Text, k: int, doubts: list[str]) -> tuple[int | None, int]:
    """(FMI, end): one or two digits; a number that goes on is a count or a second code."""
    if k < len(text.tokens) and text.tokens[k].gap == STOP and not text.norm(k).isdigit():
        return None, k
    first = numbers.digits(text.tokens, k, text.trade, longest=1, gap=NO_BREAK)
    if first is None:
        return None, k
    if not first.exact:
        doubts.append("the FMI was heard as a word, not a number")
    if len(first.text) == 1 and first.text in "0123":
        second = numbers.digits(text.tokens, first.end, text.trade, due=False, longest=1, gap=NO_BREAK)
        if (
            second
            and text.tokens[first.end].gap == NO_BREAK
            and len(second.text) == 1
            and int(first.text + second.text) <= FMI_MAX
            and not text.cue("codes.count", second.end)
        ):
            return int(first.text + second.text), second.end
    return int(first.text), first.end


# --- trouble codes -------------------------------------------------------------------------------


def _trouble_code(text: Text, i: int) -> _Heard | None:
    norm = text.norm(i)
    doubts: list[str] = []
    repairs: list[Repair] = []
    if _DTC.fullmatch(norm):
        letter, body, j = norm[0], norm[1:], i + 1
    else:
        letter = ""
        j = i
        if len(norm) == 1 and norm in _SYSTEMS:
            letter, j = norm, i + 1
        else:
            end, meanings = text.trade.letters.at(text.norms, i)
            if meanings and meanings[0] in _SYSTEMS:
                letter, j = meanings[0], end
            else:
                end, meanings = text.trade.letters_misheard.at(text.norms, i)
                if meanings and meanings[0] in _SYSTEMS:
                    letter, j = meanings[0], end
                    doubts.append(f"'{letter.upper()}' was heard as '{text.said(i, end)}'")
                    repairs.append(Repair(text.said(i, end), letter.upper()))
        if not letter:
            return None
        body, j, exact = _hex(text, j, 4)
        if len(body) == 3 and body.endswith("00") and exact and j - i == 3:
            body = "0" + body
            doubts.append(f"read as {letter.upper()}{body}: three digits were said")
        if len(body) != 4 or body[0] not in "0123":
            return None
        if not exact:
            doubts.append("a digit of the code was heard as a word")
        more, _, _ = _hex(text, j, 3)
        if len(more) >= 3:  # too long for a trouble code: a part number or the like
            return None
    code = (letter + body).upper()
    k = j
    byte = text.cue("codes.fail_byte", k) or ((k + 1, "-") if text.norm(k) == "-" else None)
    if byte:
        k = _skip(text, byte[0], ("byte", "is", "of", "type"))
        pair, end, exact = _hex(text, k, 2)
        if len(pair) == 2:
            code, j = f"{code}-{pair.upper()}", end
            if not exact:
                doubts.append("the failure type was heard as a word")
    elif j < len(text.tokens) and text.tokens[j].gap == NO_BREAK:
        pair, end, _ = _hex(text, j, 2)
        unit = text.trade.unit_forms.at(text.norms, end)[1] or text.cue("codes.count", end)
        if len(pair) == 2 and not unit and text.norm(j) not in ("a", "b"):
            code, j = f"{code}-{pair.upper()}", end
            doubts.append("two more digits followed the code: a failure type, if so")
    system = text.trade.dtc_system.get(letter.upper())
    return _Heard(i, j, FaultCode(code, system), tuple(doubts), tuple(repairs))


def _hex(text: Text, i: int, wanted: int) -> tuple[str, int, bool]:
    """Up to `wanted` hexadecimal digits from `i`, spoken or written: (digits, end, exact)."""
    body, j, exact = "", i, True
    while j < len(text.tokens) and len(body) < wanted and (j == i or text.tokens[j].gap <= COMMA):
        norm = text.norm(j)
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
                run = numbers.digits(text.tokens, j, text.trade, due=False, longest=1, gap=NO_BREAK)
                if run is None:
                    break
                piece, end = run.text, run.end
        if len(body) + len(piece) > wanted:
            break
        body, j = body + piece, end
    return body, j, exact


# --- makers' own numbers ---------------------------------------------------------------------------


def _makers(text: Text, i: int) -> _Heard | None:
    cue = text.cue("codes.maker", i)
    misheard = text.cue("codes.misheard_fault", i)
    if misheard and (cue is None or misheard[0] > cue[0]):
        cue = misheard
    elif cue is None or text.norm(i - 1) in ("spn", "part", "no"):
        return None
    else:
        misheard = None
    j = _skip(text, cue[0], ("is", "number", "of", "was", "reads", "says", "shows", "showing", "it's"))
    run = text.spelled(j, 12)
    if run is None or not any(c.isdigit() for c in run.text) or text.tokens[j].gap == STOP:
        return None
    if text.trade.unit_forms.at(text.norms, run.end)[1] or text.cue("codes.count", run.end):
        return None
    if _trouble_code(text, j) or len(run.text.strip("-")) < 2:
        return None
    doubts: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()
    if not run.exact:
        doubts = (f"code {run.text}: a letter or digit was repaired",)
    if misheard:
        heard = text.said(i, cue[0])
        repairs = (Repair(heard, "fault code"),)
    return _Heard(i, run.end, FaultCode(run.text, "maker"), doubts, repairs)


# --- what is said about a code ---------------------------------------------------------------------


def _dress(
    text: Text, one: _Heard, before: int, after: int, later: list[_Heard]
) -> tuple[FaultCode, int, tuple[str, ...]]:
    """The code with its state, count and control unit; the end of what says so."""
    start, end = text.sentence(one.start)
    limit = min(after, end, one.end + 14)
    for k in range(one.end, limit):
        if text.cue("codes.fmi", k) or text.cue("codes.spn", k):
            limit = k
            break
    state, state_end = _state(text, one.end, limit)
    quote_end = max(one.end, state_end)
    if state is None and later:  # "SPN a, SPN b, both active"
        tail = one.end
        for other in later:
            if text.sentence(other.start)[0] != start:
                break
            tail = other.end
        if tail > one.end and _both(text, tail, min(tail + 4, end)):
            state, _ = _state(text, tail, min(tail + 6, end))
    if state is None:  # "active codes SPN a and SPN b", "cleared P0299"
        state = _state_before(text, max(start, one.start - 14), one.start)
    if state is None and before <= start and start > 0 and start == one.start:  # "two codes active." "SPN …"
        previous = text.sentence(start - 1)
        if any(text.cue("codes.fault", k) for k in range(*previous)) and previous[1] - previous[0] < 14:
            state, _ = _state(text, *previous)
            if state == "cleared":
                state = None
    if state is None and later:  # "A and B active": one state for a bare list
        last = one
        for other in later:
            if not set(text.norms[last.end : other.start]) <= {"and", "also"} or text.breath(
                other.start
            ) != text.breath(one.start):
                break
            last = other
        if last is not one:
            state, _ = _state(text, last.end, min(last.end + 3, text.breath(one.start)[1]))
    count, count_end = _count(text, one.end, limit)
    quote_end = max(quote_end, count_end)
    ecu = _ecu(text, one, start, limit, before)
    return replace(one.code, state=state, count=count, ecu=ecu), quote_end, ()  # type: ignore[arg-type]


def _both(text: Text, start: int, end: int) -> bool:
    return any(text.norm(i) in ("both", "all") for i in range(start, end))


def _state(text: Text, start: int, end: int) -> tuple[str | None, int]:
    found: str | None = None
    stop = start
    for i, j, meaning in text.find(text.trade.cue["states"], start, end):
        if meaning == "absent":
            found, stop = "absent", j
            continue
        if meaning == "returned":
            if text.negated(max(start, i - 3), i):
                found, stop = "cleared", j
            else:
                found, stop = "active", j
            continue
        if text.sense(i, ("plan", "condition")) and meaning == "cleared":
            continue
        if found is not None and meaning in ("active", "inactive", "stored", "pending"):
            break  # the first state is this code's; another belongs to what follows
        if meaning == "active" and text.negated(max(start, i - 2), i):
            meaning = "inactive"
        found, stop = _STATES[meaning], j
    return found, stop


def _state_before(text: Text, start: int, end: int) -> str | None:
    state, _ = _state(text, start, end)
    return state


def _count(text: Text, start: int, end: int) -> tuple[int | None, int]:
    for i in range(start, end):
        if text.norm(i) in _TIMES:
            return _TIMES[text.norm(i)], i + 1
        cue = text.cue("codes.count", i)
        if cue is None:
            continue
        number = text.number(text_skip(text, cue[0]), due=True)
        if (
            number
            and number.value == number.value.to_integral_value()
            and text.norm(i) not in ("times", "counts", "occurrences")
        ):
            return int(number.value), number.end
        for back in (4, 3, 2, 1):
            if i - back >= start:
                number = text.number(i - back)
                if number and number.end == i and number.value == number.value.to_integral_value():
                    return int(number.value), cue[0]
    return None, start


def text_skip(text: Text, i: int) -> int:
    return _skip(text, i, ("is", "of", "was"))


def _ecu(text: Text, one: _Heard, start: int, limit: int, before: int) -> str | None:
    for i in range(one.end, min(limit, one.end + 14)):
        if text.norm(i) in ("in", "from", "on", "by", "at"):
            name = name_at(text, i + 1, limit)
            if name and name.kind in text.trade.kinds["control_unit"]:
                return name.text
    breath_end = text.breath(one.start)[1]
    for i in range(one.end, min(breath_end, one.end + 24)):
        if text.norm(i) in ("both", "all") and text.norm(i + 1) in ("from", "in", "on"):
            name = name_at(text, i + 2, breath_end)
            if name and name.kind in text.trade.kinds["control_unit"]:
                return name.text
    low = max(0, start - 14, one.start - 22)
    best: str | None = None
    for i in range(low, one.start):
        if text.norm(i) in ("in", "from", "on", "the", "by") or i == low or i == start:
            name = name_at(text, i + 1 if i not in (low, start) else i, one.start)
            if name and name.kind in text.trade.kinds["control_unit"]:
                best = name.text
    return best

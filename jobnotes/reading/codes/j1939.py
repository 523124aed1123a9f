"""J1939 codes: SPN and FMI, in any way of saying them.

An SPN is 19 bits wide, an FMI 5 (SAE J1939-73: 0–524287, 0–31)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jobnotes.reading.codes.heard_codes import HeardCode, skip
from jobnotes.reading.speech import spelling
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import FaultCode, Repair

SPN_MAX = (1 << 19) - 1


FMI_MAX = 31


_NO_FMI = "no FMI was heard"


def j1939_code(text: Text, i: int, last_spn: int | None) -> HeardCode | None:
    doubts: list[str] = []
    repairs: list[Repair] = []
    spn: int | None
    same = text.cue("codes.same_spn", i)
    if same and last_spn is not None:
        j = skip(text, same[0], ("again", "and", "with", "but", "different"))
        if text.cue("codes.fmi", j) is None and text.cue("codes.fmi_misheard", j) is None:
            return None
        spn = last_spn
    else:
        cue = text.cue("codes.spn", i) or text.cue("codes.spn_misheard", i)
        if cue is not None:
            misheard = text.cue("codes.spn_misheard", i) is not None
            j = skip(text, cue[0], ("number", "is", "of", "code", "was"))
            run = spelling.digits(text.tokens, j, text.trade, gap=STOP if j == cue[0] else COMMA, longest=9)
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
            bare = _bare_spn(text, i)
            if bare is not None:
                return bare
            fmi_first = text.cue("codes.fmi", i)
            turned = _fmi_on_spn(text, i, fmi_first[0]) if fmi_first else None
            if turned is not None:
                return turned
            if fmi_first is None or last_spn is None or not _same_breath(text, i):
                return None
            spn, j = last_spn, i
            doubts.append(f"no SPN was said with this FMI; {last_spn} was the one before")
    if spn > SPN_MAX:
        doubts.append(f"SPN {spn} is out of bounds: the largest is {SPN_MAX}")
    k = skip(text, j, ("and", "with", "dash", "-", "/", "slash", "stroke", "is", "an", "at", "both", "all"))
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
        (None, j) if k < 0 else _fmi(text, skip(text, k, ("is", "of", "number", "was", "code", "-")), doubts)
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
    return HeardCode(i, end, FaultCode(code, "J1939", spn, fmi, meaning), tuple(doubts), tuple(repairs))


def _bare_spn(text: Text, i: int) -> HeardCode | None:
    """ "and 3226 FMI 20": the SPN without its name, right before the failure mode."""
    if text.norm(i - 1) in text.trade.words["before_no_value"] or text.cue("codes.count", i - 1):
        return None
    run = spelling.digits(text.tokens, i, text.trade, due=False, longest=9, gap=NO_BREAK)
    if run is None or not 2 <= len(run.text) <= 6 or not run.exact:
        return None
    cue = text.cue("codes.fmi", run.end)
    if cue is None or text.tokens[run.end].gap > COMMA:
        return None
    doubts: list[str] = []
    fmi, end = _fmi(text, skip(text, cue[0], ("is", "of", "number")), doubts)
    if fmi is None:
        return None
    spn = int(run.text)
    if spn > SPN_MAX:
        doubts.append(f"SPN {spn} is out of bounds: the largest is {SPN_MAX}")
    if fmi > FMI_MAX:
        doubts.append(f"FMI {fmi} is out of bounds: 0 to {FMI_MAX}")
    code = FaultCode(f"SPN {spn} FMI {fmi}", "J1939", spn, fmi, text.trade.fmi.get(fmi))
    return HeardCode(i, end, code, tuple(doubts))


def _fmi_on_spn(text: Text, i: int, j: int) -> HeardCode | None:
    """ "FMI 5 on SPN 102": the failure mode first."""
    doubts: list[str] = []
    fmi, end = _fmi(text, skip(text, j, ("is", "of", "number", "was", "code", "a")), doubts)
    if fmi is None or end >= len(text.tokens) or text.tokens[end].gap == STOP:
        return None
    k = skip(text, end, ("on", "for", "with", "of", "against", "from", "under", "the", "to", "at", "is"))
    cue = text.cue("codes.spn", k)
    if cue is None or k == end:
        return None
    run = spelling.digits(
        text.tokens, skip(text, cue[0], ("number", "is", "of", "code")), text.trade, longest=9, gap=NO_BREAK
    )
    if run is None:
        return None
    after = skip(text, run.end, ("and", "with", "dash", "-", "/", "is"))
    if (
        text.cue("codes.fmi", after) is not None
        and text.tokens[after].gap < STOP
        and _no_new_code(text, after)
    ):
        doubts.append("an FMI was said before the SPN and after it: which is its own?")
    spn = int(run.text)
    if not run.exact:
        doubts.append(f"SPN {run.text}: a number was heard as a word")
    if spn > SPN_MAX:
        doubts.append(f"SPN {spn} is out of bounds: the largest is {SPN_MAX}")
    if fmi > FMI_MAX:
        doubts.append(f"FMI {fmi} is out of bounds: 0 to {FMI_MAX}")
    code = FaultCode(f"SPN {spn} FMI {fmi}", "J1939", spn, fmi, text.trade.fmi.get(fmi))
    return HeardCode(i, run.end, code, tuple(doubts))


def _no_new_code(text: Text, i: int) -> bool:
    """The FMI at `i` is not followed by an SPN of its own ("FMI 5 on SPN 102 and FMI 3 on SPN 105")."""
    return not any(text.cue("codes.spn", k) for k in range(i, min(i + 6, len(text.tokens))))


def _without_spn(text: Text, i: int, j: int, last_spn: int | None) -> HeardCode | None:
    """ "… SPN, with FMI 7": the number was not heard; most likely "same SPN"."""
    k = skip(text, j, ("with", "and", "but"))
    cue = text.cue("codes.fmi", k)
    if cue is None or last_spn is None:
        return None
    doubts = [f"no SPN was heard with this FMI; {last_spn} was the one before"]
    fmi, end = _fmi(text, skip(text, cue[0], ("is", "of", "number")), doubts)
    if fmi is None or fmi > FMI_MAX:
        return None
    return HeardCode(
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
    first = spelling.digits(text.tokens, k, text.trade, longest=1, gap=NO_BREAK)
    if first is None:
        return None, k
    if not first.exact:
        doubts.append("the FMI was heard as a word, not a number")
    if len(first.text) == 1 and first.text in "0123":
        second = spelling.digits(text.tokens, first.end, text.trade, due=False, longest=1, gap=NO_BREAK)
        if (
            second
            and text.tokens[first.end].gap == NO_BREAK
            and len(second.text) == 1
            and int(first.text + second.text) <= FMI_MAX
            and not text.cue("codes.count", second.end)
        ):
            return int(first.text + second.text), second.end
    if len(first.text) == 1 and _goes_on_in_digits(text, first.end):
        doubts.append(f"'{text.said(k, first.end + 1)}': FMI {first.text}, or does it go on?")
    tens, ones = first.text[:1] + "0", first.text[1:]
    if ones and ones != "0" and first.end - k == 2 and _counts_times(text, first.end):
        doubts.append(f"'{text.said(k, first.end + 1)}': FMI {first.text}, or FMI {tens} {ones} times?")
    return int(first.text), first.end


def _goes_on_in_digits(text: Text, i: int) -> bool:
    """ "F M I nine three": a digit more right behind it, which begins nothing else that could be told."""
    more = spelling.digits(text.tokens, i, text.trade, due=False, longest=1, gap=NO_BREAK)
    if more is None or not text.goes_on(i) or len(more.text) != 1:
        return False
    name = name_at(text, more.end)
    counted = text.cue("codes.count", more.end) or (name is not None and name.kind is not None)
    in_a_unit = text.unit_follows(more.end) and len(text.norm(more.end)) > 1
    return not counted and not in_a_unit and not text.numeric[more.end : more.end + 1].count(True)


def _counts_times(text: Text, i: int) -> bool:
    return text.goes_on(i) and text.norm(i) in text.trade.words["comes_up"]


def shared(text: Text, heard: Sequence[HeardCode], last: HeardCode) -> list[HeardCode]:
    """ "SPN 102 and SPN 105, both FMI 18": `heard` with the FMI of `last` where they were named with it."""
    if last.code.fmi is None or not {"both", "all"} & set(text.norms[last.start : last.end]):
        return list(heard)
    out = list(heard)
    for at in range(len(out) - 1, -1, -1):
        one = out[at]
        if (
            one.code.spn is None
            or one.code.fmi is not None
            or text.breath(one.start) != text.breath(last.start)
        ):
            break
        code = replace(
            one.code,
            code=f"SPN {one.code.spn} FMI {last.code.fmi}",
            fmi=last.code.fmi,
            fmi_text=last.code.fmi_text,
        )
        out[at] = replace(one, code=code, doubts=tuple(d for d in one.doubts if d != _NO_FMI) + last.doubts)
    return out


def more_failure_modes(text: Text, first: HeardCode) -> list[HeardCode]:
    """ "SPN 520 FMI 3, 4 and 5": numbers that go on after a failure mode, perhaps of the same SPN."""
    if first.code.spn is None or first.code.fmi is None:
        return []
    found: list[HeardCode] = []
    i = first.end
    while i < len(text.tokens) and text.tokens[i].gap <= COMMA and len(found) < _MOST_MODES:
        joined = text.norm(i) in ("and", "plus")
        if not joined and text.tokens[i].gap != COMMA:
            break
        number = text.number(i + joined)
        if number is None or number.end != i + joined + 1 or not number.text.isdigit():
            break
        end, fmi = number.end, int(number.value)
        follows = end < len(text.tokens) and text.tokens[end].gap == NO_BREAK and text.norm(end) != "and"
        if fmi > FMI_MAX or follows:
            break
        doubt = f"'{number.text}' was said after FMI {first.code.fmi}: is it an FMI of the same SPN?"
        code = FaultCode(
            f"SPN {first.code.spn} FMI {fmi}", "J1939", first.code.spn, fmi, text.trade.fmi.get(fmi)
        )
        found.append(HeardCode(i + joined, end, code, (*first.doubts, doubt)))
        i = end
    return found


#: Nobody names more failure modes of one SPN in one breath.
_MOST_MODES = 4


def completed(heard: list[HeardCode]) -> list[HeardCode]:
    """An SPN named again without its FMI is the code that was read before, where there is only one such.

    So is its bare number, which may have been taken for a maker's own.
    """
    known: dict[int, set[FaultCode]] = {}
    out: list[HeardCode] = []
    for one in heard:
        code = one.code
        if code.system == "maker" and code.code.isdigit() and len(known.get(int(code.code), ())) == 1:
            (full,) = known[int(code.code)]
            out.append(replace(one, code=full))
            continue
        if code.spn is not None and code.fmi is None and len(known.get(code.spn, ())) == 1:
            (full,) = known[code.spn]
            doubts = tuple(d for d in one.doubts if d != _NO_FMI)
            one = replace(one, code=full, doubts=doubts)
        elif code.spn is not None and code.fmi is not None:
            known.setdefault(code.spn, set()).add(code)
        out.append(one)
    return out

"""Corrections: "SPN 5246, FMI 7 … scratch that, nine", "no, nine", "make that six".

A correction that gives a number replaces the number said before it (the one of the same label or unit, where
it names one); the sentence is then read anew with the right number in place, and what was first read is kept
as rejected. A retraction without a number takes back the clause before it.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace

from jobnotes.reading.speech.durations import duration
from jobnotes.reading.speech.names import Name, last_word, name_at, name_before
from jobnotes.reading.speech.spelling import Spelled
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP, Token

_CODE = re.compile(r"[PCBU][0-3][0-9A-F]{3}(-[0-9A-F]{2})?")

#: How far back, in tokens, a correction may reach.
REACH = 40


@dataclass(frozen=True, slots=True)
class Amendment:
    """Tokens `old_start` … `old_end` are replaced by those of `new_start` … `new_end`; `cue_start` opens it.

    Without new tokens, the old ones are taken back. `loose`: a word was put in the place of another, which
    leaves more to doubt than a number does.
    """

    old_start: int
    old_end: int
    cue_start: int
    new_start: int
    new_end: int
    loose: bool = False

    @property
    def retracts(self) -> bool:
        return self.new_start == self.new_end


def amendments(text: Text) -> list[Amendment]:
    """All corrections in the text, in order; they don't overlap."""
    found: list[Amendment] = []
    floor = 0
    free = 0
    for i in text.where("amend.cues", "amend.names_a_number"):  # "not" begins one of them
        denied = _denied_value(text, i, floor) if i >= free else None
        if denied is not None:
            found.append(denied)
            floor = free = denied.new_end
            continue
        cue = _cue(text, i) if i >= free else None
        if cue is None:
            named = _number_named(text, i, floor) if i >= free else None
            if named is not None:
                found.append(named)
                floor, free = named.new_start, named.new_end
            continue
        amendment = (
            _number(text, i, cue, floor) or _thing(text, i, cue, floor) or _retraction(text, i, cue, floor)
        )
        if amendment is None:
            continue
        if (
            found
            and not amendment.retracts
            and (amendment.old_start, amendment.old_end) == (found[-1].new_start, found[-1].new_end)
        ):
            # "seven, no, eight, no, nine": the last word counts
            amendment = replace(found.pop(), new_start=amendment.new_start, new_end=amendment.new_end)
        found.append(amendment)
        floor = amendment.new_start if not amendment.retracts else amendment.cue_start
        free = max(cue, amendment.new_end)
    return found


#: So many words the label of a part number has at most, of which the last may be "no".
_LABEL = 3


#: So many tokens back the number may stand that is named where it is put right, …
_NAMED_BACK = 150
#: … and so many tokens after it the right one may follow.
_RIGHT_ONE = 10


def _number_named(text: Text, i: int, floor: int) -> Amendment | None:
    """ "cross out the 45 on the hoses, it was 42": the number that was told before, and the right one."""
    cue = text.cue("amend.names_a_number", i)
    wrong = text.number(cue[0]) if cue is not None else None
    if wrong is None:
        return None
    for k in range(wrong.end, min(wrong.end + _RIGHT_ONE, text.breath(i)[1])):
        told = text.cue("amend.right_one", k)
        right = text.number(told[0]) if told is not None else None
        if right is None:
            continue
        for old in range(i - 1, max(floor, i - _NAMED_BACK) - 1, -1):
            number = text.number(old)
            if number is None or number.value != wrong.value or number.end > i:
                continue
            if (before := text.number(old - 1)) is not None and before.end >= number.end:
                continue  # "forty five" holds a five
            end, units = text.trade.unit_forms.at(text.norms, right.end)
            old_end, old_units = text.trade.unit_forms.at(text.norms, number.end)
            both = bool(units) and bool(old_units)
            return Amendment(old, old_end if both else number.end, i, right.start, end if both else right.end)
        return None
    return None


def _cue(text: Text, i: int) -> int | None:
    """The end of a run of correction cues at `i` ("no, sorry, make that")."""
    if text.ends_at(text.trade.cue["identity.part_number"], i + 1, _LABEL) is not None:
        return None  # "part no one four six two kilo"
    end = i
    while True:
        found = text.cue("amend.cues", end)
        if found is not None:
            end = found[0]
        elif end > i and (excused := _excuse(text, end)) is not None:
            end = excused
        else:
            break
    return end if end > i else None


#: So many tokens before "95, not 85" that 85 may have been told.
_FAR_BACK = 80
#: So many tokens right before a value name what it is of.
_NAMED = 6


def _denied_value(text: Text, i: int, floor: int) -> Amendment | None:
    """ "caliper bolts 85 newton metres … those bolts were 95, not 85": what was told before of the same thing
    and is denied at `i`, with the right value in its place."""
    denied = text.number(i + 1) if text.norm(i) == "not" else None
    if denied is None or text.goes_on(text.trade.unit_forms.at(text.norms, denied.end)[0]):
        return None
    start = max(text.breath(i)[0], floor)
    right = next((n for k in range(start, i) if (n := text.number(k)) is not None and n.end <= i), None)
    if right is None or right.value == denied.value:
        return None
    unit_end, units = text.trade.unit_forms.at(text.norms, right.end)
    if max(unit_end, right.end) != i:
        return None
    if set(text.norms[start : right.start]) & (text.trade.words["modal"] | {"now", "after", "before"}):
        return None  # "should be 6, not 7": what was read stands
    here = _thing_told(text, start, right.start)
    for k in range(start - 1, max(floor, start - _FAR_BACK) - 1, -1):
        old = text.number(k)
        if old is None or old.value != denied.value or old.end > start:
            continue
        told = text.trade.unit_forms.at(text.norms, old.end)[1]
        alike = bool(told) and (not units or units[0][0].ucum == told[0][0].ucum)
        named = _thing_told(text, max(text.breath(k)[0], k - _NAMED), k)
        same = here and named and here[0] == named[0] and (here[1] <= named[1] or named[1] <= here[1])
        if alike and same:
            return Amendment(old.start, old.end, start, right.start, right.end)
    return None


def _thing_told(text: Text, start: int, end: int) -> tuple[str, frozenset[str]] | None:
    """(last word, all words) of the component that is named last between two tokens."""
    for k in range(end, start, -1):
        name = name_before(text, k, start)
        if name is not None and name.kind is not None and not name.pronoun:
            return last_word(name.text), frozenset(name.text.casefold().split())
    return None


#: So many words tell at most what was looked at in error.
_LONGEST_EXCUSE = 4


def _excuse(text: Text, i: int) -> int | None:
    """The end of what was looked at in error, told after a correction's cue: "no, that's the trip, 7148".

    What the list doesn't hold is one where a comma parts it from the number, or from another cue.
    """
    known = text.cue("amend.excuses", i)
    if known is not None:
        return known[0] if _goes_on(text, known[0]) else None
    if text.norm(i - 1) not in ("that's", "it's") and text.norms[max(0, i - 2) : i] != ["that", "was"]:
        return None
    if text.norm(i) not in text.trade.determiners:
        return None
    for k in range(i + 1, min(i + _LONGEST_EXCUSE + 1, len(text.tokens))):
        if text.number(k) is not None:
            return k if k > i + 1 and text.tokens[k].gap == COMMA else None
        if text.tokens[k].gap > NO_BREAK:
            return k if k > i + 1 and _goes_on(text, k) else None
    return None


def _goes_on(text: Text, i: int) -> bool:
    """A number follows, or a word that takes back."""
    if i >= len(text.tokens):
        return False
    return (text.number(i) is not None and text.tokens[i].gap <= COMMA) or text.cue(
        "amend.cues", i
    ) is not None


def _phrases(text: Text, i: int, end: int) -> set[str]:
    found: set[str] = set()
    while i < end:
        cue = text.cue("amend.cues", i)
        if cue is not None:
            found.add(cue[1])
        excused = _excuse(text, i) if cue is None else None
        if cue is None and excused is None:
            break
        i = cue[0] if cue is not None else excused or end
    return found


def _number(text: Text, i: int, cue: int, floor: int) -> Amendment | None:
    soft = _phrases(text, i, cue) <= text.trade.words["soft_corrections"]
    j = cue
    while text.norm(j) in text.trade.words["correction_lead"] and text.number(j) is None and j - cue < 4:
        j += 1
    if "that" in text.norms[cue : j + 1] and text.number(j) is None:
        told = range(j + 1, min(j + _SUBJECT, len(text.tokens)))
        was = next(
            (k for k in told if text.norm(k) in ("was", "is") and text.number(k + 1) is not None), None
        )
        j = was + 1 if was is not None else j  # "correction, that right steer was 64 psi"
    label = label_end = j
    for name in ("codes.spn", "codes.fmi", "identity.part_number", "identity"):
        found = text.cue(name, j)
        if found:
            j = label_end = found[0]
            while (step := text.cue("identity.is_words", j)) is not None or text.norm(j) in ("it", "it's"):
                j = step[0] if step is not None else j + 1
            break
    new = text.number(j, due=not soft)
    if new is None:
        run = text.spelled(j, 24)
        if (
            soft
            and run is not None
            and not _CODE.fullmatch(run.text)
            and not _like_before(text, run, i, floor)
        ):
            run = None
        if run is None or run.end - j < 1 or not any(c.isdigit() for c in run.text):
            return None
        new = None
        new_end = run.end
        spelled = True
    else:
        new_end = new.end
        spelled = False
        run = text.spelled(j, 24)
        if run is not None and run.end > new_end and not text.unit_follows(new_end):
            new_end, spelled = run.end, True
    closed = (
        _closes(text, new_end) or j > label or _other_minutes(text, i, new_end)
    )  # "FMI one, correction, FMI seventeen" names what it corrects
    if soft and not closed and text.norm(new_end) not in text.norms[max(floor, i - 12) : i]:
        return None
    if (
        soft
        and text.norms[i] == "no"
        and text.tokens[i].gap == NO_BREAK
        and text.norm(i - 1) in text.trade.words["before_plain_no"]
    ):
        return None
    old = _old(text, i, label, label_end, spelled, floor, new_end)
    if old is None:
        return None
    if text.norms[i:cue] == ["that", "should", "be"] and _measured(text, max(text.breath(i)[0], floor), i):
        return None  # "nine volts on the pin and that should be twenty three": what it should be
    span = _whole_span(text, i, j, floor) if not spelled else None
    if span is not None:
        return Amendment(span[0], span[1], i, j, span[2])
    if soft and not closed:
        if text.norm(old[1]) != text.norm(new_end):
            return None
        old, new_end = (old[0], old[1] + 1), new_end + 1  # "3 clips. Correction, 2 clips."
        old, new_end = _past_what_is_said_again(text, old, new_end, i)
    if new is not None and not spelled:
        stop, units = text.trade.unit_forms.at(text.norms, new_end)
        old_stop, old_units = text.trade.unit_forms.at(text.norms, old[1])
        again = {unit.ucum for unit, _ in units} & {unit.ucum for unit, _ in old_units}
        if units and not again:  # another unit, or one that was not said before
            old, new_end = (old[0], old_stop), stop
        elif not units and not soft:
            old, new_end = _past_what_is_said_again(text, old, new_end, i)
    return Amendment(old[0], old[1], i, j, new_end)


def _other_minutes(text: Text, cue: int, new_end: int) -> bool:
    """ "an hour and twenty five, no, thirty five on the pump": other minutes of the same hours."""
    if text.norm(new_end) not in ("on", "for"):
        return False
    wrong = next((n for back in (2, 1) if (n := text.number(cue - back)) and n.end == cue), None)
    if wrong is None or wrong.value >= _AN_HOUR:
        return False
    before = wrong.start - 1 - (text.norm(wrong.start - 1) == "and")
    return text.norm(before) in text.trade.words["hour_words"]


#: In minutes.
_AN_HOUR = 60


def _past_what_is_said_again(
    text: Text, old: tuple[int, int], new_end: int, cue: int
) -> tuple[tuple[int, int], int]:
    """The old number and the end of the right one with the words that follow both: "two new pins, no, make
    that three new pins"."""
    end = old[1]
    while end < cue and text.goes_on(new_end) and text.goes_on(end) and text.norm(end).isalpha():
        if text.norm(end) != text.norm(new_end):
            break
        end, new_end = end + 1, new_end + 1
    return (old[0], end), new_end


def _measured(text: Text, start: int, end: int) -> bool:
    """Whether a number with its unit stands between tokens `start` and `end`."""
    numbers = (text.number(k) for k in range(start, end))
    return any(n is not None and n.end < end and text.unit_follows(n.end) for n in numbers)


#: So many tokens at most tell what a number is of that is put right: "that right steer was".
_SUBJECT = 6


#: So many tokens a span of time takes at most.
_LONGEST_SPAN = 8


def _whole_span(text: Text, cue: int, new: int, floor: int) -> tuple[int, int, int] | None:
    """(start, end, end of the new one) where one span of time takes the place of another: "an hour and three
    quarters, no, make that two hours" is not only about the quarters."""
    told = duration(text, new)
    if told is None:
        return None
    for k in range(max(floor, cue - _LONGEST_SPAN), cue):
        before = duration(text, k)
        if before is not None and cue - before[1] <= 1:
            return k, before[1], told[1]
    return None


def _like_before(text: Text, run: Spelled, i: int, floor: int) -> bool:
    """ "registration AB12 CDE, sorry, AB12 CDF": a string of the same shape stands right before."""
    shape = re.sub(r"[0-9]", "0", re.sub(r"[A-Z]", "A", run.text))
    for k in range(max(floor, i - 18), i):
        before = text.spelled(k, 24)
        if before is None or before.end > i or i - before.end > 2 or len(before.text) < 4:
            continue
        if re.sub(r"[0-9]", "0", re.sub(r"[A-Z]", "A", before.text)) == shape:
            return True
    return False


def _closes(text: Text, end: int) -> bool:
    """After the new number the sentence ends, or only its unit is said again."""
    if not text.goes_on(end):
        return True
    if text.unit_follows(end) or text.opens_clause(end):
        return True
    bounded = end + 1 if text.norm(end) in ("it", "they", "that", "and") else end
    if any(text.cue(f"limits.{role}", bounded) for role in ("nominal", "max", "min")):
        return True  # "two, no, three it should be nothing"
    return any(
        text.trade.cue[n].at(text.norms, end)[1]
        for n in (
            "starters",
            "headings",
            "identity.job_number",
            "identity.part_number",
            "photo.cues",
            "codes.spn",
            "states",
            "clock",
        )
    )


def _old(
    text: Text,
    cue: int,
    label: int,
    label_end: int,
    spelled: bool,
    floor: int,
    new_end: int,
) -> tuple[int, int] | None:
    """The number that the correction replaces: the last one, of the same label or unit if it has one."""
    low = max(floor, cue - REACH)
    candidates: list[tuple[int, int]] = []
    k = low
    while k < cue:
        named = text.cue("codes.spn", k) or text.cue("codes.fmi", k)
        if named:
            k = named[0]
            continue
        number = text.number(k)
        run = text.spelled(k, 24)
        end = number.end if number is not None and number.end <= cue else k
        if (
            run is not None
            and run.end <= cue
            and any(c.isdigit() for c in run.text)
            and run.end >= end
            and not (number is not None and text.unit_follows(number.end))
            and (run.end - k > 1 or len(run.text) >= 4)
        ):
            end = run.end
        if end > k:
            candidates.append((k, end))
            k = end
        else:
            k += 1
    if not candidates:
        return None
    if label_end > label:  # "no, FMI nine"
        wanted = text.norms[label:label_end]
        for start, end in reversed(candidates):
            first = start
            while text.cue("identity.is_words", first - 1):
                first -= 1
            if wanted in (text.norms[start - len(wanted) : start], text.norms[first - len(wanted) : first]):
                return start, end
        return None
    unit = text.trade.unit_forms.at(text.norms, new_end)[1]
    last_start, last_end = candidates[-1]
    bare = not text.unit_follows(last_end)
    if unit and bare and text.breath(last_start) == text.breath(cue) and cue - last_end <= 2:
        return candidates[-1]  # "top bolt 330, no, 300 Nm"
    if unit:
        for start, end in reversed(candidates):
            other = text.trade.unit_forms.at(text.norms, end)[1]
            if other and other[0][0].quantity == unit[0][0].quantity:
                return start, end
        return None
    if text.tokens[cue].gap == STOP and cue - candidates[-1][1] > 14 and not spelled:
        return None
    run = text.spelled(label, 24)
    if (
        run is not None
        and len(run.text) > _LONGEST_FMI
        and text.ends_at(text.trade.cue["codes.fmi"], last_start, 4)
    ):
        return None  # "FMI 1, no hang on, seven nine zero": another SPN, and no FMI
    alike = _alike(text, candidates, label)
    return alike if alike is not None else candidates[-1]


#: An FMI has one digit or two (SAE J1939-73: 0 to 31).
_LONGEST_FMI = 2


def _alike(text: Text, candidates: list[tuple[int, int]], new: int) -> tuple[int, int] | None:
    """ "41 litres a minute at 1,000 rpm, no, 51": of two numbers the one that is as long is meant."""
    said = text.number(new)
    if said is None or len(candidates) < 2:
        return None
    last, before = (text.number(start) for start, _ in candidates[:-3:-1])
    if (
        last is None
        or before is None
        or text.norm(last.start - 1) not in ("at", "for", "after", "in", "over")
    ):
        return None
    if text.breath(before.start) != text.breath(last.start) or last.start - before.end > 6:
        return None
    digits = len(said.text)
    return candidates[-2] if len(before.text) == digits != len(last.text) else None


def _thing(text: Text, i: int, cue: int, floor: int) -> Amendment | None:
    """ "the left, sorry, right hose", "six injectors, sorry, not injectors, thermostats"."""
    pair = text.trade.opposite.get(text.norm(cue))
    if pair:
        for k in range(i - 1, max(floor, i - 8) - 1, -1):
            if text.norm(k) in pair:
                end = cue + 1
                if (
                    text.norm(k + 1) == text.norm(end)
                    and end < len(text.tokens)
                    and text.tokens[end].gap == NO_BREAK
                    and k + 1 < i
                ):
                    end += 1  # the thing is said again with its side
                return (
                    Amendment(k, k + 1, i, cue, cue + 1)
                    if end == cue + 1
                    else Amendment(k, k + 2, i, cue, end)
                )
    said = name_at(text, cue)
    if said is not None and said.kind and not said.pronoun and text.cue("amend.things", i):
        closed = not text.goes_on(said.end)
        wrong = name_before(text, i, max(floor, i - 6))
        if closed and wrong is not None and wrong.kind and not wrong.pronoun:
            return Amendment(wrong.start, wrong.end, i, cue, said.end, loose=True)
    if text.norm(cue) == "not":
        after = cue + 2 if text.norm(cue + 1) in text.trade.determiners else cue + 1
        word = text.norm(after)
        right = name_at(text, after + 1)
        if right is None or right.kind is None or right.pronoun:
            return None
        for k in range(i - 1, max(floor, i - 20) - 1, -1):
            if text.norm(k) == word:
                return Amendment(k, k + 1, i, right.start, right.end, loose=True)
    return None


def _retraction(text: Text, i: int, cue: int, floor: int) -> Amendment | None:
    """ "scratch that": what was said since the last border is taken back; what follows stands."""
    if not any(text.trade.cue["amend.retract"].at(text.norms, k)[1] for k in range(i, cue)):
        return None
    if i == 0 or i <= floor:
        return None
    start, _ = text.clause(i - 1)
    start = max(start, floor)
    denied = name_at(text, cue) if text.norm(cue - 1) == "no" and text.tokens[cue].gap == NO_BREAK else None
    if denied is not None and denied.kind is not None and not denied.pronoun:
        return _only_that(text, denied, start, i, cue)
    whole = any(c.isdigit() for c in text.norm(start)) and len(text.norm(start)) >= 4  # a code in one word
    if i - start < 2 and start > floor and not whole:
        start = max(floor, text.clause(start - 1)[0])
    return Amendment(_last_listed(text, start, i), i, i, cue, cue)


def _only_that(text: Text, denied: Name, start: int, i: int, cue: int) -> Amendment | None:
    """ "… a new gasket, and a new thermostat. Scratch that, no thermostat": of what was told, the one that is
    denied; the "no" stays."""
    for k in range(i - 1, start - 1, -1):
        name = name_at(text, k, i)
        if name is None or last_word(name.text) != last_word(denied.text):
            continue
        first, leads = k, text.trade.determiners | {"new", "and", "with", "plus"}
        while first > start and text.norm(first - 1) in leads:
            first -= 1
        return Amendment(first, name.end, i, cue - 1, cue - 1)
    return None


def _last_listed(text: Text, start: int, end: int) -> int:
    """ "U0001-88 active, and also B1A22-13, … forget that": where the last of several values begins."""

    def holds_one(a: int, b: int) -> bool:
        return any(any(c.isdigit() for c in text.norm(k)) or text.number(k) is not None for k in range(a, b))

    for k in range(end - 1, start, -1):
        if text.tokens[k].gap == COMMA and text.norm(k) in ("and", "plus", "also"):
            return k if holds_one(start, k) and holds_one(k, end) else start
    return start


def apply(tokens: list[Token], found: list[Amendment]) -> tuple[list[Token], list[int]]:
    """The tokens as they were meant, and for each of them its index before.

    A new number stands in the place of the old one; the cue and what it replaced are gone.
    """
    out: list[Token] = []
    origin: list[int] = []
    position = 0

    def take(start: int, end: int) -> None:
        for k in range(start, end):
            out.append(tokens[k])
            origin.append(k)

    for one in found:
        take(position, one.old_start)
        if one.retracts:
            position = one.new_end
            continue
        first = len(out)
        take(one.new_start, one.new_end)
        if first < len(out):
            old = tokens[one.old_start]
            out[first] = Token(out[first].text, out[first].norm, out[first].word, old.gap, False)
        take(one.old_end, one.cue_start)
        position = one.new_end
        if not out:
            continue
        # what stood between the old number and the cue has had its say: what follows begins anew
        if position < len(tokens) and one.old_end < one.cue_start:
            rest = tokens[position]
            tokens[position] = Token(rest.text, rest.norm, rest.word, max(rest.gap, STOP), False)
    take(position, len(tokens))
    return out, origin

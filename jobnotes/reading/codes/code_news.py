"""What is said about a fault code: its state, how often it came, the control unit that stores it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from jobnotes.reading.codes.heard_codes import HeardCode, skip
from jobnotes.reading.speech.names import Name, name_at
from jobnotes.reading.speech.numbers import Number
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK

State = Literal["active", "inactive", "stored", "pending", "cleared"]
#: Said of a code that isn't there: it never was, or no longer is.
Absent = Literal["absent"]
_STATES: Mapping[str, State] = {state: state for state in get_args(State)}
#: So near behind "cleared the code" stands the code that is meant.
_BESIDE = 3
_TIMES = {"once": 1, "twice": 2, "thrice": 3}


@dataclass(frozen=True, slots=True)
class News:
    """What is said about a code, the end of what says so, and the tokens of the number that counts it."""

    state: State | Absent | None
    count: int | None
    ecu: str | None
    end: int
    counted: tuple[int, int] | None = None


def gone_codes(text: Text) -> list[tuple[int, int]]:
    """Where it is said of all codes that they are gone: "codes did not return", "none came back"."""
    found = []
    for i, j, _ in text.find(text.trade.cue["codes.all_gone"], 0, len(text.tokens)):
        if text.sense(i, ("plan", "condition", "question")) is None:
            found.append((i, j))
    return found


@dataclass(frozen=True, slots=True)
class Cleared:
    """Where codes are said to be cleared without being named; `doubt`: it may be said of other things."""

    start: int
    end: int
    of_all: bool
    doubt: str = ""


def cleared_codes(
    text: Text, named: Sequence[tuple[int, int]], gone_at: Sequence[tuple[int, int]]
) -> list[Cleared]:
    """What is said of codes that aren't named with it, in order: "codes cleared", "wiped the lot".

    `named` are the tokens of the codes that are, in order: "fault 451 cleared" tells of that one; `gone_at`
    is where they are said to be gone.
    """
    starts, ends = [start for start, _ in named], [end for _, end in named]
    found = []
    for cue in ("all_cleared", "one_cleared", "cleared_them", "cleared_it"):
        for i, j, _ in text.find(text.trade.cue[f"codes.{cue}"], 0, len(text.tokens)):
            breath = text.breath(i)
            behind = bisect_left(starts, j)
            goes_on = text.norm(j) in ("and", "then", "but")  # "cleared the codes, and P0299 came back"
            near = behind < len(starts) and starts[behind] - j <= _BESIDE and starts[behind] < breath[1]
            beside = near and not goes_on
            before = bisect_right(ends, i) - 1
            beside = beside or (before >= 0 and i - ends[before] <= 1 and ends[before] > breath[0])
            unreal = text.sense(i, ("plan", "condition", "question")) is not None
            if beside or unreal or text.negated_before(i) or text.norm(i - 1) == "no":
                continue
            doubt = ""
            if cue == "cleared_it" and not _speaks_of_codes(text, breath[0], i):
                continue
            if cue == "cleared_them":
                if _of_other_things(text, j):
                    continue
                spoken_of = ends[before] if before >= 0 else None
                stay_away = any(j <= k <= j + _STAYS_AWAY for k, _ in gone_at)
                if not stay_away and (spoken_of is None or _others_spoken_of(text, spoken_of, i)):
                    doubt = _OF_WHAT.format(text.said(i, j))
            found.append(Cleared(i, j, cue not in ("one_cleared", "cleared_it"), doubt))
    return sorted(found, key=lambda c: c.start)


def _speaks_of_codes(text: Text, start: int, end: int) -> bool:
    """Whether codes are spoken of in these tokens, and nothing else is after them."""
    last = next((k for k in range(end - 1, start - 1, -1) if text.cue("codes.fault", k)), None)
    return last is not None and not any(text.component_at(k)[1] for k in range(last, end))


def _others_spoken_of(text: Text, start: int, i: int) -> bool:
    """Whether what the verb at `i` was done to may be something that was told of from `start` on."""
    if text.norm(i) in text.trade.words["clears_codes"]:  # else only what is blocked
        return any(meaning == "blocked" for _, _, meaning in text.find(text.trade.failures, start, i))
    return any(text.component_at(k)[1] for k in range(start, i))


def _of_other_things(text: Text, i: int) -> bool:
    """ "cleared all the drains", "wiped both mating faces": what was cleared is named behind it."""
    if not text.goes_on(i):
        return False
    name = name_at(text, i + (text.norm(i) == "of"))
    return name is not None and name.start <= i + 1 and not name.pronoun


#: So many tokens behind "cleared them" it may be said that they stay away.
_STAYS_AWAY = 14
_OF_WHAT = "'{}': was it the codes that were cleared?"


def news_of(text: Text, heard: Sequence[HeardCode], at: int) -> News:
    """State, count and control unit of the code `heard[at]`, from the words around it."""
    one = heard[at]
    before = heard[at - 1].end if at else 0
    later = range(at + 1, len(heard))
    after = heard[at + 1].start if later else len(text.tokens)
    start, end = text.sentence(one.start)
    if end < after and text.norm(end) in text.trade.words["its_state_follows"]:
        more = text.sentence(end)[1]
        if text.tokens[end].gap == COMMA or more - end <= _TOLD_NEXT:
            end = more  # "P0234, that's active"
    opens = next(h.start for h in heard[max(0, at - 6) : at + 1] if h.start >= start)
    limit = min(_of_the_next(text, after, opens), end, one.end + 14)
    for k in range(one.end, limit):
        if text.cue("codes.fmi", k) or text.cue("codes.spn", k):
            limit = k
            break
    state, state_end = _state(text, one.end, limit)
    quote_end = max(one.end, state_end)
    if state is None and (own := _of_the_next(text, one.start, opens)) < one.start:
        state = _state_before(text, own, one.start)  # "and an inactive P0401"
    if state is None and later:  # "SPN a, SPN b, both active"
        tail = one.end
        for other in (heard[k] for k in later):
            if text.sentence(other.start)[0] != start:
                break
            tail = other.end
        if tail > one.end and _both(text, tail, min(tail + 4, end)):
            state, _ = _state(text, tail, min(tail + 6, end))
    # "active codes SPN a and SPN b", "cleared P0299": what stands between two codes is said of the first
    if state is None and not (opens < one.start and _contrast(text, before, one.start)):
        codes = [h.start for h in reversed(heard[max(0, at - 6) : at])]
        described = ((_of_the_next(text, code, opens), code) for code in codes)
        before_all = (max(start, one.start - 14, opens - 14), opens)
        state = _state_before(text, *next((d for d in described if start <= d[0] < d[1]), before_all))
    if state is None and text.norm(one.end) in ("did", "does", "has") and _closed(text, one.end + 1):
        state = "active"  # "U0100 didn't come back but U0155 did"
    if state is None and before <= start and start > 0 and start == one.start:  # "two codes active." "SPN …"
        previous = text.sentence(start - 1)
        announced = any(text.cue("codes.fault", k) for k in range(*previous))
        if announced and previous[1] - previous[0] < 14 and not text.negated(*previous):
            state, _ = _state(text, *previous)
            if state == "cleared":
                state = None
    if state is None and later:  # "A and B active": one state for a bare list
        last = one
        for other in (heard[k] for k in later):
            if not set(text.norms[last.end : other.start]) <= {"and", "also"} or text.breath(
                other.start
            ) != text.breath(one.start):
                break
            last = other
        if last is not one:
            state, _ = _state(text, last.end, min(last.end + 3, text.breath(one.start)[1]))
    count, count_end = _count(text, one.end, limit)
    if count is None and end == limit:
        count, told = _counted_next(text, end, after)
        count_end = told if count is not None else count_end
    quote_end = max(quote_end, count_end)
    ecu = _ecu(text, one, start, limit, before)
    counted = _number_before(text, one.end, count_end) if count is not None else None
    return News(state, count, ecu, quote_end, counted)


#: A sentence that tells the state of the code before it has at most so many words: "It's active again."
_TOLD_NEXT = 6
#: So many tokens before a code its own state may begin: "an inactive fault code".
_DESCRIBES = 4


def _of_the_next(text: Text, code: int, opens: int = -1) -> int:
    """Where what describes the code at token `code` begins: "P0234, and a pending P0299"; else `code` itself.

    Only behind an article or "and": of "P0234 active P0299" the state is the first one's. Where the
    sentence's first code, at `opens`, has its state before it, the next ones have too: "stored P0234, active
    P0299"; and of "P0234 active, stored P0299" the first one's is told already.
    """
    if code >= len(text.tokens):
        return code
    words = text.trade.words
    leads = 0 <= opens < code and _of_the_next(text, opens, opens) < opens
    for i in range(max(text.breath(code)[0], code - _DESCRIBES), code):
        if any(text.tokens[k].gap > NO_BREAK for k in range(i + 1, code + 1)):
            continue
        cue = text.cue("states", i)
        if cue is None or cue[1] not in _DESCRIBING or cue[0] > code:
            continue
        if not set(text.norms[cue[0] : code]) <= words["called_code"]:
            continue
        apart = text.tokens[i].gap > NO_BREAK
        told = apart and 0 <= opens < i and _state(text, text.clause(i - 1)[0], i)[0] is not None
        opening = opens == code or told or (leads and (apart or text.number(i - 1)))
        if opening or (text.tokens[i].gap == NO_BREAK and text.norm(i - 1) in words["before_own_state"]):
            return i
    return code


#: States that are told before a code; the others are what was done to it.
_DESCRIBING = frozenset(("active", "inactive", "stored", "pending"))
#: So many tokens before its end the number of a count begins: "a hundred and twelve times".
_COUNT = 6


def _number_before(text: Text, start: int, end: int) -> tuple[int, int] | None:
    for k in range(max(start, end - _COUNT), end):
        number = text.number(k)
        if number is not None and number.end <= end:
            return k, number.end
    return None


def _contrast(text: Text, start: int, end: int) -> bool:
    """ "cleared P0401, but P0402 …": the second code is told apart from the first."""
    return any(
        text.norm(k) in ("but", "only", "though", "however", "except", "still") for k in range(start, end)
    )


def _closed(text: Text, i: int) -> bool:
    return not text.goes_on(i) or text.norm(i) in ("and", "so", "again")


def _both(text: Text, start: int, end: int) -> bool:
    return any(text.norm(i) in ("both", "all") for i in range(start, end))


def _state(text: Text, start: int, end: int) -> tuple[State | Absent | None, int]:
    found: State | Absent | None = None
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
        if found == "active" and text.norms[stop:i] == ["as"]:
            found, stop = _STATES[meaning], j  # "came back as pending"
            continue
        if found is not None and {"now", "but"} & set(text.norms[stop:i]) and "was" in text.norms[start:stop]:
            found, stop = _STATES[meaning], j  # "was active but now inactive"
            continue
        if found is not None and meaning in ("active", "inactive", "stored", "pending"):
            break  # the first state is this code's; another belongs to what follows
        if meaning == "active" and text.negated(max(start, i - 2), i):
            meaning = "inactive"
        found, stop = _STATES[meaning], j
    return found, stop


def _state_before(text: Text, start: int, end: int) -> State | Absent | None:
    state, _ = _state(text, start, end)
    return state


def _count(text: Text, start: int, end: int) -> tuple[int | None, int]:
    for i in range(start, end):
        if text.norm(i) in _TIMES:
            return _TIMES[text.norm(i)], i + 1
        cue = text.cue("codes.count", i)
        if text.norm(i) in ("x", "×") and text.norm(i - 1).isalpha():
            times = text.number(i + 1)  # "active x 18"
            if times is not None and _is_count(times) and not text.unit_follows(times.end):
                return int(times.value), times.end
        if cue is None:
            continue
        number = text.number(_past_is(text, cue[0]), due=True)
        if number and _is_count(number) and text.norm(i) not in ("times", "counts", "occurrences"):
            if _counts_a_thing_too(text, number):
                return int(number.atoms[0]), number.start + 1
            return int(number.value), number.end
        for back in (4, 3, 2, 1):
            if i - back >= start:
                number = text.number(i - back)
                if _one_of_them(text, i - back):
                    continue
                if number and number.end == i and _is_count(number):
                    return int(number.value), cue[0]
    return None, start


def _counts_a_thing_too(text: Text, number: Number) -> bool:
    """ "count two four bolts out": the last of two digits in words says how many of what is named behind."""
    atoms, end = number.atoms, number.end
    if len(atoms) != 2 or any(len(a) > 1 for a in atoms) or number.start + 2 != end or not text.goes_on(end):
        return False
    name = name_at(text, end)
    return name is not None and name.start == end and bool(name.kind) and not name.pronoun


def _one_of_them(text: Text, i: int) -> bool:
    """ "it's had that one seven times": the "one" at `i` is the code, and no part of the count."""
    return text.norm(i) == "one" and text.norm(i - 1) in text.trade.words["before_pronoun_one"]


#: A sentence that tells how often a code came has at most so many words.
_LONGEST_COUNT = 9


def _counted_next(text: Text, start: int, after: int) -> tuple[int | None, int]:
    """ "Count is 12.", "it's come up eleven times": the count, in one of the two sentences after the code."""
    first = start
    for _ in range(2):
        if start >= after:
            break
        end = text.sentence(start)[1]
        if end > after or end - start > _LONGEST_COUNT or text.sense(start) is not None:
            break
        if text.cue("codes.count", start) or set(text.norms[start:end]) & text.trade.words["comes_up"]:
            return _count(text, start, end)
        start = end
    return None, first


def _is_count(number: Number) -> bool:
    return number.value >= 0 and number.value == number.value.to_integral_value()


def _past_is(text: Text, i: int) -> int:
    return skip(text, i, ("is", "of", "was"))


def unit_of_none(text: Text, start: int, end: int) -> str | None:
    """The control unit of which tokens `start` … `end` tell that it has no codes: "none in the ABS unit"."""
    first, last = text.sentence(start)
    for i in range(end, last):
        if text.norm(i) in ("in", "from", "on", "for"):
            name = name_at(text, i + 1, last)
            if name is not None and is_control_unit(text, name):
                return name.text
    name = name_at(text, first, start)
    return name.text if name is not None and is_control_unit(text, name) else None


def _heading_unit(text: Text, one: HeardCode, start: int, before: int) -> str | None:
    """ "the modulator's got code 14": what has a code, at the start of its clause."""
    first = max(start, before, text.breath(one.start)[0])
    while first < one.start and text.norm(first) in text.trade.words["before_code_unit"]:
        first += 1
    name = name_at(text, first, one.start)
    whole = name_at(text, name.end + 1, one.start) if name and text.norm(name.end) == "of" else None
    if name is not None and whole is not None and is_control_unit(text, name):
        # "ECU of the levelling system has two codes"
        rest = set(text.norms[whole.end : one.start])
        return text.said(name.start, whole.end) if rest <= text.trade.words["has_codes"] else None
    if name is None or name.pronoun or (name.kind is None and not is_control_unit(text, name)):
        return None
    between = text.norms[name.end : one.start]
    if not between and not is_control_unit(text, name):
        return None
    return name.text if set(between) <= text.trade.words["has_codes"] and len(between) <= 4 else None


def is_control_unit(text: Text, name: Name) -> bool:
    """A control unit, by the lexicon or by its last word: "the dosing unit", "ECU engine"."""
    if name.pronoun:
        return False
    words = name.text.casefold().split()
    if name.kind in text.trade.kinds["control_unit"] or (
        len(words) > 1 and words[-1] in text.trade.words["control_unit_ends"]
    ):
        return True
    return text.trade.kind_of.get(words[0]) in text.trade.kinds["control_unit"]


def _ecu(text: Text, one: HeardCode, start: int, limit: int, before: int) -> str | None:
    for i in range(one.end, min(limit, one.end + 14)):
        if text.norm(i) in ("in", "from", "on", "by", "at"):
            name = name_at(text, i + 1, limit)
            if name and is_control_unit(text, name):
                return name.text
    for i in range(one.start, one.end):  # "code on the machine controller is 4062"
        if text.norm(i) in ("in", "from", "on"):
            name = name_at(text, i + 1, one.end)
            if name and is_control_unit(text, name):
                return name.text
    if one.end < len(text.tokens):
        for i in range(one.end, min(limit, one.end + 6)):
            if text.tokens[i].gap == COMMA:  # "inactive, engine controller."
                name = name_at(text, i, limit)
                if name and is_control_unit(text, name):
                    return name.text
    breath_end = text.breath(one.start)[1]
    for i in range(one.end, min(breath_end, one.end + 24)):
        together = text.norm(i) in ("both", "all", "come", "came", "coming") or text.tokens[i].gap > NO_BREAK
        if together and text.norm(i + 1) in ("from", "in", "on"):
            name = name_at(text, i + 2, breath_end)
            if name and is_control_unit(text, name):
                return name.text
    heads = _heading_unit(text, one, start, before)
    if heads is not None:
        return heads
    breath = text.breath(one.start)[0]
    earlier = text.breath(breath - 1)[0] if breath else 0
    # "two codes in the engine ECU." announces what follows; a line with a code of its own doesn't
    low = max(0, start - 14, one.start - 22, breath if before > earlier else earlier)
    best: str | None = None
    for i in range(low, one.start):
        if text.norm(i) in ("in", "from", "on", "the", "by") or i in (low, start):
            opens = i in (low, start) and text.norm(i) not in ("in", "from", "on", "the", "by")
            name = name_at(text, i if opens else i + 1, one.start)
            # "from the gearbox U0073 active": named right before its code
            told = text.norm(i) == "from" and name is not None and name.end == one.start and name.kind
            if name and (is_control_unit(text, name) or told):
                best = name.text
    return best

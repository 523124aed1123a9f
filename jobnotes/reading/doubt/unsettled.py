"""Numbers that what stands beside them may take back or make another: they are for a person to check."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace

from jobnotes.reading.doubt.left_open import TAKEN_BACK, left_open, ran_by_itself
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.numbers import UNITS, digit_by_sound
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.work.part_numbers import RATING
from jobnotes.record import Clock, FaultCode, Identity, LabourSaid, Measurement, Part, Statement, Step

#: How many tokens away words may stand that make a fact doubtful.
REACH = 14


def doubted(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """The drafts, with a doubt where a number stands beside words that leave it open.

    In `text` the corrections that were understood are carried out already, so those left were not.
    """
    drafts = [_amount_of_nothing(draft) for draft in _questioned(text, drafts)]
    told: dict[str, set[str]] = {}
    for draft in drafts:
        if isinstance(draft.detail, Identity) and not draft.doubts:
            told.setdefault(draft.detail.kind, set()).add(draft.detail.value)
    endings = _endings(drafts)
    drafts = [_perhaps_another(draft.doubted(*left_open(text, draft)), endings) for draft in drafts]
    drafts = _some_back(text, drafts)
    drafts = _complained_of(text, _heard_inside(text, _new_and_used(text, drafts)))
    gone = _taken_back_later(text)
    return _as_named([_unsaid(_contradicted(_doubted(text, draft), told), gone) for draft in drafts])


def _complained_of(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """With a doubt where work is told within a complaint: "reports leaks, topping up two litres a day".

    What a vehicle does there, "running hot" or "check engine light", is no step at all; only what came off or
    went on again may be of this job, where a complaint runs on into it.
    """
    complaints = sorted(
        (d.start, d.end) for d in drafts if isinstance(d.detail, Statement) and d.detail.kind == "complaint"
    )
    starts = [start for start, _ in complaints]
    kept = []
    for draft in drafts:
        at = bisect_right(starts, draft.start) - 1
        within = at >= 0 and draft.end <= complaints[at][1]
        mine = {"i", "we", "i've", "we've"} & set(text.norms[max(0, draft.start - 2) : draft.start + 1])
        if within and isinstance(draft.detail, Step) and draft.detail.action not in _CAME_OFF and not mine:
            continue
        if within and isinstance(draft.detail, Step | Part | LabourSaid | Measurement):
            draft = draft.doubted(_TOLD_WITH_COMPLAINT)
        kept.append(draft)
    return kept


_CAME_OFF = frozenset(("removed", "refitted", "disconnected", "reconnected", "lost", "drained"))
_TOLD_WITH_COMPLAINT = "told with the complaint: was it of this job?"


def _new_and_used(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """With a doubt where "it" is used again and what was named last was fitted: "new kit … re-using it"."""
    fitted: set[str] = set()
    out: list[Draft] = []
    for draft in drafts:
        part = draft.detail
        name = part.name.casefold() if isinstance(part, Part) else ""
        pronoun = {"it", "them", "they"} & set(text.norms[draft.start : draft.end])
        if isinstance(part, Part) and part.action == "fitted":
            fitted.add(name)
        elif isinstance(part, Part) and part.action == "reused" and name in fitted and pronoun:
            draft = draft.doubted(f"the {part.name} was fitted: is it this that was used again?")
        out.append(draft)
    return out


def _heard_inside(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """With a doubt where a number holds a word that only sounds like a digit: "count of twenty too"."""
    at = [k for k, norm in enumerate(text.norms) if norm not in UNITS and _inside(text, k, norm)]

    def heard(draft: Draft) -> Draft:
        first = bisect_left(at, draft.start)
        if draft.doubts or isinstance(draft.detail, Statement) or first == len(at) or at[first] >= draft.end:
            return draft
        said = text.said(max(0, at[first] - 1), at[first] + 1)
        return draft.doubted(f"'{said}' was heard inside a number: which number is it?")

    return [heard(draft) for draft in drafts] if at else list(drafts)


def _inside(text: Text, k: int, norm: str) -> bool:
    return norm in text.trade.homophones and digit_by_sound(text.tokens, k, text.trade)


def _amount_of_nothing(draft: Draft) -> Draft:
    """Without its amount, and with a doubt, where this is less than nothing: "minus five cans of cleaner"."""
    detail = draft.detail
    if not isinstance(detail, Part | Step) or detail.quantity is None or detail.quantity >= 0:
        return draft
    doubt = f"an amount of {detail.quantity} can't be: how many were there?"
    return replace(draft, detail=replace(detail, quantity=None), doubts=(*draft.doubts, doubt))


def _as_named(drafts: Sequence[Draft]) -> list[Draft]:
    """What is told of a code without naming it ("codes cleared") is as doubtful as the code itself."""
    named: dict[str, tuple[str, ...]] = {}
    out: list[Draft] = []
    for draft in drafts:
        code = draft.detail.code if isinstance(draft.detail, FaultCode) else None
        if code is not None and draft.unnamed:
            doubts = dict.fromkeys((*draft.doubts, *named.get(code, ())))
            out.append(replace(draft, doubts=tuple(doubts)))
            continue
        if code is not None:
            named[code] = draft.doubts
        out.append(draft)
    return out


def _perhaps_another(draft: Draft, endings: Mapping[str, str]) -> Draft:
    """ "0401 has not come back", where P0401 was told: the same code, or another one?"""
    code = draft.detail
    if not isinstance(code, FaultCode) or code.system != "maker" or code.code not in endings:
        return draft
    return draft.doubted(f"is it {endings[code.code]}?")


def _endings(drafts: Sequence[Draft]) -> dict[str, str]:
    """The standard codes that were told, by each ending that may stand for the whole."""
    codes = [d.detail.code for d in drafts if isinstance(d.detail, FaultCode) and d.detail.system != "maker"]
    return {code[k:]: code for code in codes for k in range(1, len(code) - _DIGITS + 1)}


#: So many digits at the end of a code may stand for the whole of it.
_DIGITS = 3


def _some_back(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """ "cleared codes, one of them came back": which one is no longer cleared?"""
    back = [i for i, _, _ in text.find(text.trade.cue["codes.some_back"], 0, len(text.tokens))]

    def perhaps(draft: Draft) -> bool:
        cleared = isinstance(draft.detail, FaultCode) and draft.detail.state == "cleared"
        return cleared and any(
            _between(back, at - _LATER + 1, at + _LATER) for at in (draft.start, draft.end)
        )

    doubt = "one of the codes was told to be back, or still there: is it this one?"
    return [draft.doubted(doubt) if perhaps(draft) else draft for draft in drafts]


def _between(positions: Sequence[int], low: int, high: int) -> bool:
    """Whether one of `positions`, which are in order, is from `low` to `high` (excluded)."""
    return bisect_left(positions, low) < bisect_left(positions, high)


#: So many tokens around "one of them came back" the codes were told to be cleared.
_LATER = 40


def _read_wrongly(text: Text, draft: Draft) -> bool:
    """ "FMI 1, no hang on I'm reading the wrong line", "… active. No, the other way round"."""
    found = text.find(text.trade.cue["amend.read_wrongly"], draft.start, draft.end + _FAR)
    return any(i >= draft.start for i, _, _ in found)


def _taken_back_later(text: Text) -> Mapping[str, Sequence[int]]:
    """The things of which someone said "strike what I said about …", and where, in order."""
    gone: dict[str, list[int]] = {}
    for i, j, _ in text.find(text.trade.cue["amend.said_of"], 0, len(text.tokens)):
        name = name_at(text, j)
        if name is not None and not name.pronoun:
            gone.setdefault(name.text.casefold().split()[-1], []).append(i)
    return gone


def _unsaid(draft: Draft, gone: Mapping[str, Sequence[int]]) -> Draft:
    """With a doubt where what it speaks of was taken back later."""
    detail = draft.detail
    if not isinstance(detail, Part | Step | Measurement):
        return draft
    names = {Part: "name", Step: "object", Measurement: "subject"}
    said = (getattr(detail, names[type(detail)]) or "").casefold().split()
    later = [
        (gone[word][at], word)
        for word in said
        if word in gone and (at := bisect_left(gone[word], draft.end)) < len(gone[word])
    ]
    return draft.doubted(f"what was said about the {min(later)[1]} was taken back later") if later else draft


#: So many tokens after a number it may be put right, in words that were not understood.
_FAR = 16


def _questioned(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """With a doubt where another of its kind follows soon, and between them words that put things right:
    "C1042 in the door ECU, hang on, glasses, C1024"."""
    out: list[Draft] = []
    for at, draft in enumerate(drafts):
        following = _next_of_its_kind(drafts, at)
        if following is not None and following.start >= draft.end:
            for i, j, _ in text.find(text.trade.cue["amend.cues"], draft.end, following.start):
                if text.tokens[i].gap > NO_BREAK and (j - i > 1 or _takes_back(text, i)):
                    doubt = f"'{text.said(i, j)}' was said after it: was it put right?"
                    draft = draft.doubted(doubt)
                    break
        out.append(draft)
    return out


def _next_of_its_kind(drafts: Sequence[Draft], at: int) -> Draft | None:
    """The draft after the one at `at`, in the order in which they were said, that may put it right."""
    for k in range(at + 1, len(drafts)):
        if drafts[k].start > drafts[at].end + _FAR:
            return None
        if _may_replace(drafts[at], drafts[k]):
            return drafts[k]
    return None


def _may_replace(one: Draft, other: Draft) -> bool:
    a, b = one.detail, other.detail
    if isinstance(a, Measurement) and isinstance(b, Measurement):
        return a.unit == b.unit
    if isinstance(a, Identity) and isinstance(b, Identity):
        return a.kind == b.kind
    return isinstance(a, FaultCode) and isinstance(b, FaultCode)


def _contradicted(draft: Draft, told: Mapping[str, set[str]]) -> Draft:
    """With a doubt where another job number or odometer was told too; the end of a longer one is the same."""
    detail = draft.detail
    if not isinstance(detail, Identity):
        return draft
    others = sorted(
        value
        for value in told.get(detail.kind, ())
        if not value.endswith(detail.value) and not detail.value.endswith(value)
    )
    if not others:
        return draft
    return draft.doubted(f"{', '.join(others)} was told as well: which is right?")


def _doubted(text: Text, draft: Draft) -> Draft:
    detail = draft.detail
    if isinstance(detail, Statement):
        other = _elsewhere(text, draft, ("vehicle",))
        if other is None or detail.kind not in _OF_THIS_JOB:
            return draft
        return draft.doubted(f"'{other}' was said with it: is it of this job?")
    if isinstance(detail, Clock) and (fault := _pause_for_a_fault(text, draft)):
        return draft.doubted(f"'{fault}' is a fault: was it 'cause' that was said?")
    if not isinstance(detail, Measurement | Part | LabourSaid | Identity | FaultCode | Step):
        return draft
    if isinstance(detail, Step) and text.norms[draft.end : draft.end + 2] == ["but", "not"]:
        doubt = "what was not done was told with it: does it count?"  # "rails looked at but not adjusted"
        draft = draft.doubted(doubt)
    elsewhere = _elsewhere(text, draft)
    ordered = isinstance(detail, Part) and detail.action == "ordered"
    to_come = ordered and elsewhere in text.trade.words["will_come"]  # "on order, should be here tomorrow"
    if elsewhere is not None and not to_come:
        draft = draft.doubted(f"'{elsewhere}' was said with it: is it of this job?")
    if (heard := _denied_after(text, draft)) is not None:
        draft = draft.doubted(f"'{heard}' was said after it: was it put right?")
    if isinstance(detail, Step) and detail.quantity is None:
        denied = text.norm(draft.end) == "no" and text.tokens[draft.end].gap == COMMA
        if denied and _takes_back(text, draft.end):  # "drained the tanks, no, just the wet tank"
            return draft.doubted(TAKEN_BACK)
        return draft
    if isinstance(detail, Part) and (failed := _began_failing(text, detail.name)):
        draft = draft.doubted(f"'{failed}' is how something failed: what was the part?")
    if isinstance(detail, Part) and _meant_otherwise(text, draft.end):
        draft = draft.doubted(TAKEN_BACK)  # "clean it with carb cleaner no I'm fitting a new one"
    if isinstance(detail, Part) and detail.number is None and detail.quantity is None:
        return draft
    doubts = [TAKEN_BACK] if any(_takes_back(text, at) for at in _after(text, draft)) else []
    if isinstance(detail, Part) and detail.unit in ("A", "V", "W", "kW", "mA", "bar", "Hz"):
        doubts.append(f"{detail.quantity} {detail.unit} is what it is made for, not how many")
    if isinstance(detail, LabourSaid) and (heard := _cut_at_its_point(text, draft)):
        doubts.append(f"'{heard}' before it may be part of the number")
    if isinstance(detail, LabourSaid) and ran_by_itself(text, draft):
        doubts.append("was it worked, or did it run that long by itself?")
    if isinstance(detail, FaultCode | Measurement | Identity) and _read_wrongly(text, draft):
        doubts.append(TAKEN_BACK)
    if isinstance(detail, LabourSaid) and (more := _more_time(text, draft)):
        doubts.append(f"'{more}' after it may be more of it")
    if isinstance(detail, Measurement):
        first = (detail.subject or "").casefold().split()[:1]
        if first and first[0] in text.trade.words["limit_nouns"]:
            doubts.append("is it a reading, or a limit?")
        if detail.quantity == "time" and (heard := _moved_meanwhile(detail.subject)):
            doubts.append(f"'{heard}' was told with it: is that the reading, and the time only how long?")
        if detail.quantity in ("mass", "length") and _of_a_tool(text, draft):
            doubts.append("is it read, or the size of a tool?")
        if heard := _begun_by_a_homophone(text, draft):
            doubts.append(f"'{heard}' may be a number")
        if detail.limit is None and (unread := _limit_unread(text, draft)):
            doubts.append(f"'{unread}' after it: was a limit told that was not read?")
        if _names_a_thing(text, draft, detail.unit):
            doubts.append("it may be part of a name, as in 'V clamps'")
    if isinstance(detail, FaultCode) and detail.spn is None and not _announced(text, draft, detail):
        doubts.append("nothing was said of it but its letters: is it stored?")
    if isinstance(detail, FaultCode) and detail.system == "maker" and _after_a_homophone(text, draft.start):
        doubts.append(f"'{text.norm(draft.start - 1)}' before it may be a digit of it")
    if isinstance(detail, Identity) and (span := _span_of_hours(text, draft, detail)):
        doubts.append(f"{detail.value} on the meter, or {span}?")
    if isinstance(detail, Identity) and text.norm(draft.end) in _GOES_AGAINST and text.goes_on(draft.end):
        doubts.append(f"'{text.said(draft.end, draft.end + 5)}' was said after it: does it hold?")
    if isinstance(detail, Identity) and detail.kind == "registration" and detail.value.isdigit():
        doubts.append("a registration is seldom figures only")
    beside = draft.keys[0][1] if draft.keys else draft.end
    if isinstance(detail, LabourSaid) and (
        _numbers_in(text, draft, detail.operation or "")
        or (beside < len(text.tokens) and text.tokens[beside].gap == NO_BREAK and _small_number(text, beside))
        or _minutes_after_a_comma(text, beside)
    ):
        doubts.append("another number stands beside it")
    if isinstance(detail, Part) and detail.number and RATING.fullmatch(detail.number):
        doubts.append(f"'{detail.number}' may be what it is rated for, not its number")
    if isinstance(detail, Part | Identity) and (more := _spelled_on(text, draft)):
        doubts.append(f"'{more}' right after it may belong to the number")
    return draft.doubted(*doubts)


#: Behind a meter's reading or a number, these tell that something speaks against it.
_GOES_AGAINST = frozenset(("but", "although", "though", "unless"))

#: What may be said with any fact that makes it doubtful, and what with facts of one kind.
_ANY = ("vehicle", "time", "people", "unreal")
_ONLY: Mapping[type, str] = {Part: "not_fitted", Measurement: "not_measured", FaultCode: "not_stored"}


#: Statements that count as this vehicle's.
_OF_THIS_JOB = ("cause", "finding", "advisory", "loose_end", "correction")


def _denied_after(text: Text, draft: Draft) -> str | None:
    """ "seven litres … not seven, nine": the very number, or one of its unit, denied soon after."""
    detail = draft.detail
    value: object = None
    if isinstance(detail, Part | Step):
        value = detail.quantity
    elif isinstance(detail, Measurement):
        value = detail.value
    unit = detail.unit if isinstance(detail, Part | Step | Measurement) else None
    if value is None or "not" not in text.norms[draft.end : draft.end + REACH]:
        return None  # most often
    for k in range(draft.end, min(len(text.tokens) - 1, draft.end + REACH)):
        number = text.number(k + 1) if text.norm(k) == "not" else None
        if number is None:
            continue
        meanings = text.trade.unit_forms.at(text.norms, number.end)[1]
        if number.value == value or (unit is not None and any(m[0].ucum == unit for m in meanings)):
            return text.said(k, number.end)
    return None


def _elsewhere(text: Text, draft: Draft, only: Sequence[str] | None = None) -> str | None:
    """The words in the same breath that tell of another vehicle, time or person, or of what wasn't done."""
    detail = draft.detail
    first, last = text.breath(draft.start)
    start, end = max(first, draft.start - REACH), min(last, draft.end + REACH)
    groups = [*(only or _ANY), *(name for kind, name in _ONLY.items() if isinstance(detail, kind))]
    if isinstance(detail, Part) and detail.action not in ("fitted", "consumed", "ordered"):
        groups.remove("time")
    cues = [f"elsewhere.{group}" for group in groups]
    if text.trade.first_words(*cues).isdisjoint(text.norms[start:end]):
        return None  # most often
    for cue in cues:
        for i, j, _ in text.find(text.trade.cue[cue], start, end):
            return text.said(i, j)
    return None


def _after(text: Text, draft: Draft) -> list[int]:
    """Where a word that takes something back may stand: right after, or after "I think" and the like."""
    end = draft.end
    while (
        end < len(text.tokens) and text.norms[end] in text.trade.words["hesitation"] and end < draft.end + 4
    ):
        end += 1
    return [draft.end - 1, draft.end, end]


def _began_failing(text: Text, name: str) -> str | None:
    """ "shocks both leaking rear axle, renewed": the word that a name can't begin with."""
    first = name.casefold().split()[:1]
    fails = first and first[0].endswith("ing") and text.trade.failures.at(first, 0)[1]
    return first[0] if fails else None


def _meant_otherwise(text: Text, at: int) -> bool:
    """Whether "no" and who speaks stand there: "… no I'm fitting a new one"."""
    return text.norm(at) == "no" and text.norm(at + 1) in text.trade.words["speakers"] - {"there's", "that's"}


def _takes_back(text: Text, at: int) -> bool:
    """Whether a word that takes something back stands at that token: "no, an hour and a half"."""
    if not 0 < at < len(text.tokens) - 1:
        return False
    cue = text.cue("amend.cues", at)
    if cue is not None and cue[0] > at + 1 and text.tokens[at].gap == COMMA:
        return True  # "180 bar, no wait, I was on the wrong port"
    if text.norms[at] == "not" and text.tokens[at].gap == COMMA and text.number(at + 1) is not None:
        return True  # "tango three five nine, not nine, three five eight"
    if text.norms[at] not in text.trade.words["soft_corrections"]:
        return False
    if text.norms[at] != "no":
        # "correction, replaced the pump" is the heading of another statement
        heads = text.tokens[at].gap == STOP and text.cue("headings", at) is not None
        return text.number(at + 1) is not None or (text.tokens[at].gap > NO_BREAK and not heads)
    # "no leaks" is no correction; "no, …" and "no an hour" are
    return (
        text.tokens[at + 1].gap > NO_BREAK
        or text.number(at + 1) is not None
        or text.unit_follows(at + 1)
        or text.norms[at + 1] in text.trade.words["correction_lead"]
    )


def _announced(text: Text, draft: Draft, code: FaultCode) -> bool:
    """Whether a code was named as one, said to be stored, or said alone: not "it's like a P0101"."""
    if code.state or code.count or code.ecu:
        return True
    start, end = text.breath(draft.start)
    if end - start - (draft.end - draft.start) <= 2:
        return True
    start = text.breath(start - 1)[0] if start else start
    cues = ("codes.fault", "codes.maker", "states", "codes.spn")
    return any(text.find(text.trade.cue[cue], start, end) for cue in cues)


def _moved_meanwhile(subject: str | None) -> str | None:
    """ "dropped from 8.5 to 8.2 in ten minutes": what was read is how far it dropped."""
    words = (subject or "").split()
    moved = "from" in words and "to" in words and sum(any(c.isdigit() for c in w) for w in words) > 1
    return subject if moved else None


def _of_a_tool(text: Text, draft: Draft) -> bool:
    """ "pressed in with the hydraulic press, 20 ton"."""
    at = draft.keys[0][0] if draft.keys else draft.start
    return at > 0 and text.tokens[at].gap == COMMA and text.norm(at - 1) in text.trade.words["tools"]


def _more_time(text: Text, draft: Draft) -> str | None:
    """ "one hour and for tea minutes": what follows may be minutes that were heard as other words."""
    end = draft.keys[0][1] if draft.keys else draft.end
    if text.norm(end) != "and":
        return None
    for k in range(end + 1, min(end + 5, text.breath(draft.start)[1])):
        unit = text.trade.unit_forms.at(text.norms, k)[1]
        if unit and unit[0][0].quantity == "time":
            return text.said(end, k + 1)
    return None


def _begun_by_a_homophone(text: Text, draft: Draft) -> str | None:
    """The word before a bare "hundred" or "thousand" that sounds like a number: "too hundred"; or one before
    any number that nobody says there: "ate tea five"."""
    for k in range(max(draft.start, 1), draft.end):
        if any(a < k < b for a, b in draft.keys):
            continue  # it was read with the number
        beside = text.tokens[k].gap == NO_BREAK and text.number(k) is not None
        if beside and text.norms[k - 1] in text.trade.words["only_misheard_numbers"]:
            return text.said(k - 1, k + 1)
        if text.norms[k] in ("hundred", "thousand") and text.tokens[k].gap == NO_BREAK:
            before = text.norms[k - 1]
            radio_digit = before in text.trade.digits and before not in UNITS  # "tree"; "three" is read
            if radio_digit or before in text.trade.homophones:
                return f"{before} {text.norms[k]}"
    return None


def _after_a_homophone(text: Text, i: int) -> bool:
    return i > 0 and text.norm(i - 1) in text.trade.homophones and text.tokens[i].gap == NO_BREAK


def _cut_at_its_point(text: Text, draft: Draft) -> str | None:
    """A number right before "point", which was told with it: "labour too point five hours"."""
    k = draft.keys[0][0] if draft.keys else draft.start
    if k < 1 or text.norms[k] != "point" or text.tokens[k].gap > NO_BREAK:
        return None
    before = text.norms[k - 1]
    return before if before in text.trade.homophones or text.number(k - 1) is not None else None


def _names_a_thing(text: Text, draft: Draft, unit: str) -> bool:
    """Whether a component follows a unit of one letter without a break: "two V clamps"."""
    end = draft.keys[0][1]
    if len(unit) > 1:
        return False
    if not text.goes_on(end) or text.norms[end - 1] != unit.casefold():
        return False
    return bool(text.trade.components.at(text.norms, end)[1])


def _spelled_on(text: Text, draft: Draft) -> str | None:
    """A single digit or a dash that follows a number that was told: "four, oh, five, two, two"."""
    if isinstance(draft.detail, Part) and not (draft.detail.number or draft.detail.serial):
        return None
    end = draft.keys[-1][1]
    if end != draft.end or not 0 < end < len(text.tokens) or text.tokens[end].gap > COMMA:
        return None
    norm = text.norms[end]
    counted = text.number(end)
    if norm in ("dash", "hyphen") and text.number(end + 1) is not None:
        return text.said(end, end + 2)
    if counted is None or counted.end != end + 1 or len(counted.text) != 1:
        return None
    alone = not text.goes_on(end + 1)
    spelt_so = text.tokens[end].gap == NO_BREAK or text.tokens[end - 1].gap == COMMA
    return text.said(end, end + 1) if alone and spelt_so else None


def _small_number(text: Text, at: int) -> bool:
    """Minutes that may belong to the hours before: "three hours forty I think"."""
    number = text.number(at)
    named = number is not None and text.unit_follows(number.end)
    return number is not None and not named and "." not in number.text and number.value < 60


#: From here on a number after hours and a comma is more likely of minutes than of things.
_SOME_MINUTES = 5


def _minutes_after_a_comma(text: Text, at: int) -> bool:
    """ "three hours, forty of the …": no pieces of anything that is named."""
    number = text.number(at) if at < len(text.tokens) and text.tokens[at].gap == COMMA else None
    if number is None or not _small_number(text, at) or number.value < _SOME_MINUTES:
        return False
    name = name_at(text, at)
    return name is None or name.kind is None


def _limit_unread(text: Text, draft: Draft) -> str | None:
    """Where a limit is announced right after a reading and no number follows: "1.2 seconds, limit due"."""
    start = draft.keys[0][1]
    _, stop = text.breath(max(draft.start, start - 1))
    for role in ("max", "min"):
        found = text.cue(f"limits.{role}", start)
        if found is None or text.norm(start) not in text.trade.words["limit_nouns"]:
            continue
        end = found[0]
        rest = text.norms[end:stop]
        if len(rest) == 1 and text.number(end) is None and rest[0] not in text.trade.words["limit_met"]:
            return text.said(start, stop)
    return None


def _pause_for_a_fault(text: Text, draft: Draft) -> str | None:
    """ "Pause, locking bar worn": a component right after the bare word, of which nothing says that it is
    waited for."""
    start = draft.start + 1
    if text.norm(draft.start) != "pause" or start >= draft.end:
        return None
    if text.norm(start) in text.trade.determiners:
        start += 1
    named = any(text.component_at(k)[1] for k in (start, start + 1) if k < draft.end)
    waited = set(text.norms[start : draft.end]) & text.trade.words["waited_for"]
    return text.said(draft.start + 1, draft.end) if named and not waited else None


def _span_of_hours(text: Text, draft: Draft, detail: Identity) -> str | None:
    """ "245 hours on it", as hours and minutes, where it can be read so and no meter was named before it."""
    if detail.kind != "engine_hours" or len(detail.value) != 3 or not detail.value.isdigit():
        return None
    if text.find(text.trade.cue["identity.engine_hours"], draft.start, draft.keys[0][0]):
        return None
    hours, minutes = divmod(int(detail.value), 100)
    return f"{hours} h {minutes} min" if 0 < minutes < 60 and minutes % 5 == 0 else None


def _numbers_in(text: Text, draft: Draft, operation: str) -> bool:
    """Whether the words that were taken for the operation hold a number: "says one"."""
    words = set(operation.casefold().split())
    return any(text.norms[k] in words and text.number(k) is not None for k in range(draft.start, draft.end))

"""Readings: a value with its unit, test point, conditions and limit, and the verdict that follows.

The quantities are found first, then each gets its unit, its role and its limits; those that are readings
become facts.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from jobnotes.reading.readings.conditions import conditions_of
from jobnotes.reading.readings.limits import attach_limits, share_limits
from jobnotes.reading.readings.named_earlier import named_earlier, says_nothing
from jobnotes.reading.readings.process_times import process_of
from jobnotes.reading.readings.quantities import Quantity, find_quantities
from jobnotes.reading.readings.roles import assign_roles
from jobnotes.reading.readings.series import tell_entries
from jobnotes.reading.readings.test_points import place_after_ends, test_point_of
from jobnotes.reading.readings.unsaid_units import share_units, take_units, unit_told_apart
from jobnotes.reading.readings.verdicts import limit_of, verdict_of
from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.work.spoken_work import Work, Works
from jobnotes.record import Measurement

#: Verbs of work that say nothing of what is measured after them.
_TAKES_NO_READING = frozenset(
    "removed refitted disconnected reconnected opened closed lifted lowered drained cleaned bled "
    "lubricated".split()
)


#: So many tokens before a reading its limit is still quoted with it.
NEAR = 8


def readings(text: Text, verbs: Sequence[Work] = ()) -> Iterator[Draft]:
    """Readings in order; `verbs` tell where the words of a job end and those of a test point begin."""
    done = sorted(w.end for w in verbs if w.part or w.action in _TAKES_NO_READING)
    near = Works(verbs)
    quantities = find_quantities(text)
    unit_told_apart(text, quantities)
    share_units(text, quantities)
    take_units(text, quantities)
    share_units(text, quantities)
    assign_roles(text, quantities)
    attach_limits(text, quantities)
    tell_entries(text, quantities)
    share_limits(text, quantities)
    last: Measurement | None = None
    before: tuple[Quantity, Measurement] | None = None
    told: dict[str, dict[str, None]] = {}  # subjects by unit, each once, in the order in which they came
    ends = sorted(q.end for q in quantities)
    for q in quantities:
        if q.role != "value" or q.unit is None:
            continue
        draft = _draft(text, q, quantities, ends, last, done, near)
        if draft is None:
            continue
        assert isinstance(draft.detail, Measurement)
        if says_nothing(text, draft.detail.subject):
            subject = draft.detail.subject or process_of(text, q) or _tightened(text, q, near)
            if says_nothing(text, subject):
                subject = _named_in_breath(text, q, quantities, before) or subject
            subject = subject or _named_with_limit(text, q) or _same_as_before(text, q, told)
            if subject is None and q.named is not None:
                subject = text.said(*q.named)
            doubts = draft.doubts
            if subject is None:
                subject, doubts = _spoken_of_before(text, q, told, near, doubts)
            draft = replace(draft, detail=replace(draft.detail, subject=subject), doubts=doubts)
        assert isinstance(draft.detail, Measurement)
        if q.unit.quantity == "torque" and not _names_a_component(text, draft.detail.subject):
            fastener = _fastener_before(text, text.breath(q.start)[0], q.start)  # "two were loose, 24 N.m"
            if fastener is not None:
                draft = replace(draft, detail=replace(draft.detail, subject=fastener))
        assert isinstance(draft.detail, Measurement)
        last = draft.detail
        before = (q, last)
        if last.subject is not None:
            told.setdefault(last.unit, {})[last.subject] = None
        yield draft


def _named_in_breath(
    text: Text, q: Quantity, quantities: list[Quantity], before: tuple[Quantity, Measurement] | None
) -> str | None:
    """What is named earlier in the breath, at the place that is told here; `before`: the last reading."""
    subject = named_earlier(text, q, quantities, before)
    if subject is None or before is None or subject != before[1].subject:
        return subject
    return _at_the_other_place(text, subject, max(text.breath(q.start)[0], before[0].end), q.start)


def _named_with_limit(text: Text, q: Quantity) -> str | None:
    """ "desired rail pressure 600 bar, actual 320": the reading is of what its limit before it names."""
    before = [limit for limit in q.limits if limit.end <= q.start]
    if not before or text.breath(before[-1].start) != text.breath(q.start):
        return None
    start, end = before[-1].cue_start, before[-1].start
    if text.norm(start) not in text.trade.words["wanted_values"]:
        return None
    while end > start + 1 and text.norm(end - 1) in text.trade.words["around_subject"]:
        end -= 1
    if end > start + 1:
        return text.said(start + 1, end)
    opens = text.clause(start)[0]  # "rail pressure desired 600 bar, actual 320"
    return text.said(opens, start) if 0 < start - opens <= _FEW and _plain(text, opens, start) else None


#: So many words at most name what a value was asked for.
_FEW = 4


def _plain(text: Text, start: int, end: int) -> bool:
    """Whether nothing is counted and no reading taken in tokens `start` … `end`."""
    return not any(text.numeric[start:end]) and not text.trade.words["around_subject"] & set(
        text.norms[start:end]
    )


def _tightened(text: Text, q: Quantity, works: Works) -> str | None:
    """ "put in an outlet sensor, torqued to 50": a torque is that of what went on right before it."""
    if q.unit is None or q.unit.quantity != "torque":
        return None
    breath = text.breath(q.start)[0]
    for work in reversed(works.reaching(max(breath, q.start - 20), q.start)):
        names = [o for o in work.objects if o.kind and not o.pronoun and o.kind != "everything"]
        if work.action == "removed" or work.start < breath or work.end > q.start:
            continue
        if names:
            return names[-1].text if len(names) == 1 else None
    return _fastener_before(text, breath, q.start)


def _fastener_before(text: Text, breath: int, end: int) -> str | None:
    """ "mounting bolts: 8, all checked at 260": the last fastener or clamp named in the same breath."""
    for k in range(end - 1, breath - 1, -1):
        _, named = text.component_at(k)
        if named and named[0][0] in text.trade.kinds["fastening"]:
            start = next((j for j in range(max(breath, k - 3), k) if _name_from(text, j, k)), k)
            name = name_at(text, start, end)
            return name.text if name is not None and name.end > k else None
    return None


def _names_a_component(text: Text, subject: str | None) -> bool:
    words = (subject or "").casefold().split()
    return any(text.trade.components.at(words, k)[1] for k in range(len(words)))


def _name_from(text: Text, j: int, k: int) -> bool:
    name = name_at(text, j)
    return name is not None and name.start == j and name.end > k


def _what_was_set(text: Text, q: Quantity, works: Works) -> str | None:
    """ "I adjusted the ride height. It is 315 millimetres": "it" is what the sentence before was about."""
    start = text.breath(q.start)[0]
    lead = set(text.norms[start : q.start])
    if start == 0 or "it" not in lead or not lead <= text.trade.words["around_subject"] | {"it", "now"}:
        return None
    earlier = text.breath(start - 1)[0]
    names = [
        name.text
        for work in works.reaching(earlier, start)
        if earlier <= work.start and work.end <= start
        for name in work.objects
        if not name.pronoun and name.kind != "everything"
    ]
    return names[0] if len(names) == 1 else None


def _same_as_before(text: Text, q: Quantity, told: Mapping[str, dict[str, None]]) -> str | None:
    """ "19.4 bar now": of what was measured in that unit before, where that was one thing only."""
    start, end = text.breath(q.start)
    before = told.get(q.unit.ucum, {}) if q.unit is not None else {}
    if len(before) != 1 or "now" not in text.norms[start:end] or end - start > 8:
        return None
    return next(iter(before))


#: So many tokens before a reading what it is of may have been named.
_FAR = 40


def _spoken_of_before(
    text: Text, q: Quantity, told: Mapping[str, dict[str, None]], works: Works, doubts: tuple[str, ...]
) -> tuple[str | None, tuple[str, ...]]:
    """(what a reading that names nothing is of, the doubts with it).

    A torque is that of what was worked on last ("new pressure switch on. Four newton metres"), any other
    reading is of what was measured in that unit before ("170 bar now"): doubted where that was more than one.
    """
    start, end = text.breath(q.start)
    if q.unit is None or end - start > _SHORT or q.unit.quantity == "time":
        return None, doubts
    if any(text.trade.components.at(text.norms, k)[1] for k in range(start, end)):
        return None, doubts
    if q.unit.quantity == "torque":
        done = [w for w in works.reaching(max(0, start - _FAR), start) if w.action in _TIGHT]
        names = [
            o for w in done[-1:] for o in w.objects if o.kind and not o.pronoun and o.kind != "everything"
        ]
        if not names:
            return None, doubts
        near = text.breath(start - 1)[0] <= names[-1].start and len(names) == 1
        return names[-1].text, doubts if near else (*doubts, _OF_WHICH.format(names[-1].text))
    before = told.get(q.unit.ucum, {})
    if not before:
        return None, doubts
    latest = next(reversed(before))
    return latest, doubts if len(before) == 1 else (*doubts, _OF_WHICH.format(latest))


#: What is said alone in so many tokens tells of what was spoken of before.
_SHORT = 12
#: After work of these kinds a torque is that of what went on.
_TIGHT = frozenset(("refitted", "fitted", "tightened", "reconnected", "closed", "connected"))
_OF_WHICH = "what was measured was not said: the {}, as before?"


#: Among the words of place, those that tell of a state or of both.
_STATES = frozenset(("before", "after", "both", "high", "low"))


def _at_the_other_place(text: Text, subject: str, start: int, end: int) -> str:
    """ "bag pressure on the left is 2.1 bar, and on the right it's 4.6": the same, at the place told here."""
    places = text.trade.words["value_places"] - _STATES
    here = [w for w in text.norms[start:end] if w in places]
    said = subject.split()
    for place in here:
        if place in (word.casefold() for word in said):
            continue
        pairs = [pair.split() for pair in text.trade.words["counterparts"]]
        others = {a if b == place else b for a, b in pairs if place in (a, b)}
        at = next((k for k, word in enumerate(said) if word.casefold() in others), None)
        said = [*said[:at], place, *said[at + 1 :]] if at is not None else [*said, place]
    return " ".join(said)


def _draft(
    text: Text,
    q: Quantity,
    quantities: list[Quantity],
    ends: Sequence[int],
    last: Measurement | None,
    done: list[int],
    works: Works,
) -> Draft | None:
    assert q.unit is not None
    limit, limit_span, doubts = limit_of(text.trade, q)
    start, _ = text.clause(q.start)
    subject, left = test_point_of(text, q, quantities, done)
    conditions = conditions_of(text, q, quantities, left)
    subject = _what_was_set(text, q, works) or subject
    if (
        subject is None
        and last is not None
        and last.subject
        and q.unit
        and last.unit == q.unit.ucum
        and q.start - start < 6
    ):
        subject = last.subject
    if subject is not None and last is not None and subject == last.subject:
        behind = bisect_right(ends, q.start)
        before = max(text.breath(q.start)[0], ends[behind - 1] if behind else 0)
        subject = _at_the_other_place(text, subject, before, q.start)
    value = q.value
    verdict, doubt = verdict_of(value, limit)
    all_doubts = [*q.doubts, *doubts]
    if doubt:
        all_doubts.append(doubt)
    for o in q.limits:
        all_doubts += o.doubts
    near = [(s, e) for s, e in limit_span if left - e <= NEAR]  # one told before a whole list stands far away
    begin = min([left, q.start, *(s for s, _ in near)])
    finish = max([q.end, *(e for _, e in near)])
    if begin < q.start - 40:
        begin = q.start
    measurement = Measurement(value, q.unit.ucum, q.unit.quantity, subject, conditions, limit, verdict)
    keys = ((q.start, q.end), *((o.start, o.end) for o in q.limits))
    return Draft(
        measurement,
        begin,
        min(max(finish, place_after_ends(text, q)), begin + 60),
        score=0.95 if subject else 0.85,
        doubts=tuple(dict.fromkeys(all_doubts)),
        repairs=tuple(q.repairs),
        keys=keys,
    )

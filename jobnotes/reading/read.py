"""From words to facts: the list of extractors, and what is done around them.

Notes are read as one transcript, since corrections and later news ("did not come back") reach over pauses;
each fact is led back to the note and the words that say it."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from operator import attrgetter

from jobnotes.reading.amendments import Amendment, amendments, apply
from jobnotes.reading.codes.fault_codes import fault_codes
from jobnotes.reading.doubt.borne_out import borne_out
from jobnotes.reading.doubt.second_hearing import Span, heard_by_the_second, joined
from jobnotes.reading.doubt.unsettled import doubted
from jobnotes.reading.facts import facts_of
from jobnotes.reading.job.clock import clock
from jobnotes.reading.job.identity import identities
from jobnotes.reading.job.labour import labour
from jobnotes.reading.narrative.photo_cues import photo_cues
from jobnotes.reading.narrative.statements import statements
from jobnotes.reading.private import private_spans
from jobnotes.reading.readings.measurements import readings
from jobnotes.reading.readings.poured_amounts import poured_amounts
from jobnotes.reading.same_again import same_again
from jobnotes.reading.speech import misheard
from jobnotes.reading.speech.hesitation import without_hesitation
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import Token, tokenise, with_written_inches
from jobnotes.reading.trade.files import Trade, load
from jobnotes.reading.utterances import Utterances
from jobnotes.reading.work.parts import parts
from jobnotes.reading.work.steps import lost, not_back, steps, tests
from jobnotes.reading.work.verbs import works
from jobnotes.record import Detail, Fact, FaultCode, Identity, LabourSaid, Note, Part, Repair, Statement, Step

#: So near a correction, in tokens, hours may be those that were put right.
NEAR = 3


def read_text(text: str, trade: Trade | None = None) -> tuple[Fact, ...]:
    """Facts of a plain transcript."""
    return read(Utterances.of_text(text), trade)


def read_notes(notes: Sequence[Note], trade: Trade | None = None) -> tuple[Fact, ...]:
    """Facts of notes, in the order of their time."""
    return read(Utterances.of_notes(notes), trade)


def read(said: Utterances, trade: Trade | None = None) -> tuple[Fact, ...]:
    """Every fact that was said, in the order in which it was said, taken-back ones included as rejected."""
    trade = trade or load()
    first, facts = _read(said, trade)
    other = heard_by_the_second(said)
    if other is not None:
        facts = joined(facts, _read(other, trade)[1], said, _private(said, first))
    return borne_out(facts, trade)


def _private(said: Utterances, text: Text) -> list[Span]:
    """When something was said that is private."""
    spans: list[Span] = []
    for a, b in private_spans(text):
        for k in range(a, b):
            word = text.tokens[k].word
            start_s, end_s = said.words[word].start_s, said.words[word].end_s
            spans.append((said.notes[said.note_of[word]].id, start_s or 0.0, end_s or 0.0))
    return spans


def _tokens(said: Utterances, trade: Trade) -> tuple[list[Token], dict[int, Repair]]:
    """What was said as tokens, without hesitations and with known mishearings put right."""
    heard = tokenise(said.words, said.line_starts)
    told = without_hesitation(heard, trade)
    lengths = {word for word, quantity in trade.quantity_words.items() if quantity == "length"}
    return misheard.repair(with_written_inches(told, lengths), trade)


def _read(said: Utterances, trade: Trade) -> tuple[Text, tuple[Fact, ...]]:
    """What was said, before corrections are carried out, and its facts."""
    tokens, repairs = _tokens(said, trade)
    first = Text(said.words, tokens, trade, repairs)
    found = amendments(first)
    if not found:
        return first, facts_of(said, first, [(draft, False) for draft in doubted(first, _drafts(first))])
    meant, origin = apply(list(tokens), found)
    text = Text(said.words, meant, trade, {n: repairs[o] for n, o in enumerate(origin) if o in repairs})
    kept = [(_moved(draft, origin, found), False) for draft in doubted(text, _drafts(text))]
    standing = {draft.detail for draft, _ in kept}
    taken_back = [
        (draft, True) for one in found for draft in _before(said, tokens, repairs, trade, one, standing)
    ]
    # the drafts now speak of the tokens as first heard
    return first, facts_of(said, first, [*kept, *taken_back])


def _drafts(text: Text) -> list[Draft]:
    """The extractors, in the order in which they may lay claim to words."""
    found: list[Draft] = []
    found += identities(text)
    found += clock(text)
    verbs = works(text)
    part_drafts = list(parts(text, verbs))
    found += fault_codes(text)
    found += labour(text)
    found += part_drafts
    found += readings(text, verbs)
    found += list(steps(text, verbs))
    poured = list(poured_amounts(text, found))
    found = [d for d in found if not any(p.start <= d.start and d.end <= p.end for p in poured)] + poured
    found += lost(text, list(found))
    found += not_back(text, verbs)
    found += tests(text)
    found += photo_cues(text)
    found += statements(text)
    found += same_again(text, found)
    found = _without_repeats(_told_in_full(found))
    return sorted(found, key=lambda d: (d.start, d.end))


_new_end, _new_start, _old_start = (attrgetter(name) for name in ("new_end", "new_start", "old_start"))


def _moved(draft: Draft, origin: list[int], found: Sequence[Amendment]) -> Draft:
    """The draft in indices of the tokens as first heard."""

    def back(start: int, end: int) -> tuple[int, int]:
        spread = sorted(origin[start:end])
        return (spread[0], spread[-1] + 1) if spread else (start, end)

    start, end = back(draft.start, draft.end)
    doubts = draft.doubts
    # both ends grow along the list
    first = bisect_right(found, start, key=_new_end)
    last = bisect_left(found, end, key=_new_start)
    for one in found[first:last]:
        if not one.retracts:
            if one.loose:
                doubts = (*doubts, "one thing was named in the place of another: does the rest still hold?")
            shorter = one.old_end - one.old_start - (one.new_end - one.new_start)
            if shorter > 1 and isinstance(draft.detail, Part) and draft.detail.number:
                doubts = (
                    *doubts,
                    f"{draft.detail.number} was put in the place of a longer number: is it all of it?",
                )
            start = min(start, one.old_start)  # the quote shows what was corrected
    # both ends grow along the list here too
    reaching = bisect_left(found, start - NEAR, key=_new_end)
    near = reaching < bisect_right(found, end + NEAR, key=_old_start)
    if near and isinstance(draft.detail, LabourSaid):
        doubts = (*doubts, "the hours were put right in speaking: are these the ones that count?")
    shown = back(*draft.shown) if draft.shown is not None else None
    keys = tuple(back(a, b) for a, b in draft.keys)
    return replace(draft, start=start, end=end, doubts=doubts, keys=keys, shown=shown)


def _before(
    said: Utterances,
    tokens: list[Token],
    repairs: dict[int, Repair],
    trade: Trade,
    one: Amendment,
    standing: set[Detail],
) -> Iterator[Draft]:
    """What had been read before a correction, from the words around what it replaced."""
    low = max(0, one.old_start - 40)
    window = tokens[low : one.cue_start]
    repaired = {k - low: repairs[k] for k in range(low, one.cue_start) if k in repairs}
    text = Text(said.words, window, trade, repaired)
    for draft in _drafts(text):
        moved = replace(
            draft,
            start=draft.start + low,
            end=draft.end + low,
            keys=tuple((a + low, b + low) for a, b in draft.keys),
            shown=(draft.shown[0] + low, draft.shown[1] + low) if draft.shown is not None else None,
        )
        spans = moved.keys or ((moved.start, moved.end),)
        touched = any(a < one.old_end and one.old_start < b for a, b in spans)
        if touched and draft.detail not in standing:
            yield moved


def _told_in_full(drafts: list[Draft]) -> list[Draft]:
    """Without what is still to do where another such statement holds all of it: "one bolt lost, fell behind
    the axle" is one loose end, not also "fell behind the axle"."""
    later = [(d, d.detail) for d in drafts if isinstance(d.detail, Statement) and d.detail.kind in _LATER]
    dropped: set[int] = set()
    whole: dict[str, tuple[Draft, Statement]] = {}
    for draft, told in sorted(later, key=lambda one: (one[0].start, -one[0].end)):
        before = whole.get(told.kind)
        if before is None or draft.end > before[0].end:
            whole[told.kind] = draft, told
        elif told.kind == "loose_end" or _same_in_one_breath(told, before[1]):
            dropped.add(id(draft))
    return [draft for draft in drafts if id(draft) not in dropped] if dropped else drafts


def _same_in_one_breath(told: Statement, whole: Statement) -> bool:
    return told.component is not None and told.component == whole.component and ". " not in whole.text


#: Kinds of statement that tell what is to be done.
_LATER = ("loose_end", "advisory")


def _without_repeats(drafts: list[Draft]) -> list[Draft]:
    """The same thing said twice is one fact; a code said again with news is a fact of its own."""
    out: list[Draft] = []
    codes: dict[str, FaultCode] = {}
    seen: set[Detail] = set()
    steps_done: list[tuple[str, tuple[int, int]]] = []
    for draft in sorted(drafts, key=lambda d: (d.start, d.end)):
        detail = draft.detail
        if isinstance(detail, FaultCode):
            before = codes.get(detail.code)
            if before is not None and not _news(before, detail):
                continue
            codes[detail.code] = detail
        elif isinstance(detail, Identity):
            if detail in seen:
                continue
            seen.add(detail)
        elif isinstance(detail, Step):
            span = (detail.action, draft.keys[0] if draft.keys else (draft.start, draft.end))
            if any(a == span[0] and k[0] < span[1][1] and span[1][0] < k[1] for a, k in steps_done[-4:]):
                continue  # one sentence read twice
            steps_done.append(span)
        out.append(draft)
    return out


def _news(before: FaultCode, now: FaultCode) -> bool:
    return any(
        getattr(now, key) is not None and getattr(now, key) != getattr(before, key)
        for key in ("state", "count", "ecu")
    )

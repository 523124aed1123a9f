"""From words to facts: the list of extractors, and what is done around them.

Notes are read as one transcript, since corrections and later news ("did not come back") reach over pauses; each
fact is led back to the note and the words that say it.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from jobnotes.reading import misheard
from jobnotes.reading.amendments import Amendment, amendments, apply
from jobnotes.reading.codes import fault_codes
from jobnotes.reading.doubt import judge
from jobnotes.reading.identity import identities
from jobnotes.reading.narrative import statements
from jobnotes.reading.parts import parts
from jobnotes.reading.photo_cues import photo_cues
from jobnotes.reading.private import private_spans, swears
from jobnotes.reading.readings import readings
from jobnotes.reading.same_again import same_again
from jobnotes.reading.steps import lost, steps, tests
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.times import clock, labour
from jobnotes.reading.tokens import Token, quote, tokenise
from jobnotes.reading.trade import Trade, load
from jobnotes.reading.verbs import works
from jobnotes.record import (
    Detail,
    Fact,
    FaultCode,
    Identity,
    Measurement,
    Note,
    Part,
    PhotoCue,
    Repair,
    Statement,
    Step,
    Word,
)


@dataclass(frozen=True, slots=True)
class Utterances:
    """Words in order, with where each line or note begins; `notes` gives each word's note, if there are notes."""

    words: tuple[Word, ...]
    line_starts: tuple[int, ...] = ()
    notes: tuple[Note, ...] = ()
    note_of: tuple[int, ...] = ()

    @classmethod
    def of_text(cls, text: str) -> Utterances:
        """A plain transcript, one utterance a line."""
        words: list[Word] = []
        starts: list[int] = []
        for line in text.splitlines():
            starts.append(len(words))
            words += [Word(w) for w in line.split()]
        return cls(tuple(words), tuple(starts))

    @classmethod
    def of_notes(cls, notes: Sequence[Note]) -> Utterances:
        words: list[Word] = []
        starts: list[int] = []
        note_of: list[int] = []
        for at, note in enumerate(notes):
            starts.append(len(words))
            words += note.words
            note_of += [at] * len(note.words)
        return cls(tuple(words), tuple(starts), tuple(notes), tuple(note_of))


def read_text(text: str, trade: Trade | None = None) -> tuple[Fact, ...]:
    """Facts of a plain transcript."""
    return read(Utterances.of_text(text), trade)


def read_notes(notes: Sequence[Note], trade: Trade | None = None) -> tuple[Fact, ...]:
    """Facts of notes, in the order of their time."""
    return read(Utterances.of_notes(notes), trade)


def read(said: Utterances, trade: Trade | None = None) -> tuple[Fact, ...]:
    """Every fact that was said, in the order in which it was said, taken-back ones included as rejected."""
    trade = trade or load()
    tokens = tokenise(said.words, said.line_starts)
    tokens, repairs = misheard.repair(tokens, trade)
    first = Text(said.words, tokens, trade, repairs)
    found = amendments(first)
    if not found:
        return _facts(said, first, [(draft, False) for draft in _drafts(first)])
    meant, origin = apply(list(tokens), found)
    text = Text(said.words, meant, trade, {n: repairs[o] for n, o in enumerate(origin) if o in repairs})
    kept = [(_moved(draft, origin, found), False) for draft in _drafts(text)]
    standing = {draft.detail for draft, _ in kept}
    taken_back = [
        (draft, True) for one in found for draft in _before(said, tokens, repairs, trade, one, standing)
    ]
    # the drafts now speak of the tokens as first heard
    return _facts(said, Text(said.words, tokens, trade, repairs), [*kept, *taken_back])


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
    found += readings(text)
    found += list(steps(text, verbs))
    found += lost(text, list(found))
    found += tests(text)
    found += photo_cues(text)
    found += statements(text, found)
    found += same_again(text, found)
    found = _without_repeats(found)
    return sorted(found, key=lambda d: (d.start, d.end))


def _moved(draft: Draft, origin: list[int], found: Sequence[Amendment]) -> Draft:
    """The draft in indices of the tokens as first heard."""

    def back(start: int, end: int) -> tuple[int, int]:
        spread = sorted(origin[start:end])
        return (spread[0], spread[-1] + 1) if spread else (start, end)

    start, end = back(draft.start, draft.end)
    doubts = draft.doubts
    for one in found:
        if not one.retracts and start < one.new_end and one.new_start < end:
            if one.loose:
                doubts = (*doubts, "one thing was named in the place of another: does the rest still hold?")
            start = min(start, one.old_start)  # the quote shows what was corrected
    return replace(draft, start=start, end=end, doubts=doubts, keys=tuple(back(a, b) for a, b in draft.keys))


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
    text = Text(
        said.words, window, trade, {k - low: v for k, v in repairs.items() if low <= k < one.cue_start}
    )
    for draft in _drafts(text):
        moved = replace(
            draft,
            start=draft.start + low,
            end=draft.end + low,
            keys=tuple((a + low, b + low) for a, b in draft.keys),
        )
        spans = moved.keys or ((moved.start, moved.end),)
        touched = any(a < one.old_end and one.old_start < b for a, b in spans)
        if touched and draft.detail not in standing:
            yield moved


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


def _facts(said: Utterances, text: Text, drafts: list[tuple[Draft, bool]]) -> tuple[Fact, ...]:
    private = private_spans(text)
    ids: dict[str, int] = {}
    facts: list[Fact] = []
    spans: list[tuple[int, int]] = []
    for draft, taken_back in sorted(drafts, key=lambda d: (d[0].start, d[0].end, d[1])):
        end = max(draft.end, draft.start + 1)
        if draft.start >= len(text.tokens):
            continue
        end = min(end, len(text.tokens))
        confidence, status, why = judge(text, draft)
        repaired = tuple(
            dict.fromkeys(
                [*draft.repairs, *(text.repairs[k] for k in range(draft.start, end) if k in text.repairs)]
            )
        )
        detail, audience, quoted = _private(text, draft, end, private)
        start_word, end_word = text.tokens[draft.start].word, text.tokens[end - 1].word
        note = said.notes[said.note_of[start_word]] if said.notes else None
        if note is not None and said.note_of[end_word] != said.note_of[start_word]:
            # the quote stays within the note in which the statement begins
            end_word = max(
                w for w in range(start_word, end_word + 1) if said.note_of[w] == said.note_of[start_word]
            )
        start_s = said.words[start_word].start_s if note else None
        end_s = said.words[end_word].end_s if note else None
        facts.append(
            Fact(
                id=_id(note, detail, ids),
                detail=detail,
                quote=quoted or quote(said.words, text.tokens, draft.start, end),
                confidence=confidence,
                status="rejected" if taken_back else status,
                why="taken back in what was said next" if taken_back else why,
                note=note.id if note else None,
                start_s=start_s,
                end_s=end_s,
                at=_at(note, start_s),
                audience=audience,  # type: ignore[arg-type]
                repairs=repaired,
            )
        )
        spans.append((draft.start, end))
    return _superseded(facts, spans)


def _at(note: Note | None, start_s: float | None) -> datetime | None:
    return note.started_at + timedelta(seconds=start_s) if note and start_s is not None else None


def _superseded(facts: list[Fact], spans: list[tuple[int, int]]) -> tuple[Fact, ...]:
    """Each taken-back fact names the standing one of its kind that is said with it or next after it."""
    out = list(facts)
    for at, fact in enumerate(facts):
        if fact.status != "rejected":
            continue
        same = [
            (
                abs(spans[k][0] - spans[at][0])
                if spans[k][0] <= spans[at][1]
                else spans[k][0] - spans[at][1],
                k,
            )
            for k, other in enumerate(facts)
            if other.status != "rejected" and other.kind == fact.kind and spans[k][1] >= spans[at][0]
        ]
        if same and min(same)[0] < 40:
            out[at] = replace(fact, superseded_by=facts[min(same)[1]].id)
    return tuple(out)


def _private(
    text: Text, draft: Draft, end: int, private: list[tuple[int, int]]
) -> tuple[Detail, str, str | None]:
    """(detail, audience, quote or None): private words are cut from what leaves the workshop, or it stays there."""
    if any(a < end and draft.start < b for a, b in private):
        return draft.detail, "workshop", None
    bad = swears(text, draft.start, end)
    if not bad:
        return draft.detail, "all", None
    words = {text.said(a, b).casefold() for a, b in bad} | {" ".join(text.norms[a:b]) for a, b in bad}
    detail = _without(draft.detail, words)
    if detail is None:
        return draft.detail, "workshop", None
    kept = [k for k in range(draft.start, end) if not any(a <= k < b for a, b in bad)]
    pieces: list[str] = []
    for k in kept:
        word = text.words[text.tokens[k].word].text
        if not pieces or k - 1 not in kept or text.tokens[k - 1].word != text.tokens[k].word:
            pieces.append(word)
    return detail, "all", " ".join(pieces)


def _without(detail: Detail, words: set[str]) -> Detail | None:
    """`detail` without private words in its texts; None where nothing is left to say."""

    def clean(value: str | None) -> str | None:
        if value is None:
            return None
        kept = " ".join(w for w in value.split() if w.casefold().strip(".,") not in words)
        return kept or None

    if isinstance(detail, Statement):
        text = clean(detail.text)
        return (
            replace(detail, text=text, component=clean(detail.component))
            if text and len(text.split()) > 1
            else None
        )
    if isinstance(detail, Part):
        name = clean(detail.name)
        return replace(detail, name=name) if name else None
    if isinstance(detail, Step):
        thing = clean(detail.object)
        return replace(detail, object=thing) if thing else None
    if isinstance(detail, Measurement | PhotoCue):
        return replace(detail, subject=clean(detail.subject))
    return detail


def _id(note: Note | None, detail: Detail, seen: dict[str, int]) -> str:
    """The same on every run: from the original's digest, what the fact says, and which time it says so."""
    key = f"{note.sha256 if note else ''}|{detail!r}"
    seen[key] = seen.get(key, 0) + 1
    digest = hashlib.sha256(f"{key}|{seen[key]}".encode()).hexdigest()
    return f"F{digest[:10]}"

"""From drafts to facts: confidence, privacy, quote, time, id."""

from __future__ import annotations

import hashlib
import re
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from jobnotes.reading.doubt.confidence import judge
from jobnotes.reading.private import private_spans, swears
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import quote
from jobnotes.reading.utterances import Utterances
from jobnotes.record import Audience, Detail, Fact, Measurement, Note, Part, PhotoCue, Statement, Step

#: How many tokens away what takes the place of a fact may stand.
REACH = 40


def facts_of(said: Utterances, text: Text, drafts: list[tuple[Draft, bool]]) -> tuple[Fact, ...]:
    private = [False] * len(text.tokens)
    for a, b in private_spans(text):
        private[a:b] = [True] * (b - a)
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
        first, last = draft.shown or (draft.start, end)
        if (
            draft.unnamed
            and said.notes
            and said.note_of[text.tokens[first].word] != _note_of(said, text, last)
        ):
            first, last = draft.start, end
        start_word, end_word = text.tokens[first].word, text.tokens[last - 1].word
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
                quote=quoted or quote(said.words, text.tokens, first, last),
                confidence=confidence,
                status="rejected" if taken_back else status,
                why="taken back in what was said next" if taken_back else why,
                note=note.id if note else None,
                start_s=start_s,
                end_s=end_s,
                at=_at(note, start_s),
                audience=audience,
                repairs=repaired,
            )
        )
        spans.append((draft.start, end))
    return _superseded(facts, spans)


def _note_of(said: Utterances, text: Text, end: int) -> int:
    """The note of the last token before `end`."""
    return said.note_of[text.tokens[end - 1].word]


def _at(note: Note | None, start_s: float | None) -> datetime | None:
    return note.started_at + timedelta(seconds=start_s) if note and start_s is not None else None


def _superseded(facts: list[Fact], spans: list[tuple[int, int]]) -> tuple[Fact, ...]:
    """Each taken-back fact names the standing one of its kind that is said with it or next after it."""
    out = list(facts)
    starts = [start for start, _ in spans]  # in order, as the facts are
    for at, fact in enumerate(facts):
        if fact.status != "rejected":
            continue
        low, high = spans[at]
        same = [
            (abs(starts[k] - low) if starts[k] <= high else starts[k] - high, k)
            for k in range(bisect_left(starts, low - REACH), bisect_left(starts, high + REACH))
            if facts[k].status != "rejected" and facts[k].kind == fact.kind and spans[k][1] >= low
        ]
        if same and min(same)[0] < REACH:
            out[at] = replace(fact, superseded_by=facts[min(same)[1]].id)
    return tuple(out)


def _private(
    text: Text, draft: Draft, end: int, private: Sequence[bool]
) -> tuple[Detail, Audience, str | None]:
    """(detail, audience, quote or None): private words are cut from what leaves the workshop."""
    if any(private[draft.start : end]):
        return draft.detail, "workshop", None
    bad = swears(text, draft.start, end)
    if not bad:
        return draft.detail, "all", None
    words = {text.said(a, b).casefold() for a, b in bad} | {" ".join(text.norms[a:b]) for a, b in bad}
    detail = _without(draft.detail, words)
    if detail is None:
        return draft.detail, "workshop", None
    cut = {text.tokens[k].word for a, b in bad for k in range(a, b)}
    words_said = range(text.tokens[draft.start].word, text.tokens[end - 1].word + 1)
    pieces = [text.words[k].text for k in words_said if k not in cut]
    if not pieces:
        return draft.detail, "workshop", None
    return detail, "all", " ".join(pieces)


def _without(detail: Detail, words: set[str]) -> Detail | None:
    """`detail` without private words in its texts; None where nothing is left to say."""

    longest_first = sorted(map(re.escape, words), key=len, reverse=True)
    listed = re.compile(rf"(?<![\w'])(?:{'|'.join(longest_first)})(?![\w'])[.,]*", re.IGNORECASE)

    def clean(value: str | None) -> str | None:
        if value is None:
            return None
        kept = " ".join(listed.sub(" ", value).split())
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

""" "Same again on the right": what was just said holds for another place too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

from jobnotes.reading.speech.near import Near
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.record import Measurement, Part, Step

#: How many tokens back the thing may stand that is the same again.
REACH = 30


def same_again(text: Text, found: Sequence[Draft]) -> Iterator[Draft]:
    """A copy of the reading, part or step said last, at the place that is named."""
    things = Near((d for d in found if isinstance(d.detail, Measurement | Part | Step)), lambda d: d.end)
    for i, j, _ in text.find(text.trade.cue["amend.same_again"], 0, len(text.tokens)):
        end = min(text.breath(i)[1], j + 4)
        while j < end and text.norm(j) in ("on", "the", "for", "as", "of"):
            j += 1
        place = text.said(j, end).strip()
        before = things.between(i - REACH + 1, i + 1)
        if not place or not before:
            continue
        readings = [d for d in before if isinstance(d.detail, Measurement)]
        last = (readings or before)[-1] if not readings else max(readings, key=lambda d: d.start)
        detail = last.detail
        if isinstance(detail, Measurement):
            subject = _elsewhere(text, detail.subject or "", place)
            copy: Measurement | Part | Step = replace(detail, subject=subject)
        elif isinstance(detail, Part):
            copy = replace(detail, name=_elsewhere(text, detail.name, place), number=None, serial=None)
        else:
            assert isinstance(detail, Step)
            copy = replace(detail, object=_elsewhere(text, detail.object, place))
        words = text.trade.words
        known = words["sides"] | words["places"] | words["numbered"] | text.trade.opposite.keys()
        there = range(j, end)
        told = not known.isdisjoint(text.norms[j:end])
        told = told or any(text.number(k) is not None or text.component_at(k)[1] for k in there)
        doubts = last.doubts if told else (*last.doubts, f"'{place}': where is that?")
        yield Draft(copy, i, end, 0.85, doubts, keys=((i, end), *last.keys))


def _elsewhere(text: Text, name: str, place: str) -> str:
    """ "left rear" at the "right" is "right rear"; where no opposite is named, the place is added."""
    words = name.split()
    for new in place.split():
        for at, old in enumerate(words):
            if old.casefold() in text.trade.opposite.get(new.casefold(), frozenset()):
                words[at] = new
                return " ".join(words)
    return f"{name} {place}".strip()

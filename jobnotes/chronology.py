"""The order in which facts were said, for all that concludes something from it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from jobnotes.record import Fact, Note


def as_said(facts: Iterable[Fact]) -> list[Fact]:
    """By their times if all have one, else as they are given.

    A fact without a time may be of any moment, and to place it between others would be a guess: "refitted"
    must not come to stand behind a "removed" that was said later.
    """
    given = list(facts)
    when = moments(given)
    if len(when) < len(given):
        return given
    return [given[place] for place in sorted(range(len(given)), key=when.__getitem__)]


def well_dated(notes: Iterable[Note]) -> tuple[Note, ...]:
    """The notes whose time may be relied on. A file that was saved again months later tells nothing of the
    work."""
    return tuple(note for note in notes if note.started_at_doubt is None)


def moments(facts: Sequence[Fact]) -> Mapping[int, float]:
    """By its place among `facts`, when each that has a time was said, in seconds since 1970.

    Notes that begin at the very same time, as files do that were copied without their dates, weren't spoken
    into each other: each counts as begun when the one before it had ended.
    """
    begun: dict[str, float] = {}
    length: dict[str, float] = {}
    for fact in facts:
        if fact.at is not None and fact.note is not None and fact.start_s is not None:
            begun.setdefault(fact.note, fact.at.timestamp() - fact.start_s)
            length[fact.note] = max(length.get(fact.note, 0.0), fact.end_s or fact.start_s)
    at_once: dict[int, float] = {}
    later: dict[str, float] = {}
    for note in sorted(begun, key=lambda name: (len(name), name)):  # N2 before N10
        second = round(begun[note])
        later[note] = at_once.get(second, 0.0)
        at_once[second] = later[note] + length[note]
    return {
        place: fact.at.timestamp() + later.get(fact.note or "", 0.0)
        for place, fact in enumerate(facts)
        if fact.at is not None
    }

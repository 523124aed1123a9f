"""The order in which facts were said, for all that concludes something from it."""

from __future__ import annotations

from collections.abc import Iterable

from jobnotes.record import Fact


def as_said(facts: Iterable[Fact]) -> list[Fact]:
    """By their times if all have one, else as they are given.

    A fact without a time may be of any moment, and to place it between others would be a guess: "refitted"
    must not come to stand behind a "removed" that was said later.
    """
    given = list(facts)
    times = [fact.at.timestamp() for fact in given if fact.at is not None]
    if len(times) < len(given):
        return given
    return [given[place] for place in sorted(range(len(given)), key=times.__getitem__)]

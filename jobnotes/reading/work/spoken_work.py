"""A verb of the trade as it stands in the text, with what it was done to."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import cast

from jobnotes.reading.speech.names import Name
from jobnotes.reading.speech.near import Near
from jobnotes.reading.trade.knowledge import PartAction

_BARE = "heard as '{}': was it done, or still to do?"
#: What `of_the_bare_form` gives; its group is what was heard.
BARE_FORM = re.compile(re.escape(_BARE).replace(re.escape("{}"), "([^']*)"))


def of_the_bare_form(said: str) -> str:
    """The doubt about a verb that was heard in its bare form."""
    return _BARE.format(said)


@dataclass(frozen=True, slots=True)
class Work:
    """A verb and what it was done to. `part` tells a verb of fitting parts from one of taking apart.

    `tense`: "past" and "doing" report, "base" may be a command or a lost ending. `subject` is true where the
    person speaking says that they did it ("I remove …").
    """

    start: int
    end: int
    action: str
    part: bool
    tense: str
    form: str
    objects: tuple[Name, ...]
    passive: bool = False
    subject: bool = False

    @property
    def part_action(self) -> PartAction:
        """What was done with the part, where `part` is true: the lexicon gives its verbs no other actions."""
        return cast(PartAction, self.action)


class Works:
    """The verbs of a text, found by where they stand; in order."""

    def __init__(self, works: Sequence[Work]) -> None:
        self._by_start = Near(works, lambda w: w.start)
        self._longest = max((w.end - w.start for w in works), default=0)

    def starting(self, low: int, high: int) -> list[Work]:
        """Those that start at tokens `low` … `high` (`high` excluded)."""
        return self._by_start.between(low, high)

    def reaching(self, end: int, high: int) -> list[Work]:
        """Those that start before token `high` and reach up to `end` at least."""
        return [w for w in self._by_start.between(end - self._longest, high) if w.end >= end]

"""A verb of the trade as it stands in the text, with what it was done to."""

from __future__ import annotations

from dataclasses import dataclass
from typing import cast

from jobnotes.reading.knowledge import PartAction
from jobnotes.reading.names import Name


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

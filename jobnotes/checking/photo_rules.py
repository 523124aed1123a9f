"""Rules about photos: what has to be seen on one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import get_args, get_type_hints

from jobnotes.checking.case import Case
from jobnotes.checking.phrases import all_words, has_any
from jobnotes.checking.rule_type import KINDS, must_be_known
from jobnotes.record import Fact, Part, PhotoCue

_PART_ACTIONS = frozenset(get_args(get_type_hints(Part)["action"]))


@dataclass(frozen=True)
class PhotoOf:
    """A photo whose spoken cue says one of `words`, or that belongs to a fact of one of `kinds`, to a part
    with one of `part_actions`, or (with `of_cause`) to a cue about what a cause names. A photo whose cue says
    one of `not_words` is of something else."""

    words: tuple[str, ...] = ()
    not_words: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    part_actions: tuple[str, ...] = ()
    of_cause: bool = False

    def __post_init__(self) -> None:
        must_be_known("kinds", self.kinds, KINDS)
        must_be_known("part_actions", self.part_actions, _PART_ACTIONS)

    def unmet(self, case: Case) -> str | None:
        return None if any(self._shows(facts, case) for _, facts in case.photos_with_facts()) else ""

    def _shows(self, facts: list[Fact], case: Case) -> bool:
        cues = [f for f in facts if isinstance(f.detail, PhotoCue)]
        if any(has_any(all_words(cue), self.not_words) for cue in cues):
            return False
        if any(has_any(all_words(cue), self.words) for cue in cues):
            return True
        if self.of_cause and any(case.is_about_a_cause(all_words(cue)) for cue in cues):
            return True
        return any(
            f.kind in self.kinds or (isinstance(f.detail, Part) and f.detail.action in self.part_actions)
            for f in facts
        )

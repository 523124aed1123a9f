"""Rules about photos: what has to be seen on one."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import get_args, get_type_hints

from jobnotes.checking.case import Case
from jobnotes.checking.phrases import all_words, has_any, listed, only_heard
from jobnotes.checking.rule_type import KINDS, must_be_known
from jobnotes.checking.sights import only_poor, poor, shows
from jobnotes.record import Fact, Identity, Job, Odometer, Part, Photo, PhotoCue

_PART_ACTIONS = frozenset(get_args(get_type_hints(Part)["action"]))
_HEAD_OF = {"job_number": "number"}


@dataclass(frozen=True)
class PhotoOf:
    """A photo in which the value of a fact of one of `kinds`, or the number of a part with one of
    `part_actions`, is to be read; or one whose spoken cue says one of `words`, that belongs to such a fact,
    or (with `of_cause`) to a cue about what a cause names. A photo whose cue says one of `not_words` is of
    something else.

    What is only told, by its cue or its facts, has to be seen too: a photo that is blurred, dark, burnt out
    or too small doesn't count. Neither does one that was looked at and is linked by nothing but its time.
    """

    words: tuple[str, ...] = ()
    not_words: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    part_actions: tuple[str, ...] = ()
    of_cause: bool = False

    def __post_init__(self) -> None:
        must_be_known("kinds", self.kinds, KINDS)
        must_be_known("part_actions", self.part_actions, _PART_ACTIONS)

    def unmet(self, case: Case) -> str | None:
        values = frozenset(self._values(case.facts, case.record.job))
        blurred, near = [], []
        for photo, facts in case.photos_with_facts():
            if photo.card or photo.job:
                continue  # it shows a number on paper, or another job
            if self._read(photo, case.facts, values):
                return None
            if not self._told(facts, case):
                continue
            if photo.linked_by == "time" and photo.sight:
                near.append(photo)
            elif poor(photo):
                blurred.append(photo)
            else:
                return None
        linked = frozenset(fact_id for photo in case.record.photos for fact_id in photo.fact_ids)
        told = (only_poor(blurred), _only_near(near), self._announced(case, linked))
        return "; ".join(filter(None, told)) or only_heard(
            f for f in case.doubtful if f.id in linked and self._told([f], case)
        )

    def _read(self, photo: Photo, facts: Iterable[Fact], values: Iterable[str]) -> bool:
        """True if it is to be read in the photo, however poor that is."""
        if any(self._is_of(f) and s.photo == photo.id and s.agrees for f in facts for s in f.shown):
            return True
        return any(shows(photo, value) for value in values)

    def _values(self, facts: Iterable[Fact], job: Job) -> Iterable[str]:
        for fact in facts:
            if isinstance(fact.detail, Identity) and fact.kind in self.kinds:
                yield fact.detail.value
            elif isinstance(fact.detail, Part) and self._is_of(fact):
                yield from (told for told in (fact.detail.number, fact.detail.serial) if told)
        for kind in self.kinds:
            stated = getattr(job, _HEAD_OF.get(kind, kind), None)
            if isinstance(stated, str | Odometer):
                yield stated if isinstance(stated, str) else stated.value

    def _told(self, facts: list[Fact], case: Case) -> bool:
        cues = [f for f in facts if isinstance(f.detail, PhotoCue)]
        if any(has_any(all_words(cue), self.not_words) for cue in cues):
            return False
        return any(self._asks_for(cue, case) for cue in cues) or any(self._is_of(f) for f in facts)

    def _is_of(self, fact: Fact) -> bool:
        if fact.only_written:
            return False
        return fact.kind in self.kinds or (
            isinstance(fact.detail, Part) and fact.detail.action in self.part_actions
        )

    def _asks_for(self, cue: Fact, case: Case) -> bool:
        said = all_words(cue)
        return has_any(said, self.words) or (self.of_cause and case.is_about_a_cause(said))

    def _announced(self, case: Case, linked: frozenset[str]) -> str:
        """Cues that ask for it, but have no photo."""
        cues = [
            f
            for f in case.facts
            if isinstance(f.detail, PhotoCue) and f.id not in linked and self._told([f], case)
        ]
        return f"{listed(cues)} was said, but no photo was taken then" if cues else ""


def _only_near(photos: Iterable[Photo]) -> str:
    ids = " and ".join(photo.id for photo in photos)
    return f"{ids} was taken when it was spoken of, but nothing tells what it shows" if ids else ""

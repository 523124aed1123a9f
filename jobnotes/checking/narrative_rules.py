"""Rules about what was said: complaint, cause, correction, and any phrase that a payer wants to hear."""

from __future__ import annotations

from dataclasses import dataclass, field

from jobnotes.checking.case import Case
from jobnotes.checking.phrases import all_words, has_any, only_heard
from jobnotes.checking.rule_type import KINDS, must_be_known
from jobnotes.checking.sights import only_poor, poor
from jobnotes.checking.supports import Fits
from jobnotes.record import Statement


@dataclass(frozen=True)
class NeedsKind:
    """At least one fact of any of these kinds."""

    kinds: tuple[str, ...]

    def __post_init__(self) -> None:
        must_be_known("kinds", self.kinds, KINDS)

    def unmet(self, case: Case) -> str | None:
        if any(f.kind in self.kinds for f in case.facts):
            return None
        return only_heard(f for f in case.doubtful if f.kind in self.kinds)


@dataclass(frozen=True)
class Said:
    """Some fact says one of these phrases."""

    words: tuple[str, ...]

    def unmet(self, case: Case) -> str | None:
        if any(has_any(all_words(f), self.words) for f in case.facts):
            return None
        return only_heard(f for f in case.doubtful if has_any(all_words(f), self.words))


@dataclass(frozen=True)
class CauseNamesComponentAndFailure:
    """A cause says which component failed and how."""

    def unmet(self, case: Case) -> str | None:
        causes = case.cause_statements
        if any(c.component and c.failure for c in causes):
            return None
        lacks = {
            word
            for c in causes
            for word, has in (("the component", c.component), ("how it failed", c.failure))
            if not has
        }
        return " and ".join(w for w in ("the component", "how it failed") if w in lacks)


@dataclass(frozen=True)
class CauseSupported:
    """Something supports each cause, as the record's supports tell. `fmi_fits`: for a failure, the failure
    modes of codes that fit it; those of `circuit_modes` only where the component is of one of the
    `circuit_kinds`, and no code in one of the `gone_states`. `not_photos`: a photo whose cue says one of
    these shows something else; one that is blurred, dark, burnt out or too small bears nothing out alone."""

    fmi_fits: Fits = field(default_factory=dict)
    circuit_modes: tuple[int, ...] = ()
    circuit_kinds: tuple[str, ...] = ()
    gone_states: tuple[str, ...] = ()
    not_photos: tuple[str, ...] = ()

    def unmet(self, case: Case) -> str | None:
        poorly = {photo.id: photo for photo in case.record.photos if poor(photo)}
        supported = {support.cause for support in case.record.supports if support.id not in poorly}
        bare = []
        for cause in case.causes:
            if isinstance(cause.detail, Statement) and cause.id not in supported:
                only = only_poor(poorly[s.id] for s in case.record.supports if s.cause == cause.id)
                bare.append(f"{cause.detail.text} ({only})" if only else cause.detail.text)
        return "; ".join(bare) if bare else None

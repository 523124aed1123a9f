"""Rules about parts: which of them failed, and what a claim wants to know of it."""

from __future__ import annotations

from dataclasses import dataclass

from jobnotes.checking.case import Case
from jobnotes.checking.phrases import has_any, only_heard
from jobnotes.checking.reasons import Reasons, borne_by_payer
from jobnotes.checking.rule_type import KINDS, must_be_known
from jobnotes.record import Fact, Part, Statement


@dataclass(frozen=True)
class CausalPartNamed:
    """Some fitted part is what a cause names, so that it is clear which one failed first."""

    def unmet(self, case: Case) -> str | None:
        if case.causal_parts:
            return None
        doubtful = [
            f
            for f in case.doubtful
            if isinstance(f.detail, Part)
            and f.detail.action == "fitted"
            and any(case.names(cause, f.detail.name) for cause in case.cause_statements)
        ]
        return only_heard(doubtful) or ", ".join(dict.fromkeys(p.name for p in case.parts_fitted))


@dataclass(frozen=True)
class CausalPartHas:
    """Every causal part has these particulars, wherever it is named: "number", "quantity", "serial"."""

    needs: tuple[str, ...]

    def __post_init__(self) -> None:
        must_be_known("needs", self.needs, frozenset({"number", "quantity", "serial", "condition"}))

    def unmet(self, case: Case) -> str | None:
        parts = case.causal_parts
        having = [p.name for p in parts if all(getattr(p, need) is not None for need in self.needs)]
        # the correction names the part again, without its number
        lacking = [p.name for p in parts if not any(case.same_object(p.name, name) for name in having)]
        if not lacking:
            return None
        heard = [
            (fact, name)
            for fact in case.doubtful
            for name in lacking
            if isinstance(fact.detail, Part)
            and all(getattr(fact.detail, need) is not None for need in self.needs)
            and case.same_object(fact.detail.name, name)
        ]
        told = {name for _, name in heard}
        unsaid = ", ".join(dict.fromkeys(name for name in lacking if name not in told))
        return only_heard((fact for fact, _ in heard), unsaid)


@dataclass(frozen=True)
class CausalPartFailure:
    """Of every causal part, a cause or a finding says how it failed."""

    def unmet(self, case: Case) -> str | None:
        lacking = [p.name for p in case.causal_parts if not _says_how(case, p.name, ("cause", "finding"))]
        return ", ".join(dict.fromkeys(lacking)) if lacking else None


@dataclass(frozen=True)
class PartsExplained:
    """Where something of these `kinds` says why one part was replaced, it does of each that the payer bears.

    A part of `except_kinds`, or whose name has one of `except_words`, goes with another, as does one that was
    fitted to what had come off, and one of `along_kinds` that is told right beside a part that is explained.
    One that is told with a word of `because` explains itself. `failed`: only parts of which a finding says
    how they failed. `alike` are kinds of components whose members are spoken of by one another's names, and
    `not_words` are words that tell no part from another.

    Where nothing explains any part, the cause or its part is what is missing, and other rules ask for those.
    """

    kinds: tuple[str, ...]
    except_kinds: tuple[str, ...] = ()
    except_words: tuple[str, ...] = ()
    along_kinds: tuple[str, ...] = ()
    because: tuple[str, ...] = ()
    alike: tuple[str, ...] = ()
    not_words: tuple[str, ...] = ()
    failed: bool = False

    def __post_init__(self) -> None:
        must_be_known("kinds", self.kinds, KINDS)

    def unmet(self, case: Case) -> str | None:
        reasons = Reasons(
            case.same_object, case.kind_of, frozenset(self.alike), case.little | frozenset(self.not_words)
        )
        told = [fact for fact in case.facts if fact.kind in self.kinds and _says_why(fact)]
        fitted = [
            (fact, part)
            for fact in case.facts
            if isinstance(part := fact.detail, Part) and part.action == "fitted"
        ]
        explained = {fact.id for fact, part in fitted if any(reasons.names(why, part.name) for why in told)}
        bare: dict[str, None] = {}
        for n, (fact, part) in enumerate(fitted):
            beside = {other.id for other, _ in fitted[max(0, n - 1) : n + 2]}
            goes_along = case.kind_of(part.name) in self.along_kinds and not beside.isdisjoint(explained)
            if fact.id not in explained and not goes_along and self._asked(fact, part, case, reasons):
                bare.setdefault(part.name)
        if not bare or not explained:
            return None
        maybe = [fact for fact in case.doubtful if fact.kind in self.kinds and _says_why(fact)]
        heard = [fact for fact in maybe if any(reasons.names(fact, name) for name in bare)]
        unsaid = [name for name in bare if not any(reasons.names(fact, name) for fact in heard)]
        return only_heard(heard, ", ".join(unsaid))

    def _asked(self, fact: Fact, part: Part, case: Case, reasons: Reasons) -> bool:
        """Whether the claim has to say why that part was replaced."""
        if case.kind_of(part.name) in self.except_kinds or has_any(part.name, self.except_words):
            return False
        if has_any(fact.quote, self.because) or reasons.belongs_to_what_came_off(fact, case.facts):
            return False
        if self.failed and not _says_how(case, part.name, ("finding",)):
            return False
        return borne_by_payer(fact, case.record.charges)


def _says_how(case: Case, part: str, kinds: tuple[str, ...]) -> bool:
    """Whether a statement of one of these kinds says how the part failed."""
    return any(
        isinstance(told := fact.detail, Statement)
        and fact.kind in kinds
        and told.failure is not None
        and case.names(told, part)
        for fact in case.facts
    )


def _says_why(fact: Fact) -> bool:
    """A correction says what was replaced, and why only where it has a failure: "the split air hose"."""
    return fact.kind != "correction" or (
        isinstance(fact.detail, Statement) and fact.detail.failure is not None
    )

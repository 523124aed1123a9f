"""Rules about parts: which of them failed, and what a claim wants to know of it."""

from __future__ import annotations

from dataclasses import dataclass

from jobnotes.checking.case import Case
from jobnotes.checking.phrases import only_heard
from jobnotes.checking.rule_type import must_be_known
from jobnotes.record import Part, Statement


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
        told = [
            f.detail
            for f in case.facts
            if isinstance(f.detail, Statement) and f.kind in ("cause", "finding") and f.detail.failure
        ]
        lacking = [p.name for p in case.causal_parts if not any(case.names(s, p.name) for s in told)]
        return ", ".join(dict.fromkeys(lacking)) if lacking else None

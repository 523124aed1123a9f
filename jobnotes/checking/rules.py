"""The kinds of rules that a claim policy is made of.

Each is a small class whose fields are what the policy file may set, and whose `unmet` looks at a case and
returns None when the record has what the rule asks for, or else the particulars of what it lacks (which may
be empty). A rule knows concepts of a claim, such as a cause or a reading; words and components are in the
policy file.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal, InvalidOperation
from functools import cached_property
from typing import Protocol, get_args

from jobnotes.checking.job import conflicts
from jobnotes.checking.labour import Labour, labour
from jobnotes.checking.pairs import SameObject, singular, words_of
from jobnotes.checking.supports import about, supports
from jobnotes.record import (
    _KIND_OF,
    Fact,
    FaultCode,
    Identity,
    IdentityKind,
    Job,
    Measurement,
    Part,
    Photo,
    PhotoCue,
    Record,
    Statement,
    StatementKind,
    Step,
)

KINDS = frozenset({*_KIND_OF.values(), *get_args(StatementKind), *get_args(IdentityKind)})
_PART_ACTIONS = frozenset({"fitted", "removed", "reused", "ordered", "consumed"})
_KM_PER_MILE = Decimal("1.609344")  # the international mile, exact


@dataclass(frozen=True)
class Case:
    """A record to be judged, with what several rules ask of it."""

    record: Record
    same_object: SameObject

    @cached_property
    def facts(self) -> tuple[Fact, ...]:
        """What may stand in a claim without a remark, in the order in which it was said."""
        facts = [f for f in self.record.facts if f.usable and f.audience == "all"]
        if all(f.at for f in facts):
            facts.sort(key=lambda f: f.at.timestamp() if f.at else 0.0)
        return tuple(facts)

    @cached_property
    def causes(self) -> tuple[Fact, ...]:
        return tuple(f for f in self.facts if f.kind == "cause")

    @cached_property
    def codes(self) -> tuple[FaultCode, ...]:
        return tuple(f.detail for f in self.facts if isinstance(f.detail, FaultCode))

    @cached_property
    def parts_fitted(self) -> tuple[Part, ...]:
        return tuple(
            f.detail for f in self.facts if isinstance(f.detail, Part) and f.detail.action == "fitted"
        )

    @cached_property
    def causal_parts(self) -> tuple[Part, ...]:
        """Fitted parts that are what a cause names: its component, or named in its text."""
        return tuple(p for p in self.parts_fitted if any(self._named(p.name, c) for c in self.causes))

    @cached_property
    def labour(self) -> Labour:
        return labour(self.record.facts)

    def _named(self, part: str, cause: Fact) -> bool:
        detail = cause.detail
        if not isinstance(detail, Statement):
            return False
        return _has_phrase(detail.text, part) or (
            detail.component is not None and self.same_object(detail.component, part)
        )

    def is_about_a_cause(self, name: str) -> bool:
        return any(
            isinstance(c.detail, Statement) and about(c.detail, name, self.same_object) for c in self.causes
        )

    def photos_with_facts(self) -> Iterable[tuple[Photo, list[Fact]]]:
        by_id = {f.id: f for f in self.facts}
        for photo in self.record.photos:
            yield photo, [by_id[i] for i in photo.fact_ids if i in by_id]


class RuleType(Protocol):
    def unmet(self, case: Case) -> str | None: ...


class BadRuleError(ValueError):
    """A rule that makes no sense: what is wrong, and what to write instead."""

    def __init__(self, reason: str, remedy: str) -> None:
        super().__init__(reason)
        self.reason, self.remedy = reason, remedy


# When a rule applies at all; all that are named must hold.
CONDITIONS: dict[str, Callable[[Case], object]] = {
    "cause": lambda case: case.causes,
    "causal_part": lambda case: case.causal_parts,
    "codes": lambda case: case.codes,
    "parts_fitted": lambda case: case.parts_fitted,
    "labour": lambda case: case.labour.said,
}


# --- what was said -------------------------------------------------------------------------------


@dataclass(frozen=True)
class NeedsKind:
    """At least one fact of any of these kinds."""

    kinds: tuple[str, ...]

    def __post_init__(self) -> None:
        _known("kinds", self.kinds, KINDS)

    def unmet(self, case: Case) -> str | None:
        if any(f.kind in self.kinds for f in case.facts):
            return None
        return _only_heard(f for f in case.record.facts if f.kind in self.kinds and f.status == "check")


@dataclass(frozen=True)
class Said:
    """Some fact says one of these phrases."""

    words: tuple[str, ...]

    def unmet(self, case: Case) -> str | None:
        return None if any(_has_any(_all_words(f), self.words) for f in case.facts) else ""


@dataclass(frozen=True)
class CauseNamesComponentAndFailure:
    """A cause says which component failed and how."""

    def unmet(self, case: Case) -> str | None:
        causes = [c.detail for c in case.causes if isinstance(c.detail, Statement)]
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
    """Something supports each cause. `fmi_fits`: for a failure, the failure modes of codes that fit it."""

    fmi_fits: Mapping[str, tuple[int, ...]] = field(default_factory=dict)

    def unmet(self, case: Case) -> str | None:
        bare = [
            c.detail.text
            for c in case.causes
            if isinstance(c.detail, Statement)
            and not supports(c, case.facts, case.record.photos, case.same_object, self.fmi_fits)
        ]
        return "; ".join(bare) if bare else None


@dataclass(frozen=True)
class CodesGone:
    """Each fault code is followed by word of its absence: one of these states, or one of these phrases."""

    states: tuple[str, ...]
    words: tuple[str, ...]

    def unmet(self, case: Case) -> str | None:
        first: dict[str, int] = {}
        gone = set()
        for n, fact in enumerate(case.facts):
            if isinstance(fact.detail, FaultCode):
                first.setdefault(fact.detail.code, n)
                if fact.detail.state in self.states:
                    gone.add(fact.detail.code)
            if _has_any(fact.quote, self.words):
                gone.update(first)
        left = [code for code in first if code not in gone]
        return ", ".join(left) if left else None


@dataclass(frozen=True)
class Reading:
    """A reading that has what `needs` says ("limit", "conditions"), of a quantity not in `except_for`;
    with `of_cause`, one taken at what a cause names."""

    needs: tuple[str, ...] = ("limit", "conditions")
    except_for: tuple[str, ...] = ()
    of_cause: bool = False

    def __post_init__(self) -> None:
        _known("needs", self.needs, frozenset({"limit", "conditions", "subject"}))

    def unmet(self, case: Case) -> str | None:
        readings = [
            f.detail
            for f in case.facts
            if isinstance(f.detail, Measurement)
            and f.detail.quantity not in self.except_for
            and (not self.of_cause or (f.detail.subject and case.is_about_a_cause(f.detail.subject)))
        ]
        if any(all(getattr(r, need) for need in self.needs) for r in readings):
            return None
        if not readings:
            return ""
        without = [need for need in self.needs if not any(getattr(r, need) for r in readings)]
        return f"no reading has {' and '.join(without or ['all of them'])}"


@dataclass(frozen=True)
class ProofAfterRepair:
    """After the last repair (a part fitted, or one of the steps `repairs`) comes a step among `steps`, a
    reading within its limit, or one of the phrases `words`. Readings of quantities in `except_for` prove
    no function."""

    repairs: tuple[str, ...]
    steps: tuple[str, ...]
    words: tuple[str, ...] = ()
    except_for: tuple[str, ...] = ()

    def unmet(self, case: Case) -> str | None:
        last = max((n for n, fact in enumerate(case.facts) if self._repairs(fact)), default=-1)
        return None if any(self._proves(fact) for fact in case.facts[last + 1 :]) else ""

    def _repairs(self, fact: Fact) -> bool:
        match fact.detail:
            case Part(action="fitted"):
                return True
            case Step(action=action):
                return action in self.repairs
        return False

    def _proves(self, fact: Fact) -> bool:
        match fact.detail:
            case Step(action=action) if action in self.steps:
                return True
            case Measurement(verdict="within", quantity=quantity) if quantity not in self.except_for:
                return True
        return _has_any(fact.quote, self.words)


# --- parts, labour, identity ---------------------------------------------------------------------


@dataclass(frozen=True)
class CausalPartNamed:
    """Some fitted part is what a cause names, so that it is clear which one failed first."""

    def unmet(self, case: Case) -> str | None:
        return None if case.causal_parts else ", ".join(dict.fromkeys(p.name for p in case.parts_fitted))


@dataclass(frozen=True)
class CausalPartHas:
    """Every causal part has these particulars, wherever it is named: "number", "quantity", "serial"."""

    needs: tuple[str, ...]

    def __post_init__(self) -> None:
        _known("needs", self.needs, frozenset({"number", "quantity", "serial", "condition"}))

    def unmet(self, case: Case) -> str | None:
        parts = case.causal_parts
        having = [p.name for p in parts if all(getattr(p, need) is not None for need in self.needs)]
        # the correction names the part again, without its number
        lacking = [p.name for p in parts if not any(case.same_object(p.name, name) for name in having)]
        return ", ".join(dict.fromkeys(lacking)) if lacking else None


@dataclass(frozen=True)
class LabourPresent:
    """Hours were said; with `per_operation`, each for an operation."""

    per_operation: bool = False

    def unmet(self, case: Case) -> str | None:
        if self.per_operation:
            bare = [
                f for f in case.facts if f.kind == "labour" and getattr(f.detail, "operation", None) is None
            ]
            return ", ".join(f"{getattr(f.detail, 'hours', '')} h" for f in bare) if bare else None
        if case.labour.said is not None:
            return None
        return _only_heard(f for f in case.record.facts if f.kind == "labour" and f.status == "check")


@dataclass(frozen=True)
class LabourFitsClock:
    """Hours said are no more than those on the clock, but for `tolerance_h`."""

    tolerance_h: Decimal = Decimal("0.1")

    def unmet(self, case: Case) -> str | None:
        said, worked = case.labour.said, case.labour.worked
        if said is None or worked is None or said <= worked + self.tolerance_h:
            return None
        return case.labour.difference or f"{said} h said, {worked} h on the clock"


@dataclass(frozen=True)
class LabourClear:
    """Nothing was said of hours or the clock that could not be counted."""

    def unmet(self, case: Case) -> str | None:
        return "; ".join(case.labour.remarks) or None


@dataclass(frozen=True)
class JobHas:
    """The job has any of these."""

    any_of: tuple[str, ...]

    def __post_init__(self) -> None:
        _known("any_of", self.any_of, frozenset(Job.__dataclass_fields__))

    def unmet(self, case: Case) -> str | None:
        if any(getattr(case.record.job, name) for name in self.any_of):
            return None
        kinds = {"number": "job_number"}
        wanted = {kinds.get(name, name) for name in self.any_of}
        return _only_heard(f for f in case.record.facts if f.kind in wanted and f.status == "check")


@dataclass(frozen=True)
class WithinDistance:
    """The odometer, where it is known, shows no more than `value`, in `unit` ("km" or "[mi_i]")."""

    value: Decimal
    unit: str = "km"

    def __post_init__(self) -> None:
        _known("unit", (self.unit,), frozenset({"km", "[mi_i]"}))

    def unmet(self, case: Case) -> str | None:
        odometer = case.record.job.odometer
        driven = _km(odometer.value, odometer.unit) if odometer else None
        if odometer is None or driven is None or driven <= (_km(str(self.value), self.unit) or 0):
            return None
        return f"{odometer.value} {odometer.unit or 'km'} against {self.value} {self.unit}"


@dataclass(frozen=True)
class IdentityAgrees:
    """Job number, vehicle and counters were not said with two different values."""

    def unmet(self, case: Case) -> str | None:
        found = conflicts(case.record.facts)
        return "; ".join(f"{c.kind.replace('_', ' ')} {' or '.join(c.values)}" for c in found) or None


# --- photos --------------------------------------------------------------------------------------


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
        _known("kinds", self.kinds, KINDS)
        _known("part_actions", self.part_actions, _PART_ACTIONS)

    def unmet(self, case: Case) -> str | None:
        return None if any(self._shows(facts, case) for _, facts in case.photos_with_facts()) else ""

    def _shows(self, facts: list[Fact], case: Case) -> bool:
        cues = [f for f in facts if isinstance(f.detail, PhotoCue)]
        if any(_has_any(_all_words(cue), self.not_words) for cue in cues):
            return False
        if any(_has_any(_all_words(cue), self.words) for cue in cues):
            return True
        if self.of_cause and any(case.is_about_a_cause(_all_words(cue)) for cue in cues):
            return True
        return any(
            f.kind in self.kinds or (isinstance(f.detail, Part) and f.detail.action in self.part_actions)
            for f in facts
        )


# --- the record as a whole -----------------------------------------------------------------------


@dataclass(frozen=True)
class NothingDoubtful:
    """No fact still has to be looked at."""

    def unmet(self, case: Case) -> str | None:
        doubtful = [f for f in case.record.facts if f.status == "check"]
        if not doubtful:
            return None
        more = f" and {len(doubtful) - _SHOWN} more" if len(doubtful) > _SHOWN else ""
        return ", ".join(_in_words(f) for f in doubtful[:_SHOWN]) + more


@dataclass(frozen=True)
class NoLooseEnds:
    """Nothing is off, open, drained, unplugged, connected or lost."""

    def unmet(self, case: Case) -> str | None:
        return "; ".join(end.text for end in case.record.loose_ends) or None


RULE_TYPES: dict[str, type[RuleType]] = {
    "needs_kind": NeedsKind,
    "said": Said,
    "cause_names_component_and_failure": CauseNamesComponentAndFailure,
    "cause_supported": CauseSupported,
    "codes_gone": CodesGone,
    "reading": Reading,
    "proof_after_repair": ProofAfterRepair,
    "causal_part_named": CausalPartNamed,
    "causal_part_has": CausalPartHas,
    "labour_present": LabourPresent,
    "labour_fits_clock": LabourFitsClock,
    "labour_clear": LabourClear,
    "job_has": JobHas,
    "within_distance": WithinDistance,
    "identity_agrees": IdentityAgrees,
    "photo_of": PhotoOf,
    "nothing_doubtful": NothingDoubtful,
    "no_loose_ends": NoLooseEnds,
}


def _known(key: str, values: Iterable[str], known: frozenset[str]) -> None:
    for value in values:
        if value not in known:
            raise BadRuleError(f"{key}: unknown {value!r}", f"write one of {', '.join(sorted(known))}")


def _only_heard(doubtful: Iterable[Fact]) -> str:
    heard = [_in_words(f) for f in doubtful]
    return f"only {', '.join(heard)}, which needs checking" if heard else ""


#: How many doubtful statements a gap names; the job sheet lists them all.
_SHOWN = 4


def _in_words(fact: Fact) -> str:
    """What a person knows the fact by: its words as heard, shortened."""
    words = fact.quote.strip(" .,;:").split()
    return f"“{' '.join(words[:9])}{' …' if len(words) > 9 else ''}”"


def _all_words(fact: Fact) -> str:
    said = (getattr(fact.detail, name, None) for name in ("subject", "text", "name", "object"))
    if isinstance(fact.detail, Identity):
        return fact.quote
    return " ".join((fact.quote, *(s for s in said if s)))


def _has_any(text: str, phrases: Iterable[str]) -> bool:
    return any(_has_phrase(text, phrase) for phrase in phrases)


def _has_phrase(text: str, phrase: str) -> bool:
    """True if the words of `phrase` stand in `text` one after the other, in singular or plural."""
    words = [singular(w) for w in words_of(text)]
    wanted = [singular(w) for w in words_of(phrase)]
    n = len(wanted)
    return n > 0 and any(words[i : i + n] == wanted for i in range(len(words) - n + 1))


def _km(value: str, unit: str | None) -> Decimal | None:
    try:
        return Decimal(value) * (_KM_PER_MILE if unit == "[mi_i]" else 1)
    except InvalidOperation:
        return None

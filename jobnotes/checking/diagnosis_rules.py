"""Rules about diagnosis and proof: fault codes before and after, readings, the function run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jobnotes.checking.case import Case
from jobnotes.checking.pairs import SameObject
from jobnotes.checking.phrases import all_words, has_any, is_just, says_exactly
from jobnotes.checking.rule_type import must_be_known
from jobnotes.past import letters_and_digits
from jobnotes.record import Fact, FaultCode, Measurement, Part, Step


@dataclass(frozen=True)
class CodesGone:
    """Each fault code is followed by word of its absence, after the repair has begun.

    A code is gone when it is named in one of `states`, and there again when it is named in one of `back`
    later. `words` speak of all codes named before them, `one_words` of the one named last. A phrase that
    names codes speaks of these alone. `repairs`: steps that repair, as does fitting a part; word from before
    the first of them proves nothing.
    """

    states: tuple[str, ...]
    words: tuple[str, ...]
    one_words: tuple[str, ...] = ()
    back: tuple[str, ...] = ()
    repairs: tuple[str, ...] = ()

    def unmet(self, case: Case) -> str | None:
        begun = next((n for n, fact in enumerate(case.facts) if is_repair(fact, self.repairs)), 0)
        gone: dict[str, bool] = {}
        last: str | None = None
        for n, fact in enumerate(case.facts):
            speaks_of = self._said_gone(fact, gone, last)
            if isinstance(fact.detail, FaultCode):
                code = fact.detail.code
                gone.setdefault(code, False)
                if fact.detail.state in self.states:
                    # heard in a phrase that names no code, it is of the code that this phrase speaks of
                    named = not is_just(fact.quote, self.one_words) or code == last
                    speaks_of = {code} if named else set()
                elif fact.detail.state in self.back:
                    gone[code] = False
                if not is_just(fact.quote, (*self.words, *self.one_words)):
                    last = code
            if n >= begun:
                gone.update(dict.fromkeys(speaks_of, True))
        left = [code for code, is_gone in gone.items() if not is_gone]
        return ", ".join(left) if left else None

    def _said_gone(self, fact: Fact, known: dict[str, bool], last: str | None) -> set[str]:
        """Which of the codes named before are gone by these words; those of a code have its state."""
        if isinstance(fact.detail, FaultCode):
            return set()
        said = all_words(fact)
        of_all = says_exactly(said, self.words)
        if not of_all and not says_exactly(said, self.one_words):
            return set()
        spelt = letters_and_digits(fact.quote)
        if named := {code for code in known if letters_and_digits(code) in spelt}:
            return named
        if of_all:
            return set(known)
        return {last} if last else set()


@dataclass(frozen=True)
class Reading:
    """A reading that has what `needs` says ("limit", "conditions"), of a quantity not in `except_for`;
    with `of_cause`, one taken at what a cause names."""

    needs: tuple[str, ...] = ("limit", "conditions")
    except_for: tuple[str, ...] = ()
    of_cause: bool = False

    def __post_init__(self) -> None:
        must_be_known("needs", self.needs, frozenset({"limit", "conditions", "subject"}))

    def unmet(self, case: Case) -> str | None:
        readings = [
            r
            for r in case.readings
            if r.quantity not in self.except_for
            and (not self.of_cause or (r.subject and case.is_about_a_cause(r.subject)))
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
    no function. A limit said with an earlier reading of the same thing holds for the later one too."""

    repairs: tuple[str, ...]
    steps: tuple[str, ...]
    words: tuple[str, ...] = ()
    except_for: tuple[str, ...] = ()

    def unmet(self, case: Case) -> str | None:
        last = max((n for n, fact in enumerate(case.facts) if is_repair(fact, self.repairs)), default=-1)
        before = [f.detail for f in case.facts[: last + 1] if isinstance(f.detail, Measurement)]
        after = case.facts[last + 1 :]
        return None if any(self._proves(fact, before, case.same_object) for fact in after) else ""

    def _proves(self, fact: Fact, before: Sequence[Measurement], same_object: SameObject) -> bool:
        match fact.detail:
            case Step(action=action) if action in self.steps:
                return True
            case Measurement(quantity=quantity) as reading if quantity not in self.except_for:
                if reading.verdict == "within":
                    return True
                if reading.limit is None and any(_in_limit_of(reading, b, same_object) for b in before):
                    return True
        return has_any(fact.quote, self.words)


def _in_limit_of(reading: Measurement, earlier: Measurement, same_object: SameObject) -> bool:
    """True if both are of one thing and unit, and the later one lies in the earlier one's bounds. A nominal
    value without bounds doesn't tell how near is near enough."""
    limit = earlier.limit
    if limit is None or (limit.min is None and limit.max is None):
        return False
    if (reading.quantity, reading.unit) != (earlier.quantity, earlier.unit):
        return False
    if not reading.subject or not earlier.subject or not same_object(reading.subject, earlier.subject):
        return False
    return (limit.min is None or reading.value >= limit.min) and (
        limit.max is None or reading.value <= limit.max
    )


def is_repair(fact: Fact, steps: tuple[str, ...]) -> bool:
    """True if a part was fitted, or one of these steps was done."""
    match fact.detail:
        case Part(action="fitted"):
            return True
        case Step(action=action):
            return action in steps
    return False

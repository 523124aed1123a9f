"""A person's decisions laid over derived facts. Pure: no file, no clock.

Decisions are never changed, only added to; the last one on a fact counts, and one may take another back.
A decision holds for the statement that the person saw. Where a new run reads the same fact otherwise, it
isn't carried over in silence: the fact becomes "check" again and the decision is reported.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from jobnotes.record import Fact

Action = Literal["accepted", "edited", "rejected", "added", "undone"]


@dataclass(frozen=True, slots=True)
class Decision:
    """What one person decided about one fact, at one time.

    `before` is the fact as they saw it (none when they add one), `after` as they left it (edits and
    additions only). `undoes` is the id of the decision that an "undone" takes back. `id` is given by the
    library and rises in the order in which decisions were made; None until then.
    """

    fact_id: str
    who: str
    at: datetime
    action: Action
    before: Fact | None = None
    after: Fact | None = None
    undoes: int | None = None
    id: int | None = None

    def __post_init__(self) -> None:
        if not self.who.strip():
            raise ValueError("a decision needs the person who made it")
        if self.at.tzinfo is None:
            raise ValueError("the time of a decision needs its offset")
        for part, needed in (
            (self.before, self.action in ("accepted", "edited", "rejected")),
            (self.after, self.action in ("edited", "added")),
            (self.undoes, self.action == "undone"),
        ):
            if (part is not None) != needed:
                raise ValueError(f"not what belongs to a decision {self.action!r}")
        for fact in (self.before, self.after):
            if fact is not None and fact.id != self.fact_id:
                raise ValueError(f"a decision on {self.fact_id} is about that fact, not {fact.id}")


@dataclass(frozen=True, slots=True)
class Unplaced:
    """A decision that the facts of this run give no place to; it is kept, and a person must look."""

    decision: Decision
    reason: str


@dataclass(frozen=True, slots=True)
class Reviewed:
    """Facts in the order they came, a person's own at the end; and the decisions that found no place."""

    facts: tuple[Fact, ...]
    unplaced: tuple[Unplaced, ...] = ()


def apply(decisions: Sequence[Decision], facts: Sequence[Fact]) -> Reviewed:
    """`facts` with the decisions on them, which come in the order in which they were made.

    What an edit changes is the statement and its audience; the evidence (words, seconds, photos,
    confidence) stays that of the fact as derived. A fact that a person has decided about says who and when.
    """
    now = {fact.id: fact for fact in facts}
    if len(now) != len(facts):
        raise ValueError("two facts share an id")
    unplaced: list[Unplaced] = []
    for decision in in_force(decisions):
        fact = now.get(decision.fact_id)
        if decision.action == "added":
            if fact is not None:
                unplaced.append(Unplaced(decision, "another fact has its id now"))
            else:
                assert decision.after is not None
                now[decision.fact_id] = _decided(decision, decision.after, "accepted")
        elif fact is None:
            unplaced.append(Unplaced(decision, "the fact is no longer found in the recordings"))
        elif not _holds(decision, fact):
            unplaced.append(Unplaced(decision, "the fact is read differently now"))
            now[decision.fact_id] = _doubted(decision, fact)
        elif decision.action == "edited":
            assert decision.after is not None
            edited = replace(fact, detail=decision.after.detail, audience=decision.after.audience)
            now[decision.fact_id] = _decided(decision, edited, "edited")
        elif decision.action == "rejected":
            now[decision.fact_id] = _signed(decision, replace(fact, status="rejected", why=None))
        else:
            # to accept what was edited leaves it marked as edited: it still differs from what was heard
            now[decision.fact_id] = _decided(
                decision, fact, "edited" if fact.status == "edited" else "accepted"
            )
    return Reviewed(tuple(now.values()), tuple(unplaced))


def in_force(decisions: Sequence[Decision]) -> tuple[Decision, ...]:
    """The decisions that no later one has taken back, without those that only take back."""
    undone: set[int | None] = set()
    # from the last to the first, so that an "undone" which was itself undone has no effect
    for decision in reversed(decisions):
        if decision.action == "undone" and decision.id not in undone:
            undone.add(decision.undoes)
    return tuple(d for d in decisions if d.action != "undone" and d.id not in undone)


def _holds(decision: Decision, fact: Fact) -> bool:
    """True if the decision is about what the fact says now.

    An edit says itself what is right, so it holds for the same words heard even if they are read otherwise.
    """
    assert decision.before is not None
    if fact.detail == decision.before.detail:
        return True
    if decision.after is None:
        return False
    return fact.detail == decision.after.detail or fact.quote == decision.before.quote


def _decided(decision: Decision, fact: Fact, status: Literal["accepted", "edited"]) -> Fact:
    # a person's word stands above a correction that the reading found
    return _signed(decision, replace(fact, status=status, why=None, superseded_by=None))


def _signed(decision: Decision, fact: Fact) -> Fact:
    return replace(fact, decided_by=decision.who, decided_at=decision.at)


def _doubted(decision: Decision, fact: Fact) -> Fact:
    if not fact.stands:
        return fact
    assert decision.before is not None
    why = f"{decision.action} by {decision.who} when it was heard as “{decision.before.quote}”"
    return replace(fact, status="check", why=why, decided_by=None, decided_at=None)

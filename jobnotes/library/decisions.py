"""A person's decisions laid over derived facts. Pure: no file, no clock.

Decisions are never changed, only added to; the last one on a fact counts, and one may take another back.
A decision holds for the statement that the person saw. Where a new run reads the same fact otherwise, it
isn't carried over in silence: the fact becomes "check" again and the decision is reported.

Three things that a person does are edits and additions of a certain shape (`moved`, `merged`, `split` make
them). A photo is moved by edits that change nothing but a fact's photos. A fact is merged into another by an
edit that leaves it superseded by that one. A fact is split by an edit of it and an addition whose id is the
fact's own with a number behind it. Decisions name photos by the digest of their originals, for the number of
a photo changes when an earlier one is added.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Literal

from jobnotes.record import Audience, Detail, Fact

#: Before the digest of a photo, in the `photos` of a fact that isn't linked yet: a person put it there, or
#: took it away.
PUT, TAKEN = "+", "-"

_PART = re.compile(r"(.+)\.\d+")

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

    @property
    def moves_photos(self) -> bool:
        """True for an edit that leaves the statement as it is, and its photos not."""
        if self.action != "edited" or self.before is None or self.after is None:
            return False
        same = replace(self.after, photos=self.before.photos) == self.before
        return same and set(self.after.photos) != set(self.before.photos)

    @property
    def merged_into(self) -> str | None:
        """The id of the fact that takes the place of this one, by this decision."""
        if self.action != "edited" or self.before is None or self.after is None:
            return None
        return self.after.superseded_by if self.after.superseded_by != self.before.superseded_by else None


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
    Photos that were moved stand in `photos` as digests, marked with what was done, for linking to carry out;
    that alone doesn't make a doubtful statement less so.
    """
    now = {fact.id: fact for fact in facts}
    if len(now) != len(facts):
        raise ValueError("two facts share an id")
    unplaced: list[Unplaced] = []
    merge_of: dict[str, Decision] = {}
    for decision in in_force(decisions):
        fact = now.get(decision.fact_id)
        if decision.action == "added":
            if fact is not None:
                unplaced.append(Unplaced(decision, "another fact has its id now"))
                continue
            added, lost = _added(decision, now)
            now[decision.fact_id] = added
            unplaced += [Unplaced(decision, lost)] if lost else []
        elif fact is None:
            unplaced.append(Unplaced(decision, "the fact is no longer found in the recordings"))
        elif decision.moves_photos:
            now[decision.fact_id] = _with_moved(decision, fact)
        elif not _holds(decision, fact):
            unplaced.append(Unplaced(decision, "the fact is read differently now"))
            now[decision.fact_id] = _doubted(decision, fact)
        elif (target := decision.merged_into) is not None:
            merge_of[decision.fact_id] = decision
            gone = replace(fact, status="rejected", why=None, superseded_by=target)
            now[decision.fact_id] = _signed(decision, gone)
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
    merges = {i: d for i, d in merge_of.items() if now[i].superseded_by == d.merged_into}
    for fact_id, decision in merges.items():
        if not _arrives(fact_id, now, merges):
            unplaced.append(Unplaced(decision, "the fact that it was merged into is no longer found"))
            why = f"merged by {decision.who} with a statement that is no longer found"
            open_again = replace(now[fact_id], status="check", why=why, superseded_by=None)
            now[fact_id] = replace(open_again, decided_by=None, decided_at=None)
    return Reviewed(tuple(now.values()), tuple(unplaced))


def in_force(decisions: Sequence[Decision]) -> tuple[Decision, ...]:
    """The decisions that no later one has taken back, without those that only take back."""
    counting = effective(decisions)
    return tuple(d for d in decisions if d.action != "undone" and d.id in counting)


def effective(decisions: Sequence[Decision]) -> set[int | None]:
    """The ids of decisions, also of those that take back, that no later one has taken back."""
    undone: set[int | None] = set()
    # from the last to the first, so that an "undone" which was itself undone has no effect
    for decision in reversed(decisions):
        if decision.action == "undone" and decision.id not in undone:
            undone.add(decision.undoes)
    return {d.id for d in decisions} - undone


def gesture(decisions: Sequence[Decision], decision_id: int) -> tuple[Decision, ...]:
    """The decisions that one person made in one go with the one that has that id; none if there is none.

    To move, to merge and to split take several: they have their person and their time in common.
    """
    about = [d for d in decisions if d.id == decision_id]
    return tuple(d for d in decisions if about and (d.who, d.at) == (about[0].who, about[0].at))


# --- what takes more than one decision -----------------------------------------------------------


def moved(photo: str, source: Fact | None, target: Fact | None, who: str, at: datetime) -> list[Decision]:
    """Take the photo with that digest from `source`, if given, and put it to `target`, if given.

    `photos` of both facts are digests. It is put before it is taken: at no time does it belong to nothing.
    """
    made = []
    if target is not None and photo not in target.photos:
        made.append(_moved(target, (*target.photos, photo), who, at))
    if source is not None and photo in source.photos:
        made.append(_moved(source, tuple(p for p in source.photos if p != photo), who, at))
    return made


def _moved(fact: Fact, photos: tuple[str, ...], who: str, at: datetime) -> Decision:
    # the photos of a fact without a note aren't written to JSON
    before = replace(fact, note=fact.note or "")
    return Decision(fact.id, who, at, "edited", before, replace(before, photos=photos))


def merged(
    kept: Fact, other: Fact, detail: Detail, audience: Audience, who: str, at: datetime
) -> list[Decision]:
    """`kept` says `detail` for both, and has the photos of both; `other` stays in the record as rejected."""
    photos = (*kept.photos, *(p for p in other.photos if p not in kept.photos))
    made = [Decision(kept.id, who, at, "edited", kept, replace(kept, detail=detail, audience=audience))]
    if photos != kept.photos:
        made.append(_moved(kept, photos, who, at))
    gone = replace(other, superseded_by=kept.id)
    return [*made, Decision(other.id, who, at, "edited", other, gone)]


def split(
    fact: Fact, first: Detail, second: Detail, taken: Collection[str], who: str, at: datetime
) -> list[Decision]:
    """`fact` says `first`, and a new one with the same evidence says `second`; ids in `taken` aren't free."""
    number = next(n for n in range(2, len(taken) + 3) if f"{fact.id}.{n}" not in taken)
    new = replace(fact, id=f"{fact.id}.{number}", detail=second, status="accepted", why=None, photos=())
    return [
        Decision(fact.id, who, at, "edited", fact, replace(fact, detail=first)),
        Decision(new.id, who, at, "added", after=new),
    ]


# --- how one decision changes one fact -----------------------------------------------------------


def _added(decision: Decision, now: dict[str, Fact]) -> tuple[Fact, str | None]:
    """The fact that was added, and what is the matter with it.

    A part of another fact has that one's evidence as it is now: the numbers of notes may have changed.
    """
    assert decision.after is not None
    added = _decided(decision, decision.after, "accepted")
    part = _PART.fullmatch(added.id)
    if part is None:
        return added, None
    whole = now.get(part[1])
    if whole is None:
        lost = replace(added, note=None, start_s=None, end_s=None)
        return _in_doubt(lost, f"split by {decision.who} from a statement that is no longer found"), (
            "the fact that it was split from is no longer found"
        )
    own = replace(
        added,
        quote=whole.quote,
        confidence=whole.confidence,
        note=whole.note,
        start_s=whole.start_s,
        end_s=whole.end_s,
        at=whole.at,
        repairs=whole.repairs,
    )
    if whole.quote != added.quote:
        why = f"split by {decision.who} from what was heard as “{added.quote}”"
        return _in_doubt(own, why), "the fact that it was split from is heard differently now"
    return own, None


def _in_doubt(fact: Fact, why: str) -> Fact:
    return replace(fact, status="check", why=why, decided_by=None, decided_at=None)


def _with_moved(decision: Decision, fact: Fact) -> Fact:
    assert decision.before is not None
    assert decision.after is not None
    before, after = decision.before.photos, decision.after.photos
    marks = {p[1:]: p for p in fact.photos if p[:1] in (PUT, TAKEN)}
    marks |= {p: PUT + p for p in after if p not in before}
    marks |= {p: TAKEN + p for p in before if p not in after}
    return replace(fact, photos=(*(p for p in fact.photos if p[:1] not in (PUT, TAKEN)), *marks.values()))


def _arrives(fact_id: str, now: dict[str, Fact], merges: dict[str, Decision]) -> bool:
    """True if merging led from this fact to one that is there and was itself not merged away."""
    seen: set[str] = set()
    while fact_id in merges:
        seen.add(fact_id)
        target = merges[fact_id].merged_into
        if target is None or target in seen or target not in now:
            return False
        fact_id = target
    return True


def _holds(decision: Decision, fact: Fact) -> bool:
    """True if the decision is about what the fact says now.

    An edit says itself what is right, so it holds for the same words heard even if they are read otherwise.
    """
    assert decision.before is not None
    if fact.detail == decision.before.detail:
        return True
    if decision.after is None or decision.merged_into is not None:
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

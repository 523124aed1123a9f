"""Which parts go on the bill: each thing once, however often it was spoken of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal

from jobnotes.office.names import plain_number, words_of
from jobnotes.record import Fact, Part, Statement

SameObject = Callable[[str, str], bool]


@dataclass
class Used:
    """One part or material: what is known of it from all `facts` about it. `remarks`: what is odd, in a line
    each."""

    name: str
    consumed: bool
    number: str | None = None
    quantity: Decimal | None = None
    unit: str | None = None
    facts: list[Fact] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)


def parts_used(facts: Sequence[Fact], same_object: SameObject) -> tuple[Used, ...]:
    """Parts fitted and materials used up, of the facts that may be charged, in the order they were said.

    What is named again, in a correction say, is the same thing unless its number is another. Counts that
    differ are not added up: the larger is taken, and a remark asks.
    """
    found: list[Used] = []
    for fact in facts:
        part = fact.detail
        if not isinstance(part, Part) or part.action not in ("fitted", "consumed"):
            continue
        known = _known(part, found, same_object)
        if not known:
            used = Used(part.name, part.action == "consumed", part.number, part.quantity, part.unit, [fact])
            found.append(used)
        elif len(known) == 1:
            _say_again(known[0], fact, part, facts, same_object)
        else:
            # "replaced the hoses": all of them, and nothing new
            for used in known:
                used.facts.append(fact)
    return tuple(found)


def _known(part: Part, found: Sequence[Used], same_object: SameObject) -> list[Used]:
    """The things that this may be speaking of again."""
    if part.number is not None:
        same = [u for u in found if u.number and plain_number(u.number) == plain_number(part.number)]
        return same or [u for u in found if u.number is None and _same(u, part, same_object)][:1]
    by_words = [u for u in found if words_of(u.name) == words_of(part.name)]
    return by_words or [u for u in found if _same(u, part, same_object)]


def _same(used: Used, part: Part, same_object: SameObject) -> bool:
    return used.consumed == (part.action == "consumed") and same_object(used.name, part.name)


def _say_again(used: Used, fact: Fact, part: Part, facts: Sequence[Fact], same_object: SameObject) -> None:
    used.facts.append(fact)
    if part.number is not None and used.number is None:
        used.number, used.name = part.number, part.name
    elif part.number is not None and not same_object(used.name, part.name):
        used.remarks.append(f"number {used.number} was said for {used.name} and for {part.name}")
    if part.quantity is None or (part.unit != used.unit and used.quantity is not None):
        if part.quantity is not None:
            used.remarks.append(f"{used.name}: amounts in two units were said, the first counts")
        return
    if used.quantity is None:
        used.quantity, used.unit = part.quantity, part.unit
    elif part.quantity != used.quantity:
        more, less = max(part.quantity, used.quantity), min(part.quantity, used.quantity)
        used.quantity = more
        used.remarks.append(f"{used.name}: {less} and {more} were said; {more} is charged")
    elif not _within_correction(fact, facts):
        used.remarks.append(f"{used.name}: {part.quantity} was said twice and is charged once")


def _within_correction(fact: Fact, facts: Sequence[Fact]) -> bool:
    """Whether the words stand within those of a correction, which sums up what was done."""
    return any(
        isinstance(other.detail, Statement)
        and other.detail.kind == "correction"
        and other.note == fact.note
        and (fact.quote in other.quote or _covers(other, fact))
        for other in facts
    )


def _covers(whole: Fact, part: Fact) -> bool:
    if whole.start_s is None or whole.end_s is None or part.start_s is None or part.end_s is None:
        return False
    return whole.start_s <= part.start_s and part.end_s <= whole.end_s

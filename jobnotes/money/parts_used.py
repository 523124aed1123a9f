"""Which parts go on the bill: each thing once, however often it was spoken of."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from itertools import combinations

from jobnotes.office.names import plain_number, singular_words
from jobnotes.office.units import PIECE, in_unit
from jobnotes.record import Fact, Part, Statement

SameObject = Callable[[str, str], bool]


@dataclass(frozen=True, slots=True)
class Used:
    """One part or material: what is known of it from all `facts` about it, of which `lead` is its own.

    `consumed`: nothing says that it was fitted. `quantity` is in `unit`, None where nobody said it.
    `second_hand`: it was said not to be new. `remarks`: what is odd, a line each.
    """

    name: str
    consumed: bool
    number: str | None
    quantity: Decimal | None
    unit: str | None
    second_hand: bool
    lead: Fact
    facts: tuple[Fact, ...]
    remarks: tuple[str, ...]


def parts_used(facts: Sequence[Fact], same_object: SameObject) -> tuple[Used, ...]:
    """Parts fitted and materials used up, of the facts that may be charged, in the order of `facts`.

    A number said again is the same thing, and so is its name without the number, in a correction say. Amounts
    of one thing that differ are not added up: the larger counts, and a remark asks. Serial numbers that
    differ are as many pieces. What sums up several things ("the two hoses") adds nothing to them. What was
    also said to be used again is asked about.
    """
    told = [
        _Telling(place, fact, fact.detail)
        for place, fact in enumerate(facts)
        if isinstance(fact.detail, Part) and fact.detail.action in ("fitted", "consumed")
    ]
    corrections = [f for f in facts if isinstance(f.detail, Statement) and f.detail.kind == "correction"]
    things: list[_Thing] = []
    by_number: dict[str, _Thing] = {}
    for telling in told:
        if telling.part.number is not None:
            key = plain_number(telling.part.number)
            if key not in by_number:
                by_number[key] = _Thing(same_object, corrections)
                things.append(by_number[key])
            by_number[key].told.append(telling)
    # the fullest name first, so that "the spring" finds "the left air spring" whichever was said first
    bare = [telling for telling in told if telling.part.number is None]
    for telling in sorted(bare, key=lambda t: -len(singular_words(t.part.name))):
        known = [thing for thing in things if thing.has_name(telling.part.name)]
        known = known or [thing for thing in things if thing.may_be(telling.part)]
        if not known:
            things.append(_Thing(same_object, corrections, [telling]))
        elif len(known) == 1:
            known[0].told.append(telling)
        else:
            _summed_up(telling, known)
    for part in (f.detail for f in facts if isinstance(f.detail, Part) and f.detail.action == "reused"):
        for thing in things:
            if thing.has_number(part.number) if part.number is not None else thing.has_name(part.name):
                thing.remarks.append(f"{part.name} was said to be fitted and to be used again; it is charged")
    return tuple(thing.used() for thing in sorted(things, key=lambda thing: thing.lead().place))


@dataclass(frozen=True, slots=True)
class _Telling:
    """A fact about a part, and its place among all facts."""

    place: int
    fact: Fact
    part: Part


@dataclass
class _Thing:
    same_object: SameObject
    corrections: Sequence[Fact]
    told: list[_Telling] = field(default_factory=list)
    summed_up_by: list[_Telling] = field(default_factory=list)
    remarks: list[str] = field(default_factory=list)

    def has_name(self, name: str) -> bool:
        return any(singular_words(t.part.name) == singular_words(name) for t in self.told)

    def has_number(self, number: str) -> bool:
        return any(t.part.number and plain_number(t.part.number) == plain_number(number) for t in self.told)

    def may_be(self, part: Part) -> bool:
        return any(t.part.action == part.action and self._one(t.part.name, part.name) for t in self.told)

    def _one(self, a: str, b: str) -> bool:
        """May two names mean one thing? Not those of two cylinders, say, which differ in a number alone."""
        if not self.same_object(a, b):
            return False
        of_a, of_b = ({w for w in singular_words(name) if w.isdigit()} for name in (a, b))
        return of_a <= of_b or of_b <= of_a

    def lead(self) -> _Telling:
        """The first with a number, else the first."""
        return min(self.told, key=lambda t: (t.part.number is None, t.place))

    def pieces(self) -> Decimal | None:
        """How many pieces they are, where that was said in one way."""
        said = {t.part.quantity for t in self.told if t.part.quantity is not None and t.part.unit is None}
        return said.pop() if len(said) == 1 else None

    def used(self) -> Used:
        told = sorted(self.told, key=lambda t: t.place)
        numbered = [t for t in told if t.part.number is not None]
        named = (numbered or sorted(told, key=lambda t: -len(singular_words(t.part.name))))[0].part
        remarks = [*self._names(numbered), *self.remarks]
        quantity, unit = self._amount(told, named.name, remarks)
        evidence = sorted((*told, *self.summed_up_by), key=lambda t: t.place)
        return Used(
            named.name,
            all(t.part.action == "consumed" for t in told),
            named.number,
            quantity,
            unit,
            any(t.part.condition == "used" for t in told),
            self.lead().fact,
            tuple(dict.fromkeys(t.fact for t in evidence)),
            tuple(dict.fromkeys(remarks)),
        )

    def _names(self, numbered: Sequence[_Telling]) -> list[str]:
        """A remark where one number was said for two things."""
        names = [t.part.name for t in numbered]
        for a, b in combinations(names, 2):
            if not self._one(a, b):
                return [f"number {numbered[0].part.number} was said for {a} and for {b}"]
        return []

    def _amount(
        self, told: Sequence[_Telling], name: str, remarks: list[str]
    ) -> tuple[Decimal | None, str | None]:
        serials = {plain_number(t.part.serial) for t in told if t.part.serial}
        several = len(serials) > 1 and all(
            t.part.quantity in (None, Decimal(1)) and t.part.unit is None for t in told if t.part.serial
        )
        said: list[_Telling] = [
            t for t in told if t.part.quantity is not None and not (several and t.part.serial)
        ]
        unit = said[0].part.unit if said and not several else None
        amounts: list[Decimal] = [Decimal(len(serials))] if several else []
        again = False
        for telling in said:
            assert telling.part.quantity is not None
            amount = in_unit(telling.part.quantity, telling.part.unit or PIECE, unit or PIECE)
            if amount is None:
                remarks.append(f"{name}: amounts in two units were said, of which one is charged")
                continue
            again = again or (amount in amounts and not self._within_correction(telling.fact))
            amounts.append(amount)
        different = sorted(set(amounts))
        if len(different) > 1:
            shown = [f"{amount:f} {unit}" if unit else f"{amount:f}" for amount in different]
            remarks.append(f"{name}: {' and '.join(shown)} were said; {shown[-1]} is charged")
        elif again:
            remarks.append(f"{name}: {amounts[0]:f} was said more than once and is charged once")
        return (different[-1] if different else None), unit

    def _within_correction(self, fact: Fact) -> bool:
        """Whether the words stand within those of a correction, which sums up what was done."""
        return any(
            correction.note == fact.note and (fact.quote in correction.quote or _covers(correction, fact))
            for correction in self.corrections
        )


def _summed_up(telling: _Telling, known: Sequence[_Thing]) -> None:
    """ "Replaced the hoses": all of them, and nothing new, unless its number of pieces says otherwise."""
    pieces = [thing.pieces() for thing in known]
    whole = sum((p if p is not None else Decimal(1) for p in pieces), Decimal(0))
    quantity = telling.part.quantity
    if quantity is None or (telling.part.unit is None and quantity == whole):
        for thing in known:
            thing.summed_up_by.append(telling)
        return
    names = " or ".join(dict.fromkeys(thing.told[0].part.name for thing in known))
    known[0].remarks.append(f"{quantity:f} {telling.part.name} may be {names}, and isn't charged beside them")


def _covers(whole: Fact, part: Fact) -> bool:
    if whole.start_s is None or whole.end_s is None or part.start_s is None or part.end_s is None:
        return False
    return whole.start_s <= part.start_s and part.end_s <= whole.end_s

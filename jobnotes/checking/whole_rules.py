"""Rules about the record as a whole: doubt, loose ends, money, and the vehicle's earlier repairs."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from jobnotes.checking.case import Case
from jobnotes.checking.distance import UNITS
from jobnotes.checking.loose_ends import in_full
from jobnotes.checking.phrases import listed
from jobnotes.checking.repeats import Window, repeats
from jobnotes.checking.rule_type import must_be_known, must_be_positive
from jobnotes.record import Charge, EarlierRepair


@dataclass(frozen=True)
class NothingDoubtful:
    """No fact still has to be looked at."""

    def unmet(self, case: Case) -> str | None:
        return listed(case.doubtful) if case.doubtful else None


@dataclass(frozen=True)
class NoLooseEnds:
    """Nothing is off, open, drained, unplugged, connected or lost."""

    def unmet(self, case: Case) -> str | None:
        ends = case.record.loose_ends
        told = [in_full(end) for end in ends if end.doubt is None]
        doubted = [in_full(end) for end in ends if end.doubt is not None]
        return "; ".join((*told, *(("perhaps " + "; ".join(doubted),) if doubted else ()))) or None


@dataclass(frozen=True)
class Priced:
    """Every charge has its price; with `kinds`, every charge of these."""

    kinds: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        must_be_known("kinds", self.kinds, frozenset({"part", "consumable", "labour", "sundry"}))

    def unmet(self, case: Case) -> str | None:
        bare = [c for c in case.record.charges if c.net is None and (not self.kinds or c.kind in self.kinds)]
        return "; ".join(dict.fromkeys(map(_named, bare))) or None


@dataclass(frozen=True)
class ChargesClear:
    """Nothing was left out of the charges, or charged with a question."""

    def unmet(self, case: Case) -> str | None:
        return "; ".join(case.record.charge_remarks) or None


@dataclass(frozen=True)
class NotRepeated:
    """No job of the same vehicle at most `days` ago, or at most `distance` ago in `unit` ("km" or "[mi_i]"),
    has a fault code, a cause's component or a causal part in common with this one."""

    days: int | None = None
    distance: Decimal | None = None
    unit: str = "km"

    def __post_init__(self) -> None:
        must_be_known("unit", (self.unit,), UNITS)
        must_be_positive(days=self.days, distance=self.distance)

    @property
    def window(self) -> Window:
        return Window(self.days, self.distance, self.unit)

    def unmet(self, case: Case) -> str | None:
        found = repeats(case.record.job, case.facts, case.past, case.same_object, [self.window])
        return "; ".join(map(_told, found)) or None


def earlier_repairs(case: Case, rules: Iterable[NotRepeated]) -> tuple[EarlierRepair, ...]:
    """The repairs that any of the rules asks about."""
    windows = [rule.window for rule in rules]
    return repeats(case.record.job, case.facts, case.past, case.same_object, windows)


def _named(charge: Charge) -> str:
    number = f" {charge.number}" if charge.number and charge.number not in (charge.why or "") else ""
    return f"{charge.description}{number} ({charge.why})" if charge.why else f"{charge.description}{number}"


def _told(earlier: EarlierRepair) -> str:
    ago = (
        "the same day" if not earlier.days else f"{earlier.days} day{'s' if earlier.days > 1 else ''} before"
    )
    way = f", {earlier.distance} {earlier.unit} ago" if earlier.distance is not None else ""
    job = earlier.number or earlier.job
    return f"job {job} of {earlier.ended_on} ({ago}{way}): {', '.join(earlier.same)}"

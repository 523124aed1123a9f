"""Rules about labour: said for an operation, within the clock and the standard time, claimed once."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from jobnotes.checking.case import Case
from jobnotes.checking.phrases import only_heard
from jobnotes.record import LabourSaid


@dataclass(frozen=True)
class LabourPresent:
    """Hours were said; with `per_operation`, each for an operation."""

    per_operation: bool = False

    def unmet(self, case: Case) -> str | None:
        if self.per_operation:
            said = [f.detail for f in case.facts if isinstance(f.detail, LabourSaid)]
            bare = [s for s in said if s.operation is None]
            return ", ".join(f"{s.hours} h" for s in bare) if bare else None
        if case.labour.said is not None:
            return None
        return only_heard(f for f in case.doubtful if f.kind == "labour")


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
class LabourWithinStandard:
    """No operation was said to take longer than its standard time, but for `tolerance_h`. One that the
    workshop's table doesn't have isn't judged."""

    tolerance_h: Decimal = Decimal("0.1")

    def unmet(self, case: Case) -> str | None:
        over = case.labour.over_standard(self.tolerance_h)
        told = [f"{hours} h for {operation}, standard {standard} h" for operation, hours, standard in over]
        return "; ".join(told) or None


@dataclass(frozen=True)
class LabourClaimedOnce:
    """No hour on the clock is on the clock of another job too."""

    def unmet(self, case: Case) -> str | None:
        return "; ".join(case.labour.overlaps) or None


@dataclass(frozen=True)
class LabourClear:
    """Nothing was said of hours or the clock that could not be counted."""

    def unmet(self, case: Case) -> str | None:
        return "; ".join(case.labour.uncounted) or None

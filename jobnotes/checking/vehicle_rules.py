"""Rules about which vehicle it is, how far it has gone, and the dates of failure, repair and claim."""

from __future__ import annotations

import calendar
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from jobnotes.checking import distance as counters
from jobnotes.checking.case import Case
from jobnotes.checking.particulars import Untold
from jobnotes.checking.phrases import in_words, only_heard
from jobnotes.checking.rule_type import BadRuleError, must_be_known, must_be_positive
from jobnotes.chronology import well_dated
from jobnotes.record import Fact, Job

_FACT_OF = {"number": "job_number"}
_IN_WORDS = {
    "number": "the job number",
    "vin": "the vehicle identification number",
    "opened_at": "the date of the repair",
    "in_service_on": "the day the warranty began",
    "failed_on": "the day of the failure",
    "claimed_on": "the day of the claim",
}
_FIELDS = frozenset(Job.__dataclass_fields__)
_BY_NOTES = ("opened_at", "closed_at")


@dataclass(frozen=True)
class JobHas:
    """The job has any of `any_of`, and each of `all_of`."""

    any_of: tuple[str, ...] = ()
    all_of: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        must_be_known("any_of", self.any_of, _FIELDS)
        must_be_known("all_of", self.all_of, _FIELDS)
        if not self.any_of and not self.all_of:
            raise BadRuleError("any_of is missing", "add any_of = […] or all_of = […]")

    def unmet(self, case: Case) -> str | None:
        job = case.record.job
        unproved = () if well_dated(case.record.notes) or not case.record.notes else _BY_NOTES
        if lacking := [name for name in self.all_of if not getattr(job, name) or name in unproved]:
            return ", ".join(_IN_WORDS.get(name, name.replace("_", " ")) for name in lacking)
        told = [name for name in self.any_of if getattr(job, name)]
        if not self.any_of or any(name not in unproved for name in told):
            return None
        if told:
            return "only the files' own dates tell it, which copying and saving change"
        wanted = {_FACT_OF.get(name, name) for name in self.any_of}
        return only_heard(f for f in case.doubtful if f.kind in wanted)


@dataclass(frozen=True)
class WithinDistance:
    """The odometer, where it is known, shows no more than `value`, in `unit` ("km" or "[mi_i]")."""

    value: Decimal
    unit: str = "km"

    def __post_init__(self) -> None:
        must_be_known("unit", (self.unit,), counters.UNITS)
        must_be_positive(value=self.value)

    def unmet(self, case: Case) -> str | None:
        return _too_far(case.record.job, self.value, self.unit)


@dataclass(frozen=True)
class OdometerRises:
    """The odometer shows no less than at an earlier job of the same vehicle."""

    def unmet(self, case: Case) -> str | None:
        now = case.record.job.odometer
        for earlier in case.past.earlier:
            if earlier.odometer and counters.went_back(earlier.odometer, now):
                then = f"{earlier.odometer.value} {earlier.odometer.unit or 'km'}"
                return f"{then} at job {earlier.number or earlier.job} of {earlier.ended_on}"
        return None


@dataclass(frozen=True)
class WithinWarranty:
    """It failed within the warranty: at most `months` after it began, and before `distance` or `hours`.

    The day of the failure counts, or else that of the repair. Where the day on which the warranty began or
    the counter isn't known, the gap says that it can't be told: `untold_missing` and `untold_remedy`.
    """

    months: int | None = None
    distance: Decimal | None = None
    unit: str = "km"
    hours: Decimal | None = None
    untold_missing: str = "Not known whether the warranty still ran"
    untold_remedy: str = "Say the odometer or engine hours; the office states the day on which it began."

    def __post_init__(self) -> None:
        must_be_known("unit", (self.unit,), counters.UNITS)
        must_be_positive(months=self.months, distance=self.distance, hours=self.hours)

    def unmet(self, case: Case) -> str | None:
        job = case.record.job
        beyond = "; ".join(b for b in (self._too_late(job), self._too_far(job), self._too_long(job)) if b)
        if beyond:
            return beyond
        untold = "; ".join(self._untold(job, case.doubtful))
        return Untold(untold, self.untold_missing, self.untold_remedy) if untold else None

    def _untold(self, job: Job, doubtful: Iterable[Fact]) -> list[str]:
        unknown = []
        heard = {f.kind: in_words(f) for f in doubtful}
        if self.months is not None:
            unknown += [] if job.in_service_on else ["the day it began isn't stated"]
            unknown += [] if job.failed_on or job.opened_at else ["no day of the failure is known"]
        if self.distance is not None and counters.number(job.odometer) is None:
            seen = heard.get("odometer")
            unknown.append(f"the odometer needs a look: {seen}" if seen else "no odometer reading is known")
        if self.hours is not None and counters.number(job.engine_hours) is None:
            seen = heard.get("engine_hours")
            unknown.append(f"the engine hours need a look: {seen}" if seen else "no engine hours are known")
        return unknown

    def _too_late(self, job: Job) -> str | None:
        failed = job.failed_on or (job.opened_at.date() if job.opened_at else None)
        if self.months is None or job.in_service_on is None or failed is None:
            return None
        if failed < job.in_service_on:
            return f"failed on {failed}, before it began on {job.in_service_on}"
        last = last_day(job.in_service_on, self.months)
        return None if failed <= last else f"failed on {failed}, its last day was {last}"

    def _too_far(self, job: Job) -> str | None:
        return None if self.distance is None else _too_far(job, self.distance, self.unit)

    def _too_long(self, job: Job) -> str | None:
        run = counters.number(job.engine_hours)
        if self.hours is None or run is None:
            return None
        return None if run <= self.hours else f"{run} engine hours against {self.hours}"


def last_day(begun: date, months: int) -> date:
    """The last day of a period of months: the same day of the last month, or its last day where it has no
    such day, as Article 3(2)(c) of Regulation (EEC, Euratom) No 1182/71 counts them."""
    year, month = divmod(begun.year * 12 + begun.month - 1 + months, 12)
    if year > date.max.year:
        return date.max
    return date(year, month + 1, min(begun.day, calendar.monthrange(year, month + 1)[1]))


@dataclass(frozen=True)
class ClaimedWithin:
    """The claim is made at most `days` after the repair ended, where the day of the claim is stated."""

    days: int

    def __post_init__(self) -> None:
        must_be_positive(days=self.days)

    def unmet(self, case: Case) -> str | None:
        job = case.record.job
        if job.claimed_on is None or job.closed_at is None:
            return None
        repaired = job.closed_at.date()
        after = (job.claimed_on - repaired).days
        if after <= self.days:
            return None
        return f"claimed on {job.claimed_on}, {after} days after the repair of {repaired}"


@dataclass(frozen=True)
class DatesInOrder:
    """Start of the warranty, failure, repair and claim, as far as they are known, follow each other."""

    def unmet(self, case: Case) -> str | None:
        job = case.record.job
        known: list[tuple[str, date, date]] = []  # what, its first and its last day
        for name, day in (("start of the warranty", job.in_service_on), ("failure", job.failed_on)):
            known += [(name, day, day)] if day else []
        if job.opened_at and job.closed_at:
            known.append(("repair", job.opened_at.date(), job.closed_at.date()))
        known += [("claim", job.claimed_on, job.claimed_on)] if job.claimed_on else []
        wrong = [
            f"{then} {end} after {now} {start}"
            for n, (then, _, end) in enumerate(known)
            for now, start, _ in known[n + 1 :]
            if end > start
        ]
        return "; ".join(wrong) or None


@dataclass(frozen=True)
class IdentityAgrees:
    """Job number, vehicle and counters have one value each, said or stated by the office."""

    def unmet(self, case: Case) -> str | None:
        return "; ".join(str(conflict) for conflict in case.conflicts) or None


def _too_far(job: Job, most: Decimal, unit: str) -> str | None:
    shown = counters.number(job.odometer)
    if job.odometer is None or shown is None:
        return None
    if counters.in_km(shown, job.odometer.unit) <= counters.in_km(most, unit):
        return None
    return f"{job.odometer.value} {job.odometer.unit or 'km'} against {most} {unit}"

"""A record to be judged, with what several rules ask of it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from functools import cached_property

from jobnotes.checking.job import Conflict
from jobnotes.checking.labour import Labour, labour
from jobnotes.checking.pairs import Pairs, SameObject
from jobnotes.checking.supports import about, names
from jobnotes.chronology import as_said
from jobnotes.past import Past
from jobnotes.record import Fact, FaultCode, Measurement, Part, Photo, Record, Statement


@dataclass(frozen=True)
class Case:
    """The record has to be filled in (job, loose ends, charges …) but for what rules themselves tell.

    `conflicts`: values that contradict each other; `past`: what other jobs tell; `little`: words that make no
    two names alike. Without `hours`, they are those of the record's facts alone.
    """

    record: Record
    same_object: SameObject
    hours: Labour | None = None
    conflicts: tuple[Conflict, ...] = ()
    past: Past = field(default_factory=Past)
    little: frozenset[str] = frozenset()
    kind_of: Callable[[str], str | None] = Pairs.kind_of
    failures_in: Callable[[str], frozenset[str]] = Pairs.failures_in

    @cached_property
    def facts(self) -> tuple[Fact, ...]:
        """What may stand in a claim without a remark, in the order in which it was said."""
        return tuple(as_said(f for f in self.record.facts if f.usable and f.audience == "all"))

    @cached_property
    def doubtful(self) -> list[Fact]:
        return [f for f in self.record.facts if f.status == "check"]

    @cached_property
    def causes(self) -> tuple[Fact, ...]:
        return tuple(f for f in self.facts if f.kind == "cause")

    @cached_property
    def cause_statements(self) -> tuple[Statement, ...]:
        return tuple(c.detail for c in self.causes if isinstance(c.detail, Statement))

    @cached_property
    def codes(self) -> tuple[FaultCode, ...]:
        return tuple(f.detail for f in self.facts if isinstance(f.detail, FaultCode))

    @cached_property
    def readings(self) -> tuple[Measurement, ...]:
        return tuple(f.detail for f in self.facts if isinstance(f.detail, Measurement))

    @cached_property
    def parts_fitted(self) -> tuple[Part, ...]:
        return tuple(
            f.detail for f in self.facts if isinstance(f.detail, Part) and f.detail.action == "fitted"
        )

    @cached_property
    def causal_parts(self) -> tuple[Part, ...]:
        """Fitted parts that are what a cause names: its component, or named in its text."""
        return tuple(
            p for p in self.parts_fitted if any(self.names(c, p.name) for c in self.cause_statements)
        )

    @cached_property
    def labour(self) -> Labour:
        return self.hours or labour(self.record.facts)

    def names(self, statement: Statement, part: str) -> bool:
        return names(statement, part, self.same_object)

    def is_about_a_cause(self, name: str) -> bool:
        return any(about(cause, name, self.same_object, self.little) for cause in self.cause_statements)

    def photos_with_facts(self) -> Iterable[tuple[Photo, list[Fact]]]:
        by_id = {f.id: f for f in self.facts}
        for photo in self.record.photos:
            yield photo, [by_id[i] for i in photo.fact_ids if i in by_id]

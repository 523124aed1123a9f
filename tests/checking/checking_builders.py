"""Facts in one line each, for the tests of the checking stage."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from itertools import count

from jobnotes.record import (
    Clock,
    Fact,
    Identity,
    LabourSaid,
    Measurement,
    Note,
    Part,
    RecogniserStamp,
    Statement,
    Step,
)

START = datetime(2031, 3, 4, 8, 0, tzinfo=UTC)
_number = count(1)


def fact(detail, quote=None, **changes) -> Fact:
    """A fact that is sure, without a time; facts made this way count as said in the order of the list."""
    n = next(_number)
    return replace(Fact(f"F{n}", detail, quote or f"words {n}", 0.9, "sure"), **changes)


def step(action, thing, quantity=None, unit=None, **changes) -> Fact:
    amount = None if quantity is None else Decimal(str(quantity))
    return fact(Step(action, thing, amount, unit), **changes)


def part(action, name, quantity=None, unit=None, number=None, **changes) -> Fact:
    amount = None if quantity is None else Decimal(str(quantity))
    return fact(Part(name, action, amount, unit, number), **changes)


def remark(text, kind="loose_end", component=None, failure=None, **changes) -> Fact:
    return fact(Statement(kind, text, component, failure), **{"quote": text, **changes})


def torque(subject, value="11", **changes) -> Fact:
    return fact(Measurement(Decimal(value), "N.m", "torque", subject), **changes)


def hours(value, operation=None, **changes) -> Fact:
    return fact(LabourSaid(Decimal(str(value)), operation), **changes)


def clock(action, at, reason=None, **changes) -> Fact:
    return fact(Clock(action, reason), quote=action, at=at, **changes)


def identity(kind, value, unit=None, **changes) -> Fact:
    return fact(Identity(kind, value, unit), **changes)


def note(note_id, started_at, duration_s=60.0) -> Note:
    stamp = RecogniserStamp("none", "none", "0" * 64)
    return Note(note_id, f"{note_id}.wav", "0" * 64, started_at, "file name", duration_s, stamp, "", ())


def later(minutes: float) -> datetime:
    return START + timedelta(minutes=minutes)

"""What a workshop's other jobs tell about one job: earlier repairs of its vehicle, and work at the same time.

The library finds it, checking judges it; this module is what the two agree on.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from jobnotes.record import Fact, Odometer


@dataclass(frozen=True, slots=True)
class PastCause:
    """What an earlier cause named, as far as it was recognised."""

    component: str | None = None
    failure: str | None = None


@dataclass(frozen=True, slots=True)
class PastPart:
    """A part that was fitted then."""

    name: str
    number: str | None = None


@dataclass(frozen=True, slots=True)
class PastJob:
    """An earlier job of the same vehicle: only what could stand in a claim then, the same thing once.

    `job` is the library's id, `number` the workshop's own; `ended_on` is the day of its last note.
    """

    job: str
    ended_on: date
    number: str | None = None
    odometer: Odometer | None = None
    codes: tuple[str, ...] = ()
    causes: tuple[PastCause, ...] = ()
    parts: tuple[PastPart, ...] = ()


@dataclass(frozen=True, slots=True)
class OtherWork:
    """Another job on whose clock somebody may have been at the same time: its clock statements."""

    job: str
    clock: tuple[Fact, ...]
    number: str | None = None
    technician: str | None = None


@dataclass(frozen=True, slots=True)
class Past:
    """`earlier`: jobs of the same vehicle that began before this one, the latest first. `meanwhile`: jobs of
    any vehicle whose clock may have run while this one's did."""

    earlier: tuple[PastJob, ...] = ()
    meanwhile: tuple[OtherWork, ...] = ()


def letters_and_digits(text: str) -> str:
    """What tells codes, vehicles and job numbers apart: no spaces, signs or capitals."""
    return "".join(c for c in text.casefold() if c.isalnum())

"""The record of a job: what every stage hands on, and `record.json` (format 1).

Plain frozen data, no behaviour but checks of its own shape. Times are timezone-aware; quantities are
`Decimal` with the places that were said; units are UCUM codes. A key that doesn't apply is `None` here
and absent in the file. docs/record.md describes the file for people.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from typing import Literal

from jobnotes.errors import Problem

FORMAT = "jobnotes-record"
VERSION = 1

Status = Literal["sure", "check", "accepted", "edited", "rejected"]
Audience = Literal["all", "workshop"]


# --- what was heard ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard; times in seconds from the start of its note, confidence 0–1.

    From a plain transcript there are no times and no confidence.
    """

    text: str
    start_s: float | None = None
    end_s: float | None = None
    confidence: float | None = None


@dataclass(frozen=True, slots=True)
class RecogniserStamp:
    """What made the words: enough to know when they must be made again."""

    engine: str
    model: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Note:
    """One voice note. `file` is the name it was given under; `sha256` is of the original's bytes."""

    id: str
    file: str
    sha256: str
    started_at: datetime
    started_at_source: str
    duration_s: float
    recogniser: RecogniserStamp
    text: str
    words: tuple[Word, ...]


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo. `taken_at` is the camera's time, already corrected by `clock_offset_s` seconds.

    `width` and `height` are of the picture as shown (orientation applied). `linked_by` says how the
    facts were found: "cue", "time", "person"; absent where the photo is linked to nothing.
    """

    id: str
    file: str
    sha256: str
    taken_at: datetime
    taken_at_source: str
    width: int
    height: int
    clock_offset_s: float = 0.0
    camera: str | None = None
    fact_ids: tuple[str, ...] = ()
    linked_by: str | None = None


# --- what was said: the details of each kind of fact ---------------------------------------------


@dataclass(frozen=True, slots=True)
class FaultCode:
    """`system`: "J1939", "powertrain", "chassis", "body", "network" or "maker"."""

    code: str
    system: str | None = None
    spn: int | None = None
    fmi: int | None = None
    fmi_text: str | None = None
    state: Literal["active", "inactive", "stored", "pending", "cleared"] | None = None
    count: int | None = None
    ecu: str | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """Bounds in the unit of the measurement they belong to. `source`: "said" or the limits file's own."""

    min: Decimal | None = None
    max: Decimal | None = None
    nominal: Decimal | None = None
    source: str | None = None


@dataclass(frozen=True, slots=True)
class Measurement:
    value: Decimal
    unit: str
    quantity: str
    subject: str | None = None
    conditions: tuple[str, ...] = ()
    limit: Limit | None = None
    verdict: Literal["within", "outside", "no limit given"] = "no limit given"


@dataclass(frozen=True, slots=True)
class Part:
    """`quantity`: pieces, or an amount with `unit` for what is poured or cut to length."""

    name: str
    action: Literal["fitted", "removed", "reused", "ordered", "consumed"]
    quantity: Decimal | None = None
    unit: str | None = None
    number: str | None = None
    serial: str | None = None
    condition: Literal["new", "used"] | None = None


@dataclass(frozen=True, slots=True)
class Step:
    """`quantity` counts objects ("four lines off"), or with `unit` is the amount of a fluid."""

    action: str
    object: str
    quantity: Decimal | None = None
    unit: str | None = None


StatementKind = Literal["complaint", "cause", "correction", "finding", "advisory", "loose_end", "hazard"]


@dataclass(frozen=True, slots=True)
class Statement:
    """Free text of one of the narrative kinds; `component` and `failure` where they were recognised."""

    kind: StatementKind
    text: str
    component: str | None = None
    failure: str | None = None


@dataclass(frozen=True, slots=True)
class LabourSaid:
    hours: Decimal
    operation: str | None = None


@dataclass(frozen=True, slots=True)
class Clock:
    action: Literal["start", "pause", "resume", "stop"]
    reason: str | None = None


IdentityKind = Literal["job_number", "registration", "vin", "odometer", "engine_hours"]


@dataclass(frozen=True, slots=True)
class Identity:
    kind: IdentityKind
    value: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class PhotoCue:
    subject: str | None = None


Detail = FaultCode | Measurement | Part | Step | Statement | LabourSaid | Clock | Identity | PhotoCue

_KIND_OF: dict[type, str] = {
    FaultCode: "fault_code",
    Measurement: "measurement",
    Part: "part",
    Step: "step",
    LabourSaid: "labour",
    Clock: "clock",
    PhotoCue: "photo_cue",
}


@dataclass(frozen=True, slots=True)
class Repair:
    """A misheard trade word that was put right: what was heard, and what it is read as."""

    heard: str
    read_as: str


@dataclass(frozen=True, slots=True)
class Fact:
    """One statement with its evidence.

    `confidence` is 0–1. `why` says what is doubtful when `status` is "check". `note` … `at` are absent
    for a plain transcript. `superseded_by` is the id of the fact that corrects this one.
    """

    id: str
    detail: Detail
    quote: str
    confidence: float
    status: Status
    why: str | None = None
    note: str | None = None
    start_s: float | None = None
    end_s: float | None = None
    at: datetime | None = None
    photos: tuple[str, ...] = ()
    audience: Audience = "all"
    superseded_by: str | None = None
    repairs: tuple[Repair, ...] = ()

    @property
    def kind(self) -> str:
        if isinstance(self.detail, Statement | Identity):
            return self.detail.kind
        return _KIND_OF[type(self.detail)]

    @property
    def stands(self) -> bool:
        """True unless a person or a later correction has rejected it."""
        return self.status != "rejected"

    @property
    def usable(self) -> bool:
        """True where it may stand in a claim without a remark."""
        return self.status in ("sure", "accepted", "edited")


# --- what was concluded --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LooseEnd:
    """`state`: "off", "open", "unplugged", "drained", "connected", "lost" or "unfinished"."""

    text: str
    fact_id: str
    state: str


@dataclass(frozen=True, slots=True)
class ClaimGap:
    rule: str
    message: str
    remedy: str
    severity: Literal["refused", "queried", "nice"] = "refused"


@dataclass(frozen=True, slots=True)
class LabourLine:
    operation: str
    hours: Decimal
    basis: Literal["said", "clock"]
    fact_ids: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CameraClock:
    """How one camera's clock was judged: `offset_s` is what was added to its times.

    `support` counts the cue–photo pairs that agree on it, `of` how many pairs could have; `message`
    says it in words, also when no offset could be told.
    """

    camera: str
    offset_s: float
    support: int
    of: int
    message: str


@dataclass(frozen=True, slots=True)
class Totals:
    net: Decimal
    tax: Decimal
    gross: Decimal
    currency: str


@dataclass(frozen=True, slots=True)
class Odometer:
    value: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Job:
    number: str | None = None
    registration: str | None = None
    vin: str | None = None
    odometer: Odometer | None = None
    engine_hours: Odometer | None = None
    customer: str | None = None
    technician: str | None = None
    opened_at: datetime | None = None
    closed_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Record:
    job: Job
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    facts: tuple[Fact, ...] = ()
    loose_ends: tuple[LooseEnd, ...] = ()
    claim_gaps: tuple[ClaimGap, ...] = ()
    labour: tuple[LabourLine, ...] = ()
    camera_clocks: tuple[CameraClock, ...] = ()
    totals: Totals | None = None
    problems: tuple[Problem, ...] = ()
    format: str = field(default=FORMAT)
    version: int = field(default=VERSION)

    def fact(self, fact_id: str) -> Fact:
        """The fact with that id; KeyError if there is none."""
        for fact in self.facts:
            if fact.id == fact_id:
                return fact
        raise KeyError(fact_id)

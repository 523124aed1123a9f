"""The record of a job: what every stage hands on, and `record.json` (format 1).

Plain frozen data, no behaviour but checks of its own shape. Times are timezone-aware; quantities are
`Decimal` with the places that were said; units are UCUM codes. A key that doesn't apply is `None` here
and absent in the file. docs/record.md describes the file for people.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from typing import Literal

from jobnotes.errors import Problem

FORMAT = "jobnotes-record"
VERSION = 1

Status = Literal["sure", "check", "accepted", "edited", "rejected"]
Audience = Literal["all", "workshop"]
Payer = Literal["customer", "warranty", "goodwill"]
#: why a time can't be relied on: it is only the file's own, which copying or saving changes; only its day is
#: told; it is by a camera whose clock nothing proves
NoteTimeDoubt = Literal["file time", "day only"]
PhotoTimeDoubt = Literal["file time", "day only", "camera clock"]


# --- what was heard ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Word:
    """One word as heard; times in seconds from the start of its note, confidence 0–1.

    From a plain transcript there are no times and no confidence. `otherwise` is how a second listener heard
    the same place, where that matters ("" for nothing); None where there was none, or it heard the same.
    `instead` is what to put in this word's place to have the second listener's hearing, None to leave it.
    """

    text: str
    start_s: float | None = None
    end_s: float | None = None
    confidence: float | None = None
    otherwise: str | None = None
    instead: str | None = None


@dataclass(frozen=True, slots=True)
class RecogniserStamp:
    """What made the words: enough to know when they must be made again."""

    engine: str
    model: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Note:
    """One voice note. `file` is the name it was given under; `sha256` is of the original's bytes.

    `started_at_doubt` is absent where its time may be relied on.
    """

    id: str
    file: str
    sha256: str
    started_at: datetime
    started_at_source: str
    duration_s: float
    recogniser: RecogniserStamp
    text: str
    words: tuple[Word, ...]
    started_at_doubt: NoteTimeDoubt | None = None


#: where something is in a photo: four points (x, y), clockwise from its own top left as one reads it, as
#: shares 0–1 of width and height of the photo as shown, from its top left
Corners = tuple[tuple[float, float], ...]
Flaw = Literal["too dark", "burnt out", "blurred", "too small"]


@dataclass(frozen=True, slots=True)
class PhotoText:
    """One line of writing in a photo, or what a barcode in it says; confidence 0–1 (1 for a barcode, which
    checks itself). `symbology`: the barcode's kind, as its standard names it; absent for writing."""

    text: str
    confidence: float
    corners: Corners
    symbology: str | None = None


@dataclass(frozen=True, slots=True)
class Sight:
    """What was seen in a photo, and what saw it. `flaws` is what makes it a poor proof; the hexadecimal
    `fingerprint`s of pictures that look alike differ in few bits."""

    reader: RecogniserStamp
    texts: tuple[PhotoText, ...] = ()
    flaws: tuple[Flaw, ...] = ()
    sharpness: float | None = None
    fingerprint: str | None = None


@dataclass(frozen=True, slots=True)
class JobCard:
    """What the code on a job card says (docs/job-card.md): whose photos begin, and the workshop's `clock`, to
    the second.

    `clock_is` "live": the clock of the second in which the card stood on a screen; "printed": when it was
    printed, so it was photographed later; "stated": printed to be photographed at that time, within a minute.
    """

    number: str
    clock: datetime
    clock_is: Literal["live", "printed", "stated"]
    registration: str | None = None
    customer: str | None = None


@dataclass(frozen=True, slots=True)
class Photo:
    """One photo. `taken_at` is the camera's time, already corrected by `clock_offset_s` seconds.

    `width` and `height` are of the picture as shown (orientation applied). `linked_by` says how the
    facts were found: "value" (it shows what was said), "cue", "time", "person"; absent where the photo is
    linked to nothing. `sight` is absent where nobody looked for text in it. `like` is the id of the sharpest
    of the photos that look like this one, where that is another. `card` is the job card that it shows; `job`
    the number on the card behind which its camera took it, where that is another job's. `taken_at_doubt` is
    absent where its time may be relied on.
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
    sight: Sight | None = None
    like: str | None = None
    card: JobCard | None = None
    job: str | None = None
    taken_at_doubt: PhotoTimeDoubt | None = None


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
class Shown:
    """What a photo shows of a fact: its key `field` ("number", "value", "code" …) stands there as `value`, in
    the photo's writing `text`, at `corners`. `agrees` is False where it contradicts what was said."""

    photo: str
    field: str
    value: str
    text: str
    corners: Corners
    agrees: bool = True


@dataclass(frozen=True, slots=True)
class Fact:
    """One statement with its evidence.

    `source` is "photo" for what nobody said but a photo shows: `quote` is its writing. `shown` is what photos
    show of it.

    `confidence` is 0–1. `why` says what is doubtful when `status` is "check". `note` … `at` are absent
    for a plain transcript. `superseded_by` is the id of the fact that corrects this one. `decided_by` and
    `decided_at`: who accepted, edited, added or rejected it last, and when.
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
    decided_by: str | None = None
    decided_at: datetime | None = None
    source: Literal["photo"] | None = None
    shown: tuple[Shown, ...] = ()

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
    def only_written(self) -> bool:
        """True for a number on a label that belongs to nothing that was told: it says nothing of a fault."""
        return self.source == "photo" and isinstance(self.detail, Statement)

    @property
    def usable(self) -> bool:
        """True where it may stand in a claim without a remark."""
        return self.status in ("sure", "accepted", "edited")


# --- what was concluded --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LooseEnd:
    """`state`: "off", "open", "unplugged", "drained", "connected", "lost" or "unfinished".

    `fact_id` is the fact that opened it; `evidence` are those that bear on it besides: what was put back of
    it, for certain or not, and what tells it again. `doubt` says why it may not be so after all. `place` is
    where it was lost, as it was said: "down behind the axle"; the text has it too.
    """

    text: str
    fact_id: str
    state: str
    evidence: tuple[str, ...] = ()
    doubt: str | None = None
    place: str | None = None


Fixable = Literal["open", "here", "desk"]


@dataclass(frozen=True, slots=True)
class ClaimGap:
    """`fixable` is until when it can still be put right: while the vehicle is still taken apart ("open"),
    while it is in the workshop ("here"), or at any time ("desk")."""

    rule: str
    message: str
    remedy: str
    severity: Literal["refused", "queried", "nice"] = "refused"
    fixable: Fixable = "desk"


@dataclass(frozen=True, slots=True)
class LabourLine:
    """`standard`: hours that the workshop's table of standard times allows for the operation."""

    operation: str
    hours: Decimal
    basis: Literal["said", "clock"]
    fact_ids: tuple[str, ...] = ()
    standard: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Support:
    """One reason to believe a cause: `id` is that of a fact or a photo, `cause` that of the cause."""

    cause: str
    id: str
    by: Literal["reading", "finding", "code", "photo"]


@dataclass(frozen=True, slots=True)
class EarlierRepair:
    """A job of the same vehicle not long ago that has something in common with this one.

    `same` says what, in words ("fault code SPN 102 FMI 18"); `days` lie between the two; `distance` was
    driven meanwhile, in `unit`, where both odometers are known.
    """

    job: str
    ended_on: date
    days: int
    same: tuple[str, ...]
    number: str | None = None
    distance: Decimal | None = None
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class CameraClock:
    """How one camera's clock was judged: `offset_s` is what was added to its times.

    `support` counts the cue–photo pairs that agree on it, `of` how many pairs could have; `message`
    says it in words, also when no offset could be told. `card` is the photo of a job card that told it.
    `proved`: cues or a card prove its times, as corrected.
    """

    camera: str
    offset_s: float
    support: int
    of: int
    message: str
    card: str | None = None
    proved: bool = False


# --- money: terms in brackets are those of EN 16931-1 -----------------------------------------------


@dataclass(frozen=True, slots=True)
class Party:
    """Who sells or buys. `country` by ISO 3166-1 alpha-2; `tax_id` is the VAT identifier (BT-31, BT-48),
    `registration` the legal registration identifier (BT-30, BT-47)."""

    name: str
    street: str | None = None
    postcode: str | None = None
    city: str | None = None
    country: str | None = None
    tax_id: str | None = None
    registration: str | None = None
    contact: str | None = None
    phone: str | None = None
    email: str | None = None
    iban: str | None = None


@dataclass(frozen=True, slots=True)
class Share:
    """What one payer bears of a line's net amount."""

    payer: Payer
    net: Decimal


@dataclass(frozen=True, slots=True)
class OfficeRow:
    """A row of one of the office's tables: the line of `file` on which it begins, the heading's being 1."""

    file: str
    line: int


@dataclass(frozen=True, slots=True)
class OfficeFile:
    """One of the workshop's files that the prices are by, as it was when they were worked out."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Charge:
    """One priced line. Amounts are in the currency of the totals, with its minor unit's places.

    `quantity` is in `unit`, a UCUM code ("1" for pieces, "h" for labour). `net` (BT-131) is quantity times
    `unit_price` (BT-146) less `discount_percent`, rounded half up; `shares` add up to it. `unit_price` and
    `net` are None where no price is known: `why` says so. `tax_category` is a code of UNCL5305 and
    `tax_rate` in percent. `rows` are those of the office's tables that price and standard hours are from.
    """

    id: str
    kind: Literal["part", "consumable", "labour", "sundry"]
    description: str
    quantity: Decimal
    unit: str
    fact_ids: tuple[str, ...] = ()
    number: str | None = None
    unit_price: Decimal | None = None
    discount_percent: Decimal | None = None
    net: Decimal | None = None
    tax_category: str | None = None
    tax_rate: Decimal | None = None
    shares: tuple[Share, ...] = ()
    why: str | None = None
    rows: tuple[OfficeRow, ...] = ()


@dataclass(frozen=True, slots=True)
class TaxLine:
    """One group of the VAT breakdown (BG-23): `base` BT-116, `tax` BT-117, by `category` and `rate` in
    percent. `reason` says why no tax is due (BT-120)."""

    category: str
    rate: Decimal
    base: Decimal
    tax: Decimal
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Allowance:
    """An amount off the whole (BG-20), of lines with this tax `category` and `rate`."""

    reason: str
    amount: Decimal
    category: str
    rate: Decimal


@dataclass(frozen=True, slots=True)
class Account:
    """What one payer owes, by the rules for an invoice of its own: `lines` BT-106, `allowances` BG-20,
    `net` BT-109, `taxes` BG-23, `tax` BT-110, `gross` BT-112, `paid` BT-113, `due` BT-115."""

    payer: Payer
    lines: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    paid: Decimal
    due: Decimal
    allowances: tuple[Allowance, ...] = ()
    taxes: tuple[TaxLine, ...] = ()


@dataclass(frozen=True, slots=True)
class Totals:
    """The sums of the accounts in `split`. `currency` is a code of ISO 4217."""

    net: Decimal
    tax: Decimal
    gross: Decimal
    currency: str
    split: tuple[Account, ...] = ()


@dataclass(frozen=True, slots=True)
class Invoice:
    """What stands at the head of the customer's invoice: number BT-1, date BT-2, due date BT-9, payment terms
    BT-20, buyer BG-7, the buyer's order BT-13."""

    number: str | None = None
    issued_on: date | None = None
    due_on: date | None = None
    terms: str | None = None
    buyer: Party | None = None
    order: str | None = None


@dataclass(frozen=True, slots=True)
class Odometer:
    value: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Job:
    """`opened_at` to `closed_at` is when its notes were made; `in_service_on` is when the vehicle's warranty
    began, `failed_on` when the fault showed, `claimed_on` when the claim is made, `claim_number` what it goes
    under, `payer` who it goes to: the office states these."""

    number: str | None = None
    registration: str | None = None
    vin: str | None = None
    odometer: Odometer | None = None
    engine_hours: Odometer | None = None
    customer: str | None = None
    technician: str | None = None
    opened_at: datetime | None = None
    closed_at: datetime | None = None
    in_service_on: date | None = None
    failed_on: date | None = None
    claimed_on: date | None = None
    claim_number: str | None = None
    payer: str | None = None


@dataclass(frozen=True, slots=True)
class Details:
    """The office's own file about the job that lay beside the recordings (docs/record.md)."""

    file: str
    sha256: str


@dataclass(frozen=True, slots=True)
class Stated:
    """An entry of the office's file that a person stated by hand instead: `key` with its table before it
    ("customer.name"). `value` is what counts, None that there is none; `file` is what the file says, which
    doesn't count."""

    key: str
    by: str
    at: datetime
    value: str | None = None
    file: str | None = None


@dataclass(frozen=True, slots=True)
class Record:
    job: Job
    notes: tuple[Note, ...] = ()
    photos: tuple[Photo, ...] = ()
    facts: tuple[Fact, ...] = ()
    loose_ends: tuple[LooseEnd, ...] = ()
    claim_gaps: tuple[ClaimGap, ...] = ()
    supports: tuple[Support, ...] = ()
    earlier: tuple[EarlierRepair, ...] = ()
    labour: tuple[LabourLine, ...] = ()
    labour_remarks: tuple[str, ...] = ()
    camera_clocks: tuple[CameraClock, ...] = ()
    workshop: Party | None = None
    invoice: Invoice | None = None
    charges: tuple[Charge, ...] = ()
    charge_remarks: tuple[str, ...] = ()
    totals: Totals | None = None
    office_files: tuple[OfficeFile, ...] = ()
    details: Details | None = None
    stated: tuple[Stated, ...] = ()
    problems: tuple[Problem, ...] = ()
    format: str = field(default=FORMAT)
    version: int = field(default=VERSION)

    def fact(self, fact_id: str) -> Fact:
        """The fact with that id; KeyError if there is none."""
        for fact in self.facts:
            if fact.id == fact_id:
                return fact
        raise KeyError(fact_id)

"""What the writing in a photo says: part numbers, codes, readings, what identifies the vehicle.

It is read by the grammar of speech. A value that a word names ("P/N", "ODO"), or whose own form says what it
is (a fault code, a number with its unit), is `named`; other numbers and plates are not, and prove less.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from jobnotes.reading.codes.fault_codes import fault_codes
from jobnotes.reading.job.identity import VIN_FORBIDDEN, VIN_LENGTH, identities, vin_check_digit
from jobnotes.reading.photos.lines import Line, as_text, lines_of
from jobnotes.reading.readings.measurements import readings
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.trade.files import load
from jobnotes.reading.trade.knowledge import Labels, Trade
from jobnotes.reading.work.part_numbers import RATING, number_after
from jobnotes.record import Corners, FaultCode, Identity, Measurement, Photo, PhotoText

#: WrittenIn that its reader was less sure of is not read at all.
READ_FROM = 0.6
#: A number that nothing names has so many characters at least, and so many figures among them; a plate has
#: letters as well.
BARE_LENGTH, BARE_FIGURES = 4, 3
PLATE_LENGTH, PLATE_FIGURES, PLATE_LETTERS = 5, 1, 2
_TIME_OR_DAY = re.compile(r"\d:\d|^\s*\d{1,2}\s*[/.-]\s*(?:\d{1,2}\s*[/.-]\s*)?(?:19|20)\d\d\s*$")

Kind = Literal[
    "part_number", "serial", "fault_code", "measurement", "job_number", "registration", "vin", "odometer",
    "engine_hours", "bare",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Written:
    """A value that stands in a photo. `detail` is what it would be as a fact, where it can be one by itself.

    `text` is the writing it was read from, `corners` where that stands, `confidence` the reader's (0–1);
    `doubts` are what the grammar found strange.
    """

    kind: Kind
    value: str
    text: str
    corners: Corners
    confidence: float
    detail: FaultCode | Measurement | Identity | None = None
    named: bool = True
    barcode: bool = False
    doubts: tuple[str, ...] = ()

    @property
    def unit(self) -> str | None:
        """Of its value, as its detail has it."""
        return getattr(self.detail, "unit", None)


#: what is written in photos, by the digest of each that was looked at
WrittenIn = Mapping[str, tuple[Written, ...]]


def read_photos(photos: Sequence[Photo], trade: Trade | None = None) -> WrittenIn:
    """What `read_writing` finds in each photo that was looked at, by the digest of its original."""
    return {
        photo.sha256: read_writing(photo.sight.texts, trade, aspect=photo.width / photo.height)
        for photo in photos
        if photo.sight is not None
    }


def read_writing(
    texts: Sequence[PhotoText], trade: Trade | None = None, *, aspect: float = 4 / 3
) -> tuple[Written, ...]:
    """The values that a photo's writing and barcodes show, in order, each once.

    `aspect` is the photo's width by its height.
    """
    trade = trade or load()
    legible = [t for t in texts if t.confidence >= READ_FROM and t.text.strip()]
    found: dict[tuple[Kind, str, str | None], Written] = {}
    for line in lines_of(legible, trade.labels, aspect):
        for one in _of_line(line, trade):
            before = found.get((one.kind, one.value, one.unit))
            if before is None or before.confidence < one.confidence:
                found[one.kind, one.value, one.unit] = one
    # a meter whose unit stands apart may have been read with it and without
    with_unit = {(kind, value) for kind, value, unit in found if unit is not None}
    return tuple(one for (kind, value, unit), one in found.items() if unit or (kind, value) not in with_unit)


def plain(value: str) -> str:
    """As compared: letters and figures in capitals; a decimal point counts, spaces and hyphens don't."""
    return "".join(c for c in value.upper() if c.isalnum() or c == ".").strip(".")


def alike(value: str, labels: Labels) -> str:
    """As `plain`, with one character for all that look like it, and no zeros before it."""
    shapes = "".join(labels.alike.get(c, c) for c in plain(value))
    return shapes.lstrip(labels.alike.get("0", "0")) or shapes


def _of_line(line: Line, trade: Trade) -> Iterator[Written]:
    text = as_text(line.said, trade)
    if not text.tokens:
        return
    named = list(_named(text, line, trade.labels))
    yield from named
    if not named and (bare := _bare(text, line, trade.labels)) is not None:
        yield bare


def _named(text: Text, line: Line, labels: Labels) -> Iterator[Written]:
    yield from _numbers(text, line)
    for draft in identities(text, spoken=False):
        assert isinstance(draft.detail, Identity)
        yield _identity(draft, line, labels)
    for draft in fault_codes(text):
        assert isinstance(draft.detail, FaultCode)
        if not draft.doubts:  # half a code is none
            yield _written("fault_code", draft.detail.code, line, draft.detail)
    if line.symbology is not None:
        return
    found = list(readings(text))
    if len({d.detail.unit for d in found if isinstance(d.detail, Measurement)}) > 1:
        return  # "24V 70A": what a thing is made for
    for draft in found:
        assert isinstance(draft.detail, Measurement)
        # the words around it on a display are no test point
        reading = Measurement(draft.detail.value, draft.detail.unit, draft.detail.quantity)
        yield _written("measurement", str(reading.value), line, reading, draft.doubts)


def _numbers(text: Text, line: Line) -> Iterator[Written]:
    kinds: tuple[tuple[str, Kind], ...] = (
        ("identity.serial", "serial"),
        ("identity.part_number", "part_number"),
    )
    for cue, kind in kinds:
        i = 0
        while i < len(text.tokens):
            found = text.cue(cue, i)
            if found is None or not text.free(i, found[0]) or text.norms[i : found[0]] == ["number"]:
                i += 1
                continue
            _, run = number_after(text, found[0])
            if run is None or not text.free(i, run.end):
                i += 1
                continue
            text.claim(i, run.end)
            yield _written(kind, run.text, line)
            i = run.end


def _identity(draft: Draft, line: Line, labels: Labels) -> Written:
    detail = draft.detail
    assert isinstance(detail, Identity)
    value, doubts = detail.value, draft.doubts
    if detail.kind == "vin" and len(value) == VIN_LENGTH and set(value) & VIN_FORBIDDEN:
        value, doubts = _vin(value, labels), ()
        if set(value) & VIN_FORBIDDEN:
            doubts = draft.doubts
        elif vin_check_digit(value) != value[8]:
            doubts = (f"read as {detail.value}, and its check digit would be {vin_check_digit(value)}",)
    return _written(detail.kind, value, line, Identity(detail.kind, value, detail.unit), doubts)


def _vin(value: str, labels: Labels) -> str:
    """The VIN with the figures that its I, O and Q, which none has (ISO 3779), look like."""
    figures = {labels.alike.get(f, f): f for f in "9876543210"}
    return "".join(figures.get(labels.alike.get(c, c), c) if c in VIN_FORBIDDEN else c for c in value)


def _bare(text: Text, line: Line, labels: Labels) -> Written | None:
    """A line that is one number or plate and nothing else."""
    run = text.spelled(0)
    if run is None or run.end != len(text.tokens) or text.unit_follows(run.end):
        return None
    value = plain(run.text)
    figures, letters = sum(c.isdigit() for c in value), sum(c.isalpha() for c in value)
    number = len(value) >= BARE_LENGTH and figures >= BARE_FIGURES
    plate = len(value) >= PLATE_LENGTH and figures >= PLATE_FIGURES and letters >= PLATE_LETTERS
    if not (number or plate) or RATING.fullmatch(value) or _TIME_OR_DAY.search(line.written):
        return None
    vin = _vin(value, labels)
    if len(vin) == VIN_LENGTH and not set(vin) & VIN_FORBIDDEN and re.fullmatch(r"[A-Z0-9]*\d{4}", vin):
        certain = vin_check_digit(vin) == vin[8]
        return _written("vin", vin, line, Identity("vin", vin), named=certain)
    return _written("bare", run.text, line, named=False)


def _written(
    kind: Kind,
    value: str,
    line: Line,
    detail: FaultCode | Measurement | Identity | None = None,
    doubts: tuple[str, ...] = (),
    *,
    named: bool = True,
) -> Written:
    return Written(
        kind,
        value,
        line.written,
        line.corners,
        line.confidence,
        detail,
        named,
        line.symbology is not None,
        doubts,
    )

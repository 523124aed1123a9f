"""What photos show of what was said: each value that is written in a photo is held against the facts.

An equal value makes a fact's evidence two-fold, a close but unequal one makes it doubtful, and a value that
nobody said becomes a fact of its own, for a person to check. A wrong confirmation would be worse than none:
what is short, unnamed, one of many, or far off in time proves little, and then says nothing.

Pure and deterministic: the same facts, photos and links give the same again.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Literal

from jobnotes.linking.photos import UNCUED, WINDOW_S
from jobnotes.reading.doubt.confidence import only_of_hearing
from jobnotes.reading.photos.text import Kind, Written, WrittenIn, alike, plain, read_photos
from jobnotes.reading.trade.knowledge import Trade, convert
from jobnotes.record import (
    Detail,
    Fact,
    FaultCode,
    Identity,
    Measurement,
    Part,
    Photo,
    Shown,
    Statement,
)

#: More different values of one kind in a photo are a list, which shows everything and proves nothing; a code
#: reader's screen has more.
MOST, MOST_CODES = 3, 12
#: WrittenIn must be read so surely to contradict what was said, or to be a fact of its own.
CONTRADICTS_FROM = 0.8
#: The surest that two witnesses can make a fact.
HIGHEST = 0.99
#: So many characters of a value must be equal to prove anything, whenever the photo was taken; an unnamed
#: number needs more.
STRONG: Mapping[Kind, int] = {
    "part_number": 5, "serial": 5, "fault_code": 5, "vin": 6, "registration": 5, "odometer": 5,
    "engine_hours": 4, "job_number": 4,
}  # fmt: skip
STRONG_BARE = 6
#: As much of a VIN is told as its end; what is longer is meant to be whole.
VIN_END = 10
#: So many of a value's figures must be equal where the photo was taken of it, or at about its time.
FEW = 3

Equal = Literal["exact", "alike", "close", "far"]
EQUAL: tuple[Equal, ...] = ("exact", "alike")
#: a photo's id, and which of its writing; a photo shows each value once
Place = tuple[str, Written]
#: There is one of each in a job, so that any other is a contradiction.
_ONE_A_JOB = ("vin", "registration", "odometer", "engine_hours", "job_number")
#: What a number that nothing names may be.
_MAY_BE_BARE = ("part_number", "serial", "vin", "registration", "job_number", "odometer")


@dataclass(frozen=True, slots=True)
class Claim:
    """A value that a fact claims: under which of its keys, and of which kind."""

    fact: Fact
    field: str
    kind: Kind
    value: str
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class _Meeting:
    """A claim held against what is written in a photo. `linked`: the photo goes with the fact by its cue or
    by a person's hand ("named"), or by its time ("time"), or was taken near it ("near")."""

    claim: Claim
    photo: Photo
    seen: Written
    equal: Equal
    linked: Literal["named", "time", "near", "apart"]

    @property
    def agrees(self) -> bool:
        return self.equal in EQUAL

    @property
    def place(self) -> Place:
        return self.photo.id, self.seen


def confirm(
    facts: Sequence[Fact],
    photos: Sequence[Photo],
    trade: Trade,
    denied: Collection[tuple[str, str]] = (),
    *,
    read: WrittenIn | None = None,
) -> tuple[Fact, ...]:
    """The facts with what the photos show of them; what only photos show comes at the end.

    Facts and photos are linked already. `denied` are pairs of a fact's id and a photo's digest that a person
    took apart. `read` is what is written in the photos, where that has been read already.
    """
    # a job card is held against the job's number elsewhere, and what is behind another job's card isn't ours
    ours = [photo for photo in photos if not (photo.card or photo.job)]
    read = read_photos(ours, trade) if read is None else read
    writing = {photo.id: _not_too_many(read[photo.sha256]) for photo in ours if photo.sight is not None}
    if not any(writing.values()):
        return tuple(facts)
    by_id = {photo.id: photo for photo in photos}
    claims = [claim for fact in facts if fact.stands for claim in claims_of(fact)]
    meetings = [
        meeting
        for photo_id, seen in writing.items()
        for claim in claims
        if (claim.fact.id, by_id[photo_id].sha256) not in denied
        for one in seen
        if (meeting := _meet(claim, by_id[photo_id], one, trade)) is not None
    ]
    agreed = [m for m in meetings if _agrees(m, meetings)]
    against = _contradictions(meetings, agreed)
    added = _numbers_of_parts(facts, by_id, writing, agreed, against, denied)
    told = {m.place for m in (*agreed, *against)} | {(p, s) for _, p, s in added}
    shown: dict[str, list[Shown]] = {}
    for m in (*agreed, *against):
        shown.setdefault(m.claim.fact.id, []).append(_shown(m))
    for fact_id, photo_id, seen in added:
        field = "number" if seen.kind == "part_number" else "serial"
        entry = Shown(photo_id, field, seen.value, seen.text, seen.corners)
        shown.setdefault(fact_id, []).append(entry)
    judged = [
        replace(
            _judged(
                fact,
                [m for m in agreed if m.claim.fact.id == fact.id],
                [m for m in against if m.claim.fact.id == fact.id],
                trade,
            ),
            # what a job card shows was told when photos were linked
            shown=tuple(dict.fromkeys((*_by_cards(fact, by_id), *shown.get(fact.id, ())))),
        )
        for fact in facts
    ]
    return (*judged, *_only_shown(photos, writing, told, claims, trade))


def _by_cards(fact: Fact, photos: Mapping[str, Photo]) -> Iterator[Shown]:
    for shown in fact.shown:
        photo = photos.get(shown.photo)
        if photo is not None and photo.card is not None:
            yield shown


def settled(facts: Sequence[Fact], trade: Trade) -> tuple[Fact, ...]:
    """The facts after people's decisions: whether what a photo shows agrees with what they say now."""
    return tuple(
        replace(fact, shown=tuple(_settled(shown, fact, trade) for shown in fact.shown))
        if fact.shown and fact.status == "edited"
        else fact
        for fact in facts
    )


def _settled(shown: Shown, fact: Fact, trade: Trade) -> Shown:
    value = getattr(fact.detail, shown.field, None)
    if value is None:
        return shown
    said, number = str(value), _number(str(value))
    agrees = (
        alike(said, trade.labels) == alike(shown.value, trade.labels)
        or (number is not None and number == _number(shown.value))
        or (fact.kind == "vin" and plain(shown.value).endswith(plain(said)))
    )
    return replace(shown, agrees=agrees)


def claims_of(fact: Fact) -> Iterator[Claim]:
    """The values of a fact that a photo could show."""
    detail = fact.detail
    if isinstance(detail, Part):
        if detail.number:
            yield Claim(fact, "number", "part_number", detail.number)
        if detail.serial:
            yield Claim(fact, "serial", "serial", detail.serial)
    elif isinstance(detail, FaultCode):
        yield Claim(fact, "code", "fault_code", detail.code)
    elif isinstance(detail, Measurement):
        yield Claim(fact, "value", "measurement", str(detail.value), detail.unit)
    elif isinstance(detail, Identity):
        yield Claim(fact, "value", detail.kind, detail.value, detail.unit)


# --- what a photo shows --------------------------------------------------------------------------


def _not_too_many(seen: Sequence[Written]) -> tuple[Written, ...]:
    """The values in a photo, without those of which it shows too many to mean any one of them."""
    out: list[Written] = []
    for one in seen:
        # what is named and what isn't are told together: a page of numbers is a page of numbers
        same = {plain(o.value) for o in seen if o.kind == one.kind or "bare" in (o.kind, one.kind)}
        if len(same) <= (MOST_CODES if one.kind == "fault_code" else MOST):
            out.append(one)
    return tuple(out)


# --- how a claim meets it ------------------------------------------------------------------------


def _meet(claim: Claim, photo: Photo, seen: Written, trade: Trade) -> _Meeting | None:
    if seen.kind != claim.kind and not (seen.kind == "bare" and claim.kind in _MAY_BE_BARE):
        return None
    equal = compare(claim, seen, trade)
    if equal is None:
        return None
    linked: Literal["named", "time", "near", "apart"]
    if photo.id in claim.fact.photos:
        linked = "time" if photo.linked_by in UNCUED else "named"
    else:
        linked = "near" if _seconds_apart(claim.fact, photo) <= WINDOW_S else "apart"
    return _Meeting(claim, photo, seen, equal, linked)


def compare(claim: Claim, seen: Written, trade: Trade) -> Equal | None:
    """How a said value and a written one of the same kind compare; None where they can't be compared.

    "exact" disregards spaces, hyphens and capitals, "alike" also zeros before it and shapes that look alike,
    and a VIN's end stands for the whole; "close" is what one slip of the tongue or ear makes of another.
    """
    if claim.kind == "measurement":
        return _compare_readings(claim, seen, trade)
    if claim.unit is not None and seen.unit is not None and claim.unit != seen.unit:
        return "close" if plain(claim.value) == plain(seen.value) else "far"
    said, written = plain(claim.value), plain(seen.value)
    if said == written:
        return "exact"
    if claim.kind in ("odometer", "engine_hours"):
        a, b = _number(claim.value), _number(seen.value)
        if a is not None and b is not None and (a == b or a == int(b)):
            return "alike"  # a display shows tenths that nobody says
    if alike(claim.value, trade.labels) == alike(seen.value, trade.labels):
        return "alike"
    if claim.kind == "vin" and len(said) <= VIN_END < len(written) and written.endswith(said):
        return "alike"
    if claim.kind == "fault_code":
        return "close" if _codes_close(claim.fact.detail, seen.detail) else "far"
    return "close" if _close(said, written) else "far"


def _compare_readings(claim: Claim, seen: Written, trade: Trade) -> Equal | None:
    detail = seen.detail
    assert isinstance(detail, Measurement)
    assert claim.unit is not None
    said = _number(claim.value)
    if said is None or convert(trade, 1.0, detail.unit, claim.unit) is None:
        return None
    if detail.unit == claim.unit:
        if said == detail.value:
            return "exact"
        return "close" if _close(plain(claim.value), plain(str(detail.value))) else "far"
    written = convert(trade, float(detail.value), detail.unit, claim.unit)
    same = written is not None and abs(written - float(said)) <= 1e-9 * max(abs(written), abs(float(said)))
    return "alike" if same else None  # in another unit, so that its figures say nothing of a slip


def _codes_close(said: Detail, written: Detail | None) -> bool:
    if not (isinstance(said, FaultCode) and isinstance(written, FaultCode)):
        return False
    if said.spn is not None and written.spn is not None:
        if said.fmi is None:
            return said.spn != written.spn and slips(str(said.spn), str(written.spn)) <= 1
        same = (said.spn == written.spn) + (said.fmi == written.fmi)
        return bool(same) and slips(str(said.spn), str(written.spn)) <= 1
    if said.spn is not None or written.spn is not None:
        return False
    return slips(plain(said.code), plain(written.code)) <= 1


def _close(said: str, written: str) -> bool:
    longest = max(len(said), len(written))
    return min(len(said), len(written)) >= 2 and slips(said, written) <= (2 if longest > FEW + 2 else 1)


def slips(one: str, other: str) -> int:
    """How many characters were changed, left out, put in or changed over with their neighbour: the optimal
    string alignment distance (Damerau 1964)."""
    before: list[int] = []
    row = list(range(len(other) + 1))
    for i, a in enumerate(one, 1):
        last, before, row = before, row, [i]
        for j, b in enumerate(other, 1):
            cost = min(before[j] + 1, row[j - 1] + 1, before[j - 1] + (a != b))
            if i > 1 and j > 1 and a == other[j - 2] and one[i - 2] == b:
                cost = min(cost, last[j - 2] + 1)
            row.append(cost)
    return row[-1]


def _seconds_apart(fact: Fact, photo: Photo) -> float:
    if fact.at is None:
        return float("inf")
    start = fact.at.timestamp()
    length = (fact.end_s or 0.0) - (fact.start_s or 0.0)
    at = photo.taken_at.timestamp()
    return max(start - at, at - start - max(length, 0.0), 0.0)


def _figures(said: str) -> int:
    """How many figures of a plain reading count: neither its point nor zeros before it."""
    return len(said.replace(".", "").lstrip("0"))


def _number(value: str) -> Decimal | None:
    try:
        return Decimal(value)
    except InvalidOperation:
        return None


# --- agreement -----------------------------------------------------------------------------------


def _agrees(meeting: _Meeting, meetings: Sequence[_Meeting]) -> bool:
    """Whether what is written proves what was said: equal, long enough, and not one of several like it."""
    if not meeting.agrees:
        return False
    rivals = [
        m for m in meetings if m.claim is meeting.claim and m.photo is meeting.photo and m is not meeting
    ]
    if any(m.equal == "close" for m in rivals) or (
        meeting.equal == "alike" and any(m.equal == "exact" for m in rivals)
    ):
        return False
    said = plain(meeting.claim.value)
    kind = meeting.claim.kind
    if kind == "measurement":
        if any(m.seen.kind == "measurement" and m.equal == "far" for m in rivals):
            return False  # a plate full of ratings
        return meeting.linked == "named" or (_figures(said) >= FEW and meeting.linked in ("time", "near"))
    if len(said) >= (STRONG[kind] if meeting.seen.named else STRONG_BARE):
        return True
    figures = sum(c.isdigit() for c in said)
    if meeting.seen.named:
        return meeting.linked != "apart" and figures >= FEW
    return meeting.linked == "named" and figures >= FEW


# --- contradiction -------------------------------------------------------------------------------


def _contradictions(meetings: Sequence[_Meeting], agreed: Sequence[_Meeting]) -> list[_Meeting]:
    """What is written and can't be what was said, though it must have been meant: each writing once."""
    proved = {(m.claim.fact.id, m.claim.field) for m in agreed}
    used = {m.place for m in agreed}
    # the same value in another photo is the other thing that was said
    used_values = {(m.seen.kind, plain(m.seen.value)) for m in agreed} | {
        (m.claim.kind, plain(m.seen.value)) for m in agreed
    }
    free = [
        m
        for m in meetings
        if (m.claim.fact.id, m.claim.field) not in proved
        and m.place not in used
        and (m.claim.kind, plain(m.seen.value)) not in used_values
        and m.seen.confidence >= CONTRADICTS_FROM
    ]
    against = [m for m in free if _contradicts(m, meetings)]
    best: dict[Place, tuple[int, int]] = {}
    for m in against:
        best[m.place] = min(best.get(m.place, _rank(m)), _rank(m))
    return [m for m in against if _rank(m) == best[m.place]]


def _rank(meeting: _Meeting) -> tuple[int, int]:
    near = ("named", "time", "near", "apart").index(meeting.linked)
    return (0 if meeting.equal == "close" else 1, near)


def _contradicts(meeting: _Meeting, meetings: Sequence[_Meeting]) -> bool:
    claim, seen = meeting.claim, meeting.seen
    if meeting.agrees:
        return False
    there = [m for m in meetings if m.photo is meeting.photo and m.claim is claim]
    if any(m.agrees for m in there):
        return False  # it stands there too, among others
    sole = not any(m.seen is not seen and m.seen.kind == seen.kind for m in there)
    near = meeting.linked != "apart"
    if claim.kind == "measurement":
        # what stands there must be the one reading that was taken, and nobody said it of anything else
        return sole and (meeting.linked in ("named", "time") or (meeting.equal == "close" and near))
    if meeting.equal == "close":
        if not seen.named:
            return len(plain(claim.value)) >= STRONG_BARE and near
        return near or len(plain(seen.value)) >= STRONG[claim.kind]
    if claim.kind == "fault_code" or not seen.named or not sole:
        return False
    if claim.kind in _ONE_A_JOB:
        return meeting.linked in ("named", "time")
    return meeting.linked == "named"


# --- what follows for a fact ---------------------------------------------------------------------


def _shown(meeting: _Meeting) -> Shown:
    seen = meeting.seen
    # a reading in another unit is told in that of the fact
    other_unit = meeting.claim.kind == "measurement" and meeting.claim.unit != seen.unit
    value = meeting.claim.value if meeting.agrees and other_unit else seen.value
    return Shown(meeting.photo.id, meeting.claim.field, value, seen.text, seen.corners, meeting.agrees)


def _judged(fact: Fact, agreed: Sequence[_Meeting], against: Sequence[_Meeting], trade: Trade) -> Fact:
    if against:
        why = "; ".join(dict.fromkeys(_against(m) for m in against))
        why = f"{fact.why}; {why}" if fact.why else why
        return replace(fact, status="check", why=why, confidence=min(fact.confidence, 0.5))
    exact = [m for m in agreed if m.equal == "exact"]
    if not exact or {claim.field for claim in claims_of(fact)} - {m.claim.field for m in exact}:
        return fact  # of a number and a serial one may be wrong still
    # two witnesses that don't know of each other: both are wrong only if each is
    sure = 1 - (1 - fact.confidence) * (1 - max(m.seen.confidence for m in exact))
    sure = round(min(HIGHEST, max(sure, fact.confidence)), 3)
    if fact.status == "sure":
        return replace(fact, confidence=sure)
    if fact.status == "check" and _settles(fact, exact, trade):
        return replace(fact, confidence=sure, status="sure", why=None)
    return fact


def _against(meeting: _Meeting) -> str:
    claim, seen = meeting.claim, meeting.seen
    said = f"{claim.value} {claim.unit}" if claim.unit else claim.value
    written = f"{seen.value} {seen.unit}" if seen.unit else seen.value
    return f"heard {said}, photo {meeting.photo.id} shows {written}"


def _settles(fact: Fact, exact: Sequence[_Meeting], trade: Trade) -> bool:
    """Whether the photo answers all that was doubtful: only how the value was heard, and it is the very one.

    A part is doubted for its name too, so that the doubt must be about its number's words.
    """
    if not only_of_hearing(fact.why or "", trade, of_numbers=isinstance(fact.detail, Part | Measurement)):
        return False
    keys = {claim.field for claim in claims_of(fact)}
    for m in exact:
        said = plain(m.claim.value)
        if m.claim.kind == "measurement":
            long = _figures(said) >= FEW and m.linked == "named"
        else:
            long = len(said) >= (STRONG_BARE if m.seen.barcode else STRONG[m.claim.kind])
        certain = m.seen.confidence >= CONTRADICTS_FROM and not m.seen.doubts
        named = m.seen.named or m.seen.barcode
        if long and certain and named:
            keys.discard(m.claim.field)
    return not keys


# --- what only photos show -----------------------------------------------------------------------


def _numbers_of_parts(
    facts: Sequence[Fact],
    photos: Mapping[str, Photo],
    writing: Mapping[str, Sequence[Written]],
    agreed: Sequence[_Meeting],
    against: Sequence[_Meeting],
    denied: Collection[tuple[str, str]],
) -> list[tuple[str, str, Written]]:
    """The number on a label that was photographed with one part, whose number nobody said."""
    used = {m.place for m in (*agreed, *against)}
    found: list[tuple[str, str, Written]] = []
    for photo_id, seen in writing.items():
        photo = photos[photo_id]
        if photo.linked_by in UNCUED:
            continue
        parts = [
            f
            for f in facts
            if f.stands
            and isinstance(f.detail, Part)
            and photo_id in f.photos
            and (f.id, photo.sha256) not in denied
        ]
        for kind, field in (("part_number", "number"), ("serial", "serial")):
            of_kind = [s for s in seen if s.kind == kind]
            if len(of_kind) != 1 or len(parts) != 1 or (photo_id, of_kind[0]) in used:
                continue
            if getattr(parts[0].detail, field) is None and of_kind[0].confidence >= CONTRADICTS_FROM:
                found.append((parts[0].id, photo_id, of_kind[0]))
    return found


def _only_shown(
    photos: Sequence[Photo],
    writing: Mapping[str, Sequence[Written]],
    told: Collection[Place],
    claims: Sequence[Claim],
    trade: Trade,
) -> list[Fact]:
    """A fact for each named value that no fact claims, of the photo that was taken first; to be checked."""
    by_value: dict[tuple[str, str, str | None], list[tuple[Photo, Written]]] = {}
    for photo in sorted(photos, key=lambda p: (p.taken_at.timestamp(), p.id)):
        seen = writing.get(photo.id, ())
        for one in seen:
            if (photo.id, one) in told or not _stands_alone(one, seen):
                continue
            if any(c.kind == one.kind and compare(c, one, trade) in EQUAL for c in claims):
                continue  # said, though the photo proves nothing
            by_value.setdefault((one.kind, plain(one.value), one.unit), []).append((photo, one))
    return [_own_fact(sights) for sights in by_value.values()]


def _stands_alone(one: Written, seen: Sequence[Written]) -> bool:
    """Whether it may be a fact by itself: named, surely read, and for a reading the only thing there."""
    if not one.named or one.confidence < CONTRADICTS_FROM or one.kind == "bare":
        return False
    if one.kind == "measurement":
        return (
            len(seen) == 1 and len(one.text.split()) <= FEW and len(plain(one.value).replace(".", "")) >= FEW
        )
    return True


def _own_fact(sights: Sequence[tuple[Photo, Written]]) -> Fact:
    photo, seen = sights[0]
    detail: Detail
    if seen.detail is not None:
        detail = seen.detail
    else:
        name = "serial number" if seen.kind == "serial" else "part number"
        detail = Statement("finding", f"{name} {seen.value}")
    field = {"fault_code": "code", "part_number": "text", "serial": "text"}.get(seen.kind, "value")
    ids = tuple(dict.fromkeys(p.id for p, _ in sights))
    where = f"photo {ids[0]}" if len(ids) == 1 else f"photos {' and '.join(ids)}"
    why = "; ".join((f"read in {where} only, nobody said it", *seen.doubts))
    key = f"{photo.sha256}|photo|{detail!r}"
    return Fact(
        id=f"F{hashlib.sha256(key.encode()).hexdigest()[:10]}",
        detail=detail,
        quote=seen.text,
        confidence=round(seen.confidence, 3),
        status="check",
        why=why,
        at=photo.taken_at,
        photos=ids,
        source="photo",
        shown=tuple(Shown(p.id, field, s.value, s.text, s.corners) for p, s in sights),
    )

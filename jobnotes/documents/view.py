"""A record as one reader may see it: what stands, in the order in which it was said, with its evidence."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, tzinfo
from decimal import Decimal
from typing import Literal

from jobnotes import record as r
from jobnotes.checking.pairs import Pairs
from jobnotes.checking.supports import names
from jobnotes.chronology import moments
from jobnotes.documents import values
from jobnotes.documents.house import House
from jobnotes.documents.plaintext import sentence_case, shortened, without_stop
from jobnotes.documents.wording import Wording
from jobnotes.office.names import plain_number

Doubt = Literal["check", "confirm"]


@dataclass(frozen=True, slots=True)
class View:
    """`facts` are those that stand and that this reader may see; `photos` those that belong to them.

    `numbers` are those of parts as this document writes them, by their letters and digits. `doubt` says how
    a doubtful fact is marked: with the reason, for those who can settle it ("check"), or only as open, for
    the customer ("confirm").
    """

    record: r.Record
    wording: Wording
    pairs: Pairs
    budget: Mapping[str, int]
    currency: str
    doubt: Doubt
    facts: tuple[r.Fact, ...]
    photos: tuple[r.Photo, ...]
    notes: Mapping[str, r.Note]
    photo_facts: Mapping[str, tuple[r.Fact, ...]]
    fact_photos: Mapping[str, tuple[str, ...]]
    numbers: Mapping[str, str]

    def of(self, *kinds: str) -> tuple[r.Fact, ...]:
        return tuple(fact for fact in self.facts if fact.kind in kinds)

    @property
    def doubtful(self) -> int:
        return sum(1 for fact in self.facts if fact.status == "check")

    def say(self, key: str, **filled: object) -> str:
        return self.wording.say(key, **filled)

    def mark(self, fact: r.Fact) -> str:
        """What is to be said beside a doubtful fact; empty beside any other."""
        if fact.status != "check":
            return ""
        if self.doubt == "confirm":
            return self.say("form.confirm")
        return (
            self.say("form.check", why=self.wording.spoken(fact.why))
            if fact.why
            else self.say("form.check_plain")
        )

    def marks(self, facts: Iterable[r.Fact]) -> str:
        return "\n".join(dict.fromkeys(mark for fact in facts if (mark := self.mark(fact))))

    def statement(self, fact: r.Fact) -> str:
        return sentence_case(values.statement(fact, self.wording))

    def heard_at(self, fact: r.Fact) -> str:
        """Note and minute:second; empty for a plain transcript."""
        if fact.note is None:
            return ""
        if fact.start_s is None:
            return fact.note
        return f"{fact.note}{values.NBSP}{values.minute_second(fact.start_s)}"

    def part_number(self, number: str) -> str:
        """A part number as this document writes it."""
        return self.numbers.get(plain_number(number), number)

    def evidence(self, *facts: r.Fact, between: str = "\n") -> str:
        """Where each was said, then the photos that belong to them, and what was read in those:
        "N1 3:41\\nP2, P3\\npart number read in P2"."""
        heard = dict.fromkeys(text for fact in facts if (text := self.heard_at(fact)))
        shown = dict.fromkeys(photo for fact in facts for photo in self.photos_of(fact))
        lines = [*heard]
        if shown:
            lines.append(", ".join(shown))
        lines += dict.fromkeys(text for fact in facts for text in self.read_in_photos(fact))
        return between.join(lines) or self.say("form.none")

    def photos_of(self, fact: r.Fact) -> tuple[str, ...]:
        return self.fact_photos.get(fact.id, ())

    def shown_in(self, fact: r.Fact) -> tuple[r.Shown, ...]:
        """What photos that this reader sees show of a fact."""
        photos = self.photos_of(fact)
        return tuple(shown for shown in fact.shown if shown.photo in photos)

    def read_in_photos(self, fact: r.Fact) -> list[str]:
        """What was read in photos of a fact: that it is what was said, or else what stands there."""
        photos: dict[tuple[str, str | None], list[str]] = {}
        for shown in self.shown_in(fact):
            what = self.field_name(fact, shown)
            same = shown.agrees and getattr(fact.detail, shown.field, None) is not None
            told = photos.setdefault((what, None if same else self.shown_value(fact, shown)), [])
            told += [] if shown.photo in told else [shown.photo]
        if fact.source == "photo":
            return [self.say("form.photo_only")] if photos else []
        return [
            self.say("form.read_in_photo", what=what, id=", ".join(ids))
            if value is None
            else self.say("form.photo_shows", id=", ".join(ids), what=what, value=value)
            for (what, value), ids in photos.items()
        ]

    def framed(self, photo: r.Photo) -> list[tuple[r.Corners, str]]:
        """Where in a photo something was read, and what: "part number 118-22"."""
        return [
            (shown.corners, f"{self.field_name(fact, shown)} {self.shown_value(fact, shown)}")
            for fact in self.photo_facts.get(photo.id, ())
            for shown in fact.shown
            if shown.photo == photo.id
        ]

    def field_name(self, fact: r.Fact, shown: r.Shown) -> str:
        return values.shown_field(fact, shown, self.wording)

    def shown_value(self, fact: r.Fact, shown: r.Shown) -> str:
        """What stands in the photo; a part number as this document writes it."""
        if shown.field == "number":
            return self.part_number(shown.value)
        return values.shown_value(fact, shown, self.wording)

    def zone(self, fact: r.Fact) -> tzinfo | None:
        note = self.notes.get(fact.note or "")
        return note.started_at.tzinfo if note else None

    def said_at(self, fact: r.Fact) -> datetime | None:
        """When it was said, in its own note's offset."""
        return None if fact.at is None else values.in_zone(fact.at, self.zone(fact))

    def taken_at(self, photo: r.Photo) -> datetime:
        """When a photo was taken, in the offset of the note that it belongs to, else of the first note."""
        for fact in self.photo_facts.get(photo.id, ()):
            if (zone := self.zone(fact)) is not None:
                return values.in_zone(photo.taken_at, zone)
        return self.job_time(photo.taken_at)

    def ill_dated(self) -> tuple[r.Note, ...]:
        """The notes whose time is in doubt."""
        return tuple(note for note in self.record.notes if note.started_at_doubt is not None)

    def time_doubt(self, doubt: r.PhotoTimeDoubt | None) -> str:
        """Why a time is in doubt, in words; empty where it isn't."""
        return self.wording.name("time_doubt", doubt) if doubt else ""

    def job_time(self, moment: datetime) -> datetime:
        """A time of the job as a whole, in the first note's offset where there is a note."""
        notes = self.record.notes
        return values.in_zone(moment, notes[0].started_at.tzinfo) if notes else moment

    def shows(self, photo: r.Photo) -> str:
        """What a photo shows: what was said to be on it, else the two most telling statements beside it."""
        facts = sorted(self.photo_facts.get(photo.id, ()), key=_telling)
        cues = [f for f in facts if isinstance(f.detail, r.PhotoCue) and f.detail.subject]
        told = cues or [f for f in facts if not isinstance(f.detail, r.PhotoCue)] or facts
        room = 110 if len(told) > 1 else 220
        texts = dict.fromkeys(without_stop(shortened(self._caption(fact), room)) for fact in told[:2])
        return "; ".join(texts)

    def _caption(self, fact: r.Fact) -> str:
        cue = fact.detail if isinstance(fact.detail, r.PhotoCue) else None
        text = (
            sentence_case(self.wording.spoken(cue.subject)) if cue and cue.subject else self.statement(fact)
        )
        if fact.status != "check":
            return text
        return f"{text} ({self.say('form.confirm' if self.doubt == 'confirm' else 'form.check_plain')})"


_TELLING = ("photo_cue", "cause", "finding", "measurement", "fault_code", "part", "complaint", "step")


def _telling(fact: r.Fact) -> int:
    return _TELLING.index(fact.kind) if fact.kind in _TELLING else len(_TELLING)


def view(
    record: r.Record, house: House, *, private: bool, doubt: Doubt, without: Collection[str] = ()
) -> View:
    """The record for one reader. Without `private`, nothing of audience "workshop" is in it; no fact of a
    kind in `without` is.

    A photo that belongs only to what this reader may not see is not in it either.
    """
    numbers = numbers_in_print(record)
    facts = tuple(
        in_print(f, numbers)
        for f in chronological(record.facts)
        if f.stands and (private or f.audience == "all") and f.kind not in without
    )
    known = {photo.id for photo in record.photos}
    sharpest = {photo.id: photo.like for photo in record.photos if photo.like and not private}
    of_photo: dict[str, list[r.Fact]] = {}
    of_fact: dict[str, list[str]] = {}
    linked = {photo.id: set(photo.fact_ids) for photo in record.photos}
    for fact in facts:
        own = [p for p in fact.photos if p in known]
        own += [p.id for p in record.photos if fact.id in linked[p.id] and p.id not in own]
        # of several takes of the same thing, the sharpest is enough
        own = [p for p in own if sharpest.get(p) not in own]
        if own:
            of_fact[fact.id] = own
        for photo in own:
            of_photo.setdefault(photo, []).append(fact)
    return View(
        record=record,
        wording=house.wording,
        pairs=house.pairs,
        budget=house.picture_budget,
        currency=record.totals.currency if record.totals else house.currency,
        doubt=doubt,
        facts=facts,
        photos=tuple(photo for photo in record.photos if photo.id in of_photo),
        notes={note.id: note for note in record.notes},
        photo_facts={photo: tuple(told) for photo, told in of_photo.items()},
        fact_photos={fact: tuple(photos) for fact, photos in of_fact.items()},
        numbers=numbers,
    )


def numbers_in_print(record: r.Record) -> dict[str, str]:
    """How each part number is written throughout a document, by its letters and digits: as the price list
    prints it, else as it was first said."""
    charged = sorted((c for c in record.charges if c.number), key=lambda c: c.unit_price is None)
    said = [f.detail.number for f in record.facts if f.stands and isinstance(f.detail, r.Part)]
    numbers: dict[str, str] = {}
    for number in (*(c.number for c in charged), *said):
        if number and (plain := plain_number(number)):
            numbers.setdefault(plain, number)
    return numbers


def in_print(fact: r.Fact, numbers: Mapping[str, str]) -> r.Fact:
    """The fact with its part number as `numbers` writes it."""
    part = fact.detail
    if not isinstance(part, r.Part) or not part.number:
        return fact
    number = numbers.get(plain_number(part.number), part.number)
    return fact if number == part.number else replace(fact, detail=replace(part, number=number))


def chronological(facts: Iterable[r.Fact]) -> tuple[r.Fact, ...]:
    """By the time each was said; one without a time stays behind the one that it follows."""
    given = list(facts)
    when = moments(given)
    placed: list[tuple[float, int, r.Fact]] = []
    latest = float("-inf")
    for index, fact in enumerate(given):
        moment = when.get(index, latest)
        placed.append((moment, index, fact))
        latest = moment
    return tuple(fact for _, _, fact in sorted(placed, key=lambda entry: entry[:2]))


# --- what belongs together -----------------------------------------------------------------------


def causal_parts(seen: View) -> tuple[r.Fact, ...]:
    """The parts that a cause names: a doubtful one only as its component, one that is certain in its words
    too, as the check of the claim has it. Nothing is guessed beyond that."""
    causes = [fact.detail for fact in seen.of("cause") if isinstance(fact.detail, r.Statement)]
    found = [
        fact
        for fact in seen.facts
        if isinstance(fact.detail, r.Part)
        and fact.detail.action in ("fitted", "removed", "ordered")
        and any(_is_named(cause, fact, fact.detail.name, seen.pairs) for cause in causes)
    ]
    # the new part carries the number that the claim needs, so it comes before the old one
    return tuple(sorted(found, key=lambda f: isinstance(f.detail, r.Part) and f.detail.action != "fitted"))


def _is_named(cause: r.Statement, fact: r.Fact, part: str, pairs: Pairs) -> bool:
    if fact.usable:
        return names(cause, part, pairs.same_object)
    return cause.component is not None and pairs.same_object(part, cause.component)


def doubtful_causal_parts(seen: View) -> tuple[r.Fact, ...]:
    """Doubtful parts that what was said of fault and repair names, where no cause names one for certain."""
    told = [f.detail for f in seen.of("cause", "complaint", "finding", "correction")]
    said = [detail for detail in told if isinstance(detail, r.Statement)]
    return tuple(
        fact
        for fact in seen.facts
        if isinstance(fact.detail, r.Part)
        and fact.status == "check"
        and fact.detail.action in ("fitted", "removed", "ordered")
        and any(
            fact.detail.name.casefold() in detail.text.casefold()
            or (detail.component is not None and seen.pairs.same_object(fact.detail.name, detail.component))
            for detail in said
        )
    )


@dataclass(frozen=True, slots=True)
class LedgerLine:
    """Something that came off, and what put it back. `open` is the loose end that it still is, if any."""

    off: r.Fact
    back: r.Fact | None
    open: r.LooseEnd | None


# what is connected for a test has to come off again; what is connected for good has not
_FOR_A_TEST = "connected"


def ledger(seen: View) -> tuple[LedgerLine, ...]:
    """Each thing that came off, was opened or drained, beside what answers it.

    What the record calls a loose end stays one. An answer of the same name goes before one that may only
    mean the same thing. It serves once, but for a thing that was open in two ways (unplugged, then taken
    off) and for "everything".
    """
    pairs = seen.pairs
    open_of = {end.fact_id: end for end in seen.record.loose_ends}
    told_with = {i for end in seen.record.loose_ends for i in end.evidence} - open_of.keys()
    deeds = [_deed(fact, pairs) for fact in seen.facts]
    opened = [place for place, deed in enumerate(deeds) if deed is not None and deed.action in pairs.states]
    answered: dict[int, int] = {}
    for by_name in (True, False):
        for place in opened:
            if place in answered or seen.facts[place].id in open_of:
                continue
            answer = _answer(deeds, place, answered, pairs, by_name=by_name)
            if answer is not None:
                answered[place] = answer
    answers = set(answered.values())
    lines: list[LedgerLine] = []
    for place in opened:
        off = seen.facts[place]
        back = seen.facts[answered[place]] if place in answered else None
        loose = open_of.get(off.id)
        deed = deeds[place]
        if deed is not None and pairs.states[deed.action] == pairs.lost_state and off.id in told_with:
            continue  # a piece of what is open, which has its line
        for_a_test = deed is not None and pairs.states[deed.action] == _FOR_A_TEST
        if back is None and loose is None and (for_a_test or place in answers):
            continue  # connected for good, or itself what took off something that was on for a test
        lines.append(LedgerLine(off, back, loose))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class _Deed:
    """Something done to something, as the check for loose ends takes it."""

    action: str
    thing: str


def _answer(
    deeds: Sequence[_Deed | None], place: int, answered: Mapping[int, int], pairs: Pairs, *, by_name: bool
) -> int | None:
    """The first later deed that undoes the one at `place` and is free to; None where there is none."""
    opening = deeds[place]
    assert opening is not None
    for later in range(place + 1, len(deeds)):
        deed = deeds[later]
        if deed is None or deed.action not in pairs.opposites.get(opening.action, frozenset()):
            continue
        if deed.action in pairs.states and pairs.states[opening.action] != _FOR_A_TEST:
            continue  # "loosened, then removed" is still off
        whole = deed.thing.casefold() in pairs.everything
        if by_name and deed.thing.casefold() != opening.thing.casefold():
            continue
        if not by_name and not whole and not pairs.same_object(opening.thing, deed.thing):
            continue
        served = [deeds[other] for other, used in answered.items() if used == later]
        if whole or all(_in_another_way(other, opening) for other in served):
            return later
    return None


def _in_another_way(one: _Deed | None, other: _Deed) -> bool:
    return one is not None and one.action != other.action and one.thing.casefold() == other.thing.casefold()


def _deed(fact: r.Fact, pairs: Pairs) -> _Deed | None:
    match fact.detail:
        case r.Step(action, thing):
            return _Deed(action, thing)
        case r.Part(name, "removed"):
            return _Deed("removed", name)
        case r.Part(name, "fitted" | "reused"):
            return _Deed("refitted", name)
        case r.Part(name, "consumed"):
            return _Deed("filled", name)
        case r.Measurement(quantity=quantity, subject=str(subject)) if quantity in pairs.done_by_reading:
            return _Deed(pairs.done_by_reading[quantity], subject)
        case _:
            return None


@dataclass(frozen=True, slots=True)
class LabourShown:
    """A line of labour as this reader may see it, with the facts it rests on."""

    operation: str
    hours: Decimal
    basis: str
    facts: tuple[r.Fact, ...]
    standard: Decimal | None = None


def charged_by_clock(seen: View) -> bool:
    """True where hours are charged that rest on the clock statements."""
    clock = {fact.id for fact in seen.of("clock")}
    return any(charge.kind == "labour" and clock & set(charge.fact_ids) for charge in seen.record.charges)


def labour(seen: View) -> tuple[LabourShown, ...]:
    """The record's labour lines, then labour that was said and is in no line.

    Where a line rests on something this reader may not see, its hours stay and its wording does not. The time
    on the clock beside hours that were said is attendance, and says that it isn't charged on top of them.
    """
    visible = {fact.id: fact for fact in seen.facts}
    standing = {fact.id for fact in seen.record.facts if fact.stands}
    lines: list[LabourShown] = []
    beside = any(line.basis == "said" for line in seen.record.labour) and not charged_by_clock(seen)
    counted: set[str] = set()
    for line in seen.record.labour:
        counted.update(line.fact_ids)
        hidden = any(i in standing and i not in visible for i in line.fact_ids)
        operation = (
            seen.say("label.labour_other") if hidden else values.operation(line.operation, seen.wording)
        )
        facts = tuple(visible[i] for i in line.fact_ids if i in visible)
        basis = seen.wording.name("basis", line.basis)
        if line.basis == "clock" and beside:
            basis = seen.say("form.attendance")
        lines.append(LabourShown(operation, line.hours, basis, facts, line.standard))
    for fact in seen.of("labour"):
        if fact.id not in counted and isinstance(fact.detail, r.LabourSaid):
            operation = seen.wording.spoken(fact.detail.operation or "") or seen.say("label.labour_other")
            basis = seen.wording.name("basis", "said")
            lines.append(LabourShown(operation, fact.detail.hours, basis, (fact,)))
    return tuple(lines)


@dataclass(frozen=True, slots=True)
class Compared:
    """Readings of one thing in one unit, before and after the repair, in the order they were taken."""

    name: str
    unit: str
    before: tuple[r.Fact, ...]
    after: tuple[r.Fact, ...]


def compared(seen: View) -> tuple[Compared, ...]:
    """Readings by what was measured; the repair is the first part fitted, else the first correction.

    Without either, all readings count as taken before it.
    """
    order = {fact.id: index for index, fact in enumerate(seen.facts)}
    turns = [f for f in seen.facts if isinstance(f.detail, r.Part) and f.detail.action == "fitted"]
    turns = turns or list(seen.of("correction"))
    turn = order[turns[0].id] if turns else len(order)
    groups: dict[tuple[str, str, str], tuple[list[r.Fact], list[r.Fact]]] = {}
    names: dict[tuple[str, str, str], str] = {}
    for fact in seen.facts:
        if isinstance(fact.detail, r.Measurement):
            measured = fact.detail
            key = (
                measured.quantity.casefold(),
                " ".join((measured.subject or "").casefold().split()),
                measured.unit,
            )
            names.setdefault(key, values.reading_name(measured, seen.wording))
            groups.setdefault(key, ([], []))[order[fact.id] > turn].append(fact)
    return tuple(
        Compared(names[key], key[2], tuple(before), tuple(after)) for key, (before, after) in groups.items()
    )

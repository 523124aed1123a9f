"""The warranty claim report: a page to key from, then what stands behind it."""

from __future__ import annotations

from datetime import datetime

from jobnotes import record as r
from jobnotes.documents import money, sections, values
from jobnotes.documents.cells import Cell, Column
from jobnotes.documents.house import House
from jobnotes.documents.pictures import Shelf
from jobnotes.documents.plaintext import sentence_case
from jobnotes.documents.sheet import Sheet
from jobnotes.documents.view import View, view
from jobnotes.office.cover import COVERED

# what a claim is found by and judged by comes before what is rarely asked for
_KEYED_FIRST = (
    "claim_number",
    "claim_payer",
    "job_number",
    "registration",
    "vin",
    "odometer",
    "in_service",
    "failed",
    "claimed_on",
)
# entries of the customer and of the cover that a claim rests on, beside those of the job itself
_STATED_OF_A_CLAIM = frozenset(
    (
        *(f"customer.{part}" for part in ("name", "street", "postcode", "city", "country")),
        *(f"cover.{kind}.warranty" for kind in COVERED),
    )
)
# title, draft notice, heading and the line below the table; a letterhead's own type may be larger
_BESIDE_SUMMARY_MM, _IN_A_LETTERHEAD_MM = 60.0, 76.0


def draw_claim(record: r.Record, shelf: Shelf, house: House) -> tuple[Sheet, str]:
    """The claim as a sheet, and its title for the file's properties."""
    seen = view(record, house, private=False, doubt="check")
    wording = house.wording
    title = wording.say("claim.title")
    foot = sections.footer(seen, title, draft=bool(seen.doubtful))
    sheet = Sheet(house.wording, foot, house.paper, house.letterhead)
    sheet.title(title, sections.subtitle(seen))
    if seen.doubtful:
        sheet.notice(wording.count("mark.draft", seen.doubtful), wording.say("mark.draft_text"))
    room = sheet.height_mm - (_IN_A_LETTERHEAD_MM if house.letterhead else _BESIDE_SUMMARY_MM)
    tall = _summary(seen, sheet, room)
    if seen.facts:
        if tall <= room:
            sheet.new_page()  # else a second page would be all but empty
        _body(seen, sheet, shelf)
    else:
        sheet.paragraph(wording.say("claim.nothing"))
    _originals(seen, sheet)
    sheet.heading(wording.say("claim.about"))
    sheet.bullets(wording.cautions["claim"])
    return sheet, sections.file_title(seen, title)


def _summary(seen: View, sheet: Sheet, room_mm: float) -> float:
    """The page to key from, in smaller type where it would need two; returns about how tall its table is."""
    say = seen.say
    sheet.heading(say("claim.summary"))
    told = sections.named_identity_rows(seen, missing=True, claim=True)
    first = [row for key in _KEYED_FIRST for name, row in told if name == key]
    rest = [row for name, row in told if name not in _KEYED_FIRST]
    rows = [*_parties(seen), *first, *money.claimed_rows(seen), *sections.summary_rows(seen), *rest]
    # one table: a clerk keys from one page, from top to bottom
    tall = sheet.table(sections.identity_columns(seen), rows, describe=say("claim.summary"), room_mm=room_mm)
    if seen.facts:
        sheet.paragraph(say("claim.evidence_key"), small=True)
    return tall


def _parties(seen: View) -> list[list[Cell | str]]:
    """The workshop that claims, and whose vehicle it is."""
    record = seen.record
    buyer = record.invoice.buyer if record.invoice else None
    return [
        [seen.say(label), money.one_line(seen, party), seen.say("form.office")]
        for label, party in (("label.workshop", record.workshop), ("label.buyer", buyer))
        if party is not None
    ]


def _body(seen: View, sheet: Sheet, shelf: Shelf) -> None:
    say = seen.say
    sections.supports(seen, sheet, say("claim.supports"))
    sections.statements(seen, sheet, seen.of("finding"), say("claim.findings"))
    sections.codes(seen, sheet, say("claim.codes"), in_words=True)
    sections.readings(seen, sheet, say("claim.readings"))
    every = ("fitted", "consumed", "reused", "removed", "ordered")
    sections.parts(seen, sheet, say("claim.parts"), every, say_action=True)
    sections.labour_table(seen, sheet, say("claim.labour"))
    money.claim(seen, sheet)
    sections.earlier(seen, sheet, say("claim.earlier"))
    lines = sections.ledger_table(seen, sheet, say("claim.ledger"))
    told = {fact.id for line in lines for fact in (line.off, line.back) if fact}
    # what is lost stands in the line of what it is a piece of
    told |= {i for line in lines if line.open for i in line.open.evidence if _is_lost(seen, i)}
    steps = [fact for fact in seen.of("step") if fact.id not in told]
    sections.statements(seen, sheet, steps, say("claim.steps"))
    sections.statements(seen, sheet, seen.of("advisory"), say("claim.further"))
    open_points = [fact for fact in seen.of("hazard", "loose_end") if fact.id not in told]
    sections.statements(seen, sheet, open_points, say("claim.hazards"))
    if seen.photos:
        sheet.heading(say("claim.photos"))
        shown = shelf.within(seen.photos, seen.budget["claim"])
        sections.plates(seen, sheet, seen.photos, shown)
    _index(seen, sheet)


def _is_lost(seen: View, fact_id: str) -> bool:
    """True for a statement that something was lost, as a step or as a loose end."""
    return any(
        isinstance(fact.detail, r.Statement)
        or (
            isinstance(fact.detail, r.Step)
            and seen.pairs.states.get(fact.detail.action) == seen.pairs.lost_state
        )
        for fact in seen.of("step", "loose_end")
        if fact.id == fact_id
    )


def _index(seen: View, sheet: Sheet) -> None:
    say = seen.say
    sheet.heading(say("claim.index"))
    sheet.paragraph(say("claim.index_text"), small=True, keep_with_next=True)
    rows: list[list[Cell | str]] = []
    for fact in seen.facts:
        rows.append(
            [
                seen.wording.name("kind", fact.kind),
                sections.cell(seen, fact, seen.statement(fact)),
                fact.note or "",
                "" if fact.start_s is None else values.minute_second(fact.start_s),
                ", ".join(seen.photos_of(fact)),
                values.confidence(fact.confidence, seen.wording),
                sections.standing(seen, fact),
            ]
        )
    sheet.table(
        [
            Column(say("column.kind"), 2, always=True, style="TableSmall"),
            Column(say("column.statement"), 6.4, always=True),
            Column(say("column.note"), 1.1),
            Column(say("column.second"), 1.5),
            Column(say("column.photo"), 1.5),
            Column(say("column.confidence"), 1.9, always=True),
            Column(say("column.standing"), 2.6, always=True, style="TableSmall"),
        ],
        rows,
        describe=say("claim.index"),
    )


def _originals(seen: View, sheet: Sheet) -> None:
    record, say = seen.record, seen.say
    rows: list[list[Cell | str]] = []
    for note in record.notes:
        moment = note.started_at
        rows.append(
            [
                note.id,
                note.file,
                _stamp(seen, moment),
                Cell(_source(seen, note.started_at_source), remark=seen.time_doubt(note.started_at_doubt)),
                note.sha256,
            ]
        )
    for photo in record.photos:
        moment = seen.taken_at(photo)
        source = "\n".join(
            t for t in (_photo_source(seen, photo), seen.time_doubt(photo.taken_at_doubt)) if t
        )
        rows.append([photo.id, photo.file, _stamp(seen, moment), source, photo.sha256])
    if record.details is not None:
        rows.append([say("claim.office_file"), record.details.file, "", "", record.details.sha256])
    for own in record.office_files:
        table = sentence_case(seen.wording.name("office_table", own.file))
        rows.append([table, own.file, "", "", own.sha256])
    if not rows:
        return
    sheet.heading(say("claim.originals"))
    sheet.paragraph(say("claim.originals_text"), small=True, keep_with_next=True)
    if record.office_files:
        files = ", ".join(own.file for own in record.office_files)
        sheet.paragraph(say("claim.prices_text", files=files), small=True, keep_with_next=True)
    sheet.table(
        [
            Column(say("column.original"), 1.4, always=True),
            Column(say("column.file"), 3.2, always=True, style="TableSmall"),
            Column(say("column.taken"), 3, always=True, style="TableSmall"),
            Column(say("column.time_source"), 2.2, style="TableSmall"),
            Column(say("column.digest"), 5.6, always=True, style="TableCode"),
        ],
        rows,
        describe=say("claim.originals"),
    )
    stated = [s for s in record.stated if _of_the_claim(s.key)]
    if stated:
        sheet.heading(say("claim.stated"))
        sheet.paragraph(say("claim.stated_text"), small=True, keep_with_next=True)
        sections.stated_table(seen, sheet, stated, say("claim.stated"))


def _of_the_claim(key: str) -> bool:
    """What the claim shows or is worked out from; how the customer is billed is not the payer's."""
    return "." not in key or key in _STATED_OF_A_CLAIM


def _photo_source(seen: View, photo: r.Photo) -> str:
    """Where the time comes from, and by how much it was moved since the camera's clock was wrong."""
    source = _source(seen, photo.taken_at_source)
    if not photo.clock_offset_s:
        return source
    moved = {"source": source, "shift": values.shift(photo.clock_offset_s, seen.wording)}
    for clock in seen.record.camera_clocks:
        if clock.camera == photo.camera and clock.offset_s == photo.clock_offset_s:
            if clock.card:
                return seen.say("claim.time_moved_card", photo=clock.card, **moved)
            return seen.say("claim.time_moved", support=clock.support, of=clock.of, **moved)
    return seen.say("claim.time_moved_plain", **moved)


def _source(seen: View, source: str) -> str:
    return seen.wording.name("time_source", source)


def _stamp(seen: View, moment: datetime) -> str:
    zone = values.offset_name(moment, seen.wording)
    time = values.clock_time(moment, seen.wording, seconds=True)
    return f"{values.date(moment, seen.wording)}\n{time} {zone}"

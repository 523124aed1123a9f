"""The job sheet: what is still loose and what is still missing, first, while the vehicle is here."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from itertools import groupby

from jobnotes import record as r
from jobnotes.checking.loose_ends import certain_first
from jobnotes.documents import sections, values
from jobnotes.documents.cells import Cell, Column
from jobnotes.documents.house import House
from jobnotes.documents.pictures import Shelf
from jobnotes.documents.plaintext import sentence_case
from jobnotes.documents.sheet import Sheet
from jobnotes.documents.view import View, view

# "heard as 'open the drain valve': was it done, or still to do?"
_HEARD_AS = re.compile(r"heard as '[^;]*?': ([^;]+)")
_WEIGHT = {"refused": 0, "queried": 1, "nice": 2}


def draw_workshop(record: r.Record, shelf: Shelf, house: House) -> tuple[Sheet, str]:
    """The job sheet as a sheet, and its title for the file's properties."""
    seen = view(record, house, private=True, doubt="check")
    say, wording = seen.say, house.wording
    title = say("workshop.title")
    sheet = Sheet(house.wording, sections.footer(seen, title), house.paper, house.letterhead)
    sheet.title(title, sections.subtitle(seen))
    _loose_ends(seen, sheet)
    _gaps(seen, sheet)
    sections.statements(seen, sheet, seen.of("hazard"), say("workshop.hazards"))
    sections.earlier(seen, sheet, say("workshop.earlier"))
    _checks(seen, sheet)
    sheet.heading(say("workshop.about"))
    sheet.bullets(wording.cautions["workshop"])
    identity = sections.identity_rows(seen, missing=False, claim=True)
    if identity:
        sheet.heading(say("workshop.job"))
        sheet.table(sections.identity_columns(seen), identity, describe=say("workshop.job"))
    if record.stated:
        sheet.heading(say("workshop.stated"))
        sections.stated_table(seen, sheet, record.stated, say("workshop.stated"))
    _timeline(seen, sheet)
    sections.ledger_table(seen, sheet, say("workshop.ledger"))
    _deferred(seen, sheet)
    _remarks(seen, sheet, shelf)
    _labour(seen, sheet)
    _files(seen, sheet)
    _unlinked(seen, sheet, shelf)
    return sheet, sections.file_title(seen, title)


def _loose_ends(seen: View, sheet: Sheet) -> None:
    say = seen.say
    by_id = {fact.id: fact for fact in seen.facts}
    sheet.heading(say("workshop.loose"))
    rows: list[list[Cell | str]] = []
    # one that was told twice is loose once
    alike: dict[tuple[str, str, str | None], list[r.LooseEnd]] = {}
    for end in certain_first(seen.record.loose_ends):
        alike.setdefault((end.text.casefold(), end.state, end.doubt), []).append(end)
    for end, *again in alike.values():
        fact = by_id.get(end.fact_id)
        remark = seen.mark(fact) if fact else ""
        if end.doubt is not None:
            remark = say("form.check", why=seen.wording.spoken(end.doubt))
        ids = dict.fromkeys(i for one in (end, *again) for i in (one.fact_id, *one.evidence))
        told = [by_id[i] for i in ids if i in by_id]
        rows.append(
            [
                Cell(sentence_case(seen.wording.spoken(end.text)), remark=remark, bold=end.doubt is None),
                values.open_state(end, seen.wording),
                seen.evidence(*told) if told else "",
            ]
        )
    if not rows:
        sheet.paragraph(say("workshop.loose_none"))
    sheet.table(
        [
            sections.column(seen, "loose", 8, always=True),
            sections.column(seen, "state", 2, always=True),
            sections.evidence_column(seen),
        ],
        rows,
        describe=say("workshop.loose"),
    )


def _gaps(seen: View, sheet: Sheet) -> None:
    say = seen.say
    sheet.heading(say("workshop.gaps"))
    gaps = sorted(seen.record.claim_gaps, key=lambda gap: _WEIGHT[gap.severity])
    if not gaps:
        sheet.paragraph(say("workshop.gaps_none"))
    sheet.table(
        [
            sections.column(seen, "missing", 5, always=True),
            sections.column(seen, "remedy", 5, always=True),
            sections.column(seen, "severity", 2.3, always=True),
        ],
        [
            [
                sentence_case(seen.wording.spoken(gap.message)),
                sentence_case(seen.wording.spoken(gap.remedy)),
                seen.wording.name("severity", gap.severity),
            ]
            for gap in gaps
        ],
        describe=say("workshop.gaps"),
    )


def _checks(seen: View, sheet: Sheet) -> None:
    """A row for each statement, and under it what is doubtful: several in one cell don't line up with their
    words and seconds."""
    say = seen.say
    rows: list[list[Cell | str]] = [
        [
            Cell(seen.statement(facts[0]), remark=_doubt(seen, question)),
            _heard(seen, facts[0]),
            seen.evidence(*facts),
        ]
        for question, facts in _asked(seen)
    ]
    if rows:
        sheet.heading(say("workshop.check"))
        sheet.table(
            [
                sections.column(seen, "statement", 6, always=True),
                sections.column(seen, "heard", 4.8),
                sections.evidence_column(seen),
            ],
            rows,
            describe=say("workshop.check"),
        )


def _doubt(seen: View, question: str) -> str:
    if not question:
        return seen.say("form.check_plain")
    return seen.say("form.check", why=seen.wording.spoken(question))


def _asked(seen: View) -> list[tuple[str, list[r.Fact]]]:
    """What is doubtful, and the facts of one statement about which it is: the same statement in the same
    words of one note is asked about once."""
    asked: dict[tuple[str, str, str, str], list[r.Fact]] = {}
    for fact in seen.facts:
        if fact.status == "check":
            question = fact.why or ""
            if heard_as := _HEARD_AS.fullmatch(question):
                question = heard_as[1]  # the words themselves stand beside it
            key = (fact.note or fact.id, question, fact.quote, seen.statement(fact))
            asked.setdefault(key, []).append(fact)
    return [(question, facts) for (_, question, _, _), facts in asked.items()]


def _timeline(seen: View, sheet: Sheet) -> None:
    """Every statement by the clock, a table a day: a day has one offset from universal time."""
    if not seen.facts:
        return
    sheet.heading(seen.say("workshop.timeline"))
    if doubtful := seen.ill_dated():
        notes = ", ".join(f"{note.id} ({note.file})" for note in doubtful)
        told = seen.say("workshop.timeline_doubt", notes=notes)
        sheet.paragraph(told, keep_with_next=True)
    for heading, facts in groupby(seen.facts, lambda fact: _day(seen, fact)):
        sheet.heading(heading, 2)
        rows: list[list[Cell | str]] = []
        for fact in facts:
            moment = seen.said_at(fact)
            rows.append(
                [
                    "" if moment is None else _clock(seen, fact, values.clock_time(moment, seen.wording)),
                    _kind(seen, fact),
                    sections.cell(seen, fact, seen.statement(fact)),
                    _heard(seen, fact),
                    seen.evidence(fact),
                ]
            )
        sheet.table(
            [
                sections.column(seen, "time", 1.3),
                Column(seen.say("column.kind"), 2, always=True, style="TableSmall"),
                sections.column(seen, "statement", 5.4, always=True),
                Column(seen.say("column.heard"), 4.6, style="TableSmall"),
                sections.evidence_column(seen),
            ],
            rows,
            describe=heading,
        )


def _clock(seen: View, fact: r.Fact, time: str) -> str:
    note = seen.notes.get(fact.note or "")
    return seen.say("workshop.time_doubtful", time=time) if note and note.started_at_doubt else time


def _kind(seen: View, fact: r.Fact) -> str:
    kind = seen.wording.name("kind", fact.kind)
    return seen.say("workshop.private", kind=kind) if fact.audience == "workshop" else kind


def _heard(seen: View, fact: r.Fact) -> str:
    """The words as heard, and under them each word that was put right."""
    return "\n".join((seen.wording.spoken(fact.quote), *sections.put_right(seen, fact)))


def _day(seen: View, fact: r.Fact) -> str:
    moment = seen.said_at(fact)
    if moment is None:
        return seen.say("workshop.timeline_undated")
    return seen.say(
        "workshop.timeline_day",
        date=values.date(moment, seen.wording),
        offset=values.offset_name(moment, seen.wording),
    )


def _deferred(seen: View, sheet: Sheet) -> None:
    ordered = [
        fact
        for fact in seen.of("part")
        if isinstance(fact.detail, r.Part) and fact.detail.action == "ordered"
    ]
    deferred = (*seen.of("advisory"), *ordered)
    sections.statements(seen, sheet, deferred, seen.say("workshop.deferred"))


def _remarks(seen: View, sheet: Sheet, shelf: Shelf) -> None:
    """What is the workshop's own, with the photos that no other document shows."""
    remarks = [fact for fact in seen.facts if fact.audience == "workshop"]
    sections.statements(seen, sheet, remarks, seen.say("workshop.remarks"))
    private = [
        photo
        for photo in seen.photos
        if all(fact.audience == "workshop" for fact in seen.photo_facts[photo.id])
    ]
    _thumbnails(seen, sheet, shelf, private)


def _thumbnails(seen: View, sheet: Sheet, shelf: Shelf, photos: Sequence[r.Photo]) -> None:
    shown = shelf.within(photos, seen.budget["workshop"] // 2)
    sections.plates(seen, sheet, photos, shown, thumbnails=True)


def _labour(seen: View, sheet: Sheet) -> None:
    """Hours said, clocked and allowed, how they differ, and what to look at in the prices."""
    record, say = seen.record, seen.say
    headed = sections.labour_table(seen, sheet, say("workshop.labour"))
    if record.labour_remarks:
        if not headed:
            sheet.heading(say("workshop.labour"))
        sheet.bullets(_remarks_of(seen, record.labour_remarks))
    if record.charge_remarks:
        sheet.heading(say("workshop.prices"))
        sheet.bullets(_remarks_of(seen, record.charge_remarks))


def _remarks_of(seen: View, remarks: Sequence[str]) -> list[str]:
    return [sentence_case(seen.wording.spoken(remark)) for remark in remarks]


def _files(seen: View, sheet: Sheet) -> None:
    say, record = seen.say, seen.record
    if record.problems:
        sheet.heading(say("workshop.problems"))
        sheet.table(
            [sections.column(seen, "file", 4, always=True), sections.column(seen, "message", 8, always=True)],
            [[problem.file, seen.wording.spoken(problem.message)] for problem in record.problems],
            describe=say("workshop.problems"),
        )
    if record.camera_clocks:
        sheet.heading(say("workshop.clocks"))
        sheet.table(
            [
                sections.column(seen, "camera", 3, always=True),
                sections.column(seen, "clock", 4, always=True),
                sections.column(seen, "message", 5.5, always=True),
            ],
            [
                [clock.camera, _shift(seen, clock), seen.wording.spoken(clock.message)]
                for clock in record.camera_clocks
            ],
            describe=say("workshop.clocks"),
        )


def _shift(seen: View, clock: r.CameraClock) -> str:
    if clock.offset_s == 0:
        return seen.say("workshop.no_shift")
    shift = values.number(Decimal(f"{clock.offset_s:g}"), seen.wording)
    seconds = shift if clock.offset_s < 0 else f"+{shift}"
    if clock.card:
        return seen.say("workshop.shift_card", seconds=seconds, photo=clock.card)
    return seen.say("workshop.shift", seconds=seconds, support=clock.support, of=clock.of)


def _unlinked(seen: View, sheet: Sheet, shelf: Shelf) -> None:
    photos = [photo for photo in seen.record.photos if photo.id not in seen.photo_facts]
    if photos:
        sheet.heading(seen.say("workshop.unlinked"))
        sheet.paragraph(seen.say("workshop.unlinked_text"), small=True, keep_with_next=True)
        _thumbnails(seen, sheet, shelf, photos)

"""Sections that more than one document has: the same rows, drawn the same way."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import replace

from jobnotes import record as r
from jobnotes.documents import values
from jobnotes.documents.cells import Cell, Column, Plate
from jobnotes.documents.framing import framed
from jobnotes.documents.pictures import Shown
from jobnotes.documents.plaintext import sentence_case, shortened
from jobnotes.documents.sheet import Sheet
from jobnotes.documents.view import LedgerLine, View, causal_parts, doubtful_causal_parts, labour, ledger
from jobnotes.office.names import singular_words

_MOST_ALT_CHARACTERS = 400


def column(seen: View, name: str, width: float, *, always: bool = False, below: bool = False) -> Column:
    return Column(seen.say(f"column.{name}"), width, always=always, below=below)


def evidence_column(seen: View, width: float = 2.3) -> Column:
    return Column(seen.say("column.evidence"), width, always=True, style="TableSmall")


def cell(seen: View, fact: r.Fact, text: str) -> Cell:
    """A fact's main cell: its text, and under it that it is doubtful, if it is."""
    return Cell(text, remark=seen.mark(fact))


def subtitle(seen: View) -> str:
    """What the document is about: vehicle and job, in one line."""
    job = seen.record.job
    named = [job.registration or "", job.customer or ""]
    if job.number:
        named.insert(0, f"{seen.say('label.job')} {job.number}")
    # a left-to-right mark, or names written from right to left would change places
    between = " · " if all(name.isascii() for name in named) else " \u200e· "
    return between.join(shortened(name, 80) for name in named if name)


def footer(seen: View, title: str, *, draft: bool = False) -> str:
    """What stands at the foot of each page; of a `draft` that too, for pages get parted."""
    job_number = seen.record.job.number
    if not job_number:
        text = seen.say("form.footer_unnumbered", title=title)
    else:
        text = seen.say("form.footer", number=shortened(job_number, 50), title=title)
    return seen.say("form.footer_draft", text=text) if draft else text


def file_title(seen: View, title: str) -> str:
    about = subtitle(seen)
    return f"{title} – {about}" if about else title


# --- who and what --------------------------------------------------------------------------------


def identity_rows(seen: View, *, missing: bool, claim: bool = False) -> list[list[Cell | str]]:
    """Job and vehicle, one thing a row, with what was said about it.

    `missing` shows also what wasn't said, `claim` the dates by which a warranty is judged and how the claim
    goes.
    """
    return [row for _, row in named_identity_rows(seen, missing=missing, claim=claim)]


def named_identity_rows(
    seen: View, *, missing: bool, claim: bool = False
) -> list[tuple[str, list[Cell | str]]]:
    """The same rows, each with the name of what it tells."""
    job = seen.record.job
    rows: list[tuple[str, list[Cell | str]]] = []
    plain, office = seen.say("form.none"), seen.say("form.office")
    key = ""

    def add(label: str, value: str, evidence: str = plain, remark: str = "") -> None:
        rows.append((key, [label, Cell(value, remark=remark), evidence]))

    def add_missing(label: str) -> None:
        if missing:
            add(label, seen.say("form.not_stated"))

    known: Mapping[str, tuple[str | None, str | None]] = {
        "job_number": (job.number, None),
        "registration": (job.registration, None),
        "vin": (job.vin, None),
        "odometer": _odometer(job.odometer),
        "engine_hours": _odometer(job.engine_hours),
    }
    for kind, (value, unit) in known.items():
        key = kind
        label = seen.say(f"kind.{kind}")
        told: dict[tuple[str, str | None], list[r.Fact]] = {}
        for fact in seen.of(kind):
            if isinstance(fact.detail, r.Identity):
                told.setdefault((fact.detail.value, fact.detail.unit), []).append(fact)
        if value is not None:
            facts = told.pop((value, unit), [])
            shown = values.quantity(value, unit, seen.wording)
            add(label, shown, seen.evidence(*facts, between=", ") if facts else office, seen.marks(facts))
        elif not told and not _other_meter(seen, kind):
            add_missing(label)
        for (other, other_unit), facts in told.items():
            name = label if value is None else seen.say("label.also", label=label)
            shown = values.quantity(other, other_unit, seen.wording)
            add(name, shown, seen.evidence(*facts, between=", "), seen.marks(facts))
    for key, text in (("customer", job.customer), ("technician", job.technician)):
        if text:
            add(seen.say(f"label.{key}"), text, office)
    key = "worked"
    span = _span(seen)
    if span:
        add(seen.say("label.worked"), span, remark=_span_doubt(seen))
    for label, moment in (("opened", job.opened_at), ("closed", job.closed_at)):
        if span:
            continue
        if moment:
            add(seen.say(f"label.{label}"), values.date_time(seen.job_time(moment), seen.wording))
    if claim:
        dates = (("in_service", job.in_service_on), ("failed", job.failed_on), ("claimed_on", job.claimed_on))
        for key, day in dates:
            if day:
                add(seen.say(f"label.{key}"), values.date(day, seen.wording), office)
            else:
                add_missing(seen.say(f"label.{key}"))
        for key, text in (("claim_number", job.claim_number), ("claim_payer", job.payer)):
            if text:
                add(seen.say(f"label.{key}"), text, office)
    return rows


def _other_meter(seen: View, kind: str) -> bool:
    """True for the odometer where the engine's hours are known, and the other way round."""
    job = seen.record.job
    known = {
        "odometer": job.engine_hours is not None or bool(seen.of("engine_hours")),
        "engine_hours": job.odometer is not None or bool(seen.of("odometer")),
    }
    return known.get(kind, False)


def _span(seen: View) -> str:
    """When the work began and ended, on one line; empty where either isn't known."""
    job = seen.record.job
    if job.opened_at is None or job.closed_at is None:
        return ""
    begun, ended = seen.job_time(job.opened_at), seen.job_time(job.closed_at)
    same_day = begun.date() == ended.date()
    until = values.clock_time(ended, seen.wording) if same_day else values.date_time(ended, seen.wording)
    return seen.say("form.range", min=values.date_time(begun, seen.wording), max=until)


def _span_doubt(seen: View) -> str:
    """That the span rests on files' own dates, or which notes it leaves out; empty where it is sure."""
    doubtful = seen.ill_dated()
    if not doubtful:
        return ""
    if len(doubtful) == len(seen.record.notes):
        return seen.say("form.span_by_files")
    return seen.say("form.span_without", notes=", ".join(note.id for note in doubtful))


def time_of(seen: View, fact: r.Fact, moment: str) -> Cell:
    """When a fact was said, and under it why that is in doubt, if it is."""
    note = seen.notes.get(fact.note or "")
    return Cell(moment, remark=seen.time_doubt(note.started_at_doubt) if note and moment else "")


def _odometer(reading: r.Odometer | None) -> tuple[str | None, str | None]:
    return (reading.value, reading.unit) if reading else (None, None)


def identity_columns(seen: View) -> list[Column]:
    return [
        column(seen, "item", 3.7, always=True),
        column(seen, "entry", 7.7, always=True),
        Column(seen.say("column.evidence"), 2.4, style="TableSmall"),
    ]


def statements(
    seen: View,
    sheet: Sheet,
    facts: Sequence[r.Fact],
    heading: str,
    told: Callable[[r.Fact], str] | None = None,
) -> None:
    """Free statements with their evidence, under a heading of their own; nothing where there are none.

    `told` gives the words of each, where they aren't the statement's own. What was told in the same words
    twice is one row with both places; a step may well have been done twice.
    """
    if facts:
        sheet.heading(heading)
        told = told or seen.statement
        alike: dict[tuple[str, ...], list[r.Fact]] = {}
        for fact in facts:
            same = "" if isinstance(fact.detail, r.Statement) else fact.id
            text = told(fact)
            words = " ".join(text.casefold().split()).rstrip(".")
            alike.setdefault((fact.kind, words, seen.mark(fact), same), []).append(fact)
        sheet.table(
            [column(seen, "statement", 10, always=True), evidence_column(seen)],
            [[cell(seen, same[0], told(same[0])), seen.evidence(*same)] for same in alike.values()],
            describe=heading,
        )


# --- tables of one kind of fact ------------------------------------------------------------------


def codes(
    seen: View, sheet: Sheet, heading: str, *, in_words: bool = False, at_the_end: bool = False
) -> None:
    """The fault codes; `in_words`: with the words in which it was told that one is gone; `at_the_end`: each
    code once, as it was told last, with the evidence of all."""
    told = [[fact] for fact in seen.of("fault_code")]
    rows: list[list[Cell | str]] = []
    for facts in _each_code(seen) if at_the_end else told:
        code = _as_told_last(facts)
        rows.append(
            [
                Cell(code.code, remark=seen.marks(facts), bold=True),
                _code_meaning(seen, facts[-1], code, in_words),
                seen.wording.name("state", code.state) if code.state else "",
                "" if code.count is None else str(code.count),
                seen.wording.spoken(code.ecu or ""),
                seen.evidence(*facts),
            ]
        )
    if rows:
        sheet.heading(heading)
        sheet.table(
            [
                Column(seen.say("column.code"), 3.6, always=True, whole=True),
                column(seen, "meaning", 4.5),
                column(seen, "state", 1.6),
                column(seen, "count", 1.2),
                column(seen, "ecu", 2.4),
                evidence_column(seen),
            ],
            rows,
            describe=heading,
        )


def _each_code(seen: View) -> list[list[r.Fact]]:
    """The facts of each code, in the order in which they were told. Where several control units hold a code,
    each has its own."""
    units: dict[str, set[str]] = {}
    for fact in seen.of("fault_code"):
        if isinstance(fact.detail, r.FaultCode) and fact.detail.ecu:
            units.setdefault(fact.detail.code, set()).add(fact.detail.ecu.casefold())
    of_code: dict[tuple[str, str], list[r.Fact]] = {}
    for fact in seen.of("fault_code"):
        if isinstance(fact.detail, r.FaultCode):
            code, unit = fact.detail.code, (fact.detail.ecu or "").casefold()
            of_code.setdefault((code, unit if len(units.get(code, ())) > 1 else ""), []).append(fact)
    return list(of_code.values())


def _as_told_last(facts: Sequence[r.Fact]) -> r.FaultCode:
    """What the facts of one code tell of it, each thing by the last that tells it."""
    last = [fact.detail for fact in reversed(facts) if isinstance(fact.detail, r.FaultCode)]
    return replace(
        last[0],
        state=next((code.state for code in last if code.state), None),
        count=next((code.count for code in last if code.count is not None), None),
        ecu=next((code.ecu for code in last if code.ecu), None),
        fmi_text=next((code.fmi_text for code in last if code.fmi_text), None),
    )


def _code_meaning(seen: View, fact: r.Fact, code: r.FaultCode, in_words: bool) -> str:
    """What the code means; of one that is gone also how that was told: erased, or "did not return"."""
    meaning = values.code_meaning(code, seen.wording)
    told = fact.quote.strip(" .,;")
    if not in_words or code.state != "cleared" or not told:
        return meaning
    return seen.say("form.in_words", what=meaning, words=seen.wording.spoken(told))


def readings(seen: View, sheet: Sheet, heading: str) -> None:
    rows: list[list[Cell | str]] = []
    for fact in seen.of("measurement"):
        measured = fact.detail
        assert isinstance(measured, r.Measurement)
        rows.append(
            [
                cell(seen, fact, values.reading_name(measured, seen.wording)),
                Cell(values.quantity(measured.value, measured.unit, seen.wording), bold=True),
                values.conditions(measured, seen.wording),
                values.limit(measured.limit, measured.unit, seen.wording) if measured.limit else "",
                values.verdict(measured, seen.wording),
                seen.evidence(fact),
            ]
        )
    if rows:
        sheet.heading(heading)
        sheet.table(
            [
                column(seen, "reading", 4.2, always=True),
                column(seen, "value", 1.9, always=True),
                column(seen, "conditions", 3),
                column(seen, "limit", 3),
                column(seen, "verdict", 1.9, always=True),
                evidence_column(seen),
            ],
            rows,
            describe=heading,
        )


def parts(
    seen: View,
    sheet: Sheet,
    heading: str,
    actions: Iterable[str],
    *,
    say_action: bool,
    without: Collection[str] = (),
) -> None:
    """Parts with one of `actions`, each once; without the facts whose ids are in `without`."""
    wanted = tuple(actions)
    told = [f for f in seen.of("part") if isinstance(f.detail, r.Part) and f.detail.action in wanted]
    again = _told_again(told)
    repeats = {fact.id for others in again.values() for fact in others}
    rows: list[list[Cell | str]] = []
    for fact in told:
        part = fact.detail
        assert isinstance(part, r.Part)
        if fact.id in without or fact.id in repeats:
            continue
        row: list[Cell | str] = [
            cell(seen, fact, sentence_case(seen.wording.spoken(part.name))),
            part.number or "",
            part.serial or "",
            values.pieces(part.quantity, part.unit, seen.wording),
            seen.wording.name("condition", part.condition) if part.condition else "",
        ]
        if say_action:
            row.append(seen.wording.name("part_action", part.action))
        rows.append([*row, seen.evidence(fact, *again.get(fact.id, ()))])
    if rows:
        columns = [
            column(seen, "part", 4.6, always=True),
            column(seen, "number", 3, below=True),
            column(seen, "serial", 2.4, below=True),
            column(seen, "quantity", 1.7),
            column(seen, "condition", 1.7),
        ]
        if say_action:
            columns.append(column(seen, "action", 1.9))
        sheet.heading(heading)
        sheet.table([*columns, evidence_column(seen)], rows, describe=heading)


def _told_again(facts: Sequence[r.Fact]) -> dict[str, list[r.Fact]]:
    """By the id of a part's fact, others that name the same part and say nothing that it doesn't."""
    again: dict[str, list[r.Fact]] = {}
    merged: set[str] = set()
    for at, fact in enumerate(facts):
        for place, other in enumerate(facts):
            if other is fact or fact.id in merged or other.id in merged or other.id in again:
                continue
            # of two that say the same, the first stands
            if _says_no_more(other, fact) and (at < place or not _says_no_more(fact, other)):
                again.setdefault(fact.id, []).append(other)
                merged.add(other.id)
    return again


def _says_no_more(one: r.Fact, other: r.Fact) -> bool:
    """Whether all that `one` says of a part is said by `other` too, as surely."""
    part, fuller = one.detail, other.detail
    if not isinstance(part, r.Part) or not isinstance(fuller, r.Part) or one.usable != other.usable:
        return False
    if part.action != fuller.action or singular_words(part.name) != singular_words(fuller.name):
        return False
    particulars = ("quantity", "unit", "number", "serial", "condition")
    return all(getattr(part, key) in (None, getattr(fuller, key)) for key in particulars)


def labour_table(seen: View, sheet: Sheet, heading: str, *, standard: bool = True) -> bool:
    """Hours by operation; `standard` shows beside them what the workshop's table of times allows."""
    lines = labour(seen)
    if lines:
        sheet.heading(heading)
        sheet.table(
            [
                column(seen, "operation", 6.5, always=True),
                Column(seen.say("column.hours"), 1.6, always=True, align="right"),
                column(seen, "basis", 2.6, always=True),
                Column(seen.say("column.standard"), 1.8, align="right"),
                evidence_column(seen),
            ],
            [
                [
                    Cell(sentence_case(line.operation), remark=seen.marks(line.facts)),
                    values.hours(line.hours, seen.wording),
                    line.basis,
                    values.hours(line.standard, seen.wording)
                    if standard and line.standard is not None
                    else "",
                    seen.evidence(*line.facts),
                ]
                for line in lines
            ],
            describe=heading,
        )
    return bool(lines)


def ledger_table(seen: View, sheet: Sheet, heading: str) -> tuple[LedgerLine, ...]:
    """Each thing that came off beside what put it back; returns the lines that it drew."""
    lines = ledger(seen)
    if lines:
        sheet.heading(heading)
        sheet.table(
            [
                column(seen, "off", 5, always=True),
                column(seen, "back", 5, always=True),
                evidence_column(seen),
            ],
            [
                [
                    cell(seen, line.off, seen.statement(line.off)),
                    _put_back(seen, line),
                    seen.evidence(*_bearing_on(seen, line)),
                ]
                for line in lines
            ],
            describe=heading,
        )
    return lines


def _bearing_on(seen: View, line: LedgerLine) -> list[r.Fact]:
    """The facts of one line: what took it off, what put it back, and what else bears on what is open."""
    wanted = [line.off.id, *([line.back.id] if line.back else ()), *(line.open.evidence if line.open else ())]
    by_id = {fact.id: fact for fact in seen.facts}
    return [by_id[i] for i in dict.fromkeys(wanted) if i in by_id]


def _put_back(seen: View, line: LedgerLine) -> Cell:
    if line.back is not None:
        return cell(seen, line.back, seen.statement(line.back))
    if line.open is not None:
        end = line.open
        remark = seen.say("form.check", why=seen.wording.spoken(end.doubt)) if end.doubt else ""
        told = sentence_case(seen.say("label.still_open", text=seen.wording.spoken(end.text)))
        return Cell(told, remark=remark, bold=end.doubt is None)
    return Cell(seen.say("label.not_put_back"))


# --- what stands behind the claim ----------------------------------------------------------------


def supports(seen: View, sheet: Sheet, heading: str) -> None:
    """What bears out each cause: nothing where nothing does."""
    facts = {fact.id: fact for fact in seen.facts}
    photos = {photo.id: photo for photo in seen.photos}
    told: dict[str, list[list[Cell | str]]] = {}
    for support in seen.record.supports:
        if support.cause not in facts:
            continue
        kind = seen.wording.name("support", support.by)
        if support.id in facts:
            fact = facts[support.id]
            row: list[Cell | str] = [cell(seen, fact, seen.statement(fact)), kind, seen.evidence(fact)]
        elif support.id in photos:
            shown = seen.shows(photos[support.id])
            name = seen.say("form.photo", id=support.id)
            row = [f"{name}: {shown}" if shown else name, kind, support.id]
        else:
            continue
        told.setdefault(support.cause, []).append(row)
    if told:
        sheet.heading(heading)
    for cause, rows in told.items():
        text = seen.statement(facts[cause])
        if len(told) > 1:
            sheet.heading(shortened(text, 120), 2)
        sheet.table(
            [
                column(seen, "support", 8, always=True),
                column(seen, "kind", 3, always=True),
                evidence_column(seen),
            ],
            rows,
            describe=f"{heading}: {shortened(text, 120)}",
        )


def earlier(seen: View, sheet: Sheet, heading: str) -> None:
    """Jobs of this vehicle not long ago that have something in common with this one."""
    rows: list[list[Cell | str]] = []
    for job in seen.record.earlier:
        driven = "" if job.distance is None else values.quantity(job.distance, job.unit, seen.wording)
        rows.append(
            [
                values.date(job.ended_on, seen.wording),
                job.number or job.job,
                seen.wording.count("form.days", job.days),
                driven,
                "\n".join(sentence_case(values.in_common(text, seen.wording)) for text in job.same),
            ]
        )
    if rows:
        sheet.heading(heading)
        sheet.table(
            [
                column(seen, "ended", 2.6, always=True),
                column(seen, "job", 2.6, always=True),
                column(seen, "since", 2, always=True),
                column(seen, "driven", 2),
                column(seen, "same", 6, always=True),
            ],
            rows,
            describe=heading,
        )


def stated_table(seen: View, sheet: Sheet, stated: Sequence[r.Stated], describe: str) -> None:
    """What a person stated by hand, with who and when; below it what the office's file says instead."""
    rows: list[list[Cell | str]] = []
    for entry in stated:
        told = seen.say("form.none_stated") if entry.value is None else entry.value
        instead = "" if entry.file is None else seen.say("form.instead_of", value=entry.file)
        when = values.date_time(seen.job_time(entry.at), seen.wording)
        rows.append([seen.wording.name("stated", entry.key), Cell(told, remark=instead), entry.by, when])
    sheet.table(
        [
            column(seen, "item", 3.7, always=True),
            column(seen, "entry", 5, always=True),
            column(seen, "stated_by", 2.6, always=True),
            column(seen, "stated_at", 3, always=True),
        ],
        rows,
        describe=describe,
    )


def put_right(seen: View, fact: r.Fact) -> list[str]:
    """Each word of a statement that was heard as another, with what it was read as."""
    return [
        seen.say(
            "workshop.put_right",
            heard=seen.wording.spoken(repair.heard),
            read_as=seen.wording.spoken(repair.read_as),
        )
        for repair in fact.repairs
    ]


def standing(seen: View, fact: r.Fact) -> str:
    """How far a statement may be relied on, which words of it were put right, and who decided it when."""
    text = seen.wording.name("status", fact.status)
    if fact.status in ("accepted", "edited") and fact.decided_by:
        text = seen.say(f"decided.{fact.status}", who=fact.decided_by)
        if fact.decided_at is not None:
            text += f"\n{values.date_time(seen.job_time(fact.decided_at), seen.wording)}"
    return "\n".join((text, *put_right(seen, fact)))


# --- photos --------------------------------------------------------------------------------------


def plates(
    seen: View,
    sheet: Sheet,
    photos: Sequence[r.Photo],
    shown: Mapping[str, Shown | None],
    *,
    thumbnails: bool = False,
) -> None:
    """The photos with captions; says how many were left out to keep the document small."""
    drawn = [plate(seen, photo, shown[photo.id]) for photo in photos if photo.id in shown]
    sheet.plates(drawn, thumbnails=thumbnails)
    left_out = len(photos) - len(drawn)
    if left_out:
        sheet.paragraph(seen.wording.count("form.pictures_left_out", left_out), small=True)


def plate(seen: View, photo: r.Photo, shown: Shown | None) -> Plate:
    name = seen.say("form.photo", id=photo.id)
    what = seen.shows(photo)
    label = f"{name}: {what}" if what else name
    taken = values.date_time(seen.taken_at(photo), seen.wording)
    if photo.taken_at_doubt:
        taken = seen.say("form.time_doubted", time=taken, why=seen.time_doubt(photo.taken_at_doubt))
    facts = seen.photo_facts.get(photo.id, ())
    heard = list(dict.fromkeys(text for fact in facts if (text := seen.heard_at(fact))))
    said = ", ".join(heard[:4])
    # the clerk is to know that nobody said that this photo belongs here; the customer can't judge it
    link = seen.wording.name("linked_by", photo.linked_by or "") if seen.doubt == "check" else ""
    where = " · ".join(text for text in (taken, said, link) if text)
    read = seen.framed(photo)
    frame = seen.say("form.framed", what=", ".join(dict.fromkeys(text for _, text in read))) if read else ""
    if read and shown is not None:
        shown = framed(shown, [corners for corners, _ in read])
    return Plate(
        shown,
        caption="\n".join(text for text in (label, frame, where) if text),
        alt=shortened(f"{label}. {frame}" if frame else label, _MOST_ALT_CHARACTERS),
        missing=seen.say("form.no_picture", id=photo.id, file=shortened(photo.file, 120)),
    )


def summary_rows(seen: View) -> list[list[Cell | str]]:
    """Complaint, cause, correction, causal part and codes: what a claim form asks for."""
    rows: list[list[Cell | str]] = []
    missing = seen.say("form.not_stated")
    plain = seen.say("form.none")
    for kind in ("complaint", "cause", "correction"):
        label = seen.say(f"label.{kind}")
        facts = seen.of(kind)
        if not facts:
            rows.append([label, missing, plain])
        for fact in facts:
            rows.append([label, cell(seen, fact, seen.statement(fact)), seen.evidence(fact, between=", ")])
    label = seen.say("label.causal_part")
    causal = causal_parts(seen)
    if not causal:
        doubtful = [fact for fact in doubtful_causal_parts(seen) if isinstance(fact.detail, r.Part)]
        for fact in doubtful:
            assert isinstance(fact.detail, r.Part)
            text = seen.say("form.to_be_checked", name=sentence_case(seen.wording.spoken(fact.detail.name)))
            rows.append([label, Cell(text, remark=seen.mark(fact)), seen.evidence(fact, between=", ")])
        if not doubtful:
            rows.append([label, missing, plain])
    for fact in causal:
        rows.append([label, cell(seen, fact, seen.statement(fact)), seen.evidence(fact, between=", ")])
    code_facts = [f for f in seen.of("fault_code") if isinstance(f.detail, r.FaultCode)]
    label = seen.say("label.codes")
    if not code_facts:
        rows.append([label, missing, plain])
    by_code: dict[str, list[r.Fact]] = {}
    for fact in code_facts:
        assert isinstance(fact.detail, r.FaultCode)
        by_code.setdefault(fact.detail.code, []).append(fact)
    for code, told in by_code.items():
        states = dict.fromkeys(
            seen.wording.name("state", f.detail.state)
            for f in told
            if isinstance(f.detail, r.FaultCode) and f.detail.state
        )
        text = f"{code} ({', '.join(states)})" if states else code
        rows.append([label, Cell(text, remark=seen.marks(told)), seen.evidence(*told, between=", ")])
    return rows

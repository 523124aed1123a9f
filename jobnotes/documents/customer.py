"""The customer's invoice with its evidence, in plain words, and nothing that is the workshop's own.

Before the office has priced the job it is a report of the repair.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from functools import partial

from jobnotes import record as r
from jobnotes.documents import chart, money, sections, values
from jobnotes.documents.cells import Cell, Column
from jobnotes.documents.house import House
from jobnotes.documents.pictures import Shelf, Shown
from jobnotes.documents.plaintext import sentence_case, shortened, unmarked
from jobnotes.documents.sheet import Sheet
from jobnotes.documents.view import Compared, View, charged_by_clock, compared, view
from jobnotes.documents.wording import Term
from jobnotes.office.names import plain_number, singular_words

_FIRST_PERSON = re.compile(r"\b(?:I|we|my|our)\b(?!/)|\b(?:I|we)['’]", re.IGNORECASE)
# what is said among colleagues stands on the job sheet
_FOR_COLLEAGUES = ("hazard", "loose_end")
# what became of a part, told among the steps; what was used up is only priced
_TOLD_AS_WORK = ("removed", "reused", "fitted")


def draw_customer(record: r.Record, shelf: Shelf, house: House) -> tuple[Sheet, str]:
    """The customer's copy as a sheet, and its title for the file's properties."""
    seen = view(record, house, private=False, doubt="confirm", without=_FOR_COLLEAGUES)
    say, wording = seen.say, house.wording
    title = _title(seen)
    foot = sections.footer(seen, title, draft=bool(seen.doubtful or record.charge_remarks))
    sheet = Sheet(house.wording, foot, house.paper, house.letterhead)
    sheet.title(title, sections.subtitle(seen))
    _draft_notice(seen, sheet)
    _lost_notice(seen, sheet)
    money.parties(seen, sheet)
    identity = sections.identity_rows(seen, missing=False)
    if identity:
        sheet.heading(say("customer.vehicle"))
        sheet.table(sections.identity_columns(seen), identity, describe=say("customer.vehicle"))
    if seen.facts:
        _body(seen, sheet, shelf)
    else:
        sheet.paragraph(say("customer.nothing"))
        if money.priced(record):
            _price(seen, sheet)
    if house.guarantee:
        sheet.heading(say("customer.guarantee"))
        for text in house.guarantee.strip().split("\n\n"):
            sheet.paragraph(" ".join(text.split()))
    sheet.heading(say("customer.about"))
    if seen.facts:
        sheet.paragraph(say("customer.evidence_key"), keep_with_next=True)
    sheet.bullets(wording.cautions["customer"])
    return sheet, sections.file_title(seen, title)


def _draft_notice(seen: View, sheet: Sheet) -> None:
    """Say what is still open: statements, and what the office has to look at in the prices."""
    invoice = money.invoice_number(seen.record) is not None
    told = []
    if seen.doubtful:
        mark = "mark.draft_invoice" if invoice else "mark.confirm"
        told.append((seen.wording.count(mark, seen.doubtful), seen.say("mark.confirm_text")))
    if seen.record.charge_remarks:
        lead = seen.say("mark.draft_prices" if invoice else "mark.confirm_prices")
        told.append((lead, seen.say("mark.prices_text")))
    if told:
        sheet.notice(told[0][0], "\n".join(text for _, text in told))


def _lost_notice(seen: View, sheet: Sheet) -> None:
    """What was lost, and where, before anything else: it may lie where it does harm."""
    by_id = {fact.id: fact for fact in seen.record.facts}
    told: dict[str, None] = {}
    for end in seen.record.loose_ends:
        fact = by_id.get(end.fact_id)
        if end.state != seen.pairs.lost_state or fact is None or fact.audience != "all":
            continue
        if text := sentence_case(_lost(seen, end, fact)):
            told.setdefault(f"{text} ({seen.say('form.confirm')})" if end.doubt else text)
    if told:
        sheet.notice(seen.say("customer.lost"), "\n".join((*told, seen.say("customer.lost_text"))))


def _lost(seen: View, end: r.LooseEnd, fact: r.Fact) -> str:
    """What was lost, in the check's own words; of a remark, made among colleagues, only the thing and
    the place."""
    if not isinstance(fact.detail, r.Statement):
        return seen.wording.spoken(end.text)
    thing = fact.detail.component
    if thing is None:
        return ""
    state = seen.wording.name("open_state", end.state)
    where = [state, seen.wording.spoken(end.place)] if end.place else [state]
    return seen.say("label.lost", thing=seen.wording.spoken(thing), where=values.listed(where))


def _title(seen: View) -> str:
    """An invoice has a number and all its prices; anything else is a report."""
    number = money.invoice_number(seen.record)
    if number is not None:
        return seen.say("customer.invoice", number=shortened(number, 60))
    return seen.say("customer.priced" if money.priced(seen.record) else "customer.title")


def _body(seen: View, sheet: Sheet, shelf: Shelf) -> None:
    say = seen.say
    wrong = _photos_of(seen, ("cause", "finding"))
    others = tuple(photo for photo in seen.photos if photo not in wrong)
    # the photos of what was wrong come first: they are the last to be left out
    shown = shelf.within((*wrong, *others), seen.budget["customer"])

    sections.statements(seen, sheet, seen.of("complaint"), say("customer.complaint"))
    causes = tuple(fact for fact in (*seen.of("cause"), *seen.of("finding")) if not fact.only_written)
    _wrong(seen, sheet, causes, wrong, shown)
    sections.statements(
        seen, sheet, seen.of("correction"), say("customer.done"), partial(_in_their_words, seen)
    )
    if not seen.of("correction"):
        _steps(seen, sheet, say("customer.done"))
    _price(seen, sheet)
    _next(seen, sheet)
    _readings(seen, sheet, shelf)
    # what the customer may want to look up, after what they want to know
    sections.codes(seen, sheet, say("customer.codes"), at_the_end=True)
    if seen.of("correction"):
        _steps(seen, sheet, say("customer.steps"))
    priced = _priced_in_full(seen)
    heading = say("customer.parts_besides" if priced else "customer.parts")
    sections.parts(seen, sheet, heading, ("fitted", "consumed"), say_action=False, without=priced)
    labour = sections.labour_table(seen, sheet, say("customer.labour"), standard=False)
    if charged_by_clock(seen):  # the customer may want to see what they pay for
        _clock(seen, sheet, headed=labour)
    if others:
        sheet.heading(say("customer.photos"))
        sections.plates(seen, sheet, others, shown)
    _words(seen, sheet)


def _wrong(
    seen: View,
    sheet: Sheet,
    causes: Sequence[r.Fact],
    photos: Sequence[r.Photo],
    shown: Mapping[str, Shown | None],
) -> None:
    """What was wrong, each with a photo beside it where there is one: low rows leave little of a page empty.
    Photos that find no place there follow in small."""
    if not causes:
        return
    by_id = {photo.id: photo for photo in photos}
    placed: set[str] = set()
    rows: list[list[Cell | str]] = []
    for fact in causes:
        free = [i for i in seen.photos_of(fact) if i in shown and i in by_id and i not in placed]
        beside = sections.plate(seen, by_id[free[0]], shown[free[0]]) if free else None
        placed.update(free[:1])
        text = sections.cell(seen, fact, _in_their_words(seen, fact))
        rows.append([text, Cell("", plate=beside), seen.evidence(fact)])
    heading = seen.say("customer.wrong")
    sheet.heading(heading)
    sheet.table(
        [
            sections.column(seen, "statement", 6.2, always=True),
            Column(seen.say("column.photo"), 4.6),
            sections.evidence_column(seen, 2),
        ],
        rows,
        describe=heading,
    )
    rest = [photo for photo in photos if photo.id not in placed]
    sections.plates(seen, sheet, rest, shown, thumbnails=True)


def _in_their_words(seen: View, fact: r.Fact) -> str:
    """A statement; one in the first person as a quotation, for it isn't the workshop that says "I"."""
    text = seen.statement(fact)
    if isinstance(fact.detail, r.Statement) and _FIRST_PERSON.search(fact.detail.text):
        return seen.say("customer.quoted", text=text)
    return text


def _priced_in_full(seen: View) -> set[str]:
    """The parts of which the priced lines say all: name, number and how many."""
    found: set[str] = set()
    for charge in seen.record.charges if money.priced(seen.record) else ():
        for fact in seen.of("part"):
            part = fact.detail
            if not isinstance(part, r.Part) or fact.id not in charge.fact_ids:
                continue
            named = set(singular_words(part.name)) <= set(singular_words(charge.description))
            number = part.number is None or plain_number(part.number) == plain_number(charge.number or "")
            amount = part.quantity is None or (part.quantity, part.unit or "1") == (
                charge.quantity,
                charge.unit,
            )
            if named and number and amount and part.serial is None and part.condition != "used":
                found.add(fact.id)
    return found


def _photos_of(seen: View, kinds: Sequence[str]) -> tuple[r.Photo, ...]:
    return tuple(
        photo
        for photo in seen.photos
        if any(fact.kind in kinds and not fact.only_written for fact in seen.photo_facts[photo.id])
    )


def _steps(seen: View, sheet: Sheet, heading: str) -> None:
    """Steps, and parts that came off, went on or were moved over, as they happened."""
    # what was lost stands at the top
    state_of, lost_state = seen.pairs.states, seen.pairs.lost_state
    open_ids = {i for end in seen.record.loose_ends for i in (end.fact_id, *end.evidence)}
    lost = {
        fact.id
        for fact in seen.facts
        if isinstance(fact.detail, r.Step)
        and fact.id in open_ids
        and state_of.get(fact.detail.action) == lost_state
    }
    told = [
        fact
        for fact in seen.facts
        if (fact.kind == "step" and fact.id not in lost)
        or (isinstance(fact.detail, r.Part) and fact.detail.action in _TOLD_AS_WORK)
    ]
    short = _not_all_back(seen)
    if told:
        sheet.heading(heading)
        sheet.table(
            [sections.column(seen, "step", 10, always=True), sections.evidence_column(seen)],
            [[_step_cell(seen, fact, short), seen.evidence(fact)] for fact in told],
            describe=heading,
        )


def _not_all_back(seen: View) -> dict[str, str]:
    """By the last statement of each thing of which only some pieces went back ("refitted: 8 × screws"), what
    the customer is told of the others: one that is lost may lie where it does harm."""
    by_id = {fact.id: fact for fact in seen.facts}
    found: dict[str, str] = {}
    for end in seen.record.loose_ends:
        back = [
            fact
            for i in end.evidence
            if (fact := by_id.get(i)) is not None
            and fact.usable
            and isinstance(fact.detail, r.Step)
            and fact.detail.action not in seen.pairs.states
        ]
        lost = end.state == seen.pairs.lost_state
        text = seen.say("customer.not_all_found" if lost else "customer.not_all_back")
        found.update((fact.id, text) for fact in back[-1:])
    return found


def _step_cell(seen: View, fact: r.Fact, short: Mapping[str, str]) -> Cell:
    marks = [seen.mark(fact), short.get(fact.id, "")]
    return Cell(_step(seen, fact), remark="\n".join(text for text in marks if text))


def _step(seen: View, fact: r.Fact) -> str:
    text = seen.statement(fact)
    if isinstance(fact.detail, r.Part) and fact.detail.action == "reused":
        return f"{text} ({seen.say('customer.moved')})"
    return text


def _readings(seen: View, sheet: Sheet, shelf: Shelf) -> None:
    """One line for each thing measured, before and after the repair side by side where both exist."""
    groups = compared(seen)
    if not any(group.before and group.after for group in groups):
        sections.readings(seen, sheet, seen.say("customer.readings"))
        return
    sheet.heading(seen.say("customer.readings_compared"))
    rows: list[list[Cell | str]] = []
    for group in groups:
        facts = (*group.before, *group.after)
        limits = dict.fromkeys(
            values.limit(fact.detail.limit, fact.detail.unit, seen.wording)
            for fact in facts
            if isinstance(fact.detail, r.Measurement) and fact.detail.limit
        )
        rows.append(
            [
                Cell(group.name, remark=seen.marks(facts)),
                _taken(seen, group.before),
                _taken(seen, group.after),
                "\n".join(text for text in limits if text),
                seen.evidence(*facts),
            ]
        )
    sheet.table(
        [
            sections.column(seen, "reading", 3.4, always=True),
            sections.column(seen, "before", 3.4, always=True),
            sections.column(seen, "after", 3.4, always=True),
            sections.column(seen, "limit", 2.6),
            sections.evidence_column(seen),
        ],
        rows,
        describe=seen.say("customer.readings_compared"),
    )
    _charts(seen, sheet, shelf, groups)


def _charts(seen: View, sheet: Sheet, shelf: Shelf, groups: Sequence[Compared]) -> None:
    """A small chart for each thing that was measured both before and after, and is not in doubt."""
    drawn: list[tuple[Shown, str]] = []
    for group in groups:
        facts = [fact for fact in (*group.before, *group.after) if fact.usable]
        measured = [fact.detail for fact in facts if isinstance(fact.detail, r.Measurement)]
        limit = next((m.limit for m in reversed(measured) if m.limit), None)
        before, after = (
            [fact.detail.value for fact in side if fact.usable and isinstance(fact.detail, r.Measurement)]
            for side in (group.before, group.after)
        )
        picture = chart.strip(
            before, after, limit, shelf.drawing(), partial(values.number, wording=seen.wording)
        )
        if picture is None:
            continue
        filled = {
            "reading": group.name,
            "before": values.quantity(before[-1], group.unit, seen.wording),
            "after": values.quantity(after[-1], group.unit, seen.wording),
        }
        bounds = values.limit(limit, group.unit, seen.wording) if limit else ""
        if bounds:
            drawn.append((picture, seen.say("customer.chart_limit", limit=bounds, **filled)))
        else:
            drawn.append((picture, seen.say("customer.chart", **filled)))
    if drawn:
        sheet.paragraph(seen.say("customer.chart_key"), small=True, keep_with_next=True)
    for picture, caption in drawn:
        sheet.chart(picture, caption, chart.WIDTH_MM)


def _taken(seen: View, facts: Sequence[r.Fact]) -> str:
    """The readings of one cell: "5.1 bar, engine running (outside limit)", one a line."""
    lines = []
    for fact in facts:
        measured = fact.detail
        assert isinstance(measured, r.Measurement)
        text = values.quantity(measured.value, measured.unit, seen.wording)
        text = values.listed((text, values.conditions(measured, seen.wording)))
        verdict = values.verdict(measured, seen.wording)
        lines.append(f"{text} ({verdict})")
    return "\n".join(lines)


def _clock(seen: View, sheet: Sheet, *, headed: bool) -> None:
    clock = seen.of("clock")
    if not clock:
        return
    sheet.heading(seen.say("customer.clock"), 2 if headed else 1)
    rows: list[list[Cell | str]] = []
    for fact in clock:
        moment = seen.said_at(fact)
        when = "" if moment is None else values.date_time(moment, seen.wording)
        rows.append(
            [
                sections.time_of(seen, fact, when),
                sections.cell(seen, fact, seen.statement(fact)),
                seen.evidence(fact),
            ]
        )
    sheet.table(
        [
            sections.column(seen, "time", 3.4),
            sections.column(seen, "statement", 6.6, always=True),
            sections.evidence_column(seen),
        ],
        rows,
        describe=seen.say("customer.clock"),
    )


def _price(seen: View, sheet: Sheet) -> None:
    sheet.heading(seen.say("customer.price"))
    if money.priced(seen.record):
        money.invoice(seen, sheet)
    else:
        sheet.paragraph(seen.say("customer.no_prices"))


def _next(seen: View, sheet: Sheet) -> None:
    ordered = [
        fact
        for fact in seen.of("part")
        if isinstance(fact.detail, r.Part) and fact.detail.action == "ordered"
    ]
    told = partial(_in_their_words, seen)
    sections.statements(seen, sheet, (*seen.of("advisory"), *ordered), seen.say("customer.next"), told)


def _words(seen: View, sheet: Sheet) -> None:
    used = terms_in("\n".join(_customer_text(seen)), seen.wording.terms)
    if used:
        sheet.heading(seen.say("customer.words"))
        sheet.table(
            [
                Column(seen.say("column.word"), 3, always=True),
                Column(seen.say("column.means"), 9, always=True),
            ],
            [[Cell(sentence_case(term.word), bold=True), term.means] for term in used],
            describe=seen.say("customer.words"),
        )


def _customer_text(seen: View) -> list[str]:
    return [unmarked(values.statement(fact, seen.wording)) for fact in seen.facts]


def terms_in(text: str, terms: Sequence[Term]) -> tuple[Term, ...]:
    """The terms that `text` uses, in the order of the data, each once, whatever its form.

    A longer term hides a shorter one that is only part of it: "solenoid valve" is no "valve".
    """
    forms = {form.casefold(): term for term in reversed(terms) for form in (term.word, *term.forms)}
    if not forms:
        return ()
    longest_first = sorted(forms, key=len, reverse=True)
    pattern = r"(?<!\w)(?:" + "|".join(map(re.escape, longest_first)) + r")(?!\w)"
    found = {forms[match.casefold()].word for match in re.findall(pattern, text.casefold())}
    return tuple(term for term in terms if term.word in found)

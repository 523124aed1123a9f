"""What each reader finds in their document, and what they must not find there."""

from __future__ import annotations

import json
import re
from dataclasses import fields, replace
from datetime import UTC, timedelta, timezone
from decimal import Decimal
from pathlib import Path

import pytest
from coach_job import DAY, coach, drawing, note, photo
from documents_read import Written, alt_texts, tables_under, text_of, written
from docx.document import Document as Docx
from docx.oxml.ns import qn

from jobnotes import record as r
from jobnotes import record_json
from jobnotes.checking.check import check
from jobnotes.documents import wording, write_customer
from jobnotes.serve import office_forms

NBSP = "\u00a0"
MINUS = "\u2212"
# shown by a word of its own, not by its value
NAMED = {
    "action",
    "state",
    "verdict",
    "system",
    "unit",
    "kind",
    "condition",
    "component",
    "failure",
    "source",
}
DIGITS_OF_NAMES = {"256", "1939"}  # SHA-256, J1939


def squeezed(text: str) -> str:
    return " ".join(text.casefold().replace(NBSP, " ").split())


def said_values(value: object) -> list[str]:
    """Every text and number that a fact's detail holds, as a reader should find them."""
    found: list[str] = []
    for field in fields(value):  # type: ignore[arg-type]
        held = getattr(value, field.name)
        if held is None or field.name in NAMED or (field.name in ("spn", "fmi")):
            continue
        if isinstance(held, r.Limit):
            found += said_values(held)
        elif isinstance(held, tuple):
            found += held
        elif isinstance(held, Decimal):
            found.append(format(held, "f").replace("-", MINUS))
        else:
            found.append(str(held))
    return found


# what a document leaves out on purpose: warnings to colleagues and what is still loose are for the workshop,
# and where labour isn't charged by the clock its start and stop say nothing that its hours don't
LEFT_OUT = {"customer": ("hazard", "loose_end", "clock"), "claim": (), "workshop": ()}


def visible(record: r.Record, *, private: bool) -> list[r.Fact]:
    return [f for f in record.facts if f.status != "rejected" and (private or f.audience == "all")]


def meant_for(record: r.Record, name: str) -> list[r.Fact]:
    told = visible(record, private=name == "workshop")
    return [f for f in told if f.kind not in LEFT_OUT[name]]


@pytest.mark.parametrize("job", ["coach", "priced"])
@pytest.mark.parametrize("name", ["claim", "customer", "workshop"])
def test_every_fact_that_a_reader_may_see_is_in_their_document(
    request: pytest.FixtureRequest, job: str, name: str
) -> None:
    told: Written = request.getfixturevalue(f"{job}_documents")
    text = squeezed(text_of(getattr(told, name)))
    facts = meant_for(told.record, name)
    assert len(facts) > 35 - len(LEFT_OUT[name]) * 4
    missing = [(f.id, v) for f in facts for v in said_values(f.detail) if squeezed(v) not in text]
    assert missing == []


@pytest.mark.parametrize("name", ["claim", "customer", "workshop"])
def test_every_fact_is_shown_with_note_minute_and_second(coach_documents: Written, name: str) -> None:
    text = text_of(getattr(coach_documents, name))
    if name == "claim":
        # the index has note and time in columns of their own
        [index] = tables_under(coach_documents.claim, "Evidence index")
        shown = {f"{row.cells[2].text}{NBSP}{row.cells[3].text}" for row in index.rows}
    else:
        shown = set(re.findall(rf"N\d+{NBSP}\d+:\d\d", text))
    for fact in meant_for(coach_documents.record, name):
        if isinstance(fact.detail, r.PhotoCue) and name == "customer" and not fact.photos:
            continue
        seconds = int(fact.start_s or 0)
        assert f"{fact.note}{NBSP}{seconds // 60}:{seconds % 60:02d}" in shown


def digits_in(text: str) -> set[str]:
    return set(re.findall(r"[0-9]+", text))


@pytest.mark.parametrize("name", ["claim", "customer", "workshop"])
def test_every_number_in_a_document_is_in_the_record(coach_documents: Written, name: str) -> None:
    record = coach_documents.record
    allowed = digits_in(record_json.dumps(record)) | DIGITS_OF_NAMES
    for fact in record.facts:
        seconds = int(fact.start_s or 0)
        allowed |= {str(seconds // 60), f"{seconds % 60:02d}"}
    allowed |= {"1"}  # page fields hold a one until they are worked out
    doubtful = sum(f.status == "check" for f in visible(record, private=False))
    allowed |= {str(doubtful)}
    assert digits_in(text_of(getattr(coach_documents, name))) - allowed == set()


@pytest.mark.parametrize("name", ["claim", "customer", "workshop"])
def test_every_quantity_in_a_document_is_one_of_the_record_with_its_unit(
    coach_documents: Written, name: str
) -> None:
    shown_as = {"bar": "bar", "Ohm": "Ω", "N.m": "N·m", "mL": "mL", "km": "km"}
    held: set[tuple[Decimal, str]] = set()
    for fact in coach_documents.record.facts:
        if fact.status == "rejected":
            continue
        match fact.detail:
            case r.Measurement(value=value, unit=unit, limit=limit):
                bounds = [limit.min, limit.max, limit.nominal] if limit else []
                held |= {(v, shown_as[unit]) for v in (value, *bounds) if v is not None}
            case r.Part(quantity=Decimal() as value, unit=str(unit)):
                held.add((value, shown_as[unit]))
            case r.Identity(value=reading, unit=str(unit)):
                held.add((Decimal(reading), shown_as[unit]))
            case r.LabourSaid(hours=value):
                held.add((value, "h"))
    held |= {(line.hours, "h") for line in coach_documents.record.labour}
    text = text_of(getattr(coach_documents, name)).replace(MINUS, "-")
    shown = {
        (Decimal(value), unit)
        for value, unit in re.findall(rf"(?<![N\d])(-?\d+(?:\.\d+)?){NBSP}([^\s\d,;.)(]+)", text)
    }
    assert len(shown) >= 8
    assert shown <= held


def test_what_was_taken_back_is_in_no_document(coach_documents: Written) -> None:
    for _, document in coach_documents.each():
        text = text_of(document)
        assert f"60{NBSP}N·m" not in text
        assert f"66{NBSP}N·m" in text


@pytest.mark.parametrize("name", ["claim", "customer"])
def test_private_remarks_and_their_photos_stay_in_the_workshop(coach_documents: Written, name: str) -> None:
    document = getattr(coach_documents, name)
    text = text_of(document)
    for private in ("walk home", "depot about the bill", "Photo P9", "private"):
        assert private not in text
    assert "walk home" in text_of(coach_documents.workshop)


def test_the_customers_report_has_no_words_as_heard_and_no_digests(coach_documents: Written) -> None:
    text = text_of(coach_documents.customer)
    for fact in coach_documents.record.facts:
        assert fact.quote not in text
    for original in (*coach_documents.record.notes, *coach_documents.record.photos):
        assert original.sha256 not in text
        assert original.file not in text


def test_the_claim_has_the_words_in_which_a_code_was_told_to_be_gone(coach_documents: Written) -> None:
    gone = [f for f in coach_documents.record.facts if getattr(f.detail, "state", None) == "cleared"]
    assert gone
    for fact in gone:
        assert f"in words: “{fact.quote.strip(' .,;')}”" in text_of(coach_documents.claim)


def test_a_labour_line_that_rests_on_a_private_remark_keeps_its_hours_and_loses_its_words(
    tmp_path: Path,
) -> None:
    record = coach()
    private = next(f for f in record.facts if f.audience == "workshop")
    line = r.LabourLine("putting right what some fool did", Decimal("0.7"), "said", (private.id,))
    told = written(replace(record, labour=(line,)), tmp_path)
    for name, document in told.each():
        text = text_of(document)
        assert f"0.7{NBSP}h" in text
        assert ("some fool" in text) == (name == "workshop")


def test_the_claim_is_marked_a_draft_while_a_statement_is_doubtful(coach_documents: Written) -> None:
    opening = [p.text for p in coach_documents.claim.paragraphs[:3]]
    assert any(line.startswith("Draft – 2 statements to be checked") for line in opening)
    text = text_of(coach_documents.claim)
    for fact in coach_documents.record.facts:
        if fact.status == "check":
            assert f"To be checked: {fact.why}" in text


def test_the_work_as_the_customer_reads_it_tells_what_went_on_and_not_only_what_came_off(
    coach_documents: Written,
) -> None:
    fitted = [
        f.detail for f in visible(coach_documents.record, private=False) if isinstance(f.detail, r.Part)
    ]
    names = {part.name for part in fitted if part.action == "fitted"}
    told = text_of(coach_documents.customer).partition("The work, step by step")[2].partition("Labour")[0]
    steps = [line for line in told.splitlines() if line.startswith("Fitted: ")]
    assert names
    assert all(any(name in step for step in steps) for name in names)


@pytest.mark.parametrize(("name", "marked"), [("claim", True), ("customer", True), ("workshop", False)])
def test_each_page_of_a_draft_says_that_it_is_one(coach_documents: Written, name: str, marked: bool) -> None:
    (document,) = [document for told, document in coach_documents.each() if told.startswith(name)]
    foot = "".join(paragraph.text for paragraph in document.sections[0].footer.paragraphs)
    assert foot.startswith("Draft · ") is marked


def test_a_claim_without_doubt_is_no_draft(tmp_path: Path) -> None:
    record = coach()
    settled = tuple(
        replace(f, status="accepted", why=None) if f.status == "check" else f for f in record.facts
    )
    told = written(replace(record, facts=settled), tmp_path)
    for _, document in told.each():
        text = text_of(document)
        assert "Draft" not in text
        assert "to be checked" not in text.casefold().replace("statements to be checked", "")
        assert "confirmed" not in text
    assert "accepted by a person" in text_of(told.claim)


def test_a_draft_with_one_doubtful_statement_says_so_in_the_singular(tmp_path: Path) -> None:
    record = coach()
    first = next(f for f in record.facts if f.status == "check")
    told = written(replace(record, facts=(first,)), tmp_path)
    assert "Draft – 1 statement to be checked" in text_of(told.claim)
    assert "1 statement in this report is still to be confirmed" in text_of(told.customer)


def test_every_doubtful_fact_is_marked_for_the_customer_without_the_reason(coach_documents: Written) -> None:
    text = text_of(coach_documents.customer)
    doubtful = [f for f in coach_documents.record.facts if f.status == "check"]
    for fact in doubtful:
        assert (fact.why or "") not in text
    rows = [
        [cell.text for cell in row.cells] for table in coach_documents.customer.tables for row in table.rows
    ]
    marked = [row for row in rows if any("To be confirmed" in cell for cell in row)]
    assert any("C1A2F-13" in cell for row in marked for cell in row)
    assert any("rear right air spring" in cell.casefold() for row in marked for cell in row)


def test_what_the_claim_lacks_stands_in_the_job_sheet_only(coach_documents: Written) -> None:
    for gap in coach_documents.record.claim_gaps:
        assert gap.message in text_of(coach_documents.workshop).casefold()
        assert gap.remedy in text_of(coach_documents.workshop).casefold()
        for document in (coach_documents.claim, coach_documents.customer):
            assert gap.message not in text_of(document).casefold()
            assert gap.remedy not in text_of(document).casefold()


def test_the_customer_reads_no_warning_to_colleagues_and_no_loose_end(tmp_path: Path) -> None:
    record = coach()
    told = (r.Statement("hazard", "careful she drops"), r.Statement("loose_end", "one clip dropped"))
    more = tuple(
        r.Fact(f"X{n}", detail, "", 0.9, "sure", note="N3", start_s=170.0 + n, photos=("P10",))
        for n, detail in enumerate(told)
    )
    documents = written(replace(record, facts=(*record.facts, *more)), tmp_path)
    customer, sheet = text_of(documents.customer).casefold(), text_of(documents.workshop).casefold()
    for detail in told:
        assert detail.text in sheet
        assert detail.text not in customer
    assert "photo p10" not in customer
    assert "work paused" not in customer


def test_the_customer_sees_the_clock_where_the_hours_are_charged_by_it(tmp_path: Path) -> None:
    record = coach()
    clock = tuple(f.id for f in record.facts if f.kind == "clock")
    hours = r.Charge("C1", "labour", "labour", Decimal("3.9"), "h", clock, unit_price=Decimal(80))
    told = written(replace(record, charges=(hours,)), tmp_path)
    assert "Times on the job" in headings(told.customer) + [p.text for p in told.customer.paragraphs]


def test_what_was_lost_is_told_to_the_customer_at_the_top_and_is_no_step_of_the_work(tmp_path: Path) -> None:
    facts = steps(("lost", "one cover screw", "sure"), ("refitted", "cover", "sure"))
    ends = (r.LooseEnd("one cover screw was lost", "F0", "lost"),)
    record = r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts, loose_ends=ends)
    told = written(record, tmp_path)
    assert "cover screw" in text_of(told.workshop)
    assert "Refitted: cover" in text_of(told.customer)
    assert text_of(told.customer).count("cover screw") == 1
    assert text_of(told.customer).index("cover screw") < text_of(told.customer).index("Refitted: cover")


def test_the_price_comes_straight_after_what_was_done(priced_documents: Written) -> None:
    order = headings(priced_documents.customer)
    assert order.index("Price") == order.index("What was done") + 1


def test_a_claims_summary_begins_with_what_is_keyed_and_ends_with_what_is_rarely_asked(
    priced_documents: Written,
) -> None:
    first = [row.cells[0].text for row in priced_documents.claim.tables[0].rows[1:]]
    for early in ("Amount claimed, warranty", "Causal part", "Fault codes"):
        for late in ("Customer", "Technician", "Work done"):
            assert first.index(early) < first.index(late)
    assert "Engine hours" not in first


def test_the_claim_names_its_number_its_payer_and_the_buyer(tmp_path: Path) -> None:
    record = coach()
    buyer = r.Party("Harbour Line (invented)", "1 Depot Road", "ZZ2", "Sampleton")
    job = replace(record.job, claim_number="W-77", payer="Sample Cover (invented)")
    told = written(replace(record, job=job, invoice=r.Invoice(buyer=buyer)), tmp_path)
    rows = {row.cells[0].text: row.cells[1].text for row in told.claim.tables[0].rows[1:]}
    assert rows["Claim number"] == "W-77"
    assert rows["Claimed from"] == "Sample Cover (invented)"
    assert rows["Vehicle’s owner"] == "Harbour Line (invented), 1 Depot Road, ZZ2 Sampleton"


def test_a_vehicle_that_counts_hours_needs_no_odometer(tmp_path: Path) -> None:
    told = written(r.Record(job=r.Job(engine_hours=r.Odometer("4120", "h"))), tmp_path)
    rows = [row.cells[0].text for row in told.claim.tables[0].rows]
    assert "Engine hours" in rows
    assert "Odometer" not in rows


def test_a_doubtful_causal_part_is_named_as_to_be_checked(tmp_path: Path) -> None:
    said = r.Statement("cause", "the height sensor has failed")
    facts = (
        r.Fact("F1", said, "", 0.9, "sure", note="N1", start_s=1.0),
        r.Fact("F2", r.Part("height sensor", "fitted"), "", 0.5, "check", "hard to hear", "N1", 2.0),
    )
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    rows = {row.cells[0].text: row.cells[1].text for row in told.claim.tables[0].rows[1:]}
    assert rows["Causal part"].split("\n")[0] == "Height sensor, to be checked"


def test_a_part_in_a_causes_words_is_the_causal_part_though_the_cause_is_laid_to_another(
    tmp_path: Path,
) -> None:
    said = r.Statement("cause", "coolant in the plug of the height sensor, the seal has gone", "plug")
    facts = (
        r.Fact("F1", said, "", 0.9, "sure", note="N1", start_s=1.0),
        r.Fact("F2", r.Part("height sensor", "fitted"), "", 0.9, "sure", note="N1", start_s=2.0),
        r.Fact("F3", r.Part("belt", "fitted"), "", 0.9, "sure", note="N1", start_s=3.0),
    )
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    rows = {row.cells[0].text: row.cells[1].text for row in told.claim.tables[0].rows[1:]}
    assert rows["Causal part"] == "Fitted: height sensor"


def test_the_job_sheet_names_dangers_before_its_general_cautions(tmp_path: Path) -> None:
    said = r.Statement("hazard", "she drops when the air goes out")
    facts = (r.Fact("F1", said, "", 0.9, "sure", note="N1", start_s=1.0),)
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    named = headings(told.workshop)
    assert named.index("Dangers that were named") < named.index("Cautions")
    assert "She drops when the air goes out" in text_of(told.workshop)


@pytest.mark.parametrize(
    ("quantity", "subject", "named"),
    [
        ("resistance", "resistance between pin 1 and pin 2", "Resistance between pin 1 and pin 2"),
        ("resistance", "between pin 1 and pin 2", "Resistance between pin 1 and pin 2"),
        ("voltage", "supply voltage at the sensor", "Supply voltage at the sensor"),
        ("pressure", "air pressure in the rear tank", "Air pressure in the rear tank"),
        ("length", "ride height left rear", "Ride height left rear"),
        ("length", "Ride high left rear", "Ride high left rear"),
        ("pressure", "rear tank", "Pressure at rear tank"),
    ],
)
def test_a_reading_is_not_called_by_its_quantity_twice(
    tmp_path: Path, quantity: str, subject: str, named: str
) -> None:
    reading = r.Measurement(Decimal("5.1"), "bar", quantity, subject)
    fact = r.Fact("F1", reading, "", 0.9, "sure", note="N1", start_s=1.0)
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=(fact,)), tmp_path)
    [table] = tables_under(told.claim, "Readings")
    assert table.rows[1].cells[0].text == named
    assert text_of(told.workshop).casefold().count(f"{quantity} at {quantity}") == 0


def headings(document: Docx) -> list[str]:
    return [p.text for p in document.paragraphs if p.style is not None and p.style.name == "Heading 1"]


def test_loose_ends_come_first_in_the_job_sheet_and_then_what_the_claim_lacks(
    coach_documents: Written,
) -> None:
    first, second, *_ = headings(coach_documents.workshop)
    assert "Loose ends" in first
    assert "claim still lacks" in second
    [table] = tables_under(coach_documents.workshop, first)
    shown = [row.cells[0].text.casefold() for row in table.rows[1:]]
    assert shown == [end.text.casefold() for end in coach_documents.record.loose_ends]


def test_a_word_that_was_put_right_is_shown_beside_the_words_as_heard(tmp_path: Path) -> None:
    reading = r.Measurement(Decimal(2), "MOhm", "resistance", "heater")
    mended = (r.Repair("megones", "megohms"),)
    fact = r.Fact("F1", reading, "two megones at the heater", 0.8, "sure", None, "N1", 1.0, repairs=mended)
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=(fact,)), tmp_path)
    assert "two megones at the heater\n“megones” read as “megohms”" in text_of(told.workshop)
    assert "“megones” read as “megohms”" in text_of(told.claim)  # in its index of evidence
    assert "megones" not in text_of(told.customer)


def test_a_job_without_loose_ends_says_so_and_still_asks_to_look(tmp_path: Path) -> None:
    told = written(replace(coach(), loose_ends=(), claim_gaps=()), tmp_path)
    text = text_of(told.workshop)
    assert "No loose end is left" in text
    assert "Look all the same" in text
    assert "No rule of the claim policy is unmet" in text


def test_the_ledger_pairs_what_came_off_with_what_put_it_back(coach_documents: Written) -> None:
    [table] = tables_under(coach_documents.claim, "Take-apart and put-back")
    pairs = {row.cells[0].text: row.cells[1].text for row in table.rows[1:]}
    assert pairs["Drained: rear air tank"] == "Filled: rear air tank"
    assert pairs["Removed: wheel arch liner"] == "Refitted: wheel arch liner"
    assert pairs["Removed: 4 × lower clamp ring bolts"].startswith("Fitted: 4 × clamp ring bolt")
    assert pairs["Removed: height sensor linkage"] == "Height sensor linkage is off and was not refitted"


def test_one_answer_is_not_given_to_two_things_that_came_off(tmp_path: Path) -> None:
    said = [("removed", "left mudguard"), ("removed", "right mudguard"), ("refitted", "left mudguard")]
    facts = tuple(
        r.Fact(
            f"F{n}",
            r.Step(action, thing),
            "",
            0.9,
            "sure",
            note="N1",
            start_s=float(n),
            at=DAY + timedelta(seconds=n),
        )
        for n, (action, thing) in enumerate(said)
    )
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    [table] = tables_under(told.claim, "Take-apart and put-back")
    pairs = {row.cells[0].text: row.cells[1].text for row in table.rows[1:]}
    assert pairs == {
        "Removed: left mudguard": "Refitted: left mudguard",
        "Removed: right mudguard": "Not stated separately",
    }


def steps(*said: tuple[str, str, r.Status]) -> tuple[r.Fact, ...]:
    return tuple(
        r.Fact(
            f"F{n}",
            r.Step(action, thing),
            "",
            0.9,
            status,
            None,
            "N1",
            float(n),
            None,
            DAY + timedelta(seconds=n),
        )
        for n, (action, thing, status) in enumerate(said)
    )


def test_two_of_one_name_need_two_answers_and_one_may_not_serve_for_a_like_thing(tmp_path: Path) -> None:
    facts = steps(
        ("removed", "front mudguard", "sure"),
        ("removed", "mudguard", "sure"),
        ("refitted", "mudguard", "sure"),
    )
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    [table] = tables_under(told.claim, "Take-apart and put-back")
    back = [row.cells[1].text for row in table.rows[1:]]
    assert back.count("Refitted: mudguard") == 1
    assert back.count("Not stated separately") == 1


def test_one_answer_serves_a_thing_that_was_open_in_two_ways_and_everything_serves_all(
    tmp_path: Path,
) -> None:
    facts = steps(
        ("disconnected", "height sensor", "sure"),
        ("removed", "height sensor", "sure"),
        ("removed", "mudguard", "sure"),
        ("removed", "step plate", "sure"),
        ("refitted", "height sensor", "sure"),
        ("refitted", "everything", "sure"),
    )
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    [table] = tables_under(told.claim, "Take-apart and put-back")
    assert [row.cells[1].text for row in table.rows[1:]] == [
        "Refitted: height sensor",
        "Refitted: height sensor",
        "Refitted: everything",
        "Refitted: everything",
    ]


def test_the_same_name_goes_before_one_that_may_mean_the_same(tmp_path: Path) -> None:
    facts = steps(
        ("removed", "mudguard", "sure"),
        ("removed", "front mudguard", "sure"),
        ("refitted", "front mudguard", "sure"),
        ("refitted", "mudguard", "sure"),
    )
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    [table] = tables_under(told.claim, "Take-apart and put-back")
    back = {row.cells[0].text: row.cells[1].text for row in table.rows[1:]}
    assert back["Removed: mudguard"] == "Refitted: mudguard"
    assert back["Removed: front mudguard"] == "Refitted: front mudguard"


def test_what_was_on_for_a_test_is_one_line_once_it_is_off_again(tmp_path: Path) -> None:
    facts = steps(("connected", "pressure gauge", "sure"), ("removed", "pressure gauge", "sure"))
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts), tmp_path)
    [table] = tables_under(told.claim, "Take-apart and put-back")
    assert [[c.text for c in row.cells[:2]] for row in table.rows[1:]] == [
        ["Connected: pressure gauge", "Removed: pressure gauge"]
    ]


def test_what_the_record_calls_a_loose_end_is_not_shown_as_put_back(tmp_path: Path) -> None:
    """The put-back was heard, but not for certain: the check left it open, and so does the ledger."""
    facts = steps(("removed", "mudguard", "sure"), ("refitted", "mudguard", "check"))
    end = r.LooseEnd("mudguard still off", "F0", "off")
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=facts, loose_ends=(end,)), tmp_path)
    [table] = tables_under(told.claim, "Take-apart and put-back")
    assert [row.cells[1].text for row in table.rows[1:]] == ["Mudguard still off"]


def test_reused_parts_are_not_among_the_parts_fitted(coach_documents: Written) -> None:
    [table] = tables_under(coach_documents.customer, "Parts and materials fitted")
    names = [row.cells[0].text.casefold() for row in table.rows[1:]]
    assert names == ["rear left air spring", "clamp ring bolt", "thread locker", "cable tie"]
    assert "Re-used: 1 × top plate (taken from your vehicle and fitted again)" in text_of(
        coach_documents.customer
    )


def test_without_totals_the_office_adds_the_prices_and_no_price_is_shown(coach_documents: Written) -> None:
    text = text_of(coach_documents.customer)
    assert "Prices are added by the office." in text
    assert "0.00" not in text
    assert "Amount claimed" not in text_of(coach_documents.claim)


def test_readings_before_and_after_the_repair_stand_side_by_side_with_a_chart(
    coach_documents: Written,
) -> None:
    [table] = tables_under(coach_documents.customer, "Readings before and after the repair")
    row = next(row for row in table.rows if row.cells[0].text == "Pressure at rear left air spring")
    assert row.cells[1].text.startswith(f"5.1{NBSP}bar")
    assert row.cells[2].text.startswith(f"8.1{NBSP}bar")
    charts = [alt for alt in alt_texts(coach_documents.customer) if "after it" in alt]
    assert charts == [
        f"Pressure at rear left air spring: 5.1{NBSP}bar before the repair, 8.1{NBSP}bar after it; "
        f"limit 7.5 to 8.5{NBSP}bar (as stated)."
    ]


def test_terms_are_explained_once_and_only_those_that_are_used(coach_documents: Written) -> None:
    [table] = tables_under(coach_documents.customer, "Words used in this report")
    words = [row.cells[0].text for row in table.rows[1:]]
    assert "Air spring" in words
    assert "SPN" in words
    assert "Alternator" not in words
    assert len(words) == len(set(words))


def test_times_are_shown_in_the_offset_of_their_own_note(tmp_path: Path) -> None:
    """A photo whose time is held in UTC, and a second note after the clocks went back."""
    winter = (DAY + timedelta(days=140)).replace(hour=7, tzinfo=timezone(timedelta(hours=1)))
    notes = (note(1, DAY), note(2, winter))
    utc = UTC
    facts = (
        r.Fact(
            "F1",
            r.Step("tested", "lamp"),
            "",
            0.9,
            "sure",
            note="N1",
            start_s=1.0,
            at=(DAY + timedelta(seconds=1)).astimezone(utc),
            photos=("P1",),
        ),
        r.Fact(
            "F2",
            r.Step("tested", "horn"),
            "",
            0.9,
            "sure",
            note="N2",
            start_s=1.0,
            at=(winter + timedelta(seconds=1)).astimezone(utc),
        ),
    )
    shot = photo(1, (DAY + timedelta(minutes=3)).astimezone(utc), fact_ids=("F1",))
    told = written(r.Record(job=r.Job(), notes=notes, photos=(shot,), facts=facts), tmp_path)
    text = text_of(told.workshop)
    assert "17 June 2031, clock at UTC+02:00" in text
    assert "4 November 2031, clock at UTC+01:00" in text
    clock = [row.cells[0].text for table in told.workshop.tables for row in table.rows if len(row.cells) > 3]
    assert "08:02" in clock
    assert "07:02" in clock
    assert "17 June 2031, 08:05" in text_of(told.claim)


def _loose_job() -> r.Record:
    """Nine screws off, eight on, one lost; a valve whose closing was heard in doubt; doubtful orders."""
    began = note(1, DAY)
    told = (
        ("F1", r.Step("removed", "screws", Decimal(9)), "sure", None, "nine screws off"),
        ("F2", r.Step("opened", "drain valve"), "sure", None, "opened the drain valve"),
        ("F3", r.Step("refitted", "screws", Decimal(8)), "sure", None, "eight screws back"),
        ("F4", r.Step("lost", "screw", Decimal(1)), "sure", None, "one screw is lost"),
        ("F5", r.Step("closed", "drain valve"), "check", "heard as 'close it': was it done?", "close it"),
        ("F6", r.Step("reset", "lamp"), "check", "heard as 'reset it': was it done?", "reset it"),
        ("F7", r.Step("tested", "horn"), "check", "not sure of 'horn'", "test the horn"),
    )
    facts = tuple(
        r.Fact(
            *(i, detail, quote, 0.9, status),
            why=why,
            note="N1",
            start_s=10.0 * n,
            end_s=10.0 * n + 2,
            at=DAY + timedelta(seconds=10 * n),
        )
        for n, (i, detail, status, why, quote) in enumerate(told, 1)
    )
    doubt = "its putting back was heard, but not for certain"
    ends = (
        r.LooseEnd("drain valve still open", "F2", "open", ("F5",), doubt),
        r.LooseEnd("1 of 9 screws still off: lost", "F1", "lost", ("F3", "F4")),
    )
    return r.Record(r.Job(), (began,), facts=facts, loose_ends=ends)


def test_the_job_sheet_shows_what_is_loose_for_certain_first_and_all_that_bears_on_it(
    tmp_path: Path,
) -> None:
    sheet = written(_loose_job(), tmp_path).workshop
    [table] = tables_under(sheet, "Loose ends – before the vehicle leaves")
    assert [[cell.text.replace(NBSP, " ") for cell in row.cells] for row in table.rows[1:]] == [
        ["1 of 9 screws still off: lost", "lost", "N1 0:10\nN1 0:30\nN1 0:40"],
        [
            "Drain valve still open\nTo be checked: its putting back was heard, but not for certain",
            "perhaps open",
            "N1 0:20\nN1 0:50",
        ],
    ]


def test_the_ledger_has_one_line_for_what_is_one_loose_end(tmp_path: Path) -> None:
    [table] = tables_under(written(_loose_job(), tmp_path).claim, "Take-apart and put-back")
    assert [row.cells[0].text for row in table.rows[1:]] == [
        "Removed: 9 × screws",
        "Opened: drain valve",
    ]


def test_each_doubtful_statement_has_its_reason_its_words_and_its_second_in_its_row(tmp_path: Path) -> None:
    [table] = tables_under(written(_loose_job(), tmp_path).workshop, "Statements to be checked")
    rows = [[cell.text.replace(NBSP, " ") for cell in row.cells] for row in table.rows[1:]]
    assert rows == [
        ["Closed: drain valve\nTo be checked: was it done?", "close it", "N1 0:50"],
        ["Reset: lamp\nTo be checked: was it done?", "reset it", "N1 1:00"],
        ["Tested: horn\nTo be checked: not sure of 'horn'", "test the horn", "N1 1:10"],
    ]


def test_a_doubtful_statement_told_twice_in_the_same_words_is_asked_about_once(tmp_path: Path) -> None:
    record = _loose_job()
    doubtful = next(fact for fact in record.facts if fact.id == "F7")
    again = replace(doubtful, id="F8", start_s=80.0, end_s=82.0, at=DAY + timedelta(seconds=80))
    told = written(replace(record, facts=(*record.facts, again)), tmp_path)
    [table] = tables_under(told.workshop, "Statements to be checked")
    last = [cell.text.replace(NBSP, " ") for cell in table.rows[-1].cells]
    assert (len(table.rows), last[-1]) == (4, "N1 1:10\nN1 1:20")


def test_the_customer_reads_on_the_first_page_that_a_piece_is_lost_where_it_went_and_what_is_to_be_done(
    tmp_path: Path,
) -> None:
    record = _loose_job()
    lost = replace(
        record.loose_ends[1],
        text="1 of 9 screws still off: lost, down behind the axle",
        place="down behind the axle",
    )
    customer = written(replace(record, loose_ends=(record.loose_ends[0], lost)), tmp_path).customer
    text = text_of(customer)
    assert (
        "Lost during the work, and not found yet\n1 of 9 screws still off: lost, down behind the axle\n"
        "It may still be in or on the vehicle, so it is to be found, and put back or replaced, before the "
        "vehicle leaves."
    ) in text
    # before the work is told step by step, and again beside what it is a piece of
    steps = text.index("Refitted: 8 × screws\nNot all of them are back: the rest was lost during the work")
    assert text.index("down behind the axle") < text.index("Removed: 9 × screws") < steps
    assert text.count("down behind the axle") == 1


def test_the_customer_reads_of_a_loss_that_was_only_remarked_the_thing_and_the_place_and_not_the_remark(
    tmp_path: Path,
) -> None:
    words = "the bloody screw fell behind the gearbox cross member"
    remark = r.Fact(
        "F1", r.Statement("loose_end", words, "screw"), words, 0.9, "sure", note="N1", start_s=1.0
    )
    private = replace(remark, id="F2", audience="workshop")
    ends = tuple(
        r.LooseEnd(words, i, "lost", place=f"behind the {where}")
        for i, where in (("F1", "gearbox cross member"), ("F2", "seat"))
    )
    told = written(r.Record(r.Job(), (note(1, DAY),), facts=(remark, private), loose_ends=ends), tmp_path)
    text = text_of(told.customer)
    assert "Screw: lost, behind the gearbox cross member" in text
    assert "bloody" not in text
    assert "seat" not in text
    [table] = tables_under(told.workshop, "Loose ends – before the vehicle leaves")
    assert "behind the gearbox cross member" in table.rows[1].cells[0].text


def test_the_customer_reads_of_pieces_that_are_only_still_off_that_they_go_back(tmp_path: Path) -> None:
    record = _loose_job()
    still_off = replace(record.loose_ends[1], text="1 of 9 screws still off", state="off", evidence=("F3",))
    facts = tuple(fact for fact in record.facts if fact.id != "F4")
    text = text_of(written(replace(record, facts=facts, loose_ends=(still_off,)), tmp_path).customer)
    assert "Not all of them are back yet: the rest is to be put back before the vehicle leaves." in text
    assert "lost" not in text.casefold()


def _parts_job(*parts: r.Part) -> r.Record:
    facts = tuple(
        r.Fact(f"F{n}", part, "", 0.9, "sure", note="N1", start_s=10.0 * n, at=DAY + timedelta(seconds=n))
        for n, part in enumerate(parts, 1)
    )
    return r.Record(r.Job(), (note(1, DAY),), facts=facts)


def test_a_part_told_again_without_more_is_one_row_with_both_places(tmp_path: Path) -> None:
    full = r.Part("thermostat", "fitted", Decimal(1), None, "88-12", None, "new")
    bare = r.Part("Thermostat", "fitted")
    other = r.Part("thermostat", "fitted", None, None, "99-1")
    told = written(_parts_job(bare, full, other), tmp_path)
    for document, heading in ((told.claim, "Parts"), (told.customer, "Parts and materials fitted")):
        [table] = tables_under(document, heading)
        rows = [[row.cells[0].text, row.cells[1].text, row.cells[-1].text] for row in table.rows[1:]]
        assert rows == [
            ["Thermostat", "88-12", f"N1{NBSP}0:20\nN1{NBSP}0:10"],
            ["Thermostat", "99-1", f"N1{NBSP}0:30"],
        ]


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("I replaced the hose", "In the technician’s words: “I replaced the hose”"),
        ("we've adjusted it", "In the technician’s words: “We've adjusted it”"),
        ("replaced the hose", "Replaced the hose"),
        ("replaced the wiring", "Replaced the wiring"),
    ],
)
def test_what_was_said_in_the_first_person_is_a_quotation_to_the_customer(
    tmp_path: Path, said: str, shown: str
) -> None:
    fact = r.Fact("F1", r.Statement("correction", said), said, 0.9, "sure", note="N1", start_s=1.0, at=DAY)
    told = written(r.Record(r.Job(), (note(1, DAY),), facts=(fact,)), tmp_path)
    [table] = tables_under(told.customer, "What was done")
    assert table.rows[1].cells[0].text == shown


def test_unlinked_photos_are_shown_in_the_job_sheet_and_nowhere_else(coach_documents: Written) -> None:
    assert "Photo P10" in text_of(coach_documents.workshop)
    assert "Photo P10" not in text_of(coach_documents.claim)
    assert "Photo P10" not in text_of(coach_documents.customer)


def test_the_claim_lists_every_original_with_its_digest(coach_documents: Written) -> None:
    [table] = tables_under(coach_documents.claim, "Originals")
    shown = {row.cells[0].text: (row.cells[1].text, row.cells[-1].text) for row in table.rows[1:]}
    record = coach_documents.record
    assert shown == {o.id: (o.file, o.sha256) for o in (*record.notes, *record.photos)}


def test_a_photo_whose_time_was_moved_is_told_with_how_far_and_on_what_grounds(tmp_path: Path) -> None:
    fast = photo(1, DAY, camera="phone A", clock_offset_s=-3600.0)
    by_hand = photo(2, DAY, camera="phone B", clock_offset_s=252.0)
    right = photo(3, DAY, camera="phone C")
    clock = r.CameraClock("phone A", -3600.0, 5, 6, "camera clock is 1 h fast")
    record = r.Record(r.Job(), (note(1, DAY),), (fast, by_hand, right), camera_clocks=(clock,))
    [table] = tables_under(written(record, tmp_path).claim, "Originals")
    sources = {row.cells[0].text: row.cells[3].text.replace(NBSP, " ") for row in table.rows[1:]}
    assert sources == {
        "N1": "the recording",
        "P1": f"Exif data, moved by {MINUS}1 h (5 of 6 cues agree)",
        "P2": "Exif data, moved by +4 min 12 s",
        "P3": "Exif data",
    }


def test_a_clock_that_a_job_card_told_is_told_by_that_card(tmp_path: Path) -> None:
    slow = photo(1, DAY, camera="phone A", clock_offset_s=7387.0)
    clock = r.CameraClock("phone A", 7387.0, 0, 2, "camera clock is 2 h 3 min 7 s slow", card="P1")
    record = r.Record(r.Job(), (note(1, DAY),), (slow,), camera_clocks=(clock,))
    told = written(record, tmp_path)
    [table] = tables_under(told.claim, "Originals")
    assert table.rows[-1].cells[3].text.endswith("(by the job card P1)")
    assert "s, by the job card P1" in text_of(told.workshop)


def test_what_was_stated_by_hand_is_shown_with_who_and_when(tmp_path: Path) -> None:
    at = DAY + timedelta(hours=30)
    stated = (
        r.Stated("claim_number", "A. Clerk", at, "W-55"),
        r.Stated("failed_on", "A. Clerk", at, "2031-06-16", "2031-06-15"),
        r.Stated("customer.name", "B. Clerk", at, "Sample Lines"),
        r.Stated("invoice.discount_percent", "B. Clerk", at, "15"),
        r.Stated("vin", "B. Clerk", at, None, "DEMO000000000001X"),
    )
    record = r.Record(r.Job(), (note(1, DAY),), details=r.Details("job.toml", "ab" * 32), stated=stated)
    told = written(record, tmp_path)
    [table] = tables_under(told.claim, "Stated at the desk")
    rows = {row.cells[0].text: [cell.text for cell in row.cells[1:]] for row in table.rows[1:]}
    when = "18 June 2031, 14:02"
    assert rows == {
        "Claim number": ["W-55", "A. Clerk", when],
        "Failed on": [
            "2031-06-16\nin place of “2031-06-15” in the office’s file",
            "A. Clerk",
            when,
        ],
        "Customer: name": ["Sample Lines", "B. Clerk", when],
        "Vehicle identification number": [
            "that there is none\nin place of “DEMO000000000001X” in the office’s file",
            "B. Clerk",
            when,
        ],
    }
    # what the customer pays is not the payer's business, but the workshop's
    assert "discount" not in text_of(told.claim)
    [sheet] = tables_under(told.workshop, "Stated at the desk")
    assert [row.cells[0].text for row in sheet.rows[1:]][3] == "Invoice: discount in percent"


def test_every_entry_that_the_office_can_state_has_a_name_in_the_documents() -> None:
    fields = [field.key for group in office_forms.groups(None) for field in group.fields]
    texts = wording.load("en").texts
    assert [key for key in fields if f"stated.{key}" not in texts] == []


def test_a_field_of_the_office_is_called_as_the_documents_call_what_is_in_it() -> None:
    labels = {field.key: field.label for group in office_forms.groups(None) for field in group.fields}
    texts = wording.load("en").texts
    own = [key for key in labels if "." not in key]
    assert {key: labels[key] for key in own} == {key: texts[f"stated.{key}"] for key in own}
    assert labels["invoice.due_on"] == texts["label.due_on"]


def test_problems_and_camera_clocks_are_told_to_the_workshop(coach_documents: Written) -> None:
    text = text_of(coach_documents.workshop)
    assert "IMG_0099.jpg" in text
    assert coach_documents.record.camera_clocks[0].message in text
    assert "moved by +3600 s; 2 of 2 photo cues agree" in text


def test_every_document_defers_to_the_maker_and_does_not_judge_safety(coach_documents: Written) -> None:
    for _, document in coach_documents.each():
        text = text_of(document)
        assert "does not diagnose" in text
        assert "does not judge that a vehicle is safe to use" in text
        assert "maker’s service information" in text
    assert "prop and lock it" in text_of(coach_documents.workshop)


def test_the_claim_names_what_a_clerk_would_look_for_and_was_not_said(tmp_path: Path) -> None:
    told = written(r.Record(job=r.Job(number="7")), tmp_path)
    rows = {row.cells[0].text: row.cells[1].text for t in told.claim.tables for row in t.rows}
    for item in (
        "Registration",
        "Odometer",
        "Complaint",
        "Cause",
        "Correction",
        "Causal part",
        "Fault codes",
    ):
        assert rows[item] == "not stated"


def test_a_photo_that_is_linked_from_either_side_is_shown_once(tmp_path: Path) -> None:
    facts = tuple(
        r.Fact(
            f"F{n}", r.Statement("finding", f"thing {n}"), "", 0.9, "sure", note="N1", start_s=1.0, photos=own
        )
        for n, own in ((1, ("P1",)), (2, ()))
    )
    shots = (photo(1, DAY, fact_ids=("F1", "F2")), photo(2, DAY, fact_ids=("F2",)))
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), photos=shots, facts=facts), tmp_path)
    assert len(told.claim.inline_shapes) == 2
    rows = {row.cells[0].text: row.cells[-1].text for row in tables_under(told.claim, "Findings")[0].rows}
    assert rows["Thing 1"].endswith("P1")
    assert rows["Thing 2"].endswith("P1, P2")


def test_a_plain_transcript_without_times_gives_documents_too(tmp_path: Path) -> None:
    facts = tuple(replace(f, note=None, start_s=None, end_s=None, at=None, photos=()) for f in coach().facts)
    told = written(r.Record(job=r.Job(), facts=facts), tmp_path)
    assert "Without a time" in text_of(told.workshop)
    assert "Rear left air spring bellows split" in text_of(told.customer)


def test_the_documents_of_a_record_read_back_from_json_are_the_same(tmp_path: Path) -> None:
    record = coach()
    again = record_json.from_json(json.loads(record_json.dumps(record)))
    write_customer(record, drawing, tmp_path / "a.docx")
    write_customer(again, drawing, tmp_path / "b.docx")
    assert (tmp_path / "a.docx").read_bytes() == (tmp_path / "b.docx").read_bytes()


def test_what_was_wrong_has_its_photo_beside_it(coach_documents: Written) -> None:
    [table, *_] = tables_under(coach_documents.customer, "What was wrong")
    told = {row.cells[0].text: row.cells[1] for row in table.rows[1:]}
    beside = [cell for text, cell in told.items() if text.startswith("Rear left air spring bellows split")]
    [picture] = beside[0]._tc.iter(qn("wp:docPr"))
    assert str(picture.get("descr")).startswith("Photo P2: Split in the bellows")
    # tall rows may part at a page's end, or much of it would stay empty
    assert not any(p.paragraph_format.keep_with_next for p in beside[0].paragraphs)
    # each photo is shown once
    shown = [alt.split(":")[0] for alt in alt_texts(coach_documents.customer) if alt.startswith("Photo")]
    assert len(shown) == len(set(shown))


def test_what_was_wrong_is_told_without_a_photo_too(tmp_path: Path) -> None:
    cause = r.Fact("F1", r.Statement("cause", "the seal leaked"), "", 0.9, "sure", note="N1", start_s=0.0)
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=(cause,)), tmp_path)
    [table] = tables_under(told.customer, "What was wrong")
    assert [cell.text for cell in table.rows[0].cells] == ["Statement", "Evidence"]


# --- times that can't be relied on -----------------------------------------------------------------


def with_a_renamed_note() -> r.Record:
    """The coach's job, the second note of which only its file dates, half a year later."""
    record = coach()
    first, second, third = record.notes
    moved = timedelta(days=180)
    doubted = replace(
        second,
        file="springs.wav",
        started_at=second.started_at + moved,
        started_at_source="file time",
        started_at_doubt="file time",
    )
    facts = tuple(replace(f, at=f.at + moved) if f.note == "N2" and f.at else f for f in record.facts)
    return check(replace(record, notes=(first, doubted, third), facts=facts))


def test_a_note_that_only_its_file_dates_is_told_wherever_times_are(tmp_path: Path) -> None:
    told = written(with_a_renamed_note(), tmp_path)
    own = "the file’s own date, which copying and saving change"
    (originals,) = tables_under(told.claim, "Originals")
    row = next(row for row in originals.rows if "springs.wav" in row.cells[1].text)
    assert own in row.cells[3].text
    for document in (told.claim, told.workshop, told.customer):
        worked = re.search(r"Work done\n(.*)\n(.*)", text_of(document))
        assert worked is not None
        assert squeezed(worked[1]) == "17 june 2031, 08:02 to 13:07"
        assert worked[2] == "Without N2, whose time is in doubt"
    assert "N2 (springs.wav)" in text_of(told.workshop)
    timeline = [
        row for table in tables_under(told.workshop, "14 December 2031, clock at UTC+2") for row in table.rows
    ]
    assert all(row.cells[0].text.endswith(" ?") for row in timeline[1:])


def test_where_only_files_date_the_notes_the_span_of_work_says_so(tmp_path: Path) -> None:
    record = coach()
    notes = tuple(replace(n, started_at_doubt="file time") for n in record.notes)
    told = written(check(replace(record, notes=notes)), tmp_path)
    for document in (told.claim, told.workshop, told.customer):
        assert "By the files’ own dates, which copying and saving change" in text_of(document)
    gaps = "\n".join(gap.message for gap in told.record.claim_gaps)
    assert "No date of the repair" in gaps


def test_times_of_the_recorders_own_are_told_without_a_mark(coach_documents: Written) -> None:
    for _, document in coach_documents.each():
        assert "own date" not in text_of(document)
    assert " ?" not in text_of(coach_documents.workshop)


def test_a_photo_timed_by_a_camera_that_nothing_proves_says_so_in_caption_and_originals(
    tmp_path: Path,
) -> None:
    record = coach()
    first, *others = record.photos
    doubted = replace(first, taken_at_doubt="camera clock")
    told = written(replace(record, photos=(doubted, *others)), tmp_path)
    own = "the camera’s own clock, not proved"
    for document in (told.claim, told.customer):
        captions = [line for line in text_of(document).splitlines() if own in line and "2031" in line]
        assert len(captions) == 1
    (originals,) = tables_under(told.claim, "Originals")
    marked = [row.cells[0].text for row in originals.rows if own in row.cells[3].text]
    assert marked == [first.id]


# --- fault codes -----------------------------------------------------------------------------------


def coded(record: r.Record, *told: tuple[str, r.FaultCode]) -> r.Record:
    """The record with these fault codes, told one after another, and no other."""
    others = tuple(fact for fact in record.facts if fact.kind != "fault_code")
    first = record.notes[0]
    codes = tuple(
        r.Fact(f"C{n}", code, quote, 0.9, "sure", note=first.id, start_s=200.0 + n, end_s=201.0 + n,
               at=first.started_at + timedelta(seconds=200 + n))
        for n, (quote, code) in enumerate(told)
    )  # fmt: skip
    return replace(record, facts=(*others, *codes))


def test_the_customer_sees_each_code_once_as_it_is_in_the_end(tmp_path: Path) -> None:
    code = r.FaultCode("SPN 1044 FMI 1", "J1939", 1044, 1, "below normal", "active", 14)
    gone = replace(code, state="cleared", count=None)
    told = written(coded(coach(), ("active", code), ("codes did not return", gone)), tmp_path)
    (table,) = tables_under(told.customer, "Fault codes in the vehicle’s memory")
    rows = [[cell.text for cell in row.cells] for row in table.rows[1:]]
    assert [(row[0], row[2], row[3]) for row in rows] == [("SPN 1044 FMI 1", "cleared", "14")]
    assert squeezed(rows[0][-1]) == "n1 3:20 n1 3:21"
    # who judges a claim sees both, with the words in which it was told
    (both,) = tables_under(told.claim, "Fault codes")
    assert [row.cells[2].text for row in both.rows[1:]] == ["active", "cleared"]


def test_a_code_that_two_control_units_hold_is_told_for_each(tmp_path: Path) -> None:
    one = r.FaultCode("U0100", "network", state="stored", ecu="gearbox")
    told = written(coded(coach(), ("a", one), ("b", replace(one, ecu="brakes"))), tmp_path)
    (table,) = tables_under(told.customer, "Fault codes in the vehicle’s memory")
    assert len(table.rows) == 3


# --- said once -------------------------------------------------------------------------------------


def _told_at(second: float, statement: r.Statement, fact_id: str) -> r.Fact:
    at = DAY + timedelta(seconds=second)
    return r.Fact(
        fact_id, statement, statement.text, 0.9, "sure", note="N1", start_s=second, end_s=second + 2, at=at
    )


def test_what_was_told_twice_in_the_same_words_stands_once_with_both_places(tmp_path: Path) -> None:
    bag = _told_at(100, r.Statement("advisory", "The right rear air bag is perished"), "A1")
    again = _told_at(160, r.Statement("advisory", "the right rear air bag is perished."), "A2")
    other = _told_at(170, r.Statement("advisory", "front pads at four millimetres"), "A3")
    record = r.Record(r.Job(), (note(1, DAY),), facts=(bag, again, other))
    told = written(record, tmp_path)
    where = (
        (told.claim, "Further work noted"),
        (told.customer, "What will need doing next"),
        (told.workshop, "Deferred work"),
    )
    for document, heading in where:
        [table] = tables_under(document, heading)
        rows = [[cell.text.replace(NBSP, " ") for cell in row.cells] for row in table.rows[1:]]
        assert rows == [
            ["The right rear air bag is perished", "N1 1:40\nN1 2:40"],
            ["Front pads at four millimetres", "N1 2:50"],
        ]


def test_a_loose_end_that_was_told_twice_is_loose_once(tmp_path: Path) -> None:
    told = (_told_at(100, r.Statement("loose_end", "drain plug finger tight"), "L1"),
            _told_at(160, r.Statement("loose_end", "drain plug finger tight"), "L2"))  # fmt: skip
    ends = tuple(r.LooseEnd("drain plug finger tight", fact.id, "unfinished") for fact in told)
    sheet = written(r.Record(r.Job(), (note(1, DAY),), facts=told, loose_ends=ends), tmp_path).workshop
    [table] = tables_under(sheet, "Loose ends – before the vehicle leaves")
    assert [row.cells[-1].text.replace(NBSP, " ") for row in table.rows[1:]] == ["N1 1:40\nN1 2:40"]


def test_the_claims_body_has_the_dangers_that_its_index_lists(coach_documents: Written) -> None:
    [table] = tables_under(coach_documents.claim, "Dangers and open points that were named")
    told = [row.cells[0].text for row in table.rows]
    assert any(text.startswith("Jacking point at the rear left is rusty") for text in told)


def test_what_is_lost_is_told_once_beside_what_it_is_a_piece_of(tmp_path: Path) -> None:
    claim = written(_loose_job(), tmp_path).claim
    [ledger] = tables_under(claim, "Take-apart and put-back")
    assert "1 of 9 screws still off: lost" in ledger.rows[1].cells[1].text
    steps = [row.cells[0].text for table in tables_under(claim, "Other work steps") for row in table.rows]
    assert not [text for text in steps if "Lost" in text]

"""Whatever was said or named, there is a document that opens and shows it."""

from __future__ import annotations

import unicodedata
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from coach_job import DAY, coach, drawing, note, photo
from documents_read import text_of, written
from docx import Document
from docx.oxml import parse_xml
from docx.oxml.ns import qn
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from jobnotes import record as r
from jobnotes.documents import load, write_claim
from jobnotes.documents.plaintext import by_direction, fit, is_rtl, shortened
from jobnotes.errors import Problem

# every code point there is, surrogates too: a file name on disk may hold them
ANYTHING = st.text(st.characters(codec=None, exclude_categories=()), max_size=60)


@given(ANYTHING)
def test_fitted_text_is_xml_and_comes_back_from_it(text: str) -> None:
    fitted = fit(text)
    element = parse_xml(
        f"<a>{fitted.replace('&', '&amp;').replace('<', '&lt;').replace('>', '&gt;')}</a>".encode()
    )
    assert (element.text or "") == fitted
    assert fit(fitted) == fitted


@given(ANYTHING)
def test_text_that_can_be_printed_is_not_changed(text: str) -> None:
    kept = "".join(c for c in text if c == "\n" or (c.isprintable() and c not in "\t\r"))
    assert fit(kept) == kept


@given(st.text(st.sampled_from("ab1 -.אבגمرح،٣"), max_size=30))
def test_pieces_by_direction_are_the_text_and_each_runs_one_way(text: str) -> None:
    pieces = list(by_direction(text))
    assert "".join(piece for piece, _ in pieces) == text
    for piece, rtl in pieces:
        strong = {unicodedata.bidirectional(c) for c in piece} & {"L", "R", "AL"}
        assert strong <= ({"R", "AL"} if rtl else {"L"})


@given(ANYTHING, st.integers(min_value=1, max_value=80))
def test_shortened_text_is_one_line_within_its_limit(text: str, limit: int) -> None:
    line = shortened(text, limit)
    assert len(line) <= limit
    assert "\n" not in line
    if len(" ".join(text.split())) <= limit:
        assert line == " ".join(text.split())


def full_of(text: str) -> r.Record:
    """A record with `text` wherever a record holds free text."""
    details: list[r.Detail] = [
        r.FaultCode(text, fmi_text=text, ecu=text),
        r.Measurement(Decimal(1), text, text, text, (text,), r.Limit(max=Decimal(2), source=text)),
        r.Part(text, "fitted", number=text, serial=text),
        r.Step(text, text),
        r.Statement("cause", text, text, text),
        r.Statement("advisory", text),
        r.LabourSaid(Decimal(1), text),
        r.Clock("pause", text),
        r.Identity("registration", text, text),
        r.PhotoCue(text),
    ]
    facts = tuple(
        r.Fact(f"F{n}", detail, text, 0.5, "check", text, "N1", float(n), at=DAY, photos=("P1",))
        for n, detail in enumerate(details)
    )
    settled = r.Statement("finding", text)
    facts += (r.Fact("F10", settled, text, 0.5, "accepted", decided_by=text, decided_at=DAY),)
    party = r.Party(text, text, text, text, text, text, text, text, text, text, text)
    one, rate = Decimal(1), Decimal(20)
    shares = tuple(r.Share(payer, one) for payer in ("customer", "warranty", "goodwill"))
    accounts = tuple(
        r.Account(
            payer, one, one, one, one, one, one,
            (r.Allowance(text, one, text, rate),), (r.TaxLine(text, rate, one, one, text),),
        )
        for payer in ("customer", "warranty", "goodwill")
    )  # fmt: skip
    return r.Record(
        job=r.Job(text, text, text, r.Odometer(text, text), None, text, text),
        notes=(replace(note(1, DAY), file=text, started_at_source=text),),
        photos=(replace(photo(1, DAY), file=text, camera=text),),
        facts=facts,
        loose_ends=(r.LooseEnd(text, "F3", "off"),),
        claim_gaps=(r.ClaimGap("rule", text, text),),
        labour=(r.LabourLine(text, Decimal(1), "said", ("F6",)),),
        camera_clocks=(r.CameraClock(text, 0.0, 0, 0, text),),
        problems=(Problem(text, text),),
        supports=(r.Support("F4", "F1", "reading"), r.Support("F4", "P1", "photo")),
        earlier=(r.EarlierRepair("J1", DAY.date(), 2, (text,), text, one, text),),
        labour_remarks=(text,),
        workshop=party,
        invoice=r.Invoice(text, DAY.date(), DAY.date(), text, party),
        charges=(
            r.Charge("C1", "part", text, one, text, ("F2",), text, one, rate, one, text, rate, shares),
            r.Charge("C2", "part", text, one, text, why=text),
        ),
        charge_remarks=(text,),
        totals=r.Totals(one, one, one, text[:3] or "EUR", accounts),
    )


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(ANYTHING)
def test_any_text_in_any_place_gives_documents_that_open_and_hold_it(text: str) -> None:
    with TemporaryDirectory() as folder:
        told = written(full_of(text), Path(folder))
        # what python-docx gives for a break and for spaces, so that like is compared with like
        wanted = " ".join(fit(text).split()).casefold()
        for _, document in told.each():
            assert wanted in " ".join(text_of(document).split()).casefold()


@pytest.mark.parametrize(
    "text",
    [
        "\x00\x07\x1b[31m",
        "]]>",
        "<w:p/>",
        "&amp;",
        "{0} {job} %s",
        "\ud800",
        "\u202egnihtyna",
        "a\r\nb\tc",
        "\ufeff",
        "\r",
    ],
)
def test_text_that_could_break_xml_or_hide_something_is_shown_as_lost(tmp_path: Path, text: str) -> None:
    told = written(full_of(text), tmp_path)
    for _, document in told.each():
        shown = text_of(document)
        assert fit(text).replace("\t", " ") in shown
        assert "\u202e" not in shown


@pytest.mark.parametrize("status", ["sure", "rejected"])
def test_an_empty_record_gives_three_documents_that_say_so(tmp_path: Path, status: Any) -> None:
    facts = (r.Fact("F1", r.Statement("cause", "gone"), "gone", 0.9, status),) if status == "rejected" else ()
    told = written(r.Record(job=r.Job(), facts=facts), tmp_path)
    assert "Nothing was said that belongs in a claim." in text_of(told.claim)
    assert "Nothing has been recorded for this job yet." in text_of(told.customer)
    assert "Loose ends" in text_of(told.workshop)
    assert "gone" not in text_of(told.claim)
    for _, document in told.each():
        assert "None" not in text_of(document)


def test_a_name_written_from_right_to_left_is_marked_so(tmp_path: Path) -> None:
    name = "חברת אוטובוסים הנמל"
    told = written(replace(coach(), job=r.Job(number="7", customer=name)), tmp_path)
    [cell] = [c for t in told.claim.tables for row in t.rows for c in row.cells if c.text == name]
    [paragraph] = cell.paragraphs
    assert is_rtl(name)
    assert paragraph._p.pPr.find(qn("w:bidi")) is not None
    assert [run._r.rPr.find(qn("w:rtl")) is not None for run in paragraph.runs] == [True]


def test_a_part_name_of_two_thousand_characters_is_shown_whole(tmp_path: Path) -> None:
    for name in ("long " * 400, "x" * 2000):
        part = r.Fact("F1", r.Part(name.strip(), "fitted"), "", 0.9, "sure", note="N1", start_s=0.0)
        told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=(part,)), tmp_path)
        assert name.strip()[1:] in text_of(told.claim)
        [row] = [row for t in told.claim.tables for row in t.rows if len(row.cells[0].text) > 1900]
        # a row as tall as a page has to split, or its end would be lost below the foot
        assert row._tr.trPr is None or row._tr.trPr.find(qn("w:cantSplit")) is None


def test_values_that_no_calendar_or_scale_foresees_are_shown(tmp_path: Path) -> None:
    readings = [Decimal("NaN"), Decimal("Infinity"), Decimal("1E+400"), Decimal("-0"), Decimal("1E-9")]
    facts = tuple(
        r.Fact(
            f"F{n}",
            r.Measurement(v, "V", "voltage", "battery"),
            "",
            0.9,
            "sure",
            note="N1",
            start_s=0.0,
            at=DAY,
        )
        for n, v in enumerate(readings)
    )
    fitted = r.Fact("F8", r.Part("fuse", "fitted"), "", 0.9, "sure", note="N1", start_s=1.0, at=DAY)
    again = tuple(replace(f, id=f"G{f.id}") for f in facts)
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), facts=(*facts, fitted, *again)), tmp_path)
    assert "0.000000001\u00a0V" in text_of(told.claim)
    assert "Readings before and after the repair" in text_of(told.customer)


def test_a_fact_that_names_what_is_not_there_is_shown_all_the_same(tmp_path: Path) -> None:
    fact = r.Fact(
        "F1", r.Statement("finding", "loose bolt"), "", 0.9, "sure", note="N9", start_s=1.0, photos=("P9",)
    )
    record = r.Record(
        job=r.Job(),
        facts=(fact,),
        loose_ends=(r.LooseEnd("bolt is off", "F7", "off"),),
        labour=(r.LabourLine("work", Decimal(1), "said", ("F7",)),),
    )
    told = written(record, tmp_path)
    assert "Loose bolt" in text_of(told.claim)
    assert "Bolt is off" in text_of(told.workshop)


def test_a_long_job_number_does_not_break_the_file(tmp_path: Path) -> None:
    write_claim(r.Record(job=r.Job(number="9" * 5000)), drawing, tmp_path / "claim.docx")
    assert len(Document(str(tmp_path / "claim.docx")).core_properties.title) <= 255


@pytest.mark.slow
def test_a_long_job_with_three_hundred_photos_gives_documents(tmp_path: Path) -> None:
    facts = tuple(
        r.Fact(
            f"F{n}",
            r.Statement("finding", f"finding {n}"),
            f"words {n}",
            0.9,
            "sure",
            note="N1",
            start_s=float(n),
            at=DAY,
        )
        for n in range(600)
    )
    photos = tuple(photo(n, DAY, width=400, height=300, fact_ids=(f"F{n}",)) for n in range(1, 301))
    told = written(r.Record(job=r.Job(), notes=(note(1, DAY),), photos=photos, facts=facts), tmp_path)
    assert len(told.claim.inline_shapes) == 300
    assert "Finding 599" in text_of(told.claim)


def test_words_that_run_from_right_to_left_turn_the_tables_round(tmp_path: Path) -> None:
    (tmp_path / "documents.toml").write_text(
        'format = "jobnotes-documents"\nversion = 1\n[he.claim]\ntitle = "דוח תביעת אחריות"\n', "utf-8"
    )
    for language, turned in (("he", True), ("en", False)):
        out = tmp_path / language
        out.mkdir()
        told = written(coach(), out, house=load(tmp_path, language=language))
        tables = [table._tbl.tblPr for table in told.claim.tables]
        assert all((each.find(qn("w:bidiVisual")) is not None) == turned for each in tables)
        title = told.claim.paragraphs[0]
        assert (title._p.pPr.find(qn("w:bidi")) is not None) == turned
        assert told.claim.core_properties.language.startswith(language)

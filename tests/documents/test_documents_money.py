"""What the documents say of money, of who decided and of what bears the claim out."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from babel import Locale
from babel.dates import format_date, format_time
from babel.numbers import format_decimal
from coach_job import coach
from documents_read import Written, drawing_small, house_of, tables_under, text_of, written
from docx import Document
from docx.table import Table
from priced_job import customer_pays, one_price_missing, priced
from test_documents_content import digits_in, visible

from jobnotes import record as r
from jobnotes import record_json
from jobnotes.documents import write_all

NBSP = "\u00a0"
EURO = f"{NBSP}EUR"
GUARANTEE = "The parts fitted are guaranteed for twelve months.\n\nPlease bring this report."


def rows_of(table: Any) -> list[list[str]]:
    return [[cell.text for cell in row.cells] for row in table.rows]


def table_with(document: Any, *headings: str) -> list[list[str]]:
    """The one table whose heading row has these words, below that row."""
    [found] = [t for t in document.tables if set(headings) <= {c.text for c in t.rows[0].cells}]
    return rows_of(found)[1:]


# --- the customer's invoice ----------------------------------------------------------------------


def test_an_invoice_says_so_with_its_number_who_sells_who_buys_and_what_is_due_when(
    priced_documents: Written,
) -> None:
    customer = priced_documents.customer
    assert customer.paragraphs[0].text == "Invoice 2031-0117"
    assert customer.core_properties.title.startswith("Invoice 2031-0117 – Job 4820-B")
    [[seller, buyer, head]] = table_with(customer, "From", "To", "Invoice")
    assert seller.split("\n") == [
        "Sample Quay Coach Works (invented)",
        "3 Example Wharf",
        "ZZ1 1ZZ Sampleton",
        "Ireland",
        "+353 20 910 0000",
        "office@workshop.example",
        "Tax number IE0000000X",
        "Company number 000000",
    ]
    assert buyer.split("\n")[:2] == ["Harbour Line Coaches (invented)", "1 Depot Road"]
    assert head.split("\n") == [
        "Number: 2031-0117",
        "Date: 19 June 2031",
        "Payable by: 3 July 2031",
        f"To be paid: 40.00{EURO}",
    ]
    text = text_of(customer)
    assert f"To be paid by 3 July 2031: 40.00{EURO}." in text
    assert "No discount for early payment." in text
    assert "IE00 XXXX 0000 0000 0000 00" in text


def test_each_line_shows_number_quantity_price_discount_tax_amount_payer_and_evidence(
    priced_documents: Written,
) -> None:
    lines = table_with(priced_documents.customer, "Description", "Borne by")
    assert lines[0] == [
        *("Rear left air spring", "AS 7740 215", "1", "184.50", "–", "184.50", "Warranty"),
        f"N2{NBSP}2:00\nP4, P5",
    ]
    assert lines[1][2:6] == ["4", f"3.15\nless 10{NBSP}%", "–", "11.34"]
    assert lines[4][4] == f"20{NBSP}%"
    assert lines[2][:3] == ["Thread locker", "–", f"2{NBSP}mL"]
    assert lines[4][6] == "Customer: 52.50\nWarranty: 105.00\nGoodwill: 52.50"
    assert lines[4][2] == f"2.5{NBSP}h"


def test_the_customer_sees_the_own_account_with_its_tax_and_of_others_only_net_amounts(
    priced_documents: Written,
) -> None:
    customer = priced_documents.customer
    assert table_with(customer, "Sum", "Amount (EUR)") == [
        ["Sum of the lines", "54.42"],
        ["Allowance: fleet agreement", "\u22124.42"],
        ["Total without tax", "50.00"],
        ["Tax", "10.00"],
        ["Total with tax", "60.00"],
        ["Already paid", "\u221220.00"],
        ["To be paid", "40.00"],
    ]
    text = text_of(customer)
    assert f"Borne by the warranty, without tax: 300.84{EURO}." in text
    assert f"Borne as goodwill, without tax: 52.50{EURO}." in text
    for others in ("60.17", "361.01", "10.50", "63.00", "80.67", "484.01"):
        assert others not in text


def test_a_rate_of_the_workshops_own_is_shown_as_such_and_not_as_a_standard(tmp_path: Path) -> None:
    record = customer_pays()
    assert record.totals is not None
    [own] = record.totals.split
    two = (
        r.TaxLine("S", Decimal(20), Decimal("400.00"), Decimal("80.00")),
        r.TaxLine("S", Decimal(10), Decimal("7.76"), Decimal("0.78")),
    )
    own = replace(own, taxes=two)
    told = written(replace(record, totals=replace(record.totals, split=(own,))), tmp_path)
    assert table_with(told.customer, "Rate", "Taxed amount (EUR)") == [
        [f"20{NBSP}%", "400.00", "80.00"],
        [f"10{NBSP}%", "7.76", "0.78"],
    ]
    for document in (told.customer, told.claim):
        assert "standard rate" not in text_of(document).casefold()


def test_where_others_bear_everything_the_customer_gets_no_invoice_and_no_tax(tmp_path: Path) -> None:
    record = priced()
    assert record.totals is not None
    others = tuple(a for a in record.totals.split if a.payer != "customer")
    charges = tuple(
        replace(c, shares=(r.Share("warranty", c.net),)) for c in record.charges if c.net is not None
    )
    told = written(replace(record, charges=charges, totals=replace(record.totals, split=others)), tmp_path)
    text = text_of(told.customer)
    assert told.customer.paragraphs[0].text == "Repair report with prices"
    assert "Nothing is left to be paid." in text
    assert "To be paid" not in text
    assert "%" not in text.replace(f"less 10{NBSP}%", "")


def test_a_total_that_leaves_out_a_doubtful_part_names_it_beside_the_amount(tmp_path: Path) -> None:
    record = priced()
    spring = next(
        f
        for f in record.facts
        if isinstance(f.detail, r.Part)
        and f.detail.name == "rear left air spring"
        and f.detail.action == "fitted"
    )
    facts = tuple(replace(f, status="check", why="hard to hear") if f is spring else f for f in record.facts)
    charges = tuple(c for c in record.charges if spring.id not in c.fact_ids)
    told = written(replace(record, facts=facts, charges=charges), tmp_path)
    claimed = [row[1] for row in rows_of(told.claim.tables[0]) if row[0].startswith("Amount claimed")]
    assert len(claimed) == 2
    assert all(cell.split("\n")[-1] == "(without: rear left air spring, to be checked)" for cell in claimed)
    due = table_with(told.customer, "Sum", "Amount (EUR)")[-1]
    assert due == ["To be paid\n(without: rear left air spring, to be confirmed)", "40.00"]
    pay = next(p.text for p in told.customer.paragraphs if p.text.startswith("To be paid by"))
    assert "without: rear left air spring" in pay


def test_where_there_is_no_total_the_customers_page_says_the_true_reason(tmp_path: Path) -> None:
    why = "the allowance “fleet agreement” names an unknown tax; there is no total"
    told = written(replace(priced(), totals=None, charge_remarks=(why,)), tmp_path)
    assert why[1:] in text_of(told.customer)


def test_a_part_that_the_prices_tell_in_full_is_not_told_again(priced_documents: Written) -> None:
    record = priced_documents.record
    heading = "Parts and materials that are not in the prices, or with more to say of them"
    tables = [*tables_under(priced_documents.customer, heading)]
    again = {row.cells[0].text.split("\n")[0].casefold() for table in tables for row in table.rows[1:]}
    charged = {i for charge in record.charges for i in charge.fact_ids}
    parts = [f for f in record.facts if isinstance(f.detail, r.Part) and f.stands]
    shown = [f for f in parts if f.audience == "all" and f.detail.action in ("fitted", "consumed")]
    assert {f.detail.name.casefold() for f in shown if f.id not in charged} <= again
    in_full = [f for f in shown if f.id in charged and not f.detail.serial and f.detail.condition != "used"]
    assert in_full
    assert any(f.detail.name.casefold() not in again for f in in_full)


def test_where_the_customer_pays_for_everything_no_payer_is_named(tmp_path: Path) -> None:
    told = written(customer_pays(), tmp_path)
    text = text_of(told.customer).casefold()
    assert "warranty" not in text
    assert "goodwill" not in text
    assert "paid by\n" not in text
    assert "together" not in text
    assert table_with(told.customer, "Sum", "Amount (EUR)") == [
        ["Total without tax", "407.76"],
        ["Tax", "81.55"],
        ["Total with tax", "489.31"],
    ]
    assert "none: the customer pays for everything" in text_of(told.claim)
    assert tables_under(told.claim, "Amounts claimed") == []


def test_a_line_without_a_price_says_so_and_then_there_is_no_total_and_no_invoice(tmp_path: Path) -> None:
    told = written(one_price_missing(), tmp_path)
    customer = told.customer
    assert customer.paragraphs[0].text == "Repair report with prices"
    lines = table_with(customer, "Description")
    assert lines[1][0] == "Clamp ring bolt\nNot in the price list"
    assert lines[1][3] == "no price yet"
    assert "There is no total yet: the price of 1 line is still missing." in text_of(customer)
    for amount in ("\n0.00", "403.34", "To be paid", "2031-0117"):
        assert amount not in text_of(customer)
    rows = {row[0]: row[1] for row in rows_of(told.claim.tables[0])}
    assert rows["Amount claimed"] == "not known yet: the price of 1 line is missing"


def test_without_a_number_it_is_no_invoice_yet(tmp_path: Path) -> None:
    told = written(replace(priced(), invoice=r.Invoice(issued_on=date(2031, 6, 19))), tmp_path)
    text = text_of(told.customer)
    assert told.customer.paragraphs[0].text == "Repair report with prices"
    assert "This is not an invoice yet" in text
    assert "To be paid by" not in text
    assert "Draft invoice" not in text


def test_an_invoice_with_doubtful_statements_is_a_draft(priced_documents: Written) -> None:
    opening = [p.text for p in priced_documents.customer.paragraphs[:3]]
    assert any(line.startswith("Draft invoice – 2 statements are still to be confirmed") for line in opening)


def test_a_job_whose_prices_are_still_to_be_looked_at_is_a_draft_for_the_customer(tmp_path: Path) -> None:
    """As the e-invoice is one until then."""
    record = priced()
    settled = replace(
        record,
        facts=tuple(replace(f, status="accepted") if f.status == "check" else f for f in record.facts),
    )
    assert record.invoice
    for name, told, lead in (
        ("invoice", settled, "Draft invoice – its prices are still to be looked at"),
        ("report", replace(settled, invoice=None), "The prices in this report are still to be confirmed"),
        ("clear", replace(settled, charge_remarks=()), None),
    ):
        (tmp_path / name).mkdir()
        notices = [
            p.text for p in written(told, tmp_path / name).customer.paragraphs if p.style.name == "Notice"
        ]
        assert [text.split("\n")[0] for text in notices] == ([lead] if lead else [])
        assert not any(remark in text for remark in record.charge_remarks for text in notices)


@pytest.mark.parametrize(
    ("due", "said"),
    [("0", "Nothing is left to be paid."), ("-12.50", f"12.50{EURO} will be paid back to you.")],
)
def test_nothing_due_and_a_credit_are_said_in_words(tmp_path: Path, due: str, said: str) -> None:
    record = customer_pays()
    assert record.totals is not None
    [own] = record.totals.split
    own = replace(own, paid=own.gross - Decimal(due), due=Decimal(due))
    told = written(replace(record, totals=replace(record.totals, split=(own,))), tmp_path)
    assert said in text_of(told.customer)
    assert "Please pay to" not in text_of(told.customer)


def test_a_tax_that_is_not_due_says_why(tmp_path: Path) -> None:
    record = customer_pays()
    assert record.totals is not None
    [own] = record.totals.split
    free = r.TaxLine("AE", Decimal(0), own.net, Decimal("0.00"), "The buyer accounts for the tax.")
    own = replace(own, tax=Decimal("0.00"), gross=own.net, due=own.net, taxes=(free,))
    told = written(replace(record, totals=r.Totals(own.net, own.tax, own.gross, "EUR", (own,))), tmp_path)
    [row] = table_with(told.customer, "Kind of tax")
    assert row == ["reverse charge", f"0{NBSP}%", "407.76", "0.00", "The buyer accounts for the tax."]


def test_the_guarantee_is_the_workshops_own_words_and_nothing_without_them(tmp_path: Path) -> None:
    (tmp_path / "with").mkdir()
    (tmp_path / "without").mkdir()
    write_all(priced(), None, drawing_small, tmp_path / "with", house=house_of(guarantee=GUARANTEE))
    customer = Document(str(tmp_path / "with" / "customer.docx"))
    at = [p.text for p in customer.paragraphs]
    place = at.index("Guarantee")
    assert at[place + 1 : place + 3] == [
        "The parts fitted are guaranteed for twelve months.",
        "Please bring this report.",
    ]
    for other in ("claim", "workshop"):
        assert "guaranteed" not in text_of(Document(str(tmp_path / "with" / f"{other}.docx")))
    told = written(priced(), tmp_path / "without")
    assert "Guarantee" not in text_of(told.customer)


# --- the claim -----------------------------------------------------------------------------------


def test_the_claims_summary_says_what_is_claimed_of_whom_and_the_dates(priced_documents: Written) -> None:
    rows = {row[0]: row[1] for row in rows_of(priced_documents.claim.tables[0])}
    assert rows["Amount claimed, warranty"] == f"361.01{EURO} (300.84 without tax, tax 60.17)"
    assert rows["Amount claimed, goodwill"] == f"63.00{EURO} (52.50 without tax, tax 10.50)"
    assert rows["In service since"] == "3 September 2029"
    assert rows["Failed on"] == "16 June 2031"
    assert rows["Claimed on"] == "19 June 2031"
    assert rows["Workshop"].startswith("Sample Quay Coach Works (invented), 3 Example Wharf")


def test_the_claim_lists_only_lines_that_warranty_or_goodwill_bears(priced_documents: Written) -> None:
    lines = table_with(priced_documents.claim, "Description", "Warranty", "Goodwill")
    assert [line[0] for line in lines] == [
        "Rear left air spring",
        "Clamp ring bolt",
        "Replace rear left air spring",
    ]
    assert lines[2][6:8] == ["105.00", "52.50"]
    text = text_of(priced_documents.claim)
    assert "484.01" not in text
    assert "fleet agreement" not in text


def test_the_claim_says_what_bears_out_the_cause(priced_documents: Written) -> None:
    rows = table_with(priced_documents.claim, "Borne out by", "Kind")
    assert [row[1] for row in rows] == ["reading outside its limit", "finding", "fault code", "photo"]
    assert rows[0][0].startswith(f"Pressure 5.1{NBSP}bar at rear left air spring")
    assert rows[3][0].startswith("Photo P3: ")


def test_a_support_that_this_reader_may_not_see_is_not_shown(tmp_path: Path) -> None:
    record = priced()
    cause = record.supports[0].cause
    private = next(f for f in record.facts if f.audience == "workshop")
    hidden = (
        r.Support(cause, private.id, "finding"),
        r.Support(cause, "P9", "photo"),
        r.Support("F99", "P1", "photo"),
    )
    told = written(replace(record, supports=hidden), tmp_path)
    assert "What bears out the cause" not in text_of(told.claim)


def test_earlier_repairs_are_named_in_claim_and_job_sheet_and_not_to_the_customer(
    priced_documents: Written,
) -> None:
    for document in (priced_documents.claim, priced_documents.workshop):
        [row] = table_with(document, "Repaired on", "In common with this job")
        assert row == [
            "2 May 2031",
            "4711-A",
            "46 days",
            f"8120{NBSP}km",
            "Fault code SPN 1044 FMI 1\nComponent air spring",
        ]
    assert "4711-A" not in text_of(priced_documents.customer)


def test_the_evidence_index_names_who_accepted_a_statement_and_when(priced_documents: Written) -> None:
    [index] = tables_under(priced_documents.claim, "Evidence index")
    shown = {row[1]: row[-1] for row in rows_of(index)[1:]}
    cause = next(text for text in shown if text.startswith("Rear left air spring bellows split"))
    assert shown[cause] == "accepted by M. Sample\n18 June 2031, 09:02"
    assert shown["Work started"] == "as heard"


ATTENDANCE = "attendance by the clock, not charged on top"


def test_the_time_on_the_clock_is_labour_only_where_it_is_charged_or_all_that_there_is(
    tmp_path: Path,
) -> None:
    def bases(record: r.Record) -> list[list[str]]:
        told = written(record, tmp_path)
        return [
            [row[2] for row in table_with(document, "Operation", "Hours")]
            for document in (told.claim, told.customer, told.workshop)
        ]

    record = priced()
    _, clocked = record.labour
    assert bases(record) == [["as stated", ATTENDANCE]] * 3
    assert bases(replace(record, labour=(clocked,), charges=()))[0] == [
        "from clock statements",
        "as stated",
    ]
    by_clock = tuple(
        replace(charge, fact_ids=clocked.fact_ids) if charge.kind == "labour" else charge
        for charge in record.charges
    )
    assert bases(replace(record, charges=by_clock)) == [["as stated", "from clock statements"]] * 3


def test_hours_said_clocked_and_allowed_stand_beside_each_other_with_how_they_differ(
    priced_documents: Written,
) -> None:
    rows = table_with(priced_documents.workshop, "Operation", "Standard time")
    assert [row[1:4] for row in rows] == [
        [f"2.5{NBSP}h", "as stated", f"2.2{NBSP}h"],
        [f"3.9{NBSP}h", ATTENDANCE, "–"],
    ]
    text = text_of(priced_documents.workshop)
    assert priced().labour_remarks[0] in text
    assert priced().charge_remarks[0] in text
    for document in (priced_documents.claim, priced_documents.customer):
        assert priced().labour_remarks[0] not in text_of(document)
        assert priced().charge_remarks[0] not in text_of(document)
    assert f"2.2{NBSP}h" not in text_of(priced_documents.customer)


def test_gaps_and_remarks_of_the_workshop_are_in_no_other_document(priced_documents: Written) -> None:
    record = priced_documents.record
    own = [gap.message for gap in record.claim_gaps] + [gap.remedy for gap in record.claim_gaps]
    own += [
        f.detail.text for f in record.facts if f.audience == "workshop" and isinstance(f.detail, r.Statement)
    ]
    for text in own:
        assert text in text_of(priced_documents.workshop).casefold()
        assert text not in text_of(priced_documents.claim).casefold()
        assert text not in text_of(priced_documents.customer).casefold()


# --- read back -----------------------------------------------------------------------------------


def scaled(times: int = 10000) -> r.Record:
    """The priced job in another currency's size, so that amounts are grouped."""

    def grown(value: Any) -> Any:
        if isinstance(value, tuple):
            return tuple(grown(one) for one in value)
        if is_dataclass(value) and not isinstance(value, type):
            money = {"unit_price", "net", "lines", "tax", "gross", "paid", "due", "base", "amount"}
            changed = {}
            for one in fields(value):
                held = getattr(value, one.name)
                if isinstance(held, Decimal):
                    changed[one.name] = held * times if one.name in money else held
                else:
                    changed[one.name] = grown(held)
            return replace(value, **changed)
        return value

    record = priced()
    return replace(record, charges=grown(record.charges), totals=grown(record.totals))


def decimals(value: object) -> Iterator[Decimal]:
    if isinstance(value, Decimal):
        yield value
    elif isinstance(value, tuple):
        for one in value:
            yield from decimals(one)
    elif is_dataclass(value):
        for one in fields(value):
            yield from decimals(getattr(value, one.name))


def days(record: r.Record) -> Iterator[date]:
    yield from (d for d in (record.job.in_service_on, record.job.failed_on, record.job.claimed_on) if d)
    yield from (e.ended_on for e in record.earlier)
    if record.invoice:
        yield from (d for d in (record.invoice.issued_on, record.invoice.due_on) if d)


def as_babel_writes(record: r.Record, locale: Locale) -> set[str]:
    """Amounts, dates and times of the record as babel, not the documents, writes them."""
    held: set[str] = set()
    words = locale if locale.language == "en" else Locale("en", "GB")  # that of the words
    for value in decimals((record.charges, record.totals or ())):
        places = max(0, -int(value.as_tuple().exponent))
        for form in ("#,##0", "0"):
            pattern = form + ("." + "0" * places if places else "")
            held.add(format_decimal(abs(value), pattern, locale=locale))
        held.add(format_decimal(abs(value), locale=locale))
    whole = {str(int(v)) for v in decimals(record.charges) if v == v.to_integral_value()}
    moments = [f.at for f in record.facts if f.at] + [f.decided_at for f in record.facts if f.decided_at]
    moments += [p.taken_at for p in record.photos] + [n.started_at for n in record.notes]
    moments += [m for m in (record.job.opened_at, record.job.closed_at) if m]
    for moment in moments:
        held.add(format_date(moment, "long", locale=words))
        held |= {format_time(moment.time(), form, locale=words) for form in ("short", "medium")}
    return held | {format_date(day, "long", locale=words) for day in days(record)} | whole


@pytest.mark.parametrize("tag", ["en-GB", "en-US", "de-AT", "fr", "sv", "en-IN"])
def test_every_number_in_every_document_is_the_records_as_its_place_writes_it(
    tmp_path: Path, tag: str
) -> None:
    record = scaled()
    house = house_of(locale=tag)
    write_all(record, None, drawing_small, tmp_path, house=house)
    locale = Locale.parse(tag, sep="-")
    known = sorted(as_babel_writes(record, locale), key=len, reverse=True)
    allowed = digits_in(record_json.dumps(record)) | {"256", "1939", "1"}
    for fact in record.facts:
        allowed |= {str(int(fact.start_s or 0) // 60), f"{int(fact.start_s or 0) % 60:02d}"}
    allowed.add(str(sum(f.status == "check" for f in visible(record, private=False))))
    for name in ("claim", "customer", "workshop"):
        text = text_of(Document(str(tmp_path / f"{name}.docx")))
        for said in known:
            text = re.sub(rf"(?<![\w.,]){re.escape(said)}(?![\d])", " ", text)
        assert digits_in(text) - allowed == set(), name


@pytest.mark.parametrize(("tag", "words"), [("en-GB", "en_GB"), ("de-AT", "de_AT"), ("sv", "en_GB")])
def test_everything_of_the_money_is_in_the_invoice(tmp_path: Path, tag: str, words: str) -> None:
    record = scaled()
    write_all(record, None, drawing_small, tmp_path, house=house_of(locale=tag))
    text = text_of(Document(str(tmp_path / "customer.docx"))).casefold().replace(NBSP, " ")
    locale = Locale.parse(tag, sep="-")
    assert record.workshop
    assert record.invoice
    assert record.totals
    for charge in record.charges:
        assert charge.description.casefold() in text
        assert (charge.number or "").casefold() in text
    own = [account for account in record.totals.split if account.payer == "customer"]
    borne = [account.net for account in record.totals.split if account.payer != "customer"]
    for value in decimals((record.charges, tuple(own), tuple(borne))):
        places = max(0, -int(value.as_tuple().exponent))
        pattern = "#,##0" + ("." + "0" * places if places else "")
        assert format_decimal(abs(value), pattern, locale=locale).replace(NBSP, " ") in text
    for party in (record.workshop, record.invoice.buyer):
        for field in fields(r.Party):
            held = getattr(party, field.name)
            if held and field.name != "country":
                assert held.casefold() in text
    for day in (record.invoice.issued_on, record.invoice.due_on):
        assert format_date(day, "long", locale=words).casefold() in text


def test_said_values_are_written_with_the_decimal_sign_of_the_place(tmp_path: Path) -> None:
    write_all(coach(), None, drawing_small, tmp_path, house=house_of(locale="sv"))
    for name in ("claim", "customer", "workshop"):
        text = text_of(Document(str(tmp_path / f"{name}.docx")))
        assert f"60,2{NBSP}Ω" in text
        assert f"60.2{NBSP}Ω" not in text
        assert "17 June 2031" in text  # the words around it are English
    assert "0,94" in text_of(Document(str(tmp_path / "claim.docx")))


def test_amounts_without_a_known_currency_are_shown_as_they_are(tmp_path: Path) -> None:
    """The record's currency stands with its totals: without them no places are guessed."""
    record = one_price_missing()
    line = replace(record.charges[0], unit_price=Decimal("1200"), net=Decimal("1200"), shares=())
    told = written(replace(record, charges=(line, record.charges[1])), tmp_path)
    assert table_with(told.customer, "Description")[0][5] == "1,200"
    (tmp_path / "stated").mkdir()
    told = written(told.record, tmp_path / "stated", house=house_of())
    assert table_with(told.customer, "Amount (EUR)")[0][5] == "1,200.00"


def test_prices_that_leave_out_what_is_doubtful_say_so(tmp_path: Path, priced_documents: Written) -> None:
    said = "Parts and hours that are still to be confirmed are not in these prices yet."
    record = priced()
    facts = tuple(
        replace(f, status="check", why="“twelve” was hard to hear")
        if isinstance(f.detail, r.Part) and f.detail.number == "B 12-60"
        else f
        for f in record.facts
    )
    charges = tuple(c for c in record.charges if c.number != "B 12-60")
    told = written(replace(record, facts=facts, charges=charges), tmp_path)
    for name in ("claim", "customer"):
        assert said in text_of(getattr(told, name))
        assert said not in text_of(getattr(priced_documents, name))


def test_an_amount_is_never_cut_however_large(tmp_path: Path) -> None:
    """Digits of the table's face are 0.556 em wide, points 0.278 (from memory); type of 9 point."""
    told = written(scaled(1000), tmp_path)
    em_mm = 9 * 25.4 / 72
    seen = 0
    for document in (told.claim, told.customer):
        for table in document.tables:
            for row in table.rows[1:]:
                for cell, column in zip(row.cells, table.columns, strict=True):
                    if re.fullmatch(r"[\u2212\d.,]+", cell.text):
                        wide = sum(0.278 if c in ",." else 0.556 for c in cell.text) * em_mm
                        assert wide < column.width.mm - 2.8
                        seen += 1
    assert seen > 40


def test_the_offices_own_file_is_among_the_originals_with_its_digest(priced_documents: Written) -> None:
    [originals] = tables_under(priced_documents.claim, "Originals")
    details = priced_documents.record.details
    assert details
    last = rows_of(originals)[-1]
    assert (last[0], last[1], last[-1]) == ("Office", details.file, details.sha256)
    assert details.sha256 not in text_of(priced_documents.customer)


def test_the_tax_table_stays_on_the_page_of_its_sum(priced_documents: Written) -> None:
    """By ECMA-376 part 1, 17.3.1.15: a paragraph with keepNext is on the page of the one that follows it."""
    for document in (priced_documents.claim, priced_documents.customer):
        blocks = list(document.iter_inner_content())
        sums = [
            place
            for place, block in enumerate(blocks)
            if isinstance(block, Table) and block.rows[0].cells[0].text == "Sum"
        ]
        assert sums
        for place in sums:
            table, after, taxes = blocks[place : place + 3]
            paragraphs = [p for row in table.rows[1:] for cell in row.cells for p in cell.paragraphs]
            assert all(p.paragraph_format.keep_with_next for p in (*paragraphs, after))
            assert "Rate" in [cell.text for cell in taxes.rows[0].cells]

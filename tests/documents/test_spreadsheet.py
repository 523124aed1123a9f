"""The spreadsheet of the priced lines, read back by openpyxl, by its bare XML, and by LibreOffice."""

from __future__ import annotations

import csv
import datetime as dt
import hashlib
import shutil
import subprocess
import zipfile
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from einvoice_records import HEAD, Sold, billed
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from priced_job import one_price_missing, priced

from jobnotes import record as r
from jobnotes import record_json
from jobnotes.documents.spreadsheet import write_spreadsheet
from jobnotes.errors import JobnotesError

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
SPREADSHEET_WORDS = ("=1+1", "+cmd", "@x", "-2", "#N/A", "007740", "1E5", "TRUE", "2031-06-19", "a\nb", " x ")


def book_of(record: r.Record, folder: Path) -> Any:
    path = folder / "lines.xlsx"
    write_spreadsheet(record, path)
    return openpyxl.load_workbook(path)


def table(sheet: Any) -> list[dict[str, Any]]:
    heading, *rows = sheet.iter_rows(values_only=True)
    return [dict(zip(heading, row, strict=True)) for row in rows]


def raw(path: Path, sheet: int = 1) -> dict[str, tuple[str | None, str]]:
    """The type and the text of each cell as they stand in the file, by its place ("A1")."""
    with zipfile.ZipFile(path) as package:
        root = etree.fromstring(package.read(f"xl/worksheets/sheet{sheet}.xml"))
    assert not list(root.iter(f"{MAIN}f"))
    return {c.get("r"): (c.get("t"), "".join(c.itertext())) for c in root.iter(f"{MAIN}c")}


# --- what stands in it -------------------------------------------------------------------------------


def test_every_line_is_there_with_its_evidence(tmp_path: Path) -> None:
    record = priced()
    rows = table(book_of(record, tmp_path)["Lines"])
    assert [row["Line"] for row in rows] == [charge.id for charge in record.charges]
    for row, charge in zip(rows, record.charges, strict=True):
        assert row["Description"] == charge.description
        assert row["Number"] == charge.number
        assert Decimal(str(row["Quantity"])) == charge.quantity
        assert Decimal(str(row["Price for one (EUR)"])) == charge.unit_price
        assert Decimal(str(row["Net (EUR)"])) == charge.net
        assert (row["Tax category"], row["Tax rate (%)"]) == ("S", 20)
        for share in charge.shares:
            assert Decimal(str(row[f"Borne by {share.payer} (EUR)"])) == share.net
        [fact] = [fact for fact in record.facts if fact.id in charge.fact_ids]
        assert fact.start_s is not None
        minute, second = divmod(int(fact.start_s), 60)
        assert row["Evidence"] == f"{fact.note} {minute}:{second:02d}"
        assert row["Photos"] == (", ".join(fact.photos) or None)
    assert [row["Unit"] for row in rows] == ["piece", "piece", "mL", "piece", "h"]
    assert [row["Discount (%)"] for row in rows] == [None, 10, None, None, None]
    assert any(row["Photos"] for row in rows)


def test_every_account_is_there_with_its_groups_of_tax(tmp_path: Path) -> None:
    record = priced()
    assert record.totals is not None
    book = book_of(record, tmp_path)
    *accounts, together = table(book["Totals"])
    names = {
        "lines": "Sum of lines (EUR)",
        "net": "Total without tax (EUR)",
        "tax": "Tax (EUR)",
        "gross": "Total with tax (EUR)",
        "paid": "Already paid (EUR)",
        "due": "To be paid (EUR)",
    }
    for row, account in zip(accounts, record.totals.split, strict=True):
        assert row["Payer"] == account.payer
        for name, heading in names.items():
            assert Decimal(str(row[heading])) == getattr(account, name)
    for name in ("net", "tax", "gross"):
        assert Decimal(str(together[names[name]])) == getattr(record.totals, name)
    groups = [(a.payer, t) for a in record.totals.split for t in a.taxes]
    for row, (payer, group) in zip(table(book["Tax"]), groups, strict=True):
        assert row["Payer"] == payer
        assert Decimal(str(row["Taxed amount (EUR)"])) == group.base
        assert Decimal(str(row["Tax (EUR)"])) == group.tax
    [allowance] = table(book["Allowances"])
    assert (allowance["Reason"], allowance["Amount (EUR)"]) == ("fleet agreement", 4.42)
    assert [row["Remark"] for row in table(book["Remarks"])] == list(record.charge_remarks)


def test_the_job_and_its_invoice_are_named(tmp_path: Path) -> None:
    held = {row["Entry"]: row["Value"] for row in table(book_of(billed(Sold()), tmp_path)["Job"])}
    assert held["Job number"] == "J-17"
    assert held["Invoice number"] == HEAD.number
    assert held["Invoice date"] == dt.datetime(2031, 6, 19)


def test_a_line_without_price_says_why_and_there_is_no_total(tmp_path: Path) -> None:
    book = book_of(one_price_missing(), tmp_path)
    bare = table(book["Lines"])[1]
    assert (bare["Net"], bare["Price for one"], bare["Remark"]) == (None, None, "not in the price list")
    assert [cell.value for cell in book["Totals"]["A"]][1].startswith("There is no total yet")
    assert "Tax" not in book.sheetnames


def test_the_heading_stays_in_sight_and_columns_are_as_wide_as_their_text(tmp_path: Path) -> None:
    book = book_of(billed(Sold(description="x" * 40), Sold(description="y" * 500)), tmp_path)
    for sheet in book:
        assert sheet.freeze_panes == "A2"
        assert sheet.print_title_rows == "$1:$1"
        assert all(cell.font.bold for cell in sheet[1])
    widths = book["Lines"].column_dimensions
    assert 42 <= widths["C"].width <= 80
    assert widths["A"].width < 20
    assert widths["I"].width < 20
    heights = book["Lines"].row_dimensions
    assert heights[2].height is None
    assert heights[3].height >= 8 * 12


# --- numbers -----------------------------------------------------------------------------------------


def test_a_sum_that_binary_fractions_spoil_stands_as_it_is(tmp_path: Path) -> None:
    """0.1 and 0.2 are 0.3; and 9.95, which as a binary fraction is 9.949999999999999 to sixteen digits."""
    record = billed(Sold(price="0.1"), Sold(price="0.2"), Sold(price="9.95"))
    book_of(record, tmp_path)
    cells = raw(tmp_path / "lines.xlsx")
    assert [cells[f"I{row}"] for row in (2, 3, 4)] == [("n", "0.10"), ("n", "0.20"), ("n", "9.95")]
    assert raw(tmp_path / "lines.xlsx", 2)["B2"] == ("n", "10.25")


@pytest.mark.parametrize(
    ("currency", "places", "shape"), [("EUR", 2, "#,##0.00"), ("JPY", 0, "#,##0"), ("KWD", 3, "#,##0.000")]
)
def test_amounts_have_the_places_of_their_currency(
    currency: str, places: int, shape: str, tmp_path: Path
) -> None:
    record = billed(Sold("3", "1234"), currency=currency, places=places)
    book = book_of(record, tmp_path)
    assert book["Lines"]["I2"].number_format == shape
    assert book["Lines"]["G2"].number_format == shape
    assert {cell.number_format for cell in book["Totals"][2] if cell.data_type == "n"} - {"General"} == {
        shape
    }


def test_a_price_keeps_the_places_that_it_has_more(tmp_path: Path) -> None:
    cell = book_of(billed(Sold("1000", "0.0125")), tmp_path)["Lines"]["G2"]
    assert (cell.value, cell.number_format) == (0.0125, "#,##0.0000")


def test_a_number_that_a_spreadsheet_would_change_is_text(tmp_path: Path) -> None:
    record = billed(Sold(price="12345678901234567.89"))
    cell = book_of(record, tmp_path)["Lines"]["I2"]
    assert (cell.data_type, cell.value) == ("s", "12345678901234567.89")


@settings(max_examples=60, deadline=None)
@given(st.lists(st.decimals(0, 10**9, places=2), min_size=1, max_size=8))
def test_every_amount_comes_back_to_the_last_place(
    tmp_path_factory: pytest.TempPathFactory, amounts: list[Decimal]
) -> None:
    folder = tmp_path_factory.mktemp("amounts", numbered=True)
    record = billed(*[Sold(price=f"{amount:f}") for amount in amounts])
    book_of(record, folder)
    cells = raw(folder / "lines.xlsx")
    assert [cells[f"I{row}"][1] for row in range(2, len(amounts) + 2)] == [f"{a:.2f}" for a in amounts]


# --- text --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("said", SPREADSHEET_WORDS)
def test_text_stays_text_whatever_it_begins_with(said: str, tmp_path: Path) -> None:
    sheet = book_of(billed(Sold(description=said, number=said)), tmp_path)["Lines"]
    for place in ("C2", "D2"):
        assert (sheet[place].data_type, sheet[place].value) == ("s", said)
        # so that a person who edits the cell doesn't make a formula of it
        assert sheet[place].quotePrefix == said.startswith(("=", "+", "-", "@"))
    assert raw(tmp_path / "lines.xlsx")["C2"] == ("inlineStr", said)


def test_what_a_cell_can_not_hold_is_shown_as_lost(tmp_path: Path) -> None:
    sheet = book_of(billed(Sold(description="a\x00b\x0bc\ud800d\ufffe")), tmp_path)["Lines"]
    assert sheet["C2"].value == "a\ufffdb\ufffdc\ufffdd\ufffd"


@pytest.mark.parametrize("sign", ["x", "ö", "\U0001f527"])
def test_text_beyond_a_cell_is_cut_with_a_sign_of_it(sign: str, tmp_path: Path) -> None:
    """A cell holds 32,767 characters (the limits that makers of spreadsheets publish), in UTF-16 units."""
    value = book_of(billed(Sold(description=sign * 40_000)), tmp_path)["Lines"]["C2"].value
    assert value.endswith("…")
    assert set(value[:-1]) == {sign}
    assert 32_764 <= len(value.encode("utf-16-le")) // 2 <= 32_767
    whole = "y" * 32_767
    assert book_of(billed(Sold(description=whole)), tmp_path)["Lines"]["C2"].value == whole


@settings(max_examples=60, deadline=None)
@given(
    said=st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cf", "Cn"]), min_size=1, max_size=30)
)
def test_any_words_come_back(tmp_path_factory: pytest.TempPathFactory, said: str) -> None:
    folder = tmp_path_factory.mktemp("words", numbered=True)
    cell = book_of(billed(Sold(description=said)), folder)["Lines"]["C2"]
    assert (cell.data_type, cell.value) == ("s", said)


# --- the file ----------------------------------------------------------------------------------------


def test_the_file_says_what_it_is_and_of_which_record(tmp_path: Path) -> None:
    record = priced()
    properties = book_of(record, tmp_path).properties
    assert properties.title == "Priced lines of job 4820-B"
    digest = hashlib.sha256(record_json.dumps(record).encode()).hexdigest()
    assert properties.identifier == f"sha256:{digest}"
    write_spreadsheet(record, tmp_path / "named.xlsx", record_sha256="ab" * 32)
    assert openpyxl.load_workbook(tmp_path / "named.xlsx").properties.identifier == "sha256:" + "ab" * 32


def test_the_same_record_gives_the_same_bytes_at_any_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_spreadsheet(priced(), tmp_path / "one.xlsx")

    class Later(dt.datetime):
        @classmethod
        def now(cls, tz: dt.tzinfo | None = None) -> dt.datetime:
            return dt.datetime(2044, 4, 4, tzinfo=tz)

    monkeypatch.setattr(dt, "datetime", Later)
    monkeypatch.setattr("time.time", lambda: 2_345_678_901.0)
    write_spreadsheet(priced(), tmp_path / "two.xlsx")
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


@pytest.mark.parametrize("bare", ["none", "unpriced"])
def test_without_any_price_there_is_no_spreadsheet(bare: str, tmp_path: Path) -> None:
    record = r.Record(r.Job())
    if bare == "unpriced":
        priceless = replace(priced().charges[0], unit_price=None, net=None, shares=(), why="no price list")
        record = replace(record, charges=(priceless,))
    with pytest.raises(JobnotesError, match=r"no line of the record has a price; put prices\.csv"):
        write_spreadsheet(record, tmp_path / "lines.xlsx")
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_one_line(tmp_path: Path) -> None:
    with pytest.raises(JobnotesError, match="No such file or directory; check the folder"):
        write_spreadsheet(priced(), tmp_path / "none" / "lines.xlsx")


# --- what a person sees ------------------------------------------------------------------------------


@pytest.mark.office
def test_a_spreadsheet_program_shows_the_same(tmp_path: Path) -> None:
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("needs LibreOffice")
    said = [*(word for word in SPREADSHEET_WORDS if "\n" not in word), "_x0041_", "naïve ✓ \U0001f527"]
    record = billed(*[Sold(price="9.95", quantity="1234", description=word) for word in said])
    write_spreadsheet(record, tmp_path / "lines.xlsx")
    filters = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,true,false,false,1"
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    made = subprocess.run(
        [soffice, "--headless", profile, "--convert-to", filters, "--outdir", str(tmp_path), "lines.xlsx"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    if "could not be loaded" in made.stderr and not shutil.which("localc"):
        pytest.skip("needs LibreOffice's spreadsheet (Debian: libreoffice-calc)")
    [shown] = tmp_path.glob("*.csv")
    with shown.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert [row["Description"] for row in rows] == said
    assert {row["Net (EUR)"] for row in rows} == {"12,278.30"}
    assert {row["Number"] for row in rows} == {"AS 7740 215"}

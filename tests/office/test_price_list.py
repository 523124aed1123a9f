"""prices.csv: what a price may be, how it is found, and which lists are refused."""

from __future__ import annotations

import csv
import io
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from office_files import WORKSHOP, office_of, refusal, written

from jobnotes.errors import JobnotesError
from jobnotes.office import office as offices
from jobnotes.office import workshop as workshops
from jobnotes.office.prices import Price, PriceList, load

COLUMNS = "number,description,unit,price,tax,discount\n"
BARE = "number,description,unit,price\n"
SAID = "number,description,unit,price,said_as\n"


def listed(folder: Path, text: str | bytes) -> PriceList:
    found = office_of(folder, prices=text).prices
    assert found is not None
    return found


def test_a_row_becomes_a_price(tmp_path: Path) -> None:
    found = listed(tmp_path, COLUMNS + "AS 7740 215,air spring,piece,184.50,low,10\n,coolant,l,4.10,,\n")
    assert found.prices == (
        Price("air spring", "1", Decimal("184.50"), "AS 7740 215", "low", Decimal(10)),
        Price("coolant", "L", Decimal("4.10")),
    )


@pytest.mark.parametrize("said", ["4471-20", "447120", "4471 20", "4471.20", "4471–20", "44 71-2.0"])
def test_a_number_is_found_as_printed_spaced_dotted_or_hyphenated(said: str, tmp_path: Path) -> None:
    found = listed(tmp_path, BARE + "4471-20,water pump,,120\n")
    assert found.by_number(said) is not None


@pytest.mark.parametrize(("said", "printed"), [("ab12", "AB12"), ("Ab 12", "aB-12")])
def test_upper_and_lower_case_are_one(said: str, printed: str, tmp_path: Path) -> None:
    assert listed(tmp_path, BARE + f"{printed},hose,,1\n").by_number(said) is not None


@pytest.mark.parametrize("said", ["4471/20", "447l20", "44712", "4471200", "O4471-20", "4471_20"])
def test_nothing_else_is_taken_for_the_number(said: str, tmp_path: Path) -> None:
    assert listed(tmp_path, BARE + "4471-20,water pump,,120\n").by_number(said) is None


def test_a_name_is_found_by_its_very_words_in_singular_or_plural(tmp_path: Path) -> None:
    found = listed(tmp_path, BARE + ",cable tie,,0.18\n,Brake bushes,,3\n,air-hose,,9\n")
    assert [p.price for p in found.by_name("Cable ties")] == [Decimal("0.18")]
    assert [p.price for p in found.by_name("brake bush")] == [Decimal(3)]
    assert [p.price for p in found.by_name("air hose")] == [Decimal(9)]
    assert found.by_name("tie") == found.by_name("long cable tie") == found.by_name("") == ()


def test_a_list_in_another_language_says_what_the_technician_says(tmp_path: Path) -> None:
    head = "number,description,unit,price,said_as\n"
    found = listed(
        tmp_path, head + ",Schlauchschelle,,2.10,hose clamp | clip |\n206G51,Luftschlauch,,36.75,air hose\n"
    )
    for name in ("Schlauchschelle", "hose clamps", "Clip"):
        assert [p.price for p in found.by_name(name)] == [Decimal("2.10")]
    assert [p.number for p in found.by_name("air hose")] == ["206G51"]
    assert found.by_name("hose") == ()


@pytest.mark.parametrize(
    ("text", "price"),
    [
        ("number;description;unit;price\nA1;hose;;12,50\n", "12.50"),
        ("number;description;unit;price\nA1;hose;;12.50\n", "12.50"),
        ("number;description;unit;price\nA1;hose;;1 234,50\n", "1234.50"),
        ("number;description;unit;price\nA1;hose;;0.125\n", "0.125"),
        ("\ufeffnumber,description,unit,price\r\nA1,hose,,12.50\r\n", "12.50"),
        ("\n\nprice,unit,number,description\n12.50,,A1,hose\n\n", "12.50"),
        ('Number,Description,Unit,PRICE\nA1,"hose, ""long""",,12.50\n', "12.50"),
        ("number,description,unit,price,,\nA1,hose,,12.50,,\n,,,,,\n", "12.50"),
        ('number,description,unit,price\nA1,"hose\nof two lines",,12.50\n', "12.50"),
    ],
)
def test_lists_as_spreadsheets_save_them_are_read(text: str, price: str, tmp_path: Path) -> None:
    found = listed(tmp_path, text).by_number("a1")
    assert found is not None
    assert found.price == Decimal(price)


def test_the_same_row_twice_is_one_price(tmp_path: Path) -> None:
    found = listed(tmp_path, BARE + "A-1,hose,,3\na1,hose,,3\n,tie,,1\n,ties,,1\n")
    assert len(found.prices) == 2


@pytest.mark.parametrize(
    ("text", "where", "reason", "remedy"),
    [
        ("", "prices.csv:", "is empty", "begin it with a row number,description"),
        (BARE, "prices.csv:", "holds no row", "add one"),
        ("number,description,unit\nA,b,\n", "line 1", "no column 'price'", "name it in the heading"),
        (BARE.replace("unit", "unit,cost"), "line 1", "unknown column 'cost'", "take it out"),
        (BARE.replace("unit", "unit,price"), "line 1", "two columns are called 'price'", "keep one"),
        (BARE + "A1,hose,,\n", "line 2", "A1 has no price", "write it, or take the row out"),
        (BARE + "A1,hose\n", "line 2", "A1 has no price", "write it, or take the row out"),
        (BARE + "A1,hose,,0.00\n", "line 2", "the price of A1 is 0", "take the row out"),
        (BARE + "\nA1,hose,,-3\n", "line 3", "price is -3", "not negative"),
        (BARE + "A1,hose,,three\n", "line 2", "price 'three' is not a number", "12.50"),
        (BARE + "A1,hose,,€3\n", "line 2", "not a number", "leave out the currency €, as in 3"),
        (BARE + "A1,hose,,1e3\n", "line 2", "not a number", "12.50"),
        (BARE + "A1,hose,,NaN\n", "line 2", "not a number", "12.50"),
        (BARE + "A1,hose,,12 50\n", "line 2", "not a number", "12.50"),
        (BARE + 'A1,hose,,"12,50"\n', "line 2", "'12,50' is not a number", "12.50"),
        (BARE + "A1,hose,,12,50\n", "line 2", "5 entries for 4 columns", "double quotes"),
        ("number;description;unit;price\nA1;hose;;1.234\n", "line 2", "thousands or", "1234 or 1,234"),
        ("number;description;unit;price\nA1;hose;;1.234,50\n", "line 2", "not a number", "12,50 or 12.50"),
        (BARE + "A1,hose,bucket,3\n", "line 2", "unknown unit 'bucket'", "UCUM"),
        (BARE + ",,,3\n", "line 2", "neither number nor description", "say what"),
        (BARE + "--,hose,,3\n", "line 2", "neither letter nor digit", "part's number"),
        (BARE + ",…,,3\n", "line 2", "has no words", "say what"),
        (COLUMNS + "A1,hose,,3,high,\n", "line 2", "unknown tax 'high'", "standard, low"),
        (COLUMNS + "A1,hose,,3,,101\n", "line 2", "discount is 101", "from 0 to 100"),
        (COLUMNS + "A1,hose,,3,,x\n", "line 2", "discount 'x' is not a number", "12.50"),
        (BARE + "A-1,hose,,3\nB,x,,1\na 1,hose,,4\n", "line 4", "a 1 stands on line 2", "keep the row"),
        (COLUMNS + "A1,hose,,3,,\nA.1,hose,,3,low,\n", "line 3", "A.1 stands on line 2", "keep the row"),
        (BARE + ",cable tie,,3\n,Cable ties,,4\n", "line 3", "Cable ties stands on line 2", "keep the row"),
        (SAID + ",a,,3,clip\n,b,,4,strap|Clips\n", "line 3", "Clips is a name of line 2 too", "in one of"),
        (SAID + ",a,,3,b\n,b,,4,\n", "line 3", "b is a name of line 2 too", "in one of the two rows"),
        (SAID + "A1,a,,3,clip|--\n", "line 2", "said_as '--' has no words", "what the technician says"),
        (SAID + "A1,a,,3,x\nA1,a,,3,y\n", "line 3", "A1 stands on line 2 too", "keep the row that holds"),
        (BARE + 'A1,"hose,,3\nB2,x,,4\n', "line 2", "not CSV", "close the double quotes"),
        (BARE + 'A1,"ho"se,,3\n', "line 2", "not CSV", "close the double quotes"),
        (BARE + "A\x001,hose,,3\n", "line 2", "control character", "take it out"),
        ((BARE + "A,x,,1\nB,Kühlschlauch,,3\n").encode("cp1252"), "line 3", "Windows-1252", "as UTF-8"),
        ((BARE + "A,Kühlschlauch,,3\n").encode("cp1252"), "line 2", "“A,Kühlschlauch,,3”", "as UTF-8"),
        ((BARE + "A,x,,3\n").encode("utf-16"), "prices.csv:", "UTF-16", "as UTF-8"),
        (BARE.encode() + b"A,\x81\xff,,3\n", "line 2", "not UTF-8 text", "as UTF-8"),
    ],
)  # fmt: skip
def test_a_list_that_is_wrong_is_refused_with_its_line(
    text: str | bytes, where: str, reason: str, remedy: str, tmp_path: Path
) -> None:
    said = refusal(tmp_path, prices=text)
    assert said.startswith("prices.csv")
    subject, _, rest = said.partition(": ")
    told, _, todo = rest.rpartition("; ")
    assert where in f"{subject}:"
    assert reason in told
    assert remedy in todo


def test_prices_without_a_currency_are_refused(tmp_path: Path) -> None:
    said = refusal(tmp_path, None, prices=BARE + "A1,hose,,3\n")
    assert said == (
        "prices.csv: has no currency: there is no workshop.toml beside it; write one, see docs/prices.md"
    )


def test_a_folder_in_the_place_of_a_file_is_refused(tmp_path: Path) -> None:
    (tmp_path / "prices.csv").mkdir()
    assert "prices.csv: " in refusal(tmp_path)


def test_without_a_folder_or_files_there_is_nothing_and_no_error(tmp_path: Path) -> None:
    assert offices.load(None) == offices.load(tmp_path) == offices.Office()


words = st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=12)
descriptions = st.lists(words.map("x".__add__), min_size=1, max_size=3).map(" ".join)
amounts = st.decimals("0.0001", 999999, places=4)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    table=st.lists(
        st.tuples(descriptions, st.sampled_from(["1", "L", "kg", "m"]), amounts), min_size=1, max_size=12
    ),
    mark=st.sampled_from(",;"),
    comma=st.booleans(),
    bom=st.booleans(),
    quoting=st.sampled_from([csv.QUOTE_MINIMAL, csv.QUOTE_ALL]),
)
def test_what_a_spreadsheet_writes_is_what_is_read(
    table: list[tuple[str, str, Decimal]], mark: str, comma: bool, bom: bool, quoting: int, tmp_path: Path
) -> None:
    def shown(amount: Decimal) -> str:
        return f"{amount:f}".replace(".", ",") if comma and mark == ";" else f"{amount:f}"

    out = io.StringIO()
    writer = csv.writer(out, delimiter=mark, quoting=quoting)
    writer.writerow(["number", "description", "unit", "price"])
    for at, (description, unit, price) in enumerate(table):
        writer.writerow([f"N{at}", description, unit, shown(price)])
    raw = (b"\xef\xbb\xbf" if bom else b"") + out.getvalue().encode()
    found = listed(tmp_path, raw)
    assert [(p.number, p.description, p.unit, p.price) for p in found.prices] == [
        (f"N{at}", description, unit, price) for at, (description, unit, price) in enumerate(table)
    ]


lines = st.lists(st.text(st.sampled_from('A1,;"\n\t .-0é\ufeff\x00'), max_size=12), max_size=5)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(raw=st.one_of(st.binary(max_size=60), lines.map(lambda some: (BARE + "\n".join(some)).encode())))
def test_whatever_the_file_holds_the_answer_is_a_list_or_one_line(raw: bytes, tmp_path: Path) -> None:
    own = workshops.load(written(tmp_path, WORKSHOP, prices=raw))
    assert own is not None
    said, found = "", PriceList()
    try:
        found = load(tmp_path / "prices.csv", own)
    except JobnotesError as error:
        said = str(error)
    assert bool(said) != bool(found.prices)
    assert len(said.splitlines()) <= 1
    assert all(p.price > 0 and p.unit and p.description for p in found.prices)

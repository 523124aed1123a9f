"""A decimal comma in a file that commas separate: 36,75 must not become a price of 36 with 75 % off."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from office_files import office_of, refusal

HEAD = "number,description,unit,price,discount\n"


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        (
            "prices",
            HEAD + "206 G51,air hose,piece,36,75\n",
            "line 2: price 36 and discount 75 may be one number, 36,75; "
            "write 36.75, or 36.00 if 75 is the discount",
        ),
        (
            "prices",
            HEAD + "A1,hose,,3.10,\nA2,hose,,36,5\nA3,hose,,2,50\n",
            "line 3: price 36 and discount 5",
        ),
        ("prices", HEAD + "A1,hose,,36,5\nA2,clip,,2,10\n", "line 2: price 36 and discount 5 may be one"),
        ("prices", "number,description,unit,price,tax,discount\nA,b,,36,75\n", "line 2: price 36 and tax 75"),
        ("prices", "description,price,number,unit\nhose,36,75\n", "line 2: price 36 and number 75 may be"),
        ("prices", HEAD + "A1,hose,,0,75\n", "line 2: price 0 and discount 75 may be one number, 0,75"),
        ("standard_times", "operation,hours,code\nrepair,2,3\n", "line 2: hours 2 and code 3 may be one"),
        (
            "standard_times",
            "operation,hours,code\nrepair,2,25\n",
            "line 2: hours 2 and code 25 may be one number, 2,25; write 2.25, or 2.00 if 25 is the code",
        ),
        ("labour_rates", "operation,rate,tax\n*,84,50\n", "line 2: rate 84 and tax 50 may be one number"),
    ],
)
def test_what_may_be_a_decimal_comma_is_refused_with_line_and_both_ways_out(
    name: str, text: str, said: str, tmp_path: Path
) -> None:
    assert refusal(tmp_path, **{name: text}).startswith(f"{name}.csv, {said}")


def test_all_such_lines_are_told_at_once(tmp_path: Path) -> None:
    """Else one that is put right would be the point that lets the others pass."""
    rows = ["A1,hose,,36,75", "A2,clip,,2,10", "A3,belt,,8,"]
    assert refusal(tmp_path, prices=HEAD + "\n".join(rows)).endswith("is the discount, and line 3 alike")
    rows[0] = "A1,hose,,36.75,"
    office_of(tmp_path, prices=HEAD + "\n".join([rows[0], "A2,clip,,2.10,", rows[2]]))


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("prices", HEAD + "A1,hose,,36,5\nA2,clip,,2.10,\n"),
        ("prices", HEAD + "A1,hose,,36.00,5\nA2,clip,,2.00,10\n"),
        ("prices", HEAD + "A1,hose,,36,\nA2,clip,,2,\n"),
        ("prices", HEAD + "A1,hose,,36,100\nA2,clip,,2,12.5\n"),
        ("prices", HEAD.replace(",", ";") + "A1;hose;;36;75\n"),
        ("prices", HEAD + "".join(f"A{n},a,,{n}.1,\nB{n},b,,{n},5\nC{n},c,,{n},7\n" for n in range(1, 25))),
        ("standard_times", "operation,hours,code\nrepair,2,S42\ndiagnosis,1,104\n"),
        ("standard_times", "operation,hours,code\nrepair,2,42\ndiagnosis,1.5,10\n"),
        ("labour_rates", "operation,rate,tax\n*,84,low\n"),
    ],
)  # fmt: skip
def test_lists_that_mean_what_they_say_pass(name: str, text: str, tmp_path: Path) -> None:
    office_of(tmp_path, **{name: text})


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    amounts=st.lists(st.decimals("0.01", 99999, places=2), min_size=1, max_size=8),
    short=st.booleans(),
)
def test_a_list_saved_with_decimal_commas_is_never_read(
    amounts: list[Decimal], short: bool, tmp_path: Path
) -> None:
    """Each comma cuts a price; whatever the prices are, none of them gets in, unless all were whole."""
    shown = [f"{a.normalize():f}" if short else f"{a:f}" for a in amounts]
    rows = [f"N{at},hose,,{text.replace('.', ',')}" for at, text in enumerate(shown)]
    text = HEAD + "\n".join(rows) + "\n"
    if any("." in price for price in shown):
        assert "may be one number" in refusal(tmp_path, prices=text)
    else:
        found = office_of(tmp_path, prices=text).prices
        assert found is not None
        assert [p.price for p in found.prices] == amounts


@pytest.mark.parametrize(
    ("row", "remedy"),
    [
        ("A1,hose,,20.00,20%", "leave out the sign %, as in 20"),
        ('A1,hose,,"20,00",', "write a decimal point for the comma, as in 20.00"),
        ("A1,hose,,20.00 EUR,", "leave out the currency EUR, as in 20.00"),
        (
            'A1,hose,,"€ 20,00",',
            "leave out the currency € and write a decimal point for the comma, as in 20.00",
        ),
        ("A1,hose,,1.5,2,5", "put an entry that holds ',' in double quotes, and write decimals with a point"),
    ],
)
def test_a_number_that_is_nearly_one_says_what_to_change(row: str, remedy: str, tmp_path: Path) -> None:
    said = refusal(tmp_path, prices=HEAD + row + "\n")
    assert said.endswith(f"; {remedy}")


def test_a_missing_column_is_named_with_all_there_may_be(tmp_path: Path) -> None:
    said = refusal(tmp_path, prices="number,description,price\nA1,hose,3\n")
    assert said.endswith(
        "there is no column 'unit'; name it in the heading row: number, description, unit, price, "
        "and if you like tax, discount, said_as"
    )

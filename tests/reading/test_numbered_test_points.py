"""A value that is said right behind the number of one of several is never, surely, run into that number.

Numbers in words are num2words' (a general-purpose library); that several alike are told apart by their
number is common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from jobnotes.reading.read import read_text
from jobnotes.record import Fact, Measurement

#: What a value is of, its unit, and values that are plausible there.
OF_ONE = [
    ("compression on cylinder three", "bar"),
    ("pressure at axle two", "bar"),
    ("pressure in tank one", "bar"),
    ("voltage at battery one", "volts"),
    ("resistance at pin four", "ohms"),
    ("resistance between pins one and two", "ohms"),
    ("pressure on the rear one", "bar"),
    ("torque on bolt one", "newton metres"),
    ("ride height left rear", "millimetres"),
]
VALUES = st.one_of(
    st.integers(21, 9_999),
    st.integers(1, 400).map(lambda tenths: Decimal(tenths) / 10).filter(lambda v: v % 1),
)


def in_words(value: int | Decimal) -> str:
    return str(num2words(value)).replace(",", "").replace("-", " ")


def readings(text: str) -> list[tuple[Fact, Measurement]]:
    return [(f, f.detail) for f in read_text(text) if isinstance(f.detail, Measurement)]


@given(st.sampled_from(OF_ONE), VALUES)
def test_no_sure_value_takes_in_the_number_of_what_it_is_of(
    of_one: tuple[str, str], value: int | Decimal
) -> None:
    told, unit = of_one
    for fact, found in readings(f"{told} {in_words(value)} {unit}"):
        assert found.value == value or fact.status == "check"


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("compression on cylinder three eight point five bar", "8.5"),
        ("pressure at axle two six hundred and forty four kilopascals", "644"),
        ("the left one nine point two millimetres", "9.2"),
        ("ride height left rear one thousand two hundred and six millimetres", "1206"),
        ("ride height left one ninety five millimetres", "195"),
    ],
)
def test_the_likelier_of_two_ways_to_read_it_is_shown(text: str, value: str) -> None:
    ((_, found),) = readings(text)
    assert found.value == Decimal(value)


def test_what_can_be_read_in_two_ways_says_which_words_leave_it_open() -> None:
    ((fact, _),) = readings("compression on cylinder three eight point five bar")
    assert fact.status == "check"
    assert "three eight point five" in (fact.why or "")


@pytest.mark.parametrize("digits", ["one nine point eight", "two three point five"])
def test_digits_one_by_one_are_one_sure_number_where_nothing_before_them_has_a_number(digits: str) -> None:
    ((fact, found),) = readings(f"coolant temperature {digits} degrees celsius")
    assert fact.status == "sure"
    assert found.value in (Decimal("19.8"), Decimal("23.5"))

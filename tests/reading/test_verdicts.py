"""A reading, its limit and the verdict: always what plain arithmetic on the spoken figures says."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st
from reading_forms import TRADE, in_words, sure

from jobnotes.reading.readings.verdicts import verdict_of
from jobnotes.reading.trade.files import convert
from jobnotes.record import Limit, Measurement

figures = st.decimals(Decimal("0.1"), Decimal("999.9"), places=1)
MAX = ["limit", "maximum", "no more than", "must not exceed", "at most", "should be under"]
MIN = ["minimum", "no less than", "at least", "should be at least", "must be over"]


@given(figures, figures, st.sampled_from(MAX))
def test_a_reading_over_its_maximum_is_outside_and_else_within(
    value: Decimal, most: Decimal, said_as: str
) -> None:
    found = sure(f"the pressure is {value} bar, {said_as} {most} bar", Measurement)
    assert found.limit == Limit(max=most, source="said")
    assert found.verdict == ("within" if value <= most else "outside")


@given(figures, figures, st.sampled_from(MIN))
def test_a_reading_under_its_minimum_is_outside_and_else_within(
    value: Decimal, least: Decimal, said_as: str
) -> None:
    found = sure(f"the pressure is {value} bar, {said_as} {least} bar", Measurement)
    assert found.limit == Limit(min=least, source="said")
    assert found.verdict == ("within" if value >= least else "outside")


@given(
    figures,
    figures,
    figures,
    st.sampled_from(["should be between {} and {} bar", "spec is {} to {} bar", "spec {} to {}"]),
)
def test_a_reading_is_judged_against_the_range_that_was_said(
    value: Decimal, a: Decimal, b: Decimal, said_as: str
) -> None:
    low, high = sorted((a, b))
    assume(low < high)
    found = sure(f"I measured {value} bar, {said_as.format(low, high)}", Measurement)
    assert found.limit == Limit(min=low, max=high, source="said")
    assert found.verdict == ("within" if low <= value <= high else "outside")


@given(figures, figures, st.decimals(Decimal("0.1"), Decimal("9.9"), places=1))
def test_plus_or_minus_makes_a_range_around_the_nominal_value(
    value: Decimal, nominal: Decimal, by: Decimal
) -> None:
    found = sure(f"I measured {value} bar, spec is {nominal} plus or minus {by}", Measurement)
    assert found.limit is not None
    assert (found.limit.nominal, found.limit.min, found.limit.max) == (nominal, nominal - by, nominal + by)
    assert found.verdict == ("within" if nominal - by <= value <= nominal + by else "outside")


# decimal factors between units of one quantity, exact by definition
FACTORS = [
    ("kilo ohms", "kOhm", "ohms", Decimal(1000)),
    ("ohms", "Ohm", "kilo ohms", Decimal("0.001")),
    ("volts", "V", "millivolts", Decimal(1000)),
    ("bar", "bar", "millibar", Decimal(1000)),
    ("bar", "bar", "kilopascals", Decimal(100)),
    ("amps", "A", "milliamps", Decimal(1000)),
    ("inches", "[in_i]", "millimetres", Decimal("25.4")),
]


@pytest.mark.parametrize(("unit", "code", "other", "factor"), FACTORS)
@given(
    value=st.decimals(Decimal("1.0"), Decimal("90.0"), places=1),
    most=st.decimals(Decimal("1.0"), Decimal("90.0"), places=1),
)
def test_a_limit_in_another_unit_is_judged_with_both_sides_in_one(
    unit: str, code: str, other: str, factor: Decimal, value: Decimal, most: Decimal
) -> None:
    in_other = (most * factor).normalize()
    found = sure(f"it reads {value} {unit}, maximum {in_other:f} {other}", Measurement)
    assert (found.value, found.unit) == (value, code)
    assert found.verdict == ("within" if value * factor <= in_other else "outside")


@given(figures, figures)
def test_the_verdict_function_agrees_with_decimal_comparison(value: Decimal, bound: Decimal) -> None:
    assert verdict_of(value, Limit(max=bound))[0] == ("within" if value <= bound else "outside")
    assert verdict_of(value, Limit(min=bound))[0] == ("within" if value >= bound else "outside")
    assert verdict_of(value, None)[0] == "no limit given"


@given(st.floats(1, 1000), st.sampled_from(["kPa", "[psi]", "mbar", "MPa"]))
def test_conversion_before_a_verdict_keeps_the_order_of_sizes(value: float, unit: str) -> None:
    a, b = convert(TRADE, value, unit, "bar"), convert(TRADE, value * 1.01, unit, "bar")
    assert a is not None
    assert b is not None
    assert a < b


def test_a_reading_without_a_limit_has_no_verdict() -> None:
    found = sure("sixty point two ohms at the plug", Measurement)
    assert (found.limit, found.verdict) == (None, "no limit given")


@given(figures)
def test_the_places_that_were_said_stay(value: Decimal) -> None:
    whole, places = str(value).split(".")
    assert str(sure(f"the supply is {value} volts", Measurement).value) == str(value)
    spoken = f"the supply is {in_words(int(whole))} point {in_words(int(places))} volts"
    assert str(sure(spoken, Measurement).value) == str(value)

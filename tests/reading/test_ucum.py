"""Units: every code is one that UCUM knows, and means what the named pint unit means.

Package `ucumvert` parses UCUM codes by the grammar and table of https://ucum.org and maps them to pint.
"""

from __future__ import annotations

import math
from functools import lru_cache

import pytest
from reading_forms import TRADE, details
from ucumvert import PintUcumRegistry

from jobnotes.reading.trade.files import convert
from jobnotes.record import Measurement

UNITS = sorted(TRADE.units)
#: The codes that the contract of the record names.
CONTRACT = (
    "V A Ohm kOhm MOhm bar mbar kPa [psi] Cel [degF] N.m [ft_i].[lbf_av] mm L km [mi_i] h min /min Hz % g kg"
).split()
# Columns of liquid: UCUM has its own definitions, m[H2O] = 9.80665 kPa and m[Hg] = 133.3220 kPa
# (ucum-essence.xml), where ucumvert maps to those at 60 °F
COLUMNS = {"[in_i'H2O]": 9806.65 * 0.0254, "[in_i'Hg]": 133322.0 * 0.0254}


@lru_cache
def registry() -> PintUcumRegistry:
    return PintUcumRegistry()


def test_the_units_of_the_contract_are_all_there() -> None:
    assert set(CONTRACT) <= set(UNITS)


@pytest.mark.parametrize("code", UNITS)
def test_a_code_is_valid_ucum_of_the_same_dimension_as_its_pint_name(code: str) -> None:
    ucum = registry().from_ucum(code)
    assert ucum.dimensionality == registry().parse_units(TRADE.units[code].pint).dimensionality


@pytest.mark.parametrize("code", [c for c in UNITS if c not in COLUMNS])
@pytest.mark.parametrize("value", [1.0, -40.0, 12.5])
def test_a_code_has_the_size_of_its_pint_name(code: str, value: float) -> None:
    ureg = registry()
    ours = ureg.Quantity(value, TRADE.units[code].pint).to_base_units().magnitude
    theirs = ureg.Quantity(value, ureg.from_ucum(code).units).to_base_units().magnitude
    assert math.isclose(ours, theirs, rel_tol=1e-9, abs_tol=1e-9)


@pytest.mark.parametrize(
    "code",
    COLUMNS,
)
def test_a_column_of_liquid_has_the_size_that_ucum_gives_it(code: str) -> None:
    pascals = TRADE.ureg.Quantity(1.0, TRADE.units[code].pint).to("pascal").magnitude
    assert math.isclose(pascals, COLUMNS[code], rel_tol=1e-4)


@pytest.mark.parametrize("code", UNITS)
def test_units_of_one_quantity_convert_into_one_another_and_back(code: str) -> None:
    for other in UNITS:
        there = convert(TRADE, 12.5, code, other)
        if TRADE.units[code].quantity == TRADE.units[other].quantity:
            assert there is not None, (code, other)
            back = convert(TRADE, there, other, code)
            assert back is not None
            assert math.isclose(back, 12.5, rel_tol=1e-9)


# worked examples: exact by definition (international yard and pound, 1959; the Celsius and Fahrenheit scales)
@pytest.mark.parametrize(
    ("value", "unit", "to", "result"),
    [
        (1, "[in_i]", "mm", 25.4),
        (1, "[mi_i]", "km", 1.609344),
        (1, "[mil_i]", "um", 25.4),
        (100, "[psi]", "bar", 6.894757293168361),
        (100, "[ft_i].[lbf_av]", "N.m", 135.5817948331400),
        (1, "[gal_us]", "L", 3.785411784),
        (1, "[gal_br]", "L", 4.54609),
        (1, "bar", "kPa", 100),
        (212, "[degF]", "Cel", 100),
        (-40, "Cel", "[degF]", -40),
        (2.1, "kOhm", "Ohm", 2100),
        (1.5, "h", "min", 90),
        (1500, "/min", "/min", 1500),
    ],
)
def test_conversions_give_the_values_of_the_definitions(
    value: float, unit: str, to: str, result: float
) -> None:
    converted = convert(TRADE, value, unit, to)
    assert converted is not None
    assert math.isclose(converted, result, rel_tol=1e-9)


def test_what_can_not_be_compared_is_not_converted() -> None:
    assert convert(TRADE, 1, "bar", "Ohm") is None
    assert convert(TRADE, 1, "N.m", "V") is None


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("earth lead 12.5 mΩ", "mOhm"),
        ("earth lead 12.5mΩ", "mOhm"),
        ("insulation 3.5 MΩ", "MOhm"),
        ("insulation 3.5 megohms", "MOhm"),
        ("brake force 22 kN", "kN"),
        ("vacuum 12 inHg", "[in_i'Hg]"),
        ("return flow 12 mL/min", "mL/min"),
        ("outlet 96 C", "Cel"),
    ],
)
def test_printed_units_are_told_apart_by_their_capitals(text: str, unit: str) -> None:
    """Prefixes m and M: BIPM, SI Brochure, 9th edition, table 7."""
    (reading,) = details(text, Measurement)
    assert reading.unit == unit

"""Units that things are sold in, held to pint's and to what an e-invoice can carry."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from importlib import resources

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.office.units import UNITS, in_unit, unit_named

PINT = {
    "L": "liter", "dL": "deciliter", "cL": "centiliter", "mL": "milliliter", "m3": "meter ** 3",
    "cm3": "centimeter ** 3", "[gal_us]": "US_liquid_gallon", "[qt_us]": "US_liquid_quart",
    "[pt_us]": "US_pint", "[foz_us]": "US_fluid_ounce", "[gal_br]": "imperial_gallon",
    "[qt_br]": "imperial_quart", "[pt_br]": "imperial_pint", "[foz_br]": "imperial_fluid_ounce",
    "kg": "kilogram", "g": "gram", "mg": "milligram", "t": "metric_ton", "[lb_av]": "pound",
    "[oz_av]": "ounce", "m": "meter", "cm": "centimeter", "mm": "millimeter", "[in_i]": "inch",
    "[ft_i]": "foot", "[yd_i]": "yard",
    "m2": "meter ** 2", "h": "hour", "1": "dimensionless",
}  # fmt: skip
REGISTRY = pint.UnitRegistry(non_int_type=Decimal)


def test_pint_knows_each_of_them() -> None:
    assert set(PINT) == UNITS


@pytest.mark.parametrize("unit", sorted(UNITS))
def test_every_amount_is_converted_as_pint_does_or_not_at_all(unit: str) -> None:
    said = Decimal("12.5")
    for wanted in UNITS:
        found = in_unit(said, unit, wanted)
        try:
            theirs = REGISTRY.Quantity(said, PINT[unit]).to(PINT[wanted]).magnitude
        except pint.DimensionalityError:
            assert found is None
        else:
            assert found is not None
            assert abs(found - theirs) <= Decimal("0.0000005") + abs(theirs) * Decimal("1e-20")


metric = st.sampled_from([("L", "mL"), ("kg", "g"), ("m", "mm"), ("m", "cm"), ("L", "cL"), ("L", "dL")])


@given(metric, st.decimals(0, 10000, places=3))
def test_to_a_smaller_unit_and_back_is_the_same_amount(pair: tuple[str, str], amount: Decimal) -> None:
    large, small = pair
    there = in_unit(amount, large, small)
    assert there is not None
    assert in_unit(there, small, large) == amount
    assert "E" not in str(there)


def test_the_documents_have_a_sign_for_each() -> None:
    text = (resources.files("jobnotes") / "data" / "documents.toml").read_text("utf-8")
    words = tomllib.loads(text)
    assert set(words["units"]) | set(words["en"]["units"]) >= UNITS


def test_an_e_invoice_has_a_code_for_each() -> None:
    text = (resources.files("jobnotes") / "data" / "einvoice.toml").read_text("utf-8")
    assert set(tomllib.loads(text)["units"]) >= UNITS


@pytest.mark.parametrize(
    ("written", "unit"),
    [("", "1"), ("piece", "1"), ("Each", "1"), ("PCS", "1"), (" l ", "L"), ("ml", "mL"), ("kg", "kg")],
)
def test_offices_may_write_pieces_and_litres_as_they_are_used_to(written: str, unit: str) -> None:
    assert unit_named(written) == unit


@pytest.mark.parametrize("written", ["KG", "ML", "M", "bucket", "V", "bar"])
def test_what_could_be_something_else_is_no_unit(written: str) -> None:
    """ "M" may be metre or the prefix mega: UCUM's codes tell capitals apart."""
    assert unit_named(written) is None

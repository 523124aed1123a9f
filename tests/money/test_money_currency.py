"""Minor units, rounding and division, held to other libraries and to the plain arithmetic of fractions."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import pytest
from babel.numbers import get_currency_precision
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.money.currency import divided, percent, places, rounded

D = Decimal


@pytest.mark.parametrize(
    ("code", "expected"),
    # ISO 4217, list one, from memory
    [("EUR", 2), ("GBP", 2), ("USD", 2), ("JPY", 0), ("ISK", 0), ("KWD", 3), ("TND", 3)],
)
def test_a_currency_has_the_places_of_its_minor_unit(code: str, expected: int) -> None:
    assert places(code) == expected
    assert get_currency_precision(code) == expected


@pytest.mark.parametrize(("code", "expected"), [("HUF", 2), ("RSD", 2), ("LBP", 2), ("IQD", 3)])
def test_iso_4217_holds_where_what_is_customary_differs(code: str, expected: int) -> None:
    """ISO 4217, list one, from memory. CLDR rounds these to whole units in some of its releases, as people
    do, and not in others."""
    assert places(code) == expected
    assert get_currency_precision(code) in (0, expected)


@pytest.mark.parametrize("code", ["DEM", "XAU", "XTS", "EURO", "eur", ""])
def test_what_nobody_pays_with_is_no_currency(code: str) -> None:
    with pytest.raises(ValueError, match="no minor unit"):
        places(code)


wide = st.decimals(0, 10**15, places=8)


@given(wide, st.integers(0, 4))
def test_rounding_is_half_up(amount: Decimal, to_places: int) -> None:
    whole = int(Fraction(amount) * 10**to_places + Fraction(1, 2))
    assert Fraction(rounded(amount, to_places)) == Fraction(whole, 10**to_places)


@given(wide, st.decimals(0, 100, places=6))
def test_a_percentage_is_rounded_once(amount: Decimal, share: Decimal) -> None:
    cents = int(Fraction(amount) * Fraction(share) + Fraction(1, 2))
    assert Fraction(percent(amount, share, 2)) == Fraction(cents, 100)


hundreds = st.tuples(st.integers(0, 10**6), st.integers(0, 10**6)).map(
    lambda two: (D(min(two)) / 10**4, D(max(two) - min(two)) / 10**4, 100 - D(max(two)) / 10**4)
)


@given(st.integers(0, 10**12), hundreds, st.sampled_from([0, 2, 3]))
def test_parts_add_up_and_each_is_within_a_minor_unit_of_its_due(
    units: int, percents: tuple[Decimal, ...], to_places: int
) -> None:
    unit = D(1).scaleb(-to_places)
    amount = units * unit
    parts = divided(amount, percents, to_places)
    assert sum(parts) == amount
    for part, share in zip(parts, percents, strict=True):
        assert part >= 0
        assert abs(Fraction(part) - Fraction(amount) * Fraction(share) / 100) < Fraction(unit)
        assert share or not part


def test_an_odd_unit_goes_to_who_lost_most_and_of_equals_to_the_first() -> None:
    assert divided(D("0.05"), (D(50), D(50)), 2) == (D("0.03"), D("0.02"))
    assert divided(D("0.10"), (D(33), D(33), D(34)), 2) == (D("0.03"), D("0.03"), D("0.04"))
    assert divided(D("1.00"), (D("33.3"), D("33.3"), D("33.4")), 2) == (D("0.33"), D("0.33"), D("0.34"))
    assert divided(D(10), (D(25), D(75)), 0) == (D(3), D(7))

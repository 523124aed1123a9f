"""Fluids that are named apart from their amount. The sentences are invented; common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details

from jobnotes.record import Step


@pytest.mark.parametrize(
    ("text", "fluid", "litres"),
    [
        ("Axle oil: level down, 1.4 litres added.", "axle oil", "1.4"),
        ("Gear oil, put 2.2 litres in to make up.", "gear oil", "2.2"),
        ("half a litre of thirty two oil goes back in", "oil", "0.5"),
        (
            "drained fifteen litres of coolant\npoured back fourteen litres of what came out",
            "coolant",
            "14",
        ),
    ],
)
def test_an_amount_goes_to_the_fluid_that_was_named_before_it(text: str, fluid: str, litres: str) -> None:
    (filled,) = (s for s in details(text, Step) if s.action == "filled")
    assert (filled.object.casefold(), filled.quantity, filled.unit) == (fluid, Decimal(litres), "L")


@pytest.mark.parametrize("text", ["oil level low, needs 2 litres added", "oil return 2 litres a minute"])
def test_what_is_still_to_be_filled_or_only_flows_was_not_filled(text: str) -> None:
    assert "filled" not in [s.action for s in details(text, Step)]


def test_the_grade_of_an_oil_counts_nothing() -> None:
    assert 46 not in [s.quantity for s in details("forty six oil goes back in", Step)]

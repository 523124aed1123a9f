"""Bounds told by what lies beyond them, sizes that were not measured, numbers named again to put them right.

The sentences are invented; that people speak so is common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, kinds, said, taken_back

from jobnotes.record import Measurement, Part


@pytest.mark.parametrize(
    ("text", "low", "high", "verdict"),
    [
        ("king pin play 1.4 mm, anything over 0.8 is scrap", None, "0.8", "outside"),
        ("brake pads 6 mm, anything under 4 fails", "4", None, "within"),
        ("boost is 1.6 bar, anything above 1.4 is fine", "1.4", None, "within"),
        ("earth lead reads 0.4 ohms, a good one is under 0.1", None, "0.1", "outside"),
        ("batteries at 11.2 volts cranking, acceptable down to 9.6", "9.6", None, "within"),
    ],
)
def test_a_bound_is_of_the_side_that_is_good(
    text: str, low: str | None, high: str | None, verdict: str
) -> None:
    (reading,) = details(text, Measurement)
    assert reading.limit is not None
    told = [None if b is None else Decimal(b) for b in (low, high)]
    assert [reading.limit.min, reading.limit.max, reading.verdict] == [*told, verdict]


@pytest.mark.parametrize(
    "text", ["I used 3 shims of 2 mm", "let in 2 spacers of 10 mm", "drove 30 km, quiet up to 80"]
)
def test_the_size_of_pieces_and_how_fast_it_was_good_bound_nothing(text: str) -> None:
    assert not [m for m in details(text, Measurement) if m.limit is not None or m.quantity == "length"]


def test_a_size_that_was_found_is_a_reading() -> None:
    assert [m.value for m in details("found an end float of 0.3 mm", Measurement)] == [Decimal("0.3")]


def test_the_deflection_at_which_a_force_was_read_takes_no_limit() -> None:
    (force,) = details("fan belt 210 newtons at 12 millimetres of deflection, book's 250 to 280", Measurement)
    assert (force.unit, force.verdict) == ("N", "outside")
    assert force.conditions


def test_a_number_named_again_to_strike_it_is_replaced_by_the_right_one() -> None:
    text = (
        "sump bolts 28 newton metres, filter housing 35 newton metres. Strike the 28 on the sump, it was 24."
    )
    assert [m.value for m in details(text, Measurement)] == [24, 35]
    assert [f.detail.value for f in taken_back(text) if isinstance(f.detail, Measurement)] == [28]


def test_striking_a_number_that_nobody_told_changes_nothing() -> None:
    text = "sump bolts 28 newton metres. Strike the 90 on the sump, it was 24."
    assert 28 in [m.value for m in details(text, Measurement)]


@pytest.mark.parametrize("text", ["injector trim code 4B7C21", "radio security code 5512", "key code 8841"])
def test_a_code_of_something_else_is_no_fault_code(text: str) -> None:
    assert "fault_code" not in kinds(text)


@pytest.mark.parametrize("text", ["labelled the hoses 1 to 4", "tagged the leads before I took them off"])
def test_what_is_only_marked_has_not_left_the_vehicle(text: str) -> None:
    assert not [p for p in details(text, Part) if p.action == "removed"]


def test_what_is_tagged_for_the_claim_has() -> None:
    assert [p.action for p in details("tagged the old pump for the claim", Part)] == ["removed"]


def test_the_same_one_mounted_again_is_reused_and_the_same_type_is_not() -> None:
    assert [p.action for p in details("mounted same radiator", Part)] == ["reused"]
    assert "reused" not in [p.action for p in details("fitted same type radiator", Part)]


def test_a_thing_called_a_fitting_before_its_torque_was_not_fitted() -> None:
    assert not details("banjo 20 newton metres, pipe fitting 35 newton metres", Part)
    assert [f.status for f in said("brake pressure at the inlet 8 bar")] == ["sure"]


@pytest.mark.parametrize("text", ["break pressure at the valve eight bar", "break lamp stays on"])
def test_a_brake_heard_as_a_break_stops_no_clock(text: str) -> None:
    assert "clock" not in kinds(text)


def test_a_break_for_tea_does() -> None:
    assert "clock" in kinds("break for tea at ten")

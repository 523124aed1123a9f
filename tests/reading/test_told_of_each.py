"""Of several things told in a breath, each keeps what was told of it. Common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import FaultCode, Identity, LabourSaid, Measurement, Part, Statement, Step


def test_a_limit_goes_to_the_reading_that_it_names() -> None:
    text = "Suction pressure 0.6 bar, discharge pressure 8 bar.\nSuction should be 1.5 to 2 bar."
    readings = details(text, Measurement)
    assert [(m.value, m.limit is not None) for m in readings] == [
        (Decimal("0.6"), True),
        (Decimal(8), False),
    ]


def test_a_condition_before_each_value_is_that_of_the_value_behind_it() -> None:
    cold, hot = details(
        "main relief cold two hundred and ten bar hot one hundred and sixty five bar", Measurement
    )
    assert (cold.conditions, hot.conditions) == (("cold",), ("hot",))


def test_what_a_time_is_now_has_the_unit_that_was_told_before_and_is_for_a_person() -> None:
    before, now = [
        f
        for f in said("boom raise time was nine seconds now five and a half limit six")
        if isinstance(f.detail, Measurement)
    ]
    assert (before.detail.unit, now.detail.unit, now.status) == ("s", "s", "check")


def test_a_unit_in_which_a_value_is_impossible_is_not_taken_from_the_reading_before() -> None:
    readings = details("vacuum held at 2 millibar.\nPulled down to minus 20 in one hour fifty.", Measurement)
    assert [(m.value, m.unit) for m in readings] == [(2, "mbar"), (-20, "Cel")]


@pytest.mark.parametrize(
    ("text", "whole", "part"),
    [
        ("labour three and a quarter hours including one hour ten for the leak test", "3.25", "1.17"),
        ("three hours labour of which half an hour diagnosis", "3", "0.5"),
        ("two hours in total, half an hour of that finding the leak", "2", "0.5"),
    ],
)
def test_hours_within_other_hours_are_not_surely_more(text: str, whole: str, part: str) -> None:
    hours = [f for f in said(text) if isinstance(f.detail, LabourSaid)]
    assert [(str(f.detail.hours), f.status) for f in hours] == [(whole, "sure"), (part, "check")]
    assert hours[0].detail.operation is None


def test_hours_of_a_list_keep_their_own_operations() -> None:
    hours = details("labour 2 hours, travel half an hour", LabourSaid)
    assert [(h.hours, h.operation) for h in hours] == [(2, None), (Decimal("0.5"), "travel")]


def test_one_part_has_not_surely_the_number_of_one_of_two() -> None:
    (part,) = [
        f for f in said("fitted two new bearings, inner 33118 and outer 33215") if isinstance(f.detail, Part)
    ]
    assert part.status == "check"
    assert "33215 was told after 33118" in (part.why or "")


@pytest.mark.parametrize(
    "text",
    [
        "Cause bearing failed through lack of lubrication, hub seal had hardened and let the oil out.",
        "cause: bearing failed due to lack of oil",
        "bearing failed through lack of lubrication",
    ],
)
def test_what_failed_and_through_what_is_one_cause(text: str) -> None:
    (cause,) = [f for f in said(text) if f.kind == "cause"]
    assert isinstance(cause.detail, Statement)
    assert cause.detail.component == "bearing"
    assert details(text, Step) == []


def test_what_a_seal_let_out_was_drained_by_nobody() -> None:
    assert details("the seal let the oil out", Step) == []
    assert [s.action for s in details("I let the oil out", Step)] == ["drained"]


def test_the_tag_on_an_old_part_is_no_registration() -> None:
    text = "Old bearings are in the warranty cage, tag 0091."
    assert details(text, Identity) == []
    assert [(p.name, p.action) for p in details(text, Part)] == [("bearings", "removed")]


def test_a_code_that_is_spoken_of_is_what_was_cleared() -> None:
    text = "SPN 789 FMI 5 current.\nCode's gone inactive, cleared it, lamp's out."
    assert [c.state for c in details(text, FaultCode)] == ["active", "cleared"]
    text = "SPN 789 FMI 5 current.\nThe drain was blocked, cleared it."
    assert [c.state for c in details(text, FaultCode)] == ["active"]

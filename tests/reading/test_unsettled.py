"""A number that the words beside it leave open is never sure."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Fact


def facts(text: str, kind: str) -> list[Fact]:
    return [f for f in read_text(text) if f.kind == kind]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("labour one hour, no, call that two with the clean up", "labour"),
        ("hanging bolts torqued to too hundred newton metres", "measurement"),
        ("hanging bolts torqued to fower hundred newton metres", "measurement"),
        ("fitted a new start relay 24V 70A", "part"),
        ("hour and a half, book says one point three", "labour"),
    ],
)
def test_what_may_be_taken_back_or_be_another_number_is_for_a_person(text: str, kind: str) -> None:
    sure = [f for f in facts(text, kind) if f.status == "sure"]
    wrong = {"1", "100", "0.3", "24V70A"}
    for fact in sure:
        said = {str(getattr(fact.detail, name, "")) for name in ("hours", "value", "number")}
        assert not said & wrong, fact


@pytest.mark.parametrize(
    "text",
    [
        "resistance across the pair 60 ohms no leaks found",
        "supply at the plug 24.6 volts, no fault codes stored",
    ],
)
def test_a_denial_after_a_reading_takes_nothing_back(text: str) -> None:
    (reading,) = facts(text, "measurement")
    assert reading.status == "sure"


def test_the_heading_of_a_correction_takes_no_hours_back() -> None:
    (labour,) = facts("labour water pump two and a half hours\ncorrection, replaced the water pump", "labour")
    assert labour.status == "sure"


def stands(text: str, kind: str) -> list[tuple[str, str]]:
    """(what, status) of the facts of that kind that stand."""
    return [(_what(f), f.status) for f in facts(text, kind) if f.status != "rejected"]


def _what(fact: Fact) -> str:
    return str(getattr(fact.detail, "name", None) or getattr(fact.detail, "value", None))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("swapped the relay valve for a known good one, same again", "part"),
        ("spool sticking, a chip of paint in the gallery", "part"),
        ("spool freed off with a brass rod", "part"),
        ("new modulator, number four, oh, five, two, two, dash six", "part"),
        ("fitted two new banjo washers each", "part"),
        ("five gaskets and 6 V clamps", "measurement"),
        ("bracket's hanging down 0.3 degrees", "measurement"),
    ],
)
def test_what_was_tried_or_is_part_of_something_else_is_never_sure(text: str, kind: str) -> None:
    assert [one for one in stands(text, kind) if one[1] == "sure"] == []


def test_two_job_numbers_are_both_for_a_person() -> None:
    told = stands("job number 4471 hydraulic leak. Bucket cylinder. Job number 4427.", "job_number")
    assert told == [("4471", "check"), ("4427", "check")]


def test_a_job_number_that_is_corrected_by_name_leaves_one() -> None:
    text = "job number 4471, hydraulic leak.\nI'd like to correct the job number, it's 4472."
    assert stands(text, "job_number") == [("4472", "sure")]


def test_the_number_in_all_counts_where_parts_are_told_by_place() -> None:
    (part,) = facts("fitted 2 new banjo washers each, 4 in all", "part")
    assert (part.detail.quantity, part.status) == (4, "sure")  # type: ignore[union-attr]


def test_a_limit_after_the_time_that_something_took_bounds_the_time() -> None:
    pressure, time = facts("162 bar, ejects in 11 seconds, no more than 15", "measurement")
    assert pressure.detail.limit is None  # type: ignore[union-attr]
    assert time.detail.limit.max == 15  # type: ignore[union-attr]


def test_a_limit_after_a_drop_in_a_time_bounds_the_drop() -> None:
    told = facts("it dropped 0.4 bar in ten minutes, no more than 0.2", "measurement")
    (drop,) = [f for f in told if f.detail.unit == "bar"]  # type: ignore[union-attr]
    assert drop.detail.limit.max == Decimal("0.2")  # type: ignore[union-attr]


def test_an_amount_of_less_than_nothing_is_for_a_person() -> None:
    (part,) = facts("used minus five cans of cleaner", "part")
    assert (part.detail.quantity, part.status) == (None, "check")  # type: ignore[union-attr]
    assert part.why is not None
    assert "-5" in part.why


def test_a_limit_that_is_announced_and_not_read_leaves_the_reading_to_a_person() -> None:
    (reading,) = facts("park release in 1.2 seconds, limit due.", "measurement")
    assert reading.status == "check"
    assert reading.why is not None
    assert "limit due" in reading.why


@pytest.mark.parametrize("text", ["6.1 bar, limit is fine", "24.6 volts at the plug, limit switch works"])
def test_what_is_no_number_behind_the_word_limit_leaves_a_reading_as_it_is(text: str) -> None:
    assert [f.status for f in facts(text, "measurement")] == ["sure"]


def test_a_pause_for_a_fault_may_have_been_the_cause() -> None:
    assert [f.status for f in facts("Pause, locking bar worn.", "clock")] == ["check"]
    assert [f.status for f in facts("Pause, the locking bar.", "clock")] == ["check"]
    assert [f.status for f in facts("Pause, waiting for a locking bar.", "clock")] == ["sure"]


def test_minutes_after_hours_and_a_comma_leave_the_hours_to_a_person() -> None:
    assert [f.status for f in facts("3 hours, 40 of the", "labour")] == ["check"]
    assert [f.status for f in facts("3 hours, 6 bolts on the cover", "labour")] == ["sure"]


def test_hours_on_a_machine_that_may_be_hours_and_minutes_are_for_a_person() -> None:
    assert stands("245 hours on it.", "engine_hours") == [("245", "check")]
    assert stands("engine hours 245", "engine_hours") == [("245", "sure")]


def test_a_place_after_each_value_is_of_the_value_before_it() -> None:
    told = facts("tyre pressure 7.5 bar front 8 bar rear", "measurement")
    assert [f.detail.subject for f in told] == ["tyre pressure front", "tyre pressure rear"]  # type: ignore[union-attr]


def test_a_place_before_each_value_is_of_the_value_after_it() -> None:
    told = facts("nearside 4 mm offside 2 mm", "measurement")
    assert [f.detail.subject for f in told] == ["nearside", "offside"]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "text", ["stop the clock, call it a way to another machine", "we move the chamber too much"]
)
def test_what_was_perhaps_something_else_is_never_sure(text: str) -> None:
    assert [f for f in read_text(text) if f.kind in ("clock", "part") and f.status == "sure"] == []


def test_hours_told_with_the_end_of_work_leave_it_sure() -> None:
    assert [f.status for f in facts("stop the clock, call it two hours", "clock")] == ["sure"]

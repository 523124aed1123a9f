"""What "it", a number, a limit or a clock is of: the thing meant, and not the one that stands nearest."""

from __future__ import annotations

import pytest
from reading_forms import details, said, sure, taken_back

from jobnotes.record import Clock, FaultCode, LabourSaid, Measurement, Part, Statement, Step


@pytest.mark.parametrize("told", ["it's logged that one four times", "had this one four times"])
def test_the_one_that_a_code_is_called_is_no_digit_of_how_often_it_came(told: str) -> None:
    assert sure(f"P0401, {told}", FaultCode).count == 4


def test_a_count_that_ends_in_one_after_another_digit_is_kept() -> None:
    assert sure("P0401 active, two one times", FaultCode).count == 21


@pytest.mark.parametrize(
    "told",
    ["I put the clock on it and", "Set the clock on the shaft,", "with the dial clock on the hub the"],
)
def test_a_dial_gauge_that_is_called_a_clock_starts_no_job(told: str) -> None:
    assert not details(f"{told} end float is 0.3 mm", Clock)


@pytest.mark.parametrize("told", ["Clock on this job at ten past nine", "start the clock on this trailer"])
def test_the_clock_of_the_job_still_starts(told: str) -> None:
    assert [c.action for c in details(told, Clock)] == ["start"]


@pytest.mark.parametrize("run", ["thirty minutes on the rollers", "twenty minutes on the road"])
def test_how_long_a_code_stayed_away_is_no_labour(run: str) -> None:
    assert not details(f"P0401 cleared and it didn't come back in {run}", LabourSaid)


def test_what_is_booked_for_time_on_the_rollers_is_labour() -> None:
    assert [str(h.hours) for h in details("put me down for half an hour on the rollers", LabourSaid)] == [
        "0.5"
    ]


@pytest.mark.parametrize("pair", ["suction discharge", "inlet outlet"])
def test_a_limit_told_of_one_side_bounds_nothing_on_the_other(pair: str) -> None:
    one, other = pair.split()
    text = f"{one} was 1.1 bar and {other} only 8 bar and I'd want fourteen or so"
    first, second = details(text, Measurement)
    assert first.limit is None
    assert second.limit.nominal == 14
    assert not details(text, Statement)


def test_a_limit_told_of_left_and_right_still_bounds_both() -> None:
    left, right = details("left 8.1 mm and right 7.9 mm, minimum 6", Measurement)
    assert left.limit.min == right.limit.min == 6


def test_the_number_of_the_new_one_is_of_what_came_off_and_not_of_what_is_told_later() -> None:
    text = "Took the compressor off. The new one's part number is 44 7120 93, and I fitted a new belt too."
    assert {(p.name, p.number) for p in details(text, Part)} == {("compressor", "44712093"), ("belt", None)}


@pytest.mark.parametrize("before", ["", "Off came the shield, the fan and the alternator. "])
def test_which_part_the_new_one_is_is_asked_where_it_is_not_plain(before: str) -> None:
    text = (
        f"{before}The new one's part number is 44 7120 93, serial 5512, and I put a new belt on, 88 104 66."
    )
    asked, belt = (f for f in said(text) if isinstance(f.detail, Part))
    assert (asked.status, asked.detail.number, asked.detail.serial) == ("check", "44712093", "5512")
    assert "new one" in (asked.why or "")
    assert (belt.detail.name, belt.detail.number, belt.detail.serial) == ("belt", "8810466", None)


def test_an_id_is_not_the_end_of_a_part_number() -> None:
    part = sure("fitted a new wheel sensor number 5 5 0 1 2 2, ID of sensor 7C20B1", Part)
    assert (part.number, part.serial) == ("550122", "7C20B1")


@pytest.mark.parametrize("tool", ["emery", "sandpaper", "a bit of emery cloth"])
def test_what_was_cleaned_is_used_again_and_not_what_it_was_cleaned_with(tool: str) -> None:
    text = f"Flywheel stays, I cleaned it up with {tool}, re-using it."
    assert [(s.action, s.object) for s in details(text, Step)] == [("cleaned", "Flywheel")]
    assert [(p.action, p.name) for p in details(text, Part) if p.action != "consumed"] == [
        ("reused", "Flywheel")
    ]


def test_stays_that_are_things_are_still_named() -> None:
    assert [p.name for p in details("New engine stays, 2 off", Part)] == ["engine stays"]


def test_a_value_denied_later_of_the_same_thing_is_put_right() -> None:
    text = "Hub bolts 75 newton metres.\nGuard back on.\nOh, and those front hub bolts were 85, not 75."
    assert [str(m.value) for m in details(text, Measurement)] == ["85"]
    assert [str(f.detail.value) for f in taken_back(text) if isinstance(f.detail, Measurement)] == ["75"]


@pytest.mark.parametrize(
    "later",
    [
        "The rear hub bolts were 85, not 75.",
        "The regulator bolts should be 85, not 75.",
        "The hub bolts are 85 now, not 75.",
    ],
)
def test_what_may_be_of_another_thing_or_time_takes_nothing_back(later: str) -> None:
    text = f"Front hub bolts 75 newton metres. {later}"
    assert not taken_back(text)
    first = next(f for f in said(text) if isinstance(f.detail, Measurement))
    assert first.status == "check"


@pytest.mark.parametrize("told", ["not touched the", "we haven't looked at the", "didn't chase the"])
def test_what_nobody_looked_at_is_no_finding(told: str) -> None:
    text = f"Driver says it loses air. {told} leaking suspension pipe, none found there"
    assert not any(s.kind == "finding" for s in details(text, Statement))


def test_what_did_not_hold_when_it_was_touched_is_a_finding() -> None:
    found = details("Driver says it loses air. I touched the pipe and the union is cracked", Statement)
    assert any(s.kind == "finding" and s.failure == "cracked" for s in found)


def test_which_sensor_it_is_is_no_value() -> None:
    text = "Sensor 2, resistance 0.8 ohms. Sensor 1 at idle 204 ohms. Replaced exhaust sensor 2."
    assert [str(m.value) for m in details(text, Measurement)] == ["0.8", "204"]


def test_a_decimal_behind_a_sensor_is_still_a_reading() -> None:
    assert [str(m.value) for m in details("battery 12.6 volts, sensor 4.9", Measurement)] == ["12.6", "4.9"]

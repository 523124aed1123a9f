"""Counts written with an x, parts of a turn, whose number it is, and where old parts went. The sentences are
invented; common practice, no source."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import FaultCode, Measurement, Part, Step


def test_x_and_a_number_behind_a_codes_state_tell_how_often_it_came() -> None:
    codes = details("SPN 97 FMI 3 active x 14, SPN 97 FMI 15 inactive x 2.", FaultCode)
    assert [(c.state, c.count) for c in codes] == [("active", 14), ("inactive", 2)]


def test_a_code_that_was_wiped_is_cleared() -> None:
    assert details("Code 61, stored 4 times.\nCode 61 wiped.", FaultCode)[-1].state == "cleared"


@pytest.mark.parametrize(
    "text", ["signal 0.4 volts at half a turn per second", "stretch is 2 percent, look again in half a year"]
)
def test_half_of_a_turn_or_a_year_is_no_reading(text: str) -> None:
    assert "0.5" not in [str(m.value) for m in details(text, Measurement)]


def test_half_of_a_unit_is() -> None:
    assert [str(m.value) for m in details("end float is half a mm", Measurement)] == ["0.5"]


def test_a_number_is_of_the_part_named_right_before_it_and_not_of_the_next() -> None:
    text = "It went in, along with one seal kit, number 2K-31 407, and 12 new studs."
    numbers = {p.name: p.number for p in details(text, Part)}
    assert numbers == {"seal kit": "2K-31407", "studs": None}
    (kit,) = (f for f in said(text) if isinstance(f.detail, Part) and f.detail.number)
    assert kit.status == "check"


def test_old_parts_in_the_scrap_or_bagged_with_the_job_number_left_the_vehicle() -> None:
    text = "Old pump's in a bag with the job number on for the claim, old studs went in the scrap."
    assert [(p.name, p.action) for p in details(text, Part)] == [("pump", "removed"), ("studs", "removed")]


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("i take away the damper", "removed"),
        ("the damper i have put again", "refitted"),
        ("the damper is mounted again", "refitted"),
    ],
)
def test_what_was_taken_away_or_put_again_came_off_or_went_back(text: str, action: str) -> None:
    assert [(s.action, s.object) for s in details(text, Step)] == [(action, "damper")]


def test_a_vehicle_that_was_taken_away_was_not_taken_apart() -> None:
    assert not details("the truck was taken away by recovery", Step)


@pytest.mark.parametrize(
    ("line", "names"),
    [
        ("The plug and the silencer went over from the old valve.", ["plug", "silencer"]),
        ("The heat shield went back on off the old one.", ["heat shield"]),
        ("the wear sensors i moved over off the old pads", ["wear sensors"]),
        ("a new gasket and the bracket is reused", ["bracket"]),
        ("the old modulator is kept for the supplier", []),
    ],
)
def test_what_went_over_from_the_old_one_is_reused_and_the_old_one_is_not(
    line: str, names: list[str]
) -> None:
    assert [d.name for d in details(line, Part) if d.action == "reused"] == names

"""Causes, dangers and meters told in the words of every day. The sentences are invented; common practice, no
source."""

from __future__ import annotations

import pytest
from reading_forms import details, kinds

from jobnotes.record import Clock, Identity, Measurement, Statement, Step


def _told(text: str, kind: str) -> list[str]:
    return [s.text for s in details(text, Statement) if s.kind == kind]


@pytest.mark.parametrize(
    ("text", "word"),
    [
        ("Fan hub sheared. Cause.\nCowl off, belt off.", "hub"),
        ("Cracked bracket let the pipe rub. That's the one I'd put as cause.\nPipe came off.", "bracket"),
        ("long and short of it, the lip seal's gone hard and it leaks", "seal"),
        ("what was behind it was a wastegate flap stuck open", "flap"),
    ],
)
def test_a_cause_is_what_was_said_to_be_it_wherever_the_word_stands(text: str, word: str) -> None:
    (cause,) = _told(text, "cause")
    assert word in cause
    assert "off" not in cause.split()


def test_cause_as_a_heading_is_still_of_what_follows_it() -> None:
    (cause,) = _told("Hose was wet. Cause. Split in the hose at the clip.", "cause")
    assert cause.startswith("Split")


def test_why_it_was_brought_is_the_complaint() -> None:
    text = "it was brought to me because the engine cuts out on hills"
    assert "cuts out" in " ".join(_told(text, "complaint"))


def test_a_danger_to_people_is_a_hazard_and_their_arm_no_part_that_came_off() -> None:
    text = "coupling guard's gone, that thing'd have your arm off"
    assert _told(text, "hazard")
    assert not [s for s in details(text, Step) if "arm" in s.object.split()]


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("hours on the display three thousand one hundred and six", "engine_hours", "3106"),
        ("I write kilometre five hundred twelve thousand", "odometer", "512000"),
        (
            "truck quebec india two four lima echo hotel three hundred thousand kilometre",
            "odometer",
            "300000",
        ),
    ],
)
def test_a_meter_is_read_however_it_is_brought_in(text: str, kind: str, value: str) -> None:
    assert [i.value for i in details(text, Identity) if i.kind == kind] == [value]


def test_being_done_at_a_time_is_no_meter() -> None:
    text = "all back together and I'm done at 4 pm"
    assert [c.action for c in details(text, Clock)] == ["stop"]
    assert "odometer" not in kinds(text)


def test_the_negative_post_makes_no_reading_less_than_nothing() -> None:
    (drop,) = details("Drop, block to battery negative, 0.4 V, limit 0.2.", Measurement)
    assert (str(drop.value), drop.verdict) == ("0.4", "outside")
    assert [str(m.value) for m in details("outside temperature minus 5 degrees", Measurement)] == ["-5"]

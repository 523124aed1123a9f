"""Labour and the clock: hours as they are said, and the four things a clock does."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading_forms import details, in_words, kinds, said, sure

from jobnotes.record import Clock, LabourSaid


@pytest.mark.parametrize(
    ("said_as", "hours"),
    [
        ("two and a half hours", "2.5"),
        ("one hour forty", "1.67"),
        ("one hour and forty minutes", "1.67"),
        ("an hour and a half", "1.5"),
        ("an hour and a quarter", "1.25"),
        ("half an hour", "0.5"),
        ("three quarters of an hour", "0.75"),
        ("a quarter of an hour", "0.25"),
        ("ninety minutes", "1.5"),
        ("45 minutes", "0.75"),
        ("2.75 hours", "2.75"),
        ("two point five hours", "2.5"),
        ("nought point eight hours", "0.8"),
        ("an hour", "1"),
        ("1 hr 20", "1.33"),
        ("three hours", "3"),
        ("2½ hours", "2.5"),
    ],
)
@pytest.mark.parametrize(
    "frame", ["labour {} on the compressor", "{} labour", "that took {}", "book {}", "spent {} on it"]
)
def test_hours_of_labour_as_they_are_said(said_as: str, hours: str, frame: str) -> None:
    assert sure(frame.format(said_as), LabourSaid).hours == Decimal(hours)


@given(st.integers(1, 20), st.integers(1, 59))
def test_hours_and_minutes_come_to_decimal_hours(hours: int, minutes: int) -> None:
    wanted = (hours + Decimal(minutes) / 60).quantize(Decimal("0.01"), ROUND_HALF_UP)
    for text in (
        f"labour {hours} hours {minutes} minutes",
        f"labour {in_words(hours)} hours and {in_words(minutes)} minutes",
        f"labour {in_words(hours)} hours {in_words(minutes)}",
    ):
        assert sure(text, LabourSaid).hours == wanted, text


@pytest.mark.parametrize(
    ("text", "operation"),
    [
        ("two hours on the compressor", "compressor"),
        ("labour for the road test, half an hour", "road test"),
        ("labour 1.5 hours fitting the alternator", "alternator"),
        ("diagnosis took an hour and a half", "diagnosis"),
        ("book two hours for the brake chamber", "brake chamber"),
        ("spent half an hour finding the leak", "leak"),
        ("one hour forty labour on the turbo", "turbo"),
        ("an hour and a half on diagnosis", "diagnosis"),
        ("one hour and ten minutes to fit the alternator", "alternator"),
    ],
)
def test_labour_names_its_operation(text: str, operation: str) -> None:
    (found,) = details(text, LabourSaid)
    assert operation in str(found.operation)


@pytest.mark.parametrize("text", ["labour naught point eight", "ninety minutes labour", "labour two hours"])
def test_labour_without_an_operation_has_none(text: str) -> None:
    assert sure(text, LabourSaid).operation is None


@pytest.mark.parametrize(
    "text",
    [
        "held pressure for ten minutes",
        "the fault came two hours ago",
        "change the oil every 500 hours",
        "I'll be back within the hour, in 20 minutes",
        "it will take two hours?",
        "engine hours 4512",
    ],
)
def test_a_time_that_is_no_labour_is_none(text: str) -> None:
    assert "labour" not in kinds(text)


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("clock on", "start"),
        ("clocking on", "start"),
        ("start the clock", "start"),
        ("starting the clock now", "start"),
        ("pause the clock", "pause"),
        ("clocking off for lunch", "pause"),
        ("job on hold, waiting for parts", "pause"),
        ("stopping for another vehicle", "pause"),
        ("resume the clock", "resume"),
        ("back on the job", "resume"),
        ("clocking back on", "resume"),
        ("back from lunch", "resume"),
        ("stop the clock", "stop"),
        ("clock off", "stop"),
        ("job finished, clocking off", "stop"),
    ],
)
def test_the_clock_does_what_it_is_told(text: str, action: str) -> None:
    assert {c.action for c in details(text, Clock)} == {action}


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("pause the clock, waiting for parts", "waiting for parts"),
        ("pausing the clock for lunch", "lunch"),
        ("clock off for lunch", "lunch"),
        ("pause the clock while I move a bus", "bus"),
    ],
)
def test_a_pause_is_told_once_with_its_reason(text: str, reason: str) -> None:
    (found,) = details(text, Clock)
    assert found.action == "pause"
    assert reason in str(found.reason)


@pytest.mark.parametrize("text", ["back on the job", "clock back on", "clock off", "clocking off for lunch"])
def test_the_clock_takes_nothing_off_the_vehicle(text: str) -> None:
    assert not [f for f in said(text) if f.kind in ("step", "part")]


@pytest.mark.parametrize(
    "text", ["if it rains I'll stop the clock", "shall I stop the clock?", "don't stop the clock"]
)
def test_a_clock_that_is_only_spoken_of_does_nothing(text: str) -> None:
    assert not details(text, Clock)

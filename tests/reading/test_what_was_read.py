"""What a reading is of, at what and against which limit, where the words right at its value don't say."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import Measurement


def readings(line: str) -> dict[str, Measurement]:
    """The readings by their value."""
    return {str(m.value): m for m in details(line, Measurement)}


@pytest.mark.parametrize(
    ("line", "value", "subject"),
    [
        ("control arm bush has gone soft and it's moving 9 millimetres", "9", "control arm bush"),
        ("Vacuum for 30 minutes, down to 2 mbar", "2", "vacuum"),
        ("Oil cooler at the tank, that's only, what, 3 bar", "3", "oil cooler"),
        ("hub temperature, I drove it for a bit, and it's 61 degrees now", "61", "temperature"),
        ("I measured between the two bus wires at the plug, and it's 60.3 ohms", "60.3", "between the two"),
        ("I measured at the connector. 24.4 volts.", "24.4", "connector"),
        ("Got 8.2 volts supply at the level sensor", "8.2", "supply at the level sensor"),
        ("0.6 mm end play on the shaft", "0.6", "end play"),
    ],
)
def test_what_was_named_earlier_in_the_breath_is_what_was_read(line: str, value: str, subject: str) -> None:
    assert subject in (readings(line)[value].subject or "").casefold()


@pytest.mark.parametrize(
    ("line", "value", "subject"),
    [
        ("battery 48.9 volts under load 46.1", "46.1", "battery"),
        ("Toe was 5 mm in, after adjustment 1.5 mm in", "1.5", "toe"),
        (
            "hub temperatures after the run 58, 61 and 64 degrees",
            "61",
            "hub temperatures",
        ),
    ],
)
def test_the_next_value_in_its_unit_is_of_the_same_thing(line: str, value: str, subject: str) -> None:
    assert subject in (readings(line)[value].subject or "").casefold()


def test_a_place_that_is_told_with_a_value_stays_its_own() -> None:
    found = readings("low side 2.2 bar, high side 13.5 bar")
    assert [found[v].subject for v in ("2.2", "13.5")] == ["low side", "high side"]
    found = readings("0.2 mm play in the pin, 0.7 mm play in the bush")
    assert "pin" not in (found["0.7"].subject or "")


def test_a_condition_between_two_readings_is_of_the_one_that_its_pause_leaves_it_to() -> None:
    found = readings("battery volts at rest 25.1, cranking 21.4")
    assert [found[v].conditions for v in ("25.1", "21.4")] == [("engine off",), ("cranking",)]
    found = readings("Alternator 28.1 V at 900 rpm, 28.5 at 1900.")
    assert found["28.1"].conditions == ("at 900 /min",)
    assert "at 900 /min" not in found["28.5"].conditions


def test_a_condition_before_all_readings_is_of_each() -> None:
    found = readings("ignition on, supply 24.2 volts, ground drop 0.1 volts")
    assert all("ignition on" in m.conditions for m in found.values())


@pytest.mark.parametrize(
    ("line", "limit"),
    [
        ("Oil temperature 93 degrees. It's hot but it's fine, max is 115.", "115"),
        ("Boost 1.4 bar. Well, not bad, limit is 2.", "2"),
    ],
)
def test_a_limit_may_come_after_a_remark_in_the_next_sentence(line: str, limit: str) -> None:
    (found,) = readings(line).values()
    assert found.limit is not None
    assert str(found.limit.max) == limit


def test_a_limit_of_another_thing_is_not_taken() -> None:
    (found,) = readings("Oil temperature 93 degrees. The turbo shaft play, max is 6 thou.").values()
    assert found.limit is None


def test_a_limit_that_names_its_reading_is_shared_with_no_other() -> None:
    found = readings("Inlet during regen 305 degrees, outlet 330 degrees. Outlet should reach 550.")
    assert found["305"].limit is None
    assert found["330"].limit is not None
    assert found["330"].limit.nominal == Decimal(550)
    assert all(
        f.status == "sure" for f in said("Inlet 305 degrees, outlet 330 degrees. Outlet should reach 550.")
    )

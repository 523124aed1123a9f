"""A limit bounds what it was told of, and a reading is called by what was measured. Common practice."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import Measurement, Part, Step


@pytest.mark.parametrize(
    "text",
    [
        "cut-in pressure is 8.2 bar, cut-out should be 10.0 plus or minus 0.2",
        "supply is 24.1 volts, signal should be 5 volts",
        "rail pressure 250 bar, boost limit 2.4 bar",
        "oil pressure 1.8 bar at idle, flat out it should be 4",
        "1.8 bar at idle, at 2000 rpm it should be 4",
    ],
)
def test_a_limit_with_a_name_of_its_own_bounds_no_reading_of_another_name(text: str) -> None:
    (reading,) = details(text, Measurement)
    assert reading.limit is None


@pytest.mark.parametrize(
    "text",
    [
        "cut in pressure is 8.2 bar cut out should be 10.0 bar",
        "1.8 bar at idle, should be 4 at 2000 rpm",
        "24.1 volts key on, should be 28 running",
        "play is 0.4 mm, pads should be 6 mm",
    ],
)
def test_a_limit_that_may_be_of_something_else_is_for_a_person(text: str) -> None:
    (reading,) = [f for f in said(text) if isinstance(f.detail, Measurement)]
    assert reading.status == "check"
    assert "the limit was told of" in (reading.why or "")


@pytest.mark.parametrize(
    "text",
    [
        "cranking 21.2 volts, should be above 18",
        "22.6 volts at the plug, should be 24",
        "bearing has 6 mm play, maximum 2",
    ],
)
def test_what_is_told_behind_a_value_does_not_part_it_from_its_limit(text: str) -> None:
    (reading,) = [f for f in said(text) if isinstance(f.detail, Measurement)]
    assert reading.status == "sure"
    assert reading.detail.limit is not None


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("desired rail pressure 600 bar, actual 320 bar", "rail pressure"),
        ("rail pressure desired 600 bar actual 320 bar", "rail pressure"),
        ("commanded position 45 percent, actual position 12 percent", "actual position"),
    ],
)
def test_a_value_that_was_asked_for_is_the_limit_of_the_one_that_was_read(text: str, subject: str) -> None:
    (reading,) = details(text, Measurement)
    assert reading.subject == subject
    assert reading.limit is not None
    assert reading.limit.nominal in (600, 45)


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("before I started the supply was 24.1 volts", "supply"),
        ("before I took it apart oil pressure was 2.1 bar at idle", "oil pressure"),
        ("hooked the gauge up, PTO clutch pressure 11 bar", "PTO clutch pressure"),
        ("ran her up and the fan cut in at 96 degrees", "fan cut in"),
        ("put a gauge on the governor port 4.2 bar", "governor port"),
        ("check the air pressure to the gearbox, 8.2 bar", "air pressure to the gearbox"),
    ],
)
def test_what_was_measured_is_named_without_what_was_done_before(text: str, subject: str) -> None:
    assert [m.subject for m in details(text, Measurement)] == [subject]


def test_pressure_built_from_empty_tanks_is_no_reading_without_load() -> None:
    (reading,) = details("builds to 10.1 bar in four minutes twenty from empty", Measurement)
    assert "from empty" in reading.conditions
    assert "no load" not in reading.conditions


def test_what_was_done_before_the_rest_is_told_as_done() -> None:
    assert [s.action for s in details("before I stripped it, I cleaned the flange", Step)] == ["cleaned"]
    assert details("before I fit the new seal I'll clean the bore", Step) == []


@pytest.mark.parametrize(
    "text",
    ["drained 3 litres of fluid put in 4 litres of new", "drained 3 litres of fluid refilled with 4 litres"],
)
def test_what_was_let_out_is_not_what_was_filled_in(text: str) -> None:
    amounts = [(s.action, s.quantity) for s in details(text, Step)]
    assert amounts == [("drained", 3), ("filled", 4)]
    assert [p.quantity for p in details(text, Part)] == [4]


def test_never_warns_nobody_where_it_tells_what_did_not_happen() -> None:
    assert [f.kind for f in said("we never get there")] == []
    assert [f.kind for f in said("never get under it")] == ["hazard"]

"""Ways of telling a repair that fresh speech by other authors brought up: what is read, and what must not be.

The lines are made up for these tests. Common practice, no source.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details

from jobnotes.reading.read import read_text
from jobnotes.record import FaultCode, Identity, LabourSaid, Measurement, Part, Statement, Step


def steps(text: str) -> set[tuple[str, str]]:
    return {(s.action, s.object) for s in details(text, Step)}


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("whipped the shield off", ("removed", "shield")),
        ("batteries out to get at it", ("removed", "batteries")),
        ("off comes the fan", ("removed", "fan")),
        ("sprocket guard off, chain off", ("removed", "sprocket guard")),
        ("zorble ring removed", ("removed", "zorble ring")),
        ("dropped the starter, three bolts", ("removed", "starter")),
        ("dropped a bolt behind the tank", ("lost", "bolt")),
        ("shoes, drum and wheel refitted", ("refitted", "shoes")),
        ("unplugged the sensor\nplugged in again", ("reconnected", "sensor")),
        ("put a gauge on the port", ("connected", "gauge")),
        ("drained two hundred litres out of the tank", ("drained", "two hundred litres out of the tank")),
    ],
)
def test_taking_apart_and_putting_back_in_other_words(text: str, wanted: tuple[str, str]) -> None:
    assert wanted in steps(text)


def test_a_cover_that_came_off_goes_back_and_is_no_new_part() -> None:
    text = "took the cover off\npopped the cover on"
    assert ("refitted", "cover") in steps(text)
    assert details(text, Part) == []


@pytest.mark.parametrize(
    "text",
    [
        "light's out",
        "boom dropped twelve mil in ten minutes",
        "the sensor arm's come off its shaft",
        "the spindle's stripped",
        "hose on the tilt circuit is chafing",
    ],
)
def test_how_a_thing_is_or_works_is_no_step(text: str) -> None:
    assert steps(text) == set()


@pytest.mark.parametrize(
    ("text", "name", "action", "number", "quantity"),
    [
        ("fitted new camshaft 118-4420-L", "camshaft", "fitted", "118-4420-L", None),
        ("seal kit fitted, 1 off, 550 0917", "seal kit", "fitted", "5500917", 1),
        ("new stretch bolts, six, on", "stretch bolts", "fitted", None, 6),
        ("a new washer either side", "washer", "fitted", None, 2),
        ("copper washers four new", "copper washers", "fitted", None, 4),
        ("rod off and a new one on", "rod", "fitted", None, None),
        ("kept the old caliper for the claim", "caliper", "removed", None, None),
        ("fitted a pump\nbagged and tagged the old one", "pump", "removed", None, None),
        ("gave it a squirt of anti seize", "anti seize", "consumed", None, None),
    ],
)
def test_parts_in_other_words(
    text: str, name: str, action: str, number: str | None, quantity: int | None
) -> None:
    found = [p for p in details(text, Part) if p.action == action]
    assert [(p.name.casefold(), p.number) for p in found] == [(name, number)]
    assert found[0].quantity == (None if quantity is None else Decimal(quantity))


@pytest.mark.parametrize(
    "text",
    [
        "two of the injectors were replaced last year",
        "the wipers have been noisy since the new windscreen went in",
        "swapped pins 3 and 5 over",
        "filter's like a carpet",
        "greased it, 10 pumps",
        "gearbox stuck in third",
    ],
)
def test_what_was_not_fitted_on_this_job_is_no_part(text: str) -> None:
    assert [p for p in details(text, Part) if p.action != "consumed"] == []


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("an hour and ten on that", "1.17"),
        ("one hour and three quarters", "1.75"),
        ("twenty five minutes that took me", "0.42"),
        ("an hour and a half so far", "1.5"),
        ("three hours flat", "3"),
    ],
)
def test_hours_told_last_are_labour(text: str, hours: str) -> None:
    assert [d.hours for d in details(text, LabourSaid)] == [Decimal(hours)]


@pytest.mark.parametrize(
    "text",
    [
        "waited an hour for the crane",
        "thirty minutes for the part",
        "took ten minutes to warm up",
        "started 7:45 finished 11:15",
        "held for an hour with no drop",
    ],
)
def test_time_that_nobody_worked_is_no_labour(text: str) -> None:
    assert details(text, LabourSaid) == []


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("nineteen oh five six is the job number", "job_number", "19056"),
        ("Forklift, job F-2071. 5,540 hours.", "engine_hours", "5540"),
        ("four thousand and eighty hours on the clock", "engine_hours", "4080"),
        ("reg PN 71 KLO, 498,221 km on the clock", "registration", "PN71KLO"),
        ("18,410 miles", "odometer", "18410"),
    ],
)
def test_what_identifies_the_job_may_come_last_or_alone(text: str, kind: str, value: str) -> None:
    assert (kind, value) in {(d.kind, d.value) for d in details(text, Identity)}


@pytest.mark.parametrize(
    "text",
    [
        "service due at 15,000 hours",
        "six and a half hours on it today",
        "warranty ran out at 160,000 km",
        "the pump number is on the plate, 88 12 345",
    ],
)
def test_a_number_that_belongs_to_something_else_identifies_nothing(text: str) -> None:
    assert details(text, Identity) == []


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("P0401 cleared, P0402 still there", {"P0401": "cleared", "P0402": "active"}),
        ("U0100 didn't come back but U0155 did", {"U0100": "cleared", "U0155": "active"}),
        ("cleared P0299 and P0401", {"P0299": "cleared", "P0401": "cleared"}),
    ],
)
def test_the_state_of_one_code_is_not_given_to_the_next(text: str, states: dict[str, str]) -> None:
    assert {c.code: c.state for c in details(text, FaultCode)} == states


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("cut out eight point five", "8.5", "bar"),
        ("battery twelve six", "12.6", "V"),
        ("wheel nuts six hundred", "600", "N.m"),
    ],
)
def test_a_unit_that_only_the_thing_tells_is_to_be_checked(text: str, value: str, unit: str) -> None:
    facts = [f for f in read_text(text) if isinstance(f.detail, Measurement)]
    assert [
        (f.detail.value, f.detail.unit, f.status) for f in facts if isinstance(f.detail, Measurement)
    ] == [(Decimal(value), unit, "check")]


def test_a_limit_between_two_readings_bounds_neither() -> None:
    found = details(
        "left arm 19 seconds, right arm 26 seconds, should be within 2 seconds of each other", Measurement
    )
    assert all(m.limit is None for m in found)


def test_a_limit_after_two_states_of_one_thing_is_the_last_ones() -> None:
    text = "battery volts engine off 23.9 volts, engine running 24.1 volts, needs to be over 27.5"
    limits = {str(m.value): m.limit for m in details(text, Measurement)}
    assert limits["23.9"] is None
    assert limits["24.1"] is not None


def test_pieces_of_numbered_things_are_not_run_into_their_values() -> None:
    values = [str(m.value) for m in details("return test: number 1 14 mL, number 2 15 mL", Measurement)]
    assert values == ["14", "15"]


@pytest.mark.parametrize(
    "text",
    [
        "the clutch won't pull in",
        "there's oil in the outlet",
        "took the pipe off and it's blocked with carbon",
        "main seal has a nick out of it",
        "radiator is full of dust",
    ],
)
def test_a_state_in_words_of_no_list_is_a_finding(text: str) -> None:
    assert {s.kind for s in details(text, Statement)} & {"finding", "complaint"}

"""What is put right, driven, held or kept off the road in ordinary words (common practice, no source)."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import Clock, Identity, LabourSaid, Measurement, Part, Statement, Step


def test_a_reading_put_right_sentences_later_replaces_the_one_of_its_unit() -> None:
    text = (
        "Right steer's at 62 psi. Should be 110.\nTread on it is 5.1 mm, minimum 3.2.\n"
        "Correction, that right steer was 64 psi, I read the gauge wrong."
    )
    pressure, tread = details(text, Measurement)
    assert (str(pressure.value), str(pressure.limit.nominal), pressure.verdict) == ("64", "110", "outside")
    assert str(tread.value) == "5.1"


def test_a_count_put_right_with_its_name_counts_once() -> None:
    parts = details("Fitted two new terminals, no, make that three new terminals.", Part)
    assert [(p.name, str(p.quantity)) for p in parts] == [("terminals", "3")]


def test_of_a_list_only_what_is_denied_is_taken_back() -> None:
    text = "New water pump, part number 319604, with a new gasket, and a new thermostat. "
    text += "Scratch that, no thermostat."
    assert [(p.name, p.number) for p in details(text, Part)] == [("water pump", "319604"), ("gasket", None)]


@pytest.mark.parametrize(
    "text",
    [
        "The boot's split so it let water in.",
        "The lid's only got three screws in.",
        "Pressed the charge air system up to one bar.",
        "The bloke who wired this up was half asleep.",
    ],
)
def test_what_happened_to_a_thing_is_no_part_that_was_fitted(text: str) -> None:
    assert details(text, Part) == []
    assert details(text, Step) == []


def test_what_a_circuit_lost_in_bar_is_no_lost_thing() -> None:
    text = "Charge air system at one bar and it lost half a bar in a minute, limit is zero point one."
    assert details(text, Step) == []
    lost = details(text, Measurement)[-1]
    assert (str(lost.value), str(lost.limit.max), lost.verdict) == ("0.5", "0.1", "outside")


@pytest.mark.parametrize("text", ["The radio stays on.", "Wheel's off, drum stays on."])
def test_what_stays_on_was_not_put_back(text: str) -> None:
    assert all(step.action == "removed" for step in details(text, Step))


@pytest.mark.parametrize(
    ("text", "distance", "unit"),
    [
        ("Took it round the bypass, fourteen kilometres.", "14", "km"),
        ("Drove it ten miles, no noise.", "10", "[mi_i]"),
    ],
)
def test_a_drive_is_a_road_test_with_its_distance(text: str, distance: str, unit: str) -> None:
    (step,) = details(text, Step)
    assert (step.action, step.object, str(step.quantity), step.unit) == (
        "tested",
        "road test",
        distance,
        unit,
    )


@pytest.mark.parametrize(
    "text",
    [
        "She mustn't go out on the road until the adjuster's been done.",
        "Don't let this one out until the slack adjuster is done.",
    ],
)
def test_what_must_not_leave_is_a_hazard(text: str) -> None:
    assert [s.kind for s in details(text, Statement)] == ["hazard"]


@pytest.mark.parametrize(
    ("text", "action", "count"),
    [("Pump off, four bolts.", "removed", "4"), ("Suction pipe back up, three bolts.", "refitted", "3")],
)
def test_fasteners_go_where_what_they_hold_goes(text: str, action: str, count: str) -> None:
    thing, bolts = details(text, Step)
    assert (thing.action, bolts.action, bolts.object, str(bolts.quantity)) == (action, action, "bolts", count)


def test_an_amount_of_the_oil_is_of_that_oil() -> None:
    (step,) = details("Filled it with forty eight litres of the transmission hydraulic oil.", Step)
    (part,) = details("Filled it with forty eight litres of the transmission hydraulic oil.", Part)
    assert step.object == part.name == "transmission hydraulic oil"


def test_what_is_down_to_a_value_has_no_cause() -> None:
    text = "Front left tyre's down to about two mil, he'll want that doing at the next service."
    assert [s.kind for s in details(text, Statement)] == ["advisory"]


def test_a_part_on_order_for_tomorrow_is_ordered() -> None:
    (fact,) = [f for f in said("Slack adjuster's on order, should be here tomorrow.") if f.kind == "part"]
    assert fact.status == "sure"


@pytest.mark.parametrize(
    "plate", ["quebec india one four sierra golf charlie", "It's quebec india nine five delta"]
)
def test_a_plate_that_nobody_called_one_is_to_check(plate: str) -> None:
    text = f"Job 1244.\n{plate} and she's done seven hundred and one thousand kilometres."
    plates = [f for f in said(text) if isinstance(f.detail, Identity) and f.detail.kind == "registration"]
    assert [f.status for f in plates] == ["check"]


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        (
            "Pump in. Belt on. Leak test good. Cover back on and it holds three hours twenty done",
            "3.33",
        ),
        ("Pump in. Belt on. Leak test good. Had it up the hill no slip nine and a half hours all up", "9.5"),
    ],
)
def test_hours_told_last_are_labour_to_check(text: str, hours: str) -> None:
    (fact,) = [f for f in said(text) if isinstance(f.detail, LabourSaid)]
    assert isinstance(fact.detail, LabourSaid)
    assert (str(fact.detail.hours), fact.status) == (hours, "check")


def test_the_clock_that_runs_again_was_resumed() -> None:
    assert [c.action for c in details("Okay, clock's running again.", Clock)] == ["resume"]

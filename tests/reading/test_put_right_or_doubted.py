"""Numbers that are put right, said twice or stand beside another, and codes that are told again.

The sentences are invented; that people speak so is common practice, no source."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import FaultCode, Measurement, Statement


@pytest.mark.parametrize(
    ("text", "kind", "wrong"),
    [
        ("labour three hours forty I think, no, three hours twenty", "labour", "3"),
        ("bolts are er ten ten newton metres", "measurement", "1010"),
        ("lift pump pressure one point one p s i no bar", "measurement", "1.1"),
        ("drained both tanks, no, all three", "step", "2"),
        ("fitted a new fuse holder and an eighty no a hundred amp fuse", "part", "100"),
        ("forced regen not required", "step", "None"),
        ("don't start it, my arm is in!", "step", "None"),
    ],
)
def test_what_is_put_right_or_said_twice_is_never_sure(text: str, kind: str, wrong: str) -> None:
    for fact in said(text):
        if fact.kind == kind and fact.status == "sure":
            amounts = [getattr(fact.detail, key, None) for key in ("hours", "value", "quantity")]
            assert wrong not in {str(amount) for amount in amounts}, fact


def test_of_two_numbers_the_one_as_long_as_the_new_one_is_put_right() -> None:
    (flow,) = details("pump flow 41 litres a minute at 1,000 rpm, no, 51", Measurement)
    assert (flow.value, flow.unit) == (51, "L/min")


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("pump makes 105 bar and the lower limit's one forty", 140, None),
        ("10.1 volts at the motor, should never be under eleven", 11, None),
        ("jaw wear 3.5 mil, that's over the three allowed", None, 3),
    ],
)
def test_a_limit_bounds_on_the_side_that_was_said(text: str, low: int | None, high: int | None) -> None:
    (reading,) = details(text, Measurement)
    assert (reading.limit.min, reading.limit.max, reading.verdict) == (low, high, "outside")


def test_a_makers_code_told_again_has_its_new_state() -> None:
    text = "crane panel code 118 active, code 42 stored.\nCleared 118 and 42."
    assert [(c.code, c.state) for c in details(text, FaultCode)] == [
        ("118", "active"),
        ("42", "stored"),
        ("118", "cleared"),
        ("42", "cleared"),
    ]


def test_codes_in_one_breath_come_from_the_unit_that_heads_it() -> None:
    text = "the modulator's got code one four active and code three one stored"
    assert [c.ecu for c in details(text, FaultCode)] == ["modulator", "modulator"]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Hazard: cab stuck at half tilt", "hazard"),
        ("Safety: key out before the fan casing's opened", "hazard"),
        ("never crack a fitting with air in it", "hazard"),
        ("Reported: oil on the inside of the right rear wheel.", "complaint"),
        ("hazard lights are on all the time", "complaint"),
    ],
)
def test_a_heading_before_a_colon_tells_what_follows(text: str, kind: str) -> None:
    assert kind in [f.kind for f in said(text)]
    assert (kind == "hazard") == ("hazard" in [f.kind for f in said(text)])


@pytest.mark.parametrize(
    "text",
    [
        "rail pressure is 420 bar, it should be 1200",
        "slip clutch lets go at 400 newton metres, it must be 1500",
        "I can see 1200 on the gauge",
        "the plate says one twenty maximum",
    ],
)
def test_a_number_after_a_verb_is_no_code_and_no_registration(text: str) -> None:
    assert [f for f in said(text) if f.kind in ("fault_code", "registration")] == []


def test_a_limit_without_its_unit_belongs_to_the_reading_before_it() -> None:
    (flow,) = details("dosing test 250 ml in 90 s, expected 230 to 270", Measurement)
    assert (flow.limit.min, flow.limit.max) == (230, 270)


@pytest.mark.parametrize(
    ("text", "component", "failure", "whole"),
    [
        ("The air hose chafe through on the frame.", "air hose", "chafed", "chafed"),
        ("the left caliper seize on the pins", "left caliper", "seized", "seized"),
        ("Cause, the seal perished. The wheel bearing collapse.", "wheel bearing", "collapsed", "collapsed"),
    ],
)
def test_a_failure_whose_ending_was_not_heard_is_a_finding_to_look_at(
    text: str, component: str, failure: str, whole: str
) -> None:
    (fact,) = [f for f in said(text) if f.kind == "finding"]
    assert isinstance(fact.detail, Statement)
    assert (fact.detail.component, fact.detail.failure, fact.status) == (component, failure, "check")
    assert f"may have been '{whole}'" in str(fact.why)


@pytest.mark.parametrize(
    "text",
    [
        "the hose will chafe through on the frame",
        "does the hose chafe on the frame",
        "fitted a chafe guard on the hose",
        "the bearing collapse tool is in the van",
    ],
)
def test_what_may_come_or_is_called_so_has_not_failed(text: str) -> None:
    assert [f for f in said(text) if f.kind in ("finding", "cause")] == []


def test_an_air_leak_test_is_no_leak() -> None:
    kinds = [f.kind for f in said("fitted a new valve\nair leak test, brakes applied")]
    assert "finding" not in kinds

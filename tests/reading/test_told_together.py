"""Several things in one breath: findings one after another, lists without commas, what "it" can't mean."""

from __future__ import annotations

import pytest
from reading_forms import details, one, said

from jobnotes.record import Measurement, Statement, Step


def findings(line: str) -> list[tuple[str | None, str | None]]:
    """(component in lower case, failure) of the findings."""
    return [
        ((s.component or "").casefold() or None, s.failure)
        for s in details(line, Statement)
        if s.kind == "finding"
    ]


def steps(line: str) -> list[tuple[str, str]]:
    return [(s.action, s.object.casefold()) for s in details(line, Step)]


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        (
            "finding coupling hook worn and both dampers split",
            [("coupling hook", "worn"), ("dampers", "split")],
        ),
        (
            "Found a leak at the drain valve, and the filter is blocked.",
            [("drain valve", "leaking"), ("filter", "blocked")],
        ),
    ],
)
def test_each_thing_under_a_heading_is_a_finding(
    line: str, wanted: list[tuple[str | None, str | None]]
) -> None:
    assert findings(line) == wanted


@pytest.mark.parametrize(
    ("line", "component"),
    [
        ("pulled the strainer out, it's thick with metal", "strainer"),
        ("took the cartridge off and it's pure emulsion inside", "cartridge"),
        ("sprayed it with soap and it's bubbling round the gland nut", "gland nut"),
        ("would you look at that the seal's split", "seal"),
        ("Injector number two is worn internally.", "injector"),
    ],
)
def test_what_is_seen_on_a_thing_is_a_finding(line: str, component: str) -> None:
    assert component in [c for c, _ in findings(line)]


@pytest.mark.parametrize(
    "line",
    ["cleaned the housing, it's not full of metal", "soaped the joint, no bubbling", "filled it with oil"],
)
def test_what_is_not_seen_is_none(line: str) -> None:
    assert not findings(line)


def test_running_down_from_somewhere_is_a_leak_and_no_advice() -> None:
    kinds = {s.kind for s in details("it's running down from the hose joint", Statement)}
    assert "finding" in kinds
    assert "advisory" not in kinds


def test_things_that_came_off_one_by_one_go_back_one_by_one() -> None:
    line = "drum off caliper off wheel off\ndrum caliper and wheel are back on"
    assert [o for a, o in steps(line) if a == "refitted"] == ["drum", "caliper", "wheel"]


def test_a_name_of_two_words_stays_one_thing() -> None:
    assert [o for a, o in steps("wheel off\nbrake hose back on") if a == "refitted"] == ["brake hose"]


def test_what_is_told_of_its_own_place_is_no_object_of_the_verb_before() -> None:
    assert steps("Dumped the air, axle on stands") == [("drained", "air")]
    assert ("removed", "panel") in steps("removed the seat, panel off")


def test_plugged_back_in_is_said_of_what_was_unplugged() -> None:
    assert ("reconnected", "sensor") in steps("unplugged the sensor\nPlugged back in, loom tied up.")


def test_what_was_cut_off_is_off() -> None:
    fact, step = one("both bolts cut off", Step)
    assert (step.action, step.quantity, fact.status) == ("removed", 2, "sure")


def test_it_is_not_surely_several_new_things() -> None:
    drawn = [f for f in said("two new clips on the hose\nbled it") if isinstance(f.detail, Step)]
    assert all(f.status == "check" for f in drawn if "clip" in f.detail.object)


@pytest.mark.parametrize(
    ("line", "unit", "values"),
    [
        ("brake pads in millimetres, left 9, right 7", "mm", ["9", "7"]),
        ("tyre pressure left 102, right 101, all in psi", "[psi]", ["102", "101"]),
        ("hub temperature in degrees nearside 48 offside 61", "Cel", ["48", "61"]),
        ("oil in the left hub, 2 bolts loose", "", []),
    ],
)
def test_a_unit_told_once_for_all_is_the_unit_of_each(line: str, unit: str, values: list[str]) -> None:
    found = details(line, Measurement)
    assert [(str(d.value), d.unit) for d in found] == [(value, unit) for value in values]


def test_what_was_measured_first_is_not_named_beside_what_was_named_since() -> None:
    line = "steer pressure left 102 right 101 all in psi rear drive left outer 96 inner 97"
    inner = details(line, Measurement)[-1]
    assert str(inner.value) == "97"
    assert "steer" not in (inner.subject or "")

""" "back on the hub": the place of a thing is not the thing that was worked on."""

from __future__ import annotations

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Part, Step


def refitted(said: str) -> list[str]:
    return [
        f.detail.object
        for f in read_text(said)
        if isinstance(f.detail, Step) and f.detail.action == "refitted" and f.status == "sure"
    ]


@pytest.mark.parametrize(
    ("said", "what"),
    [
        ("rotor cleaned and back on the hub", "rotor"),
        ("cleaned the rotor and back on the hub", "rotor"),
        ("filter cleaned, back on the pump", "filter"),
        ("bearing greased and back in the housing", "bearing"),
        ("old valve cleaned and back on the sensor i left right where it was", "valve"),
    ],
)
def test_what_was_done_something_to_goes_back_not_the_place_that_it_goes_to(said: str, what: str) -> None:
    assert refitted(said) == [what]


@pytest.mark.parametrize(
    ("said", "what"),
    [
        ("then back on the wheels", "wheels"),
        ("hub cleaned and back on the wheels", "wheels"),
        ("belt off, back on the cover", "cover"),
    ],
)
def test_what_is_named_behind_back_on_goes_back_where_nothing_before_it_does(said: str, what: str) -> None:
    assert refitted(said) == [what]


@pytest.mark.parametrize(
    ("said", "number"),
    [
        ("new belt part number ate papa kilo fifteen ten", "8PK1510"),
        ("new belt part number for papa kilo one five", "4PK15"),
    ],
)
def test_a_digit_by_sound_before_a_letter_said_by_its_word_is_shown_in_the_number(
    said: str, number: str
) -> None:
    (fact,) = [f for f in read_text(said) if isinstance(f.detail, Part)]
    assert isinstance(fact.detail, Part)
    assert (fact.detail.number, fact.status) == (number, "check")


def test_a_part_number_that_is_not_told_takes_no_digit_from_for() -> None:
    (fact,) = [f for f in read_text("new seal part number for the gearbox") if isinstance(f.detail, Part)]
    assert isinstance(fact.detail, Part)
    assert fact.detail.number is None


@pytest.mark.parametrize(
    "said",
    [
        "Pulled the pump. New cartridge. Old one's binned.",
        "Fitted a new pump. Dryer cartridge, in the rack. Old one's binned.",
    ],
)
def test_an_old_one_is_shown_where_another_part_was_named_since(said: str) -> None:
    assert statuses(said, "removed") == [("pump", "check")]


@pytest.mark.parametrize(
    "said",
    [
        "Fitted a new pump, old one's binned.",
        "Fitted a new pump with a new gasket. Old one's tagged for warranty.",
        "Fitted a new pump. Four new bolts. Old one's binned.",
        "Fitted a new pump. Torqued the bolts. Old one's binned.",
    ],
)
def test_an_old_one_is_that_of_the_part_just_fitted(said: str) -> None:
    assert statuses(said, "removed") == [("pump", "sure")]


def test_one_that_was_fitted_is_of_the_thing_that_the_sentence_opens_with() -> None:
    assert statuses("Dryer cartridge, fitted one, 4 3 2 4 1.", "fitted") == [("Dryer cartridge", "sure")]


@pytest.mark.parametrize(
    "said", ["Belt, needs one fitted.", "Belt, fitted one last week.", "Belt, not fitted one."]
)
def test_one_that_was_not_fitted_now_is_no_part(said: str) -> None:
    assert statuses(said, "fitted") == []


def statuses(said: str, action: str) -> list[tuple[str, str]]:
    return [
        (f.detail.name, f.status)
        for f in read_text(said)
        if isinstance(f.detail, Part) and f.detail.action == action
    ]


def test_the_cores_is_the_such_and_such_is_heard_as_its_cause() -> None:
    kinds = [f.kind for f in read_text("so the cores is the right hand valve seized with corrosion")]
    assert kinds == ["cause"]
    assert [f.kind for f in read_text("the cores are blocked")] == ["finding"]

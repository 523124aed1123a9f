"""What a complaint, a cause, a code's end, a limit or a meter is called where nobody uses headings."""

from __future__ import annotations

import pytest
from reading_forms import details, said, sure

from jobnotes.record import FaultCode, Identity, Measurement, Statement, Step


def statements(text: str, kind: str) -> list[Statement]:
    return [s for s in details(text, Statement) if s.kind == kind]


@pytest.mark.parametrize(
    "lead", ["Operator's words were:", "The driver was saying", "Customer was telling me"]
)
def test_what_someone_was_saying_is_the_complaint(lead: str) -> None:
    found = statements(f"{lead} it pulls to the right when braking. Jacked it up.", "complaint")
    assert any("pulls to the right" in s.text for s in found)


@pytest.mark.parametrize(
    "told",
    [
        "the evaporator is holed, that's where the gas went",
        "torn bag was letting the pressure off so that's your lean there",
        "hose of cooler leak, rubber is cracked, this is cause",
        "what's chewed up the belt is the idler, it's seized",
    ],
)
def test_what_explains_the_trouble_is_the_cause(told: str) -> None:
    assert [s for s in statements(f"Looked it over. {told}. Ordered parts.", "cause") if s.failure]


def test_where_the_oil_goes_is_no_cause_where_nothing_failed() -> None:
    assert not statements("There's the filler neck, that's where the oil goes", "cause")


@pytest.mark.parametrize("end", ["P0401 gone", "P0401 cleared and gone"])
def test_a_code_that_is_gone_is_cleared(end: str) -> None:
    assert [c.state for c in details(f"P0401 active.\n{end}", FaultCode)] == ["active", "cleared"]


def test_a_code_that_has_gone_inactive_is_not_cleared() -> None:
    assert [c.state for c in details("P0401 gone inactive", FaultCode)] == ["inactive"]


def test_i_delete_the_code_tells_that_it_is_cleared() -> None:
    states = [c.state for c in details("SPN 171 FMI 4 active.\ni delete the code and test it", FaultCode)]
    assert states[-1] == "cleared"


@pytest.mark.parametrize("told", ["12 allowed at most", "12 would be your maximum"])
def test_what_is_allowed_at_most_is_the_limit(told: str) -> None:
    measured = details(f"a difference of 4 percent with {told}", Measurement)[0]
    assert measured.limit.max == 12


@pytest.mark.parametrize("what", ["fridge", "burner", "crane"])
def test_hours_of_a_unit_are_engine_hours_and_no_reading(what: str) -> None:
    text = f"the {what} hours were four thousand two hundred and ten"
    assert sure(text, Identity).value == "4210"
    assert not [f for f in said(text) if isinstance(f.detail, Measurement)]


@pytest.mark.parametrize(
    "told",
    ["Kilometre is 418,220.", "kilometre is four hundred and eighteen thousand two hundred and twenty"],
)
def test_a_meter_that_is_called_by_its_unit_counts_in_it(told: str) -> None:
    read = sure(told, Identity)
    assert (read.kind, read.value, read.unit) == ("odometer", "418220", "km")


def test_what_is_on_again_was_put_back_but_not_a_lamp_that_is_on_again() -> None:
    assert [(s.action, s.object) for s in details("The guard and the belt are on again", Step)] == [
        ("refitted", "guard"),
        ("refitted", "belt"),
    ]
    assert not details("the lights are on again", Step)

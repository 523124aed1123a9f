"""What the driver tells is no work and no reading of the job. Common practice, no source."""

from __future__ import annotations

import pytest
from reading_forms import details, kinds, said

from jobnotes.record import FaultCode, Measurement, Part, Statement, Step


@pytest.mark.parametrize(
    "text",
    [
        "operator reports coolant loss, topping up two litres a day, no visible leaks",
        "driver says it is running hot up the hills",
        "complaint: check engine light on",
    ],
)
def test_what_is_told_in_a_complaint_is_no_step(text: str) -> None:
    assert details(text, Step) == []
    assert "complaint" in kinds(text)


def test_a_value_told_in_a_complaint_is_for_a_person() -> None:
    values = [
        f
        for f in said("driver says it drops from 9 bar to 5 bar overnight")
        if isinstance(f.detail, Measurement)
    ]
    assert {f.status for f in values} <= {"check"}


def test_a_complaint_begins_with_what_it_is_about() -> None:
    (complaint,) = details("Transmission shudders at lockup, customer states it is worse hot.", Statement)
    assert complaint.text.startswith("Transmission shudders")


def test_that_all_is_well_is_no_complaint() -> None:
    assert kinds("driver says it's fine now") == []


@pytest.mark.parametrize(
    "text",
    [
        "flexplate checked for cracks, okay",
        "inspected the hose for chafing, fine",
    ],
)
def test_what_was_looked_for_is_no_finding(text: str) -> None:
    assert "finding" not in kinds(text)


def test_what_was_looked_for_and_found_is_one() -> None:
    (finding,) = details("checked the hose for chafing and it's chafed through", Statement)
    assert (finding.component, finding.failure) == ("hose", "chafed")


def test_a_leak_test_finds_no_leak() -> None:
    assert kinds("cylinder leak down 28 percent") == ["measurement"]


def test_debris_of_a_part_is_not_the_part_taken_off() -> None:
    steps = details("dropped the pan, clutch material all over the magnet", Step)
    assert [(s.action, s.object) for s in steps] == [("removed", "pan")]


def test_a_test_on_the_bench_is_not_with_the_engine_running() -> None:
    (reading,) = details("pressure tested it on the bench at 2 bar", Measurement)
    assert reading.conditions == ()


def test_how_long_nothing_happened_is_no_reading() -> None:
    assert [m.unit for m in details("retested at 1 bar, no drop in fifteen minutes", Measurement)] == ["bar"]


def test_a_new_part_that_no_lexicon_knows_keeps_its_number() -> None:
    (part,) = [f for f in said("new sensitive edge fitted number DE331") if isinstance(f.detail, Part)]
    assert (part.detail.number, part.status) == ("DE331", "check")


def test_a_code_that_was_reset_and_stays_away_is_cleared() -> None:
    codes = details("P0741 active\nreset the code and it's stayed clear", FaultCode)
    assert [c.state for c in codes] == ["active", "cleared"]


def test_a_unit_nobody_said_is_that_of_the_quantity_that_is_named() -> None:
    text = (
        "fluid temp 118 degrees on the road\nfilled with 21 litres of fluid\nfluid temp on the same route 92"
    )
    assert [m.unit for m in details(text, Measurement)] == ["Cel", "Cel"]

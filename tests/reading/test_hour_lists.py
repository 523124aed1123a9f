"""Hours told as a list, each with what it was for. The sentences are invented; common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import LabourSaid, Step

JOB = "Job 5518. Fitted a new radiator and a new hose. All filled up and no leaks.\n"


def hours(text: str) -> dict[str | None, str]:
    return {h.operation: str(h.hours) for h in details(text, LabourSaid)}


@pytest.mark.parametrize(
    ("told", "read"),
    [
        ("Radiator 3.5 hours, hose 0.6 hours.", {"Radiator": "3.5", "hose": "0.6"}),
        ("Two hours radiator, one hour hose.", {"radiator": "2", "hose": "1"}),
        ("radiator three point two hours hose nought point six", {"radiator": "3.2", "hose": "0.6"}),
        ("1.75 hours radiator, 0.5 hose", {"radiator": "1.75", "hose": "0.5"}),
        ("one hour ten radiator quarter hour function test", {"radiator": "1.17", "function test": "0.25"}),
        ("2.2 hours, radiator, and 0.4 for the hose", {"radiator": "2.2", "hose": "0.4"}),
        ("Fault finding 1.5 hours, loom repair 2 hours", {"Fault finding": "1.5", "loom repair": "2"}),
    ],
)
def test_hours_with_what_each_was_for_are_labour(told: str, read: dict[str | None, str]) -> None:
    assert hours(JOB + told) == read


@pytest.mark.parametrize(
    "told",
    [
        "Regen 0.7 hours, soak 1 hour",
        "Waiting 2 hours, stood 1 hour",
        "Motorway 1.5 hours, hill half an hour",
        "Radiator 1500 hours, hose 500 hours",
        "the old radiator did 2 hours, the hose lasted 3 hours",
    ],
)
def test_what_was_not_worked_is_no_list_of_labour(told: str) -> None:
    assert not [f for f in said(JOB + told) if f.status == "sure" and isinstance(f.detail, LabourSaid)]


def test_hours_early_in_a_job_are_no_list_of_its_labour() -> None:
    text = f"Coach 2 hours, trailer 1 hour.\n{JOB}{JOB}"
    assert not [f for f in said(text) if f.status == "sure" and isinstance(f.detail, LabourSaid)]


def test_more_hours_follow_what_the_first_were_for() -> None:
    told = "labour three hours fifteen for the radiator twenty five minutes for the hose"
    assert hours(JOB + told) == {"radiator": "3.25", "hose": "0.42"}


def test_the_name_of_work_with_its_hours_is_no_step() -> None:
    text = "Job 5518. Drained the tank. Refitted it.\ntank cleaning two hours filters half an hour"
    assert not any(s.action == "cleaned" for s in details(text, Step))


@pytest.mark.parametrize(
    "text",
    [
        "labour diag one hour fifteen, repair three and a half hours, test half an hour",
        "labour, diag 1.25 hours, repair 3.5 hours, test 0.5 hours",
        "diag one and a quarter hours repair three hours thirty test thirty minutes",
    ],
)
def test_each_of_several_hours_that_are_called_labour_goes_to_its_own_operation(text: str) -> None:
    told = [f.detail for f in said(text) if isinstance(f.detail, LabourSaid) and f.status == "sure"]
    assert [(one.operation, float(one.hours)) for one in told] == [
        ("diag", 1.25),
        ("repair", 3.5),
        ("test", 0.5),
    ]


def test_labour_may_be_for_a_road_test_or_a_pump() -> None:
    told = details("labour, diagnosis one hour, pump two hours, road test half an hour", LabourSaid)
    assert [(one.operation, float(one.hours)) for one in told] == [
        ("diagnosis", 1.0),
        ("pump", 2.0),
        ("road test", 0.5),
    ]


def rounded_hours(text: str) -> dict[str, str]:
    told = (f.detail for f in said(text) if isinstance(f.detail, LabourSaid))
    return {(d.operation or "").casefold(): str(Decimal(d.hours).quantize(Decimal("0.01"))) for d in told}


@pytest.mark.parametrize(
    ("text", "first", "second"),
    [
        ("Clutch 4.5 hours, road test 0.4 hours.", ("clutch", "4.50"), ("road test", "0.40")),
        ("Time: hub seal 1.6 hours, tracking 0.7 hours.", ("hub seal", "1.60"), ("tracking", "0.70")),
        ("ram job three hours and the test drive point four", ("ram job", "3.00"), ("test drive", "0.40")),
        (
            "booked 2.2 for the starter and four tenths for the wiring",
            ("starter", "2.20"),
            ("wiring", "0.40"),
        ),
        (
            "one hour fifty on the pump and the boss says twenty minutes for bleeding",
            ("pump", "1.83"),
            ("bleeding", "0.33"),
        ),
        (
            "1 hour 15 on the ram, and a quarter on checking the pins.",
            ("ram", "1.25"),
            ("checking the pins", "0.25"),
        ),
        ("Labour: diagnosis 0.6, radiator 2.3 hours.", ("diagnosis", "0.60"), ("radiator", "2.30")),
    ],
)
def test_each_of_a_list_of_hours_goes_to_its_own_operation(
    text: str, first: tuple[str, str], second: tuple[str, str]
) -> None:
    assert list(rounded_hours(text).items()) == [first, second]


@pytest.mark.parametrize(
    "text",
    [
        "engine 4400 hours, pump 2200 hours",
        "battery charged 4 hours, rested 2 hours",
        "front pads 2 hours, rear pads 3 hours left",
        "ran it 2 hours, idled it 1 hour",
        "voltage 12.6 on the first, 12.4 on the second",
    ],
)
def test_a_list_of_what_was_not_work_is_no_labour(text: str) -> None:
    assert not rounded_hours(text)


def test_hours_that_nobody_called_work_are_left_to_a_person() -> None:
    facts = [f for f in said("spring two hours, damper one hour") if f.kind == "labour"]
    assert [f.status for f in facts] == ["check", "check"]


def test_hours_heard_as_other_words_are_read_and_left_to_a_person() -> None:
    facts = [f for f in said("labour to point five hours gearbox") if f.kind == "labour"]
    assert [(str(f.detail.hours), f.status) for f in facts if isinstance(f.detail, LabourSaid)] == [
        ("2.5", "check")
    ]


def test_other_minutes_of_the_same_hours_put_them_right() -> None:
    assert rounded_hours("right that's an hour and ten no twenty on the door") == {"door": "1.33"}

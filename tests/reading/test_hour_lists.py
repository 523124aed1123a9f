"""Hours told as a list, each with what it was for. The sentences are invented; common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import said

from jobnotes.record import LabourSaid


def _hours(text: str) -> dict[str, str]:
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
    assert list(_hours(text).items()) == [first, second]


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
    assert not _hours(text)


def test_hours_that_nobody_called_work_are_left_to_a_person() -> None:
    facts = [f for f in said("spring two hours, damper one hour") if f.kind == "labour"]
    assert [f.status for f in facts] == ["check", "check"]


def test_hours_heard_as_other_words_are_read_and_left_to_a_person() -> None:
    facts = [f for f in said("labour to point five hours gearbox") if f.kind == "labour"]
    assert [(str(f.detail.hours), f.status) for f in facts if isinstance(f.detail, LabourSaid)] == [
        ("2.5", "check")
    ]


def test_other_minutes_of_the_same_hours_put_them_right() -> None:
    assert _hours("right that's an hour and ten no twenty on the door") == {"door": "1.33"}

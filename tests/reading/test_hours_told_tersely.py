"""Hours and the clock as they are told in a word or two."""

from __future__ import annotations

import pytest
from reading_forms import said

from jobnotes.record import Clock, LabourSaid


def hours(text: str) -> list[tuple[str, str | None, str]]:
    return [
        (str(f.detail.hours), f.detail.operation, f.status)
        for f in said(text)
        if isinstance(f.detail, LabourSaid)
    ]


def clock(text: str) -> list[str]:
    return [f.detail.action for f in said(text) if isinstance(f.detail, Clock)]


def test_a_list_of_decimals_each_for_what_was_done_is_labour_for_a_person_to_see() -> None:
    assert hours("One point three for the pump, point six for the road test.") == [
        ("1.3", "pump", "check"),
        ("0.6", "road test", "check"),
    ]


@pytest.mark.parametrize(
    "text",
    ["point four for the valve", "1.2 for the left, right the same", "5.5 for the inlet, 8 bar outlet"],
)
def test_a_decimal_alone_is_no_list_of_hours(text: str) -> None:
    assert hours(text) == []


def test_what_is_to_be_put_down_after_hours_is_labour_for_a_person_to_see() -> None:
    assert ("1.75", None, "check") in hours("an hour and a half and a bit. Put one and three quarters.")
    assert hours("washers were worn. Put two.") == []


def test_labour_hours_are_hours() -> None:
    assert [h for h, _, _ in hours("two point three labour hours")] == ["2.3"]


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("On the clock. Forklift.", "start"),
        ("Finished. Call it two hours labour.", "stop"),
        ("That's it, finished, one hour ten labour.", "stop"),
        ("Ninety minutes, off now.", "stop"),
        ("off it at ten past four", "stop"),
        ("Right, I'm back, where was I.", "resume"),
        ("Back on job 4417 after my break.", "resume"),
        ("Clock off, lunch.", "pause"),
    ],
)
def test_a_word_between_breaks_may_start_or_stop_the_clock(text: str, action: str) -> None:
    assert clock(text) == [action]


@pytest.mark.parametrize(
    "text",
    [
        "finished with engine oil",
        "The coat is finished, paint's dry.",
        "milk and two sugars, tea",
        "lights off now",
    ],
)
def test_such_a_word_elsewhere_leaves_the_clock_alone(text: str) -> None:
    assert clock(text) == []

"""A bare verb ("remove the liner") is a report once it is told that the thing went back, and only then."""

from __future__ import annotations

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Repair, Step


def status_of(text: str, action: str) -> list[tuple[str, str]]:
    return [
        (f.detail.object, f.status)
        for f in read_text(text)
        if isinstance(f.detail, Step) and f.detail.action == action
    ]


@pytest.mark.parametrize(
    "text",
    [
        "Remove the wheel arch liner.\nWheel arch liner back on.",
        "Remove the liner, four screws. Replaced the lamp.\nRefitted the liner and the four screws.",
        "Remove the starter motor.\nFitted a new starter motor.",
    ],
)
def test_what_was_put_back_or_renewed_had_been_removed(text: str) -> None:
    assert {status for _, status in status_of(text, "removed")} == {"sure"}


@pytest.mark.parametrize(
    "text",
    [
        "Remove the wheel arch liner.",
        "Remove the wheel arch liner.\nRefitted the splash guard.",
        "Refitted the wheel arch liner.\nRemove the wheel arch liner.",
        "Remove the wheel arch liner.\nRefit the wheel arch liner.",
        "Remove the wheel arch liner.\nThe wheel arch liner is not back on yet.",
    ],
)
def test_without_a_sure_report_that_it_went_back_a_bare_verb_stays_for_a_person(text: str) -> None:
    assert {status for _, status in status_of(text, "removed")} == {"check"}


def test_a_drain_plug_loosened_in_the_bare_form_is_borne_out_by_the_filling() -> None:
    assert status_of("Drain the coolant.\nFilled 12 litres of coolant.", "drained") == [("coolant", "sure")]


def test_what_was_heard_of_a_verb_that_was_borne_out_stays_to_be_seen() -> None:
    facts = read_text("Unplug the sensor connector.\nPlugged in the sensor connector.\nRemoved the cover.")
    read = {f.detail.action: f.repairs for f in facts if isinstance(f.detail, Step)}
    assert read["disconnected"] == (Repair("Unplug", "disconnected"),)
    assert read["reconnected"] == read["removed"] == ()
    [bolts] = [f for f in read_text("Take four bolts off.\nFour bolts back on.") if f.repairs]
    assert bolts.repairs == (Repair("Take", "removed"),)

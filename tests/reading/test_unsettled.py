"""A number that the words beside it leave open is never sure."""

from __future__ import annotations

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Fact


def facts(text: str, kind: str) -> list[Fact]:
    return [f for f in read_text(text) if f.kind == kind]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("labour one hour, no, call that two with the clean up", "labour"),
        ("hanging bolts torqued to too hundred newton metres", "measurement"),
        ("hanging bolts torqued to fower hundred newton metres", "measurement"),
        ("fitted a new start relay 24V 70A", "part"),
        ("hour and a half, book says one point three", "labour"),
    ],
)
def test_what_may_be_taken_back_or_be_another_number_is_for_a_person(text: str, kind: str) -> None:
    sure = [f for f in facts(text, kind) if f.status == "sure"]
    wrong = {"1", "100", "0.3", "24V70A"}
    for fact in sure:
        said = {str(getattr(fact.detail, name, "")) for name in ("hours", "value", "number")}
        assert not said & wrong, fact


@pytest.mark.parametrize(
    "text",
    [
        "resistance across the pair 60 ohms no leaks found",
        "supply at the plug 24.6 volts, no fault codes stored",
    ],
)
def test_a_denial_after_a_reading_takes_nothing_back(text: str) -> None:
    (reading,) = facts(text, "measurement")
    assert reading.status == "sure"


def test_the_heading_of_a_correction_takes_no_hours_back() -> None:
    (labour,) = facts("labour water pump two and a half hours\ncorrection, replaced the water pump", "labour")
    assert labour.status == "sure"

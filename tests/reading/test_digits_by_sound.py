"""Digits that a recogniser wrote as the words that they sound like, inside a number.

The sentences are invented; that recognisers write so is common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import said

from jobnotes.record import FaultCode, Identity, Measurement, Part


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("gearbox oil sits at sixty won degrees", "61", "Cel"),
        ("relief valve opens at one hundred and seventy ate bar", "178", "bar"),
        ("feed to the pump is twenty fore point too volts", "24.2", "V"),
        ("winch motor pulls too hundred and thirty amps", "230", "A"),
        ("boost hose held two oh ate bar", "208", "bar"),
    ],
)
def test_a_digit_heard_as_another_word_is_read_within_its_number_and_left_to_a_person(
    text: str, value: str, unit: str
) -> None:
    (fact,) = (f for f in said(text) if isinstance(f.detail, Measurement))
    assert (fact.detail.value, fact.detail.unit, fact.status) == (Decimal(value), unit, "check")


@pytest.mark.parametrize(
    "text",
    [
        "hour meter six thousand ate hundred and won",
        "SPN 91 FMI 3 active with a count of thirty too",
        "fitted twenty ate wheel studs",
        "battery stands at 24.8 volts, minimum twenty fore",
        "labour two hours forty fore minutes on the clutch",
    ],
)
def test_no_fact_is_sure_of_a_number_that_holds_a_digit_by_sound(text: str) -> None:
    facts = said(text)
    assert facts
    assert all(
        f.status == "check" for f in facts if isinstance(f.detail, Measurement | Identity | Part | FaultCode)
    )
    assert not any(f.status == "sure" and f.kind == "labour" for f in facts)


def test_to_between_two_numbers_is_never_a_digit() -> None:
    (fact,) = (
        f for f in said("oil pressure 3.5 bar, book says thirty to forty psi") if f.kind == "measurement"
    )
    assert isinstance(fact.detail, Measurement)
    assert fact.detail.value == Decimal("3.5")
    assert not any(f.kind == "measurement" and f.detail.value == 32 for f in said("from thirty to forty bar"))

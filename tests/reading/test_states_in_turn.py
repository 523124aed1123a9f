"""Codes in a list, and their states told by their turn. Invented; common practice, no source."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import FaultCode


@pytest.mark.parametrize(
    "text",
    [
        "two codes, P0101 and P0113, the first is active, the second is stored",
        "P0101 and P0113. First one active, second only stored.",
        "P0101 and P0113 the first is active the last is stored",
    ],
)
def test_a_state_told_by_its_turn_is_that_codes_own(text: str) -> None:
    states = {code.code: code.state for code in details(text, FaultCode)}
    assert states == {"P0101": "active", "P0113": "stored"}


def test_one_and_the_other_leave_open_which_code_is_meant() -> None:
    facts = [f for f in said("P0101 and P0113, one is active, the other stored") if f.kind == "fault_code"]
    assert [f.status for f in facts] == ["check", "check"]
    assert "of which?" in (facts[0].why or "")


def test_a_state_of_both_is_still_that_of_both() -> None:
    codes = details("P0101 came first and P0113 second, both active", FaultCode)
    assert {code.state for code in codes} == {"active"}

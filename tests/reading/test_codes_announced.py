"""Fault codes that were announced: none is lost, and what can't be read is for a person, who is told why."""

from __future__ import annotations

import pytest
from reading_forms import details, one, said

from jobnotes.record import FaultCode


@pytest.mark.parametrize(
    ("text", "code", "why"),
    [
        ("fault code port zero four two zero", "0420", "'port' was heard before 0420: which letter"),
        ("got a trouble code peer 1325 active", "1325", "'peer' was heard before 1325: which letter"),
        ("the error code was something like seven seven one", "771", "a code was announced"),
        ("code bead one three one eight is stored", "1318", "'bead' was heard before 1318: which letter"),
    ],
)
def test_a_code_that_was_announced_and_not_understood_leaves_what_was_heard_for_checking(
    text: str, code: str, why: str
) -> None:
    fact, found = one(text, FaultCode)
    assert (found.code, fact.status) == (code, "check")
    assert fact.why is not None
    assert why in fact.why


@pytest.mark.parametrize(
    "text",
    [
        "no fault code, battery 24 6",
        "fault code for the nox sensor, supply 24 volts",
        "fault codes in the engine ecu count four",
        "trim code is on the label, seven bolts",
        "the paint code stayed nine zero two one",
    ],
)
def test_what_is_no_code_is_not_made_one(text: str) -> None:
    assert not details(text, FaultCode)


def test_a_code_that_can_be_read_is_read_though_words_stand_before_it() -> None:
    fact, found = one("fault code was then p zero four two zero active", FaultCode)
    assert (found.code, fact.status) == ("P0420", "sure")


def test_makers_numbers_in_a_row_are_each_a_code_with_the_state_that_follows() -> None:
    found = details("screen is flashing a three one two and a three one five both there now", FaultCode)
    assert [(c.code, c.state) for c in found] == [("312", "active"), ("315", "active")]


def test_a_number_that_counts_or_measures_after_a_code_is_no_second_code() -> None:
    assert [c.code for c in details("code 118 active and 120 bar at the pump", FaultCode)] == ["118"]
    assert [c.code for c in details("code 63 and 10 bolts loose", FaultCode)] == ["63"]


def test_a_makers_number_is_a_code_only_with_its_state() -> None:
    assert [c.code for c in details("Manufacturer's number 4410 pending.", FaultCode)] == ["4410"]
    assert not details("new pump, manufacturer's number 4410", FaultCode)


def test_a_unit_at_the_head_of_a_list_holds_for_the_next_codes_and_one_behind_a_code_does_not() -> None:
    found = details("Dosing controller: SPN 3364 FMI 2 active. SPN 4334 FMI 18 inactive.", FaultCode)
    assert [c.ecu for c in found] == ["Dosing controller", "Dosing controller"]
    found = details("P0087 active in the engine ECU. U0100 stored.", FaultCode)
    assert [c.ecu for c in found] == ["engine ECU", None]


def test_how_often_a_code_came_may_be_told_in_a_sentence_of_its_own() -> None:
    assert details("SPN 639 FMI 9, inactive. Count is 31.", FaultCode)[0].count == 31
    assert details("C1014 stored. It's been logged five times.", FaultCode)[0].count == 5
    assert said("C1014 stored. Tightened the plug four times.")[0].kind == "fault_code"
    assert details("C1014 stored. Cycled the door, four good runs.", FaultCode)[0].count is None


def test_several_codes_announced_together_are_each_read() -> None:
    assert [c.code for c in details("The burner showed fault codes 014 and 077.", FaultCode)] == [
        "014",
        "077",
    ]


@pytest.mark.parametrize(
    ("text", "code"), [("Uniform 041-1 stored", "U0411"), ("papa 029-9 active", "P0299")]
)
def test_a_digit_of_a_code_that_a_hyphen_parts_belongs_to_it_for_a_person_to_check(
    text: str, code: str
) -> None:
    fact, detail = one(text, FaultCode)
    assert (detail.code, fact.status) == (code, "check")


def test_an_spn_that_was_written_with_hyphens_is_read_whole() -> None:
    assert [c.code for c in details("SPN 1-1-0-FMI-0 stored", FaultCode)] == ["SPN 110 FMI 0"]


def test_a_makers_number_after_a_word_that_may_be_its_first_digit_is_for_a_person() -> None:
    fact, _ = one("codes on arrival power to 031 pending", FaultCode)
    assert fact.status == "check"

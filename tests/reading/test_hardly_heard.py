"""What a recogniser was hardly sure of, or what sounds like something else, is no sure fact.

Which words recognisers take for which is what was seen of small ones with synthetic voices: no source.
"""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from jobnotes.reading.read import read_notes
from jobnotes.record import Fact, FaultCode, Measurement, Note, Part, RecogniserStamp, Word

STAMP = RecogniserStamp("made", "made", "0" * 64)


def heard(line: str, otherwise: float = 0.95) -> list[Fact]:
    """The facts of words that were heard, each as sure as the number behind its slash: "sixteen/0.6"."""
    words = []
    for at, told in enumerate(line.split()):
        word, _, confidence = told.partition("/")
        words.append(Word(word, at / 2, at / 2 + 0.4, float(confidence or otherwise)))
    text = " ".join(w.text for w in words)
    note = Note(
        "N1", "n.wav", "0" * 64, datetime(2026, 2, 1, tzinfo=UTC), "made", 60.0, STAMP, text, tuple(words)
    )
    return [f for f in read_notes([note]) if f.stands]


def status_of(line: str, kind: type) -> tuple[str, str]:
    (fact,) = [f for f in heard(line) if isinstance(f.detail, kind)]
    return fact.status, fact.why or ""


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("drain plug torque sixteen/0.6 newton metres", "check"),
        ("drain plug torque sixty/0.65 newton metres", "check"),
        ("drain plug torque sixteen/0.8 newton metres", "sure"),
        ("drain plug torque eleven/0.6 newton metres", "sure"),
        ("drain plug torque eleven/0.48 newton metres", "check"),
    ],
)
def test_a_number_that_differs_by_its_ending_alone_must_be_heard_better(line: str, status: str) -> None:
    assert status_of(line, Measurement)[0] == status


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("sporty/0.5 hill/0.3 of/0.2 ours sixty percent", "check"),
        ("soot/0.3 load sixty five percent", "check"),
        ("filter/0.5 pressure sixty five millibar", "sure"),
        ("pressure sixty five millibar", "sure"),
    ],
)
def test_a_reading_is_sure_only_if_what_was_measured_was_heard_or_is_known(line: str, status: str) -> None:
    found, why = status_of(line, Measurement)
    assert found == status
    assert ("hardly heard" in why) == (status == "check")


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("suction pressure long boy two bar", "check"),
        ("suction pressure void two bar", "check"),
        ("engine hours eight thousand two hundred and fourteen void six", "check"),
        ("suction pressure two bar boy was that low", "sure"),
    ],
)
def test_a_word_that_sounds_like_point_beside_a_number_is_shown(line: str, status: str) -> None:
    kinds = {"measurement", "engine_hours"}
    assert [f.status for f in heard(line) if f.kind in kinds] == [status]


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("fault code P/0.7 one three four two is active", "check"),
        ("fault code P/0.9 one three four two is active", "sure"),
        ("fault code papa/0.7 one three four two is active", "sure"),
        ("fault code U/0.7 one three four two is active", "sure"),
    ],
)
def test_p_and_b_by_their_names_must_be_heard_better_than_other_letters(line: str, status: str) -> None:
    found, why = status_of(line, FaultCode)
    assert found == status
    assert ("'P' or 'B'?" in why) == (status == "check")


def test_a_digit_before_a_comma_that_may_be_the_word_too_is_no_sure_part_number() -> None:
    status, why = status_of("put a new feed pipe on two, five one one zero three", Part)
    assert status == "check"
    assert "'too'" in why
    assert status_of("put a new feed pipe on, number two five one one zero three", Part)[0] == "sure"


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("took the top cover off fourteen volts", "check"),
        ("Two volts/0.6 then", "check"),
        ("battery reads fourteen volts", "sure"),
        ("charging at the alternator twenty eight volts", "sure"),
    ],
)
def test_volts_that_may_be_bolts_are_shown(line: str, status: str) -> None:
    assert status_of(line, Measurement)[0] == status


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("SPN six three nine FMI nine three V S A active", "check"),
        ("SPN six three nine FMI nine active count three", "sure"),
        ("SPN six three nine FMI nine three times", "sure"),
        ("SPN six three nine FMI nine two new bolts fitted", "sure"),
    ],
)
def test_a_failure_mode_that_goes_on_in_digits_is_shown(line: str, status: str) -> None:
    assert status_of(line, FaultCode)[0] == status


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("odometer seven hundred and forty two hundred and ten kilometres", "check"),
        ("odometer seven hundred and forty thousand two hundred and ten kilometres", "sure"),
        ("odometer three hundred and twelve four hundred and fifty kilometres", "sure"),
    ],
)
def test_hundreds_that_run_together_without_their_thousand_are_shown(line: str, status: str) -> None:
    assert [f.status for f in heard(line) if f.kind == "odometer"] == [status]


@pytest.mark.parametrize(
    ("line", "bounds", "status"),
    [
        ("at the plug sixty point three ohms. Limit fifty eight sixty two.", (58, 62), "check"),
        ("speed 1300 rpm limit twelve fifty", (None, 1250), "sure"),
    ],
)
def test_bounds_whose_to_was_lost_are_no_limit_many_times_the_reading(
    line: str, bounds: tuple[int | None, int], status: str
) -> None:
    (fact,) = [f for f in heard(line) if isinstance(f.detail, Measurement)]
    assert fact.detail.limit is not None
    assert (fact.detail.limit.min, fact.detail.limit.max) == bounds
    assert fact.status == status


def test_a_digit_between_a_plate_and_a_meter_belongs_surely_to_neither() -> None:
    line = "rego quebec india eight eight, delta oscar charlie, one one hundred and four thousand on the odo"
    assert {(f.kind, f.status) for f in heard(line)} == {("registration", "check"), ("odometer", "check")}


@pytest.mark.parametrize(
    ("line", "status"),
    [
        ("oil temperature sensor two point one kilo at twenty degrees", "check"),
        ("the battery weighs twenty kilos", "sure"),
    ],
)
def test_kilos_of_what_has_a_resistance_are_shown(line: str, status: str) -> None:
    assert status_of(line, Measurement)[0] == status


def test_the_number_of_what_was_misheard_is_not_surely_that_of_another_part() -> None:
    numbered = [
        (f.status, f.detail.number)
        for f in heard("shaft and rocker replaced. Kanshaft number five one zero four")
        if isinstance(f.detail, Part) and f.detail.number
    ]
    assert numbered == [("check", "5104")]


def test_what_put_in_at_a_value_cut_in_and_was_not_fitted() -> None:
    assert not [f for f in heard("the fan put in at ninety six degrees") if isinstance(f.detail, Part)]
    assert [f for f in heard("put in a thermostat at 82 degrees") if isinstance(f.detail, Part)]

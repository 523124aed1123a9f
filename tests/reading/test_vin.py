"""Vehicle identification numbers: ISO 3779 and the check digit of 49 CFR 565.15, against package vininfo."""

from __future__ import annotations

import vininfo
from hypothesis import given
from hypothesis import strategies as st
from reading_forms import DIGIT, ICAO, one, sure

from jobnotes.reading.job.identity import vin_check_digit
from jobnotes.record import Identity

ALPHABET = "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"  # without I, O and Q
# the last four are figures (49 CFR 565.15(d), ISO 3779)
bodies = st.builds(
    str.__add__, st.text(ALPHABET, min_size=13, max_size=13), st.text("0123456789", min_size=4, max_size=4)
)


def whole(body: str) -> str:
    """`body` with the right check digit in the ninth place."""
    return body[:8] + vin_check_digit(body) + body[9:]


def verified(vin: str) -> bool:
    return bool(vininfo.Vin(vin).verify_checksum(check_year=False))


def test_the_worked_examples_come_out() -> None:
    # seventeen ones: the usual self-test of the rule; the second number is a much printed worked example
    assert vin_check_digit("11111111111111111") == "1"
    assert vin_check_digit("1M8GDM9A_KP042788".replace("_", "0")) == "X"


@given(bodies)
def test_the_check_digit_is_the_one_that_vininfo_accepts(body: str) -> None:
    assert verified(whole(body))


@given(bodies, st.sampled_from("0123456789X"))
def test_any_other_check_digit_is_refused_by_both(body: str, digit: str) -> None:
    vin = body[:8] + digit + body[9:]
    assert verified(vin) == (vin_check_digit(vin) == digit)


@given(bodies)
def test_a_whole_number_that_checks_is_sure(body: str) -> None:
    vin = whole(body)
    found = sure(f"VIN {vin}", Identity)
    assert (found.kind, found.value) == ("vin", vin)


@given(bodies)
def test_a_whole_number_spelled_with_the_alphabet_comes_back(body: str) -> None:
    vin = whole(body)
    words = " ".join(ICAO.get(c) or DIGIT[c] for c in vin)
    assert sure(f"VIN {words}", Identity).value == vin


@given(bodies, st.sampled_from("0123456789X"))
def test_a_number_that_fails_its_check_digit_is_shown_for_checking(body: str, digit: str) -> None:
    vin = body[:8] + digit + body[9:]
    fact, found = one(f"VIN {vin}", Identity)
    assert found.value == vin
    assert (fact.status == "sure") == verified(vin)


@given(bodies, st.sampled_from("IOQ"), st.integers(0, 12))
def test_letters_that_the_standard_bars_are_shown_for_checking(body: str, letter: str, at: int) -> None:
    fact, _ = one(f"VIN {body[:at]}{letter}{body[at + 1 :]}", Identity)
    assert fact.status == "check"


@given(bodies, st.integers(9, 16))
def test_a_number_that_is_too_short_is_shown_for_checking(body: str, length: int) -> None:
    fact, found = one(f"VIN {body[:8]}{'1' * (length - 8)}", Identity)
    assert len(found.value) == length
    assert fact.status == "check"

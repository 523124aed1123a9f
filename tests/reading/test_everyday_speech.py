"""How six technicians tell their everyday repairs: hesitating, putting right, leaving words out.

How people put it is common practice, no source."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import FaultCode, Identity, Part


def identities(text: str) -> set[tuple[str, str]]:
    return {(d.kind, d.value) for d in details(text, Identity)}


@pytest.mark.parametrize(
    ("text", "without"),
    [
        ("job number um five five one two", "job number five five one two"),
        ("the uh booster is cracked", "the booster is cracked"),
        ("fitted a new er clutch pedal switch", "fitted a new clutch pedal switch"),
        ("labour, erm, two hours", "labour, two hours"),
    ],
)
def test_sounds_of_someone_who_thinks_change_nothing(text: str, without: str) -> None:
    assert [f.detail for f in said(text)] == [f.detail for f in said(without)]


def test_a_unit_and_letters_that_are_spelled_are_no_hesitation() -> None:
    assert [f.detail.unit for f in said("end float is 50 um")] == ["um"]  # type: ignore[union-attr]
    assert identities("Registration ER 44 KLV") == {("registration", "ER44KLV")}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wheeled loader hours six thousand one hundred and ninety", ("engine_hours", "6190")),
        ("dumper number nine hours three thousand and four", ("engine_hours", "3004")),
        ("Job 60, hours 12,044.", ("engine_hours", "12044")),
        ("job nine one four hours meter eight thousand two hundred", ("engine_hours", "8200")),
        ("work order three three nine one miles one hundred eighty thousand", ("odometer", "180000")),
        ("day cab tractor at 402,118 miles", ("odometer", "402118")),
        ("hour meter on the reefer nine thousand one hundred", ("engine_hours", "9100")),
    ],
)
def test_a_meter_is_told_by_its_unit_before_the_number(text: str, told: tuple[str, str]) -> None:
    assert told in identities(text)


@pytest.mark.parametrize(
    "text",
    [
        "it ran for two hours 300 bar all the time",
        "after twelve hours 250 more came out",
        "it did ten miles 3000 of them",
    ],
)
def test_a_unit_after_its_number_names_no_meter(text: str) -> None:
    assert not identities(text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Job 44, tanker QI55 PRS, 611,300 on the clock.", "QI55PRS"),
        ("Job 7001. QI19 HHD. Brakes.", "QI19HHD"),
        ("Bus number QI31 KLM, job 61.", "QI31KLM"),
    ],
)
def test_a_registration_that_nobody_calls_one_is_shown_to_check_and_is_no_part(text: str, told: str) -> None:
    found = [f for f in said(text) if isinstance(f.detail, Identity) and f.detail.kind == "registration"]
    assert [(f.detail.value, f.status) for f in found] == [(told, "check")]  # type: ignore[union-attr]
    assert not details(text, Part)


def test_a_trade_abbreviation_with_a_number_is_no_registration() -> None:
    assert identities("mower behind the tractor p t o five forty job six one") == {("job_number", "61")}


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("Hours are 3,310, no, that's the trip, 5,118.", Identity, "5118"),
        ("code 4 1 2, no that's the time of day, 4 2 1, active", FaultCode, "421"),
        ("Odometer 118,200, no, that's the previous shift, 181,200 km.", Identity, "181200"),
        ("hours two thousand no i was looking at the wrong line three thousand", Identity, "3000"),
    ],
)
def test_what_was_looked_at_in_error_is_put_right(text: str, kind: type, value: str) -> None:
    (found,) = details(text, kind)
    assert (found.code if kind is FaultCode else found.value) == value


def test_of_several_codes_in_a_breath_the_last_one_is_taken_back() -> None:
    text = "SPN 110 FMI 3 active, and also B1A55-11, no, that's the radio, forget that."
    assert [c.code for c in details(text, FaultCode)] == ["SPN 110 FMI 3"]

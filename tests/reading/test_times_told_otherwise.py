"""Hours, the clock and meters as they are told in passing, misheard, or in the English of foreigners."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, one, said, sure, taken_back

from jobnotes.record import Clock, Identity, LabourSaid, PhotoCue


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("labour ate hours", "8"),
        ("labour too point seven five hours", "2.75"),
        ("three our twenty", "3.33"),
        ("labour two hours and for tea minutes", "2.67"),
        ("five our work", "5"),
    ],
)
def test_hours_heard_as_other_words_are_read_and_for_checking(text: str, hours: str) -> None:
    fact, found = one(text, LabourSaid)
    assert found.hours == Decimal(hours)
    assert fact.status == "check"
    assert fact.why


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Travel 2 hours, strip down 3.5 hours.", [("2", "Travel"), ("3.5", "strip down")]),
        ("Diagnosis half an hour, fitting two hours.", [("0.5", "Diagnosis"), ("2", "fitting")]),
        ("Labour 3.4, travelling 1.1.", [("3.4", None), ("1.1", "travelling")]),
        ("An hour and a half and fifteen mile each way.", [("1.5", None)]),
    ],
)
def test_hours_are_of_the_operation_that_was_named_with_them(
    text: str, told: list[tuple[str, str | None]]
) -> None:
    assert [(str(h.hours), h.operation) for h in details(text, LabourSaid)] == told


def test_how_long_a_test_lasted_is_no_labour() -> None:
    assert not details("creep test again: 9 mm in 5 minutes.", LabourSaid)
    assert not details("held 1.1 bar, ten minutes.", LabourSaid)
    assert not details("Header tank at 1.1 bar, cold. 15 minutes, no drop.", LabourSaid)
    assert not details("it went down to 0.4 bar inside of two minutes so she leaks", LabourSaid)


@pytest.mark.parametrize(
    ("text", "actions"),
    [
        ("I start now, is quarter past seven", ["start"]),
        ("yesterday I stop 16:30, today I go on at 7:30", ["stop", "resume"]),
        ("we were there from nine o'clock until half past two", ["start", "stop"]),
        ("from 12:15 we had lunch, go on 12:50", ["pause", "resume"]),
        ("downed tools ten past nine for the stores back on it at ten to ten", ["pause", "resume"]),
    ],
)
def test_the_clock_is_read_from_times_of_day(text: str, actions: list[str]) -> None:
    assert [c.action for c in details(text, Clock)] == actions


@pytest.mark.parametrize(
    "text",
    [
        "the leak was there from 9:00 until 10:30",
        "relay back in at 15:20",
        "they want it from eight o'clock until noon tomorrow",
    ],
)
def test_times_of_other_things_are_not_those_of_the_clock(text: str) -> None:
    assert not details(text, Clock)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        (
            "Hour meter in the cab, wait, it's on two thousand and eleven point four hours.",
            "engine_hours",
            "2011.4",
        ),
        ("Loader, hour meter show 8 406.", "engine_hours", "8406"),
        ("the digger have worked six thousand and twelve hours", "engine_hours", "6012"),
        ("hours on the pump counter nine hundred and five", "engine_hours", "905"),
        ("bus have four hundred ten thousand kilometre, registration is QI 12 RVB", "odometer", "410000"),
    ],
)
def test_a_meter_is_read_though_it_is_named_loosely(text: str, kind: str, value: str) -> None:
    assert [i.value for i in details(text, Identity) if i.kind == kind] == [value]


@pytest.mark.parametrize(
    "text",
    [
        "re-torque it at ten k.",
        "I have worked two hours on the seals.",
        "oil change at 500 hours, in writing",
    ],
)
def test_what_is_no_meter_is_not_read_as_one(text: str) -> None:
    assert not details(text, Identity)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("job for two seven oh, brakes drag", "4270"),
        ("job 5 3 ate", "538"),
        ("job won nine nine six", "1996"),
    ],
)
def test_a_job_number_heard_as_other_words_is_for_checking(text: str, value: str) -> None:
    fact, found = one(text, Identity)
    assert (found.kind, found.value, fact.status) == ("job_number", value, "check")


def test_a_correction_that_says_that_it_was_wrong_replaces_the_number() -> None:
    text = "tractor have worked three thousand and ten no sorry is wrong three thousand and forty hours"
    assert [i.value for i in details(text, Identity)] == ["3040"]
    assert not any(f.status == "sure" for f in taken_back(text))
    assert said(text)


def test_the_hours_that_were_told_are_sure() -> None:
    assert sure("labour comes to two hours forty", LabourSaid).hours == Decimal("2.67")


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("Photo here, that's the scored liner.", "scored liner"),
        ("photo i took of the bent rod", "bent rod"),
        ("picture this one, the cracked elbow", "cracked elbow"),
    ],
)
def test_what_a_photo_shows_may_be_told_in_the_next_breath(text: str, subject: str) -> None:
    assert sure(text, PhotoCue).subject == subject

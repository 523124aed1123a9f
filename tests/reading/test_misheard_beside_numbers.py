"""What mishearings leave beside a number or a name is read as it was said, or shown as doubtful.

How recognisers mishear is common practice, no source: seen in what the default one wrote of synthetic speech.
"""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import Fact, Identity, Measurement, Part


def readings(text: str) -> list[tuple[Fact, Measurement]]:
    return [(f, f.detail) for f in said(text) if isinstance(f.detail, Measurement)]


def test_what_the_next_sentence_names_is_not_counted_by_a_part_number() -> None:
    (told,) = details(
        "New pump, part number charlie kilo, four three zero, two one eight. Valve cleaned.", Part
    )
    assert told.number == "CK430218"


def test_a_meter_has_the_number_behind_its_name_where_one_follows() -> None:
    text = "Chassis ends november two zero, three four four one eight, engine hours two thousand and six."
    hours = [d.value for d in details(text, Identity) if d.kind == "engine_hours"]
    assert hours == ["2006"]


@pytest.mark.parametrize(
    "text",
    [
        "Eight millimetre pipe, used one point five metres, two push and connectors new.",
        "Bearing one hundred and eighteen degrees after ten minutes, but one beside it fifty four.",
        "New gasket, number three four two that's zero nine one, and it's back on at ten newton metres.",
    ],
)
def test_a_number_takes_no_unit_from_words_that_are_numbers_themselves(text: str) -> None:
    assert not [m for f, m in readings(text) if f.status == "sure" and m.value in (1, 2, 91)]


def test_sides_still_share_the_unit_that_is_said_last() -> None:
    found = readings("left rear two point one, right rear one point two kilo ohms")
    assert [(str(m.value), m.unit) for _, m in found] == [("2.1", "kOhm"), ("1.2", "kOhm")]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("left zero point three volts, not less than zero point U", "goes on with no number"),
        ("supply, you a point six two volts", "before 'point'"),
        ("coil 60.3 ohms, limit fifty eight to to sixty two", "up to what?"),
        ("delta P is forty millimetres now", "'delta' is no length"),
    ],
)
def test_a_number_that_was_cut_or_has_the_wrong_unit_is_to_be_checked(text: str, words: str) -> None:
    facts = [fact for fact, _ in readings(text)]
    assert {fact.status for fact in facts} == {"check"}
    assert any(words in (fact.why or "") for fact in facts)


@pytest.mark.parametrize(
    "text", ["travel pressure left 190 bar", "lost point four bar", "limit zero to two bar, 1 bar"]
)
def test_plain_readings_with_such_words_stay_sure(text: str) -> None:
    assert [fact.status for fact, _ in readings(text)] == ["sure"]


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("Old valve kept.", "check"),
        ("The old valve was kept.", "sure"),
        ("Old valve kept and refitted.", "sure"),
        ("Fitting the clutch kit. I cleaned the other up with a cloth, reusing it.", "check"),
    ],
)
def test_a_part_that_may_be_put_by_or_be_the_new_one_is_not_surely_used_again(text: str, status: str) -> None:
    reused = [f for f in said(text) if isinstance(f.detail, Part) and f.detail.action == "reused"]
    assert [f.status for f in reused] in ([status], [])

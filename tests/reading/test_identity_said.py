"""Job number, registration and meters in the forms in which they are said."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from reading_forms import DIGIT, ICAO, TRADE, details, in_words, one, sure, tokens

from jobnotes.reading.read import read_notes, read_text
from jobnotes.reading.speech import numbers
from jobnotes.record import Identity, Note, RecogniserStamp, Word


def spells_a_word(letters: str) -> bool:
    """Whether a listener would take the letters for a word, a number or the label of a code: HE, TEN, SPN."""
    word = letters.lower()
    codes = TRADE.cue["codes"]
    return bool(
        word in TRADE.stop
        or numbers.number(tokens(word), 0, TRADE, due=True)
        or codes.at([word], 0)[1]
        or codes.at(list(word), 0)[1]
    )


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("odometer three hundred and twelve thousand k", "312000", "km"),
        ("odometer 312000 km", "312000", "km"),
        ("odometer 312,455 kilometres", "312455", "km"),
        ("odometer 312k", "312000", "km"),
        ("odometer three one two four five five", "312455", None),
        ("odometer three twelve four fifty-five", "312455", None),
        ("mileage two hundred and five thousand miles", "205000", "[mi_i]"),
        ("three hundred and twelve thousand on the clock", "312000", None),
        ("there's 312,455 kilometres on the clock", "312455", "km"),
        ("odometer reads 312 455", "312455", None),
        ("the odometer says three hundred and twelve thousand four hundred and fifty-five k", "312455", "km"),
        ("three hundred grand on the odometer", "300000", None),
        ("odometer reads 312 thousand 455 kilometres", "312455", "km"),
        ("odometer 312 thousand and 40 km", "312040", "km"),
    ],
)
def test_an_odometer_in_any_form(text: str, value: str, unit: str | None) -> None:
    found = sure(text, Identity)
    assert (found.kind, found.value, found.unit) == ("odometer", value, unit)


@given(st.integers(10_000, 1_999_999))
def test_an_odometer_comes_back_from_words_and_from_digits(value: int) -> None:
    for text in (
        f"odometer {value} km",
        f"odometer {value:,} km",
        f"odometer {in_words(value)} kilometres",
        f"odometer {' '.join(DIGIT[d] for d in str(value))} kilometres",
    ):
        found = sure(text, Identity)
        assert (found.kind, found.value, found.unit) == ("odometer", str(value), "km"), text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("engine hours 4512", "4512"),
        ("engine hours eight thousand two hundred", "8200"),
        ("hour meter reads 4512", "4512"),
        ("4512 engine hours", "4512"),
        ("running hours four five one two", "4512"),
    ],
)
def test_engine_hours_in_any_form(text: str, value: str) -> None:
    found = sure(text, Identity)
    assert (found.kind, found.value, found.unit) == ("engine_hours", value, "h")


@pytest.mark.parametrize("cue", ["job number", "job", "work order", "repair order number", "job card"])
@given(number=st.integers(100, 99_999))
def test_a_job_number_in_words_and_digits(cue: str, number: int) -> None:
    for words in (str(number), " ".join(DIGIT[d] for d in str(number))):
        found = sure(f"{cue} {words}", Identity)
        assert (found.kind, found.value) == ("job_number", str(number))


@given(
    st.text("ABCDEFGHJKLMNPRSTUVWXYZ", min_size=2, max_size=3).filter(lambda t: not spells_a_word(t)),
    st.text("0123456789", min_size=2, max_size=4),
    st.sampled_from(["registration", "number plate", "reg"]),
)
@example(letters="HMM", digits="00", cue="registration")
def test_a_registration_by_the_alphabet_comes_back(letters: str, digits: str, cue: str) -> None:
    spoken = " ".join([*(ICAO[c] for c in letters), *(DIGIT[d] for d in digits)])
    for words in (
        spoken,
        f"{letters} {digits}",
        f"{letters}{digits}",
        f"{' '.join(letters)} {' '.join(digits)}",
    ):
        found = sure(f"{cue} {words}", Identity)
        assert found.kind == "registration"
        assert found.value.replace("-", "") == letters + digits, words


@pytest.mark.parametrize("plate", ["HE 12", "BE 345", "IT 34", "DO 77"])
def test_a_registration_may_begin_with_letters_that_spell_a_word(plate: str) -> None:
    assert sure(f"registration {plate}", Identity).value.replace("-", "") == plate.replace(" ", "")


def test_a_meter_that_can_not_be_is_shown_for_checking() -> None:
    assert one("odometer 9", Identity)[0].status == "check"
    assert one("odometer nine million kilometres", Identity)[0].status == "check"


def test_the_same_identity_said_twice_is_one_fact() -> None:
    assert len(details("job number 20318\nthat is job number 20318", Identity)) == 1


@pytest.mark.parametrize("text", ["two jobs today", "the next job", "an hour job", "a two man job"])
def test_a_job_without_a_number_is_no_job_number(text: str) -> None:
    assert not details(text, Identity)


@pytest.mark.parametrize(
    ("text", "confidence", "status"),
    [
        ("job number 812", 0.78, "check"),
        ("job number 8812", 0.95, "sure"),
        ("odometer 312455 kilometres", 0.78, "check"),
        # nothing hangs on it that the rest of the job wouldn't show
        ("labour diagnosis one hour", 0.78, "sure"),
    ],
)
def test_which_job_and_vehicle_it_is_has_to_be_heard_better_than_other_things(
    text: str, confidence: float, status: str
) -> None:
    words = tuple(Word(w, at / 2, at / 2 + 0.4, confidence) for at, w in enumerate(text.split()))
    began = datetime(2031, 6, 17, 8, tzinfo=UTC)
    note = Note("N1", "a.wav", "0" * 64, began, "bext", 9.0, RecogniserStamp("e", "m", ""), text, words)
    (fact,) = [f for f in read_notes((note,), TRADE) if f.kind != "clock"]
    assert fact.status == status


@pytest.mark.parametrize(
    "text",
    [
        "kilometres on the dash 873792",
        "the odometer on the dash reads 873792",
        "mileage on the clock is 873792",
    ],
)
def test_a_meter_on_the_dash_is_no_complaint(text: str) -> None:
    (told,) = read_text(text)
    assert (told.kind, told.status) == ("odometer", "sure")
    assert isinstance(told.detail, Identity)
    assert told.detail.value == "873792"

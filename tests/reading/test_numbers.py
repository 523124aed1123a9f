"""Spoken numbers: what goes into words comes back as the same number, with the places that were said.

Checked against package num2words (number to words) and package text2num (words to number).
"""

from __future__ import annotations

import random
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words
from reading_forms import DIGIT, RADIO, TRADE, in_words, tokens
from text_to_num import alpha2digit, text2num

from jobnotes.reading.speech import numbers, spelling

SEED = 20260210


def read(text: str) -> numbers.Number:
    found = numbers.number(tokens(text), 0, TRADE)
    assert found is not None, text
    assert (found.start, found.end) == (0, len(tokens(text))), f"{text!r} was read only in part"
    return found


def comes_back(value: int, words: str) -> None:
    found = read(words)
    assert (found.value, found.text, found.exact) == (value, str(value), True), words


def test_every_integer_below_ten_thousand_comes_back_from_its_words() -> None:
    for value in range(10_000):
        comes_back(value, num2words(value))


def test_a_sample_up_to_a_hundred_thousand_comes_back_however_it_is_written() -> None:
    chance = random.Random(SEED)
    for value in chance.sample(range(10_000, 100_000), 2_000):
        words = num2words(value)
        comes_back(value, words)
        comes_back(value, words.replace(",", "").replace("-", " "))  # as a recogniser writes it
        comes_back(value, words.replace(",", "").replace(" and ", " ").upper())  # American, in capitals


@pytest.mark.slow
def test_every_integer_below_a_hundred_thousand_comes_back_from_its_words() -> None:
    for value in range(100_000):
        comes_back(value, num2words(value))
        comes_back(value, num2words(value).replace(",", "").replace("-", " ").replace(" and ", " "))


def test_a_sample_below_a_thousand_million_comes_back() -> None:
    chance = random.Random(SEED)
    for places in range(6, 10):
        for _ in range(150):
            value = chance.randrange(10 ** (places - 1), 10**places)
            comes_back(value, num2words(value))
            comes_back(value, in_words(value).replace("-", " "))


decimals = st.builds(
    lambda whole, places: Decimal(f"{whole}.{places}"),
    st.integers(0, 99_999),
    st.text("0123456789", min_size=1, max_size=5),
)


@given(decimals)
def test_a_decimal_comes_back_with_all_its_places(value: Decimal) -> None:
    # num2words drops a last nought, so the places are put in words here and the whole by num2words
    whole, places = str(value).split(".")
    found = read(f"{in_words(int(whole))} point {' '.join(DIGIT[d] for d in places)}")
    assert (found.text, found.exact) == (str(value), True)


@given(decimals)
def test_a_decimal_comes_back_from_the_words_of_num2words(value: Decimal) -> None:
    assert read(num2words(value)).value == value


@given(decimals, st.sampled_from(["minus", "negative"]))
def test_minus_is_kept(value: Decimal, minus: str) -> None:
    whole, places = str(value).split(".")
    found = read(f"{minus} {in_words(int(whole))} point {' '.join(DIGIT[d] for d in places)}")
    assert found.text == f"-{value}"


@given(decimals)
def test_digits_are_read_as_they_are_printed(value: Decimal) -> None:
    assert read(str(value)).text == str(value)
    assert read(f"-{value}").text == f"-{value}"


@pytest.mark.parametrize("naught", ["oh", "zero", "nought", "naught"])
@given(places=st.text("0123456789", min_size=1, max_size=4))
def test_nought_point_something_is_said_with_any_word_for_nought(naught: str, places: str) -> None:
    assert read(f"{naught} point {' '.join(DIGIT[d] for d in places)}").text == f"0.{places}"


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("a hundred and ten", "110"),
        ("hundred and ten", "110"),
        ("a thousand", "1000"),
        ("twelve hundred", "1200"),
        ("twelve hundred and fifty", "1250"),
        ("fifteen hundred", "1500"),
        ("two and a half", "2.5"),
        ("two and a quarter", "2.25"),
        ("two and three quarters", "2.75"),
        ("half", "0.5"),
        ("half a", "0.5"),
        ("three quarters of a", "0.75"),
        ("point five", "0.5"),
        ("sixty point oh five", "60.05"),
        ("sixty point seventy-five", "60.75"),
        ("twelve point double five", "12.55"),
        ("one twenty", "120"),
        ("twelve fifty", "1250"),
        ("five grand", "5000"),
        ("312 thousand", "312000"),
        ("312,455", "312455"),
        ("2.5 thousand", "2500"),
        ("two point five thousand", "2500"),
        ("two million three hundred thousand and five", "2300005"),
        ("half a million", "500000"),
        ("two hundred and five thousand three hundred", "205300"),
        (".5", "0.5"),
        ("2½", "2.5"),
    ],
)
def test_the_forms_of_the_workshop_are_read(words: str, text: str) -> None:
    found = read(words)
    assert Decimal(found.text) == Decimal(text)
    assert found.value == Decimal(text)


@pytest.mark.parametrize("words", ["to", "for", "ate", "won", "too"])
def test_a_homophone_is_a_digit_only_where_a_number_is_due_and_then_it_is_not_exact(words: str) -> None:
    assert numbers.number(tokens(words), 0, TRADE) is None
    due = numbers.number(tokens(words), 0, TRADE, due=True)
    assert due is not None
    assert due.text == {"to": "2", "for": "4", "ate": "8", "won": "1", "too": "2"}[words]
    assert not due.exact


@pytest.mark.parametrize("words", ["twenty-four six", "twenty four six"])
def test_a_number_that_can_be_read_in_two_ways_is_not_exact_and_keeps_its_parts(words: str) -> None:
    found = read(words)
    assert not found.exact
    assert found.atoms == ("24", "6")


# --- strings of digits, in which noughts count ----------------------------------------------------


def one_by_one(draw_word: st.DataObject, text: str) -> str:
    """Digits in words, "double" and "triple" where they can stand."""
    words, i = [], 0
    while i < len(text):
        run = 1
        while i + run < len(text) and text[i + run] == text[i] and run < 3:
            run += 1
        take = draw_word.draw(st.integers(1, run))
        word = draw_word.draw(st.sampled_from([DIGIT[text[i]], RADIO[text[i]], text[i]]))
        if text[i] == "0":
            word = draw_word.draw(st.sampled_from(["zero", "oh", "nought", "naught", "0"]))
        prefix = {1: "", 2: "double ", 3: "triple "}[take]
        words.append(prefix + word)
        i += take
    return " ".join(words)


@given(st.text("0123456789", min_size=1, max_size=20), st.data())
def test_digits_come_back_from_any_way_of_saying_them_one_by_one(text: str, data: st.DataObject) -> None:
    words = one_by_one(data, text)
    found = spelling.digits(tokens(words), 0, TRADE)
    assert found is not None
    assert (found.text, found.exact, found.end) == (text, True, len(tokens(words))), words


@given(st.lists(st.integers(10, 99), min_size=1, max_size=8), st.sampled_from(["{}", "word"]))
def test_digits_come_back_from_pairs(pairs: list[int], form: str) -> None:
    words = " ".join(num2words(p) if form == "word" else str(p) for p in pairs)
    found = spelling.digits(tokens(words), 0, TRADE)
    assert found is not None
    assert found.text == "".join(str(p) for p in pairs)


@given(st.text("0123456789", min_size=1, max_size=18), st.integers(1, 5))
def test_printed_groups_are_one_string_and_noughts_in_front_are_kept(text: str, size: int) -> None:
    groups = [text[i : i + size] for i in range(0, len(text), size)]
    found = spelling.digits(tokens(" ".join(groups)), 0, TRADE)
    assert found is not None
    assert found.text == text


# --- against text2num ------------------------------------------------------------------------------


def test_cardinals_are_read_as_text2num_reads_them() -> None:
    chance = random.Random(SEED)
    for value in [*range(1_000), *(chance.randrange(10**k) for k in range(4, 10) for _ in range(60))]:
        words = in_words(value)
        assert read(words).value == text2num(words, "en"), words


@given(decimals)
def test_decimals_are_read_as_text2num_writes_them(value: Decimal) -> None:
    whole, places = str(value).split(".")
    words = f"{in_words(int(whole))} point {' '.join(DIGIT[d] for d in places)}"
    assert read(words).text == alpha2digit(words, "en", threshold=0)


@pytest.mark.parametrize(
    ("words", "ours", "theirs", "why"),
    [
        ("twelve hundred", "1200", "1200", "the same"),
        ("double four", "44", "double 4", "it knows no double"),
        ("two and a half", "2.5", "2 and a half", "it knows no fractions"),
        ("five grand", "5000", "5 grand", "it knows no slang"),
        ("one twenty", "120", "1 20", "it keeps apart what the trade says as one number"),
        ("oh point four", "0.4", "oh point 4", "its nought is zero or o"),
        ("a hundred and ten", "110", "a 110", "it reads the hundred and leaves the article"),
    ],
)
def test_where_text2num_differs_the_trade_has_its_own_way(
    words: str, ours: str, theirs: str, why: str
) -> None:
    assert read(words).text == ours
    assert alpha2digit(words, "en", threshold=0) == theirs, why

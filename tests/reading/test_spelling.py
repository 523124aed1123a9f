"""Letters and digits mixed, as part numbers, registrations and codes are read out.

The spelling alphabet and the radio digits are those of ICAO Annex 10 Volume II, chapter 5, from memory.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from reading_forms import DIGIT, ICAO, RADIO, TRADE, tokens

from jobnotes.reading.read import read_text
from jobnotes.reading.speech import spelling

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def read(words: str) -> spelling.Spelled:
    cut = tokens(words)
    found = spelling.spelled(cut, [t.norm for t in cut], 0, TRADE)
    assert found is not None, words
    assert found.end == len(cut), f"{words!r}: only {found.text!r} was read"
    return found


@pytest.mark.parametrize("letter", LETTERS)
def test_every_word_of_the_spelling_alphabet_is_its_letter(letter: str) -> None:
    end, meanings = TRADE.letters.at([t.norm for t in tokens(ICAO[letter])], 0)
    assert set(meanings) == {letter.lower()}
    assert end == len(tokens(ICAO[letter]))


def test_no_spelling_word_means_two_letters() -> None:
    assert len({tuple(t.norm for t in tokens(w)) for w in ICAO.values()}) == 26


@given(st.text(LETTERS + "0123456789", min_size=2, max_size=18), st.sampled_from([DIGIT, RADIO]))
def test_what_is_spelled_with_the_alphabet_comes_back(text: str, digit: dict[str, str]) -> None:
    words = " ".join(ICAO.get(c) or digit[c] for c in text)
    assert (read(words).text, read(words).exact) == (text, True), words


@given(st.text(LETTERS + "0123456789", min_size=2, max_size=18))
def test_what_is_spelled_with_the_alphabet_comes_back_with_digits_printed(text: str) -> None:
    assert read(" ".join(ICAO.get(c) or c for c in text)).text == text


@given(
    st.lists(st.text(LETTERS + "0123456789", min_size=1, max_size=5), min_size=2, max_size=4),
    st.sampled_from(["dash", "hyphen"]),
)
def test_a_dash_that_is_said_is_kept(groups: list[str], dash: str) -> None:
    words = f" {dash} ".join(" ".join(ICAO.get(c) or DIGIT[c] for c in g) for g in groups)
    assert read(words).text == "-".join(groups)


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("double alfa one", "AA1"),
        ("four four two bravo one seven alfa", "442B17A"),
        ("4172 540 03", "417254003"),
        ("A427-11B", "A427-11B"),
        ("QIZ 482", "QIZ482"),
        ("A B 1 2 3", "AB123"),
        ("triple seven bravo", "777B"),
    ],
)
def test_the_ways_of_a_part_number(words: str, text: str) -> None:
    assert read(words).text == text


def test_a_repaired_spelling_word_is_never_exact() -> None:
    found = read("four unicorn two")
    assert found.text == "4U2"
    assert not found.exact


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("fitted new valve part number double 27 4", "2274"),
        ("fitted new valve part number 4 double 271", "42271"),
    ],
)
def test_double_before_several_digits_repeats_the_first_and_is_for_a_person(text: str, number: str) -> None:
    (fact,) = [f for f in read_text(text) if f.kind == "part"]
    assert (fact.detail.number, fact.status) == (number, "check")  # type: ignore[union-attr]

"""The decoder's pieces become words, and its loops are found."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.hearing.words import Heard, crammed, joined, loop, without_loops
from jobnotes.record import Word


def heard(*texts: str, probability: float = 0.9) -> list[Heard]:
    return [Heard(text, i * 0.5, i * 0.5 + 0.4, probability) for i, text in enumerate(texts)]


def words(text: str) -> list[Word]:
    return [Word(w, i * 0.3, i * 0.3 + 0.2, 0.8) for i, w in enumerate(text.split())]


def texts(of) -> list[str]:
    return [word.text for word in of]


@pytest.mark.parametrize(
    ("pieces", "as_written"),
    [
        ((" 60", ".2", " ohms"), ["60.2", "ohms"]),
        ((" about", " 40", "%"), ["about", "40%"]),
        ((" 312", ",400", " kilometres."), ["312,400", "kilometres."]),
        ((" re", "-used", " the", " clamp."), ["re-used", "the", "clamp."]),
        ((" P", "0299"), ["P0299"]),
        ((" minus", " 5"), ["minus", "5"]),
        ((" no", ",", " yes"), ["no,", "yes"]),
        ((" stop", " ...", " go"), ["stop...", "go"]),
    ],
)
def test_pieces_of_one_word_are_joined(pieces, as_written):
    assert texts(joined(heard(*pieces))) == as_written


def test_a_joined_word_lasts_from_its_first_piece_to_its_last_and_is_as_sure_as_the_least_sure():
    (word,) = joined([Heard(" 60", 1.0, 1.4, 0.9), Heard(".2", 1.4, 1.9, 0.3)])
    assert (word.start_s, word.end_s, word.confidence) == (1.0, 1.9, 0.3)


def test_punctuation_changes_neither_the_time_nor_the_confidence_of_its_word():
    (word,) = joined([Heard(" off", 1.0, 1.4, 0.9), Heard(".", 1.4, 5.0, 0.01)])
    assert (word.text, word.end_s, word.confidence) == ("off.", 1.4, 0.9)


def test_punctuation_alone_is_no_word():
    assert joined(heard(" ...", " ?", " .")) == ()


@given(st.lists(st.from_regex(r"[a-z0-9]{1,4}([.,%-][0-9a-z]{1,3}){0,2}", fullmatch=True), max_size=8))
def test_cutting_words_as_a_decoder_does_and_joining_them_gives_the_words_again(written):
    pieces = []
    for word in written:
        cuts = [i for i, c in enumerate(word) if c in ".,%-"]
        edges = [0, *cuts, len(word)]
        pieces += [" " * (a == 0) + word[a:b] for a, b in itertools.pairwise(edges)]
    assert texts(joined(heard(*pieces))) == written


@given(st.lists(st.builds(Heard, st.text(max_size=5), st.floats(0, 9), st.floats(0, 9), st.floats(-1, 2))))
def test_whatever_comes_the_words_have_a_length_and_a_share_of_confidence(pieces):
    for word in joined(pieces):
        assert word.text
        assert word.end_s >= word.start_s
        assert 0 <= word.confidence <= 1


@pytest.mark.parametrize(
    "text",
    [
        "no no no that is wrong",
        "part number 0 0 0 0 1 1 2",
        "left left right right left left",
        "zero zero four zero zero four seven",
        "the left one is fine and the right one is fine",
    ],
)
def test_what_people_do_repeat_is_no_loop(text):
    assert loop(words(text)) is None


@pytest.mark.parametrize(
    ("text", "start", "length"),
    [
        ("so the the the the the the the", 1, 1),
        ("ohms, SPN, FMI, SPN, FMI, SPN, FMI, SPN, FMI", 1, 2),
        ("I don't know what it is I don't know what it is I don't know what it is", 0, 6),
    ],
)
def test_a_phrase_again_and_again_is_a_loop(text, start, length):
    found = loop(words(text))
    assert found is not None
    assert found[:2] == (start, length)


def test_a_loop_that_stays_is_cut_to_its_phrase_once_and_that_is_not_trusted():
    left = without_loops(words("drained the oil oil oil oil oil oil oil then stopped"))
    assert texts(left) == ["drained", "the", "oil", "then", "stopped"]
    assert [w.confidence for w in left] == [0.8, 0.8, 0.0, 0.8, 0.8]


@given(st.lists(st.sampled_from("ab"), max_size=40))
def test_no_loop_is_left_whatever_was_heard(letters):
    assert loop(without_loops(words(" ".join(letters)))) is None


def at(*starts: float) -> list[Word]:
    return [Word("word", start, start + 0.02, 0.9) for start in starts]


def test_words_that_lie_on_top_of_each_other_are_made_up():
    fine, heap = (0.0, 0.4, 0.9), (2.0, 2.02, 2.02, 2.04, 2.05)
    assert crammed(at(*fine, *heap)) == (False,) * 3 + (True,) * 5


@given(st.lists(st.floats(0.11, 2.0), max_size=30), st.floats(0, 100))
def test_nothing_that_was_said_at_a_speed_of_nine_words_a_second_is_thrown_away(gaps, begin):
    starts = [begin]
    for gap in gaps:
        starts.append(starts[-1] + gap)
    assert not any(crammed(at(*starts)))

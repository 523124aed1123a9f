"""Two decoders' hearings of a piece: each difference is settled by what both believe."""

from __future__ import annotations

import math

from hypothesis import given
from hypothesis import strategies as st

from jobnotes.hearing.rescoring import Scored
from jobnotes.hearing.rescoring import agreed as agreed_by
from jobnotes.hearing.spoken_forms import spoken_forms
from jobnotes.hearing.words import Heard


def words(text: str, first: str, second: str) -> list[Scored]:
    """`text` with the probability of each word in the first and in the second decoder."""
    made = []
    for at, (word, a, b) in enumerate(zip(text.split(), first.split(), second.split(), strict=True)):
        p = (float(a), float(b))
        made.append(Scored(Heard(f" {word}", at, at + 0.5, 0.0), tuple(map(math.log, p)), p))
    return made


def agreed(one: list[Scored], other: list[Scored]) -> list[Heard]:
    return agreed_by(one, other, spoken_forms())


def said(heard: list[Heard]) -> str:
    return "".join(word.text for word in heard).strip()


def test_a_difference_goes_to_the_side_that_both_together_believe_more():
    number = words("dial 2 for help", ".9 .6 .9 .9", ".9 .01 .9 .9")
    word = words("dial to for help", ".9 .3 .9 .9", ".9 .4 .9 .9")
    assert said(agreed(number, word)) == said(agreed(word, number)) == "dial to for help"


def test_each_difference_of_a_piece_is_settled_on_its_own():
    one = words("the color is on pin seven", ".9 .2 .9 .9 .9 .9", ".9 .1 .9 .9 .9 .8")
    other = words("the caller is on been seven", ".9 .3 .9 .9 .1 .1", ".9 .7 .9 .9 .6 .2")
    assert said(agreed(one, other)) == "the caller is on pin seven"


def test_a_word_too_many_shows_in_how_the_next_ones_fit():
    without = words("sixty two ohms", ".9 .9 .9", ".9 .9 .9")
    missing = words("sixty two ohms", ".9 .02 .9", ".9 .03 .9")
    more = words("sixty point two ohms", ".9 .5 .9 .9", ".9 .6 .9 .9")
    assert said(agreed(without, more)) == "sixty two ohms"
    assert said(agreed(missing, more)) == "sixty point two ohms"


def test_words_are_as_sure_as_the_first_decoder_is_of_them():
    one = words("pin two", ".9 .2", ".9 .1")
    other = words("pin ten", ".8 .4", ".9 .9")
    assert [word.probability for word in agreed(one, other)] == [0.9, 0.4]


def test_a_decoder_that_hears_nothing_has_no_say():
    heard = words("hose is split", ".5 .5 .5", ".1 .1 .1")
    assert said(agreed(heard, [])) == said(agreed([], heard)) == "hose is split"
    assert agreed([], []) == []


drawn = st.lists(
    st.tuples(st.sampled_from(["pin", "ten", "two", "hose"]), st.floats(0.01, 1), st.floats(0.01, 1)),
    max_size=8,
)


def scored(words: list[tuple[str, float, float]], mark: str) -> list[Scored]:
    """The words, one a second; the marks behind each show which of whose hearing it is."""
    return [
        Scored(Heard(f" {word}{mark * k}", k, k + 1, 0), (math.log(a), math.log(b)), (a, b))
        for k, (word, a, b) in enumerate(words, 1)
    ]


@given(drawn)
def test_what_both_hear_alike_stays(heard):
    assert agreed(scored(heard, "."), scored(heard, ",")) == [
        Heard(f" {word}{'.' * k}", k, k + 1, p) for k, (word, p, _) in enumerate(heard, 1)
    ]


@given(drawn, drawn)
def test_every_word_is_one_that_was_heard_and_each_hearing_keeps_its_order(one, other):
    out = [word.text for word in agreed(scored(one, "."), scored(other, ","))]
    for source, mark in ((one, "."), (other, ",")):
        kept = [text.count(mark) for text in out if mark in text]
        assert kept == sorted(set(kept))
        assert [f" {source[k - 1][0]}" for k in kept] == [text.rstrip(mark) for text in out if mark in text]


@given(drawn, drawn)
def test_times_rise_from_word_to_word(one, other):
    times = [t for word in agreed(scored(one, "."), scored(other, ",")) for t in (word.start_s, word.end_s)]
    assert times == sorted(times)


def test_what_is_only_written_otherwise_stays_as_the_first_has_it_and_as_sure():
    one = words("put twelve litres in the box", ".9 .8 .9 .9 .9 .2", ".9 .01 .1 .9 .9 .1")
    other = words("put 12 liters in the bucks", ".9 .1 .1 .9 .9 .3", ".9 .9 .9 .9 .9 .9")
    heard = agreed(one, other)
    assert said(heard) == "put twelve litres in the bucks"
    assert [word.probability for word in heard][1:3] == [0.8, 0.9]


def test_beside_what_is_only_written_otherwise_a_difference_is_still_settled():
    one = words("bolts twelve of", ".3 .8 .9", ".2 .01 .9")
    other = words("boats 12 of", ".1 .1 .9", ".1 .9 .9")
    assert said(agreed(one, other)) == "bolts twelve of"
    other = words("nuts 12 of", ".9 .1 .9", ".9 .9 .9")
    assert said(agreed(one, other)) == "nuts twelve of"


def test_two_numbers_are_a_difference_however_they_are_written():
    one = words("at sixteen volts", ".9 .2 .9", ".9 .01 .9")
    other = words("at 60 volts", ".9 .2 .9", ".9 .9 .9")
    assert said(agreed(one, other)) == "at 60 volts"

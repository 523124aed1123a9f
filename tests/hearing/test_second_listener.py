"""The second listener on real sound: what it confirms, what it doubts, and what it leaves alone."""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import pytest
from hearing_sounds import clip, silence
from hypothesis import given
from hypothesis import strategies as st
from num2words import num2words

from jobnotes.errors import JobnotesError
from jobnotes.hearing import recogniser
from jobnotes.hearing.closed import ClosedVocabulary, Hole, Said
from jobnotes.hearing.second import TwoListeners, Weighing, closed_vocabulary
from jobnotes.hearing.spoken_forms import spoken_forms
from jobnotes.record import Word

FORMS = spoken_forms()

# what is said in readings.opus, as a first listener may write it; the times are rough, as his are
OHMS = [("The", 0.4), ("reading", 0.55), ("is", 0.95), ("60.2", 1.15), ("ohms", 2.0), ("with", 2.35)]
OHMS += [("the", 2.5), ("ignition", 2.65), ("off.", 3.2)]
BATTERY = [("The", 4.31), ("battery", 4.45), ("is", 4.85), ("at", 5.0), ("95%.", 5.15)]


def as_heard(pairs: list[tuple[str, float]], end: float, **wrong: str) -> list[Word]:
    """Words with times and a middling confidence; `wrong` puts one in the place of another."""
    ends = [start for _, start in pairs[1:]] + [end]
    texts = [wrong.get(f"w{at}", text) for at, (text, _) in enumerate(pairs)]
    return [Word(t, s, e, 0.6) for t, (_, s), e in zip(texts, pairs, ends, strict=True)]


@pytest.fixture(scope="module")
def two():
    pytest.importorskip("pocketsphinx")
    return TwoListeners(recogniser("tiny.en", cpu_threads=2))


@given(st.integers(0, 999_999))
def test_an_amount_in_digits_may_have_been_said_as_another_library_says_it(number):
    said = num2words(number).replace(",", "").replace("-", " ")
    assert tuple(said.split()) in FORMS.ways(f"{number}")
    assert tuple(said.split()) in FORMS.ways(f"{number:,}.")


@given(st.text("0123456789", min_size=1, max_size=12))
def test_digits_may_have_been_said_one_by_one_whatever_they_are(digits):
    names = "zero one two three four five six seven eight nine".split()
    assert tuple(names[int(d)] for d in digits) in FORMS.ways(digits)


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("P0299,", "p. zero two nine nine"),
        ("SPN5246", "s. p. n. five two four six"),
        ("1,500", "fifteen hundred"),
        ("0.4", "point four"),
        ("28-4", "twenty eight dash four"),
        ("142", "one forty two"),
        ("0551", "oh double five one"),
        ("bravo.", "bravo"),
    ],
)
def test_what_is_written_short_is_said_at_length(written, said):
    assert tuple(said.split()) in FORMS.ways(written)


def test_a_word_without_a_number_or_letter_is_not_heard_again():
    assert [w for w in "The pump is a good one, I think: A4 24V papa K".split() if FORMS.carries(w)] == [
        "one,",
        "A4",
        "24V",
        "papa",
        "K",
    ]


def test_everything_that_it_may_hear_has_a_sound(two):
    second = closed_vocabulary(FORMS)
    words = [(word,) for word in [*FORMS.number_words, *FORMS.spelling, *FORMS.known.pronunciations]]
    units = [tuple(said.split()) for said in FORMS.known.written.values()]
    ways = (*words, *units)
    assert set(ways) - set(second.sayable(ways)) == set()


def test_a_number_that_both_hear_gains(two):
    words = as_heard(OHMS, 3.5) + as_heard(BATTERY, 6.4)
    weighed = two.weighed(words, clip("readings.opus"))
    changed = {w.text: w.confidence for w, before in zip(weighed, words, strict=True) if w != before}
    assert changed == {"60.2": 0.75, "95%.": 0.75}
    assert [(w.text, w.start_s, w.end_s) for w in weighed] == [(w.text, w.start_s, w.end_s) for w in words]


@pytest.mark.parametrize("misheard", ["16.2", "60.8", "62", "6,042"])
def test_a_number_that_the_second_hears_otherwise_loses(two, misheard):
    words = as_heard(OHMS, 3.5, w3=misheard)
    weighed = two.weighed(words, clip("readings.opus"))
    assert weighed[3] == replace(words[3], confidence=0.4)


def test_a_number_that_the_first_was_sure_of_is_left_to_it(two):
    words = [replace(w, confidence=0.95) for w in as_heard(OHMS, 3.5, w3="16.2")]
    assert list(two.weighed(words, clip("readings.opus"))) == words


def test_a_number_in_no_speech_loses(two):
    words = as_heard(OHMS, 3.5)
    assert two.weighed(words, silence(7.0))[3].confidence == 0.4


def test_what_is_weighed_does_not_depend_on_what_was_heard_before(two):
    words = as_heard(OHMS, 3.5, w3="60.3")
    alone = TwoListeners(two.first).weighed(words, clip("readings.opus"))
    two.weighed(as_heard(BATTERY, 6.4), clip("readings.opus") * 0.1)
    assert two.weighed(words, clip("readings.opus")) == alone


def test_speech_without_numbers_loads_nothing(two):
    fresh = TwoListeners(two.first)
    words = as_heard([("The", 0.4), ("driver", 0.6), ("says", 1.0)], 1.4)
    assert list(fresh.weighed(words, clip("words.opus"))) == words
    assert fresh._second._decoder is None


def test_odd_words_and_times_are_borne(two):
    odd = ["—", "x", "12/2026", "naïve", "9" * 40, "4", "", "SPN-3-T51FMI16", "½"]
    words = [Word(text, 6.0, 9.0, None) for text in odd]
    weighed = two.weighed(words, clip("readings.opus"))
    assert [w.text for w in weighed] == odd
    assert all(w.confidence is None or 0 <= w.confidence <= 1 for w in weighed)
    assert two.weighed((), clip("readings.opus")) == ()


def test_a_hole_gives_the_words_of_the_number_or_says_that_the_first_reading_won(two):
    second = closed_vocabulary(FORMS)
    sound = clip("readings.opus")[int(5.15 * 16_000) : int(6.6 * 16_000)]
    chain = [Hole((FORMS.ways("95"),)), Said((("percent",),))]
    assert second.heard(sound, chain, offer=False) == (("ninety", "five"),)
    assert second.heard(sound, chain, offer=True) == (None,)


def test_it_is_chosen_by_name_and_hears_the_same_words_at_the_same_times(two):
    both = recogniser("tiny.en+numbers", cpu_threads=2)
    once, twice = (
        [(w.text, w.start_s, w.end_s) for w in engine.hear(clip("readings.opus"))]
        for engine in (two.first, both)
    )
    assert once == twice
    assert both.stamp == recogniser("tiny.en+numbers", cpu_threads=1).stamp
    assert both.stamp.model == "tiny.en+numbers"


def test_its_stamp_changes_with_all_that_changes_the_confidence(two):
    stamps = {
        two.stamp,
        two.first.stamp,
        TwoListeners(recogniser("tiny.en", prompt="")).stamp,
        TwoListeners(two.first, weighing=Weighing(confirmed=0.7)).stamp,
    }
    assert len(stamps) == 4
    assert TwoListeners(two.first).stamp == two.stamp


def test_nothing_is_loaded_for_its_stamp(two):
    code = (
        "import sys; from jobnotes.hearing import recogniser;"
        "print(recogniser('tiny.en+numbers').stamp.model);"
        "print([m for m in ('faster_whisper', 'pocketsphinx', 'sounddevice') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.split("\n")[:2] == ["tiny.en+numbers", "[]"]


def test_without_its_package_the_way_to_get_it_is_told(monkeypatch):
    monkeypatch.setattr(ClosedVocabulary, "present", staticmethod(lambda: False))
    with pytest.raises(JobnotesError, match="pip install"):
        recogniser("tiny.en+numbers")

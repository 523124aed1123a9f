"""Speech is told from silence, and times survive the leaving out of pauses."""

from __future__ import annotations

import itertools
import tracemalloc

import numpy as np
import pytest
from hearing_sounds import RATE_HZ, clip, said, silence, white_noise
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.hearing import Samples
from jobnotes.hearing.speech import BLOCK_S, Activity, Piece, Span, Speech, pieces, speech
from jobnotes.hearing.tape import Tape


def spans(samples: Samples, activity: Activity | None = None, block_s: float = BLOCK_S) -> tuple[Span, ...]:
    return tuple(found.span for found in speech(Tape.of(samples).play(), activity, block_s))


def covered(found, start_s: float, end_s: float) -> float:
    """The share of that time which lies in one of the spans."""
    inside = np.zeros(int(20 * RATE_HZ), bool)
    for span in found:
        inside[span.start : span.end] = True
    return float(inside[int(start_s * RATE_HZ) : int(end_s * RATE_HZ)].mean())


@pytest.mark.parametrize("name", ["readings.opus", "pauses.opus", "words.opus"])
def test_every_sentence_is_found_whole(name):
    found = spans(clip(name))
    for sentence in said(name):
        assert covered(found, sentence["start_s"], sentence["end_s"]) > 0.97


def test_a_pause_is_left_out():
    first, second = said("pauses.opus")
    found = spans(clip("pauses.opus"))
    assert covered(found, first["end_s"] + 0.5, second["start_s"] - 0.5) == 0


@pytest.mark.parametrize("sound", [silence(0), silence(0.01), silence(5), white_noise(5, 0.05)])
def test_no_speech_is_found_where_there_is_none(sound):
    assert spans(sound) == ()


def test_looking_in_blocks_loses_nothing():
    sound = np.concatenate([clip("pauses.opus"), clip("words.opus"), clip("readings.opus")] * 3)
    short = Activity(longest_s=4)
    whole, blocks = spans(sound, short, block_s=1e6), spans(sound, short, block_s=8)
    heard = [np.zeros(len(sound), bool) for _ in range(2)]
    for inside, found in zip(heard, (whole, blocks), strict=True):
        for span in found:
            inside[span.start : span.end] = True
    # the model's memory starts anew with a block, so edges may move by some hundredths of a second
    assert (heard[0] != heard[1]).mean() < 0.02
    assert all(a.end <= b.start for a, b in itertools.pairwise(blocks))


def test_speech_without_a_pause_is_cut_to_the_longest_span():
    sound = np.concatenate([clip("words.opus")[int(0.4 * RATE_HZ) : int(3.4 * RATE_HZ)]] * 8)
    found = spans(sound, Activity(longest_s=10))
    assert len(found) > 1
    assert all(span.length_s <= 10 for span in found)


@pytest.mark.parametrize("block_s", [0.1, 7.3, 30])
def test_what_is_found_does_not_depend_on_how_the_recording_is_read(block_s):
    sound = np.concatenate([clip("pauses.opus"), silence(61), clip("words.opus"), clip("readings.opus")] * 3)
    size = int(block_s * RATE_HZ)
    tape = Tape(lambda: (sound[at : at + size] for at in range(0, len(sound), size)), len(sound) / RATE_HZ)
    found = list(speech(tape.play()))
    assert tuple(one.span for one in found) == spans(sound)
    assert all(np.array_equal(one.samples, sound[one.span.start : one.span.end]) for one in found)


def peak_of_finding(minutes: int) -> int:
    """The most bytes that numpy and Python hold while speech is found in so long a recording."""
    minute = np.concatenate([clip("words.opus"), silence(60 - len(clip("words.opus")) / RATE_HZ)])
    tape = Tape(lambda: (minute.copy() for _ in range(minutes)), minutes * 60.0)
    tracemalloc.start()
    try:
        found = sum(len(piece.samples) for piece in pieces(speech(tape.play()), 28.0))
        assert found > minutes * 2 * RATE_HZ
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


@pytest.mark.slow
def test_finding_speech_in_an_hour_takes_as_much_memory_as_in_six_minutes():
    peak_of_finding(3)  # loads what is needed once
    assert peak_of_finding(60) < 1.1 * peak_of_finding(6)


def span_lists():
    gaps = st.lists(st.tuples(st.integers(0, 90_000), st.integers(1, 90_000)), min_size=1, max_size=8)

    def made(pairs):
        at, found = 0, []
        for gap, length in pairs:
            found.append(Span(at + gap, at + gap + length))
            at += gap + length
        return tuple(found)

    return gaps.map(made)


@given(span_lists(), st.floats(1, 20))
def test_pieces_hold_every_span_once_in_order(found, longest_s):
    made = list(pieces((Speech(span, silence(0)) for span in found), longest_s))
    assert tuple(span for piece in made for span in piece.spans) == found
    assert all(piece.length_s <= longest_s or len(piece.spans) == 1 for piece in made)


@given(span_lists(), st.data())
def test_a_sample_of_a_piece_is_timed_where_it_was_in_the_recording(found, data):
    piece = Piece(found)
    span = data.draw(st.sampled_from(found))
    inside = data.draw(st.integers(span.start, span.end - 1))
    before = sum(s.end - s.start for s in found if s.end <= span.start)
    at = (before + inside - span.start) / RATE_HZ
    start, end = piece.times(at, at)
    assert start == pytest.approx(inside / RATE_HZ, abs=1e-6)
    assert end == pytest.approx(start, abs=1e-6)


@given(span_lists(), st.floats(-5, 60), st.floats(0, 60))
def test_a_word_reaches_over_no_pause(found, start_s, length_s):
    start, end = Piece(found).times(start_s, start_s + length_s)
    assert start <= end
    assert any(s.start / RATE_HZ <= start and end <= s.end / RATE_HZ for s in found)

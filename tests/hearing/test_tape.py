"""A tape gives the sound that is on it, however it is cut up and whatever is asked of it in passing."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.hearing import RATE_HZ
from jobnotes.hearing.tape import Tape

SAMPLES = np.arange(1, 201, dtype=np.float32) / 256


def tape(lengths: list[int]) -> tuple[Tape, np.ndarray]:
    """Blocks of these lengths, and all of them in a row."""
    ends = np.cumsum(lengths)
    blocks = [SAMPLES[end - length : end] for end, length in zip(ends, lengths, strict=True)]
    return Tape(lambda: iter(blocks), 1.0), np.concatenate([*blocks, SAMPLES[:0]])


lengths = st.lists(st.integers(0, 20), max_size=10)


@given(lengths, st.lists(st.tuples(st.integers(0, 30), st.integers(0, 60)), max_size=8))
def test_what_is_cut_out_going_forward_is_what_the_whole_has_there(lengths, steps):
    made, whole = tape(lengths)
    sound, at = made.play(), 0
    for forward, length in steps:
        at += forward
        sound.forget(at)
        assert np.array_equal(sound.cut(at, at + length), whole[at : at + length])
        assert sound.goes_on_at(at + length) == (at + length < len(whole))


@given(lengths)
def test_it_can_be_read_again_from_its_beginning(lengths):
    made, whole = tape(lengths)
    for _ in range(2):
        assert np.array_equal(made.whole(), whole)
        assert np.array_equal(made.play().cut(0, 1000), whole)


@given(lengths, st.integers(1, 250))
def test_what_is_forgotten_can_not_be_asked_for(lengths, before):
    made, _ = tape(lengths)
    sound = made.play()
    sound.forget(before)
    with pytest.raises(ValueError, match="forgotten"):
        sound.cut(before - 1, before + 5)


def test_no_more_is_read_than_is_asked_for():
    read = []

    def blocks():
        for at in range(100):
            read.append(at)
            yield SAMPLES[:10]

    sound = Tape(blocks, 1.0).play()
    sound.cut(0, 15)
    assert read == [0, 1]
    sound.forget(500)
    sound.cut(500, 510)
    assert read[-1] == 50


def test_what_is_in_memory_is_not_copied():
    samples = np.zeros(100 * RATE_HZ, np.float32)
    made = Tape.of(samples)
    assert made.length_s == 100
    assert all(np.shares_memory(block, samples) for block in made.blocks())
    assert sum(map(len, made.blocks())) == len(samples)


def test_what_is_no_number_on_the_tape_is_silence():
    sound = Tape(lambda: iter([np.array([0.5, np.nan, np.inf], np.float32)]), 1.0).play()
    assert sound.cut(0, 3).tolist() == [0.5, 0.0, 0.0]

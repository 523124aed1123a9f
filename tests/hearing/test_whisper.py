"""The whisper engine on real sound, with the weights that come along."""

from __future__ import annotations

import itertools
import subprocess
import sys

import jiwer
import numpy as np
import pytest
from hearing_sounds import RATE_HZ, clip, said, silence, white_noise

from jobnotes.errors import JobnotesError
from jobnotes.hearing import recogniser
from jobnotes.hearing.folders import ModelFolder
from jobnotes.hearing.whisper import Settings, WhisperRecogniser


@pytest.fixture(scope="module")
def engine():
    made = recogniser("tiny.en", cpu_threads=2)  # as its makers made it; test_tuning has the tuned one
    made.load()
    return made


@pytest.fixture(scope="module")
def heard(engine):
    return {name: engine.hear(clip(name)) for name in ("readings.opus", "pauses.opus", "words.opus")}


def plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() or c in ".%" else " " for c in text.lower()).split())


def test_clear_speech_comes_out_nearly_word_for_word(heard):
    reference = plain(" ".join(s["text"] for s in said("words.opus"))).replace(".", "")
    words = plain(" ".join(w.text for w in heard["words.opus"])).replace(".", "")
    assert jiwer.wer(reference, words) <= 0.1


def test_a_number_with_its_decimals_and_a_percentage_are_one_word_each(heard):
    texts = [word.text.rstrip(".,") for word in heard["readings.opus"]]
    assert "60.2" in texts
    assert "95%" in texts


def test_words_are_timed_within_the_sentence_they_belong_to(heard):
    for name, words in heard.items():
        sentences = said(name)
        for word in words:
            middle = (word.start_s + word.end_s) / 2
            assert any(s["start_s"] - 0.35 <= middle <= s["end_s"] + 0.35 for s in sentences), (name, word)


def test_times_rise_and_confidence_is_a_share(heard):
    for words in heard.values():
        assert all(w.start_s <= w.end_s for w in words)
        assert all(a.start_s <= b.start_s for a, b in itertools.pairwise(words))
        assert all(0 <= w.confidence <= 1 for w in words)


def test_the_words_after_a_pause_keep_their_place_in_the_recording(heard):
    first, second = said("pauses.opus")
    after = [w for w in heard["pauses.opus"] if w.start_s > first["end_s"] + 1]
    assert after[0].start_s == pytest.approx(second["start_s"], abs=0.35)
    assert after[-1].end_s == pytest.approx(second["end_s"], abs=0.35)


def test_the_same_sound_gives_the_same_words(engine, heard):
    assert engine.hear(clip("readings.opus")) == heard["readings.opus"]


@pytest.mark.slow
def test_the_same_words_come_out_on_one_core_and_on_two(heard):
    assert recogniser("tiny.en", cpu_threads=1).hear(clip("readings.opus")) == heard["readings.opus"]


@pytest.mark.parametrize("sound", [silence(0), silence(0.02), silence(40), white_noise(20, 0.03)])
def test_nothing_is_heard_where_nothing_is_said(engine, sound):
    assert engine.hear(sound) == ()


def test_nothing_is_made_up_after_the_last_word(heard):
    for name, words in heard.items():
        last = said(name)[-1]["text"].split()[-1]
        assert plain(words[-1].text).strip(".%") in (plain(last).strip("."), "95")


@pytest.mark.parametrize("sound", [silence(6), white_noise(6, 0.01), white_noise(6, 0.2)])
def test_no_word_of_the_prompt_is_heard_in_noise_even_where_speech_was_suspected(engine, sound):
    prompted = set(plain(engine._prompt).replace(".", "").split())
    heard = {plain(word.text).replace(".", "") for word in engine._heard(sound)}
    assert not heard & prompted


def test_a_recording_longer_than_one_piece_is_heard_to_its_end_and_progress_rises_to_one(engine, heard):
    pause = silence(1.5)
    times = 4
    long = np.concatenate([np.concatenate([clip("words.opus"), pause])] * times)
    shares: list[float] = []
    words = engine.hear(long, progress=shares.append)
    period = (len(clip("words.opus")) + len(pause)) / RATE_HZ
    for i in range(times):
        here = [w for w in words if i * period <= (w.start_s + w.end_s) / 2 < (i + 1) * period]
        before = " ".join(plain(w.text) for w in heard["words.opus"])
        assert jiwer.wer(before, " ".join(plain(w.text) for w in here)) < 0.2
    assert len(shares) >= 2
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def test_samples_that_are_no_numbers_are_silence(engine):
    broken = clip("readings.opus").copy()
    broken[-2000:] = np.nan
    assert "60.2" in [w.text for w in engine.hear(broken)]


@pytest.mark.parametrize(
    "samples", [np.zeros((2, 100), np.float32), np.zeros(100, np.int16), np.zeros(100, np.float64)]
)
def test_samples_of_another_shape_or_kind_are_refused(engine, samples):
    with pytest.raises(ValueError, match="samples must"):
        engine.hear(samples)


def test_the_stamp_is_known_without_loading_anything():
    code = (
        "import sys; from jobnotes.hearing import recogniser; print(recogniser().stamp.model);"
        "print([m for m in ('faster_whisper', 'ctranslate2', 'vosk', 'onnxruntime') if m in sys.modules])"
    )
    out = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert out.split("\n")[:2] == ["tiny.en-trade", "[]"]


def test_the_stamp_changes_with_all_that_changes_the_words_and_with_nothing_else():
    plain_one = recogniser("tiny.en")
    base = plain_one.stamp
    assert recogniser("tiny.en", cpu_threads=1).stamp == base
    others = [
        recogniser("tiny.en", prompt="").stamp,
        recogniser("tiny.en", prompt="valves and tappets").stamp,
        WhisperRecogniser(plain_one._weights, prompt=plain_one._prompt, settings=Settings(beam_size=1)).stamp,
    ]
    assert len({base, *others}) == 4


def test_weights_that_are_damaged_are_named_in_one_line(tmp_path):
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.txt"):
        (tmp_path / name).write_text("{}")
    engine = WhisperRecogniser(ModelFolder("broken", "whisper", tmp_path))
    with pytest.raises(JobnotesError, match="weights can't be loaded") as raised:
        engine.load()
    assert "\n" not in str(raised.value)

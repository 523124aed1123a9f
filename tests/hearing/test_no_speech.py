"""No words from no speech, and words at any level: what a workshop does to a recording, made from numbers."""

from __future__ import annotations

import sys
from datetime import UTC, datetime
from pathlib import Path

import jiwer
import numpy as np
import pytest
from hearing_sounds import RATE_HZ, clip, said, silence

from jobnotes.hearing import Samples, recogniser
from jobnotes.hearing.catalogue import catalogue
from jobnotes.reading.read import read_notes
from jobnotes.record import Note, Word

sys.path.insert(0, str(Path(__file__).parents[1] / "eval"))

from noise import NO_SPEECH

LEVELS_DB = (-50, -25, -8)


def noise(kind: str, seconds: float, level_db: float, seed: int = 5) -> Samples:
    """`level_db`: mean power below full scale; what would go beyond that is cut off."""
    made = NO_SPEECH[kind](np.random.default_rng(seed), int(seconds * RATE_HZ))
    return np.clip(made / made.std() * 10 ** (level_db / 20), -1, 1).astype(np.float32)


@pytest.fixture(scope="module")
def engine():
    return recogniser(cpu_threads=2)


def note(words: tuple[Word, ...], length_s: float, engine) -> Note:
    text = " ".join(word.text for word in words)
    begun = datetime(2026, 2, 10, tzinfo=UTC)
    return Note("N1", "a.flac", "1" * 64, begun, "made", length_s, engine.stamp, text, words)


def plain(text: str) -> str:
    return " ".join("".join(c if c.isalnum() else " " for c in text.lower()).split())


def errors(engine, sound: Samples) -> float:
    """Word error rate of the clip of plain words in `sound`."""
    reference = plain(" ".join(s["text"] for s in said("words.opus")))
    return jiwer.wer(reference, plain(" ".join(w.text for w in engine.hear(sound))))


@pytest.mark.parametrize("kind", NO_SPEECH)
def test_no_word_is_heard_in_noise_of_any_level(engine, kind):
    for level_db in LEVELS_DB:
        assert engine.hear(noise(kind, 6, level_db)) == (), level_db


@pytest.mark.slow
def test_an_hour_without_speech_gives_not_one_word_and_not_one_fact(engine):
    parts: list[Samples] = []
    for at in range(60):  # minutes: each kind at each level, starting and stopping at once, silence between
        kind = list(NO_SPEECH)[at % len(NO_SPEECH)]
        parts += [noise(kind, 50, LEVELS_DB[at // len(NO_SPEECH) % 3], seed=at), silence(10)]
    hour = np.concatenate(parts)
    assert len(hour) == 3600 * RATE_HZ
    words = engine.hear(hour)
    assert words == ()
    note = Note(
        "N1", "a", "1" * 64, datetime(2026, 2, 10, tzinfo=UTC), "made", 3600.0, engine.stamp, "", words
    )
    assert read_notes([note]) == ()


@pytest.mark.slow
@pytest.mark.parametrize("kind", NO_SPEECH)
def test_noise_taken_for_speech_gives_no_fact_and_no_word_of_the_prompt_to_believe(engine, kind):
    # as if the filter of speech had let it through: an air gun says "Pfft" then, and that is well heard
    made_up = engine._heard(noise(kind, 8, -25))
    prompted = set(plain(catalogue().prompt.text).split())
    assert [w for w in made_up if plain(w.text) in prompted and w.confidence >= 0.45] == []
    assert read_notes([note(made_up, 8.0, engine)]) == ()


@pytest.mark.slow
@pytest.mark.parametrize("gain_db", [-35, -20, 0, 15, 26])
def test_words_come_out_from_a_whisper_to_clipping(engine, gain_db):
    loud = np.clip(clip("words.opus") * 10 ** (gain_db / 20), -1, 1)
    kept = (np.round(loud * 32767) / 32767).astype(np.float32)  # as 16 bits keep it
    assert errors(engine, kept) <= 0.2


@pytest.mark.slow
def test_quiet_speech_after_a_loud_burst_is_heard(engine):
    quiet = (clip("words.opus") * 10 ** (-25 / 20)).astype(np.float32)
    sound = np.concatenate([silence(1), noise("impact", 8, -8), silence(0.6), quiet])
    assert errors(engine, sound) <= 0.2

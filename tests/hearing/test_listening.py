"""Sound heard while it still comes: a stretch is whole once a pause follows, however it is cut up."""

from __future__ import annotations

from itertools import pairwise

import jiwer
import numpy as np
import pytest
from hearing_sounds import RATE_HZ, clip, said, silence, white_noise
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.hearing import Samples, recogniser
from jobnotes.hearing.listening import AtPauses, HearsStreams, listener, listening, load_to_listen
from jobnotes.hearing.second import TwoListeners
from jobnotes.hearing.speech import voice
from jobnotes.hearing.stretches import FRAME, Breath, Stretch, Stretches
from jobnotes.hearing.two_hearings import TwoHearings
from jobnotes.record import RecogniserStamp, Word

PIECE = RATE_HZ // 4


def come(samples: Samples, piece: int = PIECE, **more) -> list[tuple[float, Stretch]]:
    """Each stretch, and the second at which it is there when the sound comes in such pieces."""
    stretches = Stretches(**({"voice": voice} | more))
    return [
        ((at + piece) / RATE_HZ, stretch)
        for at in range(0, len(samples), piece)
        for stretch in stretches.add(samples[at : at + piece])
    ]


def span_s(stretch: Stretch) -> tuple[float, float]:
    return stretch.start / RATE_HZ, (stretch.start + len(stretch.samples)) / RATE_HZ


# --- stretches -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["readings.opus", "pauses.opus", "words.opus"])
def test_each_sentence_is_a_stretch_that_is_there_soon_after_its_end(name):
    found = come(np.concatenate([clip(name), silence(1)]))
    assert len(found) == len(said(name))
    for (at_s, stretch), sentence in zip(found, said(name), strict=True):
        start_s, end_s = span_s(stretch)
        assert start_s < sentence["start_s"] + 0.05
        assert sentence["end_s"] - 0.1 < end_s < sentence["end_s"] + 0.6
        assert 0.3 < at_s - sentence["end_s"] < 1.0


def test_a_stretch_has_the_very_sound_that_came():
    sound = np.concatenate([clip("pauses.opus"), silence(1)])
    for _, stretch in come(sound):
        same = sound[stretch.start : stretch.start + len(stretch.samples)]
        assert np.array_equal(stretch.samples, same)


@settings(max_examples=5, deadline=None)
@given(st.integers(300, 40_000))
def test_the_stretches_are_the_same_however_the_sound_is_cut_up(piece):
    sound = np.concatenate([clip("readings.opus"), silence(1)])
    spans = [span_s(stretch) for _, stretch in come(sound, piece)]
    assert spans == [span_s(stretch) for _, stretch in come(sound, len(sound))]


@pytest.mark.parametrize("sound", [silence(3), white_noise(4, 0.05), silence(0.01)])
def test_where_nobody_speaks_there_is_nothing_to_hear(sound):
    assert come(sound) == []


def test_what_was_being_said_at_the_end_is_the_rest():
    sentence = said("words.opus")[0]
    stretches = Stretches(voice)
    assert stretches.rest() is None
    assert stretches.add(clip("words.opus")[: int(2.5 * RATE_HZ)]) == ()
    rest = stretches.rest()
    assert rest is not None
    assert span_s(rest)[0] < sentence["start_s"]
    assert span_s(rest)[1] == 2.5


def frames(*voices: float):
    """Sound of which each frame holds its probability of a voice, and what reads it from there."""
    sound = np.repeat(np.array(voices, np.float32), FRAME)
    return sound, lambda samples: samples[::FRAME]


def test_who_does_not_pause_is_cut_off_where_the_voice_was_weakest_and_nothing_is_lost():
    voices = [0.0] * 30 + [0.9] * 300 + [0.0] * 60
    voices[30 + 180] = 0.4  # a breath that is no pause, in the second half of eight seconds
    sound, told = frames(*voices)
    found = [s for _, s in come(sound, voice=told, breath=Breath(longest_s=8))]
    assert len(found) == 2
    assert span_s(found[0])[1] == (30 + 180) * FRAME / RATE_HZ
    for before, after in pairwise(found):
        assert after.start == before.start + len(before.samples)
    covered = np.concatenate([s.samples for s in found])
    assert (covered > 0.5).sum() == (sound > 0.5).sum()


def test_a_breath_is_no_pause_and_a_weak_end_belongs_to_the_word():
    sound, told = frames(*([0.0] * 12 + [0.9] * 20 + [0.1] * 10 + [0.9] * 20 + [0.4] * 5 + [0.0] * 41))
    ((_, stretch),) = come(sound, voice=told)
    voiced_to = (12 + 20 + 10 + 20 + 5) * FRAME
    assert stretch.start + len(stretch.samples) == voiced_to + round(0.3 * RATE_HZ)


def test_an_hour_of_speech_without_a_pause_is_held_in_bounded_memory():
    stretches = Stretches(lambda samples: np.full(len(samples) // FRAME, 0.9, np.float32))
    minute = np.zeros(60 * RATE_HZ, np.float32)
    total = 0
    for _ in range(60):
        for stretch in stretches.add(minute):
            assert len(stretch.samples) <= 15.4 * RATE_HZ
            total += len(stretch.samples)
        assert len(stretches._held) <= 20 * RATE_HZ
    rest = stretches.rest()
    assert total + len(rest.samples) == 60 * len(minute)


# --- a recogniser of whole recordings, at pauses -------------------------------------------------


@pytest.fixture(scope="module")
def quick():
    return recogniser("quick")


def test_words_come_after_each_pause(quick):
    stream = listening(quick)
    assert isinstance(stream, AtPauses)
    sound = np.concatenate([clip("pauses.opus"), silence(1)])
    heard = []
    for at in range(0, len(sound), PIECE):
        if words := stream.feed(sound[at : at + PIECE]):
            heard.append(((at + PIECE) / RATE_HZ, words))
    assert stream.finish() == ()
    assert len(heard) == 2
    for (at_s, words), sentence in zip(heard, said("pauses.opus"), strict=True):
        assert at_s < sentence["end_s"] + 1
        assert {"hose", "clamp", "clamps"} & {w.text.strip(".").lower() for w in words}


def test_what_fell_behind_is_heard_at_once_and_in_order(quick):
    stream = listening(quick)
    words = stream.feed(np.concatenate([clip("pauses.opus"), clip("words.opus"), silence(1)]))
    text = " ".join(w.text for w in words)
    places = [
        text.find(heard) for heard in ("split at the clamp", "air filter", "full of water", "pulls well")
    ]
    assert -1 < places[0] < places[1] < places[2] < places[3]


def test_a_draft_has_the_words_that_hearing_has(quick):
    for name in ("readings.opus", "words.opus"):
        drafted = jiwer.transforms.RemovePunctuation()(" ".join(w.text for w in quick.draft(clip(name))))
        heard = jiwer.transforms.RemovePunctuation()(" ".join(w.text for w in quick.hear(clip(name))))
        assert jiwer.wer(heard.lower(), drafted.lower()) < 0.15


class Telling:
    """Hears one word in the middle of what it is given."""

    stamp = RecogniserStamp("fake", "telling", "f4" * 32)

    def hear(self, samples, *, progress=None) -> tuple[Word, ...]:
        middle = len(samples) / RATE_HZ / 2
        return (Word(f"{len(samples)}", middle - 0.1, middle + 0.1, 0.5),)


def test_a_recogniser_that_drafts_nothing_hears_each_stretch_and_its_times_are_those_of_the_stream():
    stream = listening(Telling())
    sound = np.concatenate([clip("pauses.opus"), silence(1)])
    fed = 0
    for sentence in said("pauses.opus"):
        until = int((sentence["end_s"] + 1) * RATE_HZ)
        (word,) = stream.feed(sound[fed:until])
        fed = until
        middle = (sentence["start_s"] + sentence["end_s"]) / 2
        assert (word.start_s + word.end_s) / 2 == pytest.approx(middle, abs=0.3)


def test_words_that_no_pause_follows_come_with_the_end(quick):
    stream = listening(quick)
    sentence = said("readings.opus")[0]
    assert stream.feed(clip("readings.opus")[: int((sentence["end_s"] + 0.2) * RATE_HZ)]) == ()
    assert "sixty point two" in " ".join(w.text for w in stream.finish())
    assert stream.finish() == ()
    with pytest.raises(ValueError, match="finished"):
        stream.feed(silence(1))


def test_noise_alone_brings_no_words(quick):
    stream = listening(quick)
    assert stream.feed(white_noise(5, 0.05)) == ()
    assert stream.finish() == ()


# --- which one hears -----------------------------------------------------------------------------


class Named:
    def __init__(self, name: str) -> None:
        self.stamp = RecogniserStamp("fake", name, "f4" * 32)

    def hear(self, samples, *, progress=None) -> tuple[Word, ...]:
        return ()


class Streaming(Named):
    def listen(self):
        return "a stream"


def test_the_quicker_part_of_a_level_hears_live_and_a_streaming_one_wherever_it_is():
    large, small, streaming = Named("large"), Named("small"), Streaming("streaming")
    assert listener(small) is small
    assert listener(TwoHearings(large, small, ())) is small
    assert listener(TwoHearings(streaming, small, ())) is streaming
    assert listener(TwoHearings(large, streaming, ())) is streaming
    assert listener(TwoListeners(small, second=object())) is small  # type: ignore[arg-type]
    assert isinstance(streaming, HearsStreams)
    assert listening(streaming) == "a stream"


def test_a_draft_needs_the_first_decoder_alone_and_hearing_then_has_the_words_of_both(quick):
    one = recogniser(quick.stamp.model)
    load_to_listen(one)
    assert listening(one).feed(np.concatenate([clip("readings.opus"), silence(1)]))
    assert len(one._models) == 1
    assert one.hear(clip("readings.opus")) == quick.hear(clip("readings.opus"))
    assert len(one._models) == 2

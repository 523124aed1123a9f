"""A note's words as sound, by piper-tts; the same words and seed give the same samples.

The voice draws random numbers inside its ONNX graph; seeding onnxruntime before the voice is loaded
makes them repeat. Another version of onnxruntime, or another processor, may still differ in the last bits.
"""

from __future__ import annotations

import importlib
from dataclasses import dataclass

import numpy as np
import onnxruntime
from numpy.typing import NDArray
from piper import PiperVoice
from piper.config import SynthesisConfig

from making.scenario import Line, Note, Voice

LEAD_IN_S = 0.7
"""Seconds of silence before the first word, as when a person presses the button and then speaks."""

SILENCE = 0.01
"""Level, relative to full scale, below which the ends of an utterance count as silent."""


@dataclass(frozen=True, slots=True)
class Spoken:
    """`samples`: mono float32 in −1…1 at `rate` Hz; `spans`: start and end in seconds of each line."""

    samples: NDArray[np.float32]
    rate: int
    spans: tuple[tuple[float, float], ...]


def speak(note: Note, voice: Voice) -> Spoken:
    """The whole note, one line after the other with its pauses."""
    onnxruntime.set_seed(note.seed)
    package = importlib.import_module(voice.package)
    engine = PiperVoice.load(package.model_path(), package.config_path())
    rate = engine.config.sample_rate
    style = SynthesisConfig(
        length_scale=voice.length_scale, noise_scale=voice.noise_scale, noise_w_scale=voice.noise_w_scale
    )
    pieces = [np.zeros(int(LEAD_IN_S * rate), np.float32)]
    spans = []
    at = len(pieces[0])
    for line in note.lines:
        said = _trimmed(_say(engine, line, style, rate))
        spans.append((at / rate, (at + len(said)) / rate))
        pause = np.zeros(int(line.pause_s * rate), np.float32)
        pieces += [said, pause]
        at += len(said) + len(pause)
    return Spoken(0.7 * np.concatenate(pieces), rate, tuple(spans))


def _say(engine: PiperVoice, line: Line, style: SynthesisConfig, rate: int) -> NDArray[np.float32]:
    """The line's sentences with a breath of 0.35 s between them."""
    breath = np.zeros(int(0.35 * rate), np.float32)
    pieces: list[NDArray[np.float32]] = []
    for chunk in engine.synthesize(line.say, style):
        pieces += [breath, chunk.audio_float_array]
    return np.concatenate(pieces[1:])


def _trimmed(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Without the near-silence at both ends, so that a span is the words and nothing else."""
    loud = np.flatnonzero(np.abs(samples) > SILENCE)
    return samples[loud[0] : loud[-1] + 1]

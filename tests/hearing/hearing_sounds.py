"""Sounds for the tests of hearing."""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path

import av
import numpy as np

from jobnotes.hearing import RATE_HZ, Samples

CLIPS = Path(__file__).parent / "clips"


@cache
def clip(name: str) -> Samples:
    """A committed clip of synthetic speech as samples: shape (n,), float32, 16 kHz."""
    return decoded(CLIPS / name)


def said(name: str) -> list[dict]:
    """What the clip says, sentence by sentence: text, start_s, end_s."""
    return json.loads((CLIPS / "clips.json").read_text("utf-8"))[name]


def decoded(path: Path, format: str | None = None) -> Samples:
    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
    with av.open(str(path), format=format) as sound:
        frames = [r for frame in sound.decode(audio=0) for r in resampler.resample(frame)]
    frames += resampler.resample(None)
    return np.concatenate([frame.to_ndarray()[0] for frame in frames]).astype(np.float32)


def silence(seconds: float) -> Samples:
    return np.zeros(int(seconds * RATE_HZ), np.float32)


def white_noise(seconds: float, level: float, seed: int = 3) -> Samples:
    return np.random.default_rng(seed).normal(0, level, int(seconds * RATE_HZ)).astype(np.float32)

"""Workshop noise, and recordings in the containers that phones and recorders write."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import av
import numpy as np
from av.audio.resampler import AudioResampler
from numpy.typing import NDArray

from making.scenario import Note
from making.speech import Spoken

Samples = NDArray[np.floating[Any]]


def shaped(rng: np.random.Generator, n: int, rate: int, shape: Callable[[Samples], Samples]) -> Samples:
    """`n` samples of noise whose amplitude spectrum is `shape` of the frequency in Hz."""
    spectrum = np.fft.rfft(rng.standard_normal(n))
    freq = np.fft.rfftfreq(n, 1 / rate)
    return np.fft.irfft(spectrum * shape(freq), n).astype(np.float32)


def room(rng: np.random.Generator, n: int, rate: int) -> Samples:
    """A quiet hall: soft low noise."""
    return shaped(rng, n, rate, lambda f: 1 / np.maximum(f, 60) ** 0.8)


def hum(rng: np.random.Generator, n: int, rate: int) -> Samples:
    """Lamps and a transformer: 100 Hz and its harmonics, over the room."""
    t = np.arange(n) / rate
    tones = sum(np.sin(2 * np.pi * 100 * k * t + rng.uniform(0, 6.28)) / k**1.2 for k in range(1, 9))
    back = room(rng, n, rate)
    return np.asarray(tones * 0.7 + back / back.std(), np.float32)


def leak(rng: np.random.Generator, n: int, rate: int) -> Samples:
    """Air hissing from a hose: broad noise around 3 kHz that flutters a little, over the room."""
    t = np.arange(n) / rate
    hiss = shaped(rng, n, rate, lambda f: np.exp(-(((f - 3200) / 2200) ** 2)))
    flutter = 1 + 0.25 * np.sin(2 * np.pi * 5.3 * t) + 0.15 * np.sin(2 * np.pi * 0.31 * t)
    back = room(rng, n, rate)
    return np.asarray(hiss / hiss.std() * flutter + 0.7 * back / back.std(), np.float32)


def compressor(rng: np.random.Generator, n: int, rate: int) -> Samples:
    """A piston compressor in the corner, 14 strokes a second, which runs and rests by turns."""
    t = np.arange(n) / rate
    stroke = np.maximum(0, np.sin(2 * np.pi * 14 * t)) ** 4
    body = shaped(rng, n, rate, lambda f: np.exp(-(((f - 220) / 260) ** 2)))
    valve = shaped(rng, n, rate, lambda f: np.exp(-(((f - 1500) / 900) ** 2)))
    runs = np.clip(3 * np.sin(2 * np.pi * t / 26 + 0.6) + 1.4, 0.12, 1)
    back = room(rng, n, rate)
    piston = (body / body.std() + 0.35 * valve / valve.std()) * (0.3 + stroke)
    return np.asarray(runs * piston + 0.25 * back / back.std(), np.float32)


NOISES = {"room": room, "hum": hum, "leak": leak, "compressor": compressor}


def with_noise(spoken: Spoken, note: Note) -> Samples:
    """The speech with the note's noise at its signal-to-noise ratio.

    The ratio is mean power of the spoken stretches over mean power of the noise, in dB.
    """
    rng = np.random.default_rng(note.seed)
    n, rate = len(spoken.samples), spoken.rate
    words = np.concatenate([spoken.samples[int(a * rate) : int(b * rate)] for a, b in spoken.spans])
    noise = NOISES[note.noise](rng, n, rate)
    gain = np.sqrt(np.mean(words**2) / np.mean(noise**2) / 10 ** (note.snr_db / 10))
    mixed = spoken.samples + gain * noise
    return np.asarray(mixed * min(1.0, 0.95 / np.abs(mixed).max()), np.float32)


def write_recording(path: Path, samples: Samples, rate: int, note: Note) -> None:
    """Encodes `samples` in the container that the file's ending names, dated as the note says.

    Encoders run in FFmpeg's bit-exact mode, so that no version or random serial gets into the file.
    """
    kind = path.suffix.lower()
    codec, out_rate, bit_rate, container, layout_format = {
        ".m4a": ("aac", 44100, 56_000, "ipod", "fltp"),
        ".ogg": ("libopus", 48000, 28_000, "ogg", "flt"),
        ".mp3": ("libmp3lame", 22050, 48_000, "mp3", "fltp"),
        ".wav": ("pcm_s16le", 16000, None, "wav", "s16"),
    }[kind]
    options = {"fflags": "+bitexact"}
    if note.date_in == "bext":
        options["write_bext"] = "1"
    part = path.with_name(path.name + ".part")
    with av.open(str(part), "w", format=container, options=options) as out:
        if note.date_in == "container":
            out.metadata["creation_time"] = note.started_at.strftime("%Y-%m-%dT%H:%M:%S.000000Z")
        if note.date_in == "bext":
            # EBU Tech 3285: local date and time of the recorder, no zone
            out.metadata["description"] = "synthetic voice note"
            out.metadata["originator"] = "Recorder A"
            out.metadata["origination_date"] = note.started_at.strftime("%Y-%m-%d")
            out.metadata["origination_time"] = note.started_at.strftime("%H:%M:%S")
        stream = out.add_stream(codec, rate=out_rate, layout="mono", format=layout_format)
        assert isinstance(stream, av.AudioStream)
        if bit_rate:
            stream.bit_rate = bit_rate
        stream.codec_context.flags |= 1 << 23  # AV_CODEC_FLAG_BITEXACT
        frame = av.AudioFrame.from_ndarray(samples[None, :].copy(), format="flt", layout="mono")
        frame.sample_rate = rate
        resampler = AudioResampler(format=layout_format, layout="mono", rate=out_rate)
        for piece in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(piece))
        out.mux(stream.encode(None))
    part.replace(path)

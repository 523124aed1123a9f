"""Workshop noise, made up from numbers: a hum, an air leak, a compressor, an impact wrench, an idling engine.

Each kind gives `n` samples at `RATE_HZ`, of any level; the same seed gives the same noise. What they are made
of is common practice, no source: made by ear, after no recording.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

RATE_HZ = 16_000

Samples = NDArray[np.float32]
Floats = NDArray[np.floating[Any]]
Rng = np.random.Generator


def _shaped(rng: Rng, n: int, shape: Callable[[Floats], Floats]) -> Floats:
    """Noise of power 1 whose amplitude spectrum is `shape` of the frequency in Hz."""
    spectrum = np.fft.rfft(rng.standard_normal(n)) * shape(np.fft.rfftfreq(n, 1 / RATE_HZ))
    made = np.fft.irfft(spectrum, n)
    return made / made.std()


def _hall(rng: Rng, n: int) -> Floats:
    return _shaped(rng, n, lambda f: 1 / np.maximum(f, 60) ** 0.8)


def hum(rng: Rng, n: int) -> Floats:
    """Lamps, a transformer and a fan: 100 Hz with its harmonics over the noise of the hall."""
    t = np.arange(n) / RATE_HZ
    tones = sum(np.sin(2 * np.pi * 100 * k * t + rng.uniform(0, 2 * np.pi)) / k for k in range(1, 10))
    return np.asarray(0.6 * tones + _hall(rng, n))


def leak(rng: Rng, n: int) -> Floats:
    """Air hissing from a line: broad noise around 3.5 kHz that flutters."""
    t = np.arange(n) / RATE_HZ
    hiss = _shaped(rng, n, lambda f: np.exp(-(((f - 3500) / 2200) ** 2)))
    flutter = 1 + 0.25 * np.sin(2 * np.pi * 5.3 * t) + 0.15 * np.sin(2 * np.pi * 0.31 * t + 1)
    return np.asarray(hiss * flutter + 0.5 * _hall(rng, n))


def compressor(rng: Rng, n: int) -> Floats:
    """A piston compressor, 14 strokes a second: a knocking body below 500 Hz and clicking valves."""
    stroke = np.maximum(0, np.sin(2 * np.pi * 14 * np.arange(n) / RATE_HZ)) ** 4
    body = _shaped(rng, n, lambda f: np.exp(-(((f - 220) / 260) ** 2)))
    valves = _shaped(rng, n, lambda f: np.exp(-(((f - 1500) / 900) ** 2)))
    return np.asarray((body + 0.35 * valves) * (0.3 + stroke) + 0.25 * _hall(rng, n))


def impact(rng: Rng, n: int) -> Floats:
    """An impact wrench: bursts of 1 to 2 s, 22 to 28 ringing blows a second, 3 to 7 s apart, in the hall."""
    ring_t = np.arange(int(0.05 * RATE_HZ)) / RATE_HZ
    out = 0.25 * _hall(rng, n)
    at = int(rng.uniform(0.5, 3) * RATE_HZ)
    while at < n:
        end = at + int(rng.uniform(1, 2) * RATE_HZ)
        apart = RATE_HZ / rng.uniform(22, 28)
        pitches = rng.uniform(900, 4200, 4)
        while at < min(end, n):
            blow = np.exp(-ring_t / 0.009) * sum(np.sin(2 * np.pi * p * ring_t) for p in pitches)
            length = min(len(blow), n - at)
            out[at : at + length] += rng.uniform(0.7, 1.3) * blow[:length]
            at += int(apart * rng.uniform(0.9, 1.1))
        at = end + int(rng.uniform(3, 7) * RATE_HZ)
    return out


KINDS: dict[str, Callable[[Rng, int], Floats]] = {
    "hum": hum,
    "leak": leak,
    "compressor": compressor,
    "impact": impact,
}


def idle(rng: Rng, n: int) -> Floats:
    """A six-cylinder diesel idling at 600 rpm: 30 knocks a second, no two cylinders quite alike."""
    t = np.arange(n) / RATE_HZ
    cylinder = np.floor(t * 30).astype(int) % 6
    knock = (1 - (t * 30) % 1) ** 3 * rng.uniform(0.7, 1.3, 6)[cylinder]
    body = _shaped(rng, n, lambda f: 1 / (1 + (f / 350) ** 2))
    rattle = _shaped(rng, n, lambda f: np.exp(-(((f - 1900) / 1200) ** 2)))
    return np.asarray((body + 0.3 * rattle) * (0.35 + knock) + 0.25 * _hall(rng, n))


#: The kinds from which an evaluation session has its own; more of them would give each another.
OF_SESSIONS = tuple(KINDS)
KINDS["idle"] = idle


def music(rng: Rng, n: int) -> Floats:
    """A radio: chords that change each two seconds, a melody with vibrato above them, and a beat."""
    out = np.zeros(n)
    beat = RATE_HZ // 2
    t = np.arange(beat) / RATE_HZ
    overtones = range(1, 7)
    for k, at in enumerate(range(0, n, beat)):
        root = (220.0, 174.6, 130.8, 196.0)[(k // 4) % 4]
        chord = sum(np.sin(2 * np.pi * root * m * h * t) / h for m in (1, 1.26, 1.5) for h in overtones)
        pitch = 2 * root * 2 ** (rng.integers(0, 12) / 12)
        sway = 0.3 * np.sin(2 * np.pi * 5 * t)
        melody = sum(np.sin(2 * np.pi * pitch * h * t + sway) / h for h in overtones)
        sound = chord * np.exp(-3 * t) + 1.2 * melody * np.exp(-1.5 * t)
        sound = sound + 2 * rng.standard_normal(beat) * np.exp(-40 * t)
        out[at : at + beat] = sound[: n - at]
    return out


def air_gun(rng: Rng, n: int) -> Floats:
    """A blow gun: bursts of hiss of 0.2 to 1.5 s, at once there and at once gone, 1 to 4 s apart."""
    hiss = _shaped(rng, n, lambda f: np.exp(-(((f - 4500) / 2500) ** 2)))
    open_at = np.zeros(n)
    at = int(rng.uniform(0.3, 1) * RATE_HZ)
    while at < n:
        end = at + int(rng.uniform(0.2, 1.5) * RATE_HZ)
        open_at[at:end] = rng.uniform(0.4, 1)
        at = end + int(rng.uniform(1, 4) * RATE_HZ)
    return np.asarray(hiss * open_at + 0.02 * _hall(rng, n))


#: What is no speech: all kinds of noise, and what is not mixed with speech here.
NO_SPEECH: dict[str, Callable[[Rng, int], Floats]] = {**KINDS, "music": music, "air gun": air_gun}


# --- how a recording is taken ---------------------------------------------------------------------


def _under_a_cab(samples: Samples, rng: Rng) -> Floats:
    """Hard walls near by: early echoes within 20 ms, and a tail that falls by 60 dB in 0.45 s."""
    t = np.arange(int(0.45 * RATE_HZ)) / RATE_HZ
    answer = 0.08 * rng.standard_normal(len(t)) * 10 ** (-3 * t / 0.45)
    answer[0] = 1.0
    for at in rng.uniform(0.002, 0.02, 6):
        answer[int(at * RATE_HZ)] += rng.uniform(0.2, 0.5) * rng.choice((-1, 1))
    length = len(samples) + len(answer)
    size = 1 << (length - 1).bit_length()
    heard = np.fft.irfft(np.fft.rfft(samples, size) * np.fft.rfft(answer, size), size)[: len(samples)]
    return np.asarray(heard * np.sqrt(np.mean(samples.astype(np.float64) ** 2) / np.mean(heard**2)))


def _quiet(samples: Samples, rng: Rng) -> Floats:
    """From far away or whispered into a pocket: 35 dB down, with the steps of 16 bits."""
    return np.asarray(np.round(samples * 10 ** (-35 / 20) * 32767) / 32767)


def _clipped(samples: Samples, rng: Rng) -> Floats:
    """Shouted into the microphone: 26 dB up, cut off at full scale."""
    return np.asarray(np.clip(samples * 10 ** (26 / 20), -1, 1))


TAKEN: dict[str, Callable[[Samples, Rng], Floats]] = {
    "cab": _under_a_cab,
    "quiet": _quiet,
    "clipped": _clipped,
}


def taken(samples: Samples, how: str, seed: int) -> Samples:
    """`samples` as they come out when recorded so: a name of `TAKEN`; peaks kept within full scale."""
    made = TAKEN[how](samples, np.random.default_rng(seed))
    return np.asarray(made * min(1.0, 1 / max(float(np.abs(made).max()), 1e-9)), np.float32)


def with_noise(
    samples: Samples, spans: list[tuple[float, float]], kind: str, snr_db: float, seed: int
) -> Samples:
    """`samples` with noise of that kind at that signal-to-noise ratio, peaks kept below 1.

    The ratio is the mean power of the spoken stretches (`spans`, seconds) over the mean power of the noise
    over the whole length, in dB.
    """
    noise = KINDS[kind](np.random.default_rng(seed), len(samples))
    speech = np.concatenate([samples[int(a * RATE_HZ) : int(b * RATE_HZ)] for a, b in spans])
    gain = np.sqrt(np.mean(speech.astype(np.float64) ** 2) / np.mean(noise**2) / 10 ** (snr_db / 10))
    mixed = samples + gain * noise
    return np.asarray(mixed * min(1.0, 0.95 / np.abs(mixed).max()), np.float32)

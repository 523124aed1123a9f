"""Sessions as what the model hears at once: up to 28 seconds, pauses and noise, and the tokens to hear."""

from __future__ import annotations

import random
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np
from noise import KINDS, RATE_HZ, TAKEN, Samples, taken
from tokenizers import Tokenizer

Segment = tuple[float, float, str]  # seconds, and the line that was said then

_LONGEST_S = 27.5
_LEVEL_DB = -23.0
_NOISY = 0.6  # so many of the windows
_NOISE_DB = (6.0, 22.0)
#: what the voices are given letter by letter, and people write as one word
_WRITTEN = (
    "SPN FMI RPM PSI PPM DPF EGR SCR ABS ECU LED PTO VIN TPMS EBS HVAC CCA AC DC USB GPS NOX CAN DEF "
    "ECM TCM PDI"
).split()
_SPELT = re.compile(r"\b(" + "|".join(" ".join(word) for word in _WRITTEN) + r")\b")


def windows(
    sounds: Sequence[Samples], lines: Sequence[str], chance: random.Random
) -> Iterator[tuple[Samples, list[Segment]]]:
    """Lines one after another until a window is full; half of them are full sooner."""

    def begun() -> tuple[list[Samples], list[Segment], int, float]:
        at = int(chance.uniform(0.05, 0.5) * RATE_HZ)
        full = chance.uniform(9, _LONGEST_S) if chance.random() < 0.5 else _LONGEST_S
        return [np.zeros(at, np.float32)], [], at, full

    pieces, segments, at, full = begun()
    for sound, line in zip(sounds, lines, strict=True):
        if not RATE_HZ // 5 <= len(sound) <= 27 * RATE_HZ:
            continue
        if (at + len(sound)) / RATE_HZ > full:
            if segments:
                yield _whole(pieces, chance), segments
            pieces, segments, at, full = begun()
        segments.append((at / RATE_HZ, (at + len(sound)) / RATE_HZ, line))
        pause = int(chance.uniform(0.2, 1.2) * RATE_HZ)
        pieces += [sound.astype(np.float32) / 32768, np.zeros(pause, np.float32)]
        at += len(sound) + pause
    if segments:
        yield _whole(pieces, chance), segments


def _whole(pieces: list[Samples], chance: random.Random) -> Samples:
    tail = np.zeros(int(chance.uniform(0.1, 0.6) * RATE_HZ), np.float32)
    return np.concatenate([*pieces, tail])[: 30 * RATE_HZ]


def in_a_workshop(samples: Samples, segments: Sequence[Segment], chance: random.Random) -> Samples:
    """With noise of a kind and loudness of chance, or recorded badly, or as it is."""
    speech = _speech(samples, segments)
    level = 10 ** ((_LEVEL_DB + chance.uniform(-4, 4)) / 20)
    samples = samples * level / max(1e-6, float(np.sqrt(np.mean(speech**2))))
    seed = chance.randrange(2**31)
    if chance.random() < _NOISY:
        noise = KINDS[chance.choice(list(KINDS))](np.random.default_rng(seed), len(samples))
        power = np.mean(_speech(samples, segments).astype(np.float64) ** 2) / np.mean(noise**2)
        samples = samples + noise * np.sqrt(power / 10 ** (chance.uniform(*_NOISE_DB) / 10))
    elif chance.random() < 0.25:
        samples = taken(samples.astype(np.float32), chance.choice(list(TAKEN)), seed)
    return np.asarray(samples * min(1.0, 0.95 / np.abs(samples).max()), np.float32)


def _speech(samples: Samples, segments: Sequence[Segment]) -> Samples:
    return np.concatenate([samples[int(a * RATE_HZ) : int(b * RATE_HZ)] for a, b, _ in segments])


def as_written(line: str) -> str:
    """How the line is to be heard: word for word, known abbreviations joined, a capital and a full stop."""
    line = _SPELT.sub(lambda spelt: spelt[0].replace(" ", ""), line.strip().strip(",").strip())
    line = line[0].upper() + line[1:]
    return line if line[-1] in ".?!" else f"{line}."


class Tokens:
    """The model's tokens: `target` is what it should say of a window, times in steps of 0.02 s among them."""

    def __init__(self, folder: Path) -> None:
        self._tokenizer = Tokenizer.from_file(str(folder / "tokenizer.json"))
        number = self._tokenizer.token_to_id
        self.start, self.end = number("<|startoftranscript|>"), number("<|endoftext|>")
        self.first_time = number("<|notimestamps|>") + 1

    def target(self, segments: Sequence[Segment]) -> list[int]:
        out: list[int] = []
        for start, end, line in segments:
            words = self._tokenizer.encode(f" {as_written(line)}", add_special_tokens=False).ids
            out += [self._time(start), *words, self._time(min(end, 29.98))]
        return [*out, self.end]

    def _time(self, second: float) -> int:
        return int(self.first_time + round(second / 0.02))

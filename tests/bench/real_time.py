"""How long hearing takes, beside the length of the sound, and how much memory.

    python tests/bench/real_time.py [--engine NAME] [--minutes 10] [--cores 2] [--target 0.25] [--json]

The sound is recorded human speech (the prompts that tests/hearing/human_prompts.py names) where those
packages are installed, else the committed clips of synthetic speech; in either case one after the other with
pauses of one second, over and over. Loading the weights is measured apart and not part of the ratio. Ends
with status 1 where the ratio is above the target.
"""

from __future__ import annotations

import argparse
import json
import os
import sys
import time
from dataclasses import dataclass
from itertools import cycle
from pathlib import Path

import jiwer
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "hearing"))

from hearing_sounds import CLIPS, RATE_HZ, clip, said, silence
from human_prompts import installed, plain, prompts
from memory import peak_mib

from jobnotes.hearing import Samples, recogniser


@dataclass(frozen=True)
class Sound:
    samples: Samples
    made_of: str
    text: str


def sound(minutes: float) -> Sound:
    """Exactly that many minutes: whole recordings, and silence where no further one fits in."""
    if installed():
        sources = ((p.samples(), p.text) for p in cycle(prompts()))
        made_of = "recorded human prompts"
    else:
        names = sorted(p.name for p in CLIPS.glob("*.opus"))
        sources = ((clip(name), " ".join(s["text"] for s in said(name))) for name in cycle(names))
        made_of = "synthetic clips"
    left = int(minutes * 60 * RATE_HZ)
    parts: list[Samples] = []
    texts: list[str] = []
    for samples, text in sources:
        if len(samples) + RATE_HZ > left:
            break
        parts += [samples, silence(1.0)]
        texts.append(text)
        left -= len(samples) + RATE_HZ
    return Sound(np.concatenate([*parts, silence(left / RATE_HZ)]), made_of, " ".join(texts))


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engine", default=None, help="a recogniser that `jobnotes models` lists")
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--target", type=float, default=0.25)
    parser.add_argument("--no-prompt", action="store_true", help="without the trade's words")
    parser.add_argument("--json", action="store_true", help="print the figures as JSON")
    given = parser.parse_args()

    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[: given.cores])
    heard_in = sound(given.minutes)
    samples = heard_in.samples
    engine = recogniser(given.engine, prompt="" if given.no_prompt else None, cpu_threads=given.cores)
    before = peak_mib()
    begin = time.perf_counter()
    engine.load()
    loaded = time.perf_counter() - begin
    begin, work = time.perf_counter(), time.process_time()
    words = engine.hear(samples)
    took, work = time.perf_counter() - begin, time.process_time() - work

    length = len(samples) / RATE_HZ
    heard = plain(" ".join(word.text for word in words))
    rows = [
        ("recogniser", f"{engine.stamp.engine} {engine.stamp.model}"),
        ("sound", f"{length:.0f} s, {heard_in.made_of}"),
        ("cores", f"{given.cores}"),
        ("words heard", f"{len(words)}"),
        ("word error rate, as one recording", f"{jiwer.wer(plain(heard_in.text), heard):.1%}"),
        ("loading", f"{loaded:.1f} s"),
        ("hearing", f"{took:.1f} s"),
        ("processor time", f"{work:.1f} s"),
        ("time / length of the sound", f"{took / length:.3f} (target {given.target:g})"),
        ("processor time / length", f"{work / length:.3f}"),
        ("peak memory", f"{peak_mib():.0f} MiB, {before:.0f} MiB of it before loading (sound and libraries)"),
        ("load of the machine", f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"),
    ]
    if given.json:
        told = {
            "time_per_length": took / length,
            "processor_time_per_length": work / length,
            "peak_mib": peak_mib(),
        }
        print(json.dumps(told))
        return 0
    print("| what | value |\n| --- | --- |")
    for what, value in rows:
        print(f"| {what} | {value} |")
    return 0 if took / length <= given.target else 1


if __name__ == "__main__":
    sys.exit(main())

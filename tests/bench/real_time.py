"""How long hearing takes, beside the length of the sound, and how much memory.

    python tests/bench/real_time.py [--engine NAME] [--minutes 10] [--cores 2] [--target 0.25]

The sound is recorded human speech (the prompts that tests/hearing/human_prompts.py names) where those
packages are installed, else the committed clips of synthetic speech; in either case one after the other with
pauses of one second, over and over. Loading the weights is measured apart and not part of the ratio. Ends
with status 1 where the ratio is above the target.
"""

from __future__ import annotations

import argparse
import os
import resource
import sys
import time
from itertools import cycle
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "hearing"))

from hearing_sounds import CLIPS, RATE_HZ, clip, silence
from human_prompts import installed, prompts

from jobnotes.hearing import Samples, recogniser


def sound(minutes: float) -> tuple[Samples, str]:
    """Exactly that many minutes, and what they are made of."""
    if installed():
        sources, said = (p.samples() for p in cycle(prompts())), "recorded human prompts"
    else:
        names = sorted(p.name for p in CLIPS.glob("*.opus"))
        sources, said = (clip(name) for name in cycle(names)), "synthetic clips"
    wanted = int(minutes * 60 * RATE_HZ)
    parts: list[Samples] = []
    while sum(map(len, parts)) < wanted:
        parts += [next(sources), silence(1.0)]
    return np.concatenate(parts)[:wanted], said


def peak_mib() -> float:
    """The most memory that this process has had resident so far."""
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return peak / (1 << 20 if sys.platform == "darwin" else 1 << 10)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engine", default=None, help="a recogniser that `jobnotes models` lists")
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--target", type=float, default=0.25)
    given = parser.parse_args()

    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[: given.cores])
    samples, said = sound(given.minutes)
    engine = recogniser(given.engine, cpu_threads=given.cores)
    before = peak_mib()
    begin = time.perf_counter()
    engine.load()
    loaded = time.perf_counter() - begin
    begin, work = time.perf_counter(), time.process_time()
    words = engine.hear(samples)
    took, work = time.perf_counter() - begin, time.process_time() - work

    length = len(samples) / RATE_HZ
    rows = [
        ("recogniser", f"{engine.stamp.engine} {engine.stamp.model}"),
        ("sound", f"{length:.0f} s, {said}"),
        ("cores", f"{given.cores}"),
        ("words heard", f"{len(words)}"),
        ("loading", f"{loaded:.1f} s"),
        ("hearing", f"{took:.1f} s"),
        ("processor time", f"{work:.1f} s"),
        ("time / length of the sound", f"{took / length:.3f} (target {given.target:g})"),
        ("processor time / length", f"{work / length:.3f}"),
        ("peak memory", f"{peak_mib():.0f} MiB, {before:.0f} MiB of it before loading (the sound itself)"),
        ("load of the machine", f"{os.getloadavg()[0]:.1f}" if hasattr(os, "getloadavg") else "unknown"),
    ]
    print("| what | value |\n| --- | --- |")
    for what, value in rows:
        print(f"| {what} | {value} |")
    return 0 if took / length <= given.target else 1


if __name__ == "__main__":
    sys.exit(main())

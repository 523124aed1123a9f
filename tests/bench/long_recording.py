"""What a recording of hours costs beside one of minutes: peak memory, and processor time for its length.

    python tests/bench/long_recording.py [--minutes 10,180] [--engine NAME] [--cores 2] [--every 60]

One clip of synthetic speech every so many seconds, silence between. Each recording is taken in and heard in a
process of its own, by the steps that `jobnotes run` takes up to the words in the library. Exits 1 where the
longest needs a fifth more memory than the shortest.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
import wave
from datetime import UTC
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "hearing"))

from hearing_sounds import CLIPS, RATE_HZ, clip
from memory import peak_mib

from jobnotes.hearing import recogniser
from jobnotes.intake.recordings import open_recording
from jobnotes.library.library import Library
from jobnotes.pipeline import hear
from jobnotes.progress import Silent

AT_MOST = 1.2


def make(path: Path, minutes: float, every_s: int) -> None:
    """A wave file, written a clip at a time."""
    names = sorted(p.name for p in CLIPS.glob("*.opus"))
    with wave.open(str(path), "wb") as out:
        out.setparams((1, 2, RATE_HZ, 0, "NONE", ""))
        for turn in range(round(minutes * 60 / every_s)):
            part = np.zeros(every_s * RATE_HZ, np.float32)
            said = clip(names[turn % len(names)])[: len(part)]
            part[: len(said)] = said
            out.writeframes((part * 32767).astype("<i2").tobytes())


def hear_it(path: Path, folder: Path, engine: str | None, cores: int) -> dict[str, float]:
    if hasattr(os, "sched_setaffinity"):
        os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:cores])
    with Library.open(folder) as library:
        begin, work = time.perf_counter(), time.process_time()
        library.keep(path, "recording")
        recording = open_recording(path, UTC)
        before = peak_mib()
        (note,), _ = hear([recording], library, recogniser(engine, cpu_threads=cores), Silent())
        took, work = time.perf_counter() - begin, time.process_time() - work
    return {
        "length_s": recording.duration_s,
        "words": len(note.words),
        "before_mib": before,
        "peak_mib": peak_mib(),
        "processor_s": work,
        "took_s": took,
    }


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--minutes", default="10,180", help="the lengths, shortest first")
    parser.add_argument("--engine", default=None, help="a recogniser that `jobnotes models` lists")
    parser.add_argument("--cores", type=int, default=2)
    parser.add_argument("--every", type=int, default=60, help="seconds from clip to clip")
    parser.add_argument("--hear", nargs=2, type=Path, help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.hear:
        print(json.dumps(hear_it(*given.hear, given.engine, given.cores)))
        return 0

    print("| length | words | peak memory | before hearing | processor time / length | time / length |")
    print("| --- | --- | --- | --- | --- | --- |")
    peaks = []
    for minutes in map(float, given.minutes.split(",")):
        with tempfile.TemporaryDirectory() as name:
            path = Path(name) / "note.wav"
            make(path, minutes, given.every)
            command = [sys.executable, __file__, "--hear", str(path), str(Path(name) / "library")]
            command += ["--cores", str(given.cores), *(["--engine", given.engine] if given.engine else [])]
            told = json.loads(subprocess.run(command, stdout=subprocess.PIPE, check=True).stdout)
        peaks.append(told["peak_mib"])
        row = [f"{minutes:g} min", f"{told['words']}"]
        row += [f"{told[key]:.0f} MiB" for key in ("peak_mib", "before_mib")]
        row += [f"{told[key] / told['length_s']:.4f}" for key in ("processor_s", "took_s")]
        print(f"| {' | '.join(row)} |", flush=True)
    print(f"\n{peaks[-1] / peaks[0]:.2f} times the memory for the longest (at most {AT_MOST})")
    return 0 if peaks[-1] <= AT_MOST * peaks[0] else 1


if __name__ == "__main__":
    sys.exit(main())

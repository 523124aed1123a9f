"""How much faster a second run on the same folder is than the first, over ten minutes of recordings.

    python tests/bench/second_run.py

Makes a folder out of the sample recordings, each with a little more silence before it so that no two are the
same note, runs `jobnotes run` on it twice, each time in a process of its own, and prints the ratio. Exits 1
where the second run is not at least 20 times faster.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
import time
import wave
from pathlib import Path

import numpy as np

from jobnotes.commands.run import sample_folder
from jobnotes.hearing.recogniser import RATE_HZ
from jobnotes.intake.folder import scan
from jobnotes.intake.sound import mono_16k

WANTED_S = 600.0
AT_LEAST = 20.0


def folder_of(seconds: float, where: Path) -> float:
    """Fill `where` with recordings; their length together, in seconds."""
    total, turn = 0.0, 0
    while total < seconds:
        turn += 1
        for path in scan(sample_folder()).recordings:
            if total >= seconds:
                break
            silence = np.zeros(turn * RATE_HZ // 10, np.float32)
            samples = np.concatenate([silence, mono_16k(path)])
            with wave.open(str(where / f"{path.stem}-{turn}.wav"), "wb") as out:
                out.setnchannels(1)
                out.setsampwidth(2)
                out.setframerate(RATE_HZ)
                out.writeframes((samples * 32767).astype("<i2").tobytes())
            total += len(samples) / RATE_HZ
    return total


def timed(folder: Path, out: Path) -> float:
    started = time.perf_counter()
    command = [sys.executable, "-m", "jobnotes", "run", str(folder), "--out", str(out), "--json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode not in (0, 1):
        sys.exit(done.stderr)
    return time.perf_counter() - started


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "job"
        folder.mkdir()
        length = folder_of(WANTED_S, folder)
        first = timed(folder, Path(name) / "out")
        second = timed(folder, Path(name) / "out")
    print(f"recordings   {length:7.1f} s")
    print(f"first run    {first:7.1f} s   {first / length:.3f} of the recordings' length")
    print(f"second run   {second:7.1f} s   {first / second:.1f} times faster")
    sys.exit(0 if first / second >= AT_LEAST else 1)


if __name__ == "__main__":
    main()

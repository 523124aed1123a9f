"""How long after a pause begins its words are with the phone that records.

    python tests/bench/live_words.py [--pauses 12] [--hear-with NAME] [--phones 1] [--json]

Starts `jobnotes serve` in a process of its own. A phone sends sentences of the committed clips as fast as
they are spoken, in pieces of a quarter of a second as the page does, each followed by a pause of 2.5 seconds.
Measured is from the sentence's last sample to the answer that holds its words. The first two sentences, for
which the process that hears is started, are told apart. With more phones all speak the same, each half a
second after the other.
"""

from __future__ import annotations

import argparse
import json
import statistics
import sys
import tempfile
import threading
import time
from itertools import cycle, islice
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "serve"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "hearing"))

from hearing_sounds import CLIPS, RATE_HZ, clip, said, white_noise
from served import Paired, start

PAUSE_S = 2.5
PIECE = RATE_HZ // 4
LAST_S = 10.0
STARTING = 2


def sentences(count: int) -> tuple[np.ndarray, list[float]]:
    """The sound, and the second at which each sentence in it ends."""
    every = [(name, each) for name in sorted(p.name for p in CLIPS.glob("*.opus")) for each in said(name)]
    parts: list[np.ndarray] = []
    ends: list[float] = []
    at_s = 0.0
    for name, each in islice(cycle(every), count):
        spoken = clip(name)[int((each["start_s"] - 0.2) * RATE_HZ) : int(each["end_s"] * RATE_HZ)]
        ends.append(at_s + len(spoken) / RATE_HZ)
        parts += [spoken, white_noise(PAUSE_S, 1e-3)]
        at_s = ends[-1] + PAUSE_S
    return np.concatenate(parts), ends


def delays(phone: Paired, sound: np.ndarray, ends: list[float]) -> list[float]:
    """Seconds from each sentence's end to its words, for those whose words came."""
    job = phone.open_job()
    pcm = (np.clip(sound, -1, 1) * 32767).astype("<i2").tobytes()
    found: list[float] = []
    seen: list[str] = []
    began = time.perf_counter()
    sent, total = 0, len(sound)
    while sent < total or (len(found) < len(ends) and time.perf_counter() - began < total / RATE_HZ + LAST_S):
        piece = min(PIECE, total - sent)
        time.sleep(max(0.0, began + (sent + piece) / RATE_HZ - time.perf_counter()) if piece else 0.25)
        answer = phone.request(
            "POST",
            f"/api/jobs/{job}/live/take-aaaa?at={sent}",
            content=pcm[2 * sent : 2 * (sent + piece)],
        )
        answer.raise_for_status()
        sent += piece
        now = time.perf_counter() - began
        told = answer.json()["said"]
        if told != seen:
            # in order; only the last few are told, so their number doesn't count them
            new = len(told) - len(seen) if told[: len(seen)] == seen else 1
            found.extend(now - end for end in ends[len(found) : len(found) + new])
            seen = told
    return found


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    options.add_argument("--pauses", type=int, default=12)
    options.add_argument("--hear-with", default="quick")
    options.add_argument("--phones", type=int, default=1)
    options.add_argument("--json", action="store_true")
    given = options.parse_args()
    sound, ends = sentences(given.pauses + STARTING)
    found: list[list[float]] = []
    with tempfile.TemporaryDirectory() as folder:
        running = start(Path(folder) / "library", "--hear-with", given.hear_with)
        try:
            phones = [running.pair("technician", f"phone {at}") for at in range(given.phones)]
            threads = [
                threading.Thread(target=lambda phone=phone: found.append(delays(phone, sound, ends)))
                for phone in phones
            ]
            for thread in threads:
                thread.start()
                time.sleep(0.5)
            for thread in threads:
                thread.join()
        finally:
            running.stop()
    first = [one[0] for one in found if one]
    later = sorted(delay for one in found for delay in one[STARTING:])
    told = {
        "level": given.hear_with,
        "phones": given.phones,
        "pauses heard": f"{len(later)} of {given.pauses * given.phones}",
        "first": f"{max(first, default=0.0):.2f} s",
        "median": f"{statistics.median(later):.2f} s",
        "nine of ten within": f"{later[int(0.9 * (len(later) - 1))]:.2f} s",
        "longest": f"{later[-1]:.2f} s",
    }
    if given.json:
        print(json.dumps(told))
    else:
        print(f"| {' | '.join(told)} |\n{'| --- ' * len(told)}|\n| {' | '.join(map(str, told.values()))} |")


if __name__ == "__main__":
    main()

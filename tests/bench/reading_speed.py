"""How fast the reading stage is, and whether it grows with the text alone.

    python tests/bench/reading_speed.py [--most 1000000] [--profile]

reads the lines of tests/eval/dev.jsonl over and over, on one core, and prints for each size the words, facts,
seconds of processor time and the ratio of seconds per word to that of the size before (1.0: linear growth).
The promise: 10,000 words in under one second.
"""

from __future__ import annotations

import argparse
import cProfile
import itertools
import json
import pstats
import time
from pathlib import Path

from jobnotes.reading.read import read_text
from jobnotes.reading.trade.files import load

LINES = [
    line
    for row in (Path(__file__).parents[1] / "eval" / "dev.jsonl").read_text("utf-8").splitlines()
    for line in json.loads(row)["lines"]
]


def transcript(words: int) -> tuple[str, int]:
    """(text, number of words): whole lines, at least `words` words."""
    lines: list[str] = []
    count = 0
    for line in itertools.cycle(LINES):
        if count >= words:
            break
        lines.append(line)
        count += len(line.split())
    return "\n".join(lines), count


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--most", type=int, default=1_000_000, metavar="WORDS")
    parser.add_argument("--repeat", type=int, default=3, help="the best of so many, up to 10,000 words")
    parser.add_argument("--profile", action="store_true", help="where the time goes, at 10,000 words")
    options = parser.parse_args()
    trade = load()
    read_text("warm up", trade)
    if options.profile:
        text, _ = transcript(10_000)
        profile = cProfile.Profile()
        profile.runcall(read_text, text, trade)
        pstats.Stats(profile).sort_stats("tottime").print_stats(25)
        return
    print(f"{'words':>10s} {'facts':>9s} {'s':>9s} {'s/10,000':>9s} {'ratio':>6s}")
    before = None
    for size in (1_000, 3_000, 10_000, 30_000, 100_000, 300_000, 1_000_000):
        if size > options.most:
            break
        text, count = transcript(size)
        seconds = []
        for _ in range(options.repeat if size <= 10_000 else 1):
            start = time.process_time()
            facts = read_text(text, trade)
            seconds.append(time.process_time() - start)
        rate = min(seconds) / count * 10_000
        ratio = f"{rate / before:6.2f}" if before else ""
        print(f"{count:10d} {len(facts):9d} {min(seconds):9.3f} {rate:9.3f} {ratio}", flush=True)
        before = rate


if __name__ == "__main__":
    main()

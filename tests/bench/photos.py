"""What reading one 12-megapixel photo costs: processor time on one core, and peak memory.

    python tests/bench/photos.py [PHOTOS]

Each kind of photo of the evaluation set is drawn at 4000 × 3000 pixels, saved as a JPEG file and looked at by
a process of its own, as `jobnotes run` does it. Processor time, not the clock's: other work on the machine
makes it longer all the same, since caches and memory are shared.
"""

from __future__ import annotations

import json
import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

EVAL = Path(__file__).parents[1] / "eval" / "photos"
sys.path.insert(0, str(EVAL))

_LOOKS = """
import json, sys, time
from pathlib import Path
from jobnotes.intake.photos import shown
from jobnotes.seeing.crew import MOST_SIDE
from jobnotes.seeing.label_reader import LabelReader
reader, times = LabelReader(), []
for path in [Path(sys.argv[1]), *map(Path, sys.argv[1:])]:  # the first also loads the weights
    start = time.process_time()
    reader.see(shown(path, MOST_SIDE))
    times.append(time.process_time() - start)
peak = Path("/proc/self/status").read_text().split("VmHWM:")[1].split()[0]  # KiB; Linux only
print(json.dumps([times, int(peak) / 1024]))
"""


def main() -> None:
    from draw import drawn
    from PIL import Image

    count = int(sys.argv[1]) if sys.argv[1:] else 8
    names = [f"dev-{at:03d}" for at in range(count)] + [f"dev-text-free-{at:03d}" for at in range(count)]
    with tempfile.TemporaryDirectory() as folder:
        paths = []
        for name in names:
            path = Path(folder) / f"{name}.jpg"
            drawn(name).image.resize((4000, 3000), Image.Resampling.BICUBIC).save(path, quality=88)
            paths.append(str(path))
        done = subprocess.run(
            [sys.executable, "-c", _LOOKS, *paths], capture_output=True, text=True, check=True
        )
    times, peak = json.loads(done.stdout)
    first, rest = times[0], times[1:]
    print(f"{len(rest)} photos of 12 megapixels, half of them without writing, one core")
    print(f"a photo: median {statistics.median(rest):.2f} s, most {max(rest):.2f} s of processor time")
    print(f"the first, with libraries and weights: {first:.2f} s")
    print(f"peak memory of the process: {peak:.0f} MiB")


if __name__ == "__main__":
    main()

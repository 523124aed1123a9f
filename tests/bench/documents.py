"""Time and peak memory of drawing the three documents, by the number of photos.

    python tests/bench/documents.py [COUNT …]        # 1, 60 and 300 photos of 12 megapixels by default

Each count runs in a process of its own, from a record to the documents on disk, as the pipeline does it.
The photos are JPEGs of 4000 by 3000 pixels, made on the fly: a few different ones under many names.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from memory import peak_mib
from PIL import Image, ImageFilter

from jobnotes import record as r
from jobnotes.documents import load, write_all
from jobnotes.errors import JobnotesError
from jobnotes.intake.photos import shown

COUNTS = (1, 60, 300)
DIFFERENT = 8
START = datetime(2031, 6, 17, 8, tzinfo=UTC)


def take(path: Path, seed: int) -> None:
    """A picture with soft shapes and fine grain, which weighs about what a phone's does."""
    soft = Image.effect_noise((40, 30), 90).resize((4000, 3000), Image.Resampling.BICUBIC)
    grain = Image.effect_noise((4000, 3000), 14).filter(ImageFilter.GaussianBlur(0.6))
    lightness = Image.blend(soft, grain, 0.35)
    tint = Image.effect_noise((16, 12), 60).resize((4000, 3000), Image.Resampling.BICUBIC)
    turned = tint.transpose(Image.Transpose.ROTATE_180)
    Image.merge("YCbCr", (lightness, tint, turned)).convert("RGB").save(path, "JPEG", quality=90 + seed % 3)


def job(count: int) -> r.Record:
    """A photo for each finding, as many findings again, and a table's worth of readings."""
    facts = tuple(
        r.Fact(
            f"F{n}",
            r.Statement("finding", f"finding number {n} at the rear axle"),
            f"words of finding {n}",
            0.9,
            "sure",
            note="N1",
            start_s=float(n),
            at=START + timedelta(seconds=n),
        )
        for n in range(2 * count)
    )
    photos = tuple(
        r.Photo(
            f"P{n}",
            f"{n}.jpg",
            f"{n:064x}",
            START + timedelta(seconds=n),
            "exif",
            4000,
            3000,
            fact_ids=(f"F{n}",),
        )
        for n in range(count)
    )
    stamp = r.RecogniserStamp("whisper", "tiny.en", "0" * 64)
    note = r.Note("N1", "n.m4a", "1" * 64, START, "container", 3600.0, stamp, "", ())
    return r.Record(job=r.Job(number="7"), notes=(note,), photos=photos, facts=facts)


def one(count: int, folder: Path) -> None:
    files = sorted(folder.glob("*.jpg"))

    def picture(photo: r.Photo, side: int) -> Image.Image | None:
        try:
            return shown(files[int(photo.id[1:]) % len(files)], side, photo.file)
        except JobnotesError:
            return None

    record, house = job(count), load()
    with tempfile.TemporaryDirectory() as out:
        began, used = time.perf_counter(), time.process_time()
        written = write_all(record, "0" * 64, picture, Path(out), house=house)
        took, worked = time.perf_counter() - began, time.process_time() - used
        sizes = ", ".join(f"{path.stem} {path.stat().st_size / 1e6:.1f} MB" for path in written)
    print(
        f"{count:4d} photos: {took:5.1f} s, {worked:5.1f} s of processing, {peak_mib():4.0f} MiB at most: "
        f"{sizes}"
    )


def main() -> None:
    if len(sys.argv) == 4 and sys.argv[1] == "--one":
        one(int(sys.argv[2]), Path(sys.argv[3]))
        return
    counts = [int(text) for text in sys.argv[1:]] or COUNTS
    with tempfile.TemporaryDirectory() as folder:
        for seed in range(DIFFERENT):
            take(Path(folder) / f"{seed}.jpg", seed)
        weight = sum(file.stat().st_size for file in Path(folder).iterdir()) / DIFFERENT / 1e6
        print(f"{os.cpu_count()} processors; photos of 12 megapixels, {weight:.1f} MB each")
        for count in counts:
            subprocess.run([sys.executable, __file__, "--one", str(count), folder], check=True)


if __name__ == "__main__":
    main()

"""Input that is far larger than any job's, or says that it is: what it costs, and what is said of it.

Each case is made and read in a process of its own, with a bound on its memory and processor time.
"""

from __future__ import annotations

import json
import os
import resource
import struct
import sys
import tempfile
import traceback
import wave
import zipfile
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC
from functools import partial
from io import BytesIO
from pathlib import Path

import children
import numpy as np
import scenarios
from PIL import Image

from jobnotes.errors import JobnotesError
from jobnotes.hearing import adding
from jobnotes.intake.photos import MOST_PIXELS, open_photo, shown
from jobnotes.intake.recordings import open_recording
from jobnotes.intake.sound import blocks_16k
from jobnotes.library.library import Library
from jobnotes.office import office
from jobnotes.pipeline import take_in
from jobnotes.progress import Silent

MOST_BYTES = 2 << 30
MOST_S = 600


@dataclass(frozen=True)
class Told:
    """What came of a case; `seconds` of processor time, `most_mb` beyond what the process had before."""

    happened: str
    seconds: float
    most_mb: float
    broken: tuple[str, ...] = ()


Act = Callable[[], str]


def in_bounds(case: Callable[[Path], Act]) -> Told:
    """Carry the case out within the bounds; it gives what came of it."""
    child, stream = children.started(lambda tell: _carry_out(case, tell))
    with stream:
        raw = stream.read()
    code = children.ended(child)
    if not raw:
        return Told("", 0.0, 0.0, (f"the process ended with {code}",))
    told = json.loads(raw)
    return Told(told["happened"], told["s"], told["mb"], tuple(told["broken"]))


def _carry_out(case: Callable[[Path], Act], tell: children.Tell) -> None:
    broken, happened = [], ""
    with tempfile.TemporaryDirectory() as folder:
        # what making the case costs isn't counted
        act = case(Path(folder))
        before, started = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, os.times()
        children.limit_memory(MOST_BYTES)
        used = int(started.user + started.system)
        resource.setrlimit(resource.RLIMIT_CPU, (used + MOST_S, used + MOST_S + 5))
        try:
            happened = act()
        except JobnotesError as error:
            happened = f"refused: {error.reason}"
        except BaseException:
            broken.append(traceback.format_exc(limit=-4))
        now = os.times()
        spent = now.user + now.system - started.user - started.system
        most = (resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before) / 1024
        tell({"happened": happened, "s": spent, "mb": most, "broken": broken})


def _heard(path: Path) -> str:
    """All of it as a recogniser is given it."""
    told = open_recording(path, UTC)
    samples = sum(map(len, blocks_16k(path)))
    return f"read: {samples / 16000 / 60:.1f} minutes" + (" and a problem" if told.problem else "")


def _seen(path: Path) -> str:
    told = open_photo(path, UTC)
    small = shown(path, 1600)
    return f"read: {told.width * told.height / 1e6:.0f} megapixels, shown at {small.width} × {small.height}"


def _wave(path: Path, rate: int, samples: int, claimed: int | None = None) -> Path:
    """A wave file of silence that takes no room on the disk."""
    size = 2 * samples
    head = b"RIFF" + struct.pack("<I", min(36 + (claimed or size), 0xFFFFFFFF)) + b"WAVEfmt "
    head += struct.pack("<IHHIIHH", 16, 1, 1, rate, 2 * rate, 2, 16)
    path.write_bytes(head + b"data" + struct.pack("<I", claimed or size))
    os.truncate(path, len(head) + 8 + size)
    return path


def three_hours(folder: Path) -> Act:
    path = _wave(folder / "note 2026-02-10 09-15.wav", 16_000, 3 * 3600 * 16_000)
    return lambda: _heard(path)


def four_gibibytes_claimed(folder: Path) -> Act:
    path = _wave(folder / "note 2026-02-10 09-15.wav", 16_000, 16_000, claimed=0xFFFFFFF0)
    return lambda: _heard(path)


def one_sample_a_second(folder: Path) -> Act:
    """At 16 kHz it would be eight thousand million samples."""
    path = _wave(folder / "note 2026-02-10 09-15.wav", 1, 500_000)
    return lambda: _heard(path)


def _png(width: int, height: int) -> bytes:
    """Black, one bit a pixel: it packs a thousandfold."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes((width + 7) // 8 + 1) * height, 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def two_hundred_megapixels(folder: Path) -> Act:
    path = folder / "photo.png"
    path.write_bytes(_png(20_000, 10_000))
    return lambda: _seen(path)


def the_most_pixels(folder: Path) -> Act:
    path = folder / "photo.png"
    path.write_bytes(_png(12_000, MOST_PIXELS // 12_000))
    return lambda: _seen(path)


def a_jpeg_that_claims_four_gigapixels(folder: Path) -> Act:
    made = BytesIO()
    Image.new("RGB", (64, 48)).save(made, "JPEG")
    content = bytearray(made.getvalue())
    at = content.index(b"\xff\xc0")  # start of frame: length, precision, then height and width
    content[at + 5 : at + 9] = b"\xff\xff\xff\xff"
    path = folder / "photo.jpg"
    path.write_bytes(content)
    return lambda: _seen(path)


def five_thousand_files(folder: Path) -> Act:
    given = folder / "given"
    given.mkdir()
    rng = np.random.default_rng(1)
    for at in range(4_900):
        Image.fromarray(rng.integers(0, 255, (6, 8, 3), np.uint8)).save(given / f"IMG_{at:04}.png")
    for at in range(100):
        with wave.open(str(given / f"20310407_{at // 60:02}{at % 60:02}00.wav"), "wb") as file:
            file.setparams((1, 2, 16000, 0, "NONE", ""))
            file.writeframes(at.to_bytes(2, "little") * 1600)

    def act() -> str:
        with Library.open(folder / "library") as library:
            taken = take_in(given, library, UTC, Silent())
            return f"taken in: {len(taken.recordings):,} recordings, {len(taken.photos):,} photos"

    return act


def a_zip_of_nothing_but_noughts(folder: Path) -> Act:
    path = folder / "model.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as pack, pack.open("am/final.mdl", "w") as member:
        for _ in range(100):
            member.write(bytes(1 << 20))

    def act() -> str:
        (folder / "inside").mkdir()
        adding._unpack(path, folder / "inside", path.name, lambda doing, share: None)
        return "unpacked"

    return act


def a_price_list_of_two_hundred_thousand_lines(folder: Path) -> Act:
    sample = scenarios.WORKSHOP / "workshop.toml"
    (folder / sample.name).write_bytes(sample.read_bytes())
    lines = ["number,description,unit,price,tax,discount"]
    lines += [f"{at:07},part {at},piece,{at % 900}.50,," for at in range(200_000)]
    (folder / "prices.csv").write_text("\n".join(lines), "utf-8")

    def act() -> str:
        office.load(folder)
        return "read"

    return act


#: what is given → what is done
MADE: dict[str, Callable[[Path], Act]] = {
    "a recording of three hours": three_hours,
    "a wave of a second that claims 4 GiB": four_gibibytes_claimed,
    "a wave of one sample a second, for six days": one_sample_a_second,
    "a photo of 200 megapixels in 25 kB": two_hundred_megapixels,
    "a photo of just as many pixels as are taken": the_most_pixels,
    "a jpeg that claims 4.3 gigapixels": a_jpeg_that_claims_four_gigapixels,
    "5,000 files in a folder": five_thousand_files,
    "a zip that holds a thousandfold of its size": a_zip_of_nothing_but_noughts,
    "a price list of 200,000 lines": a_price_list_of_two_hundred_thousand_lines,
}
CASES: dict[str, Callable[[], Told]] = {name: partial(in_bounds, made) for name, made in MADE.items()}

if __name__ == "__main__":
    for name in sys.argv[1:] or CASES:
        print(name, CASES[name](), sep="\n   ", flush=True)

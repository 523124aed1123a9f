"""Damaged input for each reader: sound files, pictures, a model's zip, all files of a workshop, a record.

What is tried comes from real files that are changed at random, always in the same way for the same number. It
is read in a process that may take only so much memory and time for each; there it must be read, or refused
with a JobnotesError. Anything else is a finding: another exception, a signal, too long, too much.
"""

from __future__ import annotations

import json
import os
import random
import re
import resource
import select
import signal
import sys
import tempfile
import time
import traceback
import zipfile
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import UTC
from functools import lru_cache
from pathlib import Path
from typing import Any

import children
import numpy as np
import pillow_heif
from PIL import ExifTags, Image

from jobnotes import record_json
from jobnotes.checking import policy
from jobnotes.documents import house
from jobnotes.errors import JobnotesError
from jobnotes.hearing import adding
from jobnotes.intake.photos import open_photo, shown
from jobnotes.intake.recordings import open_recording
from jobnotes.intake.sound import mono_16k
from jobnotes.library.verification import verify_folder
from jobnotes.office import job as job_details
from jobnotes.office import office
from jobnotes.reading.trade import files as trade

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "intake"))

import made_sounds  # noqa: E402

MOST_S = 20.0
"""Of processor time for one input; all of them are small."""
MOST_BYTES = 1500 << 20
"""Of memory beyond what the process had at its start: a picture of the size that is taken needs 0.7 GB."""


@dataclass(frozen=True)
class Reader:
    """What reads: `read` is given a folder with the file `name`, whose content is one of `seeds` changed."""

    name: str
    seeds: Callable[[], Sequence[bytes]]
    read: Callable[[Path], object]
    text: bool = False


@dataclass
class Tried:
    """How many inputs of a reader were tried, and how each ended; a finding is a text. `most_mb`: of memory
    beyond that at the start."""

    tried: int = 0
    read: int = 0
    refused: int = 0
    longest_s: float = 0.0
    most_mb: float = 0.0
    findings: list[str] = field(default_factory=list)


# --- what is changed -----------------------------------------------------------------------------

_EXTREMES = [
    b"\0\0\0\0",
    b"\xff\xff\xff\xff",
    b"\x7f\xff\xff\xff",
    b"\xff\xff\xff\x7f",
    b"\0\0\0\1",
    b"\x80\0\0\0",
]
_ODD = [
    "", "0", "-1", "1e999", "nan", "9" * 5000, "-0.0000001", "true", "1979-05-27", "07:32:00", "''", '""',
    "[]", "{}", "[" * 5000, '"\\u0000"', '"\\u202e"', "\u202e\u0007", "=1+1", "@SUM(A1)", "\x1b[31m", "\0",
    "\ufeff", "𝔘", "é" * 300, '"' + "x" * 70000 + '"', "null", "2031-02-30", "..", "/etc", "%s{}", "<b>",
    "&amp;", "a.b.c", "\r", "\r\n", ",", ";", "\t", "=", "#", '"""', "[[tax]]", "[money]", "-", "1.5.5",
    "１２", "٣", "0x10", "+5", "inf",
]  # fmt: skip


def changed(seeds: Sequence[bytes], number: int, *, text: bool) -> bytes:
    """One of the seeds with a few changes; the same for the same number."""
    rng = random.Random(number)
    content = bytearray(seeds[number % len(seeds)])
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        (_change_text if text and rng.random() < 0.8 else _change_bytes)(content, rng, seeds)
    return bytes(content)


def _change_bytes(content: bytearray, rng: random.Random, seeds: Sequence[bytes]) -> None:
    # headers decide more than what they speak of
    span = rng.choice((64, 512, len(content) + 1))
    at = rng.randrange(min(span, len(content) + 1))
    size = rng.choice((1, 2, 4, 16, 300))
    match rng.randrange(7):
        case 0:
            del content[at:]
        case 1:
            content[at : at + 1] = bytes([rng.randrange(256)])
        case 2:
            content[at : at + 4] = rng.choice(_EXTREMES)
        case 3:
            del content[at : at + size]
        case 4:
            content[at:at] = content[at : at + size]
        case 5:
            content[at:at] = rng.randbytes(size)
        case _:
            other = rng.choice(seeds)
            start = rng.randrange(len(other) + 1)
            content[at : at + size] = other[start : start + size]


def _change_text(content: bytearray, rng: random.Random, seeds: Sequence[bytes]) -> None:
    lines = content.decode("utf-8", "replace").split("\n")
    at = rng.randrange(len(lines))
    odd = rng.choice(_ODD)
    match rng.randrange(6):
        case 0:
            del lines[at]
        case 1:
            lines.insert(at, lines[rng.randrange(len(lines))] if lines else odd)
        case 2:
            lines[at] = re.sub(r"([=:,]\s*).*", lambda found: found[1] + odd, lines[at], count=1)
        case 3:
            words = re.findall(r"\w+|\W", lines[at])
            if words:
                words[rng.randrange(len(words))] = odd
            lines[at] = "".join(words)
        case 4:
            lines.insert(at, odd)
        case _:
            other = rng.choice(seeds).decode("utf-8", "replace").split("\n")
            lines[at] = rng.choice(other)
    content[:] = "\n".join(lines).encode("utf-8", "replace")


# --- seeds ---------------------------------------------------------------------------------------


def _sounds(name: str) -> Callable[[], list[bytes]]:
    def made() -> list[bytes]:
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / name
            if name.endswith(".amr"):
                made_sounds.amr_by_hand(path, 1.0)
            else:
                muxer, encoder, rate = made_sounds.ENCODED[name]
                sound = made_sounds.tone(1.0, rate)
                made_sounds.encode(path, sound, muxer, encoder, rate)
            return [path.read_bytes()]

    return made


def _waves() -> list[bytes]:
    sound = made_sounds.pcm16(made_sounds.tone(0.5, 16_000))
    bext = made_sounds.bext(b"2031-04-07", b"09:30:00")
    plain = [made_sounds.pcm_format(), made_sounds.chunk(b"data", sound)]
    return [made_sounds.riff(*plain), made_sounds.riff(bext, *plain)]


def _pictures(suffix: str) -> Callable[[], list[bytes]]:
    def made() -> list[bytes]:
        exif = Image.Exif()
        exif[ExifTags.Base.Orientation] = 6
        exif[ExifTags.Base.Make] = "Sample"
        exif.get_ifd(ExifTags.IFD.Exif)[ExifTags.Base.DateTimeOriginal] = "2031:04:07 09:30:00"
        colours = np.random.default_rng(1).integers(0, 255, (48, 64, 3), np.uint8)
        found = []
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / f"a{suffix}"
            for mode in ("RGB",) if suffix == ".heic" else ("RGB", "L", "P"):
                image = Image.fromarray(colours).convert(mode)
                if suffix == ".webp":
                    image = image.convert("RGB")
                if suffix in (".heic", ".jpg") and mode == "P":
                    image = image.convert("CMYK") if suffix == ".jpg" else image.convert("RGB")
                if suffix == ".heic":
                    pillow_heif.from_pillow(image).save(path, quality=80, exif=exif.tobytes())
                else:
                    image.save(path, exif=exif.tobytes())
                found.append(path.read_bytes())
        return found

    return made


def _zips() -> list[bytes]:
    vosk = ["small/am/final.mdl", "small/conf/mfcc.conf", "small/graph/HCLG.fst"]
    whisper = ["model.bin", "config.json", "tokenizer.json", "vocabulary.txt"]
    found = []
    for names in (vosk, whisper):
        with tempfile.TemporaryFile() as file:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as pack:
                for name in names:
                    pack.writestr(name, b"weights " * 40)
            file.seek(0)
            found.append(file.read())
    return found


@lru_cache(maxsize=1)
def _from_docs() -> dict[str, str]:
    """The examples of the pages for the office: every key that a file may have stands there."""
    blocks: dict[str, str] = {}
    for page in ("prices.md", "trade-data.md"):
        text = (ROOT / "docs" / page).read_text("utf-8")
        blocks |= dict(re.findall(r"^```(?:toml|csv) (\S+)\n(.*?)^```", text, re.M | re.S))
    return blocks


def _example(name: str) -> Callable[[], list[bytes]]:
    def made() -> list[bytes]:
        seeds = [_from_docs()[name].encode()] if name in _from_docs() else []
        for own in (ROOT / "sample_media" / "workshop" / name, ROOT / "sample_media" / "job" / name):
            seeds += [own.read_bytes()] if own.exists() else []
        shipped = ROOT / "jobnotes" / "data" / name
        if not seeds:
            # of a long file the beginning
            seeds = [shipped.read_bytes()[:6000].rpartition(b"\n[")[0]]
        return seeds

    return made


@lru_cache(maxsize=1)
def _a_record() -> tuple[bytes, bytes]:
    """record.json and a document of a job that was run."""
    import scenarios

    with tempfile.TemporaryDirectory() as folder:
        place = scenarios.Place(Path(folder) / "job")
        scenarios.a_folder(place.given)
        child, told = children.started(lambda tell: scenarios.done(scenarios.run_with_all_files, place))
        with told:
            assert children.ended(child) == 0
        return (place.out / "record.json").read_bytes(), (place.out / "claim.docx").read_bytes()


# --- readers -------------------------------------------------------------------------------------


def _hear(path: Path) -> None:
    open_recording(path, UTC)
    mono_16k(path)


def _look(path: Path) -> None:
    open_photo(path, UTC)
    shown(path, 400)


def _unpack(path: Path) -> None:
    inside = path.parent / "inside"
    inside.mkdir()
    adding._unpack(path, inside, path.name, lambda doing, share: None)
    assert all(p.resolve().is_relative_to(path.parent.resolve()) for p in path.parent.rglob("*"))
    adding._only_model(inside, path.name)


def _trade(path: Path) -> None:
    if path.name == "ranges.toml":
        (path.parent / "units.toml").write_text(_from_docs()["units.toml"], "utf-8")
    trade.load(path.parent)


def _policy(path: Path) -> None:
    policy.load(path)


def _office(path: Path) -> None:
    office.load(path.parent)


def _house(path: Path) -> None:
    house.load(path.parent)


def _job(path: Path) -> None:
    job_details.load(path)


def _prices(path: Path) -> None:
    (path.parent / "workshop.toml").write_text(
        _from_docs()["workshop.toml"].replace("letterhead", "#"), "utf-8"
    )
    office.load(path.parent)


def _record(path: Path) -> None:
    record_json.from_json(json.loads(path.read_text("utf-8", "replace")))


def _record_or_no_json(path: Path) -> None:
    try:
        _record(path)
    except (ValueError, RecursionError) as error:  # what `verify` calls no JSON
        raise JobnotesError(path.name, "is not JSON", "make it again") from error


def _verify(path: Path) -> None:
    verify_folder(path.parent, path.parent / "no library")


def _reader(
    name: str, seeds: Callable[[], Sequence[bytes]], read: Callable[[Path], object], text: bool
) -> Reader:
    return Reader(name, lru_cache(maxsize=1)(seeds), read, text)


def _all() -> Iterator[Reader]:
    for name in (
        "note.m4a",
        "note.3gp",
        "note.aac",
        "note.mp3",
        "note.opus",
        "note.webm",
        "note.flac",
        "note.amr",
    ):
        yield _reader(name, _sounds(name), _hear, False)
    yield _reader("note.wav", _waves, _hear, False)
    for suffix in (".jpg", ".png", ".webp", ".heic"):
        yield _reader(f"photo{suffix}", _pictures(suffix), _look, False)
    yield _reader("model.zip", _zips, _unpack, False)
    for stem in trade.FILES:
        yield _reader(f"{stem}.toml", _example(f"{stem}.toml"), _trade, True)
    yield _reader("claim_policy.toml", _example("claim_policy.toml"), _policy, True)
    yield _reader("workshop.toml", _example("workshop.toml"), _office, True)
    for stem in ("documents", "pairing"):
        yield _reader(f"{stem}.toml", _example(f"{stem}.toml"), _house, True)
    for stem in ("prices", "labour_rates", "standard_times"):
        yield _reader(f"{stem}.csv", _example(f"{stem}.csv"), _prices, True)
    yield _reader("job.toml", _example("job.toml"), _job, True)
    yield _reader("record.json", lambda: [_a_record()[0]], _record_or_no_json, True)
    yield _reader("claim.docx", lambda: [_a_record()[1]], _verify, False)


READERS = {reader.name: reader for reader in _all()}


# --- trying --------------------------------------------------------------------------------------


def tried(reader: Reader, count: int, start: int = 0) -> Tried:
    """Let the reader read `count` changed inputs, in processes of their own."""
    result = Tried()
    seeds = list(reader.seeds())
    at, end = start, start + count
    while at < end:
        at = _in_a_process(reader, seeds, at, end, result)
    return result


#: For all inputs of one process together, by the clock on the wall.
_HANGS_AFTER_S = 1200.0


def _in_a_process(reader: Reader, seeds: list[bytes], at: int, end: int, result: Tried) -> int:
    """Where to go on: at the end, or behind the input that ended the process."""
    child, stream = children.started(lambda tell: _try(reader, seeds, range(at, end), tell))
    buffer = b""
    killed = None
    until = time.monotonic() + _HANGS_AFTER_S
    with stream:
        while True:
            if killed is None and time.monotonic() > until:
                killed = f"hangs: not ended after {_HANGS_AFTER_S:.0f} s"
                os.kill(child, signal.SIGKILL)
            ready, _, _ = select.select([stream], [], [], 1.0)
            if ready:
                piece = stream.read(65536)
                if not piece:
                    break
                buffer += piece
            elif killed is None and _processor_s(child) > MOST_S + _spent(buffer):
                killed = f"takes longer than {MOST_S:.0f} s"
                os.kill(child, signal.SIGKILL)
    code = children.ended(child)
    for line in buffer.decode("utf-8", "replace").splitlines():
        told = json.loads(line)
        at = told["at"] + 1
        result.tried += 1
        result.longest_s = max(result.longest_s, told["s"])
        result.most_mb = max(result.most_mb, told["mb"])
        match told["how"]:
            case "read":
                result.read += 1
            case "refused":
                result.refused += 1
            case other:
                result.findings.append(f"input {told['at']}: {other}")
    if code != 0:
        result.tried += 1
        result.findings.append(f"input {at}: {killed or f'ends the process with {code}'}")
        return at + 1
    return end


def _spent(buffer: bytes) -> float:
    """The processor time at which the process told of the last input."""
    lines = buffer.splitlines()
    return float(json.loads(lines[-1])["cpu"]) if lines and lines[-1].endswith(b"}") else 0.0


def _processor_s(process: int) -> float:
    fields = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def _try(reader: Reader, seeds: list[bytes], numbers: range, tell: children.Tell) -> None:
    children.limit_memory(MOST_BYTES)
    for number in numbers:
        tell(one(reader, seeds, number))


def one(reader: Reader, seeds: list[bytes], number: int) -> dict[str, Any]:
    """How reading the input with that number ended, with its time and how much more memory it took."""
    before, started = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss, time.process_time()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / reader.name
        path.write_bytes(changed(seeds, number, text=reader.text))
        try:
            reader.read(path)
            how = "read"
        except JobnotesError as error:
            how = "refused" if str(error).isprintable() else f"more than a line: {error!r}"
        except Exception:
            how = traceback.format_exc(limit=-4)
    after = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    spent = time.process_time()
    return {"at": number, "how": how, "s": spent - started, "mb": (after - before) / 1024, "cpu": spent}

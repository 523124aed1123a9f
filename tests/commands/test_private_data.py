"""What leaves the workshop has no place, no serial number of a device, and no private remark."""

from __future__ import annotations

import io
import re
import wave
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC
from pathlib import Path

import av
import exifread
import numpy as np
import pytest
from command_line import SAMPLE
from PIL import Image

from jobnotes import pipeline, workshop
from jobnotes.hearing.recogniser import Samples
from jobnotes.library.library import Library
from jobnotes.record import RecogniserStamp, Word

LEAVES = ("claim.docx", "customer.docx", "lines.xlsx", "invoice*.xml")
STAYS = ("workshop.docx", "record.json")

SAID = (
    "battery at twelve point six volts photo of the air hose",
    "cause the air hose was worn",
    "fitted one new air hose part number two zero six golf five one",
    "off the record the last workshop bodged this wiring",
    "labour diagnosis one hour",
)
#: what a device wrote into its files, and a remark: none of it may be found in what leaves
SERIALS = ("QX7BODY0042", "QX7LENS0043", "QX7IMAGE0044", "QX7PHONE0045")
PLACES = ("+52.5200", "52.52", "Wharfside Depot")
REMARK = "bodged"


class Listener:
    """Hears what SAID has for the loudness of the samples."""

    stamp = RecogniserStamp("fake", "private", "fa" * 32)

    def hear(self, samples: Samples, *, progress: Callable[[float], None] | None = None) -> tuple[Word, ...]:
        said = SAID[round(float(np.abs(samples).max()) * 10)]
        return tuple(Word(w, 0.3 * at, 0.3 * at + 0.2, 0.96) for at, w in enumerate(said.split()))


def note(path: Path, level: int) -> None:
    """Five seconds of one loudness, with the tags that a phone writes: where it was, and which phone."""
    samples = np.full((1, 16_000 * 5), round(3276.7 * level), np.int16)
    with av.open(str(path), "w", format="wav") as file:
        file.metadata.update(comment=f"{PLACES[0]}+013.4050/ {SERIALS[3]}", artist=PLACES[2])
        stream = file.add_stream("pcm_s16le", rate=16_000, layout="mono")
        frame = av.AudioFrame.from_ndarray(samples, "s16", "mono")
        frame.sample_rate = 16_000
        file.mux([*stream.encode(frame), *stream.encode(None)])
    with wave.open(str(path)) as again:
        assert again.getnframes() == 16_000 * 5


def photo(path: Path) -> None:
    image = Image.effect_noise((1600, 1200), 60).convert("RGB")
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "invented maker", "invented model"
    exif[0x9C9C] = PLACES[2].encode("utf-16-le")
    detail = exif.get_ifd(0x8769)
    # EXIF 2.32: DateTimeOriginal, BodySerialNumber, LensSerialNumber, ImageUniqueID
    detail.update({0x9003: "2031:04:07 09:00:02", 0xA431: SERIALS[0], 0xA435: SERIALS[1], 0xA420: SERIALS[2]})
    gps = exif.get_ifd(0x8825)
    gps.update({1: "N", 2: (52.0, 31.0, 12.0), 3: "E", 4: (13.0, 24.0, 18.0)})
    image.save(path, "JPEG", exif=exif, comment=b"52.52 N", xmp=b"<x:xmpmeta>Wharfside Depot</x:xmpmeta>")
    tags = exifread.process_file(io.BytesIO(path.read_bytes()))
    assert {"GPS GPSLatitude", "EXIF BodySerialNumber"} <= set(tags)


@pytest.fixture(scope="module")
def out(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("private")
    given = folder / "job"
    given.mkdir()
    for level in range(len(SAID)):
        note(given / f"20310407_09{level:02d}00.wav", level)
    photo(given / "IMG_0001.jpg")
    stated = (SAMPLE / "job" / "job.toml").read_text("utf-8")
    # half of it is the customer's, so that there is an invoice
    (given / "job.toml").write_text(f'{stated}\n[cover]\nparts = {{ warranty = "50" }}\n', "utf-8")
    with Library.open(folder / "library") as library:
        pipeline.run(
            given,
            folder / "out",
            library,
            Listener(),
            UTC,
            workshop=workshop.load(SAMPLE / "workshop", given),
            also=pipeline.Also(einvoice=True, spreadsheet=True),
        )
    return folder / "out"


def parts(path: Path) -> Iterator[tuple[str, bytes]]:
    """Every file within a file, and the file itself; text also without its mark-up."""
    yield path.name, path.read_bytes()
    if zipfile.is_zipfile(path):
        with zipfile.ZipFile(path) as package:
            for name in package.namelist():
                content = package.read(name)
                yield name, content
                if name.endswith((".xml", ".rels")):
                    yield name, re.sub(rb"<[^>]*>", b"", content)


def test_what_is_looked_for_is_there_to_be_found(out: Path) -> None:
    for name in STAYS:
        assert any(REMARK.encode() in content for _, content in parts(out / name)), name
    originals = b"".join(p.read_bytes() for p in (out.parent / "library" / "media").rglob("*.*"))
    for secret in (*SERIALS, PLACES[0], PLACES[2]):
        assert secret.encode() in originals


@pytest.mark.parametrize("name", LEAVES)
def test_what_leaves_has_no_place_no_serial_and_no_private_remark(out: Path, name: str) -> None:
    (path,) = out.glob(name)
    for part, content in parts(path):
        for secret in (*SERIALS, PLACES[0], PLACES[2], REMARK):
            for encoding in ("utf-8", "utf-16-le"):
                assert secret.encode(encoding) not in content, (part, secret)


@pytest.mark.parametrize("name", ["claim.docx", "customer.docx"])
def test_its_pictures_carry_no_tag_at_all(out: Path, name: str) -> None:
    with zipfile.ZipFile(out / name) as package:
        pictures = [package.read(n) for n in package.namelist() if n.endswith((".jpg", ".jpeg"))]
    assert pictures
    for picture in pictures:
        assert exifread.process_file(io.BytesIO(picture)) == {}
        with Image.open(io.BytesIO(picture)) as image:
            assert not image.getexif()
            assert set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density", "dpi",
                                       "progressive", "progression"}  # fmt: skip


def test_the_properties_of_a_document_name_no_person_and_no_machine(out: Path) -> None:
    for name in ("claim.docx", "customer.docx"):
        with zipfile.ZipFile(out / name) as package:
            core = package.read("docProps/core.xml").decode()
        for element in ("lastModifiedBy", "creator"):
            said = re.search(rf"<[a-z]+:{element}>([^<]*)<", core)
            assert said is None or said[1] in ("", "jobnotes")

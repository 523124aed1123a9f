"""A photo is dated by its camera, shown upright, and never half there."""

from __future__ import annotations

import io
import os
import struct
import warnings
import zlib
from datetime import UTC, datetime, timedelta, timezone
from fractions import Fraction
from pathlib import Path
from zoneinfo import ZoneInfo

import exifread
import numpy as np
import pillow_heif
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import ExifTags, Image, ImageOps

from jobnotes.errors import UnusableInputError
from jobnotes.intake.photos import MOST_PIXELS, open_photo, shown

HERE = ZoneInfo("Europe/Berlin")
SAVED = datetime(2026, 11, 5, 12, 0, tzinfo=UTC)
FORMATS = ["jpg", "png", "webp", "heic"]

Exif = ExifTags.Base


def picture(width: int = 64, height: int = 48) -> Image.Image:
    """Red on the left, blue on the right, the upper half brighter: every turn of it looks different."""
    pixels = np.zeros((height, width, 3), np.uint8)
    pixels[:, : width // 2, 0] = 120
    pixels[:, width // 2 :, 2] = 120
    pixels[: height // 2] *= 2
    return Image.fromarray(pixels)


def exif_with(details: dict[int, object] | None = None, **main: object) -> Image.Exif:
    exif = Image.Exif()
    for name, value in main.items():
        exif[Exif[name]] = value
    if details:
        exif.get_ifd(ExifTags.IFD.Exif).update(details)
    return exif


def saved(path: Path, exif: Image.Exif | None = None, image: Image.Image | None = None) -> Path:
    image = image or picture()
    extra = {} if exif is None else {"exif": exif.tobytes()}
    if path.suffix == ".heic":
        pillow_heif.from_pillow(image).save(path, quality=90, **extra)
    else:
        image.save(path, **extra)
    os.utime(path, (SAVED.timestamp(), SAVED.timestamp()))
    return path


def taken(original: str, offset: str | None = None, subsec: str | None = None) -> dict[int, object]:
    details: dict[int, object] = {Exif.DateTimeOriginal: original}
    if offset is not None:
        details[Exif.OffsetTimeOriginal] = offset
    if subsec is not None:
        details[Exif.SubsecTimeOriginal] = subsec
    return details


# --- when it was taken ---------------------------------------------------------------------------


def read_by_exifread(path: Path) -> dict[str, object]:
    """exifread finds its way through JPEG and PNG; of others it gets the TIFF block that EXIF is."""
    content = path.read_bytes()
    if path.suffix in (".webp", ".heic"):
        content = content[min(at for at in map(content.find, (b"MM\0*", b"II*\0")) if at >= 0) :]
    return exifread.process_file(io.BytesIO(content), details=False)


@pytest.mark.parametrize("suffix", FORMATS)
def test_time_and_camera_are_those_that_another_reader_finds(tmp_path: Path, suffix: str) -> None:
    """Reference: exifread, over tags of EXIF 2.32 (CIPA DC-008-2019) that Pillow wrote."""
    details = taken("2026:11:03 08:15:02", "-03:30", "25")
    path = saved(tmp_path / f"a.{suffix}", exif_with(details, Make="Acorn", Model="Shed 4"))
    tags = read_by_exifread(path)
    text = (
        f"{tags['EXIF DateTimeOriginal']}.{tags['EXIF SubSecTimeOriginal']}{tags['EXIF OffsetTimeOriginal']}"
    )
    photo = open_photo(path, HERE)
    assert photo.taken_at == datetime.strptime(text, "%Y:%m:%d %H:%M:%S.%f%z")
    assert photo.camera == f"{tags['Image Make']} {tags['Image Model']}"
    assert photo.taken_at_source == "exif"
    assert photo.taken_at.isoformat() == "2026-11-03T12:45:02.250000+01:00"
    assert photo.problem is None


def test_a_time_without_offset_is_local(tmp_path: Path) -> None:
    photo = open_photo(saved(tmp_path / "a.jpg", exif_with(taken("2026:07:03 08:15:02"))), HERE)
    assert photo.taken_at.isoformat() == "2026-07-03T08:15:02+02:00"


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    at=st.datetimes(datetime(2001, 1, 1), datetime(2079, 1, 1)),
    minutes=st.integers(-12 * 4, 14 * 4).map(lambda quarters: 15 * quarters),
    digits=st.integers(1, 6),
)
def test_what_a_camera_writes_is_read_back_to_its_last_digit(
    tmp_path: Path, at: datetime, minutes: int, digits: int
) -> None:
    at = at.replace(microsecond=at.microsecond // 10 ** (6 - digits) * 10 ** (6 - digits))
    at = at.replace(tzinfo=timezone(timedelta(minutes=minutes)))
    offset = f"{'-' if minutes < 0 else '+'}{abs(minutes) // 60:02}:{abs(minutes) % 60:02}"
    details = taken(f"{at:%Y:%m:%d %H:%M:%S}", offset, f"{at.microsecond:06}"[:digits])
    path = saved(tmp_path / "a.jpg", exif_with(details), Image.new("RGB", (2, 2)))
    assert open_photo(path, HERE).taken_at == at


@pytest.mark.parametrize(
    "unset", ["0000:00:00 00:00:00", "    :  :     :  :  ", "1970:01:01 00:00:00", "", "today"]
)
def test_a_time_that_was_never_set_is_none(tmp_path: Path, unset: str) -> None:
    """Reference: EXIF 2.32, DateTimeOriginal: blanks where the date and time are unknown."""
    path = saved(tmp_path / "IMG_20261103_081502.jpg", exif_with(taken(unset)))
    photo = open_photo(path, HERE)
    assert photo.taken_at_source == "file name"
    assert photo.taken_at.isoformat() == "2026-11-03T08:15:02+01:00"


def test_the_time_of_digitising_stands_in_for_a_missing_original_time(tmp_path: Path) -> None:
    details = {Exif.DateTimeDigitized: "2026:11:03 08:15:02", Exif.OffsetTimeDigitized: "+00:00"}
    photo = open_photo(saved(tmp_path / "a.jpg", exif_with(details)), HERE)
    assert photo.taken_at == datetime(2026, 11, 3, 8, 15, 2, tzinfo=UTC)
    assert photo.taken_at_source == "exif"


@pytest.mark.parametrize("suffix", FORMATS)
def test_a_photo_without_exif_is_used_and_named_as_a_problem(tmp_path: Path, suffix: str) -> None:
    photo = open_photo(saved(tmp_path / f"a.{suffix}"), HERE)
    assert (photo.taken_at, photo.taken_at_source, photo.camera) == (SAVED, "file time", None)
    assert photo.problem is not None
    assert photo.problem.file == f"a.{suffix}"
    assert "EXIF" in photo.problem.message
    assert ";" in photo.problem.message


def test_the_time_at_which_a_photo_was_edited_is_not_when_it_was_taken(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.jpg", exif_with(DateTime="2026:11:09 10:00:00"))
    photo = open_photo(path, HERE)
    assert photo.taken_at_source == "file time"
    assert photo.problem is not None


def test_a_name_with_only_the_day_is_doubtful_for_a_photo_copied_later(tmp_path: Path) -> None:
    photo = open_photo(saved(tmp_path / "IMG-20261103-XY0001.jpg"), HERE)
    assert photo.taken_at_source == "file name"
    assert photo.taken_at.date() == datetime(2026, 11, 3).date()
    assert photo.problem is not None
    assert "time of day" in photo.problem.message


@pytest.mark.parametrize(
    "tiff",
    [
        b"MM\0*\xff\xff\xff\xff" + bytes(range(200)),
        # one entry, the Exif IFD's pointer, of a type and size that lead beyond the end
        b"MM\0*\0\0\0\x08" + struct.pack(">HHHIII", 1, 0x8769, 7, 99, 5000, 0),
        b"MM\0*\0\0\0\x08" + struct.pack(">HHHIII", 1, 0x0112, 3, 1, 77 << 16, 0),
        b"none at all",
    ],
)
def test_damaged_exif_costs_the_time_but_not_the_photo(tmp_path: Path, tiff: bytes) -> None:
    stream = io.BytesIO()
    picture().save(stream, "JPEG", exif=b"Exif\0\0" + tiff)
    path = tmp_path / "a.jpg"
    path.write_bytes(stream.getvalue())
    with warnings.catch_warnings():
        warnings.simplefilter("error")  # the person is told by the problem, once
        photo = open_photo(path, HERE)
        assert shown(path).size == (64, 48)
    assert photo.taken_at_source == "file time"
    assert (photo.width, photo.height) == (64, 48)


@pytest.mark.parametrize(
    ("maker", "model", "camera"),
    [
        ("Acorn", "Acorn Shed 4", "Acorn Shed 4"),
        ("ACORN\0\0", "Shed\n4 ", "ACORN Shed 4"),
        ("", "Shed 4", "Shed 4"),
        ("Acorn", "", "Acorn"),
        (" ", "", None),
    ],
)
def test_a_camera_is_named_once_and_on_one_line(
    tmp_path: Path, maker: str, model: str, camera: str | None
) -> None:
    path = saved(tmp_path / "a.jpg", exif_with(taken("2026:11:03 08:15:02"), Make=maker, Model=model))
    assert open_photo(path, HERE).camera == camera


# --- how it is shown -----------------------------------------------------------------------------

# what has to be done to stored pixels so that they are upright; EXIF 2.32, tag Orientation
TURNS = {
    1: lambda a: a,
    2: lambda a: a[:, ::-1],
    3: lambda a: a[::-1, ::-1],
    4: lambda a: a[::-1],
    5: lambda a: a.transpose(1, 0, 2),
    6: lambda a: np.rot90(a, -1),
    7: lambda a: a[::-1, ::-1].transpose(1, 0, 2),
    8: lambda a: np.rot90(a, 1),
}


@pytest.mark.parametrize("orientation", TURNS)
@pytest.mark.parametrize("suffix", ["jpg", "png", "webp"])
def test_a_photo_is_shown_upright_and_its_size_is_of_what_is_shown(
    tmp_path: Path, suffix: str, orientation: int
) -> None:
    path = saved(tmp_path / f"a.{suffix}", exif_with(Orientation=orientation))
    before = path.read_bytes()
    upright = TURNS[orientation](np.asarray(picture()).astype(int))
    result = shown(path)
    assert result.mode == "RGB"
    difference = np.abs(np.asarray(result).astype(int) - upright)
    assert np.median(difference) < 8  # edges are smeared by the codec
    photo = open_photo(path, HERE)
    assert (photo.width, photo.height) == result.size == (upright.shape[1], upright.shape[0])
    assert path.read_bytes() == before


def test_a_heic_photo_is_turned_once_and_not_twice(tmp_path: Path) -> None:
    """pillow-heif turns the pixels itself, by the file's own `irot`, and leaves EXIF's tag behind."""
    path = saved(tmp_path / "a.heic", exif_with(taken("2026:11:03 08:15:02"), Orientation=6))
    upright = ImageOps.exif_transpose(Image.open(path))
    photo = open_photo(path, HERE)
    assert (photo.width, photo.height) == shown(path).size == upright.size
    assert np.median(np.abs(np.asarray(shown(path)).astype(int) - np.asarray(upright).astype(int))) < 8


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(width=st.integers(1, 300), height=st.integers(1, 300), most=st.integers(1, 400))
def test_a_smaller_view_keeps_to_its_bound_and_shape_and_never_grows(
    tmp_path: Path, width: int, height: int, most: int
) -> None:
    path = saved(tmp_path / "a.jpg", exif_with(Orientation=6), Image.new("RGB", (width, height), "green"))
    small = shown(path, max_side=most)
    assert max(small.size) == min(most, max(width, height))
    scale = max(small.size) / max(width, height)
    assert small.size == pytest.approx((max(1, height * scale), max(1, width * scale)), abs=1)


def test_what_is_shown_tells_no_place_and_nothing_else(tmp_path: Path) -> None:
    exif = exif_with(taken("2026:11:03 08:15:02"), Make="Acorn")
    exif.get_ifd(ExifTags.IFD.GPSInfo).update({ExifTags.GPS.GPSLatitude: tuple(map(Fraction, (51, 30, 1)))})
    path = saved(tmp_path / "a.jpg", exif)
    with path.open("rb") as stream:
        assert "GPS GPSLatitude" in exifread.process_file(stream)
    for suffix in ("jpg", "png", "webp"):
        copy = tmp_path / f"copy.{suffix}"
        shown(path).save(copy)
        with copy.open("rb") as stream:
            assert exifread.process_file(stream) == {}


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGBA"])
def test_every_kind_of_png_is_shown_in_rgb(tmp_path: Path, mode: str) -> None:
    path = tmp_path / "a.png"
    picture().convert(mode).save(path)
    assert shown(path).mode == "RGB"
    assert shown(path).size == (64, 48)


def test_a_png_of_16_bits_keeps_its_brightness(tmp_path: Path) -> None:
    Image.fromarray(np.full((8, 8), 0x8000, np.uint16)).save(tmp_path / "a.png")
    assert shown(tmp_path / "a.png").getpixel((4, 4)) == (128, 128, 128)


def test_what_is_transparent_is_shown_white(tmp_path: Path) -> None:
    Image.new("RGBA", (8, 8), (0, 0, 0, 0)).save(tmp_path / "a.png")
    assert shown(tmp_path / "a.png").getpixel((4, 4)) == (255, 255, 255)


# --- what can't be used --------------------------------------------------------------------------


def detailed() -> Image.Image:
    return Image.fromarray(np.random.default_rng(7).integers(0, 255, (200, 300, 3), np.uint8))


@pytest.mark.parametrize("suffix", FORMATS)
@pytest.mark.parametrize("share", [0.3, 0.7, 0.95])
def test_a_photo_cut_short_is_refused(tmp_path: Path, suffix: str, share: float) -> None:
    path = saved(tmp_path / f"a.{suffix}", image=detailed())
    whole = path.read_bytes()
    path.write_bytes(whole[: int(len(whole) * share)])
    for attempt in (lambda: open_photo(path, HERE), lambda: shown(path), lambda: shown(path, max_side=40)):
        with pytest.raises(UnusableInputError) as caught:
            attempt()
        assert caught.value.subject == path.name
        assert "copy" in caught.value.remedy


def test_a_jpeg_whose_end_was_never_copied_is_refused_although_it_has_its_length(tmp_path: Path) -> None:
    path = saved(tmp_path / "a.jpg", image=detailed())
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2] + bytes(len(whole) // 2))
    with pytest.raises(UnusableInputError, match="cut short"):
        open_photo(path, HERE)


def test_a_jpeg_with_something_after_its_end_is_used(tmp_path: Path) -> None:
    """Phones append depth maps and short films; some pad with zeros."""
    path = saved(tmp_path / "a.jpg", image=detailed())
    whole = path.read_bytes()
    for after in (bytes(5000), bytes(600) + b"film" * 400):
        path.write_bytes(whole + after)
        assert open_photo(path, HERE).width == 300


def png_claiming(width: int, height: int) -> bytes:
    def part(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + part(b"IHDR", header) + part(b"IDAT", zlib.compress(b"")) + part(b"IEND", b"")
    )


@pytest.mark.parametrize(("width", "height"), [(12_001, 10_000), (60_000, 60_000), (1, MOST_PIXELS + 1)])
def test_a_picture_of_too_many_pixels_is_refused_before_it_is_decoded(
    tmp_path: Path, width: int, height: int
) -> None:
    path = tmp_path / "a.png"
    path.write_bytes(png_claiming(width, height))
    with pytest.raises(UnusableInputError, match="120 million pixels") as caught:
        open_photo(path, HERE)
    assert "smaller" in caught.value.remedy


UNUSABLE = {
    "an empty file": (b"", "empty"),
    "text": (b"Dear workshop,\n" * 40, "text"),
    "a recording": (b"RIFF\x24\0\0\0WAVEfmt " + bytes(40), "recording"),
    "only a jpeg's beginning": (b"\xff\xd8\xff\xe0", ""),
    "a picture of another kind": (b"GIF89a" + bytes(40), "unknown"),
}


@pytest.mark.parametrize("case", UNUSABLE)
def test_what_is_no_photo_is_refused_in_one_line_with_a_remedy(
    tmp_path: Path, capfd: pytest.CaptureFixture[str], case: str
) -> None:
    content, expected = UNUSABLE[case]
    path = tmp_path / "x.jpg"
    path.write_bytes(content)
    with pytest.raises(UnusableInputError) as caught:
        open_photo(path, HERE, folder=tmp_path)
    assert caught.value.subject == "x.jpg"
    assert expected in caught.value.reason
    assert caught.value.remedy
    assert len(str(caught.value).splitlines()) == 1
    assert capfd.readouterr().err == ""


@settings(max_examples=80, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data(), suffix=st.sampled_from(FORMATS))
def test_damage_anywhere_gives_a_photo_or_a_plain_refusal(
    tmp_path: Path, data: st.DataObject, suffix: str
) -> None:
    seed = tmp_path / f"seed.{suffix}"
    if not seed.exists():
        saved(seed, exif_with(taken("2026:11:03 08:15:02"), Make="Acorn", Orientation=6))
    content = bytearray(seed.read_bytes())
    for _ in range(data.draw(st.integers(1, 8))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path / f"a.{suffix}"
    path.write_bytes(content[: data.draw(st.integers(1, len(content)))])
    try:
        photo = open_photo(path, HERE)
    except UnusableInputError:
        return
    assert photo.width > 0
    assert shown(path).size == (photo.width, photo.height)

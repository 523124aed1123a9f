"""Photos: when one was taken, by which camera, and the picture as a person sees it.

Positions (GPS) are never read, and what `shown` gives carries no metadata on.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from pathlib import Path
from typing import Any, Literal

import pillow_heif
from PIL import ExifTags, Image

from jobnotes.errors import Problem, UnusableInputError, one_line
from jobnotes.intake import dates, formats
from jobnotes.intake.originals import COPY_AGAIN, digest, file_name, require_file
from jobnotes.record import PhotoTimeDoubt

pillow_heif.register_heif_opener()

MOST_PIXELS = 120_000_000  # 360 MB as RGB

TakenAtSource = Literal["exif", "file name", "file time"]

_READERS = ("JPEG", "PNG", "WEBP", "HEIF")
_FEWEST_ZEROS = 512  # no picture's own data ends in as many

# what puts a picture upright, by EXIF 2.32, tag Orientation
_UPRIGHT = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
_TURNED = (5, 6, 7, 8)  # those that swap width and height


@dataclass(frozen=True, slots=True)
class TakenPhoto:
    """One photo as given. `file` is its name for people, `sha256` of its bytes.

    `taken_at` is the camera's own time, uncorrected, with the fixed offset of the zone it was opened with.
    `width` and `height` are in pixels of the picture as shown, orientation applied. `camera` is the
    maker and model it names, None if it names none. `problem` is set where the time is not EXIF's.
    """

    path: Path
    file: str
    sha256: str
    taken_at: datetime
    taken_at_source: TakenAtSource
    width: int
    height: int
    camera: str | None = None
    problem: Problem | None = None
    taken_at_doubt: PhotoTimeDoubt | None = None

    @property
    def dated_at(self) -> datetime:
        return self.taken_at

    @property
    def dated_by(self) -> str:
        return self.taken_at_source


def open_photo(path: Path, zone: tzinfo, folder: Path | None = None) -> TakenPhoto:
    """Hash a photo, decode it in full, and tell when it was taken.

    `zone` is where the camera's clock is; `folder` is what `file` is relative to. The time is EXIF 2.32
    DateTimeOriginal, else DateTimeDigitized, with its SubSec and its Offset (local in `zone` without
    one); then the time by the file name, then when the file was last written. A photo without either EXIF
    time is used, and named as a problem.

    Raises UnusableInputError, with a remedy, for what is no photo, is damaged, is cut short or has more
    than `MOST_PIXELS` pixels.
    """
    file = file_name(path, folder)
    require_file(path, file)
    sha256 = digest(path)
    with _decoded(path, file) as (image, tags):
        width, height = image.size
    if tags.orientation in _TURNED:
        width, height = height, width
    modified = dates.modified(path, zone)
    taken_at = tags.taken_at(zone, modified)
    source: TakenAtSource = "exif"
    problem = None
    doubt: PhotoTimeDoubt | None = None
    if taken_at is None:
        date = dates.outside(path.name, modified, zone)
        taken_at, source, doubt = date.at, date.source, date.doubt
        why = f": {date.why}" if date.doubt == "day only" else ""
        reason = f"holds no EXIF time; its time is by the {source}{why}"
        remedy = "check the time, or give the photo as the camera wrote it"
        problem = Problem.of(UnusableInputError(file, reason, remedy))
    return TakenPhoto(path, file, sha256, taken_at, source, width, height, tags.camera, problem, doubt)


def shown(path: Path, max_side: int | None = None, file: str | None = None) -> Image.Image:
    """The picture as a person sees it: RGB, orientation applied, transparency on white, without metadata.

    With `max_side` it is made smaller, if needed, so that neither side is longer than that many pixels.
    Raises UnusableInputError as `open_photo` does. The original isn't touched.
    """
    with _decoded(path, file or path.name, max_side) as (picture, tags):
        # a profile belongs to the kind of colours that it was made for
        profile = picture.info.get("icc_profile") if picture.mode in ("RGB", "RGBA", "P", "PA") else None
        if tags.orientation in _UPRIGHT:
            picture = picture.transpose(_UPRIGHT[tags.orientation])
        if picture.mode.startswith("I;16") or picture.mode == "I":
            picture = picture.convert("I").point(lambda value: value / 256).convert("L")
        if picture.has_transparency_data:
            picture = picture.convert("RGBA")
            paper = Image.new("RGBA", picture.size, "white")
            picture = Image.alpha_composite(paper, picture)
        picture = picture.convert("RGB")
        if max_side is not None:
            picture.thumbnail((max_side, max_side), Image.Resampling.LANCZOS)
        picture.info = {"icc_profile": profile} if profile else {}
        return picture


@contextmanager
def _decoded(path: Path, file: str, max_side: int | None = None) -> Iterator[tuple[Image.Image, _Tags]]:
    """The image as stored, and its tags. All pixels are decoded: only that shows that none is missing."""
    require_file(path, file)
    with path.open("rb") as stream:
        head = stream.read(formats.HEAD_BYTES)
        if formats.kind_of(formats.content(head)) != "photo":
            reason = f"is no photo, but {formats.looks_like(head)}"
            raise UnusableInputError(file, reason, f"give a photo: {formats.PHOTOS_SAID} can be read")
        if _zero_filled(path):
            raise UnusableInputError(file, "is cut short: its end is blank", COPY_AGAIN)
        stream.seek(0)
        try:
            with warnings.catch_warnings():
                # Pillow's own bound on pixels only warns at first; ours is checked below. Other warnings
                # are of odd metadata.
                warnings.simplefilter("ignore")
                image = Image.open(stream, formats=_READERS)
                _bound(image.size, file)
                if max_side is not None:
                    image.draft("RGB", (max_side, max_side))  # a jpeg is decoded smaller, but never below
                image.load()
                tags = _Tags.of(image)
        except UnusableInputError:
            raise
        except Image.DecompressionBombError as error:
            raise _too_large(file) from error
        except Exception as error:  # decoders raise whatever they like over a damaged file
            cut = "truncated" in str(error).lower()
            reason = "is cut short" if cut else "is damaged and can't be decoded"
            raise UnusableInputError(file, reason, COPY_AGAIN) from error
        with image:
            yield image, tags


def _bound(size: tuple[int, int], file: str) -> None:
    if size[0] * size[1] > MOST_PIXELS:
        raise _too_large(file)


def _too_large(file: str) -> UnusableInputError:
    reason = f"has more than {MOST_PIXELS // 1_000_000} million pixels"
    return UnusableInputError(file, reason, "save it smaller, and keep the original beside this folder")


def _zero_filled(path: Path) -> bool:
    """True for a jpeg whose end was never copied: zeros stand there, and no end-of-image marker before them.

    A decoder takes those zeros for grey.
    """
    block = 1 << 16
    with path.open("rb") as stream:
        if stream.read(3) != b"\xff\xd8\xff":
            return False
        end = size = path.stat().st_size
        while end > 0:
            start = max(0, end - block)
            stream.seek(start)
            written = stream.read(end - start).rstrip(b"\0")
            if written:
                end = start + len(written)
                break
            end = start
        stream.seek(max(0, end - 2))
        return size - end >= _FEWEST_ZEROS and stream.read(2) != b"\xff\xd9"


# (time, sub-second, offset), in the order of preference
_TIME_TAGS = (
    (ExifTags.Base.DateTimeOriginal, ExifTags.Base.SubsecTimeOriginal, ExifTags.Base.OffsetTimeOriginal),
    (ExifTags.Base.DateTimeDigitized, ExifTags.Base.SubsecTimeDigitized, ExifTags.Base.OffsetTimeDigitized),
)
_EXIF_TIME = re.compile(r"(\d{4}):(\d\d):(\d\d)[ T](\d\d):(\d\d):(\d\d)")
_EXIF_OFFSET = re.compile(r"([+-])(\d\d):(\d\d)")


@dataclass(frozen=True, slots=True)
class _Tags:
    """The few EXIF tags that are read."""

    orientation: int
    camera: str | None
    times: tuple[tuple[str, str, str], ...]

    @classmethod
    def of(cls, image: Image.Image) -> _Tags:
        try:
            exif = image.getexif()
            details = exif.get_ifd(ExifTags.IFD.Exif)
            times = tuple(tuple(_text(details, tag) for tag in tags) for tags in _TIME_TAGS)
            orientation = exif.get(ExifTags.Base.Orientation, 1)
            camera = _camera(_text(exif, ExifTags.Base.Make), _text(exif, ExifTags.Base.Model))
        except Exception:  # damaged metadata raises anything; the picture itself is sound
            return cls(1, None, ())
        return cls(orientation if isinstance(orientation, int) else 1, camera, times)  # type: ignore[arg-type]

    def taken_at(self, zone: tzinfo, near: datetime) -> datetime | None:
        for text, fraction, offset in self.times:
            match = _EXIF_TIME.fullmatch(text)
            if match is None:
                continue
            try:
                at = datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]
            except ValueError:
                continue
            if not dates.plausible(at):
                continue
            if fraction.isdecimal() and fraction.isascii():
                at = at.replace(microsecond=int(fraction[:6].ljust(6, "0")))
            own_zone = _offset(offset)
            if own_zone is not None:
                return dates.fixed(at.replace(tzinfo=own_zone), zone)
            return dates.localised(at, zone, near)
        return None


def _offset(text: str) -> timezone | None:
    match = _EXIF_OFFSET.fullmatch(text)
    if match is None:
        return UTC if text == "Z" else None
    east = timedelta(hours=int(match[2]), minutes=int(match[3]))
    if east > timedelta(hours=14):
        return None
    return timezone(-east if match[1] == "-" else east)


def _text(tags: Mapping[int, Any], tag: int) -> str:
    value = tags.get(tag, "")
    if isinstance(value, bytes):
        value = value.decode("utf-8", "replace")
    return one_line(value.split("\0")[0]).strip() if isinstance(value, str) else ""


def _camera(maker: str, model: str) -> str | None:
    name = model if model.casefold().startswith(maker.casefold()) else f"{maker} {model}"
    return name.strip() or None

"""Job cards, photographed: drawn by the tool, seen from an angle, saved as a camera does, then decoded."""

from __future__ import annotations

import io
from datetime import datetime, timedelta, timezone, tzinfo
from pathlib import Path

import cv2
import numpy as np
from PIL import ExifTags, Image

from jobnotes.documents.job_card import code
from jobnotes.intake.photos import open_photo, shown
from jobnotes.record import JobCard, Photo, PhotoText, RecogniserStamp, Sight
from jobnotes.seeing.barcodes import barcodes

STAMP = RecogniserStamp("none", "none", "0" * 64)
WIDTH, HEIGHT = 800, 600


def card(clock: datetime, number: str = "4417", clock_is: str = "live", **more: str) -> JobCard:
    return JobCard(number, clock, clock_is, **more)  # type: ignore[arg-type]


def drawn(job_card: JobCard) -> Image.Image:
    """The card's code as it stands on the screen or the paper."""
    out = io.BytesIO()
    code(job_card).save(out, kind="png", scale=12, border=4)
    return Image.open(io.BytesIO(out.getvalue())).convert("L")


def photographed(
    picture: Image.Image,
    *,
    fills: float = 0.7,
    tilt: float = 0.0,
    blur: float = 0.0,
    size: tuple[int, int] = (WIDTH, HEIGHT),
) -> Image.Image:
    """The picture on a grey bench. `fills`: its share of the photo's height; `tilt`: in degrees about the
    upright axis, seen from two and a half times its width away; `blur`: radius of the Gaussian in pixels;
    `size`: width and height of the photo."""
    width, height = size
    side = height * fills
    turn = np.radians(tilt)
    corners = []
    for x, y in ((-1, -1), (1, -1), (1, 1), (-1, 1)):
        away = 5 + x * np.sin(turn)  # in half sides
        corners.append(
            (width / 2 + side / 2 * 5 * x * np.cos(turn) / away, height / 2 + side / 2 * 5 * y / away)
        )
    source = np.asarray(picture, dtype=np.uint8)
    h, w = source.shape
    matrix = cv2.getPerspectiveTransform(
        np.array([(0, 0), (w, 0), (w, h), (0, h)], np.float32), np.array(corners, np.float32)
    )
    scene = cv2.warpPerspective(
        source, matrix, size, flags=cv2.INTER_AREA, borderMode=cv2.BORDER_CONSTANT, borderValue=120
    )
    noise = np.random.default_rng(7).normal(0, 4, scene.shape)
    if blur:
        scene = cv2.GaussianBlur(scene, (0, 0), blur)
    grey = np.clip(scene * 0.8 + 20 + noise, 0, 255).astype(np.uint8)
    return Image.fromarray(grey).convert("RGB")


def saved(
    image: Image.Image, path: Path, camera_time: datetime, *, camera: str = "phone", offset: bool = True
) -> Path:
    """As a camera saves it whose clock shows `camera_time`, with the offset of that or without."""
    exif = Image.Exif()
    exif[ExifTags.Base.Model] = camera
    details = {ExifTags.Base.DateTimeOriginal: f"{camera_time:%Y:%m:%d %H:%M:%S}"}
    if offset:
        told = camera_time.isoformat()[-6:]
        details[ExifTags.Base.OffsetTimeOriginal] = told
    exif.get_ifd(ExifTags.IFD.Exif).update(details)
    image.save(path, quality=85, exif=exif.tobytes())
    return path


def taken_in(paths: list[Path], zone: tzinfo) -> list[Photo]:
    """The photos as they are handed to linking, with what a barcode reader sees in them."""
    opened = sorted((open_photo(path, zone) for path in paths), key=lambda p: (p.taken_at, p.file))
    return [
        Photo(f"P{n}", p.file, p.sha256, p.taken_at, p.taken_at_source, p.width, p.height, camera=p.camera,
              sight=Sight(STAMP, tuple(codes_in(shown(p.path)))))
        for n, p in enumerate(opened, 1)
    ]  # fmt: skip


def codes_in(image: Image.Image) -> list[PhotoText]:
    grey = np.asarray(image.convert("L"), dtype=np.uint8)
    return [
        PhotoText(b.text, 1.0, ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9)), b.symbology)
        for b in barcodes(grey)
    ]


def offset_zone(seconds: float) -> timezone:
    return timezone(timedelta(seconds=seconds))

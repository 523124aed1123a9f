"""Pictures for a document: opened one at a time, drawn smaller, without a trace of what the camera wrote."""

from __future__ import annotations

import os
import warnings
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from PIL import Image, UnidentifiedImageError

from jobnotes.errors import JobnotesError
from jobnotes.record import Photo

Pictures = Callable[[Photo, int], Image.Image | None]
"""Gives a photo as it is shown, orientation applied, or None: called with the photo and the side in pixels
that is wanted, beyond which no side need reach.

It is called from several threads at once. Each closes its picture before it asks for the next one.
"""

# long side in pixels and JPEG quality, from the best to the least that is still worth looking at
LONGEST_SIDE = 1400
_LADDER = ((LONGEST_SIDE, 80), (1100, 78), (750, 75), (640, 70), (480, 65), (360, 60), (300, 50))
# the side that a picture is asked for, by rung: one decoding then serves several documents. A JPEG of twelve
# megapixels, 4000 by 3000, is decoded at half or at a quarter of its size for these.
_ASKED = (LONGEST_SIDE, LONGEST_SIDE, 750, 750, 750, 750, 750)
_TRIED = 8
_MARGIN = 0.9  # of a budget that may be filled by what a few photos tell of all
_WORKERS = max(1, min(4, os.cpu_count() or 1))
_MOST_ICC_BYTES = 4096
_UNREADABLE = (
    OSError,
    ValueError,
    SyntaxError,
    EOFError,
    UnidentifiedImageError,
    Image.DecompressionBombError,
    JobnotesError,
)


@dataclass(frozen=True, slots=True)
class Shown:
    """A picture ready for a document: a JPEG file of that quality and its size in pixels and bytes."""

    path: Path
    width: int
    height: int
    bytes: int
    quality: int = _LADDER[0][1]


class Shelf:
    """Pictures of one record, kept on disk so that memory doesn't grow with them.

    What a photo looks like in a document depends on the photos and the budget of that document alone, not on
    what else was drawn before.
    """

    def __init__(self, pictures: Pictures, folder: Path) -> None:
        self._pictures = pictures
        self._folder = folder
        self._made: dict[tuple[str, int], Shown | None] = {}
        self._stems: dict[str, str] = {}
        self._drawings = 0

    def drawing(self) -> Path:
        """A fresh name for a picture that is drawn here and not asked for."""
        self._drawings += 1
        return self._folder / f"drawing-{self._drawings}.png"

    def prepare(self, photos: Sequence[Photo], budgets: Iterable[int]) -> None:
        """Make at once what `within` will be asked for: each photo is then decoded once for all of them."""
        rungs = {self._rung(photos, budget) for budget in budgets}
        self._make(photos, rungs)

    def within(self, photos: Sequence[Photo], budget: int) -> Mapping[str, Shown | None]:
        """The photos at the best size at which all of them together weigh at most `budget` bytes.

        A photo that can't be shown is None. Where even the smallest size is too much, the last photos
        are left out: what matters comes first in `photos`.
        """
        rung = self._rung(photos, budget)
        self._make(photos, {rung})
        best = {photo.id: self._made[photo.id, rung] for photo in photos}
        # the guess was wrong: smaller ones are made of those that are there
        while _weight(best.values()) > budget and rung < len(_LADDER) - 1:
            rung += 1
            best = self._smaller(best, rung)
        kept: dict[str, Shown | None] = {}
        for photo_id, shown in best.items():
            budget -= shown.bytes if shown else 0
            if budget < 0:
                break
            kept[photo_id] = shown
        return MappingProxyType(kept)

    def _rung(self, photos: Sequence[Photo], budget: int) -> int:
        """The best rung at which all photos should fit, by what a few of them weigh."""
        # by id, so that it doesn't matter in which order a document shows them
        ordered = sorted(photos, key=lambda photo: photo.id)
        if not ordered:
            return 0
        some = ordered[:: max(1, len(ordered) // _TRIED)]
        room = budget if len(some) == len(ordered) else budget * _MARGIN
        for rung in range(len(_LADDER)):
            if (some[0].id, rung) not in self._made:
                # one decoding serves all that are made of the same side
                self._make(some, {r for r, side in enumerate(_ASKED) if side == _ASKED[rung]})
            weight = _weight(self._made[photo.id, rung] for photo in some)
            if weight * len(ordered) <= room * len(some):
                return rung
        return len(_LADDER) - 1

    def _make(self, photos: Sequence[Photo], rungs: Iterable[int]) -> None:
        """Make what is not there yet, a few photos at a time: decoding and scaling leave Python's lock."""
        wanted: list[tuple[Photo, int, tuple[int, ...]]] = []
        for photo in {photo.id: photo for photo in photos}.values():
            self._stems.setdefault(photo.id, str(len(self._stems)))
            missing = [rung for rung in sorted(rungs) if (photo.id, rung) not in self._made]
            for side in dict.fromkeys(_ASKED[rung] for rung in missing):
                wanted.append((photo, side, tuple(rung for rung in missing if _ASKED[rung] == side)))
        if not wanted:
            return
        # Pillow's users set warnings aside for a while, which is not safe among threads: put them back after
        with warnings.catch_warnings():
            pool = ThreadPoolExecutor(_WORKERS)
            try:
                for (photo, _, made_of), shown in zip(wanted, pool.map(self._ask, wanted), strict=True):
                    self._made.update(
                        ((photo.id, rung), one) for rung, one in zip(made_of, shown, strict=True)
                    )
            finally:
                pool.shutdown(cancel_futures=True)

    def _ask(self, wanted: tuple[Photo, int, tuple[int, ...]]) -> list[Shown | None]:
        photo, side, rungs = wanted
        try:
            image = self._pictures(photo, side)
            if image is None:
                return [None] * len(rungs)
            try:
                image.draft("RGB", (side, side))  # a JPEG that is not decoded yet needs no more pixels
                pixels = _plain(image)
                return [_save(pixels, self._path(photo.id, rung), rung) for rung in rungs]
            finally:
                image.close()
        except _UNREADABLE:
            # the picture is named on the page as one that can't be shown
            return [None] * len(rungs)

    def _path(self, photo_id: str, rung: int) -> Path:
        return self._folder / f"{self._stems[photo_id]}-{_LADDER[rung][0]}.jpg"

    def _smaller(self, best: Mapping[str, Shown | None], rung: int) -> dict[str, Shown | None]:
        made: dict[str, Shown | None] = {}
        for photo_id, shown in best.items():
            if shown is not None:
                with Image.open(shown.path) as image:
                    path = shown.path.with_name(f"{shown.path.stem}-{_LADDER[rung][0]}.jpg")
                    shown = _save(_plain(image), path, rung)
            made[photo_id] = shown
        return made


def _weight(shown: Iterable[Shown | None]) -> int:
    return sum(one.bytes for one in shown if one)


def _plain(image: Image.Image) -> Image.Image:
    """The picture in colours or greys, transparency on white, with its profile where that still fits."""
    profile = image.info.get("icc_profile")
    if image.mode not in ("RGB", "L"):
        if image.mode in ("RGBA", "LA", "PA", "P"):
            pixels = image.convert("RGBA")
            image = Image.new("RGB", pixels.size, "white")
            image.paste(pixels, mask=pixels.getchannel("A"))
        elif image.mode.startswith("I") or image.mode == "F":
            low, high = image.getextrema()
            span = (float(high) - float(low)) or 1.0  # type: ignore[arg-type]
            image = image.point(lambda v: v * (255.0 / span) - float(low) * 255.0 / span).convert("L")  # type: ignore[arg-type]
        else:
            image = image.convert("RGB")
            profile = None
    else:
        image.load()
    image.info = {"icc_profile": profile} if isinstance(profile, bytes) else {}
    return image


def _save(image: Image.Image, path: Path, rung: int) -> Shown:
    """Write `image` as a JPEG of that rung with no metadata but a small colour profile."""
    side, quality = _LADDER[rung]
    profile = image.info.get("icc_profile")
    scale = min(1.0, side / max(image.size))
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
    if size != image.size:
        image = image.resize(size, Image.Resampling.HAMMING, reducing_gap=1.01)
    # a fresh picture carries no comment, no EXIF and no position from the old one
    clean = Image.new(image.mode, image.size)
    clean.paste(image)
    keep = profile is not None and len(profile) <= _MOST_ICC_BYTES and clean.mode == "RGB"
    clean.save(path, "JPEG", quality=quality, icc_profile=profile if keep else None)
    return Shown(path, *size, path.stat().st_size, quality)

"""Pictures for a document: opened one at a time, drawn smaller, without a trace of what the camera wrote."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from PIL import Image, UnidentifiedImageError

from jobnotes.errors import JobnotesError
from jobnotes.record import Photo

Pictures = Callable[[Photo], Image.Image | None]
"""Gives a photo as it is shown, orientation applied, or None; it need not be larger than `LONGEST_SIDE`.

The documents stage closes the picture before it asks for the next one.
"""

# long side in pixels and JPEG quality, from the best to the least that is still worth looking at
LONGEST_SIDE = 1400
_LADDER = ((LONGEST_SIDE, 80), (1100, 78), (850, 75), (640, 70), (480, 65), (360, 60), (300, 50))
_TRIED = 12
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
    """A picture ready for a document: a JPEG file and its size in pixels and bytes."""

    path: Path
    width: int
    height: int
    bytes: int


class Shelf:
    """Pictures of one record, each asked for once, kept on disk so that memory doesn't grow with them."""

    def __init__(self, pictures: Pictures, folder: Path) -> None:
        self._pictures = pictures
        self._folder = folder
        self._best: dict[str, Shown | None] = {}
        self._drawings = 0

    def drawing(self) -> Path:
        """A fresh name for a picture that is drawn here and not asked for."""
        self._drawings += 1
        return self._folder / f"drawing-{self._drawings}.png"

    def within(self, photos: Sequence[Photo], budget: int) -> Mapping[str, Shown | None]:
        """The photos at the best size at which all of them together weigh at most `budget` bytes.

        A photo that can't be shown is None. Where even the smallest size is too much, the last photos
        are left out: what matters comes first in `photos`.
        """
        best = {photo.id: self._first(photo) for photo in photos}
        weight = sum(shown.bytes for shown in best.values() if shown)
        if weight <= budget:
            return MappingProxyType(best)
        some = dict(list(best.items())[:: max(1, len(best) // _TRIED)])
        whole = sum(shown.bytes for shown in some.values() if shown) / max(weight, 1)
        smaller: dict[str, Shown | None] = {}
        for rung in range(1, len(_LADDER)):
            last = rung == len(_LADDER) - 1
            # a few photos tell whether a size is worth making of all
            if last or self._at(some, rung, round(budget * whole), last=False)[1]:
                smaller, fits = self._at(best, rung, budget, last=last)
                if fits:
                    break
        return MappingProxyType(smaller)

    def _at(
        self, best: Mapping[str, Shown | None], rung: int, budget: int, *, last: bool
    ) -> tuple[dict[str, Shown | None], bool]:
        side, quality = _LADDER[rung]
        made: dict[str, Shown | None] = {}
        weight = 0
        for photo_id, shown in best.items():
            if shown is None:
                made[photo_id] = None
                continue
            path = shown.path.with_name(f"{shown.path.stem}-{side}.jpg")
            if not path.exists():
                with Image.open(shown.path) as image:
                    _save(image, path, side, quality)
            size = path.stat().st_size
            if weight + size > budget:
                if not last:
                    return made, False
                break
            weight += size
            with Image.open(path) as image:
                made[photo_id] = Shown(path, *image.size, size)
        return made, True

    def _first(self, photo: Photo) -> Shown | None:
        if photo.id not in self._best:
            self._best[photo.id] = self._ask(photo)
        return self._best[photo.id]

    def _ask(self, photo: Photo) -> Shown | None:
        path = self._folder / f"{len(self._best)}.jpg"
        try:
            image = self._pictures(photo)
            if image is None:
                return None
            try:
                side, quality = _LADDER[0]
                size = _save(image, path, side, quality)
            finally:
                image.close()
        except _UNREADABLE:
            # the picture is named on the page as one that can't be shown
            return None
        return Shown(path, *size, path.stat().st_size)


def _save(image: Image.Image, path: Path, side: int, quality: int) -> tuple[int, int]:
    """Write `image` as a JPEG with no metadata but a small colour profile; returns its size in pixels."""
    image.draft("RGB", (side, side))  # a JPEG that is not decoded yet needs no more pixels than that
    profile = image.info.get("icc_profile")
    scale = min(1.0, side / max(image.size))
    size = (max(1, round(image.width * scale)), max(1, round(image.height * scale)))
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
    if size != image.size:
        image = image.resize(size, Image.Resampling.HAMMING, reducing_gap=1.01)
    # a fresh picture carries no comment, no EXIF and no position from the old one
    clean = Image.new(image.mode, image.size)
    clean.paste(image)
    keep = isinstance(profile, bytes) and len(profile) <= _MOST_ICC_BYTES and clean.mode == "RGB"
    clean.save(path, "JPEG", quality=quality, icc_profile=profile if keep else None)
    return size

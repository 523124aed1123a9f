"""What makes a photo a poor proof: measured when it comes in, while it can still be taken again."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from jobnotes.intake.photos import shown
from jobnotes.record import Flaw

SIDE = 1024  # the longest side, in pixels, at which a picture is measured, whatever camera took it

# where they come from: docs/photos.md
_TOO_SMALL = 480  # pixels of the shorter side
_TOO_DARK = 56.0  # of 255, below which all but a fiftieth of the picture lies
_BURNT_OUT = 0.2  # share of the picture that is white to the last bit
_BLURRED = 20.0

_REMEDIES: dict[Flaw, str] = {
    "too dark": "more light on it",
    "burnt out": "from another side, without the glare",
    "blurred": "hold still, tap on what must be sharp",
    "too small": "go closer, at the camera's full size",
}


def sharpness(grey: NDArray[np.uint8]) -> float:
    """The variance of the Laplacian, of the sharpest sixteenth of the picture; `grey` is `SIDE` long or less.

    The measure is of Pech-Pacheco and others, "Diatom autofocusing in brightfield microscopy: a comparative
    study", ICPR 2000 (named from memory). What is dark has weaker edges and is not less sharp: the picture is
    stretched to the whole range first.
    """
    low, high = (float(level) for level in np.percentile(grey, (1, 99)))
    stretched = np.clip((grey - low) * (255 / max(high - low, 32)), 0, 255).astype(np.uint8)
    laplacian = cv2.Laplacian(cv2.GaussianBlur(stretched, (3, 3), 0), cv2.CV_64F)
    return float(max(part.var() for part in _parts(laplacian)))


def flaws(grey: NDArray[np.uint8], width: int, height: int) -> tuple[Flaw, ...]:
    """What is wrong with a photo of `width` × `height` pixels, which `grey` shows at `SIDE` or less."""
    found: list[Flaw] = []
    if min(width, height) < _TOO_SMALL:
        found.append("too small")
    if float(np.percentile(grey, 98)) < _TOO_DARK:
        found.append("too dark")
    if float((grey >= 254).mean()) > _BURNT_OUT:
        found.append("burnt out")
    if sharpness(grey) < _BLURRED:
        found.append("blurred")
    return tuple(found)


def flaws_of_file(path: Path) -> tuple[Flaw, ...]:
    """What is wrong with the photo there. A larger one is decoded smaller; raises UnusableInputError as
    `intake.photos.shown` does."""
    picture = shown(path, 2 * SIDE)
    width, height = picture.size
    picture.thumbnail((SIDE, SIDE))
    return flaws(np.asarray(picture.convert("L"), dtype=np.uint8), width, height)


def remark(found: Sequence[Flaw]) -> str:
    """What a person at the camera is told: "too dark: take it again, more light on it"."""
    return f"{', '.join(found)}: take it again, {'; '.join(_REMEDIES[flaw] for flaw in found)}"


def _parts(grey: NDArray[Any]) -> list[NDArray[Any]]:
    """A picture in sixteen: only what was aimed at must be sharp."""
    rows = np.array_split(grey, min(4, grey.shape[0]), axis=0)
    return [part for row in rows for part in np.array_split(row, min(4, grey.shape[1]), axis=1)]

"""What makes a photo a poor proof: measured when it comes in, while it can still be taken again."""

from __future__ import annotations

from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from jobnotes.record import Flaw

SIDE = 1024  # the longest side, in pixels, at which a picture is measured, whatever camera took it

_TOO_SMALL = 480  # pixels of the shorter side
_TOO_DARK = 40.0  # of 255: nearly nothing is brighter
_BURNT_OUT = 0.25  # share of the picture that is white to the last bit
_BLURRED = 30.0


def sharpness(grey: NDArray[np.uint8]) -> float:
    """The variance of the Laplacian, of the sharpest quarter of the picture; `grey` is `SIDE` long or less.

    The measure is of Pech-Pacheco and others, "Diatom autofocusing in brightfield microscopy: a comparative
    study", ICPR 2000 (named from memory).
    """
    laplacian = cv2.Laplacian(cv2.GaussianBlur(grey, (3, 3), 0), cv2.CV_64F)
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


def _parts(grey: NDArray[Any]) -> list[NDArray[Any]]:
    """A picture in sixteen: only what was aimed at must be sharp."""
    return [part for row in np.array_split(grey, 4, axis=0) for part in np.array_split(row, 4, axis=1)]

"""A fingerprint of what a photo looks like: that of a second take of the same thing differs in few bits."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

_SIDE = 32  # pixels, to which the picture is shrunk: no detail, no noise is left
_LOWEST = 8  # frequencies each way that count


def fingerprint(grey: NDArray[np.uint8]) -> str:
    """64 bits as hexadecimal: which of the lowest frequencies of the picture are above their median.

    It is the perceptual hash by the discrete cosine transform, as Zauner, "Implementation and benchmarking of
    perceptual image hash functions", 2010, describes it (named from memory). Brightness doesn't count.
    """
    small = cv2.resize(cv2.GaussianBlur(grey, (7, 7), 0), (_SIDE, _SIDE), interpolation=cv2.INTER_AREA)
    waves = cv2.dct(small.astype(np.float32))[:_LOWEST, :_LOWEST].flatten()
    bits = waves > np.median(waves[1:])  # the first is the brightness
    return f"{int(''.join('1' if bit else '0' for bit in bits), 2):016x}"

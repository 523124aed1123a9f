"""Which photos look alike: a fingerprint of each, and groups of those whose fingerprints are close."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

SIDE = 16


def fingerprint(grey: NDArray[np.uint8]) -> str:
    """64 bits as hexadecimal: whether each field of a coarse picture is brighter than its neighbour."""
    small = cv2.resize(grey, (9, 8), interpolation=cv2.INTER_AREA).astype(np.int16)
    bits = (small[:, 1:] > small[:, :-1]).flatten()
    return f"{int(''.join('1' if bit else '0' for bit in bits), 2):016x}"

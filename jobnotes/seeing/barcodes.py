"""Barcodes in a picture: what they say, and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import zxingcpp
from numpy.typing import NDArray

from jobnotes.seeing.lines import Quad

#: those that stand on parts, labels and job cards, as their standards name them: ISO/IEC 15417, 16388, 15420,
#: 16022 and 18004
KINDS = {
    zxingcpp.BarcodeFormat.Code128: "Code 128",
    zxingcpp.BarcodeFormat.Code39: "Code 39",
    zxingcpp.BarcodeFormat.EAN13: "EAN-13",
    zxingcpp.BarcodeFormat.EAN8: "EAN-8",
    zxingcpp.BarcodeFormat.DataMatrix: "Data Matrix",
    zxingcpp.BarcodeFormat.QRCode: "QR Code",
}
_FORMATS: Any = list(KINDS)
_MOST = 16  # barcodes in one picture
_LONGEST = 400  # characters; a part's barcode has a few dozen


@dataclass(frozen=True, slots=True)
class Barcode:
    """What a barcode says, its kind, and where it is in the picture."""

    text: str
    symbology: str
    quad: Quad


def barcodes(grey: NDArray[np.uint8]) -> tuple[Barcode, ...]:
    """Those in a picture of shape (height, width); each text of a kind once, as it stands top to bottom."""
    found: dict[tuple[str, str], Barcode] = {}
    for code in zxingcpp.read_barcodes(np.ascontiguousarray(grey), formats=_FORMATS, try_invert=False):
        kind = next((name for key, name in KINDS.items() if key == code.format), str(code.format))
        text = code.text.strip()
        if not code.valid or not text or len(text) > _LONGEST:
            continue
        at = code.position
        corners = (at.top_left, at.top_right, at.bottom_right, at.bottom_left)
        quad = np.array([(p.x, p.y) for p in corners], dtype=np.float64)
        found.setdefault((kind, text), Barcode(text, kind, quad))
    return tuple(sorted(found.values(), key=lambda b: tuple(b.quad.mean(axis=0)[::-1])))[:_MOST]

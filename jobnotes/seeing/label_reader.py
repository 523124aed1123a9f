"""The photo reader: writing, barcodes, flaws and likeness of one picture, bounded in time and memory."""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from jobnotes.record import Corners, PhotoText, RecogniserStamp, Sight
from jobnotes.seeing import quality
from jobnotes.seeing.barcodes import KINDS, barcodes
from jobnotes.seeing.likeness import fingerprint
from jobnotes.seeing.lines import Quad, in_reading_order
from jobnotes.seeing.writing import ENGINE, MODEL, WEIGHTS, Writing, WritingSettings, versions

_RULES = 2  # counted up with each change of this package that changes what is seen
_BARCODE_SIDE = 2000  # pixels: the bars of a label that fills a tenth of the width are still apart
_LEAST_SIDE = 16  # pixels


@dataclass(frozen=True)
class LabelReader:
    """Satisfies `PhotoReader`. It can be handed to another process, which then loads the weights itself."""

    settings: WritingSettings = field(default_factory=WritingSettings)
    _writing: list[Writing] = field(default_factory=list, init=False, repr=False, compare=False)

    @property
    def stamp(self) -> RecogniserStamp:
        made_by = {
            "rules": _RULES,
            "settings": asdict(self.settings),
            "weights": sorted(sha256 for _, sha256 in WEIGHTS.values()),
            "versions": versions(),
            "barcodes": sorted(KINDS.values()),
        }
        sha256 = hashlib.sha256(json.dumps(made_by, sort_keys=True).encode()).hexdigest()
        return RecogniserStamp(ENGINE, MODEL, sha256)

    def see(self, picture: Image.Image) -> Sight:
        """See `PhotoReader`."""
        width, height = picture.size
        seen = _no_longer(picture, self.settings.side)
        colours = cv2.cvtColor(np.asarray(seen, dtype=np.uint8), cv2.COLOR_RGB2BGR)
        grey = cv2.cvtColor(colours, cv2.COLOR_BGR2GRAY)
        small = _grey(seen, quality.SIDE)
        texts: list[PhotoText] = []
        if min(grey.shape) >= _LEAST_SIDE:
            texts += self._texts(np.asarray(colours, dtype=np.uint8))
            texts += _codes(_smaller(np.asarray(grey, dtype=np.uint8), _BARCODE_SIDE))
        return Sight(
            self.stamp,
            tuple(texts),
            quality.flaws(small, width, height),
            round(quality.sharpness(small), 1),
            fingerprint(small),
        )

    def _texts(self, colours: NDArray[np.uint8]) -> list[PhotoText]:
        if not self._writing:
            self._writing.append(Writing(self.settings))
        height, width = colours.shape[:2]
        lines = in_reading_order(self._writing[0].read(colours))
        return [
            PhotoText(line.text, round(line.confidence, 3), _shares(line.quad, width, height))
            for line in lines
        ]

    def __getstate__(self) -> dict[str, object]:
        return {"settings": self.settings}

    def __setstate__(self, state: dict[str, object]) -> None:
        object.__setattr__(self, "settings", state["settings"])
        object.__setattr__(self, "_writing", [])


def _codes(grey: NDArray[np.uint8]) -> list[PhotoText]:
    height, width = grey.shape
    return [
        PhotoText(code.text, 1.0, _shares(code.quad, width, height), code.symbology)
        for code in barcodes(grey)
    ]


def _shares(quad: Quad, width: int, height: int) -> Corners:
    within = np.clip(quad / np.array([width, height]), 0.0, 1.0)
    return tuple((round(float(x), 4), round(float(y), 4)) for x, y in within)


def _no_longer(picture: Image.Image, side: int) -> Image.Image:
    if max(picture.size) <= side:
        return picture
    smaller = picture.copy()
    smaller.thumbnail((side, side), Image.Resampling.BOX, reducing_gap=None)
    return smaller


def _grey(picture: Image.Image, side: int) -> NDArray[np.uint8]:
    return np.asarray(_no_longer(picture, side).convert("L"), dtype=np.uint8)


def _smaller(grey: NDArray[np.uint8], side: int) -> NDArray[np.uint8]:
    longest = max(grey.shape)
    if longest <= side:
        return grey
    size = tuple(max(1, round(length * side / longest)) for length in grey.shape[::-1])
    return np.asarray(cv2.resize(grey, size, interpolation=cv2.INTER_AREA), dtype=np.uint8)

"""Small pictures, made on the fly."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from PIL import Image, ImageDraw, ImageFont

LABEL = ("COOLANT PUMP", "P/N 4 718 552", "S/N H230771", "24.6 V")


def label(lines: Sequence[str] = LABEL, size: tuple[int, int] = (800, 600), text: int = 44) -> Image.Image:
    """A white label on a dull ground, upright."""
    image = Image.new("RGB", size, (96, 100, 104))
    draw = ImageDraw.Draw(image)
    draw.rectangle((60, 60, size[0] - 60, size[1] - 60), fill=(246, 246, 240))
    font = ImageFont.load_default(text)
    for at, line in enumerate(lines):
        draw.text((100, 90 + at * text * 1.9), line, fill=(16, 16, 20), font=font)
    return image


def grain(size: tuple[int, int] = (800, 600), seed: int = 7) -> Image.Image:
    """Coarse noise, as sharp as it gets, with nothing written."""
    numbers = np.random.default_rng(seed)
    coarse = numbers.integers(40, 200, (size[1] // 20, size[0] // 20), dtype=np.uint8)
    return Image.fromarray(coarse).resize(size, Image.Resampling.NEAREST).convert("RGB")

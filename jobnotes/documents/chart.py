"""A small chart of one reading before and after the repair, against its limit.

Circles are before and squares are after, so that it needs no colour; it holds nothing that the words
beside it do not say.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from decimal import Decimal
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont

from jobnotes.documents.pictures import Shown
from jobnotes.record import Limit

WIDTH_MM, HEIGHT_MM = 110.0, 14.0
_PX_PER_MM = 8
_FINER = 3  # drawn this much larger, then scaled down, for smooth edges
_BEFORE, _AFTER, _LINE, _BAND, _EDGE = "#7A5C12", "#1D4350", "#5C6B73", "#DCE5E2", "#8FA39D"


def strip(
    before: Sequence[Decimal],
    after: Sequence[Decimal],
    limit: Limit | None,
    path: Path,
    written: Callable[[Decimal], str],
) -> Shown | None:
    """Draw the chart as a PNG; None where there is nothing to compare or a value has no place on a line.

    `written` puts the last value of each side in figures.
    """
    low, high, nominal = (limit.min, limit.max, limit.nominal) if limit else (None, None, None)
    bounds = [bound for bound in (low, high, nominal) if bound is not None]
    given = [float(value) for value in (*before, *after, *bounds)]
    if not before or not after or any(abs(value) > 1e12 or value != value for value in given):
        return None
    scale = _PX_PER_MM * _FINER
    width, height = round(WIDTH_MM * scale), round(HEIGHT_MM * scale)
    least, most = min(given), max(given)
    room = (most - least) * 0.12 or max(abs(most) * 0.1, 1.0)
    least, most = least - room, most + room
    margin = 8 * scale  # numbers at either end stay inside

    def x(value: Decimal | float) -> float:
        return margin + (float(value) - least) / (most - least) * (width - 2 * margin)

    image = Image.new("RGB", (width, height), "white")
    draw = ImageDraw.Draw(image)
    middle, half = height / 2, 1.7 * scale
    if low is not None or high is not None:
        left = x(low) if low is not None else margin / 2
        right = x(high) if high is not None else width - margin / 2
        draw.rectangle((min(left, right), middle - half, max(left, right), middle + half), fill=_BAND)
        for bound in (low, high):
            if bound is not None:
                draw.line((x(bound), middle - half, x(bound), middle + half), fill=_EDGE, width=scale // 3)
    if nominal is not None:
        draw.line((x(nominal), middle - half, x(nominal), middle + half), fill=_EDGE, width=scale // 2)
    draw.line((margin / 2, middle, width - margin / 2, middle), fill=_LINE, width=scale // 4)

    size = 1.25 * scale
    font = ImageFont.load_default(size=2.9 * scale)
    for value in before:
        box = (x(value) - size, middle - size, x(value) + size, middle + size)
        draw.ellipse(box, fill="white", outline=_BEFORE, width=round(scale * 0.5))
    for value in after:
        square = size * 0.8
        draw.rectangle((x(value) - square, middle - square, x(value) + square, middle + square), fill=_AFTER)
    # before above the line and after below it: equal readings do not cover each other's numbers
    above, below = middle - 2.3 * scale, middle + 2.3 * scale
    draw.text((x(before[-1]), above), written(before[-1]), fill=_BEFORE, font=font, anchor="ms")
    draw.text((x(after[-1]), below), written(after[-1]), fill=_AFTER, font=font, anchor="mt")

    image = image.resize((width // _FINER, height // _FINER), Image.Resampling.LANCZOS)
    image.save(path, "PNG")
    return Shown(path, *image.size, path.stat().st_size)

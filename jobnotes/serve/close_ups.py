"""A close-up of writing in a photo: what stands at its corners and a little around it, the right way up."""

from __future__ import annotations

from math import atan2, degrees

from PIL import Image

from jobnotes.record import Corners

#: As large a picture is cut from, in pixels of its longer side: small labels stay legible.
CLOSE_UP_OF = 2560
#: What is shown around the writing, in shares of its height; at least so many pixels.
_AROUND, _LEAST = 0.8, 12


def close_up(picture: Image.Image, corners: Corners) -> Image.Image:
    """The part of `picture`, turned by quarters so that its writing runs from left to right."""
    points = [(x * picture.width, y * picture.height) for x, y in corners]
    (x0, y0), (x1, y1), (x3, y3) = points[0], points[1], points[3]
    height = ((x3 - x0) ** 2 + (y3 - y0) ** 2) ** 0.5
    around = max(_AROUND * height, _LEAST)
    across, down = [x for x, _ in points], [y for _, y in points]
    part = picture.crop(
        (
            max(0, round(min(across) - around)),
            max(0, round(min(down) - around)),
            min(picture.width, max(1, round(max(across) + around))),
            min(picture.height, max(1, round(max(down) + around))),
        )
    )
    quarters = round(degrees(atan2(y1 - y0, x1 - x0)) / 90) % 4
    turn = (None, Image.Transpose.ROTATE_90, Image.Transpose.ROTATE_180, Image.Transpose.ROTATE_270)[quarters]
    turned = part.transpose(turn) if turn is not None else part
    turned.info = dict(picture.info)
    return turned

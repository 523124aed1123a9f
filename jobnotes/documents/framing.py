"""A frame around what was read in a photo, drawn on the copy in a document; the original stays as it was."""

from __future__ import annotations

from collections.abc import Sequence
from math import hypot

from PIL import Image, ImageDraw

from jobnotes.documents.pictures import Shown
from jobnotes.record import Corners

# Between two white lines, so that it stands out on light and dark alike.
_LINE, _EDGE = (190, 0, 110), (255, 255, 255)
# in shares of the picture's long side
_WIDTH, _AROUND = 0.005, 0.012
# writing that is shorter gets an arrow too, as long as this
_SMALL, _ARROW = 0.15, 0.16


def framed(shown: Shown, places: Sequence[Corners]) -> Shown:
    """The picture with a frame around each of `places`, as a file of its own beside it."""
    name = "-".join(f"{x:.3f}{y:.3f}" for place in places for x, y in (place[0], place[2]))
    path = shown.path.with_name(f"{shown.path.stem}-framed-{name.replace('.', '')[:120]}.jpg")
    with Image.open(shown.path) as image:
        profile = image.info.get("icc_profile")
        picture = image.convert("RGB")
    draw = ImageDraw.Draw(picture)
    long = max(picture.size)
    width = max(2, round(_WIDTH * long))
    for place in dict.fromkeys(places):
        outline = _around(place, picture.size, max(3.0, _AROUND * long))
        closed = [*outline, outline[0], outline[1]]
        arrow = _arrow(outline, picture.size, width)
        for colour, thick in ((_EDGE, 2 * width), (_LINE, width)):
            draw.line(closed, fill=colour, width=thick, joint="curve")
            for line in arrow:
                draw.line(line, fill=colour, width=thick, joint="curve")
    profile = profile if isinstance(profile, bytes) and image.mode == "RGB" else None
    picture.save(path, "JPEG", quality=shown.quality, icc_profile=profile)
    return Shown(path, *picture.size, path.stat().st_size, shown.quality)


Point = tuple[float, float]


def _around(place: Corners, size: tuple[int, int], by: float) -> list[Point]:
    """The corners in pixels, moved outwards; within the picture."""
    points = [(x * size[0], y * size[1]) for x, y in place]
    middle = (sum(x for x, _ in points) / len(points), sum(y for _, y in points) / len(points))
    out = []
    for x, y in points:
        away = hypot(x - middle[0], y - middle[1]) or 1.0
        moved = (x + (x - middle[0]) / away * by, y + (y - middle[1]) / away * by)
        out.append((min(max(moved[0], 1), size[0] - 2), min(max(moved[1], 1), size[1] - 2)))
    return out


def _arrow(outline: Sequence[Point], size: tuple[int, int], width: int) -> list[list[Point]]:
    """The lines of an arrow to a frame that is easily overlooked; none to a large one."""
    long = max(size)
    across = max(hypot(a[0] - b[0], a[1] - b[1]) for a in outline for b in outline)
    if across > _SMALL * long:
        return []
    middle = (sum(x for x, _ in outline) / 4, sum(y for _, y in outline) / 4)
    # from the side where there is more room
    right, down = (1 if middle[0] < size[0] / 2 else -1), (1 if middle[1] < size[1] / 2 else -1)
    tip = max(outline, key=lambda p: right * p[0] + down * p[1])
    length = _ARROW * long
    end = (tip[0] + right * length * 0.7, tip[1] + down * length * 0.7)
    head = 5.0 * width
    return [
        [tip, end],
        [(tip[0] + right * head * 1.3, tip[1] + down * head * 0.2), tip],
        [(tip[0] + right * head * 0.2, tip[1] + down * head * 1.3), tip],
    ]

"""A small renderer: a picture as a relief with colour, height and gloss, lit from one side.

All arrays are (height, width) or (height, width, 3) float32. Heights are in pixels above the ground,
colours and gloss 0–1 in linear light. Nothing here knows what is drawn.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter, ImageFont

W, H = 1600, 1200
Plane = NDArray[np.floating[Any]]
Colour = tuple[float, float, float]
Point = tuple[float, float]

_Y, _X = np.mgrid[0:H, 0:W].astype(np.float32)


def grid() -> tuple[Plane, Plane]:
    """x and y of every pixel."""
    return _X, _Y


def srgb(hex_colour: str) -> Colour:
    """A colour as written on the web, in linear light."""
    r, g, b = (int(hex_colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    return r**2.2, g**2.2, b**2.2


def blur(plane: Plane, radius: float) -> Plane:
    """Gaussian blur; two box passes of float images, since Pillow's own blur takes 8 bits only."""
    out = plane
    width = max(1, round(radius * 1.73))
    for axis in (0, 1):
        for _ in range(3):
            out = _box(out, width, axis)
    return out


def _box(plane: Plane, width: int, axis: int) -> Plane:
    half = width // 2
    size = 2 * half + 1
    pad = [(0, 0)] * plane.ndim
    pad[axis] = (half + 1, half)
    total = np.cumsum(np.pad(plane, pad, mode="edge"), axis=axis, dtype=np.float64)
    n = plane.shape[axis]
    upper = np.take(total, range(size, size + n), axis=axis)
    lower = np.take(total, range(n), axis=axis)
    return np.asarray((upper - lower) / size, np.float32)


def mottle(rng: np.random.Generator, cell: float, octaves: int = 4, stretch: float = 1.0) -> Plane:
    """Cloudy noise of mean 0 and deviation 1; `cell`: size of the largest blots, `stretch`: x over y."""
    total = np.zeros((H, W), np.float32)
    for k in range(octaves):
        size = cell / 2**k
        shape = (max(2, int(H / size) + 2), max(2, int(W / size / stretch) + 2))
        small = Image.fromarray(rng.standard_normal(shape).astype(np.float32), "F")
        total += np.asarray(small.resize((W, H), Image.Resampling.BICUBIC)) / 1.7**k
    return np.asarray((total - total.mean()) / total.std(), np.float32)


def drawn(draw: Callable[[ImageDraw.ImageDraw, float], object], soft: float = 0.0) -> Plane:
    """A mask 0–1 of what `draw` paints white; it draws at twice the size and gets that factor."""
    image = Image.new("L", (W * 2, H * 2), 0)
    draw(ImageDraw.Draw(image), 2.0)
    image = image.resize((W, H), Image.Resampling.LANCZOS)
    if soft:
        image = image.filter(ImageFilter.GaussianBlur(soft))
    return np.asarray(image, np.float32) / 255


def polygon(points: Sequence[Point], soft: float = 0.0) -> Plane:
    return drawn(lambda d, s: d.polygon([(x * s, y * s) for x, y in points], fill=255), soft)


def box(x0: float, y0: float, x1: float, y1: float, radius: float = 0.0, soft: float = 0.0) -> Plane:
    return drawn(
        lambda d, s: d.rounded_rectangle((x0 * s, y0 * s, x1 * s, y1 * s), radius * s, fill=255), soft
    )


def boxes(edges: Sequence[tuple[float, float, float, float]]) -> Plane:
    """Many sharp-cornered boxes at once: left, top, right, bottom each."""

    def draw(d: ImageDraw.ImageDraw, s: float) -> None:
        for x0, y0, x1, y1 in edges:
            d.rectangle((x0 * s, y0 * s, x1 * s, y1 * s), fill=255)

    return drawn(draw)


def disc(x: float, y: float, r: float, soft: float = 0.0) -> Plane:
    return drawn(lambda d, s: d.ellipse(((x - r) * s, (y - r) * s, (x + r) * s, (y + r) * s), fill=255), soft)


def stroke(points: Sequence[Point], width: float, soft: float = 0.0) -> Plane:
    return drawn(
        lambda d, s: d.line(
            [(x * s, y * s) for x, y in points], fill=255, width=round(width * s), joint="curve"
        ),
        soft,
    )


def lettering(
    lines: Sequence[tuple[float, float, float, str]], anchor: str = "la", bold: float = 0.0
) -> Plane:
    """Text in Pillow's own typeface: x, y, size, words each; `bold`: thickness added, in pixels."""

    def draw(d: ImageDraw.ImageDraw, s: float) -> None:
        for x, y, size, words in lines:
            font = ImageFont.load_default(size * s)
            d.text((x * s, y * s), words, 255, font, anchor=anchor, stroke_width=round(bold * s))

    return drawn(draw)


def distance(points: Sequence[Point]) -> tuple[Plane, Plane]:
    """Distance of every pixel from the open line through `points`, and how far along it, in pixels."""
    nearest = np.full((H, W), 1e9, np.float32)
    along = np.zeros((H, W), np.float32)
    run = 0.0
    for (ax, ay), (bx, by) in pairwise(points):
        dx, dy = bx - ax, by - ay
        length = float(np.hypot(dx, dy))
        t = np.clip(((_X - ax) * dx + (_Y - ay) * dy) / length**2, 0, 1)
        d = np.hypot(_X - ax - t * dx, _Y - ay - t * dy)
        closer = d < nearest
        nearest = np.where(closer, d, nearest)
        along = np.where(closer, run + t * length, along)
        run += length
    return nearest.astype(np.float32), along.astype(np.float32)


def curve(points: Sequence[Point], steps: int = 14) -> list[Point]:
    """A smooth line through `points` (Catmull–Rom spline)."""
    p = np.array([points[0], *points, points[-1]], float)
    out: list[Point] = []
    for i in range(len(points) - 1):
        a, b, c, d = p[i : i + 4]
        for t in np.linspace(0, 1, steps, endpoint=False):
            q = 0.5 * (
                2 * b + (c - a) * t + (2 * a - 5 * b + 4 * c - d) * t**2 + (3 * b - a - 3 * c + d) * t**3
            )
            out.append((float(q[0]), float(q[1])))
    out.append((float(points[-1][0]), float(points[-1][1])))
    return out


class Relief:
    """What lies in front of the camera, built from the ground up."""

    def __init__(self, colour: Colour, gloss: float = 0.1) -> None:
        self.colour: Plane = np.ones((H, W, 3), np.float32) * np.array(colour, np.float32)
        self.height: Plane = np.zeros((H, W), np.float32)
        self.gloss: Plane = np.full((H, W), gloss, np.float32)
        self.metal: Plane = np.zeros((H, W), np.float32)
        self.glow: Plane = np.zeros((H, W, 3), np.float32)

    def tint(self, mask: Plane, colour: Colour, strength: float = 1.0) -> None:
        """Paints without changing the shape."""
        m = np.clip(mask * strength, 0, 1)[..., None]
        self.colour = self.colour * (1 - m) + np.array(colour, np.float32) * m

    def lay(
        self,
        mask: Plane,
        colour: Colour,
        height: Plane | float,
        gloss: float = 0.2,
        metal: float = 0.0,
    ) -> None:
        """Lays a thing of its own on top; `height` is above the ground, not above what is under it."""
        m = np.clip(mask, 0, 1)
        self.tint(m, colour)
        self.height = self.height * (1 - m) + height * m
        self.gloss = self.gloss * (1 - m) + gloss * m
        self.metal = self.metal * (1 - m) + metal * m

    def raise_(self, mask: Plane, by: Plane | float) -> None:
        self.height = self.height + mask * by

    def tube(
        self,
        points: Sequence[Point],
        radius: Plane | float,
        colour: Colour,
        base: float = 0.0,
        gloss: float = 0.35,
        ribs: float = 0.0,
        metal: float = 0.0,
    ) -> tuple[Plane, Plane]:
        """A round hose or rod along `points`; `ribs`: pitch of a corrugated one. Gives distance, run."""
        d, along = distance(points)
        r = np.asarray(radius, np.float32)
        if ribs:
            r = r * (1 + 0.07 * np.sin(2 * np.pi * along / ribs))
        mask = np.clip(r - d + 0.5, 0, 1)
        self.lay(
            mask.astype(np.float32),
            colour,
            (base + r + np.sqrt(np.maximum(r**2 - d**2, 0))).astype(np.float32),
            gloss,
            metal,
        )
        return d, along

    def shaded(self, light: tuple[float, float, float] = (-0.5, -0.6, 0.62), ambient: float = 0.35) -> Plane:
        """The lit picture in linear light: diffuse, gloss, sky on metal, contact shade, cast shadow."""
        vector = np.array(light) / np.linalg.norm(light)
        smooth = blur(self.height, 1.0)
        gy, gx = np.gradient(smooth)
        length = np.sqrt(gx**2 + gy**2 + 1)
        nx, ny, nz = -gx / length, -gy / length, 1 / length
        facing = np.clip(nx * vector[0] + ny * vector[1] + nz * vector[2], 0, 1)
        half = vector + np.array([0, 0, 1])
        half = half / np.linalg.norm(half)
        shine = np.clip(nx * half[0] + ny * half[1] + nz * half[2], 0, 1)
        shadow = self._shadow(vector)
        hollow = np.clip((blur(self.height, 22) - self.height) / 45, 0, 0.75) + np.clip(
            (blur(self.height, 6) - self.height) / 22, 0, 0.4
        )
        open_sky = np.clip(1 - hollow, 0.12, 1)
        sky = 0.5 - 0.5 * ny
        diffuse = ambient * open_sky * (0.75 + 0.5 * sky) + facing * (1 - shadow) * 0.95
        # what bare metal mirrors: lamp side bright, a dark horizon, the floor dim
        towards = -0.8 * ny - 0.6 * nx
        mirror = self.metal * (
            0.32
            + 0.85 * _step(0.12, 0.6, towards)
            - 0.24 * np.exp(-(((towards + 0.2) / 0.13) ** 2))
            + 0.14 * _step(0.4, 0.9, -towards)
        )
        spec = self.gloss * (1 - 0.85 * shadow) * (shine ** (18 + 130 * self.gloss)) * 1.4
        base = self.colour * (diffuse * (1 - 0.72 * self.metal) + mirror * open_sky)[..., None]
        return np.asarray(base + spec[..., None] + self.glow, np.float32)

    def _shadow(self, vector: NDArray[np.float64]) -> Plane:
        """0–1: how much of the light is hidden by what stands between."""
        hidden = np.zeros((H, W), np.float32)
        flat = float(np.hypot(vector[0], vector[1]))
        rise = float(vector[2]) / flat
        for step in range(2, 110, 2):
            dx, dy = round(vector[0] / flat * step), round(vector[1] / flat * step)
            moved = np.roll(self.height, (-dy, -dx), axis=(0, 1))
            if dy < 0:
                moved[:-dy] = 0
            if dx < 0:
                moved[:, :-dx] = 0
            hidden = np.maximum(hidden, np.clip((moved - self.height - rise * step) / 7, 0, 1))
        return blur(hidden, 4)


def _step(low: float, high: float, value: Plane) -> Plane:
    """0 below `low`, 1 above `high`, smooth between."""
    t = np.clip((value - low) / (high - low), 0, 1)
    return np.asarray(t * t * (3 - 2 * t), np.float32)


def defocused(picture: Plane, focus: Plane, radius: float = 6.0) -> Plane:
    """Sharp where `focus` is 1, blurred by `radius` where it is 0."""
    f = blur(np.clip(focus, 0, 1), 2)[..., None]
    return np.asarray(picture * f + _each(picture, lambda p: blur(p, radius)) * (1 - f), np.float32)


def warped(picture: Plane, corners: Sequence[Point]) -> Plane:
    """The picture seen at a slant: its corners (from top left, clockwise) go to `corners`."""
    source = [(0, 0), (W, 0), (W, H), (0, H)]
    rows = []
    for (x, y), (u, v) in zip(corners, source, strict=True):
        rows.append([x, y, 1, 0, 0, 0, -u * x, -u * y])
        rows.append([0, 0, 0, x, y, 1, -v * x, -v * y])
    coefficients = np.linalg.solve(np.array(rows, float), np.array(source, float).reshape(8))
    planes = [
        np.asarray(
            Image.fromarray(np.ascontiguousarray(picture[..., c]), "F").transform(
                (W, H), Image.Transform.PERSPECTIVE, list(coefficients), Image.Resampling.BICUBIC
            )
        )
        for c in range(3)
    ]
    return np.stack(planes, axis=-1).astype(np.float32)


def exposed(
    picture: Plane,
    rng: np.random.Generator,
    warmth: float = 0.0,
    grain: float = 0.012,
    exposure: float = 1.0,
) -> Image.Image:
    """As a phone would take it: bloom, vignette, tone curve, grain."""
    bright = np.clip(picture - 0.9, 0, 3)
    picture = picture + 0.35 * _each(bright, lambda p: blur(p, 16))
    edge = ((_X - W / 2) / W) ** 2 + ((_Y - H / 2) / H) ** 2
    picture = picture * (1 - 0.75 * edge)[..., None] * exposure
    picture = picture * np.array([1 + warmth, 1, 1 - warmth], np.float32)
    curve_ = picture * (1 + picture / 4) / (1 + picture)  # highlights roll off
    shown = np.clip(curve_ * 1.25, 0, 1) ** (1 / 2.2)
    noise = rng.standard_normal((H, W, 3)).astype(np.float32)
    noise = 0.75 * noise.mean(axis=2, keepdims=True) * 1.7 + 0.3 * noise
    noise = _each(noise, lambda p: 0.6 * p + 0.9 * blur(p, 1))
    shown = shown + noise * grain * (1.25 - shown)
    return Image.fromarray((np.clip(shown, 0, 1) * 255 + 0.5).astype(np.uint8), "RGB")


def _each(picture: Plane, work: Callable[[Plane], Plane]) -> Plane:
    return np.stack([work(np.ascontiguousarray(picture[..., c])) for c in range(3)], axis=-1)

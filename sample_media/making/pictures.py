"""The photos of the sample job, drawn as reliefs, and written as a camera would write them."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import numpy as np
from PIL import ExifTags, Image

from making.relief import (
    Colour,
    H,
    Plane,
    Point,
    Relief,
    W,
    box,
    boxes,
    curve,
    defocused,
    disc,
    distance,
    exposed,
    grid,
    lettering,
    mottle,
    polygon,
    srgb,
    stroke,
    warped,
)
from making.scenario import Camera

RUBBER = srgb("#2a2b2d")
PLASTIC = srgb("#26282b")
STEEL = srgb("#a9acae")
BRASS = srgb("#c09a4a")
MUD = srgb("#5f5142")
PAINT = srgb("#383d41")


def dirt(scene: Relief, rng: np.random.Generator, amount: float = 0.5, colour: Colour = MUD) -> None:
    """Road dust, thicker in hollows, with splashes."""
    cloud = np.clip(mottle(rng, 240, 6) * 0.3 + mottle(rng, 24, 4) * 0.12 + amount - 0.2, 0, 1)
    specks = np.clip(mottle(rng, 9, 2) - 1.9, 0, 1)
    drips = np.clip(mottle(rng, 260, 4, stretch=0.07) * 0.5 - 0.35, 0, 1)
    scene.tint(cloud.astype(np.float32), colour, 0.7)
    scene.tint(drips.astype(np.float32), srgb("#2b2620"), 0.5)
    scene.tint(specks.astype(np.float32), srgb("#8b7a60"), 0.8)
    scene.raise_(specks.astype(np.float32), 1.5)
    scene.gloss = scene.gloss * (1 - 0.7 * cloud)


def frame_rail(rng: np.random.Generator) -> Relief:
    """A painted chassis member that has seen winters: the ground of the photos under the bus."""
    scene = Relief(PAINT, gloss=0.18)
    scene.raise_(np.ones((H, W), np.float32), mottle(rng, 14, 3) * 0.45 + mottle(rng, 300, 3) * 2.0)
    chips = np.clip((mottle(rng, 46, 4) - 1.75) * 4, 0, 1)
    scene.tint(chips, srgb("#6b3f22"))
    scene.raise_(chips, -1.4)
    return scene


def hexagon(scene: Relief, x: float, y: float, r: float, base: float, turn: float = 0.2) -> None:
    """A flanged hexagon bolt head of width across corners 2 r."""
    scene.lay(disc(x, y, r * 1.35), STEEL, base + 6, 0.5, 0.6)
    points: list[Point] = [
        (x + r * np.cos(turn + k * np.pi / 3), y + r * np.sin(turn + k * np.pi / 3)) for k in range(6)
    ]
    xs, ys = grid()
    crown = np.clip(1.15 * r - np.hypot(xs - x, ys - y), 0, 6)
    scene.lay(polygon(points), STEEL, (base + 16 + crown).astype(np.float32), 0.55, 0.65)


# --- the seven photos --------------------------------------------------------------------------


def odometer(rng: np.random.Generator) -> Image.Image:
    scene = Relief(srgb("#17191b"), gloss=0.12)
    scene.raise_(np.ones((H, W), np.float32), mottle(rng, 6, 2) * 0.4)
    xs, ys = grid()
    # the dial of the speedometer, cut off at the left
    cx, cy, r = 250.0, 520.0, 520.0
    scene.lay(disc(cx, cy, r + 34), srgb("#303336"), 30, 0.7, 0.5)
    scene.lay(disc(cx, cy, r), srgb("#0b0c0d"), -30, 0.1)

    def at(speed: float, radius: float) -> Point:
        turn = np.radians(140 + speed * 2.2)
        return cx + radius * float(np.cos(turn)), cy + radius * float(np.sin(turn))

    for speed in range(0, 121, 5):
        long = speed % 20 == 0
        mark = stroke([at(speed, r - (80 if long else 52)), at(speed, r - 22)], 11 if long else 5)
        scene.glow += mark[..., None] * np.array([0.75, 0.8, 0.85], np.float32)
    numerals = lettering([(*at(v, r - 140), 66, str(v)) for v in range(0, 121, 20)], anchor="mm")
    scene.glow += numerals[..., None] * np.array([0.75, 0.8, 0.85], np.float32)
    unit = lettering([(cx + 60, cy + 170, 44, "km/h")], anchor="mm")
    scene.glow += unit[..., None] * np.array([0.4, 0.43, 0.46], np.float32)
    needle = polygon([at(0, r - 70), (cx + 14, cy + 12), (cx - 12, cy - 14)])
    scene.lay(needle, srgb("#e2502a"), 12, 0.3)
    scene.glow += needle[..., None] * np.array([0.55, 0.09, 0.02], np.float32)
    scene.lay(disc(cx, cy, 74), srgb("#121314"), 40, 0.5)
    # the display
    scene.lay(box(850, 560, 1530, 860, 26), srgb("#202326"), 22, 0.55)
    screen = box(880, 588, 1502, 832, 14)
    scene.lay(screen, srgb("#0a1411"), -8, 0.5)
    back = screen * (0.85 + 0.15 * np.cos((xs - 1150) / 420)) * (1 + 0.02 * np.sin(ys * 1.6))
    scene.glow += back[..., None] * np.array([0.16, 0.34, 0.27], np.float32)
    digits = seven_segments("418206", 916, 642, 62, 122)
    ghost = seven_segments("888888", 916, 642, 62, 122)
    words = lettering([(1452, 762, 40, "km")], anchor="ms") + lettering(
        [(905, 602, 28, "TOTAL"), (905, 786, 32, "07:42")]
    )
    for mask, weight in ((ghost, 0.06), (np.clip(digits + words, 0, 1), 0.9)):
        scene.glow *= (1 - weight * mask)[..., None]
        scene.colour *= (1 - weight * mask)[..., None]
    # warning lamps
    for x, name, lit in (
        (905, "axle", True),
        (1075, "belt", False),
        (1245, "engine", False),
        (1415, "oil", False),
    ):
        lamp(scene, x, 430, lit, name)
    picture = scene.shaded((-0.3, -0.9, 0.45), ambient=0.28)
    glare = (
        np.exp(-(((xs - ys * 0.55 - 900) / 90) ** 2)) * 0.035
        + np.exp(-(((xs - ys * 0.55 - 1120) / 30) ** 2)) * 0.02
    )
    picture = picture + glare[..., None]
    dust = np.clip(mottle(rng, 5, 1) - 2.7, 0, 1) * 0.05
    picture = picture + dust[..., None]
    slant = [(-30, -90), (W + 60, -20), (W + 20, H + 60), (-90, H + 30)]
    return exposed(warped(picture, slant), rng, warmth=0.03, grain=0.022, exposure=1.25)


def seven_segments(text: str, x: float, y: float, width: float, height: float) -> Plane:
    """Digits of a segment display, leaning a little to the right."""
    lit = {
        "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc",
        "5": "afgcd", "6": "afgedc", "7": "abc", "8": "abcdefg", "9": "abcdfg",
    }  # fmt: skip
    t, g = width * 0.2, 3.0

    def shapes(ox: float) -> dict[str, list[Point]]:
        left, r, top, mid, low = ox, ox + width, y, y + height / 2, y + height

        def bar(yy: float) -> list[Point]:
            h = t / 2
            return [(left + h + g, yy), (left + t + g, yy - h), (r - t - g, yy - h), (r - h - g, yy),
                    (r - t - g, yy + h), (left + t + g, yy + h)]  # fmt: skip

        def post(xx: float, a: float, b: float) -> list[Point]:
            h = t / 2
            return [(xx, a + g), (xx + h, a + h + g), (xx + h, b - h - g), (xx, b - g),
                    (xx - h, b - h - g), (xx - h, a + h + g)]  # fmt: skip

        h = t / 2
        return {
            "a": bar(top + h), "g": bar(mid), "d": bar(low - h),
            "f": post(left + h, top + h, mid), "b": post(r - h, top + h, mid),
            "e": post(left + h, mid, low - h), "c": post(r - h, mid, low - h),
        }  # fmt: skip

    total = np.zeros((H, W), np.float32)
    for k, digit in enumerate(text):
        segments = shapes(x + k * width * 1.27)
        for name in lit[digit]:
            leaning = [(px + (y + height - py) * 0.09, py) for px, py in segments[name]]
            total = np.maximum(total, polygon(leaning))
    return total


def lamp(scene: Relief, x: float, y: float, lit: bool, name: str) -> None:
    """A tell-tale of our own drawing: amber when lit, nearly black when not."""
    if name == "axle":  # a leaning body over two wheels
        mask = np.maximum.reduce([
            stroke([(x - 40, y - 24), (x + 40, y - 6)], 14), disc(x - 34, y + 28, 15),
            disc(x + 34, y + 28, 15), stroke([(x, y - 14), (x, y + 26)], 7),
        ])  # fmt: skip
    elif name == "belt":
        mask = np.maximum(disc(x, y - 26, 14), stroke([(x - 24, y + 34), (x, y - 4), (x + 24, y + 34)], 12))
    elif name == "engine":
        mask = np.maximum(box(x - 34, y - 20, x + 30, y + 28, 8), box(x - 16, y - 36, x + 14, y - 12, 4))
    else:
        mask = np.maximum(polygon([(x, y - 36), (x + 22, y + 8), (x - 22, y + 8)]), disc(x, y + 10, 23))
    if lit:
        scene.glow += mask[..., None] * np.array([1.5, 0.62, 0.04], np.float32)
    else:
        scene.tint(mask, srgb("#26282a"))


def plate(rng: np.random.Generator) -> Image.Image:
    scene = Relief(srgb("#d7d2c2"), gloss=0.35)  # the cream paint of the door pillar
    scene.raise_(np.ones((H, W), np.float32), mottle(rng, 10, 2) * 0.25 + mottle(rng, 500, 2) * 4)
    dirt(scene, rng, 0.32)
    xs, ys = grid()
    x0, y0, x1, y1 = 190, 180, 1410, 1020
    scene.lay(box(x0 - 3, y0 - 3, x1 + 3, y1 + 3, 30), srgb("#8c8f90"), 4, 0.3)
    scene.lay(box(x0, y0, x1, y1, 28), srgb("#c4c6c6"), 12, 0.42, 0.35)
    inside = box(x0 + 8, y0 + 8, x1 - 8, y1 - 8, 22)
    brushed = mottle(rng, 9, 3, stretch=60)
    scene.colour *= (1 + 0.055 * inside * brushed)[..., None]
    band = box(x0 + 26, y0 + 26, x1 - 26, y0 + 150, 8)
    scene.lay(band, srgb("#1d2b3d"), 11, 0.35)
    scene.lay(
        lettering([((x0 + x1) / 2, y0 + 90, 70, "IDENTITY PLATE")], "mm"), srgb("#d4d6d6"), 12.5, 0.4, 0.3
    )
    rows = [
        ("VEHICLE", "CITY BUS 12 m"), ("REGISTRATION", "QQ00 TST"), ("SERIAL", "SAMPLE 0000417"),
        ("GROSS MASS", "18 000 kg"), ("AXLE 1 / 2", "7 100 / 11 500 kg"), ("BUILT", "03 / 2019"),
    ]  # fmt: skip
    for k, (name, value) in enumerate(rows):
        y = y0 + 186 + k * 102
        scene.tint(lettering([(x0 + 70, y + 30, 38, name)]), srgb("#20262c"), 0.9)
        field = box(x0 + 440, y, x1 - 70, y + 82, 6)
        rim = field - box(x0 + 443, y + 3, x1 - 73, y + 79, 4)
        scene.tint(np.clip(rim, 0, 1), srgb("#3a3f44"), 0.9)
        # stamped by hand, each letter a little off
        pen = float(x0 + 470)
        for letter in value:
            shift = rng.uniform(-2.5, 2.5)
            one = lettering([(pen + 18, y + 14 + shift, 56, letter)], "ma", bold=0.6)
            scene.raise_(one, -7.5)
            scene.tint(one, srgb("#595c5d"), 0.65)
            pen += 40 if letter != " " else 26
    for cx in (x0 + 46, x1 - 46):
        for cy in (y0 + 205, y1 - 46):
            dome = np.sqrt(np.clip(20**2 - (xs - cx) ** 2 - (ys - cy) ** 2, 0, None))
            scene.lay(disc(cx, cy, 21), STEEL, (12 + dome).astype(np.float32), 0.6, 0.6)
    scratches(scene, rng, inside, 46)
    grime = np.clip(mottle(rng, 150, 5) * 0.4 + (ys - 640) / 1100, 0, 0.75) * inside
    scene.tint(grime.astype(np.float32), srgb("#6e6148"), 0.6)
    corners = inside - box(x0 + 60, y0 + 60, x1 - 60, y1 - 60, 60, soft=26)
    scene.tint(np.clip(corners, 0, 1) * np.clip(0.6 + 0.3 * mottle(rng, 60, 3), 0, 1), srgb("#5b4e3a"), 0.45)
    picture = scene.shaded((-0.55, -0.5, 0.7), ambient=0.38)
    lamp_spot = np.exp(-(((xs - 1060) / 420) ** 2 + ((ys - 330) / 260) ** 2)) * 0.22
    picture = picture * (1 + lamp_spot[..., None]) + 0.16 * (lamp_spot * inside)[..., None]
    slant = [(-20, -20), (W + 10, -90), (W + 80, H + 40), (-110, H + 60)]
    return exposed(warped(picture, slant), rng, warmth=0.05, grain=0.014)


def scratches(scene: Relief, rng: np.random.Generator, where: Plane, count: int) -> None:
    for _ in range(count):
        x, y, turn, long = rng.uniform(0, W), rng.uniform(0, H), rng.normal(0.4, 0.9), rng.uniform(20, 220)
        line = stroke([(x, y), (x + long * np.cos(turn), y + long * np.sin(turn))], 1.5) * where
        scene.raise_(line, -1.2)
        scene.tint(line, srgb("#eef0f0"), 0.5)


def connector(rng: np.random.Generator) -> Image.Image:
    """As it lies on the sensor of a phone held upright: what is down in the bus is to the right here."""
    scene = frame_rail(rng)
    dirt(scene, rng, 0.62)
    xs, ys = grid()
    # the loom in its corrugated sleeve, coming from the lower right
    loom = curve([(1680, 1180), (1450, 1010), (1250, 830), (1080, 720)])
    scene.tube(loom, 74, RUBBER, base=6, ribs=26)
    # housing, seen from the front
    cx, cy = 760.0, 600.0
    for k, shade in enumerate(("#1b1d1f", "#26292b", "#2d3033")):
        grow = 26 - 13 * k
        scene.lay(
            box(cx - 380 - grow, cy - 235 - grow, cx + 380 + grow, cy + 235 + grow, 150),
            srgb(shade),
            120 + 22 * k,
            0.42,
        )
    for side in (-1, 1):  # latch ribs
        scene.lay(box(cx - 90, cy + side * 262 - 22, cx + 90, cy + side * 262 + 22, 10), PLASTIC, 176, 0.4)
        scene.lay(
            box(cx - 52, cy + side * 262 - 10, cx + 52, cy + side * 262 + 10, 5), srgb("#0c0d0e"), 130, 0.2
        )
    scene.lay(box(cx - 330, cy - 185, cx + 330, cy + 185, 118), srgb("#131415"), 96, 0.35)
    seal = box(cx - 330, cy - 185, cx + 330, cy + 185, 118) - box(cx - 296, cy - 151, cx + 296, cy + 151, 94)
    scene.lay(np.clip(seal, 0, 1), srgb("#8d4a1c"), 112, 0.5)
    scene.lay(box(cx - 292, cy - 147, cx + 292, cy + 147, 92), srgb("#1d1f20"), 40, 0.3)
    for k, px in enumerate((cx - 180, cx, cx + 180)):
        scene.lay(disc(px, cy, 80), srgb("#25282a"), 62, 0.35)
        scene.lay(disc(px, cy, 62), srgb("#0a0b0b"), 22, 0.2)
        dome = np.sqrt(np.clip(33.0**2 - (xs - px) ** 2 - (ys - cy) ** 2, 0, None))
        scene.lay(disc(px, cy, 33), srgb("#a9803f"), (52 + dome * 1.1).astype(np.float32), 0.55, 0.5)
        # verdigris: clumps around the pins, most on the lower two
        reach = (80.0, 130.0, 150.0)[k]
        near = np.exp(-(((xs - px - 14) ** 2 + (ys - cy) ** 2) / reach**2))
        lumps = mottle(rng, 34, 5)
        crust = np.clip((near * 2.1 + lumps * 0.42 * near**0.25 - 1.02) * 2.6, 0, 1) * (near > 0.12)
        shade = np.clip(0.5 + 0.35 * mottle(rng, 22, 4), 0, 1)
        low, high = np.array(srgb("#2f8f76")), np.array(srgb("#bfe3cf"))
        tone = low + (high - low) * shade[..., None]
        m = (crust * 0.93)[..., None]
        scene.colour = (scene.colour * (1 - m) + tone * m).astype(np.float32)
        scene.gloss *= 1 - 0.9 * crust
        scene.metal *= 1 - crust
        scene.raise_(crust, 12 + 5 * mottle(rng, 9, 3))
        rust = np.clip((near * 1.6 + mottle(rng, 26, 4) * 0.35 - 1.3) * 3, 0, 1) * (1 - crust * 0.6)
        scene.tint(rust.astype(np.float32), srgb("#7a4a1e"), 0.7)
    # water standing in the bottom of the shell, and drops on the face
    pool = box(cx - 292, cy - 147, cx + 292, cy + 147, 92) * np.clip((xs - cx - 206) / 10, 0, 1)
    scene.tint(pool.astype(np.float32), srgb("#39524b"), 0.55)
    scene.height = np.where(pool > 0.5, 58 + 0.4 * mottle(rng, 40, 2), scene.height).astype(np.float32)
    scene.gloss = np.maximum(scene.gloss, pool * 0.95)
    for _ in range(46):
        dx, dy, r = rng.uniform(-400, 400), rng.uniform(-255, 255), rng.uniform(4, 17)
        x, y = cx + dx, cy + dy
        bead = np.clip(1 - (((xs - x) * 0.9) ** 2 + (ys - y) ** 2) / r**2, 0, 1)
        scene.raise_((np.sqrt(bead) * r * 0.8).astype(np.float32), 1.0)
        scene.gloss = np.maximum(scene.gloss, np.clip(bead * 4, 0, 1) * 0.95).astype(np.float32)
    mud = np.clip(mottle(rng, 120, 5) * 0.6 + (np.hypot(xs - cx, ys - cy) - 420) / 210, 0, 1)
    scene.tint(mud.astype(np.float32), MUD, 0.55)
    picture = defocused(scene.shaded((-0.45, -0.62, 0.66), ambient=0.36), 0.25 + scene.height / 50)
    torch = np.exp(-(((xs - 760) / 760) ** 2 + ((ys - 560) / 600) ** 2))
    slant = [(-130, -60), (W + 20, -110), (W + 90, H + 50), (-60, H + 130)]
    return exposed(warped(picture * (0.5 + 0.85 * torch)[..., None], slant), rng, 0.02, 0.016, 1.6)


def gauge(rng: np.random.Generator) -> Image.Image:
    scene = frame_rail(rng)
    dirt(scene, rng, 0.5)
    xs, ys = grid()
    cx, cy, r = 790.0, 540.0, 430.0
    scene.tube(curve([(790, 1000), (800, 1090), (880, 1180), (1040, 1260)]), 58, RUBBER, base=10)
    flats = np.abs((xs - 790) / 74)
    nut = 84 - 26 * np.clip(flats - 0.45, 0, 1) ** 0.9
    scene.lay(
        box(748, 930, 832, 1130, 8),
        BRASS,
        (40 + 40 * np.sqrt(np.clip(1 - flats**2, 0, 1))).astype(np.float32),
        0.6,
        0.6,
    )
    scene.lay(box(716, 1010, 864, 1092, 10), BRASS, nut.astype(np.float32), 0.6, 0.6)
    d = np.hypot(xs - cx, ys - cy)
    ring = np.clip(r + 52 - d, 0, 1) * np.clip(d - r + 14, 0, 1)
    scene.lay(disc(cx, cy, r + 52), STEEL, 70, 0.5, 0.5)
    profile = 95 + 26 * np.cos(np.clip((d - r - 19) / 33, -1, 1) * np.pi / 2)
    scene.lay(ring.astype(np.float32), STEEL, profile.astype(np.float32), 0.75, 0.8)
    scene.lay(disc(cx, cy, r - 10), srgb("#ece9df"), 60, 0.08)

    def at(bar: float, radius: float) -> Point:
        turn = np.radians(135 + bar / 12 * 270)
        return cx + radius * float(np.cos(turn)), cy + radius * float(np.sin(turn))

    ink, red = srgb("#15171a"), srgb("#b3241c")
    arc = [at(b, r - 62) for b in np.linspace(10.5, 12, 24)]
    scene.tint(stroke(arc, 18), red)
    scene.tint(stroke([at(b, r - 44) for b in np.linspace(0, 12, 180)], 4), ink)
    for tenth in range(0, 121, 2):
        bar = tenth / 10
        long = 64 if tenth % 10 == 0 else 34
        scene.tint(stroke([at(bar, r - 44), at(bar, r - 44 - long)], 8 if tenth % 10 == 0 else 3.2), ink)
    scene.tint(lettering([(*at(b, r - 150), 62, str(b)) for b in range(0, 13, 2)], "mm"), ink)
    scene.tint(lettering([(cx, cy + 150, 64, "bar")], "mm"), ink)
    scene.tint(lettering([(cx, cy + 232, 26, "CLASS 1.0     0-12")], "mm"), ink)
    tip, tail = at(8.4, r - 66), at(8.4, -104)
    side = np.radians(135 + 8.4 / 12 * 270 + 90)
    ox, oy = 13 * float(np.cos(side)), 13 * float(np.sin(side))
    hand = polygon([tip, (cx + ox, cy + oy), (tail[0] + ox * 1.5, tail[1] + oy * 1.5),
                    (tail[0] - ox * 1.5, tail[1] - oy * 1.5), (cx - ox, cy - oy)])  # fmt: skip
    scene.lay(hand, srgb("#16181a"), 84, 0.3)
    dome = 30 * np.sqrt(np.clip(1 - (d / 36) ** 2, 0, 1))
    scene.lay(disc(cx, cy, 36), srgb("#202224"), (80 + dome).astype(np.float32), 0.6)
    picture = scene.shaded((-0.5, -0.62, 0.6), ambient=0.42)
    # the glass: a soft window of light, dust, two finger marks
    glass = disc(cx, cy, r - 8)
    window = polygon([(480, 260), (690, 160), (800, 470), (560, 590)], soft=22) * 0.11
    streak = np.exp(-((((xs - cx) * 0.8 + (ys - cy) * 0.6 + 250) / 46) ** 2)) * 0.07
    prints = sum(
        np.exp(-(((xs - a) / 60) ** 2 + ((ys - b) / 80) ** 2))
        * (0.5 + 0.5 * np.sin((xs - a) * 0.5 + (ys - b) * 0.16))
        for a, b in ((1010, 760), (940, 820))
    )
    dust = np.clip(mottle(rng, 5, 2) - 2.0, 0, 1)
    veil = glass * (window + streak + 0.05 * prints + 0.25 * dust + 0.02)
    picture = picture * (1 - 0.25 * veil[..., None]) + veil[..., None]
    picture = defocused(picture, 0.15 + scene.height / 50)
    slant = [(-60, -20), (W + 10, -70), (W + 60, H + 10), (-20, H + 60)]
    return exposed(warped(picture, slant), rng, warmth=0.035, grain=0.015)


def hose(rng: np.random.Generator) -> Image.Image:
    scene = frame_rail(rng)
    dirt(scene, rng, 0.6)
    xs, ys = grid()
    # the bellows of the air bag, upper left
    for k, (r, h) in enumerate(((430, 150), (455, 120), (440, 90))):
        d = np.hypot(xs - 130, (ys - 120 - 110 * k) * 1.9)
        bulge = np.sqrt(np.clip(1 - (d / r) ** 2, 0, 1))
        scene.lay(
            np.clip((r - d), 0, 1).astype(np.float32),
            srgb("#303133"),
            (h + 90 * bulge).astype(np.float32),
            0.22,
        )
    # a hole in the frame with a raw edge, where it rubbed
    scene.lay(disc(1240, 300, 104), srgb("#3b4146"), 10, 0.3)
    scene.lay(disc(1240, 300, 84), srgb("#050505"), -60, 0.0)
    path = curve([(330, 470), (480, 560), (680, 640), (930, 690), (1180, 760), (1420, 900), (1700, 1080)])
    d, along = scene.tube(path, 76, RUBBER, base=20, gloss=0.3)
    fibre = mottle(rng, 5, 2)
    on_hose = np.clip(76 - d, 0, 1)
    scene.raise_(on_hose.astype(np.float32), 0.35 * fibre)
    stripe = np.clip(1 - np.abs(d - 46) / 3.0, 0, 1) * (
        ys < np.interp(xs, [p[0] for p in path], [p[1] for p in path])
    )
    scene.tint((stripe * on_hose * 0.8).astype(np.float32), srgb("#8f9296"), 0.5)
    # the split: a gaping slit along the hose with frayed braid in it
    mid, half = 640.0, 190.0
    u = np.clip((along - mid) / half, -1.2, 1.2)
    centre_y = np.interp(xs, [p[0] for p in path], [p[1] for p in path])
    across = (ys - centre_y) * 0.93 + 8 + 5 * np.sin(along / 31) + 2.2 * mottle(rng, 14, 2)
    gape = 23 * np.sqrt(np.clip(1 - u**2, 0, 1)) * (1 + 0.18 * np.sin(along / 17))
    slit = np.clip((gape - np.abs(across)) / 2.5, 0, 1) * (d < 76)
    lip = np.clip(1 - np.abs(np.abs(across) - gape - 7) / 9, 0, 1) * (np.abs(u) < 1) * (d < 74)
    scene.raise_(lip.astype(np.float32), 8.0)
    scene.tint(lip.astype(np.float32), srgb("#4a4b4d"), 0.5)
    scene.lay(slit.astype(np.float32), srgb("#0d0c0b"), 60, 0.05)
    runs = np.cumsum([0, *np.hypot(*np.diff(np.array(path), axis=0).T)])
    for _ in range(150):
        t = rng.uniform(-0.95, 0.95)
        x = float(np.interp(mid + t * half, runs, [p[0] for p in path]))
        y = float(np.interp(mid + t * half, runs, [p[1] for p in path])) - 8
        gap = 25 * np.sqrt(1 - t**2)
        way = 1 if rng.random() < 0.5 else -1
        long = rng.uniform(0.25, 0.95) * gap
        root, bend = (x, y + way * gap), rng.normal(0, 7)
        strand = stroke(
            [root, (x + bend * 0.4, root[1] - way * long * 0.6), (x + bend, root[1] - way * long)], 1.6
        )
        tone = srgb(("#a89b7e", "#8d8268", "#6f6750")[int(rng.integers(3))])
        scene.lay(strand * (d < 80), tone, 120 + 30 * float(rng.random()), 0.1)
    worn = (
        np.exp(-(((along - mid) / 260) ** 2)) * np.clip(1 - np.abs(across) / 66, 0, 1) * (d < 76) * (1 - slit)
    )
    scene.tint(
        (worn * np.clip(0.5 + 0.5 * mottle(rng, 16, 3), 0, 1)).astype(np.float32), srgb("#6f7073"), 0.65
    )
    # fitting and clamp at the air bag's end
    scene.tube([(214, 397), (372, 496)], 52, BRASS, base=34, gloss=0.6, metal=0.7)
    ax, ay = 0.848, 0.53  # along the fitting
    fd, _ = distance([(214 - 900 * ax, 397 - 900 * ay), (214 + 900 * ax, 397 + 900 * ay)])
    nut = [(214 + i * ax * 52 - j * ay * 78, 397 + i * ay * 52 + j * ax * 78) for i, j in
           ((-1, -1), (1, -1), (1, 1), (-1, 1))]  # fmt: skip
    facets = 142 - 34 * np.clip((fd - 36) / 42, 0, 1)
    scene.lay(polygon(nut), BRASS, facets.astype(np.float32), 0.6, 0.65)
    scene.tint(stroke([nut[1], nut[2]], 5), srgb("#5a4621"), 0.7)
    cd, _ = distance([(452, 470), (396, 590)])
    band = np.clip(17 - cd, 0, 1) * (d < 82)
    lift = 24 + 78 + np.sqrt(np.clip(84.0**2 - d**2, 0, None))
    scene.lay(band.astype(np.float32), STEEL, lift.astype(np.float32), 0.6, 0.65)
    hexagon(scene, 463, 452, 22, 96)
    mud = np.clip(mottle(rng, 90, 5) * 0.55 - 0.15, 0, 1) * (1 - slit)
    scene.tint(mud.astype(np.float32), MUD, 0.6)
    picture = scene.shaded((-0.3, -0.75, 0.6), ambient=0.36)
    torch = np.exp(-(((xs - 880) / 620) ** 2 + ((ys - 660) / 460) ** 2))
    picture = picture * (0.5 + 0.85 * torch)[..., None]
    picture = defocused(picture, 0.2 + scene.height / 60)
    slant = [(-70, -40), (W + 30, -90), (W + 40, H + 30), (-110, H + 40)]
    return exposed(warped(picture, slant), rng, warmth=0.05, grain=0.017, exposure=1.7)


def label(rng: np.random.Generator) -> Image.Image:
    scene = Relief(srgb("#b48b5c"), gloss=0.03)  # cardboard
    flutes = np.sin(grid()[1] / 7.5) * 0.5
    scene.raise_(np.ones((H, W), np.float32), flutes + mottle(rng, 6, 2) * 0.4 + mottle(rng, 400, 2) * 3)
    scene.colour *= (1 + 0.05 * mottle(rng, 30, 5, stretch=3))[..., None]
    xs, ys = grid()
    scene.lay(box(-40, 40, W + 40, 168), srgb("#c9a877"), 2.2 + mottle(rng, 50, 3) * 0.5, 0.5)  # tape
    x0, y0, x1, y1 = 230, 260, 1400, 1010
    scene.lay(box(x0, y0, x1, y1, 10), srgb("#f1f0ea"), 2.6 + mottle(rng, 260, 2) * 1.2, 0.16)
    ink = srgb("#17181b")
    scene.tint(lettering([(x0 + 50, y0 + 44, 40, "PART NUMBER")]), ink)
    scene.tint(lettering([(x0 + 46, y0 + 96, 158, "73K 290 56")], bold=3), ink)
    scene.tint(box(x0 + 40, y0 + 296, x1 - 40, y0 + 301), ink)
    scene.tint(lettering([(x0 + 50, y0 + 326, 78, "HEIGHT SENSOR")], bold=1), ink)
    scene.tint(
        lettering([(x0 + 50, y0 + 428, 44, "air suspension, rear left"), (x0 + 890, y0 + 336, 60, "QTY  1")]),
        ink,
    )
    # bars that encode nothing
    bars = []
    pen = float(x0 + 56)
    while pen < x1 - 330:
        wide = float(rng.choice([4, 4, 8, 12]))
        bars.append((pen, y0 + 520, pen + wide, y0 + 664))
        pen += wide + float(rng.choice([4, 4, 8, 10]))
    scene.tint(boxes(bars), ink)
    scene.tint(
        lettering(
            [(x0 + 56, y0 + 680, 34, "SAMPLE   NOT A REAL PART"), (x1 - 270, y0 + 540, 40, "LOT 0226")]
        ),
        ink,
    )
    scene.tint(box(x1 - 280, y0 + 604, x1 - 60, y0 + 680) - box(x1 - 276, y0 + 608, x1 - 64, y0 + 676), ink)
    scene.tint(lettering([(x1 - 170, y0 + 642, 44, "NEW")], "mm", bold=1), ink)
    # a crease, a torn corner, thumb grease
    fold, _ = distance([(1180, 240), (1300, 640), (1260, 1030)])
    scene.raise_(np.exp(-((fold / 7) ** 2)).astype(np.float32), -2.6)
    scene.tint(np.exp(-((fold / 3) ** 2)).astype(np.float32), srgb("#ffffff"), 0.35)
    for a, b in ((1340, 930), (300, 955), (260, 900)):
        ridge = 0.5 + 0.5 * np.sin((np.hypot(xs - a - 40, (ys - b) * 0.8)) * 0.75)
        smear = np.exp(-(((xs - a) / 62) ** 2 + ((ys - b) / 84) ** 2)) * (0.5 + 0.12 * ridge)
        scene.tint(smear.astype(np.float32), srgb("#2b241c"), 0.55)
    grime = np.clip(mottle(rng, 200, 6) * 0.35 - 0.2, 0, 1)
    scene.tint(grime.astype(np.float32), srgb("#5d4a33"), 0.35)
    picture = scene.shaded((0.5, -0.6, 0.7), ambient=0.45)
    shade = 1 - 0.42 * polygon([(-50, 700), (520, 1260), (-50, 1260)], soft=60)
    shade *= 1 - 0.25 * np.clip((xs - 900) / 900, 0, 1)
    slant = [(-30, -30), (W - 0, -120), (W + 110, H + 20), (-150, H + 60)]
    return exposed(warped(picture * shade[..., None], slant), rng, warmth=0.045, grain=0.012)


def sensor(rng: np.random.Generator) -> Image.Image:
    scene = frame_rail(rng)
    dirt(scene, rng, 0.45)
    xs, ys = grid()
    # flange edge of the rail
    scene.lay(box(-20, 1010, W + 20, H + 20), srgb("#474d52"), 60 + mottle(rng, 30, 3) * 0.7, 0.2)
    # the old bracket, reused
    scene.lay(
        polygon([(420, 250), (1060, 250), (1120, 330), (1120, 760), (420, 760)]), srgb("#6d655a"),
        26 + mottle(rng, 12, 3) * 0.8, 0.15, 0.1,
    )  # fmt: skip
    rust = np.clip((mottle(rng, 60, 5) - 0.4) * 1.2, 0, 1) * box(420, 250, 1120, 760)
    scene.tint(rust.astype(np.float32), srgb("#6f3d1c"), 0.75)
    # cable and plug
    scene.tube(
        curve([(1010, 500), (1180, 480), (1330, 380), (1420, 200), (1440, -60)]), 40, RUBBER, base=18, ribs=22
    )
    scene.lay(box(900, 430, 1090, 570, 26), PLASTIC, 112, 0.45)
    scene.lay(box(930, 416, 1010, 440, 8), srgb("#a8641d"), 120, 0.45)
    # housing
    cx, cy = 740.0, 500.0
    scene.lay(box(500, 300, 960, 700, 70), srgb("#1e2023"), 78, 0.45)
    d = np.hypot(xs - cx, ys - cy)
    drum = 128 + 12 * np.clip((186 - d) / 20, 0, 1)
    scene.lay(disc(cx, cy, 190), srgb("#26292c"), drum.astype(np.float32), 0.5)
    for k in range(24):
        turn = k * np.pi / 12
        rib = stroke(
            [
                (cx + 150 * np.cos(turn), cy + 150 * np.sin(turn)),
                (cx + 182 * np.cos(turn), cy + 182 * np.sin(turn)),
            ],
            8,
        )
        scene.raise_(rib, 4)
    hexagon(scene, 560, 345, 34, 80, 0.1)
    hexagon(scene, 905, 652, 34, 80, 0.5)
    # paint mark across bolt and housing: tightened
    scene.tint(stroke([(548, 322), (596, 392)], 9, soft=0.8), srgb("#e8d23a"))
    scene.tint(stroke([(890, 630), (946, 690)], 9, soft=0.8), srgb("#e8d23a"))
    sticker = box(610, 590, 830, 660, 6)
    scene.lay(sticker, srgb("#e6e6e0"), 141, 0.2)
    scene.tint(lettering([(720, 625, 38, "73K 290 56")], "mm", bold=0.6) * sticker, srgb("#151618"))
    # lever, ball joint and rod down to the axle
    scene.tube([(cx, cy - 20), (300, 430)], 27, STEEL, base=140, gloss=0.6, metal=0.7)
    hub = np.hypot(xs - cx, ys - cy + 20)
    scene.lay(np.clip(62 - hub, 0, 1).astype(np.float32), STEEL, 196, 0.6, 0.6)
    hexagon(scene, cx, cy - 20, 34, 196, 0.35)
    scene.tube([(286, 470), (250, 1240)], 22, srgb("#a8935a"), base=120, gloss=0.7, metal=0.8)
    scene.tube([(287, 450), (281, 560)], 34, STEEL, base=118, gloss=0.6, metal=0.7)
    ball = np.sqrt(np.clip(52.0**2 - (xs - 290) ** 2 - (ys - 430) ** 2, 0, None))
    scene.lay(disc(290, 430, 52), srgb("#1d1f20"), (165 + ball).astype(np.float32), 0.55)
    scene.lay(stroke([(1290, 330), (1400, 384)], 20), srgb("#141516"), 112, 0.5)
    dust = np.clip(mottle(rng, 160, 5) * 0.35 - 0.1, 0, 1) * (scene.height < 70)
    scene.tint(dust.astype(np.float32), MUD, 0.7)
    picture = scene.shaded((-0.55, -0.55, 0.63), ambient=0.4)
    torch = np.exp(-(((xs - 720) / 720) ** 2 + ((ys - 520) / 560) ** 2))
    picture = picture * (0.55 + 0.7 * torch)[..., None]
    picture = defocused(picture, 0.3 + scene.height / 60)
    slant = [(-90, -20), (W + 40, -110), (W + 60, H + 20), (-40, H + 110)]
    return exposed(warped(picture, slant), rng, warmth=0.03, grain=0.014, exposure=1.2)


PICTURES: dict[str, Callable[[np.random.Generator], Image.Image]] = {
    "odometer": odometer,
    "plate": plate,
    "connector": connector,
    "gauge": gauge,
    "hose": hose,
    "label": label,
    "sensor": sensor,
}


def write_photo(
    path: Path, picture: Image.Image, camera: Camera, shown: datetime, orientation: int, zone: str
) -> None:
    """A JPEG with the EXIF 2.32 fields that matter here.

    `picture` is what the sensor saw, `orientation` how to turn it, `shown` the local time on the
    camera's clock, `zone` that clock's offset as "+hh:mm".
    """
    exif = Image.Exif()
    stamp = shown.strftime("%Y:%m:%d %H:%M:%S")
    exif[ExifTags.Base.Make] = camera.make
    exif[ExifTags.Base.Model] = camera.model
    exif[ExifTags.Base.Orientation] = orientation
    exif[ExifTags.Base.Software] = "synthetic sample"
    exif[ExifTags.Base.DateTime] = stamp
    detail = exif.get_ifd(ExifTags.IFD.Exif)
    detail[ExifTags.Base.ExifVersion] = b"0232"
    detail[ExifTags.Base.DateTimeOriginal] = stamp
    detail[ExifTags.Base.DateTimeDigitized] = stamp
    if camera.subsec:
        detail[ExifTags.Base.SubsecTimeOriginal] = f"{shown.microsecond // 10000:02d}"
    if camera.offset_time:
        detail[ExifTags.Base.OffsetTimeOriginal] = zone
    part = path.with_name(path.name + ".part")
    picture.save(part, "JPEG", quality=84, exif=exif, subsampling="4:2:0", optimize=True)
    part.replace(path)

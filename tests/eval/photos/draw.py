"""Draws the photo set: labels, plates, displays and tyre walls as a phone would take them, and pictures
without any writing. Every value is invented. Nothing is committed: a seed gives the same pictures again.

    python tests/eval/photos/draw.py FOLDER [dev|aside]    # writes them, to look at
"""

from __future__ import annotations

import io
import math
import random
import sys
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from importlib import metadata
from pathlib import Path

import barcode
import cv2
import numpy as np
import segno
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from ppf.datamatrix import DataMatrix

WIDTH, HEIGHT = 2000, 1500
DEV, ASIDE = 72, 48
"""Photos with writing, and as many without, in the part that is tuned on and in the part kept aside."""

Pixels = NDArray[np.uint8]
Place = tuple[float, float]
Colour = tuple[int, int, int]


@dataclass(frozen=True)
class Drawn:
    """One picture and what is in it: every line of writing as drawn, the values among them, the barcodes as
    (kind, text), and what was done to it."""

    name: str
    image: Image.Image
    kind: str
    lines: tuple[str, ...] = ()
    values: tuple[str, ...] = ()
    barcodes: tuple[tuple[str, str], ...] = ()
    spoilt: tuple[str, ...] = ()


@dataclass
class Face:
    """A flat thing with writing on it, before it is photographed."""

    image: Image.Image
    lines: list[str]
    values: list[str]
    barcodes: list[tuple[str, str]]


# --- type ----------------------------------------------------------------------------------------


def _monospaced() -> str:
    """A face with a dotted zero, which the barcode library carries."""
    return str(metadata.distribution("python-barcode").locate_file("barcode/fonts/DejaVuSansMono.ttf"))


def _font(rng: random.Random, size: int) -> ImageFont.FreeTypeFont:
    if rng.random() < 0.4:
        return ImageFont.truetype(_monospaced(), size)
    font = ImageFont.load_default(size)
    assert isinstance(font, ImageFont.FreeTypeFont)
    return font


#: which segments a digit lights: a top, b and c right, d foot, e and f left, g middle
_SEGMENTS = {
    "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc", "5": "afgcd", "6": "afgedc",
    "7": "abc", "8": "abcdefg", "9": "abcfgd", "-": "g",
}  # fmt: skip


def _seven_segments(draw: ImageDraw.ImageDraw, at: tuple[int, int], text: str, size: int, ink: Colour) -> int:
    """Draw `text` `size` pixels tall; where it ends."""
    x, y = at
    wide, bar = round(size * 0.5), max(3, round(size * 0.12))
    gap = max(1, bar // 6)
    half = size // 2
    for char in text:
        if char == ".":
            draw.rectangle((x - bar // 2, y + size - bar, x + bar // 2, y + size), fill=ink)
            x += bar
            continue
        places = {
            "a": (x + gap, y, x + wide - gap, y + bar),
            "g": (x + gap, y + half - bar // 2, x + wide - gap, y + half + bar // 2),
            "d": (x + gap, y + size - bar, x + wide - gap, y + size),
            "f": (x, y + gap, x + bar, y + half - gap),
            "e": (x, y + half + gap, x + bar, y + size - gap),
            "b": (x + wide - bar, y + gap, x + wide, y + half - gap),
            "c": (x + wide - bar, y + half + gap, x + wide, y + size - gap),
        }
        for segment in _SEGMENTS[char]:
            draw.rectangle(places[segment], fill=ink)
        x += round(wide * 1.35)
    return x


# --- invented values -----------------------------------------------------------------------------


def _digits(rng: random.Random, count: int) -> str:
    return str(rng.randint(1, 9)) + "".join(rng.choice("0123456789") for _ in range(count - 1))


def _letters(rng: random.Random, count: int) -> str:
    return "".join(rng.choice("ABCDEFGHKLMNPRSTUVWXYZ") for _ in range(count))


def _part_number(rng: random.Random) -> str:
    return rng.choice(
        [
            lambda: f"{_digits(rng, 1)} {_digits(rng, 3)} {_digits(rng, 3)}",
            lambda: f"{_letters(rng, 2)} {_digits(rng, 4)}-{_digits(rng, 2)}",
            lambda: f"{_digits(rng, 2)}{_letters(rng, 1)} {_digits(rng, 3)} {_digits(rng, 2)}",
            lambda: _digits(rng, 8),
            lambda: f"{_letters(rng, 1)}{_digits(rng, 3)}.{_digits(rng, 4)}.{_digits(rng, 2)}",
        ]
    )()


def _identity(rng: random.Random) -> str:
    """17 characters without I, O and Q, as ISO 3779 has it; no maker's."""
    return "XX0" + "".join(rng.choice("ABCDEFGHJKLMNPRSTUVWXYZ0123456789") for _ in range(14))


# --- faces ---------------------------------------------------------------------------------------


def _bars(kind: str, text: str, module: int, tall: int) -> tuple[Image.Image, str]:
    """The barcode, and what a reader must find in it: the encoder adds check digits to some."""
    if kind == "QR Code":
        matrix = [[bool(c) for c in row] for row in segno.make(text, error="m", micro=False).matrix]
    elif kind == "Data Matrix":
        matrix = [[bool(c) for c in row] for row in DataMatrix(text).matrix]
    else:
        if kind == "Code 39":
            code = barcode.Code39(text, add_checksum=False)
        else:
            code = barcode.get({"Code 128": "code128", "EAN-13": "ean13", "EAN-8": "ean8"}[kind], text)
        bars = np.where(np.array([c == "1" for c in code.build()[0]]), 0, 255).astype(np.uint8)[None, :]
        strip = np.repeat(np.repeat(bars, tall, axis=0), module, axis=1)
        quiet = np.pad(strip, 10 * module, constant_values=255)
        return Image.fromarray(quiet).convert("RGB"), code.get_fullcode()
    cells = np.where(np.array(matrix), 0, 255).astype(np.uint8)
    side = max(module * 2, 5)
    square = np.kron(cells, np.ones((side, side), np.uint8))
    return Image.fromarray(np.pad(square, 4 * side, constant_values=255)).convert("RGB"), text


def _part_label(rng: random.Random) -> Face:
    size = rng.randint(34, 62)
    number, serial, lot = _part_number(rng), f"{_letters(rng, 1)}{_digits(rng, 6)}", _digits(rng, 4)
    rows = [
        rng.choice(["HEIGHT SENSOR", "ACTUATOR", "BELT TENSIONER", "AIR DRYER", "COOLANT PUMP", "CLAMP KIT"]),
        f"{rng.choice(['P/N', 'PART NO.', 'No.'])} {number}",
        f"{rng.choice(['S/N', 'SERIAL'])} {serial}",
        f"LOT {lot}",
    ]
    values = [number, serial, lot]
    if rng.random() < 0.5:
        rows.append(f"QTY {rng.randint(1, 12)}")
    paper = rng.choice([(250, 250, 246), (240, 236, 220), (255, 224, 90), (225, 235, 245)])
    image = Image.new("RGB", (1000, 1100), paper)
    draw = ImageDraw.Draw(image)
    font = _font(rng, size)
    y = 40
    for row in rows:
        draw.text((44, y), row, fill=(20, 20, 24), font=font)
        y += round(size * 1.55)
    codes = []
    if rng.random() < 0.6:
        kind = rng.choice(["Code 128", "Code 39", "EAN-13", "EAN-8", "Data Matrix", "QR Code"])
        text = {"EAN-13": _digits(rng, 12), "EAN-8": _digits(rng, 7)}.get(kind, number.replace(" ", "-"))
        code, said = _bars(kind, text, 3 if kind == "Code 39" else 4, 150)
        code.thumbnail((900, 400), Image.Resampling.NEAREST)
        image.paste(code, (44, y))
        y += code.height + 10
        codes.append((kind, said))
    longest = max(draw.textlength(row, font=font) for row in rows)
    wide = max(longest + 90, (code.width + 90) if codes else 0)
    return Face(image.crop((0, 0, min(1000, round(wide)), min(1100, y + 40))), rows, values, codes)


def _plate(rng: random.Random) -> Face:
    size = rng.randint(32, 50)
    identity, mass, axle = (
        _identity(rng),
        f"{_digits(rng, 2)} {_digits(rng, 3)}",
        f"{_digits(rng, 1)} {_digits(rng, 3)}",
    )
    year = f"{rng.randint(1, 12):02d} / 20{rng.randint(10, 31)}"
    rows = ["IDENTITY PLATE", identity, f"GROSS MASS {mass} kg", f"AXLE 1 {axle} kg", f"BUILT {year}"]
    metal, ink = rng.choice(
        [((176, 178, 180), (28, 28, 30)), ((38, 40, 42), (206, 208, 210)), ((150, 152, 150), (60, 60, 62))]
    )
    image = Image.new("RGB", (1100, 700), metal)
    draw = ImageDraw.Draw(image)
    font = _font(rng, size)
    y = 46
    for row in rows:
        # pressed in: a bright edge below, a dark one above
        draw.text((52, y + 2), row, fill=tuple(min(255, c + 26) for c in metal), font=font)
        draw.text((50, y), row, fill=ink, font=font)
        y += round(size * 1.6)
    wide = round(max(draw.textlength(row, font=font) for row in rows)) + 110
    image = image.crop((0, 0, min(1100, wide), y + 40))
    draw = ImageDraw.Draw(image)
    for x in (20, image.width - 20):
        for yy in (20, image.height - 20):
            draw.ellipse((x - 11, yy - 11, x + 11, yy + 11), fill=tuple(c // 2 for c in metal))
    return Face(image, rows, [identity, mass, axle], [])


def _odometer(rng: random.Random) -> Face:
    total, trip = _digits(rng, rng.choice([5, 6])), f"{_digits(rng, 3)}.{_digits(rng, 1)}"
    ink, glass = rng.choice(
        [((20, 26, 20), (170, 190, 160)), ((255, 170, 60), (16, 12, 8)), ((230, 240, 250), (12, 16, 30))]
    )
    image = Image.new("RGB", (900, 430), glass)
    draw = ImageDraw.Draw(image)
    size = rng.randint(50, 80)
    font = _font(rng, size)
    lines = [f"ODO {total} km", f"TRIP {trip} km"]
    for at, row in enumerate(lines):
        draw.text((60, 60 + at * round(size * 2)), row, fill=ink, font=font)
    wide = round(max(draw.textlength(row, font=font) for row in lines)) + 120
    return Face(image.crop((0, 0, wide, 90 + round(size * 3.6))), lines, [total, trip], [])


def _code_reader(rng: random.Random) -> Face:
    codes = []
    for _ in range(rng.randint(2, 4)):
        codes.append(
            rng.choice(
                [
                    lambda: f"SPN {_digits(rng, rng.choice([3, 4]))} FMI {rng.randint(0, 31)}",
                    lambda: f"{rng.choice('PCBU')}{rng.randint(0, 3)}{_digits(rng, 3)}",
                ]
            )()
        )
    rows = ["ACTIVE FAULTS", *codes, f"SUPPLY {_digits(rng, 2)}.{_digits(rng, 1)} V"]
    glass, ink = rng.choice(
        [((10, 14, 30), (220, 230, 240)), ((236, 240, 242), (24, 30, 40)), ((14, 40, 20), (150, 240, 150))]
    )
    image = Image.new("RGB", (1100, 900), glass)
    draw = ImageDraw.Draw(image)
    size = rng.randint(40, 60)
    font = _font(rng, size)
    y = 50
    for row in rows:
        draw.text((60, y), row, fill=ink, font=font)
        y += round(size * 1.6)
    wide = round(max(draw.textlength(row, font=font) for row in rows)) + 120
    return Face(image.crop((0, 0, wide, y + 40)), rows, [*codes, rows[-1].split()[1]], [])


def _meter(rng: random.Random) -> Face:
    whole, unit = rng.choice(
        [("24.6", "V"), ("60.2", "Ω"), ("0.18", "V"), ("119.8", "Ω"), ("4.72", "mA"), ("13", "bar")]
    )
    value = "".join(rng.choice("0123456789") if c.isdigit() else c for c in whole)
    value = value if value[0] != "0" or value.startswith("0.") else "1" + value[1:]
    glass, ink = rng.choice(
        [((178, 190, 170), (24, 30, 26)), ((18, 20, 22), (250, 70, 50)), ((186, 196, 186), (30, 36, 36))]
    )
    size = rng.randint(110, 180)
    image = Image.new("RGB", (1200, size + 160), glass)
    draw = ImageDraw.Draw(image)
    lines = [f"{value} {unit}"]
    if rng.random() < 0.5:
        end = _seven_segments(draw, (70, 80), value, size, ink)
    else:
        font = _font(rng, size)
        draw.text((70, 40), value, fill=ink, font=font)
        end = 70 + round(draw.textlength(value, font=font))
    draw.text((end + 24, 80 + size // 2), unit, fill=ink, font=ImageFont.truetype(_monospaced(), size // 2))
    return Face(image.crop((0, 0, end + 60 + size, size + 160)), lines, [value], [])


def _tyre(rng: random.Random) -> Face:
    size = rng.randint(48, 70)
    week = f"{rng.randint(1, 52):02d}{rng.randint(18, 31)}"
    width, ratio = rng.choice(["275", "295", "315", "385"]), rng.choice(["55", "65", "70", "80"])
    rows = [f"{width}/{ratio} R22.5", f"{_digits(rng, 3)}/{_digits(rng, 3)} {rng.choice('KLM')}", week]
    image = Image.new("RGB", (1000, 460), (46, 46, 48))
    draw = ImageDraw.Draw(image)
    font = _font(rng, size)
    y = 40
    for row in rows:
        draw.text((62, y + 3), row, fill=(16, 16, 18), font=font)
        draw.text((60, y), row, fill=(120, 120, 122), font=font)
        y += round(size * 1.7)
    wide = round(max(draw.textlength(row, font=font) for row in rows)) + 120
    face = np.asarray(image.crop((0, 0, wide, y + 30)))
    # writing on a wall runs round the wheel
    height, width_px = face.shape[:2]
    xs, ys = np.meshgrid(np.arange(width_px, dtype=np.float32), np.arange(height, dtype=np.float32))
    bend = rng.uniform(0.02, 0.07) * width_px
    ys -= bend * (1 - ((xs - width_px / 2) / (width_px / 2)) ** 2) - bend / 2
    bent = cv2.remap(face, xs, ys, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return Face(Image.fromarray(bent), rows, [rows[0], rows[1].split()[0], week], [])


FACES: dict[str, Callable[[random.Random], Face]] = {
    "part label": _part_label,
    "identity plate": _plate,
    "odometer": _odometer,
    "code reader": _code_reader,
    "meter": _meter,
    "tyre wall": _tyre,
}


# --- surroundings, which have no writing ---------------------------------------------------------


def _cloud(numbers: np.random.Generator, scale: int) -> NDArray[np.float32]:
    """Smooth noise of 0–1 whose spots are about `scale` pixels large."""
    small = numbers.random((HEIGHT // scale + 2, WIDTH // scale + 2), dtype=np.float32)
    return np.clip(cv2.resize(small, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC), 0, 1)


def _tinted(grey: NDArray[np.floating], rng: random.Random) -> Pixels:
    low = np.array([rng.randint(15, 70) for _ in range(3)], dtype=np.float32)
    high = np.array([rng.randint(90, 200) for _ in range(3)], dtype=np.float32)
    return (low + np.clip(grey, 0, 1)[..., None] * (high - low)).astype(np.uint8)


def _texture(rng: random.Random, numbers: np.random.Generator) -> Pixels:
    grey = 0.55 * _cloud(numbers, rng.randint(60, 300)) + 0.3 * _cloud(numbers, rng.randint(8, 40))
    return _tinted(grey + 0.15 * numbers.random((HEIGHT, WIDTH), dtype=np.float32), rng)


def _gradient(rng: random.Random, numbers: np.random.Generator) -> Pixels:
    xs, ys = np.meshgrid(np.linspace(0, 1, WIDTH), np.linspace(0, 1, HEIGHT))
    turn = rng.uniform(0, math.tau)
    grey = 0.5 + 0.5 * (math.cos(turn) * (xs - 0.5) + math.sin(turn) * (ys - 0.5))
    return _tinted(grey + 0.02 * numbers.random((HEIGHT, WIDTH)), rng)


def _noise(rng: random.Random, numbers: np.random.Generator) -> Pixels:
    spread = rng.randint(10, 60)
    return np.clip(numbers.normal(rng.randint(60, 190), spread, (HEIGHT, WIDTH, 3)), 0, 255).astype(np.uint8)


def _grille(rng: random.Random, numbers: np.random.Generator) -> Pixels:
    image = Image.fromarray(_gradient(rng, numbers))
    draw = ImageDraw.Draw(image)
    step, thick = rng.randint(24, 110), rng.randint(6, 30)
    ink = tuple(rng.randint(10, 70) for _ in range(3))
    for x in range(-HEIGHT, WIDTH + HEIGHT, step):
        draw.line((x, 0, x + rng.choice([0, 0, 400]), HEIGHT), fill=ink, width=thick)
    if rng.random() < 0.6:
        for y in range(0, HEIGHT, rng.choice([step, step * 2, step * 4])):
            draw.line((0, y, WIDTH, y), fill=ink, width=thick)
    return np.asarray(image)


def _machinery(rng: random.Random, numbers: np.random.Generator) -> Pixels:
    image = Image.fromarray(_texture(rng, numbers))
    draw = ImageDraw.Draw(image)
    for _ in range(rng.randint(12, 40)):
        x, y, size = rng.randint(0, WIDTH), rng.randint(0, HEIGHT), rng.randint(20, 260)
        ink = tuple(rng.randint(20, 200) for _ in range(3))
        shape = rng.randrange(6)
        if shape == 0:  # a bolt's head
            draw.ellipse((x - size, y - size, x + size, y + size), fill=ink, outline=(20, 20, 20), width=4)
            draw.regular_polygon((x, y, size * 0.6), 6, rotation=rng.randint(0, 60), fill=(90, 90, 94))
        elif shape == 1:  # a hose
            points = [(x + at * 90, y + rng.randint(-120, 120)) for at in range(-4, 5)]
            draw.line(points, fill=ink, width=max(12, size // 5), joint="curve")
        elif shape == 2:  # a hole
            draw.ellipse((x - size // 2, y - size // 2, x + size // 2, y + size // 2), fill=(14, 14, 16))
        elif shape == 3:  # a bracket
            draw.rectangle((x, y, x + size * 2, y + size // 2), fill=ink, outline=(24, 24, 26), width=5)
            draw.rectangle((x, y, x + size // 2, y + size * 2), fill=ink, outline=(24, 24, 26), width=5)
        elif shape == 4:  # fins
            for at in range(rng.randint(4, 14)):
                draw.rectangle((x, y + at * 22, x + size * 2, y + at * 22 + 9), fill=ink)
        else:  # a thread, a spring, a chain
            for at in range(rng.randint(5, 20)):
                draw.arc((x + at * 26, y, x + at * 26 + 40, y + size // 2 + 20), 0, 300, fill=ink, width=7)
    return np.asarray(image)


def _tread(rng: random.Random, numbers: np.random.Generator) -> Pixels:
    image = Image.fromarray(_tinted(0.3 * _cloud(numbers, 20), rng))
    draw = ImageDraw.Draw(image)
    side = rng.randint(60, 160)
    for row in range(-1, HEIGHT // side + 1):
        for column in range(-1, WIDTH // side + 1):
            x, y = column * side + (row % 2) * side // 2, row * side
            draw.polygon(
                [
                    (x + 8, y + 14),
                    (x + side - 12, y + 4),
                    (x + side - 8, y + side - 18),
                    (x + 14, y + side - 8),
                ],
                fill=tuple(rng.randint(44, 70) for _ in range(3)),
            )
    return np.asarray(image)


SURROUNDINGS: dict[str, Callable[[random.Random, np.random.Generator], Pixels]] = {
    "texture": _texture,
    "machinery": _machinery,
    "gradient": _gradient,
    "noise": _noise,
    "grille": _grille,
    "tread": _tread,
}


# --- the photo -----------------------------------------------------------------------------------


def _placed(
    face: Image.Image, ground: Pixels, rng: random.Random, turn: int, tilt: float
) -> tuple[Pixels, Place]:
    """The face in its surroundings, turned by quarter turns and some degrees, and seen from the side; and
    where it is."""
    askew = turn * 90 + rng.uniform(-9, 9)
    share = rng.uniform(0.42, 0.85) * min(WIDTH / face.width, HEIGHT / face.height, 1.9)
    if turn % 2:
        share = min(share, 0.8 * HEIGHT / face.width)
    half = np.array([face.width, face.height]) * share / 2
    corners = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) * half
    depth = np.array([rng.choice([-1, 1]), rng.uniform(-0.6, 0.6)]) * tilt
    corners = corners * (1 + (corners / half) @ depth)[:, None]
    radians = math.radians(askew)
    corners = corners @ np.array(
        [[math.cos(radians), math.sin(radians)], [-math.sin(radians), math.cos(radians)]]
    )
    reach = np.abs(corners).max(axis=0)
    free = np.maximum(0, np.array([WIDTH, HEIGHT]) / 2 - reach - 20)
    centre = np.array([WIDTH, HEIGHT]) / 2 + free * np.array([rng.uniform(-1, 1), rng.uniform(-1, 1)])
    target = (corners + centre).astype(np.float32)
    source = np.array(
        [[0, 0], [face.width, 0], [face.width, face.height], [0, face.height]], dtype=np.float32
    )
    matrix = cv2.getPerspectiveTransform(source, target)
    laid = cv2.warpPerspective(np.asarray(face), matrix, (WIDTH, HEIGHT), flags=cv2.INTER_AREA)
    mask = cv2.warpPerspective(np.full((face.height, face.width), 255, np.uint8), matrix, (WIDTH, HEIGHT))
    mask = cv2.GaussianBlur(mask, (3, 3), 0)[..., None].astype(np.float32) / 255
    there = float(centre[0]), float(centre[1])
    return (ground * (1 - mask) + laid * mask).astype(np.uint8), there


def _dirty(image: Pixels, rng: random.Random, numbers: np.random.Generator, _: Place) -> Pixels:
    grime = np.clip(_cloud(numbers, rng.randint(20, 60)) * 1.6 - 0.8, 0, 0.55)[..., None]
    out = image * (1 - grime) + np.array([52, 46, 38]) * grime
    picture = Image.fromarray(out.astype(np.uint8))
    draw = ImageDraw.Draw(picture)
    for _ in range(rng.randint(3, 10)):
        x, y = rng.randint(0, WIDTH), rng.randint(0, HEIGHT)
        end = (x + rng.randint(-300, 300), y + rng.randint(-300, 300))
        draw.line((x, y, *end), fill=tuple(rng.randint(60, 170) for _ in range(3)), width=rng.randint(1, 3))
    return np.asarray(picture)


def _dim(image: Pixels, rng: random.Random, numbers: np.random.Generator, _: Place) -> Pixels:
    dark = image.astype(np.float32) * rng.uniform(0.16, 0.35)
    return np.clip(dark + numbers.normal(0, rng.uniform(2, 6), image.shape), 0, 255).astype(np.uint8)


def _blurred(image: Pixels, rng: random.Random, numbers: np.random.Generator, _: Place) -> Pixels:
    if rng.random() < 0.5:
        return cv2.GaussianBlur(image, (0, 0), rng.uniform(1.5, 3.6)).astype(np.uint8)
    length = rng.randint(5, 13)
    kernel = np.zeros((length, length), np.float32)
    cv2.line(kernel, (0, rng.randrange(length)), (length - 1, rng.randrange(length)), 1.0)
    return cv2.filter2D(image, -1, kernel / kernel.sum()).astype(np.uint8)


def _glare(image: Pixels, rng: random.Random, numbers: np.random.Generator, there: Place) -> Pixels:
    xs, ys = np.meshgrid(np.arange(WIDTH), np.arange(HEIGHT))
    x, y = there[0] + rng.uniform(-250, 250), there[1] + rng.uniform(-150, 150)
    far = ((xs - x) / rng.uniform(150, 420)) ** 2 + ((ys - y) / rng.uniform(80, 260)) ** 2
    light = (rng.uniform(110, 200) * np.exp(-far))[..., None]
    return np.clip(image + light, 0, 255).astype(np.uint8)


SPOILERS: dict[str, Callable[[Pixels, random.Random, np.random.Generator, Place], Pixels]] = {
    "dirty": _dirty,
    "dim": _dim,
    "blurred": _blurred,
    "glare": _glare,
}


def _as_jpeg(image: Pixels, rng: random.Random) -> Image.Image:
    stream = io.BytesIO()
    Image.fromarray(image).save(stream, "JPEG", quality=rng.randint(60, 88))
    return Image.open(io.BytesIO(stream.getvalue())).convert("RGB")


def _spoilt(
    image: Pixels, chosen: list[str], rng: random.Random, numbers: np.random.Generator, there: Place
) -> Image.Image:
    for name in chosen:
        image = SPOILERS[name](image, rng, numbers, there)
    return _as_jpeg(image, rng)


def drawn(name: str) -> Drawn:
    """The picture of that name, such as "dev-012" or "aside-text-free-003": the same each time."""
    seed = zlib.crc32(name.encode())
    rng, numbers = random.Random(seed), np.random.default_rng(seed)
    at = int(name.rsplit("-", 1)[1])
    spoilers = rng.sample(sorted(SPOILERS), rng.choice([0, 1, 1, 1, 2]))
    if "text-free" in name:
        kind = list(SURROUNDINGS)[at % len(SURROUNDINGS)]
        ground = SURROUNDINGS[kind](rng, numbers)
        return Drawn(
            name,
            _spoilt(ground, spoilers, rng, numbers, (WIDTH / 2, HEIGHT / 2)),
            kind,
            spoilt=tuple(spoilers),
        )
    kind = list(FACES)[at % len(FACES)]
    face = FACES[kind](rng)
    turn = rng.choice([0, 0, 0, 1, 2, 3])
    tilt = rng.choice([0.0, 0.08, 0.18, 0.26])
    ground = SURROUNDINGS[rng.choice(["texture", "machinery", "gradient", "grille"])](rng, numbers)
    photo, there = _placed(face.image, ground, rng, turn, tilt)
    image = _spoilt(photo, spoilers, rng, numbers, there)
    marks = [*spoilers, *(["turned"] if turn else []), *(["tilted"] if tilt > 0.1 else [])]
    return Drawn(name, image, kind, tuple(face.lines), tuple(face.values), tuple(face.barcodes), tuple(marks))


def names(part: str) -> tuple[list[str], list[str]]:
    """Of the part "dev" or "aside": the photos with writing, and those without."""
    count = {"dev": DEV, "aside": ASIDE}[part]
    return [f"{part}-{at:03d}" for at in range(count)], [f"{part}-text-free-{at:03d}" for at in range(count)]


def main() -> None:
    folder, parts = Path(sys.argv[1]), sys.argv[2:] or ["dev"]
    folder.mkdir(parents=True, exist_ok=True)
    for part in parts:
        for name in (*names(part)[0], *names(part)[1]):
            drawn(name).image.save(folder / f"{name}.jpg", quality=90)


def all_of(part: str) -> Iterator[Drawn]:
    for group in names(part):
        yield from map(drawn, group)


if __name__ == "__main__":
    main()

"""Draws the icons of the technician's page: a microphone's capsule with lines of writing on it."""

from __future__ import annotations

from pathlib import Path

from PIL import Image, ImageDraw

OUT = Path(__file__).parents[1] / "jobnotes" / "serve" / "static" / "capture"
INK, PAPER, LENS = "#0b4f6c", "#ffffff", "#ffc61a"
SCALE = 4  # drawn larger, so that the edges are smooth
#: in hundredths; all of it lies within the 80 % that a mask leaves (W3C Web App Manifest, "maskable")
CAPSULE = (36, 18, 64, 60)
LINES = (27, 35, 43)
HOLDER = (28, 34, 72, 70)


def icon(size: int) -> Image.Image:
    full = size * SCALE
    picture = Image.new("RGB", (full, full), INK)
    draw = ImageDraw.Draw(picture)

    def at(*hundredths: float) -> tuple[float, ...]:
        return tuple(value * full / 100 for value in hundredths)

    wide = round(full * 0.05)
    draw.rounded_rectangle(at(*CAPSULE), radius=full * 0.14, fill=PAPER)
    for y in LINES:
        draw.line(at(42, y, 58, y), fill=INK, width=round(full * 0.03))
    draw.arc(at(*HOLDER), 0, 180, fill=PAPER, width=wide)
    draw.line(at(50, 70, 50, 82), fill=PAPER, width=wide)
    draw.ellipse(at(66, 66, 82, 82), fill=LENS)
    return picture.resize((size, size), Image.Resampling.LANCZOS)


if __name__ == "__main__":
    for size in (192, 512):
        icon(size).save(OUT / f"icon-{size}.png", optimize=True)

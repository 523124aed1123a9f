"""Stated confidence against truth: a table in bins, and a picture of it.

Only facts that can be judged count: those that are listed in the set, are wrong, or are of a closed kind
(README.md in this folder). A fact of an open kind that nobody listed is neither right nor wrong.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

from PIL import Image, ImageDraw, ImageFont
from score import CLOSED, Outcome, wilson

_EDGES = (0.0, 0.2, 0.35, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.95, 1.0)


@dataclass(frozen=True, slots=True)
class Bin:
    """Facts whose confidence is from `low` (included) to `high` (not, but for 1): how many, how many right.

    `stated` is the mean of their confidence.
    """

    low: float
    high: float
    count: int
    stated: float
    right: int

    @property
    def truth(self) -> float:
        return self.right / self.count


def judged(outcomes: Sequence[Outcome]) -> list[tuple[float, bool]]:
    """(confidence, right) of each fact that can be judged."""
    return [
        (o.fact["confidence"], not o.wrong)
        for o in outcomes
        if o.listed or o.wrong or o.fact["kind"] in CLOSED
    ]


def bins(pairs: Sequence[tuple[float, bool]]) -> list[Bin]:
    """The bins that hold anything."""
    out: list[Bin] = []
    for low, high in pairwise(_EDGES):
        here = [(c, ok) for c, ok in pairs if low <= c < high or (high == 1 and c >= 1)]
        if here:
            stated = sum(c for c, _ in here) / len(here)
            out.append(Bin(low, high, len(here), stated, sum(ok for _, ok in here)))
    return out


def gap(of: Sequence[Bin]) -> float:
    """The mean distance of stated confidence and truth over all facts (expected calibration error).

    After M. P. Naeini, G. Cooper and M. Hauskrecht, AAAI 2015, from memory.
    """
    total = sum(b.count for b in of)
    return sum(b.count * abs(b.stated - b.truth) for b in of) / total if total else 0.0


def table(of: Sequence[Bin]) -> str:
    rows = [f"{'confidence':>12s} {'facts':>6s} {'stated':>7s} {'right':>7s}   95 % interval"]
    for b in of:
        low, high = wilson(b.right, b.count)
        rows.append(
            f"{b.low:5.2f} – {b.high:4.2f} {b.count:6d} {b.stated:7.3f} {b.truth:7.3f}"
            f"   {low:.3f} – {high:.3f}"
        )
    rows.append(f"mean distance of stated and true: {gap(of):.3f}")
    return "\n".join(rows)


# --- the picture ----------------------------------------------------------------------------------

_SCALE = 2
_SIDE, _LEFT, _BARS, _GAP = 420, 70, 90, 46
_INK, _PALE, _GRID = (40, 44, 52), (150, 155, 165), (226, 229, 234)
_COLOURS = ((20, 92, 158), (196, 88, 22), (52, 128, 72), (130, 70, 140))  # told apart by shape too


def picture(series: Sequence[tuple[str, Sequence[Bin]]], title: str, to: Path, what: str = "facts") -> None:
    """Draws one curve a series, with its 95 % intervals, and under it how many of `what` each bin holds."""
    top = 70 + 18 * len(series)
    width, height = _LEFT + _SIDE + 30, top + _SIDE + _GAP + _BARS + 36
    image = Image.new("RGB", (width * _SCALE, height * _SCALE), "white")
    pen = ImageDraw.Draw(image)
    font, small = (ImageFont.load_default(size * _SCALE) for size in (13, 11))

    def x(value: float) -> float:
        return (_LEFT + value * _SIDE) * _SCALE

    def y(value: float) -> float:
        return (top + (1 - value) * _SIDE) * _SCALE

    pen.text((_LEFT * _SCALE, 14 * _SCALE), title, _INK, font)
    for tenth in range(0, 11, 2):
        v = tenth / 10
        pen.line([(x(v), y(0)), (x(v), y(1))], _GRID, _SCALE)
        pen.line([(x(0), y(v)), (x(1), y(v))], _GRID, _SCALE)
        pen.text((x(0) - 8 * _SCALE, y(v)), f"{v:.1f}", _INK, small, anchor="rm")
        pen.text((x(v), y(0) + 6 * _SCALE), f"{v:.1f}", _INK, small, anchor="mt")
    pen.line([(x(0), y(0)), (x(1), y(1))], _PALE, 2 * _SCALE)
    pen.rectangle([x(0), y(1), x(1), y(0)], outline=_INK, width=_SCALE)
    pen.text((_LEFT * _SCALE, (top - 20) * _SCALE), "share that is right", _INK, small)
    bars_top, bars_bottom = top + _SIDE + _GAP, top + _SIDE + _GAP + _BARS
    most = max((b.count for _, of in series for b in of), default=1)
    for at, (name, of) in enumerate(series):
        colour = _COLOURS[at % len(_COLOURS)]
        shift = (at - (len(series) - 1) / 2) * 0.006
        points = [(x(b.stated + shift), y(b.truth)) for b in of]
        if len(points) > 1:
            pen.line(points, colour, 2 * _SCALE)
        for b, (px, py) in zip(of, points, strict=True):
            low, high = wilson(b.right, b.count)
            pen.line([(px, y(low)), (px, y(high))], colour, _SCALE)
            _mark(pen, at, px, py, colour)
            part = (x(b.high) - x(b.low)) / len(series)
            upper = bars_bottom - max(1.0, _BARS * b.count / most)
            left = x(b.low) + at * part
            pen.rectangle(
                [left + _SCALE, upper * _SCALE, left + part - _SCALE, bars_bottom * _SCALE],
                colour,
            )
        total = sum(b.count for b in of)
        row = (44 + 18 * at) * _SCALE
        _mark(pen, at, x(0) + 6 * _SCALE, row, colour)
        label = f"{name}: {total} {what}, mean distance {gap(of):.3f}"
        pen.text((x(0) + 18 * _SCALE, row), label, _INK, small, anchor="lm")
    pen.line([(x(0), bars_bottom * _SCALE), (x(1), bars_bottom * _SCALE)], _INK, _SCALE)
    pen.text((x(0) - 8 * _SCALE, bars_top * _SCALE), f"{most}", _INK, small, anchor="rt")
    pen.text((x(0) - 8 * _SCALE, bars_bottom * _SCALE), "0", _INK, small, anchor="rb")
    notes = (
        (f"stated confidence; below: {what} in each bin", top + _SIDE + 22),
        ("grey line: as right as stated; upright lines: 95 % Wilson intervals", bars_bottom + 8),
    )
    for note, down in notes:
        pen.text((x(0.5), down * _SCALE), note, _INK, small, anchor="mt")
    to.parent.mkdir(parents=True, exist_ok=True)
    part_file = to.with_name(to.name + ".part")
    image.quantize(64).save(part_file, "PNG", optimize=True)
    part_file.replace(to)


def _mark(pen: ImageDraw.ImageDraw, at: int, px: float, py: float, colour: tuple[int, int, int]) -> None:
    r = 4.5 * _SCALE
    box = [px - r, py - r, px + r, py + r]
    if at % 4 == 0:
        pen.ellipse(box, colour)
    elif at % 4 == 1:
        pen.rectangle(box, colour)
    elif at % 4 == 2:
        pen.polygon([(px, py - r), (px + r, py + r), (px - r, py + r)], colour)
    else:
        pen.polygon([(px, py - r), (px + r, py), (px, py + r), (px - r, py)], colour)

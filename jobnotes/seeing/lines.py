"""Pieces of writing that were found one by one, put together into lines in the order of reading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Quad = NDArray[np.float64]
"""Shape (4, 2), in pixels: clockwise from the text's own top left."""

_SAME_LINE = 0.5  # of the smaller height, by which two pieces of one line overlap at least
_GAP = 1.6  # heights, at most, between two pieces of one line
_LIKE_HEIGHT = 0.55  # two pieces of one line are about equally tall
_TURNED = math.radians(30)  # writing that lies otherwise than the rest has lines of its own


@dataclass(frozen=True, slots=True)
class Piece:
    """What was read in one place; confidence 0–1."""

    text: str
    confidence: float
    quad: Quad

    @property
    def along(self) -> float:
        """The direction in which it is read, in radians clockwise from left-to-right."""
        step = (self.quad[1] - self.quad[0]) + (self.quad[2] - self.quad[3])
        return math.atan2(step[1], step[0])

    @property
    def width(self) -> float:
        return float(np.linalg.norm(self.quad[1] - self.quad[0]))

    @property
    def height(self) -> float:
        return float(np.linalg.norm(self.quad[3] - self.quad[0]))


def in_reading_order(pieces: Sequence[Piece]) -> list[Piece]:
    """The lines, top to bottom, as whoever holds the writing upright sees them.

    What stands side by side, close and of about one height, becomes one line: its confidence is the least of
    its pieces'. Writing in another direction follows after that of which there is most.
    """
    rest, lines = list(pieces), []
    while rest:
        angle = max(rest, key=lambda p: (p.width, p.text)).along
        alike = [p for p in rest if _apart(p.along, angle) < _TURNED]
        rest = [p for p in rest if _apart(p.along, angle) >= _TURNED]
        lines += _rows(alike, _median_angle(alike, angle))
    return lines


def _apart(one: float, other: float) -> float:
    return abs((one - other + math.pi) % (2 * math.pi) - math.pi)


def _median_angle(pieces: Sequence[Piece], near: float) -> float:
    """The direction of the middle piece, which one that was found askew doesn't turn."""
    turns = sorted((p.along - near + math.pi) % (2 * math.pi) - math.pi for p in pieces)
    return near + turns[len(turns) // 2]


def _rows(pieces: Sequence[Piece], angle: float) -> list[Piece]:
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    boxes = [_Box.of(piece, piece.quad @ turn.T) for piece in pieces]
    boxes.sort(key=lambda b: (b.middle, b.left))
    rows: list[list[_Box]] = []
    for box in boxes:
        row = next((row for row in reversed(rows) if any(box.beside(other) for other in row)), None)
        if row is None:
            rows.append([box])
        else:
            row.append(box)
    lines = []
    for row in rows:
        row.sort(key=lambda b: b.left)
        line = [row[0]]
        for box in row[1:]:
            if box.goes_on(line[-1]):
                line.append(box)
            else:
                lines.append(_joined(line, turn))
                line = [box]
        lines.append(_joined(line, turn))
    return lines


@dataclass(frozen=True, slots=True)
class _Box:
    """A piece in the frame in which its writing is upright, in pixels."""

    piece: Piece
    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def of(cls, piece: Piece, upright: Quad) -> _Box:
        # the edges' middles: a box that lies a little askew is not taller for it
        left, right = upright[[0, 3], 0].mean(), upright[[1, 2], 0].mean()
        top, bottom = upright[[0, 1], 1].mean(), upright[[2, 3], 1].mean()
        return cls(piece, float(left), float(top), float(right), float(bottom))

    @property
    def middle(self) -> float:
        return (self.top + self.bottom) / 2

    @property
    def height(self) -> float:
        return self.bottom - self.top

    def beside(self, other: _Box) -> bool:
        shared = min(self.bottom, other.bottom) - max(self.top, other.top)
        return shared > _SAME_LINE * min(self.height, other.height) and (
            self.left >= other.right or other.left >= self.right or shared > 0.8 * self.height
        )

    def goes_on(self, before: _Box) -> bool:
        small, large = sorted((self.height, before.height))
        return small > _LIKE_HEIGHT * large and -0.5 * large < self.left - before.right < _GAP * large


def _joined(line: Sequence[_Box], turn: NDArray[np.float64]) -> Piece:
    if len(line) == 1:
        return line[0].piece
    left, top = line[0].left, min(b.top for b in line)
    right, bottom = line[-1].right, max(b.bottom for b in line)
    upright = np.array([[left, top], [right, top], [right, bottom], [left, bottom]])
    text = " ".join(b.piece.text for b in line)
    return Piece(text, min(b.piece.confidence for b in line), upright @ turn)

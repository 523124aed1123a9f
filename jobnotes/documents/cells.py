"""Columns and cells of a table, and about how much room they need."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

# of the house's table styles, rounded up
_LEAST_MM = 4.5  # what padding takes of a column's width
_HEADING_CHARACTER_MM, _DIGIT_MM, _POINT_MM = 1.65, 1.78, 1.0
_LINE_MM = 4.1
_CHARACTER_MM: Mapping[str, float] = {"TableText": 1.75, "TableSmall": 1.55, "TableCode": 1.6}


@dataclass(frozen=True, slots=True)
class Column:
    """A column of a table. `width` is a share, not a length; a column without content is left out
    unless it is `always` wanted. `style` is that of its paragraphs."""

    heading: str
    width: float
    always: bool = False
    style: Literal["TableText", "TableSmall", "TableCode"] = "TableText"
    align: Literal["left", "right"] = "left"


@dataclass(frozen=True, slots=True)
class Cell:
    """Text of a cell, and below it what is doubtful about it."""

    text: str
    remark: str = ""
    bold: bool = False


def least_width_mm(column: Column, texts: Sequence[str]) -> float:
    """About how wide a column must be so that no word of its heading, and no amount below it, is cut."""
    heading = max(map(len, column.heading.split()), default=0) * _HEADING_CHARACTER_MM
    if column.align == "left":
        return heading + _LEAST_MM
    # a text as long as a sentence is no amount
    lines = [line for text in texts for line in text.split("\n") if len(line) <= 20]
    wide = (sum(_POINT_MM if c in ".,\u00a0 " else _DIGIT_MM for c in line) for line in lines)
    return max(heading, *wide, 0.0) + _LEAST_MM


def widths_mm(total: float, shares: Sequence[float], least: Sequence[float]) -> list[float]:
    """`total` by the shares; a column that would be narrower than its least gets that from the others."""
    fixed: set[int] = set()
    while True:
        free = [index for index in range(len(shares)) if index not in fixed]
        room = total - sum(least[index] for index in fixed)
        each = room / sum(shares[index] for index in free) if free else 0.0
        narrow = {index for index in free if shares[index] * each < least[index]}
        if not narrow:
            return [least[i] if i in fixed else shares[i] * each for i in range(len(shares))]
        fixed |= narrow
        if len(fixed) == len(shares) or sum(least[index] for index in fixed) >= total:
            return [total * one / sum(least) for one in least]  # no room for all: each a little less


def row_height_mm(cells: Sequence[Cell], widths: Sequence[float], styles: Sequence[str]) -> float:
    """About how tall a row will be: enough to tell a low table from one that must break."""
    tallest = 1
    for cell, width, style in zip(cells, widths, styles, strict=True):
        per_line = max(1, int((width - 3) / _CHARACTER_MM[style]))
        lines = sum(
            max(1, -(-len(line) // per_line))
            for text in (cell.text, cell.remark)
            if text
            for line in text.split("\n")
        )
        tallest = max(tallest, lines)
    return tallest * _LINE_MM + 2

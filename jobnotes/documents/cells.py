"""Columns and cells of a table, and about how much room they need."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

# of the house's table styles, rounded up
_LEAST_MM = 4.5  # what padding takes of a column's width
_HEADING_CHARACTER_MM = 1.65
_POINTS: Mapping[str, float] = {"TableText": 9.0, "TableSmall": 8.0, "TableCode": 7.5, "TableHeading": 8.0}
_MM_PER_POINT = 25.4 / 72
# widths of characters in em, of a common sans-serif face, rounded up
_NARROW, _WIDE, _CAPITAL, _OTHER = 0.34, 0.95, 0.74, 0.6
_LONGEST_WORD = 24  # characters: a longer one may break, as a digest or a sentence in one word must
_MOST_CROWDED = 0.7  # the smallest that type may become, beside its own size
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
    below: bool = False  # on a narrow page its text goes below that of the first column


@dataclass(frozen=True, slots=True)
class Cell:
    """Text of a cell, and below it what is doubtful about it."""

    text: str
    remark: str = ""
    bold: bool = False


def word_mm(text: str, points: float) -> float:
    """About how wide a text is on one line, in type of `points`."""
    em = sum(
        _NARROW
        if c in "ijlIftr.,:;'|!()[]/- \u00a0"
        else _WIDE
        if c in "mwMW%@ΩÆŒ"
        else _CAPITAL
        if c.isupper()
        else _OTHER
        for c in text
    )
    return em * points * _MM_PER_POINT


def widest_word_mm(column: Column, texts: Sequence[str]) -> float:
    """How wide the widest thing in a column is that must not break: a word, an amount, a value and its unit
    (a no-break space holds them together)."""
    heading = max((len(word) for word in column.heading.split(" ")), default=0) * _HEADING_CHARACTER_MM
    words = {
        word
        for text in texts
        for line in text.split("\n")
        for word in ([line] if column.align == "right" and len(line) <= 20 else re.split("[ -]", line))
        if len(word) <= _LONGEST_WORD
    }
    return max([heading, *(word_mm(word, _POINTS[column.style]) for word in words)])


def scale_for(total: float, words: Sequence[float]) -> float:
    """By how much the type of a table must shrink so that no column's widest word breaks; 1: not at all."""
    wanted, room = sum(words), total - _LEAST_MM * len(words)
    return 1.0 if wanted <= room else max(room / wanted, _MOST_CROWDED)


def least_width_mm(word: float, scale: float = 1.0) -> float:
    """About how wide a column must be for its widest word."""
    return word * scale + _LEAST_MM


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


def points_of(style: str, scale: float) -> float | None:
    """The size of a style's type in a table that is scaled, to the half point; None where it isn't."""
    return None if scale >= 1 else int(_POINTS[style] * scale * 2) / 2


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

"""Columns and cells of a table, and about how much room they need."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Literal

from jobnotes.documents.pictures import Shown
from jobnotes.documents.plaintext import unmarked

# of the house's table styles, rounded up
PADDING_MM = 3.0
_LEAST_MM = 4.5  # what padding takes of a column's width
_HEADING_CHARACTER_MM = 1.65
_POINTS: Mapping[str, float] = {
    "TableText": 9.0,
    "TableSmall": 8.0,
    "TableCode": 7.5,
    "TableHeading": 8.0,
    "Remark": 8.5,
}
_MM_PER_POINT = 25.4 / 72
# widths of characters in em, of a common sans-serif face, rounded up
_NARROW, _WIDE, _CAPITAL, _OTHER = 0.34, 0.95, 0.74, 0.6
_RUNNING_TEXT = 0.93  # of these widths, over a whole line
_LONGEST_WORD = 24  # characters: a longer one may break, as a digest or a sentence in one word must
_MOST_CROWDED = 0.7  # the smallest that type may become, beside its own size
# how much smaller type may become to keep a table on one page: half points of 9 point
_STEPS = (1.0, 0.945, 0.889, 0.834, 0.778, 0.722)
_LINE_OF_POINT_MM = 0.43  # the height of a line for each point of its type
PICTURE_MM = 40.0  # the height of a picture in a cell
_CAPTION_MM = 12.0


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
    whole: bool = False  # a short line of it does not break: a code, an amount


@dataclass(frozen=True, slots=True)
class Plate:
    """A picture with its caption; `alt` says the same to who can't see it. No picture: `missing` says so."""

    shown: Shown | None
    caption: str
    alt: str
    missing: str


@dataclass(frozen=True, slots=True)
class Cell:
    """Text of a cell, and below it what is doubtful about it; or a picture in place of text."""

    text: str
    remark: str = ""
    bold: bool = False
    plate: Plate | None = None

    def empty(self, none: str) -> bool:
        """True where it holds nothing, or only the sign `none` for that."""
        return self.text in ("", none) and self.plate is None


@lru_cache(maxsize=1024)
def _em(character: str) -> float:
    if character in "ijlIftr.,:;'|!()[]/- \u00a0":
        return _NARROW
    if character in "mwMW%@ΩÆŒ":
        return _WIDE
    return _CAPITAL if character.isupper() else _OTHER


def word_mm(text: str, points: float) -> float:
    """About how wide a text is on one line, in type of `points`."""
    return sum(map(_em, text)) * points * _MM_PER_POINT


def lines_of(text: str, width_mm: float, points: float) -> int:
    """About how many lines a text takes in a column so wide, in type of `points`."""
    points *= _RUNNING_TEXT
    space = word_mm(" ", points)
    count = 0
    for line in unmarked(text).split("\n"):
        count += 1
        filled = 0.0
        for word in line.split(" "):
            wide = word_mm(word, points)
            if filled and filled + space + wide > width_mm:
                count, filled = count + 1, 0.0
            over = int(wide / width_mm) if wide > width_mm else 0  # a word too long for a line breaks
            count += over
            filled += wide - over * width_mm + (space if filled else 0.0)
    return count


def widest_word_mm(column: Column, texts: Sequence[str]) -> float:
    """How wide the widest thing in a column is that must not break: a word, an amount, a value and its unit
    (a no-break space holds them together)."""
    texts = [unmarked(text) for text in texts]
    heading = max((len(word) for word in column.heading.split(" ")), default=0) * _HEADING_CHARACTER_MM
    words = {
        word
        for text in texts
        for line in text.split("\n")
        for word in (
            [line]
            if (column.whole or column.align == "right") and len(line) <= 20
            else re.split("[ -]", line)
        )
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


def steps_from(scale: float) -> list[float]:
    """This scale and the smaller ones that a table may be set in to fit a page."""
    return [scale, *(step for step in _STEPS if step < scale)]


def points_of(style: str, scale: float) -> float | None:
    """The size of a style's type in a table that is scaled, to the half point; None where it isn't."""
    return None if scale >= 1 else int(_POINTS[style] * scale * 2) / 2


def row_height_mm(
    cells: Sequence[Cell], widths: Sequence[float], styles: Sequence[str], scale: float = 1.0
) -> float:
    """About how tall a row will be in type so scaled: enough to tell a low table from one that must break."""
    tallest = 0.0
    for cell, width, style in zip(cells, widths, styles, strict=True):
        high = 0.0
        for text, points in ((cell.text or "–", _POINTS[style]), (cell.remark, _POINTS["Remark"])):
            if text:
                room = max(width - PADDING_MM, 1.0)
                high += lines_of(text, room, points * scale) * points * scale * _LINE_OF_POINT_MM
        tallest = max(tallest, high)
    pictures = [PICTURE_MM + _CAPTION_MM for cell in cells if cell.plate]
    return max([tallest, *pictures]) + 2

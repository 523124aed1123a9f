"""Pieces become lines in the order of reading, however the photo was held."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.seeing.lines import Piece, in_reading_order


def piece(text: str, left: float, top: float, width: float, height: float = 40.0) -> Piece:
    right, bottom = left + width, top + height
    quad = np.array([[left, top], [right, top], [right, bottom], [left, bottom]], dtype=np.float64)
    return Piece(text, 0.9 if text != "4 718" else 0.8, quad)


LABEL = [
    piece("24.6", 100, 320, 160, 90),
    piece("P/N", 100, 110, 90),
    piece("HEIGHT SENSOR", 100, 40, 380),
    piece("LEFT", 760, 44, 120),
    piece("4 718", 205, 112, 140),
    piece("S/N 0771", 100, 180, 240),
]
ORDER = ["HEIGHT SENSOR", "LEFT", "P/N 4 718", "S/N 0771", "24.6"]


def test_rows_go_down_and_close_pieces_of_a_row_are_one_line() -> None:
    lines = in_reading_order(LABEL)
    assert [line.text for line in lines] == ORDER
    joined = lines[2]
    assert joined.confidence == 0.8
    assert joined.quad.min(axis=0).tolist() == [100, 110]
    assert joined.quad.max(axis=0).tolist() == [345, 152]


@given(st.floats(-math.pi, math.pi), st.permutations(range(len(LABEL))))
def test_neither_the_turn_of_the_photo_nor_the_order_of_finding_matters(
    angle: float, order: list[int]
) -> None:
    turn = np.array([[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]])
    turned = [Piece(p.text, p.confidence, p.quad @ turn) for p in (LABEL[at] for at in order)]
    assert [line.text for line in in_reading_order(turned)] == ORDER


def test_writing_in_another_direction_comes_after_and_is_not_mixed_in() -> None:
    turn = np.array([[0.0, 1.0], [-1.0, 0.0]])
    upright = Piece("SIDE", 0.9, piece("SIDE", 0, 0, 100).quad @ turn + np.array([300.0, 120.0]))
    assert [line.text for line in in_reading_order([upright, *LABEL])] == [*ORDER, "SIDE"]


def test_no_piece_is_lost_and_none_twice() -> None:
    assert in_reading_order([]) == []
    letters = sorted("".join(line.text for line in in_reading_order(LABEL)).replace(" ", ""))
    assert letters == sorted("".join(p.text for p in LABEL).replace(" ", ""))

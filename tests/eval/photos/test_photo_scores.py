"""The photo reader on the drawn set keeps what docs/photos.md says of it; the whole set is the slow part."""

from __future__ import annotations

import dataclasses

import pytest
from draw import Drawn, drawn, names
from photo_scores import Score, judged, look, score
from PIL import Image, ImageChops

from jobnotes.record import PhotoText

WHOLE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
FEWEST_READ = 0.90
#: the aim, on either part
MOST_WRONG = {"dev": 0.01, "aside": 0.01}


def test_the_set_is_as_large_as_it_should_be() -> None:
    dev, aside = names("dev"), names("aside")
    assert len({*dev[0], *aside[0]}) >= 120
    assert len({*dev[1], *aside[1]}) >= 120


def test_a_picture_is_drawn_the_same_each_time() -> None:
    one, again = drawn("dev-004"), drawn("dev-004")
    assert dataclasses.replace(one, image=again.image) == again
    assert ImageChops.difference(one.image, again.image).getbbox() is None


def _drawn(*lines: str, values: tuple[str, ...]) -> Drawn:
    return Drawn("x-0", Image.new("RGB", (1, 1)), "label", lines, values)


@pytest.mark.parametrize(
    ("read", "found", "wrong"),
    [
        (("P/N 4 718 552", "24.6 V"), 2, 0),
        (("P/N4718552", "24.6V"), 2, 0),
        (("P/N 4 718 55", "24.6 V"), 1, 1),  # clipped
        (("P/N 4 718 552", "246 V"), 1, 1),
        (("P/N 4 718 562",), 0, 1),
        (("4 718 552 24.6", "HEAD"), 2, 0),
        (("X1Y", "00"), 0, 0),  # no number
    ],
)
def test_the_scorer_takes_a_value_only_whole(read: tuple[str, ...], found: int, wrong: int) -> None:
    photo = _drawn("P/N 4 718 552", "24.6 V", values=("4 718 552", "24.6"))
    result = judged(photo, [PhotoText(text, 0.99, WHOLE) for text in read])
    assert (len(result.read), len(result.wrong)) == (found, wrong)


def test_a_few_are_read_and_nothing_in_a_few_without_writing() -> None:
    result = Score(tuple(map(look, ("dev-000", "dev-009"))), (look("dev-text-free-001"),))
    assert result.read == result.values > 0
    assert (result.wrong, result.read_in_text_free) == (0, 0)
    assert result.codes == (1, 1, 0)


@pytest.mark.slow
@pytest.mark.parametrize("part", ["dev", "aside"])
def test_the_whole_set_is_read_as_it_should_be(part: str) -> None:
    result = score(part, processes=2)
    assert result.read / result.values >= FEWEST_READ
    assert result.wrong / result.lines <= MOST_WRONG[part]
    assert result.read_in_text_free == 0
    assert result.codes[2] == 0

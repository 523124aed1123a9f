"""What makes a photo a poor proof is told while it can be taken again."""

from __future__ import annotations

from pathlib import Path

import cv2
import numpy as np
import pytest
from photo_made import grain, label
from PIL import Image, ImageFilter

from jobnotes.seeing import quality


def grey(image: Image.Image) -> np.ndarray:
    small = image.copy()
    small.thumbnail((quality.SIDE, quality.SIDE))
    return np.asarray(small.convert("L"), dtype=np.uint8)


def found(image: Image.Image) -> tuple[str, ...]:
    return quality.flaws(grey(image), *image.size)


GOOD = label(size=(1600, 1200), text=80)


def test_a_good_photo_has_no_flaw() -> None:
    assert found(GOOD) == ()
    assert found(grain((1600, 1200))) == ()


@pytest.mark.parametrize(
    ("spoilt", "flaw"),
    [
        (GOOD.point(lambda value: value // 6), "too dark"),
        (GOOD.point(lambda value: min(255, value * 4)), "burnt out"),
        (GOOD.filter(ImageFilter.GaussianBlur(12)), "blurred"),
        (GOOD.resize((400, 300)), "too small"),
    ],
    ids=["dark", "bright", "blurred", "small"],
)
def test_each_flaw_is_told_alone(spoilt: Image.Image, flaw: str) -> None:
    assert found(spoilt) == (flaw,)


def test_a_dim_photo_that_is_sharp_is_not_called_blurred() -> None:
    assert "blurred" not in found(GOOD.point(lambda value: value // 8))


def test_only_a_part_has_to_be_sharp() -> None:
    """Behind what was aimed at, the workshop is out of focus."""
    picture = GOOD.filter(ImageFilter.GaussianBlur(12))
    picture.paste(GOOD.crop((0, 0, 800, 600)), (0, 0))
    assert found(picture) == ()


def test_the_more_blurred_the_less_sharp() -> None:
    measured = [quality.sharpness(grey(GOOD.filter(ImageFilter.GaussianBlur(by)))) for by in (0, 2, 4, 8)]
    assert measured == sorted(measured, reverse=True)
    assert len(set(measured)) == 4


def test_sharpness_is_the_variance_of_the_laplacian() -> None:
    """By its definition: the second differences in both directions, computed here without OpenCV. The picture
    fills the range already, and its sixteen parts are alike."""
    tile = np.zeros((64, 64), np.uint8)
    tile[16:48, 16:48] = 255
    picture = np.tile(tile, (4, 4))
    blurred = cv2.GaussianBlur(picture, (3, 3), 0).astype(float)
    framed = np.pad(blurred, 1, mode="reflect")
    second = framed[:-2, 1:-1] + framed[2:, 1:-1] + framed[1:-1, :-2] + framed[1:-1, 2:] - 4 * blurred
    assert quality.sharpness(picture) == pytest.approx(second[64:128, 64:128].var(), rel=1e-6)


def test_what_to_do_is_said_with_it() -> None:
    assert quality.remark(("too dark", "blurred")) == (
        "too dark, blurred: take it again, more light on it; hold still, tap on what must be sharp"
    )


def test_a_file_is_measured_as_its_picture_is(tmp_path: Path) -> None:
    path = tmp_path / "dark.png"
    GOOD.point(lambda value: value // 6).save(path)
    assert quality.flaws_of_file(path) == ("too dark",)

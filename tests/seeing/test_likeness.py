"""Takes of the same thing are one group, of which the best is shown; nothing else is thrown together."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from photo_made import grain, label
from PIL import Image, ImageEnhance, ImageFilter

from jobnotes.linking.likeness import group_alike
from jobnotes.record import Flaw, Photo, PhotoText, RecogniserStamp, Sight
from jobnotes.seeing.likeness import fingerprint

AT = datetime(2031, 4, 7, 9, 30, tzinfo=UTC)
STAMP = RecogniserStamp("stand-in", "none", "00" * 32)
WHOLE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))
ROOM = grain((1600, 1200), seed=3)
ROOM.paste(label((""), size=(700, 500)), (300, 200))


def print_of(image: Image.Image) -> str:
    return fingerprint(np.asarray(image.convert("L"), dtype=np.uint8))


def bits_apart(one: Image.Image, other: Image.Image) -> int:
    return (int(print_of(one), 16) ^ int(print_of(other), 16)).bit_count()


@pytest.mark.parametrize(
    "again",
    [
        ROOM.resize((800, 600)),
        ROOM.filter(ImageFilter.GaussianBlur(6)),
        ImageEnhance.Brightness(ROOM).enhance(0.5),
        ROOM.transform(ROOM.size, Image.Transform.AFFINE, (1, 0, 12, 0, 1, 9)),
        ROOM.resize((1640, 1230)).crop((20, 15, 1620, 1215)),
    ],
    ids=["smaller", "blurred", "darker", "moved", "closer"],
)
def test_a_second_take_differs_in_few_bits(again: Image.Image) -> None:
    assert bits_apart(ROOM, again) <= 10


def test_other_pictures_differ_in_many() -> None:
    others = [label(), grain((1600, 1200), seed=4), grain((1600, 1200), seed=5), ROOM.rotate(90, expand=True)]
    assert min(bits_apart(ROOM, other) for other in others) > 16


def photo(number: int, seconds: float, sharp: float = 100.0, **more: object) -> Photo:
    given = {"fingerprint": "c3d1e0f0783c1e0f", "flaws": (), "texts": ()} | more
    sight = Sight(STAMP, sharpness=sharp, **given)  # type: ignore[arg-type]
    at = AT + timedelta(seconds=seconds)
    return Photo(
        f"P{number}", f"{number}.jpg", f"{number:064x}", at, "exif", 4000, 3000, camera="c", sight=sight
    )


def likes(*photos: Photo) -> list[str | None]:
    return [p.like for p in group_alike(photos)]


def says(text: str) -> tuple[PhotoText, ...]:
    return (PhotoText(text, 0.99, WHOLE),)


def test_the_sharpest_of_a_group_is_the_one_that_the_others_are_like() -> None:
    assert likes(photo(1, 0, 80.0), photo(2, 5, 300.0), photo(3, 9, 120.0)) == ["P2", None, "P2"]


def test_a_flaw_weighs_more_than_sharpness() -> None:
    dark: tuple[Flaw, ...] = ("too dark",)
    assert likes(photo(1, 0, 900.0, flaws=dark), photo(2, 5, 100.0)) == ["P2", None]


def test_before_and_after_another_camera_and_another_picture_stay_apart() -> None:
    first = photo(1, 0)
    assert likes(first, photo(2, 3600)) == [None, None]
    assert likes(first, replace(photo(2, 5), camera="other")) == [None, None]
    assert likes(first, photo(2, 5, fingerprint="3c2e1f0f87c3e1f0")) == [None, None]
    assert likes(first, replace(photo(2, 5), sight=None)) == [None, None]


def test_two_readings_of_one_meter_are_both_kept() -> None:
    assert likes(photo(1, 0, texts=says("24.6 V")), photo(2, 8, texts=says("11.2 V"))) == [None, None]


def test_one_that_shows_less_of_the_same_is_like_the_other() -> None:
    blurred = photo(1, 0, 20.0, flaws=("blurred",))
    assert likes(blurred, photo(2, 8, texts=says("24.6 V"))) == ["P2", None]


def test_a_group_is_judged_anew_each_time() -> None:
    once = group_alike([photo(1, 0, 80.0), photo(2, 5, 300.0)])
    assert group_alike(once) == once
    assert likes(once[0]) == [None]

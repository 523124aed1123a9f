"""What the desk is shown of the writing in a photo: itself, right way up, and how it is taken over."""

from __future__ import annotations

from datetime import UTC, datetime
from decimal import Decimal

import pytest
from PIL import Image

from jobnotes.documents.wording import load
from jobnotes.record import Fact, FaultCode, Identity, Job, Measurement, Part, Photo, Record, Shown
from jobnotes.serve.close_ups import close_up
from jobnotes.serve.state import fact_shown, seen

CORNERS = ((0.4, 0.45), (0.6, 0.45), (0.6, 0.55), (0.4, 0.55))
PHOTO = Photo("P1", "p.jpg", "a" * 64, datetime(2031, 4, 7, tzinfo=UTC), "exif", 1000, 1000)


@pytest.mark.parametrize("turns", range(4))
def test_a_close_up_holds_the_writing_and_reads_from_left_to_right(turns: int) -> None:
    picture = Image.new("RGB", (1000, 1000), "white")
    picture.paste("red", (400, 450, 500, 550))  # the first half of the writing
    picture.paste("blue", (500, 450, 600, 550))
    corners = CORNERS
    for _ in range(turns):
        picture = picture.transpose(Image.Transpose.ROTATE_90)
        corners = tuple((y, 1 - x) for x, y in corners)
    part = close_up(picture, corners)
    assert part.width > part.height
    assert part.width < 500
    middle = part.height // 2
    row = [part.getpixel((x, middle)) for x in range(part.width)]
    assert row.index((255, 0, 0)) < row.index((0, 0, 255))


@pytest.mark.parametrize(
    ("detail", "shown", "taken"),
    [
        (Part("hose", "fitted", number="1874525"), ("number", "1874552", False), {"number": "1874552"}),
        (Part("hose", "fitted"), ("number", "1874552", True), {"number": "1874552"}),
        (Part("hose", "fitted", number="1 874-552"), ("number", "1874552", True), None),
        (FaultCode("P0290", "powertrain"), ("code", "P0299", False), {"code": "P0299"}),
        (Measurement(Decimal("62"), "Ohm", "resistance"), ("value", "60.2", False), {"value": "60.2"}),
        (Identity("odometer", "203118", "km"), ("value", "203118", True), None),
    ],
)
def test_what_another_value_would_be_taken_over_as(detail, shown, taken) -> None:
    field, value, agrees = shown
    entry = Shown("P1", field, value, value, CORNERS, agrees)
    fact = Fact("F1", detail, "as heard", 0.5, "check", "why", shown=(entry,))
    (row,) = fact_shown(fact, Record(Job(), photos=(PHOTO,)), load())["shown"]
    if taken is None:
        assert "take" not in row
    else:
        assert taken.items() <= row["take"].items()
    assert row["agrees"] is agrees


def test_a_decision_tells_whether_its_maker_saw_what_the_photo_shows() -> None:
    fact = Fact("F1", Part("hose", "fitted"), "as heard", 0.5, "check", "why", photos=("P1",))
    with_number = Fact(
        "F1", fact.detail, "as heard", 0.5, "check", "why", photos=("P1",),
        shown=(Shown("P1", "number", "1874552", "P/N 1874552", CORNERS),),
    )  # fmt: skip
    assert seen(fact, (PHOTO,)) != seen(with_number, (PHOTO,))

"""Photos in the documents: as taken, small enough to send, with nothing that the camera wrote."""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from threading import Lock

import exifread
import pytest
from coach_job import DAY, coach, drawing, note, photo
from documents_read import Written, text_of, written
from docx import Document
from PIL import Image

from jobnotes import record as r
from jobnotes.documents import pictures, write_all, write_customer
from jobnotes.errors import UnusableInputError

FIVE_MB = 5_000_000


def pictures_in(path: Path) -> list[bytes]:
    with zipfile.ZipFile(path) as package:
        return [
            package.read(n) for n in package.namelist() if n.startswith("word/media/") and n.endswith(".jpg")
        ]


def shot_with_position(shot: r.Photo, _side: int) -> Image.Image:
    """A photo as a phone leaves it: EXIF with a position, a comment and XMP, read back from bytes."""
    image = Image.new("RGB", (2400, 1800), "#7788aa")
    exif = Image.Exif()
    exif[0x010F] = "invented maker"
    gps = exif.get_ifd(0x8825)
    gps.update({1: "N", 2: (52.0, 30.0, 0.0), 3: "E", 4: (13.0, 24.0, 0.0)})
    kept = io.BytesIO()
    image.save(kept, "JPEG", exif=exif, comment=b"52.5 N 13.4 E", xmp=b"<x:xmpmeta>52.5N</x:xmpmeta>")
    assert "GPS GPSLatitude" in exifread.process_file(kept)
    return Image.open(kept)


@pytest.mark.parametrize("name", ["claim.docx", "customer.docx", "workshop.docx"])
def test_no_picture_carries_what_the_camera_wrote(tmp_path: Path, name: str) -> None:
    write_all(coach(), None, shot_with_position, tmp_path)
    pictures = pictures_in(tmp_path / name)
    assert pictures
    for picture in pictures:
        # exifread, a reader of its own, finds no tag at all
        assert exifread.process_file(io.BytesIO(picture)) == {}
        with Image.open(io.BytesIO(picture)) as image:
            assert not image.getexif()
            assert "comment" not in image.info
        assert b"52.5" not in picture
        assert b"xmpmeta" not in picture


def test_the_customers_photos_are_at_most_1400_pixels_long(tmp_path: Path) -> None:
    write_customer(coach(), lambda *_: Image.new("RGB", (4000, 3000), "grey"), tmp_path / "c.docx")
    sizes = set()
    for picture in pictures_in(tmp_path / "c.docx"):
        with Image.open(io.BytesIO(picture)) as image:
            sizes.add(image.size)
    assert sizes == {(1400, 1050)}


def test_a_small_photo_is_not_blown_up(tmp_path: Path) -> None:
    write_customer(coach(), lambda *_: Image.new("RGB", (320, 240), "grey"), tmp_path / "c.docx")
    with Image.open(io.BytesIO(pictures_in(tmp_path / "c.docx")[0])) as image:
        assert image.size == (320, 240)


def test_no_photo_is_stretched(tmp_path: Path) -> None:
    shapes = {1: (1600, 1200), 2: (1200, 1600), 3: (4000, 300), 4: (300, 4000), 5: (1000, 1000)}

    def picture(shot: r.Photo, _side: int) -> Image.Image:
        return Image.new("RGB", shapes.get(int(shot.id[1:]), (1600, 1200)), "grey")

    told = written(coach(), tmp_path, picture)
    for _, document in told.each():
        width = document.sections[0].page_width - 2 * document.sections[0].left_margin
        for shape in document.inline_shapes:
            part = document.part.related_parts[shape._inline.graphic.graphicData.pic.blipFill.blip.embed]
            with Image.open(io.BytesIO(part.blob)) as image:
                assert shape.width / shape.height == pytest.approx(image.width / image.height, rel=0.03)
            assert shape.width <= width


def many_photos(count: int) -> r.Record:
    facts = tuple(
        r.Fact(f"F{n}", r.Statement("finding", f"finding {n}"), "", 0.9, "sure", note="N1", start_s=float(n))
        for n in range(count)
    )
    photos = tuple(photo(n, DAY + timedelta(seconds=n), fact_ids=(f"F{n}",)) for n in range(count))
    return r.Record(job=r.Job(), notes=(note(1, DAY),), photos=photos, facts=facts)


def grainy(side: int) -> Callable[[r.Photo], Image.Image]:
    """Pictures that compress badly, each one different."""

    def picture(shot: r.Photo, side: int) -> Image.Image:
        grain = random.Random(shot.id).randbytes(side * side * 3 // 16)
        small = Image.frombytes("RGB", (side // 4, side // 4), grain)
        return small.resize((side, side), Image.Resampling.BICUBIC)

    return picture


def test_thirty_photos_stay_below_five_megabytes_for_the_customer_and_none_is_left_out(
    tmp_path: Path,
) -> None:
    write_customer(many_photos(30), grainy(1000), tmp_path / "c.docx")
    assert (tmp_path / "c.docx").stat().st_size < FIVE_MB
    assert len(pictures_in(tmp_path / "c.docx")) == 30


@pytest.mark.slow
def test_three_hundred_photos_stay_below_five_megabytes_and_any_that_are_left_out_are_counted(
    tmp_path: Path,
) -> None:
    write_customer(many_photos(300), grainy(800), tmp_path / "c.docx")
    assert (tmp_path / "c.docx").stat().st_size < FIVE_MB
    kept = len(pictures_in(tmp_path / "c.docx"))
    left_out = 300 - kept  # grain is the worst that can be photographed: not even small pictures of it fit
    assert kept >= 90
    text = text_of(Document(str(tmp_path / "c.docx")))
    assert f"{left_out} more photo" in text


def test_pictures_are_decoded_once_for_all_documents_and_few_at_a_time(tmp_path: Path) -> None:
    asked: list[str] = []
    open_now: set[str] = set()
    most: list[int] = []
    lock = Lock()

    class Tracked(Image.Image):
        name = ""

        def close(self) -> None:
            with lock:
                open_now.discard(self.name)
            super().close()

    def picture(shot: r.Photo, side: int) -> Image.Image:
        image = drawing(shot, side)
        image.thumbnail((side, side))
        image.__class__ = Tracked
        image.name = shot.id  # type: ignore[attr-defined]
        with lock:
            asked.append(shot.id)
            open_now.add(shot.id)
            most.append(len(open_now))
        return image

    write_all(coach(), None, picture, tmp_path)
    assert sorted(asked) == sorted({*asked})
    assert len(asked) == 10
    assert open_now == set()
    assert max(most) <= pictures._WORKERS


def test_a_picture_is_asked_for_no_larger_than_it_will_be_shown(tmp_path: Path) -> None:
    asked: dict[str, set[int]] = {}

    def picture(shot: r.Photo, side: int) -> Image.Image:
        asked.setdefault(shot.id, set()).add(side)
        return grainy(side)(shot, side)

    write_all(many_photos(40), None, picture, tmp_path)
    large = [sides for sides in asked.values() if max(sides) > 750]
    assert len(large) < 40 // 3  # a few are tried larger, to see whether all of them would fit
    assert (tmp_path / "customer.docx").stat().st_size < FIVE_MB
    assert len(pictures_in(tmp_path / "customer.docx")) == 40


def test_the_order_of_the_photos_and_what_was_drawn_before_change_no_picture(tmp_path: Path) -> None:
    photos = many_photos(12).photos
    kept = []
    for name, first in (("a", ()), ("b", (24_000_000, 540_000))):
        folder = tmp_path / name
        folder.mkdir()
        shelf = pictures.Shelf(grainy(1000), folder)
        for budget in first:
            shelf.within(photos[::-1], budget)
        shown = shelf.within(photos, 1_200_000)
        kept.append({photo: one.path.read_bytes() for photo, one in shown.items() if one})
    assert len(kept[0]) == 12
    assert kept[0] == kept[1]


def test_a_picture_that_cannot_be_opened_is_named_and_the_others_are_shown(tmp_path: Path) -> None:
    def picture(shot: r.Photo, side: int) -> Image.Image | None:
        if shot.id == "P1":
            return None
        if shot.id == "P2":
            raise UnusableInputError(shot.file, "cut short", "take it again")
        if shot.id == "P3":
            cut = io.BytesIO()
            drawing(shot, side).save(cut, "JPEG")
            return Image.open(io.BytesIO(cut.getvalue()[:4000]))
        return drawing(shot, side)

    told = written(coach(), tmp_path, picture)
    text = text_of(told.claim)
    for number in (1, 2, 3):
        assert f"The picture of photo P{number} could not be shown. The file is IMG_000{number}.jpg." in text
    assert len(told.claim.inline_shapes) == 5


@pytest.mark.parametrize(
    "mode", ["1", "L", "LA", "P", "PA", "RGBA", "CMYK", "YCbCr", "LAB", "HSV", "I", "I;16", "F"]
)
def test_every_kind_of_pixels_can_be_shown(tmp_path: Path, mode: str) -> None:
    grey = Image.linear_gradient("L").resize((640, 480))
    if mode in ("I", "I;16", "F"):
        source = grey.convert("I").point(lambda v: v * 200).convert(mode)
    elif mode in ("LAB", "PA"):
        source = Image.new(mode, (640, 480), 90 if mode == "PA" else (90, 120, 120))
    else:
        source = grey.convert("RGBA").convert(mode) if mode != "HSV" else grey.convert("RGB").convert(mode)
    write_customer(coach(), lambda *_: source.copy(), tmp_path / "c.docx")
    kept = pictures_in(tmp_path / "c.docx")
    with Image.open(io.BytesIO(kept[0])) as image:
        assert image.mode in ("RGB", "L")
        if mode in ("L", "RGBA", "CMYK", "I", "I;16", "F"):
            # the gradient is still one: dark at the top, light at the bottom
            assert image.convert("L").getpixel((320, 10)) < 60
            assert image.convert("L").getpixel((320, 470)) > 190


def test_see_through_pixels_are_shown_on_white(tmp_path: Path) -> None:
    write_customer(coach(), lambda *_: Image.new("RGBA", (64, 64), (0, 0, 0, 0)), tmp_path / "c.docx")
    with Image.open(io.BytesIO(pictures_in(tmp_path / "c.docx")[0])) as image:
        assert image.convert("RGB").getpixel((32, 32)) == (255, 255, 255)


def test_one_pixel_wide_photos_are_shown(tmp_path: Path) -> None:
    told = written(coach(), tmp_path, lambda *_: Image.new("RGB", (1, 5000), "grey"))
    for shape in told.customer.inline_shapes:
        assert shape.width > 0
        assert shape.height > 0


def test_the_clerk_is_told_that_a_photo_was_linked_by_time_alone(coach_documents: Written) -> None:
    captions = [
        c.text
        for t in coach_documents.claim.tables
        for row in t.rows
        for c in row.cells
        if "Photo P" in c.text
    ]
    assert any("Photo P1:" in c and "linked by time alone" in c for c in captions)
    assert any("Photo P2:" in c for c in captions)
    assert not any("Photo P2:" in c and "linked" in c for c in captions)
    assert "linked by time" not in text_of(coach_documents.customer)


def test_a_record_with_a_photo_twice_shows_both_numbers(tmp_path: Path) -> None:
    """The same bytes under two numbers: both plates are drawn, whether or not the file is stored once."""
    told = written(coach(), tmp_path, lambda *_: Image.new("RGB", (640, 480), "grey"))
    assert len(told.claim.inline_shapes) == 8
    changed = replace(coach(), photos=coach().photos[:1])
    (tmp_path / "one").mkdir()
    assert len(written(changed, tmp_path / "one").claim.inline_shapes) == 1

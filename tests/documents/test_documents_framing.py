"""What was read in a photo is told beside the statement and framed on the copy of the picture."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from coach_job import coach
from documents_read import alt_texts, text_of, written
from PIL import Image, ImageChops

from jobnotes import record as r
from jobnotes.documents.framing import framed
from jobnotes.documents.pictures import Shown

CORNERS = ((0.3, 0.4), (0.6, 0.42), (0.59, 0.5), (0.29, 0.48))


def coach_with(shown: dict[str, str | bool], **changes: object) -> tuple[r.Record, r.Fact]:
    """The coach's job, where the first part with a number and a photo has that number in its photo."""
    job = coach()
    fact = next(f for f in job.facts if isinstance(f.detail, r.Part) and f.detail.number and f.stands)
    photo = job.photos[0]
    assert isinstance(fact.detail, r.Part)
    value = str(shown.get("value", fact.detail.number))
    agrees = bool(shown.get("agrees", True))
    entry = r.Shown(photo.id, "number", value, f"P/N {value}", CORNERS, agrees)
    told = replace(fact, photos=(photo.id,), audience="all", shown=(entry,), **changes)
    facts = tuple(told if f.id == fact.id else f for f in job.facts)
    photos = (replace(photo, fact_ids=(*photo.fact_ids, fact.id), linked_by="value"), *job.photos[1:])
    return replace(job, facts=facts, photos=photos), told


def test_a_number_that_a_photo_shows_is_told_as_evidence_and_framed(tmp_path: Path) -> None:
    job, fact = coach_with({})
    told = written(job, tmp_path)
    photo = fact.shown[0].photo
    assert f"part number read in {photo}" in text_of(told.claim)
    assert "In the frame: part number" in text_of(told.claim)
    assert any("In the frame: part number" in alt for alt in alt_texts(told.claim))
    assert f"part number read in {photo}" in text_of(told.workshop)


def test_a_contradiction_tells_both_numbers(tmp_path: Path) -> None:
    why = "heard 118-22, photo P1 shows 118-23"
    job, fact = coach_with({"value": "118-23", "agrees": False}, status="check", why=why)
    text = text_of(written(job, tmp_path).claim)
    assert why in text
    assert f"part number 118-23 in {fact.shown[0].photo}" in text


def test_what_only_a_photo_shows_is_told_so(tmp_path: Path) -> None:
    job = coach()
    photo = job.photos[0]
    own = r.Fact(
        "Fphoto",
        r.Identity("odometer", "203118", "km"),
        "ODO 203118 km",
        0.95,
        "check",
        why=f"read in photo {photo.id} only, nobody said it",
        at=photo.taken_at,
        photos=(photo.id,),
        source="photo",
        shown=(r.Shown(photo.id, "value", "203118", "ODO 203118 km", CORNERS),),
    )
    photos = (replace(photo, fact_ids=(*photo.fact_ids, own.id)), *job.photos[1:])
    text = text_of(written(replace(job, facts=(*job.facts, own), photos=photos), tmp_path).claim)
    assert "read in the photo, nobody said it" in text


@pytest.mark.parametrize("size", [(1400, 1050), (300, 225), (40, 30)])
def test_the_frame_is_around_what_was_read_and_the_picture_stays_as_it_was(
    tmp_path: Path, size: tuple[int, int]
) -> None:
    path = tmp_path / "p.jpg"
    Image.new("RGB", size, "#777777").save(path, "JPEG", quality=90)
    before = path.read_bytes()
    with_frame = framed(Shown(path, *size, len(before), 90), [CORNERS])
    assert path.read_bytes() == before
    assert with_frame.path != path
    with Image.open(path) as plain, Image.open(with_frame.path) as drawn:
        assert drawn.size == size
        changed = ImageChops.difference(plain.convert("RGB"), drawn.convert("RGB")).convert("L")
        box = changed.point(lambda v: 255 if v > 60 else 0).getbbox()
        assert box is not None
        left, top, right, bottom = box
        assert left / size[0] < 0.3 < 0.6 < right / size[0]
        assert top / size[1] < 0.42 < 0.48 < bottom / size[1]
        # within the frame nothing is covered
        middle = (round(0.445 * size[0]), round(0.45 * size[1]))
        assert size[0] < 100 or changed.getpixel(middle) < 20  # type: ignore[operator]


def test_a_number_on_a_label_is_nothing_that_was_wrong(tmp_path: Path) -> None:
    job = coach()
    photo = job.photos[-1]
    own = r.Fact(
        "Flabel",
        r.Statement("finding", "part number 51A33092"),
        "P/N 51A33092",
        0.95,
        "accepted",
        at=photo.taken_at,
        photos=(photo.id,),
        source="photo",
        shown=(r.Shown(photo.id, "text", "51A33092", "P/N 51A33092", CORNERS),),
    )
    assert own.only_written
    told = written(replace(job, facts=(*job.facts, own)), tmp_path)
    wrong = text_of(told.customer).split("What was wrong")[1].split("What was done")[0]
    assert "51A33092" not in wrong
    assert "51A33092" in text_of(told.claim)

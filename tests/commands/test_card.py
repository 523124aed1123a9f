"""`jobnotes card`: a card that can be printed, photographed and read again, and what a run makes of it."""

from __future__ import annotations

import io
import re
import shutil
import sys
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from command_line import HERE, SAMPLE, World, record_in
from docx import Document
from PIL import ExifTags, Image

from jobnotes.reading.job.job_card import read_card
from jobnotes.record import JobCard
from jobnotes.seeing.barcodes import barcodes

sys.path.append(str(HERE.parent / "linking"))
from card_photos import card, drawn, photographed, saved


def in_code(image: Image.Image) -> JobCard | None:
    (found,) = barcodes(np.asarray(image.convert("L"), dtype=np.uint8))
    return read_card(found.text)


def in_docx(path: Path) -> tuple[JobCard | None, str]:
    """The card in the document's picture, and its words."""
    document = Document(str(path))
    (picture,) = (part.blob for part in document.part.package.iter_parts() if part.partname.endswith(".png"))
    with Image.open(io.BytesIO(picture)) as image:
        return in_code(image), "\n".join(p.text for p in document.paragraphs)


def test_the_page_and_the_picture_hold_the_same_card_with_the_time_of_printing(world: World) -> None:
    before = datetime.now(UTC).replace(microsecond=0)
    ended = world.here("card", "4417", "--registration", "QQ00 TST", "--customer", "Müller & Söhne",
                       "--zone", "Europe/London", "--out", "cards", "--json")  # fmt: skip
    assert ended.status == 0, ended.err
    told, words = in_docx(world.cwd / "cards" / "card.docx")
    with Image.open(world.cwd / "cards" / "card.png") as picture:
        assert in_code(picture) == told
    assert told is not None
    assert (told.number, told.registration, told.customer) == ("4417", "QQ00 TST", "Müller & Söhne")
    assert told.clock_is == "printed"
    assert before <= told.clock <= datetime.now(UTC)
    assert ended.json["clock"] == told.clock.isoformat()
    assert told.clock.utcoffset() == datetime.now(ZoneInfo("Europe/London")).utcoffset()
    assert "Job 4417" in words
    assert "QQ00 TST · Müller & Söhne" in words
    assert "does not set the camera’s clock" in words


def test_a_card_for_a_stated_time_says_when_to_photograph_it(world: World) -> None:
    ended = world.here("card", "4417", "--at", "2079-06-01T14:05", "--zone", "Europe/Berlin", "--out", "c")
    assert ended.status == 0, ended.err
    assert "Photograph it at 14:05 on 2079-06-01, within a minute." in ended.out
    told, words = in_docx(world.cwd / "c" / "card.docx")
    assert told is not None
    assert (told.clock.isoformat(), told.clock_is) == ("2079-06-01T14:05:00+02:00", "stated")
    assert "Photograph at 1 June 2079, 14:05:00 (UTC+02:00)" in words
    assert "once the minute has passed, print another" in words


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["44\t17"], "can't be printed"),
        (["4" * 61], "more than 60 characters"),
        (["4417", "--at", "noon"], "is no time"),
        (["4417", "--at", "2001-01-01T10:00"], "has passed"),
        (["4417", "--zone", "Nowhere"], "is no time zone"),
        (["4417", "--customer", "ж" * 80], "more than its code may hold"),
    ],
)
def test_what_makes_no_card_is_said_in_one_line_and_leaves_none(
    world: World, arguments: list[str], said: str
) -> None:
    ended = world.here("card", *arguments, "--out", "cards")
    assert ended.status == 2
    assert said in ended.err
    assert ended.err.count("\n") == 1
    assert not list(world.cwd.glob("cards/*"))


def test_a_letterhead_and_the_workshops_language_are_used(world: World) -> None:
    folder = world.cwd / "workshop"
    shutil.copytree(SAMPLE / "workshop", folder)
    own = folder / "workshop.toml"
    own.write_text(re.sub(r"(?m)^locale = .*$", 'locale = "de-DE"', own.read_text("utf-8")), "utf-8")
    ended = world.here("card", "4417", "--workshop", folder, "--out", "cards")
    assert ended.status == 0, ended.err
    assert "Auftrag 4417" in in_docx(world.cwd / "cards" / "card.docx")[1]


# --- what a run makes of it ----------------------------------------------------------------------


def with_cards(job: Path, folder: Path, off: timedelta, *numbers: str) -> Path:
    """The small job, with a card for each number before its photo, all by a clock that is `off`."""
    shutil.copytree(job, folder)
    photo = folder / "BENCH031.jpg"
    with Image.open(photo) as image:
        exif = image.getexif()
        model = str(exif[ExifTags.Base.Model])
        maker = str(exif.get(ExifTags.Base.Make, ""))
    at = datetime(2031, 4, 7, 9, 30, 20, tzinfo=ZoneInfo("Europe/London"))
    for n, number in enumerate(numbers):
        now = at + timedelta(seconds=5 * n)
        image = photographed(drawn(card(now, number)), tilt=18, blur=0.6)
        saved(image, folder / f"CARD{n}.jpg", now - off, camera=f"{maker} {model}".strip())
    # the small job's own photo, by the same wrong clock, ten seconds after the last card
    with Image.open(photo) as image:
        plain = image.convert("RGB")
    saved(plain, photo, at + timedelta(seconds=5 * len(numbers) + 5) - off, camera=f"{maker} {model}".strip())
    return folder


@pytest.mark.slow
@pytest.mark.parametrize(
    "off_s",
    [
        7387,
        pytest.param(-14 * 3600, marks=pytest.mark.slow),
        pytest.param(14 * 3600, marks=pytest.mark.slow),
    ],
)
def test_a_run_takes_the_clock_from_the_card_and_the_number_too(
    world: World, clip_job: Path, off_s: int
) -> None:
    off = timedelta(seconds=off_s)
    job = with_cards(clip_job, world.cwd / "job", off, "4417")
    ended = world.here("run", job, "--read-photos", "--zone", "Europe/London", "--out", "out")
    assert ended.status == 0, ended.err
    record = record_in(world.cwd / "out")
    (clock,) = record["camera_clocks"]
    assert clock["offset_s"] == off_s
    assert clock["card"] in {p["id"] for p in record["photos"] if p.get("card")}
    assert clock["message"].startswith(f"job card photographed as {clock['card']}: camera clock is ")
    taken = {p["file"]: p["taken_at"] for p in record["photos"]}
    assert taken["BENCH031.jpg"] == "2031-04-07T09:30:30+01:00"
    assert record["job"]["number"] == "4417"


@pytest.mark.slow
def test_photos_behind_another_jobs_card_are_named_by_a_run(world: World, clip_job: Path) -> None:
    job = with_cards(clip_job, world.cwd / "job", timedelta(0), "4417", "5521")
    (job / "job.toml").write_text('format = "jobnotes-job"\nversion = 1\nnumber = "4417"\n', "utf-8")
    ended = world.here("run", job, "--read-photos", "--zone", "Europe/London", "--out", "out")
    assert ended.status == 1
    assert "job card in CARD1.jpg: it is of job 5521: 1 photo behind it (BENCH031.jpg) is kept" in ended.err
    photos = {p["file"]: p for p in record_in(world.cwd / "out")["photos"]}
    assert photos["BENCH031.jpg"]["fact_ids"] == []
    assert photos["BENCH031.jpg"]["job"] == "5521"
    again = world.here("run", job, "--read-photos", "--zone", "Europe/London", "--out", "out")
    assert again.messages == ended.messages


@pytest.mark.parametrize("number", ["", "  "])
def test_a_card_without_a_job_number_says_what_to_give_and_leaves_nothing(world: World, number: str) -> None:
    ended = world.here("card", number, "--out", "cards")
    assert ended.status == 2
    assert (
        ended.err == "jobnotes: card: was told no job number; give it, as in: jobnotes card 4417 --out DIR\n"
    )
    assert list(world.cwd.iterdir()) == []

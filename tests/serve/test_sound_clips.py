"""A statement plays just its own seconds; a photo is shown without what else its file tells."""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from desk_jobs import Desk, desk_with_job, send_note, started
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from jobnotes.intake.sound import RATE_HZ
from jobnotes.serve.sound_clips import MOST_SECONDS, clip


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    made = desk_with_job(tmp_path_factory.mktemp("clips"), 3, 4)
    yield made
    made.web.app.state.store.close()


def played(body: bytes) -> tuple[float, np.ndarray]:
    with wave.open(io.BytesIO(body)) as file:
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (1, 2, RATE_HZ)
        samples = np.frombuffer(file.readframes(file.getnframes()), "<i2")
    return len(samples) / RATE_HZ, samples


def test_a_statement_plays_the_seconds_that_are_asked_for(desk: Desk) -> None:
    answer = desk.clerk.get(f"{desk.api}/notes/N1/sound?from=0.5&to=2.25")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "audio/wav")
    assert answer.headers["x-content-type-options"] == "nosniff"
    length, samples = played(answer.content)
    assert length == 1.75
    assert np.abs(samples / 32767 - 0.3).max() < 0.001  # the note's own loudness


def test_each_note_plays_its_own_sound(desk: Desk) -> None:
    loudness = [
        played(desk.clerk.get(f"{desk.api}/notes/{note}/sound?from=1&to=2").content)[1].max() / 32767
        for note in ("N1", "N2")
    ]
    assert loudness == pytest.approx([0.3, 0.4], abs=0.001)


def test_what_lies_outside_the_note_is_left_out(desk: Desk) -> None:
    length, _ = played(desk.clerk.get(f"{desk.api}/notes/N1/sound?from=3.5&to=99").content)
    assert length == 0.5


@pytest.mark.parametrize(
    "asked", ["", "from=1", "from=2&to=1", "from=-1&to=1", "from=x&to=2", "from=nan&to=2"]
)
def test_seconds_that_make_no_sense_are_refused(desk: Desk, asked: str) -> None:
    answer = desk.clerk.get(f"{desk.api}/notes/N1/sound?{asked}")
    assert (answer.status_code, list(answer.json())) == (400, ["error"])


@given(st.floats(0, 5), st.floats(0, 5))
def test_a_clip_is_the_stretch_between_its_ends(one: float, other: float) -> None:
    samples = np.arange(RATE_HZ * 2, dtype=np.int16)
    start, end = sorted((one, other))
    _, heard = played(clip(samples, start, end))
    assert np.array_equal(heard, samples[round(start * RATE_HZ) : round(end * RATE_HZ)])


def test_a_clip_is_never_longer_than_it_may_be(desk: Desk) -> None:
    assert MOST_SECONDS >= 60
    assert desk.clerk.get(f"{desk.api}/notes/N1/sound?from=0&to=1e9").status_code == 200


def test_a_number_that_is_another_notes_by_now_plays_nothing(tmp_path: Path) -> None:
    desk = desk_with_job(tmp_path, 3)
    (note,) = desk.state()["notes"]
    sound = f"{desk.api}/notes/N1/sound?from=0&to=1&of={note['sha256'][:16]}"
    first = desk.clerk.get(sound)
    assert (first.status_code, "immutable" in first.headers["cache-control"]) == (200, True)
    send_note(desk, 5, 1)  # earlier: now that one is N1
    assert desk.clerk.get(sound).status_code == 404
    plain = desk.clerk.get(f"{desk.api}/notes/N1/sound?from=0&to=1")
    assert (plain.status_code, plain.headers["cache-control"]) == (200, "private, no-cache")


def test_what_there_is_not_is_not_found(desk: Desk) -> None:
    for path in ("notes/N9/sound?from=0&to=1", "photos/P9", "notes/..%2f..%2fserve.db/sound?from=0&to=1"):
        assert desk.clerk.get(f"{desk.api}/{path}").status_code == 404
    empty = desk.clerk.open_job()
    assert desk.clerk.get(f"/api/jobs/{empty}/photos/P1").status_code == 404


def test_a_photo_is_shown_upright_small_and_without_its_metadata(tmp_path: Path) -> None:
    desk = desk_with_job(tmp_path, 0, photos=0)
    picture = io.BytesIO()
    tags = Image.Exif()
    tags[0x0112] = 6  # EXIF 2.32, Orientation: the picture is to be turned by 90 degrees
    tags[0x010F] = "maker of the camera"
    Image.new("RGB", (1200, 600), "teal").save(picture, "JPEG", exif=tags)
    technician = desk.web.pair("technician", "another phone")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    assert technician.send(desk.job, picture.getvalue(), started_at=started(15, 3)).status_code == 200
    desk.web.hear()
    answer = desk.clerk.get(f"{desk.api}/photos/P1?width=300")
    assert (answer.status_code, answer.headers["content-type"]) == (200, "image/jpeg")
    with Image.open(io.BytesIO(answer.content)) as image:
        assert image.size == (160, 320)
        assert not image.getexif()
    assert b"maker of the camera" not in answer.content
    assert desk.clerk.get(f"{desk.api}/photos/P1?width=x").status_code == 400


def test_a_technician_hears_and_sees_only_their_own_jobs(desk: Desk) -> None:
    other = desk.web.pair("technician", "somebody else's phone")
    for path in ("notes/N1/sound?from=0&to=1", "photos/P1"):
        assert other.get(f"{desk.api}/{path}").status_code == 404
    desk.clerk.post(f"{desk.api}/devices", {"device": other.id})
    assert other.get(f"{desk.api}/notes/N1/sound?from=0&to=1").status_code == 200
    assert other.get(f"{desk.api}/photos/P1").status_code == 200

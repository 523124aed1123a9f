"""Words while it is still being recorded: they come, they pass, and they are never in the recording's way."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import av
import numpy as np
import pytest
from served import CLIPS, Paired, Served, served, wav

from jobnotes.hearing.recogniser import RATE_HZ
from jobnotes.serve.live import Live
from jobnotes.serve.live_hearing import DeafError, DistantEar
from jobnotes.serve.settings import Limits, Settings

TAKE = "take-aaaa"
WAIT_S = 60.0
PIECE = RATE_HZ // 4


class Echo:
    """Says how much sound it is given, by stream; what it waits for holds it up."""

    def __init__(self) -> None:
        self.heard: list[tuple[int, int]] = []
        self.forgotten: list[int] = []
        self.may = threading.Event()
        self.may.set()
        self.dies = False
        self.closed = False

    def hear(self, stream: int, sound: bytes) -> tuple[str, str]:
        assert self.may.wait(WAIT_S)
        if self.dies:
            raise DeafError("it died")
        self.heard.append((stream, len(sound) // 2))
        return f"{len(sound) // 2} in {stream}", "and"

    def forget(self, stream: int) -> None:
        self.forgotten.append(stream)

    def close(self) -> None:
        self.closed = True


@pytest.fixture
def ear() -> Echo:
    return Echo()


@pytest.fixture
def hearing(web: Served, ear: Echo) -> Iterator[Callable[..., None]]:
    """Gives the application an ear, under such limits."""

    def has(**limits: Any) -> None:
        web.app.state.live.stop()
        settings = Settings(web.settings.library, limits=Limits(**limits))
        web.app.state.live = Live(settings, lambda: ear)

    has()
    yield has
    ear.may.set()
    web.app.state.live.stop()


def send(phone: Paired, job: str, at: int, samples: int, take: str = TAKE) -> Any:
    return phone.request("POST", f"/api/jobs/{job}/live/{take}?at={at}", content=bytes(2 * samples))


def said_by_and_by(phone: Paired, job: str, at: int, count: int) -> dict[str, Any]:
    """What the phone is told once so many stretches were heard; it sends nothing meanwhile."""
    end = time.monotonic() + WAIT_S
    while len((told := send(phone, job, at, 0).json())["said"]) < count:
        assert time.monotonic() < end, told
        time.sleep(0.01)
    return told


@pytest.mark.usefixtures("hearing")
def test_what_was_heard_so_far_is_told_with_the_next_piece(technician: Paired) -> None:
    job = technician.open_job()
    first = send(technician, job, 0, 4000)
    assert (first.status_code, first.json()["said"]) == (200, [])
    assert said_by_and_by(technician, job, 4000, 1) == {"said": ["4000 in 1"], "saying": "and"}
    send(technician, job, 4000, 2000)
    assert said_by_and_by(technician, job, 6000, 2)["said"] == ["4000 in 1", "2000 in 1"]


@pytest.mark.usefixtures("hearing")
def test_nothing_of_it_is_kept_anywhere(web: Served, technician: Paired) -> None:
    def kept() -> dict[Path, bytes]:
        files = (path for path in web.settings.library.rglob("*") if path.is_file())
        # the database notes when a device was last seen
        return {path: path.read_bytes() for path in files if not path.name.startswith("serve.db")}

    job = technician.open_job()
    before = kept()
    send(technician, job, 0, 4000)
    said_by_and_by(technician, job, 4000, 1)
    assert kept() == before
    state = technician.get(f"/api/jobs/{job}/state").json()
    assert (state["notes"], state["facts"]) == ([], [])
    assert web.hear() == 0
    for path in web.settings.library.rglob("serve.db*"):
        assert b"4000 in 1" not in path.read_bytes()


@pytest.mark.usefixtures("hearing")
def test_the_recording_itself_arrives_and_is_heard_as_ever_beside_it(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    content = wav(1)
    technician.put(job, TAKE, 0, content[:50_000])
    send(technician, job, 0, 4000)
    technician.put(job, TAKE, 50_000, content[50_000:])
    said_by_and_by(technician, job, 4000, 1)
    assert technician.complete(job, TAKE, content).status_code == 200
    assert web.hear() == 1
    (note,) = technician.get(f"/api/jobs/{job}/state").json()["notes"]
    assert note["text"] == "fault code s p n one zero two f m i eighteen active"


@pytest.mark.usefixtures("hearing")
def test_sound_that_does_not_follow_on_is_refused_and_the_stream_can_begin_anew(technician: Paired) -> None:
    job = technician.open_job()
    assert send(technician, job, 4000, 4000).status_code == 409
    send(technician, job, 0, 4000)
    gap = send(technician, job, 9000, 4000)
    assert (gap.status_code, gap.json()["offset"]) == (409, 0)
    assert send(technician, job, 4000, 0, take="take-bbbb").status_code == 409
    assert send(technician, job, 0, 3000).status_code == 200
    assert said_by_and_by(technician, job, 3000, 1)["said"] == ["3000 in 2"]


@pytest.mark.usefixtures("hearing")
def test_only_who_works_on_the_job_is_heard_and_told(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    other = web.pair("technician", "phone two")
    send(technician, job, 0, 4000)
    said_by_and_by(technician, job, 4000, 1)
    assert send(other, job, 0, 4000).status_code == 404
    own = other.open_job()
    assert send(other, own, 4000, 0).status_code == 409, "the other's stream isn't theirs"
    address = f"/api/jobs/{job}/live/{TAKE}?at=0"
    assert web.browser().post(address, content=b"").status_code == 401
    assert technician.client.post(address, content=b"").status_code == 403, "without the session's token"
    assert technician.get(address).status_code == 405


def test_no_more_phones_are_heard_at_once_than_there_is_room_for(
    web: Served, technician: Paired, hearing: Callable[..., None]
) -> None:
    hearing(live_phones=1, live_gone_s=0.3)
    other = web.pair("technician", "phone two")
    first, second = technician.open_job(), other.open_job()
    assert send(technician, first, 0, 100).status_code == 200
    refused = send(other, second, 0, 100)
    assert refused.status_code == 503
    assert refused.headers["Retry-After"]
    assert send(technician, first, 0, 100, take="take-bbbb").status_code == 200, "in the place of its own"
    time.sleep(0.4)
    assert send(other, second, 0, 100).status_code == 200, "the first has fallen silent"
    assert send(technician, first, 100, 100, take="take-bbbb").status_code == 409


def test_sound_that_cannot_be_heard_in_time_is_let_go(
    technician: Paired, hearing: Callable[..., None], ear: Echo
) -> None:
    hearing(live_behind_s=1.0)
    ear.may.clear()
    job = technician.open_job()
    answers = [send(technician, job, at, 4000).status_code for at in range(0, 60_000, 4000)]
    assert answers[0] == 200
    assert set(answers) == {200, 503, 409}
    assert sum(status == 200 for status in answers) <= 4 + 1 + 1  # a second of it, and what is being heard


def test_a_stream_and_a_piece_have_a_greatest_length(
    technician: Paired, hearing: Callable[..., None]
) -> None:
    hearing(live_s=1.0, live_piece=40_000)
    job = technician.open_job()
    assert send(technician, job, 0, 20_001).status_code == 413
    assert send(technician, job, 0, 16_000).status_code == 200
    assert send(technician, job, 16_000, 1).status_code == 413
    assert send(technician, job, 16_000, 0).status_code == 409
    for wrong in ("", "?at=", "?at=-1", "?at=x", "?at=1.5"):
        assert technician.request("POST", f"/api/jobs/{job}/live/{TAKE}{wrong}").status_code == 400, wrong
    odd = technician.request("POST", f"/api/jobs/{job}/live/{TAKE}?at=0", content=b"abc")
    assert odd.status_code == 400
    assert send(technician, job, 0, 10, take="x").status_code == 400


def test_an_ear_that_dies_is_done_without_and_tried_again_later(
    technician: Paired, hearing: Callable[..., None], ear: Echo
) -> None:
    hearing(live_deaf_s=0.5)
    ear.dies = True
    job = technician.open_job()
    send(technician, job, 0, 4000)
    end = time.monotonic() + WAIT_S
    while send(technician, job, 4000, 0).status_code != 409:
        assert time.monotonic() < end
    assert ear.closed
    assert send(technician, job, 0, 4000).status_code == 503
    ear.dies = False
    time.sleep(0.6)
    assert send(technician, job, 0, 4000).status_code == 200
    said_by_and_by(technician, job, 4000, 1)


def test_the_ear_is_closed_when_nobody_was_heard_for_a_while(
    technician: Paired, hearing: Callable[..., None], ear: Echo
) -> None:
    hearing(live_idle_s=0.1, live_gone_s=0.1)
    job = technician.open_job()
    send(technician, job, 0, 4000)
    end = time.monotonic() + WAIT_S
    while not ear.closed:
        assert time.monotonic() < end
        time.sleep(0.05)
    assert send(technician, job, 0, 4000).status_code == 200
    said_by_and_by(technician, job, 4000, 1)


def test_a_server_that_hears_nothing_hears_nothing_live(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    assert send(technician, job, 0, 4000).status_code == 503  # its workers are none
    off = Live(Settings(web.settings.library, live=False))
    web.app.state.live = off
    assert send(technician, job, 0, 4000).status_code == 503


# --- with the recogniser itself ------------------------------------------------------------------


def spoken(name: str) -> bytes:
    """A committed clip and a pause after it, as a phone sends it."""
    resampler = av.AudioResampler(format="s16", layout="mono", rate=RATE_HZ)
    with av.open(str(CLIPS / name)) as sound:
        frames = [r for frame in sound.decode(audio=0) for r in resampler.resample(frame)]
    frames += resampler.resample(None)
    samples = np.concatenate([frame.to_ndarray()[0] for frame in frames])
    return samples.astype("<i2").tobytes() + bytes(2 * RATE_HZ)


def test_a_process_of_its_own_hears_what_is_said_and_ends_when_told(tmp_path: Path) -> None:
    web = served(tmp_path / "library", make_recogniser=None)
    ear = DistantEar(web.settings)
    live = web.app.state.live = Live(web.settings, lambda: ear)
    phone = web.pair("technician")
    job, sound = phone.open_job(), spoken("pauses.opus")
    for at in range(0, len(sound), 2 * PIECE):
        path = f"/api/jobs/{job}/live/{TAKE}?at={at // 2}"
        assert phone.request("POST", path, content=sound[at : at + 2 * PIECE]).status_code == 200
    # two stretches, which are heard as one if they came while it still loaded
    end, told = time.monotonic() + WAIT_S, ""
    while "clamps" not in told:
        assert time.monotonic() < end, told
        time.sleep(0.05)
        told = " ".join(send(phone, job, len(sound) // 2, 0).json()["said"])
    assert "hose is split at the clamp" in told
    assert ear._process.is_alive()
    live.stop()
    ear._process.join(WAIT_S)
    assert not ear._process.is_alive()
    web.app.state.store.close()

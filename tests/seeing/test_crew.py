"""Many photos are seen whatever one of them does; what was seen is kept, and not looked at again."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from datetime import UTC
from pathlib import Path

import numpy as np
import pytest
from photo_made import label
from PIL import Image

from jobnotes import pipeline
from jobnotes.errors import UnusableInputError
from jobnotes.hearing.recogniser import Samples
from jobnotes.library.library import Library
from jobnotes.progress import Silent
from jobnotes.record import PhotoText, RecogniserStamp, Sight, Word
from jobnotes.seeing.crew import PhotoFile, look
from jobnotes.seeing.reader import UnreadableError

STAMP = RecogniserStamp("stand-in", "width", "5e" * 32)
BESIDE = ((0.0, 0.0), (1.0, 0.0), (1.0, 1.0), (0.0, 1.0))


class TellsWidth:
    """Reads a picture's width in it. One 13 pixels wide ends the process, as a crash in a library would."""

    stamp = STAMP

    def see(self, picture: Image.Image) -> Sight:
        if picture.width == 13:
            os._exit(7)
        return Sight(STAMP, (PhotoText(str(picture.width), 1.0, BESIDE),))


class WithoutWeights:
    stamp = STAMP

    def see(self, picture: Image.Image) -> Sight:
        raise UnreadableError("reader", "has no weights", "install it again")


class CantSeeThat(TellsWidth):
    def see(self, picture: Image.Image) -> Sight:
        if picture.width == 14:
            raise ValueError("a library's own complaint")
        return super().see(picture)


def photos(folder: Path, *widths: int) -> list[PhotoFile]:
    folder.mkdir(exist_ok=True)
    made = []
    for width in widths:
        path = folder / f"{width}.png"
        Image.new("RGB", (width, 20), (width, 90, 90)).save(path)
        made.append(PhotoFile(path, f"{width:064x}", path.name))
    return made


@pytest.mark.parametrize("processes", [1, 2])
def test_each_photo_is_seen_once_whatever_the_number_of_processes(tmp_path: Path, processes: int) -> None:
    given = photos(tmp_path, 21, 22, 23, 24, 25)
    seen = {photo.file: result for photo, result in look(given, TellsWidth(), processes)}
    assert {file: result.texts[0].text for file, result in seen.items() if isinstance(result, Sight)} == {
        f"{width}.png": str(width) for width in (21, 22, 23, 24, 25)
    }


def test_a_photo_that_ends_its_process_is_named_and_the_others_are_seen(tmp_path: Path) -> None:
    given = photos(tmp_path, 21, 13, 22, 23)
    seen = {photo.file: result for photo, result in look(given, TellsWidth(), 2)}
    failed = seen.pop("13.png")
    assert isinstance(failed, UnusableInputError)
    assert "13.png: can't be read: the process that looked at it ended" in str(failed)
    assert all(isinstance(result, Sight) for result in seen.values())
    assert len(seen) == 3


@pytest.mark.parametrize("processes", [1, 2])
def test_a_missing_weight_is_said_as_it_is(tmp_path: Path, processes: int) -> None:
    with pytest.raises(UnreadableError, match="reader: has no weights; install it again"):
        list(look(photos(tmp_path, 21, 22), WithoutWeights(), processes))


def _cut_short(path: Path) -> None:
    label().save(path, quality=80)
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])


def test_a_damaged_photo_and_one_that_the_reader_chokes_on_are_named(tmp_path: Path) -> None:
    given = photos(tmp_path, 21, 14)
    cut = tmp_path / "cut.jpg"
    _cut_short(cut)
    seen = [result for _, result in look([*given, PhotoFile(cut, "c" * 64, "cut.jpg")], CantSeeThat(), 1)]
    assert isinstance(seen[0], Sight)
    assert "14.png: can't be read: ValueError" in str(seen[1])
    assert "cut.jpg: is cut short" in str(seen[2])


_WAITS = """
import signal, sys, time
from pathlib import Path
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background jobs begin with it ignored
sys.path.insert(0, sys.argv[1])
from jobnotes.seeing.crew import PhotoFile, look
from test_crew import STAMP, TellsWidth
class Slow(TellsWidth):
    def see(self, picture):
        time.sleep(60)
if __name__ == "__main__":
    path = Path(sys.argv[2])
    print("ready", flush=True)
    list(look([PhotoFile(path, str(at), path.name) for at in range(4)], Slow(), 2))
"""


@pytest.mark.skipif(os.name == "nt", reason="an interruption is sent in another way there")
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL])
def test_helpers_end_with_the_process_that_started_them(tmp_path: Path, how: int) -> None:
    given = photos(tmp_path, 21)[0]
    script = tmp_path / "waits.py"
    script.write_text(_WAITS, "utf-8")
    running = subprocess.Popen(
        [sys.executable, script, Path(__file__).parent, given.path],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
    )
    helpers: list[int] = []
    end = time.monotonic() + 90
    while len(helpers) < 2 and time.monotonic() < end:
        time.sleep(0.2)
        helpers = [pid for pid in _children(running.pid) if "spawn_main" in _command(pid)]
    assert len(helpers) == 2
    running.send_signal(how)
    running.communicate(timeout=60)
    while any("spawn_main" in _command(pid) for pid in helpers) and time.monotonic() < end:
        time.sleep(0.1)
    assert not any("spawn_main" in _command(pid) for pid in helpers)


def _children(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def _command(pid: int) -> str:
    try:
        return Path(f"/proc/{pid}/cmdline").read_text().replace("\0", " ")
    except OSError:
        return ""


# --- within the flow -----------------------------------------------------------------------------


class Mute:
    stamp = RecogniserStamp("stand-in", "mute", "00" * 32)

    def hear(self, samples: Samples, *, progress: object = None) -> tuple[Word, ...]:
        return ()


class Counts(TellsWidth):
    """As TellsWidth; breaks off at its `last` photo, as Ctrl-C would."""

    def __init__(self, last: int = 99) -> None:
        self.looked_at: list[int] = []
        self.last = last

    def see(self, picture: Image.Image) -> Sight:
        if len(self.looked_at) == self.last:
            raise KeyboardInterrupt
        self.looked_at.append(picture.width)
        return super().see(picture)


@pytest.fixture
def job(tmp_path: Path) -> Path:
    folder = tmp_path / "job"
    photos(folder, 21, 22, 23)
    clip = Path(__file__).parents[1] / "hearing" / "clips" / "readings.opus"
    shutil.copy(clip, folder / "20310407_093000.opus")
    return folder


def test_a_run_that_is_broken_off_goes_on_with_the_photos_that_were_not_seen(
    job: Path, tmp_path: Path
) -> None:
    with Library.open(tmp_path / "library") as library:
        first = Counts(last=2)
        with pytest.raises(KeyboardInterrupt):
            pipeline.listen(job, library, Mute(), UTC, reader=first)
        second = Counts()
        heard = pipeline.listen(job, library, Mute(), UTC, reader=second)
        assert (len(first.looked_at), len(second.looked_at)) == (2, 1)
        assert sorted(first.looked_at + second.looked_at) == [21, 22, 23]
        shown = {photo.file: photo.sight.texts[0].text for photo in heard.given.photos if photo.sight}
        assert shown == {"21.png": "21", "22.png": "22", "23.png": "23"}
        third = Counts()
        pipeline.listen(job, library, Mute(), UTC, reader=third)
        assert third.looked_at == []


def test_without_a_reader_nothing_is_seen_and_a_reader_without_weights_is_a_problem(
    job: Path, tmp_path: Path
) -> None:
    with Library.open(tmp_path / "library") as library:
        blind = pipeline.listen(job, library, Mute(), UTC)
        assert [photo.sight for photo in blind.given.photos] == [None, None, None]
        broken = pipeline.listen(job, library, Mute(), UTC, reader=WithoutWeights())
        assert [photo.sight for photo in broken.given.photos] == [None, None, None]
        said = [f"{p.file}: {p.message}" for p in broken.given.problems]
        assert "reader: has no weights; install it again" in said


def test_progress_counts_the_photos_that_are_new(job: Path, tmp_path: Path) -> None:
    class Told(Silent):
        def __init__(self) -> None:
            self.steps: list[tuple[str, float]] = []

        def step(self, label: str, total: float) -> object:  # type: ignore[override]
            self.steps.append((label, total))
            return lambda _: None

    with Library.open(tmp_path / "library") as library:
        told = Told()
        pipeline.listen(job, library, Mute(), UTC, reader=TellsWidth(), progress=told)  # type: ignore[arg-type]
        assert ("Looking at photos", 3) in told.steps
        again = Told()
        pipeline.listen(job, library, Mute(), UTC, reader=TellsWidth(), progress=again)  # type: ignore[arg-type]
        assert "Looking at photos" not in dict(again.steps)


def test_numbers_stay_plain_numbers_in_the_record(tmp_path: Path) -> None:
    """numpy's own would not be written to record.json."""
    from jobnotes.seeing.label_reader import LabelReader

    sight = LabelReader().see(Image.fromarray(np.full((60, 80, 3), 90, np.uint8)))
    assert type(sight.sharpness) is float
    assert type(sight.fingerprint) is str

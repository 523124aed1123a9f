"""A run that is broken off keeps what it has heard, and goes on from there."""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import subprocess
import time
from pathlib import Path

import pytest
from command_line import CLIPS, SAMPLE, World, files_in, record_in

WAIT_S = 120

pytestmark = pytest.mark.skipif(os.name == "nt", reason="an interruption is sent in another way there")


@pytest.fixture
def two_notes(world: World) -> World:
    """A short recording, then one that takes long enough to be interrupted."""
    (world.cwd / "job").mkdir()
    shutil.copy(CLIPS / "readings.opus", world.cwd / "job" / "20310407_093000.opus")
    shutil.copy(SAMPLE / "job" / "take-apart.wav", world.cwd / "job" / "20310407_094500.wav")
    return world


def heard(library: Path) -> int:
    """How many recordings the library has words of."""
    if not (library / "jobnotes.db").is_file():
        return 0
    database = sqlite3.connect(f"file:{library / 'jobnotes.db'}?mode=ro", uri=True, timeout=10)
    try:
        return int(database.execute("select count(*) from heard").fetchone()[0])
    except sqlite3.OperationalError:  # the table isn't made yet
        return 0
    finally:
        database.close()


def broken_off(world: World, how: int) -> tuple[int, str, str]:
    """Start the run, break it off once the first recording has been heard, and see how it ended.

    A run that was through before the signal came, on a busy machine, is begun anew.
    """
    for _ in range(5):
        ended = _broken_off(world, how)
        if ended[0] != 0:
            break
        shutil.rmtree(world.cwd / "out")
    return ended


def _broken_off(world: World, how: int) -> tuple[int, str, str]:
    running = world.start("run", "job", "--out", "out")
    try:
        end = time.monotonic() + WAIT_S
        while heard(world.cwd / "out" / "library") < 1 and running.poll() is None:
            assert time.monotonic() < end, "nothing was heard"
            time.sleep(0.05)
        running.send_signal(how)
        out, err = running.communicate(timeout=WAIT_S)
    except BaseException:
        running.kill()
        running.communicate()
        raise
    return running.returncode, out, err


@pytest.mark.slow
def test_ctrl_c_says_how_to_go_on_and_the_same_command_does(two_notes: World) -> None:
    given = files_in(two_notes.cwd / "job")
    status, out, err = broken_off(two_notes, signal.SIGINT)
    assert status == 130
    assert out == ""
    assert err.splitlines()[-1] == (
        "jobnotes: stopped; what was heard is kept, the same command goes on from there"
    )
    assert "Traceback" not in err
    result = two_notes.cwd / "out"
    assert [path.name for path in result.iterdir()] == ["library"], "nothing half-written is left"
    assert heard(result / "library") == 1

    again = two_notes.jobnotes("run", "job", "--out", "out", "--json")
    assert again.status == 0, again.err
    assert (again.json["notes"], again.json["heard_anew"]) == (2, 1)
    assert record_in(result)["notes"][1]["words"]
    assert two_notes.jobnotes("verify", "--out", "out").status == 0
    assert files_in(two_notes.cwd / "job") == given


@pytest.mark.slow
def test_a_run_that_is_killed_goes_on_too(two_notes: World) -> None:
    status, _, _ = broken_off(two_notes, signal.SIGKILL)
    assert status == -signal.SIGKILL
    again = two_notes.jobnotes("run", "job", "--out", "out", "--json")
    assert again.status == 0, again.err
    assert (again.json["notes"], again.json["heard_anew"]) == (2, 1)
    assert sorted(path.name for path in (two_notes.cwd / "out").iterdir()) == [
        "claim.docx",
        "customer.docx",
        "library",
        "record.json",
        "workshop.docx",
    ]
    assert two_notes.jobnotes("verify", "--out", "out").status == 0


@pytest.mark.slow
def test_two_runs_at_once_into_one_library_both_end_well(world: World) -> None:
    for job in ("one", "two"):
        (world.cwd / job).mkdir()
    shutil.copy(CLIPS / "readings.opus", world.cwd / "one" / "20310407_093000.opus")
    shutil.copy(CLIPS / "words.opus", world.cwd / "two" / "20310408_093000.opus")
    both: list[subprocess.Popen[str]] = [
        world.start("run", job, "--out", f"{job}-out", "--library", "library") for job in ("one", "two")
    ]
    for running in both:
        _, err = running.communicate(timeout=WAIT_S)
        assert running.returncode == 0, err
    for job in ("one", "two"):
        assert len(record_in(world.cwd / f"{job}-out")["notes"]) == 1
        assert world.jobnotes("verify", "--out", f"{job}-out", "--library", "library").status == 0

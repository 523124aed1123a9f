"""A long recording that is broken off while it is heard loses no more than the pieces in work."""

from __future__ import annotations

import contextlib
import io
import os
import shutil
import signal
import sqlite3
import sys
import time
import wave
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from command_line import CLIPS, World, record_in

from jobnotes.commands.showing import Bar
from jobnotes.intake.sound import mono_16k

WAIT_S = 240
NAME = "20310407_093000.wav"


@pytest.fixture(scope="module")
def long_recording(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four minutes of synthetic speech with pauses."""
    clips = [mono_16k(CLIPS / name) for name in ("words.opus", "readings.opus", "pauses.opus")]
    pause = np.zeros(16_000, np.float32)
    turn = np.concatenate([part for clip in clips for part in (clip, pause)])
    samples = np.tile(turn, int(np.ceil(240 * 16_000 / len(turn))))
    path = tmp_path_factory.mktemp("long") / NAME
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16_000, 0, "NONE", ""))
        file.writeframes((samples * 32767).astype("<i2").tobytes())
    return path


def placed(recording: Path, world: World) -> World:
    (world.cwd / "job").mkdir(exist_ok=True)
    shutil.copy(recording, world.cwd / "job" / NAME)
    return world


@pytest.fixture(scope="module")
def unbroken(long_recording: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The note of a run that nobody broke off."""
    world = placed(long_recording, World(tmp_path_factory.mktemp("unbroken")))
    ended = world.jobnotes("run", "job", "--out", "out")
    assert ended.status == 0, ended.err
    assert pieces(world.cwd / "out" / "library") == {}, "all of it was heard: its pieces are gone"
    (note,) = record_in(world.cwd / "out")["notes"]
    return note


def asked(library: Path, sql: str) -> list[tuple[Any, ...]]:
    with contextlib.closing(sqlite3.connect(library / "jobnotes.db", timeout=20)) as db, db:
        return db.execute(sql).fetchall()


def pieces(library: Path) -> dict[str, str]:
    """The pieces that are kept, by name, with their words."""
    try:
        return dict(asked(library, "SELECT piece, words FROM heard_pieces"))
    except sqlite3.OperationalError:  # the library isn't made yet
        return {}


def broken_off(world: World, how: signal.Signals, when: Callable[[dict[str, str]], bool]) -> dict[str, str]:
    """Start the run and break it off; the pieces that are kept then."""
    library = world.cwd / "out" / "library"
    running = world.start("run", "job", "--out", "out")
    try:
        end = time.monotonic() + WAIT_S
        while not (library / "jobnotes.db").is_file() or not when(pieces(library)):
            assert running.poll() is None, "it was through before it could be broken off"
            assert time.monotonic() < end, "nothing was heard"
            time.sleep(0.02)
        running.send_signal(how)
        running.communicate(timeout=WAIT_S)
    finally:
        running.kill()
        running.communicate()
    assert running.returncode == (130 if how == signal.SIGINT else -how)
    return pieces(library)


@pytest.mark.slow
@pytest.mark.skipif(os.name == "nt", reason="an interruption is sent in another way there")
def test_one_that_is_killed_again_and_again_goes_on_each_time_and_ends_with_the_same_words(
    long_recording: Path, unbroken: Any, world: World
) -> None:
    placed(long_recording, world)
    library = world.cwd / "out" / "library"
    first = broken_off(world, signal.SIGKILL, lambda kept: len(kept) >= 1)
    # from now on the database itself refuses a piece that is heard a second time
    asked(
        library,
        "CREATE TRIGGER heard_twice BEFORE INSERT ON heard_pieces WHEN EXISTS "
        "(SELECT 1 FROM heard_pieces WHERE piece = NEW.piece) BEGIN SELECT RAISE(ABORT, 'heard twice'); END",
    )
    second = broken_off(world, signal.SIGINT, lambda kept: len(kept) > len(first))
    assert first.items() < second.items()
    ended = world.jobnotes("run", "job", "--out", "out", "--json")
    assert ended.status == 0, ended.err
    (note,) = record_in(world.cwd / "out")["notes"]
    assert note == unbroken
    assert pieces(library) == {}
    assert world.jobnotes("verify", "--out", "out").status == 0


# --- progress -------------------------------------------------------------------------------------


def test_where_there_is_no_terminal_a_long_step_says_once_a_minute_how_far_it_is(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    told, now = io.StringIO(), [0.0]
    monkeypatch.setattr(sys, "stderr", told)
    tick = Bar(clock=lambda: now[0]).step("Listening", 10_800.0)
    for piece in range(1, 361):  # one every ten seconds
        now[0] += 10
        tick(30.0 * piece)
    lines = told.getvalue().splitlines()
    assert lines[:3] == ["Listening …", "Listening … 2%", "Listening … 3%"]
    assert lines[-1] == "Listening … 98%"
    assert len(lines) == 60

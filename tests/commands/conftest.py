from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from command_line import CLIPS, SAMPLE, Demo, World, files_in, record_in
from once import once


@pytest.fixture
def world(tmp_path: Path) -> World:
    return World(tmp_path / "world")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Demo:
    """The demo, run once for all tests that look at what it leaves. Don't change anything in it."""
    return once(tmp_path_factory, "demo", _demo)


def _demo(folder: Path) -> Demo:
    world = World(folder)
    out = world.root / "out"
    before = files_in(SAMPLE / "job")
    ended = world.jobnotes("demo", "--read-photos", "--out", out, watch=True)
    assert ended.status == 0, ended.err
    return Demo(ended, out, record_in(out), before, files_in(SAMPLE / "job"))


@pytest.fixture(scope="session")
def clip_job(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small job: two short recordings of synthetic speech and a photo. Copy it before changing it."""
    folder = tmp_path_factory.mktemp("clips") / "small job"
    folder.mkdir()
    shutil.copy(CLIPS / "readings.opus", folder / "20310407_093000.opus")
    shutil.copy(CLIPS / "pauses.opus", folder / "20310407_094500.opus")
    shutil.copy(SAMPLE / "job" / "BENCH031.jpg", folder / "BENCH031.jpg")
    return folder

"""What can't be used is named in one line with its remedy; the rest is used all the same."""

from __future__ import annotations

import os
import shutil
import struct
from pathlib import Path
from typing import Any

import pytest
from command_line import CLIPS, SAMPLE, Ended, World, files_in, record_in
from PIL import Image

GOOD = "20310407_093000.opus"
GOOD_PHOTO = "BENCH031.jpg"


def empty(path: Path) -> None:
    path.write_bytes(b"")


def text(path: Path) -> None:
    path.write_text("Dear diary, today I repaired a bus.\n" * 40, "utf-8")


def cut_m4a(path: Path) -> None:
    """The index of this one is at its end, as phones write it."""
    whole = (SAMPLE / "job" / "put-back.m4a").read_bytes()
    cut = whole[: len(whole) // 2]
    assert b"moov" in whole
    assert b"moov" not in cut
    path.write_bytes(cut)


def no_sound(path: Path) -> None:
    """A RIFF/WAVE file of 16 bit, mono, 16 kHz, with a data chunk of no bytes."""
    wave = struct.pack("<4sIHHIIHH4sI", b"fmt ", 16, 1, 1, 16_000, 32_000, 2, 16, b"data", 0)
    path.write_bytes(b"RIFF" + struct.pack("<I", 4 + len(wave)) + b"WAVE" + wave)


def cut_jpeg(path: Path) -> None:
    whole = (SAMPLE / "job" / "IMG_0415.jpg").read_bytes()
    path.write_bytes(whole[: len(whole) // 2])


def photo_without_exif(path: Path) -> None:
    Image.new("RGB", (320, 240), "steelblue").save(path)


#: file → how it is made, what the message must say, whether it is used all the same
BAD = {
    "empty.m4a": (empty, "empty", False),
    "really text.m4a": (text, "no recording", False),
    "cut.m4a": (cut_m4a, "index", False),
    "no sound.wav": (no_sound, "0 seconds", False),
    "cut.jpg": (cut_jpeg, "cut short", False),
    "empty.jpg": (empty, "empty", False),
    "no exif.jpg": (photo_without_exif, "EXIF", True),
}


@pytest.fixture(scope="module")
def mixed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path, Ended]:
    """A folder with each kind of bad file, a good recording and a good photo, and how its run ended."""
    world = World(tmp_path_factory.mktemp("mixed"))
    folder = world.cwd / "job"
    folder.mkdir()
    for name, (make, _, _) in BAD.items():
        make(folder / name)
    shutil.copy(CLIPS / "readings.opus", folder / GOOD)
    shutil.copy(SAMPLE / "job" / GOOD_PHOTO, folder / GOOD_PHOTO)
    return folder, world.cwd / "out", world.jobnotes("run", "job", "--out", "out")


@pytest.mark.parametrize("name", BAD)
def test_each_is_named_in_one_line_with_reason_and_remedy(mixed: tuple[Path, Path, Ended], name: str) -> None:
    _, out, ended = mixed
    lines = [line for line in ended.messages if line.startswith(f"{name}: ")]
    assert len(lines) == 1
    reason, _, remedy = lines[0].removeprefix(f"{name}: ").partition("; ")
    assert BAD[name][1].casefold() in reason.casefold()
    assert remedy
    problems = [p for p in record_in(out)["problems"] if p["file"] == name]
    assert [f"{p['file']}: {p['message']}" for p in problems] == lines


def test_nothing_else_is_said_and_the_status_is_1(mixed: tuple[Path, Path, Ended]) -> None:
    ended = mixed[2]
    assert ended.status == 1
    assert len(ended.messages) == len(BAD), ended.err
    assert "Traceback" not in ended.err


def test_the_others_are_used_and_the_documents_written(mixed: tuple[Path, Path, Ended]) -> None:
    out = mixed[1]
    record = record_in(out)
    assert [note["file"] for note in record["notes"]] == [GOOD]
    assert record["notes"][0]["words"]
    used = [name for name, (_, _, is_used) in BAD.items() if is_used]
    assert sorted(photo["file"] for photo in record["photos"]) == sorted([GOOD_PHOTO, *used])
    assert all((out / name).stat().st_size for name in ("claim.docx", "customer.docx", "workshop.docx"))


def test_the_bad_files_are_left_as_they_are(mixed: tuple[Path, Path, Ended], tmp_path: Path) -> None:
    folder = mixed[0]
    assert sorted(files_in(folder)) == sorted([*BAD, GOOD, GOOD_PHOTO])
    for name, (make, _, _) in BAD.items():
        make(tmp_path / name)
        assert (folder / name).read_bytes() == (tmp_path / name).read_bytes()


# --- nothing can be done -------------------------------------------------------------------------


def a_good_job(folder: Path) -> Path:
    folder.mkdir()
    shutil.copy(CLIPS / "readings.opus", folder / GOOD)
    return folder


def no_such_folder(cwd: Path) -> list[str]:
    return ["run", "nowhere", "--out", "out"]


def a_file_for_a_folder(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    return ["run", f"job/{GOOD}", "--out", "out"]


def no_recordings(cwd: Path) -> list[str]:
    (cwd / "job").mkdir()
    shutil.copy(SAMPLE / "job" / GOOD_PHOTO, cwd / "job")
    return ["run", "job", "--out", "out"]


def an_empty_folder(cwd: Path) -> list[str]:
    (cwd / "job").mkdir()
    return ["run", "job", "--out", "out"]


def only_bad_recordings(cwd: Path) -> list[str]:
    (cwd / "job").mkdir()
    empty(cwd / "job" / "a.m4a")
    text(cwd / "job" / "b.m4a")
    return ["run", "job", "--out", "out"]


def library_below_a_file(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    (cwd / "file").write_text("I am no folder", "utf-8")
    return ["run", "job", "--out", "out", "--library", "file/library"]


def library_that_is_a_file(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    (cwd / "library").write_text("I am no library", "utf-8")
    return ["run", "job", "--out", "out", "--library", "library"]


def out_below_a_file(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    (cwd / "file").write_text("I am no folder", "utf-8")
    return ["run", "job", "--out", "file/out", "--library", "library"]


def out_that_is_a_file(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    (cwd / "out").write_text("I am no folder", "utf-8")
    return ["run", "job", "--out", "out", "--library", "library"]


def no_such_zone(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    return ["run", "job", "--out", "out", "--zone", "Middle/Earth"]


def no_such_recogniser(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    return ["run", "job", "--out", "out", "--hear-with", "golden-ear"]


def no_such_workshop_folder(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    return ["run", "job", "--out", "out", "--workshop", "shop"]


def broken_trade_data(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    (cwd / "shop").mkdir()
    (cwd / "shop" / "lexicon.toml").write_text('format = "jobnotes-lexicon"\nversion = 1\n[[[', "utf-8")
    return ["run", "job", "--out", "out", "--workshop", "shop"]


def broken_claim_policy(cwd: Path) -> list[str]:
    a_good_job(cwd / "job")
    (cwd / "shop").mkdir()
    (cwd / "shop" / "claim_policy.toml").write_text("rule = 3\n", "utf-8")
    return ["run", "job", "--out", "out", "--workshop", "shop"]


#: what is wrong → the word that the message begins with, and one that its reason has
NOTHING = {
    no_such_folder: ("nowhere", "no such folder"),
    a_file_for_a_folder: (f"job/{GOOD}", "is a file"),
    no_recordings: ("job", "no recording"),
    an_empty_folder: ("job", "no recording"),
    only_bad_recordings: ("job", "no recording that can be used"),
    library_below_a_file: ("file/library", "not a directory"),
    library_that_is_a_file: ("library", ""),
    out_below_a_file: ("file/out", "not a directory"),
    out_that_is_a_file: ("out", ""),
    no_such_zone: ("Middle/Earth", "no time zone"),
    no_such_recogniser: ("golden-ear", "no recogniser"),
    no_such_workshop_folder: ("shop", "no folder"),
    broken_trade_data: ("shop/lexicon.toml", ""),
    broken_claim_policy: ("shop/claim_policy.toml", "claim policy"),
}


@pytest.mark.parametrize("make", NOTHING, ids=lambda make: make.__name__)
def test_where_nothing_can_be_done_the_status_is_2_and_a_line_says_what_to_do(
    world: World, make: Any
) -> None:
    arguments = make(world.cwd)
    given = files_in(world.cwd)
    ended = world.here(*arguments)
    subject, reason = NOTHING[make]
    assert ended.status == 2, ended.err
    assert ended.out == ""
    last = ended.messages[-1]
    assert last.startswith(f"jobnotes: {subject}")
    assert reason.casefold() in last.casefold()
    assert "; " in last
    assert "Traceback" not in ended.err
    if make is not only_bad_recordings:
        assert len(ended.messages) == 1
    assert {name: files_in(world.cwd)[name] for name in given} == given
    assert not list(world.cwd.rglob("record.json"))


@pytest.mark.parametrize("make", [no_such_folder, no_recordings, no_such_zone, no_such_recogniser])
def test_what_fails_before_it_begins_leaves_nothing_behind(world: World, make: Any) -> None:
    arguments = make(world.cwd)
    given = files_in(world.cwd)
    world.here(*arguments)
    assert files_in(world.cwd) == given
    assert not (world.cwd / "out").exists()


def test_each_bad_recording_is_named_when_none_is_left(world: World) -> None:
    ended = world.here(*only_bad_recordings(world.cwd))
    assert [line.partition(":")[0] for line in ended.messages] == ["a.m4a", "b.m4a", "jobnotes"]


@pytest.mark.skipif(
    not hasattr(os, "geteuid") or os.geteuid() == 0, reason="root may write everywhere; see the cases above"
)
@pytest.mark.parametrize("locked", ["library", "out"])
def test_a_folder_without_the_right_to_write_ends_with_2(world: World, locked: str) -> None:
    a_good_job(world.cwd / "job")
    (world.cwd / locked).mkdir(mode=0o555)
    ended = world.here("run", "job", "--out", "out", "--library", "library")
    assert ended.status == 2
    assert ended.messages[-1].startswith(f"jobnotes: {locked}")


def test_wrong_options_end_with_2_and_a_usage_line(world: World) -> None:
    for arguments in (["run"], ["run", "job"], ["demo"], ["facts"], ["run", "job", "--out", "o", "--colour"]):
        ended = world.here(*arguments)
        assert ended.status == 2
        assert ended.out == ""
        assert ended.err.startswith("Usage: jobnotes")

"""The faults do what they say: else all that is tested with them would say nothing."""

from __future__ import annotations

import errno
import os
import shutil
import sqlite3
from pathlib import Path

import pytest
from kernel import Call, Fault, What, available, moments, watched

pytestmark = pytest.mark.skipif(not available(), reason="needs Linux on x86-64, where calls can be held")


@pytest.fixture
def disk(tmp_path: Path) -> Path:
    folder = tmp_path / "disk"
    folder.mkdir()
    return folder


def replaced(path: Path, content: bytes, *, synced: bool) -> None:
    """A file written beside its name and renamed, with or without care for a power cut."""
    beside = path.with_name("beside")
    with beside.open("wb", buffering=0) as file:
        file.write(content)
        if synced:
            os.fsync(file.fileno())
    beside.rename(path)


def test_every_change_is_seen_also_that_of_a_database(disk: Path) -> None:
    def act() -> None:
        replaced(disk / "a", b"new", synced=True)
        (disk / "b").mkdir()
        (disk / "b").rmdir()
        with sqlite3.connect(disk / "c.db") as database:
            database.execute("CREATE TABLE t (x)")

    seen = watched(act, disk)
    assert seen.status == 0, seen.said
    told = [(call.what, call.path) for call in seen.calls]
    assert told[:6] == [
        ("open", "beside"),
        ("write", "beside"),
        ("sync", "beside"),
        ("rename", "a"),
        ("mkdir", "b"),
        ("unlink", "b"),
    ]
    assert ("sync", "c.db") in told
    assert ("unlink", "c.db-journal") in told


def test_what_happens_elsewhere_and_what_is_only_read_is_not_seen(disk: Path, tmp_path: Path) -> None:
    (disk / "a").write_bytes(b"old")

    def act() -> None:
        (disk / "a").read_bytes()
        (tmp_path / "elsewhere").write_bytes(b"x")
        print("said")

    seen = watched(act, disk)
    assert (seen.status, seen.calls, seen.said) == (0, [], "said\n")


def test_a_process_that_is_killed_did_what_came_before_and_nothing_after(disk: Path) -> None:
    def act() -> None:
        for name in "abc":
            (disk / name).touch()

    seen = watched(act, disk, Fault("kill", 1))
    assert seen.status == -9
    assert [path.name for path in disk.iterdir()] == ["a"]


def test_a_torn_write_is_half_there(disk: Path) -> None:
    seen = watched(lambda: replaced(disk / "a", b"12345678", synced=True), disk, Fault("torn", 1))
    assert seen.status == -9
    assert (disk / "beside").read_bytes() == b"1234"


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EIO, errno.EROFS])
def test_an_error_is_what_the_process_gets(disk: Path, number: int) -> None:
    def act() -> None:
        try:
            replaced(disk / "a", b"new", synced=True)
        except OSError as error:
            print(error.errno)
        with (disk / "b").open("w"):
            pass

    once = watched(act, disk, Fault("error", 1, number))
    assert (once.status, once.said) == (0, f"{number}\n")
    assert (disk / "b").exists()
    lasting = watched(act, disk, Fault("errors", 1, number))
    assert lasting.status == 1
    assert "OSError" in lasting.said


def test_a_full_disk_lets_files_be_removed(disk: Path) -> None:
    (disk / "a").write_bytes(b"old")
    seen = watched(lambda: (disk / "a").unlink(), disk, Fault("errors", 0, errno.ENOSPC))
    assert seen.status == 0
    assert not (disk / "a").exists()


def test_a_power_cut_empties_what_was_renamed_without_care(disk: Path) -> None:
    for synced, left in ((False, b""), (True, b"new")):
        (disk / "a").write_bytes(b"old")

        def act(synced: bool = synced) -> None:
            replaced(disk / "a", b"new", synced=synced)
            (disk / "last").touch()

        calls = watched(act, disk, Fault("power cut", 4 if synced else 3))
        assert calls.disk is not None
        assert (calls.disk / "a").read_bytes() == left


def test_a_power_cut_may_take_names_back_until_their_folder_was_synchronised(disk: Path) -> None:
    (disk / "a").write_bytes(b"old")

    def act() -> None:
        replaced(disk / "a", b"new", synced=True)
        (disk / "b").touch()
        folder = os.open(disk, os.O_RDONLY)
        os.fsync(folder)
        (disk / "c").touch()

    for at, left in ((5, {"a": b"old"}), (6, {"a": b"new", "b": b""})):
        for path in disk.iterdir():
            path.unlink()
        (disk / "a").write_bytes(b"old")
        seen = watched(act, disk, Fault("power cut, names too", at))
        assert seen.disk is not None
        assert {path.name: path.read_bytes() for path in seen.disk.iterdir()} == left, at


def test_what_has_another_name_outlasts_the_one_that_is_removed(disk: Path) -> None:
    def act() -> None:
        replaced(disk / "a", b"new", synced=True)
        os.link(disk / "a", disk / "b")
        (disk / "a").unlink()
        (disk / "last").touch()

    seen = watched(act, disk, Fault("power cut", 6))
    assert seen.disk is not None
    assert {path.name: path.read_bytes() for path in seen.disk.iterdir()} == {"b": b"new"}


def test_what_one_run_shows_of_each_moment_is_what_a_fault_there_leaves(disk: Path) -> None:
    def act() -> None:
        replaced(disk / "a", b"12345678", synced=True)
        (disk / "b").mkdir()
        (disk / "b" / "c").write_bytes(b"not synchronised")

    def content(folder: Path) -> dict[str, bytes]:
        return {
            path.relative_to(folder).as_posix(): path.read_bytes() if path.is_file() else b"/"
            for path in folder.rglob("*")
        }

    shown: dict[tuple[What, int], dict[str, bytes]] = {}

    def look(call: Call, what: What, left: Path) -> None:
        shown[what, call.number] = content(left)

    seen = moments(act, disk, look)
    assert seen.status == 0, seen.said
    writes = sum(call.what == "write" for call in seen.calls)
    assert len(shown) == 3 * len(seen.calls) + writes
    for (what, at), left in shown.items():
        shutil.rmtree(disk)
        disk.mkdir()
        struck = watched(act, disk, Fault(what, at))
        assert content(struck.disk or disk) == left, (what, at)

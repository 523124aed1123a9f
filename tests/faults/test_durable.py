"""What is written is whole or not there, and outlasts a power cut."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from kernel import Fault, available, watched
from scenarios import photo, recording

from jobnotes import durable
from jobnotes.library.backup import back_up, restore
from jobnotes.library.library import Library

holds_calls = pytest.mark.skipif(not available(), reason="needs Linux on x86-64, where calls can be held")


def write(path: Path, content: bytes) -> None:
    with durable.written(path) as file:
        file.write(content)


def test_a_file_takes_its_place_with_the_rights_it_should_have(tmp_path: Path) -> None:
    write(tmp_path / "a", b"new")
    with durable.written(tmp_path / "b", 0o600) as file:
        file.write(b"secret")
    assert (tmp_path / "a").read_bytes() == b"new"
    assert [(tmp_path / name).stat().st_mode & 0o777 for name in "ab"] == [0o644, 0o600]


def test_a_writer_that_fails_leaves_what_was_there_and_nothing_beside_it(tmp_path: Path) -> None:
    (tmp_path / "a").write_bytes(b"old")

    def broken() -> None:
        with durable.written(tmp_path / "a") as file:
            file.write(b"half")
            raise ValueError("broken")

    with pytest.raises(ValueError, match="broken"):
        broken()
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == {"a": b"old"}


@holds_calls
@pytest.mark.parametrize("what", ["kill", "torn", "power cut", "power cut, names too"])
def test_at_every_moment_there_is_the_old_file_or_the_new_one(tmp_path: Path, what: str) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    (disk / "a").write_bytes(b"old")
    steps = watched(lambda: write(disk / "a", b"the new one"), disk).calls
    assert [call.what for call in steps] == ["open", "write", "sync", "chmod", "rename", "sync"]
    for at in range(len(steps)):
        for path in disk.iterdir():
            path.unlink()
        (disk / "a").write_bytes(b"old")
        seen = watched(lambda: write(disk / "a", b"the new one"), disk, Fault(what, at))  # type: ignore[arg-type]
        left = (seen.disk or disk) / "a"
        assert left.read_bytes() in (b"old", b"the new one"), at


@holds_calls
def test_what_was_written_is_there_after_the_power_comes_back_with_the_folders_it_lies_in(
    tmp_path: Path,
) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()

    def act() -> None:
        durable.make_folder(disk / "one" / "two")
        write(disk / "one" / "two" / "a", b"kept")
        (disk / "later").touch()

    steps = watched(act, disk).calls
    (disk / "later").unlink()
    (disk / "one" / "two" / "a").unlink()
    (disk / "one" / "two").rmdir()
    (disk / "one").rmdir()
    seen = watched(act, disk, Fault("power cut, names too", steps[-1].number))
    assert seen.disk is not None
    assert (seen.disk / "one" / "two" / "a").read_bytes() == b"kept"


@holds_calls
def test_a_library_that_was_restored_is_there_after_the_power_comes_back(tmp_path: Path) -> None:
    with Library.open(tmp_path / "own") as library:
        note = library.keep(recording(tmp_path / "note.wav", 1), "recording").sha256
        seen = library.keep(photo(tmp_path / "photo.jpg", "olive"), "photo").sha256
    back_up(tmp_path / "own", tmp_path / "all.zip")

    def act(disk: Path) -> None:
        restore(tmp_path / "all.zip", disk / "library")
        (disk / "later").touch()

    for name in ("through", "struck"):
        (tmp_path / name).mkdir()
    last = watched(lambda: act(tmp_path / "through"), tmp_path / "through").calls[-1]
    assert last.path == "later"
    fault = Fault("power cut, names too", last.number)
    left = watched(lambda: act(tmp_path / "struck"), tmp_path / "struck", fault).disk
    assert left is not None
    with Library.open(left / "library", create=False) as library:
        assert [*library.verify(), *library.verify_journal()] == []
        assert all(library.path_of(sha256).stat().st_size for sha256 in (note, seen))


def test_what_a_killed_process_left_is_removed_after_a_day_and_not_before(tmp_path: Path) -> None:
    for name, hours in ((".a.old", 25), (".a.new", 1), ("a", 48)):
        (tmp_path / name).write_bytes(b"half")
        then = time.time() - hours * 3600
        os.utime(tmp_path / name, (then, then))
    (tmp_path / ".documents.old").mkdir()
    (tmp_path / ".documents.old" / "claim.docx").write_bytes(b"half")
    os.utime(tmp_path / ".documents.old", (0, 0))
    durable.clear_abandoned(tmp_path, [".a.*", ".documents.*"])
    assert sorted(path.name for path in tmp_path.iterdir()) == [".a.new", "a"]

"""A real disk that fills up in the middle of a flow: a file system in memory (tmpfs) with too little room.

Only root may make one. Unlike a fault at a system call it also has what belongs to a full disk: files that
grow by pages, room that comes back when something is removed, a database that finds no place for its log.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from kernel import Watched, watched
from scenarios import Place, Scenario
from striking import Undisturbed, broken, undisturbed

KIND = "a small disk that fills up (tmpfs)"
_PAGE_KB, _LARGE_KB = 4, 256 << 10


@lru_cache(maxsize=1)
def available() -> bool:
    """True where this process may make such a file system."""
    if not sys.platform.startswith("linux") or shutil.which("mount") is None:
        return False
    with tempfile.TemporaryDirectory() as name:
        try:
            with _mounted(Path(name)):
                return True
        except subprocess.CalledProcessError:
            return False


@dataclass(frozen=True)
class Filled:
    """With how much room a scenario was tried, in kB, and what was broken with which."""

    rooms: tuple[int, ...]
    broken: dict[int, list[str]]


def fill(scenario: Scenario, most: int) -> Filled:
    """The scenario on disks with too little room, so many of them."""
    with tempfile.TemporaryDirectory() as name:
        reference = undisturbed(scenario, Path(name) / "undisturbed")
        tried = rooms(reference, Path(name) / "looking", most)
        found = {room: filled(reference, room, Path(name) / "struck") for room in tried}
    return Filled(tuple(tried), {room: wrong for room, wrong in found.items() if wrong})


def rooms(reference: Undisturbed, folder: Path, most: int) -> list[int]:
    """How much room to leave, in kB: from none up to just too little, spread evenly."""
    too_little, enough = 0, _PAGE_KB
    while not _goes_through(reference, enough, folder):
        too_little, enough = enough, enough * 2
    while enough - too_little > _PAGE_KB:
        middle = (too_little + enough) // 2 // _PAGE_KB * _PAGE_KB
        if _goes_through(reference, middle, folder):
            enough = middle
        else:
            too_little = middle
    steps = range(0, enough, _PAGE_KB)
    return sorted({steps[round(at * (len(steps) - 1) / max(most - 1, 1))] for at in range(most)})


def filled(reference: Undisturbed, room: int, folder: Path) -> list[str]:
    """What was broken by a disk with only so many kB more than what lies on it; then it has more."""
    place = reference.before.copied_to(folder)

    def strike() -> Watched:
        seen = _acted(reference, place)
        _resize(place.disk, _LARGE_KB)
        return seen

    try:
        with _small(place, room):
            return broken(reference, place, strike)
    finally:
        shutil.rmtree(place.root, ignore_errors=True)


def _goes_through(reference: Undisturbed, room: int, folder: Path) -> bool:
    place = reference.before.copied_to(folder)
    try:
        with _small(place, room):
            return _acted(reference, place).status == 0
    finally:
        shutil.rmtree(place.root)


def _acted(reference: Undisturbed, place: Place) -> Watched:
    return watched(lambda: reference.scenario.act(place), place.root / "nothing")


@contextmanager
def _small(place: Place, room: int) -> Iterator[None]:
    """What lies on the disk of the place is put on one that has only so much room more."""
    content = place.root / "content"
    place.disk.rename(content)
    place.disk.mkdir()
    with _mounted(place.disk):
        shutil.copytree(content, place.disk, dirs_exist_ok=True)
        shutil.rmtree(content)
        told = os.statvfs(place.disk)
        _resize(place.disk, (told.f_blocks - told.f_bfree) * told.f_frsize // 1024 + room)
        yield


@contextmanager
def _mounted(folder: Path) -> Iterator[None]:
    _call(["mount", "-t", "tmpfs", "-o", f"size={_LARGE_KB}k", "none", str(folder)])
    try:
        yield
    finally:
        _call(["umount", str(folder)])


def _resize(folder: Path, kilobytes: int) -> None:
    # no room at all would mean no bound at all
    _call(["mount", "-o", f"remount,size={max(kilobytes, _PAGE_KB)}k", str(folder)])


def _call(command: Sequence[str]) -> None:
    subprocess.run(command, check=True, capture_output=True)

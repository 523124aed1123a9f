"""The folder that was given: which of its files are recordings and photos."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from jobnotes.errors import JobnotesError, Problem, UnusableInputError
from jobnotes.intake import formats
from jobnotes.intake.originals import file_name

Progress = Callable[[Path], None]


@dataclass(frozen=True, slots=True)
class FolderContents:
    """Files in the order of their names. `problems` names what was meant as evidence but can't be used."""

    folder: Path
    recordings: tuple[Path, ...]
    photos: tuple[Path, ...]
    problems: tuple[Problem, ...] = ()


def scan(folder: Path, progress: Progress | None = None, *, photos_alone: bool = False) -> FolderContents:
    """Find the recordings and photos in `folder` and the folders inside it.

    Hidden files and folders are passed over, as are files of other kinds; links are followed only to
    files inside the folder. A file is what its content says where that differs from its extension (a
    picture named .m4a is a photo); one that is neither keeps the kind that its extension says, so that
    opening it says what is wrong with it. `progress` is called with each file that is looked at.

    Raises JobnotesError if the folder is missing, is not a folder, can't be listed or holds no recording
    (with `photos_alone` photos will do).
    """
    try:
        if not folder.exists():
            raise JobnotesError(str(folder), "there is no such folder", "check its name")
        if not folder.is_dir():
            raise JobnotesError(str(folder), "is a file, not a folder", "give the folder that it is in")
        os.scandir(folder).close()
    except OSError as error:
        remedy = "give yourself permission to read it, or copy it to a folder of your own"
        raise JobnotesError(str(folder), f"can't be listed ({error.strerror})", remedy) from error

    problems: list[Problem] = []
    found: dict[formats.Kind, list[Path]] = {"recording": [], "photo": []}
    for path in sorted(_files(folder, problems), key=lambda p: _by_name(file_name(p, folder))):
        if progress is not None:
            progress(path)
        kind = _kind(path)
        if kind is not None:
            found[kind].append(path)
        elif formats.unread(path) is not None:
            problems.append(_unread(path, folder))
    if not found["recording"] and not (photos_alone and found["photo"]):
        remedy = f"put the voice notes in it; {formats.RECORDINGS_SAID} can be read"
        raise JobnotesError(str(folder), "holds no recording", remedy)
    return FolderContents(folder, tuple(found["recording"]), tuple(found["photo"]), tuple(problems))


def _files(folder: Path, problems: list[Problem]) -> Iterator[Path]:
    def unlisted(error: OSError) -> None:
        name = file_name(Path(error.filename), folder)
        remedy = "give yourself permission to read it"
        problems.append(Problem.of(UnusableInputError(name, f"can't be listed ({error.strerror})", remedy)))

    root = folder.resolve()
    for here, folders, files in os.walk(folder, onerror=unlisted):
        visible = [name for name in folders if not name.startswith(".")]
        # os.walk doesn't enter linked folders; one inside the folder is seen where it really is
        folders[:] = visible
        for name in visible:
            if Path(here, name).is_symlink() and not _inside(Path(here, name), root):
                problems.append(_link_out(Path(here, name), folder))
        # a folder with a recording's extension can't be heard: opening it will say so
        candidates = files + [name for name in visible if formats.meant_as(Path(name)) == "recording"]
        for name in candidates:
            path = Path(here, name)
            if name.startswith("."):
                continue
            if not path.is_symlink() or _inside(path, root):
                yield path
            elif formats.meant_as(path) is not None and not path.is_dir():
                problems.append(_link_out(path, folder))


def _link_out(link: Path, folder: Path) -> Problem:
    reason = "is a link out of the folder, or to nothing"
    return Problem.of(UnusableInputError(file_name(link, folder), reason, "copy the files themselves here"))


def _inside(link: Path, root: Path) -> bool:
    try:
        return link.resolve(strict=True).is_relative_to(root)
    except (OSError, RuntimeError):  # it leads to nothing, or to itself
        return False


def _kind(path: Path) -> formats.Kind | None:
    meant = formats.meant_as(path)
    if (path.suffix and meant is None) or not path.is_file():
        return meant
    try:
        with path.open("rb") as stream:
            head = stream.read(formats.HEAD_BYTES)
    except OSError:
        return meant
    return formats.kind_of(formats.content(head)) or meant


def _unread(path: Path, folder: Path) -> Problem:
    what, said = {
        "recording": ("its sound", formats.RECORDINGS_SAID),
        "photo": ("it", formats.PHOTOS_SAID),
    }[formats.unread(path) or "photo"]
    reason = f"{path.suffix.lower()} can't be read here"
    return Problem.of(UnusableInputError(file_name(path, folder), reason, f"save {what} in one of {said}"))


def _by_name(name: str) -> tuple[str, str]:
    return name.casefold(), name

"""Adding a model: a folder, a zip or a known name becomes a checked folder among the models.

Everything is written beside its place and moved there at the end, so a model is either whole or not there.
"""

from __future__ import annotations

import lzma
import os
import re
import shutil
import stat
import subprocess
import sys
import tempfile
import zipfile
import zlib
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path, PurePosixPath

from jobnotes.errors import JobnotesError
from jobnotes.hearing.catalogue import Known, catalogue
from jobnotes.hearing.download import fetch, file_md5, published_md5
from jobnotes.hearing.folders import ModelFolder, engine_of, file_sha256, model_folder, users_place

Progress = Callable[[str, float | None], None]

# generous beside what the largest models have: a few gigabytes in some hundred files, packed by a half
_MOST_BYTES = 12_000_000_000
_MOST_FILES = 5_000
_MOST_RATIO = 100
_MOST_OVERHEAD = 10_000_000  # small files pack well without being a trap
_CHUNK = 1 << 20
_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9._+-]{0,99}")

_TRY = """
import sys, numpy
from pathlib import Path
from jobnotes.errors import JobnotesError
from jobnotes.hearing import recogniser
noise = numpy.random.default_rng(1).normal(0, 0.05, 16000).astype(numpy.float32)
engine = recogniser(sys.argv[1])
try:
    engine.load()
    engine.hear(noise)
except JobnotesError as error:
    sys.exit(error.reason)
"""


def add(what: str, *, to: Path | None = None, progress: Progress | None = None) -> ModelFolder:
    """Adds the model `what` to the folder `to` (None: the user's own) and gives it there.

    `what` is a model's folder, a zip that holds exactly one model, or the name of a known model, which is
    then downloaded. It is loaded once on trial, in a process of its own. `progress` is called with what is
    being done and its share, 0–1 or None. Raises JobnotesError where it can't be added; then nothing is
    left behind.
    """
    progress = progress or (lambda doing, share: None)
    to = (to or users_place()).expanduser()
    path = Path(what).expanduser()
    known = catalogue().known_as(what)
    if path.is_dir():
        return _add_folder(path, to, progress)
    if path.is_file():
        return _add_zip(path, path.stem, to, progress)
    if known is not None:
        return _add_known(known, to, progress)
    raise JobnotesError(
        what,
        "is neither a model's folder, nor a zip, nor the name of a known model",
        "`jobnotes models` lists the names",
    )


def _add_known(known: Known, to: Path, progress: Progress) -> ModelFolder:
    _refuse_if_there(to, known.name)
    with _beside(to) as work:
        archive = work / "download.zip"
        fetch(
            known.address,
            archive,
            most_bytes=max(known.size_mb * 2_000_000, 200_000_000),
            fetched=lambda done, of: progress("downloading", done / of if of else None),
        )
        _check_download(known, archive)
        return _add_zip(archive, known.name, to, progress, said=known.address)


def _check_download(known: Known, archive: Path) -> None:
    differs = False
    if known.sha256 is not None:
        differs = file_sha256(archive) != known.sha256
    elif (md5 := published_md5(catalogue().vosk.list, known.name)) is not None:
        differs = file_md5(archive) != md5
    if differs:
        raise JobnotesError(
            known.address, "what came is not what its publisher's digest says", "try again later"
        )


def _add_zip(archive: Path, name: str, to: Path, progress: Progress, said: str | None = None) -> ModelFolder:
    said = said or str(archive)
    with _beside(to) as work:
        inside = work / "inside"
        inside.mkdir()
        _unpack(archive, inside, said, progress)
        model = _only_model(inside, said)
        return _settle(model, model.name if model != inside else name, to, progress)


def _add_folder(folder: Path, to: Path, progress: Progress) -> ModelFolder:
    model = model_folder(folder)
    _refuse_if_there(to, model.name)
    with _beside(to) as work:
        copy = work / "copy"
        progress("copying", None)
        _copy(model.path, copy)
        return _settle(copy, model.name, to, progress)


def _settle(model: Path, name: str, to: Path, progress: Progress) -> ModelFolder:
    """Moves the checked `model` to its place in `to`."""
    if not _NAME.fullmatch(name) or name.endswith("."):
        raise JobnotesError(
            name, "can't be a model's name", "give its folder a name of letters, digits, dots and dashes"
        )
    _refuse_if_there(to, name)
    progress("trying it", None)
    _try(model, name)
    target = to / name
    try:
        model.rename(target)
    except OSError as error:
        raise _not_writable(to, error) from None
    return model_folder(target)


def _refuse_if_there(to: Path, name: str) -> None:
    if (to / name).exists():
        raise JobnotesError(str(to / name), "is there already", "remove that folder first to replace it")


@contextmanager
def _beside(to: Path) -> Iterator[Path]:
    """A working folder on the same disk as `to`, gone at the end."""
    try:
        to.mkdir(parents=True, exist_ok=True)
        work = Path(tempfile.mkdtemp(prefix=".adding-", dir=to))
    except OSError as error:
        raise _not_writable(to, error) from None
    try:
        yield work
    finally:
        shutil.rmtree(work, ignore_errors=True)


# --- what is in a zip ------------------------------------------------------------------------------


def _unpack(archive: Path, into: Path, said: str, progress: Progress) -> None:
    try:
        with zipfile.ZipFile(archive) as pack:
            members = [(info, _safe_path(info, said)) for info in pack.infolist()]
            files = [(info, path) for info, path in members if not info.is_dir()]
            packed = max(archive.stat().st_size, 1)
            size = sum(info.file_size for info, _ in files)
            if len(members) > _MOST_FILES or size > min(_MOST_BYTES, packed * _MOST_RATIO + _MOST_OVERHEAD):
                raise _bad_zip(said, "holds far more than a model would")
            done = 0
            for info, path in files:
                done += _unpack_one(pack, info, into / path, said)
                progress("unpacking", done / max(size, 1))
    except (zipfile.BadZipFile, zipfile.LargeZipFile, EOFError, NotImplementedError, ValueError) as error:
        raise _bad_zip(said, f"is not a zip that can be read ({error})") from None
    except (RuntimeError, zlib.error, lzma.LZMAError) as error:  # the first is for a locked member
        raise _bad_zip(said, f"can't be unpacked ({error})") from None
    except FileExistsError:
        raise _bad_zip(said, "names a file twice") from None
    except NotADirectoryError:
        raise _bad_zip(said, "uses a file as a folder") from None
    except OSError as error:
        raise _not_writable(into.parent.parent, error) from None


def _safe_path(info: zipfile.ZipInfo, said: str) -> Path:
    """Where the member goes, relative to the folder it is unpacked in; nothing may lead out of it."""
    name = info.orig_filename
    path = PurePosixPath(name)
    kind = stat.S_IFMT(info.external_attr >> 16)
    plain = (
        "\\" not in name
        and ":" not in name
        and name.isprintable()
        and not path.is_absolute()
        and ".." not in path.parts
        and path.parts
    )
    if not plain or kind not in (0, stat.S_IFREG, stat.S_IFDIR):
        raise _bad_zip(said, "holds a path or a link that leads out of it")
    return Path(*path.parts)


def _unpack_one(pack: zipfile.ZipFile, info: zipfile.ZipInfo, to: Path, said: str) -> int:
    to.parent.mkdir(parents=True, exist_ok=True)
    done = 0
    with pack.open(info) as source, to.open("xb") as out:
        while chunk := source.read(_CHUNK):
            done += len(chunk)
            if done > info.file_size:
                raise _bad_zip(said, "holds more than it says")
            out.write(chunk)
    return done


def _only_model(inside: Path, said: str) -> Path:
    candidates = [inside, *sorted(p for p in inside.rglob("*") if p.is_dir())]
    models = [p for p in candidates if engine_of(p) is not None]
    if len(models) != 1:
        reason = "holds no model" if not models else f"holds {len(models)} models"
        raise JobnotesError(said, reason, "give a zip with exactly one vosk or faster-whisper model in it")
    return models[0]


def _bad_zip(said: str, reason: str) -> JobnotesError:
    return JobnotesError(said, reason, "download it again from its publisher")


# --- folders and the trial -------------------------------------------------------------------------


def _copy(source: Path, to: Path) -> None:
    """Copies plain files only; a link within a model is followed to the file that it means."""
    try:
        shutil.copytree(source, to, ignore_dangling_symlinks=True)
    except (OSError, shutil.Error) as error:
        raise _not_writable(to.parent.parent, error) from None


def _try(model: Path, name: str) -> None:
    """Loads the model and lets it hear a second of noise, in a process that may die of it."""
    child = subprocess.run(
        [sys.executable, "-c", _TRY, str(model)],
        capture_output=True,
        text=True,
        errors="replace",
        check=False,
        env=os.environ | {"HF_HUB_OFFLINE": "1"},
    )
    if child.returncode != 0:
        said = child.stderr.strip().splitlines()[-1:] or [f"its process ended with {child.returncode}"]
        raise JobnotesError(name, f"doesn't work as a model ({said[0]})", "download it again")


def _not_writable(folder: Path, error: Exception) -> JobnotesError:
    said = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
    return JobnotesError(str(folder), f"can't be written to ({said})", "make room or name another folder")

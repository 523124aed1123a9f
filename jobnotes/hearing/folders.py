"""Model folders: told by their shape which engine they are for, and by a digest what is in them."""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import platformdirs

from jobnotes.errors import JobnotesError

Engine = Literal["whisper", "vosk"]

# each line: one of these files must be there. Kaldi's two layouts for a vosk model: in subfolders, or flat
_SHAPES: tuple[tuple[Engine, tuple[tuple[str, ...], ...]], ...] = (
    (
        "whisper",
        (("model.bin",), ("config.json",), ("tokenizer.json",), ("vocabulary.txt", "vocabulary.json")),
    ),
    ("vosk", (("am/final.mdl",), ("conf/mfcc.conf",), ("graph/HCLG.fst", "graph/HCLr.fst"))),
    ("vosk", (("final.mdl",), ("mfcc.conf",), ("HCLG.fst", "HCLr.fst"))),
)


@dataclass(frozen=True, slots=True)
class ModelFolder:
    """A folder with the weights of one recogniser, by the name that a person calls it."""

    name: str
    engine: Engine
    path: Path

    @property
    def sha256(self) -> str:
        """Over the names and contents of all files. Read once, then remembered as long as none changes."""
        return _digest(self.path)

    def folder(self) -> str:
        """The path, once it is sure that it still has the shape of a model."""
        if engine_of(self.path) != self.engine:
            raise JobnotesError(
                str(self.path), f"isn't a {self.engine} model any more", "add the model again"
            )
        return str(self.path)

    def place(self) -> tuple[str, None]:
        """As `folder`; its files are read there."""
        return self.folder(), None


def engine_of(folder: Path) -> Engine | None:
    """The engine that could read `folder`, None where it doesn't have the files of a model."""
    for engine, wanted in _SHAPES:
        if all(any(_is_filled(folder / name) for name in names) for names in wanted):
            return engine
    return None


def model_folder(path: Path) -> ModelFolder:
    """`path` as a model; raises JobnotesError where it is none."""
    engine = engine_of(path)
    if engine is None:
        raise JobnotesError(
            str(path),
            "is not a model's folder" if path.is_dir() else "there is no such folder",
            "give an unpacked vosk model (am, conf, graph) or a faster-whisper model "
            "(model.bin, config.json, tokenizer.json, vocabulary)",
        )
    return ModelFolder(path.resolve().name, engine, path.resolve())


def models_in(folder: Path) -> tuple[ModelFolder, ...]:
    """The models that lie directly in `folder`, by name; none where it isn't there or can't be read."""
    try:
        inside = sorted(p for p in folder.iterdir() if not p.name.startswith("."))
    except OSError:
        return ()
    return tuple(ModelFolder(p.name, engine, p) for p in inside if (engine := engine_of(p)) is not None)


def places(named: tuple[Path, ...] = ()) -> tuple[Path, ...]:
    """The folders in which models are looked for, first found first used.

    Those `named`, those in the environment's JOBNOTES_MODELS (as PATH is written), `models` of a source
    checkout, and the user's own data folder.
    """
    environment = (Path(p) for p in os.environ.get("JOBNOTES_MODELS", "").split(os.pathsep) if p)
    found = [*named, *environment, *_of_checkout(), users_place()]
    return tuple(dict.fromkeys(found))


def users_place() -> Path:
    """The user's own folder for models, whether or not it is there yet."""
    return Path(platformdirs.user_data_dir("jobnotes", appauthor=False)) / "models"


def cache_place() -> Path:
    """The user's own folder for what can be made again at any time."""
    return Path(platformdirs.user_cache_dir("jobnotes", appauthor=False))


def file_sha256(path: Path) -> str:
    """The SHA-256 of a file's bytes, as 64 hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _of_checkout() -> Iterator[Path]:
    root = Path(__file__).resolve().parents[2]
    if (root / "pyproject.toml").is_file() and (root / "models").is_dir():
        yield root / "models"


def _is_filled(path: Path) -> bool:
    try:
        return path.is_file() and path.stat().st_size > 0
    except OSError:
        return False


def _digest(folder: Path) -> str:
    files = sorted(p for p in folder.rglob("*") if p.is_file())
    look = [[p.relative_to(folder).as_posix(), p.stat().st_size, p.stat().st_mtime_ns] for p in files]
    key = hashlib.sha256(json.dumps([str(folder), look]).encode()).hexdigest()
    note = cache_place() / "digests" / f"{key}.json"
    remembered = _read(note)
    if isinstance(remembered, dict) and isinstance(digest := remembered.get("sha256"), str):
        return digest
    contents = [[p.relative_to(folder).as_posix(), file_sha256(p)] for p in files]
    digest = hashlib.sha256(json.dumps(contents).encode()).hexdigest()
    _remember(note, {"folder": str(folder), "sha256": digest})
    return digest


def _read(note: Path) -> Any:
    try:
        return json.loads(note.read_text("utf-8"))
    except (OSError, ValueError):
        return None


def _remember(note: Path, what: dict[str, str]) -> None:
    # only to save time: where the cache can't be written, the digest is worked out each time
    try:
        note.parent.mkdir(parents=True, exist_ok=True)
        beside = note.with_name(f"{note.name}.{os.getpid()}")
        beside.write_text(json.dumps(what), "utf-8")
        beside.replace(note)
    except OSError:
        pass

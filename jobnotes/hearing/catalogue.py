"""The recognisers that are known, from `jobnotes/data/recognisers.toml`."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

import cattrs

from jobnotes.errors import JobnotesError
from jobnotes.hearing.folders import Engine
from jobnotes.hearing.two_hearings import Curve

_FILE = "recognisers.toml"


@dataclass(frozen=True, slots=True)
class FilePiece:
    """A file of an installed package, by the path that the package's own list of files has for it."""

    package: str
    file: str


@dataclass(frozen=True, slots=True)
class WeightFile:
    """One file of a model: its pieces, joined in order and with the tuning added, have this SHA-256.

    `tuning` is the name of a file in `jobnotes/data` (see `tuning`), None for the weights as they come.
    """

    name: str
    sha256: str
    pieces: tuple[FilePiece, ...]
    tuning: str | None = None


@dataclass(frozen=True, slots=True)
class Packaged:
    """A recogniser whose weights installed packages carry.

    `prompted` is whether it is told the trade's words to expect; one that was tuned to them knows them. What
    it hears is weighed against what the decoder of `beside` hears, another one on the same encoder.
    """

    name: str
    engine: Engine
    about: str
    licence: str
    origin: str
    install: str
    files: tuple[WeightFile, ...]
    prompted: bool = True
    beside: str | None = None


@dataclass(frozen=True, slots=True)
class WordErrors:
    """A published word error rate, in percent, and the speech that it was measured on."""

    on: str
    percent: float


@dataclass(frozen=True, slots=True)
class Known:
    """A model that can be fetched from its publisher. `size_mb` is of the zip, in megabytes, about."""

    name: str
    engine: Engine
    about: str
    address: str
    size_mb: int
    licence: str
    word_errors: tuple[WordErrors, ...]
    sha256: str | None = None


@dataclass(frozen=True, slots=True)
class Measured:
    """What a level costs and how it errs, on the part of the bench kept aside.

    Percent in clean speech and at 10 dB: of what was said, what was found; of the facts called sure, what is
    wrong; of all facts, what is to check. Processor time beside the length of the sound; memory, in MiB.
    """

    recall: tuple[float, float]
    wrong_and_sure: tuple[float, float]
    to_check: tuple[float, float]
    time: float
    memory: int


@dataclass(frozen=True, slots=True)
class Level:
    """A name for what is worth choosing; `hears_with` is what `jobnotes.hearing.recogniser` takes."""

    name: str
    hears_with: str
    about: str
    measured: Measured | None = None


@dataclass(frozen=True, slots=True)
class Prompt:
    text: str


@dataclass(frozen=True, slots=True)
class Publisher:
    """Where the known models are published: for people, for programs, and how their data came here."""

    page: str
    list: str
    said: str


@dataclass(frozen=True, slots=True)
class Catalogue:
    format: str
    version: int
    default: str
    levels: tuple[Level, ...]
    curves: tuple[Curve, ...]
    prompt: Prompt
    packaged: tuple[Packaged, ...]
    vosk: Publisher
    known: tuple[Known, ...]

    def level_called(self, name: str) -> Level | None:
        return next((level for level in self.levels if level.name == name), None)

    def packaged_as(self, name: str) -> Packaged | None:
        return next((p for p in self.packaged if p.name == name), None)

    def known_as(self, name: str) -> Known | None:
        return next((k for k in self.known if k.name == name), None)


@lru_cache(maxsize=1)
def catalogue() -> Catalogue:
    """The catalogue that jobnotes carries; raises JobnotesError where the file was damaged."""
    return parse((resources.files("jobnotes") / "data" / _FILE).read_text("utf-8"))


def parse(text: str) -> Catalogue:
    """The catalogue in `text`; raises JobnotesError where it isn't one."""
    try:
        found = cattrs.Converter(forbid_extra_keys=True).structure(tomllib.loads(text), Catalogue)
    except (tomllib.TOMLDecodeError, cattrs.BaseValidationError) as error:
        said = (
            cattrs.transform_error(error) if isinstance(error, cattrs.BaseValidationError) else [str(error)]
        )
        raise JobnotesError(_FILE, f"can't be read ({'; '.join(said)})", "install jobnotes again") from None
    if (found.format, found.version) != ("jobnotes-recognisers", 1):
        raise JobnotesError(_FILE, "is of another kind or version", "install jobnotes again")
    return found

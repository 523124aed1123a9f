"""The scenario file as frozen data; what it says and when, nothing about how it is drawn."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Line:
    """One utterance: the words, the silence after it (seconds), and the facts that it states."""

    say: str
    pause_s: float
    facts: tuple[dict[str, Any], ...] = ()
    no_facts: tuple[dict[str, Any], ...] = ()
    private: tuple[str, ...] = ()
    id: str | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """One voice note. `date_in`: where its start is written ("container", "name" or "bext")."""

    file: str
    started_at: datetime
    date_in: str
    seed: int
    noise: str
    snr_db: float
    lines: tuple[Line, ...]


@dataclass(frozen=True, slots=True)
class Camera:
    """`clock_error_s`: seconds by which the camera's clock is ahead of the true time."""

    id: str
    make: str
    model: str
    clock_error_s: float
    subsec: bool
    offset_time: bool


@dataclass(frozen=True, slots=True)
class Shot:
    """One photo: taken `after_s` seconds after the end of the line whose id is `cue`."""

    file: str
    camera: str
    cue: str
    after_s: float
    draw: str
    orientation: int = 1


@dataclass(frozen=True, slots=True)
class Voice:
    package: str
    length_scale: float
    noise_scale: float
    noise_w_scale: float


@dataclass(frozen=True, slots=True)
class Scenario:
    id: str
    title: str
    repair: str
    vehicle: str
    timezone: str
    open_at_end: tuple[list[str], ...]
    voice: Voice
    cameras: dict[str, Camera]
    notes: tuple[Note, ...]
    photos: tuple[Shot, ...] = field(default=())


def _line(raw: dict[str, Any]) -> Line:
    lists = {key: tuple(raw.get(key, ())) for key in ("facts", "no_facts", "private")}
    return Line(**{**raw, **lists})


def load_scenario(path: Path) -> Scenario:
    """The scenario in `path`; KeyError or TypeError if a key is missing or unknown."""
    raw = tomllib.loads(path.read_text(encoding="utf-8"))
    return Scenario(
        **{key: raw[key] for key in ("id", "title", "repair", "vehicle", "timezone")},
        open_at_end=tuple(raw["open_at_end"]),
        voice=Voice(**raw["voice"]),
        cameras={c["id"]: Camera(**c) for c in raw["cameras"]},
        notes=tuple(Note(**{**n, "lines": tuple(_line(r) for r in n["lines"])}) for n in raw["notes"]),
        photos=tuple(Shot(**p) for p in raw["photos"]),
    )

"""How one workshop writes: its words, its knowledge of what undoes what, its paper."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from jobnotes.checking import pairs as pairing
from jobnotes.checking.pairs import Pairs
from jobnotes.documents import wording as words
from jobnotes.documents.wording import Wording

Paper = Literal["A4", "Letter"]


@dataclass(frozen=True, slots=True)
class House:
    """What the documents need beside a record."""

    wording: Wording
    pairs: Pairs
    paper: Paper = "A4"
    guarantee: str | None = None


def load(folder: Path | None = None, *, language: str = "en", paper: Paper = "A4") -> House:
    """What ships, with what a workshop's own `folder` adds to it (documents.toml, pairing.toml, …).

    Raises JobnotesError naming file, entry and remedy.
    """
    return House(words.load(language, folder), pairing.load(folder), paper)

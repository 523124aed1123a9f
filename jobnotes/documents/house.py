"""How one workshop writes: its words, its knowledge of what undoes what, its paper and letterhead."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from jobnotes.checking import pairs as pairing
from jobnotes.checking.pairs import Pairs
from jobnotes.documents import letterhead as letterheads
from jobnotes.documents import wording as words
from jobnotes.documents.letterhead import Letterhead
from jobnotes.documents.sheet import Paper
from jobnotes.documents.wording import Wording
from jobnotes.office import workshop as workshops
from jobnotes.office.workshop import Workshop


@dataclass(frozen=True, slots=True)
class House:
    """What the documents need beside a record. Without `paper` it is the letterhead's, else A4; `currency`
    is that of prices which the record has not added up. `desk` is the wording for the pages of the office,
    which are in English whatever the documents are in."""

    wording: Wording
    desk: Wording
    pairs: Pairs
    paper: Paper | None = None
    letterhead: Letterhead | None = None
    guarantee: str | None = None
    currency: str = ""

    @property
    def picture_budget(self) -> Mapping[str, int]:
        """In bytes, by document, beside what the letterhead weighs."""
        weight = len(self.letterhead.template) if self.letterhead else 0
        return {name: max(budget - weight, 0) for name, budget in self.wording.picture_budget.items()}


def load(
    folder: Path | None = None,
    *,
    workshop: Workshop | None = None,
    language: str | None = None,
    paper: Paper | None = None,
) -> House:
    """What ships, with what a workshop's own `folder` adds to it (documents.toml, pairing.toml, …).

    `workshop` is what its workshop.toml states, read from `folder` where it isn't given; `language` (BCP 47)
    and `paper` go before what it says. Everything is read here, before anything is drawn. Raises
    JobnotesError naming file, entry and remedy.
    """
    stated = workshop or workshops.load(folder)
    locale = language or (stated.locale if stated else None) or "en"
    wording = words.load(locale, folder)
    desk = wording if wording.speaks_as_heard else words.load("en", folder)
    pairs = pairing.load(folder)
    if stated is None:
        return House(wording, desk, pairs, paper)
    headed = letterheads.load(stated.letterhead, wording.tag) if stated.letterhead else None
    return House(wording, desk, pairs, paper or stated.paper, headed, stated.guarantee, stated.currency)

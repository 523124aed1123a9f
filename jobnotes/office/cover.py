"""Who bears what: the percent of a line that warranty and goodwill bear; the customer has the rest."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import Literal, get_args

from jobnotes.office.names import has_words, plain_number
from jobnotes.office.stated import Table

Covered = Literal["parts", "labour", "consumables", "sundry"]
COVERED: tuple[Covered, ...] = get_args(Covered)
_ALL = Decimal(100)


@dataclass(frozen=True, slots=True)
class Borne:
    """In percent; together at most 100."""

    warranty: Decimal = Decimal(0)
    goodwill: Decimal = Decimal(0)


@dataclass(frozen=True, slots=True)
class Exempt:
    """Lines whose description has one of `words`, or whose number is one of them, are borne otherwise."""

    words: tuple[str, ...]
    borne: Borne


@dataclass(frozen=True, slots=True)
class Cover:
    """What warranty and goodwill bear, by kind of line; nothing where a kind isn't named."""

    kinds: Mapping[Covered, Borne] = field(default_factory=dict)
    exceptions: tuple[Exempt, ...] = ()

    def of(self, kind: Covered, description: str, number: str | None = None) -> Borne:
        """What is borne of such a line: by the first exception that speaks of it, else by its kind."""
        for exempt in self.exceptions:
            if any(
                has_words(description, words)
                or (number is not None and plain_number(words) == plain_number(number))
                for words in exempt.words
            ):
                return exempt.borne
        return self.kinds.get(kind, Borne())


def cover_of(table: Table) -> Cover:
    """The cover that a [cover] table states. Raises JobnotesError with file, line and remedy."""
    table.known(*COVERED, "except")
    kinds = {kind: _borne(table.table(kind)) for kind in COVERED if kind in table.values}
    exceptions = []
    for row in table.tables("except"):
        row.known("words", "warranty", "goodwill")
        words = row.list("words")
        if not words:
            raise row.error("words", "is missing", 'write words = ["wiper"]: what such a line is called')
        exceptions.append(Exempt(words, _shares(row)))
    return Cover(kinds, tuple(exceptions))


def _borne(table: Table) -> Borne:
    table.known("warranty", "goodwill")
    return _shares(table)


def _shares(table: Table) -> Borne:
    warranty = table.amount("warranty", most=_ALL) or Decimal(0)
    goodwill = table.amount("goodwill", most=_ALL) or Decimal(0)
    if warranty + goodwill > _ALL:
        key = "goodwill" if "goodwill" in table.values else "warranty"
        raise table.error(key, f"brings the shares to {warranty + goodwill} %", "let them be 100 at most")
    return Borne(warranty, goodwill)

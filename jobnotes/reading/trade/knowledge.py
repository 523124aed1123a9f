"""What the reading stage knows about the trade, as plain data."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import pint

from jobnotes.reading.trade.phrases import Phrases

#: What a verb of the lexicon does with a part; "removed" parts are told by other words.
PartAction = Literal["fitted", "reused", "ordered", "consumed"]


@dataclass(frozen=True, slots=True)
class Unit:
    ucum: str
    pint: str
    quantity: str
    forms: frozenset[str]
    singular: frozenset[str]
    misheard: frozenset[str]
    assumed: frozenset[str]
    #: the first of its forms: how it is said back
    said: str = ""


@dataclass(frozen=True, slots=True)
class Action:
    """A verb of the trade: its canonical name, what it opens and which actions close it again."""

    name: str
    opens: str | None
    undone_by: frozenset[str]


@dataclass(frozen=True, slots=True)
class Split:
    """A verb that takes its object before its particle: "took the hose off"."""

    action: str
    particles: frozenset[tuple[str, ...]]
    tense: str


@dataclass(frozen=True, slots=True)
class Implied:
    """The unit of a number where only what is spoken of tells it: from `min` to `max`, to be checked."""

    unit: Unit
    near: Phrases[str]
    min: float
    max: float
    decimal: bool


@dataclass(frozen=True, slots=True)
class Range:
    """What is plausible for a quantity, to raise a doubt, never to judge. In `unit`, with its `source`."""

    quantity: str
    unit: str
    min: float
    max: float
    subject: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Alike:
    """The other unit, `ucum`, that a form means where a word of `near` is spoken.

    Where one of the phrases of `open` is, it stays open which of the two is meant.
    """

    ucum: str
    near: frozenset[str]
    open: Phrases[str]


@dataclass(frozen=True, slots=True)
class Mishearing:
    """What is heard, what it is read as, and the words of which one must stand near.

    `digits_near`: figures follow; `after_number`: a number, in words or figures, stands right
    before; `after_decimal`: one with a decimal point does. `before_part`: a component follows directly;
    `before_pieces`: a number of one, which ends the sentence; `before`: one of these words does.
    """

    heard: tuple[str, ...]
    read_as: tuple[str, ...]
    near: frozenset[str]
    digits_near: bool
    after_number: bool = False
    after_decimal: bool = False
    before_part: bool = False
    before_pieces: bool = False
    before: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Labels:
    """How labels, plates and displays say what the grammar knows.

    `read_as` is what is printed and the grammar's words for it, `dropped` what stands beside a display's
    number and says nothing, `other` and `signs` what makes a line no writing of ours. `alike` gives each
    character the one that stands for all that look like it, `barcode` what a data identifier at a barcode's
    head is.
    """

    read_as: tuple[tuple[str, str], ...]
    dropped: frozenset[str]
    other: frozenset[str]
    signs: frozenset[str]
    alike: Mapping[str, str]
    barcode: Mapping[str, str]


@dataclass(frozen=True)
class Trade:
    """Everything the reading stage knows about the trade, and the digest of the files it came from.

    `unit_forms` means (unit, form); `action_forms` (action, tense), `part_forms` (action, tense, form), where
    the tense is "past", "doing" or "base"; `components` (kind, name). `cue["limits"]` means the name of the
    list that a phrase is in, `cue["limits.max"]` the phrase itself. `kinds` gives the kinds that have a
    property, `words` the small words of the grammar.
    """

    units: Mapping[str, Unit]
    unit_forms: Phrases[tuple[Unit, str]]
    quantity_words: Mapping[str, str]
    alike: Mapping[str, Alike]
    unnamed: Phrases[Unit]
    implied: tuple[Implied, ...]
    fmi: Mapping[int, str]
    dtc_system: Mapping[str, str]
    letters: Phrases[str]
    letters_misheard: Phrases[str]
    digits: Mapping[str, str]
    homophones: Mapping[str, str]
    actions: Mapping[str, Action]
    action_forms: Phrases[tuple[str, str]]
    splits: Mapping[str, tuple[Split, ...]]
    part_forms: Phrases[tuple[PartAction, str, str]]
    part_splits: Mapping[str, tuple[Split, ...]]
    replaces: frozenset[str]
    components: Phrases[tuple[str, str]]
    kind_of: Mapping[str, str]
    kinds: Mapping[str, frozenset[str]]
    general: frozenset[str]
    failures: Phrases[str]
    sound: Phrases[str]
    cue: Mapping[str, Phrases[str]]
    words: Mapping[str, frozenset[str]]
    stop: frozenset[str]
    determiners: frozenset[str]
    pronouns: frozenset[str]
    conditions: Phrases[str]
    ranges: tuple[Range, ...]
    misheard: Phrases[Mishearing]
    opposite: Mapping[str, frozenset[str]]
    labels: Labels
    sha256: str
    ureg: pint.UnitRegistry = field(repr=False)
    _openers: dict[tuple[str, ...], frozenset[str]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )
    _tables: dict[tuple[str, ...], Mapping[str, Sequence[str]]] = field(
        default_factory=dict, init=False, repr=False, compare=False
    )

    @cached_property
    def verb_words(self) -> frozenset[str]:
        """The words that a verb of work, in any of its forms, can begin with."""
        forms = (self.action_forms.first_words, self.part_forms.first_words)
        return frozenset().union(*forms, self.splits, self.part_splits)

    @cached_property
    def name_leads(self) -> frozenset[str]:
        """The words of the lists that may stand before the name of a thing: "the", "a can of", "new"."""
        lists = (self.words[name] for name in ("containers", "dabs", "new", "old", "definite"))
        return self.determiners.union(self.homophones, *lists)

    def first_words(self, *cues: str) -> frozenset[str]:
        """The words that a phrase of one of those cue tables can begin with; put together once for each few
        tables that are asked for together."""
        if cues not in self._openers:
            self._openers[cues] = frozenset().union(*(self.cue[name].first_words for name in cues))
        return self._openers[cues]

    def cues_by_word(self, *cues: str) -> Mapping[str, Sequence[str]]:
        """By each word that a phrase of one of those cue tables can begin with, the tables that have one."""
        if cues not in self._tables:
            tables: dict[str, list[str]] = {}
            for name in cues:
                for word in self.cue[name].first_words:
                    tables.setdefault(word, []).append(name)
            self._tables[cues] = tables
        return self._tables[cues]


def breached(trade: Trade, value: float, unit: str, subject: str = "") -> Range | None:
    """The first range that `value`, in the UCUM unit, is outside of.

    Ranges for one subject only ("air", "brake") count where its name is part of `subject`.
    """
    quantity, said = trade.units[unit].quantity, subject.casefold()
    for one in trade.ranges:
        if one.quantity != quantity or (one.subject and not any(s in said for s in one.subject)):
            continue
        converted = convert(trade, value, unit, one.unit)
        if converted is not None and not one.min <= converted <= one.max:
            return one
    return None


def convert(trade: Trade, value: float, unit: str, to: str) -> float | None:
    """`value` from one UCUM unit of units.toml to another, by pint; None if they measure different things."""
    if unit == to:
        return value
    a, b = trade.units.get(unit), trade.units.get(to)
    if a is None or b is None:
        return None
    try:
        return float(trade.ureg.Quantity(value, a.pint).to(b.pint).magnitude)
    except pint.errors.PintError:
        return None

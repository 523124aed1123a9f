"""What the reading tests share: text in, facts out, and the ways in which numbers and letters are said."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable
from typing import Any

from num2words import num2words

from jobnotes.reading.read import read_text
from jobnotes.reading.tokens import Token, tokenise
from jobnotes.reading.trade.files import Trade, load
from jobnotes.record import (
    Clock,
    Fact,
    FaultCode,
    Identity,
    LabourSaid,
    Measurement,
    Part,
    PhotoCue,
    Statement,
    Step,
    Word,
)

TRADE: Trade = load()

# ICAO Annex 10 Volume II, chapter 5, figure 5-1 (spelling alphabet), from memory
ICAO = dict(
    zip(
        "ABCDEFGHIJKLMNOPQRSTUVWXYZ",
        "alfa bravo charlie delta echo foxtrot golf hotel india juliett kilo lima mike november oscar papa "
        "quebec romeo sierra tango uniform victor whiskey x-ray yankee zulu".split(),
        strict=True,
    )
)
# the same chapter, 5.2.1.4.3: numbers as they are pronounced on the radio, from memory
RADIO = dict(zip("0123456789", "zero one two tree fower fife six seven ait niner".split(), strict=True))
DIGIT = dict(zip("0123456789", "zero one two three four five six seven eight nine".split(), strict=True))


def said(text: str, trade: Trade | None = None) -> list[Fact]:
    """The facts of `text` that stand, in order."""
    return [f for f in read_text(text, trade or TRADE) if f.stands]


def taken_back(text: str) -> list[Fact]:
    return [f for f in read_text(text, TRADE) if not f.stands]


def kinds(text: str) -> list[str]:
    return [f.kind for f in said(text)]


def details(text: str, kind: type) -> list[Any]:
    """The details of that class among the facts that stand, in order."""
    return [f.detail for f in said(text) if isinstance(f.detail, kind)]


def one(text: str, kind: type) -> tuple[Fact, Any]:
    """The single standing fact with details of that class, and the details."""
    found = [f for f in said(text) if isinstance(f.detail, kind)]
    assert len(found) == 1, (text, [f.detail for f in said(text)])
    return found[0], found[0].detail


def sure(text: str, kind: type) -> Any:
    """The details of the single standing fact of that class, which must be sure."""
    fact, detail = one(text, kind)
    assert fact.status == "sure", (text, fact.why)
    return detail


def tokens(text: str) -> list[Token]:
    return tokenise([Word(w) for w in text.split()])


def in_words(number: object) -> str:
    """A number as num2words says it, without its commas: "two thousand and five"."""
    return str(num2words(number)).replace(",", "")


def core(fact: Fact) -> tuple[object, ...]:
    """What a fact says, without its free text: the keys that no change of case or punctuation may touch."""
    d = fact.detail
    head: tuple[object, ...] = (fact.kind, fact.status == "rejected")
    match d:
        case FaultCode():
            return (*head, d.code, d.state, d.count)
        case Measurement():
            bounds = (d.limit.min, d.limit.max, d.limit.nominal) if d.limit else None
            return (*head, str(d.value), d.unit, bounds, d.verdict)
        case Part():
            return (*head, d.action, d.quantity, d.unit, (d.number or "").upper(), (d.serial or "").upper())
        case Step():
            return (*head, d.action, d.quantity, d.unit)
        case LabourSaid():
            return (*head, d.hours)
        case Clock():
            return (*head, d.action)
        case Identity():
            return (*head, re.sub(r"[^A-Z0-9.]", "", d.value.upper()), d.unit)
        case Statement() | PhotoCue():
            return head


def cores(text: str) -> Counter[tuple[object, ...]]:
    return Counter(core(f) for f in read_text(text, TRADE))


def run_together(lines: Iterable[str]) -> str:
    return " ".join(lines)

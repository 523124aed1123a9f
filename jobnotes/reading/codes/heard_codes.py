"""A fault code as it is heard, before what is said about it."""

from __future__ import annotations

from dataclasses import dataclass

from jobnotes.reading.speech.text import Text
from jobnotes.record import FaultCode, Repair


@dataclass(frozen=True, slots=True)
class HeardCode:
    """A code as it stands in the text, before its state, count and unit are looked for."""

    start: int
    end: int
    code: FaultCode
    doubts: tuple[str, ...] = ()
    repairs: tuple[Repair, ...] = ()


def skip(text: Text, i: int, words: tuple[str, ...]) -> int:
    while text.norm(i) in words:
        i += 1
    return i

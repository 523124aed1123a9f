"""Particulars of a gap that change how it reads: what can't be judged, and what was said but is in doubt."""

from __future__ import annotations

from typing import Self


class Untold(str):
    """Particulars that say that a rule can't be judged, with what its gap says in place of the rule's own
    `missing` and `remedy`."""

    missing: str
    remedy: str

    def __new__(cls, particulars: str, missing: str, remedy: str) -> Self:
        told = super().__new__(cls, particulars)
        told.missing, told.remedy = missing, remedy
        return told


class OnlyHeard(str):
    """Particulars of what was said, or only read in a photo, but is in doubt: its gap says so, and not that
    it is missing.

    `besides` names what is missing indeed, where some of it is. `heard`: some of it was said; `read`: some of
    it nobody said, but a photo shows it.
    """

    besides: str
    heard: bool
    read: bool

    def __new__(cls, particulars: str, besides: str = "", *, heard: bool = True, read: bool = False) -> Self:
        told = super().__new__(cls, particulars)
        told.besides, told.heard, told.read = besides, heard, read
        return told

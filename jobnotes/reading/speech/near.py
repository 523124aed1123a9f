"""Things in the text, found by where they stand, without going through all of them."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Iterable
from typing import Generic, TypeVar

T = TypeVar("T")


class Near(Generic[T]):
    """`things` with the token at which each stands, as `position` gives it."""

    def __init__(self, things: Iterable[T], position: Callable[[T], int]) -> None:
        self._things = list(things)
        where = [position(thing) for thing in self._things]
        self._order = sorted(range(len(where)), key=where.__getitem__)
        self._where = [where[n] for n in self._order]

    def between(self, low: int, high: int) -> list[T]:
        """The things at tokens `low` … `high` (`high` excluded), in the order in which they were given."""
        found = self._order[bisect_left(self._where, low) : bisect_left(self._where, high)]
        return [self._things[n] for n in sorted(found)]

"""What was made before and may be asked for again: a bounded number of values, the least used go first."""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Callable
from typing import Generic, TypeVar

_K = TypeVar("_K")
_V = TypeVar("_V")


class Kept(Generic[_K, _V]):
    """Values by key, for any number of threads. The last one that was put stays, however large it is.

    `most` bounds the sum of what `size` gives for each value: by default their number.
    """

    def __init__(self, most: int, size: Callable[[_V], int] = lambda _: 1) -> None:
        self._most = most
        self._size = size
        self._lock = threading.Lock()
        self._values: OrderedDict[_K, _V] = OrderedDict()

    def get(self, key: _K) -> _V | None:
        with self._lock:
            if key not in self._values:
                return None
            self._values.move_to_end(key)
            return self._values[key]

    def put(self, key: _K, value: _V) -> None:
        with self._lock:
            self._values[key] = value
            self._values.move_to_end(key)
            while len(self._values) > 1 and sum(map(self._size, self._values.values())) > self._most:
                self._values.popitem(last=False)

    def once(self, key: _K, make: Callable[[], _V]) -> _V:
        """What was made for the key before, or else is made now, outside the lock."""
        kept = self.get(key)
        if kept is None:
            kept = make()
            self.put(key, kept)
        return kept

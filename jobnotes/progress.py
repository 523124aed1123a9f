"""How far a long job is: told by the stages, shown by whoever asked."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol


class Progress(Protocol):
    """`step` opens a part of the work of `total` units; the function it returns is told how many are done."""

    def step(self, label: str, total: float) -> Callable[[float], None]: ...

    def done(self) -> None: ...


class Silent:
    """Shows nothing."""

    def step(self, label: str, total: float) -> Callable[[float], None]:
        return lambda _: None

    def done(self) -> None:
        return None

"""Processes of their own, for what may take too much or die of it."""

from __future__ import annotations

import json
import os
import resource
from collections.abc import Callable
from pathlib import Path
from typing import Any, BinaryIO

Tell = Callable[[object], None]
"""Tells the process that started this one: one line of JSON."""


def started(act: Callable[[Tell], object]) -> tuple[int, BinaryIO]:
    """A process that does `act`, and what it tells, which ends when the process does.

    It ends with 0, or with 3 where `act` raised. What it says to a person goes nowhere.
    """
    ours, theirs = os.pipe()
    child = os.fork()
    if child == 0:
        os.close(ours)
        _do(act, theirs)
    os.close(theirs)
    return child, os.fdopen(ours, "rb", 0)


def told(line: bytes) -> Any:
    """What a line says that such a process told."""
    return json.loads(line)


def ended(child: int) -> int:
    """Its exit status when it has ended, or minus the signal that ended it."""
    _, how = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(how)


def _do(act: Callable[[Tell], object], to: int) -> None:
    status = 3
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 1)
        os.dup2(nowhere, 2)
        act(lambda said: os.write(to, json.dumps(said).encode() + b"\n"))
        status = 0
    finally:
        os._exit(status)


def limit_memory(more: int) -> None:
    """Let this process have so many bytes more than it has."""
    pages = int(Path("/proc/self/statm").read_text().split()[0])
    size = pages * resource.getpagesize() + more
    resource.setrlimit(resource.RLIMIT_AS, (size, size))

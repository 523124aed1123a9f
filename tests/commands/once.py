"""What is made once for all the processes that share the tests."""

from __future__ import annotations

import fcntl
import os
import pickle
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

import pytest

T = TypeVar("T")


def once(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], T]) -> T:
    """What `make` gives in a folder of that name: made by the process that is first, read by the others."""
    own = factory.getbasetemp()
    shared = own.parent if "PYTEST_XDIST_WORKER" in os.environ else own
    kept = shared / f"{name}.pickle"
    with (shared / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not kept.exists():
            kept.write_bytes(pickle.dumps(make(shared / name)))
    made: T = pickle.loads(kept.read_bytes())
    return made

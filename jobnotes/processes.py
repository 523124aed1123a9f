"""Helper processes: deaf to the terminal's Ctrl-C, and never longer alive than the one that started them."""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Iterator
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection


@contextlib.contextmanager
def deaf_to_ctrl_c() -> Iterator[None]:
    """What is started meanwhile doesn't get the Ctrl-C that a terminal sends to all: its starter ends it."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    # multiprocessing's own tracker would let the signal through again when it is first started
    resource_tracker.ensure_running()
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def live_as_long_as(lifeline: Connection) -> None:
    """To be called first in a helper process: it ends when the other end of `lifeline` is gone, however that
    came about. Nothing is ever sent through it."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where it wasn't blocked: who started it says when to stop
    threading.Thread(target=_end_with, args=(lifeline,), daemon=True).start()


def _end_with(lifeline: Connection) -> None:
    with contextlib.suppress(EOFError, OSError):
        lifeline.recv()
    os._exit(0)

"""Helper processes: deaf to the terminal's Ctrl-C, and never longer alive than the one that started them."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
import threading
from collections.abc import Callable, Iterator
from multiprocessing import resource_tracker
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess
from typing import Any

#: spawned, not forked: a fork of a process with threads may inherit a lock that nobody holds
CONTEXT = multiprocessing.get_context("spawn")


def started(target: Callable[..., object], *args: Any, name: str) -> tuple[BaseProcess, Connection]:
    """A helper process in which `target(*args)` runs, and its lifeline: it ends when that is closed, or with
    this process, however that came about. `target` and `args` are pickled."""
    ours, theirs = CONTEXT.Pipe()
    process = CONTEXT.Process(target=_help, args=(theirs, target, args), name=name, daemon=True)
    with _deaf_to_ctrl_c():
        process.start()
    theirs.close()
    return process, ours


@contextlib.contextmanager
def _deaf_to_ctrl_c() -> Iterator[None]:
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


def _help(lifeline: Connection, target: Callable[..., object], args: tuple[Any, ...]) -> None:
    """The helper process. Nothing is ever sent through its lifeline."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # where it wasn't blocked: who started it says when to stop
    threading.Thread(target=_end_with, args=(lifeline,), daemon=True).start()
    target(*args)


def _end_with(lifeline: Connection) -> None:
    with contextlib.suppress(EOFError, OSError):
        lifeline.recv()
    os._exit(0)

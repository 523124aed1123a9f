"""The worker processes: started with the server, started again when one dies, ended with it."""

from __future__ import annotations

import contextlib
import threading
from dataclasses import dataclass
from multiprocessing.connection import Connection
from multiprocessing.process import BaseProcess

from jobnotes.errors import JobnotesError
from jobnotes.processes import started
from jobnotes.serve import worker
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Store

_LOOK_S = 0.5
_STOP_S = 1.0  # one that is still starting has nothing to lose
DIED = "the process that hears it ended unexpectedly; listen to it, and add by hand what it says"


@dataclass(slots=True)
class _Worker:
    process: BaseProcess
    lifeline: Connection


class Workers:
    """`settings.workers` processes that hear what is queued in `store`."""

    def __init__(self, settings: Settings, store: Store) -> None:
        self._settings = settings
        self._store = store
        self._workers: list[_Worker] = []
        self._stopping = threading.Event()
        self._watcher: threading.Thread | None = None

    def start(self) -> None:
        if not self._settings.workers:
            return
        self._workers = [self._new() for _ in range(self._settings.workers)]
        self._watcher = threading.Thread(target=self._watch, name="workers", daemon=True)
        self._watcher.start()

    def pids(self) -> tuple[int, ...]:
        return tuple(w.process.pid for w in self._workers if w.process.pid is not None)

    def stop(self) -> None:
        """End them; what one is at will be heard after the next start."""
        self._stopping.set()
        if self._watcher is not None:
            self._watcher.join()
        for each in self._workers:
            each.lifeline.close()
        for each in self._workers:
            each.process.join(_STOP_S)
            if each.process.is_alive():
                each.process.kill()
                each.process.join()
        self._workers = []

    def _new(self) -> _Worker:
        return _Worker(*started(worker.main, self._settings, name="jobnotes-worker"))

    def _watch(self) -> None:
        while not self._stopping.wait(_LOOK_S):
            for at, each in enumerate(self._workers):
                if each.process.is_alive():
                    continue
                each.lifeline.close()
                with contextlib.suppress(JobnotesError):  # it stays taken until the next start, then
                    self._store.free(each.process.pid or 0, DIED)
                self._workers[at] = self._new()

"""What of the server's own is backed up with the library, and what of it goes when a job is deleted."""

from __future__ import annotations

import contextlib
import shutil
from pathlib import Path

from jobnotes.errors import JobnotesError
from jobnotes.library.backup import Beside
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Store

#: its certificates and what is half sent stay out
BESIDE = Beside("serve", databases=("serve.db",), folders=("jobs",))


def forget(library: Path, library_job: str) -> None:
    """Take away what phones sent for a job of the library, what was written of it, and that it was there."""
    settings = Settings(library)
    if not settings.database.exists():
        return
    store = Store(settings.database)
    try:
        while (served := store.job_in_library(library_job)) is not None:
            folder = settings.job_folder(served.id)
            try:
                with contextlib.suppress(FileNotFoundError):
                    shutil.rmtree(folder)
                for part in settings.parts.glob(f"*/{served.id}.*"):
                    part.unlink(missing_ok=True)
            except OSError as error:
                raise JobnotesError(
                    str(folder),
                    f"can't be removed ({error.strerror})",
                    "change its rights, then delete again",
                ) from error
            store.forget_job(served.id)
        store.empty_log()
    finally:
        store.close()

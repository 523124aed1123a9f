"""A process that hears: it takes jobs off the queue and concludes their records, one after the other."""

from __future__ import annotations

import contextlib
import os
import time

from jobnotes import record_json
from jobnotes.durable import make_folder
from jobnotes.errors import JobnotesError, NothingUsableError
from jobnotes.hearing.recogniser import Recogniser, load
from jobnotes.library.library import Library
from jobnotes.pipeline import RECORD, Derived, concluded, listen, listen_to_more
from jobnotes.seeing.reader import PhotoReader
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Store

POLL_S = 0.2


def conclude(
    settings: Settings, store: Store, job: str, recogniser: Recogniser, reader: PhotoReader | None = None
) -> Derived:
    """Derive the job's record from all that it was given, and save it. Raises JobnotesError.

    What was heard or seen before isn't heard or seen again. A decision that is made meanwhile is in
    what is saved.
    """
    workshop = settings.load_workshop()
    served = store.job(job)
    with Library.open(settings.library) as library:
        given, zone = settings.given(job), settings.tzinfo()
        known = served.library_job if served else None
        if served is not None and served.from_library and known is not None:
            who = ", ".join(dict.fromkeys(_sender(store, f.device) for f in store.files(job)))
            heard = listen_to_more(given, known, who or "desk", library, recogniser, zone, reader=reader)
        else:
            known = known or _claimed(store, library, job)
            heard = listen(given, library, recogniser, zone, reader=reader, workshop=workshop, job=known)
        with library.alone_with(heard.job):
            derived = concluded(heard, library, workshop)
            save(settings, store, library, job, derived)
            return derived


def _claimed(store: Store, library: Library, job: str) -> str | None:
    """The job's id in the library: that of its recordings, or the one under which something was stated."""
    sent = [file.sha256 for file in store.files(job) if file.kind == "recording"]
    owners = (library.job_of(sha256) for sha256 in sent)
    if not sent:
        return None
    known = next(filter(None, owners), None)
    return store.in_library(job, known or library.open_job(sent[0], store.jobs_in_library()))


def _sender(store: Store, device: str) -> str:
    known = store.device(device)
    return known.name if known else device


def save(settings: Settings, store: Store, library: Library, job: str, derived: Derived) -> str:
    """Save a record that was derived for the job; its digest. Who calls is alone with it in the library."""
    sha256 = library.save(derived.record, derived.job)
    out = settings.out(job)
    try:
        make_folder(out)
        record_json.write_text(out / RECORD, record_json.dumps(derived.record))
    except OSError as error:
        reason = error.strerror or "can't be written"
        raise JobnotesError(str(out), reason, "make room on the server's disk") from error
    store.concluded(job, library.job_in_short(derived.job), derived.record)
    return sha256


def hear_next(
    settings: Settings, store: Store, recogniser: Recogniser, reader: PhotoReader | None = None
) -> bool:
    """Take the next job off the queue and conclude it; False if none waits."""
    queued = store.take(os.getpid(), retry_s=settings.limits.retry_s)
    if queued is None:
        return False
    try:
        conclude(settings, store, queued.job, recogniser, reader)
    except NothingUsableError as error:
        said = "; ".join(f"{problem.file}: {problem.message}" for problem in error.problems)
        store.failed(queued, said or str(error), final=True)
    except JobnotesError as error:
        store.failed(queued, str(error))
    except Exception as error:  # one job that this program can't cope with must not stop the others
        store.failed(queued, f"something is wrong in this program ({type(error).__name__}); report it")
    else:
        store.done(queued)
    return True


def main(settings: Settings) -> None:
    """What a helper process of the server does: it hears until it is ended."""
    with contextlib.suppress(OSError, AttributeError):
        os.nice(5)  # pages come first
    store = Store(settings.database)
    recogniser, reader = settings.recogniser(), settings.reader()
    _warm(settings, recogniser)
    while True:
        try:
            if not hear_next(settings, store, recogniser, reader):
                time.sleep(POLL_S)
        except JobnotesError:  # the store can't be written just now: the disk is full, say
            time.sleep(5.0)
            give_back(store)


def give_back(store: Store) -> None:
    """Let go of what this process had taken and couldn't say how it ended, as soon as that can be written:
    else the job would be nobody's to hear until the next start.
    """
    with contextlib.suppress(JobnotesError):
        store.free(os.getpid(), "it could not be saved; make room on the server's disk, then try it again")


def _warm(settings: Settings, recogniser: Recogniser) -> None:
    """Load now what the first note would wait for; what is wrong with it is said when a job needs it."""
    with contextlib.suppress(JobnotesError):
        settings.load_workshop()
        load(recogniser)

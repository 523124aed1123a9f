"""The clerk's pages, the search over all jobs, and documents made on demand."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, tzinfo
from pathlib import Path
from typing import Any
from weakref import WeakKeyDictionary

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes import record_json
from jobnotes.documents import values
from jobnotes.documents import wording as words
from jobnotes.documents.files import file_digest
from jobnotes.documents.plaintext import sentence_case
from jobnotes.documents.wording import Wording
from jobnotes.documents.writing import write_claim, write_customer, write_workshop
from jobnotes.library.journal import Head
from jobnotes.library.library import Hit, Library
from jobnotes.pipeline import Derived, is_draft, picture_of
from jobnotes.record import Fact
from jobnotes.serve import access, state
from jobnotes.serve.pages import page
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import ServeJob, Store
from jobnotes.serve.worker import save

DOCX = "application/vnd.openxmlformats-officedocument.wordprocessingml.document"
_WRITE: dict[str, Callable[..., None]] = {
    "claim": write_claim,
    "customer": write_customer,
    "workshop": write_workshop,
}
_MOST_QUERY = 200
_MOST_HITS = 100


# --- pages ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job in the list, with times as this machine's zone of the server writes them."""

    job: ServeJob
    opened: str
    notes: int
    waiting: int
    problem: str | None


def desk(request: Request) -> Response:
    """Jobs, the latest first, so many on a page; `from` is how many come before them."""
    store = access.store_of(request)
    look_in_library(access.settings_of(request), store)
    said = request.query_params.get("from", "")
    start = int(said) if said.isdecimal() and len(said) < _MOST_DIGITS else 0
    rows, of = _rows(request, start), store.how_many_jobs()
    newer = max(0, start - _ON_A_PAGE) if start else None
    older = start + _ON_A_PAGE if start + _ON_A_PAGE < of else None
    device = access.device_of(request)
    return page(
        "desk.html", here="jobs", device=device, jobs=rows, start=start, of=of, newer=newer, older=older
    )


#: So many jobs stand in the list at a time.
_ON_A_PAGE = 100
_MOST_DIGITS = 8


def _rows(request: Request, start: int) -> list[JobRow]:
    store, zone = access.store_of(request), access.settings_of(request).tzinfo()
    counts = store.counts()
    problems = {queued.job: queued.problem for queued in store.queue()}
    rows = []
    for job in store.jobs(start=start, most=_ON_A_PAGE):
        sent, waiting = counts.get(job.id, (0, 0))
        notes = notes_of(job, sent, waiting)
        rows.append(JobRow(job, _told(job.opened_at, zone), notes, waiting, problems.get(job.id)))
    return rows


def notes_of(job: ServeJob, sent: int, waiting: int) -> int:
    """How many notes the job has: those sent for it, or those in its record and those that wait for that."""
    return max(sent, job.notes + waiting)


def look_in_library(settings: Settings, store: Store) -> None:
    """Let the list have each job of the library by its latest record: `jobnotes run` makes some too."""
    with Library.open(settings.library) as library:
        entry = library.journal_head()  # each record that is saved has one
        if _looked.get(store) == entry:
            return
        new = library.in_short(store.told_in_library())
    if new:
        # from the id, so that an address that somebody kept leads to the same job
        store.tell_in_library((access.id_from("library", job.job), job) for job in new)
    _looked[store] = entry


#: The journal's last entry when the list of a server was last brought up to it.
_looked: WeakKeyDictionary[Store, Head] = WeakKeyDictionary()


def review(request: Request) -> Response:
    """One job: its statements in order of doubt, and what can be done with them."""
    return page("review.html", here="jobs", device=access.device_of(request), job=access.job_of(request))


def devices(request: Request) -> Response:
    """What is paired, and how another device is."""
    zone = access.settings_of(request).tzinfo()
    rows = [(d, _told(d.paired_at, zone), _told(d.seen_at, zone)) for d in access.store_of(request).devices()]
    paired = [row for row in rows if row[0].revoked_at is None]
    ended = [row for row in rows if row[0].revoked_at is not None]
    own = access.device_of(request)
    return page("devices.html", here="devices", device=own, paired=paired, ended=ended)


def _told(at: float, zone: tzinfo) -> str:
    return datetime.fromtimestamp(at, zone).strftime("%Y-%m-%d %H:%M")


# --- search --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class FoundFact:
    """A statement that was found, in words."""

    hit: Hit
    text: str
    kind_name: str


@dataclass(frozen=True, slots=True)
class FoundJob:
    """A job in which something was found. `id` is the server's."""

    id: str
    name: str
    facts: tuple[FoundFact, ...]


def found(query: str, library: Library, store: Store, wording: Wording) -> list[FoundJob]:
    """What was found, by job; the job with the best hit comes first."""
    by_job: dict[str, list[Hit]] = {}
    for hit in library.search(query, limit=_MOST_HITS):
        by_job.setdefault(hit.job, []).append(hit)
    jobs = (_found_job(job, hits, library, store, wording) for job, hits in by_job.items())
    return [job for job in jobs if job is not None]


def _found_job(
    job: str, hits: list[Hit], library: Library, store: Store, wording: Wording
) -> FoundJob | None:
    stored = library.record(job)
    raw = json.loads(stored.text) if stored else {}
    wanted = {hit.fact_id for hit in hits}
    # of a long record only what was found is made into facts
    some = [fact for fact in raw.get("facts", ()) if fact.get("id") in wanted]
    facts = {fact.id: fact for fact in record_json.facts_from_json(some)}
    served = store.job_in_library(job)
    if served is None:
        return None
    return FoundJob(
        served.id,
        ", ".join(part for part in (served.number, served.registration) if part) or "without a number",
        tuple(_found_fact(hit, facts.get(hit.fact_id), wording) for hit in hits),
    )


def _found_fact(hit: Hit, fact: Fact | None, wording: Wording) -> FoundFact:
    text = sentence_case(values.statement(fact, wording)) if fact else hit.text
    return FoundFact(hit, text, wording.name("kind", hit.kind))


def _wording(request: Request) -> Wording:
    return words.load("en", access.settings_of(request).workshop)


def _query(request: Request) -> str:
    return request.query_params.get("q", "")[:_MOST_QUERY].strip()


def search_page(request: Request) -> Response:
    query = _query(request)
    look_in_library(access.settings_of(request), access.store_of(request))
    with Library.open(access.settings_of(request).library) as library:
        results = found(query, library, access.store_of(request), _wording(request)) if query else []
    count = sum(len(job.facts) for job in results)
    device = access.device_of(request)
    return page("search.html", here="search", device=device, query=query, found=results, count=count)


def search(request: Request) -> Response:
    """Statements of all jobs that hold every word of `q`, the best first, by job."""
    look_in_library(access.settings_of(request), access.store_of(request))
    with Library.open(access.settings_of(request).library) as library:
        results = found(_query(request), library, access.store_of(request), _wording(request))
    return JSONResponse(
        [{"id": job.id, "name": job.name, "facts": [_found(fact) for fact in job.facts]} for job in results]
    )


def _found(fact: FoundFact) -> dict[str, Any]:
    hit = fact.hit
    return {
        "fact": hit.fact_id,
        "kind": hit.kind,
        "status": hit.status,
        "quote": hit.quote,
        "text": fact.text,
    } | state.some(note=hit.note, start_s=hit.start_s)


# --- documents -----------------------------------------------------------------------------------


def document(request: Request) -> Response:
    """One document, drawn from the job as it stands; its name says "draft" while anything is unchecked."""
    name = request.path_params["document"]
    write = _WRITE.get(name)
    if write is None:
        raise HTTPException(404, f"there is no such document; there are {', '.join(_WRITE)}")
    settings, store, job = access.settings_of(request), access.store_of(request), access.job_of(request)
    if job.library_job is None:
        raise HTTPException(409, "nothing of this job was heard yet")
    with Library.open(settings.library) as library:
        with library.alone_with(job.library_job):
            now = state.current(settings, library, job)
            if now is None:
                raise HTTPException(409, "nothing of this job was heard yet")
            # the document names the digest of the record that it was drawn from, so that one is kept
            sha256 = save(settings, store, library, job.id, Derived(now.record, now.library_job, 0))
        with tempfile.TemporaryDirectory(prefix="jobnotes-document.") as folder:
            path = Path(folder) / f"{name}.docx"
            write(now.record, picture_of(library), path, record_sha256=sha256, house=now.workshop.house)
            body = path.read_bytes()
            library.documents_drawn(now.library_job, sha256, {path.name: file_digest(path)})
    file = file_name(name, now.record.job.number or job.number, draft=is_draft(now.record))
    return Response(body, media_type=DOCX, headers={"Content-Disposition": f'attachment; filename="{file}"'})


def file_name(document: str, number: str | None, *, draft: bool) -> str:
    """Such as "claim-4417-draft.docx"; of the job's number, what any file system takes."""
    plain = re.sub(r"[^A-Za-z0-9]+", "-", number or "").strip("-")[:40]
    return "-".join(part for part in (document, plain, "draft" if draft else "") if part) + ".docx"


routes: list[BaseRoute] = [
    Route("/desk", desk),
    Route("/desk/search", search_page),
    Route("/desk/devices", devices),
    Route("/desk/{job}", review),
    Route("/api/search", search),
    Route("/api/jobs/{job}/documents/{document}.docx", document),
]

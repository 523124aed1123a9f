"""What the office states of a job at the desk: each entry with who, when, before and after, none overwritten.

It counts before the office's own file (`job.toml`), and the form shows both where they differ. What is stated
is checked as that file is, and goes the same way into what the job lacks, its totals and its documents.
"""

from __future__ import annotations

import contextlib
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import groupby
from typing import Any

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes.errors import JobnotesError
from jobnotes.library.library import Library
from jobnotes.library.stated import Entry, StatedEntry, in_force, laid_over, said_otherwise, taken_back
from jobnotes.office import job as job_details
from jobnotes.office.stated import EntryError, Table
from jobnotes.serve import access, decisions_api, state, uploads
from jobnotes.serve.decisions_api import RefusedError
from jobnotes.serve.office_forms import Group, OfficeField, entry_of, field_of, groups
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Device, ServeJob, Store
from jobnotes.stating import entry_said, together
from jobnotes.workshop import Workshop, policies_in

#: entries by which the list calls a job
_CALLED = ("number", "registration")


@dataclass(frozen=True, slots=True)
class Office:
    """What the office has stated of a job: in its file, and since then by hand."""

    file: Table | None
    entries: Mapping[str, Entry]
    stated: tuple[StatedEntry, ...]
    workshop: Workshop

    @property
    def now(self) -> dict[str, Entry]:
        return laid_over(self.entries, self.stated)

    @property
    def form(self) -> tuple[Group, ...]:
        return groups(self.workshop.own, policies_in(self.workshop.folder))


def office_of(settings: Settings, library: Library, job: ServeJob) -> Office:
    """Raises JobnotesError where the office's file can't be read.

    It needs no record that can be concluded: what is stated may be what stands in the way of that.
    """
    stated = library.stated(job.library_job) if job.library_job else ()
    file = _file(settings, library, job)
    entries = job_details.entries_of(file) if file else {}
    return Office(file, entries, stated, state.workshop_of(settings))


def _file(settings: Settings, library: Library, job: ServeJob) -> Table | None:
    stored = library.record(job.library_job) if job.library_job else None
    if stored is not None:
        kept = state.base_of(stored.sha256, stored.text).details
        return job_details.read(library.path_of(kept.sha256), kept.file) if kept else None
    own = settings.given(job.id) / job_details.NAME
    return job_details.read(own, job_details.NAME) if own.is_file() else None


# --- shown ---------------------------------------------------------------------------------------


def form(request: Request) -> Response:
    """The form with what is stated: of each field its `value`, and who stated it by hand, when, and what the
    office's file says (`file`) if that is something else."""
    settings, job = access.settings_of(request), access.job_of(request)
    with Library.open(settings.library) as library:
        office = office_of(settings, library, job)
    return JSONResponse(shown(office))


def shown(office: Office) -> dict[str, Any]:
    now, by_hand = office.now, in_force(office.stated)
    return {
        "file": office.file.label if office.file else "",
        "groups": [
            {
                "title": group.title,
                "hint": group.hint,
                "fields": [
                    _field(field) | _standing(field.key, now, by_hand, office.entries)
                    for field in group.fields
                ],
            }
            for group in office.form
        ],
    }


def _field(field: OfficeField) -> dict[str, Any]:
    named = {name: getattr(field, name) for name in ("key", "label", "shape", "needed", "hint", "choices")}
    return named | {"columns": [_field(column) for column in field.columns]}


def _standing(
    key: str,
    now: Mapping[str, Entry],
    by_hand: Mapping[str, StatedEntry],
    file: Mapping[str, Entry],
) -> dict[str, Any]:
    entry, told = by_hand.get(key), state.some(value=now.get(key))
    if entry is not None:
        told |= {"by": entry.who, "at": entry.at.isoformat()}
        other = said_otherwise(entry, file)
        if other is not None:
            told |= {"file": entry_said(other), "since": other != entry.file}
    return told


# --- stated --------------------------------------------------------------------------------------


async def state_it(request: Request) -> Response:
    """State some entries, or take back what was stated; the job as it stands with it."""
    asked = await uploads.json_of(request)
    return await run_in_threadpool(
        _state_it,
        access.settings_of(request),
        access.store_of(request),
        access.job_of(request),
        access.device_of(request),
        asked,
    )


def _state_it(
    settings: Settings, store: Store, job: ServeJob, device: Device, asked: dict[str, Any]
) -> Response:
    with _alone(settings, store, job) as (library, job):
        assert job.library_job is not None
        office = office_of(settings, library, job)
        try:
            wanted = entries_for(asked, office, device.name, datetime.now(UTC))
        except RefusedError as refusal:
            answer: dict[str, Any] = {"error": refusal.why, "office": shown(office)}
            return JSONResponse(
                answer | ({"fields": refusal.fields} if refusal.fields else {}), refusal.status
            )
        made = library.state(job.library_job, wanted)
        office = replace(office, stated=(*office.stated, *made))
        if any(entry.key in _CALLED for entry in made):
            number, registration = (entry_said(office.now.get(key)) for key in _CALLED)
            store.call(job.id, number, registration)
        store.touch(job.id)
        job = store.job(job.id) or job
        then = state.current(settings, library, job)
        answer = {
            "state": state.shown(then, job, store, settings),
            "office": shown(office),
            "stated": [entry.key for entry in made],
        }
    return JSONResponse(answer, background=BackgroundTask(decisions_api.file, settings, store, job.id))


@contextmanager
def _alone(settings: Settings, store: Store, job: ServeJob) -> Iterator[tuple[Library, ServeJob]]:
    """The job with an id in the library, and nobody else changes it meanwhile."""
    with Library.open(settings.library) as library:
        # what is stated before anything was heard needs a place too; the recordings find it there
        there = job.library_job or store.in_library(job.id, library.open_job())
        with library.alone_with(there):
            yield library, replace(job, library_job=there)


def entries_for(asked: dict[str, Any], office: Office, who: str, at: datetime) -> list[StatedEntry]:
    """What is to be kept of what was asked for. Raises RefusedError."""
    if "take_back" in asked:
        wanted = _taken_back(asked["take_back"], office, who, at)
    elif "withdraw" in asked:
        wanted = _withdrawn(asked["withdraw"], office, who, at)
    else:
        wanted = _typed(asked, office, who, at)
    _check(office, wanted)
    return wanted


def _typed(asked: dict[str, Any], office: Office, who: str, at: datetime) -> list[StatedEntry]:
    values, seen = asked.get("values"), asked.get("seen")
    if not isinstance(values, dict) or not isinstance(seen, dict):
        raise RefusedError(400, "values and seen must be given for the entries")
    now, form_ = office.now, office.form
    wanted: list[StatedEntry] = []
    wrong: dict[str, str] = {}
    changed: dict[str, str] = {}
    for key, typed in values.items():
        field = field_of(key, form_)
        if field is None:
            raise RefusedError(400, "values names an entry that there isn't")
        after = entry_of(field, typed, wrong)
        if (seen.get(key) or None) != now.get(key):
            changed[key] = f"has changed since it was shown: {entry_said(now.get(key)) or 'there is none'}"
        elif after != now.get(key):
            wanted.append(StatedEntry(key, who, at, now.get(key), after, office.entries.get(key)))
    if changed:
        raise RefusedError(409, "not stored: something has changed since it was shown", changed)
    if wrong:
        raise RefusedError(400, "not stored: see what stands at the fields", wrong)
    if not wanted:
        raise RefusedError(400, "nothing was changed")
    return wanted


def _withdrawn(key: Any, office: Office, who: str, at: datetime) -> list[StatedEntry]:
    if not isinstance(key, str) or key not in in_force(office.stated):
        raise RefusedError(409, "that isn't stated by hand any more; look again")
    file = office.entries.get(key)
    return [StatedEntry(key, who, at, office.now.get(key), None, file, "withdrawn")]


def _taken_back(number: Any, office: Office, who: str, at: datetime) -> list[StatedEntry]:
    about = next((e for e in office.stated if e.id == number), None)
    if about is None or isinstance(number, bool):
        raise RefusedError(400, "take_back must be the number of what was stated")
    try:
        return taken_back(office.stated, about, office.entries, who, at)
    except ValueError as error:
        raise RefusedError(409, str(error)) from error


def _check(office: Office, wanted: Sequence[StatedEntry]) -> None:
    """Refuse what makes no sense together with the rest, as it would be refused in the office's file."""
    stated = (*office.stated, *wanted)
    now = laid_over(office.entries, stated)
    if any(key.startswith("customer.") for key in now) and "customer.name" not in now:
        raise RefusedError(400, "not stored: see what stands at the fields", {"customer.name": "is missing"})
    try:
        office.workshop.under(together(office.file, stated, office.workshop))
    except EntryError as error:
        key = error.key
        last, _, column = key.rpartition(".")
        if field_of(key, office.form) is None and field_of(last, office.form) is not None:
            key = f"{last}.{error.nth}.{column}"
        why = f"{error.reason.removeprefix(error.key).strip()}; {error.remedy}"
        raise RefusedError(400, "not stored: see what stands at the fields", {key: why}) from error
    except JobnotesError as error:
        raise RefusedError(400, f"not stored: {error}") from error


# --- the history ---------------------------------------------------------------------------------


def deeds(stated: Sequence[StatedEntry], form_: tuple[Group, ...]) -> list[dict[str, Any]]:
    """What was stated in one go, in the order in which it was, as the history shows it."""
    last = {entry.key: entry.id for entry in stated}
    made = []
    for _, group in groupby(stated, key=lambda e: (e.who, e.at)):
        entries = list(group)
        made.append(
            {
                "stated": entries[0].id,
                "who": entries[0].who,
                "at": entries[0].at.isoformat(),
                "action": "state" if any(e.action == "stated" for e in entries) else "withdraw",
                "counts": all(last[e.key] == e.id for e in entries),
                "changes": [
                    {"label": _label(e.key, form_), "entry": e.key}
                    | state.some(was=entry_said(e.before), now=entry_said(_meant(e)))
                    for e in entries
                ],
            }
        )
    return made


def _meant(entry: StatedEntry) -> Entry | None:
    """What counted from then on."""
    return entry.file if entry.action == "withdrawn" else entry.after


def _label(key: str, form_: tuple[Group, ...]) -> str:
    field = field_of(key, form_)
    group = next((g.title for g in form_ if field in g.fields), "")
    return f"{group}: {field.label}" if field else key


def history(request: Request) -> Response:
    """All that was decided about the job and stated of it, the latest first: who, when, before and after."""
    settings, job = access.settings_of(request), access.job_of(request)
    with Library.open(settings.library) as library:
        office = office_of(settings, library, job)
        now = None
        with contextlib.suppress(JobnotesError):  # what was stated is shown all the same
            now = state.current(settings, library, job)
    done = decisions_api.deeds_shown(now) if now else []
    told = [*done, *deeds(office.stated, office.form)]
    return JSONResponse(sorted(told, key=lambda deed: datetime.fromisoformat(deed["at"]), reverse=True))


routes: list[BaseRoute] = [
    Route("/api/jobs/{job}/stated", form),
    Route("/api/jobs/{job}/stated", state_it, methods=["POST"]),
    Route("/api/jobs/{job}/decisions", history),
]

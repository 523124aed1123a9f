"""What a page shows of a job: its record with every decision made so far, as JSON.

A decision hears nothing and takes nothing in anew: `concluded` lays the decisions over what was read, links
and checks it again, and comes to the very record that `pipeline.concluded` would, in a fraction of the time.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes import record_json
from jobnotes.checking.loose_ends import certain_first, in_full
from jobnotes.checking.sights import to_take_again
from jobnotes.documents import values
from jobnotes.documents.plaintext import sentence_case
from jobnotes.documents.view import in_print, numbers_in_print
from jobnotes.documents.wording import Wording
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.library.stated import StatedEntry
from jobnotes.pipeline import as_taken, conclude, is_draft, lasting
from jobnotes.reading.photos.text import WrittenIn, plain, read_photos
from jobnotes.reading.read import read_notes
from jobnotes.record import Account, Fact, Note, Photo, PhotoTimeDoubt, Record, Shown, Totals
from jobnotes.serve import access, photo_flaws
from jobnotes.serve.fact_forms import values_of
from jobnotes.serve.kept import Kept
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import ServeJob, Store
from jobnotes.workshop import Workshop

_MOST_KEPT = 32

#: in the order in which a clerk looks at them
GROUPS = ("check", "sure", "decided", "taken_back")
_SEVERITIES = ("refused", "queried", "nice")


@dataclass(frozen=True, slots=True)
class Current:
    """A job as it stands: its record, in which all `decisions` and all that was `stated` count, and its id
    in the library."""

    record: Record
    library_job: str
    decisions: tuple[Decision, ...]
    stated: tuple[StatedEntry, ...]
    workshop: Workshop


# --- the record as it stands ---------------------------------------------------------------------


def current(settings: Settings, library: Library, job: ServeJob) -> Current | None:
    """The job as it stands; None while nothing of it was heard. Raises JobnotesError."""
    if job.library_job is None:
        return None
    workshop = workshop_of(settings)
    key = (str(settings.library), job.library_job)
    made_of = (library.as_it_stands(job.library_job), id(workshop))
    kept = _current.get(key)
    if kept is not None and kept[0] == made_of:
        return kept[1]
    stored = library.record(job.library_job)
    if stored is None:
        return None
    decisions, stated = library.decisions(job.library_job), library.stated(job.library_job)
    base = base_of(stored.sha256, stored.text)
    record = concluded(base, decisions, stated, library, job.library_job, workshop)
    now = Current(record, job.library_job, decisions, stated, workshop)
    _current.put(key, (made_of, now))
    return now


def concluded(
    record: Record,
    decisions: Sequence[Decision],
    stated: Sequence[StatedEntry],
    library: Library,
    job: str,
    workshop: Workshop,
) -> Record:
    """`record` as `pipeline.concluded` would give it with these decisions and statements: from the same words
    and photos."""
    photos = tuple(map(as_taken, record.photos))
    return conclude(
        replace(record, photos=photos, problems=lasting(record.problems)),
        _read(record.notes, workshop),
        _written(record.photos, workshop),
        decisions,
        stated,
        library,
        job,
        workshop,
    )


#: by job; what it was made of stands beside it
_current: Kept[tuple[str, str], tuple[object, Current]] = Kept(_MOST_KEPT)
_bases: Kept[str, Record] = Kept(_MOST_KEPT)
_readings: Kept[object, tuple[Fact, ...]] = Kept(_MOST_KEPT)
_writings: Kept[object, WrittenIn] = Kept(_MOST_KEPT)
_workshops: Kept[object, Workshop] = Kept(_MOST_KEPT)


def base_of(sha256: str, text: str) -> Record:
    """A stored record; of one job there are many in a row, with the same words."""
    return _bases.once(sha256, lambda: record_json.from_json(json.loads(text)))


def _read(notes: tuple[Note, ...], workshop: Workshop) -> tuple[Fact, ...]:
    trade = workshop.trade.sha256 if workshop.trade else ""
    words = hashlib.sha256(repr([(n.id, n.sha256, n.started_at, n.recogniser) for n in notes]).encode())
    # the words themselves follow from the original and the recogniser
    key = (trade, words.hexdigest(), tuple(len(n.words) for n in notes))
    return _readings.once(key, lambda: read_notes(notes, workshop.trade))


def _written(photos: tuple[Photo, ...], workshop: Workshop) -> WrittenIn:
    seen = tuple((p.sha256, p.width, p.height, p.sight.texts) for p in photos if p.sight)
    key = (workshop.trade.sha256 if workshop.trade else "", seen)
    return _writings.once(key, lambda: read_photos(photos, workshop.trade))


def workshop_of(settings: Settings) -> Workshop:
    """What the workshop's folder holds, read again only after one of its files has changed."""
    files = sorted(settings.workshop.iterdir()) if settings.workshop else []
    key = (str(settings.workshop), tuple(map(_stamp, files)))
    return _workshops.once(key, settings.load_workshop)


def _stamp(path: Path) -> tuple[str, int, int]:
    state = path.stat()
    return path.name, state.st_mtime_ns, state.st_size


# --- as it is shown ------------------------------------------------------------------------------


def seen(fact: Fact, photos: Sequence[Photo]) -> str:
    """The digest of a fact as a page shows it: a decision on it says by this what its maker saw.

    Numbers of notes and photos don't count, for they change when an earlier one is added.
    """
    shown: tuple[object, ...] = (
        fact.id,
        repr(fact.detail),
        fact.quote,
        fact.status,
        fact.why,
        fact.audience,
        fact.superseded_by,
        sorted(photo_digests(fact, photos)),
    )
    if fact.shown:
        of = {photo.id: photo.sha256 for photo in photos}
        shown = (*shown, sorted((of.get(s.photo, ""), s.field, s.value, s.agrees) for s in fact.shown))
    return hashlib.sha256(repr(shown).encode("utf-8", "surrogatepass")).hexdigest()[:20]


def photo_digests(fact: Fact, photos: Sequence[Photo]) -> tuple[str, ...]:
    """The photos of a fact by the digests of their originals, as decisions name them."""
    return tuple(photo.sha256 for photo in photos if photo.id in fact.photos or fact.id in photo.fact_ids)


def group_of(fact: Fact) -> str:
    if fact.decided_by is not None:
        return "decided"
    return "taken_back" if not fact.stands else "check" if fact.status == "check" else "sure"


def by_doubt(facts: Iterable[Fact]) -> list[Fact]:
    """What a person has to look at comes first; within a group, the least certain before the others."""
    return sorted(
        facts,
        key=lambda f: (
            GROUPS.index(group_of(f)),
            f.confidence,
            f.at or datetime.max.replace(tzinfo=UTC),
            f.id,
        ),
    )


def shown(now: Current | None, job: ServeJob, store: Store, settings: Settings) -> dict[str, Any]:
    """The state of a job for a page, as JSON. As in record.json, a key that doesn't apply is left out.

    `version` changes with whatever would be shown; a fact's `seen` goes back with a decision on it; `group`
    is where it stands in the clerk's order; a note or photo without an `id` isn't in the record (yet). A
    photo that is to be taken again says its `flaws`, and what to do in a `remark`.
    """
    record = now.record if now else None
    heard = {note.sha256 for note in record.notes} if record else set()
    taken = {photo.sha256 for photo in record.photos} if record else set()
    queued = store.waiting(job.id)
    problems = [{"file": p.file, "message": p.message} for p in record.problems] if record else []
    problems += (
        [{"file": job.number or job.id, "message": queued.problem}] if queued and queued.problem else []
    )
    state: dict[str, Any] = {
        "version": f"{job.version}.{len(now.decisions) + len(now.stated) if now else 0}",
        "id": job.id,
        "notes": [],
        "photos": [],
        "facts": [],
        "counts": dict.fromkeys(GROUPS, 0),
        "loose_ends": [],
        "claim_gaps": [],
        "labour_remarks": [],
        "charge_remarks": [],
        "stated": [],
        "problems": problems,
        "draft": is_draft(record) if record else True,
        "job": some(number=job.number, registration=job.registration, technician=job.technician),
    }
    if now is not None:
        _add(state, now)
    waiting = [f for f in store.files(job.id) if f.sha256 not in heard | taken]
    state["notes"] += [
        {
            "file": file.file,
            "sha256": file.sha256,
            "started_at": datetime.fromtimestamp(file.at, UTC).isoformat(),
            # a file that can't be heard waits no longer: it is among the problems
            "status": "problem" if file.heard else "waiting",
            "text": "",
        }
        for file in waiting
        if file.kind == "recording"
    ]
    state["photos"] += [
        {"file": file.file, "sha256": file.sha256, "status": "problem" if file.heard else "waiting"}
        | photo_flaws.told(photo_flaws.measured(settings.given(job.id) / file.file, file.sha256))
        for file in waiting
        if file.kind == "photo"
    ]
    return state


def _add(state: dict[str, Any], now: Current) -> None:
    record = now.record
    assert now.workshop.house is not None
    wording = now.workshop.house.desk
    zone = record.notes[0].started_at.tzinfo if record.notes else None
    facts = by_doubt(record.facts)
    for fact in facts:
        state["counts"][group_of(fact)] += 1
    job = record_json.to_json(record.job)
    state["job"] = state["job"] | {k: v for k, v in job.items() if not isinstance(v, dict)}
    if record.job.odometer:
        meter = record.job.odometer
        state["job"]["odometer"] = values.quantity(meter.value, meter.unit, wording)
    state["notes"] = [
        {
            "id": note.id,
            "file": note.file,
            "sha256": note.sha256,
            "started_at": note.started_at.isoformat(),
            "time": values.clock_time(note.started_at, wording),
            "duration_s": note.duration_s,
            "status": "heard",
            "text": note.text,
        }
        | some(time_doubt=_time_doubt(note.started_at_doubt, wording))
        for note in record.notes
    ]
    again = {photo.id for photo in to_take_again(record)}
    state["photos"] = [
        {
            "id": photo.id,
            "file": photo.file,
            "sha256": photo.sha256,
            "taken_at": photo.taken_at.isoformat(),
            "time": values.clock_time(values.in_zone(photo.taken_at, zone), wording),
            "width": photo.width,
            "height": photo.height,
            "fact_ids": list(photo.fact_ids),
            "status": "shown",
        }
        | some(linked_by=photo.linked_by, like=photo.like)
        | some(time_doubt=_time_doubt(photo.taken_at_doubt, wording))
        | photo_flaws.told(photo.sight.flaws if photo.sight and photo.id in again else ())
        for photo in record.photos
    ]
    numbers = numbers_in_print(record)
    state["facts"] = [fact_shown(fact, record, wording, numbers) for fact in facts]
    state["loose_ends"] = [
        {
            "text": in_full(end),
            "fact": end.fact_id,
            "state": end.state,
            "state_name": values.open_state(end, wording),
            "certain": end.doubt is None,
        }
        for end in certain_first(record.loose_ends)
    ]
    state["claim_gaps"] = [
        {
            "rule": gap.rule,
            "message": gap.message,
            "remedy": gap.remedy,
            "severity": gap.severity,
            "severity_name": wording.name("severity", gap.severity),
            "fixable": gap.fixable,
        }
        for gap in sorted(record.claim_gaps, key=lambda g: _SEVERITIES.index(g.severity))
    ]
    state["stated"] = [
        {"key": s.key, "by": s.by, "at": s.at.isoformat()} | some(value=s.value, file=s.file)
        for s in record.stated
    ]
    state["labour_remarks"], state["charge_remarks"] = (
        list(record.labour_remarks),
        list(record.charge_remarks),
    )
    if record.totals is not None:
        state["totals"] = _totals(record, wording)


def _totals(record: Record, wording: Wording) -> dict[str, Any]:
    totals = record.totals
    assert totals is not None
    currency = totals.currency

    def sums(of: Totals | Account) -> dict[str, Any]:
        return {name: values.money(getattr(of, name), currency, wording) for name in ("net", "tax", "gross")}

    split = [
        {"payer": account.payer, "payer_name": wording.name("payer", account.payer)} | sums(account)
        for account in totals.split
    ]
    return {**sums(totals), "currency": currency, "split": split}


def fact_shown(
    fact: Fact, record: Record, wording: Wording, numbers: Mapping[str, str] | None = None
) -> dict[str, Any]:
    """One fact as a page shows it: in words, with its evidence and what a form would hold.

    `numbers` tells how the documents print part numbers.
    """
    printed = in_print(fact, numbers_in_print(record) if numbers is None else numbers)
    note = next((n for n in record.notes if n.id == fact.note), None)
    at = values.in_zone(fact.at, note.started_at.tzinfo if note else None) if fact.at else None
    return {
        "id": fact.id,
        "kind": fact.kind,
        "kind_name": wording.name("kind", fact.kind),
        "text": sentence_case(values.statement(printed, wording)),
        "quote": fact.quote,
        "status": fact.status,
        "status_name": "rejected" if fact.status == "rejected" else wording.name("status", fact.status),
        "group": group_of(fact),
        "confidence": values.confidence(fact.confidence, wording),
        "audience": fact.audience,
        "photos": [photo.id for photo in record.photos if fact.id in photo.fact_ids],
        "repairs": [{"heard": repair.heard, "read_as": repair.read_as} for repair in fact.repairs],
        "fields": values_of(fact.detail),
        "seen": seen(fact, record.photos),
    } | some(
        why=fact.why,
        source=fact.source,
        shown=[_in_photo(fact, shown, wording) for shown in fact.shown] or None,
        note=fact.note,
        start_s=fact.start_s,
        end_s=fact.end_s,
        at=at.isoformat() if at else None,
        time=values.clock_time(at, wording, seconds=True) if at else None,
        time_doubt=_time_doubt(note.started_at_doubt, wording) if note and at else None,
        heard_at=values.minute_second(fact.start_s) if fact.start_s is not None else None,
        superseded_by=fact.superseded_by,
        decided_by=fact.decided_by,
        decided_at=fact.decided_at.isoformat() if fact.decided_at else None,
    )


def _time_doubt(doubt: PhotoTimeDoubt | None, wording: Wording) -> str | None:
    """Why a time is in doubt, in the documents' words; None where it isn't."""
    return wording.name("time_doubt", doubt) if doubt else None


def _in_photo(fact: Fact, shown: Shown, wording: Wording) -> dict[str, Any]:
    """What a photo shows of a fact, for a page; `take` is what an edit would hold that takes it over."""
    said = getattr(fact.detail, shown.field, None)
    differs = said is None or plain(str(said)) != plain(shown.value)
    can_take = differs and fact.stands and shown.field != "text"
    return {
        "photo": shown.photo,
        "name": values.shown_field(fact, shown, wording),
        "value": values.shown_value(fact, shown, wording),
        "text": shown.text,
        "agrees": shown.agrees,
        "said": said is not None,
        "at": ",".join(f"{share:.4f}" for corner in shown.corners for share in corner),
    } | some(take=values_of(fact.detail) | {shown.field: shown.value} if can_take else None)


def some(**given: Any) -> dict[str, Any]:
    """Those that there are: a key that doesn't apply is left out."""
    return {name: value for name, value in given.items() if value is not None}


# --- the endpoint --------------------------------------------------------------------------------


def get_state(request: Request) -> Response:
    """The state, or 304 where the page has it already."""
    settings, store, job = access.settings_of(request), access.store_of(request), access.job_of(request)
    with Library.open(settings.library) as library:
        # `jobnotes run` may have saved another record meanwhile
        stands = library.as_it_stands(job.library_job) if job.library_job else ""
        tag = f'"{job.version}-{stands}"'
        if request.headers.get("if-none-match") == tag:
            return Response(status_code=304, headers={"ETag": tag})
        state = shown(current(settings, library, job), job, store, settings)
    return JSONResponse(state, headers={"ETag": tag, "Cache-Control": "private, no-cache"})


routes: list[BaseRoute] = [Route("/api/jobs/{job}/state", get_state)]

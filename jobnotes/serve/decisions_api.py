"""What a person decides about a job's facts: stored before it is answered, then the job as it stands with it.

A decision says what its maker saw. Where that has changed since, it is refused (409) and the answer shows the
job as it is now. The record, the list of jobs and the search follow once the answer is on its way.
"""

from __future__ import annotations

import contextlib
import secrets
import sys
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from datetime import UTC, datetime
from itertools import groupby
from typing import Any

from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes.errors import JobnotesError
from jobnotes.library import decisions as made
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.pipeline import Derived
from jobnotes.reading.trade.files import Trade, load
from jobnotes.record import Audience, Detail, Fact
from jobnotes.serve import access, state, uploads
from jobnotes.serve.fact_forms import KINDS, FormError, detail_of, fields_of
from jobnotes.serve.settings import Settings
from jobnotes.serve.state import Current, photo_digests, seen
from jobnotes.serve.store import Device, ServeJob, Store
from jobnotes.serve.worker import save

ACTIONS = ("accept", "reject", "edit", "add", "undo", "move_photo", "merge", "split")


class RefusedError(Exception):
    """Why a decision isn't taken; `fields` names what is wrong in a form. 409: it has changed meanwhile."""

    def __init__(self, status: int, why: str, fields: dict[str, str] | None = None) -> None:
        self.status, self.why, self.fields = status, why, fields or {}
        super().__init__(why)


# --- taking one ----------------------------------------------------------------------------------


async def decide(request: Request) -> Response:
    """Store a decision; the job as it stands with it."""
    asked = await uploads.json_of(request)
    return await run_in_threadpool(
        _decide,
        access.settings_of(request),
        access.store_of(request),
        access.job_of(request),
        access.device_of(request),
        asked,
    )


def _decide(
    settings: Settings, store: Store, job: ServeJob, device: Device, asked: dict[str, Any]
) -> Response:
    with _standing(settings, job) as (library, now):
        try:
            wanted = decisions_for(asked, now, device.name, datetime.now(UTC))
        except RefusedError as refusal:
            answer: dict[str, Any] = {"error": refusal.why}
            if refusal.fields:
                answer["fields"] = refusal.fields
            if refusal.status == 409:
                answer["state"] = state.shown(now, job, store, settings)
            return JSONResponse(answer, refusal.status)
        library.decide_all(now.library_job, wanted)
        then = state.current(settings, library, job)
        answer = {"state": state.shown(then, job, store, settings), "facts": [d.fact_id for d in wanted]}
    return JSONResponse(answer, background=BackgroundTask(file, settings, store, job.id))


@contextlib.contextmanager
def _standing(settings: Settings, job: ServeJob) -> Iterator[tuple[Library, Current]]:
    """The job as it stands, and nobody else changes it meanwhile."""
    if job.library_job is None:
        raise HTTPException(409, "nothing of this job was heard yet")
    with Library.open(settings.library) as library, library.alone_with(job.library_job):
        now = state.current(settings, library, job)
        if now is None:
            raise HTTPException(409, "nothing of this job was heard yet")
        yield library, now


def file(settings: Settings, store: Store, job_id: str) -> None:
    """Save the record with all decisions: for the list of jobs, the search, and record.json.

    Whoever decided has had their answer: what goes wrong here is told where the server runs, and is put right
    by whatever saves the record next.
    """
    job = store.job(job_id)
    if job is None or job.library_job is None:
        return
    try:
        _file(settings, store, job, job.library_job)
    except JobnotesError as error:
        print(f"jobnotes: the record of {job.number or job_id} was not saved: {error}", file=sys.stderr)


def _file(settings: Settings, store: Store, job: ServeJob, library_job: str) -> None:
    with Library.open(settings.library) as library, library.alone_with(library_job):
        now = state.current(settings, library, job)
        if now is not None:
            save(settings, store, library, job.id, Derived(now.record, now.library_job, 0))


def decisions_for(asked: dict[str, Any], now: Current, who: str, at: datetime) -> list[Decision]:
    """The decisions that an action consists of. Pure. Raises RefusedError."""
    action = asked.get("action")
    trade = now.workshop.trade or load()
    match action:
        case "accept":
            return [Decision((fact := _fact(asked, now)).id, who, at, "accepted", fact)]
        case "reject":
            return [Decision((fact := _fact(asked, now)).id, who, at, "rejected", fact)]
        case "edit":
            fact = _fact(asked, now)
            detail, audience = _detail(asked, trade, fact.audience)
            after = replace(fact, detail=detail, audience=audience)
            return [Decision(fact.id, who, at, "edited", fact, after)]
        case "add":
            detail, audience = _detail(asked, trade, "all")
            new = Fact(f"H{secrets.token_hex(5)}", detail, "", 1.0, "accepted", audience=audience)
            return [Decision(new.id, who, at, "added", after=replace(new, at=_moment(asked)))]
        case "move_photo":
            return _move(asked, now, who, at)
        case "merge":
            kept, other = _fact(asked, now), _fact(asked, now, "other", "seen_other")
            if kept.id == other.id:
                raise RefusedError(400, "two different statements are needed")
            if not (kept.stands and other.stands):
                raise RefusedError(400, "a rejected statement can't be merged; accept it first")
            detail, audience = (
                _detail(asked, trade, kept.audience) if "values" in asked else (kept.detail, kept.audience)
            )
            return made.merged(kept, other, detail, audience, who, at)
        case "split":
            fact = _fact(asked, now)
            first, _ = _detail(asked, trade, fact.audience, "first")
            second, _ = _detail(asked, trade, fact.audience, "second")
            taken = {f.id for f in now.record.facts} | {d.fact_id for d in now.decisions}
            return made.split(fact, first, second, taken, who, at)
        case "undo":
            return _undo(asked, now, who, at)
    raise RefusedError(400, f"action must be one of {', '.join(ACTIONS)}")


def _fact(asked: dict[str, Any], now: Current, name: str = "fact", seen_name: str = "seen") -> Fact:
    """The fact that is meant, as decisions name it, if it is still as it was shown."""
    fact = next((f for f in now.record.facts if f.id == asked.get(name)), None)
    if fact is None:
        raise RefusedError(409, "that statement is no longer in the record; look at the job anew")
    if asked.get(seen_name) != seen(fact, now.record.photos):
        raise RefusedError(409, "that statement has changed since it was shown; look at it again")
    return replace(fact, photos=photo_digests(fact, now.record.photos))


def _detail(
    asked: dict[str, Any], trade: Trade, audience: Audience, within: str | None = None
) -> tuple[Detail, Audience]:
    """What a form says; `within` is the key of one of several forms."""
    form = asked.get(within) if within else asked
    if not isinstance(form, dict) or not isinstance(form.get("values"), dict):
        raise RefusedError(400, "values must be given for the fields")
    kind, wanted = form.get("kind"), form.get("audience", audience)
    if kind not in KINDS:
        raise RefusedError(400, "kind must be one of the kinds of statement", {"kind": "choose one"})
    if wanted not in ("all", "workshop"):
        raise RefusedError(400, "audience must be all or workshop")
    try:
        return detail_of(kind, form["values"], trade), wanted
    except FormError as error:
        prefix = f"{within}." if within else ""
        raise RefusedError(
            400, f"not stored: {error}", {prefix + name: what for name, what in error.fields.items()}
        ) from error


def _moment(asked: dict[str, Any]) -> datetime | None:
    """When it happened, for what was added by hand: the time on a clock needs one."""
    said = asked.get("at")
    if said in (None, ""):
        if asked.get("kind") == "clock":
            raise RefusedError(400, "not stored: a time is missing", {"at": "is missing"})
        return None
    try:
        moment = datetime.fromisoformat(str(said))
        moment.astimezone(UTC)
    except (ValueError, OverflowError):
        moment = datetime.min
    if moment.tzinfo is None:
        raise RefusedError(400, "not stored: at must be a time with its offset", {"at": "is no time"})
    return moment


def _move(asked: dict[str, Any], now: Current, who: str, at: datetime) -> list[Decision]:
    photo = next((p for p in now.record.photos if p.id == asked.get("photo")), None)
    # the number of a photo may be another's by now: its digest says which one was seen
    if photo is None or asked.get("sha256", photo.sha256) != photo.sha256:
        raise RefusedError(409, "that photo is no longer in the record under that number; look again")
    source = _fact(asked, now) if asked.get("fact") is not None else None
    target = _fact(asked, now, "to", "seen_to") if asked.get("to") is not None else None
    if target is not None and not target.stands:
        raise RefusedError(400, "a rejected statement has no photos; accept it first")
    moved = made.moved(photo.sha256, source, target, who, at)
    if not moved:
        raise RefusedError(400, "the photo is there already")
    return moved


def _undo(asked: dict[str, Any], now: Current, who: str, at: datetime) -> list[Decision]:
    """Take back all that was decided in one go with a decision, unless later ones build on it."""
    number = asked.get("decision")
    if not isinstance(number, int) or isinstance(number, bool):
        raise RefusedError(400, "decision must be the number of a decision")
    wanted = made.gesture(now.decisions, number)
    if not wanted:
        raise RefusedError(400, "there is no such decision")
    counting = made.effective(now.decisions)
    if any(d.id not in counting for d in wanted):
        raise RefusedError(409, "that was taken back before; look at the history again")
    facts = {d.fact_id for d in wanted}
    last = max(d.id or 0 for d in wanted)
    later = [d for d in now.decisions if d.fact_id in facts and (d.id or 0) > last and d.id in counting]
    if any(d.action != "undone" for d in later):
        raise RefusedError(409, "a later decision builds on that one; take that back first")
    return [Decision(d.fact_id, who, at, "undone", undoes=d.id) for d in reversed(wanted)]


# --- the history ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Deed:
    """What one person did in one go. `counts`: nobody has taken it back."""

    decisions: tuple[Decision, ...]
    counts: bool

    @property
    def name(self) -> str:
        """As ACTIONS names it."""
        kinds = {d.action for d in self.decisions}
        if "undone" in kinds:
            return "undo"
        if any(d.merged_into for d in self.decisions):
            return "merge"
        if kinds == {"added"}:
            return "add"
        if "added" in kinds:
            return "split"
        if all(d.moves_photos for d in self.decisions):
            return "move_photo"
        return {"accepted": "accept", "rejected": "reject"}.get(self.decisions[0].action, "edit")


def deeds(decisions: Sequence[Decision]) -> tuple[Deed, ...]:
    """What was done, in the order in which it was."""
    counting = made.effective(decisions)
    return tuple(
        Deed(group, all(d.id in counting for d in group))
        for group in (tuple(g) for _, g in groupby(decisions, key=lambda d: (d.who, d.at)))
    )


def deeds_shown(now: Current) -> list[dict[str, Any]]:
    """Every decision ever made on the job, in order: who, when, before and after."""
    done = deeds(now.decisions)
    names = {d.id: deed.name for deed in done for d in deed.decisions}
    return [_deed_shown(deed, names, now) for deed in done]


def _deed_shown(deed: Deed, names: dict[int | None, str], now: Current) -> dict[str, Any]:
    first = deed.decisions[0]
    shown: dict[str, Any] = {
        "decision": first.id,
        "who": first.who,
        "at": first.at.isoformat(),
        "action": deed.name,
        "counts": deed.counts,
        "changes": [_change(decision, now) for decision in deed.decisions],
    }
    if deed.name == "undo":
        shown["undoes"] = names.get(first.undoes, "")
    return shown


def _change(decision: Decision, now: Current) -> dict[str, Any]:
    change: dict[str, Any] = {"fact": decision.fact_id}
    undone = next((d for d in now.decisions if d.id == decision.undoes), None) if decision.undoes else None
    before, after = decision.before, decision.after
    if undone is not None:
        before, after = undone.after, undone.before
    if before is not None:
        change["before"] = _in_words(before, now)
    if after is not None:
        change["after"] = _in_words(after, now)
    return change


def _in_words(fact: Fact, now: Current) -> dict[str, Any]:
    """A fact as it was, with the numbers that its photos have today."""
    assert now.workshop.house is not None
    shown = state.fact_shown(fact, now.record, now.workshop.house.desk)
    numbers = [photo.id for photo in now.record.photos if photo.sha256 in fact.photos]
    kept = ("kind", "kind_name", "text", "quote", "status_name", "audience", "superseded_by")
    return {key: shown[key] for key in kept if key in shown} | {"photos": numbers}


# --- the forms -----------------------------------------------------------------------------------


def forms(request: Request) -> Response:
    """The kinds of statement, and the fields of each, to be filled in by hand."""
    access.job_of(request)
    workshop = state.workshop_of(access.settings_of(request))
    assert workshop.house is not None
    trade, wording = workshop.trade or load(), workshop.house.desk
    return JSONResponse(
        [
            {
                "kind": kind,
                "name": wording.name("kind", kind),
                "fields": [asdict(field) for field in fields_of(kind, trade, wording)],
            }
            for kind in KINDS
        ]
    )


routes: list[BaseRoute] = [
    Route("/api/jobs/{job}/decisions", decide, methods=["POST"]),
    Route("/api/jobs/{job}/forms", forms),
]

"""The web application: its routes, and what they share."""

from __future__ import annotations

import contextlib
import json
import sqlite3
import time
from collections.abc import AsyncIterator
from datetime import UTC, datetime
from typing import Any

import segno
from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import FileResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from jobnotes.durable import make_folder
from jobnotes.errors import JobnotesError
from jobnotes.library.library import Library
from jobnotes.serve import (
    access,
    capture,
    decisions_api,
    desk,
    job_card,
    live,
    pages,
    sound_clips,
    state,
    stated_api,
    uploads,
)
from jobnotes.serve.access import Guard, device_of, settings_of, store_of
from jobnotes.serve.queue import Workers
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Device, Role, ServeJob, Store
from jobnotes.serve.uploads import Uploads, json_of, text_in

_ROLES: dict[str, Role] = {"technician": "technician", "clerk": "clerk"}


def create_app(settings: Settings) -> Starlette:
    """The application over the library of `settings`, whose database is made where there is none.

    Its workers run while its lifespan does. Only one may run over a library at a time: `server` sees to that.
    What an earlier one was at when it was killed is put right first. Raises JobnotesError.
    """
    Library.open(settings.library).close()  # it says what is wrong with it, if anything is
    store = Store(settings.database)
    workers = Workers(settings, store)

    @contextlib.asynccontextmanager
    async def lifespan(app: Starlette) -> AsyncIterator[None]:
        workers.start()
        try:
            yield
        finally:
            app.state.live.stop()
            workers.stop()
            store.close()

    app = Starlette(
        routes=[
            Route("/", home),
            Route("/api/pair", pair, methods=["POST"]),
            Route("/api/unpair", unpair, methods=["POST"]),
            Route("/api/me", me),
            Route("/api/time", now),
            Route("/api/devices", devices),
            Route("/api/devices/{device}", revoke, methods=["DELETE"]),
            Route("/api/pairing", pairing, methods=["POST"]),
            Route("/api/openapi.json", description),
            Route("/api/jobs", jobs),
            Route("/api/jobs", open_job, methods=["POST"]),
            Route("/api/jobs/{job}/devices", give_job, methods=["POST"]),
            Route("/api/jobs/{job}/again", again, methods=["POST"]),
            Route("/authority.crt", authority),
            *uploads.routes,
            *live.routes,
            *state.routes,
            *decisions_api.routes,
            *stated_api.routes,
            *sound_clips.routes,
            *capture.routes,
            *desk.routes,
            *job_card.routes,
            *pages.routes,
        ],
        middleware=[Middleware(Guard, settings=settings, store=store)],
        exception_handlers={
            HTTPException: _refusal,
            JobnotesError: _failure,
            sqlite3.Error: _failure,
            OSError: _failure,
            Exception: _unexpected,
        },
        lifespan=lifespan,
    )
    app.state.settings = settings
    app.state.store = store
    app.state.workers = workers
    app.state.uploads = Uploads(settings, store)
    app.state.live = live.Live(settings)
    app.state.wrong_codes = access.WrongCodes(settings.limits)
    app.state.uploads.recover()
    store.free_all()
    return app


def home(request: Request) -> Response:
    """Each to their own page."""
    return RedirectResponse("/desk" if device_of(request).role == "clerk" else "/capture", 303)


# --- devices -------------------------------------------------------------------------------------


async def pair(request: Request) -> Response:
    """A code, once, for a session."""
    settings, wrong = settings_of(request), request.app.state.wrong_codes
    values = await json_of(request)
    code, name = text_in(values, "code", needed=True) or "", text_in(values, "name") or ""
    address = request.client.host if request.client else ""
    if wrong.too_many(address):
        retry = {"Retry-After": str(int(settings.limits.pairing_code_s))}
        raise HTTPException(429, "too many wrong codes; wait ten minutes", headers=retry)
    paired = await uploads.in_thread(request, access.pair, store_of(request), settings, code, name)
    if paired is None:
        wrong.add(address)
        raise HTTPException(403, "that code isn't good, or not any more; ask for a new one")
    device, token = paired
    response = JSONResponse({"device": device.id, "name": device.name, "role": device.role})
    access.set_cookie(response, settings, token)
    return response


def unpair(request: Request) -> Response:
    """The device ends its own session."""
    store_of(request).end_session(access.digest(access.token_of(request)))
    response = Response(status_code=204)
    access.forget_cookie(response, settings_of(request))
    return response


def me(request: Request) -> Response:
    device = device_of(request)
    csrf = access.csrf_token(access.token_of(request))
    return JSONResponse({"device": device.id, "name": device.name, "role": device.role, "csrf": csrf})


def now(request: Request) -> Response:
    """The server's clock, for a phone to compare its own with."""
    return JSONResponse({"now": datetime.now(UTC).isoformat(timespec="milliseconds")})


def devices(request: Request) -> Response:
    own = device_of(request).id
    return JSONResponse([_device(d) | {"own": d.id == own} for d in store_of(request).devices()])


def revoke(request: Request) -> Response:
    if not store_of(request).revoke(request.path_params["device"]):
        raise HTTPException(404, "there is no such device")
    return Response(status_code=204)


async def pairing(request: Request) -> Response:
    """A code for another device, or for a known one to be paired again; with its QR code as a picture."""
    values = await json_of(request)
    role, device = text_in(values, "role"), text_in(values, "device")
    store = store_of(request)
    known = store.device(device) if device else None
    if device and known is None:
        raise HTTPException(404, "there is no such device")
    wanted = known.role if known else _ROLES.get(role or "")
    if wanted is None:
        raise HTTPException(400, "role must be technician or clerk")
    code = access.new_code(store, settings_of(request), wanted, device)
    return JSONResponse(
        {
            "code": code.code,
            "address": code.address,
            "qr": segno.make(code.address, error="m").png_data_uri(scale=8, border=4),
            "expires_at": _time(code.expires_at),
        },
        201,
    )


def authority(request: Request) -> Response:
    """The certificate of the workshop's own authority, for a phone to trust."""
    path = settings_of(request).tls_folder / "authority.crt"
    if not path.is_file():
        raise HTTPException(404, "there is no authority: this server doesn't use TLS")
    return FileResponse(path, media_type="application/x-x509-ca-cert", filename="jobnotes-authority.crt")


def description(request: Request) -> Response:
    """What this API is, by OpenAPI 3.1."""
    return FileResponse(pages.HERE / "openapi.json", media_type="application/json")


# --- jobs ----------------------------------------------------------------------------------------


def jobs(request: Request) -> Response:
    store = store_of(request)
    if device_of(request).role == "clerk":
        desk.look_in_library(settings_of(request), store)
    counts = store.counts()
    queue = {queued.job: queued for queued in store.queue()}
    return JSONResponse(
        [
            _job(job, *counts.get(job.id, (0, 0)))
            | state.some(problem=queue[job.id].problem if job.id in queue else None)
            for job in store.jobs(device_of(request))
        ]
    )


async def open_job(request: Request) -> Response:
    values = await json_of(request)
    number, registration, technician = (
        text_in(values, key, most=60) for key in ("number", "registration", "technician")
    )
    key = text_in(values, "key", most=80)
    device, store, settings = device_of(request), store_of(request), settings_of(request)
    job_id = access.id_from(device.id, key) if key else access.new_id()
    if key and store.job(job_id) is not None:
        return JSONResponse({"id": job_id}, 200)  # asked again, as the answer was lost on the way
    job = ServeJob(job_id, number, registration, technician, time.time(), device.id)
    await uploads.in_thread(request, _open, store, settings, job, device)
    return JSONResponse({"id": job.id}, 201)


def _open(store: Store, settings: Settings, job: ServeJob, device: Device) -> None:
    make_folder(settings.given(job.id))
    stated = {"number": job.number, "registration": job.registration, "technician": job.technician}
    lines = [f"{key} = {json.dumps(value, ensure_ascii=False)}" for key, value in stated.items() if value]
    if lines:
        text = "\n".join(['format = "jobnotes-job"', "version = 1", *lines, ""])
        uploads.write_beside(settings.given(job.id) / "job.toml", text.encode("utf-8"))
    given_to = [
        d.id
        for d in store.devices()
        if job.technician and d.role == "technician" and d.name.casefold() == job.technician.casefold()
    ]
    store.open_job(job, [device.id, *given_to])


async def give_job(request: Request) -> Response:
    """Let another device work on the job."""
    values = await json_of(request)
    device = store_of(request).device(text_in(values, "device", needed=True) or "")
    if device is None or device.revoked_at is not None:
        raise HTTPException(404, "there is no such device")
    store_of(request).give_job(access.job_of(request).id, device.id)
    return Response(status_code=204)


def again(request: Request) -> Response:
    """Try a job again that was given up."""
    store_of(request).want(access.job_of(request).id)
    return Response(status_code=202)


def _job(job: ServeJob, sent: int, waiting: int) -> dict[str, Any]:
    return {
        "id": job.id,
        "opened_at": _time(job.opened_at),
        "notes": desk.notes_of(job, sent, waiting),
        "waiting": waiting,
        "to_check": job.to_check,
        "gaps": job.gaps,
        "loose_ends": job.loose_ends,
    } | state.some(number=job.number, registration=job.registration, technician=job.technician)


def _device(device: Device) -> dict[str, Any]:
    return {
        "id": device.id,
        "name": device.name,
        "role": device.role,
        "paired_at": _time(device.paired_at),
        "seen_at": _time(device.seen_at),
    } | state.some(revoked_at=_time(device.revoked_at) if device.revoked_at else None)


def _time(at: float) -> str:
    return datetime.fromtimestamp(at, UTC).isoformat(timespec="seconds")


# --- errors --------------------------------------------------------------------------------------


def _refusal(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return access.refused(request.scope, error)


def _failure(request: Request, error: Exception) -> Response:
    return access.failed(error)


def _unexpected(request: Request, error: Exception) -> Response:
    # it is answered outside of the guard, whose headers it wouldn't have
    said = "something is wrong in this program; see the server's messages"
    return JSONResponse({"error": said}, 500, headers=access.HEADERS | {"Cache-Control": "no-store"})

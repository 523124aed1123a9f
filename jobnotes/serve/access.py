"""Who may ask for what: pairing, sessions, roles, and what guards a browser against other sites.

Everything is refused unless it is allowed here. A session is a random token in a cookie that no script can
read; the store has only its digest. A request that changes anything also carries a token that belongs to that
session and comes from a page of this server.
"""

from __future__ import annotations

import hashlib
import hmac
import re
import secrets
import sqlite3
import time
from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from urllib.parse import urlsplit

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from jobnotes.errors import JobnotesError, one_line
from jobnotes.serve.pages import page
from jobnotes.serve.settings import Limits, Settings
from jobnotes.serve.store import Device, Role, ServeJob, Store

CSRF_HEADER = "X-CSRF-Token"
SAFE_METHODS = ("GET", "HEAD")

#: what an unpaired device may have: the page that pairs it, and what holds nothing of any job
_OPEN = re.compile(r"/pair|/api/pair|/static/[\w./-]+|/sw\.js|/manifest\.webmanifest|/favicon\.ico")
#: what a technician may have, beside that; of a job, only if it is theirs. All the rest is the clerk's
_TECHNICIANS = re.compile(
    r"/|/capture|/authority\.crt|/api/(?:me|time|unpair|openapi\.json|jobs)"
    r"|/card/(?P<card>[^/]+)"
    r"|/api/jobs/(?P<job>[^/]+)/(?:state|card|uploads/[^/]+(?:/complete)?|live/[^/]+|notes/[^/]+/sound|photos/[^/]+)"
)

# no inline script or style, nothing from elsewhere, in no frame
HEADERS = {
    "Content-Security-Policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob: data:; "
        "media-src 'self' blob:; connect-src 'self'; font-src 'self'; manifest-src 'self'; "
        "worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Referrer-Policy": "no-referrer",
    "Permissions-Policy": (
        "microphone=(self), camera=(self), screen-wake-lock=(self), geolocation=(), payment=(), usb=()"
    ),
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

_CODE_ALPHABET = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"  # without what is read as something else: 0 O 1 I
_CODE_LENGTH = 8  # 40 bits: with the limit on wrong ones, guessing takes longer than a code lives
_ID_ALPHABET = "abcdefghjkmnpqrstvwxyz"
_ID_LENGTH = 10
_MOST_NAME = 60


def digest(secret: str) -> str:
    """What the store keeps of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def new_id() -> str:
    """A short random id, for a job or a device."""
    return "".join(secrets.choice(_ID_ALPHABET) for _ in range(_ID_LENGTH))


def id_from(device: str, key: str) -> str:
    """The id of a job that a device opens under a key of its own: the same for the same two."""
    hashed = hashlib.sha256(f"{device}\n{key}".encode()).digest()
    return "".join(_ID_ALPHABET[byte % len(_ID_ALPHABET)] for byte in hashed[:_ID_LENGTH])


def cookie_name(settings: Settings) -> str:
    """The prefix makes a browser take the cookie from this very host only, and over TLS (RFC 6265bis)."""
    return "__Host-jobnotes" if settings.tls else "jobnotes"


# --- pairing -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PairingCode:
    """To be shown to one person once; `address` opens the pairing page with the code filled in.

    The code stands behind the `#` of the address, which a browser neither sends nor logs.
    """

    code: str
    address: str
    expires_at: float


def new_code(store: Store, settings: Settings, role: Role, device: str | None = None) -> PairingCode:
    """A pairing code for a new device of that role, or for a known one that is to be paired again."""
    code = "".join(secrets.choice(_CODE_ALPHABET) for _ in range(_CODE_LENGTH))
    expires_at = time.time() + settings.limits.pairing_code_s
    store.add_code(digest(code), role, expires_at, device)
    shown = f"{code[:4]}-{code[4:]}"
    return PairingCode(shown, f"{settings.address}/pair#{shown}", expires_at)


@dataclass(slots=True)
class WrongCodes:
    """Counts wrong pairing codes, so that nobody can try them all."""

    limits: Limits
    _times: dict[str, deque[float]] = field(default_factory=dict)

    def too_many(self, address: str) -> bool:
        oldest = time.monotonic() - self.limits.pairing_code_s
        for key in list(self._times):
            while self._times[key] and self._times[key][0] < oldest:
                self._times[key].popleft()
            if not self._times[key]:
                del self._times[key]
        mine = len(self._times.get(address, ()))
        return mine >= self.limits.wrong_codes or sum(map(len, self._times.values())) >= (
            self.limits.wrong_codes_in_all
        )

    def add(self, address: str) -> None:
        self._times.setdefault(address, deque()).append(time.monotonic())


def pair(store: Store, settings: Settings, code: str, name: str) -> tuple[Device, str] | None:
    """Use up a code: the device and its session's token. None for a code that isn't good (any more)."""
    plain = re.sub(r"[\s-]+", "", code).upper()
    token = secrets.token_urlsafe(32)  # 256 bits
    shown = one_line(name).strip()[:_MOST_NAME] or "unnamed"
    device = store.redeem(digest(plain), shown, new_id(), digest(token))
    return (device, token) if device else None


def csrf_token(session_token: str) -> str:
    """The token that a page sends along. It follows from the session's, so it is kept nowhere."""
    return hmac.digest(session_token.encode("utf-8", "surrogatepass"), b"csrf", "sha256").hex()


def set_cookie(response: Response, settings: Settings, token: str) -> None:
    response.set_cookie(
        cookie_name(settings),
        token,
        max_age=int(settings.limits.session_s),
        path="/",
        secure=settings.tls,
        httponly=True,
        samesite="strict",
    )


def forget_cookie(response: Response, settings: Settings) -> None:
    response.delete_cookie(
        cookie_name(settings), path="/", secure=settings.tls, httponly=True, samesite="strict"
    )


# --- what an endpoint asks -----------------------------------------------------------------------


def device_of(request: Request) -> Device:
    """The paired device that asks."""
    device = request.scope.get("device")
    if not isinstance(device, Device):
        raise HTTPException(401, "this device isn't paired")
    return device


def token_of(request: Request) -> str:
    """The token of the session in which it asks."""
    return request.cookies.get(cookie_name(settings_of(request)), "")


def settings_of(request: Request) -> Settings:
    settings = request.app.state.settings
    assert isinstance(settings, Settings)
    return settings


def store_of(request: Request) -> Store:
    store = request.app.state.store
    assert isinstance(store, Store)
    return store


def job_of(request: Request) -> ServeJob:
    """The job of the address, which the device may work on: the guard has seen to that."""
    job = store_of(request).job(request.path_params["job"])
    if job is None:
        raise HTTPException(404, "there is no such job")
    return job


# --- the guard -----------------------------------------------------------------------------------


def guarded(send: Send) -> Send:
    """`send`, with what tells a browser to be careful in every answer."""

    async def send_with_headers(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers.setdefault(name, value)
            headers.setdefault("Cache-Control", "no-store")
        await send(message)

    return send_with_headers


class Guard:
    """Stands before every endpoint. In order: host, site, session, role, job, forged requests."""

    def __init__(self, app: ASGIApp, settings: Settings, store: Store) -> None:
        self._app = app
        self._settings = settings
        self._store = store
        self._hosts = {host.casefold() for host in settings.hosts}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        try:
            await self._admit(scope)
        except HTTPException as refusal:
            await refused(scope, refusal)(scope, receive, guarded(send))
            return
        except (JobnotesError, sqlite3.Error) as error:
            await failed(error)(scope, receive, guarded(send))
            return
        await self._app(scope, receive, guarded(send))

    async def _admit(self, scope: Scope) -> None:
        headers = Headers(scope=scope)
        path, method = scope["path"], scope["method"]
        host = headers.get("host", "")
        if _without_port(host) not in self._hosts:
            # a name of somebody else's that leads here would let their pages ask as if they were ours
            raise HTTPException(421, "this server isn't known under that name")
        self._same_site(headers, method, host)
        if _OPEN.fullmatch(path):
            return
        token = self._cookie(headers)
        limits = self._settings.limits
        device = None
        if token:
            device = await run_in_threadpool(
                self._store.session, digest(token), idle_s=limits.session_idle_s, most_s=limits.session_s
            )
        if device is None or token is None:
            raise HTTPException(401, "this device isn't paired (any more)")
        scope["device"] = device
        allowed = _TECHNICIANS.fullmatch(path)
        if device.role != "clerk":
            if allowed is None:
                raise HTTPException(403, "that is for the clerk")
            job = allowed["job"] or allowed["card"]
            if job is not None and not await run_in_threadpool(self._store.may_work_on, device, job):
                # whether there is such a job at all is nothing that they need to know
                raise HTTPException(404, "there is no such job")
        if method not in SAFE_METHODS and not hmac.compare_digest(
            headers.get(CSRF_HEADER, "").encode("latin-1", "replace"), csrf_token(token).encode("latin-1")
        ):
            raise HTTPException(403, f"the request lacks the session's {CSRF_HEADER}; load the page again")

    def _same_site(self, headers: Headers, method: str, host: str) -> None:
        """Refuse what another site's page makes a browser send. Programs that aren't browsers say nothing."""
        site, mode = headers.get("sec-fetch-site"), headers.get("sec-fetch-mode")
        changes = method not in SAFE_METHODS
        if site in ("cross-site", "same-site") and (changes or mode != "navigate"):
            raise HTTPException(403, "the request comes from another site")
        origin = headers.get("origin")
        if origin is None or (origin == "null" and site == "same-origin"):
            return
        scheme = "https" if self._settings.tls else "http"
        if origin.casefold() != f"{scheme}://{host}".casefold():
            raise HTTPException(403, "the request comes from another site")

    def _cookie(self, headers: Headers) -> str | None:
        name = cookie_name(self._settings)
        for pair_ in headers.get("cookie", "").split(";"):
            key, _, value = pair_.strip().partition("=")
            if key == name and value:
                return value
        return None


def refused(scope: Scope, refusal: HTTPException) -> Response:
    """A refusal as JSON, or as a page to who asks for one; an unpaired browser is led to pairing instead."""
    if not scope["path"].startswith("/api/") and scope["method"] in SAFE_METHODS:
        if refusal.status_code == 401:
            return RedirectResponse("/pair", 303)
        if "text/html" in Headers(scope=scope).get("accept", ""):
            return page("refused.html", refusal.status_code, reason=one_line(str(refusal.detail)))
    return JSONResponse(
        {"error": one_line(str(refusal.detail))}, refusal.status_code, headers=dict(refusal.headers or {})
    )


def failed(error: Exception) -> Response:
    """The disk or the library fails: said in one line; who asks keeps what they have and tries later."""
    if isinstance(error, JobnotesError):
        said = str(error)
    elif isinstance(error, OSError):
        said = f"the server's disk fails ({error.strerror or type(error).__name__}); try again later"
    else:
        said = "the server's database fails; try again later"
    return JSONResponse({"error": one_line(said)}, 503, headers={"Retry-After": "10"})


def _without_port(host: str) -> str:
    """The name or address of a Host header, in lower case; an IPv6 address keeps its brackets."""
    try:
        parts = urlsplit(f"//{host}")
        _ = parts.port  # raises where it is no number
        name = parts.hostname or ""
    except ValueError:
        return ""
    if parts.username is not None or parts.path:
        return ""
    return in_address(name)


def in_address(name: str) -> str:
    """A name or address as it stands in a URL and a Host header: an IPv6 address in brackets."""
    return f"[{name}]" if ":" in name and not name.startswith("[") else name


def hosts(names: Iterable[str]) -> frozenset[str]:
    """Names and addresses as they stand in a Host header."""
    return frozenset(map(in_address, names))

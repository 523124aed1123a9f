"""The job card on a screen: drawn anew each second on the server's clock.

A page asks for the card of this second and of the next one, and shows each in its own second, so that a slow
network makes none of them late.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes.documents.job_card import QUIET, code, moment
from jobnotes.documents.wording import Wording, load
from jobnotes.errors import JobnotesError
from jobnotes.record import JobCard
from jobnotes.serve import access
from jobnotes.serve.pages import page
from jobnotes.serve.store import ServeJob

_UNNUMBERED = "the job has no number yet; say it, or have the office state it"


def get_page(request: Request) -> Response:
    """The page that shows the card."""
    job, device = access.job_of(request), access.device_of(request)
    back = f"/desk/{job.id}" if device.role == "clerk" else "/capture"
    return page("card.html", job=job, back=back, unnumbered=_UNNUMBERED)


def cards(request: Request) -> Response:
    """The cards of this second and of the next, and in how many milliseconds that begins."""
    settings, job = access.settings_of(request), access.job_of(request)
    wording = load("en", settings.workshop)
    now = datetime.now(UTC)
    seconds = (now.replace(microsecond=0) + timedelta(seconds=later) for later in (0, 1))
    try:
        two = [_card(job, second.astimezone(settings.tzinfo()), wording) for second in seconds]
    except JobnotesError as error:
        raise HTTPException(409, error.reason) from None
    return JSONResponse({"cards": two, "left_ms": (1_000_000 - now.microsecond) // 1000})


def _card(job: ServeJob, clock: datetime, wording: Wording) -> dict[str, Any]:
    if not job.number:
        raise HTTPException(409, _UNNUMBERED)
    card = JobCard(job.number, clock, "live", job.registration or None)
    return {
        "number": card.number,
        "clock": card.clock.isoformat(timespec="seconds"),
        "shown": moment(card.clock, wording),
        "qr": code(card).png_data_uri(scale=8, border=QUIET),
    }


routes: list[BaseRoute] = [Route("/card/{job}", get_page), Route("/api/jobs/{job}/card", cards)]

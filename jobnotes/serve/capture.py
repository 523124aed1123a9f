"""The technician's page, and the script that keeps it on the phone for when there is no network."""

from __future__ import annotations

import hashlib
import json

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes.reading.trade.files import Trade, load
from jobnotes.serve import access, state
from jobnotes.serve.pages import STATIC, page
from jobnotes.serve.settings import Settings

PAGE = "/capture"
_SHELL = '/* shell */ { version: "", files: [] }'
_KEPT = (".js", ".css", ".png")


def _page(settings: Settings) -> HTMLResponse:
    """The same for every device and job: the job stands in the address's fragment."""
    trade = state.workshop_of(settings).trade or load()
    return page("capture.html", units=json.dumps(_spoken_units(trade), ensure_ascii=False))


def _spoken_units(trade: Trade) -> dict[str, str]:
    """How each unit is said, by its UCUM code; those of the workshop are among them."""
    return {ucum: unit.said for ucum, unit in trade.units.items()}


def shell_files() -> tuple[str, ...]:
    """The addresses of all that the page needs to start."""
    own = sorted(path for path in (STATIC / "capture").iterdir() if path.suffix in _KEPT)
    return (PAGE, "/manifest.webmanifest", *(f"/static/capture/{path.name}" for path in own))


def service_worker(settings: Settings) -> bytes:
    """sw.js with the addresses of the page's files and the digest of what is in them.

    It is made anew each time, so that it never tells of other files than those that are served.
    """
    script = (STATIC / "sw.js").read_text("utf-8")
    files = shell_files()
    digest = hashlib.sha256(script.encode("utf-8"))
    for file in files:
        content = (
            bytes(_page(settings).body)
            if file == PAGE
            else (STATIC / file.removeprefix("/static/").lstrip("/")).read_bytes()
        )
        digest.update(f"{file} {len(content)}\n".encode() + content)
    shell = json.dumps({"version": digest.hexdigest()[:16], "files": files})
    before, _, after = script.partition(_SHELL)
    return f"{before}{shell}{after}".encode()


def get_page(request: Request) -> Response:
    response = _page(access.settings_of(request))
    response.headers["Cache-Control"] = "no-cache"
    return response


def get_service_worker(request: Request) -> Response:
    # a worker rules the folder that it comes from, so it comes from the root
    worker = service_worker(access.settings_of(request))
    return Response(worker, media_type="text/javascript", headers={"Cache-Control": "no-cache"})


routes: list[BaseRoute] = [Route(PAGE, get_page), Route("/sw.js", get_service_worker)]

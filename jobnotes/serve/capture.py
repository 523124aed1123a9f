"""The technician's page, and the script that keeps it on the phone for when there is no network."""

from __future__ import annotations

import functools
import hashlib
import json
import tomllib
from importlib import resources

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import BaseRoute, Route

from jobnotes.serve.pages import STATIC, page

PAGE = "/capture"
_SHELL = '/* shell */ { version: "", files: [] }'
_KEPT = (".js", ".css", ".png")


def _page() -> HTMLResponse:
    """The same for every device and job: the job stands in the address's fragment."""
    return page("capture.html", units=json.dumps(_spoken_units(), ensure_ascii=False))


@functools.cache
def _spoken_units() -> dict[str, str]:
    """How each unit is said, by its UCUM code: the first of its forms."""
    table = tomllib.loads(resources.files("jobnotes.data").joinpath("units.toml").read_text("utf-8"))
    return {unit["ucum"]: unit["forms"][0] for unit in table["unit"]}


def shell_files() -> tuple[str, ...]:
    """The addresses of all that the page needs to start."""
    own = sorted(path for path in (STATIC / "capture").iterdir() if path.suffix in _KEPT)
    return (PAGE, "/manifest.webmanifest", *(f"/static/capture/{path.name}" for path in own))


def service_worker() -> bytes:
    """sw.js with the addresses of the page's files and the digest of what is in them.

    It is made anew each time, so that it never tells of other files than those that are served.
    """
    script = (STATIC / "sw.js").read_text("utf-8")
    files = shell_files()
    digest = hashlib.sha256(script.encode("utf-8"))
    for file in files:
        content = (
            bytes(_page().body)
            if file == PAGE
            else (STATIC / file.removeprefix("/static/").lstrip("/")).read_bytes()
        )
        digest.update(f"{file} {len(content)}\n".encode() + content)
    shell = json.dumps({"version": digest.hexdigest()[:16], "files": files})
    before, _, after = script.partition(_SHELL)
    return f"{before}{shell}{after}".encode()


def get_page(request: Request) -> Response:
    response = _page()
    response.headers["Cache-Control"] = "no-cache"
    return response


def get_service_worker(request: Request) -> Response:
    # a worker rules the folder that it comes from, so it comes from the root
    return Response(service_worker(), media_type="text/javascript", headers={"Cache-Control": "no-cache"})


routes: list[BaseRoute] = [Route(PAGE, get_page), Route("/sw.js", get_service_worker)]

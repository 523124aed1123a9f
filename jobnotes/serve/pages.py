"""The pages' frame: templates, files that hold nothing of any job, and the pages for everybody."""

from __future__ import annotations

import functools
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, Response
from starlette.routing import BaseRoute, Mount, Route
from starlette.staticfiles import StaticFiles

HERE = Path(__file__).parent
STATIC = HERE / "static"


class _Static(StaticFiles):
    """Asked for anew each time, and answered "not modified": a new version is never mixed with an old one."""

    def file_response(self, *args: Any, **more: Any) -> Response:
        response = super().file_response(*args, **more)
        response.headers["Cache-Control"] = "no-cache"
        return response


@functools.cache
def _templates() -> Environment:
    return Environment(
        loader=FileSystemLoader(HERE / "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )


def page(name: str, status: int = 200, **values: object) -> HTMLResponse:
    """The template of that name, filled in; everything is escaped."""
    return HTMLResponse(_templates().get_template(name).render(**values), status)


def pair(request: Request) -> Response:
    return page("pair.html")


def manifest(request: Request) -> Response:
    return FileResponse(
        STATIC / "manifest.webmanifest",
        media_type="application/manifest+json",
        headers={"Cache-Control": "no-cache"},
    )


routes: list[BaseRoute] = [
    Route("/pair", pair),
    Route("/manifest.webmanifest", manifest),
    Mount("/static", _Static(directory=STATIC), name="static"),
]

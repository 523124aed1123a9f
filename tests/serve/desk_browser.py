"""The desk in a real browser: the server on a port of this machine, and pages that are paired with it."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import uvicorn
from starlette.applications import Starlette

from jobnotes.serve import access
from jobnotes.serve.settings import Settings

CHROMIUM = "/usr/bin/chromium"
FLAGS = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--autoplay-policy=no-user-gesture-required",
)
SIZES = {"phone": {"width": 360, "height": 740}, "desk": {"width": 1280, "height": 900}}


@contextmanager
def answering(app: Starlette, chromium: Any) -> Iterator[None]:
    """The application answers at its address; what the browser has open is closed before it ends."""
    port = int(app.state.settings.address.rpartition(":")[2])
    server = uvicorn.Server(uvicorn.Config(app, host="127.0.0.1", port=port, log_level="warning"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    try:
        yield
    finally:
        for context in list(chromium.contexts):
            context.close()
        server.should_exit = True
        thread.join(timeout=10)


def clerks_page(app: Starlette, chromium: Any, size: str, name: str = "Office desk", **more: Any) -> Any:
    """An empty page of a browser that is paired as a clerk; `page.problems` has what its scripts throw."""
    settings: Settings = app.state.settings
    context = chromium.new_context(
        viewport=SIZES[size],
        base_url=settings.address,
        locale="en-GB",
        timezone_id="Europe/London",
        accept_downloads=True,
        **more,
    )
    code = access.new_code(app.state.store, settings, "clerk").code
    answer = context.request.post("/api/pair", data={"code": code, "name": name})
    assert answer.ok, answer.text()
    page = context.new_page()
    page.problems = []
    page.on("pageerror", lambda error: page.problems.append(str(error)))
    return page

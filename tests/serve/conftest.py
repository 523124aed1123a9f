from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_browser import CHROMIUM, FLAGS
from served import Paired, Running, Served, served, start


@pytest.fixture
def web(tmp_path: Path) -> Iterator[Served]:
    """The application with `served.FakeRecogniser`; `web.hear()` hears what is queued."""
    app = served(tmp_path / "library")
    yield app
    app.app.state.store.close()


@pytest.fixture
def web_that_hears(tmp_path: Path) -> Iterator[Served]:
    """The application with the real recogniser, which takes some seconds to load."""
    app = served(tmp_path / "library", make_recogniser=None)
    yield app
    app.app.state.store.close()


@pytest.fixture
def technician(web: Served) -> Paired:
    return web.pair("technician", "phone one")


@pytest.fixture
def clerk(web: Served) -> Paired:
    return web.pair("clerk", "desk")


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield browser
        browser.close()


@pytest.fixture
def running_server(tmp_path: Path) -> Iterator[Running]:
    """`jobnotes serve` on a free port of this machine, with the real recogniser."""
    running = start(tmp_path / "library")
    yield running
    if running.process.poll() is None:
        running.stop()

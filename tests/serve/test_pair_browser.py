"""Pairing in a real browser: by the address that is printed or scanned, on this machine and over TLS."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from served import Running, paired, start

from jobnotes.serve.addresses import private_addresses

pytestmark = pytest.mark.browser

CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
SIZES = {"phone": {"width": 360, "height": 740}, "desk": {"width": 1280, "height": 900}}


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    sync_api = pytest.importorskip("playwright.sync_api")
    with sync_api.sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        yield browser
        browser.close()


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Running, Any]]:
    """The server, and a clerk that is paired with it."""
    running = start(tmp_path_factory.mktemp("served") / "library")
    yield running, paired(running.browser(), running.codes["clerk"], "desk")
    running.stop()


def problems_of(page: Any) -> list[str]:
    """What the browser complains of: a breach of the content security policy is among it."""
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: said.append(str(error)))
    return said


def test_the_printed_address_pairs_and_the_code_stays_nowhere(
    chromium: Any, server: tuple[Running, Any]
) -> None:
    running, clerk = server
    code = clerk.post("/api/pairing", {"role": "technician"}).json()
    page = chromium.new_context(viewport=SIZES["phone"]).new_page()
    said = problems_of(page)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.goto(code["address"])
    page.wait_for_function("() => document.getElementById('code').value !== ''")
    assert page.input_value("#code") == code["code"]
    assert page.url == f"{running.address}/pair"
    page.fill("#name", "the phone of bay two")
    page.press("#name", "Enter")
    page.wait_for_url(f"{running.address}/capture")
    assert [d["name"] for d in clerk.get("/api/devices").json()][-1] == "the phone of bay two"
    assert not any(code["code"] in url.partition("#")[0] for url in asked)
    assert page.evaluate("document.cookie") == "", "no script reads the session"
    assert said == []
    page.context.close()


def test_a_code_that_is_no_good_is_said(chromium: Any, server: tuple[Running, Any]) -> None:
    running, _ = server
    page = chromium.new_context(viewport=SIZES["phone"]).new_page()
    page.goto(f"{running.address}/capture")
    assert page.url == f"{running.address}/pair", "an unpaired phone is led here"
    page.fill("#code", "AAAA-AAAA")
    page.fill("#name", "x")
    page.click("button")
    page.wait_for_function("() => document.getElementById('said').textContent !== ''")
    assert "ask for a new one" in page.text_content("#said")
    assert page.is_enabled("button")
    page.context.close()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_nobody_is_kept_out_by_how_the_page_is_made(
    chromium: Any, server: tuple[Running, Any], size: str, scheme: str
) -> None:
    """axe-core finds nothing; what is touched is 48 px and more (WCAG 2.2 asks for 24)."""
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    running, clerk = server
    technician = paired(
        running.browser(), clerk.post("/api/pairing", {"role": "technician"}).json()["code"], "x"
    )
    context = chromium.new_context(viewport=SIZES[size], color_scheme=scheme)
    page = context.new_page()
    for path in ("/pair", "/desk"):
        if path == "/desk":  # which a technician is refused
            cookie = technician.client.cookies["jobnotes"]
            context.add_cookies([{"name": "jobnotes", "value": cookie, "url": running.address}])
        page.goto(running.address + path)
        found = axe.Axe().run(page)
        assert found.violations_count == 0, found.generate_report()
        sizes = page.evaluate(
            "[...document.querySelectorAll('button, input, a')].map(e => e.getBoundingClientRect())"
            ".map(box => Math.min(box.width, box.height))"
        )
        assert sizes
        assert min(sizes) >= 48
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    context.close()


@pytest.mark.skipif(not private_addresses(), reason="this machine is in no network")
@pytest.mark.skipif(shutil.which("certutil") is None, reason="needs certutil (Debian's libnss3-tools)")
def test_a_phone_that_trusts_the_authority_works_over_tls_with_all_that_needs_it(
    chromium: Any, tmp_path: Path
) -> None:
    """Without a warning, with the microphone allowed and the page kept for when there is no network."""
    running = start(tmp_path / "library", "--network")
    home = tmp_path / "home"
    trusted = home / ".pki" / "nssdb"
    trusted.mkdir(parents=True)
    authority = running.library / "serve" / "tls" / "authority.crt"
    for command in (["-N", "--empty-password"], ["-A", "-t", "C,,", "-n", "workshop", "-i", str(authority)]):
        subprocess.run(["certutil", "-d", f"sql:{trusted}", *command], check=True)
    browser = chromium.browser_type.launch(
        executable_path=CHROMIUM, args=FLAGS, env={**os.environ, "HOME": str(home)}
    )
    try:
        context = browser.new_context(viewport=SIZES["phone"])
        page = context.new_page()
        said = problems_of(page)
        page.goto(f"{running.address}/pair#{running.codes['technician']}")
        page.fill("#name", "phone")
        page.click("button")
        page.wait_for_url(f"{running.address}/capture")
        (cookie,) = context.cookies()
        assert (cookie["name"], cookie["secure"], cookie["httpOnly"], cookie["sameSite"]) == (
            "__Host-jobnotes",
            True,
            True,
            "Strict",
        )
        assert page.evaluate("isSecureContext && 'mediaDevices' in navigator")
        assert page.evaluate("navigator.serviceWorker.ready.then(ready => ready.active !== null)")
        assert said == []
    finally:
        browser.close()
        assert running.stop() == 0

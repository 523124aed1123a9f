"""The job card on the screen: each second's own, by the server's clock, and none rather than an old one."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from urllib.request import urlopen

import numpy as np
import pytest
from desk_browser import CHROMIUM, FLAGS, SIZES, answering
from PIL import Image
from served import Paired, Served, free_port, served

from jobnotes.reading.job.job_card import read_card
from jobnotes.seeing.barcodes import barcodes
from jobnotes.serve import access


def cards(device: Paired, job: str) -> Any:
    answer = device.get(f"/api/jobs/{job}/card")
    assert answer.status_code == 200, answer.text
    return answer.json()


def drawn(qr: str) -> Image.Image:
    """The picture in a data URI."""
    with urlopen(qr) as data:
        return Image.open(io.BytesIO(data.read()))


def said_by(picture: Image.Image) -> list[str]:
    return [code.text for code in barcodes(np.asarray(picture.convert("L"), dtype=np.uint8))]


def test_it_shows_this_second_and_has_the_next_one_ready(web: Served, technician: Paired) -> None:
    job = technician.open_job(number="4417", registration="QQ00 TST")
    before = datetime.now(UTC)
    told = cards(technician, job)
    after = datetime.now(UTC)
    now, following = (datetime.fromisoformat(card["clock"]) for card in told["cards"])
    assert before - timedelta(seconds=1) < now <= after
    assert following - now == timedelta(seconds=1)
    begins = after + timedelta(milliseconds=told["left_ms"])
    assert abs((begins - following).total_seconds()) < 0.5 + (after - before).total_seconds()
    for card in told["cards"]:
        (text,) = said_by(drawn(card["qr"]))
        read = read_card(text)
        assert read is not None
        assert (read.number, read.registration, read.clock_is) == ("4417", "QQ00 TST", "live")
        assert read.clock == datetime.fromisoformat(card["clock"])
        assert f"{read.clock:%H:%M:%S}" in card["shown"]


def test_a_job_without_a_number_has_no_card_and_says_why(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    answer = technician.get(f"/api/jobs/{job}/card")
    assert answer.status_code == 409
    assert "no number yet" in answer.json()["error"]
    assert "no number yet" in technician.get(f"/card/{job}").text


def test_nobody_else_sees_a_jobs_card(web: Served, technician: Paired, clerk: Paired) -> None:
    job = technician.open_job(number="4417")
    other = web.pair("technician", "phone two")
    for path in (f"/card/{job}", f"/api/jobs/{job}/card"):
        assert other.get(path).status_code == 404
        assert clerk.get(path).status_code == 200
        assert technician.get(path).status_code == 200
        assert web.browser().get(path).status_code in (303, 401)
    assert f'href="/desk/{job}"' in clerk.get(f"/card/{job}").text
    assert 'href="/capture"' in technician.get(f"/card/{job}").text


def test_the_page_runs_no_script_of_its_own_text_and_escapes_the_number(technician: Paired) -> None:
    job = technician.open_job(number="<script>44</script>")
    text = technician.get(f"/card/{job}").text
    assert "<script>44" not in text
    assert not re.search(r"<script(?![^>]*\bsrc=)|\bstyle=|\bon\w+=", text)


# --- in a browser --------------------------------------------------------------------------------


@pytest.fixture
def screen(tmp_path: Path) -> Iterator[Any]:
    """An application that answers at a port, and a browser that is paired as its clerk."""
    sync_api = pytest.importorskip("playwright.sync_api")
    port = free_port()
    web = served(tmp_path / "library", address=f"http://127.0.0.1:{port}", zone="Europe/London")
    with sync_api.sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        with answering(web.app, chromium):
            yield web, chromium
        chromium.close()


def opened(web: Served, chromium: Any, size: str, **job: str) -> Any:
    context = chromium.new_context(viewport=SIZES[size], base_url=web.settings.address)
    code = access.new_code(web.app.state.store, web.settings, "clerk").code
    assert context.request.post("/api/pair", data={"code": code, "name": "desk"}).ok
    csrf = context.request.get("/api/me").json()["csrf"]
    answer = context.request.post("/api/jobs", data=job, headers={access.CSRF_HEADER: csrf})
    page = context.new_page()
    page.problems = []
    page.on("pageerror", lambda error: page.problems.append(str(error)))
    page.on("console", lambda said: page.problems.append(said.text) if said.type == "error" else None)
    page.goto(f"/card/{answer.json()['id']}")
    return page


def photo_of(page: Any) -> tuple[datetime, datetime, str]:
    """What the screen shows, photographed, with the times before and after."""
    before = datetime.now(UTC)
    picture = Image.open(io.BytesIO(page.screenshot()))
    after = datetime.now(UTC)
    texts = said_by(picture)
    return before, after, texts[0] if texts else ""


@pytest.mark.browser
@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_picture_of_the_screen_tells_its_second(screen: tuple[Served, Any], size: str) -> None:
    web, chromium = screen
    page = opened(web, chromium, size, number="4417", registration="QQ00 TST")
    page.wait_for_selector("#code[src]")
    seen = set()
    for _ in range(4):
        before, after, text = photo_of(page)
        card = read_card(text)
        assert card is not None
        assert before - timedelta(seconds=1.3) <= card.clock <= after
        seen.add(card.clock)
        page.wait_for_timeout(1100)
    assert len(seen) == 4
    assert page.problems == []


@pytest.mark.browser
def test_without_an_answer_the_screen_shows_no_card(screen: tuple[Served, Any]) -> None:
    web, chromium = screen
    page = opened(web, chromium, "phone", number="4417")
    page.wait_for_selector("#code[src]")
    page.route("**/api/jobs/*/card", lambda route: route.abort())
    page.wait_for_selector("#code", state="hidden", timeout=4000)
    assert "no card, as its time would be wrong" in page.inner_text("#said")
    assert photo_of(page)[2] == ""
    page.unroute("**/api/jobs/*/card")
    page.wait_for_selector("#code[src]", timeout=5000)


@pytest.mark.browser
def test_the_page_is_accessible(screen: tuple[Served, Any]) -> None:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    web, chromium = screen
    page = opened(web, chromium, "phone", number="4417")
    page.wait_for_selector("#code[src]")
    assert axe.Axe().run(page).response["violations"] == []

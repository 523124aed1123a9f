"""The review of the sample job in a real browser: by keyboard alone, on a phone and at the desk.

Its words are heard once, by the recogniser that ships; each test has a copy of that library.
"""

from __future__ import annotations

import io
import os
import re
import shutil
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from desk_browser import SIZES, answering, clerks_page
from docx import Document
from served import ROOT, free_port
from starlette.applications import Starlette

from jobnotes.library.library import Library
from jobnotes.serve.app import create_app
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import ServeJob, Store
from jobnotes.serve.worker import conclude

pytestmark = pytest.mark.browser

SAMPLE = ROOT / "sample_media"
JOB = "samplejobx"
NARROW_NBSP = "\u00a0"


def settings_for(library: Path, port: int) -> Settings:
    return Settings(
        library=library,
        workshop=SAMPLE / "workshop",
        zone="Europe/London",
        address=f"http://127.0.0.1:{port}",
        workers=0,
    )


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A library in which the sample job was heard."""
    library = tmp_path_factory.mktemp("heard") / "library"
    settings = settings_for(library, 1)
    Library.open(library).close()
    store = Store(settings.database)
    shutil.copytree(SAMPLE / "job", settings.given(JOB))
    store.open_job(ServeJob(JOB, None, None, None, time.time(), "office"), [])
    conclude(settings, store, JOB, settings.recogniser())
    store.close()
    return library


@dataclass
class Desk:
    """The running server, and browsers that are paired with it as clerks."""

    app: Starlette
    chromium: Any

    def page(self, size: str = "desk", name: str = "Office desk", **more: Any) -> Any:
        page = clerks_page(self.app, self.chromium, size, name, **more)
        page.on("console", lambda said: said.type == "error" and page.problems.append(said.text))
        return page

    def review(self, size: str = "desk", name: str = "Office desk", **more: Any) -> Any:
        """The review, with the focus on the first statement, brought there by the Tab key."""
        page = self.page(size, name, **more)
        page.goto(f"/desk/{JOB}")
        page.wait_for_selector("li.fact[tabindex='0']")
        page.wait_for_load_state("networkidle")
        for _ in range(40):
            if page.evaluate("document.activeElement.matches('li.fact')"):
                return page
            page.keyboard.press("Tab")
        raise AssertionError("no statement can be reached with the Tab key")


@pytest.fixture
def desk(heard: Path, chromium: Any, tmp_path: Path) -> Iterator[Desk]:
    library = tmp_path / "library"
    shutil.copytree(heard, library)
    settings = settings_for(library, free_port())
    app = create_app(settings)
    with answering(app, chromium):
        yield Desk(app, chromium)


def state_of(page: Any) -> dict[str, Any]:
    return dict(page.request.get(f"/api/jobs/{JOB}/state").json())


def fact_of(page: Any, kind: str, **fields: str) -> dict[str, Any]:
    return next(
        f for f in state_of(page)["facts"] if f["kind"] == kind and fields.items() <= f["fields"].items()
    )


def go_to(page: Any, fact: dict[str, Any]) -> None:
    """Go to a statement with the arrow keys."""
    page.keyboard.press("Home")
    for _ in state_of(page)["facts"]:
        if page.evaluate("document.activeElement.id") == f"fact-{fact['id']}":
            return
        page.keyboard.press("ArrowDown")
    raise AssertionError("the arrow keys don't lead there")


def said(page: Any, start: str) -> str:
    """What is read out after a decision; it begins with `start`."""
    page.wait_for_function(
        "start => document.getElementById('said').textContent.startsWith(start)", arg=start
    )
    return str(page.inner_text("#said"))


def focused(page: Any, selector: str) -> None:
    """Wait until the focus is there: a dialog that closes gives it back a moment later."""
    page.wait_for_function("selector => document.activeElement?.matches(selector)", arg=selector)


def words_of(path: Path) -> str:
    opened = Document(io.BytesIO(path.read_bytes()))
    return "\n".join(
        "".join(t.text or "" for t in paragraph.iter() if t.tag.endswith("}t"))
        for paragraph in opened.element.iter()
        if paragraph.tag.endswith("}p")
    )


def tab_to(page: Any, selector: str) -> None:
    for _ in range(400):
        if page.evaluate("selector => document.activeElement.matches(selector)", selector):
            return
        page.keyboard.press("Tab")
    raise AssertionError(f"{selector} can't be reached with the Tab key")


# --- by keyboard alone ---------------------------------------------------------------------------


def test_a_whole_review_by_keyboard_ends_in_a_claim_that_holds_just_that(desk: Desk, tmp_path: Path) -> None:
    page = desk.review()
    torque, odometer = fact_of(page, "measurement", quantity="torque"), fact_of(page, "odometer")
    registration, closed = fact_of(page, "registration"), fact_of(page, "step", action="closed")
    assert {f["status"] for f in (torque, closed)} == {"check"}
    to_check = state_of(page)["counts"]["check"]

    go_to(page, torque)
    page.keyboard.press("Enter")
    assert f"{to_check - 1} left to check" in said(page, "Accepted: Torque 11")

    go_to(page, odometer)
    page.keyboard.press("Delete")
    said(page, "Rejected: Odometer")

    go_to(page, registration)
    page.keyboard.press("e")
    page.wait_for_selector("dialog#form[open]")
    page.wait_for_function("() => document.activeElement.value === 'QQ00TST'")
    page.keyboard.press("Control+a")
    page.keyboard.type("QQ11TST")
    page.keyboard.press("Enter")
    said(page, "Edited: Registration")
    focused(page, "li.fact")

    go_to(page, closed)
    page.keyboard.press("Delete")
    said(page, "Rejected: Closed")
    page.keyboard.press("u")
    said(page, "Undone: Closed")
    focused(page, f"#fact-{closed['id']}")

    now = {f["id"]: f for f in state_of(page)["facts"]}
    assert [now[f["id"]]["status"] for f in (torque, odometer, registration, closed)] == [
        "accepted",
        "rejected",
        "edited",
        "check",
    ]

    tab_to(page, "a.button[href$='claim.docx']")
    assert page.evaluate("document.activeElement.textContent") == "Warranty claim, draft"
    with page.expect_download() as download:
        page.keyboard.press("Enter")
    assert "draft" in download.value.suggested_filename
    file = tmp_path / "claim.docx"
    download.value.save_as(file)
    words = words_of(file)
    assert "QQ11TST" in words
    assert "QQ00TST" not in words
    assert "418206" not in words
    assert f"11{NARROW_NBSP}N·m" in words
    others = [f for f in now.values() if f["status"] == "check"]
    assert others
    assert not page.problems


def test_what_was_decided_stands_in_the_history_and_can_be_taken_back_there(desk: Desk) -> None:
    page = desk.review(name="Clerk at the counter")
    page.keyboard.press("Enter")
    said(page, "Accepted")
    page.wait_for_selector("#history li:has-text('Clerk at the counter')")
    told = page.inner_text("#history li")
    assert re.search(r"Before\s+Opened: drain valve \(to be checked\)\s+After\s+accepted", told)
    tab_to(page, "#history button")
    page.keyboard.press("Enter")
    said(page, "Undone")
    page.wait_for_selector("#history li.gone")
    assert state_of(page)["counts"]["decided"] == 0


def test_undo_takes_back_ones_own_last_decision_and_nobody_elses(desk: Desk) -> None:
    mine, other = desk.review(name="mine"), desk.review(name="other")
    mine.keyboard.press("Enter")
    said(mine, "Accepted")
    accepted = next(f for f in state_of(mine)["facts"] if f["group"] == "decided")
    go_to(other, fact_of(other, "registration"))
    other.keyboard.press("Delete")
    said(other, "Rejected")
    mine.keyboard.press("u")
    said(mine, "Undone")
    now = {f["id"]: f["status"] for f in state_of(mine)["facts"]}
    assert now[accepted["id"]] == "check"
    assert fact_of(mine, "registration")["status"] == "rejected"


def test_what_was_asked_before_a_decision_is_not_shown_after_it(desk: Desk) -> None:
    page = desk.review()
    late: list[Any] = []
    page.route("**/state", lambda route: late.append(route))
    for _ in range(400):  # the page asks anew every five seconds
        if late:
            break
        page.wait_for_timeout(50)
    before = late[0].fetch()
    page.keyboard.press("Enter")
    told = said(page, "Accepted")
    late[0].fulfill(response=before)
    page.wait_for_timeout(500)
    assert page.inner_text("#said") == told
    assert page.query_selector("li.fact.decided")


def test_a_photo_is_moved_by_keyboard(desk: Desk) -> None:
    page = desk.review()
    cause = fact_of(page, "cause")
    source = next(f for f in state_of(page)["facts"] if f["kind"] == "finding" and f["photos"])
    (photo,) = source["photos"]
    go_to(page, source)
    page.keyboard.press("p")
    page.wait_for_selector("dialog#photo[open]")
    assert page.evaluate("document.getElementById('photo-from').value") == source["id"]
    tab_to(page, "#photo-to")
    label = page.evaluate(
        "id => document.querySelector(`#photo-to option[value='${id}']`).textContent", cause["id"]
    )
    page.keyboard.type(label[:12])  # a list is chosen from by its first letters
    page.wait_for_function("id => document.getElementById('photo-to').value === id", arg=cause["id"])
    tab_to(page, "#photo-move button[type=submit]")
    page.keyboard.press("Enter")
    said(page, "Photo moved")
    assert photo in fact_of(page, "cause")["photos"]
    assert photo not in next(f for f in state_of(page)["facts"] if f["id"] == source["id"])["photos"]
    focused(page, "li.fact")


def test_a_statement_is_added_split_and_combined_by_keyboard(desk: Desk) -> None:
    page = desk.review()
    before = len(state_of(page)["facts"])
    page.keyboard.press("a")
    page.wait_for_selector("dialog#form[open]")
    page.keyboard.type("the mudflap is loose")
    tab_to(page, "#form-store")
    page.keyboard.press("Enter")
    said(page, "Added")
    page.wait_for_function("() => document.activeElement.textContent.includes('mudflap')")
    page.keyboard.press("s")
    page.wait_for_selector("dialog#form[open]")
    tab_to(page, "#f-second\\.text")
    page.keyboard.press("Control+a")
    page.keyboard.type("the left lamp is cracked")
    tab_to(page, "#form-store")
    page.keyboard.press("Enter")
    said(page, "Split")
    assert len(state_of(page)["facts"]) == before + 2
    page.keyboard.press("c")
    page.wait_for_selector("dialog#form[open]")
    page.keyboard.press("Escape")
    page.wait_for_selector("dialog#form[open]", state="detached")
    focused(page, "li.fact")


def test_keys_do_nothing_outside_the_list(desk: Desk) -> None:
    page = desk.review()
    before = state_of(page)["facts"]
    page.focus("#add")
    for key in ("e", "s", "u", "h", "Delete"):
        page.keyboard.press(key)
    assert not page.query_selector("dialog[open]")
    page.keyboard.press("Tab")
    assert state_of(page)["facts"] == before


def test_a_mistake_in_a_form_is_named_at_its_field_and_nothing_is_stored(desk: Desk) -> None:
    page = desk.review()
    go_to(page, fact_of(page, "measurement", quantity="torque"))
    page.keyboard.press("e")
    page.wait_for_selector("dialog#form[open]")
    page.keyboard.press("Control+a")
    page.keyboard.type("11,5")
    page.keyboard.press("Enter")
    page.wait_for_selector("#f-value[aria-invalid=true]")
    focused(page, "#f-value")
    assert "point" in page.inner_text("#f-value-wrong")
    assert page.request.get(f"/api/jobs/{JOB}/decisions").json() == []


# --- what is heard, and what has changed ---------------------------------------------------------


def test_a_statement_plays_its_own_seconds_and_half_a_second_on_each_side(desk: Desk) -> None:
    page = desk.review()
    torque = fact_of(page, "measurement", quantity="torque")
    go_to(page, torque)
    with page.expect_response(re.compile("/sound")) as answer:
        page.keyboard.press(" ")
    asked = re.search(r"/notes/(N\d+)/sound\?from=([\d.]+)&to=([\d.]+)", answer.value.url)
    assert asked is not None
    assert asked[1] == torque["note"]
    assert float(asked[2]) == pytest.approx(torque["start_s"] - 0.5, abs=0.006)
    assert float(asked[3]) == pytest.approx(torque["end_s"] + 0.5, abs=0.006)
    assert answer.value.headers["content-type"] == "audio/wav"
    page.wait_for_function(
        "() => document.querySelector('li.fact[aria-current] button.play').textContent === 'Stop'"
    )
    page.keyboard.press(" ")
    page.wait_for_function(
        "() => document.querySelector('li.fact[aria-current] button.play').textContent === 'Play'"
    )
    assert not page.problems


def test_of_two_clerks_the_second_is_told_and_shown_what_the_first_did(desk: Desk) -> None:
    second = desk.review(name="second desk")
    second.route("**/state", lambda route: route.abort())  # it doesn't hear of it by itself
    first = desk.review(name="first desk")
    fact = fact_of(first, "registration")
    go_to(first, fact)
    first.keyboard.press("Delete")
    said(first, "Rejected")
    second.focus(f"#fact-{fact['id']}")
    second.keyboard.press("Enter")
    second.wait_for_function("() => document.getElementById('alarm').textContent.includes('has changed')")
    assert "first desk" in second.inner_text(f"#fact-{fact['id']}")
    assert next(f for f in state_of(first)["facts"] if f["id"] == fact["id"])["status"] == "rejected"


def test_a_page_that_is_open_follows_what_others_decide(desk: Desk) -> None:
    watching, deciding = desk.review(name="one"), desk.review(name="other")
    deciding.keyboard.press("Enter")
    said(deciding, "Accepted")
    watching.wait_for_selector("li.fact.decided", timeout=15000)


def test_any_text_is_shown_as_text(desk: Desk) -> None:
    page = desk.review()
    markup = "<script>window.harmed=1</script><img src=x onerror='window.harmed=2'>"
    page.keyboard.press("a")
    page.wait_for_selector("dialog#form[open]")
    page.keyboard.type(f"{markup} מסנן אוויר {'long ' * 380}")
    tab_to(page, "#form-store")
    page.keyboard.press("Enter")
    said(page, "Added")
    page.wait_for_timeout(300)
    assert markup in page.inner_text("li.fact[aria-current] .text")
    assert page.evaluate("window.harmed") is None
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES["desk"]["width"]


def test_without_the_server_a_decision_is_said_to_be_not_stored(desk: Desk) -> None:
    page = desk.review()
    page.context.set_offline(True)
    page.keyboard.press("Enter")
    page.wait_for_function(
        "() => document.getElementById('alarm').textContent.includes('Nothing was stored')"
    )


def test_a_device_is_paired_and_shut_out_from_the_page(desk: Desk) -> None:
    other = desk.page(name="lost tablet")
    page = desk.page(name="Office desk")
    page.goto("/desk/devices")
    page.click("text=Show a code")
    page.wait_for_selector("#pairing-shown:not([hidden])")
    assert re.fullmatch(r"\w{4}-\w{4}", page.inner_text("#pairing-code"))
    page.wait_for_function("() => document.getElementById('qr').naturalWidth > 100")
    page.click("button[data-revoke]")
    page.click("#sure-yes")
    page.wait_for_selector("#ended-title")
    assert other.request.get("/api/me").status == 401


# --- for everybody -------------------------------------------------------------------------------


def violations(page: Any) -> list[str]:
    axe = pytest.importorskip("axe_playwright_python.sync_playwright")
    found = axe.Axe().run(page).response["violations"]
    return [f"{one['id']}: {one['nodes'][0]['html'][:160]}" for one in found]


SMALL = """() => [...document.querySelectorAll('button, a, input, select, textarea, summary')]
  .filter(e => e.getClientRects().length && !e.classList.contains('skip'))
  .map(e => e.matches('input[type=radio]') ? e.closest('label') : e)
  .map(e => [e.outerHTML.slice(0, 80), e.getBoundingClientRect()])
  .filter(([, box]) => box.height < 48 || box.width < 48).map(([text]) => text)"""

PAGES = {
    "jobs": ("/desk", None),
    "search": ("/desk/search?q=sensor", None),
    "devices": ("/desk/devices", "text=Show a code"),
    "review": (f"/desk/{JOB}", None),
    "edit": (f"/desk/{JOB}", "li.fact[aria-current] button:text-is('Edit')"),
    "split": (f"/desk/{JOB}", "li.fact[aria-current] button:text-is('Split')"),
    "combine": (f"/desk/{JOB}", "li.fact[aria-current] button:text-is('Combine')"),
    "add": (f"/desk/{JOB}", "#add"),
    "photo": (f"/desk/{JOB}", ".thumbs button"),
    "office": (f"/desk/{JOB}", "#office-open"),
    "missing": (f"/desk/{JOB}", "a[href='#lacks-title']:visible, #lacks-title"),
    "sources": (f"/desk/{JOB}", "a[href='#sources-title']:visible, #sources-title"),
}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", list(SIZES))
def test_every_page_and_dialog_is_accessible_and_fits(desk: Desk, size: str, scheme: str) -> None:
    page = desk.page(size, color_scheme=scheme)
    shots = os.environ.get("JOBNOTES_SHOTS")
    wrong: dict[str, list[str]] = {}
    for name, (path, press) in PAGES.items():
        page.goto(path)
        page.wait_for_load_state("networkidle")
        if press:
            page.click(press)
            if path.startswith("/desk/") and not press.startswith("a["):
                page.wait_for_selector("dialog[open], #pairing-shown:not([hidden])")
        if shots:
            page.screenshot(path=Path(shots) / f"desk-{name}-{SIZES[size]['width']}-{scheme}.png")
        found = violations(page)
        if page.evaluate("document.documentElement.scrollWidth") > SIZES[size]["width"]:
            found.append("wider than the screen")
        if size == "phone":
            found += [f"smaller than 48 px: {text}" for text in page.evaluate(SMALL)]
        if found:
            wrong[name] = found
    assert wrong == {}
    assert not page.problems


def test_the_focus_can_be_seen(desk: Desk) -> None:
    page = desk.review()
    for _ in range(6):
        shape = page.evaluate(
            "(s => [s.outlineStyle, parseFloat(s.outlineWidth)])(getComputedStyle(document.activeElement))"
        )
        assert shape[0] != "none"
        assert shape[1] >= 2
        page.keyboard.press("Tab")

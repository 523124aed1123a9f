"""A job of `jobnotes run` at the desk, in a real browser: reviewed, stated and added to, by keyboard."""

from __future__ import annotations

import os
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from desk_browser import SIZES, answering, clerks_page
from desk_jobs import make_desk_recogniser
from served import free_port, jpeg, served, wav
from test_jobs_of_the_library import Ran, at_desk, folder_in
from test_review_browser import (
    SMALL,
    focused,
    said,
    tab_to,
    violations,
    words_of,
)
from test_stated import DETAILS, form, workshop_in, write_details

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return workshop_in(tmp_path_factory.mktemp("office") / "workshop")


@pytest.fixture
def ran(tmp_path: Path, workshop: Path, chromium: Any) -> Iterator[Ran]:
    """A job with a job.toml, made by `jobnotes run`; what is added is heard when a test says so."""
    port = free_port()
    web = served(
        tmp_path / "library",
        make_recogniser=make_desk_recogniser,
        workshop=workshop,
        address=f"http://127.0.0.1:{port}",
        zone="Europe/London",
    )
    write_details(folder_in(tmp_path), DETAILS)
    made = at_desk(tmp_path, web)
    with answering(web.app, chromium):
        yield made


@pytest.fixture
def page(ran: Ran, chromium: Any) -> Any:
    return page_at(ran, chromium)


def page_at(ran: Ran, chromium: Any, size: str = "desk", **more: Any) -> Any:
    """The job's page, with all of it loaded."""
    page = clerks_page(ran.web.app, chromium, size, **more)
    page.goto(f"/desk/{ran.job}")
    loaded(page)
    return page


def loaded(page: Any) -> None:
    page.wait_for_selector("li.fact[tabindex='0']")
    page.wait_for_selector("#office-stated > *")


def opened(page: Any) -> None:
    """The office's form, opened by its key from the list of statements."""
    tab_to(page, "li.fact")
    page.keyboard.press("o")
    page.wait_for_selector("dialog#office[open]")


def fill(page: Any, selector: str, text: str) -> None:
    tab_to(page, selector)
    page.keyboard.press("Control+a")
    page.keyboard.type(text)


def test_a_job_that_was_run_is_opened_from_the_list_and_reviewed_by_keyboard(ran: Ran, page: Any) -> None:
    page.goto("/desk")
    tab_to(page, f"a[href='/desk/{ran.job}']")
    page.keyboard.press("Enter")
    loaded(page)
    doubtful = ran.fact("measurement", 1)
    tab_to(page, f"#fact-{doubtful['id']}")
    page.keyboard.press("Enter")
    said(page, "Accepted: Resistance")
    assert ran.run().record.fact(doubtful["id"]).status == "accepted"
    assert not page.problems


def test_what_the_office_knows_is_stated_by_keyboard_and_stands_in_the_documents(
    ran: Ran, page: Any, tmp_path: Path
) -> None:
    opened(page)
    focused(page, "#o-number")
    page.keyboard.type("4419")
    fill(page, "#o-customer\\.city", "Sampleton")
    fill(page, "#o-cover\\.parts\\.goodwill", "40")
    fill(page, "#o-cover\\.parts\\.warranty", "60")
    page.keyboard.press("Enter")
    told = said(page, "Stated: Job number, Town, Parts: warranty, %, Parts: goodwill, %")
    assert "left to check" in told
    page.wait_for_function("() => !document.getElementById('office').open")
    focused(page, "li.fact")
    page.wait_for_function("() => document.getElementById('money').textContent.includes('40.00')")
    page.wait_for_function("() => document.getElementById('job-name').textContent === '4419'")
    tab_to(page, "a.button[href$='customer.docx']")
    with page.expect_download() as download:
        page.keyboard.press("Enter")
    file = tmp_path / "customer.docx"
    download.value.save_as(file)
    assert "Sampleton" in words_of(file)
    assert not page.problems


def test_what_was_stated_is_taken_back_in_the_history(ran: Ran, page: Any) -> None:
    opened(page)
    fill(page, "#o-payer", "North Lease")
    page.keyboard.press("Enter")
    said(page, "Stated: Claimed from")
    page.wait_for_selector("#history li:has-text('North Lease'):has-text('Claim: Claimed from')")
    tab_to(page, "#history button")
    page.keyboard.press("Enter")
    said(page, "Undone: Claim: Claimed from")
    assert "value" not in form(ran)["payer"]


def test_a_mistake_is_told_beside_its_field_which_gets_the_focus(ran: Ran, page: Any) -> None:
    opened(page)
    fill(page, "#o-invoice\\.paid", "12,50")
    page.keyboard.press("Enter")
    page.wait_for_selector("#o-invoice\\.paid[aria-invalid=true]")
    focused(page, "#o-invoice\\.paid")
    page.wait_for_selector("#o-invoice\\.paid-wrong:has-text('point')")
    assert ran.history() == []
    page.keyboard.press("Control+a")
    page.keyboard.type("12.50")
    page.keyboard.press("Enter")
    said(page, "Stated: Paid already")


def test_rows_of_a_list_are_added_and_taken_out_by_keyboard(ran: Ran, page: Any) -> None:
    opened(page)
    tab_to(page, "[data-rows='invoice.allowance'] > button")
    page.keyboard.press("Enter")
    page.keyboard.type("fleet agreement")
    fill(page, "#o-invoice\\.allowance\\.0\\.amount", "a lot")
    page.keyboard.press("Enter")
    page.wait_for_selector("#o-invoice\\.allowance\\.0\\.amount[aria-invalid=true]")
    page.keyboard.press("Control+a")
    page.keyboard.type("4.00")
    page.keyboard.press("Enter")
    said(page, "Stated: Amounts off")
    assert form(ran)["invoice.allowance"]["value"] == [{"reason": "fleet agreement", "amount": "4.00"}]
    focused(page, "li.fact")
    page.keyboard.press("o")
    page.wait_for_selector("dialog#office[open]")
    tab_to(page, "[data-row='invoice.allowance'] > button")
    page.keyboard.press("Enter")
    tab_to(page, "#office button[type=submit]")
    page.keyboard.press("Enter")
    said(page, "Stated: Amounts off")
    page.wait_for_function("() => !document.getElementById('office').open")
    assert "value" not in form(ran)["invoice.allowance"]


def test_where_the_desk_and_the_file_differ_both_are_shown_and_the_file_can_count_again(
    ran: Ran, page: Any
) -> None:
    opened(page)
    fill(page, "#o-customer\\.name", "Other Fleet")
    page.keyboard.press("Enter")
    said(page, "Stated: Name")
    page.wait_for_selector("#office-stated .why:has-text('job.toml says Sample Fleet')")
    write_details(ran.folder, "[customer]\nname = 'Third Fleet'\n")
    ran.run()
    page.wait_for_selector("#office-stated .why:has-text('Third Fleet since then')", timeout=15000)
    page.wait_for_selector("#lacks .problem:has-text('Third Fleet')")
    tab_to(page, "#office-stated button")
    page.keyboard.press("Enter")
    said(page, "Left to the office’s file: Name")
    page.wait_for_function("() => document.getElementById('job-facts').textContent.includes('Third Fleet')")
    focused(page, "#office-open")


def test_recordings_and_photos_are_added_from_this_computer(ran: Ran, page: Any, tmp_path: Path) -> None:
    card = tmp_path / "card"
    card.mkdir()
    (card / "memo 20310407_081200.wav").write_bytes(wav(5, seed=9))
    (card / "IMG 1.jpg").write_bytes(jpeg("navy"))
    (card / "list.wav").write_bytes(b"parts to order\n" * 40)
    moment = datetime.fromisoformat("2031-04-07T08:15:06+01:00").timestamp()
    os.utime(card / "IMG 1.jpg", (moment, moment))
    page.set_input_files("#send", sorted(card.iterdir()))
    page.wait_for_function(
        "() => document.getElementById('send-said').textContent === '2 of 3 sent; 1 could not be taken.'"
    )
    page.wait_for_selector("#sending li:has-text('list.wav') .stop:has-text('not taken')")
    assert page.locator("#sending .done").count() == 2
    assert ran.web.hear() == 1
    page.wait_for_selector("li.fact:has-text('lift pump seal was worn')", timeout=15000)
    notes = {n["file"]: n for n in ran.state()["notes"]}
    assert notes["memo 20310407_081200.wav"]["started_at"] == "2031-04-07T08:12:00+01:00"
    (photo,) = [p for p in ran.state()["photos"] if p["file"] == "IMG 1.jpg"]
    assert photo["taken_at"] == "2031-04-07T08:15:06+01:00"
    assert len(ran.run().record.notes) == 6
    assert not page.problems


def test_what_broke_off_goes_on_and_the_same_file_again_is_one_note(
    ran: Ran, page: Any, tmp_path: Path
) -> None:
    memo = tmp_path / "memo.wav"
    memo.write_bytes(wav(5, seconds=150, seed=9))  # more than two pieces
    offsets: list[str] = []

    def once(route: Any) -> None:
        offsets.append(route.request.headers["upload-offset"])
        if len(offsets) == 2:
            route.abort()
        else:
            route.continue_()

    page.route("**/uploads/*", lambda r: once(r) if r.request.method == "PUT" else r.continue_())
    page.set_input_files("#send", memo)
    page.wait_for_function("() => document.getElementById('send-said').textContent.startsWith('1 of 1')")
    assert offsets == ["0", "2097152", "2097152", "4194304"]
    page.set_input_files("#send", memo)
    page.wait_for_function("() => document.querySelectorAll('#sending .done').length === 2")
    told = page.locator("#sending .done").all_inner_texts()
    assert told == ["is in this job already; nothing was added", "has arrived"]  # the latest first
    assert len([n for n in ran.state()["notes"] if n["status"] == "waiting"]) == 1


def test_an_empty_file_is_told_as_such(ran: Ran, page: Any, tmp_path: Path) -> None:
    (tmp_path / "memo.wav").write_bytes(b"")
    page.set_input_files("#send", tmp_path / "memo.wav")
    page.wait_for_selector("#sending .stop:has-text('not taken: it is empty: nothing was recorded in it')")


def test_a_job_of_which_nothing_was_heard_has_the_form_too(ran: Ran, page: Any) -> None:
    job = ran.clerk.open_job(number="5001")
    page.goto(f"/desk/{job}")
    page.wait_for_selector("#office-stated dl")
    tab_to(page, "#office-open")
    page.keyboard.press("Enter")
    page.wait_for_selector("dialog#office[open]")
    fill(page, "#o-customer\\.name", "Sample Fleet")
    page.keyboard.press("Enter")
    said(page, "Stated: Name")
    focused(page, "#office-open")
    page.wait_for_selector("#office-stated:has-text('Sample Fleet')")


STEPS = ("review", "office", "wrong", "sent")


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", list(SIZES))
def test_the_office_and_what_is_sent_are_accessible_and_fit(
    ran: Ran, chromium: Any, tmp_path: Path, size: str, scheme: str
) -> None:
    stated = {
        "values": {"customer.name": "Other Fleet", "customer.city": "Sampleton", "payer": "North Lease"}
    }
    assert ran.clerk.post(
        f"{ran.api}/stated", stated | {"seen": {"customer.name": "Sample Fleet"}}
    ).is_success
    page = page_at(ran, chromium, size, color_scheme=scheme)
    photo, text = tmp_path / "IMG 0042.jpg", tmp_path / "list.wav"
    photo.write_bytes(jpeg("navy"))
    text.write_bytes(b"parts to order\n" * 40)
    wrong: dict[str, list[str]] = {}
    for step in STEPS:
        if step == "office":
            page.click("#office-open")
            page.wait_for_selector("dialog#office[open]")
        elif step == "wrong":
            page.click("[data-rows='invoice.allowance'] > button")
            page.fill("#o-invoice\\.allowance\\.0\\.reason", "fleet agreement")
            page.fill("#o-invoice\\.paid", "12,50")
            page.click("#office button[type=submit]")
            page.wait_for_selector("#o-invoice\\.paid[aria-invalid=true]")
        elif step == "sent":
            page.click("#office-cancel")
            page.set_input_files("#send", [photo, text])
            page.wait_for_function(
                "() => document.getElementById('send-said').textContent.includes('1 of 2')"
            )
        found = violations(page)
        if page.evaluate("document.documentElement.scrollWidth") > SIZES[size]["width"]:
            found.append("wider than the screen")
        if size == "phone":
            found += [f"smaller than 48 px: {text}" for text in page.evaluate(SMALL)]
        if found:
            wrong[step] = found
        if shots := os.environ.get("JOBNOTES_SHOTS"):
            shown = {"review": "#office-title", "sent": "#sources-title"}.get(step)
            if shown:
                page.locator(shown).scroll_into_view_if_needed()
            page.screenshot(path=Path(shots) / f"desk-{step}-{size}-{scheme}.png")
    assert wrong == {}
    assert not page.problems

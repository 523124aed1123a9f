"""The files of the technician's page, without a browser: nothing from elsewhere, nothing inline."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from served import Paired, Served, served

from jobnotes.serve import capture
from jobnotes.serve.pages import HERE, STATIC

FILES = sorted([*(STATIC / "capture").glob("*.*"), STATIC / "sw.js", HERE / "templates" / "capture.html"])
TEXTS = [path for path in FILES if path.suffix in (".js", ".css", ".html")]
ADDRESS = re.compile(r"(?:https?:)?//[a-z0-9]", re.IGNORECASE)
COMMENT = re.compile(r"/\*.*?\*/|(?<![:\"'])// [^\n]*", re.DOTALL)


class Tags(HTMLParser):
    """Every tag with its attributes, and what stands between <script> or <style>."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.inline = ""
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data: str) -> None:
        if self.tags and self.tags[-1][0] in ("script", "style"):
            self.inline += data.strip()


@pytest.fixture
def html(technician: Paired) -> str:
    return str(technician.get("/capture").text)


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.name)
def test_no_file_names_an_address_elsewhere(path: Path) -> None:
    text = COMMENT.sub("", path.read_text("utf-8"))
    assert ADDRESS.search(text) is None


def test_the_page_has_no_script_style_or_handler_of_its_own(html: str) -> None:
    page = Tags(html)
    assert page.inline == ""
    for tag, attributes in page.tags:
        assert tag != "style"
        assert not [name for name in attributes if name == "style" or name.startswith("on")], (
            tag,
            attributes,
        )
    assert [a["src"] for t, a in page.tags if t == "script"] == ["/static/capture/page.js"]


def test_every_field_and_button_has_a_name(html: str) -> None:
    page = Tags(html)
    labelled = {attributes["for"] for tag, attributes in page.tags if tag == "label"}
    for tag, attributes in page.tags:
        if tag == "input":
            assert attributes.get("aria-label") or attributes["id"] in labelled
        if tag == "button":
            assert attributes["type"] in ("button", "submit")
    ids = [attributes["id"] for _, attributes in page.tags if "id" in attributes]
    assert len(ids) == len(set(ids))


def test_every_element_that_the_script_asks_for_is_on_the_page(html: str) -> None:
    asked = set(re.findall(r'\bel\("([\w-]+)"\)', (STATIC / "capture" / "page.js").read_text("utf-8")))
    there = {attributes.get("id") for _, attributes in Tags(html).tags}
    assert len(asked) > 20
    assert asked <= there


def test_the_caution_stands_before_all_that_is_heard(html: str) -> None:
    assert "Never dictate, photograph or look at this screen while anyone is at risk" in html
    assert html.index('id="caution"') < html.index('id="heard"')
    assert re.search(r'id="caution"[^>]*\bhidden\b', html) is None


def test_what_the_page_and_its_modules_load_is_what_the_phone_keeps(technician: Paired, html: str) -> None:
    needed = {attributes.get("src") or attributes.get("href") for _, attributes in Tags(html).tags}
    needed = {address for address in needed if address and address.startswith("/static/")}
    for module in (STATIC / "capture").glob("*.js"):
        imported = re.findall(r'\bfrom "\./([\w.]+)"', module.read_text("utf-8"))
        needed |= {f"/static/capture/{name}" for name in imported}
    manifest = technician.get("/manifest.webmanifest").json()
    needed |= {icon["src"] for icon in manifest["icons"]} | {"/capture", "/manifest.webmanifest"}
    assert needed <= set(capture.shell_files())
    for address in capture.shell_files():
        answer = technician.get(address)
        assert answer.status_code == 200, address
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"]


def test_the_manifest_has_what_a_phone_needs_to_install_the_page(technician: Paired) -> None:
    # members of the W3C Web Application Manifest
    answer = technician.get("/manifest.webmanifest")
    assert answer.headers["Content-Type"].startswith("application/manifest+json")
    manifest = answer.json()
    assert manifest["start_url"] == manifest["scope"] == "/capture"
    assert manifest["display"] == "standalone"
    assert len(manifest["short_name"]) <= 12
    assert {"any", "maskable"} == {icon["purpose"] for icon in manifest["icons"]}
    for icon in manifest["icons"]:
        picture = Image.open(BytesIO(technician.get(icon["src"]).content))
        assert "x".join(map(str, picture.size)) == icon["sizes"]
        assert picture.get_format_mimetype() == icon["type"]


def test_the_worker_is_another_when_a_file_of_the_page_changes(
    web: Served, technician: Paired, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    first = technician.get("/sw.js").content
    assert first == technician.get("/sw.js").content
    for path in FILES:
        copy = tmp_path / path.relative_to(HERE)
        copy.parent.mkdir(parents=True, exist_ok=True)
        copy.write_bytes(path.read_bytes())
    (tmp_path / "static" / "manifest.webmanifest").write_bytes((STATIC / "manifest.webmanifest").read_bytes())
    monkeypatch.setattr(capture, "STATIC", tmp_path / "static")
    assert capture.service_worker(web.settings) == first
    changed = tmp_path / "static" / "capture" / "store.js"
    changed.write_bytes(changed.read_bytes() + b"\n")
    assert capture.service_worker(web.settings) != first


def test_the_worker_comes_from_the_root_and_keeps_nothing_of_the_api(technician: Paired) -> None:
    answer = technician.get("/sw.js")
    assert answer.headers["Content-Type"].startswith("text/javascript")
    assert answer.headers["Cache-Control"] == "no-cache"
    shell = json.loads(re.search(r"const SHELL = ({.*?});", answer.text).group(1))  # type: ignore[union-attr]
    assert re.fullmatch("[0-9a-f]{16}", shell["version"])
    assert not [address for address in shell["files"] if "/api/" in address]


def test_the_page_is_the_same_for_every_device_and_tells_nothing_of_a_job(web: Served, html: str) -> None:
    other = web.pair("technician", "phone two")
    other.open_job(number="4711")
    assert other.get("/capture").text == html
    assert web.browser().get("/capture").status_code == 303


def test_every_unit_of_the_trade_has_a_way_to_be_said(html: str) -> None:
    units = json.loads(next(a["data-units"] or "" for t, a in Tags(html).tags if t == "body"))
    assert units["Ohm"] == "ohms"
    assert units["[psi]"]
    assert all(re.search("[a-z]", said) for said in units.values())


def test_a_workshops_own_units_are_said_back_as_it_says_them(tmp_path: Path) -> None:
    workshop = tmp_path / "workshop"
    workshop.mkdir()
    (workshop / "units.toml").write_text(
        'format = "jobnotes-units"\nversion = 1\n\n[[unit]]\nucum = "lx"\npint = "lux"\n'
        'quantity = "illuminance"\nforms = ["lux", "luxes"]\n'
    )
    web = served(tmp_path / "library", workshop=workshop)
    page = Tags(web.pair("technician", "phone").get("/capture").text)
    (units,) = [given["data-units"] for _, given in page.tags if "data-units" in given]
    told = json.loads(units or "")
    assert told["lx"] == "lux"
    assert told["Ohm"] == "ohms"
    without = replace(web.settings, workshop=None)
    assert capture.service_worker(web.settings) != capture.service_worker(without), (
        "the phone keeps the page, so it has to be told of another one"
    )
    web.app.state.store.close()


def test_every_page_tells_the_time_of_day_by_twenty_four_hours_as_the_documents_do() -> None:
    asked = [
        (path.name, call)
        for path in sorted(STATIC.rglob("*.js"))
        for call in re.findall(r"\.toLocale(?:Time)?String\([^;]*", path.read_text("utf-8"))
        if "hour:" in call or "timeStyle" in call
    ]
    assert len(asked) >= 4
    assert [name for name, call in asked if 'hourCycle: "h23"' not in call] == []

"""The clerk's pages and documents, as the server gives them."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path

import pytest
from desk_jobs import Desk, desk_with_job
from docx import Document

from jobnotes.serve.desk import file_name

TEMPLATES = Path(__file__).parents[2] / "jobnotes" / "serve" / "templates"
OWN = ("base", "desk", "review", "search", "devices")
MARKUP = "<script>alert(1)</script><img src=x onerror=alert(2)>"
RTL = "מסנן אוויר"


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    made = desk_with_job(tmp_path_factory.mktemp("pages"), photos=2)
    yield made
    made.web.app.state.store.close()


class Page(HTMLParser):
    """What of a page matters here: its elements with their attributes."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))

    def all(self, *tags: str) -> list[dict[str, str | None]]:
        return [given for tag, given in self.elements if tag in tags]


def page_of(desk: Desk, path: str) -> Page:
    answer = desk.clerk.get(path)
    assert answer.status_code == 200, answer.text
    assert answer.headers["content-type"] == "text/html; charset=utf-8"
    return Page(answer.text)


def paths(desk: Desk) -> tuple[str, ...]:
    return "/desk", "/desk/search?q=pump", "/desk/devices", f"/desk/{desk.job}"


def words_of(document: bytes) -> str:
    """All words of a document: its paragraphs, and those of its tables."""
    opened = Document(io.BytesIO(document))
    return "\n".join(node.text or "" for node in opened.element.iter() if node.tag.endswith("}t"))


def test_no_page_has_a_script_or_a_style_in_it_or_anything_from_elsewhere(desk: Desk) -> None:
    for path in paths(desk):
        page = page_of(desk, path)
        assert all(given.get("src", "").startswith("/static/") for given in page.all("script"))
        assert not page.all("style", "iframe", "object", "embed")
        for _, given in page.elements:
            assert not [name for name in given if name.startswith("on") or name == "style"]
            for name in ("src", "href", "action"):
                assert (given.get(name) or "/").startswith(("/", "#"))


def test_every_field_has_a_label_and_every_picture_a_text(desk: Desk) -> None:
    for path in paths(desk):
        page = page_of(desk, path)
        labelled = {given.get("for") for given in page.all("label")}
        for given in page.all("input", "select", "textarea"):
            assert given.get("id") in labelled or given.get("type") == "radio"
        assert all("alt" in given for given in page.all("img"))
        assert len(page.all("h1")) == 1


def test_the_templates_switch_off_no_escaping() -> None:
    for name in OWN:
        text = (TEMPLATES / f"{name}.html").read_text("utf-8")
        assert not re.search(r"\|\s*safe|autoescape|Markup", text), name


def test_every_key_stands_in_the_help(desk: Desk) -> None:
    script = (TEMPLATES.parent / "static" / "review.js").read_text("utf-8")
    table = re.search(r"const KEYS = \{(.*?)\n\};", script, re.DOTALL)
    assert table is not None
    keys = set(re.findall(r'^  (\w+|" "):', table[1], re.MULTILINE))
    assert len(keys) >= 10
    shown = {"ArrowUp": "↑", "ArrowDown": "↓", '" "': "Space"}
    help_text = (TEMPLATES / "review.html").read_text("utf-8").partition('id="help"')[2]
    for key in keys:
        name = shown.get(key, key.upper() if len(key) == 1 else key)
        assert f"<kbd>{name}</kbd>" in help_text, key


@pytest.mark.parametrize(
    "text", [MARKUP, RTL, "long " * 399 + "end"], ids=["markup", "right to left", "long"]
)
def test_any_text_of_a_part_comes_through_as_text(tmp_path: Path, text: str) -> None:
    desk = desk_with_job(tmp_path, 2)
    part = desk.fact("part")
    desk.decide("edit", part, kind="part", values={**part["fields"], "name": text})
    assert desk.fact("part")["fields"]["name"] == text
    found = desk.clerk.get("/desk/search", params={"q": text.split()[0][:12].strip("<>")})
    scripts = Page(found.text).all("script", "img")
    assert not scripts
    if "<" in text:
        assert "&lt;script&gt;" in found.text
    else:
        assert text in found.text
    document = desk.clerk.get(f"{desk.api}/documents/workshop.docx").content
    assert text[:60].split()[0] in words_of(document)


def test_a_name_of_a_device_and_a_search_are_shown_as_text(desk: Desk) -> None:
    other = desk.web.pair("clerk", "<b>desk</b>")
    assert "&lt;b&gt;desk" in other.get("/desk/devices").text
    shown = other.get("/desk/search", params={"q": '"><script>x</script>'}).text
    assert not Page(shown).all("b")
    assert "<script>x" not in shown


def test_a_search_finds_what_was_said_in_any_job(desk: Desk) -> None:
    (job,) = desk.clerk.get("/api/search", params={"q": "lift pump"}).json()
    assert (job["id"], job["name"]) == (desk.job, "4417")
    assert {fact["kind"] for fact in job["facts"]} == {"part", "finding"}
    page = page_of(desk, "/desk/search?q=lift+pump")
    links = [given["href"] for given in page.all("a") if "#" in (given.get("href") or "")]
    assert f"/desk/{desk.job}#{job['facts'][0]['fact']}" in links
    assert desk.clerk.get("/api/search", params={"q": "no such thing"}).json() == []
    assert desk.clerk.get("/desk/search").status_code == 200


# --- documents -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["claim", "customer", "workshop"])
def test_each_document_can_be_downloaded_and_says_draft_while_anything_is_unchecked(
    desk: Desk, name: str
) -> None:
    answer = desk.clerk.get(f"{desk.api}/documents/{name}.docx")
    assert answer.status_code == 200
    assert answer.headers["content-disposition"] == f'attachment; filename="{name}-4417-draft.docx"'
    assert "lift pump" in words_of(answer.content)


def test_a_claim_holds_what_was_decided_and_is_no_draft_once_all_is_checked(tmp_path: Path) -> None:
    desk = desk_with_job(tmp_path)
    desk.decide("accept", desk.fact("measurement", 1))
    desk.decide("reject", desk.fact("fault_code"))
    part = desk.fact("part")
    desk.decide("edit", part, kind="part", values={**part["fields"], "number": "ZX-900"})
    assert not desk.state()["draft"]
    answer = desk.clerk.get(f"{desk.api}/documents/claim.docx")
    assert 'filename="claim-4417.docx"' in answer.headers["content-disposition"]
    words = words_of(answer.content)
    assert "ZX-900" in words
    assert "4567891" not in words
    assert "SPN 102" not in words
    assert "60.2" in words
    assert desk.clerk.get(f"{desk.api}/documents/claim.docx").content == answer.content


def test_there_are_no_other_documents(desk: Desk) -> None:
    assert desk.clerk.get(f"{desk.api}/documents/record.docx").status_code == 404
    empty = desk.clerk.open_job()
    assert desk.clerk.get(f"/api/jobs/{empty}/documents/claim.docx").status_code == 409


@pytest.mark.parametrize(
    ("number", "name"),
    [
        ("4417", "claim-4417-draft.docx"),
        (None, "claim-draft.docx"),
        ('../x"\r\nSet-Cookie: a', "claim-x-Set-Cookie-a-draft.docx"),
        (RTL, "claim-draft.docx"),
        ("9" * 300, f"claim-{'9' * 40}-draft.docx"),
    ],
)
def test_a_documents_name_holds_only_what_any_system_takes(number: str | None, name: str) -> None:
    assert file_name("claim", number, draft=True) == name


def test_a_technician_gets_none_of_it(desk: Desk) -> None:
    technician = desk.web.pair("technician", "phone two")
    for path in (*paths(desk), "/api/search?q=pump"):
        assert technician.get(path).status_code == 403

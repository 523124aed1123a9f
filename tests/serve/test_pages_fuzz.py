"""A page answers whatever it is asked for, and shows it as text; of the API tells test_api_fuzz.py."""

from __future__ import annotations

from collections.abc import Iterator
from urllib.parse import quote

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from lxml import html
from served import Paired, Served, jpeg, served, wav

MARK = "<script>alert(1)</script>"
HOSTILE = (
    MARK, '"><img src=x onerror=alert(1)>', "' onmouseover=alert(1) x='", "javascript:alert(1)", "{{7*7}}",
    "{% raw %}", "]]>", "&lt;", "\x00", "\x1b[31m", "\u202e", "\ud800", "🔧" * 300, "x" * 5000, '" OR 1=1 --',
    "NEAR(", "a AND", "*", "^", "-", "../../etc/passwd", "..\\..", "%00", "%2e%2e%2f",
)  # fmt: skip
TEXT = st.one_of(
    st.sampled_from(HOSTILE), st.text(st.characters(codec=None, exclude_categories=()), max_size=40)
)
few = settings(max_examples=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))


@pytest.fixture(scope="module")
def clerk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Paired]:
    """At a desk whose job bears a hostile number and registration."""
    web: Served = served(tmp_path_factory.mktemp("pages") / "library")
    technician = web.pair("technician")
    job = technician.open_job(number=MARK, registration='"><b>')
    technician.send(job, wav(1))
    technician.send(job, jpeg())
    web.hear()
    yield web.pair("clerk", MARK)
    web.app.state.store.close()


def asked(clerk: Paired, address: str) -> str:
    answer = clerk.get(address)
    assert answer.status_code < 500, address
    if "html" in answer.headers.get("content-type", ""):
        page = html.document_fromstring(answer.text or "<p></p>")
        assert not page.xpath("//script[contains(., 'alert(1)')]"), address
        assert not page.xpath("//@onerror | //@onmouseover"), address
        assert not [at for at in page.xpath("//@href | //@src") if at.strip().startswith("javascript:")]
        assert "{{7*7}}" not in address or "49" not in page.text_content(), address
    return str(answer.text)


def escaped(text: str) -> str:
    return quote(text, safe="", errors="surrogatepass")


@pytest.mark.slow
@few
@given(TEXT)
@example("hose")
def test_a_search_shows_what_was_searched_for_as_text(clerk: Paired, text: str) -> None:
    asked(clerk, f"/desk/search?q={escaped(text)}")
    asked(clerk, f"/api/search?q={escaped(text)}")


@pytest.mark.slow
@few
@given(TEXT, st.sampled_from(["/desk/{}", "/card/{}", "/desk?from={}", "/pair?code={}", "/{}"]))
def test_any_address_is_answered(clerk: Paired, text: str, address: str) -> None:
    asked(clerk, address.format(escaped(text)))


def test_names_given_by_phones_are_text_on_every_page(clerk: Paired) -> None:
    (job,) = clerk.get("/api/jobs").json()
    for page in ("/desk", "/desk/devices", f"/desk/{job['id']}", f"/card/{job['id']}", "/"):
        asked(clerk, page)
    assert "&lt;script&gt;" in clerk.get("/desk").text


@pytest.mark.slow
@few
@given(TEXT, st.sampled_from(["at", "width", "of"]))
@example("0,0,1,1", "at")
@example("nan,nan,nan,nan", "at")
@example("-1,-1,9e99,9e99", "at")
@example("0,0,0,0", "at")
@example("inf,0,-inf,1", "at")
@example("1e-400,0,1,1,1", "at")
def test_any_part_of_a_photo_may_be_asked_for(clerk: Paired, text: str, name: str) -> None:
    (job,) = clerk.get("/api/jobs").json()
    for photo in ("P1", "P9", escaped(text)[:200]):
        asked(clerk, f"/api/jobs/{job['id']}/photos/{photo}?{name}={escaped(text)}")

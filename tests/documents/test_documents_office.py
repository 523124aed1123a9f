"""The documents rendered by a word processor (LibreOffice, a system package)."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from coach_job import DAY, coach, drawing, note, photo
from documents_read import Written, house_of, written
from letterheads import FIRST_LINE, FOOT, letterhead
from priced_job import priced
from test_documents_robust import full_of

from jobnotes import record as r
from jobnotes.documents import load

Pages = dict[str, list[str]]
pytestmark = pytest.mark.office


def rendered(folder: Path, out: Path) -> Pages:
    """The text of each page of each document in `folder`."""
    soffice, pdftotext = shutil.which("soffice"), shutil.which("pdftotext")
    if soffice is None or pdftotext is None:
        pytest.skip("needs LibreOffice and pdftotext")
    files = sorted(str(path) for path in folder.glob("*.docx"))
    profile = f"-env:UserInstallation={(out / 'profile').as_uri()}"
    made = subprocess.run(
        [soffice, "--headless", profile, "--convert-to", "pdf", "--outdir", str(out), *files],
        capture_output=True,
        text=True,
        timeout=300,
        check=True,
    )
    assert "Error" not in made.stderr
    pages = {}
    for pdf in sorted(out.glob("*.pdf")):
        text = subprocess.run(
            [pdftotext, "-layout", str(pdf), "-"], capture_output=True, text=True, timeout=60, check=True
        ).stdout
        pages[pdf.stem] = text.split("\f")[:-1]
    assert set(pages) == {Path(file).stem for file in files}
    return pages


def body(page: str) -> list[str]:
    """The lines of a page without its footer."""
    return [line for line in page.splitlines() if line.strip()][:-1]


@pytest.fixture(scope="module")
def coach_pages(coach_documents: Written, tmp_path_factory: pytest.TempPathFactory) -> Pages:
    return rendered(coach_documents.folder, tmp_path_factory.mktemp("pages"))


@pytest.fixture(scope="module")
def priced_pages(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Pages]:
    """The priced job on A4, on Letter and under a letterhead."""
    base = tmp_path_factory.mktemp("priced-pages")
    own = letterhead(base / "own.docx")
    houses = {
        "A4": load(),
        "Letter": house_of(paper="Letter", locale="en-US"),
        "letterhead": house_of(letterhead=own, guarantee="For a year."),
        "narrow": house_of(letterhead=letterhead(base / "narrow.docx", side_mm=42), paper="Letter"),
    }
    pages = {}
    for name, house in houses.items():
        folder, out = base / name, base / f"{name}-pdf"
        folder.mkdir()
        out.mkdir()
        written(priced(), folder, drawing, house=house)
        pages[name] = rendered(folder, out)
    return pages


@pytest.mark.parametrize("house", ["A4", "Letter", "letterhead", "narrow"])
def test_a_priced_job_keeps_its_summary_on_one_page_and_its_totals_together(
    priced_pages: dict[str, Pages], house: str
) -> None:
    first, second, *_ = priced_pages[house]["claim"]
    for item in ("Workshop", "In service since", "Complaint", "Causal part", "Amount claimed, goodwill"):
        assert item in first
    assert "Evidence is given as" in first  # the last line of the summary
    assert "What bears out the cause" in second
    [totals] = [page for page in priced_pages[house]["customer"] if "Total without tax" in page]
    for item in ("Sum of the lines", "Total with tax", "To be paid "):
        assert item in totals
    for name, sheets in priced_pages[house].items():
        for number, page in enumerate(sheets, 1):
            assert f"Page {number} of {len(sheets)}" in page
            assert "4820-B" in page
            if house in ("letterhead", "narrow"):
                assert FIRST_LINE in page
                assert FOOT in page
            assert len(body(page)) >= 3, (name, number)


def test_no_heading_of_a_priced_job_is_the_last_thing_on_a_page(
    priced_documents: Written, priced_pages: dict[str, Pages]
) -> None:
    for pages in priced_pages.values():
        for name, document in priced_documents.each():
            styled = [p for p in document.paragraphs if p.style is not None]
            headings = {p.text for p in styled if p.style.name.startswith("Heading")}
            for page in pages[name]:
                last = [line for line in body(page) if FOOT not in line][-1]
                assert last.strip() not in headings


def test_the_sample_job_renders_to_a_few_full_pages(coach_pages: Pages) -> None:
    assert 5 <= len(coach_pages["claim"]) <= 8
    assert 4 <= len(coach_pages["customer"]) <= 6
    assert 3 <= len(coach_pages["workshop"]) <= 6
    for name, sheets in coach_pages.items():
        for number, page in enumerate(sheets, 1):
            assert f"Page {number} of {len(sheets)}" in page
            assert "4820-B" in page
            # captions of photos alone are a full page; a heading alone is not
            assert len(body(page)) >= 3, (name, number)


def test_no_heading_is_the_last_thing_on_a_page(coach_documents: Written, coach_pages: Pages) -> None:
    for name, document in coach_documents.each():
        styled = [p for p in document.paragraphs if p.style is not None]
        headings = {p.text for p in styled if p.style.name.startswith("Heading")}
        for page in coach_pages[name]:
            assert body(page)[-1].strip() not in headings


def test_the_summary_is_the_first_page_and_nothing_else_is_on_it(coach_pages: Pages) -> None:
    first, second, *_ = coach_pages["claim"]
    for item in ("Complaint", "Cause", "Correction", "Causal part", "SPN 1044 FMI 1", "312480"):
        assert item in first
    assert "Findings" not in first
    assert "Findings" in second


def test_a_table_that_goes_on_repeats_its_header(coach_pages: Pages) -> None:
    index = [page for page in coach_pages["claim"] if re.search(r"Kind\s+Statement\s+Note", page)]
    assert len(index) >= 2


def test_a_german_job_renders_without_an_english_word_of_ours(tmp_path: Path) -> None:
    """Longer words: the summary is still a page, and so are all of them, on narrow pages too."""
    english = ("Summary", "Evidence", "Page ", "To be checked", "Amount claimed", "Labour", "within limit")
    for name, house in {
        "A4": house_of(locale="de-DE"),
        "Letter": house_of(locale="de-DE", paper="Letter"),
        "narrow": house_of(
            locale="de-DE", paper="Letter", letterhead=letterhead(tmp_path / "own.docx", side_mm=42)
        ),
    }.items():
        folder, out = tmp_path / name, tmp_path / f"{name}-pdf"
        folder.mkdir()
        out.mkdir()
        written(priced(), folder, drawing, house=house)
        pages = rendered(folder, out)
        first, second, *_ = pages["claim"]
        for item in ("Beanstandung", "Ursache", "Abhilfe", "Ursächliches Teil", "Arbeit ausgeführt"):
            assert item in first
        assert "Belege: die Sprachnotiz" in first
        assert "Was die Ursache stützt" in second
        for sheets in pages.values():
            for number, page in enumerate(sheets, 1):
                assert f"Seite {number} von {len(sheets)}" in page
                assert not any(word in page for word in english), (name, number)


def test_awkward_records_render(tmp_path: Path) -> None:
    awkward = {
        "empty": r.Record(job=r.Job()),
        "long": full_of("a very long name " * 120),
        "unbroken": full_of("x" * 2000),
        "rtl": replace(coach(), job=r.Job(number="7", customer="شركة حافلات الميناء 12")),
        "many": r.Record(
            job=r.Job(),
            notes=(note(1, DAY),),
            photos=tuple(photo(n, DAY, width=400, height=300, fact_ids=("F1",)) for n in range(1, 61)),
            facts=(
                r.Fact("F1", r.Statement("finding", "one of many"), "", 0.9, "sure", note="N1", start_s=0.0),
            ),
        ),
    }
    flat = tmp_path / "flat"
    flat.mkdir()
    for name, record in awkward.items():
        folder = tmp_path / name
        folder.mkdir()
        written(record, folder, drawing)
        for path in folder.glob("*.docx"):
            shutil.copy(path, flat / f"{name}-{path.name}")
    pages = rendered(flat, tmp_path)
    assert len(pages) == 15
    assert all(len(sheets) >= 1 for sheets in pages.values())
    assert len(pages["empty-claim"]) == 1
    assert 10 <= len(pages["many-claim"]) <= 20


def test_a_letterhead_that_another_word_processor_saved_is_taken_over(tmp_path: Path) -> None:
    soffice = shutil.which("soffice")
    if soffice is None:
        pytest.skip("needs LibreOffice")
    own = letterhead(tmp_path / "own.docx", first_page=True)
    profile = f"-env:UserInstallation={(tmp_path / 'profile').as_uri()}"
    saved = tmp_path / "saved"
    convert = [
        soffice,
        profile,
        "--headless",
        "--convert-to",
        "docx:MS Word 2007 XML",
        "--outdir",
        str(saved),
    ]
    subprocess.run([*convert, str(own)], capture_output=True, timeout=120, check=True)
    out = tmp_path / "out"
    out.mkdir()
    told = written(priced(), out, house=house_of(letterhead=saved / "own.docx"))
    assert told.claim.paragraphs[0].style.font.size.pt == 24
    pages = rendered(out, tmp_path)
    first, *others = pages["claim"]
    assert FIRST_LINE in first
    assert not any(FIRST_LINE in page for page in others)
    assert all("4820-B" in page and f"of {len(pages['claim'])}" in page for page in pages["claim"])

"""The documents rendered by a word processor (LibreOffice, a system package)."""

from __future__ import annotations

import re
import shutil
import subprocess
from dataclasses import replace
from pathlib import Path

import pytest
from coach_job import DAY, coach, drawing, note, photo
from documents_read import Written, written
from test_documents_robust import full_of

from jobnotes import record as r

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

"""docs/prices.md: its files load, and what the technician says comes to what the page says."""

from __future__ import annotations

import re
from decimal import Decimal
from pathlib import Path

import pytest

from jobnotes.checking.check import check
from jobnotes.errors import JobnotesError
from jobnotes.office import job as jobs
from jobnotes.office import office as offices
from jobnotes.office.units import PIECE
from jobnotes.reading.read import read_text
from jobnotes.record import Job, Record

PAGE = (Path(__file__).parents[2] / "docs" / "prices.md").read_text("utf-8")
FILES = dict(re.findall(r"^```(?:toml|csv) (\S+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL))
(TOLD,) = re.findall(r"^```told\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
((BAD_NAME, BAD),) = re.findall(r"^```error (\S+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
(BAD_LINE,) = re.findall(r"^    jobnotes: (.*)$", PAGE, re.MULTILINE)


def table(first: str) -> list[dict[str, str]]:
    """The rows of the page's table whose first column is called `first`."""
    lines = PAGE.splitlines()
    at = next(n for n, line in enumerate(lines) if line.startswith(f"| {first} |"))
    rows = []
    for line in lines[at:]:
        if not line.startswith("|"):
            break
        rows.append([cell.strip() for cell in line.strip("|").split("|")])
    head, _, *body = rows
    return [dict(zip(head, row, strict=True)) for row in body]


@pytest.fixture
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with the page's files, to which paths are relative."""
    for folder in ("our-workshop", "my-job"):
        (tmp_path / folder).mkdir()
    for name, text in FILES.items():
        (tmp_path / ("my-job" if name == "job.toml" else "our-workshop") / name).write_text(text, "utf-8")
    monkeypatch.chdir(tmp_path)
    return tmp_path


def record_of_the_page() -> Record:
    office = offices.load(Path("our-workshop"))
    details = jobs.load(Path("my-job/job.toml"), workshop=office.workshop)
    return check(Record(Job(), facts=read_text(TOLD)), office=office, details=details)


def test_it_has_an_example_of_every_file_that_it_names() -> None:
    named = [row["file"].strip("`") for row in table("file")]
    assert set(named) == set(FILES)


def test_the_lines_are_those_of_the_page(here: Path) -> None:
    record = record_of_the_page()
    found = []
    for line in record.charges:
        shares = {share.payer: str(share.net) for share in line.shares}
        unit = "" if line.unit == PIECE else f" {line.unit}"
        found.append(
            {
                "line": line.description,
                "number": line.number or "",
                "quantity": f"{line.quantity:f}{unit}",
                "price": str(line.unit_price),
                "net": str(line.net),
                **{payer: shares.get(payer, "") for payer in ("warranty", "goodwill", "customer")},  # type: ignore[call-overload]
            }
        )
    assert found == table("line")
    assert record.charge_remarks == ()


def test_the_accounts_are_those_of_the_page(here: Path) -> None:
    record = record_of_the_page()
    assert record.totals is not None
    found = [
        {
            "account": account.payer,
            "lines": str(account.lines),
            "allowance": str(sum((a.amount for a in account.allowances), Decimal(0))),
            **{key: str(getattr(account, key)) for key in ("net", "tax", "gross", "paid", "due")},
        }
        for account in record.totals.split
    ]
    assert found == table("account")
    assert record.invoice is not None
    assert (record.invoice.number, str(record.invoice.due_on)) == ("2031-0117", "2031-03-20")
    assert record.labour[1].standard == Decimal("2.2")


@pytest.mark.parametrize("where", ["[customer]", "[invoice]", "[[invoice.allowance]]"])
def test_the_page_names_every_entry_of_the_customer_and_the_invoice(where: str, tmp_path: Path) -> None:
    path = tmp_path / "job.toml"
    path.write_text(f'format = "jobnotes-job"\nversion = 1\n{where}\nnot_known = 1\n', "utf-8")
    with pytest.raises(JobnotesError) as error:
        jobs.load(path)
    entries = error.value.remedy.partition("one of ")[2].split(", ")
    told = " ".join(row["entry"] for row in table("entry"))
    assert len(entries) > 2
    for entry in entries:
        assert f"`{entry}`" in told or f"`[[invoice.{entry}]]`" in told


def test_the_error_is_that_of_the_page(here: Path) -> None:
    (here / "our-workshop" / BAD_NAME).write_text(BAD, "utf-8")
    with pytest.raises(JobnotesError) as error:
        offices.load(Path("our-workshop"))
    assert str(error.value) == BAD_LINE

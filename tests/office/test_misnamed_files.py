"""A file that is meant as one of the office's and called otherwise is refused, never passed over."""

from __future__ import annotations

from pathlib import Path

import pytest
from office_files import LOW, WORKSHOP, written

from jobnotes.errors import JobnotesError
from jobnotes.office import job as jobs
from jobnotes.office import office as offices
from jobnotes.office.misnamed import refuse_misnamed

PRICES = "number,description,unit,price\nA1,hose,,3.00\n"
JOB = 'format = "jobnotes-job"\nversion = 1\n'


def refused(folder: Path) -> JobnotesError:
    with pytest.raises(JobnotesError) as error:
        offices.load(folder)
    return error.value


@pytest.mark.parametrize(
    ("name", "wanted"),
    [
        ("prices.csv.txt", "prices.csv"),
        ("prices.csv.csv", "prices.csv"),
        ("Prices.csv", "prices.csv"),
        ("PRICES.CSV", "prices.csv"),
        ("price.csv", "prices.csv"),
        ("prices.txt", "prices.csv"),
        ("prices", "prices.csv"),
        ("prices (1).csv", "prices.csv"),
        ("prices - Copy.csv", "prices.csv"),
        ("prices 2031.csv", "prices.csv"),
        ("prices.xlsx", "prices.csv"),
        ("Prices.ods", "prices.csv"),
        ("labour_rates.csv.txt", "labour_rates.csv"),
        ("labor_rates.csv", "labour_rates.csv"),
        ("labour rates.csv", "labour_rates.csv"),
        ("standard-times.csv", "standard_times.csv"),
        ("Standard_Times.csv", "standard_times.csv"),
    ],
)
def test_a_table_under_another_name_is_named_with_the_name_that_it_should_have(
    name: str, wanted: str, tmp_path: Path
) -> None:
    written(tmp_path)
    (tmp_path / name).write_text(PRICES, "utf-8")
    error = refused(tmp_path)
    assert error.subject == str(tmp_path / name)
    assert wanted in error.remedy


@pytest.mark.parametrize("name", ["workshop.toml.txt", "Workshop.toml", "workshop.txt", "our shop.toml"])
def test_so_is_the_workshop_s_own_file(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text(WORKSHOP, "utf-8")
    error = refused(tmp_path)
    assert error.subject == str(tmp_path / name)
    assert error.remedy == "rename it to workshop.toml"


@pytest.mark.parametrize(
    "name",
    ["prices.xlsx", "prices 2030.csv", "prices.csv.bak", "~$prices.xlsx", ".prices.csv.swp", "notes.txt"],
)
def test_beside_a_right_list_its_spreadsheet_and_old_copies_may_lie(name: str, tmp_path: Path) -> None:
    written(tmp_path, prices=PRICES)
    (tmp_path / name).write_text("x", "utf-8")
    assert offices.load(tmp_path).prices is not None


@pytest.mark.parametrize("name", ["Prices.csv", "prices.csv.txt"])
def test_of_two_that_may_be_meant_neither_is_taken_quietly(name: str, tmp_path: Path) -> None:
    written(tmp_path, prices=PRICES)
    (tmp_path / name).write_text(PRICES, "utf-8")
    assert "keep either it or prices.csv" in refused(tmp_path).remedy


def test_a_claim_policy_of_any_name_is_none_of_them(tmp_path: Path) -> None:
    for name in ("payer.toml", "claim_policy_payer.toml", "claim_policy2.toml"):
        (written(tmp_path) / name).write_text('format = "jobnotes-claim-policy"\n', "utf-8")
    refuse_misnamed(tmp_path, ("claim_policy.toml",))
    assert offices.load(tmp_path).workshop is not None
    (tmp_path / "Claim_Policy.toml").write_text("x", "utf-8")
    with pytest.raises(JobnotesError, match=r"rename it to claim_policy\.toml"):
        refuse_misnamed(tmp_path, ("claim_policy.toml",))


@pytest.mark.parametrize("name", ["job.toml.txt", "Job.toml", "job.TOML", "job.txt", "4417.toml"])
def test_job_toml_under_another_name_is_refused(name: str, tmp_path: Path) -> None:
    (tmp_path / name).write_text("\ufeff" + JOB, "utf-8")
    with pytest.raises(JobnotesError) as error:
        jobs.refuse_misnamed(tmp_path)
    assert error.value.subject == str(tmp_path / name)
    assert error.value.remedy == "rename it to job.toml"


def test_what_lies_beside_recordings_else_is_let_be(tmp_path: Path) -> None:
    for name in ("job.txt", "job.wav", "jobs.toml", "job.pdf"):
        (tmp_path / name).write_text("what was to be done", "utf-8")
    jobs.refuse_misnamed(tmp_path)
    (tmp_path / "job.toml").write_text(JOB, "utf-8")
    (tmp_path / "job (1).toml").write_text(JOB, "utf-8")
    jobs.refuse_misnamed(tmp_path)
    jobs.refuse_misnamed(tmp_path / "nowhere")


def test_a_letterhead_that_no_file_names_is_asked_about(tmp_path: Path) -> None:
    written(tmp_path)
    (tmp_path / "Letterhead.docx").write_bytes(b"x")
    error = refused(tmp_path)
    assert "Letterhead.docx lies beside this file" in error.reason
    assert 'letterhead = "letterhead.docx"' in error.remedy


@pytest.mark.parametrize("name", ["ours.docx.docx", "Ours.docx"])
def test_a_letterhead_under_another_name_is_found(name: str, tmp_path: Path) -> None:
    written(tmp_path, WORKSHOP.replace(LOW, LOW + '[documents]\nletterhead = "ours.docx"\n'))
    (tmp_path / name).write_bytes(b"x")
    assert refused(tmp_path).remedy == f"rename {name}"

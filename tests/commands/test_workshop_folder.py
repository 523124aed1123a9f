"""`--workshop DIR` and `job.toml`: what the office states reaches the record, the bill and the documents."""

from __future__ import annotations

import shutil
import wave
from decimal import Decimal
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from command_line import SAMPLE, Demo, World, files_in, record_in
from docx import Document
from record_schema import faults_of_record

from jobnotes.intake.sound import mono_16k
from jobnotes.library.library import Library

HEAD = 'format = "jobnotes-workshop"\nversion = 1\n'
WORKSHOP = (SAMPLE / "workshop" / "workshop.toml").read_text("utf-8")


def money(record: Any, *keys: str) -> Decimal:
    for key in keys:
        record = record[key]
    return Decimal(record)


def test_the_demos_bill_adds_up_and_holds_every_part_that_is_sure(demo: Demo) -> None:
    record = demo.record
    charged = {fact for line in record["charges"] for fact in line["fact_ids"]}
    sure = {
        f["id"]
        for f in record["facts"]
        if f["kind"] == "part" and f["action"] in ("fitted", "consumed") and f["status"] == "sure"
    }
    assert sure <= charged
    assert all(Decimal(line["net"]) > 0 for line in record["charges"])
    totals = record["totals"]
    assert money(totals, "net") == sum(Decimal(line["net"]) for line in record["charges"])
    assert money(totals, "net") + money(totals, "tax") == money(totals, "gross")
    assert sum(money(a, "gross") for a in totals["split"]) == money(totals, "gross")


def test_what_is_in_doubt_or_re_used_is_never_on_the_demos_bill(demo: Demo) -> None:
    not_charged = {
        f["id"]
        for f in demo.record["facts"]
        if f["status"] == "check" or f.get("action") in ("reused", "removed", "ordered")
    }
    charged = {fact for line in demo.record["charges"] for fact in line["fact_ids"]}
    assert not_charged
    assert not (charged & not_charged)
    doubtful = [f["name"] for f in demo.record["facts"] if f["kind"] == "part" and f["status"] == "check"]
    for name in doubtful:
        assert any(name in remark for remark in demo.record["charge_remarks"])


def test_what_the_office_states_of_the_demos_job_stands_in_its_head_and_is_kept(demo: Demo) -> None:
    job = demo.record["job"]
    assert (job["technician"], job["customer"]) == ("R. Sample", "Sampleton Town Transport")
    assert (job["in_service_on"], job["failed_on"], job["claimed_on"]) == (
        "2019-04-01",
        "2026-02-09",
        "2026-02-12",
    )
    stated = demo.record["details"]
    with Library.open(demo.out / "library", create=False) as library:
        kept = library.path_of(stated["sha256"]).read_bytes()
        assert library.original(stated["sha256"]).kind == "details"
    assert kept == (SAMPLE / "job" / "job.toml").read_bytes()


@pytest.fixture(scope="module")
def billed(demo: Demo, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's folder again, with the e-invoice and the spreadsheet; nothing is heard again."""
    out = tmp_path_factory.mktemp("billed") / "out"
    shutil.copytree(demo.out, out)
    ended = demo.ended.world.jobnotes("demo", "--out", out, "--einvoice", "--spreadsheet")
    assert ended.status == 0, ended.err
    assert not ended.heard
    return out


def test_the_spreadsheet_has_the_records_lines_and_amounts(billed: Path) -> None:
    record = record_in(billed)
    book = openpyxl.load_workbook(billed / "lines.xlsx")
    cells = [
        cell.value for sheet in book for row in sheet.iter_rows() for cell in row if cell.value is not None
    ]
    for line in record["charges"]:
        assert line["description"] in cells
        assert any(isinstance(c, int | float) and Decimal(str(c)) == Decimal(line["net"]) for c in cells)


def test_an_e_invoice_of_a_job_that_is_not_checked_is_called_a_draft(billed: Path) -> None:
    assert any(f["status"] == "check" for f in record_in(billed)["facts"])
    assert not (billed / "invoice.xml").exists()
    text = (billed / "invoice-draft.xml").read_text("utf-8")
    due = next(a["due"] for a in record_in(billed)["totals"]["split"] if a["payer"] == "customer")
    assert f"<ram:DuePayableAmount>{due}</ram:DuePayableAmount>" in text


@pytest.mark.slow
def test_a_run_that_is_not_asked_for_them_leaves_no_bill_of_an_earlier_record(
    billed: Path, demo: Demo, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    shutil.copytree(billed, out)
    assert demo.ended.world.jobnotes("demo", "--out", out).status == 0
    assert {p.name for p in out.iterdir()} == {p.name for p in demo.out.iterdir()}


@pytest.mark.slow
def test_where_no_line_has_a_price_there_is_a_record_and_word_that_there_is_no_spreadsheet(
    demo: Demo, tmp_path: Path
) -> None:
    out, shop = tmp_path / "out", tmp_path / "shop"
    shutil.copytree(demo.out, out)
    shop.mkdir()
    (shop / "workshop.toml").write_text(WORKSHOP, "utf-8")
    (shop / "prices.csv").write_text("number,description,unit,price\n0-0,tow bar cover,piece,1\n", "utf-8")
    ended = demo.ended.world.jobnotes(
        "run", SAMPLE / "job", "--out", out, "--workshop", shop, "--spreadsheet"
    )
    record = record_in(out)
    assert record["charges"]
    assert not any("net" in line for line in record["charges"])
    assert [p["file"] for p in record["problems"] if "not written" in p["message"]] == ["lines.xlsx"]
    assert any(line.startswith("lines.xlsx: not written") for line in ended.messages)
    assert not (out / "lines.xlsx").exists()


def test_the_customers_document_shows_the_total_that_the_record_has(demo: Demo) -> None:
    document = Document(str(demo.out / "customer.docx"))
    shown = " ".join(cell.text for table in document.tables for row in table.rows for cell in row.cells)
    for account in (a for a in demo.record["totals"]["split"] if a["payer"] == "customer"):
        assert account["gross"] in shown


# --- a run of one's own ------------------------------------------------------------------------------


def own_job(world: World, clip_job: Path, **files: str) -> None:
    """A small job and a workshop's folder with these files in it (`job` lies beside the recordings)."""
    shutil.copytree(clip_job, world.cwd / "job")
    (world.cwd / "shop").mkdir()
    for name, text in files.items():
        where = world.cwd / ("job" if name.casefold().startswith("job") else "shop")
        ending = ".csv" if name in ("prices", "labour_rates", "standard_times") else ".toml"
        (where / (name if "." in name else name + ending)).write_text(text, "utf-8")


def test_a_job_without_anything_to_charge_says_why_there_is_no_bill(world: World, clip_job: Path) -> None:
    own_job(world, clip_job)
    ended = world.here("run", "job", "--out", "out", "--workshop", "shop", "--einvoice", "--spreadsheet")
    assert ended.status == 1
    assert sorted(line.partition(":")[0] for line in ended.messages if "not written" in line) == [
        "invoice.xml",
        "lines.xlsx",
    ]
    record = record_in(world.cwd / "out")
    assert faults_of_record(record) == []
    assert "totals" not in record
    assert not list((world.cwd / "out").glob("*.xml"))


def test_the_policy_that_the_offices_file_names_is_the_one_that_counts(world: World, clip_job: Path) -> None:
    policy = (
        'format = "jobnotes-claim-policy"\nversion = 1\n[[rule]]\nid = "ours"\ntype = "needs_kind"\n'
        'kinds = ["hazard"]\nseverity = "queried"\n'
        'missing = "No hazard"\nwhy = "We ask."\nremedy = "Say it."\n'
    )
    job = 'format = "jobnotes-job"\nversion = 1\npolicy = "payer.toml"\nregistration = "QQ00 TST"\n'
    own_job(world, clip_job, payer=policy, job=job)
    ended = world.here("run", "job", "--out", "out", "--workshop", "shop", "--json")
    assert ended.status == 0, ended.err
    assert ended.json["claim_gaps"] == ["No hazard. We ask."]
    assert record_in(world.cwd / "out")["job"]["registration"] == "QQ00 TST"


BAD: dict[str, tuple[dict[str, str], str]] = {
    "workshop without a name": ({"workshop": HEAD + "[workshop]\ncity = 'X'\n"}, "shop/workshop.toml"),
    "unknown currency": ({"workshop": WORKSHOP.replace("GBP", "XQX")}, "shop/workshop.toml, line"),
    "price that is no number": (
        {"workshop": WORKSHOP, "prices": "number,description,unit,price\nA1,hose,piece,cheap\n"},
        "shop/prices.csv, line 2",
    ),
    "rate below nothing": (
        {"workshop": WORKSHOP, "labour_rates": "operation,rate\n*,-3\n"},
        "shop/labour_rates.csv, line 2",
    ),
    "standard time without hours": (
        {"standard_times": "operation,hours\ndiagnosis,\n"},
        "shop/standard_times.csv, line 2",
    ),
    "prices without a workshop": ({"prices": "number,description,unit,price\n"}, "shop/prices.csv"),
    "letterhead that isn't there": (
        {"workshop": WORKSHOP + 'letterhead = "ours.docx"\n'},
        "shop/workshop.toml, line",
    ),
    "job with a date in quotes": (
        {"job": 'format = "jobnotes-job"\nversion = 1\nfailed_on = "yesterday"\n'},
        "job/job.toml, line 3",
    ),
    "prices under a name that nothing reads": (
        {"workshop": WORKSHOP, "prices.csv.txt": "number,description,unit,price\n"},
        "shop/prices.csv.txt",
    ),
    "words under a name that nothing reads": ({"Lexicon.toml": "version = 1\n"}, "shop/Lexicon.toml"),
    "job under a name that nothing reads": (
        {"Job.toml": 'format = "jobnotes-job"\nversion = 1\n'},
        "job/Job.toml",
    ),
    "job that names a policy that isn't there": (
        {"job": 'format = "jobnotes-job"\nversion = 1\npolicy = "nobody.toml"\n'},
        "job/job.toml",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_a_bad_file_of_the_office_is_one_line_and_nothing_is_begun(
    world: World, clip_job: Path, case: str
) -> None:
    files, subject = BAD[case]
    own_job(world, clip_job, **files)
    given = files_in(world.cwd)
    ended = world.here("run", "job", "--out", "out", "--workshop", "shop")
    assert ended.status == 2, ended.err
    (line,) = ended.messages
    assert line.startswith(f"jobnotes: {subject}"), line
    assert "; " in line
    assert files_in(world.cwd) == given


def test_a_letterhead_that_is_no_document_is_one_line(world: World, clip_job: Path) -> None:
    own_job(world, clip_job, workshop=WORKSHOP + 'letterhead = "ours.docx"\n')
    (world.cwd / "shop" / "ours.docx").write_bytes(b"no zip")
    ended = world.here("run", "job", "--out", "out", "--workshop", "shop")
    assert ended.status == 2
    (line,) = ended.messages
    assert line.startswith("jobnotes: shop/ours.docx")


@pytest.mark.slow
def test_the_same_fault_of_the_same_vehicle_three_weeks_later_is_named_with_date_and_job(
    world: World,
) -> None:
    """Two jobs of one vehicle in one library: the later one knows of the earlier, and so does its claim."""
    for folder in ("earlier", "later"):
        (world.cwd / folder).mkdir()
        shutil.copy(SAMPLE / "job" / "job.toml", world.cwd / folder)
    shutil.copy(SAMPLE / "job" / "booking-in.m4a", world.cwd / "earlier")
    # the driver is back with the same codes, and the same job number is read out
    samples = mono_16k(SAMPLE / "job" / "booking-in.m4a", "booking-in.m4a")
    with wave.open(str(world.cwd / "later" / "20260303_081500.wav"), "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(16_000)
        file.writeframes((samples * 32_767).astype("<i2").tobytes())
    for folder in ("earlier", "later"):
        ended = world.here(
            "run", folder, "--out", f"{folder} out", "--library", "lib", "--zone", "Europe/London"
        )
        assert ended.status == 0, ended.err
    first, second = (record_in(world.cwd / f"{folder} out") for folder in ("earlier", "later"))
    assert first["earlier"] == []
    (repeat,) = second["earlier"]
    assert (repeat["number"], repeat["ended_on"], repeat["days"]) == ("4417", "2026-02-10", 21)
    assert any("SPN 1724 FMI 5" in same for same in repeat["same"])
    (gap,) = [gap for gap in second["claim_gaps"] if "4417" in gap["message"]]
    assert "2026-02-10" in gap["message"]
    assert faults_of_record(second) == []


def test_a_misspelt_policy_is_named_with_the_file_that_names_it(world: World, clip_job: Path) -> None:
    job = 'format = "jobnotes-job"\nversion = 1\npolicy = "nroth-lease.toml"\n'
    own_job(world, clip_job, job=job)
    (world.cwd / "shop" / "north-lease.toml").write_text("", "utf-8")
    ended = world.here("run", "job", "--out", "out", "--workshop", "shop")
    assert ended.status == 2
    (line,) = ended.messages
    assert line.startswith("jobnotes: job/job.toml")
    assert "nroth-lease.toml" in line
    assert line.endswith("such as north-lease.toml")

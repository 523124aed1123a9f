from __future__ import annotations

import json
import shutil
import zipfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import docx
import pytest
from click.testing import CliRunner, Result
from library_jobs import FACTS, file_and_save, make_recording

from jobnotes import record_json
from jobnotes.commands.verify import verify
from jobnotes.documents.files import file_digest
from jobnotes.library.library import GivenFile, Library
from jobnotes.library.verification import identifier_of
from jobnotes.record import Details, Record


def run(*args: object) -> Result:
    return CliRunner().invoke(verify, [str(a) for a in args])


def draw(path: Path, identifier: str) -> None:
    document = docx.Document()
    document.add_heading("Claim")
    document.core_properties.identifier = identifier
    document.save(str(path))


@pytest.fixture
def out(tmp_path: Path, recording: Path, photo: Path) -> Path:
    """What a run leaves: library, record and documents."""
    out = tmp_path / "out"
    out.mkdir()
    with Library.open(out / "library") as library:
        _, record = file_and_save(library, recording, photo)
    draw_all(record, out)
    return out


def draw_all(record: Record, out: Path) -> None:
    """The record and its documents, journalled as a run does."""
    record_json.write(record, out / "record.json")
    identifier = identifier_of((out / "record.json").read_bytes())
    documents = [out / name for name in ("claim.docx", "customer.docx", "workshop.docx")]
    for path in documents:
        draw(path, identifier)
    with Library.open(out / "library") as library:
        saved = library.record_with(identifier.removeprefix("sha256:"))
        assert saved is not None
        library.documents_drawn(saved.job, saved.sha256, {path.name: file_digest(path) for path in documents})


def original(out: Path, suffix: str) -> Path:
    (path,) = (out / "library" / "media").rglob(f"*{suffix}")
    return path


def test_what_a_run_left_fits(out: Path) -> None:
    result = run("--out", out)
    assert (result.exit_code, result.stderr) == (0, "")
    assert "2 originals, 1 record, 3 documents" in result.stdout
    assert "Everything fits." in result.stdout


def test_the_json_says_the_same(out: Path) -> None:
    result = run("--out", out, "--json")
    with Library.open(out / "library") as library:
        last = library.journal_head()
    assert json.loads(result.stdout) == {
        "fits": True,
        "checked": {"originals": 2, "records": 1, "documents": 3},
        "misfits": [],
        "remarks": [],
        # two originals, each filed; a record; documents
        "journal": {"entries": 6, "last": str(last), "signed": 0},
    }


def test_what_the_office_stated_is_an_original_too(out: Path, tmp_path: Path) -> None:
    stated = tmp_path / "job.toml"
    stated.write_text('format = "jobnotes-job"\nversion = 1\n', "utf-8")
    content = (out / "record.json").read_bytes()
    with Library.open(out / "library") as library:
        kept = library.keep(stated, "details")
        job = library.record_with(identifier_of(content).removeprefix("sha256:")).job  # type: ignore[union-attr]
        library.file_job(library.originals(job)[:1], details=[GivenFile(kept.sha256, "job.toml")])
        record = record_json.from_json(json.loads(content))
        record = replace(record, details=Details("job.toml", kept.sha256))
        library.save(record, job)
    draw_all(record, out)
    assert "3 originals" in run("--out", out).stdout
    original(out, ".toml").unlink()
    result = run("--out", out)
    assert result.exit_code == 1
    assert "job.toml" in result.stdout + result.stderr


def _changes_a_byte_of_a_recording(out: Path) -> str:
    path = original(out, ".wav")
    path.chmod(0o644)
    data = bytearray(path.read_bytes())
    data[-1] ^= 1
    path.write_bytes(data)
    return "Note 1.WAV"


def _loses_a_photo(out: Path) -> str:
    original(out, ".jpg").unlink()
    return "lift pump.jpg"


def _loses_the_library(out: Path) -> str:
    shutil.rmtree(out / "library")
    return "library"


def _loses_the_database(out: Path) -> str:
    (out / "library" / "jobnotes.db").unlink()
    return "library"


def _changes_a_value_in_the_record(out: Path) -> str:
    path = out / "record.json"
    path.write_text(path.read_text().replace('"12.6"', '"10.6"'))
    return "record.json"


def _cuts_the_record_short(out: Path) -> str:
    path = out / "record.json"
    path.write_bytes(path.read_bytes()[:200])
    return "record.json"


def _loses_the_record(out: Path) -> str:
    (out / "record.json").unlink()
    return "record.json"


def _makes_the_record_another_format(out: Path) -> str:
    (out / "record.json").write_text('{"format": "something-else"}')
    return "record.json"


def _makes_the_record_deep(out: Path) -> str:
    (out / "record.json").write_text("[" * 200_000)
    return "record.json"


def _draws_a_claim_from_another_record(out: Path) -> str:
    draw(out / "claim.docx", identifier_of(b"another record"))
    return "claim.docx"


def _draws_a_claim_that_names_no_record(out: Path) -> str:
    draw(out / "claim.docx", "")
    return "claim.docx"


def _cuts_a_document_short(out: Path) -> str:
    path = out / "workshop.docx"
    path.write_bytes(path.read_bytes()[:-500])
    return "workshop.docx"


def _empties_a_document(out: Path) -> str:
    (out / "customer.docx").write_bytes(b"")
    return "customer.docx"


def test_documents_are_held_against_the_record_where_the_library_cannot_be_opened(out: Path) -> None:
    library, claim = _loses_the_database(out), _draws_a_claim_from_another_record(out)
    found = json.loads(run("--out", out, "--json").stdout)["misfits"]
    assert [misfit["subject"].rpartition("/")[2] for misfit in found] == [library, claim]


FAULTS = [
    _changes_a_byte_of_a_recording,
    _loses_a_photo,
    _loses_the_library,
    _loses_the_database,
    _changes_a_value_in_the_record,
    _cuts_the_record_short,
    _loses_the_record,
    _makes_the_record_another_format,
    _makes_the_record_deep,
    _draws_a_claim_from_another_record,
    _draws_a_claim_that_names_no_record,
    _cuts_a_document_short,
    _empties_a_document,
]


@pytest.mark.parametrize("fault", FAULTS, ids=lambda f: f.__name__.strip("_"))
def test_the_first_thing_that_does_not_fit_is_named(out: Path, fault: Callable[[Path], str]) -> None:
    subject = fault(out)
    result = run("--out", out)
    assert result.exit_code == 1
    assert result.stderr.startswith("jobnotes: ")
    assert subject in result.stderr.partition(" doesn't fit")[0]
    assert result.stderr.count("\n") == 1
    assert "Everything fits" not in result.stdout
    found = json.loads(run("--out", out, "--json").stdout)
    assert not found["fits"]
    assert subject in found["misfits"][0]["subject"]


def test_a_document_without_its_record_must_still_name_one(out: Path) -> None:
    _loses_the_record(out)
    _draws_a_claim_that_names_no_record(out)
    found = json.loads(run("--out", out, "--json").stdout)
    assert [m["subject"] for m in found["misfits"]] == ["record.json", "claim.docx"]


def test_an_older_record_put_back_does_not_fit(out: Path, recording: Path) -> None:
    with Library.open(out / "library") as library:
        job, record = file_and_save(library, recording)
        library.save(replace(record, facts=FACTS[:1]), job)
    result = run("--out", out)
    assert result.exit_code == 1
    assert "record.json" in result.stderr
    (line,) = [line for line in result.stdout.splitlines() if line.startswith("Doesn't fit: record.json")]
    assert job in line


def test_a_record_of_a_job_that_the_library_never_had_does_not_fit(out: Path, tmp_path: Path) -> None:
    with Library.open(tmp_path / "other") as library:
        file_and_save(library, make_recording(tmp_path / "other.wav", 7))
    result = run("--out", out, "--library", tmp_path / "other")
    assert result.exit_code == 1
    reasons = [
        m["reason"]
        for m in json.loads(run("--out", out, "--library", tmp_path / "other", "--json").stdout)["misfits"]
    ]
    assert any("keeps no record" in reason for reason in reasons)
    assert sum("missing" in reason for reason in reasons) == 2


def test_of_the_workshops_library_only_this_job_is_read_unless_asked(out: Path, tmp_path: Path) -> None:
    own = tmp_path / "workshop"
    (out / "library").rename(own)
    with Library.open(own) as library:
        file_and_save(library, make_recording(tmp_path / "other.wav", 7))
        other = library.search("battery")
        assert len(other) == 2
    result = run("--out", out, "--library", own, "--json")
    assert json.loads(result.stdout)["checked"]["originals"] == 2
    assert result.exit_code == 0
    result = run("--out", out, "--library", own, "--everything", "--json")
    assert json.loads(result.stdout)["checked"]["originals"] == 3


@pytest.mark.parametrize("there", [True, False])
def test_nothing_to_check_is_exit_2_with_a_remedy(tmp_path: Path, there: bool) -> None:
    folder = tmp_path / "empty"
    if there:
        folder.mkdir()
    result = run("--out", folder)
    assert result.exit_code == 2
    assert result.stderr.startswith("jobnotes: ")
    assert "--out" in result.stderr
    assert result.stdout == ""
    assert not (folder / "library").exists()


def test_the_lock_file_of_an_open_document_is_no_document(out: Path) -> None:
    (out / "~$claim.docx").write_bytes(b"\0" * 162)
    assert run("--out", out).exit_code == 0


def test_a_forged_name_cannot_forge_a_line(out: Path) -> None:
    draw(out / "x\nEverything fits.docx", "")
    result = run("--out", out)
    assert result.exit_code == 1
    assert not any(line.startswith("Everything fits") for line in result.output.splitlines())


def test_the_identifier_is_where_the_standard_puts_it(out: Path) -> None:
    # ECMA-376 Part 2 (Open Packaging Conventions), core properties: dc:identifier of Dublin Core
    with zipfile.ZipFile(out / "claim.docx") as package:
        core = ElementTree.fromstring(package.read("docProps/core.xml"))
    element = core.find("{http://purl.org/dc/elements/1.1/}identifier")
    assert element is not None
    with Library.open(out / "library") as library:
        digest = element.text.removeprefix("sha256:") if element.text else ""
        assert library.record_with(digest) is not None


def test_help_reads_without_a_folder() -> None:
    result = run("--help")
    assert result.exit_code == 0
    assert "Exit status" in result.stdout

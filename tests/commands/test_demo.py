"""`jobnotes demo`: the whole job on the sample media, without a network, leaving only what it says."""

from __future__ import annotations

import hashlib
import tomllib
from pathlib import Path

import pytest
from command_line import SAMPLE, Demo, files_in
from docx import Document
from record_schema import faults_of_record

DOCUMENTS = ("claim.docx", "customer.docx", "workshop.docx")


def test_it_ends_with_three_documents_and_a_record_that_keeps_to_its_contract(demo: Demo) -> None:
    assert {path.name for path in demo.out.iterdir()} == {"record.json", "library", *DOCUMENTS}
    assert faults_of_record(demo.record) == []
    assert demo.record["problems"] == []


def test_nothing_was_asked_of_a_network_and_no_program_was_started(demo: Demo) -> None:
    """Python's audit hooks see each socket; a use would have been refused, and the demo have failed."""
    asked = [e for e in demo.ended.events if e[0].startswith("socket.")]
    assert [e for e in asked if e[0] not in ("socket.gethostname", "socket.__new__")] == []
    started = ("subprocess.Popen", "os.system", "os.exec", "os.posix_spawn")
    assert [e for e in demo.ended.events if e[0] in started] == []


def test_nothing_is_written_outside_the_folder_that_was_named(demo: Demo) -> None:
    world = demo.ended.world
    assert list(world.cwd.iterdir()) == []
    assert list(world.home.rglob("*")) == []
    assert list(world.temporary.rglob("*")) == []
    written = {Path(event[1]) for event in demo.ended.events if event[0] == "open"}
    assert any(path.is_relative_to(demo.out) for path in written), "the watch sees nothing"
    elsewhere = {p for p in written if not p.is_relative_to(demo.out) and p != Path("/dev/null")}
    # what is there for a moment and gone again; the folder is empty in the end, as shown above
    assert {p for p in elsewhere if not p.is_relative_to(world.temporary)} == set()


def test_the_sample_media_are_as_they_were(demo: Demo) -> None:
    assert demo.after == demo.before


def test_progress_is_on_standard_error_and_the_result_on_standard_output(demo: Demo) -> None:
    assert demo.ended.steps == ["Taking in …", "Listening …", "Looking at photos …", "Writing …"]
    lines = demo.ended.out.splitlines()
    assert lines[-4:] == [str(demo.out / name) for name in ("record.json", *DOCUMENTS)]
    assert lines[0].startswith("5 notes, 7 photos"), "what there is comes first"


def test_each_price_and_rate_names_its_file_its_digest_and_its_row(demo: Demo) -> None:
    """Held against the workshop's own files: the row has the price, and the digest is of the file."""
    own = SAMPLE / "workshop"
    files = {entry["file"]: entry["sha256"] for entry in demo.record["office_files"]}
    assert set(files) == {"workshop.toml", "prices.csv", "labour_rates.csv"}
    for name, digest in files.items():
        assert hashlib.sha256((own / name).read_bytes()).hexdigest() == digest
    for charge in demo.record["charges"]:
        (row,) = charge["rows"]
        assert charge["unit_price"] in (own / row["file"]).read_text("utf-8").splitlines()[row["line"] - 1]
    claim = Document(str(demo.out / "claim.docx"))
    told = "\n".join(cell.text for table in claim.tables for row in table.rows for cell in row.cells)
    assert "price list, line 2" in told
    assert "rates, line 3" in told
    assert all(digest in told for digest in files.values())


def test_it_prints_the_command_that_serves_the_job_with_the_prices_it_was_run_with(demo: Demo) -> None:
    lines = demo.ended.out.splitlines()
    told = lines[lines.index("To listen, correct and accept in a browser:") + 1].split()
    assert told[:2] == ["jobnotes", "serve"]
    assert Path(told[told.index("--library") + 1]) == demo.out / "library"
    workshop = Path(told[told.index("--workshop") + 1])
    assert (workshop / "prices.csv").is_file()


@pytest.mark.slow
def test_a_second_demo_hears_nothing_again_and_writes_the_same_bytes(demo: Demo) -> None:
    names = ("record.json", *DOCUMENTS)
    before = {name: files_in(demo.out)[name][0] for name in names}
    again = demo.ended.world.jobnotes("demo", "--read-photos", "--out", demo.out)
    assert again.status == 0
    assert not again.heard
    assert {name: files_in(demo.out)[name][0] for name in names} == before


def test_everything_fits_together_afterwards(demo: Demo) -> None:
    assert demo.ended.world.jobnotes("verify", "--out", demo.out).status == 0


@pytest.mark.parametrize("camera", ["Workshop phone", "Bench tablet"])
def test_the_camera_an_hour_off_is_put_right_and_the_other_left(demo: Demo, camera: str) -> None:
    """sample_media/scenario.toml sets the phone's clock an hour ahead, and the tablet's right."""
    clock = next(c for c in demo.record["camera_clocks"] if camera in c["camera"])
    expected = -3600 if camera == "Workshop phone" else 0
    assert clock["offset_s"] == pytest.approx(expected, abs=60)
    assert clock["support"] <= clock["of"]


def test_each_photo_is_linked_to_the_words_that_called_for_it(demo: Demo) -> None:
    """Which cue each photo was taken at, and seconds after it, is the scenario's own."""
    scenario = tomllib.loads((SAMPLE / "scenario.toml").read_text("utf-8"))
    lines = {line["id"]: line for note in scenario["notes"] for line in note["lines"] if "id" in line}
    assert len(demo.record["photos"]) == len(scenario["photos"])
    facts = {fact["id"]: fact for fact in demo.record["facts"]}
    for shot in scenario["photos"]:
        photo = next(p for p in demo.record["photos"] if p["file"] == shot["file"])
        # what it shows counts first; the words that called for it stay with it (`about` below)
        assert photo["linked_by"] in ("cue", "value"), shot["file"]
        wanted = next(f for f in lines[shot["cue"]]["facts"] if f["kind"] == "photo_cue")["text_has"]
        about = " ".join(
            str(facts[i].get(key, ""))
            for i in photo["fact_ids"]
            for key in ("subject", "text", "name", "kind")
        )
        assert all(any(word in about.lower() for word in entry.split("|")) for entry in wanted), (
            shot["file"],
            about,
        )

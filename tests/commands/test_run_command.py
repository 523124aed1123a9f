"""`jobnotes run`: a folder becomes a record and three documents, and again at no cost."""

from __future__ import annotations

import hashlib
import os
import re
import shlex
import shutil
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from command_line import Ended, World, files_in, record_in
from docx import Document
from PIL import Image
from record_schema import faults_of_record

from jobnotes.commands.run import serving
from jobnotes.library.library import Library
from jobnotes.library.stated import StatedEntry

DOCUMENTS = ("claim.docx", "customer.docx", "workshop.docx")


@pytest.fixture(scope="module")
def first(tmp_path_factory: pytest.TempPathFactory, clip_job: Path) -> tuple[World, Ended]:
    """The small job in `world.cwd/job`, run once to `out`. Copy before changing."""
    world = World(tmp_path_factory.mktemp("run"))
    shutil.copytree(clip_job, world.cwd / "job")
    ended = world.jobnotes("run", "job", "--out", "out", "--json")
    assert ended.status == 0, ended.err
    return world, ended


@pytest.fixture
def another(first: tuple[World, Ended], tmp_path: Path) -> World:
    """A copy of what the first run left, to go on from."""
    copy = World(tmp_path / "world")
    shutil.copytree(first[0].cwd, copy.cwd, dirs_exist_ok=True, copy_function=shutil.copy2)
    return copy


def run_again(world: World, folder: str, *options: str) -> Ended:
    """In the zone in which `first` ran."""
    zone = () if "--zone" in options else ("--zone", "Europe/Dublin")
    return world.here("run", folder, *options, *zone)


def told_in(out: Path) -> list[Any]:
    return [(fact["id"], fact["kind"], fact["quote"]) for fact in record_in(out)["facts"]]


def test_the_folder_holds_what_the_contract_names(first: tuple[World, Ended]) -> None:
    out = first[0].cwd / "out"
    assert {path.name for path in out.iterdir()} == {"record.json", "library", *DOCUMENTS}
    for name in DOCUMENTS:
        assert len(Document(str(out / name)).paragraphs) > 5


def test_the_record_keeps_to_its_contract(first: tuple[World, Ended]) -> None:
    assert faults_of_record(record_in(first[0].cwd / "out")) == []


def test_what_was_said_has_the_second_at_which_it_was_said(first: tuple[World, Ended]) -> None:
    """Of the clips: "… sixty point two ohms …" at 0.4–3.5 s, "I replaced the hose …" at 8.1–10.3 s."""
    record = record_in(first[0].cwd / "out")
    assert [note["file"] for note in record["notes"]] == ["20310407_093000.opus", "20310407_094500.opus"]
    assert [note["started_at"] for note in record["notes"]] == [
        "2031-04-07T09:30:00+01:00",  # the name is local time, and Ireland is on summer time
        "2031-04-07T09:45:00+01:00",
    ]
    ohms = next(fact for fact in record["facts"] if fact.get("unit") == "Ohm")
    assert (ohms["value"], ohms["note"]) == ("60.2", "N1")
    assert 0.2 < ohms["start_s"] < ohms["end_s"] < 4.5
    hose = [fact for fact in record["facts"] if fact["note"] == "N2" and "hose" in str(fact.get("name", ""))]
    assert hose
    assert all(7.5 < fact["start_s"] < 10.8 for fact in hose)


def test_the_result_as_json_is_all_that_is_on_standard_output(first: tuple[World, Ended]) -> None:
    world, ended = first
    told, record = ended.json, record_in(world.cwd / "out")
    assert (told["notes"], told["heard_anew"], told["photos"]) == (2, 2, 1)
    assert told["facts"] == sum(fact["status"] != "rejected" for fact in record["facts"])
    assert told["to_check"] == sum(fact["status"] == "check" for fact in record["facts"])
    assert told["problems"] == []
    assert [Path(d).name for d in told["documents"]] == list(DOCUMENTS)
    assert ended.steps == ["Taking in …", "Listening …", "Writing …"]


def test_originals_are_kept_under_their_digest_and_left_as_they_were(
    first: tuple[World, Ended], clip_job: Path
) -> None:
    cwd = first[0].cwd
    given = files_in(clip_job)
    assert {name: data for name, (data, _) in files_in(cwd / "job").items()} == {
        name: data for name, (data, _) in given.items()
    }
    record = record_in(cwd / "out")
    for entry in [*record["notes"], *record["photos"]]:
        digest = hashlib.sha256(given[entry["file"]][0]).hexdigest()
        assert entry["sha256"] == digest
        kept = list((cwd / "out" / "library" / "media").rglob(f"{digest}*"))
        assert [path.read_bytes() for path in kept] == [given[entry["file"]][0]]


def test_a_second_run_hears_nothing_and_gives_the_same_bytes(another: World) -> None:
    out = another.cwd / "out"
    before = {name: (out / name).read_bytes() for name in ("record.json", *DOCUMENTS)}
    again = run_again(another, "job", "--out", "out", "--json")
    assert again.status == 0
    assert again.json["heard_anew"] == 0
    assert not again.heard
    assert {name: (out / name).read_bytes() for name in before} == before


def test_a_run_to_another_folder_with_the_same_library_gives_the_same_record(another: World) -> None:
    again = run_again(another, "job", "--out", "elsewhere", "--library", "out/library", "--json")
    assert again.json["heard_anew"] == 0
    assert (another.cwd / "elsewhere/record.json").read_bytes() == (
        another.cwd / "out/record.json"
    ).read_bytes()
    assert not (another.cwd / "elsewhere" / "library").exists()


def test_the_same_recordings_under_other_names_and_in_another_place_keep_their_ids(another: World) -> None:
    (another.cwd / "moved" / "deeper").mkdir(parents=True)
    for path in (another.cwd / "job").iterdir():
        shutil.move(path, another.cwd / "moved" / "deeper" / path.name)
    again = run_again(another, "moved", "--out", "second", "--library", "out/library", "--json")
    assert again.json["heard_anew"] == 0
    assert told_in(another.cwd / "out") == told_in(another.cwd / "second")


def test_a_fresh_library_gives_the_same_ids(another: World) -> None:
    """Ids come from the recordings, not from a counter in a database."""
    (another.cwd / "job" / "20310407_094500.opus").unlink()
    shutil.rmtree(another.cwd / "out" / "library")
    again = run_again(another, "job", "--out", "fresh")
    assert again.heard
    was = told_in(another.cwd / "out")
    now = told_in(another.cwd / "fresh")
    assert now
    assert [fact for fact in was if fact in now] == now


def test_the_same_file_twice_is_one_note(another: World) -> None:
    shutil.copy(another.cwd / "job" / "20310407_093000.opus", another.cwd / "job" / "copy of it.opus")
    again = run_again(another, "job", "--out", "out", "--json")
    assert (again.json["notes"], again.json["heard_anew"]) == (2, 0)


def test_the_output_may_lie_within_the_folder_that_is_given(another: World) -> None:
    """As when a person stands in the job's folder and says "here": what the tool wrote is no evidence."""
    shutil.move(another.cwd / "out", another.cwd / "job" / "result")
    (another.cwd / "job" / "20310407_094500.opus").unlink()
    again = run_again(another, "job", "--out", "job/result", "--json")
    assert again.json["notes"] == 1
    assert [note["file"] for note in record_in(another.cwd / "job/result")["notes"]] == [
        "20310407_093000.opus"
    ]


def test_verify_finds_that_everything_fits_and_that_a_changed_record_does_not(another: World) -> None:
    fits = another.here("verify", "--out", "out")
    assert (fits.status, fits.err) == (0, "")
    record = another.cwd / "out" / "record.json"
    record.write_text(record.read_text("utf-8").replace('"60.2"', '"62.0"'), "utf-8")
    changed = another.here("verify", "--out", "out")
    assert changed.status == 1
    assert "record.json" in changed.err


def test_a_photo_that_comes_later_is_added_and_nothing_is_heard_again(another: World) -> None:
    photo = another.cwd / "job" / "later.jpg"
    shutil.copy(Path(__file__).parents[2] / "sample_media" / "job" / "BENCH032.jpg", photo)
    again = run_again(another, "job", "--out", "out", "--json")
    assert (again.json["photos"], again.json["heard_anew"]) == (2, 0)
    assert told_in(another.cwd / "out")


def test_the_zone_tells_where_a_file_names_time_stands(another: World) -> None:
    again = another.here("run", "job", "--out", "east", "--library", "out/library", "--zone", "Asia/Kolkata")
    assert again.status == 0
    assert record_in(another.cwd / "east")["notes"][0]["started_at"] == "2031-04-07T09:30:00+05:30"


@pytest.mark.skipif(os.name == "nt", reason="names of this kind are not possible there")
@pytest.mark.parametrize(
    "name", ["-rf.opus", "quote \" and ' & <b>.opus", "Größe 日本.opus", "two\nlines.opus", "\x1b[31m.opus"]
)
def test_odd_names_are_only_names(another: World, name: str) -> None:
    (another.cwd / "job" / "20310407_093000.opus").rename(another.cwd / "job" / name)
    again = run_again(another, "job", "--out", "out", "--json")
    assert again.status in (0, 1), again.err  # 1: the name no longer tells the time
    assert again.json["heard_anew"] == 0
    assert name in [note["file"] for note in record_in(another.cwd / "out")["notes"]]
    assert "\x1b" not in again.err
    assert len(again.messages) == len(again.json["problems"])


def test_what_the_claim_lacks_is_told_while_there_is_time(another: World) -> None:
    said = run_again(another, "job", "--out", "out").out
    asked = re.findall(r"What the claim still lacks, to be put right (.*):", said)
    whole = ["while the vehicle is still taken apart", "while it is in the workshop", "at the desk"]
    assert asked == [until for until in whole if until in asked]
    assert len(asked) > 1
    gaps = record_in(another.cwd / "out")["claim_gaps"]
    assert all(f"  - {gap['message']} {gap['remedy']}" in said for gap in gaps)


def test_what_was_stated_at_the_desk_counts_and_is_told_beside_the_file(another: World) -> None:
    (another.cwd / "job" / "job.toml").write_text(
        'format = "jobnotes-job"\nversion = 1\npayer = "North Lease"\n'
    )
    run_again(another, "job", "--out", "out")
    with Library.open(another.cwd / "out" / "library") as library:
        (job,) = library.in_short()
        now = datetime.now(UTC)
        library.state(
            job.job, [StatedEntry("payer", "Office desk", now, "North Lease", "South Lease", "North Lease")]
        )
    ended = run_again(another, "job", "--out", "out")
    assert "payer: South Lease instead of North Lease (Office desk)" in ended.out
    record = record_in(another.cwd / "out")
    assert record["job"]["payer"] == "South Lease"
    assert faults_of_record(record) == []


def test_a_photo_to_be_taken_again_is_named_at_the_end(another: World) -> None:
    """The sample's photo, as dark as in an unlit pit."""
    photo = another.cwd / "job" / "BENCH031.jpg"
    Image.open(photo).point(lambda value: value // 10).save(photo, quality=90)
    ended = another.here("run", "job", "--out", "out", "--read-photos")
    assert "Looking at photos …" in ended.err.splitlines()
    assert not ended.heard
    assert "  - BENCH031.jpg: too dark: take it again, more light on it" in ended.out.splitlines()
    assert record_in(another.cwd / "out")["photos"][0]["sight"]["flaws"] == ["too dark"]


def test_a_renamed_recording_is_named_with_the_doubt_about_its_time(another: World) -> None:
    (another.cwd / "job" / "20310407_094500.opus").rename(another.cwd / "job" / "hose.opus")
    ended = run_again(another, "job", "--out", "renamed")
    assert ended.status == 1
    (line,) = [m for m in ended.messages if m.startswith("hose.opus")]
    assert "file was last saved; put the date and time in its name" in line
    record = record_in(another.cwd / "renamed")
    assert faults_of_record(record) == []
    doubts = {note["file"]: note.get("started_at_doubt") for note in record["notes"]}
    assert doubts == {"20310407_093000.opus": None, "hose.opus": "file time"}
    assert record["job"]["opened_at"] == "2031-04-07T09:30:00+01:00"
    assert record["job"]["closed_at"].startswith("2031-04-07T09:30")


@pytest.mark.parametrize(("on_the_path", "called"), [(True, "jobnotes"), (False, "own env/bin/jobnotes")])
def test_the_command_to_go_on_with_finds_the_program_that_was_called(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, on_the_path: bool, called: str
) -> None:
    program = tmp_path / "own env" / "bin" / "jobnotes"
    program.parent.mkdir(parents=True)
    program.touch(mode=0o755)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "argv", ["own env/bin/jobnotes", "run"])
    monkeypatch.setenv("PATH", str(program.parent) if on_the_path else str(tmp_path))
    told = shlex.split(serving(tmp_path / "library", None))
    assert told == [called, "serve", "--library", str(tmp_path / "library")]

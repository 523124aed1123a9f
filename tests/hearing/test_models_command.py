"""`jobnotes models` as a person uses it."""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner

from jobnotes.commands.models import models
from jobnotes.hearing import adding
from jobnotes.hearing.catalogue import catalogue


@pytest.fixture
def run(tmp_path, monkeypatch):
    monkeypatch.setenv("JOBNOTES_MODELS", "")
    monkeypatch.setattr("platformdirs.user_data_dir", lambda *a, **k: str(tmp_path / "data"))
    return lambda *args: CliRunner().invoke(models, list(args))


def shaped(folder):
    for file in ("am/final.mdl", "conf/mfcc.conf", "graph/HCLG.fst"):
        (folder / file).parent.mkdir(parents=True, exist_ok=True)
        (folder / file).write_text(file)


def test_the_list_tells_what_is_here_what_could_be_and_where_from(run, tmp_path):
    shaped(tmp_path / "mine" / "our-model")
    result = run("--models", str(tmp_path / "mine"))
    assert result.exit_code == 0
    here, could_be = result.stdout.split("Could be here")
    assert "tiny.en-trade  (whisper, the default)" in here
    assert "our-model  (vosk)" in here
    assert str(tmp_path / "mine" / "our-model") in here
    for known in catalogue().known:
        assert known.name in could_be
        assert known.address in could_be
        assert f"jobnotes models add {known.name}" in could_be


def test_the_list_as_json_is_json_and_nothing_else(run):
    result = run("--json")
    listed = json.loads(result.stdout)
    assert listed["default"] == "tiny.en-trade"
    by_name = {entry["name"]: entry for entry in listed["recognisers"]}
    assert by_name["tiny.en-trade"]["here"] is True
    assert by_name["tiny.en"]["here"] is True
    known = catalogue().known[0]
    assert by_name[known.name]["here"] is False
    assert by_name[known.name]["published_word_errors"] == [
        {"on": e.on, "percent": e.percent} for e in known.word_errors
    ]


def test_a_known_model_that_is_here_is_listed_once_as_here(run, tmp_path):
    name = catalogue().known[0].name
    shaped(tmp_path / "mine" / name)
    listed = json.loads(run("--models", str(tmp_path / "mine"), "--json").stdout)
    assert [e["here"] for e in listed["recognisers"] if e["name"] == name] == [True]


def test_adding_tells_how_to_use_what_was_added(run, tmp_path, monkeypatch):
    monkeypatch.setattr(adding, "_try", lambda model, name: None)
    shaped(tmp_path / "given" / "our-model")
    result = run("add", str(tmp_path / "given" / "our-model"))
    assert result.exit_code == 0
    assert "--hear-with our-model" in result.stdout
    assert (tmp_path / "data" / "models" / "our-model" / "am" / "final.mdl").is_file()


def test_without_a_network_it_says_so_in_one_line_with_the_address_and_the_remedy(run, tmp_path, monkeypatch):
    # port 9 of this very machine: nothing answers there
    unreachable = replace(catalogue().known[0], address="http://127.0.0.1:9/model.zip")
    monkeypatch.setattr(adding, "catalogue", lambda: replace(catalogue(), known=(unreachable,)))
    result = run("add", unreachable.name, "--models", str(tmp_path / "m"))
    assert result.exit_code == 2
    assert result.stdout == ""
    (line,) = [line for line in result.stderr.splitlines() if "…" not in line]
    assert "http://127.0.0.1:9/model.zip" in line
    assert "download it on a machine with a network and give the zip" in line
    assert list((tmp_path / "m").iterdir()) == []


@pytest.mark.parametrize("what", ["no-such-thing", "text.zip", "empty.zip", "folder"])
def test_what_is_no_model_ends_with_status_2_and_one_line(run, tmp_path, monkeypatch, what):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "text.zip").write_text("hello")
    zipfile.ZipFile(tmp_path / "empty.zip", "w").close()
    (tmp_path / "folder").mkdir()
    result = run("add", what, "--models", str(tmp_path / "m"))
    assert result.exit_code == 2
    assert isinstance(result.exception, SystemExit)
    (line,) = [line for line in result.stderr.splitlines() if "…" not in line]
    assert what in line


def test_the_help_reads(run):
    assert "what could be" in run("--help").stdout
    assert "zip with one model" in run("add", "--help").stdout


def test_each_level_tells_its_price_and_its_errors_as_the_bench_wrote_them_down(run):
    page = (Path(__file__).parents[2] / "docs" / "hearing.md").read_text("utf-8")
    rows = [
        [cell.strip() for cell in row.split("|")[1:-1]] for row in page.splitlines() if row.startswith("| ")
    ]
    shown = run().stdout
    for level in catalogue().levels:
        clean, noisy = (
            next(r for r in rows if r[:3] == ["kept aside", condition, level.name])
            for condition in ("clean", "10 dB")
        )
        (cost,) = [r for r in rows if r[0] == level.name and len(r) == 4]
        measured = level.measured
        for pair, column in ((measured.recall, 4), (measured.wrong_and_sure, 5), (measured.to_check, 7)):
            assert f"{pair[0]:.1f} %" in clean[column]
            assert f"{pair[1]:.1f} %" in noisy[column]
        assert f"{measured.time:.3f}" == cost[1]
        assert f"{measured.memory} MiB" == cost[3]
        assert level.name in shown
        assert f"{measured.time:g} of the sound's length" in shown

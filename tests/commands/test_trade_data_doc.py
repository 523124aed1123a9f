"""docs/trade-data.md: its files load, and do what the page says."""

# Trade data is read once a process for each folder: a test in this process gives a folder of its own, by its
# full path.

from __future__ import annotations

import re
from typing import Any

import pytest
from command_line import CLIPS, ROOT, World
from docx import Document

PAGE = (ROOT / "docs" / "trade-data.md").read_text("utf-8")
FILES = dict(re.findall(r"^```toml (\S+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL))
(TOLD,) = re.findall(r"^```told\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
((BAD_NAME, BAD),) = re.findall(r"^```error (\S+)\n(.*?)^```$", PAGE, re.MULTILINE | re.DOTALL)
(BAD_LINE,) = re.findall(r"^    (jobnotes: .*)$", PAGE, re.MULTILINE)


@pytest.fixture
def workshop(world: World) -> World:
    """A world with the page's files in `our-workshop` and what is told in `told.txt`."""
    (world.cwd / "our-workshop").mkdir()
    for name, text in FILES.items():
        (world.cwd / "our-workshop" / name).write_text(text, "utf-8")
    (world.cwd / "told.txt").write_text(TOLD, "utf-8")
    return world


def facts(world: World, *options: str) -> list[dict[str, Any]]:
    ended = world.here("facts", "--text", "told.txt", *options)
    assert ended.status == 0, ended.err
    return list(ended.json["facts"])


def test_the_page_names_every_file_that_ships_and_a_workshop_may_add_to() -> None:
    shipped = {path.name for path in (ROOT / "jobnotes" / "data").glob("*.toml")}
    told = set(re.findall(r"^\| `([\w.]+\.toml)` \|", PAGE, re.MULTILINE))
    assert told == shipped - {"recognisers.toml", "second_listener.toml", "einvoice.toml", "spreadsheet.toml"}
    assert set(FILES) <= told


def test_as_shipped_the_example_is_not_understood(workshop: World) -> None:
    told = facts(workshop)
    assert not [fact for fact in told if fact.get("unit") == "lx"]
    assert [fact["object"] for fact in told if fact["kind"] == "step"] == ["site lifter"]
    assert [fact["status"] for fact in told if fact["kind"] == "cause"] == ["check"]


def test_with_the_workshops_files_it_is(workshop: World) -> None:
    told = facts(workshop, "--workshop", str(workshop.cwd / "our-workshop"))
    (lamp,) = [fact for fact in told if fact.get("unit") == "lx"]
    assert (lamp["value"], lamp["quantity"], lamp["verdict"]) == ("85", "illuminance", "within")
    (step,) = [fact for fact in told if fact["kind"] == "step"]
    assert (step["action"], step["object"]) == ("removed", "side shifter")
    assert step["repairs"] == [{"heard": "site lifter", "read_as": "side shifter"}]
    (cause,) = [fact for fact in told if fact["kind"] == "cause"]
    assert (cause["component"], cause["failure"], cause["status"]) == ("side shifter", "worn", "sure")
    assert "creeps down" in next(fact["text"] for fact in told if fact["kind"] == "complaint")


def test_a_run_uses_its_wording_and_its_claim_policy(workshop: World) -> None:
    (workshop.cwd / "job").mkdir()
    (workshop.cwd / "job" / "20310407_093000.opus").write_bytes((CLIPS / "readings.opus").read_bytes())
    told: dict[str, list[str]] = {}
    for name, options in (("shipped", []), ("own", ["--workshop", str(workshop.cwd / "our-workshop")])):
        arguments = ["run", "job", "--out", name, "--library", "library", "--json", *options]
        ended = workshop.here(*arguments)
        assert ended.status == 0, ended.err
        told[name] = ended.json["claim_gaps"]
    added = [gap for gap in told["own"] if gap not in told["shipped"]]
    assert len(added) == 1
    assert "load chart" in added[0]
    assert any("odometer" in gap.lower() for gap in set(told["shipped"]) - set(told["own"]))
    first = [p.text for p in Document(str(workshop.cwd / "own" / "claim.docx")).paragraphs]
    assert "Fork lift warranty report" in first


def test_a_wrong_file_gives_the_line_that_the_page_shows(workshop: World) -> None:
    (workshop.cwd / "our-workshop" / BAD_NAME).write_text(BAD, "utf-8")
    ended = workshop.jobnotes("facts", "--text", "told.txt", "--workshop", "our-workshop")
    assert ended.status == 2
    assert ended.err.splitlines() == [BAD_LINE]


BROKEN = {
    "units.toml": '[[unit]]\nucum = "x"\npint = "no such unit"\nquantity = "q"\nforms = ["exes"]\n',
    "ranges.toml": '[[range]]\nquantity = "q"\nunit = "V"\nsource = "s"\n',
    "lexicon.toml": "[components]\nmast = 3\n",
    "fault_texts.toml": '[fmi]\n77 = "no such mode"\n',
    "misheard.toml": '[[word]]\nheard = "not a list"\nread_as = "x"\n',
    "cues.toml": "headings = 1\n",
    "spelling.toml": "[letters]\na = [1]\n",
    "pairing.toml": 'same_kind = "hose"\n',
    "documents.toml": "[claim]\nno_such_key = 'x'\n",
    "claim_policy.toml": "[[rule]]\nid = 'x'\n",
}


@pytest.mark.parametrize("name", BROKEN)
def test_a_wrong_entry_in_any_file_is_named_in_one_line(world: World, name: str) -> None:
    head = f'format = "jobnotes-{name.removesuffix(".toml").replace("_", "-")}"\nversion = 1\n'
    (world.cwd / "our-workshop").mkdir()
    (world.cwd / "our-workshop" / name).write_text(head + BROKEN[name], "utf-8")
    (world.cwd / "job").mkdir()
    (world.cwd / "job" / "20310407_093000.opus").write_bytes((CLIPS / "readings.opus").read_bytes())
    ended = world.here("run", "job", "--out", "out", "--workshop", world.cwd / "our-workshop")
    assert ended.status == 2, ended.err
    assert len(ended.messages) == 1
    assert name in ended.messages[0]
    assert "; " in ended.messages[0]
    assert not (world.cwd / "out").exists()

"""README.md's promises that can be checked by reading it. .ci/run carries its commands out."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from click.testing import CliRunner
from command_line import ROOT

from jobnotes.commands.main import COMMANDS, main

README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = re.findall(r"^```sh\n(.*?)^```$", README, re.MULTILINE | re.DOTALL)
PAGES = sorted(
    [
        *ROOT.glob("*.md"),
        *(ROOT / "docs").glob("*.md"),
        ROOT / "models/README.md",
        ROOT / "sample_media/README.md",
    ]
)


def test_it_opens_with_one_paragraph_that_states_the_job() -> None:
    title, paragraph, following = README.split("\n\n")[:3]
    assert title == "# jobnotes"
    assert all(word in paragraph for word in ("recordings", "photos", "claim", "without"))
    assert following.startswith("## ")


def test_the_demo_and_the_tests_are_one_shell_line_each() -> None:
    demo, tests = BLOCKS[:2]
    assert demo.count("\n") == tests.count("\n") == 1
    assert "jobnotes demo --out" in demo
    assert "pytest" in tests
    for command in (demo, tests):
        assert command.startswith("python3 -m venv .venv && .venv/bin/pip install")


@pytest.mark.skipif(not (ROOT / ".ci" / "run").is_file(), reason="no gate in this copy of the source")
def test_the_gate_carries_out_these_very_commands() -> None:
    gate = (ROOT / ".ci" / "run").read_text("utf-8")
    function = re.search(r"^readme_command\(\) \{\n.*?^\}$", gate, re.MULTILINE | re.DOTALL)
    assert function
    for word, block in (("jobnotes demo", BLOCKS[0]), ("pytest", BLOCKS[1])):
        assert f"$(readme_command '{word}')" in gate
        script = f"{function[0]}\nreadme_command '{word}'"
        found = subprocess.run(
            ["bash", "-c", script], cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=True
        )
        assert found.stdout == block


def test_every_command_and_option_that_it_names_exists() -> None:
    named = re.findall(r"`?jobnotes ([a-z]+)", README)
    assert set(COMMANDS) <= set(named)
    helped = "".join(CliRunner().invoke(main, [name, "--help"]).output for name in COMMANDS)
    for option in re.findall(r"(?<![\w-])--[a-z][a-z-]+", README):
        assert option in helped, option


@pytest.mark.parametrize("page", PAGES, ids=lambda p: p.relative_to(ROOT).as_posix())
def test_its_links_lead_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#\s]+)", page.read_text("utf-8")):
        if not target.startswith("http"):
            assert (page.parent / target).exists(), target


def test_the_formats_that_it_lists_are_the_ones_that_are_read() -> None:
    from jobnotes.intake import formats

    for said in (formats.RECORDINGS_SAID, formats.PHOTOS_SAID):
        assert said.replace(" and ", ", ") in " ".join(README.split())


def test_the_pictures_of_the_pages_are_small_and_each_is_shown() -> None:
    pictures = sorted((ROOT / "docs" / "pictures").iterdir())
    assert pictures
    shown = "".join(page.read_text("utf-8") for page in PAGES)
    for picture in pictures:
        assert picture.stat().st_size < 150_000
        assert f"pictures/{picture.name})" in shown

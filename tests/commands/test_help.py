"""Help that a person can go by."""

from __future__ import annotations

import re

import pytest
from click.testing import CliRunner
from command_line import ROOT, World

from jobnotes import __version__
from jobnotes.commands.main import COMMANDS, main

PAGES = [[], *([name] for name in COMMANDS), ["models", "add"]]


def page(*arguments: str) -> str:
    result = CliRunner().invoke(main, [*arguments, "--help"], prog_name="jobnotes")
    assert result.exit_code == 0, result.output
    return result.output


@pytest.mark.parametrize("command", PAGES, ids=lambda c: " ".join(c) or "jobnotes")
def test_each_page_says_what_the_command_does_and_what_each_option_is_for(command: list[str]) -> None:
    text = page(*command)
    assert text.startswith(f"Usage: {' '.join(['jobnotes', *command])}")
    about = text.split("\n\n")[1].strip()
    assert about[0].isupper()
    assert about.endswith((".", "]}"))
    options = text.split("Options:\n")[1].split("\n\n")[0]
    described = re.findall(r"^  (?:-\w, )?(--[\w-]+)(?: [A-Z]+)?\s+(\S.*)?$", options, re.MULTILINE)
    assert described
    assert all(what for option, what in described), options
    assert max(map(len, text.splitlines())) <= 100


def test_the_list_of_commands_says_each_in_one_whole_sentence() -> None:
    listed = page().split("Commands:\n")[1]
    for name in COMMANDS:
        line = next(line for line in listed.splitlines() if line.split()[0] == name)
        assert not line.endswith("..."), line


@pytest.mark.parametrize("command", [*COMMANDS, "models add"])
def test_exit_statuses_are_told(command: str) -> None:
    assert "Exit status:" in page(*command.split())


def test_the_first_page_has_the_cautions() -> None:
    text = " ".join(page().split())
    assert "while a person is at risk from the vehicle" in text
    assert "does not diagnose" in text


def test_the_version_is_the_packages(world: World) -> None:
    ended = world.jobnotes("--version")
    assert (ended.status, ended.out.split()[-1]) == (0, __version__)
    assert f'version = "{__version__}"' in (ROOT / "pyproject.toml").read_text("utf-8")


def test_a_mistyped_command_is_named(world: World) -> None:
    ended = world.jobnotes("rnu")
    assert ended.status == 2
    assert "rnu" in ended.err

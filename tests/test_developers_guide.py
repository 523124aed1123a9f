"""DEVELOPERS.md can't go stale in what it names."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
GUIDE = (ROOT / "DEVELOPERS.md").read_text("utf-8")
TREE = re.search(r"^## The tree\n(.*?)^### ", GUIDE, re.MULTILINE | re.DOTALL)[1]  # type: ignore[index]
PACKAGES = dict(re.findall(r"^\| `(jobnotes/\w+/)` \| (.*) \|$", TREE, re.MULTILINE))


def test_every_part_of_the_package_has_its_line() -> None:
    parts = {f"jobnotes/{p.name}/" for p in (ROOT / "jobnotes").iterdir() if p.is_dir() and p.name[0] != "_"}
    assert set(PACKAGES) == parts - {"jobnotes/sample_media/"}


@pytest.mark.parametrize("package", PACKAGES)
def test_every_module_that_a_line_names_is_there(package: str) -> None:
    named = re.findall(r"`([\w/]+?)(?:\.py)?`", PACKAGES[package])
    within = [path.relative_to(ROOT / package).with_suffix("") for path in (ROOT / package).rglob("*")]
    there = {path.name for path in within} | {path.as_posix() for path in within}
    assert {name for name in named if not (ROOT / name).is_dir()} <= there | {name + "/" for name in there}


def test_every_path_that_it_names_is_there() -> None:
    inside = re.findall(
        r"`((?:data|reading|checking|documents|hearing|intake|library|commands)/[\w/]+\.\w+)`", GUIDE
    )
    outside = re.findall(r"`((?:jobnotes|tests|docs|sample_media|models)/[\w./]*)`", GUIDE)
    assert inside
    assert [p for p in inside if not (ROOT / "jobnotes" / p).exists()] == []
    assert [p for p in outside if not (ROOT / p).exists()] == []


def test_every_dependency_has_its_reason() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    reasons = GUIDE.split("## Dependencies")[1]
    table = set(re.findall(r"^\| ([a-z][\w-]+) \|", reasons, re.MULTILINE)) - {"package"}
    assert table == {re.split(r"[<>=;\[]", d)[0].strip() for d in project["dependencies"]}
    for extra in ("test", "speech"):
        for package in project["optional-dependencies"][extra]:
            assert re.split(r"[<>=;\[]", package)[0] in reasons


def test_every_marker_is_explained() -> None:
    options = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["pytest"]["ini_options"]
    for marker in options["markers"]:
        assert f"| `{marker.split(':')[0]}` |" in GUIDE

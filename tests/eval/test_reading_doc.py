"""docs/reading.md: what its tables say is what comes out."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from score import CLOSED

from jobnotes import record_json
from jobnotes.reading.read import read_text

PAGE = (Path(__file__).parents[2] / "docs" / "reading.md").read_text("utf-8")


def rows(heading: str) -> list[list[str]]:
    """The cells of the table under that heading, without its head."""
    part = PAGE.split(f"## {heading}\n")[1].split("\n## ")[0]
    table = [line for line in part.splitlines() if line.startswith("|")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in table[2:]]


def facts(said: str) -> list[dict[str, Any]]:
    return [record_json.to_json(fact) for fact in read_text(said.replace(" / ", "\n"))]


def flat(fact: dict[str, Any]) -> dict[str, str]:
    """The fact's keys with those of its limit, all as text."""
    values = {**fact, **fact.get("limit", {})}
    return {k: " ".join(map(str, v)) if isinstance(v, list) else str(v) for k, v in values.items()}


def meets(fact: dict[str, Any], told: str) -> bool:
    kind, _, pairs = told.partition(": ")
    values = flat(fact)
    return fact["kind"] == kind and all(
        values.get(key) == value for key, value in (pair.split(" ", 1) for pair in pairs.split(", "))
    )


@pytest.mark.parametrize(("said", "read"), rows("What is read"))
def test_what_the_page_says_is_read_is_read_and_sure(said: str, read: str) -> None:
    found = facts(said)
    for told in read.split("<br>"):
        fitting = [f for f in found if meets(f, told)]
        assert fitting, f"{told} is not among {[flat(f) for f in found]}"
        assert "status" in told or fitting[0]["status"] == "sure"


@pytest.mark.parametrize(("said", "read", "because"), rows("What is read, but doubted"))
def test_what_the_page_says_is_doubted_says_so_with_that_reason(said: str, read: str, because: str) -> None:
    (fact,) = [f for f in facts(said) if meets(f, read)]
    assert fact["status"] == "check"
    assert because in fact["why"]


@pytest.mark.parametrize("said", [said for (said,) in rows("What is left alone")])
def test_what_the_page_says_is_left_alone_gives_no_fact(said: str) -> None:
    assert facts(said) == []


def test_the_page_shows_every_kind_of_closed_fact() -> None:
    shown = {told.partition(": ")[0] for _, read in rows("What is read") for told in read.split("<br>")}
    assert shown >= CLOSED

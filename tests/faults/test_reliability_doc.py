"""docs/reliability.md has its tables as the command writes them, and nothing in them broke a promise."""

from __future__ import annotations

import re

import filling
import pytest
from fuzzing import READERS
from hostile import WAYS
from oversized import CASES
from scenarios import SCENARIOS
from striking import KINDS
from table import AT_ONCE, HEAD, PAGE, PARTS, Row, put, rows_in, table

TEXT = PAGE.read_text("utf-8")


@pytest.mark.parametrize("part", PARTS)
def test_a_table_is_of_the_form_that_the_command_writes(part: str) -> None:
    head, rule, *rows, last = rows_in(part, TEXT)
    assert [head, rule] == [[cell.strip() for cell in line.strip("|").split("|")] for line in HEAD]
    assert rows
    numbers = [(int(row[2].replace(",", "")), int(row[3])) for row in rows]
    assert all(tried > 0 for tried, _ in numbers)
    assert last[2:4] == [f"**{sum(t for t, _ in numbers):,}**", f"**{sum(b for _, b in numbers)}**"]


@pytest.mark.parametrize("part", PARTS)
def test_no_promise_was_broken(part: str) -> None:
    assert rows_in(part, TEXT)[-1][3] == "**0**"


def test_every_row_names_what_is_tried() -> None:
    for kind, flow, *_ in rows_in("faults", TEXT)[2:-1]:
        assert (kind, flow) == ("several at once", AT_ONCE) or kind in (*KINDS, filling.KIND)
        assert flow in (*SCENARIOS, AT_ONCE)
    for what, name, *_ in rows_in("inputs", TEXT)[2:-1]:
        assert name in {"damaged": READERS, "oversized": CASES, "hostile file names": WAYS}[what]


def test_a_table_takes_the_place_of_the_last_one_and_nothing_else_changes() -> None:
    rows = [Row("killed (kill -9)", "review", 1200, 1, "lost: a photo"), Row("x", "y", 3, 0, "nothing")]
    page = put("faults", table(rows), TEXT)
    assert rows_in("faults", page)[2] == ["killed (kill -9)", "review", "1,200", "1", "lost: a photo"]
    assert rows_in("faults", page)[-1] == ["**all**", "", "**1,203**", "**1**", ""]
    assert rows_in("inputs", page) == rows_in("inputs", TEXT)
    bare = re.compile(r"^\|.*$", re.MULTILINE)
    assert bare.sub("", page).split() == bare.sub("", TEXT).split()

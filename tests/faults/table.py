"""The tables of docs/reliability.md, made by trying: `python tests/faults/table.py [faults] [inputs]`.

Each part that is named (all, without a name) is tried, and each row that was made takes the place of the last
one of its kind. The faults take hours on a small machine at every change of every flow: `--processes` shares
them out, `--only NAME` tries that one alone, `--most N` strikes at N changes that are spread evenly. Exits 1
where anything was lost, half-written or ended in a traceback.
"""

from __future__ import annotations

import argparse
import re
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

AT_ONCE = "two desks, a program and a run"
PAGE = Path(__file__).parents[2] / "docs" / "reliability.md"
_MARK = "<!-- {part}: made by tests/faults/table.py -->"


@dataclass(frozen=True)
class Row:
    """One line of a table. `broken` is how many of the `tried` broke a promise."""

    what: str
    where: str
    tried: int
    broken: int
    happened: str

    def line(self) -> str:
        return f"| {self.what} | {self.where} | {self.tried:,} | {self.broken} | {self.happened} |"


HEAD = ("| what | where | tried | broke a promise | what happened |", "| --- | --- | ---: | ---: | --- |")


@dataclass(frozen=True)
class Wanted:
    """`most` of each kind, `only` these flows and inputs (all, without one), in so many `processes`."""

    most: int | None
    only: Sequence[str]
    processes: int

    def has(self, name: str) -> bool:
        return not self.only or name in self.only


def faults(wanted: Wanted) -> Iterator[Row]:
    """Each kind of fault in each flow."""
    import filling
    from scenarios import SCENARIOS
    from striking import KINDS, strike

    if wanted.has(AT_ONCE):
        yield _at_once()
    for scenario in [scenario for name, scenario in SCENARIOS.items() if wanted.has(name)]:
        kinds = dict.fromkeys(KINDS, wanted.most)
        if "real" in scenario.name:  # a second and more for each
            kinds = dict.fromkeys(KINDS, min(wanted.most or 12, 12))
        for result in strike(scenario, kinds, wanted.processes):
            for call, wrong in result.broken:
                print(call, *wrong, sep="\n  ", file=sys.stderr)
            happened = "nothing lost, nothing half-written; the next run came to the same"
            yield Row(result.kind, scenario.name, result.tried, len(result.broken), happened)
        if filling.available() and "real" not in scenario.name:
            filled = filling.fill(scenario, min(wanted.most or 16, 16))
            for room, wrong in filled.broken.items():
                print(f"room for {room} kB", *wrong, sep="\n  ", file=sys.stderr)
            happened = (
                f"room for {filled.rooms[0]} to {filled.rooms[-1]} kB: nothing lost; with more it went on"
            )
            yield Row(filling.KIND, scenario.name, len(filled.rooms), len(filled.broken), happened)


def _at_once() -> Row:
    from at_once import at_once

    with tempfile.TemporaryDirectory() as folder:
        told = at_once(Path(folder), runs=5, each=25)
    print(*told.broken, sep="\n", file=sys.stderr)
    happened = f"all that was decided is there; the longest wait for one thing was {told.longest_s:.0f} s"
    return Row("several at once", AT_ONCE, told.done, len(told.broken), happened)


def inputs(wanted: Wanted) -> Iterator[Row]:
    """Damaged, hostile and oversized input of each reader."""
    from fuzzing import READERS, tried
    from hostile import STEMS, WAYS
    from oversized import CASES

    for name, way in [(name, way) for name, way in WAYS.items() if wanted.has(name)]:
        with tempfile.TemporaryDirectory() as folder:
            wrong = way(Path(folder) / "place")
        print(*wrong, sep="\n", file=sys.stderr)
        happened = "kept, and shown as a name; led nowhere"
        yield Row("hostile file names", name, 2 * len(STEMS), len(wrong), happened)
    for name, reader in [(name, reader) for name, reader in READERS.items() if wanted.has(name)]:
        result = tried(reader, wanted.most or 2000)
        for said in result.findings:
            print(name, said, sep="\n  ", file=sys.stderr)
        happened = (
            f"{result.read:,} read, {result.refused:,} refused in a line; "
            f"longest {result.longest_s:.1f} s, {result.most_mb:.0f} MB"
        )
        yield Row("damaged", name, result.tried, len(result.findings), happened)
    for name, case in [(name, case) for name, case in CASES.items() if wanted.has(name)]:
        told = case()
        if told.broken:
            print(name, *told.broken, sep="\n  ", file=sys.stderr)
        happened = f"{told.happened}; {told.seconds:.1f} s of processor time, {told.most_mb:.0f} MB"
        yield Row("oversized", name, 1, len(told.broken), happened)


PARTS: dict[str, Callable[[Wanted], Iterator[Row]]] = {
    "faults": faults,
    "inputs": inputs,
}


def merged(part: str, rows: Sequence[Row], page: str) -> list[Row]:
    """The rows of that part on the page, with these in the places of theirs, or behind the others."""
    there = {}
    for what, where, tried, broken, happened in rows_in(part, page)[2:-1]:
        there[what, where] = Row(what, where, int(tried.replace(",", "")), int(broken), happened)
    return list((there | {(row.what, row.where): row for row in rows}).values())


def table(rows: Sequence[Row]) -> str:
    tried = sum(row.tried for row in rows)
    broken = sum(row.broken for row in rows)
    return "\n".join(
        [*HEAD, *(row.line() for row in rows), f"| **all** | | **{tried:,}** | **{broken}** | |"]
    )


def put(part: str, text: str, page: str) -> str:
    """`page` with the table of that part in its place."""
    mark = _MARK.format(part=part)
    assert page.count(mark) == 2, f"docs/reliability.md has no place for the table {part}"
    return re.sub(
        f"{re.escape(mark)}.*{re.escape(mark)}", lambda _: f"{mark}\n\n{text}\n\n{mark}", page, flags=re.S
    )


def rows_in(part: str, page: str) -> list[list[str]]:
    """The cells of that part's table, its head and its last line among them."""
    mark = _MARK.format(part=part)
    inside = page.split(mark)[1]
    return [[c.strip() for c in line.strip("|").split("|")] for line in inside.split("\n") if line[:1] == "|"]


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("parts", nargs="*", choices=[*PARTS, []], help="faults, inputs; all without a name")
    ask.add_argument("--most", type=int, help="of a kind in a flow, or of a reader's inputs")
    ask.add_argument("--only", action="append", default=[], metavar="NAME", help="this flow or input")
    ask.add_argument("--processes", type=int, default=1, help="among which faults are shared out")
    given = ask.parse_args()
    wanted, broken = Wanted(given.most, given.only, given.processes), 0
    for part in given.parts or PARTS:
        for row in PARTS[part](wanted):
            print(time.strftime("%H:%M:%S"), row.line(), file=sys.stderr, flush=True)
            page = PAGE.read_text("utf-8")
            PAGE.write_text(put(part, table(merged(part, [row], page)), page), "utf-8")
            broken += row.broken
    sys.exit(1 if broken else 0)


if __name__ == "__main__":
    main()

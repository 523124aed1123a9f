"""Faults struck into a scenario at each of its changes in turn, and whether what was promised holds.

After whatever fault: the library opens and is whole, no original and no confirmed decision is gone, nothing
half-written bears a final name, and the same command goes through and comes to what it would have come to.
"""

from __future__ import annotations

import errno
import os
import shutil
import tempfile
import traceback
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import scenarios
from kernel import Call, Fault, every, watched
from scenarios import Place, Scenario

#: every kind of fault: its name for people, and what is done to change number `at`
KINDS: dict[str, Callable[[int], Fault]] = {
    "killed (kill -9)": lambda at: Fault("kill", at),
    "killed within a write": lambda at: Fault("torn", at),
    "power cut, contents lost": lambda at: Fault("power cut", at),
    "power cut, names lost too": lambda at: Fault("power cut, names too", at),
    "disk full from there on": lambda at: Fault("errors", at, errno.ENOSPC),
    "one error of the disk (EIO)": lambda at: Fault("error", at, errno.EIO),
    "disk fails from there on (EIO)": lambda at: Fault("errors", at, errno.EIO),
    "read-only from there on (EROFS)": lambda at: Fault("errors", at, errno.EROFS),
}


@dataclass(frozen=True)
class Undisturbed:
    """A scenario as it goes without a fault: what was there before it, its changes, and what comes of it."""

    scenario: Scenario
    before: Place
    calls: list[Call]
    outcome: dict[str, Any]
    kept: frozenset[str]

    def points(self, kind: str, most: int | None = None) -> list[int]:
        """At which changes to strike, all of them or `most` that are spread evenly.

        SQLite's shared memory is left out, which is made anew whenever a database is opened; and of many
        writes in a row to one unfinished file, which nobody reads, all but the first and the last.
        """
        calls = [call for call in self.calls if not call.path.endswith("-shm")]
        calls = [
            call
            for before, call, after in zip([None, *calls], calls, [*calls[1:], None], strict=False)
            if not (before and after and before.path == call.path == after.path and _is_unfinished(call))
        ]
        if "within a write" in kind:
            calls = [call for call in calls if call.what == "write"]
        return [calls[at].number for at in every(calls, most)]


def _is_unfinished(call: Call) -> bool:
    return call.what == "write" and any(part.startswith(".") for part in call.path.split("/"))


def undisturbed(scenario: Scenario, folder: Path) -> Undisturbed:
    before = Place(folder / "before")
    with _quiet():
        scenario.prepare(before)
    through = before.copied_to(folder / "undisturbed")
    # in this process first: what is read and worked out once need not be so in each child
    with _quiet():
        scenarios.done(scenario.act, before.copied_to(folder / "warm"))
    seen = watched(lambda: scenario.act(through), through.disk)
    assert seen.status == 0, seen.said
    assert scenarios.misfits(through) == []
    return Undisturbed(
        scenario, before, seen.calls, scenarios.outcome(through), frozenset(scenarios.kept(before))
    )


def struck(reference: Undisturbed, fault: Fault, folder: Path) -> list[str]:
    """What the fault broke of what was promised: nothing, it is hoped."""
    place = reference.before.copied_to(folder)
    try:
        return list(_broken(reference, fault, place))
    except Exception:
        return [f"the check itself: {traceback.format_exc(limit=-3)}"]
    finally:
        for left in folder.parent.glob(f"{folder.name}*"):
            shutil.rmtree(left, ignore_errors=True)


def _broken(reference: Undisturbed, fault: Fault, place: Place) -> Iterator[str]:
    act = reference.scenario.act
    seen = watched(lambda: act(place), place.disk, fault)
    if seen.disk is not None:
        shutil.rmtree(place.disk)
        seen.disk.rename(place.disk)
    yield from _said(seen.status, seen.said)
    yield from scenarios.misfits(place)
    for lost in sorted((reference.kept | set(place.told)) - scenarios.kept(place)):
        yield f"lost: {lost}"
    again = watched(lambda: act(place), place.root / "nothing")
    if again.status != 0:
        yield f"the next run ends with {again.status}: {again.said[-600:]}"
        return
    yield from scenarios.misfits(place)
    yield from _differences(reference.outcome, scenarios.outcome(place))


def _said(status: int, said: str) -> Iterator[str]:
    if "Traceback" in said:
        yield f"a traceback: {said[-1500:]}"
    if status not in (0, 1, 2, -9):
        yield f"ended with status {status}: {said[-600:]}"
    if status == 2 and "jobnotes: " not in said:
        yield f"nothing was said: {said[-600:]}"


def _differences(wanted: dict[str, Any], got: dict[str, Any]) -> Iterator[str]:
    if wanted["written"] != got["written"]:
        yield f"files: {got['written']} instead of {wanted['written']}"
    if wanted["jobs"].keys() != got["jobs"].keys():
        yield f"jobs: {list(got['jobs'])} instead of {list(wanted['jobs'])}"
    for job, held in wanted["jobs"].items():
        for key, value in held.items():
            now = got["jobs"].get(job, {}).get(key)
            if now != value:
                yield f"{key} of {job}: {now} instead of {value}"


@contextmanager
def _quiet() -> Iterator[None]:
    """What a command says goes nowhere, at the level of the system, where a child's would go too."""
    out, err = os.dup(1), os.dup(2)
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        for kept, number in ((out, 1), (err, 2)):
            os.dup2(kept, number)
            os.close(kept)
        os.close(nowhere)


@dataclass(frozen=True)
class Result:
    """One kind of fault in one scenario: at how many changes it was struck, and what broke where."""

    scenario: str
    kind: str
    tried: int
    broken: tuple[tuple[Call, tuple[str, ...]], ...]


def strike(scenario: Scenario, kinds: Mapping[str, int | None]) -> Iterator[Result]:
    """Each of the kinds at each change, or at as many of them as stand beside it."""
    with tempfile.TemporaryDirectory() as name:
        reference = undisturbed(scenario, Path(name))
        for kind, most in kinds.items():
            points = reference.points(kind, most)
            found = ((at, struck(reference, KINDS[kind](at), Path(name) / f"{at}")) for at in points)
            broken = tuple((reference.calls[at], tuple(wrong)) for at, wrong in found if wrong)
            yield Result(scenario.name, kind, len(points), broken)

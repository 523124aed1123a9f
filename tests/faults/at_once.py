"""Several at once on one library, each in a process of its own: a run again and again, desks, a program.

Whatever was confirmed to one of them must be there in the end, and none is shown more than a short wait.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import children
import scenarios
from scenarios import AT, Browser, Place

from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.record import Fact, Statement

_LONG_S = 60.0
"""By the clock, for one thing done; a small machine may have more to do."""


@dataclass(frozen=True)
class AtOnce:
    """How much was done at once, the longest wait for one thing in seconds, and what was broken."""

    done: int
    longest_s: float
    broken: tuple[str, ...]


def at_once(root: Path, runs: int, each: int) -> AtOnce:
    """A run `runs` times, two desks and a program that decide `each` times, all at once."""
    place = Place(root)
    with scenarios.quiet():
        scenarios.SCENARIOS["run with decisions"].prepare(place)
    job, before = scenarios.job_in(place), scenarios.kept(place)
    acts: dict[str, Callable[[int], str]] = {
        "desk one": _desk(place, "one"),
        "desk two": _desk(place, "two"),
        "program": _program(place, job),
        "run": _runs(place),
    }
    started = {
        name: children.started(_times(act, runs if name == "run" else each)) for name, act in acts.items()
    }
    confirmed, waits, broken = set(before), [0.0], []
    done = 0
    for name, (child, stream) in started.items():
        with stream:
            for line in stream:
                told = children.told(line)
                waits.append(told["s"])
                done += 1
                confirmed |= {told["said"]} - {""}
        if (status := children.ended(child)) != 0:
            broken.append(f"{name} ended with {status}")
    broken += [f"lost: {lost}" for lost in sorted(confirmed - scenarios.kept(place))]
    broken += [*scenarios.misfits(place), *_not_in_the_record(place, confirmed)]
    if max(waits) > _LONG_S:
        broken.append(f"waited for {max(waits):.0f} s")
    return AtOnce(done, max(waits), tuple(broken))


def _times(act: Callable[[int], str], count: int) -> Callable[[children.Tell], None]:
    def do(tell: children.Tell) -> None:
        for nth in range(count):
            started = time.monotonic()
            said = act(nth)
            tell({"said": said, "s": time.monotonic() - started})

    return do


def _desk(place: Place, name: str) -> Callable[[int], str]:
    """A clerk at a desk, whose server opens the library for each thing that is asked."""
    kept: list[Browser] = []

    def add(nth: int) -> str:
        browser = kept[0] if kept else Browser(place, "clerk", name)
        kept[:] = [browser]
        browser.answer("GET", "/desk")
        (row,) = browser.app.state.store.jobs()
        values = {"text": f"look at hose {name} {nth}"}
        asked = {"action": "add", "kind": "advisory", "values": values, "at": AT.isoformat()}
        (fact,) = browser.answer("POST", f"/api/jobs/{row.id}/decisions", json=asked)["facts"]
        return f"decision added {fact}"

    return add


def _program(place: Place, job: str) -> Callable[[int], str]:
    def add(nth: int) -> str:
        fact = Fact(f"H{nth:09}", Statement("advisory", f"look at clamp {nth}"), "", 1.0, "accepted")
        with Library.open(place.library, create=False) as library, library.alone_with(job):
            library.decide(job, Decision(fact.id, "program", AT, "added", after=fact))
        return f"decision added {fact.id}"

    return add


def _runs(place: Place) -> Callable[[int], str]:
    def run(nth: int) -> str:
        scenarios.recording(place.given / f"20310407_10{nth:02}00.wav", 4 + nth)
        scenarios.done(scenarios.run, place)
        return ""

    return run


def _not_in_the_record(place: Place, confirmed: set[str]) -> Iterator[str]:
    """Once more run, the record has all that was confirmed."""
    child, stream = children.started(lambda tell: scenarios.done(scenarios.run, place))
    with stream:
        stream.read()
    if children.ended(child) != 0:
        yield "the last run failed"
    (job,) = scenarios.outcome(place)["jobs"].values()
    there = {fact[0] for fact in job["facts"]}
    yield from sorted(
        f"not in the record: {c}"
        for c in confirmed
        if c.startswith("decision") and c.split()[-1] not in there
    )

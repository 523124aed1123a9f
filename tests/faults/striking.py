"""Faults struck into a scenario at each of its changes in turn, and whether what was promised holds.

After whatever fault: the library opens and is whole, no original and no confirmed decision is gone, nothing
half-written bears a final name, and the same command goes through and comes to what it would have come to.
"""

from __future__ import annotations

import errno
import hashlib
import json
import re
import shutil
import signal
import tempfile
import traceback
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import children
import scenarios
from kernel import NEED_ROOM, Call, Fault, Watched, What, every, moments, watched
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

        For the kind that is within a write, at those alone.
        """
        calls = [call for call in self.calls if call.what == "write" or "within a write" not in kind]
        return [calls[at].number for at in every(calls, most)]


def undisturbed(scenario: Scenario, folder: Path) -> Undisturbed:
    before = Place(folder / "before")
    with scenarios.quiet():
        scenario.prepare(before)
    through = before.copied_to(folder / "undisturbed")
    # in this process first: what is read and worked out once need not be so in each child
    with scenarios.quiet():
        scenarios.done(scenario.act, before.copied_to(folder / "warm"))
    seen = watched(lambda: scenario.act(through), through.disk)
    assert seen.status == 0, seen.said
    assert scenarios.misfits(through) == []
    kept = frozenset(scenarios.kept(through if scenario.takes_away else before.copied_to(folder / "looked")))
    return Undisturbed(scenario, before, seen.calls, scenarios.outcome(through), kept)


def struck(reference: Undisturbed, fault: Fault, folder: Path) -> list[str]:
    """What the fault broke of what was promised: nothing, it is hoped."""
    place = reference.before.copied_to(folder)
    act = reference.scenario.act

    def strike() -> Watched:
        seen = watched(lambda: act(place), place.disk, fault)
        if seen.disk is not None:
            shutil.rmtree(place.disk)
            seen.disk.rename(place.disk)
        return seen

    return broken(reference, place, strike)


def broken(reference: Undisturbed, place: Place, strike: Callable[[], Watched]) -> list[str]:
    """Let `strike` be done in a copy of the scenario at `place`, which is removed: what it broke."""
    try:
        return list(_broken(reference, place, strike))
    except Exception:
        return [f"the check itself: {traceback.format_exc(limit=-3)}"]
    finally:
        for left in place.root.parent.glob(f"{place.root.name}*"):
            shutil.rmtree(left, ignore_errors=True)


def _broken(reference: Undisturbed, place: Place, strike: Callable[[], Watched]) -> Iterator[str]:
    act = reference.scenario.act
    seen = strike()
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
    if status == 2 and not re.search(r"^\S.*: .*; .*$", said, re.MULTILINE):
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


@dataclass(frozen=True)
class Result:
    """One kind of fault in one scenario: at how many changes it was struck, and what broke where."""

    scenario: str
    kind: str
    tried: int
    broken: tuple[tuple[Call, tuple[str, ...]], ...]


def strike(scenario: Scenario, kinds: Mapping[str, int | None], processes: int = 1) -> Iterator[Result]:
    """Each of the kinds at each change, or at as many of them as stand beside it."""
    with tempfile.TemporaryDirectory() as name:
        reference = undisturbed(scenario, Path(name))
        everywhere = [kind for kind, most in kinds.items() if most is None]
        if ends := [kind for kind in everywhere if _ends_it(kind)]:
            yield from _ended(reference, ends, Path(name), processes)
        for kind in [kind for kind in kinds if kind not in ends]:
            points = reference.points(kind, kinds[kind])
            if kind in everywhere:
                points = list(_without_the_same(reference, kind, points))

            def strike_at(at: int, kind: str = kind) -> list[str]:
                return struck(reference, KINDS[kind](at), Path(name) / f"at-{at}-")

            found = _shared(strike_at, points, processes)
            tried = len(reference.points(kind, kinds[kind]))
            yield Result(scenario.name, kind, tried, _at_calls(reference.calls, found))


def _at_calls(calls: list[Call], found: Mapping[int, list[str]]) -> tuple[tuple[Call, tuple[str, ...]], ...]:
    return tuple((calls[at], tuple(wrong)) for at, wrong in sorted(found.items()))


def _ends_it(kind: str) -> bool:
    return not KINDS[kind](0).error


def _without_the_same(reference: Undisturbed, kind: str, points: list[int]) -> Iterator[int]:
    """A full disk lets pass what needs no room: it makes no difference whether it is full before or after."""
    for at in points:
        is_full = KINDS[kind](at).error == errno.ENOSPC
        if not is_full or reference.calls[at].what in NEED_ROOM or at == points[-1]:
            yield at


def _ended(reference: Undisturbed, kinds: list[str], folder: Path, processes: int) -> Iterator[Result]:
    """The kinds that end it, at every change of one run: all that counts is what they leave on the disk.

    What several leave alike is looked at once: a write that isn't synchronised makes no difference to what is
    left after a power cut.
    """
    place = reference.before.copied_to(folder / "ending")
    states: dict[str, Path] = {}
    left_at: dict[str, dict[int, str]] = {KINDS[kind](0).what: {} for kind in kinds}

    def look(call: Call, what: What, left: Path) -> None:
        if what not in left_at:
            return
        state = _digest(left, "\n".join(place.told))
        left_at[what][call.number] = state
        if state not in states:
            states[state] = folder / f"state-{len(states)}-"
            shutil.copytree(place.root, states[state], ignore=shutil.ignore_patterns("disk*"))
            left.rename(states[state] / "disk")

    seen = moments(lambda: reference.scenario.act(place), place.disk, look)
    assert seen.status == 0, seen.said
    shutil.rmtree(place.root)
    names = list(states)

    def look_at(nth: int) -> list[str]:
        return broken(reference, Place(states[names[nth]]), lambda: Watched(-signal.SIGKILL))

    found = {names[nth]: wrong for nth, wrong in _shared(look_at, range(len(names)), processes).items()}
    for kind in kinds:
        left = left_at[KINDS[kind](0).what]
        wrong = {at: found[state] for at, state in left.items() if state in found}
        yield Result(reference.scenario.name, kind, len(left), _at_calls(seen.calls, wrong))


def _digest(folder: Path, told: str) -> str:
    """Of all that lies in a folder, by name and content, and of what had been confirmed."""
    digest = hashlib.sha256(told.encode())
    for path in sorted(folder.rglob("*")):
        digest.update(f"\0{path.relative_to(folder)}\0{path.stat().st_mode}\0".encode())
        if path.is_file():
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()


def _shared(do: Callable[[int], list[str]], numbers: Sequence[int], processes: int) -> dict[int, list[str]]:
    """What `do` finds, where it finds anything; its numbers are shared out among so many processes."""

    def share(numbers: Sequence[int]) -> Callable[[children.Tell], None]:
        def do_each(tell: children.Tell) -> None:
            for number in numbers:
                if wrong := do(number):
                    tell([number, wrong])

        return do_each

    running = [children.started(share(numbers[n::processes])) for n in range(processes)]
    found: dict[int, list[str]] = {}
    for child, stream in running:
        with stream:
            found |= {int(number): wrong for number, wrong in map(json.loads, stream)}
        if (status := children.ended(child)) != 0:
            raise RuntimeError(f"a process that strikes ended with {status}")
    return found

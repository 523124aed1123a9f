"""Whatever strikes whenever: nothing is lost, nothing is half there, the same command comes to the same end.

`python tests/faults/table.py` strikes at every change; here it is a few of each kind.
"""

from __future__ import annotations

import errno
import shutil
import sys
from pathlib import Path

import pytest
from kernel import Fault, What, available, watched
from scenarios import AT, SCENARIOS, recording
from striking import KINDS, Undisturbed, strike, struck, undisturbed

from jobnotes.library.decisions import merged
from jobnotes.library.library import GivenFile, Library
from jobnotes.record import Fact, Statement

pytestmark = pytest.mark.skipif(not available(), reason="needs Linux on x86-64, where calls can be held")


@pytest.fixture(scope="module", params=["run with decisions", "upload and hearing"])
def reference(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Undisturbed:
    return undisturbed(SCENARIOS[request.param], tmp_path_factory.mktemp("undisturbed"))


def test_a_fault_loses_nothing_and_the_next_run_comes_to_the_same(
    reference: Undisturbed, tmp_path: Path
) -> None:
    """Half of the kinds in one flow, half in the other, each at another place."""
    kinds = list(KINDS)[reference.scenario.name == "upload and hearing" :: 2]
    for nth, kind in enumerate(kinds):
        points = reference.points(kind)
        at = points[round((len(points) - 1) * (nth + 0.5) / len(kinds))]
        broken = struck(reference, KINDS[kind](at), tmp_path / "struck")
        assert broken == [], (kind, reference.calls[at])


@pytest.mark.slow
@pytest.mark.parametrize("name", SCENARIOS)
def test_faults_all_over_a_scenario_break_nothing(name: str) -> None:
    if "real" in name and "onnxruntime" in sys.modules:
        pytest.skip("a fork of a process that has loaded a recogniser hangs: run tests/faults by itself")
    few = 1 if "real" in name else 2
    results = list(strike(SCENARIOS[name], dict.fromkeys(KINDS, few)))
    assert [(r.kind, r.broken) for r in results if r.broken] == []
    assert all(r.tried for r in results)


@pytest.mark.slow
def test_documents_that_find_no_room_are_told_in_a_line_and_nothing_more(tmp_path: Path) -> None:
    reference = undisturbed(SCENARIOS["first run"], tmp_path / "undisturbed")
    writes = [c for c in reference.calls if c.what == "write" and c.path.startswith("out/.documents")]
    for call in writes[:: len(writes) // 5]:
        fault = KINDS["disk full from there on"](call.number)
        assert struck(reference, fault, tmp_path / "struck") == [], call


@pytest.mark.slow
def test_a_disk_that_fails_while_the_servers_log_is_emptied_is_told_in_a_line(tmp_path: Path) -> None:
    reference = undisturbed(SCENARIOS["delete"], tmp_path / "undisturbed")
    wrong = [call for call in reference.calls if call.path.startswith("library/serve/serve.db")]
    for call in [call for call in wrong if call.what in ("sync", "truncate")]:
        fault = KINDS["one error of the disk (EIO)"](call.number)
        assert struck(reference, fault, tmp_path / "struck") == [], call


@pytest.mark.slow
@pytest.mark.parametrize("what", ["kill", "torn", "power cut", "error"])
def test_a_merger_of_two_statements_is_stored_whole_or_not_at_all(tmp_path: Path, what: What) -> None:
    """The desk makes several decisions of one deed: half of it would bill a part twice."""
    disk = tmp_path / "disk"
    with Library.open(disk) as library:
        note = library.keep(recording(tmp_path / "note.wav", 1), "recording").sha256
        job = library.file_job([GivenFile(note, "note.wav")]).job
    first, second = (Fact(name, Statement("finding", name), name, 1.0, "check") for name in ("F1", "F2"))
    deed = merged(first, second, first.detail, "all", "clerk", AT)
    assert len(deed) > 1

    def merge() -> None:
        with Library.open(disk, create=False) as library:
            library.decide_all(job, deed)

    shutil.copytree(disk, tmp_path / "before")
    calls = watched(merge, disk).calls
    found = set()
    for at in range(len(calls)):
        shutil.rmtree(disk)
        shutil.copytree(tmp_path / "before", disk)
        seen = watched(merge, disk, Fault(what, at, errno.EIO if what == "error" else 0))
        if seen.disk is not None:
            shutil.rmtree(disk)
            seen.disk.rename(disk)
        with Library.open(disk, create=False) as library:
            found.add(len(library.decisions(job)))
            assert library.verify_journal() == ()
    assert found == {0, len(deed)}


def test_a_flow_that_loses_something_would_be_seen(tmp_path: Path) -> None:
    """The check itself: a tool that keeps its originals without care is found out."""
    import os
    from dataclasses import replace

    from scenarios import Place, run

    def careless(place: Place) -> None:
        os.fsync = lambda _: None  # in a process of its own
        run(place)

    scenario = replace(SCENARIOS["first run"], act=careless)
    fsync = os.fsync
    try:
        reference = undisturbed(scenario, tmp_path)
    finally:
        os.fsync = fsync
    last = reference.calls[-1].number
    found = struck(reference, KINDS["power cut, contents lost"](last), tmp_path / "struck")
    assert any("original" in line for line in found)
    assert any("half-written" in line for line in found)

"""Two clerks, a program and a run at once on one library: nothing is lost, and nobody is shown an error."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest
from at_once import at_once

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="forks processes")


@pytest.mark.slow
def test_many_decisions_of_several_at_once_are_all_there(tmp_path: Path) -> None:
    if "onnxruntime" in sys.modules:
        pytest.skip("a fork of a process that has loaded a recogniser hangs: run tests/faults by itself")
    told = at_once(tmp_path, runs=5, each=25)
    assert told.broken == ()
    assert told.done == 80

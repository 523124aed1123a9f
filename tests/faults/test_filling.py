"""A disk that really fills up, wherever it does: nothing is lost, and with more room it goes on."""

from __future__ import annotations

import sys

import pytest
from filling import available, fill
from kernel import available as holds_calls
from scenarios import SCENARIOS

pytestmark = pytest.mark.skipif(
    not (available() and holds_calls()), reason="needs root on Linux on x86-64, to make a small disk"
)


@pytest.mark.slow
@pytest.mark.parametrize("name", [name for name in SCENARIOS if "real" not in name])
def test_a_disk_that_fills_up_anywhere_loses_nothing(name: str) -> None:
    if "onnxruntime" in sys.modules:
        pytest.skip("a fork of a process that has loaded a recogniser hangs: run tests/faults by itself")
    tried = fill(SCENARIOS[name], 6)
    assert len(tried.rooms) == 6
    assert tried.broken == {}

"""A file's name is data: it leads nowhere, is shown as it is, and keeps no file from being used."""

from __future__ import annotations

from pathlib import Path

import pytest
from hostile import WAYS
from kernel import available

pytestmark = [
    pytest.mark.skipif(not available(), reason="needs Linux on x86-64, whose names are any bytes"),
    pytest.mark.slow,
]


@pytest.mark.parametrize("way", WAYS)
def test_hostile_names_are_only_names(way: str, tmp_path: Path) -> None:
    assert WAYS[way](tmp_path / way) == []

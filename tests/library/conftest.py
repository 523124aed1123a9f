from __future__ import annotations

from pathlib import Path

import pytest
from library_jobs import make_recording
from PIL import Image


@pytest.fixture
def recording(tmp_path: Path) -> Path:
    return make_recording(tmp_path / "given" / "Note 1.WAV")


@pytest.fixture
def photo(tmp_path: Path) -> Path:
    path = tmp_path / "given" / "lift pump.jpg"
    path.parent.mkdir(exist_ok=True)
    Image.new("RGB", (32, 24), "olive").save(path)
    return path

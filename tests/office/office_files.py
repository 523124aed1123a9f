"""A workshop's folder of files, for tests that change one thing in it."""

from __future__ import annotations

from pathlib import Path

import pytest

from jobnotes.errors import JobnotesError
from jobnotes.office import office as offices
from jobnotes.office.office import Office

HEAD = 'format = "jobnotes-workshop"\nversion = 1\n'
PARTY = '[workshop]\nname = "Sample Quay Repairs (invented)"\ncountry = "IE"\n'
MONEY = '[money]\ncurrency = "EUR"\n'
TAX = '[[tax]]\nname = "standard"\ncategory = "S"\nrate = "20"\n'
LOW = '[[tax]]\nname = "low"\ncategory = "S"\nrate = "5.5"\n'
WORKSHOP = HEAD + PARTY + MONEY + TAX + LOW


def written(folder: Path, workshop: str | None = WORKSHOP, **files: str | bytes) -> Path:
    """The folder with these files; `prices="…"` is that of prices.csv."""
    if workshop is not None:
        (folder / "workshop.toml").write_text(workshop, "utf-8")
    for name, content in files.items():
        raw = content if isinstance(content, bytes) else content.encode()
        (folder / f"{name}.csv").write_bytes(raw)
    return folder


def office_of(folder: Path, workshop: str | None = WORKSHOP, **files: str | bytes) -> Office:
    return offices.load(written(folder, workshop, **files))


def refusal(folder: Path, workshop: str | None = WORKSHOP, **files: str | bytes) -> str:
    """The one line that says why the folder can't be used, without the folder's own path."""
    with pytest.raises(JobnotesError) as error:
        office_of(folder, workshop, **files)
    said = str(error.value)
    assert len(said.splitlines()) == 1
    assert error.value.remedy
    return said.replace(f"{folder}/", "")

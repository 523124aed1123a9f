from __future__ import annotations

from pathlib import Path

import pytest
from coach_job import coach, drawing
from documents_read import Written, house_of, written
from letterheads import letterhead
from priced_job import priced

from jobnotes import record as r


@pytest.fixture(scope="session")
def coach_documents(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """The coach job's three documents, written once for all tests that only read them."""
    return written(coach(), tmp_path_factory.mktemp("coach"), drawing)


@pytest.fixture(scope="session")
def priced_documents(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """The same after the office has priced the job."""
    return written(priced(), tmp_path_factory.mktemp("priced"))


@pytest.fixture(scope="session", params=["coach", "priced", "letterhead", "empty"])
def any_documents(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Written:
    """Documents of every make, for what all of them must keep to."""
    if request.param in ("coach", "priced"):
        told: Written = request.getfixturevalue(f"{request.param}_documents")
        return told
    folder = tmp_path_factory.mktemp(request.param)
    if request.param == "empty":
        return written(r.Record(job=r.Job()), folder)
    house = house_of(
        letterhead=letterhead(Path(folder) / "own.docx"), paper="Letter", guarantee="For a year."
    )
    (folder / "out").mkdir()
    return written(priced(), folder / "out", house=house)

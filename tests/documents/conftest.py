from __future__ import annotations

import pytest
from coach_job import coach
from documents_read import Written, written


@pytest.fixture(scope="session")
def coach_documents(tmp_path_factory: pytest.TempPathFactory) -> Written:
    """The coach job's three documents, written once for all tests that only read them."""
    return written(coach(), tmp_path_factory.mktemp("coach"))

"""Nobody but its owner may read a library, unless the workshop says otherwise."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from click.testing import CliRunner
from library_jobs import AT, FACTS, file_and_save, make_recording

from jobnotes.commands.verify import verify
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the system has no such rights")


def rights(folder: Path) -> dict[str, int]:
    """Of everything in it, while it is open."""
    return {p.relative_to(folder).as_posix(): p.stat().st_mode & 0o777 for p in folder.rglob("*")}


def use(folder: Path, recording: Path, photo: Path | None = None) -> None:
    with Library.open(folder) as library:
        job, _ = file_and_save(library, recording, photo)
        with library.alone_with(job):
            library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
            assert not [name for name, mode in rights(folder).items() if mode & 0o077] or (
                folder.stat().st_mode & 0o077
            )


def test_what_is_kept_is_its_owners_alone_whatever_the_umask(
    tmp_path: Path, recording: Path, photo: Path
) -> None:
    before = os.umask(0)
    try:
        use(tmp_path / "library", recording, photo)
    finally:
        os.umask(before)
    assert (tmp_path / "library").stat().st_mode & 0o777 == 0o700
    found = rights(tmp_path / "library")
    assert found["jobnotes.db"] == 0o600
    assert {mode for name, mode in found.items() if name.endswith((".wav", ".jpg"))} == {0o400}


def test_a_library_that_the_workshop_shares_stays_shared(tmp_path: Path, recording: Path) -> None:
    folder = tmp_path / "library"
    use(folder, recording)
    folder.chmod(0o750)
    before = rights(folder)
    use(folder, make_recording(recording.with_name("two.wav"), 9))
    assert folder.stat().st_mode & 0o777 == 0o750
    new = {mode for name, mode in rights(folder).items() if name not in before and name.endswith(".wav")}
    assert new == {0o440}


def test_verify_tells_of_a_library_that_others_may_read(tmp_path: Path, recording: Path) -> None:
    folder = tmp_path / "library"
    use(folder, recording)
    assert "other accounts" not in CliRunner().invoke(verify, ["--library", str(folder)]).output
    folder.chmod(0o755)
    result = CliRunner().invoke(verify, ["--library", str(folder)])
    assert result.exit_code == 0
    assert "Note: other accounts of this machine may use" in result.output

"""Originals are known by their bytes."""

from __future__ import annotations

import os
import shutil
import subprocess
from datetime import UTC, datetime
from pathlib import Path

import pytest
from made_sounds import chunk, pcm16, pcm_format, riff, tone

from jobnotes.errors import UnusableInputError
from jobnotes.intake.originals import digest, unique
from jobnotes.intake.recordings import open_recording


def note(path: Path, hertz: float, saved: int) -> Path:
    path.write_bytes(riff(pcm_format(), chunk(b"data", pcm16(tone(1.0, 16_000, hertz=hertz)))))
    os.utime(path, (saved, saved))
    return path


def test_the_digest_is_that_of_the_published_examples(tmp_path: Path) -> None:
    """Reference: NIST, FIPS 180-4 example values for SHA-256: "abc", and a million times "a"."""
    (tmp_path / "abc").write_bytes(b"abc")
    (tmp_path / "million").write_bytes(b"a" * 1_000_000)
    assert digest(tmp_path / "abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert digest(tmp_path / "million") == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"


def test_the_digest_agrees_with_the_systems_own(tmp_path: Path) -> None:
    program = shutil.which("sha256sum")
    if program is None:
        pytest.skip("no sha256sum here")
    path = note(tmp_path / "note.wav", 440, 1_800_000_000)
    done = subprocess.run([program, path], capture_output=True, text=True, check=True)
    assert done.stdout.split()[0] == digest(path)


def test_what_can_not_be_read_is_named(tmp_path: Path) -> None:
    with pytest.raises(UnusableInputError) as caught:
        digest(tmp_path)
    assert caught.value.subject == tmp_path.name


def test_the_same_file_given_twice_is_one_note(tmp_path: Path) -> None:
    paths = [
        note(tmp_path / "a.wav", 440, 1_800_000_000),
        note(tmp_path / "b.wav", 880, 1_800_000_000),
        note(tmp_path / "c.wav", 440, 1_800_000_000),
    ]
    kept, repeats = unique(open_recording(path, UTC) for path in paths)
    assert [recording.file for recording in kept] == ["a.wav", "b.wav"]
    assert [recording.file for recording in repeats] == ["c.wav"]


def test_of_equal_files_the_one_with_the_better_date_is_kept_in_the_first_ones_place(tmp_path: Path) -> None:
    paths = [
        note(tmp_path / "a copy.wav", 440, 1_900_000_000),
        note(tmp_path / "b.wav", 880, 1_800_000_000),
        note(tmp_path / "20261103_081502.wav", 440, 1_900_000_000),
        note(tmp_path / "d copy.wav", 880, 1_790_000_000),
    ]
    kept, repeats = unique(open_recording(path, UTC) for path in paths)
    assert [recording.file for recording in kept] == ["20261103_081502.wav", "d copy.wav"]
    assert kept[0].started_at == datetime(2026, 11, 3, 8, 15, 2, tzinfo=UTC)
    assert len(repeats) == 2

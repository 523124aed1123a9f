"""Damaged files are read or refused in one line, within bounds; `table.py inputs` tries far more."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import pytest
from fuzzing import READERS, Reader, changed, tried

from jobnotes.reading.trade.files import FILES

#: each read loads all that ships
COSTLY = {f"{stem}.toml" for stem in (*FILES, "documents", "pairing")}

pytestmark = pytest.mark.skipif(not sys.platform.startswith("linux"), reason="bounds by the limits of Linux")


@pytest.mark.parametrize("name", READERS)
def test_what_is_damaged_is_read_or_refused(name: str, tmp_path: Path) -> None:
    reader = READERS[name]
    for nth, seed in enumerate(reader.seeds()):
        # were it not read as it is, hardly anything would be tried
        path = tmp_path / str(nth) / name
        path.parent.mkdir()
        path.write_bytes(seed)
        reader.read(path)
    count = 3 if name in COSTLY else 12
    result = tried(reader, count)
    assert result.findings == []
    assert result.tried == count


@pytest.mark.slow
@pytest.mark.parametrize("name", READERS)
def test_much_that_is_damaged_is_read_or_refused(name: str) -> None:
    count = 8 if name in COSTLY else 100
    assert tried(READERS[name], count, start=1000).findings == []


def test_a_reader_that_raises_dies_or_takes_too_much_would_be_seen() -> None:
    def bad(path: Path) -> None:
        match path.read_bytes()[:1]:
            case b"a":
                raise KeyError("a")
            case b"b":
                import os

                os._exit(9)
            case b"c":
                bytearray(3 << 30)

    reader = Reader("bad", lambda: [b"a", b"b", b"c", b"d"], bad)
    seeds = reader.seeds()
    numbers = [next(n for n in range(9999) if changed(seeds, n, text=False)[:1] == s) for s in seeds]
    said = [tried(reader, 1, start=n).findings for n in numbers]
    assert [bool(findings) for findings in said] == [True, True, True, False]
    assert "KeyError" in said[0][0]
    assert "ends the process with 9" in said[1][0]
    assert "MemoryError" in said[2][0]


def test_a_number_gives_the_same_input_each_time() -> None:
    seeds = replace(READERS["job.toml"]).seeds()
    made = [changed(seeds, n, text=True) for n in range(50)]
    assert made == [changed(seeds, n, text=True) for n in range(50)]
    assert len(set(made)) > 40

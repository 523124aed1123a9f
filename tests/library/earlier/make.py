"""Libraries as earlier versions left them, as SQL: what test_library_upgrades.py opens.

    git archive COMMIT jobnotes | tar -x -C OLD && PYTHONPATH=OLD python tests/library/earlier/make.py

writes the library of that commit's code beside this file, named after its last schema step. Run once for each
commit of main that changed jobnotes/library/migrations.py; a step that was on main is never changed, so what
lies here isn't made again:

    4fea076  0004_search
    3f71e27  0006_history
    7fb5b87  0007_by_hand
    0beffb5  0008_seen
    cd3c8b0  0009_journal
"""

from __future__ import annotations

import contextlib
import sqlite3
import tempfile
import wave
from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from jobnotes.library import library as libraries
from jobnotes.library.database import APPLICATION_ID, NAME
from jobnotes.library.decisions import Decision
from jobnotes.record import Fact, Job, Measurement, Note, RecogniserStamp, Record, Word

HERE = Path(__file__).parent
AT = datetime(2031, 4, 7, 9, 30, tzinfo=UTC)
STAMP = RecogniserStamp("whisper", "tiny.en", "1a" * 32)
WORDS = (Word("battery", 0.1, 0.42, 0.98), Word("12.6", 0.5, 1.1, 0.9))


def fact(value: str) -> Fact:
    detail = Measurement(Decimal(value), "V", "voltage", subject="battery")
    return Fact("F1", detail, "battery at 12.6", 0.9, "sure", note="N1", start_s=0.1, end_s=1.1)


def recording(path: Path, level: int) -> Path:
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes(level.to_bytes(2, "little", signed=True) * 1600)
    return path


def fill(folder: Path) -> None:
    with libraries.Library.open(folder / "library") as library:
        kept = library.keep(recording(folder / "one.wav", 1), "recording")
        given = libraries.GivenFile(kept.sha256, "one.wav")
        job = library.file_job([given]).job
        library.store_heard(kept.sha256, STAMP, WORDS, 0.1)
        note = Note("N1", "one.wav", kept.sha256, AT, "file name", 0.1, STAMP, "battery 12.6", WORDS)
        library.save(
            Record(Job(number="4711", registration="QQ 00 TST"), (note,), facts=(fact("12.6"),)), job
        )
        library.decide(job, Decision("F1", "Ann", AT, "edited", fact("12.6"), fact("12.4")))
        library.decide(job, Decision("F1", "Ann", AT, "undone", undoes=1))
        if hasattr(library, "state"):
            from jobnotes.library.stated import StatedEntry

            library.state(job, [StatedEntry("customer.name", "Bea", AT, None, "Quayside Buses")])
            more = library.keep(recording(folder / "two.wav", 2), "recording")
            library.add_to_job(job, [libraries.GivenFile(more.sha256, "two.wav")], [], "Cy")
        if hasattr(library, "store_seen"):
            from jobnotes.record import Sight

            seen: Any = Sight(STAMP)
            library.store_seen(kept.sha256, seen)


def dumped(db: sqlite3.Connection) -> Iterator[str]:
    """The database as SQL; the index for searching is filled anew, as its own tables can't be."""
    made = db.execute(
        "SELECT type, name, sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid"
    ).fetchall()
    own = [(kind, name, sql) for kind, name, sql in made if not name.startswith(("facts_fts_", "sqlite_"))]
    tables = [(name, sql) for kind, name, sql in own if kind == "table"]
    for _, sql in tables:
        yield f"{sql};"
    for name, _ in tables:
        if name != "facts_fts":
            columns = [row[1] for row in db.execute(f'PRAGMA table_info("{name}")')]
            quoted = " || ',' || ".join(f'quote("{column}")' for column in columns)
            for (values,) in db.execute(f'SELECT {quoted} FROM "{name}"').fetchall():
                yield f'INSERT INTO "{name}" VALUES ({values});'
    yield "INSERT INTO facts_fts (facts_fts) VALUES ('rebuild');"
    yield from (f"{sql};" for kind, _, sql in own if kind != "table")


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        fill(Path(name))
        with contextlib.closing(sqlite3.connect(Path(name) / "library" / NAME)) as db:
            (last,) = db.execute("SELECT max(name) FROM _sqlite_migrations").fetchone()
            lines = [f"PRAGMA application_id = {APPLICATION_ID};", "BEGIN;", *dumped(db), "COMMIT;"]
        (HERE / f"{last}.sql").write_text("\n".join(lines) + "\n", "utf-8")
        print(last)


if __name__ == "__main__":
    main()

"""Jobs as the other stages would hand them over, small but whole; files are real."""

from __future__ import annotations

import os
import signal
import traceback
import wave
from collections.abc import Callable
from datetime import UTC, datetime
from decimal import Decimal
from pathlib import Path

from jobnotes.library.library import GivenFile, Library
from jobnotes.record import (
    Fact,
    Job,
    Measurement,
    Note,
    Part,
    Photo,
    RecogniserStamp,
    Record,
    Statement,
    Word,
)

STAMP = RecogniserStamp("whisper", "tiny.en", "1a" * 32)
AT = datetime(2031, 4, 7, 9, 30, tzinfo=UTC)
WORDS = (
    Word("battery", 0.1, 0.42, 0.98),
    Word("at", 0.42, 0.5, 0.71),
    Word("12.6", 0.5, 1.1, 0.9),
    Word("volts", 1.1, 1.4, 0.99),
)


def make_recording(path: Path, level: int = 0) -> Path:
    path.parent.mkdir(exist_ok=True)
    with wave.open(str(path), "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes(level.to_bytes(2, "little", signed=True) * 1600)
    return path


def fact(
    id: str = "F1", value: str = "12.6", quote: str = "battery at twelve point six volts", **rest: object
) -> Fact:
    detail = Measurement(Decimal(value), "V", "voltage", subject="battery")
    return Fact(id=id, **{"detail": detail, "quote": quote, "confidence": 0.9, "status": "sure", **rest})  # type: ignore[arg-type]


FACTS = (
    fact(note="N1", start_s=0.1, end_s=1.4),
    Fact(
        "F2", Statement("cause", "the lift pump seal was leaking"), "lift pump seal was leaking", 0.8, "check"
    ),
    Fact(
        "F3",
        Part("lift pump", "fitted", Decimal(1), number="A 471 090 18-50"),
        "fitted a lift pump",
        0.7,
        "sure",
    ),
)


def file_and_save(library: Library, recording: Path, photo: Path | None = None) -> tuple[str, Record]:
    """A whole job in the library: its id, and its record."""
    kept = library.keep(recording, "recording")
    photos = () if photo is None else (library.keep(photo, "photo"),)
    filed = library.file_job(
        [GivenFile(kept.sha256, recording.name)], [GivenFile(p.sha256, p.file) for p in photos]
    )
    note = Note(
        "N1", recording.name, kept.sha256, AT, "file name", 1.5, STAMP, "battery at 12.6 volts", WORDS
    )
    record = Record(
        job=Job(number="4711"),
        notes=(note,),
        photos=tuple(Photo("P1", p.file, p.sha256, AT, "exif", 32, 24) for p in photos),
        facts=FACTS,
    )
    library.save(record, filed.job)
    return filed.job, record


def in_child(act: Callable[[], object]) -> int:
    """Run `act` in a process of its own: 0, 1 if it raised, or minus the signal that ended it."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            act()
            status = 0
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(status)
    _, how = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(how)


def kill_self() -> None:
    os.kill(os.getpid(), signal.SIGKILL)

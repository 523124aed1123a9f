"""A library of 20,000 jobs with 200,000 facts: how large it is, and how quick.

    python tests/bench/library_load.py [--jobs N] [--keep DIR]

Opens it, searches it, asks what it knows of a vehicle's earlier repairs, and asks the desk for its pages.
Times are of this process's processor, in milliseconds, so that other work on the machine doesn't count; the
pages' hold the test client's own share. Exits 1 where a median is 100 ms or more.
"""

from __future__ import annotations

import argparse
import json
import random
import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "serve"))

from served import served

from jobnotes import record_json
from jobnotes.library import history
from jobnotes.library.database import writing
from jobnotes.library.library import Library, _fact_row, digest_of
from jobnotes.record import (
    Clock,
    Fact,
    FaultCode,
    Job,
    Measurement,
    Note,
    Odometer,
    Part,
    RecogniserStamp,
    Record,
    Statement,
    Word,
)

MOST_MS = 100.0
VEHICLES = 2_000
FIRST = datetime(2021, 1, 4, 7, 0, tzinfo=UTC)
STAMP = RecogniserStamp("fake", "fake", "f4" * 32)
PARTS = ("air hose", "lift pump", "height sensor", "hose clamp", "wheel speed sensor", "coolant pump")
SAID = (
    "registration quebec quebec zero one tango echo sierra odometer three hundred thousand kilometres "
    "battery at twelve point six volts ignition off fault code s p n one zero two f m i eighteen active "
    "cause the lift pump seal was leaking fitted one new lift pump clocked on clocked off codes cleared"
).split()


def job(rng: random.Random, number: int) -> Record:
    """Ten facts on one vehicle of many, from one note of a minute."""
    begun = FIRST + number * timedelta(days=1800) / 20_000
    part = rng.choice(PARTS)
    details = [
        FaultCode(f"SPN {rng.randrange(100, 700)} FMI {rng.randrange(32)}"),
        Measurement(Decimal(rng.randrange(100, 140)).scaleb(-1), "V", "voltage", "battery"),
        Statement("complaint", "no power on hills"),
        Statement("cause", f"the {part} was leaking", part, "leaking"),
        Statement("correction", f"replaced the {part}"),
        Part(part, "fitted", Decimal(1), f"{rng.randrange(10**8):08}"),
        Part("hose clamp", "fitted", Decimal(2)),
        Statement("advisory", "front tyres wear unevenly"),
    ]
    facts = [
        Fact(f"F{number:06x}{n}", detail, " ".join(SAID[n : n + 8]), 0.9, "sure", note="N1", start_s=float(n))
        for n, detail in enumerate(details)
    ]
    for n, action in enumerate(("start", "stop")):
        at = begun + n * timedelta(hours=2)
        facts.append(Fact(f"C{number:06x}{n}", Clock(action), f"clocked {action}", 0.9, "sure", at=at))
    words = tuple(Word(word, 0.5 * n, 0.5 * n + 0.4, 0.95) for n, word in enumerate(SAID * 2))
    note = Note(
        "N1", "note.wav", f"{number:064x}", begun, "file name", 60.0, STAMP, " ".join(SAID * 2), words
    )
    head = Job(
        number=f"{number:05}",
        vin=f"9ZZ{rng.randrange(VEHICLES):014d}",
        odometer=Odometer(str(rng.randrange(10**6)), "km"),
        technician="R. Sample",
        opened_at=begun,
        closed_at=begun + timedelta(hours=2),
    )
    return Record(head, notes=(note,), facts=tuple(facts))


def fill(library: Library, jobs: int) -> list[Record]:
    """Put the jobs in as `Library.save` would, all in one transaction."""
    rng, db, made = random.Random(4), library._db, []
    with writing(db):
        for number in range(jobs):
            record = job(rng, number)
            text, name, original = record_json.dumps(record), f"J{number:012x}", record.notes[0].sha256
            now = record.job.opened_at.isoformat() if record.job.opened_at else ""
            db.execute("INSERT INTO jobs (id, opened_at) VALUES (?, ?)", [name, now])
            db.execute(
                "INSERT INTO originals (sha256, kind, bytes, file, kept_at) "
                "VALUES (?, 'recording', 1920044, 'note.wav', ?)",
                [original, now],
            )
            db.execute(
                "INSERT INTO job_originals (job, original, kind, file, position) "
                "VALUES (?, ?, 'recording', 'note.wav', 0)",
                [name, original],
            )
            row = {"job": name, "json": text, "sha256": digest_of(text), "saved_at": now}
            db.table("records").insert(row)
            db.table("facts").insert_all(_fact_row(name, fact) for fact in record.facts)
            history.store(db, name, json.loads(text))
            made.append(record)
    return made


class Times:
    """What was done, and how long each time took, in milliseconds."""

    def __init__(self) -> None:
        self.taken: dict[str, list[float]] = {}

    @contextmanager
    def of(self, what: str) -> Iterator[None]:
        began = time.process_time()
        yield
        self.taken.setdefault(what, []).append(1000 * (time.process_time() - began))

    def each(self, what: str, times: int, call: Callable[[int], object]) -> None:
        for turn in range(times):
            with self.of(what):
                call(turn)


def measure(folder: Path, records: list[Record]) -> Times:
    times, rng = Times(), random.Random(5)
    times.each("open", 10, lambda _: Library.open(folder).close())
    with Library.open(folder) as library:
        for query in (
            "lift pump",
            "leaking",
            "SPN 102",
            "clocked",
            "wear uneven tyres",
            records[-1].job.vin or "",
        ):
            times.each(f"search: {query}", 10, lambda _, query=query: library.search(query))  # type: ignore[misc]
        some = rng.sample(range(len(records)), min(30, len(records)))
        times.each(
            "repeat repairs",
            30,
            lambda n: library.past(f"J{some[n % len(some)]:012x}", records[some[n % len(some)]]),
        )
    web = served(folder)
    clerk = web.pair("clerk", "desk")
    with times.of("list of jobs, told for the first time (once in a library's life)"):
        clerk.get("/desk")
    ids = {j.library_job: j.id for j in web.app.state.store.jobs()}

    def page(path: str) -> None:
        answer = clerk.get(path)
        assert answer.status_code == 200, (path, answer.status_code, answer.text[:300])

    times.each("page: list of jobs", 5, lambda _: page("/desk"))
    times.each("page: review", 20, lambda n: page(f"/desk/{ids[f'J{some[n]:012x}']}"))
    times.each("state of a job, first look", 20, lambda n: page(f"/api/jobs/{ids[f'J{some[n]:012x}']}/state"))
    times.each("page: search", 10, lambda _: page("/desk/search?q=lift+pump"))
    web.app.state.store.close()
    return times


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=20_000)
    ask.add_argument("--keep", type=Path, help="leave the library in this new folder")
    given = ask.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "library"
        with Library.open(folder) as library:
            records = fill(library, given.jobs)
        size = sum(path.stat().st_size for path in folder.rglob("*") if path.is_file())
        facts = sum(len(record.facts) for record in records)
        print(f"{given.jobs:,} jobs, {facts:,} facts: {size / 1e6:.0f} MB without the originals")
        times = measure(folder, records)
        if given.keep:
            shutil.copytree(folder, given.keep)
    slow = False
    for what, taken in times.taken.items():
        middle = statistics.median(taken)
        slow |= middle >= MOST_MS and len(taken) > 1
        print(f"{what:66} median {middle:7.1f} ms, longest {max(taken):7.1f} ms")
    sys.exit(1 if slow else 0)


if __name__ == "__main__":
    main()

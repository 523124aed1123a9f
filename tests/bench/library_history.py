"""How long the library takes to tell what other jobs know of one: `python tests/bench/library_history.py`.

A library of 20,000 jobs on 2,000 vehicles over ten years, each with codes, a cause, parts and a clock.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from pathlib import Path

from jobnotes import record_json
from jobnotes.library import history
from jobnotes.library.database import writing
from jobnotes.library.library import Library, _fact_row
from jobnotes.record import Clock, Fact, FaultCode, Job, Odometer, Part, Record, Statement

FIRST = datetime(2021, 1, 4, 7, 0, tzinfo=UTC)


def job(rng: random.Random, vehicle: int, begun: datetime) -> Record:
    details = [FaultCode(f"SPN {rng.randrange(100, 160)} FMI {rng.randrange(32)}") for _ in range(3)]
    details += [Statement("cause", "the part leaks", f"part {rng.randrange(200)}", "leaking")]
    details += [Part(f"part {rng.randrange(200)}", "fitted", Decimal(1)) for _ in range(6)]
    facts = [Fact(f"F{n}", detail, "words", 0.9, "sure") for n, detail in enumerate(details)]
    for n, action in enumerate(("start", "pause", "resume", "stop")):
        at = begun + n * timedelta(minutes=40)
        facts.append(Fact(f"C{n}", Clock(action), action, 0.9, "sure", at=at))
    head = Job(
        vin=f"9ZZ{vehicle:014d}",
        odometer=Odometer(str(rng.randrange(10**6)), "km"),
        opened_at=begun,
        closed_at=begun + timedelta(hours=2),
    )
    return Record(head, facts=tuple(facts))


def main() -> None:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("--jobs", type=int, default=20_000)
    ask.add_argument("--vehicles", type=int, default=2_000)
    given = ask.parse_args()
    rng = random.Random(4)
    with tempfile.TemporaryDirectory() as folder, Library.open(Path(folder) / "library") as library:
        db = library._db
        records = []
        with writing(db):
            for n in range(given.jobs):
                begun = FIRST + n // 4 * 4 * timedelta(days=3650) / given.jobs  # four at a time
                record = job(rng, rng.randrange(given.vehicles), begun)
                db.execute("INSERT INTO jobs (id, opened_at) VALUES (?, ?)", [f"J{n}", begun.isoformat()])
                history.store(db, f"J{n}", record_json.to_json(record))
                db.table("facts").insert_all(_fact_row(f"J{n}", fact) for fact in record.facts)
                records.append(record)
        took, found = [], []
        for n in rng.sample(range(given.jobs), min(200, given.jobs)):
            begun = time.perf_counter()
            past = library.past(f"J{n}", records[n])
            took.append((time.perf_counter() - begun) * 1000)
            found.append((len(past.earlier), len(past.meanwhile)))
    print(f"{given.jobs} jobs: median {statistics.median(took):.1f} ms, longest {max(took):.1f} ms")
    print(
        f"earlier jobs found: up to {max(e for e, _ in found)}; at the same time: {max(m for _, m in found)}"
    )


if __name__ == "__main__":
    main()

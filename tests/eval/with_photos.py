"""What photos that show what was said do to wrong facts: speech alone against speech and photos.

    python tests/eval/with_photos.py [--seeds 5] [-v]

prints a table: of the facts that a photo shows, how many came out wrong and `sure` without the photos and
with them, and how many that were right are now to check. Speech and photos are those of photo_jobs.py.
"""

from __future__ import annotations

import argparse
import json
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import photo_jobs
import score

from jobnotes import record_json
from jobnotes.linking.confirming import claims_of, settled
from jobnotes.linking.photos import link
from jobnotes.pipeline import confirmed
from jobnotes.reading.read import read_notes
from jobnotes.reading.trade.files import load
from jobnotes.record import Fact

SETS = ("dev", "second", "third", "fourth", "fifth", "sixth")
KINDS = ("part", "fault_code", "measurement", "odometer", "engine_hours", "vin", "registration", "job_number")


@dataclass
class Tally:
    """Counts by kind of fact; `new` are wrong sure facts that speech alone did not have."""

    given: Counter[str] = field(default_factory=Counter)
    alone: Counter[str] = field(default_factory=Counter)
    both: Counter[str] = field(default_factory=Counter)
    check_alone: Counter[str] = field(default_factory=Counter)
    check_both: Counter[str] = field(default_factory=Counter)
    confirmed: Counter[str] = field(default_factory=Counter)
    wrongly_confirmed: list[str] = field(default_factory=list)
    new: list[str] = field(default_factory=list)
    nuisance: list[str] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    only_shown: int = 0
    only_shown_true: int = 0


def sessions(sets: Sequence[str] = SETS) -> list[dict[str, Any]]:
    return [
        json.loads(line)
        for name in sets
        for line in (Path(__file__).parent / f"{name}.jsonl").read_text("utf-8").splitlines()
        if line.strip()
    ]


def measure(seeds: int, of: Sequence[dict[str, Any]]) -> Tally:
    tally = Tally()
    for seed in range(seeds):
        for job in photo_jobs.jobs(of, seed):
            _add(job, tally)
    return tally


def _add(job: photo_jobs.PhotoJob, tally: Tally) -> None:
    notes, photos = job.given.notes, job.given.photos
    alone = link(read_notes(notes), photos, notes).facts
    with_photos = settled(
        link(confirmed(read_notes(notes), job.given, (), None, None), photos, notes).facts, load()
    )
    heard = [fact for fact in with_photos if fact.source is None]
    shown = {(job.session["facts"][w]["kind"], job.session["facts"][w]["line"]) for w in job.shown}
    was = {fact.id: fact for fact in alone}
    for fact in heard:
        line = job.line_at(fact.start_s or 0.0)
        if (fact.kind, line) not in shown or not fact.stands or not list(claims_of(fact)):
            continue
        name, before = f"{job.session['id']}: ", was[fact.id]
        wrong = not _right(fact, job, line)
        told = f"{name}{fact.detail} “{fact.quote}” {[s.text for s in fact.shown]} {fact.why or ''}"
        tally.given[fact.kind] += 1
        tally.alone[fact.kind] += wrong and before.status == "sure"
        tally.both[fact.kind] += wrong and fact.status == "sure"
        tally.check_alone[fact.kind] += not wrong and before.status == "check"
        tally.check_both[fact.kind] += not wrong and fact.status == "check"
        if not wrong and fact.status == "check" and before.status == "sure":
            tally.nuisance.append(told)
        if wrong and fact.status == "sure":
            (tally.left if before.status == "sure" else tally.new).append(told)
        if any(s.agrees for s in fact.shown):
            tally.confirmed[fact.kind] += 1
            tally.wrongly_confirmed += [told] if wrong else []
    own = [fact for fact in with_photos if fact.source == "photo"]
    assert all(fact.status == "check" for fact in own)
    tally.only_shown += len(own)
    wanted = [job.session["facts"][w] for w in job.shown]
    tally.only_shown_true += sum(
        any(score.identity(record_json.to_json(fact), want) for want in wanted) for fact in own
    )


def _right(fact: Fact, job: photo_jobs.PhotoJob, line: int) -> bool:
    """Whether the values of a fact, as far as a photo could show them, are those of one listed for the line.

    A code that was put together from words that were misheard is right if it is the right one: the photo
    answers that doubt.
    """
    row = record_json.to_json(fact)
    for want in job.session["facts"]:
        if want["line"] != line or want["kind"] != fact.kind:
            continue
        if fact.kind == "part":
            keys = [key for key in ("number", "serial") if key in row]
            if all(score._alnum(row[key]) == score._alnum(want.get(key)) for key in keys):
                return True
        elif score.identity(row, want):
            return True
    return False


def table(tally: Tally) -> str:
    """The numbers as docs/photos.md has them."""
    rows = [
        "| kind | facts that a photo shows | wrong and `sure`, speech alone | … with photos "
        "| right but to check, alone | … with photos |",
        "| --- | ---: | ---: | ---: | ---: | ---: |",
    ]
    counts = ("given", "alone", "both", "check_alone", "check_both")
    for kind in KINDS:
        rows.append(f"| {kind} | " + " | ".join(str(getattr(tally, c)[kind]) for c in counts) + " |")
    rows.append("| all | " + " | ".join(str(getattr(tally, c).total()) for c in counts) + " |")
    return "\n".join(rows)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seeds", type=int, default=5, help="how often each session is misheard anew")
    parser.add_argument("-v", action="store_true", help="list what is left, new or wrongly confirmed")
    given = parser.parse_args()
    tally = measure(given.seeds, sessions())
    print(table(tally))
    print(
        f"\nNew wrong sure facts: {len(tally.new)}. Confirmed: {tally.confirmed.total()}, "
        f"wrongly: {len(tally.wrongly_confirmed)}. Facts of photos alone: {tally.only_shown}, all to check; "
        f"{tally.only_shown_true} of them true."
    )
    if given.v:
        for name in ("new", "wrongly_confirmed", "left", "nuisance"):
            print(f"\n{name}:", *getattr(tally, name), sep="\n  ")


if __name__ == "__main__":
    main()

"""Whether a prompt in the words of the job brings more than the general one: the best case of it.

    python tests/bench/hearing_job.py [--sessions 6] [--conditions clean,10] [--prompts general,own,list]

The sessions, voices, noises and columns are those of tests/bench/hearing.py, the listener is the default one.
`own` adds to the general prompt the parts that were fitted, ordered or used up in that very session, as if
the office knew them before; `list` adds them among two dozen others, as a workshop's price list has them. No
number is added: it would make the decoder go on without end (docs/hearing.md).

What was heard is kept, as there. Six sessions of each part take about 20 minutes of one core.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "eval"))

import hearing as bench
from spoken_notes import Heard, Session, cache_folder, heard

from jobnotes.hearing import recogniser
from jobnotes.hearing.catalogue import catalogue
from jobnotes.reading.read import read_text
from jobnotes.record import Part

OTHERS = 24
OF_SESSIONS = 14  # of each part of the bench, from which the others come
PROMPTS = ("general", "own", "list")


def parts_of(session: Session) -> list[str]:
    """The parts that somebody prices, by name, in the order in which they are said."""
    details = [fact.detail for fact in read_text("\n".join(session["lines"]))]
    priced = [
        d.name for d in details if isinstance(d, Part) and d.action in ("fitted", "ordered", "consumed")
    ]
    return list(dict.fromkeys(name for name in priced if name and not any(c.isdigit() for c in name)))


def other_parts() -> list[str]:
    names = {n for part in bench.PARTS for s in bench.sample(part, OF_SESSIONS) for n in parts_of(s)}
    return sorted(names, key=lambda name: zlib.crc32(name.encode()))[:OTHERS]


def prompt(kind: str, session: Session, others: list[str]) -> str:
    general, own = catalogue().prompt.text, parts_of(session)
    names = {"general": [], "own": own, "list": sorted({*own, *others})}[kind]
    return f"{general} {', '.join(names)}." if names else general


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--sessions", type=int, default=6, help="of each part")
    parser.add_argument("--conditions", default="clean,10")
    parser.add_argument("--prompts", default=",".join(PROMPTS))
    given = parser.parse_args()
    conditions, kinds, others = given.conditions.split(","), given.prompts.split(","), other_parts()
    todo = list(bench.tasks(["quick"], conditions, given.sessions))
    notes: dict[tuple[str, str, str], list[Heard]] = {}
    for done, task in enumerate(todo, 1):
        for kind in kinds:
            engine = recogniser(prompt=prompt(kind, task.session, others), cpu_threads=1)
            note = heard(task.session, bench._voice(task.voice), task.noise, engine, cache_folder())
            assert note is not None
            notes.setdefault((task.part, task.condition, kind), []).append(note)
        print(f"\rheard {done} of {len(todo)} sounds   ", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)
    print("| part | condition | prompt | word errors | recall | wrong and sure | misheard | to check |")
    print("|" + " --- |" * 8)
    for part in bench.PARTS:
        for condition in conditions:
            for kind in kinds:
                columns = " | ".join(bench.row(notes[part, condition, kind]))
                print(f"| {part} | {bench._name(condition)} | {kind} | {columns} |")


if __name__ == "__main__":
    main()

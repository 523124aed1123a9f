"""Score hearing and reading together: the evaluation set, spoken by synthetic voices.

    python tests/eval/spoken.py [dev|second|aside|FILE …] [--voices piper,flite,espeak] [--noise clean,15]

Each session that can be spoken becomes one voice note per voice: its lines with pauses of 0.6 to 1.2 s,
perhaps with workshop noise at a signal-to-noise ratio in dB. The default recogniser hears it, the reader
reads it, and README.md in this folder says what counts. Printed per condition and over all: recall, wrong
facts (sure and not), the share to check, each with its 95 % Wilson interval, and how far the stated
confidence can be believed.

Sound and heard words are kept in the user's cache (or JOBNOTES_EVAL_CACHE): after a change of the reader
alone, the same command takes seconds; a run that was broken off goes on.
"""

from __future__ import annotations

import argparse
import os
import sys
import time
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, field
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path

from reliability import Bin, bins, judged, picture
from reliability import table as reliability_table
from score import HERE, Outcome, Result, plain, score_session, sessions, table
from spoken_notes import Heard, Noise, Session, cache_folder, heard
from voices import Voice, voice

from jobnotes.errors import JobnotesError
from jobnotes.hearing import Recogniser, recogniser
from jobnotes.reading.read import read_notes

PICTURE = HERE.parents[1] / "docs" / "pictures" / "reliability.png"

Task = tuple[Session, str, Noise]

_NOT_TOLD = frozenset("id note at start_s end_s photos quote audience fmi_text".split())


@lru_cache
def _voice(name: str) -> Voice:
    return voice(name)


@lru_cache
def _recogniser(name: str | None) -> Recogniser:
    return recogniser(name, cpu_threads=1)


def _hear(task: Task, engine: str | None, cache: Path) -> None:
    session, voice_name, noise = task
    heard(session, _voice(voice_name), noise, _recogniser(engine), cache)


def spread(of: Sequence[Session], most: int | None) -> list[Session]:
    """`most` of the sessions, evenly spread; None: all."""
    if most is None or most >= len(of):
        return list(of)
    return [of[(2 * k + 1) * len(of) // (2 * most)] for k in range(most)]


def hear_all(tasks: Sequence[Task], engine: str | None, workers: int, cache: Path) -> None:
    """Speaks and hears what isn't kept yet; progress on standard error."""
    missing = [t for t in tasks if _kept(t, engine, cache) is None]
    if not missing:
        return
    began, done = time.monotonic(), 0

    def tell() -> None:
        spent = time.monotonic() - began
        left = spent / max(done, 1) * (len(missing) - done) if done else 0
        print(f"\rheard {done} of {len(missing)} notes, {left / 60:.0f} min left   ", end="", file=sys.stderr)

    tell()
    if workers <= 1:
        for task in missing:
            _hear(task, engine, cache)
            done += 1
            tell()
    else:
        with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
            for future in as_completed([pool.submit(_hear, task, engine, cache) for task in missing]):
                future.result()
                done += 1
                tell()
    print(file=sys.stderr)


def _kept(task: Task, engine: str | None, cache: Path) -> Heard | None:
    session, voice_name, noise = task
    return heard(session, _voice(voice_name), noise, _recogniser(engine), cache, only_kept=True)


@dataclass
class Scores:
    """The counts over notes, and the single cases with the note that each came from."""

    result: Result = field(default_factory=Result)
    outcomes: list[tuple[Heard, Outcome]] = field(default_factory=list)
    lost: list[tuple[Heard, str]] = field(default_factory=list)


def scored(notes: Iterable[Heard]) -> Scores:
    """Reads and scores the notes, each as a job of its own."""
    scores = Scores()
    result = scores.result
    for note in notes:
        seen = len(result.outcomes), len(result.missed), len(result.incomplete)
        score_session(note.session, plain(read_notes([note.note()])), result, line_of=note.line_of)
        scores.outcomes += [(note, outcome) for outcome in result.outcomes[seen[0] :]]
        scores.lost += [(note, row) for row in (*result.missed[seen[1] :], *result.incomplete[seen[2] :])]
    return scores


def cases(scores: Scores, noise: str) -> str:
    """Every wrong fact and every fact that was lost, with what was spoken and what was heard."""
    rows: list[str] = []
    for status in ("sure", "check"):
        rows.append(f"\n# {noise}: wrong, {status}\n")
        rows += [
            _wrong_case(note, o) for note, o in scores.outcomes if o.wrong and o.fact["status"] == status
        ]
    rows.append(f"\n# {noise}: not recalled\n")
    rows += [_lost_case(note, row) for note, row in scores.lost]
    return "\n".join(rows) + "\n"


def _wrong_case(note: Heard, outcome: Outcome) -> str:
    fact, line = outcome.fact, outcome.line
    told = {k: v for k, v in fact.items() if k not in _NOT_TOLD}
    start, end = fact["start_s"], fact["end_s"]
    words = [w for w in note.words if start <= (w.start_s or 0) and (w.end_s or 0) <= end + 0.01]
    return "\n".join(
        [
            f"- **{note.session['id']}** {note.voice}, line {line}: {'; '.join(outcome.wrong)}",
            f"  - spoken: {note.lines[line] if line is not None else '?'}",
            f"  - heard: {note.heard_on(line) if line is not None else '?'}",
            f"  - fact: {told}",
            f"  - quote: {' '.join(f'{w.text} ({w.confidence or 0:.2f})' for w in words)}",
        ]
    )


def _lost_case(note: Heard, row: str) -> str:
    line = int(row.removeprefix(f"{note.session['id']}:").split(" ", 1)[0])
    return f"- {note.voice} {row}\n  - heard: {note.heard_on(line)}"


def report(title: str, notes: Sequence[Heard], scores: Scores) -> None:
    minutes = sum(n.duration_s for n in notes) / 60
    print(f"\n## {title} ({len(notes)} notes, {minutes:.0f} min)\n{table(scores.result)}")


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("sets", nargs="*", default=["dev"], metavar="SET")
    parser.add_argument("--voices", default="piper,flite,espeak", help="also flite:rms, espeak:en-us, …")
    parser.add_argument("--noise", default="clean", help="clean, 15 (dB), 15:leak; several with commas")
    parser.add_argument("--sessions", type=int, default=None, metavar="N", help="only N of each set")
    parser.add_argument("--engine", default=None, help="another recogniser than the default")
    parser.add_argument("--workers", type=int, default=1, help="notes heard at the same time")
    parser.add_argument("--kept-only", action="store_true", help="score what was heard before, hear nothing")
    parser.add_argument("--cases", type=Path, metavar="FILE", help="write every wrong or lost fact there")
    parser.add_argument("--picture", type=Path, nargs="?", const=PICTURE, metavar="FILE", help="draw it")
    given = parser.parse_args()
    cache = cache_folder()
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    try:
        noises = [Noise.of(text) for text in given.noise.split(",")]
        voices = given.voices.split(",")
        chosen = [
            s
            for name in given.sets
            for s in spread([s for s in sessions(name) if s.get("speakable")], given.sessions)
        ]
        tasks = [(s, v, n) for n in noises for v in voices for s in chosen]
        for name in voices:
            _voice(name)
        if not given.kept_only:
            hear_all(tasks, given.engine, given.workers, cache)
        notes = [note for task in tasks if (note := _kept(task, given.engine, cache)) is not None]
        stamp = _recogniser(given.engine).stamp
    except (JobnotesError, ValueError, OSError) as error:
        print(error, file=sys.stderr)
        return 2
    if not notes:
        print("nothing was heard yet; leave out --kept-only", file=sys.stderr)
        return 2
    print(f"sets {', '.join(given.sets)}; {len(chosen)} sessions; recogniser {stamp.engine} {stamp.model}")
    missing = len(tasks) - len(notes)
    if missing:
        print(f"{missing} of {len(tasks)} notes are not heard yet and don't count")
    curves: list[tuple[str, list[Bin]]] = []
    written: list[str] = []
    for noise in noises:
        here = [n for n in notes if n.noise == noise]
        if not here:
            continue
        for name in voices:
            of_voice = [n for n in here if n.voice == name]
            if of_voice and len(voices) > 1:
                report(f"{noise.name}, {name}", of_voice, scored(of_voice))
        scores = scored(here)
        report(f"{noise.name}, all voices", here, scores)
        curve = bins(judged(scores.result.outcomes))
        print(f"\n{reliability_table(curve)}")
        curves.append((noise.name, curve))
        written.append(cases(scores, noise.name))
    if len(curves) > 1:
        report("all", notes, scored(notes))
    if given.picture:
        picture(curves, "Stated confidence against truth, spoken sessions", given.picture)
    if given.cases:
        given.cases.write_text("".join(written), encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())

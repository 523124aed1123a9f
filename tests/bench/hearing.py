"""How well each level hears, in trade speech and noise: one command, one table.

    python tests/bench/hearing.py [--sessions 5] [--conditions clean,15,10] [--levels bare,quick,careful]
                                  [--minutes 3] [--prompts 40] [--fit] [--write] [--picture] [--workers 2]

Sessions of the evaluation set (tests/eval) are spoken, each by the neural voice and by one of four others in
turn, with workshop noise of one of five kinds in turn at the signal-to-noise ratio that a condition names, or
recorded as it names ("cab", "quiet", "clipped"). Each level hears them, the reader reads them, and
tests/eval/README.md says what counts. `bare` is the model tiny.en as its library calls it, without a prompt;
anything else is a name for `--hear-with`.

The sessions come in two parts: what was tuned on, and what is kept aside. They are by other authors. `--fit`
prints the curves of confidence, fitted on the former alone. The first N of a part are taken, in the order of
a digest of their ids: a larger sample holds each smaller one.

Word errors are jiwer's, after one normalisation for both sides: numbers as single digits (text2num), the
letters of codes and of the spelling alphabet one by one, no marks. Rates have their 95 % Wilson interval, as
if facts were independent; facts of one session are not quite. "Misheard" are those of the wrong ones
in whose quote a word was heard wrong; the others are the reader's own. Time is processor time, so that other
work on the machine counts little, beside the length of the sound. Memory is the process's own peak (VmHWM).

The sample takes about 20 minutes of two cores. What was heard is kept (JOBNOTES_EVAL_CACHE, or the user's
cache): a run that was broken off goes on, and a second one takes seconds, but for time and memory.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import lru_cache
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import jiwer
import numpy as np
from text_to_num import alpha2digit

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "hearing"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "eval"))

from noise import KINDS
from reliability import bins, gap, picture
from score import sessions, wilson
from spoken import Scores, scored
from spoken_notes import Heard, Noise, Session, cache_folder, heard
from voices import Voice, voice

from jobnotes.hearing import Recogniser, recogniser
from jobnotes.hearing.comparing import compared
from jobnotes.hearing.spoken_forms import spoken_forms
from jobnotes.hearing.two_hearings import Curve, TwoHearings
from jobnotes.record import Word

HERE = Path(__file__).resolve().parent
DOC = HERE.parents[1] / "docs" / "hearing.md"
PICTURE = HERE.parents[1] / "docs" / "pictures" / "word_confidence.png"
BEGIN, END = "<!-- bench: begin -->", "<!-- bench: end -->"

PARTS = {
    "tuned on": ("dev", "second", "third", "fourth"),
    "kept aside": ("fifth", "sixth", "seventh", "eighth"),
}
NEURAL = "piper"
OTHERS = ("flite", "flite:rms", "flite:awb", "espeak:en-us")
FORMS = spoken_forms()


@dataclass(frozen=True, slots=True)
class Task:
    """A session to be spoken by `voice` and heard by `level`; `noise` is a condition with its kind."""

    part: str
    condition: str
    session: Session
    voice: str
    noise: Noise
    level: str


def sample(part: str, most: int) -> list[Session]:
    speakable = [s for name in PARTS[part] for s in sessions(name) if s.get("speakable")]
    return sorted(speakable, key=lambda s: zlib.crc32(s["id"].encode()))[:most]


def tasks(levels: Sequence[str], conditions: Sequence[str], most: int) -> Iterator[Task]:
    kinds = list(KINDS)
    for condition in conditions:
        given = Noise.of(condition)
        for part in PARTS:
            for at, session in enumerate(sample(part, most)):
                for other, name in enumerate((NEURAL, OTHERS[at % len(OTHERS)])):
                    noise = given
                    if given.snr_db is not None and given.kind is None:
                        noise = Noise(given.snr_db, kinds[(at + other) % len(kinds)])
                    for level in levels:
                        yield Task(part, condition, session, name, noise, level)


# --- hearing --------------------------------------------------------------------------------------


@lru_cache
def engine(level: str) -> Recogniser:
    if level == "bare":
        return recogniser("tiny.en", prompt="", cpu_threads=1)
    return recogniser(level, cpu_threads=1)


@lru_cache
def _voice(name: str) -> Voice:
    return voice(name)


def hear(task: Task, only_kept: bool = False) -> Heard | None:
    listener = engine(task.level)
    return heard(task.session, _voice(task.voice), task.noise, listener, cache_folder(), only_kept)


def hear_all(todo: Sequence[Task], workers: int) -> None:
    """Hears what isn't kept yet; progress on standard error.

    All levels of one sound are one worker's, as they may share a listener.
    """
    by_sound: dict[tuple[str, str, Noise], list[Task]] = {}
    for task in todo:
        if hear(task, only_kept=True) is None:
            by_sound.setdefault((task.session["id"], task.voice, task.noise), []).append(task)
    if not by_sound:
        return
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as pool:
        for done, future in enumerate(as_completed([pool.submit(_hear, of) for of in by_sound.values()]), 1):
            future.result()
            print(f"\rheard {done} of {len(by_sound)} sounds   ", end="", file=sys.stderr, flush=True)
    print(file=sys.stderr)


def _hear(of: Sequence[Task]) -> None:
    for task in of:
        hear(task)


# --- words ----------------------------------------------------------------------------------------


def plain(text: str) -> str:
    """Numbers as single digits, codes and spelling letter by letter, no marks: the same for both sides."""
    text = re.sub(r"(?<=\d),(?=\d{3})", "", text.casefold().replace("x-ray", "xray").replace("-", " "))
    text = re.sub(r"\b(oh|nought|o)\b", "zero", text)
    text = re.sub(r"\bdouble (\w+)", r"\1 \1", text)
    text = re.sub(r"(\d+)\s*(%|°|[a-z]+)", r"\1 \2", alpha2digit(text, "en", 0))
    text = re.sub(r"(?<=\d)\.(?=\d)|(?<!\w)\.(?=\d)", " point ", text)
    words: list[str] = []
    for word in re.findall(r"[a-z']+|\d|%|°", text):
        units = FORMS.known.written.get(word)
        if word in FORMS.known.letters.codes:
            words += list(word)
        elif word in FORMS.spelling:
            words.append(FORMS.spelling[word])
        elif units and words and words[-1].isdigit():
            words += units.split()
        else:
            words.append(word.replace("'", ""))
    return " ".join(words)


def spoken_words(note: Heard) -> list[Word]:
    """What was said, as words with rough times: a hearing that is right."""
    words: list[Word] = []
    for line, (start, end) in zip(note.lines, note.spans, strict=True):
        said = line.split()
        step = (end - start) / max(1, len(said))
        words += [Word(w, start + i * step, start + (i + 1) * step) for i, w in enumerate(said)]
    return words


@dataclass(frozen=True, slots=True)
class Judged:
    """A word that was heard: whether it carries a number or code, both listeners agree, and it is right."""

    carries: bool
    agreed: bool
    confidence: float
    right: bool


def judged(first: Heard, second: Heard) -> list[Judged]:
    views = compared(first.words, second.words, FORMS)
    truth = compared(first.words, spoken_words(first), FORMS)
    return [
        Judged(view.carries, view.otherwise is None, word.confidence or 0.0, true.otherwise is None)
        for word, view, true in zip(first.words, views, truth, strict=True)
    ]


def fitted(words: Sequence[Judged]) -> tuple[Curve, ...]:
    """Logistic regression by Newton's method, for each of the four cases, with a weak pull to the stated."""
    curves: list[Curve] = []
    for carries in (True, False):
        for agreed in (True, False):
            these = [w for w in words if (w.carries, w.agreed) == (carries, agreed)]
            stated = np.clip([w.confidence for w in these], 0.01, 0.99)
            x = np.stack([np.ones(len(these)), np.log(stated / (1 - stated))], axis=1)
            y = np.array([w.right for w in these], float)
            at = np.array([0.0, 1.0])
            pull = np.diag([0.1, 4.0])
            for _ in range(100):
                p = 1 / (1 + np.exp(-x @ at))
                slope = x.T @ (y - p) - pull @ (at - [0.0, 1.0])
                step = np.linalg.solve(x.T @ (x * (p * (1 - p))[:, None]) + pull, slope)
                at = at + step / max(1.0, float(np.abs(step).max()))  # short steps: else it may run away
            curves.append(Curve(carries, agreed, round(float(at[0]), 2), round(float(max(0.0, at[1])), 2)))
    return tuple(curves)


# --- the table ------------------------------------------------------------------------------------


def rate(hits: int, of: int) -> str:
    low, high = wilson(hits, of)
    return f"{100 * hits / max(of, 1):.1f} % ({100 * low:.1f}–{100 * high:.1f})"


def misheard(note: Heard, fact: Mapping[str, Any]) -> bool:
    """Whether a word of the fact's quote is not what was said there."""
    truth = compared(note.words, spoken_words(note), FORMS)
    return any(
        fact["start_s"] <= (word.start_s or 0.0) and (word.end_s or 0.0) <= fact["end_s"] + 0.01
        for word, view in zip(note.words, truth, strict=True)
        if view.otherwise is not None
    )


def row(notes: Sequence[Heard]) -> list[str]:
    scores: Scores = scored(notes)
    result = scores.result
    sure = [(n, o.fact) for n, o in scores.outcomes if o.wrong and o.fact["status"] == "sure"]
    ears = sum(misheard(note, fact) for note, fact in sure)
    said = [plain(" ".join(n.lines)) for n in notes]
    out = [plain(" ".join(w.text for w in n.words)) for n in notes]
    wrong = len(result.wrong_sure)
    return [
        f"{100 * jiwer.wer(said, out):.1f} %",
        rate(result.recalled, result.required),
        f"{wrong} of {result.sure}: {rate(wrong, result.sure)}",
        f"{ears}: {rate(ears, result.sure)}",
        rate(result.check, result.given),
    ]


def table(heard_by: dict[tuple[str, str, str], list[Heard]], levels: Sequence[str]) -> Iterator[str]:
    columns = (
        "part",
        "condition",
        "level",
        "word errors",
        "recall",
        "wrong and sure",
        "misheard",
        "to check",
    )
    yield f"| {' | '.join(columns)} |"
    yield "|" + " --- |" * len(columns)
    conditions = list(dict.fromkeys(condition for _, condition, _ in heard_by))
    for part in PARTS:
        for condition in conditions:
            for level in levels:
                notes = heard_by[part, condition, level]
                yield f"| {part} | {_name(condition)} | {level} | {' | '.join(row(notes))} |"
    for title, neural in (("neural voice", True), ("other voices", False)):
        for condition in conditions:
            for level in levels:
                notes = [n for n in heard_by["kept aside", condition, level] if (n.voice == NEURAL) == neural]
                yield f"| kept aside, {title} | {_name(condition)} | {level} | {' | '.join(row(notes))} |"


def _name(condition: str) -> str:
    return f"{condition} dB" if condition[0].isdigit() else condition


def human(levels: Sequence[str], most: int) -> Iterator[str]:
    """Word errors on recorded prompts: what tests/hearing/human_prompts.py names."""
    from human_prompts import installed, prompts
    from human_prompts import plain as as_words

    if not most or not installed():
        return
    of = prompts()
    chosen = [of[(2 * k + 1) * len(of) // (2 * min(most, len(of)))] for k in range(min(most, len(of)))]
    yield ""
    yield f"Recorded human prompts, {len(chosen)} of {len(of)}: word errors"
    yield ""
    yield "| level | word errors |"
    yield "| --- | --- |"
    for level in levels:
        out = [as_words(" ".join(w.text for w in engine(level).hear(p.samples()))) for p in chosen]
        yield f"| {level} | {100 * jiwer.wer([as_words(p.text) for p in chosen], out):.2f} % |"


def cost(levels: Sequence[str], minutes: float) -> Iterator[str]:
    """Each level in a process of its own, by tests/bench/real_time.py."""
    if not minutes:
        return
    yield ""
    yield f"{minutes:g} minutes of the prompts with pauses of a second, two cores:"
    yield ""
    yield "| level | processor time / length | time / length | peak memory |"
    yield "| --- | --- | --- | --- |"
    for level in levels:
        options = ["--engine", "tiny.en", "--no-prompt"] if level == "bare" else ["--engine", level]
        options += ["--json", "--minutes", f"{minutes:g}"]
        command = [sys.executable, str(HERE / "real_time.py"), *options]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if not done.stdout:
            raise SystemExit(done.stderr)
        told: dict[str, Any] = json.loads(done.stdout)
        yield (
            f"| {level} | {told['processor_time_per_length']:.3f} | {told['time_per_length']:.3f} "
            f"| {told['peak_mib']:.0f} MiB |"
        )


def confidence(
    pairs: Sequence[tuple[Heard, Heard]], after: Sequence[Heard], to: Path | None
) -> Iterator[str]:
    """How far the words' confidence can be believed, as the recogniser states it and after the curves."""
    before: list[tuple[float, bool]] = []
    calibrated: list[tuple[float, bool]] = []
    for (first, second), note in zip(pairs, after, strict=True):
        words = judged(first, second)
        before += [(w.confidence, w.right) for w in words]
        calibrated += [(n.confidence or 0.0, w.right) for n, w in zip(note.words, words, strict=True)]
    curves = [("as the recogniser states it", bins(before)), ("after the curves", bins(calibrated))]
    yield ""
    stated, told = (gap(of) for _, of in curves)
    yield (
        f"Confidence of the {len(before)} words kept aside: the mean distance of stated and true is "
        f"{stated:.3f} as the recogniser states it and {told:.3f} after the curves; the Brier score is "
        f"{brier(before):.3f} and {brier(calibrated):.3f}."
    )
    if to is not None:
        picture(curves, "Confidence of words against truth, kept aside", to, "words")


def brier(pairs: Sequence[tuple[float, bool]]) -> float:
    """The mean square of what was stated less what is true, after G. W. Brier 1950."""
    return float(np.mean([(stated - right) ** 2 for stated, right in pairs]))


def write(lines: Iterable[str]) -> None:
    """Between the marks in docs/hearing.md."""
    text = DOC.read_text("utf-8")
    head, _, rest = text.partition(BEGIN)
    _, _, tail = rest.partition(END)
    part = DOC.with_suffix(".part")
    part.write_text("\n".join([head + BEGIN, "", *lines, "", END]) + tail, encoding="utf-8")
    part.replace(DOC)


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--sessions", type=int, default=5, metavar="N", help="of each part; 500: all")
    parser.add_argument("--conditions", default="clean,15,10", help="also cab, quiet, clipped, 10:leak")
    parser.add_argument("--levels", default="bare,quick,careful", help="or any name that --hear-with takes")
    parser.add_argument("--minutes", type=float, default=3.0, help="of sound, for time and memory; 0: none")
    parser.add_argument("--prompts", type=int, default=40, help="human prompts to hear; 0: none")
    parser.add_argument("--workers", type=int, default=2)
    parser.add_argument("--fit", action="store_true", help="print the curves fitted on the part tuned on")
    parser.add_argument("--write", action="store_true", help="put the tables into docs/hearing.md")
    parser.add_argument("--picture", action="store_true", help=f"draw {PICTURE.name}")
    given = parser.parse_args()
    os.environ.setdefault("OMP_NUM_THREADS", "1")

    levels, conditions = given.levels.split(","), given.conditions.split(",")
    todo = list(tasks(levels, conditions, given.sessions))
    hear_all(todo, given.workers)
    heard_by: dict[tuple[str, str, str], list[Heard]] = {}
    pairs: dict[str, list[tuple[Heard, Heard]]] = {part: [] for part in PARTS}
    weighed: list[Heard] = []
    for task in todo:
        note = hear(task, only_kept=True)
        assert note is not None
        heard_by.setdefault((task.part, task.condition, task.level), []).append(note)
        both = engine(task.level)
        if isinstance(both, TwoHearings):
            first, second = (
                heard(task.session, _voice(task.voice), task.noise, one, cache_folder(), only_kept=True)
                for one in (both.first, both.second)
            )
            assert first is not None
            assert second is not None
            pairs[task.part].append((first, second))
            if task.part == "kept aside":
                weighed.append(note)
    if given.fit:
        words = [w for first, second in pairs["tuned on"] for w in judged(first, second)]
        for curve in fitted(words):
            print(
                f"[[curves]]\ncarries = {str(curve.carries).lower()}\nagreed = {str(curve.agreed).lower()}\n"
                f"offset = {curve.offset}\nslope = {curve.slope}\n"
            )
        return 0
    kept = [n for (part, _, level), notes in heard_by.items() if level == levels[0] for n in notes]
    minutes = sum(n.duration_s for n in kept) / 60
    lines = [
        f"`python tests/bench/hearing.py --sessions {given.sessions} --conditions {given.conditions} "
        f"--levels {given.levels}`: {given.sessions} sessions of each part, two voices each, "
        f"{minutes:.0f} minutes of sound heard by each level.",
        "",
        *table(heard_by, levels),
        *human(levels, given.prompts),
        *cost(levels, given.minutes),
        *(confidence(pairs["kept aside"], weighed, PICTURE if given.picture else None) if weighed else ()),
    ]
    print("\n".join(lines))
    if given.write:
        write(lines)
    return 0


if __name__ == "__main__":
    sys.exit(main())

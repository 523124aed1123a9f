"""What a second listener makes of numbers and codes that a person said.

    python tests/bench/hearing_numbers.py [--engine tiny.en] [--strings 40] [--noise clean,15]

Single digits, numbers and spelling words, recorded from one speaker (Debian's asterisk-core-sounds-en-g722, a
folder `digits` and a folder `phonetic` in it), are put together to strings of digits, codes and amounts, with
no pause of their own between them. The first listener hears each; the second weighs it. Printed: how often
the first was right, and of what was right and of what was wrong, how much the second confirmed, left alone
or doubted. A string is right where the words that were heard may be said as it was.
"""

from __future__ import annotations

import argparse
import sys
from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "hearing"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "eval"))

from hearing_sounds import RATE_HZ, decoded, silence
from human_prompts import RECORDINGS
from noise import KINDS, with_noise

from jobnotes.hearing import Samples, recogniser
from jobnotes.hearing.second import TwoListeners
from jobnotes.hearing.spoken_forms import bare, spoken_forms
from jobnotes.record import Word

DIGITS = "zero one two three four five six seven eight nine".split()
TEENS = "ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "twenty thirty forty fifty sixty seventy eighty ninety".split()
FORMS = spoken_forms()


def recorded() -> dict[str, Path]:
    """Each word that can be put together and its recording."""
    found = {w: f"digits/{n}" for n, w in enumerate(DIGITS + TEENS)}
    found |= {w: f"digits/{n}0" for n, w in enumerate(TENS, 2)}
    found |= {"hundred": "digits/hundred", "thousand": "digits/thousand"}
    for word, letter in FORMS.spelling.items():
        if letter not in {FORMS.spelling[w] for w, p in found.items() if p.startswith("phonetic")}:
            found[word] = f"phonetic/{letter}_p"
    return {word: RECORDINGS / f"{name}.g722" for word, name in found.items()}


def strings(count: int) -> list[tuple[str, ...]]:
    """As many of each sort: strings of digits, codes, amounts; the same on every run."""
    draw = np.random.default_rng(20)
    letters = [w for w in recorded() if w in FORMS.spelling]

    def digits(n: int) -> list[str]:
        return [str(w) for w in draw.choice(DIGITS, n)]

    made: list[tuple[str, ...]] = []
    for at in range(count):
        made.append(tuple(digits(4 + at % 3)))
        made.append((*(str(w) for w in draw.choice(letters, 2)), *digits(3), str(draw.choice(letters))))
        amounts = [
            [str(draw.choice(TEENS))],
            [str(draw.choice(TENS)), str(draw.choice(DIGITS[1:]))],
            [str(draw.choice(DIGITS[1:])), "hundred", str(draw.choice(TENS))],
            [str(draw.choice(TENS)), "thousand", str(draw.choice(DIGITS[1:])), "hundred"],
        ]
        made.append(tuple(amounts[at % 4]))
    return made


def spoken(words: Sequence[str], of: dict[str, Path]) -> tuple[Samples, tuple[float, float]]:
    """The recordings one after the other, half a second of silence around; and when speech is in it."""
    parts = [_trimmed(decoded(of[word], format="g722")) for word in words]
    speech = np.concatenate(parts)
    return np.concatenate([silence(0.5), speech, silence(0.5)]), (0.5, 0.5 + len(speech) / RATE_HZ)


def _trimmed(samples: Samples) -> Samples:
    loud = np.flatnonzero(np.abs(samples) > 0.01)
    return samples[loud[0] : loud[-1] + 1]


def right(heard: Sequence[Word], said: tuple[str, ...]) -> bool:
    """Whether all that was heard may be said as `said`."""
    reached = {0}
    for word in heard:
        ways = FORMS.ways(word.text) + (((),) if bare(word.text) == "and" else ())
        same = [tuple("zero" if w == "oh" else FORMS.spelling.get(w, w) for w in way) for way in ways]
        goal = tuple(FORMS.spelling.get(w, w) for w in said)
        reached = {at + len(way) for at in reached for way in same if tuple(goal[at : at + len(way)]) == way}
    return len(said) in reached


def main() -> int:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--engine", default="tiny.en")
    parser.add_argument("--strings", type=int, default=40, metavar="N", help="of each sort")
    parser.add_argument("--noise", default="clean,15", help="clean, or dB")
    parser.add_argument("--verbose", action="store_true")
    given = parser.parse_args()
    if not (RECORDINGS / "phonetic").is_dir():
        print("the recordings are not here; apt-get install asterisk-core-sounds-en-g722", file=sys.stderr)
        return 2
    two = TwoListeners(recogniser(given.engine))
    of = recorded()
    print("| noise | first listener | strings | confirmed | left | doubted |\n|" + " --- |" * 6)
    for noise in given.noise.split(","):
        counts: Counter[tuple[bool, str]] = Counter()
        for at, said in enumerate(strings(given.strings)):
            samples, span = spoken(said, of)
            if noise != "clean":
                samples = with_noise(samples, [span], list(KINDS)[at % len(KINDS)], float(noise), at)
            words = two.first.hear(samples)
            # as if the first had been neither sure nor unsure, so that each verdict shows
            weighed = two.weighed([Word(w.text, w.start_s, w.end_s, 0.6) for w in words], samples)
            verdicts = {w.confidence for w in weighed}
            verdict = "doubted" if min(verdicts, default=0.6) < 0.6 else "left"
            if verdicts == {two.weighing.confirmed}:
                verdict = "confirmed"
            counts[right(words, said), verdict] += 1
            if given.verbose:
                heard = " ".join(w.text for w in words)
                print(noise, right(words, said), verdict, "|", " ".join(said), "|", heard, file=sys.stderr)
        for was_right in (True, False):
            row = [counts[was_right, v] for v in ("confirmed", "left", "doubted")]
            print(
                f"| {noise} | {'right' if was_right else 'wrong'} | {sum(row)} | "
                + " | ".join(f"{n} ({n / max(1, sum(row)):.0%})" for n in row)
                + " |",
                flush=True,
            )
    return 0


if __name__ == "__main__":
    sys.exit(main())

"""The same speech written otherwise gives the same facts: case, punctuation, words or digits, line breaks.

On utterances made here, exactly; on the evaluation set, with a share of equal facts that must not sink.
"""

from __future__ import annotations

import json
import random
import re
from collections import Counter
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from reading_forms import DIGIT, cores, in_words

from jobnotes.reading.read import read_text

DEV = [
    json.loads(line)
    for line in (Path(__file__).parents[1] / "eval" / "dev.jsonl").read_text("utf-8").splitlines()
]


def pair(template: str, *values: str) -> tuple[str, str]:
    """(in digits, in words): each `{}` takes a figure, each `[]` a string of digits said one by one."""
    digits = words = template
    for value in values:
        slot = min((p for p in ("{}", "[]") if p in digits), key=digits.index)
        if slot == "[]":
            spoken = " ".join(DIGIT[d] for d in value)
        elif "." in value:
            whole, places = value.split(".")
            spoken = f"{in_words(int(whole))} point {' '.join(DIGIT[d] for d in places)}"
        else:
            spoken = in_words(int(value))
        digits, words = digits.replace(slot, value, 1), words.replace(slot, spoken, 1)
    return digits, words


MADE = [
    pair("Job number [].", "20318"),
    pair("Odometer {} kilometres.", "312455"),
    pair("Engine hours {}.", "8200"),
    pair("SPN [] FMI {}, active, count {}.", "5246", "7", "4"),
    pair("SPN [] FMI {} is inactive.", "102", "18"),
    pair("Code P [] stored.", "0299"),
    pair("Battery voltage {} volts.", "24.6"),
    pair("Boost pressure {} bar, limit {} bar.", "1.4", "1.6"),
    pair("Resistance {} ohms at the plug, should be between {} and {}.", "60.2", "55", "65"),
    pair("Torqued the bolts to {} newton metres.", "110"),
    pair("Fitted {} new clamps.", "2"),
    pair("Fitted a new pump, part number [].", "417254003"),
    pair("Removed {} bolts.", "8"),
    pair("Used {} litres of coolant.", "12.5"),
    pair("Labour {} hours.", "2.5"),
    pair("Coolant temperature minus {} degrees celsius.", "5"),
    ("Removed the radiator.", "removed the radiator"),
    ("Refitted the cover.", "refitted the cover"),
    ("Clock on.", "clock on"),
    ("Taking a photo of the split hose.", "taking a photo of the split hose"),
    ("Driver complains of low power.", "driver complains of low power"),
    ("Cause: the actuator is seized.", "cause the actuator is seized"),
    ("The belt is glazed and cracked.", "the belt is glazed and cracked"),
]
IDS = [digits for digits, _ in MADE]
WAYS: dict[str, Callable[[str], str]] = {
    "upper case": str.upper,
    "lower case": str.lower,
    "without the full stop": lambda t: t.rstrip("."),
    "without any punctuation": lambda t: re.sub(r"[,;:](?=\s|$)|\.(?=\s|$)", "", t),
    "with an exclamation mark": lambda t: t.rstrip(".") + "!",
    "with spaces around": lambda t: f"  {t}  ",
}


@pytest.mark.parametrize(("digits", "words"), MADE, ids=IDS)
def test_words_and_digits_are_the_same_facts(digits: str, words: str) -> None:
    assert cores(digits)
    assert cores(digits) == cores(words)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize(("digits", "words"), MADE, ids=IDS)
def test_case_and_punctuation_change_nothing(digits: str, words: str, way: str) -> None:
    for text in (digits, words):
        assert cores(WAYS[way](text)) == cores(text)


@settings(max_examples=25)
@given(st.permutations(range(len(MADE))), st.booleans(), st.randoms(use_true_random=False))
def test_several_utterances_run_together_are_the_same_facts_when_full_stops_part_them(
    order: list[int], upper: bool, chance: random.Random
) -> None:
    lines = [chance.choice(MADE[i]).rstrip(".") + "." for i in order]
    joined = " ".join(lines)
    assert cores(joined.upper() if upper else joined) == cores("\n".join(lines))


# each begins with a word that opens a statement, so that a careful listener needs no full stop
@pytest.mark.parametrize(
    "lines",
    [
        ["job number 20318", "odometer 312455 kilometres", "driver complains of low power"],
        pytest.param(
            ["clock on", "removed the radiator", "fitted two new clamps", "refitted the cover"],
            marks=pytest.mark.xfail(
                strict=True, reason="'the radiator fitted' hides that clamps were fitted"
            ),
        ),
        ["SPN 5246 FMI 7 active", "SPN 102 FMI 18 inactive", "removed the cover"],
        [
            "battery voltage 24.6 volts",
            "resistance 60.2 ohms at the plug",
            "torqued the bolts to 110 newton metres",
        ],
        ["removed eight bolts", "fitted a new pump", "used 12 litres of coolant", "labour 2.5 hours"],
    ],
    ids=["identity", "work", "codes", "readings", "amounts"],
)
def test_plain_utterances_run_together_without_a_stop_are_the_same_facts(lines: list[str]) -> None:
    assert cores(" ".join(lines)) == cores("\n".join(lines))


# --- the evaluation set -------------------------------------------------------------------------------


def bare(line: str) -> str:
    return re.sub(r"[,;:!](?=\s|$)|\.(?=\s|$)", "", line)


def with_stop(line: str) -> str:
    return line if line[-1] in ".?!" else line + "."


#: (how it is written, least share of facts that are the same): raise it when the reading gets better.
REWRITTEN: dict[str, tuple[Callable[[list[str]], str], float]] = {
    "upper case": (lambda lines: "\n".join(lines).upper(), 0.99),
    "lower case": (lambda lines: "\n".join(lines).lower(), 0.99),
    "no final punctuation": (lambda lines: "\n".join(line.rstrip(".!") for line in lines), 1.0),
    "full stops": (lambda lines: "\n".join(map(with_stop, lines)), 1.0),
    "run together with full stops": (lambda lines: " ".join(map(with_stop, lines)), 0.995),
    "no punctuation": (lambda lines: "\n".join(map(bare, lines)), 0.95),
    "run together": (" ".join, 0.82),
}


@lru_cache
def plain_cores(session_id: str) -> Counter[tuple[object, ...]]:
    (lines,) = [s["lines"] for s in DEV if s["id"] == session_id]
    return cores("\n".join(lines))


@pytest.mark.parametrize("way", REWRITTEN)
def test_the_share_of_facts_that_stay_the_same_on_the_evaluation_set_does_not_sink(way: str) -> None:
    rewrite, floor = REWRITTEN[way]
    same = total = 0
    differing: list[str] = []
    for session in DEV:
        plain, other = plain_cores(session["id"]), cores(rewrite(session["lines"]))
        same += (plain & other).total()
        total += max(plain.total(), other.total())
        if plain != other:
            differing.append(session["id"])
    print(f"{way}: {same} of {total} ({100 * same / total:.1f} %); differing: {' '.join(differing)}")
    assert total > 500
    assert same / total >= floor, differing


def test_reading_twice_gives_the_same_facts_with_the_same_ids() -> None:
    for session in DEV[:10]:
        text = "\n".join(session["lines"])
        assert read_text(text) == read_text(text)

"""Whatever the text, the reader gives facts within their bounds and never an exception."""

from __future__ import annotations

import json
import random
import re
from collections.abc import Iterator
from importlib import resources

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from reading_forms import TRADE

from jobnotes import record_json
from jobnotes.reading.read import read_text
from jobnotes.record import Clock, Fact, FaultCode, Identity, LabourSaid, Measurement, Part, Step

SEED = 20260210
ODD = [
    "\x00", "\x07", "\x1b[31m", "\u200b", "\u202e", "\ufeff", "é", "ß", "İ", "ẞ", "ŉ", "ﬁ", "Ǆ", "½",
    "¼", "2½", "½½", "٣", "٣٫٥", "５", "²", "①", "Ⅷ", "𝟗", "𝕊ℙℕ", "一二", "😀", "a\u0301", "--", "...", "?!",
    "%", "°", "Ω", "—", "-", "/", "+", ".", "..5", "5.", "1.2.3", "1,2,3", "1,000,000", "00", "007",
    "9" * 40, "1e5", "1e999", "inf", "nan", "'s", "'", "’", "s's", "a-b-c-d", "0.0.0", "-5", "--5", "–5",
    "h2o", "P0", "P0299-", "P0299-1", "P0299-ZZ", "p02991", "SPN", "FMI", "0" * 30, "_", "{}", "%s",
    "<b>", "\\", '"', "NULL", "x" * 300, "scratch that", "no", "correction",
]  # fmt: skip
NUMBERS = (
    "zero one two three four five six seven eight nine ten eleven twelve twenty thirty hundred thousand "
    "million grand point oh double triple minus half quarter a and plus or between to for ate won"
).split()


def trade_phrases() -> list[str]:
    """Every phrase of the trade's files; of those with alternatives, a few of what they stand for."""
    found: set[str] = set()
    chance = random.Random(SEED)
    for name in ("cues", "lexicon", "misheard", "spelling", "units"):
        found.update(
            re.findall(
                r'"([^"\n]+)"', (resources.files("jobnotes") / "data" / f"{name}.toml").read_text("utf-8")
            )
        )
    plain = {phrase for phrase in found if "|" not in phrase}
    for phrase in sorted(found - plain):
        for _ in range(3):
            plain.add(re.sub(r"\(([^()]*)\)", lambda m: chance.choice(m[1].split("|")), phrase))
    return sorted(plain)


PHRASES = trade_phrases()


def shuffled(count: int, seed: int = SEED) -> Iterator[str]:
    """Trade phrases, numbers and oddities in any order, with any breaks between them."""
    chance = random.Random(seed)
    for _ in range(count):
        pieces = []
        for _ in range(chance.choice((1, 3, 8, 20, 60))):
            figures = [str(chance.randrange(10 ** chance.randrange(1, 8))), f"{chance.uniform(0, 100):.2f}"]
            pieces.append(chance.choice(chance.choice((PHRASES, PHRASES, NUMBERS, ODD, figures))))
            pieces.append(chance.choice((" ", " ", " ", " ", ", ", ". ", "\n", "", "?")))
        yield "".join(pieces)


def within_bounds(text: str) -> tuple[Fact, ...]:
    facts = read_text(text, TRADE)
    ids = {f.id for f in facts}
    assert len(ids) == len(facts), "ids are unique"
    json.dumps([record_json.to_json(f) for f in facts], allow_nan=False)
    words = text.split()
    for fact in facts:
        assert 0 <= fact.confidence <= 1
        assert fact.status in ("sure", "check", "rejected")
        assert fact.audience in ("all", "workshop")
        assert (fact.why is not None) or fact.status == "sure"
        assert fact.superseded_by is None or fact.superseded_by in ids - {fact.id}
        _quoted(fact, words)
        _bounds(fact)
    return facts


def _quoted(fact: Fact, words: list[str]) -> None:
    """The quote is words of the text, in their order (private ones may be left out)."""
    said = fact.quote.split()
    assert said, "every fact shows its words"
    for start in (i for i, w in enumerate(words) if w == said[0]):
        rest = iter(words[start : start + len(said) + 60])
        if all(any(w == s for w in rest) for s in said):
            return
    raise AssertionError(f"not said: {fact.quote[:200]!r}")


def _bounds(fact: Fact) -> None:
    match fact.detail:
        case FaultCode() as d:
            assert d.code
            assert d.spn is None or d.spn >= 0
            assert d.fmi is None or d.fmi >= 0
            if fact.status == "sure":
                assert d.spn is None or d.spn < 2**19
                assert d.fmi is None or d.fmi < 2**5
            assert d.state in (None, "active", "inactive", "stored", "pending", "cleared")
            assert d.count is None or d.count >= 0
        case Measurement() as d:
            assert d.value.is_finite()
            assert d.unit in TRADE.units
            assert d.verdict in ("within", "outside", "no limit given")
            if d.limit and d.limit.min is not None and d.limit.max is not None and fact.status == "sure":
                assert d.limit.min <= d.limit.max
        case LabourSaid() as d:
            assert d.hours.is_finite()
            assert 0 < d.hours <= 24 or fact.status != "sure"
        case Part() | Step() as d:
            assert d.quantity is None or (d.quantity.is_finite() and d.quantity >= 0)
            assert d.unit is None or d.unit in TRADE.units
        case Clock() as d:
            assert d.action in ("start", "pause", "resume", "stop")
        case Identity() as d:
            assert d.value
        case _:
            pass


@pytest.mark.parametrize("part", range(4))
def test_trade_words_numbers_and_oddities_in_any_order(part: int) -> None:
    for text in shuffled(250, SEED + part):
        within_bounds(text)


@pytest.mark.slow
def test_ten_thousand_texts_in_any_order() -> None:
    for text in shuffled(10_000, SEED + 99):
        within_bounds(text)


@given(st.text(max_size=300))
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_any_characters_whatever(text: str) -> None:
    within_bounds(text)


@given(
    st.lists(st.sampled_from([*PHRASES, *NUMBERS, *ODD]), max_size=40), st.sampled_from([" ", "\n", ", ", ""])
)
@settings(suppress_health_check=[HealthCheck.too_slow])
def test_any_list_of_trade_phrases(pieces: list[str], joint: str) -> None:
    within_bounds(joint.join(pieces))


CORRECTIONS = {"scratch that", "no", "correction"}


@pytest.mark.parametrize("odd", [o for o in ODD if o not in CORRECTIONS], ids=ascii)
def test_an_oddity_in_the_middle_of_plain_speech_spoils_nothing_else(odd: str) -> None:
    facts = within_bounds(f"Job number 20318.\nremoved the radiator {odd}.\nP0299 active.")
    assert {"job_number", "fault_code"} <= {f.kind for f in facts}


@pytest.mark.xfail(strict=True, reason="the code is taken as the corrected job number")
@pytest.mark.parametrize("cue", sorted(CORRECTIONS))
def test_a_correction_that_leads_nowhere_does_not_reach_over_what_follows(cue: str) -> None:
    facts = within_bounds(f"Job number 20318.\nremoved the radiator {cue}.\nP0299 active.")
    standing = [f.detail for f in facts if f.stands]
    assert [d.value for d in standing if isinstance(d, Identity)] == ["20318"]
    assert [d.code for d in standing if isinstance(d, FaultCode)] == ["P0299"]


@pytest.mark.parametrize(
    "text",
    [
        "",
        " \n\t ",
        "." * 5_000,
        "\n" * 5_000,
        "no " * 1_000,
        "scratch that " * 300,
        "SPN " * 1_000,
        "point " * 1_000,
        "double " * 1_000,
        "one " * 2_000,
        "minus " * 1_000,
        "between 1 and " * 500,
        "off the record " * 300,
        "and " * 2_000,
        "x" * 100_000,
        "9" * 100_000,
        "a1" * 50_000,
        "SPN " + "9" * 100_000 + " FMI 3",
        "part number " + "9" * 100_000,
        "odometer " + "9" * 100_000 + " km",
        "pressure " + "9" * 100_000 + " bar",
        "pressure 0." + "9" * 100_000 + " bar, limit 1 bar",
        "labour " + "9" * 100_000 + " hours",
        "fitted " + "9" * 100_000 + " bolts",
        "count " + "9" * 5_000,
        "P0299 count " + "9" * 5_000,
        "pressure 1 bar, limit " + "9" * 5_000 + " kilopascals",
        "12 bar, limit 1.5." * 300,
    ],
    ids=lambda t: repr(t[:24]),
)
def test_absurd_texts_are_survived(text: str) -> None:
    within_bounds(text)


def test_a_line_of_a_hundred_thousand_characters_is_read() -> None:
    line = ""
    for text in shuffled(10_000, SEED + 7):
        line += text.replace("\n", " ") + " "
        if len(line) >= 100_000:
            break
    facts = within_bounds(line[:100_000])
    assert facts

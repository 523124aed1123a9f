"""What is said about people or off the record stays in the workshop; swearing leaves no trace outside."""

from __future__ import annotations

import re

import pytest
from reading_forms import TRADE, said

from jobnotes import record_json
from jobnotes.record import Fact

OPENERS = [
    "off the record", "between you and me", "don't put this in", "not for the report",
    "don't tell the customer", "just between us", "workshop only", "internal note", "don't put this down",
    "don't put it on the invoice", "keep this off the claim", "this is private", "i shouldn't say this",
]  # fmt: skip


def text_of(fact: Fact) -> str:
    data = record_json.to_json(fact)
    keys = (
        "text",
        "name",
        "subject",
        "object",
        "operation",
        "reason",
        "component",
        "value",
        "number",
        "ecu",
        "quote",
    )
    return " ".join(str(data.get(k) or "") for k in keys).casefold()


@pytest.mark.parametrize("opener", OPENERS)
@pytest.mark.parametrize("joint", [" ", ", "])
def test_what_is_said_off_the_record_stays_in_the_workshop(opener: str, joint: str) -> None:
    text = f"{opener}{joint}the last mechanic removed the fuse and fitted a coin"
    assert all(f.audience == "workshop" for f in said(text))


@pytest.mark.parametrize("opener", OPENERS)
def test_what_is_said_before_and_after_an_aside_is_for_all(opener: str) -> None:
    text = f"Fitted a new seal.\n{opener}, the old one was my doing.\nBack on the record, fitted a new hose."
    parts = {f.detail.name: f.audience for f in said(text) if f.kind == "part"}  # type: ignore[union-attr]
    assert parts == {"seal": "all", "hose": "all"}


@pytest.mark.parametrize(
    "closer",
    ["keep that between us", "don't write it down", "between you and me", "leave that off the claim"],
)
@pytest.mark.parametrize("end", [".\n", ". "])
def test_what_is_taken_back_at_its_end_stays_in_the_workshop_and_what_follows_does_not(
    closer: str, end: str
) -> None:
    text = f"The last mechanic removed the fuse and left it out on purpose, {closer}{end}Fitted a new hose."
    facts = said(text)
    assert {f.audience for f in facts if "fuse" in f.quote} == {"workshop"}
    assert [f.audience for f in facts if "hose" in f.quote] == ["all"]


def test_an_aside_that_is_announced_late_in_its_sentence_hides_both_sides_of_it() -> None:
    text = "The last mechanic removed the fuse on purpose, off the record. He fitted a coin in its place."
    assert {f.audience for f in said(text)} == {"workshop"}


SWEARING = ["bloody", "fucking", "damn", "shitty", "sodding", "goddamn"]


@pytest.mark.parametrize("word", SWEARING)
@pytest.mark.parametrize(
    "text",
    [
        "the {} hose is split",
        "removed the {} radiator",
        "fitted a new {} clamp",
        "the {} bracket is cracked",
        "cause is a {} seized bearing",
        "{} bolt sheared off",
        "photo of the {} split hose",
        "driver says the {} heater is not working",
    ],
)
def test_no_swearing_in_anything_that_leaves_the_workshop(text: str, word: str) -> None:
    facts = said(text.format(word))
    assert facts, "the fact itself is kept"
    for fact in facts:
        if fact.audience == "all":
            assert not re.search(rf"\b{word}\b", text_of(fact)), fact


@pytest.mark.parametrize("word", SWEARING)
def test_every_tested_word_is_in_the_list_of_the_language(word: str) -> None:
    assert TRADE.cue["private.swearing"].at([word], 0)[1]


def test_swearing_in_capitals_or_with_punctuation_is_found_too() -> None:
    for text in ("THE BLOODY HOSE IS SPLIT", "the bloody, bloody hose is split!"):
        assert all("bloody" not in text_of(f) for f in said(text) if f.audience == "all"), text


def test_what_is_not_for_the_book_is_the_sentence_before_it_and_what_follows_is_told() -> None:
    line = "It's heavy, the second lad's gone to his dinner. That's not for the book.\nFitted a new pump."
    told = {f.kind: f.audience for f in said(line)}
    assert told.pop("part") == "all"
    assert set(told.values()) <= {"workshop"}


def test_an_aside_goes_on_past_there_is() -> None:
    line = "Off the record, the state of this cab, there's half a pie under the seat.\nFitted a new pump."
    assert {f.audience for f in said(line) if f.kind != "part"} <= {"workshop"}

"""Complaints, causes, findings and loose ends in the words of a workshop, where no heading names them."""

from __future__ import annotations

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Statement, Step


def told(said: str, kind: str) -> list[str]:
    """Texts of the statements of that kind that are sure, in lower case."""
    return [
        f.detail.text.casefold()
        for f in read_text(said)
        if isinstance(f.detail, Statement) and f.detail.kind == kind and f.status == "sure"
    ]


@pytest.mark.parametrize(
    ("said", "text"),
    [
        ("job 412, pulls left, driver says it needs holding", "pulls left, driver says it needs holding"),
        ("the girl who drives it says it won't pull away", "it won't pull away"),
        ("the man that brought it in reckons it smokes", "it smokes"),
        ("operator's been complaining about the steering", "the steering"),
        ("Stalls under load, driver says.", "stalls under load"),
    ],
)
def test_a_complaint_is_told_by_whoever_brings_the_vehicle(said: str, text: str) -> None:
    assert told(said, "complaint") == [text]


@pytest.mark.parametrize(
    ("said", "kind"),
    [
        ("The hose weeps. If they say yes on Monday I'll do it.", "complaint"),
        ("stalls under load, driver says", "hazard"),
        ("the bus going down the hill was quiet", "advisory"),
        ("the warning lamp isn't back on", "loose_end"),
        ("I'm off tomorrow", "loose_end"),
    ],
)
def test_what_only_sounds_like_a_statement_is_none(said: str, kind: str) -> None:
    assert not told(said, kind)


@pytest.mark.parametrize(
    ("said", "text"),
    [
        ("Cause? Pipe chafed on the crossmember. There you go.", "pipe chafed on the crossmember"),
        ("wheel bearing's gone in the hub and that's your reason", "wheel bearing's gone in the hub"),
        ("there's your problem, seized caliper", "seized caliper"),
    ],
)
def test_a_cause_is_told_as_one_tells_a_mate(said: str, text: str) -> None:
    assert told(said, "cause") == [text]


def test_two_defects_in_one_breath_are_two_findings() -> None:
    assert told("drum scored, lining cracked", "finding") == ["drum scored", "lining cracked"]
    assert told("lining glazed, cracked", "finding") == ["lining glazed"]


def test_teeth_that_a_gear_has_lost_are_a_defect_and_the_gear_is_not_lost() -> None:
    facts = read_text("the ring gear has lost four teeth")
    assert [f.detail.kind for f in facts if isinstance(f.detail, Statement)] == ["finding"]
    assert not [f for f in facts if isinstance(f.detail, Step)]


@pytest.mark.parametrize(
    "said",
    [
        "Still owed: a clip on the fuel pipe.",
        "Gauge still teed in at the filter, out tomorrow.",
        "the heater hose, I've left that hanging",
        "sensor lead tied up out of the way until the sensor comes",
        "the prop guard isn't back on, its bracket is bent",
        "To do: wheel nuts to be torqued again after 50 km.",
        "Brake pipe is chafed, not done, needs doing",
    ],
)
def test_what_the_job_still_owes_is_a_loose_end(said: str) -> None:
    assert told(said, "loose_end")


@pytest.mark.parametrize(
    "said",
    [
        "nobody lifts anything with it",
        "the step is loose, someone'll go flying",
        "warning cage the spring before you undo that chamber",
        "park brake is off so don't tow it",
    ],
)
def test_a_warning_to_people_is_a_hazard(said: str) -> None:
    assert told(said, "hazard")


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ("Recommendation: new pads at the next visit.", "pads"),
        ("Fan's a bit noisy, I'd put it in for a look", "fan"),
    ],
)
def test_what_is_recommended_is_an_advisory_that_names_its_thing(said: str, words: str) -> None:
    assert any(words in text for text in told(said, "advisory"))


def test_what_is_still_to_do_leaves_what_was_found_a_finding() -> None:
    assert told("Brake pipe is chafed, not done, needs doing", "finding") == ["brake pipe is chafed"]


@pytest.mark.parametrize(
    "line",
    [
        "reported that there's a knocking noise from the back axle",
        "booked in because the heater blows cold",
        "what's wrong with it is it pulls to the left",
        "the lad driving it says there's a leak at the back axle",
    ],
)
def test_what_somebody_else_told_is_a_complaint_and_no_finding(line: str) -> None:
    assert [f.kind for f in read_text(line)] == ["complaint"]

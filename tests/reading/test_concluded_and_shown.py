"""Causes that are concluded, findings that something shows, and work that is owed, as one tells a mate."""

from __future__ import annotations

import pytest
from reading_forms import said

from jobnotes.record import Statement


def told(text: str) -> list[tuple[str, str, str]]:
    """(kind, text, status) of each statement."""
    return [(f.kind, f.detail.text, f.status) for f in said(text) if isinstance(f.detail, Statement)]


@pytest.mark.parametrize(
    ("text", "says", "status"),
    [
        ("capped it off and it still creeps so it's the ram not the spool", "the ram not the spool", "check"),
        ("so it's not the pump at all it's the relief valve", "the relief valve", "check"),
        (
            "P0299 stored\nunplugged it\nfeed 24 volts\nit drags them down so it's the sensor shorted inside",
            "the sensor shorted inside",
            "sure",
        ),
    ],
)
def test_what_is_concluded_is_the_cause_and_doubted_where_it_names_no_failure(
    text: str, says: str, status: str
) -> None:
    assert ("cause", says, status) in told(text)


@pytest.mark.parametrize(
    "text",
    ["if it leaks again so it's the seal", "so it's the new pump that goes in", "so it's a long one"],
)
def test_what_is_supposed_or_to_come_is_no_conclusion(text: str) -> None:
    assert "cause" not in [kind for kind, _, _ in told(text)]


def test_a_cause_may_follow_the_words_that_announce_it() -> None:
    found = told("The gauge read low.\nThat's your cause, collapsed pickup hose starving the pump.")
    assert ("cause", "collapsed pickup hose starving the pump", "sure") in found


@pytest.mark.parametrize(
    "text",
    [
        "Copper in the filter, plenty of it.",
        "Dye at the evaporator outlet.",
        "metal in the strainer",
        "Bubbles visible at the second tube.",
        "no grease in it at all",
        "there's no oil in there, bone dry",
        "i've oil all around the outlet pipe",
    ],
)
def test_what_shows_that_something_failed_is_a_finding(text: str) -> None:
    assert "finding" in [kind for kind, _, _ in told(f"strainer out\n{text}")]


@pytest.mark.parametrize(
    "text", ["put oil in the tank", "new grease in the hub", "no oil on the floor", "oil on order"]
)
def test_what_was_put_in_or_is_not_there_shows_nothing(text: str) -> None:
    assert "finding" not in [kind for kind, _, _ in told(text)]


def test_a_sentence_of_a_failure_alone_is_of_what_was_looked_at_before() -> None:
    ((kind, says, _),) = told("Unplugged the solenoid, measured it on the bench. Open circuit.")
    assert kind == "finding"
    assert "solenoid" in says
    assert "Open circuit" in says


def test_a_failure_alone_after_a_part_went_in_is_none_of_it() -> None:
    assert told("Fitted a new solenoid. Blocked.") == []


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("Machine cuts out when it tips, comes back on its own.", "complaint"),
        ("Misfire. Cylinder two.", "complaint"),
        ("Driver smelled diesel behind the cab.", "complaint"),
        ("your man says the wipers park halfway", "complaint"),
        ("Tank inspection is due in June.", "advisory"),
        ("the mount is cracking, he should budget for one soon", "advisory"),
        ("For customer: tank must be drained each week.", "advisory"),
        ("left the guard off till i get clips for it", "loose_end"),
        ("Locking bar still in.", "loose_end"),
        ("sump's off and it's stood there with no oil in it", "loose_end"),
    ],
)
def test_other_ways_of_telling_complaints_advice_and_what_is_owed(text: str, kind: str) -> None:
    assert kind in [k for k, _, _ in told(text)]


def test_a_part_that_begins_with_the_name_of_a_fluid_shows_nothing() -> None:
    assert "finding" not in [kind for kind, _, _ in told("grease nipple on the pin")]

"""Negation, plans, conditions and questions make no fact of work done, of parts used or of things read."""

from __future__ import annotations

import pytest
from reading_forms import said

NOT_YET = pytest.mark.xfail(strict=True, reason="a plan leaves no loose end yet")
WORK = {"part", "step", "correction", "labour", "measurement", "clock", "fault_code"}


def work(text: str) -> list[str]:
    return [f"{f.kind}: {f.detail}" for f in said(text) if f.kind in WORK]


@pytest.mark.parametrize(
    "text",
    [
        "the seal was not replaced",
        "I didn't fit a new filter",
        "I haven't replaced the filter",
        "did not refit the shield",
        "never removed the pump",
        "the bearing was not removed",
        "no need to change the belt",
        "the pump wasn't touched, I did not take the pump off",
        "we've not changed the thermostat",
        "without removing the radiator",
        "no parts fitted",
        "I couldn't get the bolt out, bolt not removed",
    ],
)
def test_what_was_not_done_is_no_work(text: str) -> None:
    assert not work(text)


@pytest.mark.parametrize(
    "text",
    [
        "I'll refit the cover later",
        "going to fit a new pump tomorrow",
        "will replace the turbo next week",
        "I'm going to remove the starter",
        "need to replace the belt",
        "it needs a new belt",
        "the discs will need replacing at the next service",
        "we'll have to drain the coolant",
        "I want to take the bumper off",
        "about to remove the sump",
        "planning to change the injectors",
        "should replace the hoses soon",
        "the tensioner wants replacing",
        "next I'll disconnect the battery",
        "tomorrow I change the filter",
    ],
)
def test_a_plan_is_no_work(text: str) -> None:
    assert not work(text)


@pytest.mark.parametrize(
    "text",
    [
        "if it's seized I'll replace the caliper",
        "if the pump is bad we'd fit a new one",
        "unless it holds pressure I'll change the seal",
        "if it reads over 14 ohms replace the injector",
        "in case the sensor has gone, order a new sensor",
        "if SPN 102 FMI 18 comes back it is the sensor",
        "should it leak again, fit a new gasket",
        "if I removed the cover it would leak",
        "it would have been 24 volts if the fuse was good",
    ],
)
def test_a_condition_is_no_work(text: str) -> None:
    assert not work(text)


@pytest.mark.parametrize(
    "text",
    [
        "did you refit the cover?",
        "should I replace the turbo?",
        "was it 24 volts or 12 volts?",
        "is that P0299?",
        "have we got a new alternator?",
        "how many bolts did I take out?",
        "do I remove the bracket first",
        "did somebody drain the coolant",
    ],
)
def test_a_question_is_no_fact(text: str) -> None:
    assert not work(text)


@pytest.mark.parametrize(
    "text", ["no fault codes stored", "no leaks found", "there was no play in the bearing"]
)
def test_nothing_found_is_no_fault(text: str) -> None:
    assert not [f for f in said(text) if f.kind in ("fault_code", "cause", "complaint")]


def test_a_code_that_does_not_return_is_cleared_and_not_active() -> None:
    (fact,) = said("P0299 did not return")
    assert fact.detail.state == "cleared"  # type: ignore[union-attr]


def test_what_is_done_after_a_negation_still_counts() -> None:
    text = "I did not replace the pump. I fitted a new seal."
    assert [f.detail.name for f in said(text) if f.kind == "part"] == ["seal"]  # type: ignore[union-attr]


def test_a_need_is_told_as_deferred_work() -> None:
    for text in ("it needs a new belt", "the discs will need replacing at the next service"):
        assert {"advisory", "loose_end"} & {f.kind for f in said(text)}, text


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("need to replace the belt", marks=NOT_YET),
        pytest.param("I'll refit the cover later", marks=NOT_YET),
        "still got to refit the cover",
        "haven't refitted the cover yet",
    ],
)
def test_what_is_left_to_do_is_told(text: str) -> None:
    assert {"advisory", "loose_end"} & {f.kind for f in said(text)}, text


@pytest.mark.parametrize(
    "line",
    [
        "customer doesn't want the injector replaced",
        "they want the thermostat changed at the next service",
        "thought about replacing the injector",
        "new injector didn't turn up",
        "wrong injector supplied",
        "until the injector is replaced don't drive it",
        "replacing the injector takes four hours",
        "greasing of the universal joint is still to be done",
        "nearly dropped the injector",
        "found the level valve off",
        "left the guard on",
    ],
)
def test_what_was_wished_seen_or_told_in_general_was_not_done(line: str) -> None:
    assert not [f for f in said(line) if f.kind in ("part", "step", "correction")]


@pytest.mark.parametrize(
    "line",
    ["took the left caliper off", "left the cover off for now", "dropped the injector", "greased the joint"],
)
def test_what_was_done_is_still_read_beside_such_words(line: str) -> None:
    assert [f.kind for f in said(line) if f.kind == "step"]

"""A code is gone when that is said of it, or of all codes, after the repair has begun."""

from __future__ import annotations

import pytest
from checking_builders import fact, later, part, remark, step
from complete_job import POLICY

from jobnotes.checking.case import Case
from jobnotes.record import Fact, FaultCode, Job, Record

RULE = POLICY.rule("codes-gone").asks


def left(*facts: Fact) -> str | None:
    """The codes whose absence isn't told, of facts said in this order."""
    in_order = tuple(facts)
    return RULE.unmet(Case(Record(Job(), facts=in_order), lambda a, b: a == b))


def code(text: str, state=None, **changes) -> Fact:
    return fact(FaultCode(text, state=state), **{"quote": text, **changes})


A, B, C = "SPN 102 FMI 18", "P0299", "U0100"


@pytest.mark.parametrize("words", ["codes did not return", "no active codes", "cleared all the codes"])
def test_a_word_about_all_codes_clears_those_named_before_it(words):
    assert left(code(A), code(B), remark(words, "finding")) is None


def test_a_code_named_after_the_word_is_not_gone():
    """One “codes did not return” speaks of what had been found by then."""
    assert left(code(A), remark("codes did not return", "finding"), code(B, "active")) == B


@pytest.mark.parametrize(
    "words",
    ["that code did not return", "the code hasn't come back", "code stayed away", "it did not return"],
)
def test_a_word_about_one_code_clears_the_one_named_last(words):
    assert left(code(A), code(B), remark(words, "finding")) == A


def test_a_word_that_names_its_code_clears_only_that():
    gone = remark("P0299 code did not return after the drive", "finding")
    assert left(code(B), code(A), gone) == A
    assert left(code(B), code(A), remark("SPN 102, FMI 18: codes did not return", "finding")) == B


def test_the_state_of_a_code_is_of_that_code():
    assert left(code(A), code(B), code(B, "cleared", quote="P0299 did not return")) == A
    assert left(code(A), code(B), code(A, "cleared")) == B


def test_a_state_heard_in_a_word_about_one_code_is_of_the_one_named_last():
    """“That code did not return” is read as a state of each code named before; one can't be meant by all."""
    words = "code did not return"
    read = [code(A, "cleared", quote=words), code(B, "cleared", quote=words)]
    assert left(code(A, "active"), code(B, "stored"), *read) == A


def test_a_state_heard_in_a_word_about_all_codes_is_of_each():
    words = "codes did not return"
    read = [code(A, "cleared", quote=words), code(B, "cleared", quote=words)]
    assert left(code(A, "active"), code(B, "stored"), *read) is None


def test_a_code_that_came_back_is_not_gone():
    facts = [code(A, "active"), code(A, "cleared"), code(A, "active", quote="102 18 active again")]
    assert left(*facts) == A
    assert left(*facts, remark("codes did not return", "finding")) is None
    # named again without a state it is only told of
    assert left(code(A, "active"), code(A, "cleared"), code(A)) is None


@pytest.mark.parametrize("repair", [part("fitted", "hose", 1), step("reconnected", "plug")])
def test_a_code_cleared_before_the_repair_began_is_not_proven_to_be_gone(repair):
    assert left(code(A), remark("cleared the codes", "finding"), repair) == A
    assert left(code(A), repair, remark("cleared the codes", "finding"), step("refitted", "cover")) is None


def test_words_about_something_else_clear_nothing():
    assert left(code(A), remark("the pedal did not return by itself", "finding")) == A
    assert left(code(A), remark("no faults found at the harness", "finding")) == A


def test_order_is_that_of_time_not_of_the_list():
    said = remark("codes did not return", "finding", at=later(5))
    assert left(said, code(A, at=later(1))) is None
    assert left(said, code(A, at=later(9))) == A


def test_several_codes_left_are_each_named():
    facts = [code(A), code(B), code(C), remark("that code did not return", "finding")]
    assert left(*facts) == f"{A}, {B}"

"""The order that what was said is judged in."""

from __future__ import annotations

from dataclasses import replace

from checking_builders import hours, later

from jobnotes.chronology import as_said


def test_facts_that_all_have_a_time_are_in_its_order_and_equals_as_given():
    first, second, third = hours("1", "pump"), hours("2", "belt"), hours("3", "hose")
    timed = [replace(first, at=later(9)), replace(second, at=later(3)), replace(third, at=later(9))]
    assert as_said(timed) == [timed[1], timed[0], timed[2]]


def test_one_without_a_time_is_not_placed_by_a_guess():
    first, second, third = hours("1", "pump"), hours("2", "belt"), hours("3", "hose")
    given = [replace(first, at=later(9)), replace(second, at=None), replace(third, at=later(3))]
    assert as_said(iter(given)) == given

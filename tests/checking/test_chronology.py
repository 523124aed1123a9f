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


def test_notes_that_begin_at_the_very_same_time_are_not_told_into_each_other():
    """As files do that were copied without their dates."""
    told = [
        replace(hours("1"), note=note, start_s=start_s, end_s=start_s + 1, at=later(start_s / 60))
        for note, start_s in (("N10", 2.0), ("N2", 1.0), ("N2", 5.0), ("N10", 6.0))
    ]
    assert [(f.note, f.start_s) for f in as_said(told)] == [
        ("N2", 1.0),
        ("N2", 5.0),
        ("N10", 2.0),
        ("N10", 6.0),
    ]


def test_notes_that_overlap_are_told_in_the_order_of_their_times():
    one = [replace(hours("1"), note="N1", start_s=s, end_s=s + 1, at=later(s / 60)) for s in (1.0, 30.0)]
    other = [
        replace(hours("1"), note="N2", start_s=s, end_s=s + 1, at=later((10 + s) / 60)) for s in (1.0, 40.0)
    ]
    assert [f.note for f in as_said([*one, *other])] == ["N1", "N2", "N1", "N2"]

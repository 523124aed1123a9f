"""What photos that show what was said must do to wrong facts, on sessions misheard on purpose."""

from __future__ import annotations

from functools import lru_cache

import pytest
from with_photos import Tally, measure, sessions


@lru_cache
def tally() -> Tally:
    return measure(1, sessions(("dev",))[:20])


def test_there_is_something_to_cut() -> None:
    assert tally().given.total() > 60
    assert tally().alone.total() > 20


def test_wrong_sure_facts_are_at_least_halved() -> None:
    assert 2 * tally().both.total() <= tally().alone.total()


def test_no_fact_becomes_wrong_and_sure_by_a_photo() -> None:
    assert tally().new == []


@pytest.mark.slow
def test_the_same_holds_on_every_session_that_is_there_to_work_with() -> None:
    whole = measure(1, sessions())
    assert 2 * whole.both.total() <= whole.alone.total()
    assert whole.new == []

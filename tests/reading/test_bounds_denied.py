"""A bound told by what must not be beyond it, or what is bad beyond it."""

from __future__ import annotations

from decimal import Decimal
from itertools import product

import pytest
from reading_forms import details, sure

from jobnotes.record import Limit, Measurement

DENIED = (
    "not allowed", "not permitted", "not to be", "must not be", "should not be", "shouldn't be", "cannot be",
    "should never go", "never", "it's not supposed to be", "not meant to be", "you don't want it",
    "won't pass", "no way it should be",
)  # fmt: skip
BAD = ("scrap", "reject", "it fails", "condemned", "out of spec", "bad if it's", "no good", "replace if")
BEYOND = {
    "over": "max",
    "above": "max",
    "more than": "max",
    "under": "min",
    "below": "min",
    "less than": "min",
}


@pytest.mark.parametrize(("told", "beyond"), [*product((*DENIED, *BAD), BEYOND)])
def test_what_is_denied_or_bad_beyond_a_bound_is_bounded_the_other_way(told: str, beyond: str) -> None:
    for between in (" ", ", ", ". "):
        (reading,) = details(f"play 3 mm{between}{told} {beyond} two", Measurement)
        bound = reading.limit or Limit()
        roles = {role for role in ("min", "max", "nominal") if getattr(bound, role) is not None}
        assert roles == {BEYOND[beyond]} or (between == ". " and not roles)


@pytest.mark.parametrize(
    ("line", "bounds"),
    [
        ("play 3 mm, not good, should be over five", (5, None)),
        ("play 3 mm, no good should be over five", (5, None)),
        ("pressure 6 bar, over five and it's fine", (5, None)),
        ("pressure 6 bar no less than five", (5, None)),
        ("pressure 6 bar no more than eight", (None, 8)),
        ("pressure 6 bar not over eight", (None, 8)),
    ],
)
def test_what_is_not_denied_stays_as_it_was_told(line: str, bounds: tuple[int | None, int | None]) -> None:
    reading = sure(line, Measurement)
    assert reading.limit is not None
    assert (reading.limit.min, reading.limit.max) == tuple(Decimal(b) if b else None for b in bounds)


@pytest.mark.parametrize("beside", ["well over", "above", "just under", "within"])
def test_a_reading_told_with_its_limit_has_that_limit(beside: str) -> None:
    reading = sure(f"oil pressure 4.2 bar {beside} the limit of 6", Measurement)
    assert reading.limit is not None
    assert reading.limit.max == 6


def test_two_readings_run_together_keep_their_own_names() -> None:
    left, right = details("left oil pressure 4.2 bar right oil pressure 6.1 bar", Measurement)
    assert (left.subject, right.subject) == ("left oil pressure", "right oil pressure")

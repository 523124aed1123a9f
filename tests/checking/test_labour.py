"""Labour said and worked: what is counted, what isn't and why, and how the two differ."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from checking_builders import clock, hours, later
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.checking.labour import WORKED, labour


def worked(*facts) -> Decimal | None:
    return labour(facts).worked


def test_each_operation_said_is_a_line_with_its_fact():
    one, other = hours("1.0", "diagnosis"), hours("1.5", "pump")
    result = labour([one, other])
    assert [(x.operation, x.hours, x.basis, x.fact_ids) for x in result.lines] == [
        ("diagnosis", Decimal("1.0"), "said", (one.id,)),
        ("pump", Decimal("1.5"), "said", (other.id,)),
    ]
    assert (result.said, result.worked, result.difference) == (Decimal("2.5"), None, None)


def test_doubtful_hours_are_named_and_not_counted():
    doubtful = hours("8", "pump", status="check")
    result = labour([hours("1", "diagnosis"), doubtful, hours("3", "belt", status="rejected")])
    assert result.said == 1
    assert len(result.remarks) == 1
    assert "8 h for pump" in result.remarks[0]


def test_the_same_hours_for_the_same_operation_count_once():
    result = labour([hours("2", "pump"), hours("2.0", "Pump")])
    assert result.said == 2
    assert len(result.lines[0].fact_ids) == 2


def test_a_total_is_not_added_to_its_parts():
    result = labour([hours("1", "diagnosis"), hours("1.5", "pump"), hours("2.5")])
    assert result.said == Decimal("2.5")
    assert "sum" in result.remarks[0]


def test_two_different_hours_for_one_operation_are_pointed_out():
    result = labour([hours("1", "pump"), hours("2", "pump")])
    assert result.said == 3
    assert "different hours" in result.remarks[0]


def test_the_clock_counts_work_without_its_pauses():
    facts = [clock("start", later(0)), clock("pause", later(60), "lunch")]
    facts += [clock("resume", later(105)), clock("stop", later(200))]
    result = labour(facts)
    assert result.worked == Decimal("2.58")  # 60 + 95 min
    assert result.lines[-1].operation == WORKED
    assert result.lines[-1].basis == "clock"
    assert result.lines[-1].fact_ids == tuple(f.id for f in facts)


def test_one_statement_in_two_phrases_is_one_statement():
    """“Pausing the job … waiting for parts”, “job done … clocking off”."""
    facts = [
        clock("start", later(0)),
        clock("pause", later(60)),
        clock("pause", later(60.05)),
        clock("resume", later(90)),
    ]
    facts += [clock("stop", later(120)), clock("stop", later(120.1))]
    result = labour(facts)
    assert (result.worked, result.remarks) == (Decimal("1.50"), ())


def test_midnight_makes_no_difference():
    evening = datetime(2031, 3, 4, 22, 30, tzinfo=UTC)
    assert worked(clock("start", evening), clock("stop", evening + timedelta(hours=4))) == 4


@pytest.mark.parametrize(("month", "day", "expected"), [(3, 29, 3), (10, 25, 5)])
def test_a_change_to_or_from_summer_time_costs_and_gives_nothing(month, day, expected):
    """01:00 to 05:00 on the wall on the last Sundays of March and October 2026 (EU Directive 2000/84/EC)."""
    zone = ZoneInfo("Europe/Berlin")
    start, stop = (datetime(2026, month, day, hour, tzinfo=zone) for hour in (1, 5))
    assert worked(clock("start", start), clock("stop", stop)) == expected


def test_a_job_of_several_days_adds_up():
    day = 24 * 60
    facts = [
        clock("start", later(0)),
        clock("stop", later(90)),
        clock("start", later(day)),
        clock("stop", later(day + 30)),
    ]
    assert worked(*facts) == 2


def test_stopping_during_a_pause_ends_the_job():
    facts = [clock("start", later(0)), clock("pause", later(60)), clock("stop", later(90))]
    result = labour(facts)
    assert (result.worked, result.remarks) == (1, ())


@pytest.mark.parametrize(
    ("facts", "expected", "word"),
    [
        ([clock("start", later(0))], None, "never stopped"),
        (
            [clock("start", later(0)), clock("pause", later(60)), clock("resume", later(90))],
            1,
            "never stopped",
        ),
        ([clock("stop", later(0))], None, "wasn't running"),
        ([clock("resume", later(0)), clock("stop", later(60))], 1, "without a start"),
        (
            [clock("start", later(0)), clock("start", later(10)), clock("stop", later(60))],
            1,
            "running already",
        ),
        ([clock("start", later(0)), clock("stop", later(16 * 60))], 16, "forgotten"),
    ],
)
def test_a_clock_that_does_not_add_up_is_remarked_on(facts, expected, word):
    result = labour(facts)
    assert result.worked == expected
    assert len(result.remarks) == 1
    assert word in result.remarks[0]


def test_a_doubtful_clock_statement_stops_the_count():
    doubtful = clock("pause", later(60), status="check")
    result = labour([clock("start", later(0)), doubtful, clock("stop", later(120))])
    assert result.worked is None
    assert "“pause”" in result.remarks[0]


def test_the_difference_is_explained_in_one_line():
    facts = [
        clock("start", later(0)),
        clock("pause", later(60), "waiting for parts"),
        clock("resume", later(150)),
    ]
    result = labour([*facts, clock("stop", later(180)), hours("3", "pump")])
    assert result.difference == (
        "3 h said, 1.50 h on the clock: 1.50 h more said than worked; paused for 1.50 h (waiting for parts)"
    )


def test_hours_that_agree_to_a_tenth_need_no_explanation():
    assert labour([clock("start", later(0)), clock("stop", later(61)), hours("1")]).difference is None


@given(st.lists(st.tuples(st.integers(1, 300), st.integers(1, 300)), min_size=1, max_size=8), st.randoms())
def test_work_and_pauses_laid_end_to_end_come_back_as_the_work(spells, rng):
    facts, at = [clock("start", later(0))], 0
    for n, (work, pause) in enumerate(spells):
        at += work
        last = n == len(spells) - 1
        facts.append(clock("stop" if last else "pause", later(at)))
        if not last:
            at += pause
            facts.append(clock("resume", later(at)))
    rng.shuffle(facts)
    total = Decimal(sum(work for work, _ in spells)) / 60
    result = labour(facts)
    assert result.worked is not None
    assert abs(result.worked - total) <= Decimal("0.005")
    assert result.remarks == ()

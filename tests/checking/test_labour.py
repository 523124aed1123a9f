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
from jobnotes.past import OtherWork


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
    assert len(result.uncounted) == 1
    assert "8 h for pump" in result.uncounted[0]


def test_the_same_hours_for_the_same_operation_count_once():
    result = labour([hours("2", "pump"), hours("2.0", "Pump")])
    assert result.said == 2
    assert len(result.lines[0].fact_ids) == 2


def test_a_total_is_not_added_to_its_parts():
    result = labour([hours("1", "diagnosis"), hours("1.5", "pump"), hours("2.5")])
    assert result.said == Decimal("2.5")
    assert "sum" in result.uncounted[0]


def test_two_different_hours_for_one_operation_are_pointed_out():
    result = labour([hours("1", "pump"), hours("2", "pump")])
    assert result.said == 3
    assert "different hours" in result.uncounted[0]


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
    assert (result.worked, result.uncounted) == (Decimal("1.50"), ())


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
    assert (result.worked, result.uncounted) == (1, ())


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
    assert len(result.uncounted) == 1
    assert word in result.uncounted[0]


def test_a_doubtful_clock_statement_stops_the_count():
    doubtful = clock("pause", later(60), status="check")
    result = labour([clock("start", later(0)), doubtful, clock("stop", later(120))])
    assert result.worked is None
    assert "“pause”" in result.uncounted[0]


def test_a_clock_that_ran_on_is_told_with_the_end_of_the_last_note():
    (remark,) = labour([clock("start", later(0))], last_note=later(130)).uncounted
    assert (
        remark
        == "the clock was never stopped: the time from 08:00 isn't counted; the last note ended at 10:10"
    )


def test_where_nothing_was_clocked_the_time_of_the_notes_is_told():
    result = labour([hours("3", "pump")], first_note=later(0), last_note=later(150))
    assert result.remarks == ("3 h said, nothing on the clock; the notes were made within 2.50 h",)
    clocked = labour(
        [hours("1"), *SHIFT[:1], clock("stop", later(60))], first_note=later(0), last_note=later(150)
    )
    assert clocked.remarks == ()
    assert labour([], first_note=later(0), last_note=later(150)).remarks == ()


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
    assert result.uncounted == ()


# --- against standard times ----------------------------------------------------------------------

TABLE = {"water pump": Decimal("1.8"), "diagnosis": Decimal("1.0")}


def test_each_operation_has_its_standard_time_where_the_table_has_it():
    table = {**TABLE, "labour": Decimal(5)}  # a row of that name says nothing of hours for no operation
    result = labour([hours("1.8", "water pump"), hours("1", "belt"), hours("2")], standard=table.get)
    assert [line.standard for line in result.lines] == [Decimal("1.8"), None, None]
    assert result.standards == ()


@pytest.mark.parametrize(
    ("said", "remark"),
    [
        ("1.9", "0.1 h more than standard"),
        ("1.85", None),
        ("1.75", None),
        ("1.5", "0.3 h less than standard"),
    ],
)
def test_hours_that_differ_from_the_standard_time_are_explained(said, remark):
    result = labour([hours(said, "water pump")], standard=TABLE.get)
    assert [line.rpartition(": ")[2] for line in result.standards] == ([remark] if remark else [])


def test_hours_of_one_operation_are_added_before_they_are_compared():
    result = labour([hours("1", "water pump"), hours("1.5", "Water pump")], standard=lambda _: Decimal("1.8"))
    assert result.over_standard(Decimal("0.1")) == [("water pump", Decimal("2.5"), Decimal("1.8"))]
    assert result.over_standard(Decimal("0.7")) == []


def test_the_same_operation_in_singular_and_plural_has_one_standard_time():
    """It is charged once, so each half of the hours alone is no comparison."""
    result = labour([hours("1", "brake pad"), hours("1.5", "brake pads")], standard=lambda _: Decimal("1.8"))
    assert result.over_standard(Decimal("0.1")) == [("brake pad", Decimal("2.5"), Decimal("1.8"))]


# --- against other jobs --------------------------------------------------------------------------


def other(*statements, number="5522", technician=None) -> OtherWork:
    return OtherWork("J2", statements, number, technician)


def overlaps(own, *others, technician=None) -> tuple[str, ...]:
    return labour(own, meanwhile=others, technician=technician).overlaps


SHIFT = [clock("start", later(0)), clock("stop", later(240))]


def test_hours_that_are_on_another_clock_too_are_told_with_job_and_time():
    both = other(clock("start", later(60)), clock("stop", later(105)), technician="R. Sample")
    assert overlaps(SHIFT, both, technician="R Sample") == (
        "0.75 h of this clock are on that of job 5522 too (2031-03-04 09:00 to 09:45)",
    )


def test_a_job_without_a_number_is_named_by_its_id():
    both = other(clock("start", later(60)), clock("stop", later(105)), number=None)
    assert "job J2 too" in overlaps(SHIFT, both)[0]


@pytest.mark.parametrize(
    ("here", "there", "counts"),
    [
        ("R. Sample", "r. sample", True),
        ("R. Sample", "S. Example", False),
        ("R. Sample", None, True),
        (None, "S. Example", True),
        (None, None, True),
    ],
)
def test_two_people_may_work_at_once_but_nobody_is_taken_for_two(here, there, counts):
    both = other(clock("start", later(60)), clock("stop", later(105)), technician=there)
    (*remarks,) = overlaps(SHIFT, both, technician=here)
    assert len(remarks) == counts
    if counts:
        assert ("no technician is named" in remarks[0]) == (not (here and there))


def test_a_pause_on_one_clock_leaves_room_for_the_other():
    own = [
        clock("start", later(0)),
        clock("pause", later(60)),
        clock("resume", later(120)),
        clock("stop", later(180)),
    ]
    assert overlaps(own, other(clock("start", later(60)), clock("stop", later(120)))) == ()
    # and what reaches over both ends of the pause is counted without it
    (remark,) = overlaps(own, other(clock("start", later(45)), clock("stop", later(150))))
    assert remark.startswith("0.75 h ")
    assert "08:45 to 10:30" in remark


def test_an_overlap_over_midnight_tells_both_days():
    evening = datetime(2031, 3, 4, 22, tzinfo=UTC)
    own = [clock("start", evening), clock("stop", evening + timedelta(hours=6))]
    there = [clock("start", evening + timedelta(hours=1)), clock("stop", evening + timedelta(hours=3))]
    (remark,) = overlaps(own, other(*there))
    assert "2.00 h" in remark
    assert "2031-03-04 23:00 to 2031-03-05 01:00" in remark


@pytest.mark.parametrize(("month", "day", "expected"), [(3, 29, "3.00 h"), (10, 25, "5.00 h")])
def test_an_overlap_through_a_change_of_summer_time_is_as_long_as_it_lasted(month, day, expected):
    """01:00 to 05:00 on the wall on the last Sundays of March and October 2026 (EU Directive 2000/84/EC)."""
    zone = ZoneInfo("Europe/Berlin")
    start, stop = (datetime(2026, month, day, hour, tzinfo=zone) for hour in (1, 5))
    own = [clock("start", start), clock("stop", stop)]
    there = [clock("start", start.astimezone(UTC)), clock("stop", stop.astimezone(UTC))]
    (remark,) = overlaps(own, other(*there))
    assert remark.startswith(f"{expected} ")
    assert "01:00 to 05:00" in remark  # as on the wall here


@pytest.mark.parametrize(
    "statements",
    [
        [clock("start", later(60))],
        [clock("start", later(60)), clock("stop", later(90), status="check")],
        [clock("start", later(60)), clock("stop", later(90), status="rejected")],
    ],
    ids=["never stopped", "in doubt", "rejected"],
)
def test_a_clock_that_is_not_counted_there_overlaps_nothing_here(statements):
    assert overlaps(SHIFT, other(*statements)) == ()


@given(st.lists(st.tuples(st.integers(0, 500), st.integers(1, 200)), min_size=2, max_size=2))
def test_an_overlap_is_the_same_seen_from_either_job(spans):
    clocks = [[clock("start", later(a)), clock("stop", later(a + length))] for a, length in spans]
    one, two = (labour(own, meanwhile=[other(*its)]).overlaps for own, its in (clocks, clocks[::-1]))
    assert one == two
    (a, n), (b, m) = spans
    shared = min(a + n, b + m) - max(a, b)
    assert bool(one) == (shared > 0)


def test_all_remarks_are_one_line_each():
    facts = [*SHIFT, hours("6", "water pump"), hours("1", "belt", status="check")]
    both = other(clock("start", later(60)), clock("stop", later(105)))
    result = labour(facts, standard=TABLE.get, meanwhile=[both])
    assert len(result.remarks) == 4  # uncounted, difference, overlap, standard
    assert not any("\n" in remark for remark in result.remarks)


def test_the_clock_is_not_counted_between_notes_one_of_which_only_its_file_dates():
    facts = [clock("start", later(0), note="N1"), clock("stop", later(200), note="N2")]
    result = labour(facts, ill_dated={"N2": "brakes.wav"})
    assert result.worked is None
    (why,) = result.uncounted
    assert "brakes.wav" in why


def test_the_clock_within_one_note_counts_whatever_dates_it():
    facts = [clock("start", later(0), note="N1"), clock("stop", later(30), note="N1")]
    assert labour(facts, ill_dated={"N1": "brakes.wav"}).worked == Decimal("0.5")


def test_a_note_without_clock_statements_does_not_stop_the_count():
    facts = [clock("start", later(0), note="N1"), clock("stop", later(60), note="N2")]
    assert labour(facts, ill_dated={"N3": "brakes.wav"}).worked == 1

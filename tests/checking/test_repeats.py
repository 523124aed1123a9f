"""Repeat repairs: what counts as the same, and as not long ago."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import pytest
from checking_builders import START, fact, part, remark
from complete_job import PAIRS
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.checking.repeats import Window, repeats
from jobnotes.past import Past, PastCause, PastJob, PastPart
from jobnotes.record import EarlierRepair, FaultCode, Job, Odometer

JOB = Job(opened_at=START, odometer=Odometer("218400", "km"))  # on 4 March 2031
CODE = fact(FaultCode("SPN 110 FMI 0"))
CAUSE = remark("the shaft seal leaks", "cause", "water pump", "leaking")
FITTED = part("fitted", "water pump", 1, number="4471-20")
PAST = PastJob("J1", date(2031, 2, 4), "5490", Odometer("216000", "km"))
WINDOW = Window(days=90)


def found(earlier: PastJob, *facts, job: Job = JOB, windows=(WINDOW,)) -> tuple[EarlierRepair, ...]:
    return repeats(job, facts, Past((earlier,)), PAIRS.same_object, windows)


def same(earlier: PastJob, *facts) -> tuple[str, ...]:
    repairs = found(earlier, *facts)
    return repairs[0].same if repairs else ()


def test_a_repeat_tells_job_date_distance_and_what_is_the_same():
    earlier = replace(PAST, codes=("SPN 110 FMI 0",))
    assert found(earlier, CODE) == (
        EarlierRepair("J1", date(2031, 2, 4), 28, ("fault code SPN 110 FMI 0",), "5490", Decimal(2400), "km"),
    )


@pytest.mark.parametrize(
    ("then", "expected"),
    [
        ({"codes": ("SPN 110 FMI 0",)}, ("fault code SPN 110 FMI 0",)),
        ({"codes": ("SPN 110 FMI 1",)}, ()),
        ({"causes": (PastCause("water pump", "leaking"),)}, ("cause water pump leaking",)),
        ({"causes": (PastCause("the water pump", "seized"),)}, ("component water pump",)),
        ({"causes": (PastCause(None, "leaking"),)}, ()),
        ({"causes": (PastCause("fuel pump", "leaking"),)}, ()),
        # the part that was new then is what failed now
        ({"parts": (PastPart("water pump"),)}, ("part water pump",)),
        ({"parts": (PastPart("coolant pump assembly", "4471 20"),)}, ("part water pump",)),
        ({"parts": (PastPart("coolant pump assembly", "4471/20"),)}, ()),
        # what is fitted every time is no repeat
        ({"parts": (PastPart("hose clamp"), PastPart("gasket", "9-1"))}, ()),
    ],
)
def test_what_two_jobs_have_in_common(then, expected):
    gasket = part("fitted", "gasket", 1, number="9-1")
    assert same(replace(PAST, **then), CODE, CAUSE, FITTED, gasket) == expected


@pytest.mark.parametrize(
    ("window", "days", "way", "inside"),
    [
        (Window(days=30), 30, 99999, True),
        (Window(days=30), 31, 99999, False),
        (Window(days=30, distance=Decimal(1000)), 31, 1000, True),
        (Window(days=30, distance=Decimal(1000)), 31, 1001, False),
        (Window(distance=Decimal(1000)), 5, 1001, False),
        # 1,000 international miles are 1,609.344 km (NIST SP 811 appendix B.8)
        (Window(distance=Decimal(1000), unit="[mi_i]"), 400, 1609, True),
        (Window(distance=Decimal(1000), unit="[mi_i]"), 400, 1610, False),
    ],
)
def test_not_long_ago_is_in_days_or_in_distance(window, days, way, inside):
    earlier = replace(
        PAST,
        ended_on=START.date() - timedelta(days=days),
        odometer=Odometer(str(218400 - way), "km"),
        codes=("SPN 110 FMI 0",),
    )
    assert bool(found(earlier, CODE, windows=[window])) == inside


def test_any_of_several_windows_will_do():
    earlier = replace(PAST, codes=("SPN 110 FMI 0",))
    assert found(earlier, CODE, windows=[Window(days=10), Window(distance=Decimal(5000))])
    assert not found(earlier, CODE, windows=[Window(days=10), Window(distance=Decimal(500))])
    assert not found(earlier, CODE, windows=[])


@pytest.mark.parametrize("then", [None, Odometer("999999", "km"), Odometer("many", "km")])
def test_a_distance_that_makes_no_sense_is_not_told(then):
    (repair,) = found(replace(PAST, odometer=then, codes=("SPN 110 FMI 0",)), CODE)
    assert (repair.distance, repair.unit) == (None, None)


def test_distance_is_told_in_the_unit_of_this_job():
    miles = replace(JOB, odometer=Odometer("135708", "[mi_i]"))
    (repair,) = found(replace(PAST, codes=("SPN 110 FMI 0",)), CODE, job=miles)
    assert (repair.distance, repair.unit) == (Decimal(1492), "[mi_i]")  # 135,708 mi less 216,000 km


def test_a_job_without_a_date_repeats_nothing():
    assert found(replace(PAST, codes=("SPN 110 FMI 0",)), CODE, job=Job()) == ()


@given(st.integers(0, 4000), st.integers(1, 4000))
def test_days_count_from_the_end_of_one_to_the_begin_of_the_other(ago, window):
    earlier = replace(PAST, ended_on=START.date() - timedelta(days=ago), codes=("SPN 110 FMI 0",))
    repairs = found(earlier, CODE, windows=[Window(days=window)])
    assert [r.days for r in repairs] == ([ago] if ago <= window else [])

"""Readings that leave their unit, their place or their subject to what was said before them."""

from __future__ import annotations

import pytest
from reading_forms import details, said, sure

from jobnotes.record import Fact, Measurement


def of(text: str) -> list[Fact]:
    return [f for f in said(text) if isinstance(f.detail, Measurement)]


def told(text: str) -> list[tuple[str, str, str | None]]:
    return [(str(m.value), m.unit, m.subject) for m in details(text, Measurement)]


@pytest.mark.parametrize(
    ("text", "subjects"),
    [
        ("linings five millimetres left four right", ["linings left", "linings right"]),
        (
            "tyre pressure nine bar front and eight point two rear\nlamps all good",
            ["tyre pressure front", "tyre pressure rear"],
        ),
        ("drum wear left six millimetres right seven", ["drum wear left", "drum wear right"]),
        ("shoes three mil nearside four mil offside minimum's two", ["shoes nearside", "shoes offside"]),
    ],
)
def test_a_place_belongs_to_the_value_on_the_side_where_the_first_one_has_it(
    text: str, subjects: list[str]
) -> None:
    assert [m.subject for m in details(text, Measurement)] == subjects


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("boost pressure at 1800 rpm 1.6 bar", "boost pressure"),
        ("lift arm with six hundred kilos sinks forty millimetres in five minutes", "lift arm"),
        ("rail pressure at 1200 rpm only 310 bar", "rail pressure"),
    ],
)
def test_what_was_measured_may_stand_before_what_it_was_taken_at(text: str, subject: str) -> None:
    assert subject in (details(text, Measurement)[-1].subject or "")


def test_a_torque_that_names_nothing_is_of_what_went_on_right_before() -> None:
    assert sure("fitted a new oil pressure switch\ntightened to 22 newton metres", Measurement).subject == (
        "oil pressure switch"
    )


def test_a_reading_that_names_nothing_is_of_what_was_measured_in_its_unit_and_doubted_among_several() -> None:
    one = of("charge voltage 23.1 volts\nnew alternator on\n28.2 volts, happy with that")
    assert [(f.detail.subject, f.status) for f in one] == [("charge voltage", "sure")] * 2
    several = of("pump pressure 90 bar\nrelief 140 bar\nbattery 24.8 volts\n160 bar and it lifts like new")
    assert (several[-1].detail.subject, several[-1].status) == ("relief", "check")
    assert "as before?" in (several[-1].why or "")


@pytest.mark.parametrize(
    ("text", "bare"),
    [
        ("top front pad is seven mil\nthe bottom one's grand at eleven", ("11", "mm")),
        ("front ball joint 1.8 mm play. Rear end of it 0.3.", ("0.3", "mm")),
        ("low side 1.9 bar\nhigh side fifteen at fifteen hundred rpm low two point four", ("2.4", "bar")),
        ("relief was at 180 bar\nset it to one seventy", ("170", "bar")),
        ("regulator 6.1 bar\nwound it back to 5.4", ("5.4", "bar")),
        ("bolts seventy newton metres main cable twelve", ("12", "N.m")),
        ("wheels back on six twenty on the nuts", ("620", "N.m")),
        ("tested the circuit to 1.2 bar. Drops to 0.8 over ten minutes", ("0.8", "bar")),
        ("ride height 198 mm left\nfitted a bag\nit's 212 and 208 now", ("208", "mm")),
        ("four volts on the coil\ntraced it back to the fuse box\n24.2 on the coil now", ("24.2", "V")),
    ],
)
def test_a_value_whose_unit_goes_without_saying_is_read_and_left_to_a_person(
    text: str, bare: tuple[str, str]
) -> None:
    found = [f for f in of(text) if (str(f.detail.value), f.detail.unit) == bare]
    assert [f.status for f in found] == ["check"]
    assert "no unit was said" in (found[0].why or "")


@pytest.mark.parametrize(
    "text",
    [
        "bolts ninety newton metres, that's all six",
        "gap 0.5 mm\nshimmed it to one point too",
        "top mount 8 bar\nbottom one on back order, number 4",
    ],
)
def test_a_number_that_counts_or_was_not_understood_takes_no_unit(text: str) -> None:
    assert len(of(text)) == 1


def test_a_value_that_moves_when_something_is_done_to_it_was_measured() -> None:
    text = "supply at the pump 24.2 volts, and when I press up it drops to 17.5 volts"
    assert ("17.5", "V") in [t[:2] for t in told(text)]
    text = "feed is 24.1 volts\nfalls to eleven point two if i bend the loom"
    assert ("11.2", "V") in [t[:2] for t in told(text)]
    assert [t[0] for t in told("if it drops to 17.5 volts the cable's gone")] == []


def test_a_value_reached_or_peaked_at_is_a_reading_of_its_own() -> None:
    assert ("540", "Cel", "Regen") in [
        (v, u, (s or "").split()[0])
        for v, u, s in told("Regen peaked at 540 degrees, load down to 9 percent")
    ]


def test_a_value_within_limits_is_no_limit() -> None:
    found = sure(
        "track within limits three hundred and two millimetres maximum three hundred and five", Measurement
    )
    assert (str(found.value), str(found.limit and found.limit.max)) == ("302", "305")


def test_a_tolerance_told_after_an_angle_is_not_made_part_of_it() -> None:
    found = sure("Camera bracket's pointing up 1.9 degrees, tolerance is plus or minus one.", Measurement)
    assert (str(found.value), found.unit) == ("1.9", "deg")


@pytest.mark.parametrize(
    ("line", "values"),
    [
        ("Head bolts to 27 Nm then 45.", ["27", "45"]),
        ("wheel nuts six hundred newton metres all ten", ["600"]),
        ("nuts at 650 newton metres and check them after fifty k", ["650"]),
        ("27 Nm then 8 bolts off", ["27"]),
    ],
)
def test_a_number_behind_a_torque_is_its_next_stage_or_none_of_it(line: str, values: list[str]) -> None:
    assert [str(d.value) for d in details(line, Measurement)] == values


def test_a_limit_told_with_its_place_bounds_what_was_read_there() -> None:
    low, high = details("Low side 68 psi, high side 110 psi. Should be about 30 low.", Measurement)
    assert low.limit is not None
    assert (low.limit.nominal, high.limit) == (30, None)


def test_less_than_one_second_bounds_no_pressure() -> None:
    (reading,) = details("outlet has eight point one bar changes range in less than one second", Measurement)
    assert reading.limit is None

"""Readings as they are told in passing, in lists, over time, and by people to whom English is foreign."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, one, said, sure

from jobnotes.record import Identity, LabourSaid, Limit, Measurement


@pytest.mark.parametrize(
    ("text", "subject", "value", "unit"),
    [
        ("Fuel to the filter we measure 4,6 bar.", "Fuel to the filter", "4.6", "bar"),
        ("oil in the hub i checked is 0.3 litres per minute", "oil in the hub", "0.3", "L/min"),
        ("wheel bolts i tighten with 330 newton metre", "wheel bolts", "330", "N.m"),
        ("return line I measured 0.9 bar", "return line", "0.9", "bar"),
    ],
)
def test_what_was_measured_is_named_before_who_measured_it(
    text: str, subject: str, value: str, unit: str
) -> None:
    found = sure(text, Measurement)
    assert (found.subject, str(found.value), found.unit) == (subject, value, unit)


@pytest.mark.parametrize(
    ("text", "values", "subject"),
    [
        ("fuel pressure dropped from 4.2 bar to 1.1", ["4.2", "1.1"], "fuel pressure"),
        ("header tank at 1.4 bar and it fell to point nine", ["1.4", "0.9"], "header tank"),
        ("vacuum went from point eight bar to point two", ["0.8", "0.2"], "vacuum went"),
    ],
)
def test_a_change_is_two_readings_of_one_thing(text: str, values: list[str], subject: str) -> None:
    found = details(text, Measurement)
    assert [str(m.value) for m in found] == values
    assert {m.unit for m in found} == {"bar"}
    assert {m.subject for m in found} == {subject}


def test_a_list_of_readings_takes_unit_and_limit_from_the_line_before_it_and_is_for_checking() -> None:
    text = "Compression test, minimum 24 bar.\nCylinder one 28. Cylinder two 27. Cylinder three 19."
    found = [f for f in said(text) if isinstance(f.detail, Measurement)]
    assert [(f.detail.subject, str(f.detail.value)) for f in found] == [
        ("Cylinder one", "28"),
        ("Cylinder two", "27"),
        ("Cylinder three", "19"),
    ]
    assert [f.detail.verdict for f in found] == ["within", "within", "outside"]
    assert {f.detail.unit for f in found} == {"bar"}
    assert {f.status for f in found} == {"check"}


def test_a_list_of_decimals_run_together_keeps_each_cylinder_apart_from_its_reading() -> None:
    text = (
        "exhaust clearance limit nought point five to nought point six millimetres\n"
        "cylinder two nought point five five cylinder three nought point seven one"
    )
    found = details(text, Measurement)
    assert [(m.subject, str(m.value), m.verdict) for m in found] == [
        ("cylinder two", "0.55", "within"),
        ("cylinder three", "0.71", "outside"),
    ]


def test_an_entry_of_another_size_takes_no_unit_from_the_list() -> None:
    text = "Coil resistance, limits 0.3 to 0.6 ohm.\nCylinder 1, 0.42. Cylinder 2, 4500."
    assert [str(m.value) for m in details(text, Measurement)] == ["0.42"]


def test_a_number_that_only_names_a_place_in_a_report_is_no_reading() -> None:
    assert details("drum play 0.4 mm\nitem five, shelf 3, section 2", Measurement) == details(
        "drum play 0.4 mm", Measurement
    )


@pytest.mark.parametrize(
    ("text", "value", "unit", "subject"),
    [
        ("body goes up in 26 seconds", "26", "s", "body goes"),
        ("pressure builds in three minutes thirty", "3.50", "min", "pressure"),
        ("build-up time 4 minutes", "4", "min", "build-up time"),
        ("tail lift left 19 seconds", "19", "s", "tail lift left"),
    ],
)
def test_what_the_vehicle_took_is_a_reading_with_its_process(
    text: str, value: str, unit: str, subject: str
) -> None:
    found = sure(text, Measurement)
    assert (str(found.value), found.unit, found.subject) == (value, unit, subject)
    assert not details(text, LabourSaid)


def test_what_something_took_against_a_limit_is_a_reading_and_no_labour() -> None:
    text = "six to nine bar takes seven minutes, should be four at most"
    found = sure(text, Measurement)
    assert (str(found.value), found.unit, found.verdict) == ("7", "min", "outside")
    assert not details(text, LabourSaid)


def test_the_time_over_which_something_was_lost_is_no_limit_of_it() -> None:
    text = "Tested the axle air to 8 bar. Falls to 7.4 over 10 minutes, no more than 0.3."
    assert all(
        m.unit != "min" and (m.limit is None or m.limit.min is None) for m in details(text, Measurement)
    )


def test_a_thickness_as_new_is_no_limit_where_a_limit_is_told() -> None:
    found = sure("drum measured 412.5 mm, new is 410, maximum 414", Measurement)
    assert found.limit == Limit(max=Decimal(414), source="said")


def test_a_condition_that_holds_a_word_of_limit_bounds_nothing() -> None:
    found = sure("starter stud with the key held over 22.8 volts", Measurement)
    assert found.limit is None
    assert found.conditions == ("cranking",)


def test_a_reading_taken_before_fitting_is_no_plan() -> None:
    found = sure("Sensor coil measured before fitting, 1180 ohms", Measurement)
    assert (str(found.value), found.unit) == ("1180", "Ohm")


def test_a_condition_right_after_a_unit_in_the_singular_is_no_name_of_a_part() -> None:
    found = sure("supply at the plug 24.9 volt ignition on", Measurement)
    assert (str(found.value), found.conditions) == ("24.9", ("ignition on",))


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("by eighteen degree the coil has 14 ohm", "14", "Ohm"),
        ("left roller 8.1 kilonewton", "8.1", "kN"),
        ("end float nought point one two milly metres", "0.12", "mm"),
        ("gland nut two hundred newton meat hers", "200", "N.m"),
        ("drum speed nine are pee em", "9", "/min"),
    ],
)
def test_a_unit_in_foreign_or_misheard_english_is_read(text: str, value: str, unit: str) -> None:
    _, found = one(text, Measurement)
    assert (str(found.value), found.unit) == (value, unit)


@pytest.mark.parametrize(
    ("text", "value", "minimum", "maximum"),
    [
        ("charge pressure seven teen bar", "17", None, None),
        ("charge pressure 19 bar, spec eighteen two twenty", "19", "18", "20"),
        ("nuts torqued to ate tea five newton metres", "85", None, None),
        ("nozzle gap zero point for millimetres", "0.4", None, None),
        ("preload 3.1 newton metres, spec two point five to for", "3.1", "2.5", "4"),
        ("rail pressure 190 bar, spec two fifty men", "190", "250", None),
    ],
)
def test_a_number_or_limit_that_was_put_right_is_for_checking(
    text: str, value: str, minimum: str | None, maximum: str | None
) -> None:
    fact, found = one(text, Measurement)
    assert str(found.value) == value
    limit = found.limit or Limit()
    assert (limit.min, limit.max) == (minimum and Decimal(minimum), maximum and Decimal(maximum))
    assert fact.status == "check"
    assert fact.why


def test_places_before_their_values_stay_with_them_though_a_word_stands_between() -> None:
    found = details("on the rollers left now 11.2 kilonewtons right 11.6", Measurement)
    assert [m.subject for m in found] == ["on the rollers left", "on the rollers right"]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "battery one twelve point two volts battery two twelve point seven volts",
            [("battery one", "12.2"), ("battery two", "12.7")],
        ),
        ("Inlet temperature 71 degrees, outlet 58.", [("Inlet temperature", "71"), ("outlet", "58")]),
    ],
)
def test_which_of_several_is_told_apart_from_its_value(text: str, told: list[tuple[str, str]]) -> None:
    found = details(text, Measurement)
    assert [str(m.value) for m in found] == [value for _, value in told]
    for measured, (subject, _) in zip(found, told, strict=True):
        assert measured.subject is not None
        assert measured.subject.casefold().endswith(subject.split()[0].casefold()) or (
            measured.subject == subject
        )


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("Flange nuts: 12, all new, 95 Nm.", "Flange nuts"),
        ("Chamber nuts 150 to 180, I went 165 foot pounds.", "Chamber nuts"),
        ("sump bolts, two were loose, 24 newton metres", "sump bolts"),
    ],
)
def test_a_torque_is_that_of_the_fasteners_named_in_the_same_breath(text: str, subject: str) -> None:
    (found,) = (m for m in details(text, Measurement) if m.quantity == "torque")
    assert found.subject == subject


def test_what_was_named_with_its_limit_is_what_was_then_measured() -> None:
    _, found = one("the screen should read under two ohms to chassis I've got 71 ohms", Measurement)
    assert (found.subject, found.verdict) == ("screen", "outside")


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("3.9 volts drop on the earth strap, limit 0.5.", "on the earth strap"),
        ("nine bar in the wet tank no hiss", "in the wet tank"),
    ],
)
def test_where_it_was_lost_or_measured_may_follow_the_value(text: str, subject: str) -> None:
    assert sure(text, Measurement).subject.endswith(subject)


def test_one_limit_after_a_series_holds_for_all_of_it_whatever_it_was_taken_at() -> None:
    text = "Return test, 60 seconds at idle: number 1 11 mL, number 2 13, number 3 44. Limit 25."
    assert [m.verdict for m in details(text, Measurement)] == ["within", "within", "outside"]


def test_a_number_after_a_torque_is_in_the_unit_of_what_is_named_right_before_it() -> None:
    found = details("hub nut 140 newton metres, end float 0.06", Measurement)
    assert [(str(m.value), m.unit) for m in found] == [("140", "N.m"), ("0.06", "mm")]


def test_a_thousand_said_after_spelled_digits_is_a_number_of_its_own() -> None:
    found = details("job three three one oh six thousand and twelve engine hours", Identity)
    assert [(i.kind, i.value) for i in found] == [("job_number", "3310"), ("engine_hours", "6012")]


def test_a_number_that_a_hyphen_parts_is_put_together_for_a_person_to_check() -> None:
    (reading,) = [f for f in said("sensor cold 190-8 ohms") if f.kind == "measurement"]
    assert (reading.detail.value, reading.status) == (198, "check")  # type: ignore[union-attr]
    assert reading.why is not None
    assert "is it 198?" in reading.why


def test_a_range_with_a_hyphen_is_still_one() -> None:
    (reading,) = [f for f in said("coil 21 ohms, spec 20-24 ohms") if f.kind == "measurement"]
    assert (reading.detail.limit.min, reading.detail.limit.max) == (20, 24)  # type: ignore[union-attr]

"""What is told otherwise than in a clerk's order: "new" last, the cause last, a time of day alone.

How people put it is common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import (
    Clock,
    FaultCode,
    Identity,
    LabourSaid,
    Measurement,
    Part,
    Statement,
    Step,
)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("suction filter new and the return filter new", {"suction filter": None, "return filter": None}),
        ("return springs new eight off", {"return springs": 8}),
        ("strap, new. bolt, new.", {"strap": None, "bolt": None}),
        ("nearside drum new one", {"nearside drum": None}),
        ("o-rings x 3 new", {"o-rings": 3}),
        (
            "discharge pipe new cartridge new two banjo washers new",
            {"discharge pipe": None, "cartridge": None, "banjo washers": 2},
        ),
        ("bag holed. replaced.", {"bag": None}),
    ],
)
def test_a_new_part_is_fitted_wherever_new_is_said(text: str, told: dict[str, int | None]) -> None:
    fitted = {p.name.casefold(): p.quantity for p in details(text, Part) if p.action == "fitted"}
    assert fitted == {name: None if count is None else Decimal(count) for name, count in told.items()}


@pytest.mark.parametrize(
    "text",
    [
        "hub cap gasket's new",  # perhaps since long ago
        "four new u bolts eight nuts and the one shackle pin",
        "coolant pump, 1 off. hose clips, 4 off.",
    ],
)
def test_a_part_that_was_only_named_as_new_or_listed_is_asked_for(text: str) -> None:
    assert any(f.kind == "part" and f.status == "check" for f in said(text))


@pytest.mark.parametrize("text", ["cap's the old one", "six screws the same ones"])
def test_what_is_the_old_one_was_used_again(text: str) -> None:
    assert [p.action for p in details(text, Part)] == ["reused"]


@pytest.mark.parametrize(
    ("text", "actions"),
    [
        ("off at 8:50", ["stop"]),
        ("i start on 13:05", ["start"]),
        ("stopped at quarter to five", ["stop"]),
        ("stopped at half eleven for a parcel, back on it ten minutes after", ["pause", "resume"]),
        ("back at five to midnight", ["resume"]),
        ("the fan cuts in at 95 and off at 90", []),
        ("tightened that up thinking job done", []),
    ],
)
def test_a_time_of_day_starts_and_stops_the_clock_and_a_value_does_not(text: str, actions: list[str]) -> None:
    assert [c.action for c in details(text, Clock)] == actions


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("clocked off at twenty to four three hours on it", ["3"]),
        ("off at 8:50, 1.8 hours", ["1.8"]),
        ("hour and twenty call it", ["1.33"]),
        ("travel 1.5 hours, work on site 4 hours", ["1.5", "4"]),
        ("claiming one hour and three quarters", ["1.75"]),
        ("hours: 9.25 for the joint", ["9.25"]),
    ],
)
def test_hours_are_read_beside_a_time_of_day_and_in_any_order(text: str, hours: list[str]) -> None:
    assert [one.hours for one in details(text, LabourSaid)] == [Decimal(h) for h in hours]


def test_hours_whose_number_was_cut_are_asked_for() -> None:
    (labour,) = [f for f in said("labour too point five hours") if f.kind == "labour"]
    assert labour.status == "check"


@pytest.mark.parametrize(
    "text",
    [
        "spring chamber diaphragm split, that's the cause",
        "compressor rings gone, passing oil, that's what did it",
        "reason for failure water pump bearing has let go",
        "worn brushes so that's the culprit",
    ],
)
def test_a_cause_may_be_named_as_one_before_or_after(text: str) -> None:
    causes = [s for s in details(text, Statement) if s.kind == "cause"]
    assert len(causes) == 1
    assert causes[0].failure is not None


def test_what_a_job_begins_with_may_be_its_complaint_and_is_asked_for() -> None:
    text = "job 4417\nmiddle doors reopening on people\ndrag link worn\nnew drag link fitted\ntwo hours"
    (complaint,) = [f for f in said(text) if f.kind == "complaint"]
    assert complaint.status == "check"


def test_failure_modes_that_go_on_belong_to_the_same_spn_and_are_asked_for() -> None:
    found = [(f.detail, f.status) for f in said("SPN 520 FMI 3, 4 and 5") if f.kind == "fault_code"]
    codes = [(d.code, status) for d, status in found if isinstance(d, FaultCode)]
    assert codes == [("SPN 520 FMI 3", "sure"), ("SPN 520 FMI 4", "check"), ("SPN 520 FMI 5", "check")]


def test_an_spn_said_alone_later_is_the_code_that_was_read() -> None:
    codes = [d.code for d in details("SPN 3719 FMI 16 active\ncodes gone, 3719, cleared by me", FaultCode)]
    assert set(codes) == {"SPN 3719 FMI 16"}


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("pressure is 7,9 bar", "7.9", "bar"),
        ("lining is two and three eighths inches", "2.375", "[in_i]"),
        ("stroke is an inch and five eighths", "1.625", "[in_i]"),
    ],
)
def test_decimal_commas_and_parts_of_an_inch_are_numbers(text: str, value: str, unit: str) -> None:
    (reading,) = details(text, Measurement)
    assert (str(reading.value), reading.unit) == (value, unit)


def test_two_ranges_bound_two_readings_in_their_order() -> None:
    readings = details("cut-in 118 bar, cut-out 151 bar. limits are 115 to 120 and 148 to 155.", Measurement)
    assert [(r.limit.min, r.limit.max) for r in readings if r.limit] == [
        (Decimal(115), Decimal(120)),
        (Decimal(148), Decimal(155)),
    ]


@pytest.mark.parametrize("text", ["twenty tonne excavator, out on site", "machine 22 ton on chain"])
def test_what_a_machine_weighs_is_no_reading(text: str) -> None:
    assert not details(text, Measurement)


@pytest.mark.parametrize(
    "text",
    [
        "180 bar at the pump, no wait, I was on the wrong port",
        "C1042 in the door ECU, hang on, glasses, C1024, pending",
        "drained the tanks, no, just the wet tank",
        "used contact spray on it\nstrike what I said about contact spray",
        "the other trailer wants a mudflap fitting",
    ],
)
def test_what_was_put_in_question_or_told_of_another_vehicle_is_never_sure(text: str) -> None:
    assert said(text)[0].status == "check"


@pytest.mark.parametrize(
    ("text", "forbidden"),
    [
        ("so the valve block is out of the question", Step),
        ("tip closed over with deposit", Step),
        ("hours on the clock are two thousand six hundred and eleven", None),
        ("isolation 500 volt test, 2.4 megohm positive", Part),
    ],
)
def test_words_that_only_sound_like_work_make_none(text: str, forbidden: type | None) -> None:
    if forbidden is None:
        assert [d.kind for d in details(text, Identity)] == ["engine_hours"]
    else:
        assert not details(text, forbidden)


def test_letters_and_digits_beside_the_vehicle_may_be_its_registration() -> None:
    (fact,) = [
        f for f in said("the bus is q i four four charlie november sierra") if f.kind == "registration"
    ]
    assert (fact.status, getattr(fact.detail, "value", None)) == ("check", "QI44CNS")


@pytest.mark.parametrize(
    "text", ["fault code P 02 high-end active", "fault code P 02 high-end high-end, active"]
)
def test_a_code_with_a_word_in_it_is_asked_for(text: str) -> None:
    (code,) = [f for f in said(text) if f.kind == "fault_code"]
    assert code.status == "check"


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("removed the under tray, six bolts", {"under tray": None, "bolts": 6}),
        ("refitted under tray with five bolts", {"under tray": None, "bolts": 5}),
        ("removed the up pipe and four nuts", {"up pipe": None, "nuts": 4}),
        ("removed the in tank pump, six bolts", {"in tank pump": None, "bolts": 6}),
        ("removed it under the cab", {}),
    ],
)
def test_a_thing_named_by_where_it_is_is_not_lost_nor_are_its_bolts(
    text: str, steps: dict[str, int | None]
) -> None:
    assert {s.object: s.quantity for s in details(text, Step)} == {
        name: None if count is None else Decimal(count) for name, count in steps.items()
    }

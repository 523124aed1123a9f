"""How six technicians tell their everyday repairs: hesitating, putting right, leaving words out.

How people put it is common practice, no source."""

from __future__ import annotations

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


def identities(text: str) -> set[tuple[str, str]]:
    return {(d.kind, d.value) for d in details(text, Identity)}


@pytest.mark.parametrize(
    ("text", "without"),
    [
        ("job number um five five one two", "job number five five one two"),
        ("the uh booster is cracked", "the booster is cracked"),
        ("fitted a new er clutch pedal switch", "fitted a new clutch pedal switch"),
        ("labour, erm, two hours", "labour, two hours"),
    ],
)
def test_sounds_of_someone_who_thinks_change_nothing(text: str, without: str) -> None:
    assert [f.detail for f in said(text)] == [f.detail for f in said(without)]


def test_a_unit_and_letters_that_are_spelled_are_no_hesitation() -> None:
    assert [f.detail.unit for f in said("end float is 50 um")] == ["um"]  # type: ignore[union-attr]
    assert identities("Registration ER 44 KLV") == {("registration", "ER44KLV")}


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("wheeled loader hours six thousand one hundred and ninety", ("engine_hours", "6190")),
        ("dumper number nine hours three thousand and four", ("engine_hours", "3004")),
        ("Job 60, hours 12,044.", ("engine_hours", "12044")),
        ("job nine one four hours meter eight thousand two hundred", ("engine_hours", "8200")),
        ("work order three three nine one miles one hundred eighty thousand", ("odometer", "180000")),
        ("day cab tractor at 402,118 miles", ("odometer", "402118")),
        ("hour meter on the reefer nine thousand one hundred", ("engine_hours", "9100")),
    ],
)
def test_a_meter_is_told_by_its_unit_before_the_number(text: str, told: tuple[str, str]) -> None:
    assert told in identities(text)


@pytest.mark.parametrize(
    "text",
    [
        "it ran for two hours 300 bar all the time",
        "after twelve hours 250 more came out",
        "it did ten miles 3000 of them",
    ],
)
def test_a_unit_after_its_number_names_no_meter(text: str) -> None:
    assert not identities(text)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("Job 44, tanker QI55 PRS, 611,300 on the clock.", "QI55PRS"),
        ("Job 7001. QI19 HHD. Brakes.", "QI19HHD"),
        ("Bus number QI31 KLM, job 61.", "QI31KLM"),
    ],
)
def test_a_registration_that_nobody_calls_one_is_shown_to_check_and_is_no_part(text: str, told: str) -> None:
    found = [f for f in said(text) if isinstance(f.detail, Identity) and f.detail.kind == "registration"]
    assert [(f.detail.value, f.status) for f in found] == [(told, "check")]  # type: ignore[union-attr]
    assert not details(text, Part)


def test_a_trade_abbreviation_with_a_number_is_no_registration() -> None:
    assert identities("mower behind the tractor p t o five forty job six one") == {("job_number", "61")}


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("Hours are 3,310, no, that's the trip, 5,118.", Identity, "5118"),
        ("code 4 1 2, no that's the time of day, 4 2 1, active", FaultCode, "421"),
        ("Odometer 118,200, no, that's the previous shift, 181,200 km.", Identity, "181200"),
        ("hours two thousand no i was looking at the wrong line three thousand", Identity, "3000"),
    ],
)
def test_what_was_looked_at_in_error_is_put_right(text: str, kind: type, value: str) -> None:
    (found,) = details(text, kind)
    assert (found.code if kind is FaultCode else found.value) == value


def test_of_several_codes_in_a_breath_the_last_one_is_taken_back() -> None:
    text = "SPN 110 FMI 3 active, and also B1A55-11, no, that's the radio, forget that."
    assert [c.code for c in details(text, FaultCode)] == ["SPN 110 FMI 3"]


@pytest.mark.parametrize(
    "text",
    [
        "raised two tonnes and left it there",
        "drove it up the yard with half a tonne on the back",
        "Marker lamp out, put a bulb in, 5 watt.",
    ],
)
def test_what_it_was_tried_with_and_what_a_part_is_made_for_are_no_readings(text: str) -> None:
    assert not details(text, Measurement)


@pytest.mark.parametrize(
    ("text", "limit"),
    [
        ("The sensor reads 800 ppm with the engine stopped and should be near 0.", (None, None, "0")),
        ("Additive 41 percent, good is 40 to 45.", ("40", "45", None)),
        ("runout oh point two millimetres tops is oh point three", (None, "0.3", None)),
    ],
)
def test_a_limit_is_told_as_people_tell_it(text: str, limit: tuple[str | None, ...]) -> None:
    (found,) = details(text, Measurement)
    told = found.limit
    assert tuple(None if v is None else str(v) for v in (told.min, told.max, told.nominal)) == limit


def test_the_value_of_the_other_one_is_no_limit_but_a_reading_to_check() -> None:
    first, second = (
        f for f in said("Ride height 290 mm against 318 on the other side.") if f.kind == "measurement"
    )
    assert (str(first.detail.value), first.detail.limit) == ("290", None)  # type: ignore[union-attr]
    assert (str(second.detail.value), second.detail.unit) == ("318", "mm")  # type: ignore[union-attr]
    assert second.status == "check"


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("I had it down as 6 hours but the dinner comes off so 5.5.", ["6", "5.5"]),
        ("About 3 hours, well, two and a half to be honest.", ["3", "2.5"]),
        ("labour two point ate hours", ["2.8"]),
    ],
)
def test_hours_that_others_may_take_the_place_of_are_for_a_person(text: str, hours: list[str]) -> None:
    found = [f for f in said(text) if isinstance(f.detail, LabourSaid)]
    assert [(str(f.detail.hours), f.status) for f in found] == [(h, "check") for h in hours]  # type: ignore[union-attr]


def test_a_whole_span_of_time_is_put_right_not_its_end() -> None:
    (found,) = details(
        "I'd put it at an hour and three quarters, no, make that two hours with the test.", LabourSaid
    )
    assert str(found.hours) == "2"


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("three point one hours on this", "3.1"),
        ("two hours and a half together", "2.5"),
        ("four hours with the press", "4"),
    ],
)
def test_hours_alone_are_labour(text: str, hours: str) -> None:
    (found,) = details(text, LabourSaid)
    assert str(found.hours) == hours


@pytest.mark.parametrize(
    ("text", "unit"),
    [("at the solenoid nine point four bolts", "V"), ("fuel pump draws 6.2 lamps", "A")],
)
def test_a_unit_heard_as_a_thing_after_a_decimal_is_for_a_person(text: str, unit: str) -> None:
    found = [f for f in said(text) if isinstance(f.detail, Measurement)]
    assert [(f.detail.unit, f.status) for f in found] == [(unit, "check")]  # type: ignore[union-attr]


def test_counted_bolts_stay_bolts() -> None:
    (found,) = details("fitted eight new bolts", Part)
    assert (found.name, str(found.quantity)) == ("bolts", "8")


@pytest.mark.parametrize(
    ("text", "values"),
    [
        (
            "Clearance lower pad .095 in, spec .020 to .050. Upper pad .031.",
            [("0.095", "[in_i]"), ("0.031", "[in_i]")],
        ),
        ("Left joint play is 40 thou, max is 20. Right is 12.", [("40", "[mil_i]"), ("12", "[mil_i]")]),
        ("Coolant at 190 F, oil 215 degrees", [("190", "[degF]"), ("215", "[degF]")]),
        ("Pressure went from 3 bar to 0.4 in ten minutes", [("3", "bar"), ("0.4", "bar")]),
    ],
)
def test_american_units_are_read_as_they_are_told(text: str, values: list[tuple[str, str]]) -> None:
    assert [(str(d.value), d.unit) for d in details(text, Measurement)] == values


def test_a_value_put_right_by_more_like_is_the_last_one() -> None:
    (found,) = details("the joint rocks four millimetres no more like six it should be nothing", Measurement)
    assert str(found.value) == "6"


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("New shaft seal. 400 grams of grease.", ("grease", "400", "g")),
        ("Three tubes of grease, both axles.", ("grease", "3", None)),
        ("Cable lube, half a can.", ("Cable lube", "0.5", None)),
        ("consumables one tin of grease and half a litre of cleaner", ("cleaner", "0.5", "L")),
        ("I change the filter, number 44 18 2, and the oil, 2.4 litres.", ("oil", "2.4", "L")),
    ],
)
def test_what_is_used_up_is_told_by_its_amount_without_a_verb(
    text: str, told: tuple[str, str, str | None]
) -> None:
    found = [d for d in details(text, Part) if d.action == "consumed"]
    assert told in [(d.name, str(d.quantity), d.unit) for d in found]


def test_what_is_not_there_or_still_needed_is_not_used_up() -> None:
    assert not details("no two litres of cleaner left. needs two litres of cleaner", Part)


@pytest.mark.parametrize(
    ("text", "fitted", "removed"),
    [
        (
            "side plate removed bearing and wear ring replaced both seals replaced",
            {"bearing", "wear ring", "seals"},
            "side plate",
        ),
        ("coolant drained nine litres belt removed pump replaced", {"pump"}, "belt"),
    ],
)
def test_things_before_their_verbs_are_told_one_after_another(
    text: str, fitted: set[str], removed: str
) -> None:
    assert {d.name for d in details(text, Part) if d.action == "fitted"} == fitted
    assert removed in {d.object for d in details(text, Step) if d.action == "removed"}


def test_verbs_before_their_things_stay_so() -> None:
    found = [
        (d.action, d.object) for d in details("drained the sump removed the belt cleaned the pulley", Step)
    ]
    assert found == [("drained", "sump"), ("removed", "belt"), ("cleaned", "pulley")]


def test_what_a_switched_thing_is_exchanged_for_tells_that_it_came_off() -> None:
    found = details("relay off new relay on part number four one one six", Step)
    assert [(d.action, d.object) for d in found] == [("removed", "relay")]
    assert not details("relay off and the lamp is out", Step)


@pytest.mark.parametrize(
    ("text", "count"),
    [("Oil filters x2, number 3318-2.", "2"), ("new oh rings four of them", "4")],
)
def test_the_number_of_pieces_is_told_behind_the_part(text: str, count: str) -> None:
    assert [str(d.quantity) for d in details(text, Part)] == [count]


def test_figures_one_by_one_behind_a_part_are_no_torque() -> None:
    assert not details("New bellows 4 4 1 9, two V clamps 1 3 0, two gaskets.", Measurement)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "the gland on the left is wet and the pipe to it is chafed through",
            [("gland", "leaking"), ("pipe", "chafed")],
        ),
        ("strainer blocked and the nozzle coked up", [("strainer", "blocked"), ("nozzle", None)]),
        ("locking jaw worn and both mounts split", [("locking jaw", "worn"), ("mounts", "split")]),
        # under its heading it stays what was told
        ("Finding: locking jaw worn and both mounts split.", [("locking jaw", "worn")]),
    ],
)
def test_each_thing_that_was_found_is_a_finding_of_its_own(
    text: str, told: list[tuple[str, str | None]]
) -> None:
    found = [d for d in details(text, Statement) if d.kind == "finding"]
    assert [d.component for d in found] == [component for component, _ in told]
    assert all(failure in (None, d.failure) for d, (_, failure) in zip(found, told, strict=True))


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("it throws oil, the compressor must be changed soon", "advisory"),
        ("rubber of the front door is torn please order it", "advisory"),
        ("We didn't do the speedo seal, that's licensed work.", "loose_end"),
        ("complaint: diesel on the floor under the tank", "complaint"),
        ("Engine's lost coolant three times, driver says, and steam when it's hot.", "complaint"),
        ("The lamp for the retarder is burning all the time, the driver tells.", "complaint"),
        ("seal hard as plastic at the union", "finding"),
        ("governor valve worn thats the cause", "cause"),
    ],
)
def test_what_is_told_in_passing_is_of_its_kind(text: str, kind: str) -> None:
    assert kind in [d.kind for d in details(text, Statement)]
    assert not details(text, Step)


def test_a_meal_after_the_clock_was_stopped_is_a_pause() -> None:
    assert details("Stopping the clock, dinner.", Clock) == [Clock("pause", "dinner")]
    assert details("Off the clock now.", Clock) == [Clock("stop")]


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("work order four four one nine two day cab truck", ("job_number", "44192")),
        ("The VIN on the plate is 00ZBX41H84M2287035.", ("vin", "00ZBX41H84M2287035")),
        ("Gully truck, job 71, body hours 5,113.", ("engine_hours", "5113")),
        (
            "registration quebec india four four papa lima november "
            "three hundred and ten thousand and five kilometres",
            ("odometer", "310005"),
        ),
    ],
)
def test_what_identifies_the_job_is_cut_where_the_next_of_it_begins(text: str, told: tuple[str, str]) -> None:
    assert told in identities(text)


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("hubs on at 180 foot pounds and wheels on at four eighty", "480", "[ft_i].[lbf_av]"),
        ("wheel back on and nuts at six hundred", "600", "N.m"),
    ],
)
def test_a_torque_without_its_unit_is_told_at_the_end_and_is_for_a_person(
    text: str, value: str, unit: str
) -> None:
    last = [f for f in said(text) if isinstance(f.detail, Measurement)][-1]
    assert (str(last.detail.value), last.detail.unit, last.status) == (value, unit, "check")  # type: ignore[union-attr]


def test_a_motor_among_things_that_came_off_came_off_too() -> None:
    assert [d.object for d in details("Two pipes off, motor off.", Step)] == ["pipes", "motor"]
    assert not details("motor off, 24.1 volts at the stud", Step)


@pytest.mark.parametrize("text", ["Nobody is to stand under it, please.", "Don't ever trust the jack, lads."])
def test_a_warning_to_people_is_a_hazard(text: str) -> None:
    assert [d.kind for d in details(text, Statement)] == ["hazard"]


def test_what_was_looked_at_but_not_done_is_for_a_person() -> None:
    (found,) = (f for f in said("Guide rails looked at but not greased.") if isinstance(f.detail, Step))
    assert found.status == "check"

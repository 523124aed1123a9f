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
    PhotoCue,
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


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ("1.9 volts drop on the earth strap, limit 0.2", "earth strap"),
        ("two point two volts dropped across the isolator", "isolator"),
        ("nine bar in the wet tank no leaks", "wet tank"),
        ("7 bar in the rear circuit holding", "rear circuit"),
        (
            "The lever is 80 millimetres. I adjusted the belt tension. It is now 12 millimetres.",
            "belt tension",
        ),
    ],
)
def test_a_reading_belongs_to_the_place_that_was_named_with_it_and_to_no_other(text: str, place: str) -> None:
    *_, reading = details("11.8 volts at the lamp. 6 bar at the governor.\n" + text, Measurement)
    assert place in (reading.subject or "")
    assert "lamp" not in (reading.subject or "")
    assert "lever" not in (reading.subject or "")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("fitted track rod end, part number 30 bravo 5 5 1, one off", "30B551"),
        ("fitted track rod end, part number 30 bravo 5 5 1 two off", "30B551"),
    ],
)
def test_how_many_there_are_is_no_digit_of_a_part_number(text: str, number: str) -> None:
    assert [p.number for p in details(text, Part)] == [number]


def test_hours_in_thousands_are_no_digits_of_the_job_number_before_them() -> None:
    found = {
        i.kind: i.value
        for i in details("job one nine three one six thousand and forty engine hours", Identity)
    }
    assert found == {"job_number": "1931", "engine_hours": "6040"}


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("tightened the bracket bolts to ate tea newton metres", "measurement"),
        ("torqued the nuts to won tea five newton metres", "measurement"),
        ("labour two hours and for tea minutes", "labour"),
    ],
)
def test_a_number_beside_words_that_sound_like_numbers_is_never_sure(text: str, kind: str) -> None:
    assert all(f.status == "check" for f in said(text) if f.kind == kind)


def test_each_span_of_a_list_of_labour_keeps_its_own_operation() -> None:
    told = details("Labour: diagnosis 0.4 hours, repair 2.1 hours.", LabourSaid)
    assert [(t.hours, t.operation) for t in told] == [
        (Decimal("0.4"), "diagnosis"),
        (Decimal("2.1"), "repair"),
    ]


@pytest.mark.parametrize(
    "text", ["bus loses drive under load", "refitted the live cable", "live feed at pin 4 is 24.1 volts"]
)
def test_test_conditions_and_names_are_no_hazard(text: str) -> None:
    assert "hazard" not in {f.kind for f in said(text)}


@pytest.mark.parametrize(
    "text", ["Bare live wire behind the dash.", "live cable hanging down there", "it's still under load"]
)
def test_a_live_end_in_reach_and_a_stored_load_are_hazards(text: str) -> None:
    assert "hazard" in {f.kind for f in said(text)}


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("starting on the trailer job now", "start"),
        ("leaving it there for now, got to fetch a seal", "pause"),
        ("right we're back again", "resume"),
    ],
)
def test_the_clock_hears_everyday_words(text: str, action: str) -> None:
    assert [c.action for c in details(text, Clock)] == [action]


@pytest.mark.parametrize(
    ("text", "hours"), [("7,215 hours on the pump", "7215"), ("9 040 hours on her", "9040")]
)
def test_hours_on_a_machine_are_its_meters_and_no_labour(text: str, hours: str) -> None:
    assert [(i.kind, i.value) for i in details(text, Identity)] == [("engine_hours", hours)]
    assert details(text, LabourSaid) == []


def test_a_photo_that_is_counted_still_shows_what_is_named() -> None:
    (cue,) = details("I took photo number two, the cracked flange.", PhotoCue)
    assert "cracked flange" in (cue.subject or "")


def test_a_complaint_may_name_who_complains_at_its_end() -> None:
    (told,) = details("Loses drive uphill, operator reckons.", Statement)
    assert (told.kind, told.text) == ("complaint", "Loses drive uphill")


def test_a_limit_may_stand_in_a_table() -> None:
    (reading,) = details("Coil resistance 1.4 ohms. The table says 0.6 to 0.9.", Measurement)
    assert (reading.limit.min, reading.limit.max, reading.verdict) == (
        Decimal("0.6"),
        Decimal("0.9"),
        "outside",
    )


@pytest.mark.parametrize(
    ("text", "thing"),
    [
        ("so I'm just pulling the sensor okay that's out", "sensor"),
        ("Taking the undertray off now… right, that's away.", "undertray"),
        ("Undoing the four bolts, and they're out.", "bolts"),
        ("Drum's coming off… and it's off.", "drum"),
        ("here comes the starter, that's out", "starter"),
    ],
)
def test_work_that_is_narrated_is_done_once_it_is_said_to_be_off(text: str, thing: str) -> None:
    assert [(s.action, s.object) for s in details(text, Step)] == [("removed", thing)]


@pytest.mark.parametrize(
    "text",
    [
        "I'm just pulling the sensor",
        "the lamp comes on when pulling a trailer, and it's off now",
        "taking the cover down, it's off the shelf",
        "drum motor stayed in",
    ],
)
def test_what_is_not_said_to_be_off_is_not_off(text: str) -> None:
    assert details(text, Step) == []


@pytest.mark.parametrize(
    ("text", "states"),
    [
        ("P0299 active. U0155 stored.\nBoth codes cleared.", {"P0299": "cleared", "U0155": "cleared"}),
        (
            "Fault code 7731 active in the door controller.\nCleared the code, ten cycles run.",
            {"7731": "cleared"},
        ),
        ("SPN 100 FMI 4 active.\nFault memory erased.", {"SPN 100 FMI 4": "cleared"}),
        ("P0299 active.\nI haven't cleared the codes yet.", {"P0299": "active"}),
        ("P0299 active. Codes not cleared.", {"P0299": "active"}),
        ("P0299 came back as pending.", {"P0299": "pending"}),
        ("U0155 stored. Cleared the codes, and P0299 came back.", {"U0155": "cleared", "P0299": "active"}),
    ],
)
def test_codes_that_were_told_are_cleared_when_it_is_said_of_all(text: str, states: dict[str, str]) -> None:
    assert {c.code: c.state for c in details(text, FaultCode)} == states


def test_one_code_cleared_of_several_is_for_a_person_to_say_which() -> None:
    cleared = [
        f
        for f in said("P0299 active. U0155 stored.\nCode cleared.")
        if getattr(f.detail, "state", "") == "cleared"
    ]
    assert {f.status for f in cleared} == {"check"}


def test_a_code_that_is_in_doubt_is_in_doubt_when_it_is_cleared() -> None:
    told = [f for f in said("fault code P 02 high-end active.\nCodes cleared.") if f.kind == "fault_code"]
    assert {f.status for f in told} == {"check"}


@pytest.mark.parametrize(
    ("text", "hours"), [("labour on this one two hours ten", "2.17"), ("labour on that one one hour", "1")]
)
def test_this_one_is_no_number_of_hours(text: str, hours: str) -> None:
    assert [str(t.hours) for t in details(text, LabourSaid)] == [hours]


def test_a_count_in_two_words_belongs_to_new_parts_that_no_verb_names() -> None:
    assert [p.quantity for p in details("twenty four new studs torqued", Part)] == [Decimal(24)]


def test_the_letters_of_a_part_number_are_no_part() -> None:
    assert [p.number for p in details("Installed two new U-joints, UJ 5 5 1 2.", Part)] == ["UJ5512"]


def test_a_seal_that_is_punched_in_starts_no_clock() -> None:
    assert details("punching in the new seal", Clock) == []


@pytest.mark.parametrize("text", ["I took a photo of the old pump.", "We got a picture of the old pump."])
def test_who_took_a_photo_hides_not_what_it_shows(text: str) -> None:
    (cue,) = details(text, PhotoCue)
    assert "old pump" in (cue.subject or "")


def test_mils_of_a_fluid_are_millilitres_and_of_a_gap_millimetres() -> None:
    assert [p.unit for p in details("topped up with 300 mil of hydraulic oil", Part)] == ["mL"]
    assert [m.unit for m in details("gap is 3 mil", Measurement)] == ["mm"]


def test_a_job_number_ends_before_the_registration_behind_a_comma() -> None:
    assert "5520" in {i.value for i in details("Job 5520, QIB 904. Won't start.", Identity)}


def test_a_part_number_may_begin_with_a_little_word_in_capitals() -> None:
    assert [p.number for p in details("Fitted a new switch, part number AS 5518 02.", Part)] == ["AS551802"]


def test_what_is_fitted_again_went_back_and_is_no_new_part() -> None:
    assert details("fitted the oil pipe again", Part) == []
    assert [(s.action, s.object) for s in details("fitted the oil pipe again", Step)] == [
        ("refitted", "oil pipe")
    ]


def test_quarters_of_an_hour_in_figures_belong_to_their_hours() -> None:
    assert [t.hours for t in details("Labour, 2 hours and 3 quarters.", LabourSaid)] == [Decimal("2.75")]


def test_a_code_in_hundreds_that_goes_on_is_for_a_person() -> None:
    (code,) = [f for f in said("fault code 200 and 14 active") if f.kind == "fault_code"]
    assert code.status == "check"


def test_what_it_would_be_on_a_good_one_is_no_reading() -> None:
    assert details("The edge reads open circuit, it'd be 6.8 kilo ohms good.", Measurement) == []


def test_a_target_is_a_thing_where_something_is_as_far_from_it() -> None:
    supply, gap = details(
        "Switch has 23.9 volts on the supply, gap to the target 9 mm, should be 2 to 4.", Measurement
    )
    assert (supply.limit, gap.verdict) == (None, "outside")


@pytest.mark.parametrize(
    ("text", "far"),
    [
        ("Road test, 12 kilometres. All good.", (12, "km")),
        ("Ten mile road test, all good.", (10, "[mi_i]")),
        ("road tested 20 minutes", (20, "min")),
    ],
)
def test_how_far_or_how_long_a_test_went_is_kept_with_it(text: str, far: tuple[int, str]) -> None:
    (step,) = details(text, Step)
    assert (step.action, (step.quantity, step.unit)) == ("tested", far)


def test_the_time_of_what_was_measured_is_none_of_the_tests() -> None:
    (step,) = details("leak test, pressure drop in ten minutes 0.1 bar", Step)
    assert step.quantity is None

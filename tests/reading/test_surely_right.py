"""What once was sure and wrong: it is read right now, or left to a person, or not read at all.

How people put it is common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, one, said

from jobnotes.record import Clock, Fact, FaultCode, Identity, LabourSaid, Measurement, Part, Statement, Step


def sure_steps(text: str) -> list[tuple[str, str]]:
    return [
        (f.detail.action, f.detail.object.casefold())
        for f in said(text)
        if isinstance(f.detail, Step) and f.status == "sure"
    ]


def findings(text: str) -> list[Statement]:
    return [s for s in details(text, Statement) if s.kind == "finding"]


@pytest.mark.parametrize(
    ("text", "action"),
    [
        ("cab tilted, mirror arm folded, then i bled it", "bled"),
        ("tilt ram bypassing, swapped the seals, bled it up", "bled"),
        ("kingpin play four mil, jacked it and checked again", "lifted"),
        ("timing was out a tooth, reset it", "reset"),
        ("radar bracket was bent, straightened it, calibrated it", "calibrated"),
        ("load cell reads 20 kilos with nothing on, cleaned the plug, zeroed it", "adjusted"),
    ],
)
def test_it_is_for_a_person_where_that_can_hardly_be_done_to_what_was_named_last(
    text: str, action: str
) -> None:
    assert action not in [done for done, _ in sure_steps(text)]


@pytest.mark.parametrize(
    "text",
    [
        "condenser fan was running backwards so swapped two phases over",
        "air dryer purging every ten seconds",
        "gave the pump a tap and it ran",
        "saw tensioner grease lost",
    ],
)
def test_what_a_thing_does_by_itself_is_no_step(text: str) -> None:
    assert not details(text, Step)


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("clutch slave leaking into bell housing, gearbox out", [("removed", "gearbox")]),
        ("backed off two flats, locknut tight again", []),
        ("set the tappets, inlet 0.4 exhaust 0.6 cold", [("adjusted", "tappets")]),
        ("chocked the wheels, jacked the axle up", [("lifted", "axle")]),
        ("pinched a fuse from the spare slot", []),
        ("pulled the head, gasket blown between two and three", [("removed", "head")]),
        (
            "jacked the engine, mount out two bolts, new mount in",
            [("lifted", "engine"), ("removed", "mount")],
        ),
        ("trailer plug filled with water", []),
        ("gear selector cable stretched, adjusted it", [("adjusted", "gear selector cable")]),
        ("bled the heater, got it up to eighty", [("bled", "heater")]),
        ("took the cylinder off the top pin, drained about a bucket", [("removed", "cylinder")]),
        ("tyre off, patch on, 110 psi, back on", [("removed", "tyre"), ("refitted", "tyre")]),
        ("cleaned all the earths, dead ok now", [("cleaned", "earths")]),
        (
            "no comms, traced to a pinched wire under the step, repaired it",
            [("repaired", "pinched wire")],
        ),
        (
            "took the alternator off to get at the pump, pump off, new pump on, alternator on again",
            [("removed", "alternator"), ("removed", "pump"), ("refitted", "alternator")],
        ),
    ],
)
def test_a_step_is_of_what_it_was_done_to(text: str, steps: list[tuple[str, str]]) -> None:
    assert sure_steps(text) == steps


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("lost a washer, it must have gone down", ["lost a washer, it must have gone down"]),
        (
            "lost a washer, it must have gone down behind the bumper",
            ["lost a washer, it must have gone down behind the bumper"],
        ),
        ("one bolt lost, fell behind the axle", ["one bolt lost, fell behind the axle"]),
    ],
)
def test_a_loss_is_one_loose_end_told_in_full(text: str, ends: list[str]) -> None:
    assert [s.text for s in details(text, Statement)] == ends


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (
            "pulled the bush, it's worn out and the hose is split",
            [("bush", "worn"), ("hose", "split")],
        ),
        ("hose from the valve to the ram burst", [("hose", "burst")]),
        ("brake chamber on the second axle hissing through the diaphragm", [("brake chamber", "leaking")]),
        (
            "doser was solid with crystals, soaked it in hot water, sprays fine now",
            [("doser", "blocked")],
        ),
        ("copper washer had blown", [("copper washer", "burst")]),
        ("fuse 12 had blown", [("fuse 12", "open circuit")]),
        ("i've stuck a new bulb in the marker", []),
        ("had to cut the belt off", []),
        ("cleaned all the earths, dead ok now", []),
        ("measured the disc thickness 34.2 left 35.1 right, worn limit 37", []),
        ("hub bearing rumbling, packed with grease", [("hub bearing", "noisy")]),
        ("tested for gas at the expansion tank, blue to yellow", []),
        ("fitted a bearing, marked the shaft, line cut to length", []),
        ("the old filter was marked 2019 so never been changed", []),
    ],
)
def test_a_failure_is_of_the_thing_that_failed(text: str, told: list[tuple[str, str]]) -> None:
    assert [(s.component, s.failure) for s in findings(text)] == told


def doubted(text: str, kind: type) -> Fact:
    fact, _ = one(text, kind)
    assert fact.status == "check"
    return fact


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("shocks both leaking rear axle, renewed", "how something failed"),
        ("pushed the sensor in and the light's gone off", "moved"),
        ("camera windscreen replaced yesterday by the glass people", "of this job"),
        ("customer's own filter fitted, we never supplied it", "of this job"),
        ("grab hose chafed, moved the hose over and cable tied it", "moved over from the old one"),
        ("door won't shut, striker moved over three mil", "moved over from the old one"),
    ],
)
def test_a_part_that_may_not_have_been_fitted_here_is_for_a_person(text: str, why: str) -> None:
    assert why in (doubted(text, Part).why or "")


def test_what_came_off_and_is_back_on_is_not_the_technician() -> None:
    fact = doubted("took the prop shaft off, pressed two new joints in, back on at 110", Clock)
    assert "the thing that came off" in (fact.why or "")


def test_a_time_of_day_is_no_odometer() -> None:
    text = "on it 7:30, done 11:00"
    assert not details(text, Identity)
    assert [c.action for c in details(text, Clock)] == ["start", "stop"]


def test_a_meter_that_another_speaks_against_is_for_a_person() -> None:
    assert "but" in (doubted("speedo says 88214 but the head unit says 98214", Identity).why or "")


def test_what_a_pressure_may_lose_in_minutes_is_no_labour() -> None:
    assert not details("charged it to 9 bar, lost 0.3 in five minutes, allowed 0.5", LabourSaid)


def test_the_size_of_a_press_is_no_sure_reading() -> None:
    text = "bushes pressed out, new pressed in with the hydraulic press, 20 ton"
    assert "tool" in (doubted(text, Measurement).why or "")


def test_two_values_behind_an_axle_are_two_readings() -> None:
    text = "brake test front axle 12.1 and 11.8 kilonewtons"
    assert [m.value for m in details(text, Measurement)] == [Decimal("12.1"), Decimal("11.8")]


def test_what_is_to_be_ignored_leaves_no_number_behind() -> None:
    assert not [s for s in details("code 1569 engine derate, ignore that one", Statement) if "one" in s.text]


def test_faults_told_one_after_another_are_no_sure_complaint() -> None:
    text = "drive belt cracked, tensioner noisy, idler rough, water pump weeping"
    sure = [f.detail for f in said(text) if f.status == "sure"]
    assert not [s for s in sure if isinstance(s, Statement) and s.kind == "complaint"]


def test_what_was_put_in_the_skip_is_not_used_again() -> None:
    (part,) = details("i've put the old starter in the skip", Part)
    assert part.action == "removed"


def test_both_that_opens_the_next_thing_counts_no_part() -> None:
    (part,) = details("fuel tank strap snapped, new strap on, both nuts 40", Part)
    assert part.quantity is None


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("found a leak at the union, changed the core, put in 2.1 kilos", "leak at the union"),
        ("found the doser dripping, doser swapped, gasket new", "doser dripping"),
    ],
)
def test_what_was_found_ends_where_the_work_begins(text: str, told: str) -> None:
    assert [s.text for s in findings(text)] == [told]


@pytest.mark.parametrize(
    ("text", "unit", "status"),
    [
        ("checked the water, checked tyres 8 mil all round", "mm", "sure"),
        ("fuel tank strap snapped, tank had dropped 20 mil on one side", "mL", "check"),
        ("injector two return is way over, eighty five mil", "mL", "sure"),
    ],
)
def test_mil_is_what_is_spoken_of_between_the_commas(text: str, unit: str, status: str) -> None:
    fact, measurement = one(text, Measurement)
    assert (measurement.unit, fact.status) == (unit, status)


def test_what_went_back_in_with_its_amount_was_filled() -> None:
    (step,) = details("coolant went back in, eleven litres", Step)
    assert (step.action, step.quantity, step.unit) == ("filled", Decimal(11), "L")


def test_the_same_again_at_no_place_is_for_a_person() -> None:
    text = "air line off, same again backwards"
    assert [f.status for f in said(text) if "backwards" in str(f.detail)] == ["check"]


def test_what_a_thing_needs_is_told_without_what_stands_before() -> None:
    text = "grab hose on the crane chafed, moved the hose over and cable tied it, needs a sleeve"
    assert [s.text for s in details(text, Statement) if s.kind == "advisory"] == ["needs a sleeve"]


def test_what_is_advised_twice_in_one_breath_is_one_advisory() -> None:
    text = "fan bearing grumbling, greased it, wants a bearing next time"
    assert len([s for s in details(text, Statement) if s.kind == "advisory"]) == 1


def test_a_registration_ends_where_the_meter_begins() -> None:
    text = "reg number's yankee kilo two one echo foxtrot golf, 312 on the clock"
    (identity,) = [i for i in details(text, Identity) if i.kind == "registration"]
    assert identity.value == "YK21EFG"


def test_codes_are_not_surely_cleared_where_one_of_them_would_not_clear() -> None:
    text = "SPN 4364 FMI 18, 3361 FMI 4 and 5246 FMI 0, cleared 4364 and 5246 the other won't clear"
    codes = [f for f in said(text) if isinstance(f.detail, FaultCode)]
    assert len(codes) == 3
    assert {f.status for f in codes} == {"check"}


def test_how_long_it_took_to_drop_is_no_sure_reading() -> None:
    fact = doubted("dropped from 8.5 to 8.2 in ten minutes footbrake on", Measurement)
    assert "how long" in (fact.why or "")


def test_a_pressure_at_stall_is_no_sure_complaint() -> None:
    assert doubted("swing motor pressure 240 stalled", Statement)


@pytest.mark.parametrize(
    ("text", "value", "conditions"),
    [
        ("oil at fifty, engine at two thousand, 120 bar", 120, ("oil at 50", "engine at 2000")),
        ("system pressure, revs at 1800, 185 bar", 185, ("revs at 1800",)),
        ("oil pressure 3.8 bar hot at 1200", Decimal("3.8"), ("hot", "at 1200")),
    ],
)
def test_what_was_set_before_the_value_is_its_condition(
    text: str, value: Decimal, conditions: tuple[str, ...]
) -> None:
    fact, measurement = one(text, Measurement)
    assert (measurement.value, measurement.conditions, fact.status) == (value, conditions, "sure")


def test_a_hundred_behind_a_comma_is_a_number_of_its_own() -> None:
    (measurement,) = details("engine at two thousand, a hundred and twenty bar", Measurement)
    assert measurement.value == 120


def test_each_of_several_values_in_a_row_is_told_to_a_person() -> None:
    facts = [f for f in said("compression 28 27 28 19 28 27") if isinstance(f.detail, Measurement)]
    assert [int(f.detail.value) for f in facts if isinstance(f.detail, Measurement)] == [
        28,
        27,
        28,
        19,
        28,
        27,
    ]
    assert {f.status for f in facts} == {"check"}


@pytest.mark.parametrize(
    ("text", "unit"),
    [("king pin wear 1.1 limit 2", "mm"), ("blade depth 12", "mm"), ("antifreeze minus 35", "Cel")],
)
def test_what_is_spoken_of_tells_the_unit_to_a_person(text: str, unit: str) -> None:
    fact, measurement = one(text, Measurement)
    assert (measurement.unit, fact.status) == (unit, "check")


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("fitted filter part number 1 1 0 4 6 2, that's the wrong one, should be 4 6 3", "longer number"),
        ("fitted a new switch, old one kept", "kept for the claim"),
    ],
)
def test_a_part_told_in_two_ways_is_for_a_person(text: str, why: str) -> None:
    assert any(f.status == "check" and why in (f.why or "") for f in said(text))


def test_what_changed_places_is_not_fitted() -> None:
    assert not details("injector 4 swapped with 2, misfire moved", Part)


def test_what_was_only_tried_to_see_is_no_finding() -> None:
    text = "swapped the left hand unit over to the right to see if the fault followed, it did"
    assert not details(text, Statement)


def test_a_tube_of_blue_is_nothing_burnt() -> None:
    assert not findings("two new o rings, one copper washer, half a tube of blue")


def test_the_size_of_a_pipe_is_no_reading() -> None:
    assert not details("three metres half inch air pipe, two straight push fits", Measurement)


def test_hours_of_others_or_of_something_else_too_are_not_surely_labour() -> None:
    assert not details("the lads had an hour on it yesterday before i got it", LabourSaid)
    assert doubted("labour five and a half, of which an hour was waiting", LabourSaid)


def test_a_pause_for_dinner_is_not_because_of_its_end() -> None:
    (clock,) = details("clocked off for dinner at twelve back half past", Clock)
    assert clock.reason == "clocked off for dinner"


def test_a_sentence_that_is_a_list_of_parts_is_for_a_person() -> None:
    text = "set of pads, disc both sides, wear leads, four caliper bolts"
    told = [(p.name, p.quantity or 0) for p in details(text, Part)]
    assert told == [
        ("set of pads", 0),
        ("disc", 0),
        ("wear leads", 0),
        ("caliper bolts", 4),
    ]
    assert {f.status for f in said(text)} == {"check"}


def test_a_part_has_no_failure_in_its_name() -> None:
    assert [p.name for p in details("horn relay fine, horn open circuit, replaced", Part)] == ["horn"]
    assert [p.name for p in details("dryer cartridge overdue, changed it", Part)] == ["dryer cartridge"]


def test_a_number_that_tells_which_is_no_value() -> None:
    text = "heater lines, one and three no resistance, two is 12 ohms"
    sure = [f.detail for f in said(text) if isinstance(f.detail, Measurement) and f.status == "sure"]
    assert [m.value for m in sure] == [12]


def test_a_part_that_the_driver_fitted_or_that_is_on_loan_is_not_surely_ours() -> None:
    assert not details("the driver had fitted the wrong bulb", Part)
    assert doubted("tacho head swapped with a loan unit", Part)

"""What is told in passing, without a word for it: numbers behind parts, codes, limits, hours.

How people put it is common practice, no source."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import FaultCode, LabourSaid, Measurement, Part, Statement, Step


@pytest.mark.parametrize(
    ("text", "numbers"),
    [
        ("start relay replaced, 24V 70A, 0 332 209 1.", {"Start relay": "03322091"}),
        ("changed the return filter too, 180-92.", {"return filter": "180-92"}),
        (
            "fitted blower motor 990-114 and cabin filter 990-008.",
            {"blower motor": "990-114", "cabin filter": "990-008"},
        ),
        ("replaced the EGR cooler, part 270-55-12, serial 84 91 77 A.", {"EGR cooler": "270-55-12"}),
        (
            "fitted new camshaft 118-4420-L and 2 bushes 118-4431.",
            {"camshaft": "118-4420-L", "bushes": "118-4431"},
        ),
    ],
)
def test_each_part_gets_the_number_that_is_printed_behind_it(text: str, numbers: dict[str, str]) -> None:
    told = {p.name.casefold(): p.number for p in details(text, Part) if p.action == "fitted"}
    assert told == {name.casefold(): number for name, number in numbers.items()}


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("spigot bearing new as well", ["spigot bearing"]),
        ("a screen and a gasket both new", ["screen", "gasket"]),
        (
            "swapped for an exchange filter 66 20 300, 2 clamps and 2 gaskets with it",
            ["exchange filter", "clamps", "gaskets"],
        ),
    ],
)
def test_parts_that_only_new_or_with_it_tells_of_are_fitted(text: str, names: list[str]) -> None:
    assert [p.name for p in details(text, Part) if p.action == "fitted"] == names


@pytest.mark.parametrize(
    ("text", "ecu"),
    [
        ("from the gear selector s p n seven five one f m i nineteen stored", "gear selector"),
        ("P0251 in the engine control, status pending", "engine control"),
        ("SPN 4334 FMI 16 active on the dosing unit", "dosing unit"),
    ],
)
def test_a_control_unit_is_known_by_how_its_name_ends(text: str, ecu: str) -> None:
    (code,) = details(text, FaultCode)
    assert code.ecu == ecu


def test_an_spn_may_go_unnamed_before_its_failure_mode() -> None:
    codes = [c.code for c in details("SPN 3226 FMI 9 active. And 3226 FMI 20.", FaultCode)]
    assert codes == ["SPN 3226 FMI 9", "SPN 3226 FMI 20"]


def test_codes_that_were_announced_need_no_name_each() -> None:
    text = "the levelling controller has 2 codes, 5021 active and 5023 stored."
    assert [(c.code, c.state) for c in details(text, FaultCode)] == [("5021", "active"), ("5023", "stored")]


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("coil 21 ohms (20 to 24).", 20, 24),
        ("data line 61 ohms, I like to see 55 to 65.", 55, 65),
        ("metering valve 2.8 ohms. It is good from 2.6 until 3.1.", Decimal("2.6"), Decimal("3.1")),
        ("motor pulls 31 amps, normal is under twelve", None, 12),
    ],
)
def test_a_limit_is_known_without_the_word(text: str, low: int | None, high: int) -> None:
    (reading,) = details(text, Measurement)
    assert (reading.limit.min, reading.limit.max) == (low, high)


def test_high_and_low_side_keep_their_own_values() -> None:
    read = [(m.subject, m.value) for m in details("high side sixteen low side two bar", Measurement)]
    assert read == [("high side", 16), ("low side", 2)]


def test_a_reading_now_is_of_what_was_measured_in_that_unit() -> None:
    text = "clutch pressure 3 bar, spec 18 to 20.\nvalve back in.\n19.4 bar now."
    assert [m.subject for m in details(text, Measurement)] == ["clutch pressure", "clutch pressure"]


def test_a_torque_is_of_what_went_on_right_before_it() -> None:
    (torque,) = details(
        "put in an outlet sensor, number 5 H K 9 7 2 1, torqued to thirty-seven foot pounds", Measurement
    )
    assert torque.subject == "outlet sensor"


@pytest.mark.parametrize(
    ("text", "hours"),
    [
        ("put me down for thirty five minutes", ["0.58"]),
        ("an hour less five minutes", ["0.92"]),
        ("1.7 hours plus 0.5 alignment", ["1.7", "0.5"]),
        ("three hours so far, job's on hold", ["3"]),
    ],
)
def test_hours_are_labour_however_they_are_told(text: str, hours: list[str]) -> None:
    assert [str(one.hours) for one in details(text, LabourSaid)] == hours


@pytest.mark.parametrize(
    "text",
    [
        "left it on charge two hours",
        "glue needs twenty four hours to cure",
        "it took the driver two hours to get here",
        "booked in for two hours but it's not started",
        "book says 3.2 hours",
        "took twenty minutes to drain down",
        "quote them three hours for the other side",
        "allow two hours for the other side next time",
        "half an hour waiting on the forklift",
        "it took two of us an hour",
        "no charge for the half hour",
        "in an hour it lost a litre",
        "compressor takes four minutes to build",
        "ran it for half an hour",
        "parts are an hour away",
    ],
)
def test_time_that_nobody_worked_for_certain_is_never_sure_labour(text: str) -> None:
    assert [f for f in said(text) if f.kind == "labour" and f.status == "sure"] == []


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("sensor unplugged, bowl off", [("disconnected", "sensor"), ("removed", "bowl")]),
        ("pin out ram down rod out", [("removed", "pin"), ("removed", "rod")]),
        ("wheels off both u bolts cut off spring dropped", [("removed", "wheels"), ("removed", "u bolts")]),
        ("turbo removed (4 studs), oil pipes off", [("removed", "turbo"), ("removed", "oil pipes")]),
    ],
)
def test_things_and_where_they_are_now_in_a_row_are_steps(text: str, steps: list[tuple[str, str]]) -> None:
    told = [(s.action, s.object) for s in details(text, Step)]
    assert [one for one in told if one in steps] == steps


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (
            "coach sitting down on the nearside, job double two oh one six\ndriver says it bangs",
            "sitting down",
        ),
        ("job 12-900, wheel loader, 9,060 hours, regen every shift", "regen every shift"),
    ],
)
def test_what_is_wrong_said_with_the_job_number_is_the_complaint(text: str, words: str) -> None:
    assert any(s.kind == "complaint" and words in s.text for s in details(text, Statement))


@pytest.mark.parametrize(
    ("text", "component", "failure"),
    [
        ("ticket machine relay welded shut", "ticket machine relay", "seized"),
        ("motor hums and the spindle's stripped", "spindle", "broken"),
        ("reverse solenoid, open circuit", "reverse solenoid", "open circuit"),
        ("disc's down to the rivets", "disc", "worn"),
        ("it's blowing out of the front right chamber", "front right chamber", "leaking"),
    ],
)
def test_a_state_that_sounds_like_work_is_a_finding_and_no_step(
    text: str, component: str, failure: str
) -> None:
    assert details(text, Step) == []
    (finding,) = details(text, Statement)
    assert (finding.kind, finding.component, finding.failure) == ("finding", component, failure)


def test_a_finding_on_a_thing_that_no_lexicon_knows_is_for_a_person() -> None:
    (finding,) = [f for f in said("vane ring seized with soot") if f.kind == "finding"]
    assert finding.status == "check"


@pytest.mark.parametrize(
    ("text", "value", "unit"),
    [
        ("ball joint on the left has six tenths of a mil play", "0.6", "mm"),
        ("ground's good, two tenths of an ohm", "0.2", "Ohm"),
        ("the pin is worn point eight of a mil", "0.8", "mm"),
        ("pump pressure a hundred and ten baa", "110", "bar"),
    ],
)
def test_fractions_of_a_unit_and_misheard_units_are_read(text: str, value: str, unit: str) -> None:
    (reading,) = details(text, Measurement)
    assert (reading.value, reading.unit) == (Decimal(value), unit)


def test_how_long_something_took_is_a_reading_beside_another() -> None:
    read = [(m.value, m.unit) for m in details("170 bar, up in 14 seconds", Measurement)]
    assert read == [(170, "bar"), (14, "s")]


@pytest.mark.parametrize(
    ("text", "ecu"),
    [
        ("from the gearbox U0073 active", "gearbox"),
        ("code on the linkage controller is three two one one", "linkage controller"),
    ],
)
def test_the_control_unit_may_stand_before_the_code_or_within_its_name(text: str, ecu: str) -> None:
    (code,) = details(text, FaultCode)
    assert code.ecu == ecu


@pytest.mark.parametrize(
    ("text", "operation"),
    [
        ("labour, thermostat, two hours, clocking off", "thermostat"),
        ("labour, fuel filter, 0.5 hours, pausing the job", "fuel filter"),
        ("labour, brake caliper, three hours, failed part tagged", "brake caliper"),
        ("labour two hours, clocking off", None),
        ("labour two hours, fitting the hose", "fitting the hose"),
    ],
)
def test_the_operation_is_what_was_named_with_the_hours(text: str, operation: str | None) -> None:
    (labour,) = details(text, LabourSaid)
    assert labour.operation == operation
    assert [f for f in said(text) if f.kind == "finding"] == []


def test_what_is_missing_after_putting_back_is_a_loose_end_and_no_fault_of_the_vehicle() -> None:
    told = details("refitted the grille with five screws. One screw is missing.", Statement)
    assert [(s.kind, s.component) for s in told] == [("loose_end", "screw")]


@pytest.mark.parametrize(
    ("text", "status"),
    [
        ("fault code P0217, active. Codes did not return.", "check"),
        ("fault code P0217, active. Codes cleared. Codes did not return.", "sure"),
    ],
)
def test_a_code_that_did_not_return_is_sure_to_be_gone_only_if_it_was_cleared(text: str, status: str) -> None:
    last = [f for f in said(text) if f.kind == "fault_code"][-1]
    assert (last.detail.state, last.status) == ("cleared", status)  # type: ignore[union-attr]

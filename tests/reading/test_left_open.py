"""What words beside a number, or in it, leave open is shown to a person, and never sure.

The sentences are ordinary speech (common practice, no source)."""

from __future__ import annotations

import pytest
from reading_forms import said

from jobnotes.record import FaultCode, Identity, LabourSaid, Measurement, Part, Statement


def read(text: str, kind: type) -> list[tuple[str, object]]:
    return [(f.status, f.detail) for f in said(text) if isinstance(f.detail, kind)]


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("SPN 789 FMI 5 active and SPN 791 FMI 8 active.\nCleared codes, one of them came back.", "cleared"),
        ("P0751-21 stored, U0101-00 active. No, the other way round.", "stored"),
        (
            "S P N seven eight nine, F M I 1, no hang on I'm reading the wrong line, seven nine zero, FMI 1.",
            None,
        ),
    ],
)
def test_a_code_that_later_words_put_in_doubt_is_to_check(text: str, kind: str | None) -> None:
    codes = [
        (status, code)
        for status, code in read(text, FaultCode)
        if isinstance(code, FaultCode) and (kind is None or code.state == kind)
    ]
    assert codes
    assert {status for status, _ in codes} == {"check"}


def test_digits_that_end_a_code_that_was_told_are_perhaps_that_code() -> None:
    found = read("P0401 stored.\nCodes cleared, 0401 has not come back.", FaultCode)
    assert ("check", "0401") in [(s, d.code) for s, d in found if isinstance(d, FaultCode)]


@pytest.mark.parametrize("text", ["Forced regen, took 35 minutes.", "Took 35 minutes for the regen."])
def test_how_long_a_regeneration_ran_is_no_sure_labour(text: str) -> None:
    assert {status for status, _ in read(text, LabourSaid)} <= {"check"}


def test_labour_that_is_told_as_labour_stays_sure() -> None:
    ((status, labour),) = read("Labour for the regen, one hour.", LabourSaid)
    assert isinstance(labour, LabourSaid)
    assert (status, str(labour.hours)) == ("sure", "1")


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("Registration tango three five nine, not nine, three five eight.", "T359"),
        ("Reg's L-O-W four four two.", "L0W442"),
        ("Two new o rings, number on tag is h d one six double four.", "HD1644"),
    ],
)
def test_a_registration_that_may_be_another_is_to_check(text: str, value: str) -> None:
    found = [(s, d.value) for s, d in read(text, Identity) if isinstance(d, Identity)]
    assert [s for s, v in found if v == value] == ["check"]


def test_the_old_ones_number_is_not_the_new_parts() -> None:
    parts = read("Fitted new alternator. Old one was number 4455.", Part)
    assert [d.number for _, d in parts if isinstance(d, Part)] == [None]


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("Fitted a new relay valve. The number off the box is 88-1032.", "88-1032"),
        ("Replaced the water pump, number for the claim is 55 20 18.", "552018"),
        ("Put a new compressor on it.\nPart number for that's four four one dash nine oh two.", "441-902"),
    ],
)
def test_a_number_told_with_where_it_stands_goes_to_its_part(text: str, number: str) -> None:
    assert number in [d.number for _, d in read(text, Part) if isinstance(d, Part)]


def test_parts_with_their_numbers_behind_them_go_on_after_a_comma() -> None:
    parts = read("Fitted: thermostat (1874552), gasket (1874560).", Part)
    assert [(s, d.name, d.number) for s, d in parts if isinstance(d, Part)] == [
        ("sure", "thermostat", "1874552"),
        ("sure", "gasket", "1874560"),
    ]


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("Resistance of the coil 14.2 ohms, anything from 12 to 16 is good.", "12", "16"),
        ("Coil resistance fourteen point two ohms anywhere from twelve to sixteen is okay.", "12", "16"),
        ("Pad thickness is four millimetres, minimum on these is two.", "2", None),
        ("Fuel pressure at the rail inlet 3.1 bar, and the minimum for this engine is 4.5.", "4.5", None),
        ("Chain elongation 1.8%, throw away at 3.", None, "3"),
    ],
)
def test_a_limit_told_with_what_it_holds_for_bounds_the_reading_before_it(
    text: str, low: str | None, high: str | None
) -> None:
    ((status, reading),) = read(text, Measurement)
    assert isinstance(reading, Measurement)
    assert reading.limit is not None
    assert status == "sure"
    assert (reading.limit.min and str(reading.limit.min), reading.limit.max and str(reading.limit.max)) == (
        low,
        high,
    )


@pytest.mark.parametrize(
    "text",
    [
        "High side 90 psi, that's way off, low should be 20 to 35 psi.",
        "Tyre tread front right 4.6 mm, rears all above 7.",
        "Actuator resistance 1.9 megohms. Specification is 4 to 6 ohms.",
        "Amps at idle 12 A, maximum under load 20 A.",
    ],
)
def test_a_limit_that_may_not_be_this_readings_makes_it_one_to_check(text: str) -> None:
    assert [s for s, d in read(text, Measurement) if isinstance(d, Measurement) and d.limit] == ["check"]


def test_a_value_that_is_called_good_is_a_reading() -> None:
    ((status, reading),) = read("Coil 14.2 ohms is good.", Measurement)
    assert isinstance(reading, Measurement)
    assert (status, str(reading.value), reading.limit) == ("sure", "14.2", None)


def test_degrees_celsius_before_a_speed_are_no_code() -> None:
    assert read("Behind the cooler 180 °C, 1400 rpm.", FaultCode) == []


@pytest.mark.parametrize(
    "text",
    [
        "Removed propshaft, marked it.",
        "Pump pressure 130 bar, min 120, noise gone.",
        "Disc 41 mm, scrap at 37 mm.",
    ],
)
def test_what_was_done_or_gone_or_is_a_limit_is_no_failure(text: str) -> None:
    assert [d for _, d in read(text, Statement) if isinstance(d, Statement) and d.failure] == []


@pytest.mark.parametrize(
    "text",
    [
        "Spring brake is still caged.",
        "Castle nut is not pinned yet.",
        "Left the belly guard off until the bolt comes.",
    ],
)
def test_what_is_not_safe_to_drive_yet_is_a_loose_end(text: str) -> None:
    assert "loose_end" in [d.kind for _, d in read(text, Statement) if isinstance(d, Statement)]


def test_an_inspection_without_a_complaint_has_none() -> None:
    assert read("Inspection, no complaint reported.", Statement) == []

"""Statements told in one breath, without a stop between them: each keeps its own numbers and words."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said, sure

from jobnotes.record import FaultCode, Identity, LabourSaid, Measurement, Part, Step


@pytest.mark.parametrize(
    ("line", "bounds"),
    [
        ("air to gearbox i measure 7.9 bar minimum is 7 shoes and drum refitted", ("7", None, None)),
        ("end play is twenty two thou limit is five new pressure switch", (None, "5", None)),
        ("overheat sensor was 9.8 kilohms nominal 10 front shaft off as well", (None, None, "10")),
        ("pre load was eleven inch pounds limit's ten to twenty blade rubber is tired", ("10", "20", None)),
    ],
)
def test_a_limit_that_is_named_as_one_counts_nothing_that_is_named_behind_it(
    line: str, bounds: tuple[str | None, ...]
) -> None:
    (reading,) = details(line, Measurement)
    assert reading.limit is not None
    assert (reading.limit.min, reading.limit.max, reading.limit.nominal) == tuple(
        Decimal(b) if b else None for b in bounds
    )
    counts = [d.quantity for d in (*details(line, Part), *details(line, Step)) if d.quantity is not None]
    assert counts == []


@pytest.mark.parametrize(
    ("line", "count", "bolts"),
    [
        ("P0299 is active count two four bolts removed", 2, 4),
        ("P0299 is active count twenty four bolts removed", 24, None),
        ("P0299 is active count 24. Four bolts removed.", 24, 4),
    ],
)
def test_how_often_a_code_came_ends_before_how_many_of_what_is_named_next(
    line: str, count: int, bolts: int | None
) -> None:
    assert [d.count for d in details(line, FaultCode)] == [count]
    assert [d.quantity for d in details(line, Step)] == [bolts]


@pytest.mark.parametrize(
    ("line", "value", "status"),
    [
        ("job number nine nine zero two one oh yeah the lamp is on", "99021", "sure"),
        ("job number nine nine zero two one oh and i dropped a socket", "990210", "check"),
        ("job number nine nine zero two one oh", "990210", "sure"),
    ],
)
def test_an_oh_that_may_be_exclaimed_is_no_sure_nought(line: str, value: str, status: str) -> None:
    found = [(f.detail.value, f.status) for f in said(line) if isinstance(f.detail, Identity)]
    assert found == [(value, status)]


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        (
            "fluid gone through that labour actuator 3.1 hours diagnosis 0.8 hours",
            [("3.1", "actuator"), ("0.8", "diagnosis")],
        ),
        (
            "labour diagnosis one hour repair two point eight hours i looked under the cab",
            [("1", "diagnosis"), ("2.8", "repair")],
        ),
        ("five and a quarter hours all in owner says the body goes up slow", [("5.25", None)]),
        ("2.5 hours labour, the tank cap is missing", [("2.5", None)]),
        ("two hours twenty for the pump and i'm away", [("2.33", "pump")]),
        ("checked for codes there's none two hours ten on that job", [("2.17", None)]),
        ("labour 2.2 hours replaced the sensor", [("2.2", "replaced the sensor")]),
    ],
)
def test_hours_are_for_the_work_that_is_named_with_them_and_no_other_sentence(
    line: str, wanted: list[tuple[str, str | None]]
) -> None:
    assert [(str(d.hours), d.operation) for d in details(line, LabourSaid)] == wanted


@pytest.mark.parametrize(
    "line", ["back on at 12:15 new track rod end fitted", "stopped 14:20 bolts off", "10:45 bolts torqued"]
)
def test_the_minutes_of_a_printed_time_count_no_parts(line: str) -> None:
    counts = [d.quantity for d in (*details(line, Part), *details(line, Step))]
    assert counts == [None]


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("bolts torqued to like ten newton metres", "10"),
        ("low side, you know, is two point um three bar", "2.3"),
        ("the bolts are one hundred and um twenty newton metres", "120"),
    ],
)
def test_what_is_said_while_thinking_cuts_no_number(line: str, value: str) -> None:
    assert str(sure(line, Measurement).value) == value


@pytest.mark.parametrize(
    "line",
    [
        "oil pressure 3 er 4 bar",
        "oil pressure 3 bar er 4 bar",
        "low side is two point three you know five bar",
        "bolts thirty um eight newton metres",
    ],
)
def test_two_numbers_with_a_thought_between_are_shown_and_not_joined(line: str) -> None:
    found = [f for f in said(line) if isinstance(f.detail, Measurement)]
    assert found
    assert {f.status for f in found} == {"check"}


def test_a_job_number_may_be_told_with_thoughts_between() -> None:
    assert sure("job number four four um one seven", Identity).value == "4417"


def test_what_sounds_like_thinking_and_is_not_stays() -> None:
    (reading,) = details("gap is 50 um", Measurement)
    assert (reading.value, reading.unit) == (50, "um")
    (complaint,) = [f.detail for f in said("driver says it is something like the turbo, do you know")]
    assert "do you know" in str(complaint)
    assert "something like the turbo" in str(complaint)


@pytest.mark.parametrize(
    "line",
    ["crush sleeve, new. Job number 61431, wheel loader", "gasket new, job number 61431"],
)
def test_a_job_number_behind_a_new_part_is_not_its_number(line: str) -> None:
    assert [d.value for d in details(line, Identity)] == ["61431"]
    assert [d.number for d in details(line, Part)] == [None]


def test_a_time_that_the_vehicle_was_run_for_is_nobody_s_labour() -> None:
    assert (
        details("spun it twenty minutes on the rollers and it's sat at thirty degrees now", LabourSaid) == []
    )


@pytest.mark.parametrize(
    ("line", "subject"),
    [
        (
            "Gearbox is not back on. Now it is 24.1 volts at the left tail lamp plug.",
            "at the left tail lamp plug",
        ),
        ("Sump gasket is sweating. Two new nuts on it, nuts torqued to 180 newton metres.", "nuts"),
    ],
)
def test_it_is_what_was_spoken_of_before_only_where_the_reading_names_nothing(
    line: str, subject: str
) -> None:
    (reading,) = details(line, Measurement)
    assert reading.subject is not None
    assert reading.subject.endswith(subject)
    assert "earbox" not in reading.subject
    assert "gasket" not in reading.subject

"""labour_rates.csv and standard_times.csv: how an operation finds its row, and what is refused."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from office_files import office_of, refusal

from jobnotes.office.rates import LabourRates, Rate
from jobnotes.office.standard_times import StandardTime, StandardTimes

RATES = LabourRates(
    (
        Rate("*", Decimal(80)),
        Rate("diagnosis", Decimal(95)),
        Rate("air hose", Decimal(70)),
        Rate("hose", Decimal(60)),
        Rate("water pump", Decimal(90)),
    )
)


@pytest.mark.parametrize(
    ("operation", "row"),
    [
        ("diagnosis", "diagnosis"),
        ("Diagnosis", "diagnosis"),
        ("hose, air", "air hose"),
        ("replace the water pumps", "water pump"),
        # "air hose" says all that "hose" says
        ("left air hose", "air hose"),
        ("coolant hose", "hose"),
        ("time on the clock", "*"),
        ("labour", "*"),
        ("pump", "*"),
        ("", "*"),
    ],
)
def test_an_operation_finds_its_rate_by_its_words(operation: str, row: str) -> None:
    found = RATES.for_operation(operation)
    assert found is not None
    assert found.operation == row


@pytest.mark.parametrize("operation", ["water pump and air hose", "diagnosis of the hose"])
def test_between_two_rates_none_is_chosen_not_even_that_of_any_other(operation: str) -> None:
    assert RATES.for_operation(operation) is None
    assert len(RATES.candidates(operation)) > 1


def test_without_a_row_for_any_other_an_unknown_operation_has_no_rate() -> None:
    rates = LabourRates((Rate("diagnosis", Decimal(95)),))
    assert rates.for_operation("water pump") is None
    assert rates.candidates("water pump") == ()


def test_standard_hours_are_found_by_words_or_by_the_code() -> None:
    times = StandardTimes(
        (StandardTime("water pump", Decimal("1.8"), "W-10"), StandardTime("drive belt", Decimal("0.5")))
    )
    assert times.hours_for("replace water pump") == Decimal("1.8")
    assert times.hours_for("w10") == Decimal("1.8")
    assert times.hours_for("drive belts") == Decimal("0.5")
    assert times.hours_for("water pump, drive belt") is None
    assert times.hours_for("belt") is None
    assert times.hours_for("labour") is None


def test_the_tables_are_read_from_their_files(tmp_path: Path) -> None:
    office = office_of(
        tmp_path,
        labour_rates="operation;rate;tax\ndiagnosis;92,50;low\n*;84;\n",
        standard_times="operation,hours,code\ndiagnosis,1.0,D10\n",
    )
    assert office.rates == LabourRates((Rate("diagnosis", Decimal("92.50"), "low"), Rate("*", Decimal(84))))
    assert office.standard_times == StandardTimes((StandardTime("diagnosis", Decimal("1.0"), "D10"),))
    assert office.prices is None


def test_standard_times_need_no_workshop_file(tmp_path: Path) -> None:
    office = office_of(tmp_path, None, standard_times="operation,hours\ndiagnosis,1\n")
    assert office.workshop is None
    assert office.standard_times is not None
    assert office.standard_times.hours_for("diagnosis") == 1


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("labour_rates", "operation,rate\n,80\n", "line 2: names no operation; write it, or *"),
        ("labour_rates", "operation,rate\nfit,\n", "line 2: fit has no rate; write it"),
        ("labour_rates", "operation,rate\nfit,0\n", "line 2: the rate of fit is 0; write it"),
        ("labour_rates", "operation,rate\nfit,-8\n", "line 2: rate is -8; write a number that is not neg"),
        ("labour_rates", "operation,rate\n*,8\n*,9\n", "line 3: * stands there twice; keep the row"),
        ("labour_rates", "operation,rate\nfit hose,8\nhose fit,9\n", "line 3: hose fit stands there twice"),
        ("labour_rates", "operation,rate,tax\nfit,8,high\n", "line 2: unknown tax 'high'; name one of"),
        ("labour_rates", "operation\nfit\n", "line 1: there is no column 'rate'"),
        ("standard_times", "operation,hours\n…,1\n", "line 2: names no operation; write it, or take"),
        ("standard_times", "operation,hours\nfit,\n", "line 2: fit has no hours; write it"),
        ("standard_times", "operation,hours\nfit,1h\n", "line 2: hours '1h' is not a number"),
        ("standard_times", "operation,hours\nfit,1\nFit,2\n", "line 3: Fit stands there twice"),
        ("standard_times", "operation,hours,code\na,1,X 1\nb,1,x1\n", "line 3: code x1 stands there twice"),
    ],
)
def test_a_table_that_is_wrong_is_refused_with_its_line(
    name: str, text: str, said: str, tmp_path: Path
) -> None:
    assert refusal(tmp_path, **{name: text}).startswith(f"{name}.csv, {said}")

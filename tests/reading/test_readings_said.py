"""Readings: value, unit, test point, conditions and limit, in the forms in which they are said."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, one, said, sure

from jobnotes.reading.read import read_text
from jobnotes.record import Limit, Measurement, Part


@pytest.mark.parametrize(
    ("text", "value", "unit", "quantity"),
    [
        ("sixty point two ohms at the plug", "60.2", "Ohm", "resistance"),
        ("resistance 60.2ohms", "60.2", "Ohm", "resistance"),
        ("oh point four volts on the ground", "0.4", "V", "voltage"),
        ("battery voltage twenty-four six", "24.6", "V", "voltage"),
        ("a hundred and twenty ohms across CAN high and low", "120", "Ohm", "resistance"),
        ("coolant temperature minus five degrees", "-5", "Cel", "temperature"),
        ("torqued to eleven newton metres", "11", "N.m", "torque"),
        ("torqued to eighty foot pounds", "80", "[ft_i].[lbf_av]", "torque"),
        ("CAN high to ground two and a half volts", "2.5", "V", "voltage"),
        ("pressure twelve hundred kilopascals", "1200", "kPa", "pressure"),
        ("boost is one point four bar", "1.4", "bar", "pressure"),
        ("idle speed 650 rpm", "650", "/min", "rotational speed"),
        ("insulation 14 meg ohms", "14", "MOhm", "resistance"),
        ("the belt gap is 3 mm", "3", "mm", "length"),
        ("fuel pressure 58 psi", "58", "[psi]", "pressure"),
        ("exhaust temperature five hundred and fifty degrees celsius", "550", "Cel", "temperature"),
        ("draws two hundred and ten amps", "210", "A", "current"),
        ("signal frequency 125 hertz", "125", "Hz", "frequency"),
        ("brake balance 12 percent", "12", "%", "ratio"),
        ("the supply is 24V", "24", "V", "voltage"),
    ],
)
def test_a_reading_has_the_value_and_unit_that_were_said(
    text: str, value: str, unit: str, quantity: str
) -> None:
    found = sure(text, Measurement)
    assert (str(found.value), found.unit, found.quantity) == (value, unit, quantity)


@pytest.mark.parametrize(
    ("heard", "value", "unit"),
    [
        ("the sensor reads 14 megones", "14", "MOhm"),
        ("torqued to 110 newton mattress", "110", "N.m"),
        ("it reads sixty homes", "60", "Ohm"),
    ],
)
def test_a_misheard_unit_comes_right_and_the_repair_is_recorded(heard: str, value: str, unit: str) -> None:
    fact, found = one(heard, Measurement)
    assert (str(found.value), found.unit) == (value, unit)
    assert fact.repairs


@pytest.mark.parametrize(
    ("heard", "value"),
    [("won point two ohms", "1.2"), ("it reads to point four volts", "2.4"), ("for point one bar", "4.1")],
)
def test_a_homophone_in_a_value_is_for_checking(heard: str, value: str) -> None:
    fact, found = one(heard, Measurement)
    assert (str(found.value), fact.status) == (value, "check")


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("sixty point two ohms at the plug", "plug"),
        ("left rear 2.1 ohms", "left rear"),
        ("right rear 1.2 ohms", "right rear"),
        ("the right hand lamp reads 24.1 volts", "right hand lamp"),
        ("24.1 volts on the right", "right"),
        ("right, the supply is 24.1 volts", "supply"),
        ("oil pressure is 3.5 bar", "oil pressure"),
        ("between pin 1 and pin 2 I get 120 ohms", "pin 1"),
        ("120 ohms between pin 1 and pin 2", "pin 1 and pin 2"),
    ],
)
def test_a_reading_names_its_test_point(text: str, subject: str) -> None:
    (found,) = details(text, Measurement)
    assert subject in str(found.subject)


@pytest.mark.parametrize(
    ("text", "condition"),
    [
        ("ignition off, sixty ohms across the CAN pair", "ignition off"),
        ("28.1 volts with the engine running", "engine running"),
        ("at fifteen hundred rpm oil pressure is 3.5 bar", "1500"),
        ("oil pressure is 3.5 bar at 1500 rpm", "1500"),
        ("cold, it reads 4.2 kilo ohms", "cold"),
        ("4.2 kilo ohms cold", "cold"),
    ],
)
def test_a_reading_keeps_its_conditions(text: str, condition: str) -> None:
    (found,) = details(text, Measurement)
    assert any(condition in c for c in found.conditions), found.conditions


@pytest.mark.parametrize(
    ("text", "subject", "value", "when"),
    [
        (
            "Leak test, pressure drop in ten minutes, 1.1 bar, limit 0.2",
            "pressure drop",
            "1.1",
            ("in 10 min",),
        ),
        (
            "Leak test again. Pressure drop in 10 minutes, 1.1 bar, limit 0.2.",
            "Pressure drop",
            "1.1",
            ("in 10 min",),
        ),
        (
            "engine off, rear circuit, pressure drop over three minutes is 0.5 bar, maximum 0.2",
            "rear circuit pressure drop",
            "0.5",
            ("engine off", "over 3 min"),
        ),
        (
            "rear circuit dropped in three minutes about 0.5 bar, no more than 0.2",
            "rear circuit",
            "0.5",
            ("in 3 min",),
        ),
    ],
)
def test_what_was_lost_in_a_time_that_is_said_first_is_one_reading(
    text: str, subject: str, value: str, when: tuple[str, ...]
) -> None:
    (found,) = details(text, Measurement)
    assert (found.subject, str(found.value), found.unit, found.conditions) == (subject, value, "bar", when)
    assert (str(found.limit.max), found.verdict) == ("0.2", "outside")
    assert details(text, Part) == []


def test_that_time_is_no_condition_of_the_reading_before_it() -> None:
    text = "supply 24.1 volts, pressure drop in two minutes is 0.2 bar, limit 0.1"
    supply, drop = details(text, Measurement)
    assert (supply.conditions, drop.conditions) == ((), ("in 2 min",))


def test_the_time_that_something_took_to_build_up_stays_a_reading() -> None:
    time, *_ = details("pressure built up in nine minutes, 8.2 bar", Measurement)
    assert (str(time.value), time.unit) == ("9", "min")


@pytest.mark.parametrize(
    ("limit", "wanted"),
    [
        ("should be 60", Limit(nominal=Decimal(60), source="said")),
        ("should be between 55 and 65", Limit(min=Decimal(55), max=Decimal(65), source="said")),
        ("spec is 55 to 65", Limit(min=Decimal(55), max=Decimal(65), source="said")),
        ("limit 65", Limit(max=Decimal(65), source="said")),
        ("maximum 65", Limit(max=Decimal(65), source="said")),
        ("no more than 65", Limit(max=Decimal(65), source="said")),
        ("65 max", Limit(max=Decimal(65), source="said")),
        ("at least 55", Limit(min=Decimal(55), source="said")),
        ("minimum 55", Limit(min=Decimal(55), source="said")),
        ("no less than fifty-five", Limit(min=Decimal(55), source="said")),
        ("60 plus or minus 5", Limit(min=Decimal(55), max=Decimal(65), nominal=Decimal(60), source="said")),
        (
            "spec is sixty plus or minus five",
            Limit(min=Decimal(55), max=Decimal(65), nominal=Decimal(60), source="said"),
        ),
        ("should be fifty-five to sixty-five ohms", Limit(min=Decimal(55), max=Decimal(65), source="said")),
    ],
)
@pytest.mark.parametrize(
    "reading", ["60.2 ohms, {}", "it reads sixty point two ohms, {}", "I measured 60.2 ohms. {}"]
)
def test_a_limit_in_all_the_ways_it_is_said(reading: str, limit: str, wanted: Limit) -> None:
    (found,) = details(reading.format(limit), Measurement)
    assert str(found.value) == "60.2"
    assert found.limit == wanted


def test_a_limit_said_first_belongs_to_the_reading_after_it() -> None:
    found = sure("it should be between ten and fourteen ohms, I get 12.2 ohms", Measurement)
    assert (str(found.value), found.limit) == ("12.2", Limit(min=Decimal(10), max=Decimal(14), source="said"))


@pytest.mark.parametrize(
    "text",
    [
        "left rear two point one, right rear one point two kilo ohms",
        "left rear 2.1, right rear 1.2 kilo ohms",
        "left rear 2.1 kilo ohms, right rear 1.2",
    ],
)
def test_a_series_shares_the_unit_that_is_said_once(text: str) -> None:
    found = details(text, Measurement)
    assert [(str(m.value), m.unit) for m in found] == [("2.1", "kOhm"), ("1.2", "kOhm")]
    assert [str(m.subject) for m in found] == ["left rear", "right rear"]


def test_a_series_of_four_keeps_each_side() -> None:
    text = "left front 8.1, right front 8.2, left rear 7.9, right rear 7.8 bar"
    found = [(m.subject, str(m.value)) for m in details(text, Measurement)]
    assert found == [
        ("left front", "8.1"),
        ("right front", "8.2"),
        ("left rear", "7.9"),
        ("right rear", "7.8"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "cylinder one 28, cylinder two 27, cylinder three 19 bar",
        "cylinder one twenty-eight, cylinder two twenty-seven, cylinder three nineteen bar",
        "cylinder 1 28 bar, cylinder 2 27 bar, cylinder 3 19 bar",
    ],
)
def test_a_numbered_test_point_is_not_run_into_its_value(text: str) -> None:
    assert [str(m.value) for m in details(text, Measurement)] == ["28", "27", "19"]


@pytest.mark.parametrize("joint", [", ", ". ", "\n"])
@pytest.mark.parametrize("again", ["same again on the right", "same on the right"])
def test_same_again_on_the_right_is_a_second_reading(joint: str, again: str) -> None:
    found = details(f"left rear one hundred and ten ohms{joint}{again}", Measurement)
    assert [(str(m.value), m.unit) for m in found] == [("110", "Ohm"), ("110", "Ohm")]
    assert "right" in str(found[1].subject)


def test_before_and_after_are_two_readings() -> None:
    text = "before, supply was 21.3 volts. after, supply is 24.4 volts"
    assert [str(m.value) for m in details(text, Measurement)] == ["21.3", "24.4"]


@pytest.mark.parametrize(
    "text", ["coil resistance ten to fourteen ohms", "ten to fourteen ohms is what it should be"]
)
def test_a_range_alone_is_never_a_sure_reading(text: str) -> None:
    assert not [f for f in said(text) if isinstance(f.detail, Measurement) and f.status == "sure"]


@pytest.mark.parametrize(
    "text", ["a twelve volt supply", "fitted a 24 volt relay", "the ten amp fuse", "a 10 mm spanner"]
)
def test_a_rating_is_no_reading(text: str) -> None:
    assert not details(text, Measurement)


@pytest.mark.parametrize(("value", "verdict"), [("8", "within"), ("8.7", "outside"), ("7.2", "outside")])
@pytest.mark.parametrize(
    "limits",
    [
        "max is 8.5 min is 7.5",
        "max 8.5, min 7.5",
        "minimum 7.5, maximum 8.5",
        "at least 7.5 and no more than 8.5",
        "maximum 8.5, minimum 7.5",
    ],
)
def test_a_maximum_and_a_minimum_said_apart_both_count(limits: str, value: str, verdict: str) -> None:
    (found,) = details(f"air pressure {value} bar, {limits}", Measurement)
    assert found.limit == Limit(min=Decimal("7.5"), max=Decimal("8.5"), source="said")
    assert found.verdict == verdict


@pytest.mark.parametrize(
    "text",
    [
        "brake pads are at 4 mm, limit is 3",
        "tread depth 5 mm, limit 3 mm",
        "lining thickness 6 mm, wear limit 5 mm",
    ],
)
def test_the_limit_of_what_wears_thin_is_not_taken_for_a_maximum(text: str) -> None:
    """Friction linings and treads have a least thickness: common practice, no source."""
    fact, found = one(text, Measurement)
    assert found.verdict == "within" or fact.status == "check"


def test_a_numbered_battery_is_not_run_into_its_voltage() -> None:
    found = details("battery one 12.4 battery two 12.6 volts", Measurement)
    assert [str(m.value) for m in found] == ["12.4", "12.6"]


@pytest.mark.parametrize(
    "text",
    [
        "torque 45 newton metres then 90 degrees",
        "45 newton metres plus 90 degrees",
    ],
)
def test_degrees_after_a_torque_are_no_temperature(text: str) -> None:
    found = [f for f in said(text) if isinstance(f.detail, Measurement) and f.detail.unit == "Cel"]
    assert not [f for f in found if f.status == "sure"]


@pytest.mark.parametrize(
    "text", ["temps 62 64 61 degrees", "drum temperatures sixty two sixty four sixty one degrees"]
)
def test_several_values_in_a_row_are_never_one_sure_number(text: str) -> None:
    assert (
        all(m.value < 100 for m in details(text, Measurement)) or one(text, Measurement)[0].status == "check"
    )


def test_what_is_not_plausible_is_for_checking() -> None:
    assert one("battery voltage 246 volts", Measurement)[0].status == "check"


@pytest.mark.parametrize(
    "text",
    [
        "Ignition off, resistance between can high and can low. 60.2 ohms, should be 60.",
        "Ignition off. Resistance between can high and can low, 60.2 ohms, should be 60.",
        "ignition off resistance between can high and can low 60.2 ohms should be 60",
    ],
)
def test_a_condition_that_a_full_stop_parts_from_its_value_is_the_values_own(text: str) -> None:
    (reading,) = (f.detail for f in read_text(text) if isinstance(f.detail, Measurement))
    assert reading.conditions == ("ignition off",)
    assert "ignition" not in (reading.subject or "").casefold()


def test_a_test_point_and_condition_before_a_full_stop_belong_to_the_value_after_it() -> None:
    text = "Ignition on, supply at the sensor plug. 2.9 volts, minimum 4.8."
    (reading,) = (f.detail for f in read_text(text) if isinstance(f.detail, Measurement))
    assert (reading.subject, reading.conditions) == ("supply at the sensor plug", ("ignition on",))


def test_after_the_repair_as_a_sentence_of_its_own_heads_all_the_readings_that_follow() -> None:
    text = (
        "Air pressure 8.4 bar. After the repair. Ignition on, supply at the plug 4.9 volts. Leak test again. "
        "Pressure drop in ten minutes, 0.1 bar. {}Ride height 291 millimetres."
    )
    told = details(text.format(""), Measurement)
    assert ["after repair" in m.conditions for m in told] == [False, True, True, True]
    told = details(text.format("Before the repair. "), Measurement)
    assert ["after repair" in m.conditions for m in told] == [False, True, True, False]


def test_after_the_repair_within_a_sentence_is_of_that_reading_alone() -> None:
    told = details("Oil pressure after the repair 4 bar. Boost 1.2 bar.", Measurement)
    assert ["after repair" in m.conditions for m in told] == [True, False]

"""Lists that go on, things told by where they are now, and what was timed: ordinary speech (common practice,
no source)."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import Measurement, Part, Statement, Step


def done(text: str) -> list[str]:
    """Parts and steps that stand, in order, as "fitted 2 clamps"."""
    found = []
    for fact in said(text):
        if not isinstance(fact.detail, Part | Step):
            continue
        name = fact.detail.name if isinstance(fact.detail, Part) else fact.detail.object
        told = (fact.detail.action, fact.detail.quantity, fact.detail.unit, name.casefold())
        found.append(" ".join(str(t) for t in told if t is not None))
    return found


def sure(text: str) -> bool:
    return all(f.status == "sure" for f in said(text) if isinstance(f.detail, Part | Step))


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Fitted 4 gaskets and 2 clamps, not reused.", ["fitted 4 gaskets", "fitted 2 clamps"]),
        ("Fitted 4 gaskets and 2 clamps, all new.", ["fitted 4 gaskets", "fitted 2 clamps"]),
        ("New check valve and two bonded washers.", ["fitted check valve", "fitted 2 bonded washers"]),
        ("Fitted two bonded washers.", ["fitted 2 bonded washers"]),
        (
            "New discharge pipe, new cartridge, 2 copper washers.",
            ["fitted discharge pipe", "fitted cartridge", "fitted 2 copper washers"],
        ),
        (
            "So I put in a new length of pipe, a waterproof box and 6 crimps.",
            ["fitted length of pipe", "fitted waterproof box", "fitted 6 crimps"],
        ),
        (
            "Reman alternator, 110 amp, number LX 4409-22.",
            ["fitted reman alternator"],
        ),
        ("Pressed a new bush in each side.", ["fitted 2 bush"]),
        ("Indicator bulb out, put a bulb in.", ["removed indicator bulb", "fitted bulb"]),
        (
            "Put a new clutch on and the old blade went on the new clutch.",
            ["fitted clutch", "reused blade"],
        ),
    ],
)
def test_a_list_of_parts_is_read_to_its_end_and_nothing_is_made_of_what_only_describes(
    text: str, expected: list[str]
) -> None:
    assert done(text) == expected
    assert sure(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Drain plug out, pan off.", ["removed drain plug", "removed pan"]),
        ("Top cover off.", ["removed top cover"]),
        ("Three wires off the back.", ["disconnected 3 wires"]),
        ("Oil out, nine litres.", ["drained 9 L oil"]),
        ("11 litres of ATF in at 40 degrees.", ["consumed 11 L atf", "filled 11 L atf"]),
        ("Then it all went back, coolant back in, six litres.", ["filled 6 L coolant"]),
        ("Pipe went back on.", ["refitted pipe"]),
        ("Knocked the pin out.", ["removed pin"]),
        ("Shaft's down off the lorry.", ["removed shaft"]),
        ("Took off the cross over pipe.", ["removed cross over pipe"]),
    ],
)
def test_where_a_thing_is_now_tells_once_what_was_done_to_it(text: str, expected: list[str]) -> None:
    assert done(text) == expected
    assert sure(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("Rear cover back on, silicone round it.", ["refitted rear cover", "consumed silicone"]),
        ("Pipe back on and three litres of hydraulic oil.", ["refitted pipe", "consumed 3 L hydraulic oil"]),
        ("Grease, two hundred grams.", ["consumed 200 g grease"]),
        ("Greased the whole linkage, one tube.", ["lubricated linkage"]),
    ],
)
def test_what_is_used_up_is_told_with_what_it_went_on(text: str, expected: list[str]) -> None:
    assert done(text) == expected
    assert not details(text, Measurement)


def test_what_a_pronoun_stands_for_is_not_what_the_next_verb_fitted() -> None:
    assert done("So I cut it out and put in a new hose.") == ["fitted hose"]


def test_what_a_new_one_is_like_is_for_a_person_to_say_where_two_things_came_off() -> None:
    facts = [f for f in said("Took off the pipe and the valve. I'm fitting a new one.") if f.kind == "part"]
    assert [f.status for f in facts] == ["check"]
    assert "is it the pipe or the valve?" in (facts[0].why or "")


def test_how_many_a_bare_number_counts_is_for_a_person_to_say_where_the_thing_is_told_for_one() -> None:
    facts = [f for f in said("New hose, inch bore, two wire, with two new o rings.") if f.kind == "part"]
    assert {f.detail.name: f.status for f in facts if isinstance(f.detail, Part)}["wire"] == "check"


@pytest.mark.parametrize(
    ("text", "subject", "value", "unit", "limit", "verdict"),
    [
        (
            "From 0 to 7 bar at 1500 rpm, 11 minutes 20. Should be under 6.",
            "0 to 7 bar",
            "11.33",
            "min",
            "6",
            "outside",
        ),
        ("0 to 8 bar in 2 minutes 30.", "0 to 8 bar", "2.50", "min", None, "no limit given"),
        ("0 to 7 bar, 1500 rpm, 4 minutes 50.", "0 to 7 bar", "4.83", "min", None, "no limit given"),
        (
            "Build time 85 to 100 psi took 71 seconds.",
            "Build time 85 to 100 psi",
            "71",
            "s",
            None,
            "no limit given",
        ),
    ],
)
def test_the_time_of_a_rise_is_the_reading_and_a_limit_in_minutes_is_its_own(
    text: str, subject: str, value: str, unit: str, limit: str | None, verdict: str
) -> None:
    (reading,) = details(text, Measurement)
    assert (reading.subject, str(reading.value), reading.unit) == (subject, value, unit)
    assert str(reading.limit.max) == limit if limit else reading.limit is None
    assert reading.verdict == verdict


@pytest.mark.parametrize(
    ("text", "subject", "value"),
    [
        ("Cover back on, bolts up to 85 newton metres.", "bolts", "85"),
        ("Bolted it up to twenty five newton metres.", "bolted", "25"),
    ],
)
def test_what_bolts_are_pulled_up_to_is_a_reading_and_no_limit(text: str, subject: str, value: str) -> None:
    (reading,) = details(text, Measurement)
    assert (reading.subject or "").casefold() == subject
    assert (str(reading.value), reading.limit) == (value, None)


@pytest.mark.parametrize(
    "text",
    ["Cuts out at 8.6 bar.", "Pulled the shroud off in two halves.", "Let in half a metre of cable."],
)
def test_how_a_thing_works_or_comes_apart_is_neither_complaint_nor_finding(text: str) -> None:
    assert details(text, Statement) == []


def test_what_broke_in_two_is_still_found() -> None:
    (finding,) = details("The bracket's in two.", Statement)
    assert (finding.kind, finding.failure) == ("finding", "broken")

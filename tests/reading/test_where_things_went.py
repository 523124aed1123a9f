"""Take-apart and put-back told by where a thing is, in lists, and with its amount or number after it."""

from __future__ import annotations

import pytest
from reading_forms import details

from jobnotes.record import Measurement, Step


def done(text: str) -> list[tuple[str, str]]:
    return [(s.action, s.object.casefold()) for s in details(text, Step)]


@pytest.mark.parametrize(
    ("text", "step"),
    [
        ("rocker cover off\nrocker cover back on bolts are ten newton metres", ("refitted", "rocker cover")),
        ("shaft's down off the lorry", ("removed", "shaft")),
        ("propshaft out\npropshaft back up in line with the marks", ("refitted", "propshaft")),
        ("harness back in the trunking and a new fuse", ("refitted", "harness")),
        ("Hose back on at 14:20", ("refitted", "hose")),
        ("Batteries isolated, cables off the alternator, alternator out.", ("removed", "cables")),
        ("left side panel off where's that clip", ("removed", "left side panel")),
        ("undid two screws and away came the actuator", ("removed", "actuator")),
        ("scraped the housing clean and put it back", ("cleaned", "housing")),
    ],
)
def test_where_a_thing_went_tells_what_was_done(text: str, step: tuple[str, str]) -> None:
    assert step in done(text)


def test_a_thing_that_something_failed_on_did_not_come_off() -> None:
    assert ("removed", "hose") not in done("hose off the turbo is split")


def test_the_last_of_a_list_counts_though_no_lexicon_knows_it() -> None:
    assert done("Removed the lock bar, the jaw and the thrust gubbin.")[-1] == ("removed", "thrust gubbin")


def test_how_many_went_back_may_be_told_last() -> None:
    (step,) = details("Hoses back on, all six.", Step)
    assert (step.action, step.object, str(step.quantity)) == ("refitted", "Hoses", "6")


def test_an_amount_may_be_told_after_what_was_drained() -> None:
    (step,) = details("so I drained the coolant that was about eighteen litres", Step)
    assert (step.action, str(step.quantity), step.unit) == ("drained", "18", "L")


def test_a_torque_after_a_thing_that_went_back_is_of_the_bolts_between() -> None:
    text = "gearbox and prop shaft refitted flange bolts eighty five newton metres"
    assert {("refitted", "gearbox"), ("refitted", "prop shaft")} <= set(done(text))
    (torque,) = details(text, Measurement)
    assert (torque.subject, str(torque.value)) == ("flange bolts", "85")


@pytest.mark.parametrize(
    ("line", "action", "thing"),
    [
        ("dropped the oil cooler", "removed", "oil cooler"),
        ("dropped the hydraulic oil", "drained", "hydraulic oil"),
        ("dropped the coolant and greased the hub", "drained", "coolant"),
        ("let the coolant out", "drained", "coolant"),
        ("put the coolant back in", "filled", "coolant"),
        ("pulled the plug off the alternator", "disconnected", "alternator plug"),
        ("plug back on the speed sensor", "reconnected", "speed sensor plug"),
        ("pulled the plug off", "disconnected", "plug"),
        ("dropped a socket down by the starter", "lost", "socket"),
        ("dropped the plug", "disconnected", "plug"),
    ],
)
def test_what_was_dropped_let_out_or_plugged_is_named_with_what_it_is(
    line: str, action: str, thing: str
) -> None:
    assert (details(line, Step)[0].action, details(line, Step)[0].object) == (action, thing)

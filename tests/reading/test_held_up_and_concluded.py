"""What only holds something or was only believed, what the work waits for, what is concluded in two steps."""

from __future__ import annotations

import pytest
from reading_forms import details, one, said, sure

from jobnotes.record import Clock, Identity, Measurement, Part, Statement, Step


@pytest.mark.parametrize(
    "line",
    [
        "put a sling on it before I undid the last bolt",
        "new drain hose with rubber",
        "wash it with brake cleaner no I'm changing it",
    ],
)
def test_what_may_only_hold_or_be_made_with_is_for_a_person(line: str) -> None:
    drawn = [f for f in said(line) if isinstance(f.detail, Part) and f.detail.condition != "new"]
    assert drawn
    assert all(f.status == "check" for f in drawn)


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("put a new chain on it", "chain"),
        ("fitted a hose with rubber boots", "rubber boots"),
        ("cleaned it with brake cleaner, no leaks now", "brake cleaner"),
    ],
)
def test_a_new_chain_and_whole_things_with_a_part_stay_sure(line: str, name: str) -> None:
    assert name in [f.detail.name for f in said(line) if isinstance(f.detail, Part) and f.status == "sure"]


def test_what_is_there_and_what_is_left_of_it_is_no_part() -> None:
    assert not details("there's a patch on the pipe with tape, three strands left in the cable", Part)


def test_what_another_reckons_casts_doubt_on_the_work_told_with_it() -> None:
    fact, step = one("foreman reckons it's the wastegate but I freed that off and it moves", Step)
    assert step.object == "wastegate"
    assert fact.status == "check"


def test_bearings_that_were_heard_as_rings_are_bearings() -> None:
    part = sure("replaced both hub bear rings", Part)
    assert part.name == "hub bearings"
    assert part.quantity == 2


@pytest.mark.parametrize("line", ["alternator belt's still on", "the guard is still fitted"])
def test_a_thing_that_is_where_it_belongs_is_no_loose_end(line: str) -> None:
    assert not details(line, Statement)


@pytest.mark.parametrize("line", ["guard's still off", "gauge is still on", "clamps are still on the hoses"])
def test_what_is_off_or_was_only_lent_is_one(line: str) -> None:
    assert [s.kind for s in details(line, Statement)] == ["loose_end"]


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("I think it is not the module, it has 24.3 volts.", "24.3"),
        ("i reckon it's not the sender it reads 180 ohms", "180"),
        ("I don't think it's the alternator, it's charging at 28.1 volts", "28.1"),
    ],
)
def test_a_value_beside_what_is_only_believed_was_read(line: str, value: str) -> None:
    assert str(sure(line, Measurement).value) == value
    assert not [s for s in details(line, Statement) if s.kind in ("finding", "cause")]


def test_a_value_that_is_only_supposed_is_not_read() -> None:
    assert not details("if it has 24 volts I'll swap the relay", Measurement)


@pytest.mark.parametrize(
    ("line", "reason"),
    [
        ("Clock paused, I have to move a trailer.", "move a trailer"),
        ("Awaiting a seal kit, job paused.", "Awaiting a seal kit"),
        ("Waiting for parts from ten, the liners are on order.", "parts"),
        ("waiting for parks", "parts"),
    ],
)
def test_a_pause_tells_what_is_waited_for(line: str, reason: str) -> None:
    assert reason in (details(line, Clock)[0].reason or "")


def test_a_pause_of_which_no_more_is_said_has_no_reason() -> None:
    assert details("Clock paused.", Clock)[0].reason is None


def test_an_exchange_unit_with_a_spelled_number_is_no_vehicle() -> None:
    line = "in goes an exchange unit, kilo 3 3 zero 7 alfa."
    _, part = one(line, Part)
    assert (part.number, part.quantity) == ("K3307A", None)
    assert not details(line, Identity)


@pytest.mark.parametrize(
    ("line", "failure"),
    [("so it's the pump, it's worn", "worn"), ("So it's the hose. It's cracked.", "cracked")],
)
def test_a_cause_and_how_it_failed_may_come_in_two_steps(line: str, failure: str) -> None:
    found = sure(line, Statement)
    assert (found.kind, found.failure) == ("cause", failure)


@pytest.mark.parametrize(
    "line", ["so it's the relay, it's not seized", "so it's the compressor, it's drawing 40 amps"]
)
def test_what_follows_a_suspect_may_tell_no_failure(line: str) -> None:
    assert [f.status for f in said(line) if f.kind == "cause"] == ["check"]


@pytest.mark.parametrize(
    "line",
    [
        "started 7:45 finished 12:30 half an hour lunch",
        "started at quarter to eight, finished half twelve, twenty minutes for breakfast",
    ],
)
def test_bare_times_tell_start_stop_and_the_meal_between(line: str) -> None:
    assert {c.action for c in details(line, Clock)} == {"start", "stop", "pause"}


def test_at_it_since_a_time_starts_the_clock() -> None:
    assert [c.action for c in details("and I've been at it since 7:10", Clock)] == ["start"]


@pytest.mark.parametrize(
    "line", ["he's been at it since 7:10", "the noise started 8:15", "half an hour lunch"]
)
def test_times_of_others_and_meals_alone_are_no_clock(line: str) -> None:
    assert not [c for c in details(line, Clock) if c.action != "pause" or "lunch" not in line]

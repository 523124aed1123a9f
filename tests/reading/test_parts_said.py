"""Parts fitted, removed, re-used, ordered, consumed; take-apart and put-back; pronouns."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from reading_forms import details, one, said, sure

from jobnotes.record import Part, Step


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("fitted two new clamps", {"action": "fitted", "name": "clamps", "quantity": 2, "condition": "new"}),
        ("fitted a new seal", {"action": "fitted", "name": "seal", "condition": "new"}),
        ("fitted a secondhand alternator", {"action": "fitted", "name": "alternator", "condition": "used"}),
        ("installed a pair of seals", {"action": "fitted", "name": "seals", "quantity": 2}),
        ("replaced all four injectors", {"action": "fitted", "name": "injectors", "quantity": 4}),
        ("I replaced the thermostat", {"action": "fitted", "name": "thermostat"}),
        ("swapped the relay", {"action": "fitted", "name": "relay"}),
        ("the water pump has been replaced", {"action": "fitted", "name": "water pump"}),
        ("new gasket fitted", {"action": "fitted", "name": "gasket", "condition": "new"}),
        ("re-used the old bracket", {"action": "reused", "name": "bracket"}),
        ("reusing the fittings", {"action": "reused", "name": "fittings"}),
        ("moved the bracket over from the old pump", {"action": "reused", "name": "bracket"}),
        ("ordered two brake pads", {"action": "ordered", "name": "brake pads", "quantity": 2}),
        ("new alternator is on order", {"action": "ordered", "name": "alternator"}),
        ("used one tube of sealant", {"action": "consumed", "quantity": 1}),
        (
            "used half a litre of coolant",
            {"action": "consumed", "name": "coolant", "quantity": Decimal("0.5"), "unit": "L"},
        ),
        ("used six cable ties", {"action": "consumed", "name": "cable ties", "quantity": 6}),
        ("fitted a dozen cable ties", {"name": "cable ties", "quantity": 12}),
    ],
)
def test_a_part_and_what_became_of_it(text: str, wanted: dict[str, Any]) -> None:
    found = sure(text, Part)
    assert {k: getattr(found, k) for k in wanted} == wanted


@pytest.mark.parametrize(
    ("text", "key", "value"),
    [
        ("fitted a new NOx sensor part number alfa four two seven double one bravo", "number", "A42711B"),
        ("fitted a new pump, part number 4172 540 03", "number", "417254003"),
        ("fitted a new pump part number four one seven two five four oh oh three", "number", "417254003"),
        ("fitted a new pump, number 0042-11B", "number", "0042-11B"),
        ("fitted a new pump, part number zero zero four two", "number", "0042"),
        ("fitted a new alternator serial number A B 1 2 3", "serial", "AB123"),
        ("fitted a new alternator, serial number oh one double seven", "serial", "0177"),
    ],
)
def test_part_and_serial_numbers_keep_every_character(text: str, key: str, value: str) -> None:
    assert getattr(sure(text, Part), key).replace("-", "") == value.replace("-", "")


@pytest.mark.parametrize("text", ["fitted two new clamps", "fitted 2 new clamps"])
def test_pieces_in_words_and_digits_are_the_same(text: str) -> None:
    assert sure(text, Part).quantity == 2


def test_fit_it_to_new_clamps_is_the_same_speech_and_for_checking() -> None:
    fact, found = one("fit it to new clamps", Part)
    assert (found.action, found.quantity, found.condition) == ("fitted", 2, "new")
    assert fact.status == "check"
    assert fact.repairs


def test_removed_and_replaced_with_a_new_one_is_both() -> None:
    text = "removed the compressor and replaced it with a new one"
    assert [(p.action, p.name) for p in details(text, Part) if p.action == "fitted"] == [
        ("fitted", "compressor")
    ]


def test_a_new_one_is_of_the_thing_that_came_off() -> None:
    text = "removed the old alternator serial number 8841 and fitted a new one"
    fitted = [p for p in details(text, Part) if p.action == "fitted"]
    assert [(p.name, p.condition) for p in fitted] == [("alternator", "new")]


# --- take-apart and put-back --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "action", "thing"),
    [
        ("removed the radiator", "removed", "radiator"),
        ("took the hose off", "removed", "hose"),
        ("took off the hose", "removed", "hose"),
        ("the guard is off", "removed", "guard"),
        ("unplugged the connector", "disconnected", "connector"),
        ("disconnected the battery negative", "disconnected", "battery"),
        ("drained the coolant", "drained", "coolant"),
        ("refitted the cover", "refitted", "cover"),
        ("put the cover back on", "refitted", "cover"),
        ("plugged the connector back in", "reconnected", "connector"),
        ("reconnected the battery", "reconnected", "battery"),
        ("filled the coolant", "filled", "coolant"),
        ("cleaned the ground point", "cleaned", "ground"),
        ("adjusted the slack adjuster", "adjusted", "slack adjuster"),
        ("the cover has been refitted", "refitted", "cover"),
        ("cover removed", "removed", "cover"),
    ],
)
def test_a_step_and_its_object(text: str, action: str, thing: str) -> None:
    (found,) = details(text, Step)
    assert found.action == action
    assert thing in found.object


def test_several_objects_of_one_verb_are_as_many_steps() -> None:
    assert [s.object for s in details("removed the cover, the hose and the bracket", Step)] == [
        "cover",
        "hose",
        "bracket",
    ]


@pytest.mark.parametrize(
    ("text", "steps"),
    [
        ("took the hose off and put it back on", [("removed", "hose"), ("refitted", "hose")]),
        (
            "took the guard off. cleaned it. put it back",
            [("removed", "guard"), ("cleaned", "guard"), ("refitted", "guard")],
        ),
        (
            "unplugged the connector, plugged it back in",
            [("disconnected", "connector"), ("reconnected", "connector")],
        ),
        ("removed the bolts\nput them back", [("removed", "bolts"), ("refitted", "bolts")]),
    ],
)
def test_a_pronoun_is_the_thing_that_was_named_last(text: str, steps: list[tuple[str, str]]) -> None:
    assert [(s.action, s.object) for s in details(text, Step)] == steps


@pytest.mark.parametrize(
    ("text", "count"), [("took four lines off", 4), ("removed 8 bolts", 8), ("put three lines back", 3)]
)
def test_objects_are_counted(text: str, count: int) -> None:
    (found,) = details(text, Step)
    assert found.quantity == count


def test_a_fluid_is_drained_and_filled_with_its_amount() -> None:
    text = "drained 18 litres of coolant, filled it with 20 litres"
    assert [(s.action, s.quantity, s.unit) for s in details(text, Step)] == [
        ("drained", 18, "L"),
        ("filled", 20, "L"),
    ]


@pytest.mark.parametrize(
    "text",
    [
        "dropped a bolt down behind the tank",
        "lost a washer",
        "can't find the clip that fell",
        "one bolt is missing",
    ],
)
def test_what_is_lost_is_told(text: str) -> None:
    assert [
        f
        for f in said(text)
        if f.kind == "loose_end" or (isinstance(f.detail, Step) and f.detail.action == "lost")
    ]


def test_no_part_is_billed_for_being_taken_off_and_put_back() -> None:
    text = "removed the bracket. refitted the bracket"
    assert not [p for p in details(text, Part) if p.action in ("fitted", "consumed")]

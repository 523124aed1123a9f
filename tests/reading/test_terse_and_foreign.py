"""Work that is told tersely, in a list of items, or by someone whose first language isn't English."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details

from jobnotes.reading.read import read_text
from jobnotes.record import Part, Step


def parts(said: str) -> list[tuple[str, str]]:
    """(action, name in lower case) of the parts that are sure, in order."""
    return [
        (f.detail.action, f.detail.name.casefold())
        for f in read_text(said)
        if isinstance(f.detail, Part) and f.status == "sure"
    ]


def steps(said: str) -> list[tuple[str, str, Decimal | None, str | None]]:
    """(action, object in lower case, amount, unit) of the steps that are sure, in order."""
    return [
        (f.detail.action, f.detail.object.casefold(), f.detail.quantity, f.detail.unit)
        for f in read_text(said)
        if isinstance(f.detail, Step) and f.status == "sure"
    ]


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("alternator is not bad i use it again", "alternator"),
        ("the flange was good and i clean him and use again", "flange"),
        ("bracket's been straightened and used again cos there's none in stock", "bracket"),
        ("clutch cover was fine so we used it again", "clutch cover"),
        ("the fan I use again", "fan"),
    ],
)
def test_what_is_used_again_is_reused(said: str, name: str) -> None:
    assert ("reused", name) in parts(said)
    assert not [action for action, _ in parts(said) if action != "reused"]


@pytest.mark.parametrize(
    ("said", "done"),
    [
        ("we take down drum and shoes", [("removed", "drum"), ("removed", "shoes")]),
        ("injector, removed, on the bench", [("removed", "injector")]),
        ("i unplug the fan and i have put it again", [("disconnected", "fan"), ("refitted", "fan")]),
        (
            "item six alternator removed\nitem seven alternator refitted",
            [("removed", "alternator"), ("refitted", "alternator")],
        ),
        ("the brackets i had off", [("removed", "brackets")]),
    ],
)
def test_steps_are_read_in_other_word_orders(said: str, done: list[tuple[str, str]]) -> None:
    assert [(action, thing) for action, thing, _, _ in steps(said)] == done


@pytest.mark.parametrize(
    ("said", "action", "litres"),
    [
        ("gear oil dropped six litres", "drained", "6"),
        ("refilled with the same oil, filtered, 12 litres", "filled", "12"),
        ("gear oil added three litres", "filled", "3"),
    ],
)
def test_an_amount_is_found_around_its_verb(said: str, action: str, litres: str) -> None:
    assert (action, Decimal(litres), "L") in [(a, q, u) for a, _, q, u in steps(said)]


def test_what_was_filled_is_not_what_was_drained() -> None:
    told = steps("coolant drained, 12 litres filled")
    assert ("drained", "coolant", None, None) in told
    assert ("filled", "coolant", Decimal(12), "L") in told


@pytest.mark.parametrize(
    "said", ["the coolant dropped overnight", "the oil dropped a bit", "tipper body dropped ten mil"]
)
def test_what_sank_was_not_drained(said: str) -> None:
    assert not steps(said)


@pytest.mark.parametrize(
    "said", ["Gear oil, 4 L used.", "Gear oil used: 4 litres", "gear oil four litres used"]
)
def test_what_was_used_is_told_with_its_amount(said: str) -> None:
    (part,) = [f.detail for f in read_text(said) if isinstance(f.detail, Part)]
    assert (part.action, part.quantity, part.unit) == ("consumed", Decimal(4), "L")


@pytest.mark.parametrize(
    ("said", "names"),
    [
        ("Radiator R/R. Thermostat too.", ["radiator", "thermostat"]),
        ("Replaced the radiator. Thermostat also.", ["radiator", "thermostat"]),
        ("also thermostat new", ["thermostat"]),
        ("new hoses we have fitted", ["hoses"]),
        ("alternator off\nrecon alternator on", ["recon alternator"]),
    ],
)
def test_parts_are_read_from_few_words(said: str, names: list[str]) -> None:
    assert parts(said) == [("fitted", name) for name in names]


@pytest.mark.parametrize(
    "said",
    ["Replaced the radiator. The pump is noisy. Alternator too.", "The battery is flat. Alternator too."],
)
def test_what_is_told_with_a_defect_was_not_fitted(said: str) -> None:
    assert "alternator" not in [name for _, name in parts(said)]


def test_an_amount_that_is_denied_soon_after_is_for_checking() -> None:
    said = "oil drained, 7 litres filled in\nNot 7, sorry, 9 litres, I have looked at the can"
    assert not [q for _, _, q, _ in steps(said) if q is not None]


def test_the_number_of_an_item_counts_no_parts() -> None:
    (part,) = [f.detail for f in read_text("item nine starter fitted") if isinstance(f.detail, Part)]
    assert (part.name, part.quantity) == ("starter", None)


@pytest.mark.parametrize(
    ("text", "amount"),
    [
        ("oil drained, twenty four litres filled", "24"),
        ("oil drained, twenty four point five litres filled", "24.5"),
        ("oil drained, one hundred and ten litres filled", "110"),
    ],
)
def test_an_amount_in_several_words_is_taken_whole(text: str, amount: str) -> None:
    assert [s.quantity for s in details(text, Step) if s.action == "filled"] == [Decimal(amount)]


@pytest.mark.parametrize(("words", "amount"), [("twenty six", "26"), ("thirty two point five", "32.5")])
def test_what_was_used_up_keeps_an_amount_in_several_words(words: str, amount: str) -> None:
    (oil,) = details(f"hydraulic oil, {words} litres used", Part)
    assert (oil.action, oil.quantity, oil.unit) == ("consumed", Decimal(amount), "L")

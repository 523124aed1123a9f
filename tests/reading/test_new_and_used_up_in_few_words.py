"""New parts and what was used up, told in few words: "gaskets all new", "took 300 mil of fluid"."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import Part


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("Gaskets all new.", [("gaskets", None)]),
        ("Gaskets all new, three of those, and six nuts.", [("gaskets", 3), ("nuts", 6)]),
        ("Seals all new, four of them.", [("seals", 4)]),
        ("Gaskets all needed, three of those.", []),
        ("The wiring is all new to me.", []),
    ],
)
def test_what_is_all_new_was_fitted(line: str, wanted: list[tuple[str, int | None]]) -> None:
    found = [(d.name.casefold(), d.quantity) for d in details(line, Part) if d.action == "fitted"]
    assert found == [(name, None if count is None else Decimal(count)) for name, count in wanted]


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("Bled the clutch, took 300 mil of fluid.", ("fluid", "300", "mL")),
        ("Used 300 mil of fluid.", ("fluid", "300", "mL")),
        ("refilled it, took 12 litres of oil", ("oil", "12", "L")),
    ],
)
def test_what_it_took_was_used_up(line: str, wanted: tuple[str, str, str]) -> None:
    found = [(d.name, str(d.quantity), d.unit) for d in details(line, Part) if d.action == "consumed"]
    assert found == [wanted]


def test_what_was_taken_out_was_not_used_up() -> None:
    assert [f.kind for f in said("took four litres of coolant out")] == ["step"]


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("blood the clutch", "bled the clutch"),
        ("drained plug sixty newton metres", "drain plug sixty newton metres"),
        ("new dagger valve fitted", "new egr valve fitted"),
        ("can hide 2.62 volts, can load 2.37 volts", "can high 2.62 volts, can low 2.37 volts"),
        ("set load 112 percent", "soot load 112 percent"),
    ],
)
def test_what_the_default_recogniser_makes_of_trade_words_reads_as_they_do(heard: str, meant: str) -> None:
    assert [f.detail for f in said(heard)] == [f.detail for f in said(meant)]


def test_a_nought_heard_as_not_makes_a_value_to_check() -> None:
    (fact,) = said("suction was not point two bar")
    assert (str(fact.detail.value), fact.status) == ("0.2", "check")


@pytest.mark.parametrize(
    "line", ["there was blood on the step", "either bearing or bush", "set the load down"]
)
def test_words_that_are_meant_stay(line: str) -> None:
    assert not any(f.repairs for f in said(line))

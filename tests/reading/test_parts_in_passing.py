"""Parts and steps that are told in passing: amounts, counts, what a number beside a part belongs to."""

from __future__ import annotations

from decimal import Decimal

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import Fact, Part, Step


def parts(said: str) -> list[tuple[str, str, Decimal | None]]:
    """(action, name in lower case, quantity) of the parts, in order."""
    return [
        (f.detail.action, f.detail.name.casefold(), f.detail.quantity)
        for f in read_text(said)
        if isinstance(f.detail, Part) and f.status != "rejected"
    ]


def steps(said: str) -> list[tuple[str, str, Decimal | None]]:
    """(action, object in lower case, quantity) of the steps, in order."""
    return [
        (f.detail.action, f.detail.object.casefold(), f.detail.quantity)
        for f in read_text(said)
        if isinstance(f.detail, Step) and f.status != "rejected"
    ]


def doubtful(said: str, kind: str = "part") -> list[Fact]:
    return [f for f in read_text(said) if f.kind == kind and f.status == "check"]


@pytest.mark.parametrize(
    ("said", "name", "quantity"),
    [
        ("Used a metre and a half of ten mil nylon pipe.", "nylon pipe", "1.5"),
        ("Replaced 2.5 metres of 5 core cable.", "cable", "2.5"),
        ("went through a can and a half of brake cleaner", "brake cleaner", "1.5"),
        ("fitted two of the six new clamps", "clamps", "2"),
        ("fitted three of his four new studs", "studs", "3"),
        ("4 gaskets and 2 V clamps new.", "v clamps", "2"),
    ],
)
def test_an_amount_counts_once_and_sizes_are_no_amount(said: str, name: str, quantity: str) -> None:
    assert [q for _, n, q in parts(said) if n == name] == [Decimal(quantity)]


@pytest.mark.parametrize(
    ("said", "name"),
    [
        ("replaced number two injector", "number two injector"),
        ("number three injector replaced", "number three injector"),
        ("swapped the number four glow plug for a new one", "number four glow plug"),
        ("size 8 bolts fitted", "size 8 bolts"),
        ("fitted grade ten bolts", "grade ten bolts"),
        ("stage two filters replaced", "stage two filters"),
        ("fitted m eight bolts", "m eight bolts"),
    ],
)
def test_a_number_that_tells_which_one_or_what_size_counts_no_pieces(said: str, name: str) -> None:
    assert parts(said) == [("fitted", name, None)]


def test_new_things_that_were_used_were_fitted_and_a_can_was_consumed() -> None:
    assert parts("Used three new fittings and a can of cleaner.") == [
        ("fitted", "fittings", Decimal(3)),
        ("consumed", "cleaner", None),
    ]


def test_a_noun_that_no_lexicon_knows_belongs_to_the_part_before_it() -> None:
    assert steps("lamp unplugged, bumper corner removed") == [
        ("disconnected", "lamp", None),
        ("removed", "bumper corner", None),
    ]
    assert ("removed", "rear half of the shaft", None) in steps("dropped the rear half of the shaft")


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (
            "gearbox out\ngearbox up bell housing bolts eighty",
            [("removed", "gearbox"), ("refitted", "gearbox")],
        ),
        (
            "ram off pins out hoses off\nram on pins in hoses back on",
            [(a, o) for a in ("removed", "refitted") for o in ("ram", "pins", "hoses")],
        ),
        ("Plug off, solenoid out.", [("disconnected", "plug"), ("removed", "solenoid")]),
        ("prop dropped, diff carrier out on the jack", [("removed", "prop"), ("removed", "diff carrier")]),
        ("disc and hub off in one", [("removed", "disc"), ("removed", "hub")]),
    ],
)
def test_a_thing_and_its_place_tell_what_was_done(said: str, told: list[tuple[str, str]]) -> None:
    assert [(a, o) for a, o, _ in steps(said)] == told


@pytest.mark.parametrize(
    "said",
    [
        "hose off\nhose in two pieces",
        "wheel off\nwheel on the left is chafed",
        "plug off 24 volts at the pins",
        "so it stays on",
        "we can get the crane in",
    ],
)
def test_a_place_that_tells_a_state_puts_nothing_back(said: str) -> None:
    assert not [s for s in steps(said) if s[0] != "removed"]


@pytest.mark.parametrize(
    ("said", "step"),
    [
        ("connector's soaked in oil past the seal\nunplugged it", ("disconnected", "connector")),
        ("bore's a bit carboned up, cleaned it with the reamer", ("cleaned", "bore")),
        ("filter out, six clamps off\nfilter washed\nput it back", ("refitted", "filter")),
        ("sensor off cleaned in hot water back on", ("refitted", "sensor")),
    ],
)
def test_it_is_what_was_spoken_of_and_not_where_that_is(said: str, step: tuple[str, str]) -> None:
    assert step in [(a, o) for a, o, _ in steps(said)]


def test_a_list_of_new_parts_alone_is_of_fitted_ones_unless_they_are_wanted() -> None:
    told = "Belt off. New belt, new tensioner, 2 new idlers."
    assert parts(told) == [
        ("fitted", "belt", None),
        ("fitted", "tensioner", None),
        ("fitted", "idlers", Decimal(2)),
    ]
    assert not doubtful(told)
    assert not parts("new pads, new discs needed")
    assert not parts("cleaned the connector, didn't put any new terminals in")
    assert parts("new bearing set new seal") == [("fitted", "bearing set", None), ("fitted", "seal", None)]

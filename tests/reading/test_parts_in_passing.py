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

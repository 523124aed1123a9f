"""Lists of parts told in one breath with their numbers: what ends where, and what each number is of."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, said

from jobnotes.record import Part


def parts(line: str) -> list[tuple[str, Decimal | None, str | None]]:
    """(name in lower case, pieces, number) of the parts that were fitted, in order."""
    return [(p.name.casefold(), p.quantity, p.number) for p in details(line, Part) if p.action == "fitted"]


def statuses(line: str) -> dict[str, str]:
    return {f.detail.name.casefold(): f.status for f in said(line) if isinstance(f.detail, Part)}


def test_a_list_goes_on_after_fitted_that_was_heard_as_fit_it() -> None:
    line = "fit it a new water pump and a new o ring"
    assert parts(line) == [("water pump", None, None), ("o ring", None, None)]
    assert set(statuses(line).values()) == {"check"}


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        (
            "replaced the oil filter, part number 40 221 907, and the seal ring that comes with it",
            [("oil filter", None, "40221907"), ("seal ring", None, None)],
        ),
        (
            "Cooler new, part number 5 110 2204, gasket kit 6 220 4417, both band clamps new, duct on.",
            [
                ("cooler", None, "51102204"),
                ("gasket kit", None, "62204417"),
                ("band clamps", Decimal(2), None),
            ],
        ),
        (
            "new disc on part number two two nine one four oh seven a new hub seal",
            [("disc", None, "2291407"), ("hub seal", None, None)],
        ),
        (
            "fitted a new fuel pump with a new gasket pump number three three oh one nine seven",
            [("fuel pump", None, "330197"), ("gasket", None, None)],
        ),
        (
            "Replaced release bearing, part number 3500 811. Pilot bearing, number 6204-2RS. 6 bolts new",
            [
                ("release bearing", None, "3500811"),
                ("pilot bearing", None, "6204-2RS"),
                ("bolts", Decimal(6), None),
            ],
        ),
    ],
)
def test_each_part_has_its_own_number(
    line: str, wanted: list[tuple[str, Decimal | None, str | None]]
) -> None:
    assert parts(line) == wanted


def test_the_last_word_of_a_number_may_count_what_is_new_after_it() -> None:
    line = "new track rod end part number kilo romeo four four oh seven two new split pins"
    assert parts(line) == [("track rod end", None, "KR4407"), ("split pins", Decimal(2), None)]
    assert set(statuses(line).values()) == {"check"}


def test_a_number_that_is_followed_by_one_new_thing_keeps_its_last_word() -> None:
    assert parts("new fuel filter part number two two zero eight six new drain gasket")[0][2] == "22086"


def test_a_number_behind_what_holds_a_part_is_doubted() -> None:
    line = "new check valve four bolts part number seven one six hotel nine"
    assert ("check valve", None, "716H9") in parts(line)
    assert statuses(line)["check valve"] == "check"


@pytest.mark.parametrize(
    ("line", "wanted"),
    [
        ("Drag link new. Caps new 2 piece.", [("drag link", None, None), ("caps", Decimal(2), None)]),
        ("blanked the ports off with two caps", []),
    ],
)
def test_a_cap_that_is_new_is_a_part_and_another_is_test_gear(
    line: str, wanted: list[tuple[str, Decimal | None, str | None]]
) -> None:
    assert parts(line) == wanted

"""Each thing is on the bill once, however often and in whatever order it was spoken of."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from itertools import permutations

import pytest
from money_jobs import charged, correction, office, only, part, used_up

from jobnotes.office.prices import Price
from jobnotes.record import Fact


def test_a_part_fitted_is_charged_at_the_price_of_its_number() -> None:
    pump = part("water pump", 1, number="447120")
    line = only(charged(pump))
    assert (line.kind, line.description, line.number) == ("part", "water pump", "4471-20")
    assert (line.quantity, line.unit, line.unit_price, line.net) == (1, "1", 120, Decimal("120.00"))
    assert (line.tax_category, line.tax_rate, line.fact_ids) == ("S", 20, (pump.id,))


@pytest.mark.parametrize("action", ["removed", "reused", "ordered"])
def test_what_came_off_was_used_again_or_only_ordered_is_not_charged(action: str) -> None:
    found = charged(part("water pump", 1, number="4471-20", action=action))
    assert (found.charges, found.remarks, found.totals) == ((), (), None)


def test_what_is_in_doubt_is_named_and_not_charged() -> None:
    found = charged(part("water pump", 1, number="4471-20", status="check", why="number unclear"))
    assert found.charges == ()
    assert found.remarks == ("water pump needs checking and isn't charged",)


@pytest.mark.parametrize("status", ["accepted", "edited"])
def test_what_a_person_has_looked_at_is_charged(status: str) -> None:
    assert only(charged(part("water pump", 1, number="4471-20", status=status))).net == 120


def test_what_is_rejected_or_private_is_neither_charged_nor_named() -> None:
    found = charged(
        part("water pump", 1, number="4471-20", status="rejected"),
        part("air hose", 1, number="55-1", audience="workshop"),
        part("coolant hose", 1, number="55-2", audience="workshop", status="check"),
    )
    assert (found.charges, found.remarks) == ((), ())


TOLD_TWICE = [part("water pump", 1, number="4471-20"), part("the water pump"), part("pump")]


@pytest.mark.parametrize("order", list(permutations(TOLD_TWICE)))
def test_told_again_without_its_number_it_is_one_line_in_any_order(order: tuple[Fact, ...]) -> None:
    found = charged(*order)
    line = only(found)
    assert (line.net, line.number) == (Decimal("120.00"), "4471-20")
    assert set(line.fact_ids) == {f.id for f in order}
    assert found.remarks == ()


def test_the_same_number_and_quantity_again_counts_once_and_asks() -> None:
    found = charged(part("air hose", 2, number="55-1"), part("air hose", 2, number="55 1"))
    assert only(found).quantity == 2
    assert found.remarks == ("air hose: 2 was said more than once and is charged once",)


def test_summed_up_in_the_correction_it_counts_once_and_nothing_is_asked() -> None:
    found = charged(
        part("air hose", 2, number="55-1", quote="two air hoses"),
        correction("correction replaced two air hoses", note="N1"),
        part("air hose", 2, quote="two air hoses", note="N1"),
    )
    assert only(found).quantity == 2
    assert found.remarks == ()


@pytest.mark.parametrize("number", ["55-1", None])
def test_of_two_quantities_the_larger_counts_and_is_asked_about_never_the_sum(number: str | None) -> None:
    found = charged(part("air hose", 1, number="55-1"), part("air hose", 3, number=number))
    assert only(found).quantity == 3
    assert found.remarks == ("air hose: 1 and 3 were said; 3 is charged",)


def test_a_number_said_for_two_things_is_asked_about() -> None:
    found = charged(part("water pump", 1, number="4471-20"), part("drive belt", number="4471-20"))
    assert only(found).quantity == 1
    assert found.remarks == ("number 4471-20 was said for water pump and for drive belt",)


@pytest.mark.parametrize(
    "names", [("injector 1", "injector 2"), ("injector", "left injector", "right injector")]
)
def test_one_number_said_for_things_at_two_places_is_asked_about(names: tuple[str, ...]) -> None:
    found = charged(*(part(name, number="INJ 1") for name in names))
    assert only(found).quantity == 1
    assert found.remarks == (f"number INJ 1 was said for {names[-2]} and for {names[-1]}",)


CYLINDERS = [part("cylinder 1 injector", 1), part("cylinder 2 injector", 1), part("the injectors", 2)]


@pytest.mark.parametrize("order", list(permutations(CYLINDERS)))
def test_things_that_differ_in_a_number_alone_are_two(order: tuple[Fact, ...]) -> None:
    found = charged(*order)
    assert sorted(line.description for line in found.charges) == [
        "cylinder 1 injector",
        "cylinder 2 injector",
    ]
    assert found.remarks == ()


@pytest.mark.parametrize(
    "again", [part("the pump", number="447120", action="reused"), part("water pumps", action="reused")]
)
def test_what_was_said_to_be_fitted_and_to_be_used_again_is_asked_about(again: Fact) -> None:
    found = charged(part("water pump", 1, number="4471-20"), again, part("air hose", 1, number="55-1"))
    assert [line.number for line in found.charges] == ["4471-20", "55-1"]
    (remark,) = found.remarks
    assert remark.endswith("was said to be fitted and to be used again; it is charged")


def test_two_numbers_are_two_lines_also_under_one_name() -> None:
    found = charged(part("hose", 1, number="55-1"), part("hose", 1, number="55-2"))
    assert [line.number for line in found.charges] == ["55-1", "55-2"]
    assert found.remarks == ()


SEVERAL = [part("air hose", 1, number="55-1"), part("coolant hose", 1, number="55-2"), part("hoses", 2)]


@pytest.mark.parametrize("order", list(permutations(SEVERAL)))
def test_what_sums_up_several_things_adds_nothing_to_them(order: tuple[Fact, ...]) -> None:
    found = charged(*order)
    assert {line.number: line.quantity for line in found.charges} == {"55-1": 1, "55-2": 1}
    assert all(SEVERAL[2].id in line.fact_ids for line in found.charges)
    assert found.remarks == ()
    assert len({line.id for line in found.charges}) == 2


def test_a_sum_that_differs_from_its_parts_is_asked_about() -> None:
    found = charged(
        part("air hose", 1, number="55-1"), part("coolant hose", 1, number="55-2"), part("hoses", 3)
    )
    assert [line.quantity for line in found.charges] == [1, 1]
    assert found.remarks == ("3 hoses may be air hose or coolant hose, and isn't charged beside them",)


SIDES = [part("left air spring", 1), part("right air spring", 1), part("air springs", 2)]


@pytest.mark.parametrize("order", list(permutations(SIDES)))
def test_left_and_right_are_two_things_also_where_both_are_spoken_of(order: tuple[Fact, ...]) -> None:
    found = charged(*order)
    assert {c.description: c.quantity for c in found.charges} == {"left air spring": 1, "right air spring": 1}
    assert found.remarks == ()


def test_what_was_fitted_and_what_was_used_up_are_one_only_under_the_very_name() -> None:
    assert len(charged(part("cable tie", 6), used_up("cable ties", 6)).charges) == 1
    assert len(charged(part("hose clamp", 2), used_up("clamp", 1)).charges) == 2


def test_serial_numbers_that_differ_are_as_many_pieces() -> None:
    found = charged(
        part("injector", 1, number="INJ 1", serial="A-1"),
        part("injector", number="INJ 1", serial="A-2"),
        part("injector", number="INJ 1", serial="a1"),
    )
    assert only(found).quantity == 2
    assert found.remarks == ()


def test_serial_numbers_that_are_more_than_the_pieces_said_are_asked_about() -> None:
    found = charged(
        part("injector", 1, number="INJ 1", serial="A1"),
        part("injector", 1, number="INJ 1", serial="A2"),
        part("injectors", 3, number="INJ 1"),
    )
    assert only(found).quantity == 3
    assert found.remarks == ("injector: 2 and 3 were said; 3 is charged",)


def test_without_a_quantity_one_is_charged_and_asked_about_if_the_name_is_plural() -> None:
    assert charged(part("cable tie")).remarks == ()
    found = charged(part("cable ties"))
    assert only(found).quantity == 1
    assert found.remarks == ("how many cable ties was not said; one is charged",)


@pytest.mark.parametrize(
    ("said", "unit", "litres"), [("500", "mL", "0.5"), ("2", "L", "2"), ("1", "[pt_br]", "0.568261")]
)
def test_an_amount_is_charged_in_the_unit_of_its_price(said: str, unit: str, litres: str) -> None:
    """An imperial pint is 0.56826125 L (Units of Measurement Regulations 1995; from memory)."""
    line = only(charged(used_up("coolant", said, unit)))
    assert (line.kind, line.quantity, line.unit) == ("consumable", Decimal(litres), "L")


def test_amounts_in_two_units_of_one_kind_are_compared() -> None:
    found = charged(used_up("coolant", 500, "mL"), used_up("coolant", "0.5", "L"))
    assert only(found).net == Decimal("2.05")
    assert found.remarks == ("coolant: 500 was said more than once and is charged once",)
    assert charged(used_up("coolant", 500, "mL"), used_up("coolant", 2, "L")).remarks == (
        "coolant: 500 mL and 2000 mL were said; 2000 mL is charged",
    )


def test_a_used_part_has_no_price_in_a_list_of_new_ones() -> None:
    found = charged(part("water pump", 1, number="4471-20", condition="used"))
    assert only(found).why == "a used one was fitted, and the price list's is of a new one"
    assert (only(found).net, found.totals) == (None, None)


def test_a_number_that_belongs_to_another_thing_in_the_list_is_asked_about() -> None:
    found = charged(part("drive belt", 1, number="55-1"))
    assert only(found).net == Decimal("36.75")
    assert found.remarks == ("number 55-1 was said for drive belt; in the price list it is air hose",)


def test_a_list_in_another_language_agrees_by_what_it_is_said_as() -> None:
    hose = Price("Luftschlauch", "1", Decimal("36.75"), "55-1")
    asked = charged(part("air hose", 1, number="55-1"), own=office((hose,)))
    assert asked.remarks == ("number 55-1 was said for air hose; in the price list it is Luftschlauch",)
    clamp = Price("Schlauchschelle", "1", Decimal("2.10"), said_as=("hose clamp",))
    own = office((replace(hose, said_as=("air line", "air hose")), clamp))
    found = charged(part("air hose", 1, number="55-1"), part("hose clamps", 2), own=own)
    assert found.remarks == ()
    # the bill has the names that were said
    assert [(c.description, c.net) for c in found.charges] == [
        ("air hose", Decimal("36.75")),
        ("hose clamps", Decimal("4.20")),
    ]


@pytest.mark.parametrize(
    ("said", "why"),
    [
        (part("water pump", 1, number="9"), "number 9 is not in the price list"),
        (part("water pump", 1), "its number was not said; the price list has 4471-20 of that name"),
        (part("turbocharger", 1), "neither its number nor its name is in the price list"),
        (part("tie", 1), "neither its number nor its name is in the price list"),
        (used_up("coolant"), "its price is for 1 L, and how much was used was not said"),
        (used_up("coolant", 2), "its price is for 1 L, and the amount said is 2 pieces"),
        (used_up("coolant", 2, "kg"), "its price is for 1 L, and the amount said is 2 kg"),
        (part("cable tie", 1, "m"), "its price is for 1 piece, and the amount said is 1 m"),
        (part("cable tie", 0), "a quantity of 0 can't be charged"),
    ],
)
def test_without_a_price_the_line_says_why_and_there_is_no_total(said: Fact, why: str) -> None:
    found = charged(said, part("air hose", 1, number="55-1"))
    line = next(c for c in found.charges if c.fact_ids == (said.id,))
    assert (line.why, line.net, line.unit_price, line.shares, line.tax_category) == (
        why,
        None,
        None,
        (),
        None,
    )
    assert found.totals is None
    assert len(found.charges) == 2


def test_an_id_is_that_of_the_statement_whatever_else_is_said() -> None:
    pump, hose, again = part("water pump", 1, number="4471-20"), part("air hose", 1), part("water pump")
    alone = only(charged(pump)).id
    for facts in ((pump, hose), (hose, pump), (again, pump, hose), (pump, again)):
        assert alone in {line.id for line in charged(*facts).charges}
        assert len({line.id for line in charged(*facts).charges}) == len(charged(*facts).charges)

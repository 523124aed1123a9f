"""Parts that are told in lists, with what stands between them, and whose numbers come late."""

from __future__ import annotations

import pytest
from reading_forms import details, said

from jobnotes.record import Part


def fitted(text: str) -> list[tuple[str, str | None, str]]:
    """(name, pieces, status) of the parts that went in or were used up."""
    return [
        (f.detail.name, str(f.detail.quantity) if f.detail.quantity else None, f.status)
        for f in said(text)
        if isinstance(f.detail, Part) and f.detail.action in ("fitted", "consumed")
    ]


@pytest.mark.parametrize(
    ("text", "name", "pieces"),
    [
        ("new anchor pin on the left and two springs", "springs", "2"),
        ("put in two new top pads and six shims two millimetres each", "shims", "6"),
        ("new pump four four one eight seven two and a gasket for the flange", "gasket", None),
        ("two new drums and er eight springs in them", "springs", "8"),
        ("new pressure plate and disc and the pilot bearing it comes as a kit", "pilot bearing", None),
    ],
)
def test_a_list_after_a_new_part_goes_on_past_where_things_went(
    text: str, name: str, pieces: str | None
) -> None:
    assert (name, pieces) in [(n, p) for n, p, _ in fitted(text)]


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("knocked in a new inner and outer bearing", "inner and outer bearing"),
        ("Fitted a new left and right caliper", "left and right caliper"),
    ],
)
def test_two_places_of_one_name_are_one_name(text: str, name: str) -> None:
    assert name in [n for n, _, _ in fitted(text)]


def test_what_a_new_part_is_made_with_is_no_number_of_pieces() -> None:
    assert fitted("New 3-pin connector, some heat shrink.")[0][:2] == ("connector", None)


@pytest.mark.parametrize(
    ("text", "name", "number"),
    [
        ("New belt, new tensioner, tensioner's 4417.", "tensioner", "4417"),
        ("new hose and a new filter. Filter's WK 881 20.", "filter", "WK88120"),
        ("I replaced the lead from the box to the lamp, part number HV 3 3 1 0 2.", "lead", "HV33102"),
        ("Relay changed anyway, RX 4 4 0 7.", "relay", "RX4407"),
        ("valve's ordered should be friday number two nine one seven", "valve", "2917"),
        ("changed the cartridge while i was there six six two niner bravo", "cartridge", "6629B"),
    ],
)
def test_a_number_that_comes_late_goes_to_the_part_it_is_of(text: str, name: str, number: str) -> None:
    assert (name, number) in [(p.name.casefold(), p.number) for p in details(text, Part)]


def test_four_figures_alone_after_a_part_that_is_named_again_are_for_a_person() -> None:
    (found,) = [f for f in said("new pulley on\npulley's 3319") if isinstance(f.detail, Part)]
    assert (found.detail.number, found.status) == ("3319", "check")


@pytest.mark.parametrize(
    "text", ["new pulley on\nthe old pulley's 3319 hours old", "new lamp on\nlamp is 24.4 volts"]
)
def test_a_part_that_is_named_again_with_what_is_no_number_gets_none(text: str) -> None:
    assert [p.number for p in details(text, Part)] == [None]


@pytest.mark.parametrize(
    "text",
    [
        "new starter's on serial number four alfa nine nine zero one",
        "recon starter on serial four alfa nine nine zero one",
    ],
)
def test_a_new_or_exchange_unit_that_is_on_was_fitted(text: str) -> None:
    (part,) = details(text, Part)
    assert (part.action, part.serial) == ("fitted", "4A9901")


def test_what_was_kept_is_not_mixed_with_the_new_part_named_after_it() -> None:
    found = [(p.name, p.action) for p in details("Kept the old sump, new sump gasket.", Part)]
    assert found == [("sump", "reused"), ("sump gasket", "fitted")]


@pytest.mark.parametrize(
    "text",
    [
        "The bent lever is kept with a label.",
        "old lever's on the pallet going back",
        "The old lever goes back as a core.",
        "Old lever bagged and boxed.",
    ],
)
def test_what_is_kept_or_goes_back_left_the_vehicle(text: str) -> None:
    assert [p.action for p in details(text, Part)] == ["removed"]


def test_using_the_old_one_again_is_no_new_part() -> None:
    assert [(p.name, p.action) for p in details("i used the old bracket again", Part)] == [
        ("bracket", "reused")
    ]


def test_pieces_may_be_counted_behind_a_new_part() -> None:
    assert [(p.name, str(p.quantity)) for p in details("new hose new clamp two piece", Part)][-1] == (
        "clamp",
        "2",
    )


def test_a_word_behind_a_hyphen_is_no_verb() -> None:
    assert [(p.name, str(p.quantity)) for p in details("Used two push-fit elbows.", Part)] == [
        ("push-fit elbows", "2")
    ]


def test_a_kit_of_two_things_is_one_part() -> None:
    (part,) = details("fitted a jaw and bar kit part number two seven double one", Part)
    assert (part.name, part.number) == ("jaw and bar kit", "2711")

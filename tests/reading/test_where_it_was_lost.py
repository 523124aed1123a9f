"""Where a lost piece went is part of what tells of its loss: a screw in a gearbox is not one on the floor."""

from __future__ import annotations

import pytest
from reading_forms import details

from jobnotes.record import Statement, Step


def lost(text: str) -> list[str]:
    return [s.text for s in details(text, Statement) if s.kind == "loose_end"]


@pytest.mark.parametrize(
    "text",
    [
        "One screw is lost, it fell down behind the axle",
        "One screw is lost. It fell down behind the axle",
        "One bolt lost, somewhere in the engine bay",
        "One washer lost, it must have rolled under the gearbox",
        "One nut is lost. It's somewhere under the tank",
    ],
)
def test_what_tells_of_a_loss_goes_on_to_where_the_piece_went(text: str) -> None:
    assert set(lost(f"{text}. Refitted the cover.")) == {text}


@pytest.mark.parametrize(
    "more", ["It's running well now, no noise under load", "Refitted the cover on the tank"]
)
def test_what_is_said_next_of_something_else_is_not_where_the_piece_went(more: str) -> None:
    assert "Lost a screw" in lost(f"Lost a screw. {more}.")
    assert not any(more.split()[-1] in text for text in lost(f"Lost a screw. {more}."))


@pytest.mark.parametrize("before", ["Refitted it. ", "I can't find it. ", "refitted it "])
def test_what_is_lost_is_told_whatever_the_sentence_before_it_ends_with(before: str) -> None:
    assert [s.object for s in details(f"{before}One nut is lost.", Step) if s.action == "lost"] == ["nut"]


def test_what_the_vehicle_loses_is_no_lost_piece() -> None:
    assert not [s for s in details("It lost ten litres of oil.", Step) if s.action == "lost"]

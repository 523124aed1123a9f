"""A spoken photo cue names what is in the picture."""

from __future__ import annotations

import pytest
from reading_forms import details, kinds

from jobnotes.record import PhotoCue


@pytest.mark.parametrize(
    ("text", "subject"),
    [
        ("photo of the split hose", "split hose"),
        ("taking a photo of the split hose", "split hose"),
        ("take a picture of the oil leak", "oil leak"),
        ("picture here of the worn pad", "worn pad"),
        ("snap of the broken bracket", "broken bracket"),
        ("getting a shot of the old compressor", "old compressor"),
        ("photographing the cracked manifold", "cracked manifold"),
        ("another photo of the connector", "connector"),
        ("photo, corroded plug", "corroded plug"),
        ("taking a photo of the chafed harness", "chafed harness"),
        ("camera on the split boot", "split boot"),
    ],
)
def test_a_cue_names_its_subject(text: str, subject: str) -> None:
    (cue,) = details(text, PhotoCue)
    assert cue.subject == subject


def test_a_cue_may_name_nothing() -> None:
    (cue,) = details("taking a photo here", PhotoCue)
    assert cue.subject is None


@pytest.mark.parametrize(
    "text",
    [
        "no photo taken",
        "should I take a photo of it?",
        "the photo was blurred",
        "if it's cracked take a photo",
    ],
)
def test_no_cue_where_no_photo_was_taken(text: str) -> None:
    assert not details(text, PhotoCue)


def test_two_cues_in_a_line_are_two() -> None:
    cues = details("photo of the pump, photo of the belt", PhotoCue)
    assert [c.subject for c in cues] == ["pump", "belt"]


def test_a_cue_and_the_finding_in_it_are_both_kept() -> None:
    assert "photo_cue" in kinds("this hose is split, taking a photo of it")
    assert "finding" in kinds("this hose is split, taking a photo of it")


@pytest.mark.parametrize("between", [" and one of the ", ". And one of the ", ", and another of the "])
def test_one_more_photo_that_is_named_with_the_first_is_a_cue_of_its_own(between: str) -> None:
    told = details(f"photo of the worn pads{between}disc", PhotoCue)
    assert [cue.subject for cue in told] == ["worn pads", "disc"]


def test_one_of_them_is_no_photo() -> None:
    told = details("photo of the pads, and one of them was cracked", PhotoCue)
    assert [cue.subject for cue in told] == ["pads"]

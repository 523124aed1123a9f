"""What a recogniser cuts in two or hears a shade otherwise is read as it was said.

How recognisers mishear is common practice, no source: seen in what the default one wrote."""

from __future__ import annotations

import pytest
from reading_forms import details

from jobnotes.record import Statement, Step


def steps(text: str) -> list[tuple[str, str, str | None]]:
    return [(s.action, s.object, s.quantity and str(s.quantity)) for s in details(text, Step)]


@pytest.mark.parametrize("heard", ["its", "it's", "it is"])
def test_what_came_off_with_a_thing_is_counted_however_its_is_heard(heard: str) -> None:
    told = steps(f"Removed the height sensor and {heard} two bolts. Disconnected the air hose.")
    assert ("removed", "height sensor", None) in told
    assert ("removed", "bolts", "2") in told


def test_a_thing_that_is_two_bolts_short_had_none_removed() -> None:
    told = steps("Removed the cover and it's two bolts short.")
    assert told == [("removed", "cover", None)]


@pytest.mark.parametrize("joined", ["And", "In"])
def test_a_correction_goes_on_where_its_list_was_cut_in_two(joined: str) -> None:
    text = (
        f"Correction. I replaced the height sensor. {joined} the split air hose, and calibrated the height."
    )
    (told,) = [s.text for s in details(text, Statement) if s.kind == "correction"]
    assert told.startswith("I replaced the height sensor")
    assert "split air hose" in told
    assert "calibrated the height" in told


def test_a_correction_ends_where_another_heading_begins() -> None:
    text = "Correction. I replaced the height sensor. Advisory. And the right air bag is perished."
    (told,) = [s.text for s in details(text, Statement) if s.kind == "correction"]
    assert told == "I replaced the height sensor"


def test_each_sentence_of_what_failed_after_the_heading_cause_is_a_cause_of_its_own() -> None:
    text = "Cause. The sensor connector leaked. The air hose chafed through on the frame. Pausing the job."
    causes = [(s.component, s.failure) for s in details(text, Statement) if s.kind == "cause"]
    assert causes == [("sensor connector", "leaking"), ("air hose", "chafed")]


def test_what_is_told_after_the_causes_is_none() -> None:
    text = "Cause. The sensor connector leaked. Unplugged the sensor. Finding. The air hose is chafed."
    assert len([s for s in details(text, Statement) if s.kind == "cause"]) == 1

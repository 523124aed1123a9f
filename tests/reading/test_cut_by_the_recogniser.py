"""What a recogniser cuts in two or hears a shade otherwise is read as it was said.

How recognisers mishear is common practice, no source: seen in what the default one wrote."""

from __future__ import annotations

import pytest
from reading_forms import details

from jobnotes.reading.read import read_text
from jobnotes.record import Measurement, Statement, Step


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


def test_a_list_that_goes_on_after_a_full_stop_with_in_for_and_is_to_be_checked() -> None:
    text = "Correction. I replaced the height sensor. {} the split air hose, and calibrated the height."
    for joined, status in (("And", "sure"), ("In", "check")):
        (told,) = [f for f in read_text(text.format(joined)) if f.kind == "correction"]
        assert told.status == status
        assert (told.why is None) or "“In the split …”" in told.why


def test_what_failed_is_the_thing_that_is_named_with_its_failure() -> None:
    (told,) = details("Correction. I replaced the height sensor and the split air hose.", Statement)
    assert (told.component, told.failure) == ("air hose", "split")
    (told,) = details("Cause. The temperature sensor has a short circuit inside.", Statement)
    assert (told.component, told.failure) == ("temperature sensor", "short circuit")


def test_where_it_failed_belongs_to_the_finding_though_a_full_stop_was_heard_before_it() -> None:
    found = details(
        "Finding. The sensor rod has seized. At the lower ball joint. Photo of the rod.", Statement
    )
    assert [s.text for s in found] == ["The sensor rod has seized. At the lower ball joint"]


@pytest.mark.parametrize(
    "after", ["On the frame rail I saw a rub mark.", "At the rear axle, all is well.", "On to the next one."]
)
def test_what_tells_more_than_where_is_no_part_of_the_finding_before_it(after: str) -> None:
    found = [s.text for s in details(f"Finding. The air hose is split. {after}", Statement)]
    assert found[0] == "The air hose is split"


@pytest.mark.parametrize(
    "figures",
    ["291 millimetres", "two hundred and ninety one millimetres", "one thousand two hundred and six mm"],
)
def test_a_mishearing_is_put_right_by_a_unit_however_the_number_before_it_is_written(figures: str) -> None:
    (told,) = details(f"Right height, left rear, {figures}.", Measurement)
    assert told.subject == "ride height left rear"

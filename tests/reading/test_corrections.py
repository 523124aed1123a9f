"""What is taken back in the next breath does not stand, and is kept as rejected with what replaced it."""

from __future__ import annotations

from decimal import Decimal

import pytest
from reading_forms import details, kinds, said, taken_back

from jobnotes.reading.read import read_text
from jobnotes.record import FaultCode, Measurement, Part, Step

CUES = [
    "scratch that, {}", "no, {}", "make that {}", "correction, {}", "sorry, {}", "no wait, {}",
    "no, make that {}",
    "I mean {}", "no sorry, {}", "strike that, {}", "scrub that, {}", "hang on, {}",
    "no hang on, {}", "rather {}", "no, it's {}", "I tell a lie, {}",
]  # fmt: skip


@pytest.mark.parametrize("cue", CUES)
@pytest.mark.parametrize(("new", "joint"), [("nine", ", "), ("9", " … "), ("nine", "\n"), ("nine", ". ")])
def test_a_correction_replaces_the_last_number_and_the_first_reading_is_kept_as_rejected(
    cue: str, new: str, joint: str
) -> None:
    text = f"SPN 5246, FMI seven{joint}{cue.format(new)}"
    assert [c.code for c in details(text, FaultCode)] == ["SPN 5246 FMI 9"], text
    old = taken_back(text)
    assert [f.detail.code for f in old if isinstance(f.detail, FaultCode)] == ["SPN 5246 FMI 7"]
    standing = {f.id for f in said(text)}
    assert all(f.superseded_by in standing for f in old)


@pytest.mark.parametrize("cue", CUES)
def test_a_corrected_reading_keeps_its_unit_and_test_point(cue: str) -> None:
    text = f"boost pressure 1.4 bar, {cue.format('one point six')}"
    (found,) = details(text, Measurement)
    assert (found.value, found.unit) == (Decimal("1.6"), "bar")
    assert "boost" in str(found.subject)


@pytest.mark.parametrize(
    "cue", ["no, {} volts", "make that {} volts", "correction, {} volts", "scratch that, {} volts"]
)
def test_a_correction_that_says_the_unit_again_is_one_reading(cue: str) -> None:
    (found,) = details(f"battery voltage 24.1 volts, {cue.format('24.7')}", Measurement)
    assert (found.value, found.unit) == (Decimal("24.7"), "V")


def test_a_correction_with_a_label_goes_to_the_number_of_that_label() -> None:
    assert [c.code for c in details("SPN 5246 FMI 7, no, SPN 5247", FaultCode)] == ["SPN 5247 FMI 7"]
    assert [c.code for c in details("SPN 5246 FMI 7, correction, FMI nine", FaultCode)] == ["SPN 5246 FMI 9"]


def test_a_correction_with_another_unit_changes_the_unit() -> None:
    (found,) = details("the wire reads 2.1 ohms, no, 2.1 kilo ohms", Measurement)
    assert (found.value, found.unit) == (Decimal("2.1"), "kOhm")


@pytest.mark.parametrize("cue", ["no", "correction", "scratch that", "sorry"])
def test_a_trouble_code_said_anew_replaces_the_one_before(cue: str) -> None:
    assert [c.code for c in details(f"P0299, {cue}, P0298", FaultCode)] == ["P0298"]


def test_a_limit_can_be_corrected_and_the_verdict_follows() -> None:
    (found,) = details("it reads 8.1 bar, limit 8.5, no, 8", Measurement)
    assert found.limit is not None
    assert (found.limit.max, found.verdict) == (8, "outside")


def test_a_number_of_parts_can_be_corrected() -> None:
    (found,) = details("fitted two new clamps, make that three", Part)
    assert found.quantity == 3


@pytest.mark.parametrize(
    "cue", ["scratch that", "strike that", "scrub that", "forget that", "no wait, scratch that"]
)
@pytest.mark.parametrize("joint", [", ", ". ", "\n"])
def test_a_retraction_takes_back_what_was_just_said(cue: str, joint: str) -> None:
    text = f"removed the radiator{joint}{cue}{joint}removed the fan"
    assert [s.object for s in details(text, Step)] == ["fan"]
    assert [f.detail.object for f in taken_back(text) if isinstance(f.detail, Step)] == ["radiator"]


def test_a_retraction_leaves_alone_what_was_said_before_that() -> None:
    text = "Removed the cover. Removed the radiator. Scratch that. Removed the fan."
    assert [s.object for s in details(text, Step)] == ["cover", "fan"]


def test_a_correction_of_a_correction_leaves_the_last_word() -> None:
    text = "SPN 5246 FMI 7, no, 8, no, 9"
    assert [c.code for c in details(text, FaultCode)] == ["SPN 5246 FMI 9"]


def test_a_word_can_be_corrected_in_a_finding() -> None:
    text = "found a chafed wire, correction, a cracked wire"
    assert [f.detail.failure for f in said(text) if f.kind == "finding"] == ["cracked"]  # type: ignore[union-attr]


@pytest.mark.parametrize(
    "text",
    [
        "No codes. Nine bolts removed.",
        "There is no play. 24.1 volts at the battery.",
        "no leak, 1.2 bar for ten minutes",
        "no fault found, battery voltage 24.6 volts",
    ],
)
def test_a_plain_no_is_no_correction(text: str) -> None:
    assert not taken_back(text)


def test_what_was_taken_back_says_so() -> None:
    for fact in taken_back("SPN 5246 FMI 7, scratch that, nine"):
        assert fact.why
        assert fact.superseded_by


def test_nothing_is_rejected_without_a_correction() -> None:
    assert all(
        f.status != "rejected" for f in read_text("SPN 5246 FMI 7. Fitted nine bolts. Make it snappy.")
    )


def test_no_new_number_takes_nothing_back() -> None:
    assert kinds("SPN 5246 FMI 7, sorry about the noise") == ["fault_code"]

"""Several codes in a breath: whose a state and a count are, and which of them are said to be gone."""

from __future__ import annotations

import pytest

from jobnotes.reading.read import read_text
from jobnotes.record import FaultCode


def codes(text: str) -> list[tuple[str, str | None, int | None, str]]:
    """Code, state, count and status of each fault code, in order."""
    return [
        (f.detail.code, f.detail.state, f.detail.count, f.status)
        for f in read_text(text)
        if isinstance(f.detail, FaultCode)
    ]


def states(text: str) -> dict[str, str | None]:
    return {code: state for code, state, _, _ in codes(text)}


@pytest.mark.parametrize(
    ("said", "told"),
    [
        ("one stored code, P0234, and a pending P0299", {"P0234": "stored", "P0299": "pending"}),
        (
            "two active codes P0234 and P0299 and an inactive P0401",
            {"P0234": "active", "P0299": "active", "P0401": "inactive"},
        ),
        (
            "SPN 100 FMI 1 active, and a stored SPN 117 FMI 4",
            {"SPN 100 FMI 1": "active", "SPN 117 FMI 4": "stored"},
        ),
        (
            "stored codes P0234 and P0299, pending code P0401",
            {"P0234": "stored", "P0299": "stored", "P0401": "pending"},
        ),
        (
            "there's one active P0234 and two stored P0299 and P0401",
            {"P0234": "active", "P0299": "stored", "P0401": "stored"},
        ),
        ("pending P0234, active P0299", {"P0234": "pending", "P0299": "active"}),
        ("P0234 active, stored P0299", {"P0234": "active", "P0299": "stored"}),
        ("P0234 active P0299 stored", {"P0234": "active", "P0299": "stored"}),
    ],
)
def test_a_state_is_that_of_the_code_that_it_was_told_of(said: str, told: dict[str, str]) -> None:
    assert states(said) == told


@pytest.mark.parametrize(
    "said", ["P0234, that's active", "found P0234. It's active", "P0234 which is active"]
)
def test_a_state_may_follow_in_words_of_its_own(said: str) -> None:
    assert states(said) == {"P0234": "active"}


@pytest.mark.parametrize(
    ("said", "counts"),
    [
        ("SPN 1087 FMI 18 active, SPN 1088 FMI 18 active, count of 9 each", [9, 9]),
        ("P0234 and P0299 both active, counts 4 and 6", [4, 6]),
        ("P0234 and P0299 both with a count of twelve", [12, 12]),
        ("P0234 count 4, P0299 count 6 each time it's cold", [4, 6]),
        ("P0234 count 4 and P0299 active", [4, None]),
    ],
)
def test_a_count_is_told_of_each_of_all_or_one_after_another(said: str, counts: list[int | None]) -> None:
    assert [count for _, _, count, _ in codes(said)] == counts


BOTH = "codes P0234 active and P0299 active in the engine ECU / "


@pytest.mark.parametrize(
    "said",
    [
        "cleared the lot and they've stayed away after a road test of twelve kilometres",
        "cleared them",
        "wiped both, neither came back",
        "deleted the pair of them and they've not come back",
        "fitted the new pipe. Cleared the lot",
    ],
)
def test_codes_are_cleared_though_they_are_not_named(said: str) -> None:
    told = codes((BOTH + said).replace(" / ", "\n"))
    assert [(code, state, status) for code, state, _, status in told[2:]] == [
        ("P0234", "cleared", "sure"),
        ("P0299", "cleared", "sure"),
    ]


@pytest.mark.parametrize(
    "said", ["cleared all the drains", "the drains were blocked, cleared them", "wiped both mating faces"]
)
def test_what_else_was_cleared_clears_no_code_for_sure(said: str) -> None:
    told = codes((BOTH + said).replace(" / ", "\n"))
    assert [status for _, state, _, status in told if state == "cleared" and status == "sure"] == []


@pytest.mark.parametrize(
    "said",
    [
        "no codes stored in the brake module",
        "gearbox ECU no codes stored",
        "no new codes",
        "no active codes in the ABS unit",
    ],
)
def test_no_codes_elsewhere_does_not_say_that_these_are_gone(said: str) -> None:
    assert states((BOTH + said).replace(" / ", "\n")) == {"P0234": "active", "P0299": "active"}

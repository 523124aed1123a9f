"""A second listener's hearing is read too: what it adds is shown, what it contradicts is no longer sure."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobnotes.hearing.two_hearings import TwoHearings
from jobnotes.reading.doubt.second_hearing import heard_by_the_second
from jobnotes.reading.read import read_notes
from jobnotes.reading.utterances import Utterances
from jobnotes.record import Fact, Note, RecogniserStamp, Word

STAMP = RecogniserStamp("told", "two", "00" * 32)


class Told:
    stamp = STAMP


TWO = TwoHearings(Told(), Told(), ())  # type: ignore[arg-type]


def said(text: str) -> list[Word]:
    """`text` at three words a second, heard well."""
    return [Word(w, at / 3, (at + 1) / 3, 0.95) for at, w in enumerate(text.split())]


def note(first: str, second: str) -> Note:
    words = TWO.weighed(said(first), said(second))
    return Note("N1", "a.wav", "ab" * 32, datetime(2026, 2, 3, tzinfo=UTC), "made", 60.0, STAMP, first, words)


def facts(first: str, second: str, kind: str) -> list[Fact]:
    return [f for f in read_notes([note(first, second)]) if f.kind == kind]


TEXTS = st.lists(st.sampled_from("removed the two hose clamps 24.6 volts P0299 no not".split()), max_size=12)


@given(TEXTS.filter(bool), TEXTS)
def test_the_second_hearing_can_be_put_together_again(first: list[str], second: list[str]) -> None:
    heard = Utterances.of_notes([note(" ".join(first), " ".join(second))])
    other = heard_by_the_second(heard) or heard
    assert [w.text for w in other.words] == second
    times = [(w.start_s or 0.0, w.end_s or 0.0) for w in other.words]
    assert all(start <= end for start, end in times)
    assert times == sorted(times)


def test_what_only_the_second_listener_heard_is_shown_to_check_with_its_words_and_seconds() -> None:
    (code,) = facts(
        "ran it up. Uniform came straight back. all good",
        "ran it up. U0411 came straight back. all good",
        "fault_code",
    )
    assert code.detail.code == "U0411"  # type: ignore[union-attr]
    assert code.status == "check"
    assert code.why is not None
    assert "only the second listener heard this: 'U0411" in code.why
    assert (code.note, code.start_s) == ("N1", pytest.approx(1.0))


def test_what_the_second_listener_heard_quite_otherwise_is_not_sure() -> None:
    steps = facts("the gear was removed from the unit", "the gear was grooved from the unit", "step")
    assert [(f.detail.action, f.status) for f in steps] == [("removed", "check")]  # type: ignore[union-attr]
    assert "only the first listener heard this" in (steps[0].why or "")


def test_the_lost_ending_of_a_verb_contradicts_nothing() -> None:
    steps = facts("old gear removed in the pit", "old gear remove in the pit", "step")
    assert [(f.detail.action, f.status) for f in steps] == [("removed", "sure")]  # type: ignore[union-attr]


def test_where_both_hear_the_same_nothing_changes() -> None:
    text = "removed the air filter. 24.6 volts at the plug. fitted a new air filter"
    assert [f.status for f in read_notes([note(text, text)])] == ["sure"] * 3


def test_what_was_said_off_the_record_stays_there_however_the_second_listener_heard_it() -> None:
    first = "off the record, he broke the lamp and removed the seals. Back on the record. Job done."
    second = "of the rocker, he broke the lamp and removed the seals. Back on the record. Job done."
    public = [f.quote for f in read_notes([note(first, second)]) if f.audience == "all"]
    assert not any("lamp" in quote or "seals" in quote for quote in public)


def test_a_fact_that_both_tell_is_not_told_twice() -> None:
    (value,) = facts("supply was 24.6 volts", "supply is 24.6 volts", "measurement")
    assert value.status == "sure"

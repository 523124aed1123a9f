"""The text in a job card's code says back what was put into it, and nothing else passes for one."""

from __future__ import annotations

import unicodedata
from datetime import datetime, timedelta, timezone
from urllib.parse import parse_qs, urlsplit

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.reading.job.job_card import BadCardError, read_card, text_of
from jobnotes.record import JobCard

printable = st.text(
    st.characters(exclude_categories=("C", "Zl", "Zp"), exclude_characters="\u2028\u2029"),
    min_size=1,
    max_size=20,
).filter(str.strip)
numbers = printable.filter(lambda t: any(c.isalnum() for c in t.casefold()))
zones = st.integers(-56, 56).map(lambda q: timezone(timedelta(minutes=15 * q)))
clocks = st.builds(
    lambda at, zone: at.replace(microsecond=0, tzinfo=zone),
    st.datetimes(datetime(2000, 1, 2), datetime(2079, 12, 30)),
    zones,
)
cards = st.builds(
    JobCard,
    numbers,
    clocks,
    st.sampled_from(["live", "printed", "stated"]),
    st.none() | printable,
    st.none() | printable,
)


@settings(max_examples=200)
@given(cards)
def test_a_card_reads_back_as_it_was_written(card: JobCard) -> None:
    try:
        text = text_of(card)
    except BadCardError as error:
        assert "more than its code may hold" in str(error)  # noqa: PT017
        return
    assert text.isascii()
    back = read_card(text)
    assert back == card
    assert back is not None
    assert back.clock.utcoffset() == card.clock.utcoffset()


@settings(max_examples=200)
@given(cards)
def test_it_is_a_uri_as_the_standard_library_takes_it_apart(card: JobCard) -> None:
    """Reference: urllib.parse, for RFC 3986."""
    try:
        parts = urlsplit(text_of(card))
    except BadCardError:
        return
    assert (parts.scheme, parts.path) == ("jobnotes-card", "1")
    told = parse_qs(parts.query.replace("+", "%2B"), strict_parsing=True)
    assert told["job"] == [card.number]
    assert datetime.fromisoformat(told["clock"][0]) == card.clock


@given(st.text(max_size=500) | st.text(max_size=300).map(lambda t: f"jobnotes-card:1?{t}"))
def test_whatever_is_in_a_code_is_a_card_or_none_or_named(text: str) -> None:
    try:
        card = read_card(text)
    except BadCardError as error:
        assert text.startswith("jobnotes-card:")
        assert str(error).isprintable()  # noqa: PT017
        return
    assert card is None or all(unicodedata.category(c) != "Cc" for c in card.number)


def test_keys_that_come_later_are_skipped() -> None:
    text = "jobnotes-card:1?job=4417&clock=2031-04-07T08:15:00+01:00&is=live&bay=7"
    card = read_card(text)
    assert card is not None
    assert card.number == "4417"


@pytest.mark.parametrize("number", ["", "  ", "4\n4", "4\u202e4", "–", "4" * 61])
def test_what_no_card_can_say_is_refused_when_it_is_made(number: str) -> None:
    with pytest.raises(BadCardError):
        text_of(JobCard(number, datetime(2031, 4, 7, tzinfo=timezone.utc), "printed"))  # noqa: UP017

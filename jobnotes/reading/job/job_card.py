"""The text in a job card's code, in both directions.

It is a URI by RFC 3986 (version 1):

    jobnotes-card:1?job=4417&clock=2031-04-07T08:15:00+01:00&is=live&registration=QQ00%20TST&customer=…

The clock is ISO 8601 with seconds and its offset from UTC. `job`, `clock` and `is` (live, printed, stated)
must stand there; a reader skips keys that it doesn't know. Other people's codes aren't cards; what looks like
one and is damaged is never used in part. A card is not signed: it is evidence as a photo of a label is.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Literal, cast, get_args, get_type_hints
from urllib.parse import quote, unquote

from jobnotes.record import JobCard, PhotoText

SCHEME, VERSION = "jobnotes-card", 1
#: the most characters of a job number or a registration, and of a customer's name
MOST_NUMBER, MOST_NAME = 60, 80

_MOST_TEXT = 400  # characters, as of any barcode that is read (jobnotes.seeing.barcodes)
_EARLIEST, _LATEST = 2000, 2080  # years, as for the dates of recordings
_FURTHEST_ZONE = timedelta(hours=14)  # time zones reach from UTC−12 to UTC+14 (IANA time zone database)
_CLOCK = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d[+-]\d\d:\d\d", re.ASCII)
_BEGIN = re.compile(rf"{SCHEME}:(?P<version>[^?]*)\?(?P<pairs>.*)", re.DOTALL)
_CLOCKS = frozenset(get_args(get_type_hints(JobCard)["clock_is"]))


class BadCardError(ValueError):
    """A code that says it is a job card, but can't be used: why."""


def text_of(card: JobCard) -> str:
    """The card's text; ASCII. Raises BadCardError where a card can't say so."""
    _check(card)
    pairs = {
        "job": card.number,
        "clock": card.clock.isoformat(timespec="seconds"),
        "is": card.clock_is,
        "registration": card.registration,
        "customer": card.customer,
    }
    told = "&".join(f"{key}={quote(value, safe=':+')}" for key, value in pairs.items() if value is not None)
    text = f"{SCHEME}:{VERSION}?{told}"
    if len(text) > _MOST_TEXT:
        raise BadCardError("says more than its code may hold")
    return text


def read_card(text: str) -> JobCard | None:
    """The job card that a code's text says, None where it is something else's. Raises BadCardError."""
    if not text.startswith(f"{SCHEME}:"):
        return None
    found = _BEGIN.fullmatch(text) if len(text) <= _MOST_TEXT else None
    if found is None:
        raise BadCardError("is damaged")
    if found["version"] != str(VERSION):
        raise BadCardError(f"is not of version {VERSION}")
    told: dict[str, str] = {}
    for pair in found["pairs"].split("&"):
        key, equals, value = pair.partition("=")
        if not equals or key in told:
            raise BadCardError("is damaged")
        told[key] = _unquoted(value)
    if not {"job", "clock", "is"} <= told.keys() or told["is"] not in _CLOCKS:
        raise BadCardError("lacks its job, its clock or what clock that is")
    card = JobCard(
        told["job"],
        _clock(told["clock"]),
        cast(Literal["live", "printed", "stated"], told["is"]),
        told.get("registration"),
        told.get("customer"),
    )
    _check(card)
    return card


def card_in(texts: Iterable[PhotoText]) -> JobCard | None:
    """The one job card among a photo's barcodes; writing is never one.

    Raises BadCardError for a damaged one, and for several that don't say the same.
    """
    cards = [card for text in texts if text.symbology and (card := read_card(text.text))]
    if any(card != cards[0] for card in cards):
        raise BadCardError("stands beside another one")
    return cards[0] if cards else None


def plain_number(number: str) -> str:
    """What tells job numbers apart: no spaces, signs or capitals."""
    return "".join(c for c in number.casefold() if c.isalnum())


def _unquoted(value: str) -> str:
    try:
        return unquote(value, errors="strict")
    except UnicodeDecodeError:
        raise BadCardError("is damaged") from None


def _clock(text: str) -> datetime:
    try:
        clock = datetime.fromisoformat(text) if _CLOCK.fullmatch(text) else None
    except ValueError:
        clock = None
    if clock is None:
        raise BadCardError("has no clock with its offset from UTC")
    return clock


def _check(card: JobCard) -> None:
    most = {"job": MOST_NUMBER, "registration": MOST_NUMBER, "customer": MOST_NAME}
    values = {"job": card.number, "registration": card.registration, "customer": card.customer}
    for key, value in values.items():
        if value is None:
            continue
        # controls, formats such as a change of direction, what has no meaning, and ends of lines
        if any(unicodedata.category(c)[0] == "C" or c in "\u2028\u2029" for c in value):
            raise BadCardError(f"has characters in its {key} that can't be printed")
        if not value.strip() or len(value) > most[key]:
            raise BadCardError(f"has a {key} of no or of more than {most[key]} characters")
    if not plain_number(card.number):
        raise BadCardError("has a job without a letter or a digit")
    offset = card.clock.utcoffset()
    if offset is None or abs(offset) > _FURTHEST_ZONE or offset % timedelta(minutes=1):
        raise BadCardError("has no clock with its offset from UTC")
    if not _EARLIEST <= card.clock.year < _LATEST or card.clock.microsecond:
        raise BadCardError("has a clock that can't be right")

"""What photos show, as far as it was seen: whether a value stands in one, and what makes it a poor proof."""

from __future__ import annotations

import re
from collections.abc import Iterable

from jobnotes.record import Photo, Record

_GLARE = ("burnt out",)  # the only flaw that leaves readable what is read
_RUNS = re.compile(r"[^\W\d_]+|\d+")
_WORDS = re.compile(r"[^\W_]+")
# A shorter value stands on many things; of a number without letters, more than a year has.
_LEAST, _LEAST_DIGITS = 4, 5


def shows(photo: Photo, value: str) -> bool:
    """True if `value` stands in one line of the photo's writing or in a barcode of it: spaces, signs and
    capitals apart, and no part of a longer word or number."""
    wanted = "".join(_WORDS.findall(value.casefold()))
    if photo.sight is None or len(wanted) < (_LEAST_DIGITS if wanted.isdigit() else _LEAST):
        return False
    return any(_holds(text.text.casefold(), wanted) for text in photo.sight.texts)


def poor(photo: Photo) -> str:
    """What makes the photo a poor proof: "blurred and too dark"; "" for nothing that was seen."""
    return " and ".join(photo.sight.flaws) if photo.sight else ""


def to_take_again(record: Record) -> tuple[Photo, ...]:
    """The photos that are a poor proof: of which there is no better take, and that are not merely bright in
    part while what was said can be read in them."""
    proofs = {shown.photo for fact in record.facts if fact.stands for shown in fact.shown if shown.agrees}
    return tuple(
        photo
        for photo in record.photos
        if photo.sight is not None and photo.sight.flaws and photo.like is None
        if photo.id not in proofs or photo.sight.flaws != _GLARE
    )


def only_poor(photos: Iterable[Photo]) -> str:
    """Particulars of a gap that only these, which are poor, would fill: "only P3, which is blurred"."""
    told = [f"{photo.id}, which is {poor(photo)}" for photo in photos]
    return f"only {', and '.join(told)}" if told else ""


def _holds(line: str, wanted: str) -> bool:
    """True if `wanted` begins with a word of the line and ends with a run of letters or of digits: a unit may
    follow without a space, "418206km", but nothing goes before."""
    words = [_RUNS.findall(word) for word in _WORDS.findall(line)]
    for first in range(len(words)):
        joined = ""
        for run in (run for word in words[first:] for run in word):
            joined += run
            if joined == wanted:
                return True
            if not wanted.startswith(joined):
                break
    return False

"""Numbers that what stands beside them may take back or make another: they are for a person to check."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace

from jobnotes.reading.numbers import UNITS
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK, STOP
from jobnotes.record import FaultCode, Identity, LabourSaid, Measurement, Part

_TAKEN_BACK = "the words after it may take it back"
_RATING = re.compile(r"(?:\d+(?:V|A|W|KW|MM|NM|BAR|AH))+", re.IGNORECASE)


def doubted(text: Text, drafts: Sequence[Draft]) -> list[Draft]:
    """The drafts, with a doubt where a number stands beside words that leave it open.

    In `text` the corrections that were understood are carried out already, so those left were not.
    """
    return [_doubted(text, draft) for draft in drafts]


def _doubted(text: Text, draft: Draft) -> Draft:
    detail = draft.detail
    if not isinstance(detail, Measurement | Part | LabourSaid | Identity | FaultCode):
        return draft
    if isinstance(detail, Part) and detail.number is None and detail.quantity is None:
        return draft
    doubts = [_TAKEN_BACK] if any(_takes_back(text, at) for at in (draft.end - 1, draft.end)) else []
    if isinstance(detail, Measurement):
        if heard := _begun_by_a_homophone(text, draft):
            doubts.append(f"'{heard}' may be a number")
        if _names_a_thing(text, draft, detail.unit):
            doubts.append("it may be part of a name, as in 'V clamps'")
    if isinstance(detail, LabourSaid) and _numbers_in(text, draft, detail.operation or ""):
        doubts.append("another number stands beside it")
    if isinstance(detail, Part) and detail.number and _RATING.fullmatch(detail.number):
        doubts.append(f"'{detail.number}' may be what it is rated for, not its number")
    return replace(draft, doubts=(*draft.doubts, *doubts)) if doubts else draft


def _takes_back(text: Text, at: int) -> bool:
    """Whether a word that takes something back stands at that token: "no, an hour and a half"."""
    if not 0 < at < len(text.tokens) - 1 or text.norms[at] not in text.trade.words["soft_corrections"]:
        return False
    if text.norms[at] != "no":
        # "correction, replaced the pump" is the heading of another statement
        heads = text.tokens[at].gap == STOP and text.cue("headings", at) is not None
        return text.number(at + 1) is not None or (text.tokens[at].gap > NO_BREAK and not heads)
    # "no leaks" is no correction; "no, …" and "no an hour" are
    return (
        text.tokens[at + 1].gap > NO_BREAK
        or text.number(at + 1) is not None
        or text.norms[at + 1] in text.trade.words["correction_lead"]
    )


def _begun_by_a_homophone(text: Text, draft: Draft) -> str | None:
    """The word before a bare "hundred" or "thousand" that sounds like a number: "too hundred"."""
    for k in range(max(draft.start, 1), draft.end):
        if text.norms[k] in ("hundred", "thousand") and text.tokens[k].gap == NO_BREAK:
            before = text.norms[k - 1]
            radio_digit = before in text.trade.digits and before not in UNITS  # "tree"; "three" is read
            if radio_digit or before in text.trade.homophones:
                return f"{before} {text.norms[k]}"
    return None


def _names_a_thing(text: Text, draft: Draft, unit: str) -> bool:
    """Whether a component follows a unit of one letter without a break: "two V clamps"."""
    end = draft.end
    if end >= len(text.tokens) or text.tokens[end].gap > NO_BREAK or text.norms[end - 1] != unit.casefold():
        return False
    return bool(text.trade.components.at(text.norms, end)[1])


def _numbers_in(text: Text, draft: Draft, operation: str) -> bool:
    """Whether the words that were taken for the operation hold a number: "says one"."""
    words = set(operation.casefold().split())
    return any(text.norms[k] in words and text.number(k) is not None for k in range(draft.start, draft.end))

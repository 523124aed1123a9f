"""What words beside a number, or in it, leave open: whether it is all of it, or what was meant at all."""

from __future__ import annotations

from collections.abc import Iterator

from jobnotes.reading.speech.names import name_at
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.record import Clock, FaultCode, Identity, LabourSaid, Measurement, Part

TAKEN_BACK = "the words after it may take it back"


def left_open(text: Text, draft: Draft) -> Iterator[str]:
    """The reasons for `check` that the words of `draft`, and those right beside them, give."""
    match draft.detail:
        case FaultCode(spn=int()):
            yield from _code(text, draft)
        case Identity() as identity:
            yield from _identity(text, draft, identity)
        case LabourSaid():
            yield from _labour(text, draft)
        case Measurement():
            yield from _reading(text, draft)
        case Part() as part:
            yield from _part(text, draft, part)
        case Clock() if text.norms[draft.start : draft.end][:2] == ["getting", "on"]:
            yield "is it the clock of this job?"  # "she's getting on"
        case _:
            pass


def ran_by_itself(text: Text, draft: Draft) -> bool:
    """ "forced regen, 38 minutes": how long it ran, and perhaps nobody's labour."""
    said = set(text.norms[text.breath(max(0, draft.start - 1))[0] : text.breath(draft.end - 1)[1]])
    words = text.trade.words
    return bool(words["runs_by_itself"] & said) and not words["labour_words"] & said


def _code(text: Text, draft: Draft) -> Iterator[str]:
    start = draft.start
    joined = start > 0 and text.tokens[start].gap == NO_BREAK and text.number(start) is not None
    if joined and text.number(start - 1) is not None:
        yield f"'{text.norm(start - 1)}' right before it may belong to the number"  # "seven nine zero"


def _identity(text: Text, draft: Draft, identity: Identity) -> Iterator[str]:
    start, end = draft.start, draft.end
    plate = identity.kind == "registration"
    figures = any(n.isdigit() for n in text.norms[start:end])  # "Q I O 519": a nought would be one of them
    if (plate or identity.kind == "vin") and "o" in text.norms[start:end] and not figures:
        yield "was the letter O said in it, or nought?"
    if plate and text.find(text.trade.cue["identity.label"], max(0, start - 4), end):
        yield "'tag': the vehicle's plate, or a label?"
    if identity.kind == "engine_hours" and text.norm(start - 1) == "at":
        yield "'at' was said before it: is it a speed?"  # "at sixteen hundred on the engine"


def _labour(text: Text, draft: Draft) -> Iterator[str]:
    start, end = draft.start, draft.end
    halves = [k for k in range(start + 1, end - 1) if text.norms[k : k + 2] == ["and", "half"]]
    if any(text.tokens[k].gap == STOP for k in halves):
        yield "'and half' began a sentence of its own: does it belong to it?"
    if end >= len(text.tokens) or text.tokens[end].gap != COMMA:
        return
    other = text.number(end + (1 if text.norm(end) in text.trade.words["hesitations"] else 0))
    if other is None or text.unit_follows(other.end):
        return
    if name_at(text, other.end) is None or text.norm(other.end) == "on":  # but "3 hours, 6 bolts"
        yield TAKEN_BACK  # "that was 2 hours, hm, 2.6 on the injector"


def _reading(text: Text, draft: Draft) -> Iterator[str]:
    words = text.trade.words["too_so"]
    for k in range(draft.start, draft.end + 1):
        if text.norm(k) == "too" and text.norm(k + 1) in words:
            yield f"'too {text.norm(k + 1)}': what was read, or how far it was off?"
            return


def _part(text: Text, draft: Draft, part: Part) -> Iterator[str]:
    said = text.norms[draft.start : draft.end]
    held = text.norms[draft.end : draft.end + 1] + text.norms[draft.end - 2 : draft.end]
    if part.action == "fitted" and part.condition is None and part.number is None:
        name = part.name.casefold()
        if name in text.trade.words["holds_up"] and {"it", "them", "that"} & set(held):
            yield f"was the {name} fitted, or did it only hold something?"  # "put a chain on it"
        if name in text.trade.words["materials"] and said[:1] == ["with"]:
            yield f"is {name} what the part before it is made with?"  # "a new P clip with rubber"
    after_amount = said[:1] == ["of"] and text.ends_at(text.trade.unit_forms, draft.start, 3) is not None
    if part.action == "fitted" and after_amount:
        yield "it was told after an amount: is it all of one name?"  # "nine litres of synthetic plug"
    last = text.norm(draft.end - 1)
    bare = last in text.trade.words["kept_somehow"] and not {"is", "was", "are", "were"} & set(said[-2:-1])
    if part.action == "reused" and bare and len(said) > 1 and text.norm(draft.end) != "and":
        yield f"'{last}': used again, or put by?"  # "old valve kept", and the claim was not heard
    if part.action == "consumed" and said[-2:] == ["new", "one"]:
        yield "a new one of what?"

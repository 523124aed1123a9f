"""Work heard in the bare form of its verb, which later work shows to have been done.

Recognisers lose the ending of "removed"; "remove the liner" may also be what is still to do. Once it is told,
surely, that the liner is back in its place, it must have been off. That "remove" was read as "removed" stays
to be seen, as a repaired word does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import NamedTuple

from jobnotes.reading.speech.names import last_word
from jobnotes.reading.speech.numbers import TENS, UNITS
from jobnotes.reading.trade.knowledge import Trade
from jobnotes.reading.work.spoken_work import BARE_FORM
from jobnotes.record import Fact, Part, Repair, Step

#: The confidence of what is borne out so.
_BORNE_OUT = 0.75
#: Parts that take the place of one that came off.
_TAKES_ITS_PLACE = ("fitted", "reused")


class _Done(NamedTuple):
    """What was done to a thing: `words` are its name; `part` tells a part from a step."""

    part: bool
    action: str
    words: frozenset[str]


def borne_out(facts: Sequence[Fact], trade: Trade) -> tuple[Fact, ...]:
    """The facts, in their order; those borne out are sure, and tell the verb that was heard."""
    done: dict[str, dict[_Done, int]] = {}
    for at, fact in enumerate(facts):
        if fact.status == "sure" and isinstance(fact.detail, Step | Part):
            thing = _thing(fact)
            one = _Done(isinstance(fact.detail, Part), fact.detail.action, _words(thing))
            done.setdefault(last_word(thing), {})[one] = at  # of what was done over and over, the last
    settled = {fact.why for at, fact in enumerate(facts) if _is_borne_out(at, fact, done, trade)}
    return tuple(_sure(fact, trade) if _bare(fact) and fact.why in settled else fact for fact in facts)


def _bare(fact: Fact) -> bool:
    """Whether the bare form of its verb is all that is doubtful of a step."""
    doubtful = fact.status == "check" and isinstance(fact.detail, Step)
    return doubtful and fact.why is not None and BARE_FORM.fullmatch(fact.why) is not None


def _is_borne_out(at: int, fact: Fact, done: Mapping[str, Mapping[_Done, int]], trade: Trade) -> bool:
    if not _bare(fact):
        return False
    assert isinstance(fact.detail, Step)
    action = trade.actions.get(fact.detail.action)
    if action is None or action.opens is None:
        return False
    words = _words(fact.detail.object)
    for other, latest in done.get(last_word(fact.detail.object), {}).items():
        undoing = _TAKES_ITS_PLACE if other.part else action.undone_by
        if latest > at and other.action in undoing and (words <= other.words or other.words <= words):
            return True
    return False


def _sure(fact: Fact, trade: Trade) -> Fact:
    assert isinstance(fact.detail, Step)
    heard = BARE_FORM.fullmatch(fact.why or "")
    return replace(
        fact,
        status="sure",
        why=None,
        confidence=max(fact.confidence, _BORNE_OUT),
        repairs=(*fact.repairs, Repair(_verb(heard[1], fact.detail, trade), fact.detail.action))
        if heard
        else fact.repairs,
    )


def _verb(heard: str, step: Step, trade: Trade) -> str:
    """The verb of what was heard, up to what it was done to: "Remove" of "Remove the liner"."""
    words = heard.split()
    ends = trade.determiners | UNITS.keys() | TENS.keys() | {*step.object.casefold().split()[:1]}
    upto = (n for n, word in enumerate(words) if n and (word.casefold() in ends or word.isdigit()))
    return " ".join(words[: next(upto, len(words))])


def _thing(fact: Fact) -> str:
    assert isinstance(fact.detail, Step | Part)
    return fact.detail.object if isinstance(fact.detail, Step) else fact.detail.name


def _words(name: str) -> frozenset[str]:
    return frozenset(word.removesuffix("s") for word in name.casefold().split())

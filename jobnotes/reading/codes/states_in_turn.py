"""What is told of codes by their turn: "P0403 and P0401, the first is active, the second is stored"."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import get_args

from jobnotes.reading.codes.code_news import State
from jobnotes.reading.codes.heard_codes import HeardCode, skip
from jobnotes.reading.speech.text import Text

#: So many tokens lie at most between two codes of a list, and from its end to the last state told of it.
_BETWEEN, _TOLD = 4, 24
#: So many words lie at most between "the first" and its state.
_LEAD = 4
_WHICH = "'{}' was told of the codes: of which?"


@dataclass(frozen=True, slots=True)
class InTurn:
    """The state of a code that was told by its turn, and the doubt where its turn is open."""

    state: State
    doubts: tuple[str, ...] = ()


def states_in_turn(text: Text, heard: Sequence[HeardCode]) -> dict[int, InTurn]:
    """The states of codes in a list, by where each stands in `heard`."""
    found: dict[int, InTurn] = {}
    first = 0
    for at in range(1, len(heard) + 1):
        if at < len(heard) and 0 <= heard[at].start - heard[at - 1].end <= _BETWEEN:
            continue
        if at - first > 1:
            stop = heard[at].start if at < len(heard) else len(text.tokens)
            found |= _of_list(text, first, heard[at - 1].end, at - first, stop)
        first = at
    return found


def _of_list(text: Text, first: int, end: int, size: int, stop: int) -> dict[int, InTurn]:
    """What is told behind token `end` of a list of `size` codes, the first of them at `first`."""
    turns = text.trade.words
    told: list[tuple[int | None, State, int, int]] = []
    last = min(stop, end + _TOLD)
    opens = end
    while opens < last:
        norm = text.norm(opens)
        by_name = next((n for n, word in enumerate(_ORDER) if norm == word), None)
        if norm in ("last", "latter"):
            by_name = size - 1
        open_turn = norm in ("one", "other") and text.norm(opens - 1) not in turns["by_turn"]
        state = _state_after(text, opens + 1, last) if by_name is not None or open_turn else None
        if state is None:
            opens += 1
            continue
        told.append((by_name, state[0], opens, state[1]))
        opens = state[1]
    if len(told) < 2:
        return {}
    named = {turn: state for turn, state, _, _ in told if turn is not None and turn < size}
    if len(named) == len(told):
        return {first + turn: InTurn(state) for turn, state in named.items()}
    if len(told) > size:
        return {}
    said = _WHICH.format(text.said(told[0][2], told[-1][3]))
    return {first + n: InTurn(state, (said,)) for n, (_, state, _, _) in enumerate(told)}


def counts_in_turn(text: Text, heard: Sequence[HeardCode]) -> dict[int, int]:
    """How often each code of a list came, where that is told behind it of all, or one after another."""
    found: dict[int, int] = {}
    for (_, end), places in groupby(range(len(heard)), lambda at: text.sentence(heard[at].start)):
        told = list(places)
        last = heard[told[-1]].end
        own = any(text.cue("codes.count", k) for k in range(heard[told[0]].end, heard[told[-1]].start))
        if len(told) == 1 or own:
            continue
        counts = _counts(text, last, end)
        each = len(told) if len(counts) == 1 else 1
        if len(counts) * each == len(told):
            found |= dict(zip(told, counts * each, strict=True))
    return found


def _counts(text: Text, start: int, stop: int) -> list[int]:
    """The number that is told of "each", or the numbers behind one word of counting."""
    for i in range(start, min(stop, start + _TOLD)):
        cue = text.cue("codes.count", i)
        if cue is None:
            continue
        k, numbers = cue[0], []
        while (number := text.number(skip(text, k, _BETWEEN_COUNTS))) is not None and number.end <= stop:
            numbers.append(int(number.value))
            k = number.end
        each = text.trade.words["of_each"]
        if len(numbers) == 1 and each.isdisjoint((text.norm(k), text.norm(k + 1), text.norm(i - 1))):
            return []  # of the last one only
        return numbers
    return []


_BETWEEN_COUNTS = ("is", "of", "are", "were", "and", "then", "both", "all", "each")
_ORDER = ("first", "second", "third", "fourth")


def _state_after(text: Text, i: int, stop: int) -> tuple[State, int] | None:
    for k in range(i, min(i + _LEAD, stop)):
        cue = text.cue("states", k)
        if cue is not None:
            return next(((state, cue[0]) for state in get_args(State) if state == cue[1]), None)
        if text.norm(k) not in text.trade.words["to_its_state"]:
            return None
    return None

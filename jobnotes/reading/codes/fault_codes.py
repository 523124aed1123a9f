"""Fault codes: J1939, trouble codes, makers' own numbers; state, count, control unit."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from dataclasses import replace

from jobnotes.reading.codes.code_news import Cleared, cleared_codes, gone_codes, news_of, unit_of_none
from jobnotes.reading.codes.heard_codes import HeardCode
from jobnotes.reading.codes.j1939 import completed, j1939_code, more_failure_modes, shared
from jobnotes.reading.codes.makers_codes import known_again, listed_code, makers_code
from jobnotes.reading.codes.states_in_turn import counts_in_turn, states_in_turn
from jobnotes.reading.codes.trouble_codes import trouble_code
from jobnotes.reading.codes.unread_codes import next_in_list, unread_code
from jobnotes.reading.private import private_spans, swears
from jobnotes.reading.speech.numbers import REPEATS, TENS, UNITS
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.record import FaultCode

_WHICH = "one code was cleared, and several were told: which?"
_NOT_CLEARED = "it did not return, but nobody said that it was cleared"


def fault_codes(text: Text) -> Iterator[Draft]:
    """Each code where it is named, and each again where news came of all of them ("codes did not return")."""
    named = list(_named(text))
    yield from named
    gone_at = gone_codes(text)
    cleared = cleared_codes(text, [d.keys[0] for d in named], gone_at)
    cleared_at = [(c.start, c.end) for c in cleared if c.of_all]
    private = private_spans(text) if gone_at and cleared_at else []
    # where they are said to stay away later, that tells that they are gone
    yield from _cleared(named, cleared, gone_at[-1][0] if gone_at else -1)
    codes: dict[str, Draft] = {}
    position = 0
    states = text.find(text.trade.cue["states"], 0, gone_at[-1][0]) if gone_at else []
    first_cleared = min(
        next((stop for _, stop, state in states if state == "cleared"), len(text.tokens)),
        next((c.end for c in cleared), len(text.tokens)),
    )
    for i, end in gone_at:
        while position < len(named) and named[position].start < i:
            detail = named[position].detail
            assert isinstance(detail, FaultCode)
            codes[detail.code] = named[position]
            position += 1
        told_from = _cleared_before(text, i, cleared_at, named[position - 1 : position], private)
        unit = unit_of_none(text, i, end)
        for draft in codes.values():
            assert isinstance(draft.detail, FaultCode)
            if unit is not None and not _same_unit(text, unit, draft.detail.ecu, first_cleared <= i):
                continue  # "no codes stored in the brake module"
            if first_cleared > i and text.trade.words["were_there"].isdisjoint(text.norms[i:end]):
                continue  # "no new codes"
            gone = _gone(draft, i, end, (_NOT_CLEARED,) if first_cleared > i else ())
            yield gone if told_from is None else replace(gone, shown=(told_from, end))


#: So many tokens lie at most between "codes cleared" and "codes did not return" of one proof.
_ONE_PROOF = 40


def _cleared_before(
    text: Text,
    gone: int,
    cleared_at: Sequence[tuple[int, int]],
    named: Sequence[Draft],
    private: Sequence[tuple[int, int]],
) -> int | None:
    """Where "codes cleared" stands before the "codes did not return" at token `gone`: that they were cleared
    is said there, so the quote begins there. None where it doesn't, or not in the words right before.
    `named`: the code that was named last before that."""
    near = cleared_at[bisect_left(cleared_at, (gone - _ONE_PROOF, 0)) : bisect_left(cleared_at, (gone, 0))]
    before = [i for i, end in near if end <= gone]
    if not before or any(before[-1] <= draft.start for draft in named):
        return None
    reaching = private[: bisect_left(private, (gone, 0))][-1:]
    kept = any(before[-1] < b for _, b in (*reaching, *swears(text, before[-1], gone)))
    return None if kept else before[-1]


def _gone(draft: Draft, start: int, end: int, doubts: tuple[str, ...]) -> Draft:
    """The code of `draft`, of which tokens `start` … `end` say without naming it that it is gone."""
    assert isinstance(draft.detail, FaultCode)
    gone = replace(draft.detail, state="cleared", count=None, ecu=None)
    told = (*draft.doubts, *doubts)
    # it can be no surer than the words that named the code
    return Draft(gone, start, end, 0.9, told, draft.repairs, ((start, end), *draft.keys), unnamed=True)


def _same_unit(text: Text, said: str, told: str | None, unknown: bool) -> bool:
    """Whether a control unit is the one that a code was told of; `unknown` where it was told of none."""
    if told is None:
        return unknown
    names = set(said.casefold().split()) & set(told.casefold().split())
    return bool(names - text.trade.words["control_unit_ends"] - text.trade.determiners)


def _cleared(named: Sequence[Draft], cleared: Sequence[Cleared], after: int) -> Iterator[Draft]:
    """Each code that was told before "codes cleared", where that stands behind token `after`."""
    told: dict[str, Draft] = {}
    position = 0
    for one in cleared:
        while position < len(named) and named[position].start < one.start:
            draft = named[position]
            assert isinstance(draft.detail, FaultCode)
            told.pop(draft.detail.code, None)
            if draft.detail.state != "cleared":
                told[draft.detail.code] = draft
            position += 1
        if one.start > after:
            doubts = [one.doubt] if one.doubt else []
            if not one.of_all and len(told) > 1:
                doubts.append(_WHICH)
            yield from (_gone(draft, one.start, one.end, tuple(doubts)) for draft in told.values())
        told.clear()


def _named(text: Text) -> Iterator[Draft]:
    heard = completed(_all(text))
    told: set[str] = set()
    last_ecu: str | None = None
    own: HeardCode | None = None  # the last one whose SPN was said, not "the same"
    in_turn, counted = states_in_turn(text, heard), counts_in_turn(text, heard)
    headed = False  # by its control unit, which then holds for the codes that follow
    for at, one in enumerate(heard):
        if text.sense(one.start, ("condition", "question")) is not None:
            continue
        if text.norm(one.start - 1) in ("no", "not", "without") and text.tokens[one.start].gap == NO_BREAK:
            continue
        news = news_of(text, heard, at)
        if (
            news.ecu is None
            and last_ecu is not None
            and (_in_a_list(text, heard, at) or (headed and _next_line(text, heard, at)))
        ):
            news = replace(news, ecu=last_ecu)  # "the modulator's got code 14 active and code 31 stored"
        elif news.ecu is not None:
            headed = news.ecu in text.said(text.breath(one.start)[0], one.start)
        last_ecu = news.ecu
        text.claim(one.start, one.end)
        if news.state == "absent" and one.code.code not in told:
            continue  # never there: no fact
        state = "cleared" if news.state == "absent" else news.state
        told.add(one.code.code)
        doubts = one.doubts
        if (turn := in_turn.get(at)) is not None:
            state, doubts = turn.state, (*doubts, *turn.doubts)
        keys = [(one.start, one.end)]
        if text.cue("codes.same_spn", one.start) is None:
            own = one
        elif own is not None:
            keys.append((own.start, own.end))
        if news.counted is not None:
            keys.append(news.counted)
        if (
            state == "active"
            and text.norm(one.end) in ("and", "an", "in")
            and text.norm(one.end + 1) == "active"
        ):
            doubts = (*doubts, f"'{text.said(one.end, one.end + 2)}' could be 'inactive'")
        yield Draft(
            replace(one.code, state=state, count=counted.get(at, news.count), ecu=news.ecu),
            one.start,
            news.end,
            doubts=doubts,
            repairs=one.repairs,
            keys=tuple(keys),
        )


def _in_a_list(text: Text, heard: Sequence[HeardCode], at: int) -> bool:
    """Whether the code follows the one before in the same breath, joined by "and" or a comma."""
    if at == 0 or text.breath(heard[at - 1].start) != text.breath(heard[at].start):
        return False
    start = heard[at].start
    joined = text.norm(start - 1) in ("and", "plus", "code", "also") or text.tokens[start].gap == COMMA
    return joined and start - heard[at - 1].end <= 6


def _next_line(text: Text, heard: Sequence[HeardCode], at: int) -> bool:
    """ "Retarder ECU: SPN 5012 …. SPN 520 …": a sentence that begins with a code, after another."""
    start = heard[at].start
    if at == 0 or text.breath(start)[0] != start or start == 0:
        return False
    before = text.breath(start - 1)
    return before[0] <= heard[at - 1].start and not any(
        text.cue("codes.fault", k) for k in range(heard[at - 1].end, start)
    )


def _all(text: Text) -> list[HeardCode]:
    heard: list[HeardCode] = []
    known: set[str] = set()
    last_spn: int | None = None
    free = 0
    for i in _openers(text):
        if i < free or text.claimed[i]:
            continue
        found = (
            j1939_code(text, i, last_spn)
            or trouble_code(text, i)
            or makers_code(text, i)
            or listed_code(text, i)
            or known_again(text, i, known)
            or unread_code(text, i)
        )
        if found is None:
            continue
        last_spn = found.code.spn if found.code.spn is not None else last_spn
        if found.code.system == "maker":
            known.add(found.code.code)
        more = more_failure_modes(text, found)
        if found.code.system == "maker" and (second := next_in_list(text, found)) is not None:
            known.add(second.code.code)
            more = [second]
        heard[-6:] = [*shared(text, heard[-6:], found), found, *more]
        free = more[-1].end if more else found.end
    return heard


#: The cue tables that a code is told with.
_CUES = tuple(
    f"codes.{name}"
    for name in (
        *("spn", "spn_misheard", "same_spn", "fmi"),
        *("maker", "maker_with_state", "misheard_fault", "announced"),
    )
)
#: What else a code may begin with: figures in words, and "code", which announces it.
_WORDS = frozenset((*UNITS, *TENS, *REPEATS, "a", "hundred", "code"))


def _openers(text: Text) -> list[int]:
    """The tokens at which a code can begin: at figures, letters, and the words that it is told with."""
    trade = text.trade
    tables = (trade.letters, trade.letters_misheard, *(trade.cue[name] for name in _CUES))
    words = _WORDS.union(trade.digits, "pcbu", *(phrases.first_words for phrases in tables))
    return [i for i, norm in enumerate(text.norms) if norm in words or any(map(str.isdigit, norm))]

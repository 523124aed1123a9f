"""Trade words that a recogniser is known to mishear, put right where the context asks for them.

The list is data (`misheard.toml`): what is heard, what it is read as, and the words of which one must stand
near. What was heard stays in the quote; a repair is recorded with the fact it is in.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from jobnotes.reading.speech.numbers import TENS, UNITS
from jobnotes.reading.tokens import STOP, Token
from jobnotes.reading.trade.knowledge import Mishearing, Trade
from jobnotes.record import Repair

#: How many tokens away the context may stand.
NEAR = 6
#: What "two hundred and ninety one" is made of.
_OF_A_NUMBER = UNITS.keys() | TENS.keys() | {"hundred", "and", "point"}


def repair(tokens: Sequence[Token], trade: Trade) -> tuple[list[Token], dict[int, Repair]]:
    """Tokens with known mishearings put right, and for each repaired token what was heard."""
    norms = [t.norm for t in tokens]
    out: list[Token] = []
    repairs: dict[int, Repair] = {}
    i = 0
    while i < len(tokens):
        if norms[i] not in trade.misheard.first_words:
            out.append(tokens[i])  # most often
            i += 1
            continue
        end, meanings = trade.misheard.at(norms, i)
        chosen = next((m for m in meanings if _fits(m, norms, i, end, trade, tokens)), None)
        if chosen is None or any(t.gap == STOP for t in tokens[i + 1 : end]):
            out.append(tokens[i])
            i += 1
            continue
        record = Repair(" ".join(norms[i:end]), " ".join(chosen.read_as))
        for k, word in enumerate(chosen.read_as):
            source = tokens[min(i + k, end - 1)]
            repairs[len(out)] = record
            out.append(replace(source, norm=word, gap=source.gap if k == 0 else 0, joined=False))
        i = end
    return out, repairs


def _fits(
    mishearing: Mishearing, norms: Sequence[str], i: int, end: int, trade: Trade, tokens: Sequence[Token]
) -> bool:
    if mishearing.before:
        return norms[end : end + 1] != [] and norms[end] in mishearing.before
    if mishearing.before_pieces:
        return _pieces_and_no_more(norms, end, trade, tokens)
    if mishearing.before_part:
        return bool(trade.components.at(list(norms[end : end + 8]), 0)[1])
    if mishearing.after_number:
        before = norms[i - 1] if i else ""
        return before in UNITS or before in TENS or before[:1].isdigit()
    if mishearing.after_decimal:
        return any("." in n and n[:1].isdigit() for n in norms[max(0, i - 1) : i]) or _point_before(norms, i)
    if not mishearing.near and not mishearing.digits_near:
        return True
    if mishearing.near and any(
        w in mishearing.near
        for way in (range(i - 1, -1, -1), range(end, len(norms)))
        for w in _reach(norms, way)
    ):
        return True
    return mishearing.digits_near and any(n[:1].isdigit() for n in norms[end : end + 2])


def _reach(norms: Sequence[str], way: Iterable[int]) -> Iterator[str]:
    """The words that are near, going that way; the words of one number count as its figures do, for one."""
    told, in_number = 0, False
    for k in way:
        numeral = norms[k] in _OF_A_NUMBER
        told += not (numeral and in_number)
        if told > NEAR:
            return
        in_number = numeral
        yield norms[k]


def _pieces_and_no_more(norms: Sequence[str], i: int, trade: Trade, tokens: Sequence[Token]) -> bool:
    """ "two bolts.", but not "two bolts short"."""
    counted = norms[i : i + 1]
    if not counted or not (counted[0] in UNITS or counted[0].isdigit()):
        return False
    after, meanings = trade.components.at(list(norms), i + 1)
    return bool(meanings) and (after == len(tokens) or tokens[after].gap == STOP)


def _point_before(norms: Sequence[str], i: int) -> bool:
    """ "eight point one" stands right before `i`."""
    k = i - 1
    while k > 0 and (norms[k] in UNITS or norms[k] in TENS or norms[k].isdigit()):
        k -= 1
    return k < i - 1 and norms[k] == "point"

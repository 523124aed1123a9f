"""What people say while they think: "job number, um, four four one seven", "two point three, you know, five".

It stays in the quote, which is cut from the words; the reader goes on as if it were not there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jobnotes.reading.speech.numbers import TENS, UNITS
from jobnotes.reading.tokens import COMMA, NO_BREAK, Token, shouted
from jobnotes.reading.trade.knowledge import Trade


def without_hesitation(tokens: Sequence[Token], trade: Trade) -> list[Token]:
    """`tokens` without sounds and phrases of someone who thinks; the longest break around them stays."""
    norms = [token.norm for token in tokens]
    out: list[Token] = []
    gap, skipped = NO_BREAK, 0
    for index, token in enumerate(tokens):
        if index < skipped:
            continue
        end = _phrase_at(norms, index, trade)
        if end == index and (_sound(tokens, index, trade) or _about(norms, index, trade)):
            end = index + 1
        if end > index:
            gap, skipped = max(gap, *(t.gap for t in tokens[index:end])), end
            if out and end < len(tokens) and _numeral(out[-1].norm) and _numeral(norms[end]):
                gap = max(gap, COMMA)  # "3 er 4 bar": thirty-four was not said
            continue
        out.append(replace(token, gap=gap) if gap > token.gap else token)
        gap = NO_BREAK
    return out


def _numeral(norm: str) -> bool:
    return norm[:1].isdigit() or norm in UNITS or norm in TENS


def _sound(tokens: Sequence[Token], index: int, trade: Trade) -> bool:
    """ "um", but not the unit after its figures ("50 um") and no letter of a string ("k er 4")."""
    token = tokens[index]
    if token.norm not in trade.words["hesitations"]:
        return False
    before = tokens[index - 1].norm if index else ""
    after = tokens[index + 1].norm if index + 1 < len(tokens) else ""
    if before[-1:].isdigit() and token.gap == NO_BREAK:
        return token.norm not in trade.unit_forms.first_words
    spelled = token.joined or len(before) == 1 or (len(after) == 1 and after.isalpha())
    if token.text.strip(".,-/:;").isupper() and not shouted(tokens, index):
        return False  # "UH 00", "HMM 00": in capitals they are letters
    return not (spelled and len(token.norm) == 2)


def _phrase_at(norms: list[str], index: int, trade: Trade) -> int:
    """Where a phrase that says nothing ends ("you know"); `index` where there is none."""
    end, found = trade.cue["stop.fillers"].at(norms, index)
    if not found:
        return index
    before = norms[index - 1] if index else ""
    after = norms[end] if end < len(norms) else ""
    means_it = before in trade.words["before_no_filler"] or after in trade.words["after_no_filler"]
    return index if means_it else end


def _about(norms: Sequence[str], index: int, trade: Trade) -> bool:
    """ "torqued to like ten newton metres"; not "looks like 5 bolts", "something like forty"."""
    if norms[index] not in trade.words["said_of_a_number"] or index + 1 >= len(norms):
        return False
    before = norms[index - 1] if index else ""
    after = norms[index + 1]
    number = _numeral(after) or after in ("point", "half")
    return number and after != "one" and before not in trade.words["seems"]

"""Privacy: swearing and what is said off the record stays in the workshop."""

from __future__ import annotations

from bisect import bisect_left

from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import STOP

#: What is said before such words, up to so many tokens, leads to them: "right, and this is off the record".
LEAD_IN = 6
#: An aside is closed within so many tokens of its beginning, or ends with its line.
LONGEST = 60  # tokens; only "back on the record" closes an aside that is longer
#: Words that open a sentence which speaks of the one before it.
_THAT = frozenset(("that's", "that", "and", "but", "so"))


def private_spans(text: Text) -> list[tuple[int, int]]:
    """Tokens that are private: from "off the record" to "on the record" or the end of that line. Where
    it ends a sentence, that sentence too, or, of "keep that between us", that sentence alone."""
    spans: list[tuple[int, int]] = []
    closings = _closings(text)
    free = 0
    for i in text.where("private.open"):
        opened = text.trade.cue["private.open"].at(text.norms, i)
        if i < free or not opened[1]:
            continue
        start, (begin, stop) = text.sentence(i)[0], text.breath(i)
        j = opened[0]
        if j == stop:
            start = begin
            of_before = text.trade.cue["private.of_before"].at(text.norms, i)[0] == j
            if of_before and begin > 0 and text.norm(begin) in _THAT and i - begin <= 2:
                spans.append((text.sentence(begin - 1)[0], j))  # "… at his dinner. That's not for the book."
                free = j
                continue
            if i - begin > LEAD_IN and text.trade.cue["private.of_before"].at(text.norms, i)[0] == j:
                spans.append((begin, j))
                free = j
                continue
        closed = _closed_by(closings, i, j)
        end = closed if closed is not None else len(text.tokens)
        if closed is None:
            k = j
            while k < len(text.tokens) and not (text.tokens[k].gap == STOP and k - j >= 2):
                if (
                    k - j >= 4
                    and text.norm(k) not in text.trade.words["goes_on_telling"]
                    and any(text.trade.cue[n].at(text.norms, k)[1] for n in ("headings", "clock", "identity"))
                    and text.opens_sentence(k)
                ):
                    break
                k += 1
            end = k
        spans.append((start, end))
        free = end
    return spans


def _closings(text: Text) -> tuple[list[tuple[int, int]], list[tuple[int, int]]]:
    """(start, end) of all words that close an aside, and of those that close one of any length."""
    close = text.trade.cue["private.close"]
    every = [(k, end) for k in text.where("private.close") if (end := close.at(text.norms, k)[0]) > k]
    return every, [(k, end) for k, end in every if "record" in text.norms[k:end]]


def _closed_by(
    closings: tuple[list[tuple[int, int]], list[tuple[int, int]]], opened: int, start: int
) -> int | None:
    """The end of the words from `start` on that close the aside opened at `opened`; None if none do."""
    every, on_record = closings
    at = bisect_left(every, (start, 0))
    if at < len(every) and every[at][0] - opened < LONGEST:
        return every[at][1]
    at = bisect_left(on_record, (start, 0))
    return on_record[at][1] if at < len(on_record) else None


def swears(text: Text, start: int, end: int) -> list[tuple[int, int]]:
    """Where words of the private list stand in `start` … `end`."""
    return [(i, j) for i, j, _ in text.find(text.trade.cue["private.swearing"], start, end)]

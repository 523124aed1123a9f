"""Privacy: swearing and what is said off the record stays in the workshop."""

from __future__ import annotations

from jobnotes.reading.text import Text
from jobnotes.reading.tokens import STOP

#: What is said before such words, up to so many tokens, leads to them: "right, and this is off the record".
LEAD_IN = 6
#: An aside is closed within so many tokens of its beginning, or ends with its line.
LONGEST = 60  # tokens; only "back on the record" closes an aside that is longer


def private_spans(text: Text) -> list[tuple[int, int]]:
    """Tokens that are private: from "off the record" to "on the record" or the end of that line. Where
    it ends a sentence, that sentence too, or, of "keep that between us", that sentence alone."""
    spans: list[tuple[int, int]] = []
    i = 0
    while i < len(text.tokens):
        opened = text.trade.cue["private.open"].at(text.norms, i)
        if not opened[1]:
            i += 1
            continue
        start, (begin, stop) = text.sentence(i)[0], text.breath(i)
        j = opened[0]
        if j == stop:
            start = begin
            if i - begin > LEAD_IN and text.trade.cue["private.of_before"].at(text.norms, i)[0] == j:
                spans.append((begin, j))
                i = j
                continue
        end = len(text.tokens)
        explicit = False
        for k in range(j, len(text.tokens)):
            closed = text.trade.cue["private.close"].at(text.norms, k)
            if closed[1] and (k - i < LONGEST or "record" in text.norms[k : closed[0]]):
                end, explicit = closed[0], True
                break
        if not explicit:
            k = j
            while k < len(text.tokens) and not (text.tokens[k].gap == STOP and k - j >= 2):
                if (
                    k - j >= 4
                    and any(text.trade.cue[n].at(text.norms, k)[1] for n in ("headings", "clock", "identity"))
                    and text.opens_sentence(k)
                ):
                    break
                k += 1
            end = k
        spans.append((start, end))
        i = end
    return spans


def swears(text: Text, start: int, end: int) -> list[tuple[int, int]]:
    """Where words of the private list stand in `start` … `end`."""
    return [(i, j) for i, j, _ in text.find(text.trade.cue["private.swearing"], start, end)]

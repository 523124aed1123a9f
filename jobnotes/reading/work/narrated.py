"""Work told while it is done: "I'm pulling the tube … okay, that's out", "hub's coming off, and it's off"."""

from __future__ import annotations

from jobnotes.reading.speech.names import Name, names_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.work.spoken_work import Work

#: So many tokens after its object the work may be told to be done.
_AHEAD = 8


def narrated_at(text: Text, i: int) -> Work | None:
    """What is being taken off at `i`, if it is told right after that it is off."""
    words = text.trade.words
    if (
        text.norm(i) not in words["taking_now"]
        or text.negated_before(i)
        or text.sense(i, ("condition", "question")) is not None
    ):
        return None
    start, names = i, names_at(text, _past_particle(text, i + 1), text.breath(i)[1])
    end = names[-1].end if names else i + 1
    if text.norm(i) in ("coming", "comes") and not names:
        before = _named_before(text, i)
        names, start, end = ([before], before.start, i + 1) if before else ([], i, i + 1)
    objects = tuple(n for n in names if n.kind and not n.pronoun)
    done = _done(text, _past_particle(text, end)) if objects else None
    if done is None:
        return None
    return Work(start, done, "removed", False, "past", text.norm(done - 1), objects, True)


def _done(text: Text, k: int) -> int | None:
    """The end of "that's out", which only idle words part from token `k`."""
    words = text.trade.words
    for at in range(k, min(k + _AHEAD, len(text.tokens) - 1)):
        if text.norm(at) in words["it_is_now"] and text.norm(at + 1) in words["taken_to"]:
            end = at + 2
            closed = not text.goes_on(end)
            # "it's off the shelf" is no end of the work
            return end if closed or text.norm(end) in ("and", "now", "too") else None
        if text.norm(at) not in words["between_taking_and_done"]:
            return None
    return None


def _past_particle(text: Text, k: int) -> int:
    while text.norm(k) in ("off", "out", "away", "down", "up"):
        k += 1
    return k


def _named_before(text: Text, k: int) -> Name | None:
    """ "hub's coming off": what comes off stands before it."""
    last = k - 1 if text.norm(k - 1) in ("is", "are") else k
    for j in range(max(text.sentence(k)[0], last - 4), last):
        names = [n for n in names_at(text, j, last) if n.kind and not n.pronoun and n.end == last]
        if names:
            return names[-1]
    return None

"""Hours told as a list: "clutch seven hours, seal one hour", "labour, diagnosis one hour, repair two". Every
part of the sentence is hours or what they were for; late in a job nobody needs to call it labour."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from jobnotes.reading.durations import duration
from jobnotes.reading.text import Text
from jobnotes.reading.tokens import NO_BREAK

#: A breath that lists hours so has at most so many tokens.
_LONGEST = 30
#: So many words name at most what hours were for.
_NAMED = 5
#: Nobody lists more hours than these for one thing, in one job.
_MOST = 24


@dataclass(frozen=True, slots=True)
class Listed:
    """Hours at tokens `start` … `end`, and the tokens that tell what they were for."""

    hours: Decimal
    start: int
    end: int
    operation: tuple[int, int]


def listed_hours(text: Text) -> dict[int, Listed]:
    """All hours that are listed so, by where they start; those that nobody calls labour are told late."""
    found: dict[int, Listed] = {}
    words = text.trade.words
    for start in text.stops:
        end = text.breath(start)[1]
        if end - start > _LONGEST or not words["hour_words"] & set(text.norms[start:end]):
            continue
        called = text.find(text.trade.cue["labour.strong"], start, end)
        if 2 * start < len(text.tokens) and not called:
            continue
        entries = _entries(text, start, end)
        found |= {one.start: one for one in entries}
    return found


def _entries(text: Text, start: int, end: int) -> list[Listed]:
    """The entries of the breath, or none where it is no such list."""
    words = text.trade.words
    spans: list[tuple[Decimal, int, int]] = []
    k = start
    while k < end:
        span = _hours(text, k, bool(spans)) if not text.claimed[k] else None
        if span is None:
            k += 1
            continue
        spans.append((span[0], k, span[1]))
        k = span[1]
    if len(spans) < _LEAST or any(not 0 < hours < _MOST for hours, _, _ in spans):
        return []
    edges = [start, *(k for _, a, b in spans for k in (a, b)), end]
    between = [_trimmed(text, edges[n], edges[n + 1]) for n in range(0, len(edges), 2)]
    first_named = between[0][0] < between[0][1]
    named = between[:-1] if first_named else between[1:]
    rest = between[-1] if first_named else between[0]
    if rest[0] < rest[1] or not all(_names_work(text, *one) for one in named):
        return []
    told = set(text.norms[start:end])
    not_worked = words["not_worked"] | words["waited"] | words["others_at_work"]
    ran = told & words["run_on"] or _runs(text, start, end)  # labour may be for a pump, or on the road
    if told & not_worked or (ran and not text.find(text.trade.cue["labour.strong"], start, end)):
        return []
    if any(text.cue("identity.engine_hours_after", stop) for _, _, stop in spans):
        return []
    return [Listed(h, a, b, name) for (h, a, b), name in zip(spans, named, strict=True)]


#: So many entries make a list.
_LEAST = 2


def _hours(text: Text, k: int, listed: bool) -> tuple[Decimal, int] | None:
    """(hours, end) at `k`; a decimal without a unit counts once hours were listed before it."""
    told = duration(text, k)
    if told is not None:
        return told
    number = text.number(k) if listed else None
    bare = number is not None and "." in number.text and not text.unit_follows(number.end)
    return (number.value, number.end) if number is not None and bare else None


def _trimmed(text: Text, start: int, end: int) -> tuple[int, int]:
    """Tokens `start` … `end` without the little words at both ends."""
    little = text.trade.words["around_listed"] | text.trade.words["called_labour"]
    while start < end and text.norm(start) in little:
        start += 1
    while end > start and text.norm(end - 1) in little:
        end -= 1
    return start, end


def _names_work(text: Text, start: int, end: int) -> bool:
    """Whether the tokens name what was worked on, and tell nothing else."""
    if not 0 < end - start <= _NAMED:
        return False
    if any(text.claimed[k] or text.number(k) is not None for k in range(start, end)):
        return False
    if any(text.tokens[k].gap > NO_BREAK for k in range(start + 1, end)):
        return False
    allowed = text.trade.determiners | {"and", "up", "off", "out", "on", "in", "for"}
    return not any(text.norm(k) in text.trade.stop - allowed for k in range(start, end))


def _runs(text: Text, start: int, end: int) -> bool:
    """ "charged two hours, soak one hour": what the vehicle took."""
    stems = tuple(text.trade.words["vehicle_process_stems"])
    return any(text.norm(k).startswith(stems) for k in range(start, end))

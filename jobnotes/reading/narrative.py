"""The told part: complaint, cause, correction, finding, advisory, loose end, hazard, as text with its span.

A heading opens a statement ("cause is …"); without one, a component with a failure word is a finding. A cause
names a component and how it failed: one that doesn't, or that is a symptom or a code, is for a person to check.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from jobnotes.reading.names import Name, name_at
from jobnotes.reading.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.record import Statement

_LONGEST = 45
_KEEP_HEADING = {
    "finding": False,
    "advisory": True,
    "loose_end": True,
    "hazard": True,
    "complaint": False,
    "cause": False,
    "correction": False,
}


def statements(text: Text, done: Sequence[Draft]) -> Iterator[Draft]:
    """Statements under a spoken heading, then findings without one."""
    covered: list[tuple[int, int]] = []
    i = 0
    while i < len(text.tokens):
        found = _heading(text, i)
        if found is None:
            i += 1
            continue
        kind, body, begin, end = found
        if end <= body and not _KEEP_HEADING[kind]:
            i = max(body, i + 1)
            continue
        draft = _statement(text, kind, begin, body, end)
        if draft is not None:
            covered.append((draft.start, draft.end))
            yield draft
        i = max(body, i + 1) if kind in ("finding",) else max(end, i + 1)
    first = _first_complaint(text, covered)
    if first is not None:
        covered.append((first.start, first.end))
        yield first
    for start, end in _malfunctions(text):
        if any(a < end and start < b for a, b in covered) or text.sense(start, ("condition", "question")):
            continue
        component, failure = _what_failed(text, start, end)
        if component is not None:
            covered.append((start, end))
            yield Draft(Statement("finding", text.said(start, end), component, failure), start, end, 0.85)
    yield from _missing(text)
    yield from _implied(text, covered)


def _heading(text: Text, i: int) -> tuple[str, int, int, int] | None:
    """(kind, body start, start of the quote, end) of the statement whose heading is at `i`."""
    cue = text.cue("headings", i)
    if cue is None or text.claimed[i]:
        return None
    end, kind = cue
    if end >= len(text.tokens) and kind != "loose_end":
        return None
    phrase = text.norms[i:end]
    start, _ = text.clause(i)
    prev = text.norm(i - 1)
    if kind == "correction" and " ".join(phrase) in text.trade.words["correction_headings"]:
        if text.number(end) is not None or text.claimed[i]:
            return None
        if i > start and prev not in ("the", "and", "so", "for") and text.tokens[i].gap == NO_BREAK:
            return None
        if phrase == ["repair"] and prev in text.trade.words["before_no_repair"]:
            return None
        if text.norm(end) in ("is", "was"):
            end += 1
    if kind == "finding":
        if (
            phrase in (["found"],)
            and prev in text.trade.words["before_not_found"]
            or text.negated(end, end + 1)
            and text.norm(end) in ("nothing",)
        ):
            return None
        if text.sense(i) is not None:
            return None
    if kind == "cause" and phrase[0] in text.trade.words["traced"] and text.sense(i, ("question",)):
        return None
    if kind == "cause" and phrase in (["due", "to"],) and text.norm(end) in ("be", "come", "go", "start"):
        return None
    if (
        kind == "cause"
        and phrase == ["cause"]
        and (
            prev in text.trade.words["before_no_cause"]
            or i > start
            and text.tokens[i].gap == NO_BREAK
            and prev not in ("and", "so", "the", "root")
        )
    ):
        return None
    if kind in ("cause",) and (text.sense(i, ("condition", "question")) is not None):
        return None
    if (
        kind in ("complaint",)
        and text.norm(i) == "in"
        and text.norm(i - 1) not in text.trade.words["before_came_in"]
    ):
        return None
    if kind == "advisory" and phrase in (["starting", "to"], ["due", "for"]) and text.sense(i, ("question",)):
        return None
    if kind == "loose_end":
        if text.sense(i, ("question", "condition")) is not None:
            return None
        if " ".join(phrase) in text.trade.words["duties"] and (
            text.norm(i - 1) not in text.trade.words["before_duty"]
            or text.find(text.trade.cue["headings.advisory"], max(0, i - 5), i)
        ):
            return None
        if " ".join(phrase) in text.trade.words["not_done_yet"] and not _done_verb(text, end):
            return None
        if phrase == ["waiting", "for"] and text.cue("clock", i):
            return None
    if (
        kind == "hazard"
        and phrase == ["warning"]
        and (i != text.breath(i)[0] or text.tokens[end].gap == NO_BREAK)
    ):
        return None
    if kind == "hazard" and phrase in (["careful"],) and prev in ("been", "was"):
        return None
    if kind == "hazard" and phrase == ["under", "pressure"] and prev not in ("still", "is", "was", "it's"):
        return None
    while text.norm(end) in text.trade.words["after_heading"] and kind != "finding":
        if text.norm(end) in ("the",):
            break
        end += 1
    stop = _end(text, i, end, kind)
    begin = i
    if (
        _KEEP_HEADING[kind]
        or kind == "finding"
        or (kind == "cause" and phrase[0] in text.trade.words["told_with_effect"])
    ):
        begin = start if start < i and i - start < 16 else i
        if kind in ("cause", "finding"):
            begin = start if kind == "cause" else i
    if kind in ("hazard", "advisory", "loose_end", "complaint") and text.tokens[i].gap == NO_BREAK:
        breath = text.breath(i)[0]
        free = 0 < i - breath <= 12 and not any(text.claimed[breath:i])
        if free and kind == "complaint" and text.find(text.trade.cue["symptoms.words"], breath, i):
            return kind, breath, breath, stop
        if free and kind != "complaint":
            begin = breath
    return kind, end, begin, stop


def _done_verb(text: Text, i: int) -> bool:
    for k in range(i, i + 3):
        for phrases in (text.trade.action_forms, text.trade.part_forms):
            if phrases.at(text.norms, k)[1]:
                return True
        if text.norm(k) in text.trade.words["done"]:
            return True
    return False


def _end(text: Text, heading: int, body: int, kind: str) -> int:
    """Where a statement ends: with its sentence; a stop right after the heading doesn't count."""
    if body >= len(text.tokens):
        return body
    start, end = text.sentence(body)
    if (
        kind in ("complaint", "cause", "correction")
        and end - body < 3
        and end < len(text.tokens)
        and text.cue("headings", end) is None
    ):
        nxt = text.sentence(end)
        if text.tokens[end].gap == NO_BREAK:
            end = nxt[1]
    return min(end, body + _LONGEST)


def _statement(text: Text, kind: str, begin: int, body: int, end: int) -> Draft | None:
    if kind in ("advisory", "loose_end") and _what_failed(text, begin, end)[0] is None and begin > 0:
        before = text.breath(begin - 1)
        if (
            begin == text.breath(begin)[0]
            and before[1] == begin
            and begin - before[0] <= 12
            and _what_failed(text, *before)[0]
        ):
            begin = before[0]
    if kind == "finding" and _what_failed(text, body, end)[0] is None:
        breath = text.breath(begin)[0]
        if begin - breath <= 8 and _what_failed(text, breath, end)[0]:
            begin = body = breath
    first = begin if _KEEP_HEADING[kind] else body
    if kind == "cause" and begin < body and text.norm(body - 1) in ("by", "to") and begin != body:
        first = body
    said = text.said(first, end).strip()
    if not said:
        return None
    component, failure = _what_failed(text, first, end)
    doubts: list[str] = []
    score = 0.92
    if kind == "cause":
        if component is None and failure is None:
            doubts.append(
                "the cause names neither a component nor how it failed: a symptom or a code is not a cause"
            )
        elif component is None:
            doubts.append("the cause names no component")
        elif failure is None:
            doubts.append("the cause doesn't say how the component failed")
    if end - first < 2 and kind in ("complaint", "correction", "finding", "cause"):
        doubts.append("very short: was more said?")
    return Draft(Statement(kind, said, component, failure), begin, end, score, tuple(doubts))  # type: ignore[arg-type]


def _what_failed(text: Text, start: int, end: int) -> tuple[str | None, str | None]:
    """(component, failure) as first named in the stretch; a negated failure is none."""
    failure: str | None = None
    where = -1
    for i, _, meaning in text.find(text.trade.failures, start, end):
        if not text.negated(max(start, i - 2), i):
            failure, where = str(meaning), i
            break
    component: str | None = None
    best: Name | None = None
    i = start
    while i < end:
        if text.trade.components.at(text.norms, i)[1] or text.norm(i) in text.trade.determiners or i == start:
            name = name_at(text, i, end)
            if name is not None and name.kind and not name.pronoun and name.kind != "everything":
                if best is None or (where >= 0 and name.end <= where):
                    best = name
                if where < 0 or name.start > where:
                    break
                i = name.end
                continue
        i += 1
    if best is not None:
        component = best.text
    return component, failure


def _malfunctions(text: Text) -> Iterator[tuple[int, int]]:
    """ "fan clutch isn't locking up", "somebody's fitted a worm drive clip": what is wrong, in other words."""
    for i, j, meaning in text.find(text.trade.cue["not_done"], 0, len(text.tokens)):
        start, end = text.clause(i)
        if meaning == "others":
            yield text.sentence(i)
        elif meaning == "negation" and text.norm(i) in text.trade.words["does_not"] and j < end and i > start:
            name = name_at(text, start, i)
            verb = text.norm(j)
            if (
                name
                and name.kind
                and name.reach >= i
                and (verb.endswith("ing") or text.norm(i) in ("doesn't", "won't", "does"))
            ):
                yield start, end


def _missing(text: Text) -> Iterator[Draft]:
    """ "one bolt is missing": what isn't there is a loose end."""
    for i, _, failure in text.find(text.trade.failures, 0, len(text.tokens)):
        start, end = text.clause(i)
        if failure != "missing" or text.sense(i) is not None or text.negated(max(start, i - 2), i):
            continue
        name = next(
            (
                n
                for k in range(start, i)
                if (n := name_at(text, k, i)) and n.kind in text.trade.kinds["missed"]
            ),
            None,
        )
        if name is not None:
            yield Draft(Statement("loose_end", text.said(start, end), name.text, "missing"), start, end, 0.85)


def _reports(text: Text, k: int) -> bool:
    return any(m[1] != "base" for m in text.trade.action_forms.at(text.norms, k)[1])


def _first_complaint(text: Text, covered: list[tuple[int, int]]) -> Draft | None:
    """A symptom told before any work, or with "the driver says" at its end, is what was complained of."""
    for i, j, _ in text.find(text.trade.cue["symptoms.said_last"], 0, len(text.tokens)):
        start, end = text.sentence(i)
        if j >= end and i - start >= 2 and not any(a <= start < b for a, b in covered):
            return Draft(Statement("complaint", text.said(start, i)), start, end, 0.9)
    if any(text.trade.cue["headings.complaint"].at(text.norms, a)[1] for a, _ in covered):
        return None
    done = 0
    start = 0
    while start < len(text.tokens) and done < 3:
        first, end = text.sentence(start)
        start = end
        done += 1
        if any(a < end and first < b for a, b in covered) or any(
            text.trade.action_forms.at(text.norms, k)[1]
            and text.trade.action_forms.at(text.norms, k)[1][0][1] == "past"
            for k in range(first, end)
        ):
            continue
        body = first
        while body < end and text.claimed[body]:
            body += 1
        found = text.find(text.trade.cue["symptoms.words"], body, end)
        if found and end - body >= 2 and text.sense(found[0][0], ("condition", "question")) is None:
            last = end
            while last > body and text.claimed[last - 1]:
                last -= 1
            return Draft(
                Statement("complaint", text.said(body, last), _what_failed(text, body, last)[0]),
                body,
                last,
                0.85,
            )
    return None


def _implied(text: Text, covered: list[tuple[int, int]]) -> Iterator[Draft]:
    """ "this belt is glazed and cracked": a component and a failure in one clause, with no heading."""
    seen: set[int] = set()
    for i, j, _ in text.find(text.trade.failures, 0, len(text.tokens)):
        start, end = text.clause(i)
        if start in seen or any(a <= i < b for a, b in covered):
            continue
        if text.sense(i) is not None or text.negated(max(start, i - 3), i):
            continue
        if (
            text.find(text.trade.cue["photo.cues"], start, i)
            or text.find(text.trade.cue["amend"], start, i)
            and False
        ):
            continue
        component, failure = _what_failed(text, start, end)
        if component is None:
            continue
        if any(
            _reports(text, k) and k <= i < text.trade.action_forms.at(text.norms, k)[0]
            for k in range(start, i + 1)
        ):
            continue
        said = text.said(start, end)
        seen.add(start)
        del j
        yield Draft(Statement("finding", said, component, failure), start, end, 0.88)

"""What failed, found without a heading: a component with a failure, a malfunction, something missing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from jobnotes.reading.speech.names import Name, name_at, thing, unknown, used_up
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK
from jobnotes.record import Statement


class Covered:
    """The tokens that a statement already holds."""

    def __init__(self, tokens: int) -> None:
        self._held = bytearray(tokens)
        self.starts: list[int] = []

    def add(self, start: int, end: int) -> None:
        self.starts.append(start)
        self._held[start:end] = b"\1" * (end - start)

    def any(self, start: int, end: int) -> bool:
        """Whether a statement holds one of tokens `start` … `end` (`end` excluded)."""
        return self._held.find(1, start, end) >= 0


def what_failed(text: Text, start: int, end: int) -> tuple[str | None, str | None]:
    """(component, failure) as first named in the stretch; a negated failure is none."""
    failure: str | None = None
    where = told_to = -1
    for i, j, meaning in text.find(text.trade.failures, start, end):
        if not text.negated(max(start, i - 2), i) and not _in_a_name(text, i):
            failure, where, told_to = str(meaning), i, j
            break
    blown = where >= 0 and text.norm(where) in text.trade.words["blown"]
    component: str | None = None
    best: Name | None = None
    i = start
    while i < end:
        if text.trade.components.at(text.norms, i)[1] or text.norm(i) in text.trade.determiners or i == start:
            name = name_at(text, i, end)
            how = name is not None and name.start == where and name.end <= told_to
            if name is not None and how and name.kind not in text.trade.kinds["poured"]:
                i = name.end  # "open circuit" is how it failed, and no part
                continue
            if name is not None and name.kind and not name.pronoun and name.kind != "everything":
                told_of_it = where >= 0 and name.end <= where and not _only_where(text, name)
                if best is None or told_of_it or _failed_itself(text, name, where):
                    best = name
                if where < 0 or name.start > where:
                    seen = where >= 0 and text.norm(where) in text.trade.words["seen_where_it_leaks"]
                    if seen and best.kind in text.trade.kinds["poured"]:
                        best = name  # "oil and bubbles at the pipe"
                    break
                i = name.end
                continue
        i += 1
    if blown and best is not None and best.kind in text.trade.kinds["bursts"]:
        failure = next(iter(text.trade.words["blown_is"]))  # of a gasket, not of a fuse
    if best is not None:
        told_first = where >= best.start and told_to < best.end and text.said(where, best.end) == best.text
        component = text.said(told_to, best.end) if told_first else best.text  # "seized caliper"
    return component, failure


def _failed_itself(text: Text, name: Name, where: int) -> bool:
    """Whether the name holds the failure at `where` and what failed so: "the sensor and the split hose".

    "A short circuit" and the "slack enough" of a belt are how something failed, and no parts.
    """
    if not name.start <= where < name.end or any(text.component_at(k)[1] for k in range(name.start, where)):
        return False
    failed = text.trade.failures.at
    told_to = failed(text.norms, where)[0]
    if any(failed(text.norms, k)[0] >= name.end for k in range(where, told_to)):
        return False
    what = name_at(text, told_to, name.end)
    whole = what is not None and what.start == told_to and what.end == name.end and what.kind == name.kind
    return whole and "of" not in text.norms[told_to : name.end]  # "weep hole of the pump"


def _only_where(text: Text, name: Name) -> bool:
    """ "brake chamber on the second axle hissing": whether a name tells where the thing is that failed."""
    return text.goes_on(name.start) and text.norm(name.start - 1) in text.trade.words["tells_where"]


def each_of_several(text: Text, draft: Draft) -> Iterator[Draft]:
    """ "the gland is wet and the hose is chafed": two findings, each with its component and its failure."""
    detail = draft.detail
    if not isinstance(detail, Statement) or detail.kind != "finding" or draft.shown is not None:
        yield draft
        return
    first = next(
        (k for k in range(draft.start, draft.end) if text.told(k, draft.end).strip() == detail.text), None
    )
    first = first if first is not None else _as_said(text, draft, detail.text)
    # under a heading that a pause sets off ("Finding: …") all is told as one
    headed = first is not None and first > draft.start and _set_off(text, first)
    at = _next_of_several(text, first, draft.end) if first is not None and not headed else None
    if first is None or at is None:
        yield draft
        return
    right = at + 1 if text.norm(at) == "and" else at
    component, failure = what_failed(text, first, at)
    left = Statement("finding", text.told(first, at), component or _spoken_of(text, first), failure)
    yield replace(draft, detail=left, end=at)
    rest = Statement("finding", text.told(right, draft.end), *what_failed(text, right, draft.end))
    yield from each_of_several(text, replace(draft, detail=rest, start=right))


def several_failed(text: Text, start: int, end: int) -> bool:
    """ "drive belt cracked, tensioner noisy, pump weeping": what was found, one thing after another."""
    ends = [k for k in range(start + 1, end) if text.tokens[k].gap == COMMA]
    stretches = zip([start, *ends], [*ends, end], strict=True)
    return sum(None not in what_failed(text, *stretch) for stretch in stretches) > 1


def _set_off(text: Text, i: int) -> bool:
    """Whether a pause or a colon stands before token `i`."""
    return text.tokens[i].gap > NO_BREAK or text.tokens[i - 1].text.endswith(":")


def _as_said(text: Text, draft: Draft, told: str) -> int | None:
    return next((k for k in range(draft.start, draft.end) if text.said(k, draft.end) == told), None)


def _next_of_several(text: Text, start: int, end: int) -> int | None:
    """Where the next component opens a finding of its own, after "and" or a comma."""
    for k in range(start + 2, end - 1):
        joined = text.norm(k) == "and"
        if not joined and text.tokens[k].gap != COMMA:
            continue
        right = k + 1 if joined else k
        name = name_at(text, right, end)
        if name is None or name.kind is None or name.pronoun:
            continue
        component, failure = what_failed(text, right, end)
        if component is None or failure is None:
            continue
        earlier = what_failed(text, start, k)
        of_it = text.norm(start) in _IT_IS and earlier[1] is not None  # "it's worn out and the hose is split"
        if earlier[0] is None and not of_it:
            continue
        told_after = any(i >= name.end for i, _, _ in text.find(text.trade.failures, right, end))
        apart = not joined or text.tokens[k].gap == COMMA
        if told_after and (earlier[1] is not None or apart):
            return k
    return None


#: What a statement begins with that tells of a thing named before.
_IT_IS = frozenset(("it's", "they're", "it", "they", "that's", "there's", "she", "he", "he's"))


def _in_a_name(text: Text, i: int) -> bool:
    """The "slack" of a slack adjuster is no failure, nor the "low" of the low side, nor a limit's "scrap"."""
    norm, end = text.norm(i), text.trade.failures.at(text.norms, i)[0]
    bound = text.cue("limits.max", i)
    if bound is not None and bound[0] > end and text.number(bound[0]) is not None:
        return True  # "they're scrap at 5": so they aren't yet
    if text.norm(i - 1) == "of" and text.norm(i - 2) in text.trade.words["containers"]:
        return True  # "half a tube of blue"
    if text.norm(end) in text.trade.words["limit_nouns"] and text.goes_on(end):
        return True  # "worn limit 37"
    if _looked_for(text, i):
        return True  # "inspected the hose for chafing"
    if norm == "leak" and text.norm(i + 1) in text.trade.words["leak_tests"]:
        return True  # "cylinder leak down 28 percent", "leak rate 0.05 bar"
    if norm == "failed" and text.norm(i + 1) in ("part", "parts"):
        return True  # "failed part tagged"
    if norm == "in" and text.number(end - 1) is not None and text.norm(end) == "new":
        return True  # "put in two new pads": nothing broke in two
    if norm == "in" and (text.norm(end) in ("halves", "a", "an") or text.number(end) is not None):
        return True  # "pulled the shroud off in two halves", "let in half a metre of cable"
    if norm == "cut" and {text.norm(i + 1), text.norm(i + 2)} & {"in", "out"}:
        return True  # "cut-in 118 bar"
    who = text.trade.words["speakers"] | {"to"}
    by_someone = text.goes_on(i) and text.norm(i - 1) in who and text.norm(i - 1) not in _IT_IS
    opens = i == text.clause(i)[0] or text.tokens[i].gap > NO_BREAK
    opens_done = i == text.clause(i)[0] or (opens and norm.endswith("ed"))
    transitive = (opens_done or by_someone) and text.norm(end) in text.trade.determiners
    if transitive and text.tokens[end].gap == NO_BREAK:
        return True  # "split the lines", "cracked the union", "had to cut the belt off": it was done
    if opens and text.reports(i) and _used_up_at(text, end):
        return True  # "packed with grease"
    if norm == "rubbed" and by_someone and text.norm(end) in ("down", "it"):
        return True  # "the drum I rubbed down with emery"
    if norm == "cut" and text.norm(end) == "to":
        return True  # "line cut to length"
    if norm == "marked" and text.number(end) is not None:
        return True  # "the old filter was marked 2019"
    done = norm == "marked" or (opens and norm.endswith("ed"))
    if done and text.norm(end) in ("it", "them") and text.goes_on(end):
        return True  # "removed the propshaft, marked it", "soaked it in hot water"
    if norm == "gone" and text.norm(end) == "from" and text.number(end + 1) is not None:
        return True  # "pressure's gone from 240 up to 455 kPa"
    if norm in text.trade.words["very"] and text.goes_on(end) and text.trade.sound.at(text.norms, end)[1]:
        return True  # "dead ok now"
    if norm == "gone" and text.norm(end) in text.trade.words["gone_to"]:
        return True  # "must have gone down behind the bumper"
    if norm == "air" and text.norm(end - 1) == "in" and text.norm(end) in ("at", "to", "from"):
        return True  # "air in at the door valve: 7.8 bar"
    if norm == "gone" and text.norm(i - 1) in text.trade.words["heard_or_smelt"]:
        return True  # "noise gone"
    if norm in ("low", "high") and text.norm(i + 1) in text.trade.words["low_or_high"]:
        return True
    if any(text.trade.components.at(text.norms, k)[0] > max(i, k + 1) for k in range(max(0, i - 3), i + 1)):
        return True
    kept = text.find(text.trade.cue["parts.kept"], max(0, i - 6), end + 8)
    return any(a <= i < b for a, b, _ in kept)  # "that's gone in the failed parts bin"


#: So many words at most stand between what was looked at and what for.
_LOOKED = 10


def _looked_for(text: Text, i: int) -> bool:
    """Whether a failure at `i` is what somebody looked for: that it was there is not said."""
    words = text.trade.words
    k = i - 1
    while text.norm(k) in words["before_looked_for"]:
        k -= 1
    if text.norm(k) != "for" or text.tokens[i].gap > NO_BREAK:
        return False
    low = max(text.breath(i)[0], k - _LOOKED)
    return not words["looks_for"].isdisjoint(text.norms[low:k])


def _used_up_at(text: Text, i: int) -> bool:
    """Whether something that is used up, and no fluid, is named right at `i`."""
    return any(used_up(text, kind) for k in (i, i + 1) for kind, _ in text.component_at(k)[1])


def malfunctions(text: Text) -> Iterator[tuple[int, int]]:
    """ "fan clutch isn't locking up", "somebody's fitted a worm drive clip": wrong, in other words."""
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


def missing_things(text: Text) -> Iterator[Draft]:
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
            yield Draft(Statement("loose_end", text.told(start, end), name.text, "missing"), start, end, 0.85)


def _segment(text: Text, start: int, i: int, end: int) -> tuple[int, int]:
    """The part of a clause between commas that holds the failure at `i` and a component."""
    first = max((k for k in range(start, i + 1) if text.tokens[k].gap == COMMA), default=start)
    last = min((k for k in range(i + 1, end) if text.tokens[k].gap == COMMA), default=end)
    failed = range(i, text.trade.failures.at(text.norms, i)[0])  # "open circuit" names no part
    has_component = any(
        text.trade.components.at(text.norms, k)[1] for k in range(first, last) if k not in failed
    )
    return (first, last) if has_component else (start, last)


def _spoken_of(text: Text, before: int) -> str | None:
    """The component that was named last, not far before token `before`: what "it" then is."""
    for k in range(before - 1, max(-1, before - 14), -1):
        if text.trade.components.at(text.norms, k)[1]:
            for j in range(max(0, k - 3), k + 1):
                name = name_at(text, j, before)
                if name is not None and name.kind and not name.pronoun and name.end > k:
                    return name.text
    return None


def _reports(text: Text, k: int) -> bool:
    return any(m[1] != "base" for m in text.steps_at(k)[1])


def described_findings(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "the clutch won't pull in", "oil in the outlet", "it's the pipe": a state, in words of no list."""
    trade = text.trade
    for at, start in enumerate(text.starts):
        end = text.starts[at + 1] if at + 1 < len(text.starts) else len(text.tokens)
        while (
            start < end
            and text.norm(start) in trade.words["before_description"]
            and text.norm(start) != "it's"
        ):
            start += 1
        stop = text.unbroken(start, end)
        if stop - start < 2 or covered.any(start, stop):
            continue
        if not _describes(text, start, stop):
            continue
        if text.sense(start) is not None or text.sense(stop - 1) is not None:
            continue
        believed = text.norm(start - 1) in trade.words["guesses"] and text.tokens[start].gap == NO_BREAK
        if believed and text.negated(text.clause(start - 1)[0], start):
            continue  # "I don't think it's the pump"
        if text.find(text.trade.cue["parts.kept"], start, end):
            continue  # where the old part went is no fault of it
        component, failure = what_failed(text, start, stop)
        yield Draft(Statement("finding", text.told(start, stop), component, failure), start, stop, 0.8)


#: So many tokens a sentence has at most that tells only how something failed, and one before it of what.
_ALONE, _BEFORE = 4, 18


def failed_alone(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "Unplugged the resistor, measured it. Open circuit.": how what was looked at right before failed."""
    for first in text.stops:
        end = text.breath(first)[1]
        start = first
        while start < end and text.norm(start) in text.trade.words["how_much"]:
            start += 1
        if first == 0 or end - first > _ALONE or covered.any(first, end):
            continue
        told, meanings = text.trade.failures.at(text.norms, start)
        if not meanings or told != end or text.tokens[end - 1].asked or text.component_at(start)[0] >= end:
            continue
        before = text.breath(first - 1)[0]
        component, failure = what_failed(text, before, first)
        if first - before > _BEFORE or component is None or failure is not None:
            continue
        put_on = any(
            m[0] in ("fitted", "refitted", "ordered")
            for k in range(before, first)
            for m in (*text.steps_at(k)[1], *text.fittings_at(k)[1])
        )
        if put_on or text.sense(first - 1, ("condition", "question", "plan")):
            continue
        said = text.told(before, end)
        yield Draft(Statement("finding", said, component, str(meanings[0])), before, end, 0.85)


#: So many tokens lie at most between what was found and the word of place behind it.
_NEAR = 3


def evidence(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "metal on the magnet", "dye at the condenser", "no grease in it at all": what shows that it failed."""
    words = text.trade.words
    for start in text.starts:
        end = min(text.clause(start)[1], text.breath(start)[1])
        end = text.unbroken(start, end)
        i = start
        while i < end and text.norm(i) in words["before_evidence"]:
            i += 1
        lacking = text.norm(i - 1) == "no" and i > start
        if i >= end or text.norm(i) not in words["evidence"] or covered.any(start, end):
            continue
        if text.component_at(i)[0] > i + 1:
            continue  # "grease nipple on the pin"
        if any(text.reports(k) or text.number(k) is not None or text.claimed[k] for k in range(i, end)):
            continue
        where = next(
            (k for k in range(i + 1, min(end, i + 1 + _NEAR)) if text.norm(k) in words["shows_at"]), None
        )
        if where is None or text.sense(start, ("plan", "condition", "question", "others")) is not None:
            continue
        if text.find(text.trade.sound, i, end) or (not lacking and text.negated(start, end)):
            continue
        place = next((n for k in range(where, end) if (n := name_at(text, k, end)) and n.kind), None)
        named = place.text if place is not None else None
        pointed = (
            text.norm(where + 1) in ("it", "there", "here", "them")
            or text.norm(where) in words["shows_alone"]
        )
        if named is None and not pointed:
            continue
        if lacking and not pointed and text.norm(where) != "in":
            continue
        if place is not None and place.condition == "new":
            continue
        named = named or _spoken_of(text, start)
        yield Draft(Statement("finding", text.told(start, end), named), start, end, 0.82)


#: So many words at most stand between "it's" and what it is marked with.
_MARKED = 4


def marked(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "drained the hub, it's grey with metal": what a thing was that was just spoken of."""
    words = text.trade.words
    for i, norm in enumerate(text.norms):
        if norm not in ("with", "of") or text.norm(i + 1) not in words["evidence"] or text.goes_on(i + 2):
            continue
        start = next(
            (k for k in range(i - 1, max(-1, i - _MARKED - 2), -1) if text.norm(k) in ("it's", "they're")),
            None,
        )
        if start is None or covered.any(start, i + 2) or any(text.reports(k) for k in range(start, i)):
            continue
        if text.sense(i) is not None or text.negated(start, i):
            continue
        named = _spoken_of(text, start)
        if named is not None:
            yield Draft(Statement("finding", text.told(start, i + 2), named), start, i + 2, 0.82)


def _describes(text: Text, start: int, stop: int) -> bool:
    trade = text.trade
    if any(text.reports(k) or text.claimed[k] for k in range(start, stop)):
        return False
    if text.norm(start) in ("it's", "that's") or text.norms[start : start + 2] in (
        ["it", "was"],
        ["it", "is"],
    ):
        at = start + (1 if text.norm(start) in ("it's", "that's") else 2)
        name = name_at(text, at, stop) if text.norm(at) in ("the", "a", "an", "its") else None
        return name is not None and name.kind is not None and name.condition is None and name.end >= stop - 1
    name = name_at(text, start, stop)
    if (
        name is None
        or name.kind is None
        or name.pronoun
        or name.kind == "everything"
        or name.condition == "new"
        or text.trade.part_splits.get(text.norm(start))  # "put oil in the tank"
    ):
        return False
    if name.count is not None or name.end >= stop:
        return False
    if set(text.norms[start : name.end]) & trade.quantity_words.keys():
        return False  # "air pressure in the rear tank" is what is measured
    after = text.norm(name.end)
    rest = text.norms[name.end + 1 : stop]
    if not rest or any(text.number(k) is not None for k in range(name.end, stop)):
        return False
    if after in ("in", "all", "inside", "on", "over", "behind", "under", "around", "down"):
        where = next((k for k in range(name.end + 1, stop) if text.norm(k) in trade.determiners), None)
        place = name_at(text, where, stop) if where is not None else None
        return name.kind in trade.kinds["poured"] and place is not None and place.kind is not None
    if after not in trade.words["shows_state"]:
        return False
    if text.find(trade.sound, name.end, stop) or text.find(trade.cue["states"], name.end, stop):
        return False
    if rest[0] in trade.words["no_description"] or rest[-1] in trade.words["no_description"]:
        return False
    return not (text.negated(name.end, stop) and text.find(trade.failures, name.end, stop))


def _unknown_before(text: Text, start: int, i: int) -> Name | None:
    """ "vane ring seized": a thing that no lexicon knows, at the start of its clause, before its failure."""
    while start < i and text.norm(start) in text.trade.words["before_description"] - {"it's", "one"}:
        start += 1
    name = name_at(text, start, i)
    if name is None or name.kind is not None or name.pronoun or not thing(text, name):
        return None
    said = range(name.start, name.end)
    if any(text.trade.splits.get(text.norm(k)) or text.reports(k) for k in said) or text.norm(i) == "gone":
        return None  # "took the wrong one out", "the bang's gone"
    between = text.norms[name.end : i]
    return name if between in ([], ["is"], ["are"], ["was"], ["were"], ["has"], ["have"]) else None


def unheaded_findings(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "this belt is glazed and cracked": a component and a failure in one clause, with no heading."""
    seen: set[int] = set()
    for i, j, meaning in text.find(text.trade.failures, 0, len(text.tokens)):
        start, end = text.clause(i)
        if covered.any(i, i + 1):
            continue
        if text.sense(i) is not None or text.negated(max(start, i - 3), i) or _in_a_name(text, i):
            continue
        if meaning == "leaking" and {text.norm(i + 1), text.norm(j)} & text.trade.words["after_leak"]:
            continue  # "leak test": no leak yet
        start, end = _segment(text, start, i, end)
        while start < i and covered.any(start, start + 1):
            start += 1  # "worn ball joint is the cause boot's split": what is told already
        if start in seen:
            continue
        if text.find(text.trade.cue["photo.cues"], start, i) or _left_alone(text, start, i):
            continue
        component, failure = what_failed(text, start, end)
        doubts: tuple[str, ...] = ()
        if (name := _unknown_before(text, start, i)) is not None:
            component, doubts = name.text, (unknown(name),)
        if component is None and {"it", "it's", "they", "they're", "them", "one"} & set(
            text.norms[start : i + 1]
        ):
            component = _spoken_of(text, start)  # "took the pipe off and it's blocked with carbon"
        if component is None and start > 0 and i - start <= 1 and text.norm(i - 1) == "and":
            before = text.clause(start - 1)[0]  # "pulled the filter it's black and plugged solid"
            if text.norm(before) in ("it's", "it", "they're", "they") and not covered.any(before, start):
                component, start = _spoken_of(text, before), before
        if component is None:
            continue
        state = text.norm(i - 1) in ("is", "are", "was", "were", "has", "have")
        failed = text.trade.failures.at(text.norms, i)[0]
        if any(
            _reports(text, k)
            and k <= i < text.steps_at(k)[0]
            and not (state or failed > text.steps_at(k)[0] or text.norm(text.steps_at(k)[0]) == "of")
            for k in range(start, i + 1)
        ):
            continue
        said = text.said(start, end)
        seen.add(start)
        covered.add(start, end)
        yield Draft(Statement("finding", said, component, failure), start, end, 0.88, doubts)


#: So many words lie at most between "not" and the verb that it denies.
_DENIED = 2


def _left_alone(text: Text, start: int, i: int) -> bool:
    """ "not touched the leak on the axle": what nobody looked at is no finding of this job."""
    verbs = [k for k in range(start, i) if text.norm(k) in text.trade.words["looks_into"]]
    return any(text.negated(max(start, k - _DENIED), k) for k in verbs)


def blurred_findings(text: Text, covered: Covered) -> Iterator[Draft]:
    """ "the air hose chafe through on the frame": the end of the failure's word wasn't heard: to look at."""
    for at, start in enumerate(text.starts):
        end = text.starts[at + 1] if at + 1 < len(text.starts) else len(text.tokens)
        while start < end and text.norm(start) in text.trade.words["before_description"]:
            start += 1
        stop = text.unbroken(start, end)
        i = _after_component(text, start, min(stop, start + 6))
        if i is None or i >= stop or covered.any(start, stop):
            continue
        heard = text.norm(i)
        whole = heard + ("d" if heard.endswith("e") else "ed")
        _, meanings = text.trade.failures.at([whole], 0)
        if not meanings or text.trade.failures.at(text.norms, i)[1]:
            continue
        if i + 1 < stop and text.norm(i + 1) not in text.trade.words["after_failed"]:
            continue
        asked = text.norm(start) in text.trade.words["asks_whether"]
        if asked or text.sense(i) is not None or text.negated(start, i) or not text.free(start, i + 1):
            continue
        covered.add(start, stop)
        yield Draft(
            Statement("finding", text.told(start, stop), _thing_at(text, start, i), str(meanings[0])),
            start,
            stop,
            0.8,
            (f"'{heard}' may have been '{whole}': did it happen?",),
        )


def _after_component(text: Text, start: int, stop: int) -> int | None:
    """Where the first component ends that is named between `start` and `stop`; None where none is."""
    for k in range(start, stop):
        if text.norms[k] not in text.trade.components.first_words:
            continue  # most often
        end, meanings = text.trade.components.at(text.norms, k)
        if meanings:
            following, more = text.trade.components.at(text.norms, end)
            return following if more else end  # "height sensor" may be two words of the lexicon
    return None


def _thing_at(text: Text, start: int, end: int) -> str:
    while start < end - 1 and text.norm(start) in text.trade.determiners:
        start += 1
    return text.said(start, end)

"""What was done to what: verbs of the trade with their objects, active or passive, whole or split.

"took the lower hose off", "lower hose removed", "put it back on", "fitted two new clamps". Steps and parts are
both read from these.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from jobnotes.reading.names import Name, name_at, name_before, names_at
from jobnotes.reading.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP


@dataclass(frozen=True, slots=True)
class Work:
    """A verb and what it was done to. `part` tells a verb of fitting parts from one of taking apart.

    `tense`: "past" and "doing" report, "base" may be a command or a lost ending. `subject` is true where the
    person speaking says that they did it ("I remove …").
    """

    start: int
    end: int
    action: str
    part: bool
    tense: str
    form: str
    objects: tuple[Name, ...]
    passive: bool = False
    subject: bool = False


def works(text: Text) -> list[Work]:
    """All verbs of the text with their objects, in order."""
    found: list[Work] = []
    last_names: list[Name] = []
    i = 0
    while i < len(text.tokens):
        work = None if text.claimed[i] else _work_at(text, i) or _state_at(text, i)
        if work is None:
            i += 1
            continue
        objects = tuple(o for name in work.objects for o in _resolved(text, name, last_names, work, found))
        known = [o for o in objects if not o.pronoun and o.kind != "everything"]
        if known:
            last_names = known
        objects = tuple(o for o in objects if not o.pronoun)
        if not work.objects and not objects and found and work.tense == "past" and not work.part:
            last = found[-1]  # "injector off, cleaned in hot water, back on"
            if (
                work.start - last.end <= 7
                and text.breath(last.start) == text.breath(work.start)
                and not last.part
            ):
                objects = tuple(
                    replace(o, start=work.start, end=work.end, count=None, unit=None)
                    for o in last.objects
                    if not o.pronoun
                )
        found.append(replace(work, objects=objects))
        i = max(work.end if not work.passive else i + 1, i + 1)
        if not work.passive and work.objects:
            i = max(i, min(work.end, len(text.tokens)))
    return found


def _undone(text: Text, work: Work, earlier: list[Work]) -> list[Name]:
    """What an earlier verb took off, unplugged or opened that this one can put back: what "it" then means."""
    for one in reversed(earlier):
        action = text.trade.actions.get(one.action)
        if work.start - one.end > 120:
            break
        if action and not one.part and work.action in action.undone_by:
            names = [o for o in one.objects if not o.pronoun and o.kind != "everything"]
            if names:
                return names
    return []


def _resolved(text: Text, name: Name, last: list[Name], work: Work, earlier: list[Work]) -> list[Name]:
    if not name.pronoun:
        return [name]
    plural = name.text in ("them", "those", "these")
    undone = _undone(text, work, earlier)
    if undone and not plural and name.condition is None:
        return [replace(undone[-1], start=name.start, end=name.end, definite=True, count=None, unit=None)]
    candidates = [n for n in last if name.start - n.end < 40]
    mention = _last_component(text, work.start, [n.end for n in candidates])
    if mention is not None:
        return [replace(mention, start=name.start, end=name.end, definite=True)]
    if not candidates:
        return []
    chosen = candidates if plural else candidates[-1:]
    return [
        replace(
            n,
            start=name.start,
            end=name.end,
            definite=True,
            condition=name.condition,
            count=name.count or (n.count if plural else None),
            unit=None,
        )
        for n in chosen
    ]


def _last_component(text: Text, before: int, ends: list[int]) -> Name | None:
    """A component named after the last object and before the verb, which "it" then means."""
    low = max([0, before - 16, *ends])
    for i in range(before - 1, low - 1, -1):
        _, meanings = text.trade.components.at(text.norms, i)
        if meanings and meanings[0][0] not in text.trade.kinds["poured"]:
            for j in range(max(low, i - 4), i + 1):
                name = name_at(text, j, before)
                if name and name.kind and name.end > i and not name.pronoun:
                    return name
    return None


def _work_at(text: Text, i: int) -> Work | None:
    trade, norms = text.trade, text.norms
    candidates: list[tuple[int, str, bool, str, str]] = []
    end, meanings = trade.action_forms.at(norms, i)
    candidates += [(end, name, False, tense, " ".join(norms[i:end])) for name, tense in meanings]
    end, meanings = trade.part_forms.at(norms, i)
    candidates += [(end, name, True, tense, form) for name, tense, form in meanings]
    split = _split_at(text, i)
    longest = max((c[0] for c in candidates), default=i)
    told = name_before(text, i, text.clause(i)[0])
    passive_form = (
        told is not None
        and told.kind
        and told.start == text.clause(i)[0]
        and any(c[3] == "past" for c in candidates)
    )
    if split is not None and split.end > longest and not (longest > i + 1) and not passive_form:
        return split
    if not candidates:
        return None
    candidates = [c for c in candidates if c[0] == longest]
    order = {"past": 0, "doing": 1, "base": 2}
    end, action, part, tense, form = min(candidates, key=lambda c: (order[c[3]], c[2]))
    if (
        any(trade.conditions.at(norms, k)[0] >= end for k in range(max(0, i - 3), i))
        or trade.conditions.at(norms, i)[0] > end
    ):
        return None  # "engine running" is how it was measured
    if form == "cut out" and norms[end : end + 1] in (
        ["at"],
        ["is"],
        ["was"],
        ["pressure"],
        ["in"],
        ["switch"],
        ["test"],
    ):
        return None
    component, meaning = trade.components.at(norms, i)
    if meaning and component > end and not trade.action_forms.at(norms, component)[1]:
        return None  # "drain plug", "test lead"
    if _noun_here(text, i, end):
        return None
    clause_start, clause_end = text.clause(i)
    sentence_end = text.sentence(i)[1]
    subject = norms[i - 1] in ("i", "we", "i've", "we've") if i else False
    before = i
    while before > clause_start and norms[before - 1] in text.trade.words["be"]:
        before -= 1
    helped = before < i and any(w in text.trade.words["passive"] for w in norms[before:i])
    objects: list[Name] = []
    j = end
    while j < sentence_end and norms[j] in text.trade.words["adverbs"] and text.tokens[j].gap == NO_BREAK:
        j += 1
    if norms[j : j + 1] == ["with"] and action in ("filled",):
        j += 1
    gap = text.tokens[j].gap if j < len(norms) else STOP
    if not helped and gap < STOP and (gap == NO_BREAK or (gap == COMMA and end == j and False)):
        objects = names_at(text, j, max(clause_end, j))
        if not objects and clause_end <= j < sentence_end:
            objects = names_at(text, j, sentence_end)
    tail = objects[-1].end if objects else j
    prior = name_before(text, before, clause_start) if not subject else None
    if prior is not None and prior.start > clause_start + 1:
        at = prior.start - 1
        if norms[at] in ("from", "off") and not helped:
            prior = name_before(text, at, clause_start) or prior  # "P-clip from the old hose reused"
    if prior is None and before > clause_start and norms[before - 1] in ("it", "them", "they", "that"):
        prior = Name(before - 1, before, norms[before - 1], pronoun=True)
    if prior is None and helped and norms[before : before + 1] in (["it's"], ["they're"], ["that's"]):
        prior = Name(before, before + 1, "it" if norms[before] != "they're" else "them", pronoun=True)
    if prior is not None and tense != "base" and not prior.pronoun and prior.kind is None and not helped:
        prior = None
    if prior is not None and prior.start > clause_start + 1 and norms[prior.start - 1] == "of":
        for back in (1, 2, 3):  # "three of the four hoses are connected"
            number = text.number(prior.start - 1 - back)
            if number is not None and number.end == prior.start - 1:
                prior = replace(prior, start=number.start, count=number.value)
                break
    passive = False
    if prior is not None and tense != "base" and (helped or not objects or _verb_follows(text, tail)):
        passive, objects = True, _with_listed(text, prior, clause_start)
    elif (
        prior is not None
        and objects
        and prior.kind
        and prior.start == clause_start
        and tense == "past"
        and not prior.pronoun
        and all(o.kind is None for o in objects)
    ):
        passive, objects = True, [prior]
    if (
        not objects
        and not passive
        and part
        and form in trade.replaces
        and tense == "past"
        and text.norm(j) in ("with", "for", "by")
    ):
        objects = [Name(i, end, "it", pronoun=True)]  # "fuse 17 blown, replaced with a 10 amp one"
    if not objects and not passive:
        return Work(i, end, action, part, tense, form, (), False, subject)
    start = min(objects[0].start, i) if passive else i
    return Work(
        start if passive else i,
        max(end, i + 1) if passive else max(tail, end),
        action,
        part,
        tense,
        form,
        tuple(objects),
        passive,
        subject,
    )


def _with_listed(text: Text, last: Name, start: int) -> list[Name]:
    """ "hose and clamp removed": the names that stand in a list before the last one."""
    found = [last]
    while found[0].start - 1 > start and text.norm(found[0].start - 1) == "and":
        name = name_before(text, found[0].start - 1, start)
        if name is None or name.kind is None:
            break
        found.insert(0, name)
    return found


def _verb_follows(text: Text, i: int) -> bool:
    if i >= len(text.norms) or text.tokens[i].gap > NO_BREAK:
        return False
    while i < len(text.norms) and text.norm(i) in text.trade.words["passive_before_verb"]:
        i += 1
    if text.norm(i) in ("off", "out", "on", "in", "back"):
        return True
    _, a = text.trade.action_forms.at(text.norms, i)
    _, b = text.trade.part_forms.at(text.norms, i)
    return any(m[1] == "past" for m in (*a, *b))


def _noun_here(text: Text, i: int, end: int) -> bool:
    """A word that also is a verb, used as a noun: "a clean", "the set", "test" before a noun, "the used oil"."""
    prev, tense_word = text.norm(i - 1), text.norm(i)
    if prev in text.trade.words["before_noun"] and text.tokens[i].gap == NO_BREAK:
        nxt = text.norm(end)
        if prev in text.trade.words["before_noun_form"] and (
            tense_word.endswith("ing") or not tense_word.endswith("ed")
        ):
            return True
        if tense_word.endswith("ed") and nxt and nxt not in text.trade.stop:
            return True
    return tense_word in text.trade.words["nouns_too"] and prev in ("of", "per", "a", "the")


_STATES = {
    ("off",): "removed",
    ("out",): "removed",
    ("back", "on"): "refitted",
    ("back", "in"): "refitted",
    ("back", "up"): "refitted",
    ("on",): "refitted",
    ("in",): "refitted",
}


def _state_at(text: Text, i: int) -> Work | None:
    """ "wheel off, drum off", "ram's back on": a thing and where it is now, without a verb."""
    trade, norms = text.trade, text.norms
    if not trade.components.at(norms, i)[1] and text.number(i) is None and norms[i] not in trade.determiners:
        if not (norms[i] == "off" and norms[i + 1 : i + 2] == ["with"]):
            if (
                text.tokens[i].gap == NO_BREAK
                and i not in text.starts
                and i > 0
                and norms[i - 1] not in text.trade.words["places_now"]
            ):
                return None
    if norms[i] == "off" and norms[i + 1 : i + 2] == ["with"]:
        objects = names_at(text, i + 2, text.sentence(i)[1])
        objects = [o for o in objects if o.kind]
        if not objects:
            return None
        return Work(i, objects[-1].end, "removed", False, "past", "off with", tuple(objects))
    if (
        i > 0
        and norms[i - 1] in trade.determiners | {"new", "old", "of", "from", "at"}
        and text.tokens[i].gap == NO_BREAK
    ):
        return None
    found = names_at(text, i, text.sentence(i)[1])
    if not found or found[-1].kind is None or found[-1].pronoun:
        return None
    if any(trade.conditions.at(norms, k)[0] > k + 1 for k in range(i, found[-1].reach + 1)):
        return None
    j = found[-1].reach if found[-1].reach - found[-1].end <= 1 else found[-1].end
    while (
        j < len(norms) and norms[j] in text.trade.words["be_before_place"] and text.tokens[j].gap == NO_BREAK
    ):
        j += 1
    for width in (2, 1):
        particle = tuple(norms[j : j + width])
        action = _STATES.get(particle)
        if action is None or text.tokens[j].gap > NO_BREAK:
            continue
        end = j + width
        if not _state_ends(text, end, particle):
            return None
        objects = [
            o for o in found if o.kind and o.kind not in text.trade.kinds["no_place"] and o.condition != "new"
        ]
        if not objects:
            return None
        if (
            objects[-1].kind in text.trade.kinds["plugged"]
            and not objects[-1].text.split()[-1].startswith("pin")
            and (particle in (("off",), ("out",)))
        ):
            action = "disconnected"
        elif objects[-1].kind in text.trade.kinds["plugged"] and action == "refitted":
            action = "reconnected"
        return Work(i, end, action, False, "past", " ".join(particle), tuple(objects), True)
    return None


def _state_ends(text: Text, end: int, particle: tuple[str, ...]) -> bool:
    """After the particle something new begins: else "on" and "in" only open a place ("oil in the …")."""
    if end >= len(text.norms) or text.tokens[end].gap > NO_BREAK or end in text.starts:
        return True
    norm = text.norms[end]
    if norm in text.trade.words["after_place"]:
        return True
    if text.number(end) is not None:
        return (
            particle != ("in",)
            and particle != ("on",)
            or bool(text.trade.components.at(text.norms, number_end(text, end))[1])
        )
    if any(m[1] == "past" for m in text.trade.action_forms.at(text.norms, end)[1]):
        return True  # "injector off, cleaned in hot water"
    following = name_at(text, end)
    if following is None or following.pronoun:
        return False
    if particle in (("off",), ("back", "on"), ("back", "in")):
        return following.kind is not None
    # "drum on wheel on": the next thing has a state of its own
    after = text.norm(following.end)
    return following.kind is not None and (
        after in text.trade.words["place_ahead"]
        or after == "to"
        and text.number(following.end + 1) is not None
    )


def number_end(text: Text, i: int) -> int:
    number = text.number(i)
    return number.end if number else i + 1


def _split_at(text: Text, i: int) -> Work | None:
    """ "took the hose off", "plugged it back in": the particle that completes the verb after its object."""
    norm = text.norms[i]
    steps = text.trade.splits.get(norm, ())
    parts = text.trade.part_splits.get(norm, ())
    if not steps and not parts:
        return None
    limit = text.sentence(i)[1]
    objects = names_at(text, i + 1, min(limit, i + 14))
    if not objects:
        return None
    while objects:
        j = objects[-1].end
        if objects[-1].reach > j and objects[-1].reach - j <= 2:
            j = objects[-1].reach
        if j < limit and text.norm(j) in ("all", "both", "carefully", "straight"):
            j += 1
        best: tuple[int, str, bool, str] | None = None
        if j < len(text.tokens) and text.tokens[j].gap == NO_BREAK:
            for pool, part in ((steps, False), (parts, True)):
                for split in pool:
                    for particle in split.particles:
                        if tuple(text.norms[j : j + len(particle)]) == particle and (
                            best is None or len(particle) > best[0] - j
                        ):
                            best = (j + len(particle), split.action, part, split.tense)
        if best is not None:
            end, action, part, tense = best
            subject = text.norms[i - 1] in ("i", "we", "i've", "we've") if i else False
            # "have" and "got" report a state only with a subject: "I've got the hose off"
            if norm in ("have", "had", "got") and not (subject or norm == "got"):
                return None
            if part and action == "fitted" and objects[-1].pronoun and objects[-1].condition != "new":
                action, part = "refitted", False
            if text.norm(end) == "and":  # "took the glove box out and the lower trim"
                more = names_at(text, end + 1, limit)
                if (
                    more
                    and all(m.kind for m in more)
                    and (more[-1].end >= limit or text.tokens[more[-1].end].gap > NO_BREAK)
                ):
                    objects, end = [*objects, *more], more[-1].end
            return Work(i, end, action, part, tense, norm, tuple(objects), False, subject)
        objects.pop()
    return None

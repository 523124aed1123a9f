"""Verbs around their object: "took the hose off", "plugged it back in"."""

from __future__ import annotations

from decimal import Decimal

from jobnotes.reading.speech.names import Name, name_at, names_at
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.reading.work.spoken_work import Work


def split_at(text: Text, i: int) -> Work | None:
    """ "took the hose off", "plugged it back in": the particle that completes the verb after its object."""
    norm = text.norms[i]
    steps = text.trade.splits.get(norm, ())
    parts = text.trade.part_splits.get(norm, ())
    if not steps and not parts:
        return None
    if i + 1 < len(text.tokens) and text.tokens[i + 1].gap > NO_BREAK:
        return None  # "prop dropped, carrier out"
    if i and text.norms[i - 1] == "to" and norm in text.trade.words["also_infinitive"]:
        return None  # "not had chance to put the strut back"
    limit = text.sentence(i)[1]
    objects = names_at(text, i + 1, min(limit, i + 14))
    if not objects and text.norms[i + 1 : i + 4] == ["one", "on", "order"]:
        objects = [Name(i + 1, i + 2, "it", count=Decimal(1), pronoun=True)]  # "I've got one on order"
    if not objects:
        return None
    while len(objects) > 1 and any(m[1] == "past" for m in text.steps_at(i)[1]):
        last = objects[-1]  # "jacked the engine, mount out": the mount is out
        if text.tokens[last.start].gap == NO_BREAK or text.norm(last.start) in text.trade.determiners:
            break
        objects.pop()
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
                        if (
                            split.action == "filled"
                            and (particle == ("in",) or norm in text.trade.part_splits)
                            and not _pourable(text, objects[-1])
                        ):
                            continue  # "put the bulbs in", "put the cab up"
                        if particle == ("back",) and split.action == "refitted" and _winds(text, norm):
                            continue  # "wound the caliper back"
                        pumped = norm in text.trade.words["pumps_up"] and particle == ("up",)
                        if part and pumped and objects[-1].condition != "new":
                            continue  # "pressed the charge air system up to one bar"
                        if particle[-1:] == ("over",) and objects[-1].kind is None:
                            continue  # "it's got blue spots all over"
                        if tuple(text.norms[j : j + len(particle)]) == particle and (
                            best is None
                            or len(particle) > best[0] - j
                            or (part and objects[-1].condition == "new" and len(particle) == best[0] - j)
                        ):  # "tapped the new seal home"
                            best = (j + len(particle), split.action, part, split.tense)
        if best is not None:
            end, action, part, tense = best
            subject = text.norms[i - 1] in ("i", "we", "i've", "we've") if i else False
            # "have" and "got" report a state only with a subject: "I've got the hose off"
            if norm in ("have", "had", "got") and not (subject or norm == "got"):
                return None
            if text.norm(end - 1) == "out" and out_of_no_place(text, end):
                return None  # "had a new one out of the stores"
            if part and text.norm(end - 1) in ("in", "on") and _thrown_away(text, end):
                return None  # "put the old starter in the skip"
            if action == "lifted" and text.norm(end) == "to" and text.number(end + 1) is not None:
                return None  # "got it up to eighty"
            if part and action == "fitted" and objects[-1].pronoun and objects[-1].condition != "new":
                action, part = "refitted", False
            if (
                part
                and action == "fitted"
                and norm == "dropped"
                and objects[0].kind in text.trade.kinds["poured"]
            ):
                action, part = "drained", False  # "dropped the oil in a tray"
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
    first = name_at(text, i + 1, limit) if norm == "put" else None
    if first is not None and first.pronoun and first.condition == "new" and parts:
        closed = first.end >= limit or text.tokens[first.end].gap > NO_BREAK or text.norm(first.end) == "and"
        if closed:  # "I put a new one, 0 9 2 8 4 4"
            subject = text.norms[i - 1] in ("i", "we", "i've", "we've") if i else False
            return Work(i, first.end, "fitted", True, "past", norm, (first,), False, subject)
    return None


def _winds(text: Text, verb: str) -> bool:
    return any(s.action == "adjusted" and ("back",) in s.particles for s in text.trade.splits.get(verb, ()))


def _pourable(text: Text, name: Name) -> bool:
    return name.kind in text.trade.kinds["poured"] or name.unit is not None


def _thrown_away(text: Text, i: int) -> bool:
    """Whether "the skip" or the like, where nothing is fitted, stands at `i`."""
    return text.norm(i) in text.trade.determiners and text.norm(i + 1) in text.trade.words["thrown_into"]


def out_of_no_place(text: Text, end: int) -> bool:
    """ "the valve block is out of the question": "of", at `end`, and nothing that a thing can leave."""
    named = {text.norm(end + 1), text.norm(end + 2)}
    return text.norm(end) == "of" and bool(named & text.trade.words["out_of_no_place"])

"""One verb with its objects, active ("removed the hose") or passive ("hose removed")."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jobnotes.reading.speech.names import (
    Name,
    amount_at,
    amount_before,
    name_at,
    name_before,
    names_at,
    thing,
)
from jobnotes.reading.speech.numbers import Number
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.work.split_verbs import out_of_no_place, split_at
from jobnotes.reading.work.spoken_work import Work

#: So many words tell at most how many of them: "one hundred and twenty four of the nuts".
_OF_A_COUNT = 5


def _drops(text: Text, i: int, end: int) -> bool:
    """ "the circuit dropped in three minutes": what was lost in that time, and nothing that was taken off or
    fitted."""
    if not text.norm(i).startswith(tuple(text.trade.words["loss_stems"])):
        return False
    at = end if text.norm(end - 1) == "in" else end + 1
    number = text.number(at) if text.norm(at - 1) == "in" and at < len(text.tokens) else None
    if number is None:
        return False
    _, meanings = text.trade.unit_forms.at(text.norms, number.end)
    return bool(meanings) and meanings[0][0].quantity == "time"


def _named_within(text: Text, i: int, end: int) -> Name | None:
    """What a verb of several words names itself: "dropped the oil", "let the coolant out"."""
    for k in range(i + 1, end):
        after, meanings = text.component_at(k)
        if meanings and after <= end and meanings[0][0] in text.trade.kinds["poured"]:
            return name_at(text, k, after)
    return None


def _let_by_a_thing(text: Text, i: int) -> bool:
    """Whether a thing, and not a person, is what let something out: "the seal let the oil out"."""
    joined = text.norm(i - 1) == "and" and i - 1 > text.breath(i)[0]
    start = text.clause(i - 2 if joined else i)[0]
    start = next((k for k in range(i, start, -1) if text.tokens[k].gap > NO_BREAK), start)
    first = name_at(text, start, i)
    if joined:
        return (
            first is not None
            and first.kind is not None
            and not text.trade.words["be"].isdisjoint(text.norms[first.end : i])
        )
    return first is not None and first.kind is not None and first.end == i


def _undergone(text: Text, i: int, end: int) -> Name | None:
    """ "plugs numbered and pulled off the injectors", "valve cleaned and back on the cooler": what it was
    done to; the thing behind the verb at `i` … `end` is only where."""
    norms = text.norms
    joined = i > 1 and norms[i - 1] == "and"
    if end >= len(norms) or norms[end] not in text.trade.words["definite"]:
        return None
    if norms[i:end] in (["back", "on"], ["back", "in"]):
        if not joined and (i < 2 or text.tokens[i].gap != COMMA):
            return None
    elif not (joined and norms[end - 1] in ("off", "out")):
        return None
    last = i - 2 if joined else i - 1
    start = text.clause(last)[0]
    if norms[last].endswith("ed"):
        name = name_before(text, last, start)
        known = name is not None and name.end == last
    else:  # "cleaned the valve and back on the cooler"
        name = name_before(text, last + 1, start) if joined and norms[i] == "back" else None
        known = name is not None and name.end == last + 1 and text.norm(name.start - 1).endswith("ed")
    if name is None or not known or not name.kind or name.pronoun:
        return None
    where = name_at(text, end)
    several = where is not None and norms[where.end - 1].endswith("s")
    if norms[i] == "back" and several and not norms[name.end - 1].endswith("s"):
        return None  # "hub cleaned and back on the wheels": the wheels are on
    return name


def work_at(text: Text, i: int) -> Work | None:
    trade, norms = text.trade, text.norms
    candidates: list[tuple[int, str, bool, str, str]] = []
    end, meanings = text.steps_at(i)
    candidates += [(end, name, False, tense, " ".join(norms[i:end])) for name, tense in meanings]
    end, fitting = text.fittings_at(i)
    candidates += [(end, name, True, tense, form) for name, tense, form in fitting]
    split = split_at(text, i)
    longest = max((c[0] for c in candidates), default=i)
    if candidates and _drops(text, i, longest):
        return None
    if split is not None and split.end > longest and not (longest > i + 1):
        past = any(c[3] == "past" for c in candidates)
        if not (past and _thing_before(text, i)):
            return split
    if not candidates:
        return None
    candidates = [c for c in candidates if c[0] == longest]
    order = {"past": 0, "doing": 1, "base": 2}
    poured = len(candidates) > 1 and _poured_follows(text, longest)
    using = len(candidates) > 1 and _used_up_follows(
        text, longest
    )  # "went through a can of cleaner", but "… the wiring"
    end, action, part, tense, form = min(
        candidates,
        key=lambda c: (
            order[c[3]],
            using and c[1] != "consumed",
            c[1] == "filled" and not poured,  # "chucked in a new bearing"
            c[2],
        ),
    )
    if _no_report(text, i, end, action, tense, form):
        return None
    poured_away = _named_within(text, i, end)
    if poured_away is not None and norms[i] == "let" and _let_by_a_thing(text, i):
        return None  # "the seal had hardened and let the oil out"
    if poured_away is not None:
        return Work(i, end, action, part, tense, form, (poured_away,), False)
    if tense == "base" and i and norms[i - 1] in ("have", "i've", "we've", "has"):
        tense = "past"  # "i have disconnect the battery"
    if tense == "base" and i > 1 and norms[i - 2 : i] == ["had", "to"] and not text.negated_before(i - 2):
        tense = "past"  # "had to pull the liner as well"
    clause_start, clause_end = text.clause(i)
    sentence_end = text.sentence(i)[1]
    subject = norms[i - 1] in ("i", "we", "i've", "we've") if i else False
    if i > 1 and norms[i - 1] in ("have", "had") and norms[i - 2] in ("i", "we"):
        subject = True
    before = i
    while before > clause_start and (
        norms[before - 1] in text.trade.words["be"]
        or (norms[before - 1] == "still" and norms[before - 2] in text.trade.words["be"])
        or (norms[before - 1] == "new" and norms[before - 2] in ("all", "both") and before - 2 > clause_start)
    ):
        before -= 1  # "gaskets and nuts all new fitted"
    helped = norms[i] in text.trade.words["passive"] or (
        before < i and any(w in text.trade.words["passive"] for w in norms[before:i])
    )
    objects: list[Name] = []
    j = end
    while j < sentence_end and norms[j] in text.trade.words["adverbs"] and text.tokens[j].gap == NO_BREAK:
        j += 1
    if norms[j : j + 1] == ["with"] and action in ("filled",):
        j += 1
    gap = text.tokens[j].gap if j < len(norms) else STOP
    # "moved over off the old pads", "went over from the old | valve"
    off_the_old = action == "reused" and bool({"off", "from"} & set(norms[i : end + 1]))
    # "new edge fitted number …", but "replaced number two injector"
    cue = text.cue("identity.part_number", j) or text.cue("identity.serial", j)
    numbered = cue is not None and before > clause_start
    if not helped and gap == NO_BREAK and not off_the_old and not numbered:
        objects = names_at(text, j, max(clause_end, j))
        if not objects and clause_end <= j < sentence_end:
            objects = names_at(text, j, sentence_end)
    undergone = _undergone(text, i, end) if objects and objects[0].definite else None
    if undergone is not None:
        return Work(i, end, action, part, tense, form, (undergone,), False, subject)
    if objects and tense == "past" and not subject and _own_torque(text, objects[-1].end):
        told_of = name_before(text, i, clause_start)
        if told_of is not None and told_of.kind is not None and not told_of.pronoun:
            objects = []  # "gearbox refitted bell housing bolts 190 newton metres": of the bolts
    tail = objects[-1].end if objects else j
    if (
        before - 2 > clause_start
        and norms[before - 1] in ("there", "here", "it")
        and norms[before - 2] in text.trade.words["tells_where"]
    ):
        before -= 2  # "two plugs under there undone"
    if before > clause_start and norms[before] in ("all", "both") and text.tokens[before].gap == COMMA:
        at = (
            before - 2
            if norms[before - 2] in ("a", "each", "per") and norms[before - 1] == "side"
            else before
        )
        told_of = name_before(text, at, clause_start) if not subject else None
        if told_of is not None and told_of.kind and tense == "past" and not objects:
            return Work(told_of.start, end, action, part, tense, form, (told_of,), True, subject)
    poured_out = None if subject else _amount_before(text, before, clause_start)
    if poured_out is not None and tense == "past":
        return Work(poured_out.start, end, action, part, tense, form, (poured_out,), True)
    counted = None if subject else _pieces_before(text, before, clause_start)
    if counted is not None:
        before = counted.start  # "edge rubber two off on order"
    prior = name_before(text, before, clause_start) if not subject else None
    if prior is not None and counted is not None:
        prior = replace(prior, count=counted.value)
    joined = before > 1 and norms[before - 1] == "and" and before > clause_start
    if prior is None and joined and (helped or action == "reused"):
        prior = _told_before(text, before - 1)  # "the clips were good and have been re-used"
    apart = prior is not None and not helped and text.tokens[before].gap > NO_BREAK
    if prior is not None and apart and not _set_apart(text, prior, before, end):
        prior = None  # "cleaned in hot water, back on": of another thing
    if prior is not None and prior.start > clause_start + 1:
        at = prior.start - 1
        # "P-clip off the old hose reused", but not "wheels off both bolts cut"
        origin = norms[at] == "from" or (
            norms[at] == "off" and norms[prior.start] in ("the", "old", "an", "a")
        )
        if origin and not helped:
            prior = name_before(text, at, clause_start) or prior  # "P-clip from the old hose reused"
    if (
        prior is not None
        and prior.kind in trade.kinds["by_amount"]
        and prior.start > clause_start
        and norms[prior.start - 1] in ("in", "with", "using")
    ):
        prior = None  # "cleaned in hot water back on"
    if prior is None and before > clause_start and norms[before - 1] in ("it", "them", "they", "that"):
        prior = Name(before - 1, before, norms[before - 1], pronoun=True)
    if (
        prior is None
        and (helped or action == "ordered")
        and norms[before : before + 1] in (["it's"], ["they're"], ["that's"])
    ):
        prior = Name(before, before + 1, "it" if norms[before] != "they're" else "them", pronoun=True)
    if (
        prior is not None
        and tense != "base"
        and not prior.pronoun
        and prior.kind is None
        and not helped
        and not (tense == "past" and _alone(text, prior, end, clause_start))
    ):
        prior = None
    if prior is not None and prior.start > clause_start + 1 and norms[prior.start - 1] == "of":
        for back in range(min(_OF_A_COUNT, prior.start - 1 - clause_start), 0, -1):
            number = text.number(prior.start - 1 - back)  # "twenty three of the hoses are connected"
            if number is not None and number.end == prior.start - 1:
                prior = replace(prior, start=number.start, count=number.value)
                break
    if subject and not objects and i > 1 and text.tokens[i - 1].gap == NO_BREAK and tense == "past":
        ahead = i - 2 if norms[i - 1] in ("have", "had") else i - 1
        objects = _object_ahead(text, ahead)  # "the line to the doser i had off"
        if objects:
            return Work(objects[0].start, end, action, part, tense, form, tuple(objects), True, subject)
    one = text.number(j) if action == "ordered" and not objects and not helped else None
    if one is not None and one.end == j + 1 and one.value < 100 and gap == NO_BREAK:
        objects = [Name(j, one.end, "it", count=one.value, pronoun=True)]  # "ordered one"
        tail = one.end
    if form in ("fit it", "fitted it", "fit"):
        prior = None  # what comes next was fitted, not what came before
    if (
        prior is not None
        and prior.kind in trade.kinds["no_place"]
        and norms[i] in text.trade.words["passive"]
        and (norms[end - 1] in text.trade.words["places_now"] or norms[end - 1] == "again")
    ):
        return None  # "light's out": how it works
    if objects and form in trade.replaces and norms[end - 1] == "with" and prior is not None and prior.kind:
        alone = len(objects) == 1 and norms[objects[0].start] in ("a", "an", "the")
        if prior.start == clause_start and not alone and not prior.pronoun:
            # "condenser replaced with drier and six o rings": with them, not by them
            return Work(prior.start, tail, action, part, tense, form, (prior, *objects), True, subject)
    if objects and not split_off(text, i) and _placed_after(text, tail):
        objects = []  # "capped both pins out": the pins are out
        if prior is None:
            return Work(i, end, action, part, tense, form, (), False, subject)
    if (
        prior is not None
        and not subject
        and not part
        and tense == "past"
        and _only_held(text, i, prior, objects)
    ):
        objects = []
    if prior is not None and objects and not subject and action in _PLUGS:
        wired = trade.kinds["plugged"] | trade.kinds["wired"]
        if prior.kind in wired and objects[0].kind not in wired and gap == NO_BREAK:
            objects = []  # "harness plugged in rocker shaft and valve cover back on"
    objects = [o for o in objects if o.kind is not None or not o.text.casefold().endswith("ly")]
    if part:  # "eight bolts reused torque 370 newton metres"
        objects = [o for o in objects if o.kind or o.text.casefold() not in trade.quantity_words]
    unnamed = action in ("filled", "fitted", "refitted") and not helped and not any(o.kind for o in objects)
    filled = _poured_behind(text, j, prior) if unnamed else None
    if filled is not None:  # "drained 3 litres of fluid put in 4 litres of new"
        return Work(i, filled.end, action, part, tense, form, (filled,), False, subject)
    passive = False
    followed = _verb_follows(text, tail) or (
        prior is not None and prior.kind and _listed_before_verb(text, tail)
    )
    if prior is not None and tense != "base" and (helped or not objects or followed):
        passive, objects = True, with_listed(text, prior, clause_start)
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
        and (
            text.norm(j) in ("with", "for", "by")
            or (before > clause_start and text.tokens[before].gap > NO_BREAK and gap > NO_BREAK)
            or (i == text.breath(i)[0] and gap == STOP)  # "fan clutch seized. Replaced."
        )
    ):
        objects = [Name(i, end, "it", pronoun=True)]  # "fuse 17 blown, replaced with a 10 amp one"
    said = set(form.split())
    again = bool({"again", "over"} & said) and (action == "reused" or bool(_PRONOUNS & said))
    if not objects and not passive and again:
        objects = [Name(i, end, "them" if "them" in form.split() else "it", pronoun=True)]
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


def _own_torque(text: Text, i: int) -> bool:
    """Whether a torque is told at `i`, of what is named right before it."""
    number = text.number(i) if i < len(text.tokens) and text.tokens[i].gap == NO_BREAK else None
    unit = text.trade.unit_forms.at(text.norms, number.end)[1] if number is not None else ()
    return bool(unit) and unit[0][0].quantity == "torque"


def _thing_before(text: Text, i: int) -> bool:
    """Whether a component opens the clause and ends right before token `i`: "hose removed"."""
    start = text.clause(i)[0]
    name = name_before(text, i, start)
    return name is not None and name.kind is not None and name.start == start


def _in_general(text: Text, end: int) -> bool:
    """ "replacing the injector takes four hours", "is still to do": of the verb that ends at `end`."""
    name = name_at(text, end) if text.goes_on(end) else None
    if name is None or not text.goes_on(name.end):
        return False
    not_yet = text.norms[name.end : name.end + 2] in (
        ["is", "still"],
        ["is", "not"],
        ["is", "to"],
        ["is", "due"],
    )
    return not_yet or text.norm(name.end) in text.trade.words["tells_in_general"]


def _no_report(text: Text, i: int, end: int, action: str, tense: str, form: str) -> bool:
    """Whether the words of a verb tell a state, a condition or a thing here, and no work."""
    trade, norms = text.trade, text.norms
    if (
        any(trade.conditions.at(norms, k)[0] >= end for k in range(max(0, i - 3), i))
        or trade.conditions.at(norms, i)[0] > end
    ) and (tense != "past" or reading_told(text, i)):
        return True  # "engine running" is how it was measured; "sensor unplugged" too, where a value is told
    if form == "cut out" and norms[end : end + 1] in (
        ["at"],
        ["is"],
        ["was"],
        ["pressure"],
        ["in"],
        ["switch"],
        ["test"],
    ):
        return True
    if tense == "doing" and text.quantity_at(text.number_end(end)) == "time":
        return True  # "tank cleaning two hours": a name for what took so long
    if tense == "doing" and _in_general(text, end):
        return True
    if form.split()[0] in ("come", "came") and norms[end : end + 1] in (["its"], ["the"], ["his"], ["of"]):
        return True  # "the arm's come off its shaft": what was found
    failed = max(trade.failures.at(norms, k)[0] for k in range(i, end))
    stated = i > 0 and norms[i - 1] in ("is", "are")
    if failed > end or (stated and (failed >= end or (norms[end - 1] == "the" and failed > i))):
        # their state: "relay welded shut", "open circuit", "the spindle's stripped"
        return True
    if action == "cleaned" and norms[end - 1] == "out" and norms[end : end + 1] == ["of"]:
        return True  # "it's blowing out of the chamber"
    if tense == "base" and norms[i] == "code" and (end >= len(norms) or text.spelled(end) is not None):
        return True  # "code P2263 active"
    if norms[end - 1] in ("out", "off") and out_of_no_place(text, end):
        return True
    if norms[end - 1] == "closed" and norms[end : end + 1] in (["over"], ["up"]):
        return True  # "tip closed over with deposit"
    if form == "ran" and norms[end : end + 1] in (["out"], ["into"]):
        return True  # "ran out of grease"
    if form == "turned up" and (end >= len(norms) or text.tokens[end].gap > NO_BREAK):
        return True  # "new seal turned up"
    if form.split()[0] in ("come", "came") and trade.failures.at(norms, end)[1]:
        return True  # "seal came out in bits"
    if i and norms[i - 1] == "to" and norms[i] in text.trade.words["also_infinitive"] and tense == "past":
        return True  # "not had chance to put it back"
    if norms[end - 1] == "back" and norms[end : end + 1] == ["to"] and action == "refitted":
        return True  # "went back to the supplier"
    if (form == "dropped" or form in text.trade.words["is_down"]) and norms[end : end + 1] == ["to"]:
        return True  # "it dropped to six bar", "return's down to 25"
    if form == "dropped" and text.number(end) is not None and text.unit_follows(text.number_end(end)):
        after, meanings = trade.unit_forms.at(norms, text.number_end(end))
        if norms[after : after + 1] != ["of"] and not _ran_out(text, i, meanings[0][0].quantity):
            return True  # "boom dropped twelve mil"
    component, meaning = trade.components.at(norms, i)
    if meaning and component > end and not text.steps_at(component)[1]:
        return True  # "drain plug", "test lead"
    return _noun_here(text, i, end)


def _ran_out(text: Text, i: int, quantity: str) -> bool:
    """ "coolant dropped, eight litres": how much of a fluid was let out, not how far a thing went down."""
    name = name_before(text, i, text.breath(i)[0])
    return quantity == "volume" and name is not None and name.kind in text.trade.kinds["poured"]


def _set_apart(text: Text, name: Name, verb: int, end: int) -> bool:
    """ "resistor, unplugged, on the bench": a thing that opens its sentence, and the verb between commas."""
    opens = name.start == text.breath(verb)[0] and name.kind is not None and name.count is None
    closes = not text.goes_on(end)
    return opens and closes and text.tokens[verb].gap == COMMA


def _amount_before(text: Text, end: int, start: int) -> Name | None:
    """A fluid or the like with its amount, which ends at `end`: "hydraulic oil, six litres used"."""
    amount = amount_before(text, end, start + 1)
    if amount is None or amount[1].quantity not in ("volume", "mass"):
        return None
    number, unit = amount
    name = name_before(text, number.start, text.breath(end - 1)[0])
    if name is None or name.unit is not None or name.kind not in text.trade.kinds["by_amount"]:
        return None
    if text.norm(name.start - 1) in text.trade.words["tells_where"] and name.start > start:
        return None  # "topped up with oil, six litres drained"
    return replace(name, count=number.value, unit=unit.ucum)


#: What is done to plugs and what hangs on them.
_PLUGS = frozenset(("reconnected", "disconnected", "connected"))
#: In a verb's own words, what it was done to: "use it again".
_PRONOUNS = frozenset(("it", "them", "him", "her", "that", "those"))


def _poured_behind(text: Text, i: int, poured: Name | None) -> Name | None:
    """What is poured, with the amount at `i`, where another amount of it was let out right before."""
    number = text.number(i) if poured is not None and poured.unit is not None else None
    if number is None or poured is None or not text.goes_on(i):
        return None
    amount = amount_at(text, number)
    if amount is None:
        return None
    unit, end = amount
    return replace(poured, start=i, end=end, count=number.value, unit=unit)


def _pieces_before(text: Text, end: int, start: int) -> Number | None:
    """The number of pieces that closes a name: "edge rubber two off", "brackets, times two"."""
    if end - 2 > start and text.norm(end - 1) in ("off", "pieces"):
        for back in (2, 3):
            number = text.number(end - back) if end - back > start else None
            if number is not None and number.end == end - 1:
                return number
    return None


def _told_before(text: Text, end: int) -> Name | None:
    """What the clause before `end` began with and told something of: "the clips were in good order and …"."""
    start = text.clause(end - 1)[0]
    name = name_at(text, start, end) if end - start < 12 else None
    if name is None or name.kind is None or text.norm(name.end) not in text.trade.words["after_thing"]:
        return None
    return name


def _object_ahead(text: Text, end: int) -> list[Name]:
    """The thing before "i", where the verb has none after it: "the line to the doser i had off"."""
    start = text.breath(end)[0]
    at = end - 1 if text.norm(end - 1) in ("that", "which") else end
    name = name_before(text, at, max(start, end - 9))
    while (
        name is not None
        and name.start > start + 1
        and text.norm(name.start - 1) in text.trade.words["tells_where"]
        and (whole := name_before(text, name.start - 1, start)) is not None
    ):
        name = whole
    if (
        name is None
        or name.kind is None
        or name.pronoun
        or (text.norm(name.start) not in text.trade.determiners and name.start != start)
    ):
        return []
    return [name]


def _used_up_follows(text: Text, i: int) -> bool:
    name = name_at(text, i, text.sentence(i)[1]) if i < len(text.tokens) else None
    return name is not None and name.kind in text.trade.kinds["used_up"]


def _only_held(text: Text, i: int, prior: Name, objects: Sequence[Name]) -> bool:
    """Whether what follows the verb at `i` only held what stands before it: "starter removed three bolts two
    cables one plug", "the pump came out five bolts"."""
    counted = all(o.count is not None and not o.definite for o in objects)
    after = objects[-1].end if objects else 0
    if after and text.norm(after) == "new" and (after + 1 >= len(text.tokens) or text.tokens[after + 1].gap):
        return prior.kind is not None and not prior.pronoun  # "pins greased both circlips new"
    alone = prior.kind is not None and prior.count is None and not prior.pronoun
    return counted and alone and text.tokens[i].gap == NO_BREAK


def _poured_follows(text: Text, i: int) -> bool:
    name = name_at(text, i, text.sentence(i)[1]) if i < len(text.tokens) else None
    amount = text.number(i)
    measured = amount is not None and text.unit_follows(amount.end)
    return measured or name is None or name.kind is None or name.kind in text.trade.kinds["poured"]


def reading_told(text: Text, i: int) -> bool:
    """Whether a number with its unit stands in the breath of token `i`."""
    start, end = text.breath(i)
    return any(
        (number := text.number(k)) is not None and text.unit_follows(number.end)
        for k in range(max(start, i - 20), min(end, i + 20))
    )


def _placed_after(text: Text, i: int) -> bool:
    """A particle of place right after a name, which tells where that thing is now."""
    if not text.goes_on(i) or text.norms[i] not in ("out", "off"):
        return False
    return i + 1 >= len(text.tokens) or (
        text.tokens[i + 1].gap > NO_BREAK or bool(text.trade.components.at(text.norms, i + 1)[1])
    )


def split_off(text: Text, i: int) -> bool:
    """Whether the verb at `i` takes a particle after its object: "pulled the plug off"."""
    norm = text.norms[i]
    return bool(text.trade.splits.get(norm) or text.trade.part_splits.get(norm))


def _alone(text: Text, name: Name, end: int, clause_start: int) -> bool:
    """ "sprag ring renewed": a thing that no lexicon knows, its verb, and nothing else in the clause."""
    opens = name.start == clause_start or text.tokens[name.start].gap > NO_BREAK
    closes = (
        end >= len(text.tokens)
        or text.tokens[end].gap > NO_BREAK
        or text.norm(end) in text.trade.words["after_place"]
        or text.cue("identity.part_number", end) is not None  # "new edge fitted number DE331"
    )
    return opens and closes and thing(text, name)


def with_listed(text: Text, last: Name, start: int) -> list[Name]:
    """ "hose and clamp removed": the names that stand in a list before the last one."""
    found = [last]
    while found[0].start > start and not last.pronoun:
        at = found[0].start
        joined = text.norm(at - 1) == "and" and at - 1 > start
        if joined:
            at -= 1
        elif not (len(found) > 1 and text.tokens[at].gap == COMMA):
            break  # "shoes, drum and wheel refitted": commas count where an "and" closes the list
        name = name_before(text, at, start)
        if (
            name is not None
            and name.start > start
            and text.norm(name.start - 1) in text.trade.words["tells_where"]
            and (text.norm(name.start - 1) != "off" or text.norm(name.start) in text.trade.determiners)
        ):
            break  # "held the nut with a spanner and the bolt came out"
        if name is not None and joined and _verb_ends_at(text, name.start):
            break  # "slackened both clamps and the hose is out"
        if name is None or (name.kind is None and not (len(found) == 1 and thing(text, name))):
            break
        found.insert(0, name)
    return found


def _verb_ends_at(text: Text, i: int) -> bool:
    """Whether a verb that reports work ends right before token `i`, and so takes what begins there; not one
    that closes what stands before it ("plate removed bearing and ring replaced")."""
    if text.tokens[i].gap > NO_BREAK:
        return False
    for k in range(max(0, i - 3), i):
        for end, meanings in (text.steps_at(k), text.fittings_at(k)):
            if end == i and any(m[1] == "past" for m in meanings):
                return name_before(text, k, text.breath(k)[0]) is None
    return False


def _verb_follows(text: Text, i: int) -> bool:
    if i >= len(text.norms) or text.tokens[i].gap > NO_BREAK:
        return False
    while i < len(text.norms) and text.norm(i) in text.trade.words["passive_before_verb"]:
        i += 1
    if text.norm(i) in ("off", "out", "on", "in", "back"):
        return True
    _, a = text.steps_at(i)
    _, b = text.fittings_at(i)
    return any(m[1] == "past" for m in (*a, *b))


def _listed_before_verb(text: Text, i: int) -> bool:
    """ "plate removed jaw and wear ring replaced": the list that goes on at `i` ends right before a verb."""
    name = name_at(text, i + 1) if text.norm(i) == "and" and i + 1 < len(text.tokens) else None
    if name is None or name.kind is None or name.pronoun or text.tokens[i].gap > NO_BREAK:
        return False
    return (
        name.end < len(text.tokens) and text.norm(name.end) not in text.trade.stop and text.reports(name.end)
    )


def _noun_here(text: Text, i: int, end: int) -> bool:
    """Whether a word that is a verb is a noun here: "a clean", "the set", "the used oil"."""
    prev, tense_word = text.norm(i - 1), text.norm(i)
    if prev in text.trade.words["before_noun"] and text.tokens[i].gap == NO_BREAK:
        nxt = text.norm(end)
        if prev in text.trade.words["before_noun_form"] and (
            tense_word.endswith("ing") or not tense_word.endswith("ed")
        ):
            return True
        if tense_word.endswith("ed") and nxt and nxt not in text.trade.stop:
            return True
    if tense_word == "set" and text.norm(end) in ("of", "new", "fitted", "replaced", "renewed", "changed"):
        return True  # "set of pads", "bearing set new"
    return tense_word in text.trade.words["nouns_too"] and prev in ("of", "per", "a", "the")

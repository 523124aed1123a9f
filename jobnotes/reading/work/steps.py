"""Steps: what was taken apart, put back, drained, filled, cleaned, adjusted, tested."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from jobnotes.reading.speech.names import Name, amount_before, last_word, name_at, name_before, thing, unknown
from jobnotes.reading.speech.numbers import Number
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.trade.knowledge import Unit
from jobnotes.reading.work.spoken_work import Work, of_the_bare_form
from jobnotes.record import Statement, Step

_SILENT = frozenset(("measured", "found"))


def steps(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    excepted: set[int] = set()
    for work in works:
        poured = (
            work.part
            and work.action == "fitted"
            and any(o.kind in text.trade.kinds["poured"] and o.unit for o in work.objects)
        )
        if (work.part and not poured) or work.action in _SILENT:
            continue
        if poured:
            only = tuple(o for o in work.objects if o.kind in text.trade.kinds["poured"] and o.unit)
            work = replace(work, action="filled", objects=only)
        if text.sense(_verb_index(work)) is not None or text.negated_before(_verb_index(work)):
            continue
        if work.passive and text.negated(work.start, work.end):
            continue
        vehicle = not work.passive and text.norm(work.start - 1) in text.trade.words["vehicle_does"]
        if work.action == "lost" and vehicle:
            continue  # "it lost ten litres of oil"; but "refitted it. One nut is lost"
        if work.action == "lost" and _so_much(text, _verb_index(work) + 1):
            continue  # "it lost half a bar in a minute"
        if work.action == "lost" and text.trade.failures.at(text.norms, _verb_index(work))[1]:
            continue  # "the gear has lost three teeth"
        if work.passive and work.tense in ("doing", "past") and _runs(text, work):
            continue
        doubts = _doubts(text, work)
        named = text.trade.cue["stop.test_names"].at(text.norms, work.start)[0] == work.end
        if work.tense == "base" and named and not work.objects:
            continue  # "pressure test, no loss": told by its noun
        if work.tense == "base" and not work.subject:
            continue_ = _command(text, work)
            if not continue_:
                continue
        yield from _with_fasteners(text, work)
        objects = list(work.objects)
        if work.action == "filled" and (amount := _filled_with(text, work)) is not None:
            objects = [amount]
        if not objects or (work.action == "filled" and _by_pronoun(text, objects[0])):
            poured_out = _poured(text, work)
            objects = [poured_out] if poured_out is not None else objects
            if poured_out is None and text.norm(work.end - 2) in ("her", "him"):
                continue  # "topped her up": with what, nobody said
        driven = work.action == "tested" and work.form.split()[0] in ("took", "drove")
        if driven and not any(o.kind for o in objects):
            objects = [Name(work.start, work.end, "road test")]
        if not objects:
            implied = _implied(text, work)
            if implied is None:
                continue
            objects = [implied]
        if work.action == "filled":
            poured_in = text.trade.kinds["poured"]
            objects = [o for o in objects if o is objects[0] or o.kind in poured_in]
        for name in objects:
            if work.action == "lost" and (
                name.kind in (None, "everything")
                or (work.passive and _fluid_at(text, work.end))  # "motor's lost coolant"
                or (
                    name.kind in text.trade.kinds["by_amount"]
                    and not name.unit
                    and not _let_out(text, work, name)
                )
            ):
                continue
            if (
                work.action == "tested"
                and not driven
                and work.form in text.trade.words["trial"]
                and name.kind is None
                and not _test_name(text, name)
            ):
                continue
            if work.action == "lubricated" and name.kind in text.trade.kinds["used_with"]:
                continue  # "greased the cam, used one cartridge of grease"
            if not _worked_on(text, work, name):
                continue
            if name.condition == "new" and name is not objects[0] and work.action in _OF_WHAT_WAS_THERE:
                break  # "checked it for cracks, new gasket and bolts"
            if work.action == "filled" and name.unit is None and _found_full(text, work):
                continue
            action = work.action
            slipped = (
                work.form in ("dropped", "dropped down")
                and name.kind in text.trade.kinds["plugged"]
                and not (name.definite or work.passive)
            )  # "dropped a socket down by the starter"
            if slipped or (
                work.form == "dropped"
                and name.kind in text.trade.kinds["fastening"]
                and action in ("lowered", "removed")
            ):
                action = "lost"
            if action == "lost" and work.form == "dropped" and not (slipped or _falls(text, work)):
                action = "removed"  # "dropped the starter" on purpose
            if (
                action in ("lost", "removed")
                and work.form == "dropped"
                and name.kind in text.trade.kinds["poured"]
            ):
                action = "drained"
            if action == "lost" and name.kind in text.trade.kinds["poured"] and name.unit:
                action = "drained"
            if action == "lowered" and _let_go(text, work):
                action = "removed"  # "strap bolts out and the driveshaft's down"
            told_after = (
                action == "refitted" and not name.unit and amount_after(text, name, work)[1] is not None
            )
            if action == "refitted" and name.kind in text.trade.kinds["poured"] and (name.unit or told_after):
                action = "filled"  # "it all went back, and six litres of coolant"
            if action == "disconnected" and name.kind in text.trade.kinds["opening"]:
                action = "opened"
            if action == "removed" and work.form == "off with" and name.kind in text.trade.kinds["plugged"]:
                action = "disconnected"
            if (
                action == "removed"
                and work.form in text.trade.splits
                and name.kind in text.trade.kinds["plugged"]
                and last_word(name.text) != "pin"  # "knocked the pin out"
            ):
                action = "disconnected"  # "pulled the plug off"
            if (
                action == "connected"
                and name.kind is not None
                and name.kind not in text.trade.kinds["test_gear"]
            ):
                action = "reconnected"
            strange = (
                name.kind is None
                and not _test_name(text, name)
                and work.action not in ("tested", "cleared", "calibrated", "reset", "bled")
            )
            if strange and not thing(text, name):
                continue  # "pulled codes", "all four came out sweet"
            count, unit = name.count, name.unit
            if unit is None and action in ("drained", "filled"):
                count, unit = amount_after(text, name, work)
                if unit is None:
                    ahead = amount_before(text, work.start)  # "oil drained, nine litres filled"
                    if ahead is not None and ahead[1].quantity == "volume":
                        bare = _bare_amount(text, work.end)  # "drained, 6.5 litres, refilled with 6.8"
                        if bare is not None:
                            count, unit = bare.value, ahead[1].ucum
                        elif text.tokens[work.start].gap == NO_BREAK:
                            count, unit = ahead[0].value, ahead[1].ucum
                count = count if count is not None else name.count
            end = max(work.end, name.end)
            if count is None and unit is None and (told := _of_them(text, end)) is not None:
                count = told.value
                end = told.end + (2 if text.norm(told.end) == "of" else 0)
            far = _how_far(text, work.start, end) if action == "tested" and count is None else None
            if far is not None and far[0].start >= end:
                count, unit, end = far[0].value, far[1].ucum, far[0].end + 1
            if name.kind == "everything" and (but := _except(text, end)) is not None:
                doubts = (*doubts, f"all but the {but.text}")
                told_already = text.find(text.trade.cue["headings.loose_end"], *text.sentence(work.start))
                if but.start not in excepted and not told_already:
                    excepted.add(but.start)
                    told_so = Statement("loose_end", text.said(work.start, but.end), but.text)
                    yield Draft(told_so, work.start, but.end, 0.9)
            against = list(doubts)
            if not name.exact:
                against.append(f"the amount was heard as '{text.said(name.start, name.end)}'")
            if strange:
                against.append(unknown(name))
            if name.doubt:
                against.append(name.doubt)
            elif name.kind in text.trade.kinds.get(f"never_{action}", ()) and not _named_there(text, name):
                against.append(f"was it the {name.text} that was {action}? It was named before, not there")
            yield Draft(
                Step(action, _with_its_place(text, name, action), count, unit),
                work.start,
                end,
                score=0.93 if not strange else 0.8,
                doubts=tuple(against),
                keys=((name.start, name.end),),
            )


def _bare_amount(text: Text, i: int) -> Number | None:
    """The number without a unit behind "with" at token `i`."""
    number = text.number(i + 1) if text.norm(i) == "with" and text.goes_on(i + 1) else None
    return number if number is not None and not text.unit_follows(number.end) else None


def _with_its_place(text: Text, name: Name, action: str) -> str:
    """ "pulled the plug off the alternator": the alternator plug."""
    plug = name.kind in text.trade.kinds["plugged"] and name.end - name.start <= _ARTICLE_AND_PLUG
    if action not in ("disconnected", "reconnected") or not plug or len(name.text.split()) > 1:
        return name.text
    at = name.end + (
        text.norms[name.end : name.end + 2] in (["back", "on"], ["back", "in"], ["back", "into"])
    )
    if not text.goes_on(at) or text.norm(at) not in ("off", "from", "on", "onto", "into", "of", "in"):
        return name.text
    place = name_at(text, at + 1)
    of_it = place is not None and place.kind is not None and not place.pronoun and place.count is None
    return f"{place.text} {name.text}" if of_it and place is not None and text.goes_on(at + 1) else name.text


#: "the plug": so many words at most.
_ARTICLE_AND_PLUG = 2


def _so_much(text: Text, i: int) -> bool:
    """Whether an amount of what can only be read stands at `i`: "half a bar", but not "ten litres"."""
    number = text.number(i) if i < len(text.tokens) else None
    if number is None:
        return False
    quantity = text.quantity_at(number.end)
    if quantity is None and text.norm(number.end) in ("a", "of"):
        quantity = text.quantity_at(number.end + 1)
    return quantity not in (None, "volume", "mass", "length", "time")


def _let_go(text: Text, work: Work) -> bool:
    """Whether a thing "is down" once what held it came out, right before, in the same breath."""
    at = min([work.start, *(o.start for o in work.objects)])
    back = text.norms[max(text.breath(at)[0], at - 2) : at]
    return work.form in text.trade.words["is_down"] and {"out", "off"} & set(back) != set()


def _let_out(text: Text, work: Work, name: Name) -> bool:
    """ "coolant dropped, eight litres": drained, as the amount tells; "the coolant dropped" is a leak."""
    return work.form == "dropped" and amount_after(text, name, work)[1] is not None


def _except(text: Text, i: int) -> Name | None:
    """ "everything's back on apart from the undertray": what isn't."""
    for k in range(i, min(i + 5, len(text.tokens))):
        after = k + 2 if text.norms[k : k + 2] in (["apart", "from"], ["other", "than"]) else k + 1
        if after == k + 2 or text.norm(k) in ("except", "bar", "barring", "but", "minus"):
            name = name_at(text, after)
            return name if name is not None and name.kind and not name.pronoun else None
    return None


#: What is done to what is on the vehicle already, and to nothing new that is listed behind it.
_OF_WHAT_WAS_THERE = frozenset(("removed", "disconnected", "inspected", "cleaned", "drained", "loosened"))

#: What is done to a vehicle, a code or a form without taking anything apart.
_TO_ANYTHING = frozenset(
    ("tested", "inspected", "cleared", "reset", "calibrated", "cleaned", "lifted", "lowered")
)


def _worked_on(text: Text, work: Work, name: Name) -> bool:
    """Whether that can have been done to the thing: not "pulled the codes", "drained the battery"."""
    if text.norm(name.start) == "my":
        return False  # "put my coat on"
    measure = name.count is not None or work.action == "drained"
    if measure and name.text.casefold() in text.trade.words["containers"]:
        return False  # "greased the linkage, one tube", "drained about a bucket"
    if work.form in text.trade.words["drained_of_fluids"] and name.kind not in text.trade.kinds["poured"]:
        return False  # "the pipe had caught it"
    if work.action == "drained" and name.kind in text.trade.kinds["no_place"] - text.trade.kinds["poured"]:
        return name.kind in text.trade.kinds["test_gear"] or name.unit is not None
    if name.kind is not None or work.action in _TO_ANYTHING:
        return True
    head = text.norms[name.end - 1]
    if work.action in ("disconnected", "connected", "reconnected") and head in text.trade.general:
        return True  # "uncoupled the trailer"
    return head not in text.trade.words["no_object"] and not (
        head in text.trade.words["vehicles"]
        and work.action not in ("filled", "drained", "bled", "lubricated")
    )


def _of_them(text: Text, i: int) -> Number | None:
    """ "took the clamps off, two of them": how many there were."""
    place = name_at(text, i) if i < len(text.tokens) and text.tokens[i].gap == NO_BREAK else None
    if place is not None and place.definite and not place.pronoun:
        i = place.end  # "popped the clips off the trim, six of them"
    number = text.number(i) if i < len(text.tokens) and text.tokens[i].gap <= COMMA else None
    if text.norm(i) == "all" and text.tokens[i].gap == COMMA and text.norm(i + 1) != "of":
        number = text.number(i + 1)  # "hoses back on, all four"
        ends = number is not None and (number.end >= len(text.tokens) or text.tokens[number.end].gap)
        return number if ends else None
    return (
        number if number is not None and text.norms[number.end : number.end + 2] == ["of", "them"] else None
    )


def _falls(text: Text, work: Work) -> bool:
    """What is dropped by mistake: something small, or something that fell into or behind a thing."""
    first = work.objects[0] if work.objects else None
    after = text.norms[work.end : work.end + 3]
    small = first is not None and first.kind in text.trade.kinds["fastening"] | text.trade.kinds["missed"]
    return small or bool({"into", "behind", "somewhere", "inside"} & set(after))


def _with_fasteners(text: Text, work: Work) -> Iterator[Draft]:
    """ "refitted the liner with eight screws": the screws went back too."""
    if work.action != "refitted" or text.norm(work.end) != "with":
        return
    name = name_at(text, work.end + 1, text.breath(work.start)[1])
    if name and name.kind in text.trade.kinds["fastening"] and name.condition != "new" and not name.pronoun:
        yield Draft(
            Step("refitted", name.text, name.count), work.start, name.end, 0.9, keys=((name.start, name.end),)
        )


def _fluid_at(text: Text, i: int) -> bool:
    name = name_at(text, i, text.sentence(i)[1]) if i < len(text.tokens) else None
    return name is not None and name.kind in text.trade.kinds["poured"]


def lost(text: Text, found: Sequence[Draft]) -> Iterator[Draft]:
    """What is lost is a loose end as well as a step."""
    for draft in found:
        if isinstance(draft.detail, Step) and draft.detail.action == "lost":
            start, end = text.sentence(draft.start)
            start = max(start, draft.start - 6)
            whole = end <= draft.end + _TOLD_OF_A_LOSS
            end = _where_it_went(text, end) if whole else draft.end + _TOLD_OF_A_LOSS
            yield Draft(
                Statement("loose_end", text.told(start, end), draft.detail.object),
                start,
                end,
                0.9,
                draft.doubts,
            )


def _where_it_went(text: Text, end: int) -> int:
    """The end of what tells right after a loss where the piece went: "one screw is lost. It fell down behind
    the axle"; `end` where nothing does."""
    words = text.trade.words
    if text.norm(end) not in words["goes_on_of_a_loss"] or text.sense(end, ("question",)):
        return end
    stop = min(text.breath(end)[1], end + _TOLD_OF_A_LOSS)
    for k in range(end, min(stop, end + _BEFORE_IT_WENT)):
        if text.norm(k) in words["went"]:
            there = text.norms[k : min(stop, k + _BEFORE_A_PLACE)]
            return stop if not words["lost_where"].isdisjoint(there) else end
    return end


#: So many words tell of a loss, so many stand before "fell", and so many from there to where it fell.
_TOLD_OF_A_LOSS, _BEFORE_IT_WENT, _BEFORE_A_PLACE = 12, 6, 5


def not_back(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """What is left for later: "left the guard off", "I've not put the prop back yet"."""
    for work in works:
        action = text.trade.actions.get(work.action)
        if not work.objects or work.part or action is None:
            continue
        name = work.objects[-1]
        left = text.norm(name.start - 1) == "left" and action.opens is not None
        if not left and not (action.opens is None and _not_yet(text, work)):
            continue
        start, end = text.sentence(work.start)
        if text.find(text.trade.cue["headings.loose_end"], start, end):
            continue  # told already
        start, end = max(start, work.start - 8), min(end, max(work.end, name.end) + 6)
        yield Draft(Statement("loose_end", text.said(start, end), name.text), start, end, 0.88)


def _not_yet(text: Text, work: Work) -> bool:
    """Whether a verb of putting back is denied for now, not for good."""
    if work.action not in ("refitted", "reconnected", "filled", "closed", "tightened"):
        return False
    verb = _verb_index(work)
    denied = text.negated(max(text.sentence(verb)[0], verb - 6), verb)
    return denied and "yet" in text.norms[verb : min(text.breath(verb)[1], work.end + 8)]


def _verb_index(work: Work) -> int:
    return work.start if not work.passive else max(work.start, work.end - 1)


def _doubts(text: Text, work: Work) -> tuple[str, ...]:
    if work.tense == "base" and not work.subject:
        return (of_the_bare_form(text.said(work.start, work.end)),)
    return ()


def _command(text: Text, work: Work) -> bool:
    """A bare "remove the hose" that opens its clause: perhaps "removed"; elsewhere it's no report."""
    start, _ = text.clause(work.start)
    return (
        work.start == start
        or text.tokens[work.start].gap > 0
        or (work.start == start + 1 and text.norm(start) in ("and", "then", "now", "so", "next"))
    )


def _test_name(text: Text, name: Name) -> bool:
    return any(text.trade.cue["stop.test_names"].at(text.norms, i)[1] for i in range(name.start, name.end))


def _implied(text: Text, work: Work) -> Name | None:
    """ "road tested": the verb names its own object."""
    for end in range(work.end, work.end + 4):
        phrase = " ".join(text.norms[work.start : end])
        for test in text.trade.words["tests_by_verb"]:
            if phrase.startswith(test):
                return Name(work.start, work.end, test)
    if work.form in ("test drove", "test drive", "drove", "test driven"):
        return Name(work.start, work.end, "road test")
    return None


def _found_full(text: Text, work: Work) -> bool:
    """ "trailer plug filled with water": how a thing was found that nobody fills."""
    verb = _verb_index(work)
    if "with" not in text.norms[work.start : work.end + 1]:
        return False
    before = name_before(text, verb, text.breath(verb)[0])
    return before is not None and before.kind in text.trade.kinds["never_filled"]


def _named_there(text: Text, name: Name) -> bool:
    """Whether a thing was named beside its verb, and isn't only what "it", or nothing, was taken for."""
    return last_word(name.text) in (last_word(norm) for norm in text.norms[name.start : name.end])


def _runs(text: Text, work: Work) -> bool:
    """ "the fan was running backwards", "the dryer purging": what a thing does, and nothing done to it."""
    verb = _verb_index(work)
    return text.norm(verb - 1) != "being" and work.form in text.trade.words["does_by_itself"]


def _by_pronoun(text: Text, name: Name) -> bool:
    return text.norm(name.start) in ("it", "them", "her", "him", "that", "this")


def _poured(text: Text, work: Work) -> Name | None:
    """ "drained two hundred litres out of the tank", "filled it with ten litres of diesel"."""
    if work.action not in ("drained", "filled"):
        return None
    i = max([work.end, *(o.end for o in work.objects)])
    while text.norm(i) in text.trade.words["before_amount"] or text.norm(i) in (
        "up",
        "off",
        "out",
        "down",
        "back",
        "in",
    ):
        i += 1
    if i >= len(text.tokens) or text.tokens[i].gap == STOP:
        return None
    named = name_at(text, i, text.sentence(work.start)[1])
    if named is not None and named.unit and named.kind in text.trade.kinds["poured"]:
        return named
    number = text.number(i) or (text.number(i + 1) if text.norm(i) == "a" else None)
    if number is None:
        return None
    end, meanings = text.trade.unit_forms.at(text.norms, number.end)
    if not meanings or meanings[0][0].quantity not in ("volume", "mass"):
        return None
    said = text.said(number.start, end)
    j = end
    while text.norm(j) in ("out", "of", "from", "back", "in", "into", "off", "to"):
        j += 1
    name = name_at(text, j, text.sentence(work.start)[1]) if j > end else None
    if name is not None and name.kind:
        said = f"{said} {text.said(end, name.end)}"
        return Name(number.start, end, said, "fluid", number.value, meanings[0][0].ucum)
    grade = text.number(end + 1) if text.norm(end) == "of" else None
    if grade is not None:  # "topped up with two litres of eighty five one forty"
        stop = min(text.clause(number.start)[1], grade.end + _GRADE)
        stop = next((k for k in range(grade.end, stop) if text.tokens[k].gap > NO_BREAK), stop)
        said = text.said(grade.start, stop)
        return Name(number.start, stop, said, "fluid", number.value, meanings[0][0].ucum)
    said = _fluid_before(text, work.start) or said
    return Name(number.start, end, said, "fluid", number.value, meanings[0][0].ucum)


#: So many tokens more may belong to the grade of an oil: "forty six hydraulic".
_GRADE = 2


def _filled_with(text: Text, work: Work) -> Name | None:
    """ "topped the tank up with six litres of oil": what went in, rather than where."""
    i = max([work.end, *(o.end for o in work.objects)])
    name = name_at(text, i + 1, text.sentence(work.start)[1]) if text.norm(i) == "with" else None
    return name if name is not None and name.unit and name.kind in text.trade.kinds["poured"] else None


def _fluid_before(text: Text, i: int) -> str | None:
    """The fluid that was spoken of last, not long before token `i`."""
    for k in range(i - 1, max(-1, i - 60), -1):
        end, meanings = text.trade.components.at(text.norms, k)
        if meanings and meanings[0][0] in text.trade.kinds["poured"] and end <= i:
            return text.said(k, end)
    return None


def amount_after(text: Text, name: Name, work: Work) -> tuple[Decimal | None, str | None]:
    """ "topped up the coolant, four litres": (count, UCUM unit)."""
    i = max(name.end, work.end)
    while text.norm(i) in text.trade.words["before_amount"]:
        i += 1
    if i >= len(text.tokens) or (text.tokens[i].gap == STOP and i > name.end):
        return None, None
    apart = i + 1 < len(text.tokens) and text.tokens[i].gap == text.tokens[i + 1].gap == COMMA
    if apart and text.number(i) is None:
        i += 1  # "refilled with the same coolant, strained, 26 litres"
    number = text.number(i)
    if number is None:
        return None, None
    end, meanings = text.trade.unit_forms.at(text.norms, number.end)
    goes_on = end < len(text.tokens) and text.tokens[end].gap == NO_BREAK and text.reports(end)
    if text.tokens[i].gap > NO_BREAK and goes_on and text.steps_at(end)[1]:
        return None, None  # "oil drained, nine litres filled"
    if meanings and meanings[0][0].quantity in ("volume", "mass"):
        return number.value, meanings[0][0].ucum
    alike = text.trade.alike.get(meanings[0][1]) if meanings else None
    if alike is not None and text.trade.units[alike.ucum].quantity == "volume":
        return number.value, alike.ucum  # "filled the pump, seven hundred mil"
    return None, None


def tests(text: Text) -> Iterator[Draft]:
    """Proofs named by a noun alone: "pressure test", "forced regen", where no verb has told them already."""
    for i, j, _ in text.find(text.trade.cue["stop.test_names"], 0, len(text.tokens)):
        if not text.free(i, j) or text.sense(i) is not None or text.negated_before(i):
            continue
        after = text.find(text.trade.cue["not_done"], j, min(text.sentence(i)[1], j + 4))
        if text.norm(j) == "not" or any(meaning in ("plan", "condition") for _, _, meaning in after):
            continue  # "road test still to do"
        if text.negated(j, min(j + 2, text.breath(i)[1])):
            continue  # "forced regen not required"
        if (
            name_at(text, j) is not None
            and text.norm(j) not in text.trade.determiners
            and text.tokens[j].gap == 0
        ):
            continue
        far = _how_far(text, i, j)
        if far is None:
            yield Draft(Step("tested", text.said(i, j)), i, j, score=0.85, keys=((i, j),))
            continue
        number, unit = far
        step = Step("tested", text.said(i, j), number.value, unit.ucum)
        start, end = min(i, number.start), max(j, number.end + (number.start > i))
        yield Draft(step, start, end, score=0.85, keys=((i, j), (number.start, number.end)))


#: What tells how much of a test there was, by the quantities of units.
_EXTENT = ("distance", "time")


def _how_far(text: Text, start: int, end: int) -> tuple[Number, Unit] | None:
    """The distance or time of a test that is told at `start` … `end`: "road test, 12 kilometres"."""
    before = amount_before(text, start, text.breath(start)[0])
    if before is not None and before[1].quantity in _EXTENT and text.tokens[start].gap == NO_BREAK:
        return before
    k = end + (text.norm(end) in ("of", "for", "over"))
    number = text.number(k) if k < text.breath(start)[1] else None
    if number is None or number.value <= 0 or text.tokens[k].gap > COMMA:
        return None
    after, meanings = text.trade.unit_forms.at(text.norms, number.end)
    closes = not text.goes_on(after) or text.opens_clause(after)
    return (number, meanings[0][0]) if meanings and meanings[0][0].quantity in _EXTENT and closes else None

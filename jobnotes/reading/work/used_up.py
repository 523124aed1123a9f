"""What is used up, or was used to do something with: ties, grease, sealant, oil with its amount."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from jobnotes.reading.speech.names import amount_at, name_at, names_at
from jobnotes.reading.speech.near import Near
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.reading.trade.knowledge import PartAction
from jobnotes.reading.work.part_lists import PUTS_ON, action_of, as_told
from jobnotes.reading.work.spoken_work import Work, Works
from jobnotes.record import Part


def used_with(text: Text, told: Sequence[Draft], works: Sequence[Work]) -> Iterator[Draft]:
    """What something was done with: "secured with two cable ties", "pump replaced, with gasket".

    `told`: the parts that are told already.
    """
    fitting = Near((d for d in told if action_of(d) == "fitted"), lambda d: d.start)
    near = Near(works, lambda w: w.start)
    put_back = Near((w for w in works if w.action in ("refitted", "reconnected")), lambda w: w.start)
    repairing = Near((w for w in works if w.action == "repaired"), lambda w: w.start)
    for i, norm in enumerate(text.norms):
        if norm not in ("with", "using", "plus"):
            continue
        if norm == "using" and text.norm(i - 1) in text.trade.words["vehicle_does"]:
            continue  # "it's using two litres of oil a week"
        if text.trade.words["marks"] & set(text.norms[max(text.clause(i)[0], i - _MARKED) : i]):
            continue  # "hoses marked with paint", "marked the shafts with paint"
        if text.ends_at(text.trade.failures, i, 3) is not None:
            continue  # "strainer blocked with bits of rag"
        if text.sense(i) is not None or text.negated_before(i):
            continue
        sentence = text.sentence(i)
        breath = text.breath(i)[0]
        there = {"there's", "there"} & set(text.norms[text.clause(i)[0] : i])
        if there and not near.between(text.clause(i)[0], i):
            continue  # "there's a joint in the loom with tape"
        fitted = bool(fitting.between(breath, i) or repairing.between(breath, i))
        for name in names_at(text, i + 1, sentence[1]):
            if (
                norm == "with"
                and (fitted or put_back.between(breath, i))
                and name.condition == "used"
                and name.definite
                and name.kind
                and not name.pronoun
            ):
                yield Draft(
                    Part(name.text, "reused", name.count),
                    i,
                    name.end,
                    score=0.9,
                    keys=((name.start, name.end),),
                )
                continue
            if name.pronoun or name.condition == "used" or name.definite or name.kind == "everything":
                break
            valued = text.norm(name.end) in ("at", "to") and text.number(name.end + 1) is not None
            if valued and name.condition != "new" and text.tokens[name.start].gap > NO_BREAK:
                break  # "…, banjo bolts at 35 newton metres": the next statement
            if name.text.casefold().split()[-1] in text.trade.words["tools"] and name.condition != "new":
                break  # "cleaned with a wire brush"
            if norm == "with" and name.condition != "new" and _equipped(text, i):
                break  # "the truck is fitted with drum brakes"
            if name.kind in text.trade.kinds["used_with"] or (
                name.kind in text.trade.kinds["poured"] and name.unit
            ):
                action: PartAction = "consumed"
            elif (
                (norm == "with" or name.condition == "new")
                and fitted
                and name.kind
                and name.kind not in text.trade.kinds["not_fitted_with"]
            ):
                action = "fitted"
            else:
                break
            piece = (
                name.text.casefold().split()[0] in text.trade.words["dabs"] | text.trade.words["made_up_of"]
            )
            driven = any(w.form.split()[0] in text.trade.words["driven_in"] for w in near.between(breath, i))
            tool = (
                action == "fitted"
                and name.condition is None
                and (not fitting.between(breath, i) or ((piece or driven) and name.count is None))
                and text.cue("identity.part_number", name.end) is None
            )
            yield Draft(
                as_told(name, action),
                i,
                name.end,
                score=0.9,
                doubts=("was it fitted, or was it the tool?",) if tool else (),
                keys=((name.start, name.end),),
            )


#: So many words before "with" may tell that something was marked.
_MARKED = 6


def _equipped(text: Text, i: int) -> bool:
    """Whether the "with" at `i` tells what a vehicle has: "it's fitted with …", not "was fitted with …"."""
    return text.norm(i - 1) in ("fitted", "equipped") and text.norm(i - 2) in ("is", "are", "it's", "they're")


def measured_out(text: Text) -> Iterator[Draft]:
    """ "gave it a squirt of anti seize", "a bit of tape round it": what is used up, by what it comes in."""
    for i, norm in enumerate(text.norms):
        if norm not in text.trade.words["dabs"] or text.norm(i + 1) != "of":
            continue
        name = name_at(text, i + 2, text.sentence(i)[1])
        if name is None or name.kind not in text.trade.kinds["used_with"] or name.pronoun:
            continue
        if text.sense(i) is not None or text.negated_before(i) or text.norm(i - 1) in ("no", "more", "the"):
            continue
        if text.norm(i - 1) == "with" and text.ends_at(text.trade.failures, i - 1, 3) is not None:
            continue  # "strainer blocked with bits of rag"
        count = None
        for back in (1, 2):
            number = text.number(i - back)
            if number is not None and number.end == i and norm in text.trade.words["containers"]:
                count = number.value
        yield Draft(
            Part(name.text, "consumed", count), i, name.end, score=0.9, keys=((name.start, name.end),)
        )


def amounts_alone(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "600 grams of grease.", "Chain lube, half a can.": what is used up, with its amount and no verb."""
    near = Works(works)
    kinds = text.trade.kinds
    for i in range(len(text.tokens)):
        joined = text.norm(i - 1) in ("and", "plus")
        took = text.norm(i - 1) == "took" and text.tokens[i].gap == NO_BREAK  # "bled it, took 1 L of oil"
        opens = i == 0 or text.tokens[i].gap > NO_BREAK or joined or took
        if not opens:
            continue
        number = text.number(i)
        if number is not None:
            unit, at = _weighed(text, number.end)
            name = name_at(text, at, text.sentence(i)[1]) if at > number.end else None
            end = name.end if name is not None else at
        else:
            name = name_at(text, i, text.sentence(i)[1])
            number = text.number(name.end) if name is not None and name.end < len(text.tokens) else None
            unit, end = None, number.end + 1 if number is not None else i
            if number is None:
                continue
            if (amount := amount_at(text, number)) is not None:
                unit, end = amount
            elif text.norm(end - 1) not in text.trade.words["containers"]:
                continue
            end += text.norm(end) == "used"
            if end < len(text.tokens) and text.tokens[end].gap == NO_BREAK:
                continue
        if name is None or name.pronoun or text.sense(i) is not None or text.negated_before(i):
            continue
        poured = (
            joined
            and unit is not None
            and name.kind in kinds["poured"]
            and _put_on_before(text, near, i)
            and not text.goes_on(end)
        )  # "pipe back on and three litres of hydraulic oil"
        poured |= took and unit is not None and name.kind in kinds["poured"] and not text.goes_on(end)
        if name.kind not in kinds["used_with"] and not poured:
            continue
        yield Draft(
            Part(name.text, "consumed", number.value, unit), i, end, score=0.9, keys=((name.start, name.end),)
        )


def _put_on_before(text: Text, works: Works, i: int) -> bool:
    """Whether the last that was told in this breath before `i` is that something went on, or is new."""
    start = text.breath(i)[0]
    done = works.starting(start, i)
    if done:
        return done[-1].action in PUTS_ON
    return text.norm(start) == "new" and not text.negated(start, i)


def laid_on(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    """ "cover back on, silicone round it": what went on with what was put on right before."""
    near = Works(works)
    for i in range(1, len(text.tokens)):
        if text.tokens[i].gap == NO_BREAK and text.norm(i - 1) != "and":
            continue
        name = name_at(text, i, text.breath(i)[1])
        if name is None or name.kind not in text.trade.kinds["used_with"] or name.pronoun or name.definite:
            continue
        at = name.end - (text.norm(name.end - 1) in ("round", "around"))  # "silicone round"
        where = text.norms[at : at + 2]
        if where[:1] not in (["round"], ["around"], ["on"], ["over"]):
            continue
        end = at + 2
        if where[1:] == ["the"] and text.norm(at + 2) in text.trade.words["laid_on"]:
            end = at + 3  # "anti-seize paste on the thread"
        elif where[1:] not in (["it"], ["them"]):
            continue
        closes = not text.goes_on(end) or text.norm(end) == "and"
        if not closes or text.sense(i) is not None or not _put_on_before(text, near, i):
            continue
        whole = name_at(text, i, at) or name
        part = Part(whole.text, "consumed", whole.count, whole.unit)
        yield Draft(part, i, end, score=0.88, keys=((i, at),))


def _weighed(text: Text, i: int) -> tuple[str | None, int]:
    """(UCUM, end) of a unit of mass or volume with its "of" at `i`; else `i` itself."""
    end, meanings = text.trade.unit_forms.at(text.norms, i)
    if "of" in text.norms[i + 1 : end]:
        end = text.norms.index("of", i)  # the form "mil of fluid"
    fits = bool(meanings) and meanings[0][0].quantity in ("mass", "volume") and text.norm(end) == "of"
    return (meanings[0][0].ucum, end + 1) if fits else (None, i)

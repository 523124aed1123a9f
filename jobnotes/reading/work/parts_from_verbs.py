"""Parts that a verb names as its object: "fitted two new clamps", "clips re-used", "topped up with oil"."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal

from jobnotes.reading.speech.names import Name, name_at, name_before, unknown
from jobnotes.reading.speech.text import Draft, Text
from jobnotes.reading.tokens import NO_BREAK
from jobnotes.reading.trade.knowledge import PartAction
from jobnotes.reading.work.part_lists import for_tests, list_goes_on
from jobnotes.reading.work.spoken_work import Work, Works, of_the_bare_form
from jobnotes.reading.work.steps import amount_after
from jobnotes.record import Part, Repair

_ALL_KINDS = ("plan", "condition", "question", "others")
#: "waiting for parts, the rings are on order" tells of an order that was placed
_KINDS = ("condition", "question", "others")


#: Said of what was on before
_AGAIN = frozenset(("old", "original", "same", "existing"))


def parts_from_verbs(text: Text, works: Sequence[Work]) -> Iterator[Draft]:
    for work in works:
        verb = work.start if not work.passive else max(work.start, work.end - 1)
        filled = not work.part and work.action == "filled"
        if not work.part and not filled:
            continue
        if (
            text.sense(verb, _KINDS if work.form.endswith("on order") else _ALL_KINDS) is not None
            or text.negated_before(verb)
            or (work.passive and text.norm(work.start - 1) == "no")
            or (work.passive and (text.negated(work.start, work.end) or _described(text, work, verb)))
        ):
            continue
        if work.form == "fitting" and work.passive and text.number(work.end) is not None:
            continue  # "line fitting 60 foot-pounds" is a thing, and what it was tightened to
        if work.form in ("used", "using") and text.norm(work.start - 1) in text.trade.words["vehicle_does"]:
            continue  # "it's using two litres of oil a week"
        doubts: list[str] = []
        repairs: tuple[Repair, ...] = ()
        objects = list(work.objects)
        if work.form in ("fit it", "fit", "fitted it") and not (
            objects and not objects[0].pronoun and work.form == "fit"
        ):
            heard = _fitted_misheard(text, work)
            if heard is not None:
                objects = [heard, *list_goes_on(text, heard.end, Works([w for w in works if w is not work]))]
                repairs = (
                    Repair(
                        text.said(work.start, heard.end),
                        f"fitted {heard.count or ''} {heard.text}".replace("  ", " "),
                    ),
                )
                doubts.append(f"heard as '{text.said(work.start, heard.end)}'")
            elif work.form in ("fit it", "fitted it"):
                doubts.append(f"heard as '{work.form}'")
        if work.tense == "base" and not work.subject and not repairs and work.form != "fit":
            start, _ = text.clause(work.start)
            if not (work.start == start or text.norm(work.start - 1) in ("and", "then", "now", "so")):
                continue
            doubts.append(of_the_bare_form(text.said(work.start, work.end)))
        if work.form == "fit" and not work.subject and not repairs:
            start, _ = text.clause(work.start)
            if work.start > start and text.norm(work.start - 1) not in text.trade.words["before_fit"]:
                continue
            doubts.append(of_the_bare_form("fit"))
        if work.part_action == "reused" and work.form in text.trade.words["only_moved"]:
            around = set(text.norms[slice(*text.breath(work.start))])
            if not around & text.trade.words["moved_over_with"]:
                doubts.append(f"'{text.said(work.start, work.end)}': was it moved over from the old one?")
        for at, name in enumerate(objects):
            if name.kind is None and (named := _shared_head(text, objects[at : at + 2])) is not None:
                name = named
            action: PartAction = work.part_action if work.part else "consumed"
            if name.kind == "everything" or name.pronoun or text.norm(name.start) == "my":
                continue
            if filled and name.unit is None:
                continue
            if (
                action == "fitted"
                and name.condition == "used"
                and work.form not in text.trade.replaces
                and _was_off(text, name)
            ):
                continue
            if (
                action == "fitted"
                and name.kind in text.trade.kinds["used_up"]
                and work.form not in text.trade.replaces
            ):
                action = "consumed"
            if action == "consumed" and work.form == "used" and name.condition == "used" and name.kind:
                action = "reused"  # "used the same coolant again", "used the old bracket again"
            if action == "reused" and name.condition == "new" and at:
                continue  # "kept the old bowl, new bowl seal"
            if (
                action == "consumed"
                and not filled
                and not (
                    name.kind in text.trade.kinds["used_up"]
                    or name.unit
                    or (work.form == "used" and name.kind and name.count)
                )
            ):
                continue
            if (
                action == "fitted"
                and (name.definite or _the_same(text, name))
                and work.form not in text.trade.replaces
                and _AGAIN & set(text.norms[name.start : name.end])
            ):
                action = "reused"  # "fitted two of the old bolts"
            if (
                action == "consumed"
                and not filled
                and name.condition == "new"
                and not name.unit
                and name.kind not in text.trade.kinds["used_up"]
            ):
                action = "fitted"  # "used two new fittings"
            if (
                action == "reused"
                and work.form in text.trade.words["reused_if_old"]
                and name.condition != "used"
                and not _old_near(text, work)
            ):
                continue
            if action == "fitted" and not name.kind and work.form in text.trade.part_splits:
                continue  # "put hands in"
            if work.form in text.trade.words["consumes_amounts"] and name.unit is None:
                continue  # "gave grease to the other lad"
            if work.form == "let" and name.kind in text.trade.kinds["poured"]:
                continue  # "the boot's split so it let water in"
            if action == "fitted" and text.norm(work.start - 1) == "only" and name.condition != "new":
                continue  # "the lid's only got three screws in"
            if work.form == "kept" and text.norm(name.end).endswith("ing"):
                continue  # "kept the engine running"
            if action == "fitted" and text.norms[name.start : name.end] in (["gear"], ["gears"]):
                continue  # "changed gear"
            if (
                action == "fitted"
                and work.form in ("put", "got", "have")
                and text.norm(work.end - 1) == "on"
                and name.kind in text.trade.kinds["no_place"]
                and name.condition != "new"
            ):
                continue  # "put the lights on"
            if work.form == "kept" and (not name.kind or _for_warranty(text, work)):
                continue
            if work.form == "kept" and work.passive and text.norm(work.end) == "for":
                continue  # "the old modulator is kept for …": put aside, whatever for
            if action == "reused" and name.condition == "new":
                continue  # "a new gasket and the bracket is reused"
            if action == "fitted" and work.passive and _cuts_in(text, work.end):
                continue
            if name.text.split(" ")[0].casefold() in text.trade.words["not_the_part"]:
                continue
            if (
                action == "fitted"
                and name.kind in text.trade.kinds["test_gear"]
                and name.condition != "new"
                and work.form not in text.trade.replaces
                and not (at and repairs and not for_tests(text, name))  # "fit it a new core and a cap"
            ):
                continue
            if (
                action == "fitted"
                and not name.kind
                and name.condition != "new"
                and work.form in text.trade.words["loosely_fitted"]
            ):
                continue
            going = work.form in text.trade.words["going_on"]
            if going and (name.condition != "new" or (name.definite and not work.passive)):
                continue  # "the old blade went on the new clutch"
            falls = work.form in text.trade.words["falls_too"] and name.condition != "new"
            if falls and _small_before(text, work):
                continue  # "the nut dropped in a cylinder"
            if work.form in text.trade.words["changes_places"] and _swapped_over(text, name):
                continue
            condition = name.condition if action != "reused" else None
            if action == "fitted" and work.form in text.trade.replaces:
                condition = "new" if _with_new(text, work) else (condition if condition == "new" else None)
            more = (
                ()
                if name.exact
                else (f"the number of pieces was heard as '{text.said(name.start, name.start + 1)}'",)
            )
            if action == "fitted" and name.kind in text.trade.kinds["used_up"] and name.unit is None:
                more = (*more, f"'{name.text}' is used up rather than fitted: was a part's name cut short?")
            if (
                name.start < len(text.tokens)
                and text.norm(name.start) in ("they", "them", "these", "those")
                and name.count is None
            ):
                more = (*more, f"'{text.norm(name.start)}' was taken for the {name.text}")
            if action == "consumed" and work.form == "used" and not name.unit and name.kind in _used_as(text):
                more = (*more, f"was the {name.text} fitted, or was it the tool?")
            if falls and name.definite:
                more = (*more, f"was the {name.text} fitted, or did something fall there?")
            if name.doubt:
                more = (*more, name.doubt)
            if work.form == "kept" and work.passive and _began_with_the_old(text, work.start):
                more = (*more, "kept for the claim, or used again?")  # "new switch, old one kept"
            moved = (
                work.form.split()[0] in text.trade.words["moved_in_or_on"] and text.norm(name.start) == "the"
            )
            if action == "fitted" and moved and not work.passive and name.condition != "new":
                more = (*more, f"was a new {name.text} fitted, or the one that was there moved?")
            if not name.kind:
                more = (*more, unknown(name))
            count, unit = name.count, name.unit
            if action == "consumed" and work.passive and count is None and name.kind in _by_amount(text):
                count, unit = amount_after(text, name, work)  # "hydraulic oil used: six litres"
            yield Draft(
                Part(name.text, action, count, unit, condition=condition),
                work.start,
                max(work.end, name.end),
                score=0.95 if name.kind else 0.85,
                doubts=(*doubts, *more),
                repairs=repairs,
                keys=((name.start, name.end),),
            )


def _cuts_in(text: Text, i: int) -> bool:
    """ "the fan put in at 96 degrees": what cuts in at a value, and nothing that was fitted."""
    if text.norm(i - 1) != "in" or text.norm(i) != "at" or not text.goes_on(i):
        return False
    number = text.number(i + 1)
    return number is not None and text.quantity_at(number.end) in ("temperature", "pressure", "voltage")


def _by_amount(text: Text) -> frozenset[str]:
    return text.trade.kinds["by_amount"]


def _small_before(text: Text, work: Work) -> bool:
    """Whether something small, that gets lost, is named right before the verb, and nobody who did it."""
    before = name_before(text, work.start, text.breath(work.start)[0])
    return before is not None and before.kind in text.trade.kinds["missed"] and before.condition != "new"


def _shared_head(text: Text, pair: Sequence[Name]) -> Name | None:
    """ "primary and secondary fuel filters": the first name lacks what the second ends with."""
    if len(pair) < 2 or pair[1].kind is None or text.norms[pair[0].end : pair[1].start] != ["and"]:
        return None
    first, second = pair
    words = second.text.split()
    which = text.trade.words["sides"] | text.trade.words["which_of_two"]
    if len(words) < 2 or first.text.casefold() not in which or words[0].casefold() not in which:
        return None
    return replace(first, text=" ".join([first.text, *words[1:]]), kind=second.kind)


def _described(text: Text, work: Work, verb: int) -> bool:
    """Whether a passive tells what is there, or what was not done: "the pump fitted is wrong"."""
    start = work.start
    if (
        text.norm(work.end) in ("is", "are", "was", "were")
        and text.norm(verb - 1) not in text.trade.words["be"]
    ):
        return True
    existing = text.norm(start - 1) == "there's" or text.norms[max(0, start - 2) : start] in (
        ["there", "is"],
        ["there", "was"],
        ["there", "are"],
        ["there", "were"],
    )
    if existing and work.action != "ordered":
        return True
    before = start - 2 if text.norm(start - 1) == "of" else start - 1
    return text.norm(before) in ("not", "none", "neither", "never")


def _used_as(text: Text) -> frozenset[str]:
    """Kinds of what is rather a tool when it was "used"."""
    kinds = text.trade.kinds
    used = kinds["used_up"] | kinds["fastening"] | kinds["missed"] | kinds["plugged"]
    return frozenset(text.trade.kind_of.values()) - used


def _fitted_misheard(text: Text, work: Work) -> Name | None:
    """ "fit it to new clamps" is how a recogniser writes "fitted two new clamps"."""
    i = work.start + len(work.form.split())
    if work.form == "fit" and text.norm(i) == "it":
        i += 1
    if text.norm(i) in text.trade.homophones and text.norm(i + 1) == "new":
        name = name_at(text, i + 1)
        if name and name.kind:
            count = Decimal(text.trade.homophones[text.norm(i)])
            return replace(name, start=i, count=count)
    name = name_at(text, i)
    if name and name.kind and name.condition == "new" and not name.pronoun and text.norm(i) not in ("to",):
        return name
    return None


def _swapped_over(text: Text, name: Name) -> bool:
    """ "swapped pins 3 and 5 over": they changed places, and nothing new went on."""
    if name.condition == "new":
        return False
    stop = min(text.sentence(name.start)[1], name.end + 6)
    for k in range(name.end, stop):
        to_and_fro = text.norm(k + 1) == "to" and text.norm(k) in text.trade.words["sides"]
        if to_and_fro or (
            text.norm(k) == "with" and (text.norm(k + 1) == "the" or _label_alone(text, k + 1))
        ):
            return True  # "swapped the sensors left to right", "… the relay with the horn one"
        if text.tokens[k].gap > NO_BREAK or text.norm(k) in ("for", "with"):
            return False
        if text.norm(k) in ("over", "round", "around", "side"):
            return text.norm(k + 1) not in ("for", "with")
    return False


def _began_with_the_old(text: Text, i: int) -> bool:
    """ "(the) old one": what a new one has taken the place of."""
    i += text.norm(i) in text.trade.determiners
    return text.norm(i) in text.trade.words["old"] and text.norm(i + 1) in ("one", "ones")


def _label_alone(text: Text, i: int) -> bool:
    """Whether a number that ends its clause stands at `i`: "injector 4 swapped with 2"."""
    number = text.number(i) if text.goes_on(i) else None
    return number is not None and not text.goes_on(number.end)


def _the_same(text: Text, name: Name) -> bool:
    """ "mounted same cooler": the one that was there, by the word alone, where "same" tells of no kind."""
    first = name.start
    return text.norm(first) == "same" and text.norm(first + 1) not in text.trade.words["after_same"]


def _was_off(text: Text, name: Name) -> bool:
    return text.norm(name.end) in ("back", "again")


def _for_warranty(text: Text, work: Work) -> bool:
    start, end = text.sentence(work.start)
    words = set(text.norms[start:end])
    return bool(words & text.trade.words["kept_for_others"])


def _old_near(text: Text, work: Work) -> bool:
    start, end = text.clause(work.start)
    words = text.norms[start : min(end + 6, len(text.norms))]
    return any(w in ("old", "original", "over", "across", "existing") for w in words)


def _with_new(text: Text, work: Work) -> bool:
    tail = text.norms[work.end : work.end + 5]
    return tail[:1] in (["with"], ["for"]) and "new" in tail

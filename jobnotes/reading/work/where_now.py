"""A thing and where it is now, without a verb: "wheel off, drum off", "ram's back on"."""

from __future__ import annotations

from collections.abc import Sequence

from jobnotes.reading.speech.names import Name, head_of, name_at, name_before, names_at, thing, used_up
from jobnotes.reading.speech.text import Text
from jobnotes.reading.speech.time_of_day import time_of_day
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.work.split_verbs import out_of_no_place
from jobnotes.reading.work.spoken_work import Work
from jobnotes.reading.work.verb_phrases import reading_told, with_listed

_STATES = {
    ("back",): "refitted",  # where it says all: "cover back."
    ("off",): "removed",
    ("out",): "removed",
    ("away",): "removed",
    ("back", "on"): "refitted",
    ("back", "in"): "refitted",
    ("back", "up"): "refitted",
    ("on",): "refitted",
    ("in",): "refitted",
}


#: The words that tell where a thing is now begin with one of these, …
_WHERE = frozenset(("up", *(particle[0] for particle in _STATES)))
#: … within its sentence, or at most so many tokens behind it.
_BEYOND = 12

#: A bare number after "on at" that is at least this is a torque.
_LEAST_TORQUE = 30

#: After these a word is a verb ("so it stays on"), or the thing has begun already.
_NO_THING_AFTER = frozenset(
    (*("it", "he", "she", "they", "which", "who", "what"), *("new", "old", "of", "from", "at"))
)


def _seen_there(text: Text, i: int) -> bool:
    """Whether the name at `i` is of what was found or left where it is: "found the hose off"."""
    for k in range(max(0, i - 3), i):
        there = text.norm(k + 1) in text.trade.determiners and text.unbroken(k, i + 1) > i
        if there and text.norm(k) in text.trade.words["seen_there"]:
            return True
        if there and text.norm(k) in ("left", "leave", "leaving") and k + 1 <= i:
            return not {"off", "out"} & set(text.norms[i : i + 6])
    return False


def where_now_at(text: Text, i: int, earlier: Sequence[Work] = ()) -> Work | None:
    """ "wheel off, drum off", "ram's back on": a thing and where it is now, without a verb.

    Where the thing came off in `earlier` work, less is asked of what follows: "wheels on six fifty".
    """
    trade, norms = text.trade, text.norms
    if "your" in norms[max(0, i - 1) : i + 1] and trade.words["maims"] & set(norms[max(0, i - 2) : i]):
        return None  # "it'd have your arm off"
    opens = i == 0 or text.tokens[i].gap > NO_BREAK or norms[i - 1] in ("and", "then")
    off_with = opens and norms[i] == "off" and norms[i + 1 : i + 2] == ["with"]
    if (
        not off_with
        and i > 0
        and text.tokens[i].gap == NO_BREAK
        and norms[i] not in trade.determiners
        and norms[i - 1] not in trade.words["places_now"]
        and text.number(i) is None
        and not (norms[i] in trade.components.first_words and trade.components.at(norms, i)[1])
        and not text.opens_clause(i)
    ):
        return None
    if off_with:
        objects = names_at(text, i + 2, text.sentence(i)[1])
        objects = [o for o in objects if o.kind or (o is objects[0] and o.definite and thing(text, o))]
        if not any(o.kind for o in objects):
            return None
        return Work(i, objects[-1].end, "removed", False, "past", "off with", tuple(objects))
    if (
        i > 0
        and (
            norms[i - 1] in trade.determiners
            or norms[i - 1] in _NO_THING_AFTER
            or any(s.tense == "base" for s in trade.splits.get(norms[i - 1], ()))
        )
        and text.tokens[i].gap == NO_BREAK
    ):
        return None
    if _seen_there(text, i):
        return None
    if i > 0 and text.tokens[i].gap == NO_BREAK and norms[i] in text.trade.words["stays_in_place"]:
        return None  # "the drum stays on"
    if i > 0 and text.tokens[i].gap == NO_BREAK and _within_a_name(text, i):
        return None  # the "sensor in" of "new temperature sensor in"
    limit = text.sentence(i)[1]
    if _WHERE.isdisjoint(norms[i : limit + _BEYOND]):
        return None  # most often
    found = names_at(text, i, limit)
    if not found or found[-1].pronoun or (found[-1].kind is None and not thing(text, found[-1])):
        return None
    if (
        any(trade.conditions.at(norms, k)[0] > k + 1 for k in range(i, found[-1].reach + 1))
        and (found[-1].kind not in trade.kinds["plugged"] or reading_told(text, i))
        and not _after_its_like(text, i, earlier)
    ):
        return None  # "engine off", and "plug off" where a value is told
    if len(found) > 1 and i and text.tokens[i].gap == NO_BREAK and norms[i - 1] in trade.words["tells_where"]:
        return None  # "leaking into the bell housing, gearbox out": only the gearbox is out
    if text.norm(found[-1].end) in trade.words["stays_in_place"]:
        return None
    j = found[-1].reach if found[-1].reach - found[-1].end <= 1 else found[-1].end
    while (
        j < len(norms) and norms[j] in text.trade.words["be_before_place"] and text.tokens[j].gap == NO_BREAK
    ):
        j += 1
    if (poured := _let_in_or_out(text, i, found, j)) is not None:
        return poured
    for width in (2, 1):
        particle = tuple(norms[j : j + width])
        action = _STATES.get(particle)
        if particle[:1] == ("up",) and came_off(found[-1], i, earlier):
            action = "refitted"  # "gearbox up"
        if action is None or j >= len(norms) or text.tokens[j].gap > NO_BREAK:
            continue
        end = j + width
        if out_of_no_place(text, end):
            return None
        if not _state_ends(text, end, particle) and not (
            action == "refitted" and _goes_on(text, j, end) and came_off(found[-1], i, earlier)
        ):
            return None
        on = particle == ("on",) and norms[j - 1] in ("is", "are") and found[-1].text.casefold().split()[-1]
        if on and on in trade.words["switched_on"] and not came_off(found[-1], i, earlier):
            return None  # "the heater's on"
        if i and norms[i - 1] == "with" and norms[end : end + 1] in (["you"], ["you'd"], ["we'd"], ["it's"]):
            return None  # "with the wheel off you can see"
        if found[-1].kind is None and not _plainly_placed(text, i, found[-1], end, particle):
            return None
        if any(o.condition == "new" for o in found[:-1]):
            return None  # "new tensioner and idler on": new, both of them
        if len(found) > 1 and found[-1].condition == "new" and action == "refitted":
            return None  # "two bolts, new mount in": the mount is in
        listed = name_before(text, i - 1, text.clause(i)[0]) if norms[i - 1] == "and" else None
        if listed is not None and listed.condition == "new" and action == "refitted":
            return None
        objects = [
            o
            for o in found
            if (o.kind or o is found[-1])
            and (
                o.kind not in text.trade.kinds["no_place"]
                or o.text.casefold().split()[-1] in trade.words["comes_off"]
                or text.norms[end : end + 2] == ["to", "get"]
                or (action == "removed" and _new_one_follows(text, end, o))
                or (
                    particle[-1] == "in"  # "batteries in": only on, off and out tell how they work
                    and o.kind not in text.trade.kinds["poured"] | text.trade.kinds["test_gear"]
                )
            )
            and o.condition != "new"
            and not (action == "refitted" and used_up(text, o.kind) and not came_off(o, i, earlier))
        ]
        if not objects:
            return None
        if norms[i - 1] == "and" and objects[0] is found[0]:  # "hub, caliper and wheel are back on"
            objects = [*with_listed(text, found[0], text.clause(i)[0])[:-1], *objects]
        another = any(o.text.casefold().split()[0] in trade.words["exchanged"] for o in objects)
        if another and action == "refitted" and particle[0] != "back":
            return Work(i, end, "fitted", True, "past", " ".join(particle), tuple(objects), True)
        plugged = objects[-1].kind in text.trade.kinds["plugged"] and not objects[-1].text.split()[
            -1
        ].casefold().startswith("pin")
        wired = objects[-1].kind in text.trade.kinds["wired"]
        hooked_up = wired and head_of(objects[-1]) in text.trade.words["hooked_up"]
        plugged = plugged or (hooked_up and particle[-1] in ("off", "on", "back"))  # "battery leads back on"
        if plugged and action == "removed":
            action = "disconnected"
        elif plugged and action == "refitted":
            action = "reconnected"
        held = _held_by(text, end)
        if held is not None and objects[-1].kind not in trade.kinds["fastening"]:
            objects, end = [*objects, held], held.end  # "pump off, four bolts"
        return Work(i, end, action, False, "past", " ".join(particle), tuple(objects), True)
    return None


def _held_by(text: Text, i: int) -> Name | None:
    """So many fasteners that end the sentence right behind a thing and its place: they went where it went."""
    if i >= len(text.tokens) or text.tokens[i].gap != COMMA:
        return None
    name = name_at(text, i, text.breath(i)[1])
    closes = name is not None and (name.end >= len(text.tokens) or text.tokens[name.end].gap == STOP)
    counted = name is not None and name.count is not None and name.unit is None and name.condition is None
    fastens = name is not None and name.kind in text.trade.kinds["fastening"]
    return name if closes and counted and fastens else None


def _within_a_name(text: Text, i: int) -> bool:
    """Whether token `i` goes on a name of a new thing that began before it."""
    for k in (i - 1, i - 2):
        if k < 0 or "new" not in text.norms[max(0, k - 1) : i]:
            continue  # most often
        name = name_at(text, k)
        if name is not None and name.start < i < name.end:
            return True
    return False


def _let_in_or_out(text: Text, i: int, found: Sequence[Name], j: int) -> Work | None:
    """ "oil out nine litres", "11 litres of coolant in": a fluid with its amount, and where it went."""
    action = {"out": "drained", "in": "filled"}.get(text.norm(j))
    if len(found) > 1:
        return None  # "shroud, hose and six litres of coolant back in"
    name, end = found[-1], j + 1
    if text.norm(j) == "back" and text.norm(end) == "in":
        action, end = "filled", end + 1
    end += text.norm(end) == "again"
    if any((n := text.number(i - back)) is not None and n.end > i for back in (1, 2, 3)):
        return None  # "nought point seven of a litre of axle oil in"
    if action is None or name.kind not in text.trade.kinds["poured"] or text.tokens[j].gap > NO_BREAK:
        return None
    closed = not text.goes_on(end)
    after = text.number(end) if name.unit is None else None
    told = after is not None and text.quantity_at(after.end) == "volume"
    at_warmth = text.norm(end) == "at" and text.number(end + 1) is not None
    if not told and not (name.unit is not None and (closed or at_warmth)):
        return None
    return Work(i, end, action, False, "past", text.said(j, end), (name,), True)


def _after_its_like(text: Text, i: int, earlier: Sequence[Work]) -> bool:
    """ "four hoses off, motor off": right after another thing that came off, and no value is told."""
    before = earlier[-1] if earlier else None
    return (
        before is not None
        and before.passive
        and before.end == i
        and before.form == "off"
        and text.norm(i - 1) == "off"
        and not reading_told(text, i)
    )


def _new_one_follows(text: Text, i: int, name: Name) -> bool:
    """ "contactor off new contactor on": it came off, rather than that it was switched off."""
    following = name_at(text, i) if i < len(text.tokens) else None
    return following is not None and following.condition == "new" and head_of(following) == head_of(name)


def came_off(name: Name, before: int, earlier: Sequence[Work]) -> bool:
    """Whether a thing of that name came off, not long before token `before`."""
    head = head_of(name)
    for work in reversed(earlier):
        if before - work.end > 400:
            return False
        if work.action in ("removed", "disconnected", "lowered", "opened", "loosened") and any(
            o.kind == name.kind and head_of(o) == head for o in work.objects if not o.pronoun
        ):
            return True
    return False


def _goes_on(text: Text, particle: int, end: int) -> bool:
    """Whether something else follows a place, not what the thing is on or in: "hoses in, pipes done up"."""
    trade, norms = text.trade, text.norms
    if trade.failures.at(norms, particle)[1]:
        return False  # "hose in two"
    number = text.number(end)
    if number is not None:
        return not trade.failures.at(norms, number.end)[1] and norms[number.end : number.end + 1] not in (
            ["places"],
            ["halves"],
            ["pieces"],
            ["sides"],
        )
    if norms[particle] in ("back", "up"):
        return norms[end] not in trade.determiners
    following = name_at(text, end)
    if following is None or following.pronoun or following.kind is None:
        return False
    after = following.end
    return after < len(norms) and (
        text.reports(after)
        or norms[after] in trade.words["place_ahead"]
        or (following.kind in trade.kinds["fastening"] and text.number(after) is not None)
    )


def _plainly_placed(text: Text, i: int, name: Name, end: int, particle: tuple[str, ...]) -> bool:
    """ "glovebox out": a thing that no lexicon knows, where things and their places follow each other."""
    if particle in (("on",), ("in",)):
        return False
    opens = (
        text.tokens[i].gap > NO_BREAK
        or text.opens_clause(i)
        or text.norm(i - 1) in text.trade.words["places_now"]
    )
    closes = (
        end >= len(text.tokens)
        or text.tokens[end].gap > NO_BREAK
        or text.norm(end) in text.trade.words["after_place"]
        or bool(text.trade.components.at(text.norms, end)[1])
    )
    return opens and closes and not text.reports(i)


def _state_ends(text: Text, end: int, particle: tuple[str, ...]) -> bool:
    """After the particle something new begins: else "on" and "in" only open a place ("oil in the …")."""
    closes = end >= len(text.norms) or text.tokens[end].gap > NO_BREAK
    if particle == ("back",):
        return closes
    if closes or text.opens_clause(end):
        return True
    norm = text.norms[end]
    if norm == "at" and particle[0] == "back" and not _torque_follows(text, end + 1):
        return True  # "lines back on at the left side", "plug back in at 15:20"
    if norm == "in" and particle[0] == "back" and text.norm(end + 1) in ("line", "place", "position"):
        return True  # "shaft back up in line with the marks"
    if norm in text.trade.words["definite"] and particle[0] == "back" and name_at(text, end) is not None:
        return True  # "harness back in the channel"
    if norm in ("at", "to") and particle[-1] in ("on", "in", "up") and _torque_follows(text, end + 1):
        return True  # "calipers on at 225 foot pounds"
    if norm == "at" and particle[-1] == "on" and (number := text.number(end + 1)) is not None:
        shut = not text.goes_on(number.end)
        if shut and number.value >= _LEAST_TORQUE and time_of_day(text, end + 1) is None:
            return True  # "wheels on at four fifty"
    if norm in text.trade.words["after_place"]:
        return True
    if particle in (("off",), ("out",)) and norm in ("the", "that") and _which_side(text, end + 1):
        return True  # "three wires off the back"
    if norm in ("to", "both", "for", "complete", "again", "as", "at") and particle in (
        ("off",),
        ("out",),
        ("away",),
    ):
        return True  # "batteries out to get at it"
    if norm == "in" and text.norm(end + 1) == "one" and particle in (("off",), ("out",)):
        return True  # "disc and hub off in one"
    if norm in ("on", "in") and particle == ("out",) and text.norm(end + 1) in ("the", "a", "one"):
        return True  # "diff carrier out on the jack"
    if norm.endswith("ing") and len(norm) > 5 and particle in (("off",), ("out",)):
        return True  # "caliper off hanging on a strap"
    if text.number(end) is not None:
        if particle[-1] in ("on", "in") and _torque_follows(text, end):
            return True  # "wheel on six hundred newton metres"
        return (particle != ("in",) and particle != ("on",)) or bool(
            text.trade.components.at(text.norms, text.number_end(end))[1]
        )
    if any(m[1] == "past" for m in text.steps_at(end)[1]):
        return True  # "injector off, cleaned in hot water"
    if any(s.tense == "past" for s in text.trade.splits.get(norm, ())) and particle in (("off",), ("out",)):
        return True  # "split pin out nut off popped the joint"
    following = name_at(text, end)
    if following is None or following.pronoun:
        return False
    if particle in (("off",), ("out",)) and following.kind is not None:
        then = following.end + (text.norm(following.end) == "and")
        done = any(m[1] == "past" for m in text.steps_at(then)[1])
        if done and (then > following.end or not following.definite):
            return True  # "crossmember out air lines unplugged", "pipes off the motor and capped them"
    if particle in (("off",), ("out",)) and following.kind and following.condition == "new":
        return True  # "sensor lead out new lead in"
    if (
        particle == ("off",)
        and norm in text.trade.determiners
        and following.kind is not None
        and (following.end >= len(text.norms) or text.tokens[following.end].gap > NO_BREAK)
    ):
        return True  # "cables off the starter, starter out"
    if (
        particle == ("off",)
        and norm in text.trade.determiners
        and text.norm(following.end + (text.norm(following.end) == "is"))
        not in text.trade.words["place_ahead"] - {"is"}
    ):
        return False  # "hose off the turbo is split"
    if particle in (("off",), ("back", "on"), ("back", "in")):
        return following.kind is not None
    # "drum on wheel on": the next thing has a state of its own
    after = text.norm(following.end)
    if after == "is":  # "drum on, wheel is on", but not "hose on the left is chafed"
        return following.kind is not None and text.norm(following.end + 1) in (
            "on",
            "in",
            "off",
            "out",
            "back",
        )
    return following.kind is not None and (
        after in text.trade.words["place_ahead"]
        or (after == "to" and text.number(following.end + 1) is not None)
    )


def _which_side(text: Text, i: int) -> bool:
    """Whether a side of something, and nothing more, ends the sentence at `i`."""
    said = text.norm(i) in text.trade.words["sides"] or text.norm(i) in ("back", "end")
    return said and not text.goes_on(i + 1)


def _torque_follows(text: Text, i: int) -> bool:
    number = text.number(i)
    return number is not None and text.quantity_at(number.end) == "torque"

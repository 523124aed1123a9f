"""Names of things: "the two new lower radiator hoses" → lower radiator hoses, 2, new, of kind hose.

A name is any run of words that no verb, preposition or number ends; the lexicon says which word is its head
and of what kind. A name whose head the lexicon doesn't know is still a name, with `kind` None.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from jobnotes.reading.speech.limit_phrases import bounds_a_value
from jobnotes.reading.speech.numbers import TENS, UNITS, Number
from jobnotes.reading.speech.printed_code import written_as_code
from jobnotes.reading.speech.text import Text
from jobnotes.reading.tokens import COMMA, NO_BREAK, STOP
from jobnotes.reading.trade.knowledge import Unit

_COUNTS = {
    "pair of": 2,
    "couple of": 2,
    "half dozen": 6,
    "dozen": 12,
    "pair": 2,
    "couple": 2,
    "single": 1,
}


#: Words that stand for a thing, and those that do where no name follows.
_ALONE = frozenset(("it", "them"))
_MAY_STAND_ALONE = frozenset(("her", "him", "those", "that", "these", "this"))

#: Words that may stand before a name, besides those of the lists.
_LEADS = frozenset(
    (
        *"about around roughly nearly approximately half pair couple dozen single set".split(),
        *"whole entire complete a all of that both one ones one's".split(),
    )
)


@dataclass(frozen=True, slots=True)
class Name:
    """A name at tokens `start` … `end`; `text` is without counts, articles and "new" or "old".

    `count` pieces, or with `unit` (UCUM) an amount; `exact` is False where a homophone was counted.
    `definite`: spoken of as known. `pronoun`: "it", "them" and the like. `reach` is the end of the words that
    may still belong to it ("battery negative"). `doubt`: what a person has to decide, if it is ambiguous.
    """

    start: int
    end: int
    text: str
    kind: str | None = None
    count: Decimal | None = None
    unit: str | None = None
    condition: Literal["new", "used"] | None = None
    definite: bool = False
    pronoun: bool = False
    exact: bool = True
    reach: int = 0
    doubt: str = ""


def verb_at(text: Text, i: int) -> bool:
    """Whether a verb in a form that reports work starts at `i`."""
    return text.reports(i)


def used_up(text: Text, kind: str | None) -> bool:
    """Whether things of the kind are used up where they go on, and are no fluid: grease, a patch."""
    return kind in text.trade.kinds["used_up"] and kind not in text.trade.kinds["poured"]


def name_at(text: Text, i: int, limit: int | None = None) -> Name | None:
    """The name that starts at `i` and ends before `limit`, or None."""
    last = len(text.tokens) if limit is None else min(limit, len(text.tokens))
    # what lies far ahead makes no difference: a name is short
    key = (i, min(last, i + _REACH))
    if key not in text.names:
        if len(text.names) >= _KEPT:
            text.names.clear()  # a day's worth of speech: what was read long ago isn't asked for again
        text.names[key] = _name_at(text, i, key[1])
    return text.names[key]


#: So many names are remembered at most.
_KEPT = 100_000


#: More tokens than the longest name has, with its count, size and what is looked at after it.
_REACH = 60


def _may_end_name(text: Text, norm: str) -> bool:
    """Whether a name can end with that word at all."""
    trade = text.trade
    return (
        norm not in trade.stop
        or norm in trade.pronouns
        or norm in ("her", "him", "this")
        or norm in trade.words["sides"]
        or norm in trade.general
        or norm in trade.components.last_words
        or norm in trade.cue["stop.everything"].last_words
    )


def _begins_a_name(text: Text, i: int, j: int) -> bool:
    """Whether the word at `j` that mostly tells where is part of a name that begins at `i`: "the under tray",
    "removed under tray", but not "removed under the tray"."""
    words = text.trade.words
    if text.norm(j) not in words["named_with" if i < j else "named_with_bare"]:
        return False  # most often
    if not text.goes_on(j + 1) or not text.component_at(j + 1)[1]:
        return False
    if i < j:
        before = text.norm(j - 1)
        return before in text.trade.determiners or before in words["new"] or before in words["old"]
    return _after_verb(text, j)


def _name_at(text: Text, i: int, last: int) -> Name | None:
    trade, norms, tokens = text.trade, text.norms, text.tokens
    before, norm = text.norm(i - 1), text.norm(i)
    if before == "like" or (before in ("a", "an") and text.norm(i - 2) == "like"):
        return None  # "like a carpet" names no part
    if norm in trade.words["persons"]:
        return None
    measured = i > 0 and text.number(i - 1) is not None and text.norm(i + 1) != "of"
    if measured and _amount_unit(text, i)[0] in _VOLUMES:
        return None  # the "litres belt" of "drained nine litres belt removed"
    if norm == "my" and text.norm(i + 1) in text.trade.words["own_things"]:
        return None  # "don't start it, my arm is in"
    j = i
    count: Decimal | None = None
    unit: str | None = None
    condition: Literal["new", "used"] | None = None
    definite = False
    exact = True
    counted = i  # where the number of pieces ends
    doubt = ""
    everything = trade.cue["stop.everything"]
    if j < last and norm in everything.first_words and (end := everything.at(norms, j)[0]) > j:
        # "all the bolts", "all four lines" are names of their own
        counts = norms[j] == "all" and end == j + 1 and end < last and tokens[end].gap == NO_BREAK
        if counts and norms[end] in trade.words["definite"]:
            inner = name_at(text, end, last)  # "all the earths"
            if inner is not None and inner.kind is not None and not inner.pronoun:
                return replace(inner, start=i)
        if not (counts and (_plain(text, end, last) or text.number(end) is not None)):
            return Name(i, end, "everything", "everything", pronoun=False)
    alone = norm in _ALONE or (norm in _MAY_STAND_ALONE and not _plain(text, j + 1, last))
    if j < last and alone:
        return Name(i, j + 1, "it" if norm in ("her", "him") else norm, pronoun=True)
    for _ in range(8):
        if j >= last or (j > i and tokens[j].gap > NO_BREAK):
            break
        norm = norms[j]
        if norm not in _LEADS and norm not in trade.name_leads and not text.numeric[j]:
            break  # most often
        two = f"{norm} {norms[j + 1]}" if j + 1 < last else ""
        if norm in ("about", "around", "roughly", "nearly", "approximately") and (
            text.number(j + 1) is not None or norms[j + 1 : j + 2] == ["a"]
        ):
            j += 1
            continue
        if norm == "half" and norms[j + 1 : j + 3] == ["a", "dozen"]:
            count, j = Decimal(6), j + 3
            continue
        if two in _COUNTS:
            count, j = Decimal(_COUNTS[two]), j + 2
            continue
        if norm == "set" and count is None and norms[j + 1 : j + 2] == ["of"] and text.number(j + 2):
            j += 2  # "a set of four pads"
            continue
        if norms[j + 1 : j + 2] == ["of"] and (
            (norm in text.trade.words["containers"] and count is not None)
            or (norm in text.trade.words["dabs"] and _used_up(text, j + 2))
        ):
            if norm == "pairs" and count is not None:
                count *= 2
            elif norm == "sets" or (norm == "set" and count is not None):
                doubt = f"'{text.said(i, j + 1)}': how many pieces are that?"
            j += 2
            continue
        if norm in text.trade.words["containers"] and norms[j + 1 : j + 5] == ["and", "a", "half", "of"]:
            count, j = Decimal("1.5") if count is None else count + Decimal("0.5"), j + 5
            continue  # "a can and a half of brake cleaner"
        if count is not None and (size := _size_at(text, j, i, counted, last)) > j:
            j = size
            continue
        if norm in text.trade.words["new"]:
            condition, j = "new", j + 1
            continue
        if norm in ("whole", "entire", "complete") and j > i and norms[j - 1] in trade.determiners:
            j += 1  # "a whole new loom"
            continue
        if norm in text.trade.words["old"] and norms[j + 1 : j + 2] != ["up"]:
            condition, j = condition or "used", j + 1
            continue
        if norm == "a" and trade.components.at(norms, j)[0] > j + 1:
            break  # "a t f", "a b s": letters of a name
        if norm in trade.determiners or norm in ("all", "of", "that", "both") or norm in _COUNTS:
            definite = definite or norm in text.trade.words["definite"]
            if norm == "both":
                count = Decimal(2)
            if norm in _COUNTS and norm not in ("single",):
                count = Decimal(_COUNTS[norm])
            if norm in ("a", "an") and j + 1 < last:
                number = text.number(j)
                if number and number.end > j + 1:
                    found, after = _amount_unit(text, number.end)
                    if found in _SIZES and norms[after - 1] != "of" and _plain(text, after, last):
                        j = after  # "a half inch stud"
                        continue
                    count, unit, j = number.value, found, after
                    continue
                found, after = _amount_unit(text, j + 1)
                if found and norms[after : after + 4] == ["and", "a", "half", "of"]:
                    count, unit, j = Decimal("1.5"), found, after + 4
                    continue
                if (
                    found
                    and norms[after - 1] == "of"
                    and (_plain(text, after, last) or _sized(text, after, last) > after)
                ):
                    count, unit, j = Decimal(1), found, after
                    continue
            j += 1
            if norms[j : j + 1] == ["said"] and norm == "the":
                j += 1  # "the said line"
            continue
        if (
            (norm in ("one", "ones") or (norm == "one's" and norms[j + 1 : j + 2] != ["going"]))
            and (condition or definite)
            and (j + 1 >= last or not _plain(text, j + 1, last))
        ):
            return Name(i, j + 1, "it", None, count, unit, condition, definite, pronoun=True)
        if norm == "one" and i == j and _fitted_one(text, i):
            return Name(i, j + 1, "it", None, Decimal(1), pronoun=True)  # "dryer cartridge, fitted one"
        number = text.number(j) if count is None else None
        if number is not None and (_of_a_time(text, j) or _of_a_code(text, j) or bounds_a_value(text, j)):
            number = None
        if number and number.value > 0 and number.end < last and len(number.atoms) <= 1:
            if (
                norms[number.end] in ("quarter", "quarters", "eighth", "eighths", "sixteenth", "sixteenths")
                and _amount_unit(text, number.end + 1)[0] == "[in_i]"
            ):
                j = number.end + 2  # "three quarter inch hose"
                continue
            found, after = _amount_unit(text, number.end)
            if found and after == number.end + 1 and trade.components.at(norms, number.end)[0] > after:
                found = None  # "six V clamps"
            if found:
                sized = norms[after - 1] == "of" and _sized(text, after, last) > after
                if not (sized or _plain(text, after, last)) or tokens[after].gap > NO_BREAK:
                    break
                if norms[after - 1] != "of" and found in _SIZES:
                    j = after  # "a 24 volt relay", "ten mil hose": part of what it's called
                    continue
                if found in _VOLUMES and "of" not in norms[number.end : after] and not _used_up(text, after):
                    return None  # "drained sixty litres, pickup out"
                count, unit, j = number.value, found, after
                counted = number.end
                continue
            if text.norm(number.end) == "/" and (second := text.number(number.end + 1)) is not None:
                j = second.end  # "a 30/30 chamber"
                continue
            if _of_no_amount(text, number.end) and not (
                norms[number.end] in trade.words["made_with"] and _plain(text, number.end + 1, last)
            ):
                return None  # "torqued to thirty-seven foot pounds"
            joined = number.end + 1
            if (
                norms[number.end] == "-"
                and norms[joined : joined + 1]
                and norms[joined] in trade.words["made_with"]
                and _plain(text, joined + 1, last)
            ):
                j = joined + 1  # "a 2-pin connector"
                continue
            if norms[number.end] in trade.words["made_with"] and _plain(text, number.end + 1, last):
                j = number.end + 1  # "a five pin relay": what it is made with, no count
                continue
            if number.value == number.value.to_integral_value() and number.value < 200:
                count, exact, j = number.value, number.exact, number.end
                counted = j
                if norms[j : j + 1] == ["x"]:
                    j += 1
                continue
            break
        if count is None and norm in trade.homophones and norm not in ("to", "for"):
            found, after = _amount_unit(text, j + 1)
            if found and _plain(text, after, last):  # "ate litres of coolant"
                count, unit, exact, j = Decimal(trade.homophones[norm]), found, False, after
                continue
        if count is None and norm in trade.homophones and norms[j + 1 : j + 2] == ["new"]:
            count, exact, j = Decimal(trade.homophones[norm]), False, j + 1
            continue
        break
    start = j
    if i < start < last and tokens[start].gap > NO_BREAK:
        return None  # "both new. Cover on again": what follows is of another sentence
    head_end, kind = start, None
    if (placed := _numbered_ahead(text, j, last)) > j and (i < j or _after_verb(text, j)):
        j = placed  # "the number three injector"
    if norms[start : start + 2] == ["full", "of"]:
        return None  # "the old one full of paint"
    previous_was_of = False
    while j < last and j - start < 9:
        if j > start and tokens[j].gap > NO_BREAK:
            break
        norm = norms[j]
        if j > start and (norm in text.trade.words["new"] or norm in text.trade.words["old"]):
            break
        if j > start and norm in ("stays", "stayed", "staying") and text.norm(j + 1) in _STAYS:
            break  # "the drum stays on"
        end, meanings = text.component_at(j)
        told_how_many = count is not None or condition == "new"
        if meanings and kind is not None and told_how_many and _several_of_them(text, j - 1):
            break  # "two new belts lacing kit": of the first there are several, which is the name of no other
        if meanings and end <= last and (end > j + 1 or norm not in trade.stop):
            kind, head_end = meanings[0][0], end
            j = end
            if unit is not None and kind in trade.kinds["used_up"]:
                break  # "300 g of grease": what follows is something else
            previous_was_of = False
            continue
        if (
            norm == "of"
            and j > start
            and j + 1 < last
            and (norms[j + 1] in trade.determiners or _plain(text, j + 1, last))
        ):
            j += 1
            while j < last and norms[j] in trade.determiners:
                j += 1
            previous_was_of = True
            continue
        if norm == "half" and j > start and norms[j - 1] in trade.words["sides"]:
            j += 1  # "the rear half of the shaft"
            continue
        if norm == "-" and j > start and _hyphen_in_word(text, j, last):
            j += 1  # "push-fit elbows"
            continue
        if norm == "and" and kind is None and _two_of_one_name(text, j, start, last):
            j += 1  # "inner and outer bearing"
            continue
        if norm == "in" and norms[j + 1 : j + 2] == ["line"]:
            j += 2
            continue
        if j == start and _begins_a_name(text, i, j):
            j += 1
            continue
        if not _plain(text, j, last):
            number = text.number(j) if j > start and norms[j - 1] in trade.words["numbered"] else None
            if number is not None and _spelled_beyond(text, number.start, number.end):
                number = None  # "pin 4C-1180", "pin 60 T 120": a part number
            if number is not None and not text.unit_follows(number.end):
                j = number.end
                if head_end == start or norms[head_end - 1] in text.trade.words["numbered"]:
                    head_end = j
                continue
            break
        if kind is not None and norm in trade.words["adverbs"]:
            break  # "tapped the seal home"
        j += 1
        previous_was_of = False
    if previous_was_of:
        j -= 1
    end = j
    if kind is not None:
        # words after the head that no lexicon knows are seldom part of the name; "unit", "kit", sides are
        end = head_end
        while end < j and (norms[end] in trade.general or norms[end] in text.trade.words["sides"]):
            end += 1
        if end == head_end == j - 1 and unit is None and not _says_how(text, end):
            end = j  # "air filter housing": one more noun
    end = _before_a_count(text, start, end)
    if end <= start:
        return None
    if all(norms[k] in text.trade.words["sides"] or norms[k] in trade.determiners for k in range(start, end)):
        return None
    if kind is None and all(
        norms[k] in trade.general or norms[k] in text.trade.words["sides"] for k in range(start, end)
    ):
        if norms[end - 1] in ("one", "ones"):
            return Name(i, end, "it", None, count, unit, condition, definite, pronoun=True)
        kind = None
    if count is not None and unit is None and kind in text.trade.kinds["poured"] and count > _PIECES_OF_FLUID:
        count = None  # "forty six oil": its grade
    several = count is not None and count > 1 and unit is None and kind is not None
    if several and _of_one(text, start, end, i) and norms[i] in ("a", "an"):
        count = None  # "a ten stud hub"
    elif several and _of_one(text, start, end, i):
        doubt = f"'{text.said(i, end)}': is {count} how many, or what it is made with?"
    return Name(
        i,
        end,
        text.said(start, end),
        kind,
        count,
        unit,
        condition,
        definite,
        exact=exact,
        reach=max(j, end),
        doubt=doubt,
    )


#: Of a fluid there are so many kinds at most in one job; a number above is its grade.
_PIECES_OF_FLUID = 4


def _before_a_count(text: Text, start: int, end: int) -> int:
    """Where a name ends that a count runs on from: "split pins | two new nuts", "O-ring | two pieces"."""
    words = text.trade.words
    if UNITS.keys().isdisjoint(text.norms[start + 1 : end]):
        return end  # most often
    for k in range(start + 1, end):
        if text.norm(k) not in UNITS:
            continue
        pieces = text.norm(k + 1) in words["piece_words"] - {"off"}
        if pieces or (k == end - 1 and text.norm(end) == "new"):
            return k
    return end


def _hyphen_in_word(text: Text, j: int, last: int) -> bool:
    """Whether the hyphen at `j` stands within one word of letters."""
    return (
        j + 1 < last
        and text.tokens[j].joined
        and text.tokens[j + 1].joined
        and text.norm(j - 1).isalpha()
        and text.norm(j + 1).isalpha()
    )


def _two_of_one_name(text: Text, j: int, start: int, last: int) -> bool:
    """Whether the "and" at `j` joins two places of one name, which goes on behind them."""
    sides = text.trade.words["sides"]
    return (
        j > start
        and j + 2 < last
        and text.norm(j - 1) in sides
        and text.norm(j + 1) in sides
        and all(text.tokens[k].gap == NO_BREAK for k in (j, j + 1, j + 2))
        and bool(text.component_at(j + 2)[1])
    )


def _several_of_them(text: Text, i: int) -> bool:
    """Whether the word at `i` is the plural of a component."""
    norm = text.norm(i)
    return len(norm) > 3 and norm.endswith("s") and bool(text.trade.components.at([norm[:-1]], 0)[1])


def _spelled_beyond(text: Text, start: int, end: int) -> bool:
    """Whether the number at `start` … `end` is the beginning of a longer string of letters and digits."""
    if end < len(text.tokens) and text.tokens[end].joined:
        return True
    run = text.spelled(start) if end < len(text.tokens) and text.tokens[end].gap == NO_BREAK else None
    return run is not None and run.end > end + 1 and any(c.isalpha() for c in run.text)


def head_of(name: Name) -> str:
    """The last word of a name, as it is for one: "hose" of "the two heater hoses"."""
    return last_word(name.text)


def last_word(name: str) -> str:
    """The last word, in the singular: two names of one thing end with the same."""
    return name.split()[-1].casefold().removesuffix("s") if name.split() else ""


def unknown(name: Name) -> str:
    """The doubt about a name that the lexicon doesn't know."""
    return f"'{name.text}' is no part that the lexicon knows"


def thing(text: Text, name: Name) -> bool:
    """Whether a name that no lexicon knows can be a thing on a vehicle: "sprag ring", but not "time"."""
    words = name.text.casefold().split()  # without the amount of it
    return len(words) <= 4 and not any(
        w in text.trade.words["no_thing"] or w in text.trade.stop or w.endswith("ly") or len(w) < 3
        for w in words
        if w not in text.trade.determiners
    )


def _used_up(text: Text, i: int) -> bool:
    """A fluid or consumable is named at `i`, with or without an article."""
    if text.norm(i) in text.trade.determiners:
        i += 1
    for k in range(i, min(i + 3, len(text.tokens))):
        meanings = text.trade.components.at(text.norms, k)[1]
        if meanings:
            return any(kind in text.trade.kinds["used_up"] for kind, _ in meanings)
        if text.norm(k) in text.trade.stop:
            return False
    return False


#: Units (UCUM) that tell a thing's size or rating, where no "of" follows: "a 24 volt relay", "ten mil hose".
_SIZES = frozenset(("V", "A", "mm", "Ohm", "W", "kg", "t", "bar", "[in_i]", "h", "min"))

#: Where a thing stays: "the lamp stays on".
_STAYS = frozenset(("on", "off", "in", "out", "up", "down", "there", "put", "as"))

#: Amounts (UCUM) of what is poured, and of nothing else where no "of" follows.
_VOLUMES = frozenset(("L", "mL", "[gal_us]", "[qt_us]", "[pt_br]"))

#: What nobody takes an amount of: "ten newton metres axle oil" is a torque and then something else.
_NO_AMOUNT = frozenset(
    ("torque", "pressure", "temperature", "rotational speed", "speed", "frequency", "ratio", "angle", "force")
)


def _of_no_amount(text: Text, j: int) -> bool:
    meanings = text.trade.unit_forms.at(text.norms, j)[1]
    return bool(meanings) and meanings[0][0].quantity in _NO_AMOUNT and len(meanings[0][1]) > 2


def _of_one(text: Text, start: int, end: int, i: int) -> bool:
    """Whether a counted name of two nouns is of one thing: "ten stud hub", but "ten hub studs"."""
    if end - start < 2 or text.component_at(start)[0] >= end or text.norm(start - 1) in ("of", "both", "off"):
        return False
    return not any(w.endswith("s") or w in ("teeth", "leaves") for w in text.norms[start:end])


def _size_at(text: Text, j: int, start: int, counted: int, last: int) -> int:
    """The end of a number at `j` that counts nothing after the first: "two of the four clamps"."""
    if (end := _sized(text, j, last)) > j:
        return end
    number = text.number(j)
    if number is None or len(number.atoms) > 1 or number.end >= last:
        return j
    between = text.norms[counted:j]
    partly = between[:1] == ["of"] and len(between) <= 2 and set(between[1:]) <= text.trade.determiners
    measured = text.unit_follows(number.end)
    return number.end if partly and counted > start and not measured else j


def _sized(text: Text, j: int, last: int) -> int:
    """Past a number at `j` that tells a size or what a thing is made with: "ten mil pipe", "7 core cable"."""
    number = text.number(j)
    if number is None or len(number.atoms) > 1 or number.end >= last:
        return j
    if text.norms[number.end] in text.trade.words["made_with"] and _plain(text, number.end + 1, last):
        return number.end + 1
    end, meanings = text.trade.unit_forms.at(text.norms, number.end)
    return end if meanings and meanings[0][0].ucum in _SIZES and _plain(text, end, last) else j


def _after_verb(text: Text, j: int) -> bool:
    """Whether a clause, or a verb's object, begins at `j`: "replaced number two injector"."""
    if j == 0 or text.tokens[j].gap > NO_BREAK or text.norm(j - 1) in ("and", "then", "i"):
        return True
    if text.norm(j - 1) in text.trade.splits or text.norm(j - 1) in text.trade.part_splits:
        return True
    return any(
        max(text.steps_at(k)[0], text.fittings_at(k)[0]) == j and text.reports(k)
        for k in range(max(0, j - 3), j)
    )


def _numbered_ahead(text: Text, j: int, last: int) -> int:
    """Past "number three" where the thing that has this number follows: "the number three injector"."""
    number = text.number(j + 1) if text.norms[j : j + 1] == ["number"] else None
    if number is None or number.end >= last or len(number.atoms) > 1 or text.tokens[j + 1].gap > NO_BREAK:
        return j
    return number.end if text.trade.components.at(text.norms, number.end)[1] else j


def _fitted_one(text: Text, i: int) -> bool:
    """Whether the "one" at `i` ends a clause that a verb of parts opens."""
    alone = not text.goes_on(i + 1)
    return (
        alone and text.tokens[i].gap == NO_BREAK and any(m[0] == "fitted" for m in text.fittings_at(i - 1)[1])
    )


def _of_a_time(text: Text, j: int) -> bool:
    """The "15" of "12:15"."""
    return j > 0 and text.numeric[j - 1] and text.tokens[j - 1].word == text.tokens[j].word


def _of_a_code(text: Text, j: int) -> bool:
    """ "… F M I seventeen new brake chamber", "count twenty four bolts removed": it belongs to the code."""
    if text.norm(j - 1) in TENS and text.norm(j) in UNITS:
        j -= 1
    if text.norm(j - 2 if text.norm(j - 1) in ("of", "is") else j - 1) in text.trade.words["code_counters"]:
        return True
    return any(text.ends_at(text.trade.cue[cue], j, 3) for cue in ("codes.fmi", "codes.spn"))


def _says_how(text: Text, i: int) -> bool:
    """A word after a name that isn't part of it: a verb, a failure, how it was done."""
    norm = text.norm(i)
    return (
        norm.endswith(("ly", "ed", "ing"))
        or bool(text.trade.failures.at(text.norms, i)[1] or text.trade.sound.at(text.norms, i)[1])
        or bool(text.steps_at(i)[1] or text.fittings_at(i)[1])
        or (
            i + 1 < len(text.tokens)
            and text.tokens[i + 1].gap == 0
            and text.norm(i + 1) not in text.trade.stop
            and not text.reports(i + 1)  # "bumper corner removed"
        )
    )


def _amount_unit(text: Text, j: int) -> tuple[str | None, int]:
    """(UCUM, end) of a unit at `j`, with "of" after it taken along."""
    end, meanings = text.trade.unit_forms.at(text.norms, j)
    if not meanings:
        return None, j
    unit, form = meanings[0]
    if unit.quantity in _NO_AMOUNT:
        return None, j
    if len(form) == 1 and not text.tokens[j].joined and not text.norm(j - 1).replace(".", "").isdigit():
        return None, j
    if "of" in text.norms[j + 1 : end]:
        end = text.norms.index("of", j)  # "mil of fluid" is a form of its own, and names the fluid
    if text.norm(end) == "of":
        end += 1
        while text.norm(end) in text.trade.determiners:
            end += 1
        poured = any(kind in text.trade.kinds["poured"] for kind, *_ in text.component_at(end)[1])
        if poured and text.norms[j] in text.trade.words["millilitres_of_a_fluid"]:
            return "mL", end
    return unit.ucum, end


#: So many tokens an amount takes at most: "one hundred and twenty four point five litres".
LONGEST_AMOUNT = 10


def amount_before(text: Text, end: int, low: int = 0) -> tuple[Number, Unit] | None:
    """The number and its unit that end at token `end` and begin at `low` or later: "twenty four litres"."""
    for start in range(max(low, end - LONGEST_AMOUNT), end - 1):
        number = text.number(start)
        if number is None:
            continue
        after, meanings = text.trade.unit_forms.at(text.norms, number.end)
        if after == end and meanings:
            return number, meanings[0][0]
    return None


def amount_at(text: Text, number: Number) -> tuple[str, int] | None:
    """(UCUM, end) of a unit of mass or volume right after `number`."""
    end, meanings = text.trade.unit_forms.at(text.norms, number.end)
    measured = bool(meanings) and meanings[0][0].quantity in ("mass", "volume")
    return (meanings[0][0].ucum, end) if measured else None


#: The cue tables whose longer phrases open something new.
_OPENINGS = ("headings", "photo.cues", "clock", "private.open")


def _plain(text: Text, j: int, last: int) -> bool:
    """Whether token `j` can stand within a name."""
    if j >= last:
        return False
    norm = text.norms[j]
    if norm in text.trade.words["persons"]:
        return False
    if norm in text.trade.stop or norm in text.trade.determiners or not norm[:1].isalpha():
        return False
    if written_as_code(norm):
        return False  # "fitted a new sensor P0401 cleared"
    if text.number(j) is not None and norm not in ("second",):
        return False
    if text.norm(j + 1) in ("it", "them", "the") and any(m[1] == "base" for m in text.steps_at(j)[1]):
        return False  # "nipped up, torque them when …"
    if norm == "set" and text.norm(j + 1) == "of":
        return True  # "a set of pads"
    if verb_at(text, j):
        return bool(text.trade.components.at(text.norms, j)[1])
    if norm in text.trade.first_words(*_OPENINGS) and any(
        text.trade.cue[name].at(text.norms, j)[0] > j + 1 for name in _OPENINGS
    ):
        return False
    failed, fails = text.trade.failures.at(text.norms, j)
    ends = j + 1 >= last or text.norms[j + 1] in text.trade.stop
    return not (fails and (ends or (failed > j + 1 and not text.goes_on(failed))))  # "horn open circuit, …"


def _told_more(text: Text, name: Name) -> bool:
    """Whether a word follows that no list goes on with: what is told is something else."""
    if not text.goes_on(name.end) or name.kind is None or name.definite or name.count is not None:
        return False
    return text.norm(name.end) in text.trade.words["remains_of_a_thing"]


def names_at(text: Text, i: int, limit: int) -> list[Name]:
    """The list of names at `i`: "the wheel, the drum and the shoes" gives three."""
    found: list[Name] = []
    j = i
    while j < limit:
        k = j
        if found and found[-1].pronoun and text.norm(j) not in ("and", "plus", "with"):
            break  # "unplugged it two screws and it's off"
        if found:
            k = (
                j + 1
                if text.norm(j) in ("and", "plus", "&", "+")
                or (text.norm(j) == "with" and text.norm(j + 1) in ("its", "their"))
                else j
            )
            if (
                k == j
                and text.tokens[j].gap != COMMA
                and text.norm(j) not in text.trade.determiners
                and not _counted(text, j)
            ):
                break
            if text.norm(k) in ("and",):
                k += 1
            if text.norm(k) in ("also", "then"):
                k += 1
        name = name_at(text, k, limit)
        if name is None or (found and name.pronoun):
            break
        if found and k == j and text.tokens[j].gap == COMMA and _placed(text, name.end):
            break  # "drained nine litres of coolant, two pipes off"
        if found and k == j and text.tokens[j].gap == COMMA and _told_more(text, name):
            break  # "dropped the pan, clutch material all over the magnet"
        if found and text.goes_on(name.end):
            told_of = text.norm(name.end) in text.trade.words["after_thing"]
            done = name.end < limit and verb_at(text, name.end)
            if told_of or done or (k == j and _how_it_is(text, name.end)):
                break
        if (
            found
            and k == j
            and text.tokens[j].gap == NO_BREAK
            and name.definite
            and not found[-1].definite
            and (found[-1].condition == "new" or text.norm(found[-1].start) in ("a", "an"))
        ):
            break  # "a new top plate the valve rod we kept": a new sentence without its stop
        if (
            found
            and name.text.split()[-1] in ("unit", "assembly", "kit", "set")
            and text.norm(name.start) not in text.trade.determiners
            and found[-1].count is None
            and text.norm(found[-1].end) == "and"
        ):
            last = found.pop()  # "motor and gearbox unit" is one thing
            name = replace(
                name,
                start=last.start,
                text=f"{last.text} and {name.text}",
                kind=name.kind or last.kind,
                condition=last.condition,
                definite=last.definite,
            )
        if found and k > j and name.kind is None and _closes_list(text, name, found, limit):
            found.append(name)  # "removed the locking bar, the jaw and the wear ring"
            break
        if found and (
            name.kind is None or (_numbered(text, name.end) and name.count is None and name.condition is None)
        ):
            break
        found.append(name)
        j = name.end
        if text.norm(j) in ("too", "also", "as"):
            break
    return found


def _how_it_is(text: Text, i: int) -> bool:
    """Whether words at `i` tell how the thing before them is, so that it opens a statement of its own:
    "backed off two flats, locknut tight", "set the tappets, inlet 0.4 and exhaust 0.6"."""
    if text.trade.sound.at(text.norms, i)[1] or text.norm(i) in text.trade.words["how_much"] - {"and"}:
        return True
    if text.trade.failures.at(text.norms, i)[1] and text.norm(i) not in text.trade.words["places_now"]:
        return True  # "pulled the head, gasket blown between two and three"
    number = text.number(i)
    return number is not None and "." in number.text


def _placed(text: Text, i: int) -> bool:
    """Whether a word at `i` tells where the thing before it is now, and nothing else of it."""
    if not text.goes_on(i):
        return False
    i += text.norm(i) == "is"
    closes = not text.goes_on(i + 1)
    return text.norm(i) in ("off", "out") and closes


def _closes_list(text: Text, name: Name, found: Sequence[Name], limit: int) -> bool:
    """Whether a thing that no lexicon knows, told as one that is there, is the last of a list."""
    ends = name.end >= min(limit, len(text.tokens)) or text.tokens[name.end].gap == STOP
    listed = len(found) > 1 and all(n.kind is not None and n.definite for n in found)
    return ends and listed and name.definite and name.count is None and thing(text, name)


def _numbered(text: Text, j: int) -> bool:
    """Whether a part number is told at `j`, in the same breath as what stands before it."""
    return text.cue("identity.part_number", j) is not None and text.tokens[j].gap < STOP


def _counted(text: Text, j: int) -> bool:
    """A new item of a list that runs on without a comma: "two bolts four nuts"."""
    number = text.number(j)
    return number is not None and number.value < 100 and not text.unit_follows(number.end)


def name_before(text: Text, end: int, start: int) -> Name | None:
    """The name that ends just before token `end`, not reaching back over `start`."""
    if end <= start or not _may_end_name(text, text.norms[end - 1]):
        return None  # most often
    if any(text.trade.failures.at(text.norms, k)[0] == end for k in range(max(start, end - 3), end - 1)):
        return None  # "horn open circuit, replaced": how it failed
    best: Name | None = None
    for i in range(end - 1, max(start, end - 9) - 1, -1):
        if i < end - 1 and (text.tokens[i + 1].gap > NO_BREAK or text.tokens[i].text.endswith(":")):
            break
        if text.norms[i] in ("i", "i've", "we", "he"):
            break
        name = name_at(text, i, end)
        if name is not None and name.end == end:
            best = name
            if text.norms[i] in ("the", "a", "an") or text.tokens[i].gap > NO_BREAK:
                break
        elif best is not None:
            break
    return best

"""The tables of the trade files, checked and indexed: one function a file.

Each takes what was read, as (label, data) in order, the shipped file first; what a workshop has is added. A
name that the program asks for must be one of the shipped file: a misspelt one would be without effect.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from string import ascii_lowercase
from typing import Any

import pint

from jobnotes.errors import JobnotesError
from jobnotes.reading.trade.checks import (
    a_text,
    flag,
    known,
    lists,
    number,
    rows,
    some_strings,
    strings,
    table,
    text,
)
from jobnotes.reading.trade.knowledge import (
    Action,
    Alike,
    Implied,
    Labels,
    Mishearing,
    PartAction,
    Range,
    Split,
    Unit,
)
from jobnotes.reading.trade.phrases import Phrases, spoken

Files = Sequence[tuple[str, Mapping[str, Any]]]


def check_top(files: Files) -> None:
    """Refuses what stands at the top of a file and isn't a table, list or key of the shipped one.

    Raises JobnotesError that names the file and the name.
    """
    for label, data in files:
        known(label, "", data, files[0][1].keys())


# --- units.toml ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Units:
    units: Mapping[str, Unit]
    forms: Phrases[tuple[Unit, str]]
    alike: Mapping[str, Alike]
    unnamed: Phrases[Unit]
    implied: tuple[Implied, ...]
    quantity_words: Mapping[str, str]


def units_of(files: Files, ureg: pint.UnitRegistry) -> Units:
    units: dict[str, Unit] = {}
    forms: Phrases[tuple[Unit, str]] = Phrases()
    alike: dict[str, Alike] = {}
    unnamed: Phrases[Unit] = Phrases()
    implied: list[Implied] = []
    quantity_words: dict[str, str] = {}
    for label, data in files:
        for row in rows(label, "unit", data.get("unit", []), _UNIT_KEYS):
            unit = _unit(label, row, ureg)
            units[unit.ucum] = unit
            for form in sorted(unit.forms | unit.singular):
                forms.add(form, (unit, form))
        for row in rows(label, "alike", data.get("alike", []), ("form", "ucum", "near", "open")):
            ucum = _known_unit(label, "alike", text(label, "alike", row, "ucum"), units)
            near = frozenset(some_strings(label, "alike", row, "near"))
            left_open = Phrases(
                (phrase, phrase) for phrase in strings(label, "alike.open", row.get("open", []))
            )
            for form in some_strings(label, "alike", row, "form"):
                alike[form] = Alike(ucum, near, left_open)
        for ucum, words in lists(label, "unnamed", data.get("unnamed", {})):
            for word in words:
                unnamed.add(word, units[_known_unit(label, "unnamed", ucum, units)])
        for row in rows(label, "implied", data.get("implied", []), _IMPLIED_KEYS):
            ucum = _known_unit(label, "implied", text(label, "implied", row, "ucum"), units)
            where = f"implied {ucum}"
            spoken_of: Phrases[str] = Phrases(
                (word, ucum) for word in some_strings(label, where, row, "near")
            )
            low, high = number(label, where, row, "min"), number(label, where, row, "max")
            implied.append(Implied(units[ucum], spoken_of, low, high, flag(label, where, row, "decimal")))
        quantities = {unit.quantity for unit in units.values()}
        for quantity, words in lists(label, "quantity_words", data.get("quantity_words", {}), quantities):
            quantity_words.update(dict.fromkeys(words, quantity))
    return Units(units, forms, alike, unnamed, tuple(implied), quantity_words)


_IMPLIED_KEYS = ("ucum", "near", "min", "max", "decimal")
_UNIT_KEYS = ("ucum", "pint", "quantity", "forms", "singular", "misheard", "assumed")


def _unit(label: str, row: Mapping[str, Any], ureg: pint.UnitRegistry) -> Unit:
    ucum = text(label, "a unit", row, "ucum")
    forms = {
        key: strings(label, f"{ucum}.{key}", row.get(key, []))
        for key in ("forms", "singular", "misheard", "assumed")
    }
    unit = Unit(
        ucum,
        text(label, ucum, row, "pint"),
        text(label, ucum, row, "quantity"),
        **{key: frozenset(words) for key, words in forms.items()},
        said=next(iter(forms["forms"]), ucum),
    )
    try:
        ureg.parse_units(unit.pint)
    except Exception:  # pint raises errors of many kinds, those of Python's own parser among them
        raise JobnotesError(
            label, f"{ucum}: pint knows no unit {unit.pint!r}", "use a name that pint knows"
        ) from None
    some_strings(label, ucum, row, "forms")
    unheard = sorted((unit.misheard | unit.assumed) - unit.forms - unit.singular)
    if unheard:
        raise JobnotesError(label, f"{ucum}: {unheard[0]!r} is none of its forms", "add it to forms too")
    return unit


def _known_unit(label: str, where: str, ucum: str, units: Mapping[str, Unit]) -> str:
    if ucum not in units:
        raise JobnotesError(label, f"{where}: unknown unit {ucum!r}", "use a code of units.toml")
    return ucum


# --- fault_texts.toml ----------------------------------------------------------------------------


@dataclass(frozen=True)
class FaultTexts:
    fmi: Mapping[int, str]
    dtc_system: Mapping[str, str]


def fault_texts_of(files: Files) -> FaultTexts:
    fmi: dict[int, str] = {}
    dtc_system: dict[str, str] = {}
    for label, data in files:
        for key, meaning in table(label, "fmi", data.get("fmi", {})).items():
            # only plain digits, and few: other scripts' digits and thousands of them are no numbers to int()
            if not (key.isascii() and key.isdecimal() and len(key) <= 2 and int(key) <= 31):
                raise JobnotesError(label, f"FMI {key!r} is out of bounds", "an FMI is 0 to 31")
            fmi[int(key)] = a_text(label, f"fmi.{key}", meaning)
        systems = table(label, "dtc_system", data.get("dtc_system", {}))
        known(label, "dtc_system", systems, files[0][1]["dtc_system"].keys())
        dtc_system.update({k: a_text(label, f"dtc_system.{k}", v) for k, v in systems.items()})
    return FaultTexts(fmi, dtc_system)


# --- spelling.toml -------------------------------------------------------------------------------


@dataclass(frozen=True)
class SpellingWords:
    letters: Phrases[str]
    letters_misheard: Phrases[str]
    digits: Mapping[str, str]
    homophones: Mapping[str, str]


def spelling_of(files: Files) -> SpellingWords:
    digits: dict[str, str] = {}
    homophones: dict[str, str] = {}
    out = SpellingWords(Phrases(), Phrases(), digits, homophones)
    for label, data in files:
        for name, phrases in (("letters", out.letters), ("letters_misheard", out.letters_misheard)):
            for letter, words in lists(label, name, data.get(name, {})):
                _one_of(label, f"{name}.{letter}", letter, ascii_lowercase, "one letter, a to z")
                for word in words:
                    phrases.add(word, letter)
        for name, target in (("digits", digits), ("digits_homophones", homophones)):
            for digit, words in lists(label, name, data.get(name, {})):
                _one_of(label, f"{name}.{digit}", digit, "0123456789", "one digit, 0 to 9")
                target.update(dict.fromkeys(words, digit))
    return out


def _one_of(label: str, where: str, name: str, characters: str, wanted: str) -> None:
    if len(name) != 1 or name not in characters:
        raise JobnotesError(label, f"{where} stands for no single character", f"name the list by {wanted}")


# --- lexicon.toml --------------------------------------------------------------------------------

_TENSES = (("verbs", "past"), ("doing", "doing"), ("base", "base"))
_ACTION_KEYS = ("name", "past", "doing", "base", "opens", "undone_by", "split")
_PART_ACTIONS: tuple[PartAction, ...] = ("fitted", "reused", "ordered", "consumed")
_SPLIT_KEYS = ("verbs", "particles", "doing", "base")
#: What a [[part_split]] may do: parts that come off are told by it too.
_SPLIT_ACTIONS = (*_PART_ACTIONS, "removed")
#: What the bare verbs of `part_actions.base` do with a part, where they don't fit it.
_BASE: Mapping[str, PartAction] = {
    "order": "ordered",
    "reuse": "reused",
    "move": "reused",
    "use": "consumed",
}


@dataclass(frozen=True)
class Things:
    components: Phrases[tuple[str, str]]
    kind_of: Mapping[str, str]
    kinds: Mapping[str, frozenset[str]]
    general: frozenset[str]
    failures: Phrases[str]
    sound: Phrases[str]


def things_of(files: Files) -> Things:
    """Components with their kinds, and how they fail."""
    shipped = files[0][1]
    components: Phrases[tuple[str, str]] = Phrases()
    kind_of: dict[str, str] = {}
    kinds: dict[str, frozenset[str]] = {}
    general: set[str] = set()
    all_kinds: set[str] = set()
    failures: Phrases[str] = Phrases()
    sound: Phrases[str] = Phrases()
    for label, data in files:
        for kind, names in lists(label, "components", data.get("components", {})):
            kind = kind.casefold()
            all_kinds.add(kind)
            for name in names:
                head = name.replace("-", " ").split()
                for form in {name, " ".join([*head[:-1], plural(head[-1])])}:
                    components.add(form, (kind, name))
                    kind_of.setdefault(form, kind)
        for what, names in lists(label, "kinds", data.get("kinds", {}), shipped["kinds"]):
            known(label, f"kinds.{what}", names, all_kinds)
            kinds[what] = kinds.get(what, frozenset()) | set(names)
        for _, words in lists(label, "general", data.get("general", {}), shipped["general"]):
            general.update(words)
        for failure, words in lists(label, "failures", data.get("failures", {})):
            for word in words:
                failures.add(word, failure)
        for _, words in lists(label, "sound", data.get("sound", {}), shipped["sound"]):
            for word in words:
                sound.add(word, "sound")
    return Things(components, kind_of, kinds, frozenset(general), failures, sound)


def plural(word: str) -> str:
    """The regular plural of a noun: "hose" → "hoses", "bush" → "bushes", "battery" → "batteries"."""
    if word.endswith(("s", "x", "ch", "sh", "z")):
        return word + "es"
    if word.endswith("y") and word[-2:-1] not in tuple("aeiou"):
        return word[:-1] + "ies"
    return word + "s"


@dataclass(frozen=True)
class Verbs:
    actions: Mapping[str, Action]
    action_forms: Phrases[tuple[str, str]]
    splits: Mapping[str, tuple[Split, ...]]
    part_forms: Phrases[tuple[PartAction, str, str]]
    part_splits: Mapping[str, tuple[Split, ...]]
    replaces: frozenset[str]


def verbs_of(files: Files) -> Verbs:
    """Verbs of taking apart and putting back, and those that a part is fitted, used or ordered with."""
    actions: dict[str, Action] = {}
    action_forms: Phrases[tuple[str, str]] = Phrases()
    splits: dict[str, list[Split]] = {}
    part_forms: Phrases[tuple[PartAction, str, str]] = Phrases()
    part_splits: dict[str, list[Split]] = {}
    replaces: set[str] = set()
    part_lists = files[0][1]["part_actions"]
    opening: list[tuple[str, str]] = []
    undoing: list[tuple[str, str, str]] = []
    for label, data in files:
        for row in rows(label, "action", data.get("action", []), _ACTION_KEYS):
            name = text(label, "an action", row, "name")
            undone_by = frozenset(strings(label, f"{name}.undone_by", row.get("undone_by", [])))
            opens = text(label, name, row, "opens") if "opens" in row else None
            # what a workshop adds to an action leaves what the shipped one opens, and what undoes it
            before = actions.get(name, Action(name, None, frozenset()))
            actions[name] = replace(
                before, opens=opens or before.opens, undone_by=before.undone_by | undone_by
            )
            opening += [(label, name)] if opens else []
            undoing += [(label, name, other) for other in sorted(undone_by)]
            for tense in ("past", "doing", "base"):
                for form in strings(label, f"{name}.{tense}", row.get(tense, [])):
                    action_forms.add(form, (name, tense))
            for split in rows(label, "action.split", row.get("split", []), _SPLIT_KEYS):
                _add_split(label, f"{name}.split", name, split, splits)
        part = dict(lists(label, "part_actions", data.get("part_actions", {}), part_lists))
        replaces.update(part.get("replaces", []))
        for action in _PART_ACTIONS:
            for form in part.get(action, []):
                doing = form.split()[0].endswith("ing")
                part_forms.add(form, (action, "doing" if doing else "past", form))
        for form in sorted(set(part.get("base", []))):
            part_forms.add(form, (_BASE.get(form, "fitted"), "base", form))
        for split in rows(label, "part_split", data.get("part_split", []), ("action", *_SPLIT_KEYS)):
            does = text(label, "a part_split", split, "action")
            known(label, "the action of a part_split", [does], _SPLIT_ACTIONS)
            _add_split(label, "part_split", does, split, part_splits)
    for label, name, other in undoing:
        known(label, f"{name}.undone_by", [other], actions)
    for label, name in opening:
        if not actions[name].undone_by:
            reason = f"{name} opens {actions[name].opens!r} and nothing undoes it"
            raise JobnotesError(label, reason, 'add undone_by = ["..."], the actions that close it')
    return Verbs(
        actions,
        action_forms,
        {verb: tuple(found) for verb, found in splits.items()},
        part_forms,
        {verb: tuple(found) for verb, found in part_splits.items()},
        frozenset(replaces),
    )


def _add_split(
    label: str, where: str, action: str, row: Mapping[str, Any], splits: dict[str, list[Split]]
) -> None:
    some_strings(label, where, row, "verbs")
    particles = frozenset(tuple(p.split()) for p in some_strings(label, where, row, "particles"))
    for key, tense in _TENSES:
        for verb in strings(label, f"{where}.{key}", row.get(key, [])):
            splits.setdefault(verb, []).append(Split(action, particles, tense))


# --- cues.toml -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Cues:
    cue: Mapping[str, Phrases[str]]
    words: Mapping[str, frozenset[str]]
    conditions: Phrases[str]
    opposite: Mapping[str, frozenset[str]]
    stop: frozenset[str]
    determiners: frozenset[str]
    pronouns: frozenset[str]


#: Tables whose names are a workshop's to choose: they are what is told, or only tell the lists apart.
_FREE = ("conditions", "opposites")


def cues_of(files: Files) -> Cues:
    cue: dict[str, Phrases[str]] = {}
    words: dict[str, frozenset[str]] = {}
    stop: dict[str, set[str]] = {"words": set(), "determiners": set(), "pronouns": set()}
    conditions: Phrases[str] = Phrases()
    opposite: dict[str, frozenset[str]] = {}
    for label, data in files:
        for kind, entries in data.items():
            if kind in ("format", "version"):
                continue
            names = None if kind in _FREE else files[0][1][kind]
            for name, phrases in lists(label, kind, entries, names, marks=kind == "words"):
                if kind == "words":
                    words[name] = words.get(name, frozenset()) | set(phrases)
                elif kind == "stop" and name in stop:
                    stop[name].update(phrases)
                elif kind == "opposites":
                    if len(set(phrases)) < 2:
                        reason = f"opposites.{name} names no two words"
                        raise JobnotesError(label, reason, 'write it as ["one", "other"]')
                    for phrase in phrases:
                        others = frozenset(p for p in phrases if p != phrase)
                        opposite[phrase] = others | opposite.get(phrase, frozenset())
                elif kind == "conditions":
                    conditions.update((phrase, name) for phrase in phrases)
                elif kind == "stop":
                    cue.setdefault(f"stop.{name}", Phrases()).update((phrase, name) for phrase in phrases)
                else:
                    cue.setdefault(kind, Phrases()).update((phrase, name) for phrase in phrases)
                    cue.setdefault(f"{kind}.{name}", Phrases()).update(zip(phrases, phrases, strict=True))
    frozen = {name: frozenset(found) for name, found in stop.items()}
    return Cues(cue, words, conditions, opposite, frozen["words"], frozen["determiners"], frozen["pronouns"])


# --- ranges.toml and misheard.toml ---------------------------------------------------------------


_RANGE_KEYS = ("quantity", "unit", "min", "max", "subject", "source")
#: What may be asked of the words around a mishearing: Mishearing's own names.
_AROUND = ("digits_near", "after_number", "after_decimal", "before_part", "before_pieces")
_WORD_KEYS = ("heard", "read_as", "near", "before", *_AROUND)


def ranges_of(files: Files, units: Mapping[str, Unit]) -> tuple[Range, ...]:
    ranges: list[Range] = []
    for label, data in files:
        for row in rows(label, "range", data.get("range", []), _RANGE_KEYS):
            quantity = text(label, "a range", row, "quantity")
            where = f"range of {quantity}"
            unit = _known_unit(label, where, text(label, where, row, "unit"), units)
            low, high = number(label, where, row, "min"), number(label, where, row, "max")
            if low > high:
                raise JobnotesError(label, f"{where}: min {low:g} is above max {high:g}", "change them over")
            subject = tuple(strings(label, f"{where}: subject", row.get("subject", [])))
            source = text(label, where, row, "source")
            if units[unit].quantity != quantity:
                reason = f"{where}: the unit {unit!r} measures {units[unit].quantity}"
                raise JobnotesError(label, reason, "correct the unit or the quantity")
            ranges.append(Range(quantity, unit, low, high, subject, source))
    return tuple(ranges)


def misheard_of(files: Files) -> Phrases[Mishearing]:
    misheard: Phrases[Mishearing] = Phrases()
    for label, data in files:
        for row in rows(label, "word", data.get("word", []), _WORD_KEYS):
            read_as = tuple(text(label, "a word", row, "read_as").casefold().split())
            where = f"word {' '.join(read_as)!r}"
            near = frozenset(strings(label, f"{where}: near", row.get("near", [])))
            before = frozenset(strings(label, f"{where}: before", row.get("before", [])))
            around = {name: flag(label, where, row, name) for name in _AROUND}
            for heard in some_strings(label, where, row, "heard"):
                if tuple(heard.split()) != read_as:
                    one = Mishearing(tuple(spoken(heard)), read_as, near, **around, before=before)
                    misheard.add(heard, one)
    return misheard


# --- labels.toml ---------------------------------------------------------------------------------


def labels_of(files: Files) -> Labels:
    shipped = files[0][1]
    read_as: dict[str, str] = {}
    barcode: dict[str, str] = {}
    sets: dict[str, set[str]] = {"dropped": set(), "words": set(), "signs": set()}
    shapes: list[str] = []
    for label, data in files:
        for meaning, forms in lists(label, "read_as", data.get("read_as", {}), shipped["read_as"]):
            for form in forms:
                if not any(c.isalnum() for c in form):
                    reason = f"read_as.{meaning}: {form!r} has no letter or figure"
                    raise JobnotesError(label, reason, "write what is printed before the number")
                read_as[form] = meaning
        for meaning, heads in lists(label, "barcode", data.get("barcode", {}), shipped["barcode"]):
            barcode.update(dict.fromkeys(heads, meaning))
        for where in ("display", "other", "alike"):
            for name, listed in lists(label, where, data.get(where, {}), shipped[where], marks=True):
                if name == "shapes":
                    shapes += listed
                else:
                    sets[name].update(listed)
    return Labels(
        # the longest first: "part no" is no "part"
        tuple(sorted(read_as.items(), key=lambda form: (-len(form[0]), form[0]))),
        frozenset(sets["dropped"]),
        frozenset(sets["words"]),
        frozenset(sets["signs"]),
        _alike(shapes),
        barcode,
    )


def _alike(groups: Sequence[str]) -> dict[str, str]:
    """Each character of the groups, in capitals, with the first of all that it looks like."""
    stands_for: dict[str, str] = {}
    for group in groups:
        characters = list(dict.fromkeys(group.upper()))
        first = next((stands_for[c] for c in characters if c in stands_for), characters[0])
        merged = {stands_for.get(c, c) for c in characters}
        stands_for |= {c: first for c, f in stands_for.items() if f in merged}
        stands_for |= dict.fromkeys(characters, first)
    return stands_for

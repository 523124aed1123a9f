"""The tables of the trade files, checked and indexed: one function a file.

Each takes what was read, as (label, data) in order, the shipped file first; what a workshop has is added.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import pint

from jobnotes.errors import JobnotesError
from jobnotes.reading.knowledge import Action, Mishearing, PartAction, Range, Split, Unit
from jobnotes.reading.phrases import Phrases, spoken
from jobnotes.reading.trade_checks import rows, strings, table, text

Files = Sequence[tuple[str, Mapping[str, Any]]]


# --- units.toml ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Units:
    units: Mapping[str, Unit]
    forms: Phrases[tuple[Unit, str]]
    alike: Mapping[str, tuple[str, frozenset[str]]]
    unnamed: Phrases[Unit]
    quantity_words: Mapping[str, str]


def units_of(files: Files, ureg: pint.UnitRegistry) -> Units:
    units: dict[str, Unit] = {}
    forms: Phrases[tuple[Unit, str]] = Phrases()
    alike: dict[str, tuple[str, frozenset[str]]] = {}
    unnamed: Phrases[Unit] = Phrases()
    quantity_words: dict[str, str] = {}
    for label, data in files:
        for row in rows(label, "unit", data.get("unit", [])):
            unit = _unit(label, row, ureg)
            units[unit.ucum] = unit
            for form in sorted(unit.forms | unit.singular):
                forms.add(form, (unit, form))
        for row in rows(label, "alike", data.get("alike", [])):
            near = frozenset(strings(label, "alike", row.get("near", [])))
            for form in strings(label, "alike", row.get("form", [])):
                alike[form] = (_known_unit(label, text(label, "alike", row, "ucum"), units), near)
        for ucum, words in table(label, "unnamed", data.get("unnamed", {})).items():
            for word in strings(label, f"unnamed.{ucum}", words):
                unnamed.add(word, units[_known_unit(label, ucum, units)])
        for quantity, words in table(label, "quantity_words", data.get("quantity_words", {})).items():
            quantity_words.update(dict.fromkeys(strings(label, quantity, words), quantity))
    return Units(units, forms, alike, unnamed, quantity_words)


def _unit(label: str, row: Mapping[str, Any], ureg: pint.UnitRegistry) -> Unit:
    ucum = text(label, "a unit", row, "ucum")
    unit = Unit(
        ucum,
        text(label, ucum, row, "pint"),
        text(label, ucum, row, "quantity"),
        *(
            frozenset(strings(label, ucum, row.get(key, [])))
            for key in ("forms", "singular", "misheard", "assumed")
        ),
    )
    try:
        ureg.parse_units(unit.pint)
    except Exception:  # pint raises errors of many kinds, those of Python's own parser among them
        raise JobnotesError(
            label, f"{ucum}: pint knows no unit {unit.pint!r}", "use a name that pint knows"
        ) from None
    return unit


def _known_unit(label: str, ucum: str, units: Mapping[str, Unit]) -> str:
    if ucum not in units:
        raise JobnotesError(label, f"unknown unit {ucum!r}", "use a code of units.toml")
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
            if not key.isdigit() or not 0 <= int(key) <= 31:
                raise JobnotesError(label, f"FMI {key} is out of bounds", "an FMI is 0 to 31")
            fmi[int(key)] = str(meaning)
        dtc_system.update({k.upper(): str(v) for k, v in data.get("dtc_system", {}).items()})
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
            for letter, words in table(label, name, data.get(name, {})).items():
                for word in strings(label, f"{name}.{letter}", words):
                    phrases.add(word, letter)
        for name, target in (("digits", digits), ("digits_homophones", homophones)):
            for digit, words in table(label, name, data.get(name, {})).items():
                target.update(dict.fromkeys(strings(label, f"{name}.{digit}", words), digit))
    return out


# --- lexicon.toml --------------------------------------------------------------------------------

_TENSES = (("verbs", "past"), ("doing", "doing"), ("base", "base"))
_PART_ACTIONS: tuple[PartAction, ...] = ("fitted", "reused", "ordered", "consumed")
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
    components: Phrases[tuple[str, str]] = Phrases()
    kind_of: dict[str, str] = {}
    kinds: dict[str, frozenset[str]] = {}
    general: set[str] = set()
    failures: Phrases[str] = Phrases()
    sound: Phrases[str] = Phrases()
    for label, data in files:
        for kind, names in table(label, "components", data.get("components", {})).items():
            for name in strings(label, f"components.{kind}", names):
                head = name.replace("-", " ").split()
                for form in {name, " ".join([*head[:-1], plural(head[-1])])}:
                    components.add(form, (kind, name))
                    kind_of.setdefault(form, kind)
        for what, names in table(label, "kinds", data.get("kinds", {})).items():
            kinds[what] = kinds.get(what, frozenset()) | set(strings(label, f"kinds.{what}", names))
        general.update(strings(label, "general", data.get("general", {}).get("words", [])))
        for failure, words in table(label, "failures", data.get("failures", {})).items():
            for word in strings(label, f"failures.{failure}", words):
                failures.add(word, failure)
        for word in strings(label, "sound", data.get("sound", {}).get("words", [])):
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
    for label, data in files:
        for row in rows(label, "action", data.get("action", [])):
            name = text(label, "an action", row, "name")
            undone_by = frozenset(strings(label, name, row.get("undone_by", [])))
            actions[name] = Action(name, row.get("opens"), undone_by)
            for tense in ("past", "doing", "base"):
                for form in strings(label, f"{name}.{tense}", row.get(tense, [])):
                    action_forms.add(form, (name, tense))
            for split in rows(label, f"{name}.split", row.get("split", [])):
                _add_split(label, name, split, splits)
        part = table(label, "part_actions", data.get("part_actions", {}))
        base = set(strings(label, "part_actions.base", part.get("base", [])))
        replaces.update(strings(label, "part_actions.replaces", part.get("replaces", [])))
        for action in _PART_ACTIONS:
            for form in strings(label, f"part_actions.{action}", part.get(action, [])):
                doing = form.split()[0].endswith("ing")
                part_forms.add(form, (action, "doing" if doing else "past", form))
        for form in sorted(base):
            part_forms.add(form, (_BASE.get(form, "fitted"), "base", form))
        for split in rows(label, "part_split", data.get("part_split", [])):
            _add_split(label, text(label, "a part_split", split, "action"), split, part_splits)
    for name, action_ in actions.items():
        unknown = sorted(action_.undone_by - set(actions))
        if unknown:
            raise JobnotesError("lexicon.toml", f"{name} is undone by unknown {unknown[0]}", "name an action")
    return Verbs(
        actions,
        action_forms,
        {verb: tuple(found) for verb, found in splits.items()},
        part_forms,
        {verb: tuple(found) for verb, found in part_splits.items()},
        frozenset(replaces),
    )


def _add_split(label: str, action: str, row: Mapping[str, Any], splits: dict[str, list[Split]]) -> None:
    particles = frozenset(tuple(p.split()) for p in strings(label, action, row.get("particles", [])))
    for key, tense in _TENSES:
        for verb in strings(label, action, row.get(key, [])):
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
            for name, listed in table(label, kind, entries).items():
                phrases = strings(label, f"{kind}.{name}", listed)
                if kind == "words":
                    words[name] = words.get(name, frozenset()) | set(phrases)
                elif kind == "stop" and name in stop:
                    stop[name].update(phrases)
                elif kind == "opposites":
                    for phrase in phrases:
                        others = frozenset(p for p in phrases if p != phrase)
                        opposite[phrase] = others | opposite.get(phrase, frozenset())
                else:
                    for phrase in phrases:
                        if kind == "conditions":
                            conditions.add(phrase, name)
                        elif kind == "stop":
                            cue.setdefault(f"stop.{name}", Phrases()).add(phrase, name)
                        else:
                            cue.setdefault(kind, Phrases()).add(phrase, name)
                            cue.setdefault(f"{kind}.{name}", Phrases()).add(phrase, phrase)
    frozen = {name: frozenset(found) for name, found in stop.items()}
    return Cues(cue, words, conditions, opposite, frozen["words"], frozen["determiners"], frozen["pronouns"])


# --- ranges.toml and misheard.toml ---------------------------------------------------------------


def ranges_of(files: Files, units: Mapping[str, Unit]) -> tuple[Range, ...]:
    ranges: list[Range] = []
    for label, data in files:
        for row in rows(label, "range", data.get("range", [])):
            quantity = text(label, "a range", row, "quantity")
            if row.get("unit") not in units:
                raise JobnotesError(
                    label, f"{quantity}: unknown unit {row.get('unit')!r}", "use a code of units.toml"
                )
            subject = tuple(strings(label, quantity, row.get("subject", [])))
            low, high = float(row["min"]), float(row["max"])
            source = text(label, quantity, row, "source")
            ranges.append(Range(quantity, row["unit"], low, high, subject, source))
    return tuple(ranges)


def misheard_of(files: Files) -> Phrases[Mishearing]:
    misheard: Phrases[Mishearing] = Phrases()
    for label, data in files:
        for row in rows(label, "word", data.get("word", [])):
            read_as = tuple(text(label, "a word", row, "read_as").casefold().split())
            near = frozenset(strings(label, " ".join(read_as), row.get("near", [])))
            for heard in strings(label, " ".join(read_as), row.get("heard", [])):
                if tuple(heard.split()) != read_as:
                    found = Mishearing(tuple(spoken(heard)), read_as, near, bool(row.get("digits_near")))
                    misheard.add(heard, found)
    return misheard

"""Trade knowledge: the TOML files of `jobnotes/data` and the workshop's own, checked and made ready to match.

A workshop's folder may hold files of the same names; their entries are added to the shipped ones. An error
names the file, where it is, and what to do.
"""

from __future__ import annotations

import hashlib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

import pint

from jobnotes.errors import JobnotesError
from jobnotes.reading.tokens import without_is

FILES = ("units", "fault_texts", "spelling", "lexicon", "cues", "ranges", "misheard")


@dataclass(frozen=True, slots=True)
class Unit:
    ucum: str
    pint: str
    quantity: str
    forms: frozenset[str]
    singular: frozenset[str]
    misheard: frozenset[str]
    assumed: frozenset[str]


@dataclass(frozen=True, slots=True)
class Action:
    """A verb of the trade: its canonical name, what it opens and which actions close it again."""

    name: str
    opens: str | None
    undone_by: frozenset[str]


@dataclass(frozen=True, slots=True)
class Split:
    """A verb that takes its object before its particle: "took the hose off"."""

    action: str
    particles: frozenset[tuple[str, ...]]
    tense: str


@dataclass(frozen=True, slots=True)
class Range:
    """What is plausible for a quantity, to raise a doubt, never to judge. In `unit`, with its `source`."""

    quantity: str
    unit: str
    min: float
    max: float
    subject: tuple[str, ...]
    source: str


@dataclass(frozen=True, slots=True)
class Mishearing:
    """What is heard, what it is read as, and the words of which one must stand near."""

    heard: tuple[str, ...]
    read_as: tuple[str, ...]
    near: frozenset[str]
    digits_near: bool


def spoken(phrase: str) -> list[str]:
    """The words of a listed phrase, as the tokens of speech are cut."""
    out: list[str] = []
    for word in phrase.replace("-", " ").split():
        owner, contracted = without_is(word)
        out += [owner, "is"] if contracted else [word]
    return out


class Phrases:
    """Finds the longest listed phrase at a position: a trie over words, one step a word."""

    __slots__ = ("_root",)

    def __init__(self, entries: Iterable[tuple[str, Any]] = ()) -> None:
        self._root: dict[str, Any] = {}
        for phrase, meaning in entries:
            self.add(phrase, meaning)

    def add(self, phrase: str, meaning: Any) -> None:
        node = self._root
        for word in spoken(phrase):
            node = node.setdefault(word, {})
        node.setdefault("", []).append(meaning)

    @property
    def first_words(self) -> frozenset[str]:
        return frozenset(self._root)

    def at(self, norms: list[str], position: int) -> tuple[int, list[Any]]:
        """(end, meanings) of the longest phrase that starts at `position`; (position, []) if there is none."""
        last = len(norms)
        if not 0 <= position < last or norms[position] not in self._root:
            return position, []
        node = self._root
        best: tuple[int, list[Any]] = (position, [])
        index = position
        while index < last:
            child = node.get(norms[index])
            if child is None:
                break
            node = child
            index += 1
            if "" in node:
                best = (index, node[""])
        return best

    def all_at(self, norms: list[str], position: int) -> list[tuple[int, Any]]:
        """Every listed phrase that starts at `position`, shortest first, as (end, meaning)."""
        last = len(norms)
        if not 0 <= position < last or norms[position] not in self._root:
            return []
        node = self._root
        found: list[tuple[int, Any]] = []
        index = position
        while index < last:
            child = node.get(norms[index])
            if child is None:
                break
            node = child
            index += 1
            found += [(index, meaning) for meaning in node.get("", ())]
        return found


@dataclass(frozen=True)
class Trade:
    """Everything the reading stage knows about the trade, and the digest of the files it came from."""

    units: Mapping[str, Unit]
    unit_forms: Phrases
    quantity_words: Mapping[str, str]
    alike: Mapping[str, tuple[str, frozenset[str]]]
    unnamed: Phrases
    fmi: Mapping[int, str]
    dtc_system: Mapping[str, str]
    letters: Phrases
    letters_misheard: Phrases
    digits: Mapping[str, str]
    homophones: Mapping[str, str]
    actions: Mapping[str, Action]
    action_forms: Phrases
    splits: Mapping[str, tuple[Split, ...]]
    part_forms: Phrases
    part_splits: Mapping[str, tuple[Split, ...]]
    replaces: frozenset[str]
    components: Phrases
    kind_of: Mapping[str, str]
    kinds: Mapping[str, frozenset[str]]
    general: frozenset[str]
    failures: Phrases
    sound: Phrases
    cue: Mapping[str, Phrases]
    words: Mapping[str, frozenset[str]]
    stop: frozenset[str]
    determiners: frozenset[str]
    pronouns: frozenset[str]
    conditions: Phrases
    ranges: tuple[Range, ...]
    misheard: Phrases
    opposite: Mapping[str, frozenset[str]]
    sha256: str
    ureg: pint.UnitRegistry[Any] = field(repr=False)


def _load(name: str, folder: Path | None) -> tuple[list[tuple[str, dict[str, Any]]], bytes]:
    """The shipped file of that name, then the workshop's, with their bytes."""
    texts = [(f"{name}.toml", (resources.files("jobnotes") / "data" / f"{name}.toml").read_bytes())]
    if folder is not None and (folder / f"{name}.toml").is_file():
        texts.append((str(folder / f"{name}.toml"), (folder / f"{name}.toml").read_bytes()))
    parsed = []
    for label, raw in texts:
        try:
            data = tomllib.loads(raw.decode("utf-8"))
        except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
            raise JobnotesError(
                label, f"can't be read: {error}", "correct it as docs/trade-data.md shows"
            ) from None
        wanted = f"jobnotes-{name.replace('_', '-')}"
        if data.get("format") != wanted or data.get("version") != 1:
            raise JobnotesError(
                label, "has no format line", f'begin it with format = "{wanted}" and version = 1'
            )
        parsed.append((label, data))
    return parsed, b"".join(raw for _, raw in texts)


def _strings(label: str, where: str, value: Any) -> list[str]:
    if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
        raise JobnotesError(label, f"{where} is not a list of phrases", 'write it as ["one", "two"]')
    return [v.casefold() for v in value]


def _table(label: str, where: str, value: Any) -> dict[str, Any]:
    if not isinstance(value, dict):
        raise JobnotesError(label, f"{where} is not a table", "write it as [name] with its keys below")
    return value


def _rows(label: str, where: str, value: Any) -> list[dict[str, Any]]:
    if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
        raise JobnotesError(label, f"{where} is not a list of entries", f"write each as [[{where}]]")
    return value


def _text(label: str, where: str, row: Mapping[str, Any], key: str) -> str:
    value = row.get(key)
    if not isinstance(value, str) or not value:
        raise JobnotesError(label, f"{where} lacks {key}", f'add {key} = "..."')
    return value


def plural(word: str) -> str:
    """The regular plural of a noun: "hose" → "hoses", "bush" → "bushes", "battery" → "batteries"."""
    if word.endswith(("s", "x", "ch", "sh", "z")):
        return word + "es"
    if word.endswith("y") and word[-2:-1] not in tuple("aeiou"):
        return word[:-1] + "ies"
    return word + "s"


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Any]:
    ureg: pint.UnitRegistry[Any] = pint.UnitRegistry(non_int_type=float)
    return ureg


@lru_cache(maxsize=4)
def load(folder: Path | None = None) -> Trade:
    """Read, check and index the trade's files; `folder` holds a workshop's additions.

    Raises JobnotesError that names the file and the entry.
    """
    digest = hashlib.sha256()
    files: dict[str, list[tuple[str, dict[str, Any]]]] = {}
    for name in FILES:
        files[name], raw = _load(name, folder)
        digest.update(raw)
    ureg = _registry()

    units: dict[str, Unit] = {}
    unit_forms = Phrases()
    quantity_words: dict[str, str] = {}
    alike: dict[str, tuple[str, frozenset[str]]] = {}
    unnamed = Phrases()
    for label, data in files["units"]:
        for row in _rows(label, "unit", data.get("unit", [])):
            ucum = _text(label, "a unit", row, "ucum")
            unit = Unit(
                ucum,
                _text(label, ucum, row, "pint"),
                _text(label, ucum, row, "quantity"),
                *(
                    frozenset(_strings(label, ucum, row.get(k, [])))
                    for k in ("forms", "singular", "misheard", "assumed")
                ),
            )
            try:
                ureg.parse_units(unit.pint)
            except Exception:
                raise JobnotesError(
                    label, f"{ucum}: pint knows no unit {unit.pint!r}", "use a name that pint knows"
                ) from None
            units[ucum] = unit
            for form in unit.forms | unit.singular:
                unit_forms.add(form, (unit, form))
        for row in _rows(label, "alike", data.get("alike", [])):
            near = frozenset(_strings(label, "alike", row.get("near", [])))
            for form in _strings(label, "alike", row.get("form", [])):
                alike[form] = (_known_unit(label, _text(label, "alike", row, "ucum"), units), near)
        for ucum, words in _table(label, "unnamed", data.get("unnamed", {})).items():
            for word in _strings(label, f"unnamed.{ucum}", words):
                unnamed.add(word, units[_known_unit(label, ucum, units)])
        for quantity, words in _table(label, "quantity_words", data.get("quantity_words", {})).items():
            quantity_words.update(dict.fromkeys(_strings(label, quantity, words), quantity))

    fmi: dict[int, str] = {}
    dtc_system: dict[str, str] = {}
    for label, data in files["fault_texts"]:
        for key, text in _table(label, "fmi", data.get("fmi", {})).items():
            if not key.isdigit() or not 0 <= int(key) <= 31:
                raise JobnotesError(label, f"FMI {key} is out of bounds", "an FMI is 0 to 31")
            fmi[int(key)] = str(text)
        dtc_system.update({k.upper(): str(v) for k, v in data.get("dtc_system", {}).items()})

    letters, letters_misheard = Phrases(), Phrases()
    digits: dict[str, str] = {}
    homophones: dict[str, str] = {}
    for label, data in files["spelling"]:
        for table, phrases in (("letters", letters), ("letters_misheard", letters_misheard)):
            for letter, words in _table(label, table, data.get(table, {})).items():
                for word in _strings(label, f"{table}.{letter}", words):
                    phrases.add(word, letter)
        for table, target in (("digits", digits), ("digits_homophones", homophones)):
            for digit, words in _table(label, table, data.get(table, {})).items():
                target.update(dict.fromkeys(_strings(label, f"{table}.{digit}", words), digit))

    actions: dict[str, Action] = {}
    action_forms = Phrases()
    splits: dict[str, list[Split]] = {}
    part_forms = Phrases()
    part_splits: dict[str, list[Split]] = {}
    replaces: set[str] = set()
    components = Phrases()
    kind_of: dict[str, str] = {}
    kinds: dict[str, frozenset[str]] = {}
    general: set[str] = set()
    failures, sound = Phrases(), Phrases()
    for label, data in files["lexicon"]:
        for kind, names in _table(label, "components", data.get("components", {})).items():
            for name in _strings(label, f"components.{kind}", names):
                head = name.replace("-", " ").split()
                for form in {name, " ".join([*head[:-1], plural(head[-1])])}:
                    components.add(form, (kind, name))
                    kind_of.setdefault(form, kind)
        for what, names in _table(label, "kinds", data.get("kinds", {})).items():
            kinds[what] = kinds.get(what, frozenset()) | set(_strings(label, f"kinds.{what}", names))
        general.update(_strings(label, "general", data.get("general", {}).get("words", [])))
        for failure, words in _table(label, "failures", data.get("failures", {})).items():
            for word in _strings(label, f"failures.{failure}", words):
                failures.add(word, failure)
        for word in _strings(label, "sound", data.get("sound", {}).get("words", [])):
            sound.add(word, "sound")
        for row in _rows(label, "action", data.get("action", [])):
            name = _text(label, "an action", row, "name")
            actions[name] = Action(
                name, row.get("opens"), frozenset(_strings(label, name, row.get("undone_by", [])))
            )
            for tense in ("past", "doing", "base"):
                for form in _strings(label, f"{name}.{tense}", row.get(tense, [])):
                    action_forms.add(form, (name, tense))
            for split in _rows(label, f"{name}.split", row.get("split", [])):
                _add_split(label, name, split, splits)
        part = _table(label, "part_actions", data.get("part_actions", {}))
        base = set(_strings(label, "part_actions.base", part.get("base", [])))
        replaces.update(_strings(label, "part_actions.replaces", part.get("replaces", [])))
        for action in ("fitted", "reused", "ordered", "consumed"):
            for form in _strings(label, f"part_actions.{action}", part.get(action, [])):
                doing = form.split()[0].endswith("ing")
                part_forms.add(form, (action, "doing" if doing else "past", form))
        for form in base:
            action = {"order": "ordered", "reuse": "reused", "move": "reused", "use": "consumed"}.get(
                form, "fitted"
            )
            part_forms.add(form, (action, "base", form))
        for split in _rows(label, "part_split", data.get("part_split", [])):
            _add_split(label, _text(label, "a part_split", split, "action"), split, part_splits)
    for action in actions.values():
        unknown = action.undone_by - set(actions)
        if unknown:
            raise JobnotesError(
                "lexicon.toml", f"{action.name} is undone by unknown {sorted(unknown)[0]}", "name an action"
            )

    cue: dict[str, Phrases] = {}
    stop: set[str] = set()
    determiners: set[str] = set()
    pronouns: set[str] = set()
    conditions = Phrases()
    word_lists: dict[str, frozenset[str]] = {}
    opposite: dict[str, frozenset[str]] = {}
    for label, data in files["cues"]:
        for table, entries in data.items():
            if table in ("format", "version"):
                continue
            for name, words in _table(label, table, entries).items():
                phrases = _strings(label, f"{table}.{name}", words)
                if table == "words":
                    word_lists[name] = word_lists.get(name, frozenset()) | set(phrases)
                elif table == "conditions":
                    for phrase in phrases:
                        conditions.add(phrase, name)
                elif table == "opposites":
                    for phrase in phrases:
                        opposite[phrase] = frozenset(p for p in phrases if p != phrase) | opposite.get(
                            phrase, frozenset()
                        )
                elif table == "stop":
                    if name in ("words", "determiners", "pronouns"):
                        target_set = {"words": stop, "determiners": determiners, "pronouns": pronouns}[name]
                        target_set.update(phrases)
                    else:
                        for phrase in phrases:
                            cue.setdefault(f"stop.{name}", Phrases()).add(phrase, name)
                else:
                    for phrase in phrases:
                        cue.setdefault(table, Phrases()).add(phrase, name)
                        cue.setdefault(f"{table}.{name}", Phrases()).add(phrase, phrase)

    ranges: list[Range] = []
    for label, data in files["ranges"]:
        for row in _rows(label, "range", data.get("range", [])):
            quantity = _text(label, "a range", row, "quantity")
            if row.get("unit") not in units:
                raise JobnotesError(
                    label, f"{quantity}: unknown unit {row.get('unit')!r}", "use a code of units.toml"
                )
            subject = tuple(_strings(label, quantity, row.get("subject", [])))
            ranges.append(
                Range(
                    quantity,
                    row["unit"],
                    float(row["min"]),
                    float(row["max"]),
                    subject,
                    _text(label, quantity, row, "source"),
                )
            )

    misheard = Phrases()
    for label, data in files["misheard"]:
        for row in _rows(label, "word", data.get("word", [])):
            read_as = tuple(_text(label, "a word", row, "read_as").casefold().split())
            near = frozenset(_strings(label, " ".join(read_as), row.get("near", [])))
            for heard in _strings(label, " ".join(read_as), row.get("heard", [])):
                if tuple(heard.split()) != read_as:
                    misheard.add(
                        heard, Mishearing(tuple(spoken(heard)), read_as, near, bool(row.get("digits_near")))
                    )

    return Trade(
        units=units,
        unit_forms=unit_forms,
        quantity_words=quantity_words,
        alike=alike,
        unnamed=unnamed,
        fmi=fmi,
        dtc_system=dtc_system,
        letters=letters,
        letters_misheard=letters_misheard,
        digits=digits,
        homophones=homophones,
        actions=actions,
        action_forms=action_forms,
        splits={k: tuple(v) for k, v in splits.items()},
        part_forms=part_forms,
        part_splits={k: tuple(v) for k, v in part_splits.items()},
        replaces=frozenset(replaces),
        components=components,
        kind_of=kind_of,
        kinds=kinds,
        general=frozenset(general),
        failures=failures,
        sound=sound,
        cue=cue,
        words=word_lists,
        stop=frozenset(stop),
        determiners=frozenset(determiners),
        pronouns=frozenset(pronouns),
        conditions=conditions,
        ranges=tuple(ranges),
        misheard=misheard,
        opposite=opposite,
        sha256=digest.hexdigest(),
        ureg=ureg,
    )


def _known_unit(label: str, ucum: str, units: Mapping[str, Unit]) -> str:
    if ucum not in units:
        raise JobnotesError(label, f"unknown unit {ucum!r}", "use a code of units.toml")
    return ucum


def _add_split(label: str, action: str, row: Mapping[str, Any], splits: dict[str, list[Split]]) -> None:
    particles = frozenset(tuple(p.split()) for p in _strings(label, action, row.get("particles", [])))
    for key, tense in (("verbs", "past"), ("doing", "doing"), ("base", "base")):
        for verb in _strings(label, action, row.get(key, [])):
            splits.setdefault(verb, []).append(Split(action, particles, tense))


def convert(trade: Trade, value: float, unit: str, to: str) -> float | None:
    """`value` from one UCUM unit of units.toml to another, by pint; None when they measure different things."""
    if unit == to:
        return value
    a, b = trade.units.get(unit), trade.units.get(to)
    if a is None or b is None:
        return None
    try:
        return float(trade.ureg.Quantity(value, a.pint).to(b.pint).magnitude)
    except pint.errors.PintError:
        return None

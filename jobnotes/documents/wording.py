"""What the documents say around the record: `jobnotes/data/documents.toml`, a file beside it for each further
language, and a workshop's own documents.toml over them."""

from __future__ import annotations

import copy
import re
import string
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from babel import Locale, UnknownLocaleError

from jobnotes.documents.plaintext import SPEECH, marked
from jobnotes.errors import JobnotesError

_FORMAT = "jobnotes-documents"
_VERSION = 1
# the language that a text is in where the language that is asked for has none of its own
_FALLBACK = "en"
_FURTHER = re.compile(r"documents\.[a-z]{2,3}(-[A-Za-z0-9]{2,8})*\.toml")
_LANGUAGE = re.compile(r"[a-z]{2,3}(-[A-Za-z0-9]{2,8})*")
# tables to which a workshop may add keys: the others hold exactly what the code asks for
_OPEN = (
    "units",
    "state",
    "system",
    "part_action",
    "condition",
    "quantity",
    "step_action",
    "measured",
    "failure_mode",
    "clock",
    "basis",
    "open_state",
    "tax_category",
    "quantity_words",
)


@dataclass(frozen=True, slots=True)
class Term:
    """A word of the trade in plain words; `forms` are other ways to write it."""

    word: str
    means: str
    forms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Wording:
    """All the fixed text of the documents, in one language.

    `texts` are by dotted key ("claim.title"); `tag` is the language by BCP 47; `locale` says how numbers
    are written, which may be another's; `units` shows a UCUM code; `quantity_words` are other names of a
    quantity in what was measured, and `joins` the words that lead to a place by themselves;
    `picture_budget` is in bytes, by document.
    """

    tag: str
    locale: Locale
    texts: Mapping[str, str]
    cautions: Mapping[str, tuple[str, ...]]
    terms: tuple[Term, ...]
    units: Mapping[str, str]
    quantity_words: Mapping[str, tuple[str, ...]]
    joins: tuple[str, ...]
    picture_budget: Mapping[str, int]

    def say(self, key: str, **values: object) -> str:
        """The text of `key` with its {names} filled in; KeyError where there is no such text."""
        return self.texts[key].format(**values)

    def count(self, key: str, n: int) -> str:
        """The text of `key` for `n` things: its "one" or its "many" form."""
        return self.say(f"{key}.one" if n == 1 else f"{key}.many", n=n)

    def name(self, table: str, value: str) -> str:
        """The word for a value of the record; the value itself where the data has none for it."""
        named = self.texts.get(f"{table}.{value}")
        return self.spoken(value) if named is None else named

    def spoken(self, text: str) -> str:
        """What was said, or what checking wrote of it, marked where this document is in another language."""
        return text if self.speaks_as_heard else marked(text)

    @property
    def speaks_as_heard(self) -> bool:
        """True where the words are in the language that is spoken in the notes."""
        return self.tag.split("-")[0] == SPEECH.split("-")[0]


def load(language: str = "en", folder: Path | None = None) -> Wording:
    """The wording that ships, with the documents.toml of a workshop's own `folder`, if any, laid over it, and
    then its documents.<tag>.toml.

    `language` is a tag by BCP 47 ("en", "de-AT"). Numbers and dates are written by it; the words are those
    of the nearest language that there are words in, else English. A language's own words are a table of that
    name in the workshop's file, with what differs from the ones that ship. Raises JobnotesError naming the
    file, what is wrong in it and what to do.
    """
    own = _own_files(folder) if folder is not None else ()
    return _build(language, own) if own else _shipped(language)


@lru_cache(maxsize=8)
def _shipped(language: str) -> Wording:
    return _build(language, ())


def _own_files(folder: Path) -> tuple[Path, ...]:
    further = sorted(path for path in folder.glob("documents.*.toml") if _FURTHER.fullmatch(path.name))
    return tuple(path for path in (folder / "documents.toml", *further) if path.is_file())


def _build(language: str, own: Sequence[Path]) -> Wording:
    shipped = copy.deepcopy(_shipped_tables())  # a workshop's own go into it
    locale = _locale(language)
    signs: dict[str, str] = {}
    for path in own:
        overlay = _read(path)
        for added in sorted(overlay.keys() - shipped.keys()):
            if _LANGUAGE.fullmatch(added) and isinstance(overlay[added], dict):
                shipped[added] = {**copy.deepcopy(shipped[_nearest(added, shipped)]), "tag": added}
        _lay_over(shipped, overlay, path, ())
        signs |= overlay.get("units", {})
    texts: dict[str, str] = {}
    name = _nearest(language, shipped)
    spoken = shipped[name]
    _flatten(spoken, (), texts)
    if language == name:
        locale = _locale(spoken["tag"])
    same = locale.language == _locale(spoken["tag"]).language
    return Wording(
        # English words in a German workshop are still English ones to a screen reader
        tag=str(locale).replace("_", "-") if same else spoken["tag"],
        locale=locale,
        texts=texts,
        cautions={name: tuple(lines) for name, lines in spoken["cautions"].items()},
        terms=tuple(
            Term(t["word"], t["means"], tuple(t.get("forms", ()))) for t in spoken["terms"] if t["means"]
        ),
        # a sign that the workshop gives for all languages goes before a language's own
        units={**shipped["units"], **spoken["units"], **signs},
        quantity_words={name: tuple(words) for name, words in spoken["quantity_words"].items()},
        joins=tuple(spoken["reading"]["joins"]),
        picture_budget=shipped["picture_budget"],
    )


@lru_cache(maxsize=1)
def _shipped_tables() -> dict[str, Any]:
    """documents.toml, which has English and what is the same in every language, and documents.<tag>.toml."""
    data = resources.files("jobnotes") / "data"
    tables = tomllib.loads((data / "documents.toml").read_text("utf-8"))
    for file in data.iterdir():
        if _FURTHER.fullmatch(file.name):
            tables |= tomllib.loads(file.read_text("utf-8"))
    return tables


def _nearest(language: str, shipped: Mapping[str, Any]) -> str:
    """The longest beginning of a tag that there is a table of words for (BCP 47, RFC 4647 lookup)."""
    subtags = language.replace("_", "-").split("-")
    for length in range(len(subtags), 0, -1):
        if isinstance(shipped.get(name := "-".join(subtags[:length])), dict):
            return name
    return _FALLBACK


def _locale(tag: str) -> Locale:
    try:
        return Locale.parse(tag.replace("_", "-"), sep="-")
    except (UnknownLocaleError, ValueError, TypeError) as error:
        raise JobnotesError(
            f"locale {tag}",
            "is none that numbers and dates can be written by",
            "give one such as en-GB or de",
        ) from error


def _read(path: Path) -> dict[str, Any]:
    try:
        raw = tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise JobnotesError(
            str(path), error.strerror or "can't be read", "check the name and its rights"
        ) from error
    except (ValueError, RecursionError) as error:
        raise JobnotesError(str(path), f"not TOML: {error}", "correct that line") from error
    if raw.pop("format", None) != _FORMAT or raw.pop("version", None) != _VERSION:
        raise JobnotesError(
            str(path),
            "not a file of document wording",
            f'begin it with format = "{_FORMAT}" and version = {_VERSION}',
        )
    return raw


def _lay_over(base: dict[str, Any], own: dict[str, Any], path: Path, where: tuple[str, ...]) -> None:
    for key, value in own.items():
        here = (*where, key)
        dotted = ".".join(here)
        if key not in base:
            if where and where[-1] in _OPEN and isinstance(value, str | list):
                base[key] = value
                continue
            raise JobnotesError(
                _place(path, here), f"{dotted} is not a key of it", "see documents.toml for the keys"
            )
        shipped = base[key]
        if type(shipped) is not type(value):
            wanted = {dict: "a table", str: "text", list: "a list", int: "a whole number"}[type(shipped)]
            raise JobnotesError(
                _place(path, here), f"{dotted} is not {wanted}", "write it as documents.toml does"
            )
        if isinstance(shipped, dict):
            _lay_over(shipped, value, path, here)
        elif key == "terms":
            _check_terms(value, path)
            # an own explanation takes the place of the shipped one
            words = {t["word"].casefold() for t in value}
            base[key] = value + [t for t in shipped if t["word"].casefold() not in words]
        elif isinstance(shipped, list):
            if not all(isinstance(line, str) for line in value):
                raise JobnotesError(
                    _place(path, here), f"{dotted} holds something that is not text", "quote each"
                )
            base[key] = value
        else:
            if isinstance(shipped, str):
                _check_names(shipped, value, path, here)
            base[key] = value


def _check_terms(terms: list[Any], path: Path) -> None:
    for term in terms:
        ok = isinstance(term, dict) and {"word", "means"} <= term.keys() <= {"word", "means", "forms"}
        if not ok or not all(isinstance(term[key], str) for key in ("word", "means")):
            raise JobnotesError(
                str(path), "a term lacks its word or what it means", "give it word, means and, if any, forms"
            )


def _check_names(shipped: str, own: str, path: Path, where: tuple[str, ...]) -> None:
    dotted = ".".join(where)
    try:
        strange = _names(own) - _names(shipped)
    except ValueError as error:
        raise JobnotesError(
            _place(path, where), f"{dotted}: {error}", "write {{ and }} for plain braces"
        ) from error
    if strange:
        raise JobnotesError(
            _place(path, where),
            f"{dotted} asks for {{{sorted(strange)[0]}}}, which is not filled in",
            "use the names that documents.toml has there",
        )


_HEADING = re.compile(r"\s*\[+([^\]]+)\]+\s*(?:#.*)?")


def _place(path: Path, where: Sequence[str]) -> str:
    """The file, and the line in which that key or its table stands where it can be found."""
    lines = path.read_text("utf-8").splitlines()
    for depth in range(len(where), -1, -1):
        table, rest = list(where[:depth]), where[depth:]
        key = re.compile(
            r"\s*" + r"\s*\.\s*".join(f"[\"']?{re.escape(part)}[\"']?" for part in rest) + r"\s*="
        )
        inside = not table
        for number, line in enumerate(lines, 1):
            if heading := _HEADING.fullmatch(line):
                inside = [part.strip(" \"'") for part in heading[1].split(".")] == table
                if inside and not rest:
                    return f"{path}, line {number}"
            elif inside and rest and key.match(line):
                return f"{path}, line {number}"
    return str(path)


def _names(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def _flatten(table: Mapping[str, Any], where: tuple[str, ...], into: dict[str, str]) -> None:
    for key, value in table.items():
        if isinstance(value, dict):
            _flatten(value, (*where, key), into)
        elif isinstance(value, str):
            into[".".join((*where, key))] = value

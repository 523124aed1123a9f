"""What the documents say around the record: `jobnotes/data/documents.toml`, and a workshop's own over it."""

from __future__ import annotations

import string
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from jobnotes.errors import JobnotesError

_FORMAT = "jobnotes-documents"
_VERSION = 1
# tables to which a workshop may add keys: the others hold exactly what the code asks for
_OPEN = ("units", "state", "system", "part_action", "condition", "clock", "basis", "open_state")


@dataclass(frozen=True, slots=True)
class Term:
    """A word of the trade in plain words; `forms` are other ways to write it."""

    word: str
    means: str
    forms: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Wording:
    """All the fixed text of the documents, in one language.

    `texts` are by dotted key ("claim.title"); `tag` is the language by BCP 47; `units` shows a UCUM code;
    `picture_budget` is in bytes, by document.
    """

    tag: str
    texts: Mapping[str, str]
    cautions: Mapping[str, tuple[str, ...]]
    terms: tuple[Term, ...]
    units: Mapping[str, str]
    picture_budget: Mapping[str, int]

    def say(self, key: str, **values: object) -> str:
        """The text of `key` with its {names} filled in; KeyError where there is no such text."""
        return self.texts[key].format(**values)

    def count(self, key: str, n: int) -> str:
        """The text of `key` for `n` things: its "one" or its "many" form."""
        return self.say(f"{key}.one" if n == 1 else f"{key}.many", n=n)

    def name(self, table: str, value: str) -> str:
        """The word for a value of the record; the value itself where the data has none for it."""
        return self.texts.get(f"{table}.{value}", value)


def load(language: str = "en", folder: Path | None = None) -> Wording:
    """The wording that ships, with the documents.toml of a workshop's own `folder`, if any, laid over it.

    Raises JobnotesError naming the file, what is wrong in it and what to do.
    """
    own = folder / "documents.toml" if folder is not None else None
    return _shipped(language) if own is None or not own.is_file() else _build(language, own)


@lru_cache(maxsize=8)
def _shipped(language: str) -> Wording:
    return _build(language, None)


def _build(language: str, own: Path | None) -> Wording:
    shipped = tomllib.loads((resources.files("jobnotes") / "data" / "documents.toml").read_text("utf-8"))
    if language not in shipped or not isinstance(shipped[language], dict):
        raise JobnotesError(
            f"language {language}", "the documents have no wording in it", "choose one of: en, or add it"
        )
    if own is not None:
        _lay_over(shipped, _read(own), own, ())
    texts: dict[str, str] = {}
    spoken = shipped[language]
    _flatten(spoken, (), texts)
    return Wording(
        tag=spoken["tag"],
        texts=texts,
        cautions={name: tuple(lines) for name, lines in spoken["cautions"].items()},
        terms=tuple(
            Term(t["word"], t["means"], tuple(t.get("forms", ()))) for t in spoken["terms"] if t["means"]
        ),
        units=shipped["units"],
        picture_budget=shipped["picture_budget"],
    )


def _read(path: Path) -> dict[str, Any]:
    try:
        raw = tomllib.loads(path.read_text("utf-8"))
    except OSError as error:
        raise JobnotesError(
            str(path), error.strerror or "can't be read", "check the name and its rights"
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
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
            raise JobnotesError(str(path), f"{dotted} is not a key of it", "see documents.toml for the keys")
        shipped = base[key]
        if type(shipped) is not type(value):
            wanted = {dict: "a table", str: "text", list: "a list", int: "a whole number"}[type(shipped)]
            raise JobnotesError(str(path), f"{dotted} is not {wanted}", "write it as documents.toml does")
        if isinstance(shipped, dict):
            _lay_over(shipped, value, path, here)
        elif key == "terms":
            _check_terms(value, path)
            # an own explanation takes the place of the shipped one
            words = {t["word"].casefold() for t in value}
            base[key] = value + [t for t in shipped if t["word"].casefold() not in words]
        elif isinstance(shipped, list):
            if not all(isinstance(line, str) for line in value):
                raise JobnotesError(str(path), f"{dotted} holds something that is not text", "quote each")
            base[key] = value
        else:
            if isinstance(shipped, str):
                _check_names(shipped, value, dotted, path)
            base[key] = value


def _check_terms(terms: list[Any], path: Path) -> None:
    for term in terms:
        ok = isinstance(term, dict) and {"word", "means"} <= term.keys() <= {"word", "means", "forms"}
        if not ok or not all(isinstance(term[key], str) for key in ("word", "means")):
            raise JobnotesError(
                str(path), "a term lacks its word or what it means", "give it word, means and, if any, forms"
            )


def _check_names(shipped: str, own: str, dotted: str, path: Path) -> None:
    try:
        strange = _names(own) - _names(shipped)
    except ValueError as error:
        raise JobnotesError(str(path), f"{dotted}: {error}", "write {{ and }} for plain braces") from error
    if strange:
        raise JobnotesError(
            str(path),
            f"{dotted} asks for {{{sorted(strange)[0]}}}, which is not filled in",
            "use the names that documents.toml has there",
        )


def _names(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


def _flatten(table: Mapping[str, Any], where: tuple[str, ...], into: dict[str, str]) -> None:
    for key, value in table.items():
        if isinstance(value, dict):
            _flatten(value, (*where, key), into)
        elif isinstance(value, str):
            into[".".join((*where, key))] = value

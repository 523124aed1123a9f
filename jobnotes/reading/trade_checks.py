"""Checks of the entries of trade files: what comes in is any TOML value, what goes out has the right type.

`label` is the file and `where` the entry, as the message of the JobnotesError names them.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from jobnotes.errors import JobnotesError


def strings(label: str, where: str, value: Any) -> list[str]:
    """A list of phrases, in lower case."""
    if not isinstance(value, list) or not all(isinstance(v, str) and v for v in value):
        raise JobnotesError(label, f"{where} is not a list of phrases", 'write it as ["one", "two"]')
    return [v.casefold() for v in value]


def table(label: str, where: str, value: Any) -> dict[str, Any]:
    """A table with its keys."""
    if not isinstance(value, dict):
        raise JobnotesError(label, f"{where} is not a table", "write it as [name] with its keys below")
    return value


def rows(label: str, where: str, value: Any) -> list[dict[str, Any]]:
    """A list of tables."""
    if not isinstance(value, list) or not all(isinstance(v, dict) for v in value):
        raise JobnotesError(label, f"{where} is not a list of entries", f"write each as [[{where}]]")
    return value


def text(label: str, where: str, row: Mapping[str, Any], key: str) -> str:
    """The text under `key`, which must be there."""
    value = row.get(key)
    if not isinstance(value, str) or not value:
        raise JobnotesError(label, f"{where} lacks {key}", f'add {key} = "..."')
    return value

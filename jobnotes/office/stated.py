"""The office's files, read and checked: TOML and CSV. Errors name the file, the line and the remedy."""

from __future__ import annotations

import csv
import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal, InvalidOperation
from pathlib import Path
from typing import Any

from jobnotes.errors import JobnotesError

_MOST_BYTES = 32 * 1024 * 1024


def text_of(path: Path, label: str) -> str:
    """The file as text. Raises JobnotesError where it can't be read, is too large or isn't UTF-8."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise JobnotesError(label, "is too large", "give the file that docs/prices.md describes")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise JobnotesError(label, "is not UTF-8 text", "save it as UTF-8") from None
    except OSError as error:
        raise JobnotesError(
            label, error.strerror or "can't be read", "check its name and your rights to it"
        ) from None


def decimal_of(text: str, *, comma: bool = False) -> Decimal | None:
    """The number that `text` writes, without exponent; with `comma`, a decimal comma will do. None: none."""
    plain = text.strip().replace("\N{NO-BREAK SPACE}", "").replace(" ", "")
    if comma and plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    if not re.fullmatch(r"[+-]?[0-9]{1,12}(\.[0-9]{1,8})?", plain):
        return None
    try:
        return Decimal(plain)
    except InvalidOperation:
        return None


# --- TOML ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a TOML file. Each getter takes its key out of what `done` may complain of."""

    label: str
    text: str
    values: Mapping[str, Any]
    where: tuple[str, ...] = ()

    def error(self, key: str, reason: str, remedy: str) -> JobnotesError:
        """An error about that key of this table, with the line on which it seems to stand."""
        name = ".".join((*self.where, key))
        return JobnotesError(f"{self.label}{self._line(key)}", f"{name} {reason}", remedy)

    def known(self, *keys: str) -> None:
        """Raises if there is a key other than these."""
        for key in self.values:
            if key not in keys:
                raise self.error(key, "is not known", f"take it out, or write one of {', '.join(keys)}")

    def words(self, key: str) -> str | None:
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip():
            raise self.error(key, "is not text", f'write {key} = "…"')
        if any(ord(c) < 32 and c not in "\n\t" for c in value):
            raise self.error(key, "holds a control character", "take it out")
        return value.strip()

    def one_of(self, key: str, allowed: Sequence[str]) -> str | None:
        value = self.words(key)
        if value is not None and value not in allowed:
            raise self.error(key, f"is {value!r}", f"write one of {', '.join(allowed)}")
        return value

    def amount(self, key: str, *, most: Decimal | None = None) -> Decimal | None:
        """A number that isn't negative, written in quotes or whole; at most `most`."""
        value = self.values.get(key)
        if value is None:
            return None
        whole = isinstance(value, int) and not isinstance(value, bool)
        number = Decimal(value) if whole else decimal_of(value) if isinstance(value, str) else None
        if number is None:
            raise self.error(key, "is not a number", f'write it in quotes, as in {key} = "12.50"')
        if number < 0 or (most is not None and number > most):
            bounds = f"from 0 to {most}" if most is not None else "that is not negative"
            raise self.error(key, f"is {number}", f"write a number {bounds}")
        return number

    def day(self, key: str) -> date | None:
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, datetime) or not isinstance(value, date):
            raise self.error(key, "is not a date", f"write it without quotes, as in {key} = 2026-02-12")
        return value

    def table(self, key: str) -> Table:
        """The table of that name; an empty one where there is none."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            raise self.error(
                key, "is not a table", f"write [{'.'.join((*self.where, key))}] on a line of its own"
            )
        return Table(self.label, self.text, value, (*self.where, key))

    def tables(self, key: str) -> tuple[Table, ...]:
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            raise self.error(
                key, "is not a list of tables", f"begin each with [[{'.'.join((*self.where, key))}]]"
            )
        return tuple(Table(self.label, self.text, row, (*self.where, key)) for row in value)

    def list(self, key: str) -> tuple[str, ...]:
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) and v.strip() for v in value):
            raise self.error(key, "is not a list of words", f'write {key} = ["one", "two"]')
        return tuple(v.strip() for v in value)

    def _line(self, key: str) -> str:
        begin = 0
        if self.where:
            name = r"\s*\.\s*".join(map(re.escape, self.where))
            heads = list(re.finditer(rf"^[ \t]*\[{{1,2}}\s*{name}\s*\]", self.text, re.MULTILINE))
            mine = [
                h for h in heads if re.search(rf"^[ \t]*{re.escape(key)}\b", self._below(h), re.MULTILINE)
            ]
            if mine:
                begin = mine[0].end()
            elif heads:
                return f", line {self.text.count(chr(10), 0, heads[0].start()) + 1}"
        found = re.search(rf"^[ \t]*\[{{0,2}}[ \t]*[\"']?{re.escape(key)}\b", self.text[begin:], re.MULTILINE)
        if found is None:
            return ""
        return f", line {self.text.count(chr(10), 0, begin + found.start()) + 1}"

    def _below(self, head: re.Match[str]) -> str:
        after = re.search(r"^[ \t]*\[", self.text[head.end() :], re.MULTILINE)
        return self.text[head.end() : head.end() + after.start()] if after else self.text[head.end() :]


def toml(path: Path, label: str, form: str, version: int) -> Table:
    """The whole of a TOML file that begins with `format` and `version`. Raises JobnotesError."""
    text = text_of(path, label)
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        # its message ends with "(at line 3, column 7)" or "(at end of document)"
        what, _, where = str(error).rpartition(" (at ")
        found = re.match(r"line (\d+)", where)
        line = int(found[1]) if found else len(text.splitlines())
        raise JobnotesError(f"{label}, line {line}", f"not TOML: {what}", "correct that line") from None
    except RecursionError:
        raise JobnotesError(label, "is nested too deeply", "write it as docs/prices.md shows") from None
    if values.pop("format", None) != form or values.pop("version", None) != version:
        raise JobnotesError(
            label,
            f"is not a file of the format {form}, version {version}",
            f'begin it with format = "{form}" and version = {version}',
        )
    return Table(label, text, values)


# --- CSV -----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Row:
    """One row under a heading row. `line` is where it begins; `comma` that a decimal comma may be meant."""

    label: str
    line: int
    values: Mapping[str, str]
    comma: bool

    def error(self, reason: str, remedy: str) -> JobnotesError:
        return JobnotesError(f"{self.label}, line {self.line}", reason, remedy)

    def text(self, column: str) -> str | None:
        return self.values.get(column, "").strip() or None

    def number(self, column: str, *, most: Decimal | None = None) -> Decimal | None:
        """The number of that column, None where it is empty; it isn't negative, and at most `most`."""
        said = self.text(column)
        if said is None:
            return None
        number = decimal_of(said, comma=self.comma)
        if number is None:
            how = "12,50 or 12.50" if self.comma else "12.50"
            raise self.error(f"{column} {said!r} is not a number", f"write it as {how}, without a currency")
        if number < 0 or (most is not None and number > most):
            bounds = f"from 0 to {most}" if most is not None else "that is not negative"
            raise self.error(f"{column} is {said}", f"write a number {bounds}")
        return number


def rows(path: Path, label: str, needed: Sequence[str], optional: Sequence[str] = ()) -> tuple[Row, ...]:
    """The rows of a CSV file with a heading row, separated by commas or semicolons. Raises JobnotesError."""
    text = text_of(path, label)
    head = next((line for line in text.splitlines() if line.strip()), "")
    if not head:
        raise JobnotesError(label, "is empty", f"begin it with a row {','.join((*needed, *optional))}")
    mark = ";" if head.count(";") > head.count(",") else ","
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    found: list[Row] = []
    columns: list[str] = []
    line = 1
    try:
        for values in reader:
            begins, line = line, reader.line_num + 1
            if not any(v.strip() for v in values):
                continue
            if not columns:
                columns = _columns(label, begins, values, needed, optional)
                continue
            if len(values) > len(columns):
                raise JobnotesError(
                    f"{label}, line {begins}",
                    f"has {len(values)} entries for {len(columns)} columns",
                    f"put an entry that holds {mark!r} in double quotes",
                )
            entries = dict(zip(columns, values, strict=False))
            if bad := next((v for v in values if any(ord(c) < 32 and c not in "\n\r\t" for c in v)), None):
                raise JobnotesError(
                    f"{label}, line {begins}", f"{bad!r} holds a control character", "take it out"
                )
            found.append(Row(label, begins, entries, comma=mark == ";"))
    except csv.Error as error:
        raise JobnotesError(
            f"{label}, line {line}", f"not CSV: {error}", "close the double quotes that are open there"
        ) from None
    return tuple(found)


def _columns(
    label: str, line: int, values: Sequence[str], needed: Sequence[str], optional: Sequence[str]
) -> list[str]:
    columns = [v.strip().casefold() for v in values]
    where = f"{label}, line {line}"
    for name in needed:
        if name not in columns:
            raise JobnotesError(where, f"there is no column {name!r}", "name it in the heading row")
    for name in columns:
        if name not in (*needed, *optional):
            wanted = ", ".join((*needed, *optional))
            raise JobnotesError(where, f"unknown column {name!r}", f"take it out, or name one of {wanted}")
        if columns.count(name) > 1:
            raise JobnotesError(where, f"two columns are called {name!r}", "keep one of them")
    return columns

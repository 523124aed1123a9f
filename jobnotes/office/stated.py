"""The office's files, read and checked: TOML and CSV. Errors name the file, the line and the remedy."""

from __future__ import annotations

import codecs
import csv
import io
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

from jobnotes.errors import JobnotesError

# rows that have a decimal point: so many show that a file has no decimal commas, however long it is
_SURELY_POINTED = 20
_MOST_BYTES = 32 * 1024 * 1024
_MOST_LOOKED_AT = 1000


def text_of(path: Path, label: str) -> str:
    """The file as text. Raises JobnotesError where it can't be read, is too large or isn't UTF-8."""
    try:
        if path.stat().st_size > _MOST_BYTES:
            raise JobnotesError(label, "is too large", "give the file that docs/prices.md describes")
        content = path.read_bytes()
    except OSError as error:
        raise JobnotesError(
            label, error.strerror or "can't be read", "check its name and your rights to it"
        ) from None
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise _not_utf8(label, content, error.start) from None


def _not_utf8(label: str, content: bytes, at: int) -> JobnotesError:
    """What it is instead: spreadsheets save UTF-16, or Windows' own Western encoding, unless told not to."""
    if content.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return JobnotesError(label, "is UTF-16, not UTF-8 text", "save it as UTF-8")
    line = content.count(b"\n", 0, at) + 1
    try:
        seen = content.decode("cp1252").replace("\r\n", "\n").split("\n")[line - 1]
    except UnicodeDecodeError:
        return JobnotesError(f"{label}, line {line}", "is not UTF-8 text", "save it as UTF-8")
    shown = " ".join(seen.split())[:60]
    reason = f"is not UTF-8 but, it seems, Windows-1252 (“{shown}”)"
    return JobnotesError(f"{label}, line {line}", reason, "save it as UTF-8")


# as printed, with a space between thousands or without
_NUMBER = re.compile(r"[+-]?(?:[0-9]{1,12}|[0-9]{1,3}(?: [0-9]{3}){1,3})(?:\.[0-9]{1,8})?")
_SPACES = re.compile(r"[\N{NO-BREAK SPACE}\N{NARROW NO-BREAK SPACE}\N{THIN SPACE}]")


def decimal_of(text: str, *, comma: bool = False) -> Decimal | None:
    """The number that `text` writes, without exponent; None if it is none. With `comma`, "12,50" is one."""
    plain = _SPACES.sub(" ", text.strip())
    if comma and plain.count(",") == 1 and "." not in plain:
        plain = plain.replace(",", ".")
    return Decimal(plain.replace(" ", "")) if _NUMBER.fullmatch(plain) else None


_DAY = re.compile(r"([0-9]{1,4})([./-])([0-9]{1,2})\2([0-9]{1,4})")
_CURRENCY = re.compile(r"[€$£¥]|\b[A-Z]{3}\b")


def _number_meant(said: str, *, comma: bool = False) -> str | None:
    """What to write for what is nearly a number: "20%", "20,00", "€ 20"."""
    bare, done = said, []
    if "%" in bare:
        bare, done = bare.replace("%", ""), ["leave out the sign %"]
    if sign := _CURRENCY.search(bare):
        bare, done = _CURRENCY.sub("", bare), [*done, f"leave out the currency {sign[0]}"]
    if not comma and "," in bare:
        bare, done = bare.replace(",", "."), [*done, "write a decimal point for the comma"]
    right = decimal_of(bare, comma=comma)
    return f"{' and '.join(done)}, as in {bare.strip()}" if done and right is not None else None


def _day_meant(said: str) -> str | None:
    """The date, year first, that "12.02.2026" means; with strokes nobody knows which is the month."""
    found = _DAY.fullmatch(said.strip())
    if found is None:
        return None
    first, mark, month, last = found.groups()
    year, day = (first, last) if len(first) == 4 else (last, first)
    if len(year) != 4 or (mark != "." and year == last):
        return None
    try:
        return date(int(year), int(month), int(day)).isoformat()
    except ValueError:
        return None


def _toml_meant(lines: Sequence[str]) -> str | None:
    """What to write for a date or a number that TOML doesn't take without quotes."""
    line = "".join(lines)
    if len(line) > _MOST_LOOKED_AT:
        return None  # no entry that a person writes; the search takes the square of its length
    found = re.search(r"([\w-]+)\s*=\s*([0-9][0-9.,/-]*(?:\s*%)?)\s*(?:[,}#].*)?$", line)
    if found is None:
        return None
    key, said = found[1], found[2].rstrip(",")
    if _DAY.fullmatch(said):
        return f"write a date with the year first, as in {key} = {_day_meant(said) or '2026-02-12'}"
    bare = said.replace("%", "").strip()
    if bare != said or "," in bare:
        done = "without the sign %" if bare != said else "with a decimal point for the comma"
        return f'write it in quotes, {done}, as in {key} = "{bare.replace(",", ".")}"'
    return None


class EntryError(JobnotesError):
    """One entry of a table is wrong: `key` with its table before it, such as "customer.country". `nth` is the
    place of its table among those of one name."""

    def __init__(self, subject: str, reason: str, remedy: str, key: str, nth: int = 0) -> None:
        super().__init__(subject, reason, remedy)
        self.key, self.nth = key, nth


# --- TOML ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Table:
    """One table of a TOML file; `where` is its name in parts, `nth` its place among those of one name.

    Getters give None for a key that isn't there, and raise JobnotesError for a value that is wrong.
    """

    label: str
    text: str
    values: Mapping[str, Any]
    where: tuple[str, ...] = ()
    nth: int = 0
    within: Table | None = None

    def error(self, key: str, reason: str, remedy: str) -> EntryError:
        """An error about that key of this table, with the line on which it seems to stand."""
        name = ".".join((*self.where, key))
        line = self._line(key)
        where = f"{self.label}, line {line}" if line else self.label
        return EntryError(where, f"{name} {reason}", remedy, name, self.nth)

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
            meant = _number_meant(value) if isinstance(value, str) else None
            raise self.error(key, "is not a number", meant or f'write it in quotes, as in {key} = "12.50"')
        if number < 0 or (most is not None and number > most):
            bounds = f"from 0 to {most}" if most is not None else "that is not negative"
            raise self.error(key, f"is {number}", f"write a number {bounds}")
        return number

    def whole(self, key: str, *, most: int) -> int | None:
        """A whole number from 0 to `most`."""
        value = self.values.get(key)
        if value is None:
            return None
        if not isinstance(value, int) or isinstance(value, bool):
            raise self.error(key, "is not a whole number", f"write it without quotes, as in {key} = 14")
        if not 0 <= value <= most:
            raise self.error(key, f"is {value}", f"write a number from 0 to {most}")
        return value

    def day(self, key: str) -> date | None:
        value = self.values.get(key)
        if value is None:
            return None
        if isinstance(value, datetime) or not isinstance(value, date):
            day = (_day_meant(value) if isinstance(value, str) else None) or "2026-02-12"
            raise self.error(key, "is not a date", f"write it without quotes, as in {key} = {day}")
        stated: date = value
        return stated

    def table(self, key: str) -> Table:
        """The table of that name; an empty one where there is none."""
        value = self.values.get(key, {})
        if not isinstance(value, dict):
            raise self.error(
                key, "is not a table", f"write [{'.'.join((*self.where, key))}] on a line of its own"
            )
        return Table(self.label, self.text, value, (*self.where, key), within=self)

    def tables(self, key: str) -> tuple[Table, ...]:
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(row, dict) for row in value):
            raise self.error(
                key, "is not a list of tables", f"begin each with [[{'.'.join((*self.where, key))}]]"
            )
        name = (*self.where, key)
        return tuple(
            Table(self.label, self.text, row, name, nth, within=self) for nth, row in enumerate(value)
        )

    def list(self, key: str) -> tuple[str, ...]:
        value = self.values.get(key, [])
        if not isinstance(value, list) or not all(isinstance(v, str) and v.strip() for v in value):
            raise self.error(key, "is not a list of words", f'write {key} = ["one", "two"]')
        return tuple(v.strip() for v in value)

    def _line(self, key: str) -> int | None:
        """The line of that key, or else that on which its table begins."""
        begin, end = 0, len(self.text)
        if self.where:
            name = r"\s*\.\s*".join(rf"[\"']?{re.escape(part)}[\"']?" for part in self.where)
            heads = list(re.finditer(rf"^[ \t]*\[{{1,2}}\s*{name}\s*\]", self.text, re.MULTILINE))
            if self.nth >= len(heads):  # written in one line, within the table above
                return self.within._line(self.where[-1]) if self.within else None
            begin = heads[self.nth].end()
            if after := re.compile(r"^[ \t]*\[", re.MULTILINE).search(self.text, begin):
                end = after.start()
        wanted = re.compile(rf"^[ \t]*(\[{{1,2}}[ \t]*)?[\"']?{re.escape(key)}\b", re.MULTILINE)
        found = wanted.search(self.text, begin, end)
        if found is None and not self.where:
            return None
        return self.text.count("\n", 0, found.start() if found else begin) + 1


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
        remedy = _toml_meant(text.splitlines()[line - 1 : line]) or "correct that line"
        raise JobnotesError(f"{label}, line {line}", f"not TOML: {what}", remedy) from None
    except ValueError as error:  # a number of thousands of digits
        raise JobnotesError(label, f"not TOML: {error}", "write it as docs/prices.md shows") from None
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
        """On one line; None where it is empty."""
        return " ".join(self.values.get(column, "").split()) or None

    def price(self, column: str, of: str) -> Decimal:
        """The number of that column, which is above 0: nothing, or 0, means that nobody has filled it in."""
        number = self.number(column)
        if number is None:
            raise self.error(f"{of} has no {column}", "write it, or take the row out")
        if not number:
            raise self.error(f"the {column} of {of} is 0", "write it, or take the row out until it is known")
        return number

    def number(self, column: str, *, most: Decimal | None = None) -> Decimal | None:
        """The number of that column, None where it is empty; it isn't negative, and at most `most`."""
        said = self.text(column)
        if said is None:
            return None
        number = decimal_of(said, comma=self.comma)
        if number is None:
            how = "12,50 or 12.50" if self.comma else "12.50"
            remedy = _number_meant(said, comma=self.comma) or f"write it as {how}, without a currency"
            raise self.error(f"{column} {said!r} is not a number", remedy)
        if self.comma and re.fullmatch(r"[1-9][0-9]{0,2}\.[0-9]{3}", said):
            either = f"{said.replace('.', '')} or {said.replace('.', ',')}"
            raise self.error(f"{column} {said} may be thousands or decimals", f"write {either}")
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
            if any(v.strip() for v in values[len(columns) :]):
                raise JobnotesError(
                    f"{label}, line {begins}",
                    f"has {len(values)} entries for {len(columns)} columns",
                    f"put an entry that holds {mark!r} in double quotes"
                    + (", and write decimals with a point" if mark == "," else ""),
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
    if not found:
        raise JobnotesError(label, "holds no row", "add one below the heading, or take the file away")
    return tuple(found)


def refuse_cut_numbers(table: Sequence[Row], column: str) -> None:
    """Raises where a decimal comma may have cut a number of that column in two.

    In a file that commas separate, 36,75 is read as 36, and 75 stands in the next column. A whole number with
    one or two digits after it may be such, unless as many other rows show that their numbers have a point.
    """
    pointed = 0
    cut: list[tuple[Row, str, str, str]] = []
    for row in table:
        said = row.text(column) or ""
        if row.comma or not said:
            continue
        names = list(row.values)
        after = names[names.index(column) + 1 :][:1]
        rest = (row.text(after[0]) or "") if after else ""
        pointed += "." in said
        if re.fullmatch(r"[0-9 ]+", said) and re.fullmatch(r"[0-9]{1,2}", rest):
            cut.append((row, said, after[0], rest))
    if not cut or pointed >= min(len(cut), _SURELY_POINTED):
        return
    row, whole, name, rest = cut[0]
    others = [str(other.line) for other, *_ in cut[1:]]
    lines = f"line{'s' if len(others) > 1 else ''} {', '.join(others[:5])}{' …' if len(others) > 5 else ''}"
    more = f", and {lines} alike" if others else ""
    raise row.error(
        f"{column} {whole} and {name} {rest} may be one number, {whole},{rest}",
        f"write {whole}.{rest}, or {whole}.{'0' * len(rest)} if {rest} is the {name}{more}",
    )


def _columns(
    label: str, line: int, values: Sequence[str], needed: Sequence[str], optional: Sequence[str]
) -> list[str]:
    columns = [v.strip().casefold() for v in values]
    while columns and not columns[-1]:  # a spreadsheet may save empty columns too
        columns.pop()
    where = f"{label}, line {line}"
    for name in needed:
        if name not in columns:
            raise JobnotesError(
                where,
                f"there is no column {name!r}",
                f"name it in the heading row: {', '.join(needed)}, and if you like {', '.join(optional)}",
            )
    for name in columns:
        if name not in (*needed, *optional):
            wanted = ", ".join((*needed, *optional))
            raise JobnotesError(where, f"unknown column {name!r}", f"take it out, or name one of {wanted}")
        if columns.count(name) > 1:
            raise JobnotesError(where, f"two columns are called {name!r}", "keep one of them")
    return columns

"""The priced lines as a spreadsheet (Office Open XML, ECMA-376), for offices that go on calculating."""

from __future__ import annotations

import io
import re
import textwrap
import tomllib
import zipfile
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, date
from decimal import Decimal
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from openpyxl import Workbook
from openpyxl.packaging.core import DocumentProperties
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter
from openpyxl.writer.excel import ExcelWriter

from jobnotes import record as r
from jobnotes.documents import values, wording
from jobnotes.documents.files import digest, made, put_settled
from jobnotes.documents.plaintext import fit
from jobnotes.errors import JobnotesError
from jobnotes.money.charges import PAYERS

_MOST_CHARACTERS = 32_767  # of a cell, in UTF-16 code units
_MOST_DIGITS = 15  # that a number of IEEE 754, as spreadsheets reckon with, keeps
_NARROWEST, _WIDEST = 6, 60  # columns, in characters
_LINE_POINTS, _TALLEST_POINTS = 15, 409  # of a row; 409 is the most there is
_MOST_SEEN = 4_000  # characters that fit into the tallest row
# text that a program would take for a formula if a person edits or pastes it
_LIKE_A_FORMULA = ("=", "+", "-", "@", "\t")
# ST_Xstring (ECMA-376 part 1, 22.9.2.19): such a sequence would be read as one character
_ESCAPE = re.compile(r"_(?=x[0-9A-Fa-f]{4}_)")

Value = str | Decimal | date | None
Row = Sequence[Value]


def write_spreadsheet(record: r.Record, path: Path, *, record_sha256: str | None = None) -> None:
    """Write the priced lines, what each payer owes, the groups of tax, allowances and remarks, a sheet each.

    Numbers are numbers, shown with the places that they have in the record (so an amount has those of its
    currency's minor unit); one of more than 15 digits is text, as a spreadsheet would change it. Text is
    text, whatever it begins with. A line without price stays empty there and says why, and then there are no
    totals. The same record gives the same bytes. `record_sha256` is of the bytes of `record.json`; without
    it, it is worked out from the record.

    Raises JobnotesError where the record has no price at all, or the file can't be written.
    """
    if all(charge.net is None for charge in record.charges):
        raise JobnotesError(
            "spreadsheet",
            "no line of the record has a price",
            "put prices.csv and labour_rates.csv beside workshop.toml and give that folder with --workshop",
        )
    book = Workbook()
    book.remove(book.active)
    _lines(book, record)
    _totals(book, record)
    _remarks(book, record)
    _job(book, record)
    book.properties = _properties(record, record_sha256 or digest(record))
    packed = io.BytesIO()
    # not Workbook.save: it would stamp the time
    ExcelWriter(book, zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED)).save()
    put_settled(packed, path)


def _properties(record: r.Record, sha256: str) -> Any:
    number = fit(record.job.number or "")
    moment = made(record).astimezone(UTC).replace(tzinfo=None, microsecond=0)
    return DocumentProperties(
        title=_say("text", "title_of", number=number) if number else _say("text", "title"),
        creator="jobnotes",
        identifier=f"sha256:{sha256}",
        language="en",
        created=moment,
        modified=moment,
    )


# --- the sheets --------------------------------------------------------------------------------------


def _lines(book: Any, record: r.Record) -> None:
    shown = wording.load()
    currency = record.totals.currency if record.totals else None
    payers = [p for p in PAYERS if any(s.payer == p for c in record.charges for s in c.shares)]
    headings = [
        *(_column(name) for name in ("id", "kind", "description", "number", "quantity", "unit")),
        _money("unit_price", currency),
        _say("text", "percent", text=_column("discount")),
        _money("net", currency),
        _column("tax_category"),
        _say("text", "percent", text=_column("tax_rate")),
        *(_in_currency(_say("text", "share", payer=_say("payer", p)), currency) for p in payers),
        *(_column(name) for name in ("remark", "evidence", "photos")),
    ]
    rows: list[Row] = []
    for charge in record.charges:
        shares = {share.payer: share.net for share in charge.shares}
        facts = [fact for fact in record.facts if fact.id in charge.fact_ids]
        unit = _say("text", "piece") if charge.unit == "1" else values.unit_sign(charge.unit, shown)
        price = charge.unit_price
        rows.append(
            [
                charge.id,
                _say("kind", charge.kind),
                charge.description,
                charge.number,
                charge.quantity,
                unit,
                _at_least(price, charge.net) if price is not None and charge.net is not None else price,
                charge.discount_percent,
                charge.net,
                charge.tax_category,
                charge.tax_rate,
                *(shares.get(payer) for payer in payers),
                charge.why,
                "; ".join(_heard(facts)),
                ", ".join(_photos(record, facts)),
            ]
        )
    _sheet(book, "lines", headings, rows)


def _totals(book: Any, record: r.Record) -> None:
    totals = record.totals
    if totals is None:
        _sheet(book, "totals", [_column("remark")], [[_say("text", "no_total")]])
        return
    names = ("lines", "allowances", "total_net", "tax", "gross", "paid", "due")
    headings = [_column("payer"), *(_money(name, totals.currency) for name in names)]
    rows: list[Row] = []
    for account in totals.split:
        off = sum((a.amount for a in account.allowances), Decimal(0)) if account.allowances else None
        sums = (account.lines, off, account.net, account.tax, account.gross, account.paid, account.due)
        rows.append([_say("payer", account.payer), *sums])
    rows.append([_say("text", "whole"), None, None, totals.net, totals.tax, totals.gross, None, None])
    _sheet(book, "totals", headings, rows)

    kind = [_column("tax_category"), _say("text", "percent", text=_column("tax_rate"))]
    taxes: list[Row] = [
        [_say("payer", account.payer), group.category, group.rate, group.base, group.tax, group.reason]
        for account in totals.split
        for group in account.taxes
    ]
    amounts = [_money("base", totals.currency), _money("tax", totals.currency)]
    _sheet(book, "tax", [_column("payer"), *kind, *amounts, _column("reason")], taxes)
    allowances: list[Row] = [
        [_say("payer", account.payer), a.reason, a.amount, a.category, a.rate]
        for account in totals.split
        for a in account.allowances
    ]
    if allowances:
        headings = [_column("payer"), _column("reason"), _money("amount", totals.currency), *kind]
        _sheet(book, "allowances", headings, allowances)


def _remarks(book: Any, record: r.Record) -> None:
    if record.charge_remarks:
        _sheet(book, "remarks", [_column("remark")], [[remark] for remark in record.charge_remarks])


def _job(book: Any, record: r.Record) -> None:
    job, head = record.job, record.invoice or r.Invoice()
    held: dict[str, Value] = {
        "number": job.number,
        "registration": job.registration,
        "vin": job.vin,
        "customer": head.buyer.name if head.buyer else job.customer,
        "invoice": head.number,
        "issued_on": head.issued_on,
        "due_on": head.due_on,
    }
    rows = [[_say("job", name), value] for name, value in held.items() if value is not None]
    if rows:
        _sheet(book, "job", [_column("entry"), _column("value")], rows)


def _heard(facts: Iterable[r.Fact]) -> Iterable[str]:
    """Where each was said: "N1 3:41"."""
    return dict.fromkeys(
        f"{fact.note} {values.minute_second(fact.start_s)}"
        for fact in facts
        if fact.note is not None and fact.start_s is not None
    )


def _photos(record: r.Record, facts: Iterable[r.Fact]) -> Iterable[str]:
    ids = {fact.id for fact in facts}
    named = {photo for fact in facts for photo in fact.photos}
    return [p.id for p in record.photos if p.id in named or not ids.isdisjoint(p.fact_ids)]


# --- cells -------------------------------------------------------------------------------------------


def _sheet(book: Any, name: str, headings: Sequence[str], rows: Sequence[Row]) -> None:
    """A table from the first cell on; its heading stays in sight and is repeated on each page."""
    sheet = book.create_sheet(_say("sheet", name))
    for place, row in enumerate([headings, *rows], start=1):
        for column, value in enumerate(row, start=1):
            if value is not None and value != "":
                _fill(sheet.cell(place, column), value)
    for cell in sheet[1]:
        cell.font = Font(bold=True)
        cell.alignment = Alignment(vertical="top", wrap_text=True)
    sheet.freeze_panes = "A2"
    sheet.auto_filter.ref = sheet.dimensions
    sheet.print_title_rows = "1:1"
    sheet.page_setup.orientation = "landscape"
    sheet.page_setup.fitToHeight = 0
    sheet.sheet_properties.pageSetUpPr.fitToPage = True
    widths = [_column_width(h, [row[place] for row in rows]) for place, h in enumerate(headings)]
    for column, width in enumerate(widths, start=1):
        sheet.column_dimensions[get_column_letter(column)].width = width
    for place, row in enumerate([headings, *rows], start=1):
        tallest = max(_lines_of(value, width) for value, width in zip(row, widths, strict=True))
        if tallest > 1:  # not every program makes a row as tall as its text
            sheet.row_dimensions[place].height = min(tallest * _LINE_POINTS, _TALLEST_POINTS)


def _fill(cell: Any, value: str | Decimal | date) -> None:
    if isinstance(value, date):
        cell.value = value
        cell.number_format = "yyyy-mm-dd"
        cell.alignment = Alignment(vertical="top", horizontal="left")
    elif isinstance(value, Decimal) and value.is_finite() and _digits(value) <= _MOST_DIGITS:
        # as its digits are: openpyxl would take it through a binary fraction
        cell.value = f"{value + 0:f}"
        cell.data_type = "n"
        cell.number_format = _number_format(value)
        # clear of the text in the next column
        cell.alignment = Alignment(vertical="top", horizontal="right", indent=1)
    else:
        text = value if isinstance(value, str) else f"{value:f}"
        cell.value = _ESCAPE.sub("_x005F_", _cut(fit(text)))
        cell.data_type = "s"
        cell.quotePrefix = text.startswith(_LIKE_A_FORMULA)
        cell.alignment = Alignment(vertical="top", wrap_text=True)


def _number_format(value: Decimal) -> str:
    places = _places(value)
    return "#,##0." + "0" * places if places else "#,##0"


def _places(value: Decimal) -> int:
    return len(f"{value:f}".partition(".")[2])


def _digits(value: Decimal) -> int:
    return len(f"{value:f}".lstrip("-0.").replace(".", ""))


def _at_least(price: Decimal, like: Decimal) -> Decimal:
    """The price with the places of `like`, or those of its own that are more."""
    missing = _places(like) - _places(price)
    return price if missing <= 0 else Decimal(f"{price:f}{'' if '.' in f'{price:f}' else '.'}{'0' * missing}")


def _cut(text: str) -> str:
    """At most as long as a cell may be, with "…" where it was cut."""
    units = text.encode("utf-16-le")
    if len(units) <= 2 * _MOST_CHARACTERS:
        return text
    return units[: 2 * (_MOST_CHARACTERS - 1)].decode("utf-16-le", "ignore") + "…"


def _column_width(heading: str, held: Sequence[Value]) -> int:
    """In characters; a heading may break between its words."""
    texts = [*heading.split(), *(line for value in held for line in _shown(value).split("\n"))]
    return min(max(_NARROWEST, *map(len, texts)) + 2, _WIDEST)


def _lines_of(value: Value, width: int) -> int:
    """About how many lines a cell of that width breaks into."""
    if not isinstance(value, str):
        return 1
    return sum(len(textwrap.wrap(line, width - 2)) or 1 for line in value[:_MOST_SEEN].split("\n"))


def _shown(value: Value) -> str:
    return f"{value:,f}" if isinstance(value, Decimal) and value.is_finite() else str(value or "")


# --- words -------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _words() -> Mapping[str, Mapping[str, str]]:
    return tomllib.loads((resources.files("jobnotes") / "data" / "spreadsheet.toml").read_text("utf-8"))


def _say(table: str, key: str, **filled: str) -> str:
    return _words()[table][key].format(**filled)


def _column(name: str) -> str:
    return _say("column", name)


def _in_currency(text: str, currency: str | None) -> str:
    return _say("text", "in_currency", text=text, currency=currency) if currency else text


def _money(name: str, currency: str | None) -> str:
    return _in_currency(_column(name), currency)

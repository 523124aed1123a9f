"""`prices.csv`: the workshop's price list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path

from jobnotes.office.names import plain_number, singular_words
from jobnotes.office.stated import Row, refuse_cut_numbers, rows
from jobnotes.office.units import unit_named
from jobnotes.office.workshop import Workshop

NAME = "prices.csv"
_NEEDED = ("number", "description", "unit", "price")
_OPTIONAL = ("tax", "discount", "said_as")


@dataclass(frozen=True, slots=True)
class Price:
    """What one `unit` (UCUM; "1" is a piece) costs without tax. `tax` names one of the workshop's taxes.

    `said_as`: other names that the thing goes by, where the list is in another language, say. `line` is where
    it stands in its file.
    """

    description: str
    unit: str
    price: Decimal
    number: str | None = None
    tax: str | None = None
    discount_percent: Decimal | None = None
    said_as: tuple[str, ...] = ()
    line: int | None = field(default=None, compare=False)

    @property
    def names(self) -> tuple[str, ...]:
        return self.description, *self.said_as


@dataclass(frozen=True, slots=True)
class PriceList:
    prices: tuple[Price, ...] = ()

    def by_number(self, number: str) -> Price | None:
        """The price of that part number, as printed, spaced, dotted or hyphenated."""
        wanted = plain_number(number)
        return next((p for p in self.prices if p.number and plain_number(p.number) == wanted), None)

    def by_name(self, name: str) -> tuple[Price, ...]:
        """The prices whose description or other name has the very words of `name`, in singular or plural."""
        wanted = singular_words(name)
        return tuple(p for p in self.prices if wanted and wanted in map(singular_words, p.names))


def load(path: Path, workshop: Workshop) -> PriceList:
    """The list in that file. Raises JobnotesError with file, line and remedy."""
    found: dict[tuple[str, ...], tuple[Row, Price]] = {}
    table = rows(path, str(path), _NEEDED, _OPTIONAL)
    refuse_cut_numbers(table, "price")
    for row in table:
        price = _price(row, workshop)
        key = (plain_number(price.number),) if price.number else ("", *singular_words(price.description))
        if key not in found:
            found[key] = row, price
        elif _terms(found[key][1]) != _terms(price):
            what = f"number {price.number}" if price.number else price.description
            first = found[key][0].line
            raise row.error(
                f"{what} stands on line {first} too, with another price", "keep the row that holds"
            )
    _refuse_shared_names(list(found.values()))
    return PriceList(tuple(price for _, price in found.values()))


def _refuse_shared_names(found: Sequence[tuple[Row, Price]]) -> None:
    """Raises where two rows without a number go by one name: neither would ever be found by it."""
    named: dict[tuple[str, ...], Row] = {}
    for row, price in found:
        for name in price.names if price.number is None else ():
            first = named.setdefault(singular_words(name), row)
            if first is not row:
                raise row.error(
                    f"{name} is a name of line {first.line} too", "keep it in one of the two rows"
                )


def _terms(price: Price) -> tuple[object, ...]:
    """What two rows of one number may not differ in."""
    return price.unit, price.price, price.tax, price.discount_percent, price.said_as


def _price(row: Row, workshop: Workshop) -> Price:
    number, description = row.text("number"), row.text("description")
    if number is not None and not any(c.isalnum() for c in number):
        raise row.error(f"number {number!r} has neither letter nor digit", "write the part's number")
    if description is None:
        if number is None:
            raise row.error("has neither number nor description", "say what the price is of")
        description = number
    elif number is None and not singular_words(description):
        raise row.error(f"description {description!r} has no words", "say what the price is of")
    price = row.price("price", number or description)
    unit = unit_named(row.text("unit") or "")
    if unit is None:
        remedy = "write piece, or a UCUM code such as L, kg or m"
        raise row.error(f"unknown unit {row.text('unit')!r}", remedy)
    return Price(
        description,
        unit,
        price,
        number,
        tax_named(row, workshop),
        row.number("discount", most=Decimal(100)),
        _other_names(row),
        row.line,
    )


def _other_names(row: Row) -> tuple[str, ...]:
    names = [name.strip() for name in (row.text("said_as") or "").split("|")]
    for name in names:
        if name and not singular_words(name):
            raise row.error(f"said_as {name!r} has no words", "write what the technician says")
    return tuple(name for name in names if name)


def tax_named(row: Row, workshop: Workshop) -> str | None:
    """The tax that the row names, if any; raises where the workshop has none of that name."""
    name = row.text("tax")
    if workshop.tax(name) is None:
        known = ", ".join(t.name for t in workshop.taxes)
        raise row.error(f"unknown tax {name!r}", f"name one of workshop.toml's: {known}, or add it there")
    return name

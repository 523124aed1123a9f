"""`prices.csv`: the workshop's price list."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from jobnotes.office.names import plain_number, words_of
from jobnotes.office.stated import Row, rows
from jobnotes.office.workshop import Workshop

NAME = "prices.csv"
PIECE = "1"
_PIECES = frozenset({"", "1", "piece", "pieces", "pc", "pcs", "pce", "each", "ea", "unit"})
_NEEDED = ("number", "description", "unit", "price")
_OPTIONAL = ("tax", "discount")


@dataclass(frozen=True, slots=True)
class Price:
    """What one `unit` (UCUM; "1" is a piece) costs without tax. `tax` names one of the workshop's taxes."""

    description: str
    unit: str
    price: Decimal
    number: str | None = None
    tax: str | None = None
    discount_percent: Decimal | None = None


@dataclass(frozen=True, slots=True)
class PriceList:
    prices: tuple[Price, ...] = ()

    def by_number(self, number: str) -> Price | None:
        """The price of that part number, as printed, spaced or hyphenated."""
        wanted = plain_number(number)
        return next((p for p in self.prices if p.number and plain_number(p.number) == wanted), None)

    def by_name(self, name: str) -> tuple[Price, ...]:
        """The prices whose description has the very words of `name`, in singular or plural."""
        wanted = words_of(name)
        return tuple(p for p in self.prices if wanted and words_of(p.description) == wanted)


def load(path: Path, workshop: Workshop) -> PriceList:
    """The list in that file. Raises JobnotesError with file, line and remedy."""
    found: dict[str, tuple[Row, Price]] = {}
    for row in rows(path, str(path), _NEEDED, _OPTIONAL):
        price = _price(row, workshop)
        key = plain_number(price.number) if price.number else f"name {' '.join(words_of(price.description))}"
        if key in found and found[key][1] != price:
            what = price.number or price.description
            raise row.error(
                f"{what} has another price on line {found[key][0].line}", "keep the one that holds"
            )
        found.setdefault(key, (row, price))
    return PriceList(tuple(price for _, price in found.values()))


def _price(row: Row, workshop: Workshop) -> Price:
    number, description = row.text("number"), row.text("description")
    if number is not None and not plain_number(number):
        raise row.error(f"number {number!r} has neither letter nor digit", "write the part's number")
    if description is None:
        if number is None:
            raise row.error("has neither number nor description", "say what the price is of")
        description = number
    price = row.number("price")
    if price is None:
        raise row.error(f"{number or description} has no price", "write it, or take the row out")
    unit = row.text("unit") or ""
    return Price(
        description,
        PIECE if unit.casefold() in _PIECES else unit,
        price,
        number,
        tax_named(row, workshop),
        row.number("discount", most=Decimal(100)),
    )


def tax_named(row: Row, workshop: Workshop) -> str | None:
    """The tax that the row names, if any; raises where the workshop has none of that name."""
    name = row.text("tax")
    if workshop.tax(name) is None:
        known = _list(workshop)
        raise row.error(f"unknown tax {name!r}", f"name one of workshop.toml's: {known}, or add it there")
    return name


def _list(workshop: Workshop) -> str:
    return ", ".join(t.name for t in workshop.taxes)


def suggestions(prices: Sequence[Price]) -> str:
    """The numbers of those prices, in a line."""
    return " or ".join(p.number for p in prices if p.number)

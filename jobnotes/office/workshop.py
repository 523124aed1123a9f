"""`workshop.toml`: the workshop's own head, its money, what others bear, and how its documents look."""

from __future__ import annotations

from dataclasses import dataclass, field
from decimal import Decimal
from pathlib import Path, PurePath
from typing import Literal, cast

from babel import Locale, UnknownLocaleError

from jobnotes.office.cover import Cover, cover_of
from jobnotes.office.currency import minor_unit
from jobnotes.office.party import party_of
from jobnotes.office.stated import Table, toml
from jobnotes.record import Party

NAME = "workshop.toml"
FORMAT, VERSION = "jobnotes-workshop", 1

LabourBasis = Literal["said", "clock", "standard"]
Consumables = Literal["each", "percent", "none"]
Paper = Literal["A4", "Letter"]
# UNCL5305, as far as EN 16931-1 allows it, without the two of the Canary Islands and of Ceuta and Melilla
_WITH_TAX = ("S",)
_WITHOUT_TAX = ("Z", "E", "AE", "K", "G", "O")
CATEGORIES = (*_WITH_TAX, *_WITHOUT_TAX)
#: BR-E-10, BR-AE-10, BR-IC-10, BR-G-10, BR-O-10; the others have none (BR-S-10, BR-Z-10)
WITH_REASON = ("E", "AE", "K", "G", "O")


@dataclass(frozen=True, slots=True)
class Tax:
    """A kind of tax: `category` by UNCL5305, `rate` in percent, `reason` why none is due."""

    name: str
    category: str
    rate: Decimal
    reason: str | None = None


@dataclass(frozen=True, slots=True)
class Workshop:
    """What a workshop states of itself; the first of `taxes` holds where a price names none.

    `labour`: which hours are charged. `consumables`: each by its price, as a `consumables_percent` of the
    parts, or not at all. `invoice_days`: days until an invoice is due.
    """

    party: Party
    currency: str
    taxes: tuple[Tax, ...]
    labour: LabourBasis = "said"
    consumables: Consumables = "each"
    consumables_percent: Decimal = Decimal(0)
    cover: Cover = field(default_factory=Cover)
    invoice_days: int | None = None
    terms: str | None = None
    locale: str | None = None
    paper: Paper | None = None
    letterhead: Path | None = None
    guarantee: str | None = None

    def tax(self, name: str | None) -> Tax | None:
        """The tax of that name, or the first; None if there is no such."""
        if name is None:
            return self.taxes[0]
        return next((t for t in self.taxes if t.name.casefold() == name.casefold()), None)


def load(folder: Path | None) -> Workshop | None:
    """The workshop of that folder; None where it has no workshop.toml. Raises JobnotesError."""
    path = None if folder is None else folder / NAME
    if path is None or not path.exists():
        return None
    table = toml(path, str(path), FORMAT, VERSION)
    table.known("workshop", "money", "tax", "cover", "invoice", "documents")
    party = party_of(table.table("workshop"))
    if party is None:
        raise table.error("workshop", "is missing", 'write [workshop] and under it name = "…"')
    money, invoice, documents = table.table("money"), table.table("invoice"), table.table("documents")
    invoice.known("days", "terms")
    labour, consumables, percent = _money(money)
    locale = documents.words("locale")
    documents.known("locale", "paper", "letterhead", "guarantee")
    if locale is not None and not _is_locale(locale):
        raise documents.error("locale", f"is {locale!r}", 'write a language and country, as in "en-GB"')
    letterhead = documents.words("letterhead")
    if letterhead is not None and PurePath(letterhead).name != letterhead:
        raise documents.error("letterhead", f"is {letterhead!r}", "name a file beside it, without a path")
    _refuse_letterhead(documents, path.parent, letterhead)
    return Workshop(
        party=party,
        currency=_currency(money),
        taxes=_taxes(table),
        labour=labour,
        consumables=consumables,
        consumables_percent=percent,
        cover=cover_of(table.table("cover")),
        invoice_days=invoice.whole("days", most=3650),
        terms=invoice.words("terms"),
        locale=locale,
        paper=cast("Paper | None", documents.one_of("paper", ("A4", "Letter"))),
        letterhead=path.parent / letterhead if letterhead else None,
        guarantee=documents.words("guarantee"),
    )


def _refuse_letterhead(documents: Table, folder: Path, named: str | None) -> None:
    """Raises where the letterhead that is named isn't there, or one that is there isn't named."""
    files = sorted(path.name for path in folder.iterdir() if path.is_file())
    if named is None:
        unnamed = next((name for name in files if name.casefold().startswith("letterhead.")), None)
        if unnamed is not None:
            what = f"is missing, but {unnamed} lies beside this file"
            remedy = 'add letterhead = "letterhead.docx" under [documents], or take the file away'
            raise documents.error("letterhead", what, remedy)
    elif not (folder / named).is_file():
        plain = named.casefold()
        close = next(
            (n for n in files if n.casefold() == plain or n.casefold().startswith(f"{plain}.")), None
        )
        remedy = f"rename {close}" if close else "put it beside this file"
        raise documents.error("letterhead", f"names {named}, which isn't there", remedy)


def _currency(money: Table) -> str:
    currency = money.words("currency")
    if currency is None:
        raise money.error("currency", "is missing", 'add currency = "EUR" under [money]')
    if minor_unit(currency) is None:
        raise money.error("currency", f"is {currency!r}", 'write its code of ISO 4217, as in "EUR"')
    return currency


def _money(money: Table) -> tuple[LabourBasis, Consumables, Decimal]:
    money.known("currency", "labour", "consumables", "consumables_percent")
    labour = money.one_of("labour", ("said", "clock", "standard")) or "said"
    consumables = money.one_of("consumables", ("each", "percent", "none")) or "each"
    percent = money.amount("consumables_percent", most=Decimal(100))
    if consumables == "percent" and percent is None:
        raise money.error("consumables_percent", "is missing", 'add consumables_percent = "2"')
    if consumables != "percent" and percent is not None:
        raise money.error("consumables_percent", "has no use here", 'write consumables = "percent" too')
    return cast(LabourBasis, labour), cast(Consumables, consumables), percent or Decimal(0)


def _taxes(table: Table) -> tuple[Tax, ...]:
    found: list[Tax] = []
    for row in table.tables("tax"):
        row.known("name", "category", "rate", "reason")
        name = row.words("name")
        category = row.one_of("category", CATEGORIES)
        rate = row.amount("rate", most=Decimal(100))
        for key, value in (("name", name), ("category", category), ("rate", rate)):
            if value is None:
                raise row.error(key, "is missing", f'add {key} = "…" to each [[tax]]')
        assert name is not None
        assert category is not None
        assert rate is not None
        if any(t.name.casefold() == name.casefold() for t in found):
            raise row.error("name", f"{name!r} stands there twice", "give each tax a name of its own")
        if category in _WITHOUT_TAX and rate:
            raise row.error("rate", f"is {rate}, but category {category} has no tax", 'write rate = "0"')
        if category in _WITH_TAX and not rate:
            raise row.error("rate", "is 0, but category S has tax", 'write category = "Z" for a zero rate')
        reason = row.words("reason")
        if reason is not None and category not in WITH_REASON:
            raise row.error("reason", f"has no place in category {category}", "take it out")
        if category in WITH_REASON and reason is None:
            raise row.error("reason", "is missing", 'add reason = "…": why no tax is due')
        alike = next((t for t in found if (t.category, t.rate) == (category, rate)), None)
        if alike is not None and alike.reason != reason:
            # they are one group of an invoice (BG-23), which has one reason (BT-120)
            what = f"differs from that of {alike.name!r}, which has the same category and rate"
            raise row.error("reason", what, "give both one reason")
        found.append(Tax(name, category, rate, reason))
    if not found:
        raise table.error("tax", "is missing", "write [[tax]] with its name, category and rate")
    return tuple(found)


def _is_locale(text: str) -> bool:
    try:
        Locale.parse(text, sep="-")
    except (UnknownLocaleError, ValueError):
        return False
    return True

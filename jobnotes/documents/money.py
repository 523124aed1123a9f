"""What the repair costs and who bears it: the charges and accounts as the record has them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from babel import Locale

from jobnotes import record as r
from jobnotes.documents import values
from jobnotes.documents.cells import Cell, Column
from jobnotes.documents.sections import column, evidence_column
from jobnotes.documents.sheet import Sheet
from jobnotes.documents.view import View
from jobnotes.money.charges import PAYERS

CLAIMED: tuple[r.Payer, ...] = ("warranty", "goodwill")


def priced(record: r.Record) -> bool:
    """True where the office's prices have been put to the job, even if one is still missing."""
    return bool(record.charges) or record.totals is not None


def unpriced(record: r.Record) -> int:
    """How many lines have no price yet."""
    return sum(1 for charge in record.charges if charge.net is None)


def invoice_number(record: r.Record) -> str | None:
    """The number under which the customer's copy is an invoice; None where it can't be one yet."""
    return record.invoice.number if record.invoice is not None and record.totals is not None else None


def account(record: r.Record, payer: r.Payer) -> r.Account | None:
    split = record.totals.split if record.totals else ()
    return next((entry for entry in split if entry.payer == payer), None)


# --- who sells, who buys -------------------------------------------------------------------------


def parties(seen: View, sheet: Sheet) -> None:
    """Workshop, buyer and the invoice's own entries side by side; nothing where none is known."""
    record, say = seen.record, seen.say
    buyer = record.invoice.buyer if record.invoice else None
    row: list[Cell | str] = ["\n".join(party_lines(seen, p)) if p else "" for p in (record.workshop, buyer)]
    row.append("\n".join(_invoice_lines(seen)))
    if not any(row):
        return
    sheet.table(
        [
            Column(say("column.from"), 5),
            Column(say("column.to"), 5),
            Column(say("column.invoice"), 5),
        ],
        [row],
        describe=say("customer.parties"),
    )


def party_lines(seen: View, party: r.Party) -> list[str]:
    say = seen.say
    town = " ".join(part for part in (party.postcode, party.city) if part)
    lines = [party.name, party.street, town, _country(seen, party.country), party.contact, party.phone]
    lines.append(party.email)
    if party.tax_id:
        lines.append(say("form.tax_id", id=party.tax_id))
    if party.registration:
        lines.append(say("form.registration", id=party.registration))
    return [line for line in lines if line]


def one_line(seen: View, party: r.Party) -> str:
    """Name and address of a party, for a cell among others."""
    town = " ".join(part for part in (party.postcode, party.city) if part)
    return ", ".join(part for part in (party.name, party.street, town) if part)


def _country(seen: View, code: str | None) -> str | None:
    if not code:
        return None
    return str(Locale.parse(seen.wording.tag, sep="-").territories.get(code.upper(), code))


def _invoice_lines(seen: View) -> Iterable[str]:
    record, invoice, say = seen.record, seen.record.invoice, seen.say
    if invoice is None or invoice_number(record) is None or record.totals is None:
        return
    yield say("form.entry", label=say("label.invoice_number"), value=invoice.number)
    for label, day in (("issued", invoice.issued_on), ("due_on", invoice.due_on)):
        if day is not None:
            shown = values.date(day, seen.wording)
            yield say("form.entry", label=say(f"label.{label}"), value=shown)
    own = account(record, "customer")
    if own is not None:
        due = values.money(own.due, record.totals.currency, seen.wording)
        yield say("form.entry", label=say("label.due"), value=due)


# --- lines ---------------------------------------------------------------------------------------


def invoice(seen: View, sheet: Sheet) -> None:
    """The priced lines, what each payer owes, and how to pay, for the customer."""
    record, say = seen.record, seen.say
    _lines(seen, sheet, record.charges, say("customer.price"))
    _open(seen, sheet)
    _no_total(seen, sheet)
    if record.totals is None:
        return
    if invoice_number(record) is None:
        sheet.paragraph(say("money.no_number"))
    _accounts(seen, sheet, record.totals.split or (), whole=True)
    _payment(seen, sheet)


def claim(seen: View, sheet: Sheet) -> None:
    """The lines of which warranty or goodwill bears a share, and what that comes to."""
    record, say = seen.record, seen.say
    charges = [c for c in record.charges if c.net is None or any(s.payer in CLAIMED for s in c.shares)]
    accounts = [a for payer in CLAIMED if (a := account(record, payer)) is not None]
    if not charges and not accounts:
        return
    sheet.heading(say("claim.money"))
    _lines(seen, sheet, charges, say("claim.money"), payers=CLAIMED)
    _open(seen, sheet)
    _no_total(seen, sheet)
    _accounts(seen, sheet, accounts, whole=False)


def _lines(
    seen: View, sheet: Sheet, charges: Sequence[r.Charge], describe: str, *, payers: Sequence[r.Payer] = ()
) -> None:
    """One line a charge. With `payers` each has a column with its share; else one column says who pays,
    unless the customer pays for everything."""
    by_id = {fact.id: fact for fact in seen.facts}
    shared = any(share.payer != "customer" for charge in charges for share in charge.shares)
    currency = seen.currency
    rows: list[list[Cell | str]] = []
    for charge in charges:
        facts = [by_id[i] for i in charge.fact_ids if i in by_id]
        row: list[Cell | str] = [
            Cell(values.sentence_case(charge.description), remark=values.sentence_case(charge.why or "")),
            charge.number or "",
            values.quantity(charge.quantity, charge.unit, seen.wording),
            _unit_price(seen, charge, currency),
            values.percent(charge.tax_rate, seen.wording) if charge.tax_rate is not None else "",
            Cell(_or(seen, charge.net, currency, seen.say("form.none")), bold=not payers),
        ]
        shares = {share.payer: share.net for share in charge.shares}
        if payers:
            row += [_or(seen, shares.get(payer), currency, "") for payer in payers]
        elif shared:
            row.append(_who_pays(seen, shares, currency))
        rows.append([*row, seen.evidence(*facts)])
    columns = [
        column(seen, "description", 3.9, always=True),
        Column(seen.say("column.number"), 2.6, style="TableSmall"),
        Column(seen.say("column.quantity"), 2.2, always=True, align="right"),
        Column(_with_currency(seen, "unit_price", currency), 2.2, always=True, align="right"),
        Column(seen.say("column.tax"), 1.6, align="right"),
        Column(_with_currency(seen, "amount", currency), 2.1, always=True, align="right"),
    ]
    if payers:
        columns += [Column(_payer(seen, payer), 2.2, align="right") for payer in payers]
    elif shared:
        columns.append(Column(seen.say("column.payer"), 2.9, style="TableSmall"))
    sheet.table([*columns, evidence_column(seen, 1.9)], rows, describe=describe)


def _payer(seen: View, payer: r.Payer) -> str:
    return values.sentence_case(seen.wording.name("payer", payer))


def _unit_price(seen: View, charge: r.Charge, currency: str) -> str:
    """The price of one, and below it what is taken off."""
    if charge.unit_price is None:
        return seen.say("money.no_price")
    price = values.amount(charge.unit_price, currency, seen.wording)
    if not charge.discount_percent:
        return price
    less = values.percent(charge.discount_percent, seen.wording)
    return f"{price}\n{seen.say('money.discount', percent=less)}"


def _or(seen: View, value: Decimal | None, currency: str, missing: str) -> str:
    return missing if value is None else values.amount(value, currency, seen.wording)


def _with_currency(seen: View, name: str, currency: str) -> str:
    heading = seen.say(f"column.{name}")
    return seen.say("form.in_currency", text=heading, currency=currency) if currency else heading


def _who_pays(seen: View, shares: dict[r.Payer, Decimal], currency: str) -> str:
    """The payer's name; of several, each with what it bears."""
    names = {payer: _payer(seen, payer) for payer in shares}
    if len(shares) == 1:
        return "".join(names.values())
    return "\n".join(
        f"{names[payer]}: {values.amount(shares[payer], currency, seen.wording)}"
        for payer in PAYERS
        if payer in shares
    )


def _open(seen: View, sheet: Sheet) -> None:
    """Say that what is doubtful is not charged, where that may change the sum."""
    if any(
        fact.status == "check"
        and (
            isinstance(fact.detail, r.LabourSaid)
            or (isinstance(fact.detail, r.Part) and fact.detail.action in ("fitted", "consumed"))
        )
        for fact in seen.facts
    ):
        sheet.paragraph(seen.say("money.open"))


def _no_total(seen: View, sheet: Sheet) -> None:
    missing = unpriced(seen.record)
    if seen.record.totals is None:
        sheet.paragraph(
            seen.wording.count("money.no_total", missing) if missing else seen.say("money.no_sum")
        )


# --- accounts ------------------------------------------------------------------------------------


def _accounts(seen: View, sheet: Sheet, accounts: Sequence[r.Account], *, whole: bool) -> None:
    """What each payer owes, a column each, then the groups of tax. `whole`: the record's totals beside."""
    totals = seen.record.totals
    assert totals is not None or not accounts
    if totals is None or not (accounts or whole):
        return
    say, currency = seen.say, totals.currency
    beside = whole and len(accounts) != 1
    rows: list[list[Cell | str]] = []

    def add(label: str, amounts: Sequence[Decimal | None], *, bold: bool = False) -> None:
        shown = ["" if a is None else values.amount(a, currency, seen.wording) for a in amounts]
        rows.append([Cell(label, bold=bold), *(Cell(text, bold=bold) for text in shown)])

    def every(name: str) -> list[Decimal | None]:
        held: list[Decimal | None] = [getattr(entry, name) for entry in accounts]
        if beside:
            held.append(getattr(totals, name, None))
        return held

    if any(entry.allowances for entry in accounts):
        add(say("label.lines"), every("lines"))
    for place, entry in enumerate(accounts):
        for allowance in entry.allowances:
            amounts: list[Decimal | None] = [None] * (len(accounts) + beside)
            amounts[place] = -allowance.amount
            add(say("label.allowance", reason=allowance.reason), amounts)
    add(say("label.net"), every("net"))
    add(say("label.tax"), every("tax"))
    paid = any(entry.paid for entry in accounts)
    add(say("label.gross"), every("gross"), bold=not paid)
    if paid:
        add(say("label.paid"), [-entry.paid for entry in accounts] + [None] * beside)
        add(say("label.due"), [entry.due for entry in accounts] + [None] * beside, bold=True)
    heads = [_payer(seen, entry.payer) for entry in accounts]
    if whole and _only_customer(accounts):
        heads = [say("column.amount")]
    if beside:
        heads.append(say("column.whole"))
    shown_heads = [say("form.in_currency", text=head, currency=currency) for head in heads]
    sheet.table(
        [
            column(seen, "sum", 6, always=True),
            *(Column(head, 2.4, always=True, align="right") for head in shown_heads),
        ],
        rows,
        describe=say("money.accounts"),
    )
    _taxes(seen, sheet, accounts, currency)


def _only_customer(accounts: Sequence[r.Account]) -> bool:
    return [entry.payer for entry in accounts] == ["customer"]


def _taxes(seen: View, sheet: Sheet, accounts: Sequence[r.Account], currency: str) -> None:
    rows: list[list[Cell | str]] = [
        [
            _payer(seen, entry.payer) if not _only_customer(accounts) else "",
            seen.wording.name("tax_category", line.category),
            values.percent(line.rate, seen.wording),
            values.amount(line.base, currency, seen.wording),
            values.amount(line.tax, currency, seen.wording),
            line.reason or "",
        ]
        for entry in accounts
        for line in entry.taxes
    ]
    sheet.table(
        [
            column(seen, "payer", 2.2),
            column(seen, "tax_kind", 3.2, always=True),
            Column(seen.say("column.rate"), 1.4, always=True, align="right"),
            Column(_with_currency(seen, "tax_base", currency), 2.6, always=True, align="right"),
            Column(_with_currency(seen, "tax_amount", currency), 2.4, always=True, align="right"),
            column(seen, "tax_reason", 4),
        ],
        rows,
        describe=seen.say("money.taxes"),
    )


def _payment(seen: View, sheet: Sheet) -> None:
    """What is due from the customer, until when and where to."""
    record, say = seen.record, seen.say
    totals, head = record.totals, record.invoice
    own = account(record, "customer")
    if totals is None or own is None or invoice_number(record) is None or head is None:
        return
    due = values.money(abs(own.due), totals.currency, seen.wording)
    if own.due > 0 and head.due_on is not None:
        sheet.paragraph(say("money.pay_by", amount=due, date=values.date(head.due_on, seen.wording)))
    elif own.due > 0:
        sheet.paragraph(say("money.pay", amount=due))
    elif own.due < 0:
        sheet.paragraph(say("money.credit", amount=due))
    else:
        sheet.paragraph(say("money.nothing_due"))
    if own.due > 0 and head.terms:
        sheet.paragraph(head.terms)
    if own.due > 0 and record.workshop is not None and record.workshop.iban:
        sheet.paragraph(say("money.account", iban=record.workshop.iban))


def claimed_rows(seen: View) -> list[list[Cell | str]]:
    """What is claimed of each payer, for the summary; nothing where the office has put no prices to it."""
    record, say = seen.record, seen.say
    plain = say("form.none")
    label = say("label.claimed")
    if record.totals is None:
        if not record.charges:
            return []
        missing = unpriced(record)
        text = seen.wording.count("money.not_known", missing) if missing else say("money.no_sum")
        return [[label, text, plain]]
    accounts = [a for payer in CLAIMED if (a := account(record, payer)) is not None]
    if not accounts:
        return [[label, say("money.none_claimed"), plain]] if record.totals.split else []
    currency = record.totals.currency
    return [
        [
            say("label.claimed_of", payer=seen.wording.name("payer", entry.payer)),
            Cell(
                say(
                    "money.claimed",
                    gross=values.money(entry.gross, currency, seen.wording),
                    net=values.amount(entry.net, currency, seen.wording),
                    tax=values.amount(entry.tax, currency, seen.wording),
                ),
                bold=True,
            ),
            plain,
        ]
        for entry in accounts
    ]

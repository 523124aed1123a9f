"""What the repair costs and who bears it: the charges and accounts as the record has them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from decimal import Decimal

from babel import Locale

from jobnotes import record as r
from jobnotes.documents import values
from jobnotes.documents.cells import Cell, Column
from jobnotes.documents.plaintext import sentence_case
from jobnotes.documents.sections import column, evidence_column
from jobnotes.documents.sheet import Sheet
from jobnotes.documents.view import View
from jobnotes.money.charges import PAYERS

CLAIMED: tuple[r.Payer, ...] = ("warranty", "goodwill")
_BY_RATE = "S"  # UNCL5305: taxed at a rate of the workshop's, of which it may have several
_NO_TOTAL = "no total"  # in each remark of the charging that stops the sum


def priced(record: r.Record) -> bool:
    """True where the office's prices have been put to the job, even if one is still missing."""
    return bool(record.charges) or record.totals is not None


def unpriced(record: r.Record) -> int:
    """How many lines have no price yet."""
    return sum(1 for charge in record.charges if charge.net is None)


def invoice_number(record: r.Record) -> str | None:
    """The number under which the customer's copy is an invoice; None where it can't be one yet, or where
    the customer has nothing to do with the bill."""
    if record.invoice is None or account(record, "customer") is None:
        return None
    return record.invoice.number


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
        if without := left_out(seen):
            yield without


# --- lines ---------------------------------------------------------------------------------------


def invoice(seen: View, sheet: Sheet) -> None:
    """The priced lines, what of them others bear, the customer's own account, and how to pay.

    Tax of another payer's account is not shown: in some countries who shows it to a buyer owes it.
    """
    record, say = seen.record, seen.say
    _lines(seen, sheet, record.charges, say("customer.price"))
    _open(seen, sheet)
    _no_total(seen, sheet)
    if record.totals is None:
        return
    for entry in record.totals.split:
        if entry.payer != "customer":
            net = values.money(entry.net, record.totals.currency, seen.wording)
            bearer = seen.wording.name("bearer", entry.payer)
            sheet.paragraph(say("money.borne", bearer=sentence_case(bearer), net=net))
    own = account(record, "customer")
    if own is None:
        sheet.paragraph(say("money.nothing_due"))
        return
    if invoice_number(record) is None:
        sheet.paragraph(say("money.no_number"))
    _accounts(seen, sheet, [own], heads=[say("column.amount")])
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
    _accounts(seen, sheet, accounts, heads=[_payer(seen, entry.payer) for entry in accounts])


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
            Cell(
                sentence_case(_description(seen, charge)),
                remark=sentence_case(seen.wording.spoken(charge.why or "")),
            ),
            seen.part_number(charge.number or ""),
            values.quantity(charge.quantity, charge.unit, seen.wording),
            _unit_price(seen, charge, currency),
            _line_tax(seen, charge, payers or ("customer",)),
            Cell(_or(seen, charge.net, currency, seen.say("form.none")), bold=not payers),
        ]
        shares = {share.payer: share.net for share in charge.shares}
        if payers:
            row += [_or(seen, shares.get(payer), currency, "") for payer in payers]
        elif shared:
            row.append(_who_pays(seen, shares, currency))
        # where a price stands is for whom the claim goes to; a customer is told the price
        told = [
            seen.say("form.office_row", file=seen.wording.name("office_table", row_of.file), line=row_of.line)
            for row_of in charge.rows
            if payers
        ]
        shown = seen.evidence(*facts) if facts or not told else ""
        rows.append([*row, "\n".join(text for text in (shown, *told) if text)])
    columns = [
        column(seen, "description", 3.9, always=True),
        Column(seen.say("column.number"), 2.6, style="TableSmall", below=True),
        Column(seen.say("column.quantity"), 2.2, always=True, align="right"),
        Column(_with_currency(seen, "unit_price", currency), 2.2, always=True, align="right"),
        Column(seen.say("column.tax"), 1.6, align="right"),
        Column(_with_currency(seen, "amount", currency), 2.1, always=True, align="right"),
    ]
    if payers:
        columns += [Column(_payer(seen, payer), 2.6, align="right") for payer in payers]
    elif shared:
        columns.append(Column(seen.say("column.bearer"), 2.9, style="TableSmall"))
    # a line of the price list, too, stands in the claim's
    sheet.table([*columns, evidence_column(seen, 3.1 if payers else 1.9)], rows, describe=describe)


def _description(seen: View, charge: r.Charge) -> str:
    """What was said to be fitted or done, or the program's own name of what is charged."""
    named = "sundry" if charge.kind == "sundry" else "operation"
    return seen.wording.name(named, charge.description)


def _line_tax(seen: View, charge: r.Charge, payers: Sequence[r.Payer]) -> str:
    """The rate of a line of which one of these bears a part, or may yet; empty for any other."""
    concerned = not charge.shares or any(share.payer in payers for share in charge.shares)
    if charge.tax_rate is None or not concerned:
        return ""
    return values.percent(charge.tax_rate, seen.wording)


def _payer(seen: View, payer: r.Payer) -> str:
    return sentence_case(seen.wording.name("payer", payer))


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


def left_out(seen: View) -> str:
    """What the sums leave out since it is doubtful: "without: height sensor (to be checked)"; "" where
    nothing is. A name that this reader may not see is not given."""
    charged = {fact_id for charge in seen.record.charges for fact_id in charge.fact_ids}
    names: dict[str, None] = {}
    for fact in seen.facts:
        if fact.status != "check" or fact.id in charged:
            continue
        match fact.detail:
            case r.Part(name, "fitted" | "consumed"):
                names.setdefault(seen.wording.spoken(name))
            case r.LabourSaid(hours, operation):
                shown = values.hours(hours, seen.wording)
                names.setdefault(f"{shown} {seen.wording.spoken(operation)}" if operation else shown)
    return seen.say(f"money.without_{seen.doubt}", what=", ".join(names)) if names else ""


def _open(seen: View, sheet: Sheet) -> None:
    """Say that what is doubtful is not charged, where that may change the sum."""
    if left_out(seen):
        sheet.paragraph(seen.say("money.open"))


def no_total_reasons(record: r.Record) -> tuple[str, ...]:
    """Why the office's prices add up to no total although each line has one."""
    return tuple(remark for remark in record.charge_remarks if _NO_TOTAL in remark)


def _no_total(seen: View, sheet: Sheet) -> None:
    if seen.record.totals is not None:
        return
    missing = unpriced(seen.record)
    sheet.paragraph(seen.wording.count("money.no_total", missing) if missing else seen.say("money.no_sum"))
    if not missing:
        for reason in no_total_reasons(seen.record):
            sheet.paragraph(sentence_case(seen.wording.spoken(reason)))


# --- accounts ------------------------------------------------------------------------------------


def _accounts(seen: View, sheet: Sheet, accounts: Sequence[r.Account], *, heads: Sequence[str]) -> None:
    """What each payer owes, a column each under its head, then the groups of tax."""
    totals = seen.record.totals
    if totals is None or not accounts:
        return
    say, currency = seen.say, totals.currency
    rows: list[list[Cell | str]] = []
    without = left_out(seen)

    def add(label: str, amounts: Sequence[Decimal | None], *, bold: bool = False, remark: str = "") -> None:
        shown = ["" if a is None else values.amount(a, currency, seen.wording) for a in amounts]
        rows.append([Cell(label, remark=remark, bold=bold), *(Cell(text, bold=bold) for text in shown)])

    if any(entry.allowances for entry in accounts):
        add(say("label.lines"), [entry.lines for entry in accounts])
    for place, entry in enumerate(accounts):
        for allowance in entry.allowances:
            amounts: list[Decimal | None] = [None] * len(accounts)
            amounts[place] = -allowance.amount
            add(say("label.allowance", reason=allowance.reason), amounts)
    add(say("label.net"), [entry.net for entry in accounts])
    add(say("label.tax"), [entry.tax for entry in accounts])
    paid = any(entry.paid for entry in accounts)
    last = without if not paid else ""
    add(say("label.gross"), [entry.gross for entry in accounts], bold=not paid, remark=last)
    if paid:
        add(say("label.paid"), [-entry.paid for entry in accounts])
        add(say("label.due"), [entry.due for entry in accounts], bold=True, remark=without)
    shown_heads = [say("form.in_currency", text=head, currency=currency) for head in heads]
    sheet.table(
        [
            column(seen, "sum", 6, always=True),
            *(Column(head, 2.4, always=True, align="right") for head in shown_heads),
        ],
        rows,
        describe=say("money.accounts"),
        keep_with_next=any(entry.taxes for entry in accounts),
    )
    _taxes(seen, sheet, accounts, currency)


def _taxes(seen: View, sheet: Sheet, accounts: Sequence[r.Account], currency: str) -> None:
    """The groups of tax by rate; a kind of tax is named where its rate doesn't say it all."""
    rows: list[list[Cell | str]] = [
        [
            _payer(seen, entry.payer) if entry.payer != "customer" else "",
            seen.wording.name("tax_category", line.category) if line.category != _BY_RATE else "",
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
            column(seen, "tax_kind", 3.2),
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
    if without := left_out(seen):
        due = f"{due} {without}"
    if own.due > 0 and head.due_on is not None:
        told = [say("money.pay_by", amount=due, date=values.date(head.due_on, seen.wording))]
    elif own.due > 0:
        told = [say("money.pay", amount=due)]
    elif own.due < 0:
        told = [say("money.credit", amount=due)]
    else:
        told = [say("money.nothing_due")]
    if own.due > 0 and head.terms:
        told.append(head.terms)
    if own.due > 0 and record.workshop is not None and record.workshop.iban:
        told.append(say("money.account", iban=record.workshop.iban))
    for number, text in enumerate(told, 1):
        sheet.paragraph(text, keep_with_next=number < len(told))  # how to pay stands in one place


def claimed_rows(seen: View) -> list[list[Cell | str]]:
    """What is claimed of each payer, for the summary; nothing where the office has put no prices to it."""
    record, say = seen.record, seen.say
    plain = say("form.none")
    label = say("label.claimed")
    without = left_out(seen)
    if record.totals is None:
        if not record.charges:
            return []
        missing = unpriced(record)
        text = seen.wording.count("money.not_known", missing) if missing else say("money.no_sum")
        return [[label, Cell(text, remark=without), plain]]
    accounts = [a for payer in CLAIMED if (a := account(record, payer)) is not None]
    if not accounts:
        none = Cell(say("money.none_claimed"), remark=without)
        return [[label, none, plain]] if record.totals.split else []
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
                remark=without,
                bold=True,
            ),
            plain,
        ]
        for entry in accounts
    ]

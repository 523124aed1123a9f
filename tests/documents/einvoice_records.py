"""Records with prices, worked out the plain way: for invoices by the dozen. All of it invented."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from decimal import ROUND_HALF_UP, Decimal

import priced_job

from jobnotes import record as r

D = Decimal
SELLER = replace(priced_job.WORKSHOP, tax_id="IE 0000000X", contact="Office")
BUYER = replace(priced_job.BUYER, country="DE", tax_id="DE000000000")
HEAD = r.Invoice("2031-0117", date(2031, 6, 19), date(2031, 7, 3), "No discount for early payment.", BUYER)
JOB = r.Job(
    number="J-17",
    registration="SMPL 17",
    opened_at=datetime(2031, 6, 16, 9, 0, tzinfo=UTC),
    closed_at=datetime(2031, 6, 17, 15, 30, tzinfo=UTC),
)
REASONS = {
    "E": "Exempt: training vehicle",
    "AE": "Reverse charge",
    "G": "Export outside the EU",
    "K": "Intra-community supply",
    "O": "Not subject to VAT",
}


@dataclass(frozen=True, slots=True)
class Sold:
    """A line before its shares are worked out: `covered` percent of it is borne by `by`, not the customer."""

    quantity: str = "1"
    price: str = "100.00"
    unit: str = "1"
    discount: str | None = None
    category: str = "S"
    rate: str = "20"
    covered: int = 0
    by: r.Payer = "warranty"
    description: str = "air spring"
    number: str | None = "AS 7740 215"


def rounded(value: Decimal, places: int) -> Decimal:
    return value.quantize(D(1).scaleb(-places), ROUND_HALF_UP)


def billed(
    *sold: Sold,
    allowance: str | None = None,
    paid: str = "0",
    currency: str = "EUR",
    places: int = 2,
    head: r.Invoice | None = HEAD,
    seller: r.Party | None = SELLER,
    job: r.Job = JOB,
) -> r.Record:
    """A record of these lines with an account for each payer. `allowance` comes off the first line's kind of
    tax; `places` are those of the currency's minor unit."""
    charges: list[r.Charge] = []
    for place, line in enumerate(sold, start=1):
        less = 1 - D(line.discount or 0) / 100
        net = rounded(D(line.quantity) * D(line.price) * less, places)
        other = rounded(net * line.covered / 100, places)
        shares = [r.Share(line.by, other)] if line.covered else []
        if line.covered < 100:
            shares.append(r.Share("customer", net - other))
        charges.append(
            r.Charge(
                id=f"C{place}",
                kind="labour" if line.unit == "h" else "part",
                description=line.description,
                quantity=D(line.quantity),
                unit=line.unit,
                number=line.number,
                unit_price=D(line.price),
                discount_percent=D(line.discount) if line.discount else None,
                net=net,
                tax_category=line.category,
                tax_rate=D(line.rate),
                shares=tuple(shares),
            )
        )
    payers = [
        p
        for p in ("customer", "warranty", "goodwill")
        if any(s.payer == p for c in charges for s in c.shares)
    ]
    accounts = [_account(p, charges, sold, allowance, paid, places) for p in payers]
    zero = rounded(D(0), places)
    totals = r.Totals(
        sum((a.net for a in accounts), zero),
        sum((a.tax for a in accounts), zero),
        sum((a.gross for a in accounts), zero),
        currency,
        tuple(accounts),
    )
    return r.Record(job=job, workshop=seller, invoice=head, charges=tuple(charges), totals=totals)


def _account(
    payer: r.Payer,
    charges: Sequence[r.Charge],
    sold: Sequence[Sold],
    allowance: str | None,
    paid: str,
    places: int,
) -> r.Account:
    zero = rounded(D(0), places)
    bases: dict[tuple[str, Decimal], Decimal] = {}
    lines = zero
    for charge in charges:
        for share in charge.shares:
            if share.payer == payer:
                key = (charge.tax_category or "", charge.tax_rate or D(0))
                bases[key] = bases.get(key, zero) + share.net
                lines += share.net
    allowances: tuple[r.Allowance, ...] = ()
    if allowance is not None and payer == "customer" and bases:
        key = next(iter(bases))
        taken = rounded(D(allowance), places)
        allowances = (r.Allowance("fleet agreement", taken, *key),)
        bases[key] -= taken
    taxes = tuple(
        r.TaxLine(c, rate, base, rounded(base * rate / 100, places), REASONS.get(c))
        for (c, rate), base in sorted(bases.items())
    )
    net = lines - sum((a.amount for a in allowances), zero)
    tax = sum((t.tax for t in taxes), zero)
    already = rounded(D(paid), places) if payer == "customer" else zero
    return r.Account(payer, lines, net, tax, net + tax, already, net + tax - already, allowances, taxes)

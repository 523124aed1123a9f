"""One payer's account, by the calculation rules of EN 16931-1 (clause 6.4.3 of its rules, BR-CO-10 to -17).

BR-CO-10  sum of line net amounts (BT-106) = sum of BT-131
BR-CO-11  sum of allowances (BT-107) = sum of BT-92
BR-CO-13  total without VAT (BT-109) = BT-106 - BT-107 + charges (BT-108; there are none here)
BR-CO-14  total VAT (BT-110) = sum of BT-117
BR-CO-15  total with VAT (BT-112) = BT-109 + BT-110
BR-CO-16  amount due (BT-115) = BT-112 - paid (BT-113) + rounding (BT-114; there is none here)
BR-CO-17  VAT of a category (BT-117) = its taxable amount (BT-116) * rate (BT-119) / 100, rounded
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from jobnotes.money.currency import percent, rounded
from jobnotes.record import Account, Allowance, Payer, TaxLine, Totals

#: what a tax is told apart by: its category (UNCL5305) and rate in percent
TaxKey = tuple[str, Decimal]


@dataclass(frozen=True, slots=True)
class Taxed:
    """A line's net amount (BT-131), or this payer's part of it, with its tax."""

    net: Decimal
    category: str
    rate: Decimal

    @property
    def key(self) -> TaxKey:
        return self.category, self.rate


def account(
    payer: Payer,
    lines: Sequence[Taxed],
    to_places: int,
    *,
    allowances: Sequence[Allowance] = (),
    paid: Decimal = Decimal(0),
    reasons: Mapping[TaxKey, str] | None = None,
) -> Account:
    """The account over `lines`, whose amounts are rounded to `to_places` already.

    `reasons` says why no tax is due, by tax. ValueError for an allowance larger than the lines of its tax.
    """
    nothing = rounded(Decimal(0), to_places)
    bases: dict[TaxKey, Decimal] = {}
    for line in lines:
        bases[line.key] = bases.get(line.key, nothing) + line.net
    for off in allowances:
        key = off.category, off.rate
        bases[key] = bases.get(key, nothing) - off.amount
        if bases[key] < 0:
            raise ValueError(off.reason)
    taxes = tuple(
        TaxLine(key[0], key[1], base, percent(base, key[1], to_places), (reasons or {}).get(key))
        for key, base in bases.items()
    )
    total = sum((line.net for line in lines), nothing)
    net = total - sum((off.amount for off in allowances), nothing)
    tax = sum((t.tax for t in taxes), nothing)
    gross = net + tax
    paid = rounded(paid, to_places)
    return Account(payer, total, net, tax, gross, paid, gross - paid, tuple(allowances), taxes)


def totals(accounts: Sequence[Account], currency: str, to_places: int) -> Totals:
    """The sums over all payers. Each account obeys the rules on its own; their sums need not, by a minor unit
    for each further payer, since each rounds its own tax."""
    nothing = rounded(Decimal(0), to_places)
    return Totals(
        sum((a.net for a in accounts), nothing),
        sum((a.tax for a in accounts), nothing),
        sum((a.gross for a in accounts), nothing),
        currency,
        tuple(accounts),
    )

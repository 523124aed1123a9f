"""Accounts by the calculation rules of EN 16931-1, held to invoices that others published.

The examples are test fixtures of the package factur-x (7.8, source distribution, tests/fixtures/xml; its
authors made one, the others come from the ZUGFeRD and UBL documentation). Charges on the whole invoice
(BT-108), which jobnotes hasn't, are given as lines of their own; that leaves every other amount as it is.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.money.accounts import Taxed, account, totals
from jobnotes.money.currency import percent, product
from jobnotes.record import Allowance

D = Decimal


def line(quantity: str, price: str, category: str, rate: str, off: str = "0") -> Taxed:
    """A line by its quantity, net price and discount in percent: BT-131."""
    return Taxed(percent(product(D(quantity), D(price)), 100 - D(off), 2), category, D(rate))


def test_two_rates_of_tax() -> None:
    """zugferd-comfort.xml: 20 at 9.90 with 19 %, 50 at 5.50 with 7 %."""
    found = account("customer", [line("20", "9.9000", "S", "19"), line("50", "5.5000", "S", "7")], 2)
    assert [(t.base, t.tax) for t in found.taxes] == [
        (D("198.00"), D("37.62")),
        (D("275.00"), D("19.25")),
    ]
    assert (found.lines, found.net, found.tax) == (D("473.00"), D("473.00"), D("56.87"))
    assert (found.gross, found.paid, found.due) == (D("529.87"), D("0.00"), D("529.87"))


def test_half_a_cent_of_tax_and_a_prepaid_amount() -> None:
    """ubl-21-en16931.xml: 5.5 % of 135.00 are 7.425, and 7.43 are due; 100.00 were paid. An allowance and a
    charge of 5.50 in it cancel each other and are left out."""
    lines = [line("10", "13.50", "S", "5.5"), line("20", "6.90", "S", "20")]
    found = account("customer", lines, 2, paid=D(100))
    assert [(t.base, t.tax) for t in found.taxes] == [(D("135.00"), D("7.43")), (D("138.00"), D("27.60"))]
    assert (found.lines, found.tax, found.gross, found.due) == (
        D("273.00"),
        D("35.03"),
        D("308.03"),
        D("208.03"),
    )


def test_a_discount_on_a_line_and_an_allowance_on_the_whole() -> None:
    """zugferd-extended.xml: five lines, one with 30 % off; freight of 15.00; 2 % off the whole; 19 % tax."""
    lines = [
        line("10000", "0.0520", "S", "19"),
        line("10000", "0.0205", "S", "19"),
        line("27.5", "15.0000", "S", "19", off="30"),
        line("3500", "0.0105", "S", "19"),
        line("1210", "0.0100", "S", "19"),
    ]
    assert [one.net for one in lines] == [D("520.00"), D("205.00"), D("288.75"), D("36.75"), D("12.10")]
    assert sum(one.net for one in lines) == D("1062.60")
    off = percent(D("1077.60"), D(2), 2)
    assert off == D("21.55")
    found = account(
        "customer",
        [*lines, Taxed(D("15.00"), "S", D(19))],
        2,
        allowances=[Allowance("2 %", off, "S", D(19))],
    )
    assert (found.net, found.tax, found.gross) == (D("1056.05"), D("200.65"), D("1256.70"))


def test_allowances_by_rate_and_lines_without_tax() -> None:
    """factur-x-en16931.xml: exempt and intra-community lines beside two rates, allowances off either rate."""
    lines = [
        Taxed(D("60.00"), "E", D(0)),
        Taxed(D("28.00"), "S", D(10)),
        Taxed(D("7.00"), "S", D(20)),
        # its charges: 10.00 and 1.00, 2.00, 1.00
        Taxed(D("11.00"), "S", D(20)),
        Taxed(D("2.00"), "K", D(0)),
        Taxed(D("1.00"), "S", D(10)),
    ]
    allowances = [
        Allowance("a", D("5.00"), "S", D(20)),
        Allowance("b", D("1.00"), "S", D(20)),
        Allowance("c", D("1.00"), "S", D(20)),
        Allowance("d", D("2.00"), "S", D(10)),
    ]
    reasons = {("E", D(0)): "Exempt", ("K", D(0)): "Intra-community supply"}
    found = account("customer", lines, 2, allowances=allowances, reasons=reasons)
    assert {(t.category, t.rate): (t.base, t.tax, t.reason) for t in found.taxes} == {
        ("S", 20): (D("11.00"), D("2.20"), None),
        ("E", 0): (D("60.00"), D("0.00"), "Exempt"),
        ("S", 10): (D("27.00"), D("2.70"), None),
        ("K", 0): (D("2.00"), D("0.00"), "Intra-community supply"),
    }
    assert (found.net, found.tax, found.gross) == (D("100.00"), D("4.90"), D("104.90"))


def test_an_allowance_above_the_lines_of_its_tax_is_refused() -> None:
    lines = [Taxed(D("10.00"), "S", D(20)), Taxed(D("90.00"), "S", D(5))]
    with pytest.raises(ValueError, match="fleet"):
        account("customer", lines, 2, allowances=[Allowance("fleet", D("10.01"), "S", D(20))])


amounts = st.integers(0, 10**9)
kinds = st.sampled_from([("S", "20"), ("S", "5.5"), ("S", "0.001"), ("Z", "0"), ("AE", "0")])


@settings(max_examples=1000, deadline=None)
@given(
    rows=st.lists(st.tuples(amounts, kinds), max_size=8),
    off=st.integers(0, 100),
    paid=amounts,
    places=st.sampled_from([0, 2, 3]),
)
def test_every_account_obeys_each_rule(
    rows: list[tuple[int, tuple[str, str]]], off: int, paid: int, places: int
) -> None:
    unit = D(1).scaleb(-places)
    lines = [Taxed(cents * unit, category, D(rate)) for cents, (category, rate) in rows]
    allowances = [
        Allowance("part of it", (one.net * off / 100 / max(len(rows), 1)) // unit * unit, *one.key)
        for one in lines[:2]
    ]
    found = account("customer", lines, places, allowances=allowances, paid=paid * unit)
    taken = sum((a.amount for a in allowances), D(0))
    assert found.lines == sum((one.net for one in lines), D(0))  # BR-CO-10
    assert found.allowances == tuple(allowances)  # BR-CO-11
    assert found.net == found.lines - taken  # BR-CO-13
    assert found.tax == sum((t.tax for t in found.taxes), D(0))  # BR-CO-14
    assert found.gross == found.net + found.tax  # BR-CO-15
    assert found.due == found.gross - found.paid  # BR-CO-16
    assert found.net == sum((t.base for t in found.taxes), D(0))  # BR-S-08 and its like, summed up
    for group in found.taxes:
        assert abs(group.tax - group.base * group.rate / 100) <= unit / 2  # BR-CO-17
        assert group.base >= 0
    assert len({(t.category, t.rate) for t in found.taxes}) == len(found.taxes)
    both = totals([found, found], "EUR", places)
    assert both.net + both.tax == both.gross == 2 * found.gross
    for amount in (found.lines, found.net, found.tax, found.gross, found.due, found.paid, both.gross):
        assert amount.as_tuple().exponent == -places

"""What a line costs and who bears it; hours, consumables, discounts, and the head of the invoice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from money_jobs import (
    PRICES,
    RATES,
    charged,
    covering,
    doubtful_hours,
    fact,
    hours,
    office,
    only,
    part,
    shares,
    used_up,
)

from jobnotes.money.charges import Charged
from jobnotes.office.cover import Borne, Cover, Exempt
from jobnotes.office.job import AgreedAllowance, JobDetails
from jobnotes.office.office import Office
from jobnotes.office.prices import Price
from jobnotes.office.rates import Rate
from jobnotes.office.standard_times import StandardTime, StandardTimes
from jobnotes.record import LabourSaid, OfficeRow, Party

D = Decimal
PUMP = part("water pump", 1, number="4471-20")
CLAMPS = part("hose clamp", 3)


# --- without prices ------------------------------------------------------------------------------


def test_without_a_workshop_file_nothing_is_charged() -> None:
    assert charged(PUMP, own=Office()) == Charged()


def test_without_prices_and_rates_nothing_is_charged_but_the_workshop_is_named() -> None:
    found = charged(PUMP, labour=(hours("repair", "2"),), own=office(None, None))
    assert (found.charges, found.totals) == ((), None)
    assert found.workshop == Party("Sample Quay Repairs (invented)")


def test_with_only_one_of_the_two_what_the_other_lacks_is_said() -> None:
    found = charged(PUMP, labour=(hours("repair", "2"),), own=office(None))
    assert [(c.kind, c.why) for c in found.charges] == [("part", "there is no price list"), ("labour", None)]
    found = charged(PUMP, labour=(hours("repair", "2"),), own=office(rates=None))
    assert [c.why for c in found.charges] == [None, "there are no labour rates"]
    assert found.totals is None


# --- hours ---------------------------------------------------------------------------------------

SAID, CLOCK = hours("diagnosis", "1.5", standard="1"), hours("time on the clock", "1.87", basis="clock")


@pytest.mark.parametrize(
    ("rule", "quantity", "net"),
    [("said", "1.5", "138.00"), ("clock", "1.87", "157.08"), ("standard", "1", "92")],
)
def test_the_workshop_s_rule_says_which_hours_are_charged(rule: str, quantity: str, net: str) -> None:
    found = charged(labour=(SAID, CLOCK), own=office(labour=rule))
    line = only(found)
    assert (line.quantity, line.unit, line.net) == (D(quantity), "h", D(net))
    assert found.remarks == ()


@pytest.mark.parametrize(
    ("rule", "line", "remark"),
    [
        ("said", CLOCK, "the time on the clock is charged, as there is nothing else"),
        ("clock", SAID, "the hours that were said are charged, as there is nothing else"),
        ("standard", CLOCK, "the time on the clock is charged, as there is nothing else"),
    ],
)
def test_where_the_rule_finds_none_the_others_are_charged_and_that_is_said(
    rule: str, line: object, remark: str
) -> None:
    found = charged(labour=(line,), own=office(labour=rule))  # type: ignore[arg-type]
    assert only(found).net is not None
    assert found.remarks == (remark,)


def test_a_standard_time_is_charged_once_for_an_operation_and_never_made_up() -> None:
    twice = (hours("diagnosis", "1", standard="1.2"), hours("Diagnosis", "2", standard="1.2"))
    assert only(charged(labour=twice, own=office(labour="standard"))).quantity == D("1.2")
    found = charged(labour=(hours("repair", "2"),), own=office(labour="standard"))
    assert only(found).why == "there is no standard time for repair"
    assert found.totals is None


def test_an_operation_has_its_own_rate_else_that_of_any_other() -> None:
    found = charged(labour=(hours("diagnosis", "1"), hours("replace pump", "1")))
    assert [c.unit_price for c in found.charges] == [92, 84]
    found = charged(labour=(hours("repair", "1"),), own=office(rates=RATES[:1]))
    assert only(found).why == "there is no labour rate for repair"


def test_between_two_rates_none_is_guessed() -> None:
    rates = (Rate("air hose", D(50)), Rate("water pump", D(60)), Rate("*", D(40)))
    found = charged(labour=(hours("water pump and air hose", "1"),), own=office(rates=rates))
    assert only(found).why == "its labour rate may be that of air hose or water pump"


def test_doubtful_hours_are_named_and_private_ones_are_not_charged() -> None:
    found = charged(doubtful_hours("diagnosis", "2"), doubtful_hours("x", "9", audience="workshop"))
    assert found.remarks == ("2 h for diagnosis needs checking and isn't charged",)
    private = fact(LabourSaid(D(3), "repair"), audience="workshop")
    line = replace(hours("repair", "3"), fact_ids=(private.id,))
    assert charged(private, labour=(line,)).charges == ()


def test_different_hours_for_one_operation_are_charged_and_asked_about() -> None:
    found = charged(labour=(hours("diagnosis", "1.0"), hours("diagnosis", "0.5"), hours("repair", "2")))
    assert [c.quantity for c in found.charges] == [D("1.0"), D("0.5"), 2]
    assert found.remarks == ("diagnosis: 1.0 and 0.5 h were said; all of them are charged",)


# --- consumables ---------------------------------------------------------------------------------

TIES = used_up("cable tie", 6)


def test_consumables_are_charged_each_by_their_price() -> None:
    found = charged(PUMP, TIES)
    assert [(c.kind, c.net) for c in found.charges] == [("part", 120), ("consumable", D("1.08"))]


def test_or_as_a_percentage_of_the_parts_rounded_half_up() -> None:
    own = office(PRICES, consumables="percent", consumables_percent=D("2.5"))
    found = charged(part("air hose", 1, number="55-1"), TIES, own=own)
    line = found.charges[1]
    # 2.5 % of 36.75 are 0.91875
    assert (line.kind, line.net, line.quantity, line.unit_price) == ("sundry", D("0.92"), 1, D("0.92"))
    assert line.fact_ids == (TIES.id,)
    assert found.totals is not None
    assert found.totals.net == D("37.67")


def test_what_is_off_the_parts_is_not_taken_off_their_percentage_again() -> None:
    own = office(PRICES, consumables="percent", consumables_percent=D(10))
    found = charged(PUMP, TIES, own=own, details=JobDetails(discount_percent=D(50)))
    assert [(c.net, c.discount_percent) for c in found.charges] == [(60, 50), (6, None)]


def test_a_percentage_of_parts_that_lack_a_price_is_not_known() -> None:
    own = office(PRICES, consumables="percent", consumables_percent=D(10))
    found = charged(part("turbocharger", 1), TIES, own=own)
    assert found.charges[1].why == "it is a share of the parts, and one of them has no price"


def test_or_not_at_all() -> None:
    assert [c.kind for c in charged(PUMP, TIES, own=office(consumables="none")).charges] == ["part"]


def test_what_has_no_line_of_its_own_is_not_asked_about() -> None:
    told = (PUMP, TIES, used_up("cable tie", 4))
    assert charged(*told).remarks == ("cable tie: 4 and 6 were said; 6 is charged",)
    assert charged(*told, own=office(consumables="none")).remarks == ()


# --- discounts, rounding and tax -----------------------------------------------------------------


@pytest.mark.parametrize(("agreed", "off", "net"), [(None, 10, "5.67"), (5, 10, "5.67"), (20, 20, "5.04")])
def test_of_the_list_s_discount_and_the_job_s_the_larger_is_given(
    agreed: int | None, off: int, net: str
) -> None:
    """3 at 2.10 are 6.30."""
    details = JobDetails(discount_percent=None if agreed is None else D(agreed))
    line = only(charged(CLAMPS, details=details))
    assert (line.discount_percent, line.net, line.tax_rate) == (off, D(net), D("5.5"))


@pytest.mark.parametrize(
    ("currency", "price", "net"),
    [
        ("EUR", "0.005", "0.01"),
        ("EUR", "0.0049999999", "0.00"),
        ("EUR", "1.005", "1.01"),
        ("EUR", "2.675", "2.68"),
        ("JPY", "99.5", "100"),
        ("JPY", "99.4999", "99"),
        ("KWD", "1.2345", "1.235"),
        ("KWD", "1.23449", "1.234"),
    ],
)
def test_a_line_is_rounded_half_up_to_the_currency_s_minor_unit(currency: str, price: str, net: str) -> None:
    found = charged(
        part("x", 1, number="X1"), own=office((Price("x", "1", D(price), "X1"),), currency=currency)
    )
    assert str(only(found).net) == net
    assert found.totals is not None
    assert str(found.totals.net) == net


def test_rounding_happens_once_however_many_digits_there_are() -> None:
    """The product is just under 0.005; rounded to 28 digits first, as Decimal does, it would be 0.005."""
    third = "0." + "3" * 32
    line = only(charged(part("x", third, number="X1"), own=office((Price("x", "1", D("0.015"), "X1"),))))
    assert line.net == D("0.00")


def test_a_line_without_tax_says_why_in_the_totals() -> None:
    own = office((Price("x", "1", D(100), "X1", tax="abroad"), Price("y", "1", D(7), "Y1", tax="zero")))
    found = charged(part("x", 1, number="X1"), part("y", 1, number="Y1"), own=own)
    assert found.totals is not None
    groups = found.totals.split[0].taxes
    assert [(t.category, t.rate, t.base, t.tax, t.reason) for t in groups] == [
        ("AE", 0, 100, 0, "Reverse charge"),
        ("Z", 0, 7, 0, None),
    ]


# --- who bears it --------------------------------------------------------------------------------


def test_without_a_cover_the_customer_bears_everything() -> None:
    assert shares(only(charged(PUMP))) == {"customer": 120}


def test_a_line_is_split_as_the_cover_says_and_the_odd_cent_falls_to_the_customer_last() -> None:
    cover = covering(parts=Borne(D("33.3"), D("33.3")))
    own = office((Price("water pump", "1", D("100.01"), "4471-20"),), cover=cover)
    found = charged(PUMP, own=own)
    # 33.30333, 33.30333 and 33.40334: one cent is left, and the customer's share lost most by rounding down
    assert shares(only(found)) == {"customer": D("33.41"), "warranty": D("33.30"), "goodwill": D("33.30")}
    cover = covering(parts=Borne(D(50)))
    own = office((Price("water pump", "1", D("100.01"), "4471-20"),), cover=cover)
    assert shares(only(charged(PUMP, own=own))) == {"customer": D("50.00"), "warranty": D("50.01")}


def test_who_bears_less_than_a_cent_has_no_share() -> None:
    own = office((Price("washer", "1", D("0.01"), "W1"),), cover=covering(parts=Borne(D(99))))
    found = charged(part("washer", 1, number="W1"), own=own)
    assert shares(only(found)) == {"warranty": D("0.01")}
    assert found.totals is not None
    assert [a.payer for a in found.totals.split] == ["warranty"]


def test_a_line_of_nothing_stays_with_who_would_have_borne_it() -> None:
    given = office((Price("washer", "1", D(5), "W1", discount_percent=D(100)),))
    assert shares(only(charged(part("washer", 1, number="W1"), own=given))) == {"customer": 0}
    borne = replace(given, workshop=replace(given.workshop, cover=covering(parts=Borne(D(100)))))  # type: ignore[type-var]
    assert shares(only(charged(part("washer", 1, number="W1"), own=borne))) == {"warranty": 0}


def test_what_the_cover_excepts_is_borne_otherwise_and_the_job_s_own_cover_replaces_it() -> None:
    cover = Cover({"parts": Borne(D(100))}, (Exempt(("hose",), Borne(goodwill=D(50))),))
    own = office(cover=cover)
    found = charged(PUMP, part("air hose", 1, number="55-1"), own=own)
    assert [shares(c) for c in found.charges] == [
        {"warranty": 120},
        # 18.375 each: the odd cent is goodwill's
        {"customer": D("18.37"), "goodwill": D("18.38")},
    ]
    found = charged(PUMP, own=own, details=JobDetails(cover=Cover()))
    assert shares(only(found)) == {"customer": 120}


def test_each_payer_has_an_account_that_adds_up_and_the_totals_are_their_sums() -> None:
    cover = covering(parts=Borne(D(100)), labour=Borne(D(50), D(25)))
    found = charged(PUMP, CLAMPS, labour=(hours("repair", "1.5"),), own=office(cover=cover))
    assert found.totals is not None
    by = {a.payer: a for a in found.totals.split}
    assert [*by] == ["customer", "warranty", "goodwill"]
    # labour 126.00: 63.00 and 31.50 and 31.50; parts 120.00 and 5.67 at 5.5 %
    assert (by["warranty"].net, by["warranty"].tax) == (D("188.67"), D("36.91"))
    assert (by["customer"].net, by["customer"].gross) == (D("31.50"), D("37.80"))
    assert (found.totals.net, found.totals.tax, found.totals.gross) == (D("251.67"), D("49.51"), D("301.18"))


# --- the invoice as a whole ----------------------------------------------------------------------


def test_allowance_and_what_is_paid_are_the_customer_s() -> None:
    details = JobDetails(paid=D(20), allowances=(AgreedAllowance("fleet agreement", D(10)),))
    found = charged(PUMP, own=office(cover=covering(parts=Borne(D(50)))), details=details)
    assert found.totals is not None
    own, warranty = found.totals.split
    assert (own.lines, own.net, own.tax, own.gross, own.paid, own.due) == (60, 50, 10, 60, 20, 40)
    assert (warranty.lines, warranty.gross, warranty.paid, warranty.due) == (60, 72, 0, 72)


def test_more_paid_than_owed_is_owed_back() -> None:
    found = charged(PUMP, details=JobDetails(paid=D(200)))
    assert found.totals is not None
    assert found.totals.split[0].due == D("-56.00")


def test_what_a_customer_paid_who_owes_nothing_is_not_lost() -> None:
    cover = covering(parts=Borne(D(100)))
    found = charged(PUMP, own=office(cover=cover), details=JobDetails(paid=D(5)))
    assert found.totals is not None
    by = {a.payer: a for a in found.totals.split}
    assert (by["customer"].gross, by["customer"].due) == (0, -5)
    assert found.totals.gross == 144


def test_an_allowance_without_a_tax_has_that_of_the_customer_s_lines() -> None:
    details = JobDetails(allowances=(AgreedAllowance("fleet agreement", D(1)),))
    found = charged(CLAMPS, details=details)
    assert found.totals is not None
    (account,) = found.totals.split
    assert [(a.category, a.rate) for a in account.allowances] == [("S", D("5.5"))]
    # 5.67 less 1.00; 5.5 % of 4.67 are 0.25685
    assert (account.net, account.tax) == (D("4.67"), D("0.26"))


def test_where_they_have_several_it_is_asked_which_and_there_is_no_total() -> None:
    details = JobDetails(allowances=(AgreedAllowance("fleet agreement", D(1)),))
    found = charged(PUMP, CLAMPS, details=details)
    assert found.totals is None
    assert found.remarks == (
        "the allowance “fleet agreement” in job.toml names no tax, and the customer's lines have S 20 % "
        "or S 5.5 %; there is no total",
    )
    named = JobDetails(allowances=(AgreedAllowance("fleet agreement", D(1), "low"),))
    assert charged(PUMP, CLAMPS, details=named).totals is not None
    # what the warranty bears is none of it
    cover = Cover({"parts": Borne(D(100))}, (Exempt(("clamp",), Borne()),))
    assert charged(PUMP, CLAMPS, own=office(cover=cover), details=details).totals is not None


def test_the_consumables_line_has_the_workshop_s_first_tax_and_the_cover_of_sundry() -> None:
    cover = covering(parts=Borne(D(100)), consumables=Borne(D(100)), sundry=Borne(goodwill=D(100)))
    own = office(consumables="percent", consumables_percent=D(10), cover=cover)
    found = charged(CLAMPS, TIES, own=own)
    assert [(c.kind, c.tax_rate, list(shares(c))) for c in found.charges] == [
        ("part", D("5.5"), ["warranty"]),
        ("sundry", 20, ["goodwill"]),
    ]


@pytest.mark.parametrize("tax", [None, "low", "other"])
def test_an_allowance_that_can_t_be_taken_off_leaves_no_total_and_says_so(tax: str | None) -> None:
    amount = D("120.01") if tax is None else D(1)
    details = JobDetails(allowances=(AgreedAllowance("fleet agreement", amount, tax),))
    found = charged(PUMP, details=details)
    assert found.totals is None
    assert len(found.remarks) == 1
    assert found.remarks[0].startswith("the allowance “fleet agreement” in job.toml ")
    assert found.remarks[0].endswith("there is no total")


def test_the_invoice_s_head_is_the_job_s_with_the_workshop_s_terms() -> None:
    buyer = Party("Harbour Line Coaches (invented)")
    details = JobDetails(customer=buyer, invoice_number="17", issued_on=date(2031, 2, 20), order="PO-5512")
    found = charged(PUMP, own=office(invoice_days=14, terms="Now."), details=details).invoice
    assert found is not None
    assert (found.number, found.issued_on, found.due_on) == ("17", date(2031, 2, 20), date(2031, 3, 6))
    assert (found.terms, found.buyer, found.order) == ("Now.", buyer, "PO-5512")
    own = replace(details, due_on=date(2031, 2, 21), terms="Later.")
    found = charged(PUMP, own=office(invoice_days=14, terms="Now."), details=own).invoice
    assert found is not None
    assert (found.due_on, found.terms) == (date(2031, 2, 21), "Later.")
    assert charged(PUMP).invoice is None


def test_hours_by_standard_time_name_the_row_of_the_rate_and_that_of_the_time() -> None:
    own = replace(
        office((), rates=(Rate("*", D(80), line=3),), labour="standard"),
        standard_times=StandardTimes((StandardTime("water pump", D("1.8"), line=5),)),
    )
    line = only(charged(labour=(hours("water pump", "2.5", standard="1.8"),), own=own))
    assert line.quantity == D("1.8")
    assert line.rows == (OfficeRow("labour_rates.csv", 3), OfficeRow("standard_times.csv", 5))

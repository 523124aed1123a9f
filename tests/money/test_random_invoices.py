"""Thousands of random jobs: whatever was fitted, and however the office prices it, the money adds up."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from random import Random

from hypothesis import given, settings
from hypothesis import strategies as st
from money_jobs import TAXES, charged, hours, office, part, used_up

from jobnotes.money.charges import Charged
from jobnotes.office.cover import COVERED, Borne, Cover, Exempt
from jobnotes.office.job import AgreedAllowance, JobDetails
from jobnotes.office.office import Office
from jobnotes.office.prices import Price
from jobnotes.office.rates import Rate
from jobnotes.record import Fact, LabourLine, Payer

D = Decimal
NAMES = ("pump", "hose", "belt", "clamp", "seal", "filter")
MINOR = {"EUR": 2, "JPY": 0, "KWD": 3}
QUANTITIES = ("1", "2", "4", "0.5", "1.25", "16", "0.333", "1000")
BATCH = 10
Job = tuple[tuple[Fact, ...], tuple[LabourLine, ...], Office, JobDetails]


@dataclass(frozen=True)
class Luck:
    """Jobs by chance: one number gives one job, so that thousands take seconds."""

    of: Random

    def job(self) -> Job:
        of = self.of
        currency = of.choice([*MINOR])
        own = office(
            tuple(self._price(name) for name in NAMES if of.random() < 0.97),
            (Rate("*", self._amount(), self._tax()),),
            cover=Cover(
                {kind: self._borne() for kind in COVERED if of.random() < 0.8},
                (Exempt(("belt",), self._borne()),),
            ),
            consumables=of.choice(["each", "percent", "none"]),
            consumables_percent=self._percent(),
            currency=currency,
        )
        labour = tuple(
            hours(name, str(D(of.randint(1, 999)) / 100)) for name in ("fit", "test") if of.random() < 0.5
        )
        return tuple(self._facts()), labour, own, self._details(D(1).scaleb(-MINOR[currency]))

    def _facts(self) -> Iterator[Fact]:
        for name in self.of.choices(NAMES, k=self.of.randint(0, 6)):
            make = self.of.choice([part, used_up])
            yield make(name, self.of.choice(QUANTITIES), number=f"N{NAMES.index(name)}")
            if self.of.random() < 0.2:
                yield part(name)

    def _details(self, unit: Decimal) -> JobDetails:
        of = self.of
        return JobDetails(
            discount_percent=self._percent() if of.random() < 0.3 else None,
            paid=of.randint(0, 10**6) * unit if of.random() < 0.5 else D(0),
            allowances=tuple(
                AgreedAllowance("agreed", of.randint(1, 500) * unit, self._tax())
                for _ in range(of.choice([0, 0, 0, 1, 2]))
            ),
        )

    def _price(self, name: str) -> Price:
        off = self._percent() if self.of.random() < 0.3 else None
        return Price(name, "1", self._amount(), f"N{NAMES.index(name)}", self._tax(), off)

    def _borne(self) -> Borne:
        warranty = self._percent()
        return Borne(warranty, min(self._percent(), 100 - warranty))

    def _percent(self) -> Decimal:
        return self.of.choice([D(0), D(50), D(100), D(self.of.randint(0, 1000)) / 10])

    def _amount(self) -> Decimal:
        return D(self.of.randint(1, 10 ** self.of.randint(1, 9))).scaleb(-4)

    def _tax(self) -> str | None:
        return self.of.choice([None, None, None, *(tax.name for tax in TAXES)])


def rounded(exact: Fraction, places: int) -> Fraction:
    """Half up, the long way."""
    return Fraction(int(exact * 10**places + Fraction(1, 2)), 10**places)


def total(of: list[Decimal]) -> Decimal:
    return sum(of, D(0))


@settings(max_examples=300, deadline=None)
@given(st.integers(0, 2**64))
def test_the_money_adds_up_in_thousands_of_jobs(seed: int) -> None:
    luck = Luck(Random(seed))
    for _ in range(BATCH):
        _adds_up(luck.job())


def test_most_of_these_jobs_have_totals_and_more_than_one_payer() -> None:
    """So that the test above is about something."""
    luck = Luck(Random(1))
    found = [
        charged(*f, labour=lab, own=own, details=d) for f, lab, own, d in (luck.job() for _ in range(500))
    ]
    with_totals = [c.totals for c in found if c.totals]
    assert len(with_totals) > 300
    assert sum(len(t.split) > 1 for t in with_totals) > 200
    assert sum(any(a.allowances for a in t.split) for t in with_totals) > 25
    assert sum(c.totals is None and any(line.net is None for line in c.charges) for c in found) > 20


def _adds_up(job: Job) -> None:
    facts, labour, own, details = job
    found = charged(*facts, labour=labour, own=own, details=details)
    assert own.workshop is not None
    places = MINOR[own.workshop.currency]
    _lines_hold(found, places)
    known = {f.id for f in facts} | {i for line in labour for i in line.fact_ids}
    assert all(set(c.fact_ids) <= known for c in found.charges)
    if found.totals is None:
        unpriced = any(c.net is None for c in found.charges)
        assert unpriced or not found.charges or any("there is no total" in r for r in found.remarks)
        return
    assert found.totals.net == total([a.net for a in found.totals.split])
    assert found.totals.tax == total([a.tax for a in found.totals.split])
    assert found.totals.gross == found.totals.net + found.totals.tax
    allowed = total([a.amount for a in details.allowances])
    assert found.totals.net == total([c.net for c in found.charges if c.net is not None]) - allowed
    assert len({a.payer for a in found.totals.split}) == len(found.totals.split)
    for payer in ("customer", "warranty", "goodwill"):
        _account_holds(found, payer, details, places)  # type: ignore[arg-type]


def _lines_hold(found: Charged, places: int) -> None:
    assert len({c.id for c in found.charges}) == len(found.charges)
    for line in found.charges:
        if line.net is None:
            assert line.why
            assert (line.unit_price, line.shares, line.tax_category) == (None, (), None)
            continue
        assert line.unit_price is not None
        less = 1 - Fraction(line.discount_percent or 0) / 100
        exact = Fraction(line.quantity) * Fraction(line.unit_price) * less
        assert Fraction(line.net) == rounded(exact, places)
        assert total([s.net for s in line.shares]) == line.net
        assert all(s.net > 0 or line.net == 0 for s in line.shares)
        assert line.net.as_tuple().exponent == -places


def _account_holds(found: Charged, payer: Payer, details: JobDetails, places: int) -> None:
    assert found.totals is not None
    bases: dict[tuple[str | None, Decimal | None], Decimal] = {}
    for line in found.charges:
        for share in line.shares:
            if share.payer == payer:
                key = line.tax_category, line.tax_rate
                bases[key] = bases.get(key, D(0)) + share.net
    account = next((a for a in found.totals.split if a.payer == payer), None)
    if account is None:
        assert not bases
        assert payer != "customer" or not (details.paid or details.allowances)
        return
    assert account.lines == total([*bases.values()])  # BR-CO-10
    for allowance in account.allowances:
        bases[allowance.category, allowance.rate] -= allowance.amount
    assert account.net == account.lines - total([a.amount for a in account.allowances])  # BR-CO-13
    assert {(t.category, t.rate): t.base for t in account.taxes} == bases  # BR-S-08 and its like
    for group in account.taxes:
        assert Fraction(group.tax) == rounded(Fraction(group.base) * Fraction(group.rate) / 100, places)
        assert group.base >= 0
        assert bool(group.reason) == (group.category == "AE")  # BR-AE-10, BR-S-10, BR-Z-10
    assert account.tax == total([t.tax for t in account.taxes])  # BR-CO-14
    assert account.gross == account.net + account.tax  # BR-CO-15
    assert account.due == account.gross - account.paid  # BR-CO-16
    assert account.paid == (details.paid if payer == "customer" else 0)
    assert min(account.lines, account.net, account.tax, account.gross, account.paid) >= 0

"""The coach job after the office has been at it: prices, who pays, dates, decisions. All of it invented."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

from coach_job import DAY, coach, digest

from jobnotes import record as r

D = Decimal
RATE = D(20)
WORKSHOP = r.Party(
    name="Sample Quay Coach Works (invented)",
    street="3 Example Wharf",
    postcode="ZZ1 1ZZ",
    city="Sampleton",
    country="IE",
    tax_id="IE0000000X",
    registration="000000",
    phone="+353 20 910 0000",
    email="office@workshop.example",
    iban="IE00 XXXX 0000 0000 0000 00",
)
BUYER = r.Party(
    name="Harbour Line Coaches (invented)",
    street="1 Depot Road",
    postcode="ZZ2 2ZZ",
    city="Sampleton",
    country="IE",
)


def _id_of(record: r.Record, *, part: str | None = None, kind: str | None = None, nth: int = 0) -> str:
    found = [
        f
        for f in record.facts
        if (
            part is not None
            and isinstance(f.detail, r.Part)
            and f.detail.name == part
            and f.detail.action != "removed"
        )
        or (kind is not None and f.kind == kind and f.stands)
    ]
    return found[nth].id


def _charge(
    place: int, kind: str, name: str, quantity: str, unit: str, price: str, net: str, **rest: object
) -> r.Charge:
    return r.Charge(
        id=f"C{place}",
        kind=kind,  # type: ignore[arg-type]
        description=name,
        quantity=D(quantity),
        unit=unit,
        unit_price=D(price),
        net=D(net),
        tax_category="S",
        tax_rate=RATE,
        **rest,  # type: ignore[arg-type]
    )


def _all(payer: r.Payer, net: str) -> tuple[r.Share, ...]:
    return (r.Share(payer, D(net)),)


def _account(
    payer: r.Payer, lines: str, net: str, tax: str, gross: str, paid: str, due: str, **rest: object
) -> r.Account:
    taxes = (r.TaxLine("S", RATE, D(net), D(tax)),)
    return r.Account(payer, D(lines), D(net), D(tax), D(gross), D(paid), D(due), taxes=taxes, **rest)  # type: ignore[arg-type]


def priced() -> r.Record:
    """Warranty pays the spring and its bolts; the labour is shared by all three; the customer pays the rest.

    Worked out by hand by the rules of EN 16931 (BR-CO-10 to BR-CO-17), an account for each payer.
    """
    told = coach()
    spring, bolts = _id_of(told, part="rear left air spring"), _id_of(told, part="clamp ring bolt")
    locker, ties = _id_of(told, part="thread locker"), _id_of(told, part="cable tie")
    hours = _id_of(told, kind="labour")
    charges = (
        _charge(
            1,
            "part",
            "rear left air spring",
            "1",
            "1",
            "184.50",
            "184.50",
            fact_ids=(spring,),
            number="AS 7740 215",
            shares=_all("warranty", "184.50"),
        ),
        _charge(
            2,
            "part",
            "clamp ring bolt",
            "4",
            "1",
            "3.15",
            "11.34",
            fact_ids=(bolts,),
            number="B 12-60",
            discount_percent=D(10),
            shares=_all("warranty", "11.34"),
        ),
        _charge(
            3,
            "consumable",
            "thread locker",
            "2",
            "mL",
            "0.42",
            "0.84",
            fact_ids=(locker,),
            shares=_all("customer", "0.84"),
        ),
        _charge(
            4,
            "consumable",
            "cable tie",
            "6",
            "1",
            "0.18",
            "1.08",
            fact_ids=(ties,),
            shares=_all("customer", "1.08"),
        ),
        _charge(
            5,
            "labour",
            "replace rear left air spring",
            "2.5",
            "h",
            "84.00",
            "210.00",
            fact_ids=(hours,),
            shares=(
                r.Share("warranty", D("105.00")),
                r.Share("goodwill", D("52.50")),
                r.Share("customer", D("52.50")),
            ),
        ),
    )
    split = (
        _account(
            "customer",
            "54.42",
            "50.00",
            "10.00",
            "60.00",
            "20.00",
            "40.00",
            allowances=(r.Allowance("fleet agreement", D("4.42"), "S", RATE),),
        ),
        _account("warranty", "300.84", "300.84", "60.17", "361.01", "0.00", "361.01"),
        _account("goodwill", "52.50", "52.50", "10.50", "63.00", "0.00", "63.00"),
    )
    cause, finding = _id_of(told, kind="cause"), _id_of(told, kind="finding")
    reading, code = _id_of(told, kind="measurement"), _id_of(told, kind="fault_code")
    facts = tuple(
        replace(f, status="accepted", decided_by="M. Sample", decided_at=DAY + timedelta(days=1, hours=1))
        if f.id in (cause, spring)
        else f
        for f in told.facts
    )
    said, clocked = told.labour
    return replace(
        told,
        facts=facts,
        job=replace(
            told.job,
            in_service_on=date(2029, 9, 3),
            failed_on=date(2031, 6, 16),
            claimed_on=date(2031, 6, 19),
        ),
        workshop=WORKSHOP,
        invoice=r.Invoice(
            "2031-0117", date(2031, 6, 19), date(2031, 7, 3), "No discount for early payment.", BUYER
        ),
        charges=charges,
        charge_remarks=("“cable tie” was named twice with the same quantity: counted once",),
        totals=r.Totals(D("403.34"), D("80.67"), D("484.01"), "EUR", split),
        labour=(replace(said, standard=D("2.2")), clocked),
        labour_remarks=("2.5 h said, 3.9 h by the clock: 1.4 h more than said",),
        supports=(
            r.Support(cause, reading, "reading"),
            r.Support(cause, finding, "finding"),
            r.Support(cause, code, "code"),
            r.Support(cause, "P3", "photo"),
        ),
        details=r.Details("job.toml", digest("job.toml")),
        earlier=(
            r.EarlierRepair(
                "J0007",
                date(2031, 5, 2),
                46,
                ("fault code SPN 1044 FMI 1", "component air spring"),
                "4711-A",
                D(8120),
                "km",
            ),
        ),
    )


def customer_pays() -> r.Record:
    """The same job with nothing covered: one account, and nobody else is named as payer."""
    record = priced()
    charges = tuple(
        replace(c, shares=(r.Share("customer", c.net),)) for c in record.charges if c.net is not None
    )
    own = _account("customer", "407.76", "407.76", "81.55", "489.31", "0.00", "489.31")
    return replace(record, charges=charges, totals=r.Totals(own.net, own.tax, own.gross, "EUR", (own,)))


def one_price_missing() -> r.Record:
    """The price list lacks the bolts: no line of nought, and no total."""
    record = priced()
    bare = replace(record.charges[1], unit_price=None, net=None, shares=(), why="not in the price list")
    return replace(record, charges=(record.charges[0], bare, *record.charges[2:]), totals=None)

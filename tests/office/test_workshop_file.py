"""workshop.toml: all that it may say, and what is refused with its line."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest
from office_files import HEAD, LOW, MONEY, PARTY, TAX, WORKSHOP, office_of, refusal

from jobnotes.office.cover import Borne, Cover, Exempt
from jobnotes.office.workshop import Tax, Workshop
from jobnotes.record import Party

EXEMPT = '[[tax]]\nname = "free"\ncategory = "E"\nrate = "0"\nreason = "by law"\n'
WHOLE = (
    HEAD
    + """
[workshop]
name = "Sample Quay Repairs (invented)"
street = "3 Example Wharf"
postcode = "ZZ1 1ZZ"
city = "Sampleton"
country = "IE"
tax_id = "IE0000000X"
registration = "000000"
contact = "Office"
phone = "+353 20 910 0000"
email = "office@workshop.example"
# the example of ISO 13616-1
iban = "GB82 WEST 1234 5698 7654 32"

[money]
currency = "KWD"
labour = "standard"
consumables = "percent"
consumables_percent = "2.5"

[[tax]]
name = "standard"
category = "S"
rate = 20

[[tax]]
name = "abroad"
category = "AE"
rate = "0"
reason = "Reverse charge"

[cover]
parts = { warranty = "100" }
labour = { warranty = "60", goodwill = "20" }

[[cover.except]]
words = ["wiper", "bulb"]
goodwill = "50"

[invoice]
days = 14
terms = "No discount for early payment."

[documents]
locale = "en-GB"
paper = "Letter"
letterhead = "letterhead.docx"
guarantee = "Twelve months."
"""
)


def own(folder: Path, text: str) -> Workshop:
    found = office_of(folder, text).workshop
    assert found is not None
    return found


def test_everything_it_states_is_read(tmp_path: Path) -> None:
    (tmp_path / "letterhead.docx").write_bytes(b"not looked into here")
    assert own(tmp_path, WHOLE) == Workshop(
        party=Party(
            "Sample Quay Repairs (invented)",
            "3 Example Wharf",
            "ZZ1 1ZZ",
            "Sampleton",
            "IE",
            "IE0000000X",
            "000000",
            "Office",
            "+353 20 910 0000",
            "office@workshop.example",
            "GB82 WEST 1234 5698 7654 32",
        ),
        currency="KWD",
        taxes=(Tax("standard", "S", Decimal(20)), Tax("abroad", "AE", Decimal(0), "Reverse charge")),
        labour="standard",
        consumables="percent",
        consumables_percent=Decimal("2.5"),
        cover=Cover(
            {"parts": Borne(Decimal(100)), "labour": Borne(Decimal(60), Decimal(20))},
            (Exempt(("wiper", "bulb"), Borne(goodwill=Decimal(50))),),
        ),
        invoice_days=14,
        terms="No discount for early payment.",
        locale="en-GB",
        paper="Letter",
        letterhead=tmp_path / "letterhead.docx",
        guarantee="Twelve months.",
    )


def test_the_least_that_it_has_to_state_is_name_currency_and_a_tax(tmp_path: Path) -> None:
    found = own(tmp_path, WORKSHOP)
    assert (found.labour, found.consumables, found.cover) == ("said", "each", Cover())
    assert found.tax(None) == Tax("standard", "S", Decimal(20))
    assert found.tax("LOW") == Tax("low", "S", Decimal("5.5"))
    assert found.tax("high") is None


def test_two_taxes_may_share_category_and_rate_where_they_share_the_reason(tmp_path: Path) -> None:
    both = office_of(tmp_path, WORKSHOP + EXEMPT + EXEMPT.replace('"free"', '"other"')).workshop
    assert both is not None
    assert [t.reason for t in both.taxes if t.category == "E"] == ["by law", "by law"]


def test_an_exception_speaks_of_words_in_the_description_or_of_the_number() -> None:
    whole = Borne(Decimal(100))
    cover = Cover({"parts": whole}, (Exempt(("wiper blade", "AS 77"), Borne()),))
    assert cover.of("parts", "left wiper blades") == Borne()
    assert cover.of("parts", "spring", "as-77") == Borne()
    assert cover.of("parts", "blade of the wiper") == whole
    assert cover.of("parts", "spring", "AS 778") == whole
    assert cover.of("labour", "fit spring") == Borne()


def test_of_two_exceptions_the_first_holds() -> None:
    cover = Cover({}, (Exempt(("wiper",), Borne(Decimal(10))), Exempt(("arm",), Borne(Decimal(20)))))
    assert cover.of("parts", "wiper arm") == Borne(Decimal(10))


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "workshop.toml: is not a file of the format jobnotes-workshop, version 1; begin it with"),
        (HEAD, 'workshop.toml: workshop is missing; write [workshop] and under it name = "…"'),
        (HEAD.replace("1", "2") + PARTY, "is not a file of the format jobnotes-workshop, version 1"),
        (HEAD + PARTY + MONEY + '[[tax]\nname = "x"\n', "workshop.toml, line 8: not TOML"),
        (HEAD + '[workshop]\ncity = "x"\n', "line 3: workshop.name is missing"),
        (HEAD + PARTY + 'fax = "1"\n', "line 6: workshop.fax is not known; take it out"),
        (HEAD + PARTY.replace("IE", "IRL"), "line 5: workshop.country is 'IRL'; write its two letters"),
        (HEAD + PARTY.replace("IE", "ZZ"), "line 5: workshop.country is 'ZZ'"),
        (HEAD + PARTY.replace("IE", "EU"), "line 5: workshop.country is 'EU'"),
        (HEAD + PARTY + 'iban = "GB82 WEST 1234 5698 7654 33"\n', "line 6: workshop.iban has a wrong check"),
        (HEAD + PARTY, "workshop.toml: money.currency is missing"),
        (HEAD + PARTY + "[money]\n", "line 6: money.currency is missing"),
        (WORKSHOP.replace("EUR", "EURO"), "line 7: money.currency is 'EURO'; write its code of ISO 4217"),
        (WORKSHOP.replace("EUR", "DEM"), "line 7: money.currency is 'DEM'"),  # no longer valid
        (WORKSHOP.replace("EUR", "XAU"), "line 7: money.currency is 'XAU'"),  # gold
        (WORKSHOP.replace("EUR", "eur"), "line 7: money.currency is 'eur'"),
        (HEAD + PARTY + MONEY, "workshop.toml: tax is missing; write [[tax]]"),
        (WORKSHOP.replace("[money]", '[money]\nlabour = "all"'), "line 7: money.labour is 'all'; write one"),
        (WORKSHOP.replace("[money]", "[money]\nlabour = 1"), "line 7: money.labour is not text"),
        (
            WORKSHOP.replace("[money]", '[money]\nconsumables = "percent"'),
            "line 6: money.consumables_percent is missing",
        ),
        (
            WORKSHOP.replace("[money]", '[money]\nconsumables_percent = "3"'),
            "line 7: money.consumables_percent has no use here",
        ),
        (WORKSHOP + TAX, "line 17: tax.name 'standard' stands there twice"),
        (WORKSHOP.replace('rate = "5.5"', 'rate = "x"'), "line 15: tax.rate is not a number"),
        (WORKSHOP.replace('rate = "5.5"', "rate = 5.5"), "line 15: tax.rate is not a number; write it in q"),
        (WORKSHOP.replace('rate = "5.5"', 'rate = "101"'), "line 15: tax.rate is 101; write a number from 0"),
        (WORKSHOP.replace('rate = "5.5"', 'rate = "-1"'), "line 15: tax.rate is -1"),
        (WORKSHOP.replace('rate = "5.5"\n', ""), "line 12: tax.rate is missing"),
        (WORKSHOP.replace('rate = "5.5"', 'rate = "0"'), 'line 15: tax.rate is 0, but category S has tax'),
        (WORKSHOP + 'reason = "x"\n', "line 16: tax.reason has no place in category S"),
        (WORKSHOP + '[[tax]]\nname = "x"\ncategory = "Q"\nrate = 0\n', "line 18: tax.category is 'Q'"),
        (WORKSHOP + '[[tax]]\nname = "x"\ncategory = "E"\nrate = 0\n', "line 16: tax.reason is missing"),
        (
            WORKSHOP + '[[tax]]\nname = "x"\ncategory = "E"\nrate = 5\nreason = "x"\n',
            "line 19: tax.rate is 5, but category E has no tax",
        ),
        (
            WORKSHOP + EXEMPT + EXEMPT.replace('"free"', '"other"').replace('"by law"', '"by treaty"'),
            "line 25: tax.reason differs from that of 'free', which has the same category and rate",
        ),
        (HEAD + PARTY + MONEY + '[tax]\nname = "x"\n', "line 8: tax is not a list of tables; begin each"),
        (WORKSHOP + '[cover]\npart = { warranty = "1" }\n', "line 17: cover.part is not known"),
        (WORKSHOP + '[cover]\nparts = "100"\n', "line 17: cover.parts is not a table"),
        (WORKSHOP + '[cover]\nparts = { warranty = "101" }\n', "line 17: cover.parts.warranty is 101"),
        (WORKSHOP + '[cover]\nparts = { customer = "1" }\n', "line 17: cover.parts.customer is not known"),
        (
            WORKSHOP + '[cover]\nlabour = { warranty = "0" }\nparts = { warranty = "80", goodwill = "30" }\n',
            "line 18: cover.parts.goodwill brings the shares to 110 %; let them be 100 at most",
        ),
        (WORKSHOP + "[[cover.except]]\nwords = []\n", "line 17: cover.except.words is missing"),
        (
            WORKSHOP + '[[cover.except]]\nwords = ["a"]\n[[cover.except]]\nwords = ["b"]\nwarranty = "x"\n',
            "line 20: cover.except.warranty is not a number",
        ),
        (WORKSHOP + '[invoice]\ndays = "14"\n', "line 17: invoice.days is not a whole number; write it"),
        (WORKSHOP + "[invoice]\ndays = -1\n", "line 17: invoice.days is -1"),
        (WORKSHOP + '[documents]\nlocale = "xx-YY"\n', "line 17: documents.locale is 'xx-YY'"),
        (WORKSHOP + '[documents]\npaper = "A3"\n', "line 17: documents.paper is 'A3'; write one of A4, L"),
        (WORKSHOP + '[documents]\nletterhead = "a.docx"\n', "line 17: documents.letterhead names a.docx, wh"),
        (WORKSHOP + '[documents]\nletterhead = "../a.docx"\n', "line 17: documents.letterhead is '../a.do"),
        (WORKSHOP + '[documents]\nguarantee = "a\\u0007"\n', "line 17: documents.guarantee holds a control"),
        (WORKSHOP + '[extra]\nx = 1\n', "line 16: extra is not known; take it out"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_named_with_its_line(text: str, said: str, tmp_path: Path) -> None:
    assert said in refusal(tmp_path, text)


def test_the_lines_above_count_in_a_file_of_fifteen() -> None:
    """The line numbers above hold for this text only."""
    assert (HEAD + PARTY + MONEY + TAX + LOW).count("\n") == 15

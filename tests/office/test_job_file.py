"""job.toml: what the office knows of one job, and what is refused with its line."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from office_files import office_of

from jobnotes.errors import JobnotesError
from jobnotes.office.cover import Borne, Cover
from jobnotes.office.job import AgreedAllowance, JobDetails, load
from jobnotes.record import Party

HEAD = 'format = "jobnotes-job"\nversion = 1\n'
WHOLE = (
    HEAD
    + """
number = "4417"
registration = "QQ00 TST"
vin = "9ZZWK2HG4N0300761"
technician = "M. Sample"
in_service_on = 2029-06-01
failed_on = 2031-03-03
claimed_on = 2031-03-06
claim_number = "C-88"
payer = "Example Warranty Fund (invented)"
policy = "payer.toml"

[customer]
name = "Harbour Line Coaches (invented)"
country = "IE"

[invoice]
number = "2031-0117"
issued_on = 2031-03-06
due_on = 2031-03-20
terms = "Now."
order = "PO-5512"
paid = "20.00"
discount_percent = "5"

[[invoice.allowance]]
reason = "fleet agreement"
amount = 10
tax = "low"

[cover]
labour = { goodwill = "50" }
"""
)


def read(folder: Path, text: str, **given: object) -> JobDetails:
    path = folder / "job.toml"
    path.write_text(text, "utf-8")
    return load(path, **given)  # type: ignore[arg-type]


def test_everything_it_states_is_read(tmp_path: Path) -> None:
    assert read(tmp_path, WHOLE) == JobDetails(
        number="4417",
        registration="QQ00 TST",
        vin="9ZZWK2HG4N0300761",
        technician="M. Sample",
        in_service_on=date(2029, 6, 1),
        failed_on=date(2031, 3, 3),
        claimed_on=date(2031, 3, 6),
        claim_number="C-88",
        payer="Example Warranty Fund (invented)",
        policy="payer.toml",
        customer=Party("Harbour Line Coaches (invented)", country="IE"),
        invoice_number="2031-0117",
        issued_on=date(2031, 3, 6),
        due_on=date(2031, 3, 20),
        terms="Now.",
        order="PO-5512",
        paid=Decimal("20.00"),
        discount_percent=Decimal(5),
        allowances=(AgreedAllowance("fleet agreement", Decimal(10), "low"),),
        cover=Cover({"labour": Borne(goodwill=Decimal(50))}),
    )


def test_nothing_of_it_is_compulsory(tmp_path: Path) -> None:
    assert read(tmp_path, HEAD) == JobDetails()


def test_an_empty_cover_is_one_too(tmp_path: Path) -> None:
    """It takes the place of the workshop's: of this job the customer pays everything."""
    assert read(tmp_path, HEAD + "[cover]\n").cover == Cover()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "job.toml: is not a file of the format jobnotes-job, version 1; begin it with format"),
        (HEAD + "number = 4417\n", 'job.toml, line 3: number is not text; write number = "…"'),
        (HEAD + 'odometer = "1"\n', "line 3: odometer is not known"),
        (HEAD + 'in_service_on = "2029-06-01"\n', "line 3: in_service_on is not a date; write it without q"),
        (HEAD + "failed_on = 2029-06-01T10:00:00\n", "line 3: failed_on is not a date"),
        (HEAD + "failed_on = 2029-02-30\n", "line 3: not TOML"),
        (HEAD + 'policy = "../other.toml"\n', "line 3: policy is '../other.toml'; name a file in the work"),
        (HEAD + '[customer]\ncity = "x"\n', "line 3: customer.name is missing"),
        (HEAD + '[customer]\nname = "x"\ncountry = "Ireland"\n', "line 5: customer.country is 'Ireland'"),
        (HEAD + '[invoice]\npaid = "-1"\n', "line 4: invoice.paid is -1; write a number that is not neg"),
        (HEAD + "[invoice]\npaid = 1.50\n", "line 4: invoice.paid is not a number; write it in quotes"),
        (HEAD + '[invoice]\ndiscount_percent = "101"\n', "line 4: invoice.discount_percent is 101; write"),
        (HEAD + '[[invoice.allowance]]\namount = "1"\n', "line 3: invoice.allowance.reason is missing"),
        (HEAD + '[[invoice.allowance]]\nreason = "x"\n', "line 3: invoice.allowance.amount is missing"),
        (
            HEAD + "[invoice]\nissued_on = 2031-03-06\ndue_on = 2031-03-05\n",
            "line 5: invoice.due_on is before 2031-03-06",
        ),
        (HEAD + '[cover]\nparts = { warranty = "100", goodwill = "1" }\n', "line 4: cover.parts.goodwill br"),
        (HEAD + "number = \n", "line 3: not TOML"),
        (HEAD + "failed_on = 12.02.2026\n", "with the year first, as in failed_on = 2026-02-12"),
        (HEAD + 'failed_on = "12.02.2026"\n', "write it without quotes, as in failed_on = 2026-02-12"),
        (HEAD + "failed_on = 03/04/2026 # or so\n", "write a date with the year first, as in failed_on = 2"),
        (HEAD + "failed_on = 2026-2-12\n", "line 3: not TOML"),
        (HEAD + "[invoice]\npaid = 20,00\n", "line 4: not TOML: "),
        (HEAD + "[invoice]\npaid = 20,00\n", 'with a decimal point for the comma, as in paid = "20.00"'),
        (HEAD + "[cover]\nparts = { warranty = 80% }\n", 'without the sign %, as in warranty = "80"'),
        (HEAD + '[invoice]\ndiscount_percent = "20%"\n', "leave out the sign %, as in 20"),
        (HEAD + '[invoice]\npaid = "20,00"\n', "write a decimal point for the comma, as in 20.00"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(text: str, said: str, tmp_path: Path) -> None:
    with pytest.raises(JobnotesError) as error:
        read(tmp_path, text)
    assert said in str(error.value)
    assert len(str(error.value).splitlines()) == 1


@pytest.mark.parametrize(
    ("text", "said"),
    [
        (
            '[[invoice.allowance]]\nreason = "x"\namount = "1"\n[[invoice.allowance]]\nreason = "y"\n'
            'amount = "1"\ntax = "high"\n',
            "line 9: invoice.allowance.tax is 'high'; name one of workshop.toml's: standard, low, or add it",
        ),
        ('[invoice]\npaid = "1.005"\n', "line 4: invoice.paid is 1.005, which has more decimals than EUR"),
        ('[[invoice.allowance]]\nreason = "x"\namount = "0.001"\n', "line 5: invoice.allowance.amount is 0"),
    ],
)
def test_what_the_workshop_doesn_t_know_is_named_with_its_line(text: str, said: str, tmp_path: Path) -> None:
    own = office_of(tmp_path).workshop
    with pytest.raises(JobnotesError) as error:
        read(tmp_path, HEAD + text, workshop=own)
    assert said in str(error.value)
    assert read(tmp_path, WHOLE, workshop=own).paid == Decimal("20.00")


def test_a_copy_is_named_as_the_file_that_was_given(tmp_path: Path) -> None:
    with pytest.raises(JobnotesError, match=r"^their job\.toml, line 3: number is not text"):
        read(tmp_path, HEAD + "number = 1\n", label="their job.toml")


def test_a_file_that_is_not_there_is_named(tmp_path: Path) -> None:
    with pytest.raises(JobnotesError, match=r"job\.toml: No such file"):
        load(tmp_path / "job.toml")


def test_a_line_of_any_length_is_refused_at_once(tmp_path: Path) -> None:
    """What a person may have meant is looked for in lines that a person writes: it took minutes here."""
    path = tmp_path / "job.toml"
    for said in ("x" * 70_000, "[" * 5000, "number = " + "9" * 5000):
        path.write_text(f"{HEAD}{said}\n", "utf-8")
        with pytest.raises(JobnotesError) as caught:
            load(path)
        assert caught.value.subject.startswith(str(path))

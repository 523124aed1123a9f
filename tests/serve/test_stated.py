"""What the office states at the desk counts as `job.toml` does, and is kept: who, when, before and after."""

from __future__ import annotations

import io
import shutil
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from desk_jobs import Desk, desk_with_job, make_desk_recogniser, started
from docx import Document
from hypothesis import given
from hypothesis import strategies as st
from served import served, wav
from test_jobs_of_the_library import Ran, at_desk, folder_in

from jobnotes.library.library import Library
from jobnotes.office import job as job_details
from jobnotes.office.job import JobDetails
from jobnotes.serve.office_forms import entry_of, field_of, groups

DETAILS = "in_service_on = 2030-01-02\n[customer]\nname = 'Sample Fleet'\n"
PRICES = "number,description,unit,price\n4567891,lift pump,piece,100.00\n"
WORKSHOP = """format = "jobnotes-workshop"
version = 1

[workshop]
name = "Sample Garage"

[money]
currency = "GBP"

[[tax]]
name = "standard"
category = "S"
rate = "20"

[cover.parts]
warranty = "100"
"""


def workshop_in(folder: Path) -> Path:
    folder.mkdir()
    (folder / "workshop.toml").write_text(WORKSHOP)
    (folder / "prices.csv").write_text(PRICES)
    (folder / "north-lease.toml").write_text(
        'format = "jobnotes-claim-policy"\nversion = 1\n\n[[rule]]\nid = "number"\ntype = "job_has"\n'
        'any_of = ["claim_number"]\nseverity = "refused"\nmissing = "No number of the claim"\n'
        'why = "They ask."\nremedy = "State it."\n'
    )
    return folder


@pytest.fixture(scope="module")
def workshop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """One for all tests: to index a workshop's words takes longer than most of them."""
    return workshop_in(tmp_path_factory.mktemp("office") / "workshop")


@pytest.fixture(scope="module")
def heard(tmp_path_factory: pytest.TempPathFactory, workshop: Path) -> tuple[Path, str]:
    """A job from a phone: where its library is, and its id; each test has a copy."""
    root = tmp_path_factory.mktemp("heard")
    made = desk_with_job(root, 0, 2, photos=0, workshop=workshop)
    made.web.app.state.store.close()
    return root, made.job


@pytest.fixture
def desk(heard: tuple[Path, str], tmp_path: Path, workshop: Path) -> Iterator[Desk]:
    shutil.copytree(heard[0] / "library", tmp_path / "library")
    web = served(tmp_path / "library", make_recogniser=make_desk_recogniser, workshop=workshop)
    yield Desk(web, web.pair("clerk", "Office desk"), heard[1])
    web.app.state.store.close()


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory, workshop: Path) -> Iterator[Desk]:
    """A job of which nothing may have been stated when a test is done."""
    made = desk_with_job(tmp_path_factory.mktemp("untouched"), 0, 2, photos=0, workshop=workshop)
    yield made
    made.web.app.state.store.close()


def run_in(root: Path, workshop: Path, details: str, levels: tuple[int, ...] = (0, 2)) -> Ran:
    """A desk at a job of `jobnotes run` with such a job.toml."""
    write_details(folder_in(root, levels), details)
    return at_desk(root, served(root / "library", make_recogniser=make_desk_recogniser, workshop=workshop))


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory, workshop: Path) -> Path:
    root = tmp_path_factory.mktemp("once")
    run_in(root, workshop, DETAILS).web.app.state.store.close()
    return root


@pytest.fixture
def ran(once: Path, tmp_path: Path, workshop: Path) -> Iterator[Ran]:
    root = tmp_path / "ran"
    shutil.copytree(once, root)
    web = served(root / "library", make_recogniser=make_desk_recogniser, workshop=workshop)
    yield at_desk(root, web)
    web.app.state.store.close()


def write_details(folder: Path, text: str) -> None:
    (folder / "job.toml").write_text(f'format = "jobnotes-job"\nversion = 1\n{text}')


def form(desk: Desk) -> dict[str, dict[str, Any]]:
    """The form's fields by their keys."""
    answer = desk.clerk.get(f"{desk.api}/stated")
    assert answer.status_code == 200, answer.text
    return {field["key"]: field for group in answer.json()["groups"] for field in group["fields"]}


def ask(desk: Desk, **values: Any) -> Any:
    """State entries (with __ for the point in their keys), as somebody who sees the form as it is now."""
    given = {key.replace("__", "."): value for key, value in values.items()}
    there = form(desk)
    seen = {key: there[key]["value"] for key in given if "value" in there[key]}
    return desk.clerk.post(f"{desk.api}/stated", {"values": given, "seen": seen})


def stated(desk: Desk, **values: Any) -> dict[str, Any]:
    answer = ask(desk, **values)
    assert answer.status_code == 200, answer.text
    return dict(answer.json()["state"])


def fields_of(answer: Any) -> dict[str, str]:
    assert answer.status_code in (400, 409), answer.text
    return dict(answer.json()["fields"])


def text_of(document: bytes) -> str:
    opened = Document(io.BytesIO(document))
    return "\n".join(node.text or "" for node in opened.element.iter() if node.tag.endswith("}t"))


# --- it counts -----------------------------------------------------------------------------------


def test_a_customer_and_an_invoice_number_stand_in_the_invoice(desk: Desk) -> None:
    stated(desk, customer__name="Sample Fleet", customer__city="Sampleton", cover__parts__warranty="0")
    stated(desk, invoice__number="2031-7", invoice__issued_on="2031-04-09")
    words = text_of(desk.clerk.get(f"{desk.api}/documents/customer.docx").content)
    assert "Sample Fleet" in words
    assert "2031-7" in words
    assert desk.state()["job"]["customer"] == "Sample Fleet"


def test_who_bears_what_changes_the_totals_at_once(desk: Desk) -> None:
    before = {sums["payer"]: sums["net"] for sums in desk.state()["totals"]["split"]}
    assert before == {"warranty": "100.00\N{NO-BREAK SPACE}GBP"}
    after = stated(desk, cover__parts__warranty="60", cover__parts__goodwill="25")
    assert {s["payer"]: s["net"] for s in after["totals"]["split"]} == {
        "warranty": "60.00\N{NO-BREAK SPACE}GBP",
        "goodwill": "25.00\N{NO-BREAK SPACE}GBP",
        "customer": "15.00\N{NO-BREAK SPACE}GBP",
    }


def test_a_discount_and_an_amount_off_change_what_the_customer_owes(desk: Desk) -> None:
    allowance = [{"reason": "fleet agreement", "amount": "4.00"}, {"reason": "", "amount": ""}]
    after = stated(
        desk, cover__parts__warranty="0", invoice__discount_percent="10", invoice__allowance=allowance
    )
    # by hand: 100 less 10 % is 90, less 4 is 86; with 20 % tax 103.20 (EN 16931, BR-CO-13 and BR-CO-15)
    assert (after["totals"]["net"], after["totals"]["gross"]) == (
        "86.00\N{NO-BREAK SPACE}GBP",
        "103.20\N{NO-BREAK SPACE}GBP",
    )


def test_dates_take_gaps_away_and_bring_their_own(desk: Desk) -> None:
    rules = {gap["rule"] for gap in desk.state()["claim_gaps"]}
    assert "dates-stated" in rules or "dates-order" not in rules
    dates = {"in_service_on": "2031-01-02", "failed_on": "2031-04-05", "claimed_on": "2031-04-01"}
    after = {gap["rule"] for gap in stated(desk, **dates)["claim_gaps"]}
    assert "dates-order" in after, "the claim is made before the repair"
    after = {gap["rule"] for gap in stated(desk, claimed_on="2031-04-20")["claim_gaps"]}
    assert {"dates-stated", "dates-order"} & after == set()


def test_a_claim_policy_of_the_workshops_folder_is_chosen_by_name(desk: Desk) -> None:
    assert form(desk)["policy"]["choices"] == [["north-lease.toml", "north-lease.toml"]]
    after = stated(desk, policy="north-lease.toml")
    assert [gap["message"].partition(".")[0] for gap in after["claim_gaps"]] == ["No number of the claim"]
    assert stated(desk, claim_number="C-1")["claim_gaps"] == []


def test_it_counts_as_the_same_in_job_toml_would(ran: Ran, tmp_path: Path, workshop: Path) -> None:
    """The record of a job of a file is the record of one that is stated at the desk, but for where."""
    said = {
        "number": "4418",
        "in_service_on": "2030-05-06",
        "customer.name": "Other Fleet",
        "customer.country": "GB",
        "invoice.number": "17",
        "invoice.issued_on": "2031-04-09",
        "invoice.discount_percent": "5",
        "cover.parts.warranty": "50",
    }
    values = {key: (form(ran)[key].get("value"), value) for key, value in said.items()}
    seen = {key: before for key, (before, _) in values.items() if before is not None}
    answer = ran.clerk.post(f"{ran.api}/stated", {"values": said, "seen": seen})
    assert answer.status_code == 200, answer.text
    by_hand = ran.run().record
    details = (
        'number = "4418"\nin_service_on = 2030-05-06\n[customer]\nname = "Other Fleet"\ncountry = "GB"\n'
        '[invoice]\nnumber = "17"\nissued_on = 2031-04-09\ndiscount_percent = "5"\n'
        '[cover.parts]\nwarranty = "50"\n'
    )
    other = run_in(tmp_path / "other", workshop, details)
    by_file = other.run().record
    for name in ("job", "invoice", "charges", "totals", "claim_gaps", "charge_remarks"):
        assert getattr(by_hand, name) == getattr(by_file, name), name
    other.web.app.state.store.close()


def test_a_job_of_which_nothing_was_heard_can_be_stated_and_keeps_it(desk: Desk) -> None:
    desk.job = desk.clerk.open_job(number="9")
    assert form(desk)["number"]["value"] == "9"
    stated(desk, number="10", customer__name="Sample Fleet")
    (row,) = [j for j in desk.clerk.get("/api/jobs").json() if j["id"] == desk.job]
    assert row["number"] == "10"
    technician = desk.web.pair("technician", "another")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    technician.send(desk.job, wav(3), started_at=started(50))
    desk.web.hear()
    assert desk.state()["job"]["customer"] == "Sample Fleet"
    assert desk.state()["job"]["number"] == "10"
    (row,) = [j for j in desk.clerk.get("/api/jobs").json() if j["id"] == desk.job]
    assert row["number"] == "10"


# --- beside a file -------------------------------------------------------------------------------


def test_the_desk_counts_before_the_file_and_both_are_shown(ran: Ran) -> None:
    assert form(ran)["in_service_on"]["value"] == "2030-01-02"
    stated(ran, in_service_on="2030-02-01")
    field = form(ran)["in_service_on"]
    assert (field["value"], field["file"], field["by"]) == ("2030-02-01", "2030-01-02", "Office desk")
    done = ran.run().record
    assert str(done.job.in_service_on) == "2030-02-01"
    assert done.job.customer == "Sample Fleet", "what isn't stated at the desk is still the file's"
    (entry,) = done.stated
    assert (entry.key, entry.value, entry.file) == ("in_service_on", "2030-02-01", "2030-01-02")
    assert not [p for p in done.problems if "stated" in p.file], "who stated it had seen the file"


def test_a_file_that_changes_after_that_is_named_as_a_problem(ran: Ran) -> None:
    stated(ran, in_service_on="2030-02-01")
    write_details(ran.folder, "in_service_on = 2030-03-03\n")
    done = ran.run().record
    assert str(done.job.in_service_on) == "2030-02-01"
    (problem,) = [p for p in done.problems if "stated" in p.file]
    assert "2030-03-03" in problem.message
    assert "2030-02-01" in problem.message
    assert [p["message"] for p in ran.state()["problems"] if "stated" in p["file"]] == [problem.message]
    write_details(ran.folder, "in_service_on = 2030-02-01\n")
    assert not [p for p in ran.run().record.problems if "stated" in p.file], "now they agree"


def test_what_was_stated_can_give_way_to_the_file_again(ran: Ran) -> None:
    stated(ran, in_service_on="2030-02-01")
    answer = ran.clerk.post(f"{ran.api}/stated", {"withdraw": "in_service_on"})
    assert answer.status_code == 200, answer.text
    field = form(ran)["in_service_on"]
    assert (field["value"], "file" in field, "by" in field) == ("2030-01-02", False, False)
    assert ran.run().record.stated == ()
    assert ran.clerk.post(f"{ran.api}/stated", {"withdraw": "in_service_on"}).status_code == 409


def test_an_entry_of_the_file_can_be_taken_out(ran: Ran) -> None:
    after = stated(ran, in_service_on="")
    assert "in_service_on" not in after["job"]
    assert form(ran)["in_service_on"]["file"] == "2030-01-02"
    (entry,) = ran.run().record.stated
    assert (entry.value, entry.file) == (None, "2030-01-02")


def test_a_mistake_in_the_file_is_still_told_as_the_files(ran: Ran) -> None:
    stated(ran, in_service_on="2030-02-01")
    write_details(ran.folder, "in_service_on = 'soon'\n")
    with pytest.raises(Exception, match=r"job\.toml, line 3: in_service_on is not a date"):
        ran.run()


def test_what_no_longer_fits_the_workshops_files_is_told_and_can_be_put_right(
    desk: Desk, tmp_path: Path
) -> None:
    allowance = {"reason": "fleet agreement", "amount": "4.00", "tax": "standard"}
    stated(desk, cover__parts__warranty="0", invoice__allowance=[allowance])
    other = workshop_in(tmp_path / "other")
    (other / "workshop.toml").write_text(WORKSHOP.replace('"standard"', '"full"'))
    web = served(desk.web.settings.library, make_recogniser=make_desk_recogniser, workshop=other)
    again = Desk(web, web.pair("clerk", "Office desk"), desk.job)
    answer = again.clerk.get(f"{again.api}/state")
    assert answer.status_code == 503
    assert "invoice.allowance.tax is 'standard'" in answer.json()["error"]
    assert [deed["action"] for deed in again.history()] == ["state"]
    assert list(fields_of(ask(again, payer="North Lease"))) == ["invoice.allowance.0.tax"]
    after = stated(again, invoice__allowance=[allowance | {"tax": "full"}])
    assert after["totals"]["net"] == "96.00\N{NO-BREAK SPACE}GBP"
    web.app.state.store.close()


# --- kept ----------------------------------------------------------------------------------------


def test_the_history_says_who_when_before_and_after_and_takes_back(desk: Desk) -> None:
    stated(desk, payer="North Lease", claim_number="C-1")
    stated(desk, payer="South Lease")
    last, first = desk.history()
    assert (last["action"], last["who"], last["counts"]) == ("state", "Office desk", True)
    assert last["changes"] == [
        {
            "label": "Claim: Claimed from",
            "entry": "payer",
            "was": "North Lease",
            "now": "South Lease",
        }
    ]
    refused = desk.clerk.post(f"{desk.api}/stated", {"take_back": first["stated"]})
    assert refused.status_code == 409, "a later one builds on it"
    assert desk.clerk.post(f"{desk.api}/stated", {"take_back": last["stated"]}).status_code == 200
    assert form(desk)["payer"]["value"] == "North Lease"
    assert len(desk.history()) == 3
    newest = desk.history()[0]
    assert desk.clerk.post(f"{desk.api}/stated", {"take_back": newest["stated"]}).status_code == 200
    assert form(desk)["payer"]["value"] == "South Lease"


def test_decisions_and_what_is_stated_stand_in_one_history_by_time(desk: Desk) -> None:
    desk.decide("accept", desk.fact("part"))
    stated(desk, payer="North Lease")
    desk.decide("reject", desk.fact("measurement"))
    assert [deed["action"] for deed in desk.history()] == ["reject", "state", "accept"]


def test_nothing_that_was_stated_can_be_changed_in_the_database(desk: Desk) -> None:
    stated(desk, payer="North Lease")
    stated(desk, payer="")
    with Library.open(desk.web.settings.library) as library:
        job = desk.web.app.state.store.job(desk.job).library_job
        assert [(e.before, e.after) for e in library.stated(job)] == [
            (None, "North Lease"),
            ("North Lease", None),
        ]
        for sql in ("UPDATE stated SET who = 'x'", "DELETE FROM stated"):
            with pytest.raises(sqlite3.IntegrityError, match="never changed"):
                library._db.execute(sql)


def test_what_another_desk_changed_meanwhile_is_not_overwritten(desk: Desk) -> None:
    stated(desk, payer="North Lease")
    answer = desk.clerk.post(f"{desk.api}/stated", {"values": {"payer": "South Lease"}, "seen": {}})
    assert answer.status_code == 409
    assert "North Lease" in fields_of(answer)["payer"]
    assert form(desk)["payer"]["value"] == "North Lease"


# --- what is wrong -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("values", "wrong"),
    [
        ({"in_service_on": "02.01.2031"}, "in_service_on"),
        ({"in_service_on": "2031-02-30"}, "in_service_on"),
        ({"customer__city": "Sampleton"}, "customer.name"),
        ({"customer__name": "Sample Fleet", "customer__country": "XX"}, "customer.country"),
        # an IBAN's check digits by ISO 13616; 82 is the right one in the standard's own example
        ({"customer__name": "S", "customer__iban": "GB83 WEST 1234 5698 7654 32"}, "customer.iban"),
        ({"invoice__paid": "12,50"}, "invoice.paid"),
        ({"invoice__paid": "12.505"}, "invoice.paid"),
        ({"invoice__discount_percent": "101"}, "invoice.discount_percent"),
        ({"invoice__issued_on": "2031-04-09", "invoice__due_on": "2031-04-08"}, "invoice.due_on"),
        ({"invoice__allowance": [{"reason": "fleet"}]}, "invoice.allowance.0.amount"),
        (
            {"invoice__allowance": [{"reason": "a", "amount": "1"}, {"reason": "b", "amount": "0.001"}]},
            "invoice.allowance.1.amount",
        ),
        ({"cover__parts__warranty": "80", "cover__parts__goodwill": "30"}, "cover.parts.goodwill"),
        ({"cover__except": [{"words": "wiper", "warranty": "101"}]}, "cover.except.0.warranty"),
        ({"policy": "../secret.toml"}, "policy"),
        ({"number": "x" * 300}, "number"),
    ],
)
def test_a_mistake_is_named_at_its_field_and_nothing_is_stored(
    untouched: Desk, values: dict[str, Any], wrong: str
) -> None:
    answer = ask(untouched, **values)
    assert list(fields_of(answer)) == [wrong]
    assert "TOML" not in answer.text
    assert untouched.history() == []


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"values": 1},
        {"values": {"nonsense": "x"}, "seen": {}},
        {"values": {"number": ["x"]}, "seen": {}},
        {"values": {"invoice.allowance": "x"}, "seen": {}},
        {"values": {}, "seen": {}},
        {"take_back": True},
        {"take_back": 10**30},
        {"withdraw": ["number"]},
    ],
)
def test_what_makes_no_sense_is_refused_in_one_line(untouched: Desk, asked: dict[str, Any]) -> None:
    answer = untouched.clerk.post(f"{untouched.api}/stated", asked)
    assert answer.status_code in (400, 409)
    assert "\n" not in answer.json()["error"]
    assert untouched.history() == []


def test_a_technician_states_nothing_and_sees_nothing_of_it(desk: Desk) -> None:
    technician = desk.web.pair("technician", "phone two")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    assert technician.get(f"{desk.api}/stated").status_code == 403
    assert technician.post(f"{desk.api}/stated", {"values": {"payer": "x"}, "seen": {}}).status_code == 403
    assert desk.clerk.client.post(f"{desk.api}/stated", json={"values": {}}).status_code == 403


# --- the form has it all -------------------------------------------------------------------------

FORM = groups(None, ("a.toml",))


def test_the_form_has_every_entry_that_the_file_may_have() -> None:
    """Each field of JobDetails can be filled in: a new one can't be forgotten here."""
    values: dict[str, Any] = {}
    for group in FORM:
        for field in group.fields:
            typed: Any = {"day": "2031-04-07", "number": "5", "choice": "a.toml"}.get(field.shape, "GB")
            if field.shape == "rows":
                row = {column.key: "5" if column.shape == "number" else "wiper" for column in field.columns}
                typed = [{**row, "tax": ""}]
            wrong: dict[str, str] = {}
            values[field.key] = entry_of(field, typed, wrong)
            assert not wrong
    values.pop("customer.iban")
    details = job_details.details_of(job_details.overlaid(None, values, "the form"))
    empty = JobDetails()
    missing = [f for f in JobDetails.__dataclass_fields__ if getattr(details, f) == getattr(empty, f)]
    assert missing == []
    assert details.customer is not None
    customer = type(details.customer).__dataclass_fields__
    assert [f for f in customer if getattr(details.customer, f) is None] == ["iban"]


@given(st.dates().map(str), st.decimals(0, 100, places=2).map(str), st.text(max_size=60))
def test_what_is_typed_comes_back_from_the_file_that_it_makes(day: str, percent: str, text: str) -> None:
    wrong: dict[str, str] = {}
    typed = {"failed_on": day, "invoice.discount_percent": percent, "payer": text}
    entries = {}
    for key, value in typed.items():
        field = field_of(key, FORM)
        assert field is not None
        entries[key] = entry_of(field, value, wrong)
    assert not wrong
    table = job_details.overlaid(None, entries, "the form")
    back = job_details.entries_of(table)
    assert back == {key: value for key, value in entries.items() if value is not None}

"""What a claim lacks of what the office states, of prices, of time, and because of the workshop's other jobs.

Each case is the complete record with one thing planted, and exactly that gap.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal

import pytest
from checking_builders import clock, later
from complete_job import DETAILS, HEAD, PAIRS, POLICY, checked, complete, gaps, policy_of, record
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.checking.check import check
from jobnotes.office import office as offices
from jobnotes.office.office import Office
from jobnotes.office.standard_times import StandardTime, StandardTimes
from jobnotes.past import OtherWork, Past, PastJob
from jobnotes.record import Odometer


def test_the_office_dates_are_a_gap_each_but_no_reason_to_refuse():
    (gap,) = checked(record(complete()), details=None).claim_gaps
    assert (gap.rule, gap.severity) == ("dates-stated", "nice")
    for words in ("the day the warranty began", "the day of the failure", "the day of the claim"):
        assert words in gap.message
    (gap,) = checked(record(complete()), details=replace(DETAILS, failed_on=None)).claim_gaps
    assert "the day of the failure" in gap.message
    assert "claim," not in gap.message.split(".")[0]


@pytest.mark.parametrize(
    ("rule", "stated"),
    [
        ("dates-order", {"failed_on": date(2031, 3, 5)}),  # repaired on the 4th
        ("dates-order", {"claimed_on": date(2031, 3, 3)}),
        ("dates-order", {"in_service_on": date(2031, 3, 4)}),  # failed on the 3rd
        ("claim-in-time", {"claimed_on": date(2031, 4, 4)}),  # the 31st day
        ("identity-agrees", {"number": "5512"}),
        ("identity-agrees", {"vin": "9ZZWK2HG4N0300762"}),
    ],
)
def test_what_the_office_states_is_judged_too(rule, stated):
    assert gaps(record(complete()), details=replace(DETAILS, **stated)) == [rule]


@pytest.mark.parametrize(
    "stated",
    [
        {"failed_on": date(2031, 3, 4), "claimed_on": date(2031, 3, 4)},
        {"claimed_on": date(2031, 4, 3)},
        {"number": "5521", "vin": "9zzwk2hg4n 0300-761", "registration": "QQ00TST"},
    ],
)
def test_what_the_office_states_may_agree_with_what_was_said(stated):
    assert gaps(record(complete()), details=replace(DETAILS, **stated)) == []


def test_a_number_that_the_office_states_otherwise_is_named_with_the_one_said():
    details = replace(DETAILS, number="55-12")
    (gap,) = checked(record(complete()), details=details).claim_gaps
    assert "job number 5521 was said, 55-12 is stated by the office" in gap.message


def alike(**fields) -> PastJob:
    """An earlier job of the vehicle for the same fault, four weeks before."""
    past = PastJob("J1", date(2031, 2, 4), "5490", Odometer("216000", "km"), ("SPN 110 FMI 0",))
    return replace(past, **fields)


def other_work() -> OtherWork:
    return OtherWork("J2", (clock("start", later(90)), clock("stop", later(240))), "5522")


def test_a_vehicle_that_was_here_for_the_same_not_long_ago_is_a_gap():
    done = checked(record(complete()), past=Past((alike(),)))
    (gap,) = done.claim_gaps
    assert gap.rule == "not-repeated"
    assert "job 5490 of 2031-02-04 (28 days before, 2400 km ago): fault code SPN 110 FMI 0" in gap.message
    assert [e.job for e in done.earlier] == ["J1"]


def test_an_odometer_that_shows_less_than_before_is_a_gap():
    before = alike(codes=(), odometer=Odometer("218401", "km"))
    (gap,) = checked(record(complete()), past=Past((before,))).claim_gaps
    assert gap.rule == "odometer-rises"
    assert "218401 km at job 5490 of 2031-02-04" in gap.message
    for same in (Odometer("218400", "km"), Odometer("135707", "[mi_i]"), None):
        assert gaps(record(complete()), past=Past((replace(before, odometer=same),))) == []


def test_hours_on_two_clocks_are_a_gap():
    done = checked(record(complete()), past=Past(meanwhile=(other_work(),)))
    (gap,) = done.claim_gaps
    assert gap.rule == "labour-once"
    assert "0.58 h" in gap.message  # 09:30 to 10:05
    assert "job 5522" in gap.message
    assert any("job 5522" in remark for remark in done.labour_remarks)


def test_more_hours_than_the_standard_time_are_a_gap():
    office = Office(standard_times=StandardTimes((StandardTime("water pump", Decimal("1.8")),)))
    done = checked(record(complete()), office=office)
    (gap,) = done.claim_gaps
    assert gap.rule == "labour-standard"
    assert "2.0 h for water pump, standard 1.8 h" in gap.message
    assert [line.standard for line in done.labour] == [Decimal("1.8"), None]
    assert done.labour_remarks == ("water pump: 2.0 h said, standard time 1.8 h: 0.2 h more than standard",)


WORKSHOP = """
format = "jobnotes-workshop"
version = 1
[workshop]
name = "Sampleton Repairs"
[money]
currency = "EUR"
[[tax]]
name = "standard"
category = "S"
rate = "19"
[cover]
parts = { warranty = "100" }
"""
PRICES = "number,description,unit,price,tax,discount\n4471-20,Water pump,piece,210.00,,\n"
RATES = "operation,rate,tax\n*,80.00,\n"


def office_of(folder, prices=PRICES, rates=RATES) -> Office:
    for name, text in (("workshop.toml", WORKSHOP), ("prices.csv", prices), ("labour_rates.csv", rates)):
        (folder / name).write_text(text, "utf-8")
    return offices.load(folder)


def test_a_complete_job_with_all_its_prices_has_no_gap_and_a_total(tmp_path):
    given = {"office": office_of(tmp_path)}
    done = checked(record(complete()), **given)
    assert done.claim_gaps == ()
    assert (done.totals.net, done.totals.currency) == (Decimal("370.00"), "EUR")  # 210 and 2 × 80
    assert done.workshop.name == "Sampleton Repairs"
    assert checked(done, **given) == done
    # without the office's files at hand the money is kept
    assert checked(done) == done


@pytest.mark.parametrize(
    ("without_it", "named"),
    [
        (
            {"prices": PRICES.replace("4471-20", "9-9")},
            "water pump (number 4471-20 is not in the price list)",
        ),
        ({"rates": RATES.replace("*", "diagnosis")}, "water pump (there is no labour rate for water pump)"),
    ],
)
def test_a_charge_without_a_price_is_a_gap_that_names_it_and_says_why(tmp_path, without_it, named):
    done = checked(record(complete()), office=office_of(tmp_path, **without_it))
    (gap,) = done.claim_gaps
    assert gap.rule == "priced"
    assert gap.message.startswith(f"No price: {named}. ")
    assert done.totals is None


def test_a_policy_may_ask_for_prices_of_some_kinds_only(tmp_path):
    text = (
        HEAD
        + """
[[rule]]
id = "priced"
type = "priced"
kinds = ["part", "consumable"]
severity = "refused"
missing = "No price"
why = "There is no total."
remedy = "Add it."
"""
    )
    office = office_of(tmp_path, rates=RATES.replace("*", "diagnosis"))
    assert gaps(record(complete()), policy_of(tmp_path, text), office=office) == []


def test_a_question_about_the_charges_is_a_gap():
    rec = replace(record(complete()), charge_remarks=("4471-20 was said with two quantities",))
    (gap,) = checked(rec).claim_gaps
    assert gap.rule == "charges-clear"
    assert "two quantities" in gap.message


@pytest.mark.parametrize("basis", ["clock", "said"])
def test_a_clock_that_was_started_again_and_never_stopped_is_a_question_where_the_clock_is_charged(
    basis, tmp_path
):
    office = office_of(tmp_path)
    office = replace(office, workshop=replace(office.workshop, labour=basis))
    facts = complete()
    facts["again"] = clock("resume", later(130))
    done = checked(record(facts), office=office)
    told = [remark for remark in done.charge_remarks if "never stopped" in remark]
    assert len(told) == (basis == "clock")
    assert any("never stopped" in remark for remark in done.labour_remarks)


def test_checking_again_changes_nothing():
    given = {"past": Past((alike(),), (other_work(),))}
    done = checked(record(complete()), **given)
    assert checked(done, **given) == done
    # the office's dates are kept, as are customer and technician, where its file isn't at hand
    alone = checked(record(complete()))
    assert check(alone, policy=POLICY, pairs=PAIRS) == alone


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_whatever_is_missing_or_in_doubt_the_check_ends_and_changes_nothing_when_repeated(data):
    facts = complete()
    for name in list(facts):
        status = data.draw(st.sampled_from(["sure", "sure", "gone", "check", "rejected", "edited"]))
        if status == "gone":
            del facts[name]
        else:
            facts[name] = replace(facts[name], status=status)
    given_too = {"past": Past((alike(),), (other_work(),)), "office": Office(), "details": DETAILS}
    done = checked(record(facts), **given_too)
    assert checked(done, **given_too) == done
    ids = {fact.id for fact in facts.values() if fact.usable}
    assert {line_id for line in done.labour for line_id in line.fact_ids} <= ids
    assert {support.id for support in done.supports} <= ids | {photo.id for photo in done.photos}
    # nothing in doubt goes through in silence
    doubtful = any(fact.status == "check" for fact in facts.values())
    assert ("nothing-doubtful" in {gap.rule for gap in done.claim_gaps}) == doubtful

"""A complete record has no gaps; take one thing away and exactly that gap shows."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from checking_builders import fact, identity, later, part, remark, step
from complete_job import (
    PAIRS,
    POLICY,
    added,
    changed,
    checked,
    complete,
    gaps,
    reading,
    record,
    without,
)

from jobnotes.checking import policy
from jobnotes.checking.check import check
from jobnotes.record import Fact, FaultCode, Identity, Job, Measurement, Record, Shown, Support


def test_the_complete_record_has_no_gap():
    done = checked(record(complete()))
    assert done.claim_gaps == ()
    assert done.loose_ends == ()


PLANTED = [
    ("complaint", without("complaint")),
    ("cause", without("cause")),
    ("cause-named", changed("cause", failure=None)),
    ("correction", without("correction")),
    ("codes-gone", without("gone")),
    ("reading", changed("reading", limit=None)),
    ("reading-cause", changed("reading", subject="fuel rail")),
    ("causal-part", changed("fitted", name="drive belt")),
    ("causal-part-number", changed("fitted", number=None)),
    ("causal-part-quantity", changed("fitted", quantity=None)),
    ("parts-retained", without("kept")),
    ("vehicle", without("vin")),
    ("job-number", without("job")),
    ("odometer", without("odometer")),
    ("identity-agrees", added(identity("job_number", "5512"))),
    ("labour", without("labour")),
    ("labour-operations", changed("labour", operation=None)),
    ("labour-clock", changed("labour", hours=Decimal("2.5"))),
    ("labour-counted", without("stop")),
    ("nothing-doubtful", added(remark("belt could be worn", "advisory", status="check"))),
    ("no-loose-ends", added(step("disconnected", "fan plug"))),
]


@pytest.mark.parametrize(("rule", "plant"), PLANTED, ids=[rule for rule, _ in PLANTED])
def test_an_incomplete_record_has_exactly_the_gap_planted_in_it(rule, plant):
    facts = complete()
    plant(facts)
    rec = record(facts)
    if rule == "reading":
        facts["proof"] = reading("1.0", "cooling system", "within", limit=False)
        rec = record(facts)
    if rule == "causal-part":
        # another part went on in the pump's place, so the pump itself must be put back to leave no loose end
        facts["back"] = step("refitted", "water pump", at=later(17.5))
        rec = record(facts)
    assert gaps(rec) == [rule]


@pytest.mark.parametrize(
    ("rule", "photo"),
    [
        ("photo-plate", "plate"),
        ("photo-odometer", "odometer"),
        ("photo-failed-part", "old"),
        ("photo-new-part", "new"),
    ],
)
def test_a_photo_that_was_not_taken_is_a_gap(rule, photo):
    photos = tuple(p for p in ("plate", "odometer", "fault", "old", "new") if p != photo)
    assert gaps(record(complete(), photos)) == [rule]


def test_no_photo_of_the_fault_in_place_is_a_gap():
    facts = complete()
    changed("cue old", subject="the failed part")(facts)  # which could be any
    assert gaps(record(facts, ("plate", "odometer", "old", "new"))) == ["photo-fault"]


def test_a_repair_without_proof_is_a_gap():
    facts = complete()
    del facts["proof"]
    facts["gone"] = replace(facts["gone"], at=later(17.5))  # said before the coolant was back
    assert gaps(record(facts)) == ["proof"]


@pytest.mark.parametrize(
    ("value", "subject", "unit", "proves"),
    [
        ("0.95", "water pump", "bar", True),  # the limit said before was at least 0.9
        ("0.85", "water pump", "bar", False),
        ("0.95", "fuel rail", "bar", False),
        ("95", "water pump", "kPa", False),  # limits are compared only in the unit that they were said in
        ("0.95", None, "bar", False),
    ],
)
def test_a_limit_said_before_the_repair_holds_for_the_reading_after_it(value, subject, unit, proves):
    facts = complete()
    facts["gone"] = fact(FaultCode("SPN 110 FMI 0", state="cleared"), at=facts["gone"].at)
    facts["proof"] = replace(
        facts["proof"],
        detail=Measurement(Decimal(value), unit, "pressure", subject, ("engine running",)),
    )
    assert gaps(record(facts)) == ([] if proves else ["proof"])


def unsupported() -> dict[str, Fact]:
    """The same job with a cause that is only asserted: nothing else is about the pump."""
    facts = complete()
    del facts["finding"]
    facts["reading"] = reading("1.2", "fuel rail", "within", at=later(9))
    changed("code", spn=190, fmi=19, code="SPN 190 FMI 19")(facts)
    changed("cue fault", subject="the leak")(facts)
    changed("cue old", subject="the failed part")(facts)
    changed("cue new", subject="the new part")(facts)
    return facts


def test_a_cause_that_nothing_supports_is_a_gap():
    # and so there is no reading at what it names
    assert gaps(record(unsupported())) == ["cause-supported", "reading-cause"]


@pytest.mark.parametrize(
    ("support", "by", "left"),
    [
        (reading("0.4", "water pump", "outside"), "reading", []),
        (remark("coolant at the pump", "finding", "water pump", "leaking"), "finding", ["reading-cause"]),
        (
            fact(FaultCode("SPN 111 FMI 18", "J1939", 111, 18, state="stored")),
            "code",
            ["codes-gone", "reading-cause"],
        ),
    ],
    ids=["reading outside its limit", "finding there", "code whose failure mode fits"],
)
def test_one_thing_that_supports_the_cause_is_enough(support, by, left):
    facts = unsupported()
    facts["support"] = replace(support, at=later(20.5))
    done = checked(record(facts))
    assert done.supports == (Support(facts["cause"].id, support.id, by),)
    assert [gap.rule for gap in done.claim_gaps] == left


def test_a_photo_of_the_component_supports_the_cause():
    facts = unsupported()
    changed("cue fault", subject="the leak at the water pump")(facts)
    done = checked(record(facts))
    assert done.supports == (Support(facts["cause"].id, "P2", "photo"),)
    assert [gap.rule for gap in done.claim_gaps] == ["reading-cause"]


def test_every_cause_has_its_own_supports():
    facts = complete()
    facts["second"] = remark("the belt is worn", "cause", "drive belt", "worn", at=later(12.5))
    facts["seen"] = remark("cracks in the drive belt", "finding", "drive belt", "cracked", at=later(12.4))
    done = checked(record(facts))
    pump, belt = facts["cause"].id, facts["second"].id
    found = {(s.cause, s.id, s.by) for s in done.supports}
    assert (belt, facts["seen"].id, "finding") in found
    assert {(s, by) for cause, s, by in found if cause == pump} == {
        (facts["reading"].id, "reading"),
        (facts["finding"].id, "finding"),
        ("P2", "photo"),
        ("P3", "photo"),
    }  # not P4, which shows the new one
    assert not any(cause == belt for cause, s, _ in found if s == facts["finding"].id)


def borne_out_by(code: FaultCode, cause: Fact) -> bool:
    facts = unsupported()
    facts["cause"] = cause
    facts["support"] = fact(code, at=later(9.5))
    return any(support.by == "code" for support in checked(record(facts)).supports)


SPN_520 = FaultCode("SPN 520 FMI 5", "J1939", 520, 5, state="active")


@pytest.mark.parametrize(
    ("component", "borne_out"),
    [
        ("sensor cable", True),
        ("wiring harness", True),
        ("seal of the sensor connector", True),
        ("air hose", False),
        ("belt", False),
        (None, False),
    ],
)
def test_a_code_of_an_electric_circuit_bears_out_only_what_is_electric(component, borne_out):
    cause = remark(f"the {component} chafed through on the frame", "cause", component, "chafed", at=later(12))
    assert borne_out_by(SPN_520, cause) is borne_out


def test_a_code_that_is_gone_bears_nothing_out():
    cause = remark("the sensor cable chafed through", "cause", "sensor cable", "chafed", at=later(12))
    assert not borne_out_by(replace(SPN_520, state="cleared"), cause)


@pytest.mark.parametrize(("fmi", "borne_out"), [(7, True), (5, True), (18, True), (0, False)])
def test_a_code_may_fit_any_of_the_failures_that_a_cause_tells(fmi, borne_out):
    told = "the seal of the sensor connector leaked, water corroded the pins, and the rod seized"
    cause = remark(told, "cause", "seal of the sensor connector", "leaking", at=later(12))
    code = replace(SPN_520, code=f"SPN 520 FMI {fmi}", fmi=fmi)
    assert borne_out_by(code, cause) is borne_out


def test_a_reading_within_its_limit_supports_no_cause():
    facts = unsupported()
    facts["support"] = reading("1.0", "water pump", "within", at=later(9.5))
    assert gaps(record(facts)) == ["cause-supported"]


def test_no_notes_is_no_date():
    rec = replace(record(complete()), notes=())
    assert gaps(rec) == ["dates"]


def test_a_causal_part_that_was_only_heard_is_named_as_such():
    facts = complete()
    facts["fitted"] = replace(facts["fitted"], status="check", quote="fitted a new water pump")
    facts["other"] = part("fitted", "hose clamp", 2, at=facts["fitted"].at)
    found = {gap.rule: gap.message for gap in checked(record(facts)).claim_gaps}
    assert found["causal-part"].startswith(
        "What the cause names was fitted, but the statement needs a look: “fitted a new water pump”."
    )


IN_DOUBT = [
    ("vehicle", "vin", "The vehicle was read out, but needs a look"),
    ("odometer", "odometer", "The odometer or engine hours were read out, but need a look"),
    ("job-number", "job", "The job number was said, but needs a look"),
    ("complaint", "complaint", "The complaint was said, but needs a look"),
    ("labour", "labour", "The hours were said, but need a look"),
]


@pytest.mark.parametrize(("rule", "name", "heard"), IN_DOUBT)
def test_what_was_said_but_is_in_doubt_is_not_called_unsaid(rule, name, heard):
    facts = complete()
    facts[name] = replace(facts[name], quote="so and so", status="check", note="N3", start_s=67.9)
    (gap,) = [gap for gap in checked(record(facts)).claim_gaps if gap.rule == rule]
    assert gap.message.startswith(f"{heard}: “so and so” (N3 1:07). ")
    assert POLICY.rule(rule).missing not in gap.message
    assert gap.remedy.startswith("Listen to it, and accept or correct it. If it can't be made out: ")


def only_in_a_photo(told: Fact, quote: str) -> Fact:
    square = ((0.1, 0.1), (0.9, 0.1), (0.9, 0.9), (0.1, 0.9))
    shown = Shown("P2", "value", quote, quote, square)
    return replace(told, quote=quote, status="check", note=None, start_s=None, source="photo", shown=(shown,))


def test_nobody_is_told_to_listen_to_what_was_only_photographed():
    facts = complete()
    facts["odometer"] = only_in_a_photo(facts["odometer"], "418206 km")
    found = {gap.rule: gap for gap in checked(record(facts)).claim_gaps}
    gap = found["odometer"]
    assert gap.message.startswith("Only read in a photo, and it needs a look: “418206 km” (read in P2). ")
    assert gap.remedy.startswith("Look at the photo, and accept or correct it. If it can't be made out: ")
    assert "“418206 km” (read in P2)" in found["nothing-doubtful"].message
    assert "look at what was only read in a photo" in found["nothing-doubtful"].remedy


def test_what_was_said_in_doubt_and_photographed_too_is_heard_and_looked_at():
    facts = complete()
    facts["odometer"] = replace(facts["odometer"], status="check", note="N3", start_s=67.9)
    facts["seen"] = only_in_a_photo(replace(facts["odometer"], id="F900"), "418206 km")
    (gap,) = [gap for gap in checked(record(facts)).claim_gaps if gap.rule == "odometer"]
    assert gap.message.startswith("The odometer or engine hours were read out, but need a look: ")
    assert gap.remedy.startswith("Listen to it, look at the photo, and accept or correct it. ")


def test_number_and_quantity_that_were_said_in_doubt_are_not_called_unsaid():
    facts = complete()
    told = facts["fitted"]
    facts["again"] = replace(told, id="FX", status="check", quote="one new water pump number so", note="N2")
    facts["fitted"] = replace(told, detail=replace(told.detail, number=None, quantity=None))
    found = {gap.rule: gap.message for gap in checked(record(facts)).claim_gaps}
    for rule in ("causal-part-number", "causal-part-quantity"):
        assert "was said, but needs a look: “one new water pump number so” (N2)." in found[rule]
    facts["again"] = replace(facts["again"], detail=replace(told.detail, quantity=None))
    found = {gap.rule: gap.message for gap in checked(record(facts)).claim_gaps}
    assert found["causal-part-quantity"].startswith("Not said how many of the part that failed were fitted:")


def test_a_rule_of_a_workshop_that_names_no_such_words_tells_it_all_the_same(tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(
        'format = "jobnotes-claim-policy"\nversion = 1\n[[rule]]\nid = "v"\ntype = "job_has"\n'
        'any_of = ["vin"]\nseverity = "refused"\nmissing = "No VIN"\nwhy = "w"\nremedy = "Read it out."\n',
        "utf-8",
    )
    vin = identity("vin", "X", quote="vin so and so", status="check")
    rec = check(Record(Job(), facts=(vin,)), policy=policy.load(own), pairs=PAIRS)
    (gap,) = rec.claim_gaps
    assert gap.message == "Said, but it needs a look: “vin so and so”. w"
    assert gap.remedy.endswith("If it can't be made out: read it out.")


def test_a_causal_part_whose_failure_nobody_tells_is_a_gap():
    facts = complete()
    facts["second cause"] = remark("the thermostat housing", "cause", "thermostat housing", at=later(12.1))
    facts["seen"] = remark("coolant at the thermostat housing", "finding", "thermostat housing", at=later(12))
    facts["second part"] = part("fitted", "thermostat housing", 1, number="4471-33", at=later(16.2))
    (gap,) = checked(record(facts)).claim_gaps
    assert gap.rule == "causal-part-failure"
    assert "thermostat housing" in gap.message
    changed("seen", failure="cracked")(facts)
    assert gaps(record(facts)) == []


def test_a_registration_without_the_vehicle_identification_number_is_a_gap_to_be_closed_at_the_vehicle():
    facts = complete()
    facts["vin"] = replace(facts["vin"], detail=Identity("registration", "QQ00TST"))
    (gap,) = checked(record(facts)).claim_gaps
    assert (gap.rule, gap.severity, gap.fixable) == ("vin", "refused", "here")
    added(identity("vin", "9ZZWK2HG4N0300761", status="check"))(facts)
    told = {gap.rule: gap.message for gap in checked(record(facts)).claim_gaps}
    assert told["vin"].startswith("The vehicle identification number was read out, but needs a look")


def test_every_rule_that_ships_is_planted_in_a_test():
    by_hand = {"photo-plate", "photo-odometer", "photo-failed-part", "photo-new-part", "photo-fault"}
    by_hand |= {"proof", "cause-supported", "dates", "dates-stated", "dates-order", "claim-in-time"}
    by_hand |= {"not-repeated", "labour-once", "odometer-rises", "labour-standard", "priced", "charges-clear"}
    by_hand |= {"causal-part-failure", "part-reason", "cause-of-each", "vin"}
    assert {rule for rule, _ in PLANTED} | by_hand == {rule.id for rule in POLICY.rules}


def test_rules_about_codes_and_parts_are_not_asked_of_a_job_without_any():
    facts = complete()
    without("code", "gone", "fitted", "kept", "off", "cue old", "cue new")(facts)
    assert gaps(record(facts)) == []


# --- what counts ---------------------------------------------------------------------------------


def test_a_doubtful_fact_satisfies_no_rule_and_is_named():
    facts = complete()
    facts["complaint"] = replace(facts["complaint"], status="check")
    done = checked(record(facts))
    assert [g.rule for g in done.claim_gaps] == ["complaint", "nothing-doubtful"]
    # named by its words, which a person knows, not by its id
    assert f"“{facts['complaint'].quote}”" in done.claim_gaps[0].message
    assert facts["complaint"].id not in done.claim_gaps[0].message


def test_a_fact_that_a_person_accepted_satisfies_it():
    facts = complete()
    facts["complaint"] = replace(facts["complaint"], status="accepted")
    assert gaps(record(facts)) == []


def test_what_is_only_for_the_workshop_satisfies_no_rule():
    facts = complete()
    facts["complaint"] = replace(facts["complaint"], audience="workshop")
    assert gaps(record(facts)) == ["complaint"]


def test_gaps_come_worst_first_and_say_what_why_and_the_remedy():
    facts = complete()
    without("job", "kept", "correction")(facts)
    found = checked(record(facts)).claim_gaps
    assert [g.severity for g in found] == ["refused", "queried", "nice"]
    for gap in found:
        rule = POLICY.rule(gap.rule)
        assert gap.message.startswith(rule.missing)
        assert gap.message.endswith(rule.why)
        assert gap.remedy == rule.remedy


def test_a_code_that_is_named_again_as_cleared_is_gone():
    facts = complete()
    facts["gone"] = fact(FaultCode("SPN 110 FMI 0", state="cleared"), at=facts["gone"].at)
    assert gaps(record(facts)) == []


def test_a_causal_part_named_again_without_its_number_is_no_gap():
    facts = complete()
    facts["again"] = part("fitted", "new water pump", at=facts["correction"].at)
    facts["later proof"] = reading("1.0", "cooling system", "within", at=later(100))
    assert gaps(record(facts)) == []


def test_each_code_needs_its_own_absence():
    facts = complete()
    facts["gone"] = fact(FaultCode("SPN 110 FMI 0", state="cleared"), at=facts["gone"].at)
    facts["second"] = fact(FaultCode("P0299", state="stored"), at=later(8.5))
    (gap,) = checked(record(facts)).claim_gaps
    assert gap.rule == "codes-gone"
    assert "P0299" in gap.message
    assert "SPN" not in gap.message


def test_checking_keeps_customer_and_technician_and_forgets_what_no_fact_says_any_more():
    facts = complete()
    rec = replace(record(facts), job=Job(number="old", customer="A customer", technician="A technician"))
    del facts["job"]
    done = check(replace(rec, facts=tuple(facts.values())), policy=POLICY, pairs=PAIRS)
    assert (done.job.customer, done.job.technician, done.job.number) == (
        "A customer",
        "A technician",
        None,
    )


def test_an_empty_record_is_checked_with_what_ships():
    done = check(Record(Job()))
    assert {"complaint", "cause", "correction", "labour"} <= {g.rule for g in done.claim_gaps}

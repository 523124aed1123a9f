"""A complete record has no gaps; take one thing away and exactly that gap shows."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from checking_builders import clock, fact, hours, identity, later, note, part, remark, step

from jobnotes.checking import pairs, policy
from jobnotes.checking.check import check
from jobnotes.errors import JobnotesError
from jobnotes.record import (
    Fact,
    FaultCode,
    Job,
    Limit,
    Measurement,
    Photo,
    PhotoCue,
    Record,
)

PAIRS, POLICY = pairs.load(), policy.load()


def reading(value, subject, verdict, *, limit=True, conditions=("engine off",), **changes) -> Fact:
    return fact(
        Measurement(
            Decimal(value),
            "bar",
            "pressure",
            subject,
            conditions,
            Limit(min=Decimal("0.9")) if limit else None,
            verdict,
        ),
        **changes,
    )


def complete() -> dict[str, Fact]:
    """A water pump on a coach, told as a clerk would like it, by name and in order."""
    facts = {
        "start": clock("start", later(0)),
        "job": identity("job_number", "5521"),
        "vin": identity("vin", "9ZZWK2HG4N0300761"),
        "odometer": identity("odometer", "218400", "km"),
        "cue plate": fact(PhotoCue("identity plate")),
        "cue odometer": fact(PhotoCue("odometer")),
        "complaint": remark("driver reports coolant loss and a hot engine", "complaint"),
        "code": fact(FaultCode("SPN 110 FMI 0", "J1939", 110, 0, state="active")),
        "reading": reading("0.4", "water pump", "outside"),
        "finding": remark(
            "coolant runs out of the weep hole of the water pump", "finding", "water pump", "leaking"
        ),
        "cue fault": fact(PhotoCue("the leak at the water pump")),
        "cause": remark(
            "the shaft seal of the water pump is worn and leaking", "cause", "water pump", "leaking"
        ),
        "drained": step("drained", "coolant", 20, "L"),
        "off": step("removed", "water pump"),
        "cue old": fact(PhotoCue("the failed pump")),
        "fitted": part("fitted", "water pump", 1, number="4471-20"),
        "cue new": fact(PhotoCue("the new pump")),
        "filled": step("filled", "coolant", 20, "L"),
        "proof": reading("1.0", "cooling system", "within"),
        "gone": remark("codes did not return", "finding"),
        "kept": remark("failed part tagged and kept", "finding"),
        "correction": remark("replaced the water pump", "correction"),
        "labour": hours("2.0", "water pump"),
        "stop": clock("stop", later(125)),
    }
    return {name: f if f.at else replace(f, at=later(1 + n)) for n, (name, f) in enumerate(facts.items())}


def record(
    facts: dict[str, Fact], photos: tuple[str, ...] = ("plate", "odometer", "fault", "old", "new")
) -> Record:
    taken = tuple(
        Photo(
            f"P{n}",
            f"{name}.jpg",
            "0",
            later(5 + n),
            "EXIF",
            4,
            3,
            fact_ids=(facts[f"cue {name}"].id,),
            linked_by="cue",
        )
        for n, name in enumerate(photos)
        if f"cue {name}" in facts
    )
    return Record(Job(), notes=(note("N1", later(0), 8000),), photos=taken, facts=tuple(facts.values()))


def gaps(rec: Record, rules: policy.Policy = POLICY) -> list[str]:
    return [gap.rule for gap in check(rec, policy=rules, pairs=PAIRS).claim_gaps]


def test_the_complete_record_has_no_gap():
    checked = check(record(complete()), policy=POLICY, pairs=PAIRS)
    assert checked.claim_gaps == ()
    assert checked.loose_ends == ()


def without(*names):
    def change(facts):
        for name in names:
            del facts[name]

    return change


def changed(which, **fields):
    def change(facts):
        facts[which] = replace(facts[which], detail=replace(facts[which].detail, **fields))

    return change


def added(new):
    def change(facts):
        facts["added"] = replace(new, at=later(30))

    return change


PLANTED = [
    ("complaint", without("complaint")),
    ("cause", without("cause")),
    ("cause-named", changed("cause", failure=None)),
    ("correction", without("correction")),
    ("codes-gone", without("gone")),
    ("reading", changed("reading", limit=None)),
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
    facts["gone"] = replace(facts["gone"], at=later(13.2))  # said before the last part went on
    assert gaps(record(facts)) == ["proof"]


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
    assert gaps(record(unsupported())) == ["cause-supported"]


@pytest.mark.parametrize(
    "support",
    [
        reading("0.4", "water pump", "outside"),
        remark("coolant at the pump", "finding", "water pump", "leaking"),
        fact(FaultCode("SPN 111 FMI 18", "J1939", 111, 18, state="cleared")),
    ],
    ids=["reading outside its limit", "finding there", "code whose failure mode fits"],
)
def test_one_thing_that_supports_the_cause_is_enough(support):
    facts = unsupported()
    facts["support"] = replace(support, at=later(9.5))
    assert gaps(record(facts)) == []


def test_a_photo_of_the_component_supports_the_cause():
    facts = unsupported()
    changed("cue fault", subject="the leak at the water pump")(facts)
    assert gaps(record(facts)) == []


def test_a_reading_within_its_limit_supports_no_cause():
    facts = unsupported()
    facts["support"] = reading("1.0", "water pump", "within", at=later(9.5))
    assert gaps(record(facts)) == ["cause-supported"]


def test_no_notes_is_no_date():
    rec = replace(record(complete()), notes=())
    assert gaps(rec) == ["dates"]


def test_every_rule_that_ships_is_planted_in_a_test():
    by_hand = {"photo-plate", "photo-odometer", "photo-failed-part", "photo-new-part", "photo-fault"}
    by_hand |= {"proof", "cause-supported", "dates"}
    assert {rule for rule, _ in PLANTED} | by_hand == {rule.id for rule in POLICY.rules}


def test_rules_about_codes_and_parts_are_not_asked_of_a_job_without_any():
    facts = complete()
    without("code", "gone", "fitted", "kept", "off", "cue old", "cue new")(facts)
    assert gaps(record(facts)) == []


# --- what counts ---------------------------------------------------------------------------------


def test_a_doubtful_fact_satisfies_no_rule_and_is_named():
    facts = complete()
    facts["complaint"] = replace(facts["complaint"], status="check")
    checked = check(record(facts), policy=POLICY, pairs=PAIRS)
    assert [g.rule for g in checked.claim_gaps] == ["complaint", "nothing-doubtful"]
    # named by its words, which a person knows, not by its id
    assert f"“{facts['complaint'].quote}”" in checked.claim_gaps[0].message
    assert facts["complaint"].id not in checked.claim_gaps[0].message


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
    found = check(record(facts), policy=POLICY, pairs=PAIRS).claim_gaps
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
    (gap,) = check(record(facts), policy=POLICY, pairs=PAIRS).claim_gaps
    assert gap.rule == "codes-gone"
    assert "P0299" in gap.message
    assert "SPN" not in gap.message


def test_checking_again_changes_nothing():
    checked = check(record(complete()), policy=POLICY, pairs=PAIRS)
    assert check(checked, policy=POLICY, pairs=PAIRS) == checked


def test_checking_keeps_customer_and_technician_and_forgets_what_no_fact_says_any_more():
    facts = complete()
    rec = replace(record(facts), job=Job(number="old", customer="A customer", technician="A technician"))
    del facts["job"]
    checked = check(replace(rec, facts=tuple(facts.values())), policy=POLICY, pairs=PAIRS)
    assert (checked.job.customer, checked.job.technician, checked.job.number) == (
        "A customer",
        "A technician",
        None,
    )


def test_an_empty_record_is_checked_with_what_ships():
    checked = check(Record(Job()))
    assert {"complaint", "cause", "correction", "labour"} <= {g.rule for g in checked.claim_gaps}


# --- a workshop's own policy ---------------------------------------------------------------------

HEAD = 'format = "jobnotes-claim-policy"\nversion = 1\n'
RULE = """
[[rule]]
id = "limit"
type = "within_distance"
value = "200000"
severity = "refused"
missing = "Beyond the warranty's distance"
why = "It ended there."
remedy = "Ask the payer for goodwill."
"""


def write(folder, text, name="own.toml"):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def test_an_own_policy_includes_the_shipped_one_replaces_and_drops(tmp_path):
    own = RULE.replace('"limit"', '"job-number"')
    path = write(tmp_path, HEAD + 'include = ["default"]\ndrop = ["photo-new-part"]\n' + own)
    rules = policy.load(path)
    shipped = [r.id for r in POLICY.rules]
    assert [r.id for r in rules.rules] == [r for r in shipped if r != "photo-new-part"]
    assert gaps(record(complete(), ("plate", "odometer", "fault", "old")), rules) == ["job-number"]


def test_an_own_policy_may_stand_alone_or_on_another_beside_it(tmp_path):
    write(tmp_path, HEAD + RULE, "base.toml")
    path = write(tmp_path, HEAD + 'include = ["base.toml"]\n')
    assert gaps(record(complete()), policy.load(path)) == ["limit"]


@pytest.mark.parametrize(
    ("value", "unit", "met"),
    [
        ("218400", "km", True),
        ("218399", "km", False),
        ("135708", "[mi_i]", True),
        ("135707", "[mi_i]", False),
    ],
)
def test_distance_is_compared_in_one_unit(tmp_path, value, unit, met):
    """218,400 km are 135,707.5 international miles (1 mi = 1,609.344 m exactly, NIST SP 811 appendix B.8)."""
    text = RULE.replace('"200000"', f'"{value}"\nunit = "{unit}"')
    found = gaps(record(complete()), policy.load(write(tmp_path, HEAD + text)))
    assert found == ([] if met else ["limit"])


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ("format = ", 1, "not TOML"),
        ('format = "other"\nversion = 1\n', None, "not a claim policy"),
        (HEAD + "colour = 1\n", 3, "unknown key 'colour'"),
        (HEAD + 'include = ["nowhere.toml"]\n', 3, "isn't there"),
        (HEAD + "include = 4\n", 3, "list of names"),
        (HEAD + 'drop = ["nothing"]\n', 3, "unknown rule 'nothing'"),
        (HEAD + RULE.replace('id = "limit"\n', ""), 4, "no id"),
        (HEAD + RULE.replace('"within_distance"', '"magic"'), 5, "unknown type 'magic'"),
        (HEAD + RULE.replace('"refused"', '"bad"'), 5, "unknown severity 'bad'"),
        (HEAD + RULE.replace('why = "It ended there."\n', ""), 5, "why is missing"),
        (HEAD + RULE.replace('value = "200000"\n', ""), 5, "value is missing"),
        (HEAD + RULE.replace('"200000"', '"far"'), 5, "not a number"),
        (HEAD + RULE + 'unit = "furlong"\n', 5, "unknown 'furlong'"),
        (HEAD + RULE + "when = ['sunny']\n", 5, "unknown condition"),
        (HEAD + RULE + "size = 4\n", 5, "unknown key 'size'"),
        (HEAD + RULE + RULE, 5, "stands there twice"),
        (
            HEAD + RULE.replace('"within_distance"\nvalue = "200000"', '"needs_kind"\nkinds = ["mood"]'),
            5,
            "'mood'",
        ),
        (
            HEAD + RULE.replace('"within_distance"\nvalue = "200000"', '"needs_kind"\nkinds = "cause"'),
            5,
            "list of words",
        ),
    ],
)
def test_a_bad_policy_is_one_line_with_file_line_and_remedy(tmp_path, text, line, words):
    path = write(tmp_path, text)
    with pytest.raises(JobnotesError) as caught:
        policy.load(path)
    assert caught.value.subject == (f"{path}, line {line}" if line else str(path))
    assert words in caught.value.reason
    assert caught.value.remedy
    assert "\n" not in str(caught.value)


def test_policies_that_include_each_other_are_refused(tmp_path):
    write(tmp_path, HEAD + 'include = ["own.toml"]\n', "base.toml")
    with pytest.raises(JobnotesError, match="includes itself"):
        policy.load(write(tmp_path, HEAD + 'include = ["base.toml"]\n'))


def test_a_policy_that_is_not_there_or_not_text_is_refused(tmp_path):
    with pytest.raises(JobnotesError, match="no such claim policy"):
        policy.load(tmp_path / "none.toml")
    (tmp_path / "own.toml").write_bytes(b"\xff\xfe\x00")
    with pytest.raises(JobnotesError, match="UTF-8"):
        policy.load(tmp_path / "own.toml")
    with pytest.raises(JobnotesError, match="can't be read"):
        policy.load(tmp_path)

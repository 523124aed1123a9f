"""Each part in a claim has its reason: one that nothing names beside one that was explained is a gap."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from checking_builders import later, part, remark, step
from complete_job import checked, complete, gaps, record

from jobnotes.checking.reasons import borne_by_payer
from jobnotes.record import Charge, Fact, Measurement, Record, Share


def with_hose(*more: Fact, **changes: object) -> Record:
    """The water pump's job with an air hose beside it, which nothing in the job speaks of."""
    facts = complete()
    hose = part("fitted", "air hose", 1, number="206 G51", quote="fitted a new air hose", at=later(16.2))
    facts["hose"] = replace(hose, **changes)
    for n, fact in enumerate(more):
        facts[f"more {n}"] = fact if fact.at else replace(fact, at=later(9 + n / 10))
    return record(facts)


def test_a_part_that_nothing_names_is_a_gap_that_can_be_closed_at_the_vehicle() -> None:
    (gap,) = checked(with_hose()).claim_gaps
    assert (gap.rule, gap.fixable) == ("part-reason", "here")
    assert gap.message.startswith("Nothing says why these parts were replaced: air hose.")
    assert gap.remedy


@pytest.mark.parametrize(
    "reason",
    [
        remark("the air hose is chafed through", "cause", "air hose", "chafed"),
        remark("the pipe to the dryer has chafed", "finding", "pipe", None),  # a pipe is a hose
        remark("driver says the hose hisses", "complaint"),
        remark("replaced the water pump and the split air hose", "correction", "water pump", "split"),
    ],
    ids=["cause", "what the trade calls alike", "complaint", "correction with its failure"],
)
def test_a_part_that_a_cause_a_finding_or_a_complaint_names_is_explained(reason: Fact) -> None:
    assert not {"part-reason", "cause-of-each"} & set(gaps(with_hose(reason)))


def test_a_reading_explains_a_part_only_outside_its_limit() -> None:
    def drop(verdict: str) -> Fact:
        detail = Measurement(Decimal("1.1"), "bar", "pressure", "air hose", ("engine off",), None, verdict)
        return replace(remark("x"), detail=detail)

    assert gaps(with_hose(drop("outside"))) == []
    assert gaps(with_hose(drop("within"))) == ["part-reason"]


@pytest.mark.parametrize("name", ["gasket", "hose clamp", "cable ties", "bolts", "oil filter", "engine oil"])
def test_what_is_renewed_along_with_a_component_needs_no_reason_of_its_own(name: str) -> None:
    detail = replace(part("fitted", name, 1).detail, number="1")
    assert gaps(with_hose(detail=detail)) == []


def test_a_part_fitted_to_something_that_came_off_or_told_with_its_reason_is_explained() -> None:
    off = step("removed", "torque arm", at=later(15))
    back = step("refitted", "torque arm", at=later(17))
    into = replace(part("fitted", "bushes", 2, quote="fitted two new bushes in the torque arm"), at=later(16))
    assert gaps(with_hose(off, back, detail=into.detail, quote=into.quote)) == []
    assert gaps(with_hose(quote="a new air hose because it had oil all over it")) == []


def test_where_nothing_explains_any_part_the_cause_is_what_is_asked_for() -> None:
    facts = complete()
    facts["fitted"] = replace(facts["fitted"], detail=replace(facts["fitted"].detail, name="drive belt"))
    facts["back"] = step("refitted", "water pump", at=later(17.5))
    assert gaps(record(facts)) == ["causal-part"]


def test_what_the_customer_pays_needs_no_reason_for_the_payer() -> None:
    hose = part("fitted", "air hose")
    line = Charge(
        "C1", "part", "air hose", Decimal(1), "1", (hose.id,), shares=(Share("customer", Decimal(9)),)
    )
    assert not borne_by_payer(hose, (line,))
    assert borne_by_payer(hose, (replace(line, shares=(*line.shares, Share("warranty", Decimal(1)))),))
    assert borne_by_payer(hose, ())


def test_a_reason_that_was_said_in_doubt_is_to_be_looked_at() -> None:
    maybe = remark("the air hose may have chafed", "finding", "air hose", "chafed", status="check")
    told = {gap.rule: gap.message for gap in checked(with_hose(maybe)).claim_gaps}
    assert told["part-reason"].startswith("Why a part was replaced was said, but needs a look: ")


def test_a_second_failure_whose_part_was_fitted_needs_a_cause_too() -> None:
    split = remark("the air hose is split at the air bag", "finding", "air hose", "split")
    (gap,) = checked(with_hose(split)).claim_gaps
    assert (gap.rule, gap.fixable) == ("cause-of-each", "here")
    assert "air hose" in gap.message
    cause = remark("the air hose chafed through on the frame", "cause", "air hose", "chafed")
    bears = remark("the air hose is split", "finding", "air hose", "split", at=later(8))
    assert "cause-of-each" not in gaps(with_hose(split, cause, bears))


def test_a_failure_that_was_only_noted_needs_no_cause() -> None:
    facts = complete()
    facts["noted"] = remark("the right air bag is perished", "finding", "air bag", "perished", at=later(9))
    assert gaps(record(facts)) == []

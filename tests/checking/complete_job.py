"""A job told as a clerk would like it, for the tests that take one thing away."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from checking_builders import clock, fact, hours, identity, later, note, part, remark, step

from jobnotes.checking import pairs, policy
from jobnotes.checking.check import check
from jobnotes.office.job import JobDetails
from jobnotes.record import Fact, FaultCode, Job, Limit, Measurement, Photo, PhotoCue, Record

PAIRS, POLICY = pairs.load(), policy.load()
DETAILS = JobDetails(in_service_on=date(2029, 6, 1), failed_on=date(2031, 3, 3), claimed_on=date(2031, 3, 6))


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


def checked(rec: Record, rules: policy.Policy = POLICY, **given: object) -> Record:
    """The record after the check, with the office's dates unless other details are given."""
    return check(rec, **{"policy": rules, "pairs": PAIRS, "details": DETAILS, **given})


def gaps(rec: Record, rules: policy.Policy = POLICY, **given: object) -> list[str]:
    return [gap.rule for gap in checked(rec, rules, **given).claim_gaps]


def without(*names: str):
    def change(facts: dict[str, Fact]) -> None:
        for name in names:
            del facts[name]

    return change


def changed(which: str, **fields: object):
    def change(facts: dict[str, Fact]) -> None:
        facts[which] = replace(facts[which], detail=replace(facts[which].detail, **fields))

    return change


def added(new: Fact):
    def change(facts: dict[str, Fact]) -> None:
        facts["added"] = replace(new, at=later(30))

    return change


# --- policies ------------------------------------------------------------------------------------

HEAD = 'format = "jobnotes-claim-policy"\nversion = 1\n'


def policy_of(folder: Path, text: str, name: str = "own.toml") -> policy.Policy:
    """The policy that this text makes, in a file of the folder."""
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return policy.load(path)

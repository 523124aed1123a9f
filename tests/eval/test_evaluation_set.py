"""The evaluation set itself keeps the shape that its README promises, so that a score means something."""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
import vininfo
from score import SETS

HERE = Path(__file__).parent
Session = dict[str, Any]
Facts = Iterator[tuple[Session, dict[str, Any]]]

QUANTITY_OF_UNIT = {
    **dict.fromkeys(("Ohm", "kOhm", "MOhm", "mOhm"), "resistance"),
    **dict.fromkeys(("V", "mV"), "voltage"),
    **dict.fromkeys(("A", "mA"), "current"),
    **dict.fromkeys(("bar", "mbar", "kPa", "[psi]"), "pressure"),
    **dict.fromkeys(("Cel", "[degF]"), "temperature"),
    **dict.fromkeys(("N.m", "[ft_i].[lbf_av]", "[in_i].[lbf_av]"), "torque"),
    **dict.fromkeys(("mm", "cm", "m", "[in_i]", "[mil_i]"), "length"),
    **dict.fromkeys(("km", "[mi_i]"), "distance"),
    **dict.fromkeys(("L", "mL", "[gal_us]", "[qt_us]"), "volume"),
    **dict.fromkeys(("mg", "g", "kg"), "mass"),
    **dict.fromkeys(("h", "min", "s", "ms"), "time"),
    "/min": "rotational speed",
    **dict.fromkeys(("m/s", "km/h", "[mi_i]/h"), "speed"),
    **dict.fromkeys(("Hz", "kHz"), "frequency"),
    **dict.fromkeys(("%", "[ppm]"), "ratio"),
    "deg": "angle",
    **dict.fromkeys(("L/min", "mL/min"), "flow rate"),
    **dict.fromkeys(("N", "kN"), "force"),
}
STATEMENTS = {"complaint", "cause", "correction", "finding", "advisory", "loose_end", "hazard"}
IDENTITY = {"job_number", "registration", "vin", "odometer", "engine_hours"}
KINDS = {"fault_code", "measurement", "part", "step", "labour", "clock", "photo_cue"} | STATEMENTS | IDENTITY
COMMON_KEYS = {
    "line", "kind", "text_has", "may_check", "must_check", "optional", "status", "audience", "also_kinds",
}  # fmt: skip
OWN_KEYS = {
    "fault_code": {"code", "state", "count", "ecu_has"},
    "measurement": {"value", "unit", "quantity", "limit", "limit_may", "verdict", "conditions_has"},
    "part": {"action", "quantity", "unit", "number", "serial"},
    "step": {"action", "quantity", "unit"},
    "labour": {"hours"},
    "clock": {"action"},
    **{kind: {"value", "unit"} for kind in IDENTITY},
}
NUMBER = re.compile(r"-?\d+(\.\d+)?")
# the contract's canonical forms; the letters and digits of ISO 15031-6, the failure-type byte of ISO 14229
CODE = re.compile(r"SPN \d+ FMI \d+|[PCBU][0-3][0-9A-F]{3}(-[0-9A-F]{2})?|\d+")


def load(split: str) -> list[Session]:
    return [json.loads(line) for line in (HERE / f"{split}.jsonl").read_text("utf-8").splitlines()]


DEV, ASIDE = load("dev"), load("aside")
ALL = DEV + ASIDE
# written after the first rules, by other authors: the same shape, their own purpose (see README.md)
LATER = {name: load(name) for name in SETS if name not in ("dev", "aside")}
EVERY = ALL + [session for sessions in LATER.values() for session in sessions]


def facts(*, kept: bool = True, among: list[Session] = EVERY) -> Facts:
    """Every listed fact with its session; `kept` leaves out what was taken back."""
    for session in among:
        for fact in session["facts"]:
            if not kept or fact.get("status") != "rejected":
                yield session, fact


def where(session: Session, fact: dict[str, Any]) -> str:
    return f"{session['id']} line {fact['line']}: {session['lines'][fact['line']]!r}"


def words(text: str) -> str:
    return " ".join(re.sub(r"[^a-z0-9' ]", " ", text.lower()).split())


def test_it_holds_enough_utterances_over_enough_kinds_of_repair() -> None:
    assert sum(len(s["lines"]) for s in ALL) >= 360
    assert len({s["repair"] for s in ALL}) >= 9
    assert {"truck", "bus", "coach", "trailer", "refuse vehicle", "plant"} <= {s["vehicle"] for s in ALL}


def test_a_third_is_kept_aside_and_every_kind_of_repair_is_on_both_sides() -> None:
    aside, everything = sum(len(s["lines"]) for s in ASIDE), sum(len(s["lines"]) for s in ALL)
    assert 0.3 <= aside / everything <= 0.4
    assert {s["repair"] for s in ASIDE} == {s["repair"] for s in DEV}
    assert all(s["split"] == "dev" for s in DEV)
    assert all(s["split"] == "aside" for s in ASIDE)


def test_sessions_have_unique_ids_and_no_utterance_is_on_both_sides() -> None:
    assert max(Counter(s["id"] for s in EVERY).values()) == 1
    lines = [{words(u) for s in side for u in s["lines"] if len(u.split()) > 4} for side in (DEV, ASIDE)]
    assert not lines[0] & lines[1]


def test_all_later_sets_are_to_work_with_by_now() -> None:
    assert {s["split"] for sessions in LATER.values() for s in sessions} == {"dev"}


@pytest.mark.parametrize("session", EVERY, ids=lambda s: s["id"])
def test_a_session_is_well_formed(session: Session) -> None:
    assert set(session) <= {
        "id", "repair", "vehicle", "split", "style", "speakable", "lines", "facts", "no_facts",
        "private_lines", "private_words", "open_at_end",
    }  # fmt: skip
    assert session["style"] in {"words", "digits", "mixed", "misheard"}
    assert session["speakable"] is (session["style"] != "misheard")
    assert 3 <= len(session["lines"]) <= 18
    assert all(u == u.strip() and u for u in session["lines"])
    if session["style"] == "words":
        assert not re.search(r"[0-9.;:]", " ".join(session["lines"])), "numbers in words, no full stops"
    for index in session.get("private_lines", []):
        assert 0 <= index < len(session["lines"])
    for word in session.get("private_words", []):
        assert word in words(" ".join(session["lines"])).split()
    for entry in session["no_facts"]:
        assert entry["kind"] in KINDS | {"*", "work"}
        assert 0 <= entry["line"] < len(session["lines"])


def test_every_fact_has_the_keys_of_its_kind_and_no_others() -> None:
    for session, fact in facts(kept=False):
        own = OWN_KEYS.get(fact["kind"], set())
        assert fact["kind"] in KINDS, where(session, fact)
        assert set(fact) <= COMMON_KEYS | own, where(session, fact)
        assert 0 <= fact["line"] < len(session["lines"])
        assert isinstance(fact["may_check"], bool)
        assert fact["may_check"] or not fact.get("must_check"), where(session, fact)
        assert fact.get("status") in (None, "rejected")
        assert set(fact.get("also_kinds", [])) <= KINDS - {fact["kind"]}
        if fact["kind"] in STATEMENTS and not fact.get("optional"):
            assert fact["text_has"], where(session, fact)


def test_units_and_quantities_belong_together_and_numbers_are_plain() -> None:
    for session, fact in facts(kept=False):
        if fact["kind"] == "measurement":
            assert QUANTITY_OF_UNIT[fact["unit"]] == fact["quantity"], where(session, fact)
        elif "unit" in fact:
            assert fact["unit"] in QUANTITY_OF_UNIT, where(session, fact)
        numbers = [fact.get("hours"), *fact.get("limit", {}).values()]
        numbers += [fact.get("value")] if fact["kind"] in ("measurement", "odometer", "engine_hours") else []
        numbers += [fact.get("quantity")] if fact["kind"] in ("part", "step") else []
        assert all(NUMBER.fullmatch(n) for n in numbers if n is not None), where(session, fact)


def test_a_verdict_is_what_value_and_limit_say() -> None:
    for session, fact in facts(kept=False):
        limit = fact.get("limit", {})
        bounds = {k: Decimal(v) for k, v in limit.items() if k in ("min", "max")}
        assert ("verdict" in fact) == bool(bounds), where(session, fact)
        if bounds:
            value = Decimal(fact["value"])
            inside = bounds.get("min", value) <= value <= bounds.get("max", value)
            assert fact["verdict"] == ("within" if inside else "outside"), where(session, fact)


def test_codes_are_canonical_and_within_the_bounds_of_their_standard() -> None:
    for session, fact in facts(kept=False):
        if fact["kind"] != "fault_code":
            continue
        assert CODE.fullmatch(fact["code"]), where(session, fact)
        if fact["code"].startswith("SPN"):
            spn, fmi = (int(n) for n in re.findall(r"\d+", fact["code"]))
            # SAE J1939-73: 19 bits and 5 bits; what breaks them must not be sure
            assert (spn < 2**19 and fmi < 2**5) or fact["must_check"], where(session, fact)


def test_whole_vehicle_identification_numbers_have_the_right_check_digit() -> None:
    """Against package vininfo, which computes the check digit of 49 CFR 565."""
    numbers = {f["value"] for _, f in facts() if f["kind"] == "vin" and len(f["value"]) == 17}
    assert len(numbers) >= 5
    for number in numbers:
        assert vininfo.Vin(number).verify_checksum(check_year=False), number


def test_registrations_are_of_no_real_vehicle() -> None:
    """I and Q are not used together in the area codes of the plates imitated here (from memory)."""
    assert all(f["value"].startswith("QI") for _, f in facts(kept=False) if f["kind"] == "registration")


def test_key_words_were_really_said() -> None:
    for session, fact in facts():
        if session["speakable"]:
            said = words(" ".join(session["lines"]))
            for entry in fact.get("text_has", []):
                assert any(words(a) in said for a in entry.split("|")), (where(session, fact), entry)


SPOKEN_NUMBER = re.compile(
    r"\b(\d[\d.,]*|zero|oh|nought|naught|point|one|two|three|four|five|six|seven|eight|nine|niner|ten|"
    r"eleven|twelve|\w+teen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred|thousand|double|"
    r"half|quarters?|and a|alfa|bravo|charlie|delta|echo|foxtrot|golf|hotel|india|juliet|kilo|lima|mike|"
    r"november|oscar|papa|quebec|romeo|sierra|tango|uniform|victor|whisky|x-ray|zulu)\b"
)


def phrasings(chosen: list[tuple[Session, dict[str, Any]]]) -> set[str]:
    """The utterances with numbers and the facts' own key words taken out: ways of saying it."""
    found = set()
    for session, fact in chosen:
        text = session["lines"][fact["line"]].lower()
        for entry in fact.get("text_has", []):
            for alternative in entry.split("|"):
                text = text.replace(alternative, "~")
        found.add(" ".join(words(SPOKEN_NUMBER.sub(" ", text)).split()))
    return found


def test_each_kind_of_fact_is_phrased_in_at_least_six_ways() -> None:
    by_kind: dict[str, list[tuple[Session, dict[str, Any]]]] = defaultdict(list)
    for session, fact in facts(among=ALL):
        by_kind[fact["kind"]].append((session, fact))
        if fact["kind"] in ("part", "clock") and isinstance(fact["action"], str):
            by_kind[f"{fact['kind']} {fact['action']}"].append((session, fact))
        for key in ("number", "serial", "count", "state", "ecu_has", "conditions_has"):
            if key in fact:
                by_kind[f"{fact['kind']} with {key}"].append((session, fact))
        if "limit" in fact:
            bounds = "+".join(sorted(fact["limit"]))
            by_kind[f"limit {bounds}"].append((session, fact))
    expected = KINDS | {f"part {a}" for a in ("fitted", "removed", "reused", "ordered", "consumed")}
    expected |= {f"clock {a}" for a in ("start", "pause", "resume", "stop")}
    expected |= {"limit max", "limit min", "limit max+min", "limit nominal"}
    expected |= {"part with number", "part with serial", "fault_code with state", "fault_code with count"}
    few = {kind: len(phrasings(by_kind[kind])) for kind in expected if len(phrasings(by_kind[kind])) < 6}
    assert not few


def test_speech_as_it_really_comes_is_there_on_both_sides() -> None:
    for side in (DEV, ASIDE):
        listed = [f for s in side for f in s["facts"]]
        assert sum(f.get("status") == "rejected" for f in listed) >= 6, "corrections"
        assert sum(bool(f.get("must_check")) for f in listed) >= 4, "repairs inside a number or a code"
        assert sum(len(s["no_facts"]) for s in side) >= 25, "negations, plans, questions, distractors"
        assert sum(len(s.get("private_lines", [])) for s in side) >= 2
        assert any(s.get("private_words") for s in side)
        assert {s["style"] for s in side} == {"words", "digits", "mixed", "misheard"}
        assert sum("open_at_end" in s for s in side) >= 6

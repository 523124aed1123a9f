"""Decisions at the desk: kept with who, when, before and after; refused where the page was out of date."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_jobs import Desk, desk_with_job, send_note
from hypothesis import given
from hypothesis import strategies as st
from vininfo import Vin

from jobnotes.documents import wording
from jobnotes.reading.trade.files import load
from jobnotes.record import FaultCode, Identity, LabourSaid, Limit, Measurement, Part, PhotoCue, Step
from jobnotes.serve.fact_forms import KINDS, FormError, detail_of, fields_of, values_of

TRADE = load()


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = desk_with_job(tmp_path, photos=2)
    yield made
    made.web.app.state.store.close()


@pytest.fixture(scope="module")
def untouched(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A job on which nothing may have been decided when a test is done."""
    made = desk_with_job(tmp_path_factory.mktemp("untouched"), 0, 2)
    yield made
    made.web.app.state.store.close()


# --- each action ---------------------------------------------------------------------------------


def test_accepting_settles_what_was_doubtful(desk: Desk) -> None:
    doubtful = desk.fact("measurement", 1)
    assert doubtful["status"] == "check"
    desk.decide("accept", doubtful)
    now = desk.with_id(doubtful["id"])
    assert (now["status"], now["decided_by"], "why" in now) == ("accepted", "Office desk", False)
    assert datetime.fromisoformat(now["decided_at"]).tzinfo is not None


def test_rejecting_leaves_it_in_the_record_and_accepting_brings_it_back(desk: Desk) -> None:
    part = desk.fact("part")
    desk.decide("reject", part)
    assert desk.fact("part")["status"] == "rejected"
    desk.decide("accept", desk.fact("part"))
    assert desk.fact("part")["status"] == "accepted"


def test_editing_changes_what_it_says_and_leaves_what_was_heard(desk: Desk) -> None:
    reading = desk.fact("measurement")
    values = {**reading["fields"], "value": "12.60", "min": "12.4", "conditions": "engine off\ncold"}
    desk.decide("edit", reading, kind="measurement", values=values)
    now = desk.with_id(reading["id"])
    limit = "limit at least 12.4\u00a0V (as stated): within limit"
    assert now["text"] == f"Voltage 12.60\u00a0V at battery, engine off, cold, {limit}"
    assert (now["status"], now["quote"], now["start_s"]) == ("edited", reading["quote"], reading["start_s"])


def test_an_edit_may_make_it_another_kind_and_keep_it_in_the_workshop(desk: Desk) -> None:
    finding = desk.fact("finding")
    values = {"text": "the lift pump seal was worn", "component": "lift pump", "failure": "worn"}
    desk.decide("edit", finding, kind="cause", values=values, audience="workshop")
    now = desk.with_id(finding["id"])
    assert (now["kind"], now["audience"], now["group"]) == ("cause", "workshop", "decided")


def test_a_statement_can_be_added_by_hand(desk: Desk) -> None:
    answer = desk.ask("add", kind="labour", values={"hours": "1.5", "operation": "repair"})
    (new,) = answer.json()["facts"]
    now = desk.with_id(new)
    assert (now["status"], now["text"], now["quote"]) == ("accepted", "1.5 h: repair", "")


def test_a_clock_added_by_hand_needs_its_time(desk: Desk) -> None:
    without = desk.ask("add", kind="clock", values={"action": "start"})
    assert (without.status_code, without.json()["fields"]) == (400, {"at": "is missing"})
    naive = desk.ask("add", kind="clock", values={"action": "start"}, at="2031-04-07T08:00")
    assert (naive.status_code, list(naive.json()["fields"])) == (400, ["at"])
    desk.decide("add", kind="clock", values={"action": "start"}, at="2031-04-07T08:00+01:00")
    desk.decide("add", kind="clock", values={"action": "stop"}, at="2031-04-07T10:30+01:00")
    assert desk.fact("clock")["at"] == "2031-04-07T08:00:00+01:00"


def test_a_photo_moves_from_one_statement_to_another(desk: Desk) -> None:
    reading, part = desk.fact("measurement"), desk.fact("part")
    desk.decide("move_photo", reading, photo="P2", to=part["id"], seen_to=part["seen"])
    assert (desk.fact("measurement")["photos"], desk.fact("part")["photos"]) == (["P1"], ["P2"])
    assert desk.fact("part")["status"] == part["status"]


def test_a_photo_moves_to_no_statement_and_back(desk: Desk) -> None:
    desk.decide("move_photo", desk.fact("measurement"), photo="P2")
    photo = desk.state()["photos"][1]
    assert (photo["fact_ids"], "linked_by" in photo) == ([], False)
    part = desk.fact("part")
    desk.decide("move_photo", photo="P2", to=part["id"], seen_to=part["seen"])
    assert desk.fact("part")["photos"] == ["P2"]


def test_a_photo_moves_to_a_statement_that_was_added_by_hand(desk: Desk) -> None:
    desk.decide("add", kind="advisory", values={"text": "the belt is worn"})
    advisory, reading = desk.fact("advisory"), desk.fact("measurement")
    desk.decide("move_photo", reading, photo="P1", to=advisory["id"], seen_to=advisory["seen"])
    assert desk.fact("advisory")["photos"] == ["P1"]


def test_combining_leaves_one_statement_with_the_photos_of_both(desk: Desk) -> None:
    send_note(desk, 50, 6)  # the battery once more
    first, second = desk.fact("measurement", 2), desk.fact("measurement", 0)
    values = {**first["fields"], "value": "12.7"}
    desk.decide(
        "merge", first, other=second["id"], seen_other=second["seen"], kind="measurement", values=values
    )
    kept, gone = desk.with_id(first["id"]), desk.with_id(second["id"])
    assert (kept["fields"]["value"], kept["status"], kept["photos"]) == ("12.7", "edited", ["P1", "P2"])
    assert (gone["status"], gone["superseded_by"], gone["photos"]) == ("rejected", first["id"], [])


def test_splitting_gives_two_statements_with_one_evidence(desk: Desk) -> None:
    part = desk.fact("part")
    desk.decide(
        "split",
        part,
        first={"kind": "part", "values": {**part["fields"], "name": "lift pump"}},
        second={"kind": "part", "values": {"name": "seal ring", "action": "fitted", "quantity": "2"}},
    )
    new = desk.with_id(f"{part['id']}.2")
    assert (new["text"], new["quote"], new["start_s"]) == (
        "Fitted: 2 × seal ring",
        part["quote"],
        part["start_s"],
    )
    assert {desk.with_id(part["id"])["group"], new["group"]} == {"decided"}


# --- history and undo ----------------------------------------------------------------------------


def test_the_history_says_who_when_before_and_after(desk: Desk) -> None:
    part = desk.fact("part")
    desk.decide("edit", part, kind="part", values={**part["fields"], "number": "999"})
    desk.decide("reject", desk.fact("finding"))
    latest, first = desk.history()
    assert [latest["action"], first["action"]] == ["reject", "edit"]
    assert {latest["who"], first["who"]} == {"Office desk"}
    assert latest["at"] > first["at"]
    (change,) = first["changes"]
    assert change["before"]["text"] == part["text"]
    assert change["after"]["text"] == "Fitted: lift pump, number 999"


def test_undo_brings_back_what_was_and_stays_in_the_history(desk: Desk) -> None:
    before = desk.state()["facts"]
    desk.decide("accept", desk.fact("measurement", 1))
    assert desk.undo().status_code == 200
    assert desk.state()["facts"] == before
    undone, accepted = desk.history()
    assert (undone["action"], undone["undoes"], undone["counts"]) == ("undo", "accept", True)
    assert not accepted["counts"]


def test_an_undo_can_be_undone(desk: Desk) -> None:
    desk.decide("reject", desk.fact("part"))
    assert desk.undo().status_code == 200
    assert desk.fact("part")["status"] == "sure"
    assert desk.undo().status_code == 200
    assert desk.fact("part")["status"] == "rejected"


@pytest.mark.parametrize("action", ["move_photo", "merge", "split"])
def test_undo_takes_back_all_of_what_was_done_in_one_go(desk: Desk, action: str) -> None:
    before = desk.state()["facts"]
    reading, part = desk.fact("measurement"), desk.fact("part")
    statement = {"kind": "finding", "values": {"text": "half of it"}}
    more: dict[str, Any] = {
        "move_photo": {"photo": "P1", "to": part["id"], "seen_to": part["seen"]},
        "merge": {"other": part["id"], "seen_other": part["seen"]},
        "split": {"first": statement, "second": statement},
    }[action]
    assert desk.decide(action, reading, **more)["facts"] != before
    assert desk.history()[0]["action"] == action
    assert desk.undo().status_code == 200
    assert desk.state()["facts"] == before


def test_what_a_later_decision_builds_on_is_not_undone_before_it(desk: Desk) -> None:
    part = desk.fact("part")
    desk.decide("edit", part, kind="part", values={**part["fields"], "number": "999"})
    desk.decide("reject", desk.fact("part"))
    refused = desk.undo(at=1)
    assert refused.status_code == 409
    assert "later decision" in refused.json()["error"]
    assert desk.undo(at=0).status_code == 200
    assert desk.undo(at=2).status_code == 200
    assert desk.fact("part") == part


def test_undoing_twice_is_refused(desk: Desk) -> None:
    desk.decide("reject", desk.fact("part"))
    number = desk.history()[0]["decision"]
    assert desk.ask("undo", decision=number).status_code == 200
    assert desk.ask("undo", decision=number).status_code == 409


# --- refusals ------------------------------------------------------------------------------------


def test_a_decision_on_what_has_changed_since_is_refused_and_it_is_shown_anew(desk: Desk) -> None:
    old = desk.fact("part")
    desk.decide("edit", old, kind="part", values={**old["fields"], "number": "999"})
    refused = desk.ask("accept", old)
    assert refused.status_code == 409
    shown = next(f for f in refused.json()["state"]["facts"] if f["id"] == old["id"])
    assert shown["fields"]["number"] == "999"
    assert len(desk.history()) == 1
    desk.decide("accept", shown)


def test_a_decision_counts_even_if_another_note_was_heard_meanwhile(desk: Desk) -> None:
    part = desk.fact("part")
    send_note(desk, 10, 5)  # renumbers the notes
    desk.decide("accept", part)
    assert desk.with_id(part["id"])["status"] == "accepted"


def test_a_photo_whose_number_is_another_photos_by_now_is_not_moved(untouched: Desk) -> None:
    refused = untouched.ask("move_photo", untouched.fact("measurement"), photo="P1", sha256="00" * 32)
    assert refused.status_code == 409


def test_a_rejected_statement_takes_no_photo_and_is_not_combined(desk: Desk) -> None:
    desk.decide("reject", desk.fact("part"))
    gone, reading = desk.fact("part"), desk.fact("measurement")
    to = {"to": gone["id"], "seen_to": gone["seen"]}
    assert desk.ask("move_photo", reading, photo="P1", **to).status_code == 400
    other = {"other": gone["id"], "seen_other": gone["seen"]}
    assert desk.ask("merge", reading, **other).status_code == 400
    assert desk.ask("merge", reading, other=reading["id"], seen_other=reading["seen"]).status_code == 400


@pytest.mark.parametrize(
    "asked",
    [
        {},
        {"action": "destroy"},
        {"action": ["accept"]},
        {"action": "accept"},
        {"action": "accept", "fact": {"a": 1}, "seen": 3},
        {"action": "add"},
        {"action": "add", "kind": "nonsense", "values": {}},
        {"action": "add", "kind": "part", "values": []},
        {"action": "add", "kind": ["part"], "values": {"name": 3}},
        {"action": "add", "kind": "finding", "values": {"text": "x"}, "audience": "the world"},
        {"action": "add", "kind": "finding", "values": {"text": "x"}, "at": "9999-12-31T23:59:59-23:59"},
        {"action": "split", "first": 1, "second": None},
        {"action": "undo", "decision": True},
        {"action": "undo", "decision": 10**30},
        {"action": "move_photo", "photo": None},
    ],
)
def test_what_makes_no_sense_is_refused_in_one_line_and_nothing_is_stored(
    untouched: Desk, asked: dict[str, Any]
) -> None:
    answer = untouched.clerk.post(f"{untouched.api}/decisions", asked)
    assert answer.status_code in (400, 409)
    assert "\n" not in answer.json()["error"]
    assert untouched.history() == []


def test_a_technician_decides_nothing(untouched: Desk) -> None:
    technician = untouched.web.pair("technician", "phone two")
    untouched.clerk.post(f"{untouched.api}/devices", {"device": technician.id})
    part = untouched.fact("part")
    asked = {"action": "reject", "fact": part["id"], "seen": part["seen"]}
    assert technician.post(f"{untouched.api}/decisions", asked).status_code == 403
    assert technician.get(f"{untouched.api}/decisions").status_code == 403
    assert technician.get(f"{untouched.api}/documents/claim.docx").status_code == 403
    assert untouched.history() == []


def test_without_the_sessions_token_nothing_is_decided(untouched: Desk) -> None:
    part = untouched.fact("part")
    asked = {"action": "reject", "fact": part["id"], "seen": part["seen"]}
    assert untouched.clerk.client.post(f"{untouched.api}/decisions", json=asked).status_code == 403
    assert untouched.history() == []


# --- forms ---------------------------------------------------------------------------------------


def test_each_kind_has_a_form_with_its_own_fields(untouched: Desk) -> None:
    forms = untouched.clerk.get(f"{untouched.api}/forms").json()
    assert [form["kind"] for form in forms] == list(KINDS)
    names = {form["kind"]: [field["name"] for field in form["fields"]] for form in forms}
    assert names["part"] == ["name", "action", "quantity", "unit", "number", "serial", "condition"]


@pytest.mark.parametrize("kind", KINDS)
def test_a_field_that_is_needed_is_missed_by_name(kind: str) -> None:
    needed = {field.name for field in fields_of(kind, TRADE, wording.load()) if field.needed}
    if not needed:
        assert detail_of(kind, {}, TRADE) == PhotoCue()
        return
    with pytest.raises(FormError) as wrong:
        detail_of(kind, {}, TRADE)
    assert set(wrong.value.fields) == needed


@pytest.mark.parametrize(
    ("written", "code"),
    [
        # SAE J1939-73: SPN 102 is the engine's intake manifold pressure; FMI 18 is below normal, moderate
        ("spn102 fmi18", FaultCode("SPN 102 FMI 18", "J1939", 102, 18, TRADE.fmi[18])),
        ("SPN 524287 / FMI 31", FaultCode("SPN 524287 FMI 31", "J1939", 524287, 31, TRADE.fmi[31])),
        ("SPN 102", FaultCode("SPN 102", "J1939", 102)),
        # ISO 15031-6
        ("p0299", FaultCode("P0299", TRADE.dtc_system["P"])),
        ("P2080 64", FaultCode("P2080-64", TRADE.dtc_system["P"])),
        ("E-4711", FaultCode("E-4711", "maker")),
    ],
)
def test_a_code_is_brought_to_its_canonical_form(written: str, code: FaultCode) -> None:
    assert detail_of("fault_code", {"code": written}, TRADE) == code


@pytest.mark.parametrize(
    "written", ["SPN 524288 FMI 1", "SPN 102 FMI 32", "SPN x", "P02", "P4299", "P029999"]
)
def test_a_code_that_is_none_is_refused(written: str) -> None:
    with pytest.raises(FormError) as wrong:
        detail_of("fault_code", {"code": written}, TRADE)
    assert list(wrong.value.fields) == ["code"]


@pytest.mark.parametrize("written", ["12,5", "312,480", "1e3", "twelve", "NaN", "12.", ".5", "1" * 30, "٣"])
def test_a_number_that_could_be_read_otherwise_is_refused(written: str) -> None:
    with pytest.raises(FormError) as wrong:
        detail_of("measurement", {"value": written, "unit": "V"}, TRADE)
    assert list(wrong.value.fields) == ["value"]


@pytest.mark.parametrize(
    ("value", "low", "high", "verdict"),
    [("4.7", "4.8", "", "outside"), ("4.8", "4.8", "5.2", "within"), ("5.3", "", "5.2", "outside")],
)
def test_a_verdict_is_worked_out_anew(value: str, low: str, high: str, verdict: str) -> None:
    filled = {"value": value, "unit": "V", "min": low, "max": high, "verdict": "within"}
    measured = detail_of("measurement", filled, TRADE)
    assert isinstance(measured, Measurement)
    assert measured.verdict == verdict


def test_limits_the_wrong_way_round_are_refused() -> None:
    with pytest.raises(FormError) as wrong:
        detail_of("measurement", {"value": "1", "unit": "V", "min": "3", "max": "2"}, TRADE)
    assert list(wrong.value.fields) == ["max"]


def test_a_vehicle_identification_number_is_seventeen_characters() -> None:
    # seventeen ones pass the check digit of 49 CFR 565.15 (from memory); vininfo is the reference
    detail = detail_of("vin", {"value": "1111 1111 1111 1111 1"}, TRADE)
    assert isinstance(detail, Identity)
    assert Vin(detail.value).verify_checksum()
    for wrong in ("1" * 16, "1" * 18, "I" + "1" * 16, "1" * 16 + "O", "Q" + "1" * 16, "1" * 16 + "-"):
        with pytest.raises(FormError):
            detail_of("vin", {"value": wrong}, TRADE)


numbers = st.decimals(0, 99999, places=3, allow_nan=False).filter(lambda value: value > 0)
texts = st.text(st.characters(codec="utf-8", categories=("L", "N", "P", "S")), min_size=1, max_size=60)
limits = st.builds(Limit, min=st.none(), max=numbers, nominal=st.none() | numbers, source=st.just("said"))


@given(
    st.one_of(
        st.builds(
            Part,
            name=texts,
            action=st.sampled_from(["fitted", "removed", "reused", "ordered", "consumed"]),
            quantity=st.none() | numbers,
            unit=st.none() | st.sampled_from(["L", "kg"]),
            number=st.none() | texts,
            condition=st.sampled_from([None, "new", "used"]),
        ),
        st.builds(Step, action=texts, object=texts, quantity=st.none() | numbers),
        st.builds(LabourSaid, hours=numbers, operation=st.none() | texts),
    )
)
def test_what_a_form_shows_is_what_it_gives_back(detail: Any) -> None:
    kind = {Part: "part", Step: "step", LabourSaid: "labour"}[type(detail)]
    assert detail_of(kind, values_of(detail), TRADE) == detail


@given(numbers, limits, st.lists(texts, max_size=3))
def test_a_reading_comes_back_from_its_form(value: Decimal, limit: Limit, conditions: list[str]) -> None:
    measured = Measurement(value, "V", "voltage", "battery", tuple(conditions), limit)
    again = detail_of("measurement", values_of(measured), TRADE)
    assert isinstance(again, Measurement)
    assert (again.value, again.conditions, again.limit) == (value, tuple(conditions), limit)
    if limit.max is not None:
        assert again.verdict == ("within" if value <= limit.max else "outside")

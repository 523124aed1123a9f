"""What a page shows of a job is the record as the whole flow would derive it, with every decision in it."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from dataclasses import replace
from decimal import Decimal
from pathlib import Path
from typing import Any

import pytest
from desk_jobs import Desk, desk_with_job, send_note, started
from PIL import Image
from served import wav

from jobnotes import pipeline, record
from jobnotes.documents import wording
from jobnotes.library.library import Library
from jobnotes.record import Record
from jobnotes.serve import state


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    made = desk_with_job(tmp_path, photos=2)
    yield made
    made.web.app.state.store.close()


def shown_and_derived(desk: Desk) -> tuple[Record, Record]:
    """The record as the page has it, and as the pipeline derives it from the folder with all decisions."""
    settings, job = desk.web.settings, desk.web.app.state.store.job(desk.job)
    with Library.open(settings.library) as library:
        now = state.current(settings, library, job)
        assert now is not None
        workshop = settings.load_workshop()
        heard = pipeline.listen(
            settings.given(desk.job), library, settings.recogniser(), settings.tzinfo(), workshop=workshop
        )
        derived = pipeline.concluded(heard, library, workshop)
    return now.record, derived.record


def test_the_doubtful_come_first_then_the_least_certain_then_what_is_decided(desk: Desk) -> None:
    part = desk.fact("part")
    facts = desk.decide("accept", part)["facts"]
    groups = [f["group"] for f in facts]
    assert groups == sorted(groups, key=("check", "sure", "decided", "taken_back").index)
    assert facts[0]["kind"] == "measurement"
    assert facts[0]["why"]
    sure = [f["confidence"] for f in facts if f["group"] == "sure"]
    assert sure == sorted(sure)
    assert facts[-1]["id"] == part["id"]


def test_each_fact_shows_its_words_its_seconds_and_its_photos(desk: Desk) -> None:
    reading = desk.fact("measurement")
    assert reading["text"] == "Voltage 12.6\u00a0V at battery, no limit given"
    assert reading["quote"] == "battery at twelve point six volts"
    assert (reading["note"], reading["start_s"], reading["end_s"]) == ("N1", 0.0, pytest.approx(2.3))
    assert reading["photos"] == ["P1", "P2"]


def test_a_time_that_is_in_doubt_says_so_wherever_it_is_shown_in_the_documents_words(desk: Desk) -> None:
    shown = desk.state()
    assert not any("time_doubt" in one for one in (*shown["notes"], *shown["facts"]))
    settings, job = desk.web.settings, desk.web.app.state.store.job(desk.job)
    with Library.open(settings.library) as library:
        now = state.current(settings, library, job)
        assert now is not None
    first, *rest = now.record.notes
    photo, *others = now.record.photos
    doubted = replace(
        now.record,
        notes=(replace(first, started_at_doubt="file time"), *rest),
        photos=(replace(photo, taken_at_doubt="camera clock"), *others),
    )
    told = wording.load("en")
    by_file, by_camera = told.name("time_doubt", "file time"), told.name("time_doubt", "camera clock")
    for fact in doubted.facts:
        page = state.fact_shown(fact, doubted, told)
        assert page.get("time_doubt") == (by_file if fact.note == first.id else None)
    page = state.shown(replace(now, record=doubted), job, desk.web.app.state.store, settings)
    assert [note.get("time_doubt") for note in page["notes"]] == [by_file] + [None] * len(rest)
    assert page["photos"][0]["time_doubt"] == by_camera


def test_after_any_decisions_the_record_is_the_one_that_the_pipeline_derives(desk: Desk) -> None:
    desk.decide("accept", desk.fact("measurement", 1))
    desk.decide("reject", desk.fact("fault_code"))
    part = desk.fact("part")
    desk.decide("edit", part, kind="part", values={**part["fields"], "number": "4567892"})
    desk.decide("add", kind="cause", values={"text": "the seal was worn", "component": "lift pump"})
    reading, finding = desk.fact("measurement"), desk.fact("finding")
    desk.decide("move_photo", reading, photo="P1", to=finding["id"], seen_to=finding["seen"])
    finding = desk.fact("finding")
    desk.decide(
        "split",
        finding,
        first={"kind": "finding", "values": {"text": "the seal was leaking"}},
        second={"kind": "cause", "values": {"text": "the lift pump seal was worn"}},
    )
    assert desk.undo(4).status_code == 200
    shown, derived = shown_and_derived(desk)
    assert shown.facts == derived.facts
    assert shown == derived


def test_a_new_run_keeps_every_decision_and_every_id(desk: Desk) -> None:
    desk.decide("accept", desk.fact("measurement", 1))
    desk.decide("reject", desk.fact("fault_code"))
    before = {f["id"]: (f["status"], f["text"]) for f in desk.state()["facts"]}
    send_note(desk, 10, 5)  # earlier than all others, so that every note's number changes
    after = {f["id"]: (f["status"], f["text"]) for f in desk.state()["facts"]}
    assert desk.fact("part")["note"] == "N4"
    assert before.items() <= after.items()
    assert len(after) > len(before)


def test_a_photo_that_was_moved_stays_moved_when_its_number_changes(desk: Desk) -> None:
    reading, part = desk.fact("measurement"), desk.fact("part")
    moved = desk.state()["photos"][0]["sha256"]
    desk.decide("move_photo", reading, photo="P1", to=part["id"], seen_to=part["seen"])
    technician = desk.web.pair("technician", "another phone")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    picture = io.BytesIO()
    Image.new("RGB", (40, 30), "navy").save(picture, "JPEG")
    assert technician.send(desk.job, picture.getvalue(), started_at=started(12)).status_code == 200
    desk.web.hear()
    photo = next(p for p in desk.state()["photos"] if p["sha256"] == moved)
    assert (photo["id"], photo["fact_ids"], photo["linked_by"]) == ("P2", [part["id"]], "person")


def test_what_is_not_heard_yet_is_told(tmp_path: Path) -> None:
    desk = desk_with_job(tmp_path, 0)
    technician = desk.web.pair("technician", "another phone")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    technician.send(desk.job, wav(3, seed=9), started_at=started(40))
    assert [n["status"] for n in desk.state()["notes"]] == ["heard", "waiting"]
    desk.web.hear()
    assert [n["status"] for n in desk.state()["notes"]] == ["heard", "heard"]


def test_a_job_without_anything_heard_has_a_state_too(tmp_path: Path) -> None:
    desk = desk_with_job(tmp_path, 0)
    desk.job = desk.clerk.open_job(registration="QQ00 TST")
    empty = desk.state()
    assert (empty["facts"], empty["notes"], empty["draft"]) == ([], [], True)
    assert empty["job"] == {"registration": "QQ00 TST"}


def test_a_page_that_has_the_state_is_not_sent_it_again(desk: Desk) -> None:
    first = desk.clerk.get(f"{desk.api}/state")
    asked = {"headers": {"If-None-Match": first.headers["ETag"]}}
    assert desk.clerk.get(f"{desk.api}/state", **asked).status_code == 304
    desk.decide("accept", desk.fact("part"))
    assert desk.clerk.get(f"{desk.api}/state", **asked).status_code == 200


def test_gaps_and_loose_ends_stand_beside_the_facts_by_severity(desk: Desk) -> None:
    gaps = [gap["severity"] for gap in desk.state()["claim_gaps"]]
    assert gaps == sorted(gaps, key=("refused", "queried", "nice").index)
    desk.decide("add", kind="step", values={"action": "drained", "object": "coolant"})
    (end,) = desk.state()["loose_ends"]
    assert (end["text"], end["certain"]) == ("coolant still drained", True)


def test_a_decision_changes_the_gaps_at_once(desk: Desk) -> None:
    asked = {gap["rule"] for gap in desk.state()["claim_gaps"]}
    after = desk.decide("add", kind="complaint", values={"text": "the driver says it lacks power"})
    assert asked - {gap["rule"] for gap in after["claim_gaps"]} != set()


def test_the_saved_record_the_list_and_the_search_follow_a_decision(desk: Desk) -> None:
    part = desk.fact("part")
    desk.decide("edit", part, kind="part", values={**part["fields"], "number": "ZX-900"})
    (row,) = (j for j in desk.clerk.get("/api/jobs").json() if j["id"] == desk.job)
    assert row["to_check"] == desk.state()["counts"]["check"]
    (found,) = desk.clerk.get("/api/search", params={"q": "zx900"}).json()
    assert found["facts"][0]["fact"] == part["id"]
    saved: dict[str, Any] = json.loads((desk.web.settings.out(desk.job) / "record.json").read_text("utf-8"))
    assert [f["number"] for f in saved["facts"] if f["kind"] == "part"] == ["ZX-900"]


def test_a_photo_that_proves_little_is_named_before_anything_is_heard(tmp_path: Path) -> None:
    """The vehicle is still there then. What is wrong is measured when the page asks, and once."""
    desk = desk_with_job(tmp_path, 0)
    technician = desk.web.pair("technician", "another phone")
    desk.clerk.post(f"{desk.api}/devices", {"device": technician.id})
    dark = io.BytesIO()
    Image.effect_noise((1600, 1200), 90).point(lambda value: value // 8).save(dark, "JPEG")
    assert technician.send(desk.job, dark.getvalue(), started_at=started(20)).status_code == 200
    (waiting,) = [photo for photo in desk.state()["photos"] if photo["status"] == "waiting"]
    assert waiting["flaws"] == ["too dark"]
    assert waiting["remark"] == "too dark: take it again, more light on it"
    desk.web.app.state.store.close()


def test_a_part_number_reads_at_the_desk_as_in_the_documents() -> None:
    part = record.Part("air hose", "fitted", Decimal(1), None, "206G51", None, "new")
    fact = record.Fact("F1", part, "hose two oh six golf five one", 0.9, "sure")
    charge = record.Charge("C1", "part", "air hose", Decimal(1), "1", ("F1",), "206 G51", Decimal("36.75"))
    told = record.Record(record.Job(), facts=(fact,), charges=(charge,))
    shown = state.fact_shown(fact, told, wording.load())
    assert "206 G51" in shown["text"]
    assert shown["fields"]["number"] == "206G51", "what a person would edit is what was said"

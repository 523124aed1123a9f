"""A job that `jobnotes run` made is the same job at the desk: one record, one set of decisions."""

from __future__ import annotations

import json
import shutil
import threading
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from desk_jobs import Desk, make_desk_recogniser
from served import Served, jpeg, served, wav

from jobnotes import pipeline, record_json
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.pipeline import Outcome
from jobnotes.record import Record


@dataclass
class Ran(Desk):
    """A desk at a job of `jobnotes run`, and the folder that it was run on."""

    folder: Path
    out: Path
    library_job: str = ""

    def run(self) -> Outcome:
        settings = self.web.settings
        with Library.open(settings.library) as library:
            done = pipeline.run(
                self.folder, self.out, library, make_desk_recogniser(), UTC, workshop=settings.load_workshop()
            )
        self.library_job = done.job
        return done

    def saved(self) -> Record:
        with Library.open(self.web.settings.library) as library:
            stored = library.record(self.library_job)
        assert stored is not None
        return record_json.from_json(json.loads(stored.text))


def folder_in(root: Path, levels: tuple[int, ...] = (0, 1, 2, 3, 4)) -> Path:
    """A folder with notes of those loudnesses (see SAID), a minute apart, and a photo after the first."""
    job = root / "job"
    job.mkdir(parents=True)
    for at, level in enumerate(levels):
        (job / f"20310407_08{15 + at:02}00.wav").write_bytes(wav(level, seed=at))
    (job / "20310407_081505.jpg").write_bytes(jpeg())
    return job


def at_desk(root: Path, web: Served | None = None) -> Ran:
    """A desk at the job that was run on `root`/job, or is now."""
    web = web or served(root / "library", make_recogniser=make_desk_recogniser)
    ran = Ran(web, web.pair("clerk", "Office desk"), "", root / "job", root / "out")
    if not ran.out.exists():
        ran.run()
    (row,) = ran.clerk.get("/api/jobs").json()
    ran.job = row["id"]
    ran.library_job = web.app.state.store.job(ran.job).library_job
    return ran


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A job that was run; each test has a copy."""
    root = tmp_path_factory.mktemp("once")
    folder_in(root)
    at_desk(root).web.app.state.store.close()
    return root


@pytest.fixture
def ran(once: Path, tmp_path: Path) -> Iterator[Ran]:
    shutil.copytree(once, tmp_path / "ran")
    made = at_desk(tmp_path / "ran")
    yield made
    made.web.app.state.store.close()


def test_it_is_in_the_list_and_in_the_search_and_can_be_opened(ran: Ran) -> None:
    (row,) = ran.clerk.get("/api/jobs").json()
    assert (row["notes"], row["waiting"], row["to_check"]) == (5, 0, 1)
    assert row["opened_at"].startswith("2031-04-07T08:15")
    (found,) = ran.clerk.get("/api/search", params={"q": "lift pump"}).json()
    assert found["id"] == ran.job
    assert f"/desk/{ran.job}" in ran.clerk.get("/desk").text
    assert ran.clerk.get(f"/desk/{ran.job}").status_code == 200


def test_it_is_shown_as_it_was_run(ran: Ran) -> None:
    state = ran.state()
    assert {f["id"]: f["status"] for f in state["facts"]} == {f.id: f.status for f in ran.saved().facts}
    assert [n["file"] for n in state["notes"]] == [n.file for n in ran.saved().notes]
    reading = ran.fact("measurement", 1)
    assert ran.clerk.get(f"{ran.api}/notes/{reading['note']}/sound?from=0&to=1").status_code == 200
    assert ran.clerk.get(f"{ran.api}/photos/P1").headers["content-type"] == "image/jpeg"


def test_what_was_decided_at_the_desk_is_in_the_next_run_and_its_documents(ran: Ran) -> None:
    part = ran.fact("part")
    ran.decide("edit", part, kind="part", values={**part["fields"], "number": "ZX-900"})
    ran.decide("reject", ran.fact("fault_code"))
    finding = ran.fact("finding")
    ran.decide("move_photo", ran.fact("measurement"), photo="P1", to=finding["id"], seen_to=finding["seen"])
    at_desk = ran.saved()
    done = ran.run()
    assert done.record == at_desk
    (there,) = [f for f in done.record.facts if f.id == part["id"]]
    assert (there.status, there.decided_by) == ("edited", "Office desk")
    assert (ran.out / "claim.docx").is_file()
    assert "ZX-900" in (ran.out / "record.json").read_text("utf-8")
    assert len(ran.history()) == 3


def test_an_undo_at_the_desk_after_a_run_is_as_if_nothing_was_decided(ran: Ran) -> None:
    before = ran.saved()
    ran.decide("reject", ran.fact("part"))
    ran.run()
    assert ran.undo().status_code == 200
    assert ran.run().record == before


def test_a_page_that_is_open_sees_what_a_run_has_changed(ran: Ran) -> None:
    first = ran.clerk.get(f"{ran.api}/state")
    asked = {"headers": {"If-None-Match": first.headers["ETag"]}}
    assert ran.clerk.get(f"{ran.api}/state", **asked).status_code == 304
    (ran.folder / "20310407_083000.wav").write_bytes(wav(5))
    ran.run()
    again = ran.clerk.get(f"{ran.api}/state", **asked)
    assert again.status_code == 200
    assert len(again.json()["notes"]) == 6
    (row,) = ran.clerk.get("/api/jobs").json()
    assert row["notes"] == 6


def test_what_is_added_at_the_desk_is_in_the_next_run_too(ran: Ran) -> None:
    note, photo = wav(5, seed=9), jpeg("navy")
    told = {"started_at": "2031-04-07T08:12:00+00:00"}
    assert ran.clerk.send(ran.job, note, **told).status_code == 200
    assert ran.clerk.send(ran.job, photo, started_at="2031-04-07T08:15:06+00:00").status_code == 200
    assert {n["status"] for n in ran.state()["notes"]} == {"heard", "waiting"}
    assert ran.web.hear() == 1
    state = ran.state()
    assert [n["status"] for n in state["notes"]] == ["heard"] * 6
    assert [p["status"] for p in state["photos"]] == ["shown"] * 2
    assert state["notes"][0]["text"].startswith("cause the lift pump seal")
    assert len(state["photos"]) == 2
    at_desk = ran.saved()
    done = ran.run()
    assert done.record == at_desk
    assert not [p for p in done.record.problems if "not among" in p.message]
    assert done.heard_anew == 0


def test_a_photo_alone_can_be_added(ran: Ran) -> None:
    assert ran.clerk.send(ran.job, jpeg("teal")).status_code == 200
    assert ran.web.hear() == 1
    assert len(ran.state()["photos"]) == 2
    assert len(ran.run().record.photos) == 2


def test_a_decision_stays_when_something_is_added(ran: Ran) -> None:
    part = ran.fact("part")
    ran.decide("reject", part)
    ran.clerk.send(ran.job, wav(5, seed=3), started_at="2031-04-07T08:12:00+00:00")
    ran.web.hear()
    assert ran.with_id(part["id"])["status"] == "rejected"


def test_what_lies_in_the_folder_and_was_added_too_is_one_note(ran: Ran) -> None:
    again = (ran.folder / "20310407_081700.wav").read_bytes()
    ran.clerk.send(ran.job, again)
    ran.web.hear()
    assert len(ran.state()["notes"]) == 5
    added = wav(5, seed=4)
    ran.clerk.send(ran.job, added, started_at="2031-04-07T08:12:00+00:00")
    ran.web.hear()
    (ran.folder / "20310407_081200.wav").write_bytes(added)
    assert len(ran.run().record.notes) == 6


def test_a_recording_of_another_job_is_named_and_not_taken(ran: Ran, tmp_path: Path) -> None:
    other = wav(6, seed=7)
    job = ran.clerk.open_job(number="other")
    ran.clerk.send(job, other)
    ran.web.hear()
    ran.clerk.send(ran.job, other)
    ran.web.hear()
    state = ran.state()
    assert len([n for n in state["notes"] if n["status"] == "heard"]) == 5
    assert [p for p in state["problems"] if "already belongs to job" in p["message"]]


def test_another_recogniser_hears_what_was_added_too(ran: Ran) -> None:
    class Other:
        stamp = make_desk_recogniser().stamp.__class__("fake", "other", "0f" * 32)

        def hear(self, samples: Any, *, progress: Any = None) -> Any:
            return make_desk_recogniser().hear(samples)

    ran.clerk.send(ran.job, wav(5, seed=9))
    ran.web.hear()
    with Library.open(ran.web.settings.library) as library:
        done = pipeline.run(ran.folder, ran.out, library, Other(), UTC)
    assert {n.recogniser.model for n in done.record.notes if n.recogniser} == {"other"}


def test_a_technician_sees_it_only_once_it_is_given_to_them(ran: Ran) -> None:
    technician = ran.web.pair("technician", "phone")
    assert technician.get("/api/jobs").json() == []
    assert technician.get(f"{ran.api}/state").status_code == 404
    ran.clerk.post(f"{ran.api}/devices", {"device": technician.id})
    assert technician.get(f"{ran.api}/state").status_code == 200


def test_the_address_of_a_job_stays_when_the_servers_own_database_is_lost(ran: Ran, tmp_path: Path) -> None:
    settings = ran.web.settings
    ran.web.app.state.store.close()
    settings.database.unlink()
    again = served(settings.library, make_recogniser=make_desk_recogniser)
    (row,) = again.pair("clerk").get("/api/jobs").json()
    assert row["id"] == ran.job
    again.app.state.store.close()


def test_a_run_and_a_desk_at_once_lose_no_decision(ran: Ran) -> None:
    """While a record is concluded and saved, nobody else decides: what is saved last has it all."""
    library_job, ids = ran.library_job, [f.id for f in ran.saved().facts]
    wrong: list[BaseException] = []

    def runs() -> None:
        try:
            for _ in range(3):
                ran.run()
        except BaseException as error:
            wrong.append(error)

    running = threading.Thread(target=runs)
    running.start()
    for fact_id in ids:
        ran.decide("reject", ran.with_id(fact_id))
    running.join()
    assert not wrong
    assert {f.status for f in ran.saved().facts} == {"rejected"}
    with Library.open(ran.web.settings.library) as library:
        assert len(library.decisions(library_job)) == len(ids)


def test_whoever_is_alone_with_a_job_is_waited_for(ran: Ran) -> None:
    fact = ran.saved().facts[0]
    asked = ran.with_id(fact.id)
    answers: list[int] = []
    done = threading.Event()

    def decide() -> None:
        answers.append(ran.ask("reject", asked).status_code)
        done.set()

    with Library.open(ran.web.settings.library) as library, library.alone_with(ran.library_job):
        waiting = threading.Thread(target=decide)
        waiting.start()
        assert not done.wait(0.5)
        now = datetime.now(UTC)
        library.decide(ran.library_job, Decision(fact.id, "another desk", now, "rejected", before=fact))
    waiting.join(timeout=10)
    assert answers == [409], "it was asked about the statement as it was before"
    assert ran.with_id(fact.id)["decided_by"] == "another desk"


def test_a_long_list_of_jobs_is_shown_in_pages_that_hold_each_job_once(tmp_path: Path) -> None:
    web = served(tmp_path / "library", make_recogniser=make_desk_recogniser)
    clerk = web.pair("clerk", "Office desk")
    for number in range(103):
        clerk.open_job(number=f"J{number:03}")
    first, second = clerk.get("/desk").text, clerk.get("/desk?from=100").text
    numbers = [f"J{number:03}" for number in range(103)]
    shown = (
        [n for n in numbers if f"<bdi>{n}</bdi>" in first],
        [n for n in numbers if f"<bdi>{n}</bdi>" in second],
    )
    assert (len(shown[0]), len(shown[1])) == (100, 3)
    assert sorted(shown[0] + shown[1]) == numbers
    assert "Jobs 1 to 100 of 103" in first
    assert 'href="/desk?from=100" rel="next"' in first
    assert 'href="/desk" rel="prev"' in second
    assert "No more jobs" in clerk.get("/desk?from=500").text
    assert clerk.get("/desk?from=-1").status_code == clerk.get("/desk?from=x").status_code == 200

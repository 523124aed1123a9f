"""What was sent is heard, whatever dies on the way; what can't be heard says so."""

from __future__ import annotations

import json
import os
import pickle
import signal
import time
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from served import CLIPS, DyingRecogniser, FakeRecogniser, Paired, Served, jpeg, make_dying, served, wav

from jobnotes import record_json
from jobnotes.errors import JobnotesError
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.record import Word
from jobnotes.serve import worker
from jobnotes.serve.queue import DIED
from jobnotes.serve.settings import Limits, Settings
from jobnotes.serve.store import MOST_TRIES, Store

WAIT_S = 60.0


def until(true: Callable[[], object], what: str) -> None:
    end = time.monotonic() + WAIT_S
    while not true():
        assert time.monotonic() < end, what
        time.sleep(0.05)


def listed(device: Paired, job: str) -> Any:
    return next(j for j in device.get("/api/jobs").json() if j["id"] == job)


# --- one after the other -------------------------------------------------------------------------


def test_a_job_with_new_material_is_heard_once(web: Served, technician: Paired) -> None:
    job = technician.open_job(number="4711")
    technician.send(job, wav(1))
    assert (listed(technician, job)["notes"], listed(technician, job)["waiting"]) == (1, 1)
    assert web.hear() == 1
    assert web.hear() == 0
    shown = listed(technician, job)
    assert (shown["notes"], shown["waiting"]) == (1, 0)
    record = record_json.from_json(json.loads((web.settings.out(job) / "record.json").read_text()))
    assert [n.text for n in record.notes] == ["fault code s p n one zero two f m i eighteen active"]
    assert record.job.number == "4711"
    technician.send(job, wav(2))
    technician.send(job, jpeg())
    assert web.hear() == 1, "what came together is heard together"
    assert listed(technician, job)["notes"] == 2


def test_jobs_are_heard_in_the_order_in_which_they_wait(web: Served, technician: Paired) -> None:
    jobs = [technician.open_job() for _ in range(3)]
    for n, job in enumerate(jobs):
        technician.send(job, wav(1, seed=n + 1))
    technician.send(jobs[0], wav(2))  # one that gets more doesn't lose its place
    order = []
    while (queued := web.app.state.store.take(1)) is not None:
        order.append(queued.job)
        web.app.state.store.done(queued)
    assert order == jobs


def test_photos_wait_for_a_recording(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    technician.send(job, jpeg())
    assert web.hear() == 0
    assert "problem" not in listed(technician, job)
    technician.send(job, wav(1))
    assert web.hear() == 1
    assert len(technician.get(f"/api/jobs/{job}/state").json()["photos"]) == 1


def test_the_version_rises_with_all_that_a_page_would_show(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    seen = [web.app.state.store.job(job).version]
    for do in (lambda: technician.send(job, wav(1)), web.hear, lambda: technician.send(job, jpeg())):
        do()
        seen.append(web.app.state.store.job(job).version)
    assert seen == sorted(set(seen))
    technician.send(job, wav(1))
    assert web.app.state.store.job(job).version == seen[-1], "the same again changes nothing"


def test_what_comes_while_a_job_is_heard_is_heard_after_it(web: Served, technician: Paired) -> None:
    store: Store = web.app.state.store
    job = technician.open_job()
    technician.send(job, wav(1))
    taken = store.take(1)
    assert taken is not None
    assert store.take(2) is None, "nobody else takes it meanwhile"
    technician.send(job, wav(2))
    store.done(taken)
    assert web.hear() == 1
    assert listed(technician, job)["waiting"] == 0


def test_a_decision_made_while_a_job_is_heard_is_in_its_record(
    web: Served, technician: Paired, monkeypatch: Any
) -> None:
    job = technician.open_job()
    technician.send(job, wav(1))
    web.hear()
    technician.send(job, wav(2))
    real, decided = worker.listen, []

    def listen(*args: Any, **more: Any) -> Any:
        heard = real(*args, **more)
        with Library.open(web.settings.library) as library:
            before = library.record(heard.job)
            assert before is not None
            facts = record_json.from_json(json.loads(before.text)).facts
            fact = next(f for f in facts if f.status == "sure")
            now = datetime.now(UTC)
            decided.append(
                library.decide(heard.job, Decision(fact.id, "clerk", now, "rejected", before=fact))
            )
        return heard

    monkeypatch.setattr(worker, "listen", listen)
    assert web.hear() == 1
    with Library.open(web.settings.library) as library:
        saved = library.record(web.app.state.store.job(job).library_job)
        assert saved is not None
        record = record_json.from_json(json.loads(saved.text))
    assert record.fact(decided[0].fact_id).status == "rejected"


# --- what doesn't work ---------------------------------------------------------------------------


def test_a_job_that_fails_is_tried_again_and_then_marked(
    web: Served, technician: Paired, monkeypatch: Any
) -> None:
    fast = replace(web.settings, limits=Limits(retry_s=0.0))
    job, other = technician.open_job(), technician.open_job()
    technician.send(job, wav(1))
    technician.send(other, wav(2))
    real, tries = worker.listen, []

    def listen(folder: Path, *args: Any, **more: Any) -> Any:
        if job in str(folder):
            tries.append(folder)
            raise JobnotesError("the library", "the disk is full", "make room")
        return real(folder, *args, **more)

    monkeypatch.setattr(worker, "listen", listen)
    while worker.hear_next(fast, web.app.state.store, FakeRecogniser()):
        pass
    assert len(tries) == MOST_TRIES
    assert listed(technician, job)["problem"] == "the library: the disk is full; make room"
    assert listed(technician, other)["waiting"] == 0, "the others are heard all the same"
    monkeypatch.undo()
    assert web.hear() == 0
    clerk = web.pair("clerk")
    assert clerk.post(f"/api/jobs/{job}/again").status_code == 202
    assert web.hear() == 1
    assert "problem" not in listed(technician, job)


def test_a_job_that_failed_waits_before_it_is_tried_again(web: Served, technician: Paired) -> None:
    store: Store = web.app.state.store
    technician.send(technician.open_job(), wav(1))
    taken = store.take(1, retry_s=60.0)
    assert taken is not None
    store.failed(taken, "whatever")
    assert store.take(1, retry_s=60.0) is None
    assert store.take(1, retry_s=0.0) is not None


def test_new_material_is_a_new_chance(web: Served, technician: Paired) -> None:
    store: Store = web.app.state.store
    job = technician.open_job()
    technician.send(job, wav(1))
    taken = store.take(1)
    assert taken is not None
    store.failed(taken, "can't be heard", final=True)
    assert listed(technician, job)["problem"] == "can't be heard"
    technician.send(job, wav(2))
    assert web.hear() == 1
    assert (listed(technician, job)["waiting"], "problem" in listed(technician, job)) == (0, False)


def test_a_recording_that_cannot_be_heard_is_named_and_the_others_are(
    web: Served, technician: Paired
) -> None:
    job = technician.open_job()
    broken = (CLIPS / "readings.opus").read_bytes()[:300]
    name = technician.send(job, broken).json()["note"]
    web.hear()
    assert name in listed(technician, job)["problem"]
    technician.send(job, wav(1))
    web.hear()
    shown = listed(technician, job)
    assert (shown["notes"], shown["waiting"], "problem" in shown) == (2, 0, False)
    assert name in [p["file"] for p in technician.get(f"/api/jobs/{job}/state").json()["problems"]]


def test_an_error_of_the_program_itself_stops_no_other_job(
    web: Served, technician: Paired, monkeypatch: Any
) -> None:
    def broken(*_: Any, **__: Any) -> tuple[Word, ...]:
        raise ZeroDivisionError

    fast = replace(web.settings, limits=Limits(retry_s=0.0))
    job = technician.open_job()
    technician.send(job, wav(1))
    monkeypatch.setattr(FakeRecogniser, "hear", broken)
    while worker.hear_next(fast, web.app.state.store, FakeRecogniser()):
        pass
    assert "ZeroDivisionError" in listed(technician, job)["problem"]


# --- processes -----------------------------------------------------------------------------------


def with_workers(folder: Path, **other: Any) -> Served:
    return served(folder, workers=1, limits=Limits(retry_s=0.0), **other)


def test_a_process_of_its_own_hears(tmp_path: Path) -> None:
    web = with_workers(tmp_path / "library")
    with web.browser():  # its lifespan: the workers run
        phone = web.pair("technician")
        job = phone.open_job()
        phone.send(job, wav(1))
        until(lambda: listed(phone, job)["waiting"] == 0, "it wasn't heard")
        (pid,) = web.app.state.workers.pids()
        assert pid != os.getpid()
    with pytest.raises(ProcessLookupError):
        os.kill(pid, 0)


@pytest.mark.slow
def test_a_process_that_is_killed_is_started_again(tmp_path: Path) -> None:
    web = with_workers(tmp_path / "library")
    with web.browser():
        phone = web.pair("technician")
        job = phone.open_job()
        (pid,) = web.app.state.workers.pids()
        os.kill(pid, signal.SIGKILL)
        phone.send(job, wav(1))
        until(lambda: listed(phone, job)["waiting"] == 0, "it wasn't heard")
        assert web.app.state.workers.pids() != (pid,)


def test_a_process_that_dies_thrice_at_a_job_gives_it_up(web: Served, technician: Paired) -> None:
    store: Store = web.app.state.store
    job, other = technician.open_job(), technician.open_job()
    technician.send(job, wav(1))
    for pid in (4001, 4002, 4003):
        taken = store.take(pid)
        assert taken is not None
        assert taken.job == job
        assert "problem" not in listed(technician, job)
        store.free(pid, DIED)
    assert listed(technician, job)["problem"] == DIED
    technician.send(other, wav(2))
    assert web.hear() == 1


@pytest.mark.slow
def test_a_job_that_takes_the_process_with_it_is_marked_after_three_times(tmp_path: Path) -> None:
    web = with_workers(tmp_path / "library", make_recogniser=make_dying)
    with web.browser():
        phone = web.pair("technician")
        job = phone.open_job()
        phone.send(job, wav(1))
        until(lambda: "problem" in listed(phone, job), "it wasn't given up")
        assert "ended unexpectedly" in listed(phone, job)["problem"]
        assert web.app.state.workers.pids(), "and others can be heard"
    assert DyingRecogniser.stamp.model == "dying"


def test_the_queue_is_there_after_a_restart(tmp_path: Path) -> None:
    before = served(tmp_path / "library")
    phone = before.pair("technician")
    job = phone.open_job()
    phone.send(job, wav(1))
    assert before.app.state.store.take(4242) is not None, "a worker was at it when the server was killed"
    before.app.state.store.close()

    after = served(tmp_path / "library")
    with after.browser(cookies=dict(phone.client.cookies)) as client:  # its lifespan: the server starts
        again = Paired(client, phone.id, phone.csrf)
        assert after.hear() == 1
        assert listed(again, job)["waiting"] == 0
        assert len(again.get(f"/api/jobs/{job}/state").json()["notes"]) == 1


def test_the_real_recogniser_hears_what_a_phone_sends(web_that_hears: Served) -> None:
    phone = web_that_hears.pair("technician")
    job = phone.open_job()
    phone.send(job, (CLIPS / "readings.opus").read_bytes())
    assert web_that_hears.hear() == 1
    state = phone.get(f"/api/jobs/{job}/state").json()
    assert state["notes"][0]["text"]
    assert any(fact["kind"] == "measurement" for fact in state["facts"])


def test_settings_that_a_worker_needs_can_be_pickled() -> None:
    settings = Settings(Path("library"), make_recogniser=make_dying)
    assert pickle.loads(pickle.dumps(settings)) == settings

"""A disk that fails is said in a line, to whoever asks; what was taken up then is gone on with later."""

from __future__ import annotations

import os
from typing import Any

import pytest
from served import FakeRecogniser, Paired, Served, wav

from jobnotes.errors import JobnotesError
from jobnotes.serve import worker
from jobnotes.serve.store import Store


def full(*_: object, **__: object) -> None:
    raise OSError(28, "No space left on device")


def test_an_upload_that_finds_no_room_at_its_end_is_told_so_and_goes_on_later(
    web: Served, technician: Paired, monkeypatch: Any
) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content)
    monkeypatch.setattr("jobnotes.serve.uploads.os.replace", full)
    answer = technician.complete(job, "upload-aaaa", content)
    assert (answer.status_code, answer.headers["retry-after"]) == (503, "10")
    assert answer.json()["error"] == "the server's disk fails (No space left on device); try again later"
    monkeypatch.undo()
    assert technician.complete(job, "upload-aaaa", content).status_code == 200
    assert web.hear() == 1


def test_a_decision_counts_although_the_record_could_not_be_saved_after_it(
    web: Served, technician: Paired, clerk: Paired, monkeypatch: Any, capfd: pytest.CaptureFixture[str]
) -> None:
    job = technician.open_job(number="4417")
    technician.send(job, wav(0))
    web.hear()
    (fact,) = clerk.get(f"/api/jobs/{job}/state").json()["facts"]
    monkeypatch.setattr("jobnotes.durable.os.fsync", full)
    asked = {"action": "reject", "fact": fact["id"], "seen": fact["seen"]}
    assert clerk.post(f"/api/jobs/{job}/decisions", asked).status_code == 200
    said = capfd.readouterr().err
    assert said.startswith("jobnotes: the record of 4417 was not saved: ")
    assert "No space left on device" in said
    assert "Traceback" not in said
    monkeypatch.undo()
    (now,) = clerk.get(f"/api/jobs/{job}/state").json()["facts"]
    assert now["status"] == "rejected"


def test_a_job_that_could_not_be_given_back_is_heard_once_there_is_room(
    web: Served, technician: Paired, monkeypatch: Any
) -> None:
    """The worker goes on living, so nobody else would take it from it."""
    technician.send(technician.open_job(), wav(1))
    store: Store = web.app.state.store

    def no_room(*_: object, **__: object) -> None:
        raise JobnotesError("serve.db", "the disk is full", "make room")

    monkeypatch.setattr(Store, "done", no_room)
    with pytest.raises(JobnotesError):
        worker.hear_next(web.settings, store, FakeRecogniser())
    monkeypatch.undo()
    (queued,) = store.queue()
    assert queued.worker == os.getpid()
    assert not worker.hear_next(web.settings, store, FakeRecogniser())
    worker.give_back(store)
    monkeypatch.setattr("jobnotes.serve.store.time.time", lambda: 4e9)  # it waits a while before that
    assert worker.hear_next(web.settings, store, FakeRecogniser())
    assert not any(job.is_waiting for job in store.queue())


def test_what_another_server_was_at_when_it_was_killed_is_taken_up_at_the_next_start(
    web: Served, technician: Paired
) -> None:
    from jobnotes.serve.app import create_app

    technician.send(technician.open_job(), wav(1))
    assert web.app.state.store.take(4_000_000) is not None
    assert web.hear() == 0
    again = create_app(web.settings)
    assert [queued.worker for queued in again.state.store.queue()] == [None]
    assert web.hear() == 1
    again.state.store.close()

"""Whatever happens on the way, what a phone sends arrives whole, once, and as what it is."""

from __future__ import annotations

import hashlib
import io
import json
import shutil
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image
from served import CLIPS, Paired, Served, jpeg, served, told, wav

from jobnotes.intake.recordings import open_recording
from jobnotes.office.job import load
from jobnotes.serve.settings import Limits
from jobnotes.serve.uploads import Uploads, told_of

SPOKEN = (CLIPS / "readings.opus").read_bytes()


def files(web: Served, job: str) -> dict[str, bytes]:
    """What lies in the job's folder, but for what the office states."""
    folder = web.settings.given(job)
    return {p.name: p.read_bytes() for p in sorted(folder.iterdir()) if p.name != "job.toml"}


def parts(web: Served) -> list[Path]:
    return [path for path in web.settings.parts.rglob("*") if path.is_file()]


# --- pieces --------------------------------------------------------------------------------------


def test_a_recording_in_pieces_arrives_to_the_byte(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    answer = technician.send(job, SPOKEN, piece=1000)
    assert answer.status_code == 200
    assert answer.json()["sha256"] == hashlib.sha256(SPOKEN).hexdigest()
    assert files(web, job) == {answer.json()["note"]: SPOKEN}
    assert parts(web) == []


def test_an_upload_goes_on_where_it_stopped(web: Served, technician: Paired) -> None:
    job, content = technician.open_job(), wav(1)
    assert technician.offset(job, "upload-aaaa") == 0
    assert technician.put(job, "upload-aaaa", 0, content[:70]).headers["upload-offset"] == "70"
    assert technician.offset(job, "upload-aaaa") == 70
    assert technician.put(job, "upload-aaaa", 70, content[70:]).status_code == 204
    head = technician.client.head(f"/api/jobs/{job}/uploads/upload-aaaa")
    assert (head.headers["upload-offset"], head.headers["upload-complete"]) == (str(len(content)), "?0")
    assert technician.complete(job, "upload-aaaa", content).status_code == 200
    head = technician.client.head(f"/api/jobs/{job}/uploads/upload-aaaa")
    assert (head.headers["upload-offset"], head.headers["upload-complete"]) == (str(len(content)), "?1")


@pytest.mark.parametrize("offset", [0, 69, 71, 10**9])
def test_a_piece_that_does_not_follow_is_not_taken(web: Served, technician: Paired, offset: int) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content[:70])
    answer = technician.put(job, "upload-aaaa", offset, b"x" * 100)
    assert (answer.status_code, answer.headers["upload-offset"], answer.json()["offset"]) == (409, "70", 70)
    technician.put(job, "upload-aaaa", 70, content[70:])
    assert technician.complete(job, "upload-aaaa", content).status_code == 200


@pytest.mark.parametrize("offset", ["", "-1", "1.5", "one", "0x1", "²", "9" * 40])
def test_an_offset_that_is_no_number_is_refused(technician: Paired, offset: str) -> None:
    job = technician.open_job()
    answer = technician.request(
        "PUT",
        f"/api/jobs/{job}/uploads/upload-aaaa",
        content=b"x",
        headers={"Upload-Offset": offset.encode("latin-1", "replace")},
    )
    assert answer.status_code == 400


@pytest.mark.parametrize(
    "upload", ["short", "a" * 65, "..%2f..%2fevil", "%2e%2e%2f%2e%2e%2f", "upload%00aaaa", "up load-1"]
)
def test_the_name_of_an_upload_leads_nowhere(web: Served, technician: Paired, upload: str) -> None:
    job = technician.open_job()
    assert technician.put(job, upload, 0, b"x").status_code in (400, 403, 404)
    assert parts(web) == []


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_however_pieces_are_cut_repeated_and_lost_the_file_is_the_same(
    web: Served, technician: Paired, data: st.DataObject
) -> None:
    """A phone's own way: it asks where to go on, sends a piece, and may not hear the answer."""
    content = wav(1, seconds=0.05, seed=data.draw(st.integers(1, 10**6)))
    job = technician.open_job()
    upload = f"upload-{job}"
    offset = 0
    for _ in range(200):
        if offset >= len(content):
            break
        size = data.draw(st.integers(1, len(content)))
        answer = technician.put(job, upload, offset, content[offset : offset + size])
        if data.draw(st.booleans()):  # the answer came
            offset = int(answer.headers["upload-offset"])
        elif data.draw(st.booleans()):  # it didn't, and the phone was started again meanwhile
            offset = technician.offset(job, upload)
    while offset < len(content):
        offset = int(technician.put(job, upload, offset, content[offset:]).headers["upload-offset"])
    for _ in range(data.draw(st.integers(1, 3))):
        assert technician.complete(job, upload, content).status_code == 200
    assert list(files(web, job).values()) == [content]


def test_pieces_that_come_at_once_are_taken_one_after_the_other(web: Served, technician: Paired) -> None:
    """As from a tab that was opened twice: each byte is in the file once."""
    uploads: Uploads = web.app.state.uploads
    job, content = technician.open_job(), wav(1, seconds=1.0)

    def send(_: int) -> None:
        offset = 0
        while offset < len(content):
            try:
                offset = uploads.append(
                    job, technician.id, "upload-aaaa", offset, content[offset : offset + 4000]
                )
            except Exception as mismatch:
                offset = mismatch.offset  # type: ignore[attr-defined]

    with ThreadPoolExecutor(4) as threads:
        list(threads.map(send, range(4)))
    assert technician.complete(job, "upload-aaaa", content).status_code == 200
    assert list(files(web, job).values()) == [content]


def test_two_phones_with_uploads_of_one_name_do_not_mix(
    web: Served, technician: Paired, clerk: Paired
) -> None:
    job = technician.open_job()
    technician.put(job, "upload-aaaa", 0, wav(1))
    clerk.put(job, "upload-aaaa", 0, wav(2))
    assert technician.complete(job, "upload-aaaa", wav(1)).status_code == 200
    assert clerk.complete(job, "upload-aaaa", wav(2)).status_code == 200
    assert set(files(web, job).values()) == {wav(1), wav(2)}


# --- once ----------------------------------------------------------------------------------------


def test_sending_twice_makes_one_note(web: Served, technician: Paired) -> None:
    job, content = technician.open_job(), wav(1)
    first = technician.send(job, content, "upload-aaaa").json()
    assert technician.complete(job, "upload-aaaa", content).json() == first, "the answer got lost"
    assert technician.send(job, content, "upload-bbbb").json() == first, "the whole upload again"
    later = {"started_at": "2031-04-07T09:15:02+01:00"}
    assert technician.complete(job, "upload-cccc", content, **later).json() == first, "without any piece"
    assert list(files(web, job).values()) == [content]
    web.hear()
    assert len(technician.get(f"/api/jobs/{job}/state").json()["notes"]) == 1


def test_one_file_sent_by_many_at_once_is_one_file(web: Served, technician: Paired) -> None:
    uploads: Uploads = web.app.state.uploads
    job, content = technician.open_job(), wav(1)

    def send(n: int) -> str:
        uploads.append(job, technician.id, f"upload-{n:04}", 0, content)
        return uploads.complete(
            job, technician.id, f"upload-{n:04}", told_of(told(content, "recording"))
        ).file

    with ThreadPoolExecutor(6) as threads:
        names = set(threads.map(send, range(12)))
    assert len(names) == 1
    assert set(files(web, job)) == names
    assert parts(web) == []


def test_an_upload_that_is_finished_takes_nothing_more(web: Served, technician: Paired) -> None:
    job, content = technician.open_job(), wav(1)
    technician.send(job, content, "upload-aaaa")
    answer = technician.put(job, "upload-aaaa", 0, b"more")
    assert (answer.status_code, answer.headers["upload-offset"]) == (409, str(len(content)))
    assert technician.complete(job, "upload-aaaa", wav(2)).status_code == 409
    assert list(files(web, job).values()) == [content]


def test_photos_of_one_moment_are_all_kept(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    names = {technician.send(job, jpeg(colour)).json()["photo"] for colour in ("red", "green", "blue")}
    assert len(names) == 3
    assert sorted(files(web, job).values()) == sorted(jpeg(c) for c in ("red", "green", "blue"))


# --- what isn't as it was told -------------------------------------------------------------------


def test_a_wrong_digest_confirms_nothing_and_the_file_can_be_sent_again(
    web: Served, technician: Paired
) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content[:-1] + b"x")
    answer = technician.complete(job, "upload-aaaa", content)
    assert (answer.status_code, answer.json()["offset"]) == (409, 0)
    assert files(web, job) == {}
    assert [p.read_bytes() for p in parts(web)] == [content[:-1] + b"x"], "a person may look at what came"
    assert technician.send(job, content, "upload-aaaa").status_code == 200
    assert list(files(web, job).values()) == [content]
    assert parts(web) == []


def test_what_has_not_all_arrived_goes_on(web: Served, technician: Paired) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content[:100])
    answer = technician.complete(job, "upload-aaaa", content)
    assert (answer.status_code, answer.json()["offset"]) == (409, 100)
    assert technician.complete(job, "upload-none", content).json()["offset"] == 0
    technician.put(job, "upload-aaaa", 100, content[100:])
    assert technician.complete(job, "upload-aaaa", content).status_code == 200


PDF = b"%PDF-1.7\n" + bytes(range(256)) * 4
PAGE = b"<!doctype html><script>alert(1)</script>" + b" " * 100
PROGRAM = b"MZ\x90\x00" + bytes(100)
DRAWING = b'<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>' + b" " * 64
LIST = b"#EXTM3U\nfile:///etc/passwd\n" + b" " * 64


@pytest.mark.parametrize("content", [PDF, PAGE, PROGRAM, DRAWING, LIST, b"x", bytes(100)])
@pytest.mark.parametrize("kind", ["recording", "photo"])
def test_what_claims_to_be_something_else_is_refused(
    web: Served, technician: Paired, content: bytes, kind: str
) -> None:
    job = technician.open_job()
    answer = technician.send(job, content, kind=kind, name="note.wav" if kind == "recording" else "photo.jpg")
    assert answer.status_code == 415
    assert files(web, job) == {}
    assert parts(web) == []
    assert technician.get("/api/jobs").json()[0]["notes"] == 0


@pytest.mark.parametrize(("content", "kind"), [(wav(), "photo"), (jpeg(), "recording")])
def test_a_picture_is_no_recording_and_the_other_way_round(
    web: Served, technician: Paired, content: bytes, kind: str
) -> None:
    job = technician.open_job()
    assert technician.send(job, content, kind=kind).status_code == 415
    assert files(web, job) == {}


@pytest.mark.parametrize(
    "name", ["../../evil.wav", "/etc/passwd", "a\0b.jpg", "x" * 1000, "CON", "photo.html", "\ud800"]
)
def test_a_files_own_name_is_never_used(web: Served, technician: Paired, name: str) -> None:
    job = technician.open_job()
    answer = technician.send(job, wav(1), name=name)
    assert answer.status_code == 200
    (file,) = files(web, job)
    assert file == answer.json()["note"] == f"20310407T071502500Z_{technician.id}.wav"


@pytest.mark.parametrize(("form", "suffix"), [("JPEG", ".jpg"), ("PNG", ".png"), ("WEBP", ".webp")])
def test_the_extension_is_by_content(web: Served, technician: Paired, form: str, suffix: str) -> None:
    out = io.BytesIO()
    Image.new("RGB", (32, 32), "red").save(out, form)
    name = technician.send(technician.open_job(), out.getvalue(), kind="photo", name="x.wav").json()["photo"]
    assert Path(name).suffix == suffix


@pytest.mark.parametrize(
    "wrong",
    [
        {"kind": "video"},
        {"kind": None},
        {"sha256": "x" * 64},
        {"sha256": "A" * 64},
        {"sha256": 1},
        {"bytes": -1},
        {"bytes": True},
        {"bytes": "12"},
        {"bytes": 1.5},
        {"started_at": "yesterday"},
        {"started_at": None},
        {"started_at": "2031-04-07T08:15:02"},
        {"clock_difference_s": "1"},
        {"clock_difference_s": 1e300},
        {"clock_difference_s": None},
    ],
)
def test_what_is_told_of_a_file_is_checked(web: Served, technician: Paired, wrong: dict[str, Any]) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content)
    answer = technician.complete(job, "upload-aaaa", content, **wrong)
    assert answer.status_code == 400, answer.text
    assert files(web, job) == {}
    assert technician.complete(job, "upload-aaaa", content).status_code == 200, "nothing was lost by it"


def test_an_empty_file_is_refused_with_the_reason(web: Served, technician: Paired) -> None:
    answer = technician.complete(technician.open_job(), "upload-aaaa", b"", bytes=0)
    assert answer.status_code == 400
    assert answer.json()["error"] == "the file is empty: nothing was recorded in it"


# --- when it was -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("started_at", "difference", "name"),
    [
        ("2031-04-07T08:15:02.500+01:00", 0.0, "20310407T071502500Z"),
        ("2031-04-07T08:15:02+01:00", 90.25, "20310407T071632250Z"),
        ("2031-04-07T08:15:02Z", -3600.0, "20310407T071502000Z"),
        ("2031-12-31T23:59:59.9995Z", 0.0, "20311231T235959999Z"),
        # a clock that was never set, and what it is behind by
        ("1970-01-01T00:10:00Z", 1933312502.0, "20310407T072502000Z"),
    ],
)
def test_a_file_is_dated_by_the_servers_clock(
    technician: Paired, started_at: str, difference: float, name: str
) -> None:
    job = technician.open_job()
    answer = technician.send(job, wav(1), started_at=started_at, clock_difference_s=difference)
    assert answer.json()["note"] == f"{name}_{technician.id}.wav"


@pytest.mark.parametrize("zone", ["Europe/London", "Pacific/Chatham", "America/St_Johns", "UTC"])
def test_intake_reads_the_same_moment_from_the_name(
    web: Served, technician: Paired, tmp_path: Path, zone: str
) -> None:
    job = technician.open_job()
    name = technician.send(job, wav(1), started_at="2031-10-26T01:30:00.250+01:00").json()["note"]
    recording = open_recording(web.settings.given(job) / name, ZoneInfo(zone))
    assert recording.started_at == datetime(2031, 10, 26, 0, 30, 0, 250000, tzinfo=UTC)
    assert recording.started_at_source == "file name"
    assert recording.problem is None


def test_a_clock_that_makes_no_sense_loses_nothing(web: Served, technician: Paired) -> None:
    job = technician.open_job()
    for n, (at, difference) in enumerate([("1970-01-01T00:00:00Z", 0.0), ("9999-12-31T23:59:59Z", 1e10)]):
        answer = technician.send(job, wav(1, seed=n), started_at=at, clock_difference_s=difference)
        assert answer.status_code == 200
        assert answer.json()["note"].startswith(f"{datetime.now(UTC):%Y%m%d}T")
    assert len(files(web, job)) == 2


def test_what_the_phone_told_is_kept_beside_the_file(web: Served, technician: Paired) -> None:
    job, content = technician.open_job(), wav(1)
    name = technician.send(job, content, name="note one", clock_difference_s=-2.5).json()["note"]
    kept = json.loads((web.settings.sent(job) / f"{name}.json").read_text("utf-8"))
    assert kept["name"] == "note one"
    assert kept["started_at"] == "2031-04-07T08:15:02.500000+01:00"
    assert kept["clock_difference_s"] == -2.5
    assert (kept["sha256"], kept["device"]) == (hashlib.sha256(content).hexdigest(), technician.id)


# --- limits --------------------------------------------------------------------------------------


@pytest.fixture
def narrow(tmp_path: Path) -> Served:
    limits = Limits(piece=1000, recording=3000, photo=500, under_way=5000, uploads_under_way=3, files=2)
    return served(tmp_path / "narrow", limits=limits)


def test_a_piece_and_a_file_have_their_limits(narrow: Served) -> None:
    phone = narrow.pair("technician")
    job = phone.open_job()
    assert phone.put(job, "upload-aaaa", 0, bytes(1001)).status_code == 413
    for at in range(3):
        assert phone.put(job, "upload-aaaa", 1000 * at, bytes(1000)).status_code == 204
    assert phone.put(job, "upload-aaaa", 3000, b"x").status_code == 413
    assert phone.offset(job, "upload-aaaa") == 3000


def test_a_piece_without_a_length_has_the_same_limit(narrow: Served) -> None:
    phone = narrow.pair("technician")
    job = phone.open_job()

    def endless() -> Any:
        for _ in range(100):
            yield bytes(100)

    answer = phone.request(
        "PUT", f"/api/jobs/{job}/uploads/upload-aaaa", content=endless(), headers={"Upload-Offset": "0"}
    )
    assert answer.status_code == 413
    assert phone.offset(job, "upload-aaaa") == 0


def test_a_device_has_so_much_under_way_and_no_more(narrow: Served) -> None:
    phone = narrow.pair("technician")
    job = phone.open_job()
    for upload in ("upload-aaaa", "upload-bbbb", "upload-cccc"):
        assert phone.put(job, upload, 0, bytes(1000)).status_code == 204
    assert phone.put(job, "upload-dddd", 0, bytes(1000)).status_code == 413
    assert phone.put(job, "upload-aaaa", 1000, bytes(1000)).status_code == 204
    assert phone.put(job, "upload-aaaa", 2000, bytes(1000)).status_code == 204
    assert phone.put(job, "upload-bbbb", 1000, bytes(1000)).status_code == 413
    other = narrow.pair("technician", "phone two")
    assert other.put(other.open_job(), "upload-aaaa", 0, bytes(1000)).status_code == 204


def test_a_photo_and_a_job_have_their_limits(narrow: Served) -> None:
    phone = narrow.pair("technician")
    job = phone.open_job()
    assert phone.send(job, jpeg(size=(64, 48)), piece=1000).status_code == 413
    for n in range(2):
        assert phone.send(job, wav(1, 0.05, seed=n + 1), piece=1000).status_code == 200
    assert phone.send(job, wav(1, 0.05, seed=9), piece=1000).status_code == 413
    assert len(files(narrow, job)) == 2


def test_a_disk_that_is_nearly_full_is_left_alone(web: Served, technician: Paired, monkeypatch: Any) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content[:1000])
    usage = shutil.disk_usage(web.settings.library)
    free = web.settings.limits.disk_free + 500
    monkeypatch.setattr(shutil, "disk_usage", lambda _: usage._replace(free=free))
    answer = technician.put(job, "upload-aaaa", 1000, content[1000:])
    assert answer.status_code == 507
    assert technician.offset(job, "upload-aaaa") == 1000
    monkeypatch.undo()
    technician.put(job, "upload-aaaa", 1000, content[1000:])
    assert technician.complete(job, "upload-aaaa", content).status_code == 200


def test_a_disk_that_fails_in_the_middle_of_a_piece_leaves_the_upload_as_it_was(
    web: Served, technician: Paired, monkeypatch: Any
) -> None:
    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content[:1000])

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("jobnotes.serve.uploads.os.fsync", full)
    assert technician.put(job, "upload-aaaa", 1000, content[1000:]).status_code == 507
    monkeypatch.undo()
    assert technician.offset(job, "upload-aaaa") == 1000
    technician.put(job, "upload-aaaa", 1000, content[1000:])
    assert technician.complete(job, "upload-aaaa", content).status_code == 200
    assert list(files(web, job).values()) == [content]


# --- cut off -------------------------------------------------------------------------------------


@pytest.mark.parametrize("step", ["write_beside", "os.replace", "sync_folder", "Store.add_file"])
def test_a_server_that_dies_at_any_step_of_completion_loses_nothing(
    web: Served, technician: Paired, monkeypatch: Any, step: str
) -> None:
    """Died: everything after that step doesn't happen. Then it starts again, and the phone asks again."""

    class DiedError(BaseException):
        pass

    def died(*_: object, **__: object) -> None:
        raise DiedError

    job, content = technician.open_job(), wav(1)
    technician.put(job, "upload-aaaa", 0, content)
    where = "jobnotes.serve.store" if step.startswith("Store") else "jobnotes.serve.uploads"
    monkeypatch.setattr(f"{where}.{step}", died)
    with pytest.raises(DiedError):
        web.app.state.uploads.complete(job, technician.id, "upload-aaaa", told_of(told(content, "recording")))
    monkeypatch.undo()

    again = served(web.settings.library)
    again.app.state.uploads.recover()
    phone = Paired(again.browser(cookies=dict(technician.client.cookies)), technician.id, technician.csrf)
    offset = phone.offset(job, "upload-aaaa")
    if offset < len(content):
        phone.put(job, "upload-aaaa", offset, content[offset:])
    assert phone.complete(job, "upload-aaaa", content).status_code == 200
    assert list(files(again, job).values()) == [content]
    assert again.hear() == 1
    assert len(phone.get(f"/api/jobs/{job}/state").json()["notes"]) == 1


# --- the job's own file --------------------------------------------------------------------------


@pytest.mark.parametrize("text", ['AB "12" CD', "back\\slash", "Ünïcödé 車", "a\tb\nc", "'''", "x = 1 # y"])
def test_what_the_office_knows_of_a_job_is_stated_in_its_own_file(
    web: Served, technician: Paired, text: str
) -> None:
    job = technician.open_job(number=text, registration=text, technician=text)
    stated = load(web.settings.given(job) / "job.toml")
    plain = " ".join(text.split())
    assert (stated.number, stated.registration, stated.technician) == (plain, plain, plain)
    listed = technician.get("/api/jobs").json()[0]
    assert (listed["number"], listed["registration"], listed["technician"]) == (plain, plain, plain)


def test_a_job_of_which_nothing_is_known_has_no_such_file(web: Served, technician: Paired) -> None:
    job = technician.open_job(number="  ")
    assert list(web.settings.given(job).iterdir()) == []
    assert "number" not in technician.get("/api/jobs").json()[0]

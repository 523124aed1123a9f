"""One file holds a whole library, and makes one again."""

from __future__ import annotations

import errno
import hashlib
import json
import multiprocessing
import os
import signal
import sqlite3
import zipfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from library_jobs import AT, FACTS, file_and_save, in_child, kill_self, make_recording

from jobnotes.commands.backup import backup, restore
from jobnotes.errors import JobnotesError
from jobnotes.library import backup as backups
from jobnotes.library import signing
from jobnotes.library.database import NAME
from jobnotes.library.decisions import Decision
from jobnotes.library.library import Library
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import ServeJob, Store


@pytest.fixture
def folder(tmp_path: Path, recording: Path, photo: Path) -> Path:
    folder = tmp_path / "library"
    with Library.open(folder) as library:
        job, _ = file_and_save(library, recording, photo)
        library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))
    return folder


@pytest.fixture
def packed(folder: Path, tmp_path: Path) -> Path:
    assert write(folder, tmp_path / "all.zip").exit_code == 0
    return tmp_path / "all.zip"


def write(folder: Path, to: Path, *more: str) -> Result:
    return CliRunner().invoke(backup, ["--library", str(folder), "--to", str(to), *more])


def read(packed: Path, to: Path, *more: str) -> Result:
    return CliRunner().invoke(restore, [str(packed), "--library", str(to), *more])


def everything(folder: Path) -> tuple[object, ...]:
    with Library.open(folder, create=False) as library:
        assert list(library.verify()) == []
        assert library.verify_journal() == ()
        (job,) = {short.job for short in library.in_short()}
        return (
            [(g, library.path_of(g.sha256).read_bytes()) for g in library.originals(job)],
            library.record(job),
            library.decisions(job),
            library.journal_entries(),
            library.search("battery"),
        )


def test_a_library_that_was_restored_has_all_that_was_backed_up(
    folder: Path, packed: Path, tmp_path: Path
) -> None:
    before = everything(folder)
    result = read(packed, tmp_path / "again")
    assert result.exit_code == 0, result.output
    assert everything(tmp_path / "again") == before
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".")]


@pytest.mark.skipif(os.name != "posix", reason="the system has no such rights")
def test_a_backup_and_what_is_restored_are_their_owners_alone(packed: Path, tmp_path: Path) -> None:
    assert packed.stat().st_mode & 0o777 == 0o600
    read(packed, tmp_path / "again")
    modes = {p.stat().st_mode & 0o777 for p in [tmp_path / "again", *(tmp_path / "again").rglob("*")]}
    assert modes == {0o700, 0o600, 0o400}


def test_it_can_be_asked_for_as_json(folder: Path, tmp_path: Path) -> None:
    made = json.loads(write(folder, tmp_path / "all.zip", "--json").stdout)
    with Library.open(folder) as library:
        assert made["journal"] == str(library.journal_head())
    assert made["bytes"] == (tmp_path / "all.zip").stat().st_size
    again = json.loads(read(tmp_path / "all.zip", tmp_path / "again", "--json").stdout)
    assert (again["journal"], again["files"], again["problems"]) == (made["journal"], made["files"], [])


def test_a_folder_gets_a_file_with_the_time(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "stick").mkdir()
    result = write(folder, tmp_path / "stick")
    assert result.exit_code == 0
    (made,) = (tmp_path / "stick").iterdir()
    assert zipfile.is_zipfile(made)


def test_nothing_is_overwritten(folder: Path, packed: Path, tmp_path: Path) -> None:
    before = packed.read_bytes()
    result = write(folder, packed)
    assert (result.exit_code, result.stderr.count("\n")) == (2, 1)
    assert packed.read_bytes() == before
    whole = everything(folder)
    result = read(packed, folder)
    assert (result.exit_code, result.stdout) == (2, "")
    assert everything(folder) == whole


def test_the_signing_key_is_not_in_it(folder: Path, tmp_path: Path) -> None:
    signing.make_key(folder)
    write(folder, tmp_path / "all.zip")
    secret = (folder / signing.KEY).read_bytes().splitlines()[1]
    with zipfile.ZipFile(tmp_path / "all.zip") as package:
        assert not any(secret in package.read(name) for name in package.namelist())


def test_what_phones_sent_is_in_it(folder: Path, tmp_path: Path) -> None:
    at = Settings(folder)
    store = Store(at.database)
    store.open_job(ServeJob("a1b2", "4711", None, None, 0.0, "desk"), [])
    at.given("a1b2").mkdir(parents=True)
    (at.given("a1b2") / "note.wav").write_bytes(b"not heard yet")
    (at.tls_folder).mkdir()
    (at.tls_folder / "key.pem").write_bytes(b"secret")
    write(folder, tmp_path / "all.zip")  # while the server has it open
    store.close()
    assert read(tmp_path / "all.zip", tmp_path / "again").exit_code == 0
    again = Settings(tmp_path / "again")
    assert (again.given("a1b2") / "note.wav").read_bytes() == b"not heard yet"
    assert not again.tls_folder.exists()
    store = Store(again.database)
    assert [job.number for job in store.jobs()] == ["4711"]
    store.close()


def _decides_all_the_time(folder: Path, ready: object, stop: object) -> None:
    with Library.open(folder) as library:
        (job,) = {short.job for short in library.in_short()}
        ready.set()  # type: ignore[attr-defined]
        while not stop.is_set():  # type: ignore[attr-defined]
            library.decide(job, Decision("F1", "Ann", AT, "accepted", FACTS[0]))


def test_it_is_whole_though_the_library_is_written_to_meanwhile(folder: Path, tmp_path: Path) -> None:
    fork = multiprocessing.get_context("fork")
    ready, stop = fork.Event(), fork.Event()
    worker = fork.Process(target=_decides_all_the_time, args=(folder, ready, stop), daemon=True)
    worker.start()
    assert ready.wait(30)
    try:
        for number in range(3):
            assert write(folder, tmp_path / f"{number}.zip").exit_code == 0
    finally:
        stop.set()
        worker.join()
    assert worker.exitcode == 0
    numbers = []
    for number in range(3):
        read(tmp_path / f"{number}.zip", tmp_path / str(number))
        with Library.open(tmp_path / str(number)) as library:
            numbers.append(library.journal_head().number)
            assert library.verify_journal() == ()
            (job,) = {short.job for short in library.in_short()}
            assert len(library.decisions(job)) == numbers[-1] - 5
    assert numbers == sorted(numbers)


def test_an_original_that_is_missing_or_damaged_is_named_and_the_rest_is_saved(
    folder: Path, tmp_path: Path
) -> None:
    (wav,) = (folder / "media").rglob("*.wav")
    (jpg,) = (folder / "media").rglob("*.jpg")
    wav.chmod(0o600)
    wav.write_bytes(b"changed")
    jpg.unlink()
    result = write(folder, tmp_path / "all.zip")
    assert result.exit_code == 1
    named = {line.split(":")[0] for line in result.stderr.splitlines() if "its original" in line}
    assert named == {"Note 1.WAV", "lift pump.jpg"}
    result = read(tmp_path / "all.zip", tmp_path / "again")
    assert result.exit_code == 1
    assert "Note 1.WAV" in result.stderr
    assert "lift pump.jpg" in result.stderr


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data())
def test_a_backup_in_which_any_byte_was_changed_restores_the_same_or_nothing(
    packed: Path, folder: Path, tmp_path: Path, data: st.DataObject
) -> None:
    content = bytearray(packed.read_bytes())
    at = data.draw(st.integers(0, len(content) - 1))
    content[at] ^= data.draw(st.integers(1, 255))
    other = tmp_path / "changed.zip"
    other.write_bytes(content)
    again = tmp_path / "again"
    result = read(other, again)
    assert result.exit_code in (0, 2)
    assert result.exception is None or isinstance(result.exception, SystemExit)
    if result.exit_code == 0:  # what a zip says twice, or of its packer, may differ
        assert everything(again) == everything(folder)
        for path in sorted(again.rglob("*"), reverse=True):
            path.rmdir() if path.is_dir() else path.unlink()
        again.rmdir()
    assert not again.exists()
    assert not [p for p in tmp_path.iterdir() if p.name.startswith(".jobnotes")]


def forged(packed: Path, change: Callable[[dict[str, bytes], dict[str, object]], None]) -> Path:
    """The backup with other contents, its manifest made to fit or not."""
    with zipfile.ZipFile(packed) as package:
        files = {name: package.read(name) for name in package.namelist()}
    manifest = json.loads(files.pop("manifest.json"))
    change(files, manifest)
    other = packed.with_name("forged.zip")
    with zipfile.ZipFile(other, "w") as package:
        for name, content in files.items():
            package.writestr(name, content)
        package.writestr("manifest.json", json.dumps(manifest))
    return other


def add(files: dict[str, bytes], manifest: dict[str, object], name: str, content: bytes = b"x") -> None:
    files[name] = content
    listed = manifest["files"]
    assert isinstance(listed, list)
    listed.append({"name": name, "bytes": len(content), "sha256": hashlib.sha256(content).hexdigest()})


@pytest.mark.parametrize(
    "name",
    [
        "../outside",
        "/outside",
        "media/../../outside",
        "C:outside",
        "media\\..\\outside",
        "a//b",
        ".",
        "a/./b",
        "a/b ",
        "a/b.",
    ],
)
def test_a_name_can_not_lead_out_of_the_library(packed: Path, tmp_path: Path, name: str) -> None:
    other = forged(packed, lambda files, manifest: add(files, manifest, name))
    result = read(other, tmp_path / "within" / "again")
    assert (result.exit_code, result.stdout) == (2, "")
    assert not (tmp_path / "within" / "again").exists()
    assert not list(tmp_path.rglob("outside"))


@pytest.mark.parametrize(
    "what", ["another file", "another format", "a later version", "no manifest", "another journal"]
)
def test_what_is_no_such_backup_is_refused_in_one_line(packed: Path, tmp_path: Path, what: str) -> None:
    def change(files: dict[str, bytes], manifest: dict[str, object]) -> None:
        match what:
            case "another file":
                files["media/ab/more"] = b"x"
            case "another format":
                manifest["format"] = "another"
            case "a later version":
                manifest["version"] = 2
            case "no manifest":
                manifest.clear()
            case _:
                manifest["journal"] = {"number": 1, "sha256": "0" * 64}

    result = read(forged(packed, change), tmp_path / "again")
    assert (result.exit_code, result.stdout) == (2, "")
    assert len([line for line in result.stderr.splitlines() if line.startswith("jobnotes: ")]) == 1
    assert not (tmp_path / "again").exists()


def test_a_disk_that_is_full_leaves_no_half_backup(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(backups, "_copied", full)
    result = write(folder, tmp_path / "all.zip")
    assert result.exit_code == 2
    assert "No space left" in result.stderr
    assert [p.name for p in tmp_path.iterdir() if "zip" in p.name or p.name.startswith(".")] == []


def test_a_restoring_that_is_killed_leaves_no_library(
    packed: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(backups, "_checked", lambda *_: kill_self())
    assert in_child(lambda: backups.restore(packed, tmp_path / "again")) == -signal.SIGKILL
    assert not (tmp_path / "again").exists()
    monkeypatch.undo()
    assert read(packed, tmp_path / "again").exit_code == 0


def test_what_is_deleted_while_the_backup_is_made_is_not_in_it(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    with Library.open(folder) as library:
        more, record = file_and_save(library, make_recording(tmp_path / "given" / "more.wav", 3))
        sha256 = record.notes[0].sha256
    pack, deleted = backups._pack, []

    def slowly(*args: object) -> object:
        made = pack(*args)  # type: ignore[arg-type]
        if not deleted:
            deleted.append(more)
            with Library.open(folder) as library:
                library.delete_job(more, "Dee")
        return made

    monkeypatch.setattr(backups, "_pack", slowly)
    assert write(folder, tmp_path / "all.zip").exit_code == 0
    with zipfile.ZipFile(tmp_path / "all.zip") as package:
        assert not any(sha256 in name for name in package.namelist())
    read(tmp_path / "all.zip", tmp_path / "again")
    with Library.open(tmp_path / "again") as library:
        assert library.deletion_of(more) is not None


def test_a_damaged_database_is_not_backed_up_as_if_it_were_whole(folder: Path, tmp_path: Path) -> None:
    with closing(sqlite3.connect(folder / NAME)) as db:
        (page_size,) = db.execute("PRAGMA page_size").fetchone()
        (root,) = db.execute("SELECT rootpage FROM sqlite_master WHERE name = 'records'").fetchone()
    with (folder / NAME).open("r+b") as file:
        file.seek((root - 1) * page_size)
        file.write(b"\xff" * 64)
    result = write(folder, tmp_path / "all.zip")
    assert result.exit_code == 2
    assert "damaged" in result.stderr
    assert not (tmp_path / "all.zip").exists()


def test_no_library_is_told_plainly(tmp_path: Path) -> None:
    result = write(tmp_path / "nowhere", tmp_path / "all.zip")
    assert (result.exit_code, result.stdout) == (2, "")
    with pytest.raises(JobnotesError):
        backups.restore(tmp_path / "nowhere.zip", tmp_path / "again")

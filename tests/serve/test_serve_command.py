"""`jobnotes serve` as a person starts it: it says where, keeps to this machine, and survives being killed."""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import httpx
import pytest
from click.testing import CliRunner
from served import CLIPS, Paired, Running, free_port, paired, start, wav

from jobnotes.commands import main
from jobnotes.serve.addresses import private_addresses

pytestmark = pytest.mark.skipif(os.name == "nt", reason="an interruption is sent in another way there")


def refused(*options: str | Path) -> str:
    """What it says when it can't start: one line, exit status 2."""
    done = CliRunner().invoke(main, ["serve", *map(str, options)])
    assert done.exit_code == 2, done.output
    assert done.stdout == ""
    lines = done.stderr.splitlines()
    assert len(lines) == 1, done.stderr
    return lines[0]


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """One for all that does it no harm."""
    running = start(tmp_path_factory.mktemp("served") / "library")
    yield running
    running.stop()


# --- on this machine -----------------------------------------------------------------------------


def test_no_other_machine_reaches_it(server: Running) -> None:
    assert server.address.startswith("http://127.0.0.1:")
    port = int(server.address.rpartition(":")[2])
    others = [a for a in private_addresses() if ":" not in a] or ["127.0.0.2"]
    for address in others:
        with pytest.raises(OSError):  # noqa: PT011 - refused or unreachable, as the system has it
            socket.create_connection((address, port), timeout=2).close()


def test_a_code_for_another_device_comes_from_a_second_command(server: Running) -> None:
    done = CliRunner().invoke(main, ["serve", "--library", str(server.library), "--pair", "technician"])
    assert done.exit_code == 0, done.output
    role, _, address = done.stdout.strip().partition(": ")
    assert role == "technician"
    assert address.startswith(f"{server.address}/pair#")
    phone = paired(server.browser(), address.partition("#")[2], "phone")
    assert phone.get("/api/me").json()["role"] == "technician"


def test_live_words_can_be_turned_off(server: Running, tmp_path: Path) -> None:
    def sent(to: Running) -> int:
        phone = to.pair("technician", "phone")
        return int(phone.request("POST", f"/api/jobs/{phone.open_job()}/live/take-aaaa?at=0").status_code)

    assert sent(server) == 200
    without = start(tmp_path / "library", "--no-live")
    try:
        assert sent(without) == 503
    finally:
        without.stop()


def test_a_library_is_served_once(server: Running) -> None:
    said = refused("--library", server.library, "--port", str(free_port()))
    assert "is being served by another" in said


def test_ctrl_c_ends_it_and_no_secret_was_logged(running_server: Running) -> None:
    assert list(running_server.codes) == ["clerk"]
    code = running_server.codes["clerk"]
    clerk = paired(running_server.browser(), code, "desk")
    assert clerk.get("/api/me").json()["role"] == "clerk"
    clerk.get("/api/search?q=secretword")
    clerk.open_job(number="secret4711")
    token = clerk.client.cookies["jobnotes"]
    running_server.process.send_signal(signal.SIGINT)
    out, err = running_server.process.communicate(timeout=30)
    assert running_server.process.returncode == 0, err
    assert err.splitlines()[-1].startswith("jobnotes: ended")
    assert "Traceback" not in err
    for secret in (code, token, clerk.csrf, "secretword", "secret4711", "/api/"):
        assert secret not in out + err


@pytest.mark.slow
@pytest.mark.parametrize("after_s", [0.1, 1.0])
def test_ctrl_c_on_a_terminal_goes_to_all_its_processes_and_none_complains(
    tmp_path: Path, after_s: float
) -> None:
    running = start(tmp_path / "library", group=True)
    time.sleep(after_s)  # the worker is still starting then
    os.killpg(running.process.pid, signal.SIGINT)
    _, err = running.process.communicate(timeout=30)
    assert running.process.returncode == 0
    assert err.splitlines() == ["jobnotes: ended; what is still unheard is heard after the next start"]


# --- killed --------------------------------------------------------------------------------------


def started_again(before: Running, phone: Paired) -> tuple[Running, Paired]:
    """The server on the same port, and the phone with the session that it had."""
    after = start(before.library, port=int(before.address.rpartition(":")[2]))
    client = after.browser()
    client.cookies.update(phone.client.cookies)
    return after, Paired(client, phone.id, phone.csrf)


@pytest.mark.slow
def test_killed_in_the_middle_of_an_upload_nothing_confirmed_is_lost(running_server: Running) -> None:
    phone = running_server.pair("technician")
    job, content = phone.open_job(number="4711"), wav(1, seconds=20)
    first = phone.send(job, (CLIPS / "readings.opus").read_bytes()).json()
    half = len(content) // 2
    assert phone.put(job, "upload-half", 0, content[:half]).status_code == 204
    running_server.kill()

    after, phone = started_again(running_server, phone)
    try:
        assert phone.offset(job, "upload-half") == half
        phone.put(job, "upload-half", half, content[half:])
        second = phone.complete(job, "upload-half", content).json()
        assert second["sha256"] == hashlib.sha256(content).hexdigest()
        given = after.library / "serve" / "jobs" / job / "given"
        assert {p.name for p in given.iterdir()} == {first["note"], second["note"], "job.toml"}
        end = time.monotonic() + 60
        while (shown := phone.get("/api/jobs").json()[0])["waiting"]:
            assert time.monotonic() < end, "what was unheard when it was killed is heard"
            time.sleep(0.1)
        assert shown["notes"] == 2
    finally:
        after.stop()


@pytest.mark.slow
@pytest.mark.skipif(shutil.which("ps") is None, reason="processes are looked at with ps")
def test_the_worker_ends_with_a_server_that_is_killed(running_server: Running) -> None:
    server = running_server.process.pid
    workers: list[int] = []
    end = time.monotonic() + 30
    while not workers:
        assert time.monotonic() < end, "there is a worker"
        workers = _children(server)
    running_server.kill()
    while any(map(_runs, workers)):
        assert time.monotonic() < end, "a worker is left"
        time.sleep(0.05)


def _children(pid: int) -> list[int]:
    done = subprocess.run(
        ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True, check=False
    )
    return [int(word) for word in done.stdout.split()]


def _runs(pid: int) -> bool:
    done = subprocess.run(["ps", "-o", "stat=", "-p", str(pid)], capture_output=True, text=True, check=False)
    return bool(done.stdout.strip()) and not done.stdout.startswith("Z")


# --- on the network ------------------------------------------------------------------------------


@pytest.mark.slow
@pytest.mark.skipif(not private_addresses(), reason="this machine is in no network")
def test_on_the_network_it_speaks_tls_only_and_under_its_own_authority(tmp_path: Path) -> None:
    running = start(tmp_path / "library", "--network")
    try:
        assert running.address.startswith("https://")
        assert set(running.codes) == {"technician", "clerk"}
        phone = paired(running.browser(), running.codes["technician"], "phone")
        assert "__Host-jobnotes" in phone.client.cookies
        authority = phone.get("/authority.crt")
        assert authority.headers["content-type"] == "application/x-x509-ca-cert"
        assert authority.content == (running.library / "serve" / "tls" / "authority.crt").read_bytes()
        ssl.create_default_context(cadata=authority.text)
        with pytest.raises(httpx.TransportError), httpx.Client() as stranger:
            stranger.get(running.address + "/pair")
        with pytest.raises(httpx.TransportError), httpx.Client() as plain:
            plain.get(running.address.replace("https", "http") + "/pair")
    finally:
        assert running.stop() == 0


# --- what is said when it can't ------------------------------------------------------------------


def test_a_port_in_use_is_named(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        said = refused("--library", tmp_path / "library", "--port", str(port))
    assert said == f"jobnotes: port {port}: is in use by another program; choose another one with --port"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--library", "{tmp}/file"], "file"),
        (["--library", "{tmp}/other"], "not a library of jobnotes"),
        (["--library", "{tmp}/new", "--workshop", "{tmp}/none"], "is no folder"),
        (["--library", "{tmp}/new", "--workshop", "{tmp}/wrong"], "workshop.toml, line 1"),
        (["--library", "{tmp}/new", "--hear-with", "nobody"], "there is no recogniser of this name"),
        (["--library", "{tmp}/new", "--zone", "Mars/Base"], "is no time zone"),
        (["--library", "{tmp}/new", "--pair", "clerk"], "isn't being served"),
    ],
)
def test_what_is_wrong_is_said_in_one_line(tmp_path: Path, options: list[str], said: str) -> None:
    (tmp_path / "file").write_text("x")
    (tmp_path / "other").mkdir()
    (tmp_path / "other" / "holiday.txt").write_text("x")
    (tmp_path / "wrong").mkdir()
    (tmp_path / "wrong" / "workshop.toml").write_text("= wrong")
    line = refused(*(option.format(tmp=tmp_path) for option in options), *_port(options))
    assert said in line
    assert re.fullmatch(r"jobnotes: .+: .+; .+", line)
    assert not (tmp_path / "new").exists(), "nothing is left behind"


def _port(options: list[str]) -> list[str]:
    return [] if "--pair" in options else ["--port", str(free_port())]


def test_help_says_how_to_end_it_and_what_the_codes_are() -> None:
    done = CliRunner().invoke(main, ["serve", "--help"])
    assert done.exit_code == 0
    for word in ("--network", "--pair", "Ctrl-C", "Exit status"):
        assert word in done.stdout

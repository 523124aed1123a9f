"""No command but those that are for it uses a network: a use would be refused, written down, and fail.

An audit hook (PEP 578) is set in every Python process that the command starts, also in the helpers that read
photos, before anything else of it runs.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from command_line import ROOT, Ended, World

REFUSING = """
import os, sys

def watch(event, args):
    if event in {"socket.connect", "socket.bind", "socket.sendto", "socket.sendmsg", "socket.getaddrinfo",
                 "socket.gethostbyname", "socket.gethostbyaddr", "socket.getnameinfo"}:
        with open(os.environ["ASKED"], "a") as log:
            log.write(f"{event} {args[1:]}\\n")
        raise PermissionError(f"{event}: this program may not use a network")

sys.addaudithook(watch)
"""

CONNECTS = """
import multiprocessing, socket, sys

def connect():
    socket.create_connection(("127.0.0.1", 9), timeout=1)

if __name__ == "__main__":
    child = multiprocessing.get_context("spawn").Process(target=connect)
    child.start()
    child.join()
    sys.exit(child.exitcode)
"""


@pytest.fixture(scope="module")
def world(tmp_path_factory: pytest.TempPathFactory) -> World:
    world = World(tmp_path_factory.mktemp("no network") / "world")
    hook = world.root / "hook"
    hook.mkdir()
    (hook / "sitecustomize.py").write_text(REFUSING, "utf-8")
    return world


def watched(world: World) -> dict[str, str]:
    path = os.pathsep.join([str(world.root / "hook"), str(ROOT)])
    return world.environment(PYTHONPATH=path, ASKED=str(world.root / "asked"))


def asked(world: World) -> list[str]:
    """What was asked of a network since this was last asked."""
    log = world.root / "asked"
    found = log.read_text("utf-8").splitlines() if log.exists() else []
    log.unlink(missing_ok=True)
    return found


@pytest.fixture(scope="module")
def heard(world: World, clip_job: Path) -> Ended:
    """A folder with recordings and a photo, run by the recogniser and the reader that come with the tool."""
    shutil.copytree(clip_job, world.cwd / "job")
    return world.jobnotes("run", "job", "--out", "out", "--library", "library", **watched(world))


def test_a_use_would_be_seen_also_in_a_helper_process(world: World) -> None:
    script = world.root / "connects.py"
    script.write_text(CONNECTS, "utf-8")
    done = subprocess.run([sys.executable, script], env=watched(world), capture_output=True, check=False)
    assert done.returncode != 0
    assert any("socket.connect" in line or "getaddrinfo" in line for line in asked(world))


def test_a_run_asks_nothing_of_a_network(heard: Ended, world: World) -> None:
    assert heard.status in (0, 1), heard.err
    assert heard.heard
    assert asked(world) == []


@pytest.mark.parametrize(
    "command",
    [
        "verify --out out --library library",
        "verify --library library out/claim.docx",
        "key --library library",
        "backup --library library --to all.zip",
        "restore all.zip --library again",
        "delete --library again --by Dee --unfiled --yes",
        "facts --text -",
        "models",
    ],
)
def test_no_other_command_does(heard: Ended, world: World, command: str) -> None:
    ended = world.jobnotes(*command.split(), stdin=b"battery at 12.6 volts\n", **watched(world))
    assert ended.status == 0, ended.err
    assert asked(world) == []

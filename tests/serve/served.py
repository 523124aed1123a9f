"""The web application for tests: over a small library, asked by devices that are paired as a person would."""

from __future__ import annotations

import hashlib
import io
import os
import socket
import ssl
import subprocess
import sys
import time
import wave
from collections.abc import Callable
from dataclasses import dataclass, field
from json import dumps
from pathlib import Path
from typing import Any

import httpx
import numpy as np
from PIL import Image
from starlette.applications import Starlette
from starlette.testclient import TestClient

from jobnotes.hearing.recogniser import Samples
from jobnotes.record import RecogniserStamp, Word
from jobnotes.serve import access
from jobnotes.serve.app import create_app
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Role
from jobnotes.serve.worker import hear_next

ORIGIN = "http://127.0.0.1:8420"
ROOT = Path(__file__).parents[2]
CLIPS = ROOT / "tests" / "hearing" / "clips"

#: what the fake recogniser hears, in turn by the loudness of a note in tenths of full scale
SAID = (
    "battery at twelve point six volts",
    "fault code s p n one zero two f m i eighteen active",
    "replaced the lift pump part number four five six seven eight nine one",
    "the lift pump seal was leaking",
    "odometer three hundred and twelve thousand kilometres",
)


class FakeRecogniser:
    """Hears what SAID has for the loudness of the samples, a word every 0.4 seconds."""

    stamp = RecogniserStamp("fake", "fake", "f4" * 32)

    def hear(self, samples: Samples, *, progress: Callable[[float], None] | None = None) -> tuple[Word, ...]:
        said = SAID[round(float(np.abs(samples).max()) * 10) % len(SAID)].split()
        if progress:
            progress(1.0)
        return tuple(Word(text, 0.4 * at, 0.4 * at + 0.3, 0.95) for at, text in enumerate(said))


class DyingRecogniser:
    """Takes its process with it."""

    stamp = RecogniserStamp("fake", "dying", "f4" * 32)

    def hear(self, samples: Samples, *, progress: Callable[[float], None] | None = None) -> tuple[Word, ...]:
        os._exit(9)


def make_fake() -> FakeRecogniser:
    return FakeRecogniser()


def make_dying() -> DyingRecogniser:
    return DyingRecogniser()


def wav(level: int = 0, seconds: float = 4.0, seed: int = 0) -> bytes:
    """A recording whose loudness is `level` tenths of full scale; `seed` makes others of it."""
    samples = np.full(round(seconds * 16000), int(level * 3276.7), "<i2")
    samples[:64] = np.arange(64) * seed % max(1, int(level * 3276.7))
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setparams((1, 2, 16000, 0, "NONE", ""))
        file.writeframes(samples.tobytes())
    return out.getvalue()


def jpeg(colour: str = "olive", size: tuple[int, int] = (64, 48)) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, colour).save(out, "JPEG")
    return out.getvalue()


@dataclass
class Paired:
    """A paired device with its own cookie, as one browser would have it."""

    client: Any
    id: str
    csrf: str
    uploads: int = field(default=0)

    def get(self, path: str, **more: Any) -> Any:
        return self.client.get(path, **more)

    def request(self, method: str, path: str, **more: Any) -> Any:
        headers = {access.CSRF_HEADER: self.csrf, **more.pop("headers", {})}
        return self.client.request(method, path, headers=headers, **more)

    def post(self, path: str, json: Any = None, **more: Any) -> Any:
        headers = {"content-type": "application/json", **more.pop("headers", {})}
        content = dumps({} if json is None else json)  # which escapes what is no UTF-8, as a browser's does
        return self.request("POST", path, content=content, headers=headers, **more)

    def open_job(self, **stated: str) -> str:
        answer = self.post("/api/jobs", stated)
        assert answer.status_code == 201, answer.text
        return str(answer.json()["id"])

    def put(self, job: str, upload: str, offset: int, piece: bytes) -> Any:
        path = f"/api/jobs/{job}/uploads/{upload}"
        return self.request("PUT", path, content=piece, headers={"Upload-Offset": str(offset)})

    def offset(self, job: str, upload: str) -> int:
        return int(self.client.head(f"/api/jobs/{job}/uploads/{upload}").headers["Upload-Offset"])

    def complete(self, job: str, upload: str, content: bytes, **other: Any) -> Any:
        kind = "photo" if content[:2] == b"\xff\xd8" else "recording"
        return self.post(f"/api/jobs/{job}/uploads/{upload}/complete", told(content, kind) | other)

    def send(
        self, job: str, content: bytes, upload: str | None = None, piece: int = 65536, **other: Any
    ) -> Any:
        """Send a file in pieces; the answer to its completion."""
        self.uploads += 1
        upload = upload or f"upload-{self.id}-{self.uploads}"
        for offset in range(0, len(content), piece):
            answer = self.put(job, upload, offset, content[offset : offset + piece])
            assert answer.status_code == 204, answer.text
        return self.complete(job, upload, content, **other)


def told(content: bytes, kind: str) -> dict[str, Any]:
    return {
        "name": "note 1",
        "kind": kind,
        "sha256": hashlib.sha256(content).hexdigest(),
        "bytes": len(content),
        "started_at": "2031-04-07T08:15:02.500+01:00",
        "clock_difference_s": 0.0,
    }


def paired(client: Any, code: str, name: str) -> Paired:
    """Pair `client`, which must be new, as a browser would."""
    answer = client.post("/api/pair", json={"code": code, "name": name})
    assert answer.status_code == 200, answer.text
    me = client.get("/api/me").json()
    return Paired(client, me["device"], me["csrf"])


@dataclass
class Served:
    """The application, in this process. Nothing is heard until `hear` is called."""

    app: Starlette
    settings: Settings

    def browser(self, **more: Any) -> TestClient:
        """One that isn't paired."""
        return TestClient(self.app, base_url=self.settings.address, **({"follow_redirects": False} | more))

    def pair(self, role: Role, name: str = "", **more: Any) -> Paired:
        code = access.new_code(self.app.state.store, self.settings, role).code
        return paired(self.browser(**more), code, name or role)

    def hear(self) -> int:
        """Hear all that is queued, as a worker would; how many jobs that were."""
        count = 0
        while hear_next(self.settings, self.app.state.store, self.settings.recogniser()):
            count += 1
        return count


def served(folder: Path, **other: Any) -> Served:
    """The application over a library in `folder`, with the fake recogniser and without workers."""
    settings = Settings(
        **({"library": folder, "address": ORIGIN, "workers": 0, "make_recogniser": make_fake} | other)
    )
    return Served(create_app(settings), settings)


@dataclass
class Running:
    """`jobnotes serve` in a process of its own. `codes` are the pairing codes that it printed, by role."""

    process: subprocess.Popen[str]
    address: str
    library: Path
    codes: dict[str, str]
    verify: Any = True

    def browser(self) -> httpx.Client:
        return httpx.Client(base_url=self.address, verify=self.verify, timeout=30)

    def code(self, role: Role) -> str:
        """A new pairing code."""
        done = subprocess.run(
            [*COMMAND, "--library", str(self.library), "--pair", role],
            capture_output=True,
            text=True,
            check=True,
            env=environment(),
        )
        return _codes(done.stdout)[role]

    def pair(self, role: Role, name: str = "") -> Paired:
        return paired(self.browser(), self.code(role), name or role)

    def kill(self) -> None:
        """As a power cut would."""
        self.process.kill()
        self.process.communicate()

    def stop(self) -> int:
        """As Ctrl-C does; its exit status."""
        self.process.send_signal(2)
        self.process.communicate(timeout=30)
        return self.process.returncode


COMMAND = [sys.executable, "-m", "jobnotes", "serve"]


def environment() -> dict[str, str]:
    return {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1", "OMP_NUM_THREADS": "1"}


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


def start(library: Path, *options: str, port: int | None = None, group: bool = False) -> Running:
    """Start the server and wait until it answers; as a process group of its own if asked."""
    port = port or free_port()
    process = subprocess.Popen(
        [*COMMAND, "--library", str(library), "--port", str(port), *options],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env=environment(),
        start_new_session=group,
    )
    assert process.stdout is not None
    lines: list[str] = []
    for line in process.stdout:
        lines.append(line)
        if line.startswith("Ready"):
            break
    else:
        raise AssertionError(f"it didn't start: {process.stderr.read() if process.stderr else ''}")
    said = "".join(lines)
    address = next(part for part in said.split() if "://" in part).partition("/pair")[0]
    running = Running(process, address, library, _codes(said))
    if address.startswith("https"):
        authority = library / "serve" / "tls" / "authority.crt"
        running.verify = ssl.create_default_context(cafile=str(authority))
    for _ in range(200):
        try:
            with running.browser() as browser:
                browser.get("/pair")
            return running
        except httpx.TransportError:
            time.sleep(0.05)
    raise AssertionError("it doesn't answer")


def _codes(said: str) -> dict[str, str]:
    """The codes in what the command prints: `clerk: https://…/pair#CODE`."""
    found = {}
    for line in said.splitlines():
        role, _, rest = line.partition(": ")
        if role in ("technician", "clerk") and "#" in rest:
            found[role] = rest.rpartition("#")[2].strip()
    return found

"""What phones send: in pieces that resume where they stopped, checked by digest and by content.

PUT brings a piece, HEAD says how much is there, and `complete` puts the file in its job's folder. The names
of the headers are those of the IETF's draft "Resumable Uploads for HTTP". What was answered with success is
on disk; what a phone sends twice is one file.
"""

from __future__ import annotations

import json
import math
import os
import re
import shutil
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path, PurePath
from typing import Any

import anyio
from anyio import CapacityLimiter, to_thread
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from jobnotes.durable import make_folder, sync_folder, written
from jobnotes.errors import one_line
from jobnotes.intake import dates, formats
from jobnotes.intake.originals import digest
from jobnotes.serve import access
from jobnotes.serve.settings import Settings
from jobnotes.serve.store import Kind, SentFile, Store

OFFSET = "Upload-Offset"
COMPLETE = "Upload-Complete"

_UPLOAD_ID = re.compile(r"[A-Za-z0-9_-]{8,64}")
_DIGEST = re.compile(r"[0-9a-f]{64}")
_MOST_DIGITS = 15
_MOST_NAME = 255
_MOST_STEM = 80
#: so that sending and hashing leave threads for pages
_WORKING = 8

# the extension is by content, never by the name that was sent
_SUFFIXES = {
    "wav": ".wav",
    "mov": ".m4a",
    "matroska": ".webm",
    "ogg": ".ogg",
    "flac": ".flac",
    "mp3": ".mp3",
    "amr": ".amr",
    "aac": ".aac",
    "jpeg": ".jpg",
    "png": ".png",
    "webp": ".webp",
    "heic": ".heic",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What the device tells of a file. `started_at` is by its own clock, which the server's is ahead of by
    `clock_difference_s` seconds. `as_a_file`: the device hasn't made it, it only passes it on; then
    `started_at` is when it was last written, and its name and what it holds tell more. Else `name` is kept
    for a person to read, and used for nothing."""

    name: str
    kind: Kind
    sha256: str
    bytes: int
    started_at: datetime
    clock_difference_s: float
    as_a_file: bool = False

    @property
    def at(self) -> datetime:
        """The moment by the server's clock; when it arrived, if the phone's clock makes no sense."""
        try:
            moment = (self.started_at + timedelta(seconds=self.clock_difference_s)).astimezone(UTC)
        except (OverflowError, ValueError):
            return datetime.now(UTC)
        return moment if dates.plausible(moment) else datetime.now(UTC)


class MismatchError(Exception):
    """What arrived isn't what was meant to be sent; it is to be sent again from `offset`."""

    def __init__(self, offset: int, reason: str) -> None:
        super().__init__(reason)
        self.offset = offset


class Uploads:
    """The uploads under way, and the way of their files into the jobs' folders."""

    def __init__(self, settings: Settings, store: Store) -> None:
        self._settings = settings
        self._store = store
        self._locks: dict[str, list[Any]] = {}
        self._guard = threading.Lock()

    # --- pieces ------------------------------------------------------------------------------------

    def offset(self, job: str, device: str, upload: str) -> tuple[int, bool]:
        """(how many bytes have arrived, whether the upload was finished)."""
        sha256 = self._store.finished(job, device, upload)
        if sha256 is not None:
            there = self._store.file_with(job, sha256)
            return (there.bytes if there else 0), True
        return _size(self._part(job, device, upload)), False

    def append(self, job: str, device: str, upload: str, offset: int, piece: bytes) -> int:
        """Add a piece that begins at `offset`; how many bytes there are now, on disk.

        Raises MismatchError where the upload doesn't stand there, HTTPException where a limit is reached.
        """
        limits = self._settings.limits
        with self._locked(job, device, upload):
            if self._store.finished(job, device, upload) is not None:
                raise MismatchError(self.offset(job, device, upload)[0], "this upload is finished")
            part = self._part(job, device, upload)
            there = _size(part)
            if offset != there:
                raise MismatchError(there, f"the upload is at {there}, not at {offset}")
            if there + len(piece) > limits.recording:
                raise HTTPException(413, f"a file may have {limits.recording // 1024**2} MiB at most")
            if not part.exists():
                self._room_for_another(device)
            elif self._under_way(device) + len(piece) > limits.under_way:
                raise HTTPException(413, "this device has too much under way; finish something first")
            if shutil.disk_usage(self._settings.folder).free - len(piece) < limits.disk_free:
                raise HTTPException(507, "the server's disk is nearly full; make room there")
            try:
                make_folder(part.parent)
                fresh = not part.exists()
                with part.open("ab") as file:
                    file.write(piece)
                    file.flush()
                    os.fsync(file.fileno())
                if fresh:
                    sync_folder(part.parent)
            except OSError as error:
                _cut(part, there)
                said = f"the server can't write ({error.strerror}); look at its disk, then send again"
                raise HTTPException(507, said) from error
            return there + len(piece)

    def _room_for_another(self, device: str) -> None:
        limits = self._settings.limits
        parts = list((self._settings.parts / device).glob("*.part"))
        if len(parts) >= limits.uploads_under_way or sum(map(_size, parts)) > limits.under_way:
            raise HTTPException(413, "this device has too much under way; finish something first")

    def _under_way(self, device: str) -> int:
        return sum(map(_size, (self._settings.parts / device).glob("*.part")))

    # --- whole files -------------------------------------------------------------------------------

    def complete(self, job: str, device: str, upload: str, told: Told) -> SentFile:
        """Put what has arrived into the job's folder, and queue the job; again and again gives the same.

        Raises MismatchError where size or digest aren't those told, HTTPException where it isn't what it
        claims to be.
        """
        with self._locked(job, device, upload):
            finished = self._store.finished(job, device, upload)
            if finished is not None and finished != told.sha256:
                raise HTTPException(409, "this upload was finished with another file; use a new one")
            part = self._part(job, device, upload)
            there = self._there_already(part, job, device, upload, told)
            if there is not None:
                return there
            suffix = self._checked(part, told)
            with self._locked(job, "given", ""):
                # one file at a time for a job: another upload may have brought the same meanwhile
                there = self._there_already(part, job, device, upload, told)
                return there or self._place(part, job, device, upload, told, suffix)

    def _there_already(self, part: Path, job: str, device: str, upload: str, told: Told) -> SentFile | None:
        """The file, if the job has it: then the upload is finished with that one."""
        there = self._store.file_with(job, told.sha256)
        if there is not None:
            self._store.finish_upload(job, device, upload, told.sha256)
            part.unlink(missing_ok=True)
        return there

    def _checked(self, part: Path, told: Told) -> str:
        """The file's extension by its content."""
        size = _size(part)
        if size < told.bytes:
            raise MismatchError(size, f"{size} of {told.bytes} bytes have arrived")
        if size > told.bytes or digest(part) != told.sha256:
            # set aside, so that a person could still look at it; the phone sends it anew
            if part.exists():
                os.replace(part, part.with_suffix(".misfit"))
            raise MismatchError(0, "what arrived hasn't that digest; send it again")
        with part.open("rb") as file:
            head = file.read(formats.HEAD_BYTES)
        content = formats.content(head)
        if content is None or formats.kind_of(content) != told.kind:
            part.unlink()
            raise HTTPException(415, f"it is no {told.kind}, but {formats.looks_like(head)}")
        if told.kind == "photo" and size > self._settings.limits.photo:
            part.unlink()
            raise HTTPException(413, f"a photo may have {self._settings.limits.photo // 1024**2} MiB at most")
        return _SUFFIXES[content]

    def _place(self, part: Path, job: str, device: str, upload: str, told: Told, suffix: str) -> SentFile:
        """Put it among the job's files: under a name by its moment and device, or nearly its own."""
        if len(self._store.files(job)) >= self._settings.limits.files:
            raise HTTPException(413, "the job has too many files; open another")
        given, at = self._settings.given(job), told.at
        stem = f"{at:%Y%m%dT%H%M%S}{at.microsecond // 1000:03}Z_{device}"
        if told.as_a_file:
            # dated as in a folder that is given: by its content, its name, or when it was last written
            stem = _plain_stem(told.name) or stem
            os.utime(part, (at.timestamp(), at.timestamp()))
        name, nth = f"{stem}{suffix}", 1
        while (given / name).exists():
            nth += 1
            name = f"{stem}-{nth}{suffix}"
        sent = SentFile(
            job, told.sha256, told.kind, name, told.bytes, device, upload, at.timestamp(), time.time()
        )
        # told first, then the file in one step, then the database: whatever is cut off after any of them,
        # `recover` finishes it, or the phone sends it again
        about = asdict(sent) | {
            "name": told.name,
            "started_at": told.started_at.isoformat(),
            "clock_difference_s": told.clock_difference_s,
            "as_a_file": told.as_a_file,
        }
        del about["heard"]
        write_beside(self._settings.sent(job) / f"{name}.json", json.dumps(about, indent=1).encode())
        make_folder(given)
        os.replace(part, given / name)
        sync_folder(given)
        part.with_suffix(".misfit").unlink(missing_ok=True)
        self._store.add_file(sent)
        return sent

    def recover(self) -> None:
        """Note the files that lie in the jobs' folders but not in the database: the server was killed."""
        for job in self._store.jobs():
            known = {file.file for file in self._store.files(job.id)}
            for about in sorted(self._settings.sent(job.id).glob("*.json")):
                name = about.name.removesuffix(".json")
                path = self._settings.given(job.id) / name
                if name in known or not path.is_file():
                    continue
                try:
                    told = json.loads(about.read_text("utf-8"))
                    fields = {key: told[key] for key in ("kind", "device", "upload", "at", "sent_at")}
                except (ValueError, KeyError, TypeError):
                    continue  # a person has been at it; the file lies there all the same
                self._store.add_file(
                    SentFile(job.id, digest(path), file=name, bytes=path.stat().st_size, **fields)
                )

    # --- small things ----------------------------------------------------------------------------

    def _part(self, job: str, device: str, upload: str) -> Path:
        return self._settings.parts / device / f"{job}.{upload}.part"

    @contextmanager
    def _locked(self, *key: str) -> Iterator[None]:
        """One at a time for that key; locks that nobody waits for are forgotten."""
        name = "/".join(key)
        with self._guard:
            entry = self._locks.setdefault(name, [threading.Lock(), 0])
            entry[1] += 1
        try:
            with entry[0]:
                yield
        finally:
            with self._guard:
                entry[1] -= 1
                if not entry[1]:
                    del self._locks[name]


# --- endpoints -----------------------------------------------------------------------------------


async def piece(request: Request) -> Response:
    """PUT: one piece, which begins at Upload-Offset. HEAD: how much is there."""
    uploads, key = _asked(request)
    if request.method == "HEAD":
        there, finished = await in_thread(request, uploads.offset, *key)
        return Response(headers={OFFSET: str(there), COMPLETE: "?1" if finished else "?0"})
    offset = whole_number(request.headers.get(OFFSET))
    if offset is None:
        raise HTTPException(400, f"the header {OFFSET} must be a whole number")
    body = await body_of(request, access.settings_of(request).limits.piece)
    try:
        there = await in_thread(request, uploads.append, *key, offset, body)
    except MismatchError as mismatch:
        return _conflict(mismatch)
    return Response(status_code=204, headers={OFFSET: str(there)})


async def complete(request: Request) -> Response:
    """POST: all pieces have been sent; confirms the digest of the file as it lies on disk."""
    uploads, key = _asked(request)
    told = told_of(await json_of(request))
    try:
        sent = await in_thread(request, uploads.complete, *key, told)
    except MismatchError as mismatch:
        return _conflict(mismatch)
    what = "note" if sent.kind == "recording" else "photo"
    return JSONResponse({"sha256": sent.sha256, what: sent.file})


def _conflict(mismatch: MismatchError) -> Response:
    error = {"error": str(mismatch), "offset": mismatch.offset}
    return JSONResponse(error, 409, headers={OFFSET: str(mismatch.offset)})


def _asked(request: Request) -> tuple[Uploads, tuple[str, str, str]]:
    uploads = request.app.state.uploads
    assert isinstance(uploads, Uploads)
    return uploads, (access.job_of(request).id, access.device_of(request).id, upload_in(request))


def upload_in(request: Request) -> str:
    """What the device calls the file. Raises HTTPException."""
    upload = request.path_params["upload"]
    if not isinstance(upload, str) or not _UPLOAD_ID.fullmatch(upload):
        raise HTTPException(400, "an upload is called by 8 to 64 letters, digits, - and _")
    return upload


async def in_thread(request: Request, call: Any, *args: Any) -> Any:
    """Run what touches the disk beside the event loop, and beside the pages' own threads."""
    limiter = getattr(request.app.state, "upload_threads", None)
    if limiter is None:
        limiter = request.app.state.upload_threads = CapacityLimiter(_WORKING)
    return await to_thread.run_sync(call, *args, limiter=limiter)


async def body_of(request: Request, most: int) -> bytes:
    """The request's body, if it isn't larger than `most` bytes; a body that breaks off counts for nothing."""
    declared = whole_number(request.headers.get("content-length"))
    if declared is not None and declared > most:
        raise HTTPException(413, f"at most {most} bytes at a time")
    body = bytearray()
    try:
        with anyio.fail_after(access.settings_of(request).limits.body_s):
            async for chunk in request.stream():
                body += chunk
                if len(body) > most:
                    raise HTTPException(413, f"at most {most} bytes at a time")
    except ClientDisconnect:
        raise HTTPException(400, "the request broke off") from None
    except TimeoutError:
        raise HTTPException(408, "the request took too long; send less at a time") from None
    return bytes(body)


async def json_of(request: Request) -> dict[str, Any]:
    """The request's JSON object. Raises HTTPException for anything else."""
    if request.headers.get("content-type", "").partition(";")[0].strip().lower() != "application/json":
        raise HTTPException(415, "send JSON, as application/json")
    body = await body_of(request, access.settings_of(request).limits.json)
    try:
        value = json.loads(body)
    except (ValueError, RecursionError):
        raise HTTPException(400, "that is no JSON") from None
    if not isinstance(value, dict):
        raise HTTPException(400, "send a JSON object")
    return value


def text_in(values: dict[str, Any], key: str, *, most: int = 200, needed: bool = False) -> str | None:
    """The text of that key on one line, None where there is none. Raises HTTPException if it isn't text."""
    value = values.get(key)
    if value is None and not needed:
        return None
    if not isinstance(value, str):
        raise HTTPException(400, f"{key} must be text")
    plain = one_line(value.encode("utf-8", "replace").decode("utf-8")).strip()
    if len(plain) > most:
        raise HTTPException(400, f"{key} is too long: {most} characters at most")
    if needed and not plain:
        raise HTTPException(400, f"{key} is missing")
    return plain or None


def told_of(values: dict[str, Any]) -> Told:
    """What the phone tells of a file, checked. Raises HTTPException."""
    kind, sha256, size = values.get("kind"), values.get("sha256"), values.get("bytes")
    if kind not in ("recording", "photo"):
        raise HTTPException(400, "kind must be recording or photo")
    if not isinstance(sha256, str) or not _DIGEST.fullmatch(sha256):
        raise HTTPException(400, "sha256 must be 64 lower-case hexadecimal digits")
    if size == 0 and not isinstance(size, bool):
        raise HTTPException(400, "the file is empty: nothing was recorded in it")
    if not isinstance(size, int) or isinstance(size, bool) or size < 1:
        raise HTTPException(400, "bytes must be a whole number above 0")
    try:
        started_at = datetime.fromisoformat(str(values.get("started_at")))
    except ValueError:
        raise HTTPException(400, "started_at must be a time by ISO 8601") from None
    if started_at.tzinfo is None:
        raise HTTPException(400, "started_at must have an offset")
    difference = values.get("clock_difference_s", 0)
    number = isinstance(difference, int | float) and not isinstance(difference, bool)
    if not number or not math.isfinite(difference) or abs(difference) > 1e10:
        raise HTTPException(400, "clock_difference_s must be a number of seconds")
    name = text_in({"name": str(values.get("name", ""))[:_MOST_NAME]}, "name", most=_MOST_NAME) or ""
    as_a_file = values.get("as_a_file", False)
    if not isinstance(as_a_file, bool):
        raise HTTPException(400, "as_a_file must be true or false")
    return Told(name, kind, sha256, size, started_at, float(difference), as_a_file)


def _plain_stem(name: str) -> str:
    """Of a file's name, what any file system takes, without its ending: that is given by its content."""
    stem = PurePath(name.replace("\\", "/")).name.rpartition(".")[0] or name
    return re.sub(r"[^A-Za-z0-9 _.,()+-]+", "_", stem).strip(" ._")[:_MOST_STEM]


def whole_number(text: str | None) -> int | None:
    """The number that `text` writes in digits, None where it writes none."""
    if text is None or not text.isascii() or not text.isdigit() or len(text) > _MOST_DIGITS:
        return None
    return int(text)


# --- files ---------------------------------------------------------------------------------------


def write_beside(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Write the file whole or not at all, on disk when this returns."""
    make_folder(path.parent)
    with written(path, mode) as file:
        file.write(content)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except FileNotFoundError:
        return 0


def _cut(part: Path, size: int) -> None:
    try:
        os.truncate(part, size)
    except OSError:
        return


routes = [
    Route("/api/jobs/{job}/uploads/{upload}", piece, methods=["PUT", "HEAD"]),
    Route("/api/jobs/{job}/uploads/{upload}/complete", complete, methods=["POST"]),
]

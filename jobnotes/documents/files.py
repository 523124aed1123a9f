"""Finished files: each written beside its name and renamed, and the same bytes for the same record."""

from __future__ import annotations

import hashlib
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import BinaryIO

from jobnotes import record as r
from jobnotes import record_json
from jobnotes.durable import written
from jobnotes.errors import JobnotesError

_ZIP_EPOCH = (1980, 1, 1, 0, 0, 0)
_PACKED = (".jpg", ".png")


def put(content: bytes, path: Path) -> None:
    """Write `content` to `path`; raises JobnotesError where it can't be written, and then leaves nothing."""
    with _put(path) as file:
        file.write(content)


def put_settled(package: BinaryIO, path: Path) -> None:
    """Write a zip to `path` without its entries' times and attributes: they tell when it was packed, not what
    it holds. Pictures, which are compressed already, are stored as they are. As `put`."""
    with _put(path) as file, zipfile.ZipFile(package) as source, zipfile.ZipFile(file, "w") as target:
        for entry in source.infolist():
            info = zipfile.ZipInfo(entry.filename, _ZIP_EPOCH)
            info.create_system = 0
            info.external_attr = 0
            packed = entry.filename.endswith(_PACKED)
            info.compress_type = zipfile.ZIP_STORED if packed else zipfile.ZIP_DEFLATED
            target.writestr(info, source.read(entry))


@contextmanager
def _put(path: Path) -> Iterator[BinaryIO]:
    """A file beside `path` that takes its place once all of it is written."""
    try:
        with written(path) as file:
            yield file
    except OSError as error:
        raise unwritable(path, error) from error


def unwritable(path: Path, error: OSError) -> JobnotesError:
    return JobnotesError(
        str(path), error.strerror or "can't be written", "check the folder, its rights and its space"
    )


def digest(record: r.Record) -> str:
    """SHA-256 of `record.json`, in hexadecimal."""
    return hashlib.sha256(record_json.dumps(record).encode("utf-8", "surrogatepass")).hexdigest()


def file_digest(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def made(record: r.Record) -> datetime:
    """A time that depends on the record alone: the job's end, else the last that is known of it."""
    job = record.job
    moments = [note.started_at for note in record.notes] or [photo.taken_at for photo in record.photos]
    moment = job.closed_at or (max(moments) if moments else job.opened_at)
    return moment if moment is not None and moment.year >= 1980 else datetime(1980, 1, 1, tzinfo=UTC)

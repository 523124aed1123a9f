"""Fetching one file over HTTP: the only place in the tool that uses the network, and only when asked."""

from __future__ import annotations

import hashlib
import http.client
import json
import urllib.error
import urllib.request
from collections.abc import Callable
from pathlib import Path
from typing import BinaryIO

from jobnotes.errors import JobnotesError

_CHUNK = 1 << 18
_TRIES = 3
_TIMEOUT_S = 30.0
_LARGEST_LIST = 8 << 20

Fetched = Callable[[int, int | None], None]


class _BrokenOffError(Exception):
    """The connection ended early; asking for the rest may work."""


def fetch(address: str, to: Path, *, most_bytes: int, fetched: Fetched | None = None) -> None:
    """Writes what is at `address` (http or https) to the new file `to`.

    A connection that breaks off is taken up again where it ended, if the server can do that and the file is
    still the same, three times at most. `fetched` is called with the bytes so far and, if known, the bytes
    in all. Raises JobnotesError with a remedy, and then leaves nothing behind.
    """
    if not address.startswith(("https://", "http://")):
        raise JobnotesError(address, "is not a web address", "give one that starts with https://")
    try:
        with to.open("xb") as out:
            _fetch(address, out, most_bytes, fetched or (lambda done, of: None))
    except BaseException as error:
        to.unlink(missing_ok=True)
        if isinstance(error, OSError) and not isinstance(error, urllib.error.URLError):
            reason = f"can't be written ({error.strerror or error})"
            raise JobnotesError(str(to.parent), reason, "make room or name another folder") from None
        raise


def published_md5(list_address: str, name: str) -> str | None:
    """The MD5 that the publisher's list of models gives for `name`; None where it can't be told.

    The list's shape, an array of objects with `name` and `md5`, is from memory. An MD5 shows a broken
    download, not a forged one.
    """
    try:
        with urllib.request.urlopen(list_address, timeout=_TIMEOUT_S) as answer:
            models = json.loads(answer.read(_LARGEST_LIST))
    except (OSError, ValueError, http.client.HTTPException):
        return None
    for model in models if isinstance(models, list) else []:
        if isinstance(model, dict) and model.get("name") == name and isinstance(model.get("md5"), str):
            return str(model["md5"]).lower()
    return None


def file_md5(path: Path) -> str:
    """The MD5 of a file's bytes, as 32 hexadecimal digits."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, lambda: hashlib.md5(usedforsecurity=False)).hexdigest()


def _fetch(address: str, out: BinaryIO, most_bytes: int, fetched: Fetched) -> None:
    same: str | None = None
    for attempt in range(1, _TRIES + 1):
        try:
            with urllib.request.urlopen(_request(address, out.tell(), same), timeout=_TIMEOUT_S) as answer:
                if answer.status != http.client.PARTIAL_CONTENT:
                    out.seek(0)
                    out.truncate()
                elif not answer.headers.get("Content-Range", "").startswith(f"bytes {out.tell()}-"):
                    raise _refused(address, "the server sends another part than it was asked for")
                same = answer.headers.get("ETag") or answer.headers.get("Last-Modified")
                _take(answer, out, address, most_bytes, fetched)
                return
        except urllib.error.HTTPError as error:
            raise _refused(address, f"the server says {error.code} {error.reason}") from None
        except (urllib.error.URLError, http.client.HTTPException, ConnectionError, TimeoutError) as error:
            if out.tell() == 0 or attempt == _TRIES:
                raise _unreachable(address, getattr(error, "reason", error)) from None
        except _BrokenOffError as error:
            if attempt == _TRIES:
                raise _unreachable(address, error) from None


def _request(address: str, have: int, same: str | None) -> urllib.request.Request:
    headers = {"User-Agent": "jobnotes"}
    if have and same:
        headers |= {"Range": f"bytes={have}-", "If-Range": same}
    return urllib.request.Request(address, headers=headers)


def _take(
    answer: http.client.HTTPResponse, out: BinaryIO, address: str, most_bytes: int, fetched: Fetched
) -> None:
    length = answer.headers.get("Content-Length")
    of = out.tell() + int(length) if length and length.isdigit() else None
    while True:
        try:
            chunk = answer.read(_CHUNK)
        except (OSError, http.client.HTTPException) as error:
            raise _BrokenOffError(str(error)) from None
        if not chunk:
            break
        out.write(chunk)
        if out.tell() > most_bytes:
            raise _refused(address, f"is larger than {most_bytes // 1_000_000} MB")
        fetched(out.tell(), of)
    if of is not None and out.tell() < of:
        raise _BrokenOffError(f"the connection ended after {out.tell()} of {of} bytes")


def _unreachable(address: str, why: object) -> JobnotesError:
    return JobnotesError(
        address,
        f"can't be reached from here ({why})",
        "download it on a machine with a network and give the zip: jobnotes models add FILE.zip",
    )


def _refused(address: str, why: str) -> JobnotesError:
    return JobnotesError(address, why, "download it elsewhere and give the zip: jobnotes models add FILE.zip")

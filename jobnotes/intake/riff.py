"""What a wave file says about itself that FFmpeg doesn't pass on: its `bext` chunk and its own length.

RIFF by the Multimedia Programming Interface 1.0 (IBM and Microsoft, 1991); `bext` by EBU Tech 3285;
RF64 and its `ds64` chunk by EBU Tech 3306.
"""

from __future__ import annotations

import re
import struct
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import BinaryIO

from jobnotes.intake.dates import plausible

_MOST_CHUNKS = 1000
_UNKNOWN_SIZE = 0xFFFFFFFF  # what a recorder writes before it knows the length

# bext: Description 256, Originator 32, OriginatorReference 32, OriginationDate 10, OriginationTime 8
_DATE_AT, _BEXT_READ = 320, 338
_ORIGINATION = re.compile(rb"(\d{4})[-_:. ](\d\d)[-_:. ](\d\d)(\d\d)[-_:. ](\d\d)[-_:. ](\d\d)")


@dataclass(frozen=True, slots=True)
class Wave:
    """`originated_at` is local time, without a zone. Sizes are of the `data` chunk, in bytes.

    `claimed` is None if the header leaves the size open, as a recorder does that never came to its end.
    """

    originated_at: datetime | None
    claimed: int | None
    present: int


def read_wave(path: Path) -> Wave | None:
    """Walk the chunks of a wave file; None if it isn't one or holds no `data` chunk. OSError passes."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        head = stream.read(12)
        if head[:4] not in (b"RIFF", b"RF64", b"BW64") or head[8:] != b"WAVE":
            return None
        return _walk(stream, size)


def _walk(stream: BinaryIO, size: int) -> Wave | None:
    originated: datetime | None = None
    long_size: int | None = None
    data: tuple[int | None, int] | None = None
    for _ in range(_MOST_CHUNKS):
        header = stream.read(8)
        if len(header) < 8:
            break
        name, length = header[:4], struct.unpack("<I", header[4:])[0]
        start = stream.tell()
        if name == b"ds64" and length >= 16:
            long_size = struct.unpack("<Q", stream.read(16)[8:].ljust(8, b"\0"))[0]
        elif name == b"bext":
            originated = _origination(stream.read(min(length, _BEXT_READ)))
        elif name == b"data" and data is None:
            if length == _UNKNOWN_SIZE and long_size is not None:
                length = long_size
            left = size - start
            is_open = length == _UNKNOWN_SIZE or (length == 0 and left > 0)
            data = (None, left) if is_open else (length, min(length, left))
            if is_open:
                break
        end = start + length + length % 2
        if end >= size:
            break
        stream.seek(end)
    return Wave(originated, *data) if data is not None else None


def _origination(bext: bytes) -> datetime | None:
    match = _ORIGINATION.fullmatch(bext[_DATE_AT:])
    if match is None:
        return None
    try:
        at = datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]
    except ValueError:
        return None
    return at if plausible(at) else None

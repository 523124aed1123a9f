"""What a container says about its own end, where FFmpeg keeps silent about it."""

from __future__ import annotations

from pathlib import Path

_LONGEST_OGG_PAGE = 27 + 255 + 255 * 255


def has_index(path: Path) -> bool:
    """True if a whole `moov` box stands among an MP4 file's top-level boxes (ISO/IEC 14496-12, 4.2)."""
    size = path.stat().st_size
    at = 0
    with path.open("rb") as stream:
        while at + 8 <= size:
            stream.seek(at)
            header = stream.read(16)
            length = int.from_bytes(header[:4], "big")
            if header[4:8] == b"moov":
                return at + length <= size
            if length == 1 and len(header) == 16:
                length = int.from_bytes(header[8:], "big")
            if length < 8:  # 0: this box goes to the end of the file
                return False
            at += length
    return False


def counts_frames(path: Path) -> bool:
    """True if an mp3 begins with a frame that counts the others (after any tag: ID3v2.4.0, 3.1).

    Such a frame is named "Xing" or "Info" (common practice, no standard).
    """
    with path.open("rb") as stream:
        tag = stream.read(10)
        skip = 0
        if tag[:3] == b"ID3" and len(tag) == 10:
            skip = 10 + sum(byte << shift for byte, shift in zip(tag[6:], (21, 14, 7, 0), strict=True))
        stream.seek(skip)
        head = stream.read(512)
    return b"Xing" in head or b"Info" in head


def last_page_is_whole(path: Path) -> bool:
    """False if an Ogg file stops within its last page (RFC 3533, 6)."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        stream.seek(max(0, size - _LONGEST_OGG_PAGE))
        tail = stream.read()
    start = tail.rfind(b"OggS")
    if start < 0:
        return False
    page = tail[start:]
    if len(page) < 27 or len(page) < 27 + page[26]:
        return False
    return len(page) >= 27 + page[26] + sum(page[27 : 27 + page[26]])

"""File formats: which extensions are taken, and what a file is by its first bytes.

The extension says what the person meant to give, the first bytes what it is. Each container names the
FFmpeg demuxer that reads it, and no other is ever tried: FFmpeg's own guess could be a playlist, which
would make it open other files or the network.
"""

from __future__ import annotations

from pathlib import Path
from typing import Literal

Kind = Literal["recording", "photo"]

HEAD_BYTES = 64

RECORDINGS_SAID = "m4a, mp3, ogg, opus, webm, amr, 3gp, flac and wav"
PHOTOS_SAID = "jpeg, png, webp and heic"

_RECORDING_CONTAINERS = ("wav", "mov", "matroska", "ogg", "flac", "mp3", "amr", "aac")

# extension -> FFmpeg demuxer
_RECORDING_SUFFIXES = {
    ".m4a": "mov",
    ".m4b": "mov",
    ".mp4": "mov",
    ".3gp": "mov",
    ".3gpp": "mov",
    ".3g2": "mov",
    ".aac": "aac",
    ".mp3": "mp3",
    ".ogg": "ogg",
    ".oga": "ogg",
    ".opus": "ogg",
    ".webm": "matroska",
    ".weba": "matroska",
    ".mka": "matroska",
    ".amr": "amr",
    ".awb": "amr",
    ".flac": "flac",
    ".wav": "wav",
    ".wave": "wav",
    ".bwf": "wav",
}
_PHOTO_SUFFIXES = {".jpg", ".jpeg", ".jpe", ".jfif", ".png", ".webp", ".heic", ".heif", ".hif"}

# meant as evidence, but not readable here: named to the person rather than passed over
_UNREAD_RECORDINGS = {
    ".aif", ".aifc", ".aiff", ".avi", ".caf", ".ds2", ".dss", ".m4v", ".mid", ".mkv", ".mov", ".mts", ".ra",
    ".wma", ".wmv",
}  # fmt: skip
_UNREAD_PHOTOS = {
    ".arw", ".avif", ".bmp", ".cr2", ".cr3", ".dng", ".gif", ".jp2", ".jxl", ".nef", ".orf", ".raf", ".rw2",
    ".tif", ".tiff",
}  # fmt: skip

_HEIC_BRANDS = {b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1"}


def meant_as(path: Path) -> Kind | None:
    """What the extension says; None for what this tool doesn't take."""
    suffix = path.suffix.lower()
    if suffix in _RECORDING_SUFFIXES:
        return "recording"
    return "photo" if suffix in _PHOTO_SUFFIXES else None


def unread(path: Path) -> Kind | None:
    """What the extension says, of the formats that are evidence but can't be read here."""
    suffix = path.suffix.lower()
    if suffix in _UNREAD_RECORDINGS:
        return "recording"
    return "photo" if suffix in _UNREAD_PHOTOS else None


def content(head: bytes) -> str | None:
    """What a file is by its first `HEAD_BYTES` bytes; None if they tell nothing.

    For sound it is the name of an FFmpeg demuxer, for pictures "jpeg", "png", "webp" or "heic".
    """
    if head[:4] in (b"RIFF", b"RF64", b"BW64") and head[8:12] == b"WAVE":
        return "wav"
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":
        return "webp"
    if head[4:8] == b"ftyp":
        return "heic" if head[8:12] in _HEIC_BRANDS else "mov"
    for magic, name in _MAGIC:
        if head.startswith(magic):
            return name
    return _mpeg_frame(head)


def kind_of(name: str | None) -> Kind | None:
    """Recording or photo, of a name given by `content`."""
    if name is None:
        return None
    return "recording" if name in _RECORDING_CONTAINERS else "photo"


def demuxer_of(path: Path, head: bytes) -> str | None:
    """The FFmpeg demuxer for a recording; None if the file is no recording, whatever its extension says.

    The content goes first: phones and chat programs often give the wrong extension. The extension is
    only believed for the formats without a signature, which may begin with stray bytes.
    """
    name = content(head)
    if name is not None:
        return name if kind_of(name) == "recording" else None
    by_suffix = _RECORDING_SUFFIXES.get(path.suffix.lower())
    return by_suffix if by_suffix in ("mp3", "aac", "mov") and not _is_text(head) else None


def looks_like(head: bytes) -> str:
    """In words, what a file is that is not what its extension says."""
    name = content(head)
    if name is not None:
        return f"a {name} file" if kind_of(name) == "photo" else "a recording"
    return "text" if _is_text(head) else "of an unknown kind"


_MAGIC: tuple[tuple[bytes, str], ...] = (
    (b"\xff\xd8\xff", "jpeg"),
    (b"\x89PNG\r\n\x1a\n", "png"),
    (b"OggS", "ogg"),
    (b"fLaC", "flac"),
    (b"\x1a\x45\xdf\xa3", "matroska"),
    (b"#!AMR\n", "amr"),
    (b"#!AMR-WB\n", "amr"),
    (b"ID3", "mp3"),
)


def _mpeg_frame(head: bytes) -> str | None:
    """ "mp3" or "aac" (ADTS) if the head is a valid MPEG audio frame header (ISO/IEC 11172-3, 13818-7)."""
    if len(head) < 4 or head[0] != 0xFF or head[1] & 0xE0 != 0xE0:
        return None
    if head[1] & 0xF6 == 0xF0:
        return "aac" if (head[2] >> 2) & 0xF < 13 else None
    version, layer = (head[1] >> 3) & 3, (head[1] >> 1) & 3
    bitrate, rate = head[2] >> 4, (head[2] >> 2) & 3
    return "mp3" if version != 1 and layer in (1, 2) and bitrate not in (0, 15) and rate != 3 else None


def _is_text(head: bytes) -> bool:
    try:
        text = head.decode("utf-8")
    except UnicodeDecodeError as error:
        # a character may be cut by the end of the head
        if error.start < len(head) - 3:
            return head.startswith((b"\xff\xfe", b"\xfe\xff"))
        text = head[: error.start].decode("utf-8")
    return all(c.isprintable() or c in "\t\r\n\f\ufeff" for c in text)

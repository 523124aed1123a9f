"""Recordings made on the fly, with PyAV's encoders or byte by byte."""

from __future__ import annotations

import struct
from fractions import Fraction
from pathlib import Path

import av
import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float32]

# name -> (muxer, encoder, rate)
ENCODED = {
    "note.m4a": ("ipod", "aac", 44_100),
    "note.aac": ("adts", "aac", 44_100),
    "note.mp3": ("mp3", "libmp3lame", 44_100),
    "note.ogg": ("ogg", "libopus", 48_000),
    "note.opus": ("ogg", "libopus", 16_000),
    "note.webm": ("webm", "libopus", 48_000),
    "note.amr": ("amr", "libopencore_amrnb", 8_000),
    "note.3gp": ("3gp", "aac", 16_000),
    "narrow.3gp": ("3gp", "libopencore_amrnb", 8_000),
    "note.flac": ("flac", "flac", 44_100),
    "note.wav": ("wav", "pcm_s16le", 44_100),
}
# a muxer writes a creation time into these
WITH_CREATION_TIME = ["note.m4a", "note.3gp", "note.webm", "note.mp3", "note.ogg", "note.flac"]


def can_encode(encoder: str) -> bool:
    try:
        av.Codec(encoder, "w")
    except av.codec.codec.UnknownCodecError:
        return False
    return True


def tone(seconds: float, rate: int, level: float = 0.5, hertz: float = 440.0) -> Samples:
    """A sine of peak `level`."""
    return (level * np.sin(2 * np.pi * hertz * np.arange(round(seconds * rate)) / rate)).astype(np.float32)


def burst(rate: int, start_s: float = 0.7, end_s: float = 1.2, seconds: float = 2.0) -> Samples:
    """Silence but for a tone from `start_s` to `end_s`."""
    sound = tone(seconds, rate, hertz=600.0)
    at = np.arange(len(sound)) / rate
    sound[(at < start_s) | (at >= end_s)] = 0.0
    return sound


def encode(
    path: Path,
    sound: Samples,
    muxer: str,
    encoder: str,
    rate: int,
    *,
    tags: dict[str, str] | None = None,
    starts: tuple[tuple[int, int], ...] = (),
    options: dict[str, str] | None = None,
) -> Path:
    """Encode mono samples (samples,) or several channels (channels, samples) to `path`.

    `starts`: (sample, sample) pairs; from the first on, timestamps are put on by the second.
    """
    channels = np.atleast_2d(sound).astype(np.float32)
    layout = {1: "mono", 2: "stereo"}[len(channels)]
    with av.open(str(path), "w", format=muxer, options=options or {}) as out:
        out.metadata.update(tags or {})
        stream = out.add_stream(encoder, rate=rate, layout=layout)
        to_codec = av.AudioResampler(format=stream.codec_context.format, layout=layout, rate=rate)
        frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(channels), format="fltp", layout=layout)
        frame.sample_rate = rate
        queue = av.AudioFifo()
        for part in [*to_codec.resample(frame), *to_codec.resample(None)]:
            part.pts = None
            queue.write(part)
        size = stream.codec_context.frame_size or 1024
        at = 0
        while (part := queue.read(size, partial=True)) is not None:
            part.pts = at + sum(by for first, by in starts if at >= first)
            part.time_base = Fraction(1, rate)
            at += part.samples
            out.mux(stream.encode(part))
        out.mux(stream.encode(None))
    return path


def make(folder: Path, name: str, sound: Samples | None = None, tags: dict[str, str] | None = None) -> Path:
    """One of `ENCODED`; where the wheel lacks an AMR encoder, silent frames written by hand."""
    muxer, encoder, rate = ENCODED[name]
    path = folder / name
    if name == "note.amr" and not can_encode(encoder):
        return amr_by_hand(path, seconds=2.0)
    return encode(path, burst(rate) if sound is None else sound, muxer, encoder, rate, tags=tags)


def amr_by_hand(path: Path, seconds: float) -> Path:
    """AMR narrow-band in its file format (RFC 4867, 5): 20 ms frames of mode 7 (12.2 kbit/s), all bits 0."""
    frame = bytes([7 << 3 | 1 << 2]) + bytes(31)
    path.write_bytes(b"#!AMR\n" + frame * round(seconds * 50))
    return path


def chunk(name: bytes, body: bytes, claimed: int | None = None) -> bytes:
    """One RIFF chunk, padded to an even length; `claimed` forges its size."""
    size = len(body) if claimed is None else claimed
    return name + struct.pack("<I", size) + body + b"\0" * (len(body) % 2)


def riff(*chunks: bytes) -> bytes:
    body = b"WAVE" + b"".join(chunks)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def pcm_format(rate: int = 16_000, channels: int = 1, bits: int = 16, tag: int = 1) -> bytes:
    block = channels * bits // 8
    return chunk(b"fmt ", struct.pack("<HHIIHH", tag, channels, rate, rate * block, block, bits))


def pcm16(sound: Samples) -> bytes:
    return np.round(sound * 32767).astype("<i2").tobytes()


def bext(date: bytes, time: bytes, after: bytes = b"") -> bytes:
    """A broadcast extension chunk of version 1, laid out as in EBU Tech 3285, 2.3."""
    body = b"Bay 3 note".ljust(256, b"\0")  # Description
    body += b"recorder".ljust(32, b"\0")  # Originator
    body += b"ref".ljust(32, b"\0")  # OriginatorReference
    body += date.ljust(10, b"\0") + time.ljust(8, b"\0")  # OriginationDate, OriginationTime
    body += struct.pack("<IIH", 0, 0, 1)  # TimeReferenceLow, TimeReferenceHigh, Version
    body += bytes(64) + bytes(190)  # UMID, Reserved
    return chunk(b"bext", body + after)

"""Sound: a recording's samples, as a recogniser wants them and at the times at which a player shows them.

Decoding is PyAV's, whose wheel carries its own FFmpeg. Sample `i` at 16 kHz is at `i / 16000` seconds:
where the recording pauses or a part of it can't be decoded, silence of that length stands in its place.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any, BinaryIO

import av
import numpy as np
from av.audio.frame import AudioFrame
from av.container import InputContainer
from av.packet import Packet
from numpy.typing import NDArray

from jobnotes.errors import UnusableInputError
from jobnotes.intake import containers, formats, riff
from jobnotes.intake.originals import COPY_AGAIN, require_file

RATE_HZ = 16_000

Samples = NDArray[np.float32]

_SHORTEST_GAP_S = 0.1  # below it, timestamps are merely rounded
_LONGEST_GAP_S = 600.0  # above it, they are damaged: the recording goes on where it stopped
_MOST_SILENCE = RATE_HZ * 60  # samples of silence made at a time
# a few bytes may claim years: at one sample a second, or with a pause after each; 6 hours are 1.4 GB
_LONGEST_S = 6 * 3600.0
_LOWEST_HZ = 4000  # half of what a telephone has


@dataclass(frozen=True, slots=True)
class Silence:
    """A stretch without samples, in seconds."""

    length_s: float


class Sound:
    """One recording, open for reading once.

    `declared_s` is the whole length by the file's own account, None where that can't be relied on. What
    `pieces` came across is known when it has been read to its end: `elapsed_s` is the length of all it
    gave, `undecoded_s` of what could not be decoded, and `broken` is true if the file stops in the middle
    of something. More than six hours are refused (UnusableInputError).
    """

    def __init__(self, container: InputContainer, demuxer: str, path: Path, file: str) -> None:
        if not container.streams.audio:
            raise UnusableInputError(file, "holds no sound", "give a file with a voice note in it")
        self._container, self._file = container, file
        self._stream = container.streams.audio[0]
        codec = self._stream.codec_context
        if codec is None:  # PyAV's stubs don't say so, but it is where FFmpeg knows no decoder
            reason = "is in a coding that can't be read here"
            raise UnusableInputError(file, reason, f"save its sound in one of {formats.RECORDINGS_SAID}")
        self.container = demuxer
        self.codec = codec.name
        self.sample_rate_hz = int(codec.sample_rate or 0)
        if 0 < self.sample_rate_hz < _LOWEST_HZ:
            reason = f"has only {self.sample_rate_hz} samples a second, in which no speech can be heard"
            raise UnusableInputError(file, reason, f"record it again, at {RATE_HZ} or more")
        self.channels = int(codec.layout.nb_channels)
        self.tags = tuple(chain(container.metadata.items(), self._stream.metadata.items()))
        self.declared_s = self._declared(path)
        self.elapsed_s = 0.0
        self.undecoded_s = 0.0
        self.broken = demuxer == "ogg" and not containers.last_page_is_whole(path)

    def pieces(self) -> Iterator[AudioFrame | Silence]:
        """The decoded frames in order, and silence where the file has none or a part is damaged."""
        origin = _seconds(self._stream.start_time, self._stream.time_base)
        for packet in self._packets():
            try:
                frames = packet.decode()
            except (av.FFmpegError, ValueError):
                self.undecoded_s += _seconds(packet.duration, packet.time_base) or 0.0
                continue
            for frame in frames:
                if not isinstance(frame, AudioFrame) or not frame.samples or not frame.sample_rate:
                    continue
                at = _seconds(frame.pts, frame.time_base)
                if at is not None:
                    origin = at if origin is None else origin
                    gap = at - origin - self.elapsed_s
                    if gap > _LONGEST_GAP_S:
                        origin += gap
                    elif gap > _SHORTEST_GAP_S:
                        yield Silence(gap)
                        self.elapsed_s += gap
                self.elapsed_s += frame.samples / frame.sample_rate
                if self.elapsed_s > _LONGEST_S:
                    raise _too_long(self._file)
                yield frame

    def _packets(self) -> Iterator[Packet[Any]]:
        packets = self._container.demux(self._stream)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except (av.FFmpegError, OSError):
                self.broken = True
                return
            yield packet

    def _declared(self, path: Path) -> float | None:
        """An estimate from the bit rate is no account of the file's own, so only some kinds have one."""
        whole = None if self._container.duration is None else self._container.duration / av.time_base
        match self.container:
            case "mov":
                return _seconds(self._stream.duration, self._stream.time_base)
            case "matroska" if not self._container.streams.video:
                return whole
            case "flac":
                return whole
            case "mp3" if containers.counts_frames(path):
                return whole
            case "wav":
                wave = riff.read_wave(path)
                if whole is not None and wave is not None and wave.claimed is not None and wave.present:
                    return whole * wave.claimed / wave.present  # FFmpeg's own is of what is present
        return None


class _OfItsSize:
    """A file that is asked for no more than it has: a damaged head may claim gigabytes, and the room for
    them would be made before anything is read."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._size = os.fstat(stream.fileno()).st_size

    def read(self, size: int = -1) -> bytes:
        left = max(0, self._size - self._stream.tell())
        return self._stream.read(left if size < 0 else min(size, left))

    def seek(self, offset: int, whence: int = 0) -> int:
        return self._stream.seek(offset, whence)

    def tell(self) -> int:
        return self._stream.tell()


@contextmanager
def opened(path: Path, file: str) -> Iterator[Sound]:
    """A recording, open. Raises UnusableInputError, with `file` as its subject, if it is none.

    The container is recognised by its content and no other demuxer is tried (see `formats`).
    """
    require_file(path, file)
    with path.open("rb") as stream:
        head = stream.read(formats.HEAD_BYTES)
        demuxer = formats.demuxer_of(path, head)
        if demuxer is None:
            reason = f"is no recording, but {formats.looks_like(head)}"
            raise UnusableInputError(file, reason, f"give a recording: {formats.RECORDINGS_SAID} can be read")
        stream.seek(0)
        try:
            container = av.open(_OfItsSize(stream), "r", format=demuxer, metadata_errors="replace")
        except (av.FFmpegError, OSError, ValueError) as error:
            if demuxer == "mov" and not containers.has_index(path):
                reason = "has no index (moov): its writing or copying was broken off"
                raise UnusableInputError(file, reason, COPY_AGAIN) from error
            raise UnusableInputError(file, "is damaged and can't be opened", COPY_AGAIN) from error
        with container:
            yield Sound(container, demuxer, path, file)


def blocks_16k(path: Path, seconds: float = 30.0, file: str | None = None) -> Iterator[Samples]:
    """A recording as mono float32 at 16 kHz in [-1, 1], in blocks of `seconds`; only the last is shorter.

    Several channels are averaged. Damaged parts are silent (`open_recording` names them). Memory
    doesn't grow with the recording's length. Raises UnusableInputError if nothing can be decoded.
    """
    return _blocks(path, seconds, file or path.name)


def mono_16k(path: Path, file: str | None = None) -> Samples:
    """All of a recording as `blocks_16k` gives it, as one array of shape (samples,): 4 MB a minute."""
    whole = bytearray()  # grows in its place, so that a long recording isn't there twice
    for block in blocks_16k(path, file=file):
        whole += block.data
    return np.frombuffer(whole, np.float32)


def _blocks(path: Path, seconds: float, file: str) -> Iterator[Samples]:
    size = max(1, round(seconds * RATE_HZ))
    waiting: list[Samples] = []
    count = 0
    anything = False
    with opened(path, file) as sound:
        for part in _resampled(sound.pieces()):
            waiting.append(part)
            count += len(part)
            anything = True
            if count >= size:
                whole = _harmless(np.concatenate(waiting))
                full = count - count % size
                for start in range(0, full, size):
                    yield whole[start : start + size]
                waiting, count = [whole[full:]], count - full
    if not anything:
        raise empty(file)
    if count:
        yield _harmless(np.concatenate(waiting))


def empty(file: str) -> UnusableInputError:
    """The error for a recording without a single sample."""
    return UnusableInputError(file, "holds no sound (0 seconds)", "take it out, or record it again")


def _too_long(file: str) -> UnusableInputError:
    hours = round(_LONGEST_S / 3600)
    return UnusableInputError(file, f"is longer than {hours} hours", "cut it, and give the part that matters")


def _resampled(pieces: Iterator[AudioFrame | Silence]) -> Iterator[Samples]:
    """Mono 16 kHz; a new resampler wherever the sound's rate, channels or sample format change."""
    resampler: av.AudioResampler | None = None
    shape: tuple[Any, ...] = ()
    for piece in pieces:
        if isinstance(piece, Silence):
            yield from _flushed(resampler)
            resampler = None
            left = round(piece.length_s * RATE_HZ)
            while left > 0:
                yield np.zeros(min(left, _MOST_SILENCE), np.float32)
                left -= _MOST_SILENCE
            continue
        before, shape = shape, (piece.sample_rate, piece.format.name, piece.layout.name)
        if shape != before:
            yield from _flushed(resampler)
            resampler = None
        if resampler is None:
            resampler = av.AudioResampler(format="fltp", rate=RATE_HZ)
        piece.pts = None  # the timeline is kept by `pieces`
        for frame in resampler.resample(piece):
            yield _samples(frame)
    yield from _flushed(resampler)


def _flushed(resampler: av.AudioResampler | None) -> Iterator[Samples]:
    if resampler is not None:
        for frame in resampler.resample(None):
            yield _samples(frame)


def _samples(frame: AudioFrame) -> Samples:
    """The mean of the channels: FFmpeg's own mix of more than two goes beyond full scale."""
    channels = frame.to_ndarray().astype(np.float32, copy=False)  # (channels, samples)
    mean: Samples = channels[0] if len(channels) == 1 else _harmless(channels).mean(axis=0)
    return mean


def _harmless(sound: Samples) -> Samples:
    """Without what a float recording may hold: samples beyond full scale, and what is no number."""
    return np.clip(np.nan_to_num(sound, nan=0.0, posinf=1.0, neginf=-1.0), -1.0, 1.0)


def _seconds(count: int | None, unit: Any) -> float | None:
    return None if count is None or unit is None else float(count * unit)

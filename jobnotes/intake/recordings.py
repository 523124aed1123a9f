"""Recordings: when a voice note was begun, how long it is, and whether all of it can be heard."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Literal

from jobnotes.errors import Problem, UnusableInputError
from jobnotes.intake import dates, riff
from jobnotes.intake.originals import COPY_AGAIN, digest, file_name, require_file
from jobnotes.intake.segments import segment
from jobnotes.intake.sound import Sound, blocks_16k, empty, mono_16k, opened
from jobnotes.record import NoteTimeDoubt

__all__ = ["Recording", "StartedAtSource", "blocks_16k", "mono_16k", "open_recording", "segment"]

StartedAtSource = Literal["container", "bext", "file name", "file time"]

# in this order; names as PyAV gives them, without regard to case
_CREATION_TAGS = ("creation_time", "com.apple.quicktime.creationdate")

_NOTICEABLE_S = 0.15  # shorter than a word; what is missing below it is mostly a codec's padding
_CLOSING_S = 3.0


@dataclass(frozen=True, slots=True)
class Recording:
    """One recording as given. `file` is its name for people, `sha256` of its bytes.

    `started_at` has a fixed offset, that of the zone it was opened with. `duration_s` is what was decoded,
    pauses included. `container` is the FFmpeg demuxer's name, `codec` the decoder's. `problem` is set
    where it can be used only in part, or its date is doubtful.
    """

    path: Path
    file: str
    sha256: str
    started_at: datetime
    started_at_source: StartedAtSource
    duration_s: float
    container: str
    codec: str
    sample_rate_hz: int
    channels: int
    problem: Problem | None = None
    started_at_doubt: NoteTimeDoubt | None = None

    @property
    def dated_at(self) -> datetime:
        return self.started_at

    @property
    def dated_by(self) -> str:
        return self.started_at_source


def open_recording(path: Path, zone: tzinfo, folder: Path | None = None) -> Recording:
    """Hash a recording, decode it once to its end, and tell when it was begun.

    `zone` is where the recorder's clock is; `folder` is what `file` is relative to. The start is, in this
    order: the container's creation time (UTC); the origination date and time of a broadcast wave's `bext`
    chunk (local); a date and time in the file name (local); when the file was last written, less its
    duration. Dates of a clock that was never set (1904, 1970, …) are passed over.

    A container's creation time is taken as the start. Some phones write the moment at which they closed
    the file instead; that shows only where the file name tells a start that is the duration earlier, and
    is put right there. Elsewhere the note may be dated late by at most its own duration.

    Raises UnusableInputError, with a remedy, for what can't be read or holds no sound.
    """
    file = file_name(path, folder)
    require_file(path, file)
    sha256 = digest(path)
    with opened(path, file) as sound:
        for _ in sound.pieces():
            pass
    if not sound.elapsed_s:
        raise _nothing(sound, file)
    duration = timedelta(seconds=sound.elapsed_s)
    by_file = dates.fixed(dates.modified(path, zone) - duration, zone)
    wave = riff.read_wave(path) if sound.container == "wav" else None
    started_at, source, date = _start(path.name, sound, wave, by_file, zone)
    return Recording(
        path=path,
        file=file,
        sha256=sha256,
        started_at=started_at,
        started_at_source=source,
        duration_s=round(sound.elapsed_s, 6),
        container=sound.container,
        codec=sound.codec,
        sample_rate_hz=sound.sample_rate_hz,
        channels=sound.channels,
        problem=_problem(file, _missing(sound, wave), date.why if date else None),
        started_at_doubt=date.doubt if date else None,
    )


def _start(
    name: str, sound: Sound, wave: riff.Wave | None, by_file: datetime, zone: tzinfo
) -> tuple[datetime, StartedAtSource, dates.FileDate | None]:
    """When it was begun, by what, and the date from outside the file if it is that."""
    named_in_utc = dates.named_utc(name, zone)
    if named_in_utc is not None:
        return named_in_utc, "file name", None
    tags = {key.lower(): value for key, value in reversed(sound.tags)}  # the container's win over the track's
    for tag in _CREATION_TAGS:
        created = dates.stated(tags.get(tag, ""), zone)
        if created is not None:
            named = dates.named_time(name, zone, near=created)
            duration = timedelta(seconds=sound.elapsed_s)
            if named is not None and _closing_time(created, named, duration):
                created -= duration
            return dates.fixed(created, zone), "container", None
    if wave is not None and wave.originated_at is not None:
        return dates.localised(wave.originated_at, zone, near=by_file), "bext", None
    date = dates.outside(name, by_file, zone)
    return date.at, date.source, date


def _closing_time(created: datetime, named: datetime, duration: timedelta) -> bool:
    tolerance = timedelta(seconds=_CLOSING_S)
    return duration > 2 * tolerance and abs(created - duration - named) <= tolerance


def _missing(sound: Sound, wave: riff.Wave | None) -> str | None:
    heard = _length(sound.elapsed_s)
    if sound.declared_s is not None and sound.declared_s - sound.elapsed_s > _NOTICEABLE_S:
        return f"only {heard} of its {_length(sound.declared_s)} can be heard"
    if wave is not None and wave.claimed is None:
        return f"was never finished by its recorder; {heard} of it are there"
    if sound.broken:
        return f"breaks off after {heard}"
    if sound.undecoded_s > _NOTICEABLE_S:
        return f"{_length(sound.undecoded_s)} of it are damaged and were not heard"
    return None


def _problem(file: str, missing: str | None, doubt: str | None) -> Problem | None:
    errors = []
    if missing is not None:
        errors.append(UnusableInputError(file, missing, COPY_AGAIN))
    if doubt is not None:
        errors.append(UnusableInputError(file, doubt, dates.NAME_IT))
    if not errors:
        return None
    return Problem(file, "; ".join(Problem.of(error).message for error in errors))


def _nothing(sound: Sound, file: str) -> UnusableInputError:
    if sound.undecoded_s or sound.broken:
        return UnusableInputError(file, "is damaged: none of its sound can be decoded", COPY_AGAIN)
    return empty(file)


def _length(seconds: float) -> str:
    if seconds < 60:
        return f"{seconds:.1f} s"
    minutes, rest = divmod(round(seconds), 60)
    hours, minutes = divmod(minutes, 60)
    return f"{hours} h {minutes:02} min" if hours else f"{minutes} min {rest:02} s"

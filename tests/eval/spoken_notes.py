"""An evaluation session as a voice note: spoken, perhaps with noise, and heard; each step kept in a cache.

What is kept is found again by everything that it depends on (text, voice, noise, recogniser), so a run that
was broken off goes on where it stopped, and a change of the reader alone costs no hearing.
"""

from __future__ import annotations

import hashlib
import json
import os
import sys
import zlib
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import av
import numpy as np
from noise import KINDS, OF_SESSIONS, RATE_HZ, TAKEN, Samples, taken, with_noise
from saying import said
from voices import Voice, decoded

from jobnotes.hearing import Recogniser
from jobnotes.hearing.second import TwoListeners
from jobnotes.hearing.two_hearings import TwoHearings
from jobnotes.record import Note, RecogniserStamp, Word

_REVISION = 1  # to be raised when a note is put together in another way
_LEVEL_DB = -23.0  # of the speech, relative to full scale
_LEAD_IN_S = 0.7
_PAUSE_S = (0.6, 1.2)
_STARTED = datetime(2026, 2, 10, 8, 0, tzinfo=UTC)

Session = dict[str, Any]
Spans = list[tuple[float, float]]


@dataclass(frozen=True, slots=True)
class Noise:
    """`snr_db` None: clean. `kind` None: each session has its own of the kinds, the same for all voices.

    `how` it is recorded: a name of `TAKEN`, None for well.
    """

    snr_db: float | None = None
    kind: str | None = None
    how: str | None = None

    @classmethod
    def of(cls, text: str) -> Noise:
        """From "clean", "15" (dB), "15:leak", or how it is recorded: "cab"."""
        if text == "clean":
            return cls()
        if text in TAKEN:
            return cls(how=text)
        db, _, kind = text.partition(":")
        if kind and kind not in KINDS:
            raise ValueError(f"no noise is called {kind!r}; there are {', '.join(KINDS)}")
        return cls(float(db), kind or None)

    @property
    def name(self) -> str:
        if self.snr_db is None:
            return self.how or "clean"
        return f"{self.snr_db:g} dB {self.kind or ''}".strip()

    def kind_for(self, session_id: str) -> str:
        return self.kind or OF_SESSIONS[zlib.crc32(session_id.encode()) % len(OF_SESSIONS)]


@dataclass(frozen=True, slots=True)
class Heard:
    """A session as heard. `lines` as the voice was given them, `spans` when each was said (seconds)."""

    session: Session
    voice: str
    noise: Noise
    lines: tuple[str, ...]
    spans: tuple[tuple[float, float], ...]
    duration_s: float
    words: tuple[Word, ...]
    recogniser: RecogniserStamp

    def line_at(self, second: float | None) -> int | None:
        """The line that was being said then; a pause belongs half to the line before it, half to the next."""
        if second is None:
            return None
        for line, (here, after) in enumerate(zip(self.spans, self.spans[1:], strict=False)):
            if second < (here[1] + after[0]) / 2:
                return line
        return len(self.spans) - 1

    def line_of(self, fact: dict[str, Any]) -> int | None:
        return self.line_at(fact.get("start_s"))

    def heard_on(self, line: int) -> str:
        return " ".join(
            w.text for w in self.words if self.line_at(((w.start_s or 0) + (w.end_s or 0)) / 2) == line
        )

    def note(self) -> Note:
        key = hashlib.sha256(f"{self.session['id']} {self.voice} {self.noise.name}".encode()).hexdigest()
        text = " ".join(w.text for w in self.words)
        return Note(
            "N1", "note.flac", key, _STARTED, "made", self.duration_s, self.recogniser, text, self.words
        )


def cache_folder() -> Path:
    """JOBNOTES_EVAL_CACHE, or a folder of its own in the user's cache."""
    if named := os.environ.get("JOBNOTES_EVAL_CACHE"):
        return Path(named).expanduser()
    if sys.platform == "win32":
        base = Path(os.environ.get("LOCALAPPDATA") or Path.home() / "AppData" / "Local")
    elif sys.platform == "darwin":
        base = Path.home() / "Library" / "Caches"
    else:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache")
    return base / "jobnotes-eval"


def heard(
    session: Session, voice: Voice, noise: Noise, recogniser: Recogniser, cache: Path, only_kept: bool = False
) -> Heard | None:
    """The session as heard, from the cache where it is there; `only_kept`: else None."""
    lines = [said(line) for line in session["lines"]]
    sound_key = _key([_REVISION, voice.stamp, session["id"], lines])
    stamp = recogniser.stamp
    kind = "" if noise.snr_db is None else noise.kind_for(session["id"])
    key = _key([sound_key, noise.snr_db, kind, asdict(stamp), *([noise.how] if noise.how else [])])
    file = cache / "heard" / f"{key}.json"
    if not file.exists():
        if only_kept:
            return None
        samples, spans = _spoken(session["id"], lines, voice, cache / "sound" / sound_key)
        if noise.snr_db is not None:
            samples = with_noise(samples, spans, kind, noise.snr_db, int(sound_key[:8], 16))
        if noise.how:
            samples = taken(samples, noise.how, int(sound_key[:8], 16))
        if isinstance(recogniser, TwoListeners):  # what the first one heard may be kept already
            once = heard(session, voice, noise, recogniser.first, cache)
            assert once is not None
            words = recogniser.weighed(once.words, samples)
        elif isinstance(recogniser, TwoHearings):
            both = [heard(session, voice, noise, one, cache) for one in (recogniser.first, recogniser.second)]
            words = recogniser.weighed(*(one.words for one in both if one is not None))
        else:
            words = recogniser.hear(samples)
        kept = {
            "session": session["id"],
            "voice": voice.name,
            "noise": noise.name + (f" {kind}" if kind else ""),
            "recogniser": asdict(stamp),
            "lines": lines,
            "spans": spans,
            "duration_s": len(samples) / RATE_HZ,
            "words": [asdict(w) for w in words],
        }
        _write(file, json.dumps(kept, ensure_ascii=False).encode())
    kept = json.loads(file.read_text("utf-8"))
    return Heard(
        session,
        voice.name,
        noise,
        tuple(lines),
        tuple((a, b) for a, b in kept["spans"]),
        kept["duration_s"],
        tuple(Word(**w) for w in kept["words"]),
        stamp,
    )


def _spoken(session_id: str, lines: Sequence[str], voice: Voice, place: Path) -> tuple[Samples, Spans]:
    """(samples, when each line is said): the lines one after the other with pauses, at an even level."""
    file, about = place.with_suffix(".flac"), place.with_suffix(".json")
    if not about.exists():
        seed = int(place.name[:8], 16) & 0x7FFFFFFF
        pauses = np.random.default_rng(zlib.crc32(session_id.encode())).uniform(*_PAUSE_S, len(lines))
        pieces = [np.zeros(int(_LEAD_IN_S * RATE_HZ), np.float32)]
        spans: Spans = []
        at = len(pieces[0])
        for said_line, pause in zip(voice.say(lines, seed), pauses, strict=True):
            spans.append((at / RATE_HZ, (at + len(said_line)) / RATE_HZ))
            pieces += [said_line, np.zeros(int(pause * RATE_HZ), np.float32)]
            at += len(said_line) + len(pieces[-1])
        samples = np.concatenate(pieces)
        speech = np.concatenate(pieces[1::2])
        gain = 10 ** (_LEVEL_DB / 20) / np.sqrt(np.mean(speech.astype(np.float64) ** 2))
        gain = min(gain, 0.95 / float(np.abs(speech).max()))
        _write_flac(file, np.asarray(samples * gain, np.float32))
        _write(about, json.dumps({"lines": list(lines), "voice": voice.name, "spans": spans}).encode())
    return decoded(file), [(a, b) for a, b in json.loads(about.read_text("utf-8"))["spans"]]


def _key(of: object) -> str:
    return hashlib.sha256(json.dumps(of, ensure_ascii=False).encode()).hexdigest()[:32]


def _write(file: Path, data: bytes) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_name(f"{file.name}.{os.getpid()}.part")
    part.write_bytes(data)
    part.replace(file)


def _write_flac(file: Path, samples: Samples) -> None:
    file.parent.mkdir(parents=True, exist_ok=True)
    part = file.with_name(f"{file.name}.{os.getpid()}.part")
    whole = np.round(np.clip(samples, -1, 1) * 32767).astype(np.int16)
    with av.open(str(part), "w", format="flac") as out:
        stream = out.add_stream("flac", rate=RATE_HZ, layout="mono", format="s16")
        frame = av.AudioFrame.from_ndarray(whole[None, :], format="s16", layout="mono")
        frame.sample_rate = RATE_HZ
        out.mux(stream.encode(frame))
        out.mux(stream.encode(None))
    part.replace(file)

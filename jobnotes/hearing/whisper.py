"""The whisper engine: faster-whisper on the CPU with 8-bit weights.

Speech is found first, put together into pieces of up to half a minute, and each piece is decoded on its
own: memory doesn't grow with the length of a recording, and an error in one piece can't lead the next
astray. Decoding is without chance (temperature 0): the same samples give the same words.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from importlib import metadata
from threading import Lock
from typing import Any, Protocol

from jobnotes.errors import JobnotesError
from jobnotes.hearing.recogniser import Progress, Samples, checked, ignore
from jobnotes.hearing.speech import Activity, Piece, pieces, spans
from jobnotes.hearing.words import Heard, joined, loop, without_loops
from jobnotes.record import RecogniserStamp, Word

ENGINE = "whisper"
_REVISION = 1  # to be raised with a change in this stage's code that gives other words


@dataclass(frozen=True, slots=True)
class Settings:
    """How to decode. `piece_s`: how much speech is decoded at once, in seconds, 30 at most.

    The values are those that measured best: docs/hearing.md.
    """

    beam_size: int = 5
    piece_s: float = 28.0
    no_speech_above: float = 0.6
    log_probability_below: float = -1.0
    compression_above: float = 2.4
    activity: Activity = field(default_factory=Activity)


class Weights(Protocol):
    """Weights that aren't loaded yet: a name and a digest, and on demand a folder that was checked."""

    @property
    def name(self) -> str: ...

    @property
    def sha256(self) -> str: ...

    def folder(self) -> str: ...


class WhisperRecogniser:
    """Hears with the faster-whisper `weights`.

    `prompt` is vocabulary that the decoder is told to expect, None for none. `cpu_threads` None takes the
    cores that this process may use, four at most.
    """

    def __init__(
        self,
        weights: Weights,
        *,
        prompt: str | None = None,
        settings: Settings | None = None,
        cpu_threads: int | None = None,
    ) -> None:
        self._weights = weights
        self._prompt = " ".join(prompt.split()) if prompt else None
        self._settings = settings or Settings()
        self._cpu_threads = cpu_threads or min(4, _cores())
        self._model: Any = None
        self._loading = Lock()

    @property
    def stamp(self) -> RecogniserStamp:
        """`sha256` is over everything that the words depend on: weights, settings, prompt, libraries."""
        made_with = {
            "weights": self._weights.sha256,
            "prompt": self._prompt,
            "settings": asdict(self._settings),
            "revision": _REVISION,
            "libraries": {name: metadata.version(name) for name in ("faster-whisper", "ctranslate2")},
        }
        text = json.dumps(made_with, sort_keys=True, ensure_ascii=False)
        return RecogniserStamp(ENGINE, self._weights.name, hashlib.sha256(text.encode()).hexdigest())

    def load(self) -> None:
        """Loads the weights now rather than with the first speech; raises JobnotesError if it can't."""
        self._loaded()

    def hear(self, samples: Samples, *, progress: Progress | None = None) -> tuple[Word, ...]:
        """The words in `samples`: see `Recogniser.hear`."""
        progress = progress or ignore
        samples = checked(samples)
        words: list[Word] = []
        for piece in pieces(spans(samples, self._settings.activity), self._settings.piece_s):
            words.extend(_placed(self._heard(piece.cut(samples)), piece, words[-1:]))
            progress(min(piece.spans[-1].end / len(samples), 0.999))
        progress(1.0)
        return tuple(words)

    def _heard(self, samples: Samples) -> tuple[Word, ...]:
        words, compression = self._decoded(samples, self._prompt)
        if loop(words) is None and compression <= self._settings.compression_above:
            return words
        # a loop is a known failure of these models: heard again it mostly goes away
        again, _ = self._decoded(samples, None, no_repeat_ngram_size=4)
        return without_loops(again)

    def _decoded(
        self, samples: Samples, prompt: str | None, **options: Any
    ) -> tuple[tuple[Word, ...], float]:
        """The words, and the highest compression ratio of what was decoded."""
        chosen = self._settings
        segments, _ = self._loaded().transcribe(
            samples,
            language="en",
            beam_size=chosen.beam_size,
            temperature=[0.0],
            condition_on_previous_text=False,
            # unlike an initial prompt, hot words hold for every window
            hotwords=prompt,
            word_timestamps=True,
            no_speech_threshold=chosen.no_speech_above,
            log_prob_threshold=chosen.log_probability_below,
            compression_ratio_threshold=chosen.compression_above,
            vad_filter=False,
            **options,
        )
        words: list[Word] = []
        compression = 0.0
        for segment in segments:
            compression = max(compression, segment.compression_ratio)
            words.extend(joined(_heard_in(segment.words or ())))
        return tuple(words), compression

    def _loaded(self) -> Any:
        with self._loading:
            if self._model is None:
                folder = self._weights.folder()
                os.environ.setdefault("HF_HUB_OFFLINE", "1")  # nothing here may reach for the network
                # imported here because it takes seconds, which a run that hears nothing needn't spend
                from faster_whisper import WhisperModel

                try:
                    self._model = WhisperModel(
                        folder,
                        device="cpu",
                        compute_type="int8",
                        cpu_threads=self._cpu_threads,
                        local_files_only=True,
                    )
                except (RuntimeError, ValueError, OSError, MemoryError) as error:
                    raise JobnotesError(
                        self._weights.name,
                        f"the recogniser's weights can't be loaded ({error})",
                        "install them again or choose another recogniser; `jobnotes models` lists them",
                    ) from None
            return self._model


def _heard_in(words: Iterable[Any]) -> list[Heard]:
    return [Heard(w.word, float(w.start), float(w.end), float(w.probability)) for w in words]


def _placed(words: tuple[Word, ...], piece: Piece, before: list[Word]) -> list[Word]:
    """The words at their times in the recording, none starting before the one before it."""
    placed: list[Word] = []
    earliest = (before[0].start_s or 0.0) if before else 0.0
    for word in words:
        start, end = piece.times(word.start_s or 0.0, word.end_s or 0.0)
        start = max(start, earliest)
        end = max(start, end)
        placed.append(Word(word.text, round(start, 3), round(end, 3), word.confidence))
        earliest = start
    return placed


def _cores() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1

"""The whisper engine: faster-whisper on the CPU with 8-bit weights.

Speech is found first, put together into pieces of up to half a minute, and each piece is decoded on its
own: memory doesn't grow with the length of a recording, an error in one piece can't lead the next astray, and
of a long recording several are decoded at a time. Decoding is without chance (temperature 0): the same
samples give the same words.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field, replace
from functools import partial
from importlib import metadata
from threading import Lock
from typing import Any, Protocol

from jobnotes.errors import JobnotesError
from jobnotes.hearing.offline import stay_offline
from jobnotes.hearing.piecewise import LONG_S, Kept, hear_pieces
from jobnotes.hearing.recogniser import RATE_HZ, Progress, Samples, checked, ignore
from jobnotes.hearing.rescoring import agreed
from jobnotes.hearing.scoring import scored
from jobnotes.hearing.shared_encoder import SharedEncoder
from jobnotes.hearing.speech import Activity, Piece, pieces, speech
from jobnotes.hearing.spoken_forms import spoken_forms
from jobnotes.hearing.tape import Tape
from jobnotes.hearing.words import Heard, crammed, joined, loop, without_loops
from jobnotes.record import RecogniserStamp, Word

ENGINE = "whisper"
_REVISION = 3  # to be raised with a change in this stage's code that gives other words
_RESCORING_REVISION = 2  # the same of what is done with a decoder beside

# Decoding makes tokens of about three letters; fast speech has six or seven a second. The model's window
# holds 448 of them, half of which the prompt may take.
_TOKENS_AT_LEAST = 24
_TOKENS_PER_S = 12
_TOKENS_IN_ALL = 220

_FRAMES_PER_S = 100
# The decoder must say something. Of music that passed for speech it says what it believes little of itself,
# and that there is hardly speech.
_HARDLY_SPEECH = 0.9
_HARDLY_BELIEVED = -0.7
_REST_S = 1.0  # what is left of a piece after its last sentence, its margin of silence included


@dataclass(frozen=True, slots=True)
class Settings:
    """How to decode. `piece_s`: how much speech is decoded at once, in seconds, 30 at most.

    The values are those that measured best: docs/hearing.md.
    """

    beam_size: int = 5
    piece_s: float = 28.0
    no_speech_above: float = 0.6
    log_probability_below: float = -1.0
    activity: Activity = field(default_factory=Activity)


class Weights(Protocol):
    """Weights that aren't loaded yet: a name and a digest, and on demand where they are, checked."""

    @property
    def name(self) -> str: ...

    @property
    def sha256(self) -> str: ...

    def place(self) -> tuple[str, dict[str, bytes] | None]:
        """Their folder, and None; or a name for them, and their content by file name."""
        ...


@dataclass(frozen=True, slots=True)
class Beside:
    """A second decoder on the same encoder, believed as much as the first where the two differ."""

    weights: Weights
    prompt: str | None


class WhisperRecogniser:
    """Hears with the faster-whisper `weights`; with a decoder `beside` them, see `rescoring`.

    `prompt` is vocabulary that the decoder is told to expect, None for none. `cpu_threads` None takes the
    cores that this process may use, four at most: all for one piece of a short recording, of a long one each
    for another piece.
    """

    def __init__(
        self,
        weights: Weights,
        *,
        prompt: str | None = None,
        beside: Beside | None = None,
        settings: Settings | None = None,
        cpu_threads: int | None = None,
    ) -> None:
        self._weights = weights
        self._prompt = _in_one_line(prompt)
        self._beside = beside and replace(beside, prompt=_in_one_line(beside.prompt))
        self._settings = settings or Settings()
        self._cpu_threads = cpu_threads or min(4, _cores())
        self._models: tuple[Any, ...] = ()
        self._at_a_time = 0  # pieces that the loaded models decode at once
        self._loading = Lock()

    @property
    def stamp(self) -> RecogniserStamp:
        """`sha256` is over everything that the words depend on: weights, settings, prompt, libraries."""
        made_with: dict[str, Any] = {
            "weights": self._weights.sha256,
            "prompt": self._prompt,
            "settings": asdict(self._settings),
            "revision": _REVISION,
            "libraries": {name: metadata.version(name) for name in ("faster-whisper", "ctranslate2")},
        }
        if self._beside:
            made_with["beside"] = [self._beside.weights.sha256, self._beside.prompt]
            made_with["rescoring"] = _RESCORING_REVISION
        text = json.dumps(made_with, sort_keys=True, ensure_ascii=False)
        return RecogniserStamp(ENGINE, self._weights.name, hashlib.sha256(text.encode()).hexdigest())

    def load(self) -> None:
        """Loads the weights now rather than with the first speech; raises JobnotesError if it can't."""
        self._loaded()

    def hear(self, samples: Samples, *, progress: Progress | None = None) -> tuple[Word, ...]:
        """The words in `samples`: see `Recogniser.hear`."""
        return self.hear_tape(Tape.of(checked(samples)), progress=progress)

    def hear_tape(
        self, tape: Tape, *, progress: Progress | None = None, kept: Kept | None = None
    ) -> tuple[Word, ...]:
        """The words on the tape: see `HearsTapes`."""
        progress, chosen = progress or ignore, self._settings
        at_a_time = 1 if tape.length_s < LONG_S else self._cpu_threads
        words: list[Word] = []
        for piece, heard in hear_pieces(
            pieces(speech(tape.play(), chosen.activity), chosen.piece_s),
            lambda samples: self._heard(samples, at_a_time),
            at_a_time,
            known=kept.heard(self.stamp) if kept else None,
            keep=partial(kept.keep, self.stamp) if kept else None,
        ):
            words.extend(_placed(heard, piece, words[-1:]))
            progress(min(piece.spans[-1].end / (tape.length_s * RATE_HZ), 0.999))
        progress(1.0)
        return tuple(words)

    def load_to_draft(self) -> None:
        """Loads the first decoder alone, which drafts are made with; see `load`."""
        self._loaded(alone=True)

    def draft(self, samples: Samples) -> tuple[Word, ...]:
        """A first impression of `samples`, speech of a piece's length at most: words alone, without times or
        confidence, for about half the work of hearing.

        The stamp doesn't stand for them: they are to be shown and forgotten.
        """
        words: list[Word] = []
        first = self._loaded(alone=True)[0]
        for segment in self._segments(first, self._prompt, checked(samples), word_timestamps=False):
            if self._made_up(segment, len(samples) / RATE_HZ):
                break
            words.extend(Word(text) for text in segment.text.split())
        return without_loops(words)

    def _heard(self, samples: Samples, at_a_time: int = 1) -> tuple[Word, ...]:
        models = self._loaded(at_a_time)
        prompts = (self._prompt, self._beside.prompt) if self._beside else (self._prompt,)
        hearings = [
            self._hearing(model, prompt, samples) for model, prompt in zip(models, prompts, strict=True)
        ]
        heard = hearings[0]
        if self._beside and [h.text for h in heard] != [h.text for h in hearings[1]]:
            one, other = scored(models, hearings, samples)
            heard = agreed(one, other, spoken_forms())
        return without_loops(_words(heard))

    def _hearing(self, model: Any, prompt: str | None, samples: Samples) -> list[Heard]:
        """What one decoder hears."""
        heard = self._decoded(model, prompt, samples)
        if loop(_words(heard)) is None:
            return heard
        # a loop is a known failure of these models; kept from saying the same again, they find their way
        return self._decoded(model, prompt, samples, no_repeat_ngram_size=4)

    def _decoded(self, model: Any, prompt: str | None, samples: Samples, **options: Any) -> list[Heard]:
        heard: list[Heard] = []
        for segment in self._segments(model, prompt, samples, **options):
            if self._made_up(segment, len(samples) / RATE_HZ):
                break
            heard.extend(_heard_in(segment.words or ()))
        return heard

    def _segments(self, model: Any, prompt: str | None, samples: Samples, **options: Any) -> Iterable[Any]:
        chosen = self._settings
        usual = {
            "language": "en",
            "beam_size": chosen.beam_size,
            "temperature": [0.0],
            "condition_on_previous_text": False,
            # unlike an initial prompt, hot words hold for every window
            "hotwords": prompt,
            "word_timestamps": True,
            "no_speech_threshold": chosen.no_speech_above,
            "log_prob_threshold": chosen.log_probability_below,
            "compression_ratio_threshold": None,
            "max_new_tokens": self._most_tokens(len(samples) / RATE_HZ),
            "vad_filter": False,
        }
        segments, _ = model.transcribe(samples, **(usual | options))
        return segments  # type: ignore[no-any-return]

    def _made_up(self, segment: Any, length_s: float) -> bool:
        """Whether there is no speech behind the segment.

        A piece fits in the decoder's window. It is gone on with where its last sentence seemed to end, and
        words are made up for the rest, with the prompt's help, unless speech is still there.
        """
        if segment.no_speech_prob > _HARDLY_SPEECH and segment.avg_logprob < _HARDLY_BELIEVED:
            return True
        begins_s = segment.seek / _FRAMES_PER_S
        if begins_s == 0:
            return False
        rest_s = length_s - begins_s
        return bool(rest_s < _REST_S or segment.no_speech_prob > self._settings.no_speech_above)

    def _most_tokens(self, length_s: float) -> int:
        """More than can be said in that time: where speech has ended, a decoder may go on without end."""
        return min(_TOKENS_IN_ALL, _TOKENS_AT_LEAST + int(_TOKENS_PER_S * length_s))

    def _loaded(self, at_a_time: int = 1, *, alone: bool = False) -> tuple[Any, ...]:
        """The models for as many pieces at a time; the cores are shared out among them.

        `alone`: the first is enough, which may take other pieces at a time.
        """
        with self._loading:
            if self._models and (alone or self._at_a_time == at_a_time):
                models = list(self._models)
            else:
                self._models = ()  # before others are loaded: they needn't be there together
                models = [self._load(self._weights, at_a_time)]
            if self._beside and not alone and len(models) == 1:
                models.append(self._load(self._beside.weights, at_a_time))
                encoder = SharedEncoder(models[0].encode)
                for model in models:
                    model.encode = encoder
            if len(models) != len(self._models):
                self._models, self._at_a_time = tuple(models), at_a_time
            return self._models

    def _load(self, weights: Weights, at_a_time: int) -> Any:
        place, files = weights.place()
        stay_offline()
        # imported here because it takes seconds, which a run that hears nothing needn't spend
        from faster_whisper import WhisperModel

        try:
            return WhisperModel(
                place,
                files=files,
                device="cpu",
                compute_type="int8",
                cpu_threads=max(1, self._cpu_threads // at_a_time),
                num_workers=at_a_time,
                local_files_only=True,
            )
        except (RuntimeError, ValueError, OSError, MemoryError) as error:
            raise JobnotesError(
                weights.name,
                f"the recogniser's weights can't be loaded ({error})",
                "install them again or choose another recogniser; `jobnotes models` lists them",
            ) from None


def _in_one_line(prompt: str | None) -> str | None:
    return " ".join(prompt.split()) if prompt else None


def _heard_in(words: Iterable[Any]) -> list[Heard]:
    """The words of a sentence, the first of which begins one whatever it is written with."""
    heard = [Heard(w.word, float(w.start), float(w.end), float(w.probability)) for w in words if w.word]
    return [replace(word, text=f" {word.text.lstrip()}") for word in heard[:1]] + heard[1:]


def _words(heard: Sequence[Heard]) -> tuple[Word, ...]:
    words = joined(heard)
    return tuple(word for word, made_up in zip(words, crammed(words), strict=True) if not made_up)


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

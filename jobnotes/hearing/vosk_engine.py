"""The vosk engine: any vosk model's folder, heard as a stream with partial results."""

from __future__ import annotations

import json
from collections.abc import Callable
from threading import Lock
from typing import Any

import numpy as np

from jobnotes.errors import JobnotesError
from jobnotes.hearing.folders import ModelFolder
from jobnotes.hearing.piecewise import Kept
from jobnotes.hearing.recogniser import RATE_HZ, Progress, Samples, checked, ignore
from jobnotes.hearing.tape import Tape
from jobnotes.record import RecogniserStamp, Word

ENGINE = "vosk"
_STEP = RATE_HZ // 5

Partials = Callable[[str], None]


class VoskStream:
    """One stream of sound being heard: see `listening.Listening`."""

    def __init__(self, recogniser: Any) -> None:
        self._recogniser = recogniser
        self._finished = False
        self.partial = ""

    def feed(self, samples: Samples) -> tuple[Word, ...]:
        """The words that are final by now, else none: see `Listening.feed`."""
        if self._finished:
            raise ValueError("this stream is finished")
        if self._recogniser.AcceptWaveform(_pcm(checked(samples))):
            self.partial = ""
            return _words(self._recogniser.Result())
        self.partial = str(json.loads(self._recogniser.PartialResult()).get("partial", ""))
        return ()

    def finish(self) -> tuple[Word, ...]:
        """See `Listening.finish`."""
        if self._finished:
            return ()
        self._finished = True
        self.partial = ""
        return _words(self._recogniser.FinalResult())


class VoskRecogniser:
    """Hears with the vosk model in `folder`."""

    def __init__(self, folder: ModelFolder) -> None:
        self._folder = folder
        self._model: Any = None
        self._loading = Lock()

    @property
    def stamp(self) -> RecogniserStamp:
        """`sha256` is over all files of the model's folder."""
        return RecogniserStamp(ENGINE, self._folder.name, self._folder.sha256)

    def load(self) -> None:
        """Loads the weights now rather than with the first sound; raises JobnotesError if it can't."""
        self.listen().finish()

    def listen(self) -> VoskStream:
        """A new stream. Streams are independent of each other."""
        import vosk

        model = self._loaded()
        try:
            recogniser = vosk.KaldiRecognizer(model, float(RATE_HZ))
        except Exception as error:  # the library raises nothing more special
            raise self._unusable(error) from None
        recogniser.SetWords(True)
        return VoskStream(recogniser)

    def hear(
        self, samples: Samples, *, progress: Progress | None = None, partials: Partials | None = None
    ) -> tuple[Word, ...]:
        """The words in `samples`: see `Recogniser.hear`.

        `partials` is called with what is being said whenever that changes, and with "" at its end.
        """
        return self.hear_tape(Tape.of(checked(samples)), progress=progress, partials=partials)

    def hear_tape(
        self,
        tape: Tape,
        *,
        progress: Progress | None = None,
        kept: Kept | None = None,
        partials: Partials | None = None,
    ) -> tuple[Word, ...]:
        """The words on the tape: see `HearsTapes`.

        It is heard as one stream, in which each word depends on all before it: there are no pieces to keep.
        """
        progress = progress or ignore
        words: list[Word] = []
        sound, at = tape.play(), 0
        if sound.goes_on_at(0):
            stream = self.listen()
            shown = ""
            while len(step := sound.cut(at, at + _STEP)):
                words.extend(stream.feed(step))
                if partials and stream.partial != shown:
                    shown = stream.partial
                    partials(shown)
                progress(min(at / (tape.length_s * RATE_HZ), 0.999))
                at += len(step)
                sound.forget(at)
            words.extend(stream.finish())
            if partials and shown:
                partials("")
        progress(1.0)
        return tuple(words)

    def _loaded(self) -> Any:
        with self._loading:
            if self._model is None:
                folder = self._folder.folder()
                # imported here because a run that hears nothing needn't load it
                import vosk

                vosk.SetLogLevel(-1)
                try:
                    self._model = vosk.Model(folder)
                except Exception as error:  # the library raises nothing more special
                    raise self._unusable(error) from None
            return self._model

    def _unusable(self, error: Exception) -> JobnotesError:
        return JobnotesError(
            str(self._folder.path),
            f"the vosk model can't be loaded ({error})",
            "add it again from a fresh download",
        )


def _pcm(samples: Samples) -> bytes:
    return (np.clip(samples, -1.0, 1.0) * 32767.0).astype("<i2").tobytes()


def _words(result: str) -> tuple[Word, ...]:
    return tuple(
        Word(
            str(w["word"]),
            round(float(w["start"]), 3),
            round(max(float(w["start"]), float(w["end"])), 3),
            min(max(float(w["conf"]), 0.0), 1.0),
        )
        for w in json.loads(result).get("result", ())
    )

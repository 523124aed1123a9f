"""What a recogniser is: sound in, words with times and confidence out.

An engine is any object of this shape; nothing else of the tool knows how it hears.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from jobnotes.record import RecogniserStamp, Word

RATE_HZ = 16_000

Samples = NDArray[np.float32]
Progress = Callable[[float], None]


class Recogniser(Protocol):
    """Hears English speech.

    `stamp` is known without loading any weights, so that words which were made before are found again at
    no cost. Two recognisers with the same stamp hear the same words in the same samples. Vosk's decoder adds
    a little noise of its own: there a confidence may differ by hundredths, and a doubtful word with it.
    """

    @property
    def stamp(self) -> RecogniserStamp: ...

    def hear(self, samples: Samples, *, progress: Progress | None = None) -> tuple[Word, ...]:
        """The words in `samples`, in order.

        `samples` has shape (n,), float32 in -1…1, mono, 16 kHz. Each word has its times in seconds from
        the first sample, rising, and a confidence of 0–1. `progress` is called with the share that is
        done, 0–1, rising, last with 1. Raises `JobnotesError` where the weights can't be used.
        """
        ...


def checked(samples: Samples) -> Samples:
    """`samples` as a recogniser may rely on them: one row of finite float32.

    Raises ValueError for another shape or kind of number: that is a mistake in the program that calls, not
    in what a person gave. What isn't a number in a damaged recording becomes silence.
    """
    if samples.ndim != 1:
        raise ValueError(f"samples must have one dimension, not {samples.ndim}")
    if samples.dtype != np.float32:
        raise ValueError(f"samples must be float32, not {samples.dtype}")
    if np.isfinite(samples).all():
        return samples
    return np.nan_to_num(samples, nan=0.0, posinf=0.0, neginf=0.0)


def load(recogniser: Recogniser) -> None:
    """Load its weights now, not with the first speech, where it can; raises JobnotesError as `hear`."""
    load_now = getattr(recogniser, "load", None)
    if load_now is not None:
        load_now()


def ignore(_: float) -> None:
    """A progress that nobody looks at."""

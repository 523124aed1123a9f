"""Two hearings: a second recogniser hears everything too, and is compared with the first word by word.

The words stay those of the first. What the two agree on is believed, how far was measured; where a number, a
code or spelling differs, the word carries both readings, so that a person looks at what rests on it. All that
the second heard otherwise is kept with the words too, so that it can be read for what the first missed.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace

from jobnotes.hearing.comparing import Compared, compared
from jobnotes.hearing.piecewise import Kept, hear_tape
from jobnotes.hearing.recogniser import Progress, Recogniser, Samples, ignore, load
from jobnotes.hearing.spoken_forms import spoken_forms
from jobnotes.hearing.tape import Tape
from jobnotes.record import RecogniserStamp, Word

JOIN = "+"
_REVISION = 2  # to be raised with a change in this code, or in comparing's, that gives other words
_FIRST_SHARE = 0.6  # of the time, for progress
_LEAST, _MOST = 0.01, 0.99


@dataclass(frozen=True, slots=True)
class Curve:
    """How often a word is right: the logistic of `offset` + `slope` × the logit of the stated confidence.

    For words that carry a number, code or spelling (`carries`) or don't, and on which both agree or not.
    """

    carries: bool
    agreed: bool
    offset: float
    slope: float

    def at(self, confidence: float) -> float:
        stated = min(max(confidence, _LEAST), _MOST)
        return 1 / (1 + math.exp(-self.offset - self.slope * math.log(stated / (1 - stated))))


class TwoHearings:
    """`first` gives the words, `second` its opinion of them; `curves` turn both into one confidence."""

    def __init__(self, first: Recogniser, second: Recogniser, curves: Sequence[Curve]) -> None:
        self.first, self.second = first, second
        self._curves = {(c.carries, c.agreed): c for c in curves}
        self._forms = spoken_forms()

    @property
    def stamp(self) -> RecogniserStamp:
        first, second = self.first.stamp, self.second.stamp
        made_with = {
            "first": first.sha256,
            "second": second.sha256,
            "curves": sorted(json.dumps(asdict(c), sort_keys=True) for c in self._curves.values()),
            "vocabulary": repr((self._forms.known, sorted(self._forms.spelling.items()))),
            "revision": _REVISION,
        }
        digest = hashlib.sha256(json.dumps(made_with, sort_keys=True).encode()).hexdigest()
        return RecogniserStamp(first.engine, f"{first.model}{JOIN}{second.model}", digest)

    def load(self) -> None:
        """Loads both now rather than with the first speech; raises JobnotesError if it can't."""
        load(self.first)
        load(self.second)

    def hear(self, samples: Samples, *, progress: Progress | None = None) -> tuple[Word, ...]:
        """The words in `samples`: see `Recogniser.hear`."""
        return self.hear_tape(Tape.of(samples), progress=progress)

    def hear_tape(
        self, tape: Tape, *, progress: Progress | None = None, kept: Kept | None = None
    ) -> tuple[Word, ...]:
        """The words on the tape: see `HearsTapes`."""
        tell = progress or ignore
        first = hear_tape(self.first, tape, progress=lambda share: tell(_FIRST_SHARE * share), kept=kept)
        rest = 1 - _FIRST_SHARE
        second = hear_tape(
            self.second,
            tape,
            progress=lambda share: tell(_FIRST_SHARE + rest * min(share, 0.99)),
            kept=kept,
        )
        words = self.weighed(first, second)
        tell(1.0)
        return words

    def weighed(self, first: Sequence[Word], second: Sequence[Word]) -> tuple[Word, ...]:
        """`first`'s words with the confidence that they have beside what `second` heard."""
        views = compared(first, second, self._forms)
        return tuple(self._weighed(word, view) for word, view in zip(first, views, strict=True))

    def _weighed(self, word: Word, view: Compared) -> Word:
        curve = self._curves.get((view.carries, view.otherwise is None))
        believed = word.confidence
        if curve is not None and word.confidence is not None:
            believed = round(curve.at(word.confidence), 3)
        otherwise = view.otherwise if view.carries else None
        return replace(word, confidence=believed, otherwise=otherwise, instead=view.instead)

"""Two listeners: what carries numbers, codes and spelling is heard again, by a recogniser of another kind.

The first recogniser's words stay as they are; only their confidence changes. Where the second listener, asked
freely, hears the same number, the words gain; where it hears another one even though the first reading was
offered to it, or can't follow the speech, words of which the first was not very sure lose.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from itertools import accumulate

from jobnotes.hearing.closed import Anything, ClosedVocabulary, Hole, Item, Said
from jobnotes.hearing.piecewise import Kept, hear_tape
from jobnotes.hearing.recogniser import RATE_HZ, Progress, Recogniser, Samples, ignore, load
from jobnotes.hearing.spoken_forms import SpokenForms, Way, Ways, bare, carrying, spoken_forms
from jobnotes.hearing.tape import Tape
from jobnotes.record import RecogniserStamp, Word

SUFFIX = "+numbers"
_REVISION = 1  # to be raised with a change in this code that gives other confidences
_FIRST_SHARE = 0.8  # of the time, for progress


@dataclass(frozen=True, slots=True)
class Weighing:
    """How the second listener's word counts, and what sound it is given; seconds and confidences.

    The values are those that measured best: docs/hearing.md.
    """

    confirmed: float = 0.75
    doubted: float = 0.4
    believed_from: float = 0.9
    pause_s: float = 0.4
    margin_s: float = 0.3
    longest_s: float = 20.0


@dataclass(frozen=True, slots=True)
class Stretch:
    """Words `start` … `end` (end excluded) that are heard in one go, of the breath `low` … `high`."""

    start: int
    end: int
    low: int
    high: int


class TwoListeners:
    """`first` hears everything, the second listener what carries numbers and codes."""

    def __init__(
        self,
        first: Recogniser,
        second: ClosedVocabulary | None = None,
        weighing: Weighing | None = None,
    ) -> None:
        self.first = first
        self._forms = spoken_forms()
        self._second = second or closed_vocabulary(self._forms)
        self.weighing = weighing or Weighing()

    @property
    def stamp(self) -> RecogniserStamp:
        first = self.first.stamp
        made_with = {
            "first": first.sha256,
            "vocabulary": repr((self._forms.known, sorted(self._forms.spelling.items()))),
            "tuning": asdict(self._second.tuning),
            "weighing": asdict(self.weighing),
            "revision": _REVISION,
            "library": self._second.version(),
        }
        digest = hashlib.sha256(json.dumps(made_with, sort_keys=True).encode()).hexdigest()
        return RecogniserStamp(first.engine, first.model + SUFFIX, digest)

    def load(self) -> None:
        """Loads both now rather than with the first speech; raises JobnotesError if it can't."""
        load(self.first)
        self._second.load()

    def hear(self, samples: Samples, *, progress: Progress | None = None) -> tuple[Word, ...]:
        """The words in `samples`: see `Recogniser.hear`."""
        return self.hear_tape(Tape.of(samples), progress=progress)

    def hear_tape(
        self, tape: Tape, *, progress: Progress | None = None, kept: Kept | None = None
    ) -> tuple[Word, ...]:
        """The words on the tape: see `HearsTapes`."""
        tell = progress or ignore
        words = hear_tape(self.first, tape, progress=lambda share: tell(_FIRST_SHARE * share), kept=kept)
        rest = 1 - _FIRST_SHARE
        weighed = self._heard_again(words, tape, lambda share: tell(_FIRST_SHARE + rest * share), kept)
        tell(1.0)
        return weighed

    def weighed(self, words: Sequence[Word], samples: Samples) -> tuple[Word, ...]:
        """`words` with the confidence that they have after a second hearing of `samples`."""
        return self._heard_again(words, Tape.of(samples))

    def _heard_again(
        self, words: Sequence[Word], tape: Tape, tell: Progress = ignore, kept: Kept | None = None
    ) -> tuple[Word, ...]:
        out = list(words)
        marked = carrying(words, self._forms)
        stretches = _stretches(words, marked, self.weighing)
        bounds = [self._bounds(words, stretch) for stretch in stretches]
        # the first sample that this stretch or a later one needs: neighbours may overlap
        needed = list(accumulate((low for low, _ in reversed(bounds)), min))[::-1]
        stamp = self.stamp
        known = kept.heard(stamp) if kept else {}
        sound = tape.play()
        for done, (stretch, (low, high)) in enumerate(zip(stretches, bounds, strict=True)):
            name = f"{low}-{high} {stretch.start}-{stretch.end}"
            here = slice(stretch.start, stretch.end)
            if name in known:
                out[here] = known[name]
            else:
                sound.forget(needed[done])
                self._weigh_all(out, marked, stretch, sound.cut(low, high))
                if kept:
                    kept.keep(stamp, name, tuple(out[here]))
            tell(min((done + 1) / len(stretches), 0.999))
        return tuple(out)

    def _weigh_all(self, words: list[Word], marked: Sequence[bool], stretch: Stretch, sound: Samples) -> None:
        """Gives the words of the stretch, whose sound is given, their confidence after it."""
        chain, holes = self._chain(words, marked, stretch)
        for (start, end), confirmed in zip(holes, self._confirmed(sound, chain), strict=True):
            words[start:end] = [self._weigh(word, confirmed) for word in words[start:end]]

    def _confirmed(self, sound: Samples, chain: Sequence[Item]) -> list[bool | None]:
        """For each hole: heard freely as the first listener did; None: only when it was offered."""
        holes = [item for item in chain if isinstance(item, Hole)]
        free = self._second.heard(sound, chain, offer=False) or (None,) * len(holes)
        same = [way is not None and _says(way, hole.offered) for way, hole in zip(free, holes, strict=True)]
        if all(same):
            return list(same)
        offered = self._second.heard(sound, chain, offer=True)
        if offered is None:
            return list(same)
        return [
            True if here else None if way is None or _says(way, hole.offered) else False
            for here, way, hole in zip(same, offered, holes, strict=True)
        ]

    def _weigh(self, word: Word, confirmed: bool | None) -> Word:
        weighing, confidence = self.weighing, word.confidence or 0.0
        if confirmed:
            return replace(word, confidence=max(confidence, weighing.confirmed))
        if confirmed is False and confidence < weighing.believed_from:
            return replace(word, confidence=min(confidence, weighing.doubted))
        return word

    def _chain(
        self, words: Sequence[Word], marked: Sequence[bool], stretch: Stretch
    ) -> tuple[list[Item], list[tuple[int, int]]]:
        """The stretch as a chain, and the words of each of its holes."""
        chain: list[Item] = []
        holes: list[tuple[int, int]] = []
        for at in range(stretch.start, stretch.end):
            text = words[at].text
            if not marked[at]:
                cut = (at == stretch.start != stretch.low) or (at == stretch.end - 1 != stretch.high - 1)
                chain.append(Said(self._forms.ways(text), optional=cut))
                continue
            number, unit = self._forms.parted(text)
            ways = self._ways_of_number(number)
            if chain and isinstance(chain[-1], Hole):
                chain[-1] = _hole((*chain[-1].offered, ways), self._forms)
                holes[-1] = (holes[-1][0], at + 1)
            else:
                chain.append(_hole((ways,), self._forms))
                holes.append((at, at + 1))
            if unit:
                chain.append(Said((unit,)))
        if stretch.end != stretch.high:
            chain.append(Anything())
        return chain, holes

    def _ways_of_number(self, text: str) -> Ways:
        n = self._forms.known.numbers
        word = bare(text)
        if word in (n.link, n.one_of):
            return ((word,), ())
        return self._second.sayable(self._forms.ways(text))

    def _bounds(self, words: Sequence[Word], stretch: Stretch) -> tuple[int, int]:
        """The samples that are heard for a stretch: the first, and the one after the last."""
        margin = self.weighing.margin_s
        begin = _start(words[stretch.start]) - (margin if stretch.start == stretch.low else 0.08)
        end = _end(words[stretch.end - 1]) + margin
        if stretch.start > 0 and stretch.start == stretch.low:
            begin = max(begin, _end(words[stretch.start - 1]))
        if stretch.end < len(words) and stretch.end == stretch.high:
            end = min(end, _start(words[stretch.end]) + 0.05)
        return int(max(0.0, begin) * RATE_HZ), int(end * RATE_HZ)


def closed_vocabulary(forms: SpokenForms) -> ClosedVocabulary:
    """The second listener, told the numbers and letters of the trade's own data."""
    n = forms.known.numbers
    names = [f"{letter}." for letter in sorted(set(forms.spelling.values()))]
    return ClosedVocabulary(
        sorted(forms.number_words | {n.link}),
        sorted(forms.spelling),
        [*names, n.one_of],
        (n.link, n.one_of),
        forms.known.pronunciations,
    )


def _start(word: Word) -> float:
    return word.start_s or 0.0


def _end(word: Word) -> float:
    return word.end_s or 0.0


def _stretches(words: Sequence[Word], marked: Sequence[bool], weighing: Weighing) -> list[Stretch]:
    """What is heard in one go: breaths that hold numbers, or of a long breath what lies around them."""
    found: list[Stretch] = []
    low = 0
    while low < len(words):
        high = low + 1
        while high < len(words) and _start(words[high]) - _end(words[high - 1]) <= weighing.pause_s:
            high += 1
        numbers = [at for at in range(low, high) if marked[at]]
        if numbers and _end(words[high - 1]) - _start(words[low]) < weighing.longest_s:
            found.append(Stretch(low, high, low, high))
        elif numbers:
            found += _around(words, numbers, low, high, weighing)
        low = high
    return found


def _around(
    words: Sequence[Word], numbers: Sequence[int], low: int, high: int, weighing: Weighing
) -> list[Stretch]:
    """The numbers of a long breath, neighbours together, with two words on each side."""
    groups: list[list[int]] = []
    for at in numbers:
        near = groups and at - groups[-1][1] <= 4
        if near and _end(words[at]) - _start(words[groups[-1][0]]) < weighing.longest_s * 0.7:
            groups[-1][1] = at
        else:
            groups.append([at, at])
    return [Stretch(max(low, a - 2), min(high, b + 3), low, high) for a, b in groups]


def _hole(offered: tuple[Ways, ...], forms: SpokenForms) -> Hole:
    """A hole for what the first listener heard, or, where nobody can say that, for anything spelled."""
    words = {word for ways in offered for way in ways for word in way}
    unsayable = not all(offered)
    return Hole(
        offered,
        spelling=unsayable or not words.isdisjoint(forms.spelling),
        letters=unsayable or any(word.endswith(".") for word in words),
    )


def _says(heard: Way, offered: Sequence[Ways]) -> bool:
    """Whether `heard` is one of the ways to say what was offered, word after word."""
    reached = {0}
    for ways in offered:
        reached = {at + len(way) for at in reached for way in ways if heard[at : at + len(way)] == way}
    return len(heard) in reached

"""A recogniser with a closed vocabulary: PocketSphinx, told what may be said between words that are known.

It hears a stretch of speech as a chain: words as another recogniser heard them, and holes in which any number
or code may stand. Its dictionary and sound model are those that package pocketsphinx carries.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import metadata, util
from pathlib import Path
from threading import Lock
from typing import Any

import numpy as np

from jobnotes.errors import JobnotesError
from jobnotes.hearing.recogniser import Samples
from jobnotes.hearing.spoken_forms import Way, Ways

PACKAGE = "pocketsphinx"
INSTALL = "pip install 'pocketsphinx>=5.0.4,<6'"

_VARIANT = re.compile(r"\(\d+\)$")
_LEFT_OUT = 0.3  # that a word at the edge of the sound was cut off
_FIRST_RIGHT = 0.5  # that the first listener's reading holds, where it is offered


@dataclass(frozen=True, slots=True)
class Said:
    """One word, in one of these ways; `optional` where it may lie outside the sound.

    Where none of the ways is in the dictionary, it is as good as `Anything`.
    """

    ways: Ways
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Anything:
    """Speech that isn't in the dictionary."""


@dataclass(frozen=True, slots=True)
class Hole:
    """Any number; with `spelling` also any spelling word, with `letters` any letter by its name.

    `offered` is how the first listener's reading is said, word by word.
    """

    offered: tuple[Ways, ...]
    spelling: bool = False
    letters: bool = False


Item = Said | Anything | Hole
Arc = tuple[int, int, float] | tuple[int, int, float, str]


@dataclass(frozen=True, slots=True)
class Tuning:
    """Values that measured best: docs/hearing.md. Beams and penalties are those of the decoder."""

    beam: float = 1e-30
    word_beam: float = 1e-20
    grammar_weight: float = 8.0
    word_penalty: float = 0.1
    letter_weight: float = 0.5
    link_weight: float = 0.3


class ClosedVocabulary:
    """Hears chains. `numbers`, `spelling` and `letters` may stand in holes; `links` among them are rarer.

    `pronunciations` come before the dictionary's, in its phones. Nothing is loaded before it is needed.
    """

    def __init__(
        self,
        numbers: Sequence[str],
        spelling: Sequence[str],
        letters: Sequence[str],
        links: Sequence[str],
        pronunciations: Mapping[str, tuple[str, ...]],
        tuning: Tuning | None = None,
    ) -> None:
        self.tuning = tuning or Tuning()
        self._shares = {
            (spells, names): self._shared(
                [*numbers, *(spelling if spells else ()), *(letters if names else ())], links
            )
            for spells in (False, True)
            for names in (False, True)
        }
        self._own = pronunciations
        self._dictionary: dict[str, list[str]] = {}
        self._phones: list[str] = []
        self._added: dict[str, bool] = {}
        self._decoder: Any = None
        self._loading = Lock()

    @staticmethod
    def present() -> bool:
        return util.find_spec(PACKAGE) is not None

    @staticmethod
    def version() -> str:
        return metadata.version(PACKAGE)

    def _shared(self, words: Sequence[str], links: Sequence[str]) -> dict[str, float]:
        tuning = self.tuning
        weights = {
            word: tuning.link_weight if word in links else tuning.letter_weight if word.endswith(".") else 1.0
            for word in words
        }
        whole = sum(weights.values())
        return {word: weight / whole for word, weight in weights.items()}

    def sayable(self, ways: Ways) -> Ways:
        """Of `ways` those whose every word is in the dictionary."""
        self.load()
        return tuple(way for way in ways if all(self._add(word) for word in way))

    def heard(self, sound: Samples, chain: Sequence[Item], *, offer: bool) -> tuple[Way | None, ...] | None:
        """What was said in each hole of `chain`; None where the chain doesn't fit the sound.

        With `offer` the first listener's reading competes with everything else, and a hole in which it wins
        is None. `sound` has shape (n,), float32, 16 kHz.
        """
        self.load()
        grammar = _Grammar(self._add, self._phones)
        for item in chain:
            if isinstance(item, Said):
                grammar.word(item)
            elif isinstance(item, Anything):
                grammar.anything()
            else:
                grammar.hole(item, self._shares[item.spelling, item.letters], offer)
        words = self._decoded(sound, grammar)
        if words is None:
            return None
        found: list[Way | None] = []
        for at in range(grammar.holes):
            mark = _mark(at)
            won = any(word.startswith(f"offered{mark}") for word in words)
            free = tuple(word.removeprefix(f"free{mark}") for word in words if word.startswith(f"free{mark}"))
            found.append(None if won else free)
        return tuple(found)

    def _decoded(self, sound: Samples, grammar: _Grammar) -> list[str] | None:
        decoder = self._decoder
        fsg = decoder.create_fsg("chain", 0, grammar.state, grammar.arcs)
        decoder.add_fsg("chain", fsg)
        decoder.activate_search("chain")
        decoder.start_utt()
        pcm = (np.clip(sound, -1, 1) * 32767).astype(np.int16).tobytes()
        decoder.process_raw(pcm, no_search=False, full_utt=True)
        decoder.end_utt()
        if decoder.hyp() is None:
            return None
        return [_VARIANT.sub("", s.word) for s in decoder.seg()]

    def _add(self, word: str, mark: str = "") -> bool:
        """Makes `mark` + `word` known to the decoder; False where nobody knows how it sounds."""
        name = mark + word
        if name not in self._added:
            sounds = self._own.get(word) or self._dictionary.get(word) or ()
            for at, sound in enumerate(sounds):
                self._decoder.add_word(name if at == 0 else f"{name}({at + 1})", sound, False)
            self._added[name] = bool(sounds)
        return self._added[name]

    def load(self) -> None:
        """Loads dictionary and sound model now; raises JobnotesError if it can't."""
        with self._loading:
            if self._decoder is not None:
                return
            try:
                import pocketsphinx
            except ImportError:
                raise JobnotesError("the second listener", "is not installed", INSTALL) from None
            model = Path(pocketsphinx.get_model_path("en-us"))
            try:
                self._read(model / "cmudict-en-us.dict")
                self._decoder = pocketsphinx.Decoder(
                    hmm=str(model / "en-us"),
                    dict=None,
                    lm=None,
                    loglevel="FATAL",
                    # each stretch is levelled by itself, so that none depends on what was heard before it
                    cmn="batch",
                    beam=self.tuning.beam,
                    pbeam=self.tuning.beam,
                    wbeam=self.tuning.word_beam,
                    lw=self.tuning.grammar_weight,
                    wip=self.tuning.word_penalty,
                )
            except (RuntimeError, OSError, ValueError) as error:
                raise JobnotesError("the second listener", f"can't be loaded ({error})", INSTALL) from None
            for phone in self._phones:
                self._decoder.add_word(f"phone-{phone}", phone, False)

    def _read(self, dictionary: Path) -> None:
        phones: set[str] = set()
        with dictionary.open(encoding="utf-8") as lines:
            for line in lines:
                word, _, sound = line.strip().partition(" ")
                self._dictionary.setdefault(_VARIANT.sub("", word), []).append(sound)
                phones.update(sound.split())
        self._phones = sorted(phones)


def _mark(hole: int) -> str:
    return f"-{hole}-"


class _Grammar:
    """A finite-state grammar in the making: its arcs, and the state that has been reached."""

    def __init__(self, add: Any, phones: Sequence[str]) -> None:
        self.arcs: list[Arc] = []
        self.state = 0
        self.holes = 0
        self._states = 1
        self._add = add
        self._phones = phones

    def _new(self) -> int:
        self._states += 1
        return self._states - 1

    def word(self, item: Said) -> None:
        ways = tuple(way for way in item.ways if all(self._add(word) for word in way))
        if not ways:
            self.anything()
            return
        end = self._new()
        self._ways(self.state, end, ways, 1 - _LEFT_OUT if item.optional else 1.0)
        if item.optional:
            self.arcs.append((self.state, end, _LEFT_OUT))
        self.state = end

    def anything(self) -> None:
        self.state = self._loop({f"phone-{p}": 1 / len(self._phones) for p in self._phones}, self._new(), 1.0)

    def hole(self, item: Hole, words: Mapping[str, float], offer: bool) -> None:
        offered = offer and bool(item.offered) and all(item.offered)
        begin, end, mark = self.state, self._new(), _mark(self.holes)
        self.holes += 1
        share = {f"free{mark}{word}": p for word, p in words.items() if self._add(word, f"free{mark}")}
        self._loop(share, end, 1 - _FIRST_RIGHT if offered else 1.0)
        if offered:
            at, weight = begin, _FIRST_RIGHT
            for index, ways in enumerate(item.offered):
                after = end if index == len(item.offered) - 1 else self._new()
                for word in {word for way in ways for word in way}:
                    self._add(word, f"offered{mark}")
                marked = tuple(tuple(f"offered{mark}{word}" for word in way) for way in ways)
                self._ways(at, after, marked, weight)
                at, weight = after, 1.0
        self.state = end

    def _loop(self, words: Mapping[str, float], end: int, weight: float) -> int:
        """Any of `words`, again and again, from the state that was reached to `end`."""
        middle = self._new()
        self.arcs.append((self.state, middle, weight))
        self.arcs += [(middle, middle, p, word) for word, p in words.items()]
        self.arcs.append((middle, end, 1.0))
        return end

    def _ways(self, begin: int, end: int, ways: Ways, weight: float) -> None:
        for way in ways:
            if not way:
                self.arcs.append((begin, end, weight / len(ways)))
            at = begin
            for index, word in enumerate(way):
                after = end if index == len(way) - 1 else self._new()
                self.arcs.append((at, after, 1.0 if index else weight / len(ways), word))
                at = after

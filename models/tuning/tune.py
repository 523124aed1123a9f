"""Tunes a whisper model's decoder to the trade's speech, and writes what is to be added to its weights.

    python models/tuning/tune.py OUT.npz [--work FOLDER]

Synthetic voices speak sessions of the evaluation sets that no hearing is measured on, with other numbers, and
lines made up from the trade data: eight hours. The model's encoder hears them as it will (8-bit, noise
and all); the decoder learns to say what was said, word for word, numbers as they are spoken. Only small
additions to its matrices are learnt (jobnotes.hearing.tuning). In a second, shorter
round, which begins with half of what was learnt, half of what is heard is general English: without it
people's everyday speech is heard worse. In a third it learns, of general English, to be of the opinion that
the decoder had before any tuning, rather than the text (distillation: Hinton et al. 2015, arXiv:1503.02531).

The file that jobnotes carries was made by scripts that these are a tidied form of: there, the second round
had the sayings alone for its general English, and the third the handbook's prose too.

Needs Debian's espeak-ng and festival (speaking.py), the extra `speech`, and `pip install jax optax`. Two
hours on two cores; what was spoken and encoded is kept in FOLDER: a run that was broken off goes on.
"""

from __future__ import annotations

import argparse
import json
import random
import sys
import zlib
from collections.abc import Iterator, Sequence
from functools import partial
from itertools import islice
from pathlib import Path
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np
import optax
from decoder import Additions, Array, Decoder, Weights, as_added
from speaking import keep_all, kept
from windows import Tokens, in_a_workshop, windows

from jobnotes.hearing import model_file
from jobnotes.hearing.catalogue import catalogue
from jobnotes.hearing.tuning import Addition, dumped
from jobnotes.hearing.weights import PackagedWeights

_AT_ONCE = 8
_RANK = 16
_RATE = 2e-3
_PASSES = 4
_MIXED_STEPS = 260
_LOYAL_STEPS = 380
_LOYALTY = 0.8  # the share of the untuned decoder's opinion in what is learnt of general English
_LENGTHS = (64, 96, 128, 176, 240)  # windows are filled up to one of these, in tokens
_FREQUENT = 6000  # the tokenizer's first tokens are the frequent ones; others count where they are said
_FIRST_SPECIAL = 50256
_TIME_WEIGHT = 0.15  # a few hundredths of a second off is not an error
_SMOOTHED = 0.02
_HELD_BACK = 48  # windows to watch by

# what the encoder made of it (1500, d), float16; the tokens to say; whether it is general English
Window = tuple[np.ndarray, list[int], bool]


def encode_all(folder: Path, sounds: Path, model: str) -> None:
    """What the encoder makes of each session's windows, kept beside the tokens to say."""
    from faster_whisper import WhisperModel

    engine = WhisperModel(model, device="cpu", compute_type="int8", local_files_only=True)
    tokens = Tokens(Path(model))
    folder.mkdir(parents=True, exist_ok=True)
    for name, lines, said in kept(sounds):
        file = folder / f"{name}.npz"
        if file.exists():
            continue
        chance = random.Random(zlib.crc32(name.encode()) + 1)
        encoded: list[np.ndarray] = []
        targets: list[list[int]] = []
        for samples, segments in windows(said, lines, chance):
            mel = engine.feature_extractor(in_a_workshop(samples, segments, chance))[:, :3000]
            mel = np.pad(mel, ((0, 0), (0, 3000 - mel.shape[1])))
            encoded.append(np.array(engine.encode(mel)).astype(np.float16)[0])
            targets.append(tokens.target(segments))
        if encoded:
            beside = folder / f"beside-{name}.npz"
            np.savez(beside, sound=np.stack(encoded), tokens=json.dumps(targets))
            beside.rename(file)
        print(f"\rencoded {name}          ", end="", file=sys.stderr, flush=True)


def encoded_windows(folder: Path) -> tuple[list[Window], list[Window]]:
    """Those of the trade, and those of general English, each in an order of chance."""
    trade: list[Window] = []
    general: list[Window] = []
    for file in sorted(folder.glob("*.npz")):
        with np.load(file) as held:
            targets, sound = json.loads(str(held["tokens"])), held["sound"]
        everyday = file.stem.startswith("general-")
        of = general if everyday else trade
        of += [
            (one, target, everyday) for one, target in zip(sound, targets, strict=True) if len(target) < 230
        ]
    for windows_ in (trade, general):
        random.Random(3).shuffle(windows_)
    return trade, general


class Batches:
    """Windows of about the same length together; a token is told by its place in `among`."""

    def __init__(self, data: Sequence[Window], decoder: Decoder, start: int) -> None:
        used = {token for _, target, _ in data for token in target}
        self.among = sorted(used | set(range(_FREQUENT)) | set(range(_FIRST_SPECIAL, decoder.tokens)))
        self._place = {token: at for at, token in enumerate(self.among)}
        self._start = start

    def of(self, data: Sequence[Window]) -> Iterator[tuple[np.ndarray, ...]]:
        """Sound, tokens so far, the token that comes after each (-1: none), and which are general English."""
        waiting: dict[int, list[Window]] = {}
        for window in data:
            length = next(length for length in _LENGTHS if len(window[1]) <= length)
            waiting.setdefault(length, []).append(window)
            if len(waiting[length]) == _AT_ONCE:
                yield self._packed(waiting.pop(length), length)
        for length, few in waiting.items():
            yield self._packed(few, length)

    def _packed(self, of: list[Window], length: int) -> tuple[np.ndarray, ...]:
        before = np.zeros((_AT_ONCE, length), np.int32)
        after = np.full((_AT_ONCE, length), -1, np.int32)
        for row, (_, target, _) in enumerate(of):
            before[row, : len(target)] = [self._start, *target[:-1]]
            after[row, : len(target)] = [self._place[token] for token in target]
        filled = [*of, *[of[0]] * (_AT_ONCE - len(of))]
        everyday = np.array([window[2] for window in filled], np.float32)
        return np.stack([window[0] for window in filled]), before, after, everyday


def losses(
    decoder: Decoder,
    among: Array,
    first_time: int,
    additions: Additions,
    weights: Weights,
    batch: Any,
    loyalty: float,
) -> tuple[Array, Array]:
    """What is made small, and the mean of -log p of the words' tokens alone.

    Of general English, `loyalty` of it is how far from the untuned decoder's opinion: the Kullback-Leibler
    divergence, twice.
    """
    sound, before, after, everyday = batch
    heard = sound.astype(jnp.float32)
    chances = jax.nn.log_softmax(decoder.logits(weights, additions, heard, before, among), -1)
    there, token = after >= 0, jnp.where(after >= 0, after, 0)
    missed = -jnp.take_along_axis(chances, token[..., None], -1)[..., 0]
    word = there & (among[token] < first_time)
    counts = jnp.where(word, 1.0, _TIME_WEIGHT) * there
    smoothed = (1 - _SMOOTHED) * missed - _SMOOTHED * chances.mean(-1)
    if loyalty:
        untuned = jax.lax.stop_gradient(decoder.logits(weights, {}, heard, before, among))
        once = jax.nn.log_softmax(untuned, -1)
        away = (jnp.exp(once) * (once - chances)).sum(-1)
        loyal = loyalty * everyday[:, None]
        smoothed = (1 - loyal) * smoothed + 2 * loyal * away
    return (smoothed * counts).sum() / counts.sum(), (missed * word).sum() / word.sum()


class Training:
    """What is learnt, and how it goes on; nothing is learnt from `watched`, which are to see that by."""

    def __init__(
        self, decoder: Decoder, data: Sequence[Window], watched: list[Window], tokens: Tokens
    ) -> None:
        self.additions = decoder.additions(_RANK)
        self._weights = decoder.weights
        self._watched = watched
        self._batches = Batches([*data, *watched], decoder, tokens.start)
        self._loss = partial(losses, decoder, jnp.asarray(self._batches.among), tokens.first_time)
        self._words = jax.jit(lambda additions, weights, batch: self._loss(additions, weights, batch, 0.0)[1])

    def goes_on(self, rounds: Iterator[list[Window]], steps: int, rate: float, loyalty: float = 0.0) -> None:
        """So many steps through `rounds`, at a rate that rises to `rate` and falls again."""
        schedule = optax.warmup_cosine_decay_schedule(0, rate, min(60, steps // 5), steps, rate / 20)
        optimiser = optax.chain(optax.clip_by_global_norm(1.0), optax.adamw(schedule, weight_decay=0.01))

        @jax.jit
        def step(additions: Additions, state: Any, weights: Weights, batch: Any) -> Any:
            (_, words), slope = jax.value_and_grad(self._loss, has_aux=True)(
                additions, weights, batch, loyalty
            )
            change, state = optimiser.update(slope, state, additions)
            return optax.apply_updates(additions, change), state, words

        state = optimiser.init(self.additions)
        batches = (batch for data in rounds for batch in self._batches.of(data))
        for taken, batch in enumerate(islice(batches, steps), 1):
            self.additions, state, words = step(self.additions, state, self._weights, batch)
            print(f"\rstep {taken} of {steps}: {float(words):.3f}   ", end="", file=sys.stderr, flush=True)
        seen = [
            float(self._words(self.additions, self._weights, batch))
            for batch in self._batches.of(self._watched)
        ]
        print(f"\non the windows held back: {np.mean(seen):.3f}", file=sys.stderr, flush=True)

    def halve(self) -> None:
        self.additions = {name: {"a": one["a"], "b": one["b"] / 2} for name, one in self.additions.items()}


def learnt(decoder: Decoder, trade: list[Window], general: list[Window], tokens: Tokens) -> Additions:
    chance = random.Random(3)
    watched, trade = trade[:_HELD_BACK], trade[_HELD_BACK:]
    training = Training(decoder, [*trade, *general], watched, tokens)

    def shuffled() -> Iterator[list[Window]]:
        while True:
            yield chance.sample(trade, len(trade))

    def mixed() -> Iterator[list[Window]]:
        while True:
            both = [*chance.sample(trade, min(len(trade), len(general))), *general]
            yield chance.sample(both, len(both))

    training.goes_on(shuffled(), _PASSES * len(trade) // _AT_ONCE, _RATE)
    training.halve()
    training.goes_on(mixed(), _MIXED_STEPS, _RATE / 2)
    training.goes_on(mixed(), _LOYAL_STEPS, _RATE / 4, _LOYALTY)
    return training.additions


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("out", type=Path)
    parser.add_argument("--model", default="tiny.en", help="a packaged whisper model of English alone")
    parser.add_argument("--work", type=Path, default=Path("tuning-work"))
    given = parser.parse_args()
    packaged = catalogue().packaged_as(given.model)
    if packaged is None:
        parser.error(f"there is no packaged model {given.model}")
    model = PackagedWeights(packaged).place()[0]
    keep_all(given.work / "sounds")
    encode_all(given.work / given.model, given.work / "sounds", model)
    decoder = Decoder(model_file.read((Path(model) / "model.bin").read_bytes()))
    additions = learnt(decoder, *encoded_windows(given.work / given.model), Tokens(Path(model)))
    found = {name: Addition.nearest(a, b) for name, (a, b) in as_added(additions).items()}
    given.out.write_bytes(dumped(found))


if __name__ == "__main__":
    main()

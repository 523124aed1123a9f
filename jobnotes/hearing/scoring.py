"""What whisper's decoders make of words that were heard, whoever heard them: their probabilities."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from jobnotes.hearing.recogniser import Samples
from jobnotes.hearing.rescoring import Scored
from jobnotes.hearing.words import Heard

_LEAST_P = 1e-4  # what a decoder would never have said may still have been said
_MOST_TOKENS = 400  # a decoder's context holds 448


def scored(
    models: Sequence[Any], hearings: Sequence[Sequence[Heard]], samples: Samples
) -> list[list[Scored]]:
    """Each of `hearings`, of a piece of half a minute at most, with its words' probabilities in each of
    `models`: faster-whisper's, on one encoder.

    The decoders are told nothing to expect; the piece is looked at as they all saw it first.
    """
    from faster_whisper.audio import pad_or_trim

    features = models[0].feature_extractor(samples)
    frames = min(features.shape[-1] - 1, models[0].feature_extractor.nb_max_frames)
    encoded = models[0].encode(pad_or_trim(features[:, :frames]))
    return [_scored(models, encoded, frames, heard) for heard in hearings]


def _scored(models: Sequence[Any], encoded: Any, frames: int, heard: Sequence[Heard]) -> list[Scored]:
    if not heard:
        return []
    by_model = [_probabilities(model, encoded, frames, heard) for model in models]
    return [
        Scored(word, tuple(float(np.log(p).sum()) for p in ps), tuple(float(p.mean()) for p in ps))
        for word, *ps in zip(heard, *by_model, strict=True)
    ]


def _probabilities(model: Any, encoded: Any, frames: int, heard: Sequence[Heard]) -> list[Any]:
    """Of each word the probability of each of its tokens, given all before it: an array a word."""
    from faster_whisper.tokenizer import Tokenizer

    tokenizer = Tokenizer(model.hf_tokenizer, model.model.is_multilingual, task="transcribe", language="en")
    tokens = [tokenizer.encode(word.text) for word in heard]
    in_a_row = [token for of_word in tokens for token in of_word]
    aligned = model.model.align(encoded, tokenizer.sot_sequence, [in_a_row[:_MOST_TOKENS]], frames)
    found = aligned[0].text_token_probs
    p = np.full(len(in_a_row), _LEAST_P)
    p[: len(found)] = np.maximum(found, _LEAST_P)
    return np.split(p, np.cumsum([len(of_word) for of_word in tokens])[:-1])

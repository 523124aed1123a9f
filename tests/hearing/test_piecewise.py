"""Pieces of a recording, heard several at a time: the same words in the same order, none heard twice."""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass, field

import numpy as np
import pytest
from hearing_sounds import RATE_HZ, clip, silence
from hypothesis import given, settings
from hypothesis import strategies as st

from jobnotes.hearing import recogniser
from jobnotes.hearing.piecewise import LONG_S, Words, hear_pieces, hear_tape
from jobnotes.hearing.speech import Piece, Span
from jobnotes.hearing.tape import Tape
from jobnotes.record import RecogniserStamp, Word

# --- with a hearing that costs nothing ------------------------------------------------------------


def made(count: int) -> list[Piece]:
    """Pieces whose sound is their number."""
    return [Piece((Span(10 * at, 10 * at + 5),), (np.full(5, at, np.float32),)) for at in range(count)]


def number(samples) -> Words:
    at = int(samples[0])
    return (Word(f"word{at}", 0.0, 0.1, 0.5),)


def slow_at_times(samples) -> Words:
    """Later pieces are often done before earlier ones."""
    time.sleep(0.004 * (int(samples[0]) * 7 % 3))
    return number(samples)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 12), st.integers(1, 5), st.sets(st.integers(0, 11)))
def test_the_words_are_the_same_in_order_however_many_at_a_time_and_whatever_is_known(count, at_a_time, had):
    pieces = made(count)
    known = {pieces[at].name: number(pieces[at].samples) for at in had if at < count}
    kept: dict[str, Words] = {}
    heard = hear_pieces(iter(pieces), slow_at_times, at_a_time, known=known, keep=kept.__setitem__)
    assert [(piece.spans, words) for piece, words in heard] == [
        (piece.spans, number(piece.samples)) for piece in pieces
    ]
    assert kept.keys() == {piece.name for piece in pieces} - known.keys(), "each once, but what was known"


def test_as_many_are_heard_at_once_as_were_asked_for_and_kept_by_who_asked():
    together = threading.Barrier(3, timeout=20)
    keepers = set()

    def hear(samples) -> Words:
        together.wait()
        return number(samples)

    def keep(name, words):
        keepers.add(threading.get_ident())

    assert len(list(hear_pieces(iter(made(6)), hear, 3, keep=keep))) == 6
    assert keepers == {threading.get_ident()}


def test_a_piece_is_kept_as_soon_as_it_is_heard_even_if_an_earlier_one_is_not():
    second_kept = threading.Event()

    def hear(samples) -> Words:
        if samples[0] == 0:
            assert second_kept.wait(20)
        return number(samples)

    def keep(name, words):
        if words[0].text == "word1":
            second_kept.set()

    assert [words[0].text for _, words in hear_pieces(iter(made(2)), hear, 2, keep=keep)] == [
        "word0",
        "word1",
    ]


def test_sound_is_read_no_further_ahead_than_there_is_work():
    read = []
    pieces = made(30)

    def found():
        for at, piece in enumerate(pieces):
            read.append(at)
            yield piece

    heard = hear_pieces(found(), number, 2)
    next(heard)
    time.sleep(0.1)
    assert len(read) <= 5
    assert len(list(heard)) == 29


def test_what_goes_wrong_in_a_piece_is_told_and_what_was_heard_before_it_is_kept():
    kept = []

    def hear(samples) -> Words:
        if samples[0] == 3:
            raise MemoryError
        return number(samples)

    with pytest.raises(MemoryError):
        list(hear_pieces(iter(made(30)), hear, 1, keep=lambda name, words: kept.append(words[0].text)))
    assert kept == ["word0", "word1", "word2"]


# --- with real speech -----------------------------------------------------------------------------


@dataclass
class Pieces:
    """Keeps in memory; `most`: it is stopped when it is given more."""

    most: int = 1000
    words: dict[tuple[RecogniserStamp, str], Words] = field(default_factory=dict)

    def heard(self, stamp):
        return {name: words for (by, name), words in self.words.items() if by == stamp}

    def keep(self, stamp, piece, words):
        if len(self.words) >= self.most:
            raise KeyboardInterrupt
        assert (stamp, piece) not in self.words, "heard twice"
        self.words[stamp, piece] = words


@pytest.fixture(scope="module")
def long():
    """Over two minutes, in which clips are heard once more with every turn."""
    parts = []
    for turn in range(6):
        parts += [
            clip("words.opus"),
            silence(9 + turn),
            clip("readings.opus"),
            silence(2),
            clip("pauses.opus"),
        ]
    sound = np.concatenate([*parts, silence(5)])
    assert len(sound) / RATE_HZ > LONG_S
    return sound


@pytest.fixture(scope="module")
def of_long(long):
    return recogniser(cpu_threads=1).hear(long)


@pytest.mark.slow
@pytest.mark.parametrize("cores", [2, 4])
def test_a_long_recording_has_the_same_words_however_many_cores_hear_it(long, of_long, cores):
    assert len(of_long) > 200
    shares: list[float] = []
    assert recogniser(cpu_threads=cores).hear(long, progress=shares.append) == of_long
    assert shares == sorted(shares)
    assert shares[-1] == 1.0
    assert len(shares) > 4


@pytest.mark.slow
@pytest.mark.parametrize("name", ["tiny.en", "tiny.en+numbers"])
def test_a_hearing_that_was_stopped_goes_on_and_ends_with_the_same_words(long, name):
    if name.endswith("+numbers"):
        pytest.importorskip("pocketsphinx")
    engine = recogniser(name, cpu_threads=2)
    whole = Pieces()
    expected = hear_tape(engine, Tape.of(long), kept=whole)
    kept = Pieces()
    for share in (0.3, 0.8):
        most = kept.most = round(share * len(whole.words))
        with pytest.raises(KeyboardInterrupt):
            hear_tape(engine, Tape.of(long), kept=kept)
        assert len(kept.words) == most, "what was kept before is not heard again"
    kept.most = 1000
    assert hear_tape(engine, Tape.of(long), kept=kept) == expected
    assert kept.words == whole.words


def test_of_a_short_recording_no_piece_is_kept():
    engine, kept = recogniser(cpu_threads=2), Pieces()
    assert hear_tape(engine, Tape.of(clip("readings.opus")), kept=kept) == engine.hear(clip("readings.opus"))
    assert kept.words == {}


def test_a_recogniser_that_needs_all_of_a_recording_is_given_it():
    given_to = []

    class Whole:
        stamp = RecogniserStamp("told", "whole", "0" * 64)

        def hear(self, samples, *, progress=None):
            given_to.append(samples)
            return ()

    sound = silence(LONG_S + 40)
    sound[::7] = 0.25
    assert hear_tape(Whole(), Tape.of(sound), kept=Pieces()) == ()
    assert np.array_equal(given_to[0], sound)

"""What was said, in order: a plain transcript or notes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from jobnotes.record import Note, Word


@dataclass(frozen=True, slots=True)
class Utterances:
    """Words in order, with the index at which each line or note begins; `note_of` gives each word's note."""

    words: tuple[Word, ...]
    line_starts: tuple[int, ...] = ()
    notes: tuple[Note, ...] = ()
    note_of: tuple[int, ...] = ()

    @classmethod
    def of_text(cls, text: str) -> Utterances:
        """A plain transcript, one utterance a line."""
        words: list[Word] = []
        starts: list[int] = []
        for line in text.splitlines():
            starts.append(len(words))
            words += [Word(w) for w in line.split()]
        return cls(tuple(words), tuple(starts))

    @classmethod
    def of_notes(cls, notes: Sequence[Note]) -> Utterances:
        words: list[Word] = []
        starts: list[int] = []
        note_of: list[int] = []
        for at, note in enumerate(notes):
            starts.append(len(words))
            words += note.words
            note_of += [at] * len(note.words)
        return cls(tuple(words), tuple(starts), tuple(notes), tuple(note_of))

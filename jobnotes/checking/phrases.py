"""Phrases of a policy file, looked for in what was said."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

from jobnotes.checking.particulars import OnlyHeard
from jobnotes.office.names import has_words, stand_in, words_of
from jobnotes.record import Fact, Identity, Step

#: How many doubtful statements a gap names; the job sheet lists them all.
_SHOWN = 4


def has_any(text: str, phrases: Iterable[str]) -> bool:
    """True if the words of one stand in `text` one after the other, in singular or plural."""
    return any(has_words(text, phrase) for phrase in phrases)


def says_exactly(text: str, phrases: Iterable[str]) -> bool:
    """Like `has_any`, but "code" isn't "codes"."""
    words = _words(text)
    return any(stand_in(_words(phrase), words) for phrase in phrases)


def is_just(text: str, phrases: Iterable[str]) -> bool:
    """True if `text` is one of the phrases and says nothing else."""
    words = _words(text)
    return any(words == _words(phrase) for phrase in phrases)


# The phrases of a policy are looked for in every fact.
@lru_cache(maxsize=4096)
def _words(text: str) -> tuple[str, ...]:
    return tuple(words_of(text))


def all_words(fact: Fact) -> str:
    """What was heard and what it was read as."""
    if isinstance(fact.detail, Identity):
        return fact.quote
    said = [getattr(fact.detail, name, None) for name in ("subject", "text", "name")]
    if isinstance(fact.detail, Step):
        said.append(f"{fact.detail.action} {fact.detail.object}")
    return " ".join((fact.quote, *(s for s in said if s)))


def in_words(fact: Fact) -> str:
    """What a person finds the fact by: its words as heard, shortened, with note, minute and second, or its
    writing with the photos that it was read in."""
    words = fact.quote.strip(" .,;:").split()
    said = f"“{' '.join(words[:9])}{' …' if len(words) > 9 else ''}”"
    if fact.source == "photo" and (photos := dict.fromkeys(shown.photo for shown in fact.shown)):
        return f"{said} (read in {', '.join(photos)})"
    if fact.note is None:
        return said
    if fact.start_s is None:
        return f"{said} ({fact.note})"
    minutes, seconds = divmod(int(fact.start_s), 60)
    return f"{said} ({fact.note} {minutes}:{seconds:02d})"


def listed(facts: list[Fact]) -> str:
    """The first few of them in words, each once, and how many more there are."""
    told = list(dict.fromkeys(map(in_words, facts)))
    more = f" and {len(told) - _SHOWN} more" if len(told) > _SHOWN else ""
    return ", ".join(told[:_SHOWN]) + more


def only_heard(doubtful: Iterable[Fact], besides: str = "") -> OnlyHeard | str:
    """What was said of it in doubt, and what is missing `besides`; "" where nothing was said."""
    facts = list(doubtful)
    if not facts:
        return besides
    read = [fact.source == "photo" for fact in facts]
    told = dict.fromkeys(map(in_words, facts))
    return OnlyHeard(", ".join(told), besides, heard=not all(read), read=any(read))

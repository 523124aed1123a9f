"""Phrases of a policy file, looked for in what was said."""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache

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
    """What a person knows the fact by: its words as heard, shortened."""
    words = fact.quote.strip(" .,;:").split()
    return f"“{' '.join(words[:9])}{' …' if len(words) > 9 else ''}”"


def listed(facts: list[Fact]) -> str:
    """The first few of them in words, and how many more there are."""
    more = f" and {len(facts) - _SHOWN} more" if len(facts) > _SHOWN else ""
    return ", ".join(in_words(f) for f in facts[:_SHOWN]) + more


def only_heard(doubtful: Iterable[Fact]) -> str:
    heard = [in_words(f) for f in doubtful]
    return f"only {', '.join(heard)}, which needs checking" if heard else ""

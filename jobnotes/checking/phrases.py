"""Phrases of a policy file, looked for in what was said."""

from __future__ import annotations

from collections.abc import Iterable

from jobnotes.checking.pairs import singular, words_of
from jobnotes.record import Fact, Identity

#: How many doubtful statements a gap names; the job sheet lists them all.
_SHOWN = 4


def has_phrase(text: str, phrase: str) -> bool:
    """True if the words of `phrase` stand in `text` one after the other, in singular or plural."""
    return _stand_in([singular(w) for w in words_of(phrase)], [singular(w) for w in words_of(text)])


def has_any(text: str, phrases: Iterable[str]) -> bool:
    return any(has_phrase(text, phrase) for phrase in phrases)


def says_exactly(text: str, phrases: Iterable[str]) -> bool:
    """Like `has_any`, but "code" isn't "codes"."""
    words = words_of(text)
    return any(_stand_in(words_of(phrase), words) for phrase in phrases)


def is_just(text: str, phrases: Iterable[str]) -> bool:
    """True if `text` is one of the phrases and says nothing else."""
    words = words_of(text)
    return any(words == words_of(phrase) for phrase in phrases)


def _stand_in(wanted: list[str], words: list[str]) -> bool:
    n = len(wanted)
    return n > 0 and any(words[i : i + n] == wanted for i in range(len(words) - n + 1))


def all_words(fact: Fact) -> str:
    """What was heard and what it was read as."""
    if isinstance(fact.detail, Identity):
        return fact.quote
    said = (getattr(fact.detail, name, None) for name in ("subject", "text", "name", "object"))
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

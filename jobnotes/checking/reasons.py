"""Whether something said tells why a part was replaced: by its name, or by what the trade calls alike."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from jobnotes.checking.pairs import SameObject
from jobnotes.office.names import has_words, singular_words
from jobnotes.record import Charge, Fact, Measurement, Part, Statement, Step

# A name of the lexicon has at most so many words.
_LONGEST_NAME = 4
# "turbo" is short for "turbocharger", "air" for nothing.
_SHORTEST = 4


@dataclass(frozen=True, slots=True)
class Reasons:
    """Judges by `same_object` and `kind_of` of the trade's pairs.

    `alike` are kinds of components whose members are spoken of by one another's names ("line" of a pipe).
    `little` words make no two names alike: "left", "lower".
    """

    same_object: SameObject
    kind_of: Callable[[str], str | None]
    alike: frozenset[str]
    little: frozenset[str]

    def names(self, said: Fact, part: str) -> bool:
        """True if what was said speaks of that part: one word in common is enough, as it is better not to ask
        for a reason than to ask for one that was told. A reading does so only outside its limit."""
        match said.detail:
            case Statement(text=text, component=component):
                told = f"{text} {component or ''}"
            case Measurement(subject=str(told), verdict="outside"):
                pass
            case _:
                return False
        words = self._telling(told)
        if any(_same_word(one, other) for one in self._telling(part) for other in words):
            return True
        kind = self.kind_of(part)
        return kind in self.alike and kind in self._kinds_in(told)

    def belongs_to_what_came_off(self, part: Fact, facts: tuple[Fact, ...]) -> bool:
        """True if the part was fitted to something else that had come off: "new bushes in the arm"."""
        assert isinstance(part.detail, Part)
        return any(
            isinstance(fact.detail, Step | Part)
            and fact.detail.action == "removed"
            and not self.same_object(_thing(fact.detail), part.detail.name)
            and self._telling(_thing(fact.detail)).isdisjoint(self._telling(part.detail.name))
            and has_words(part.quote, _thing(fact.detail))
            for fact in facts
        )

    def _telling(self, text: str) -> frozenset[str]:
        return frozenset(w for w in singular_words(text) if w not in self.little and not w.isdigit())

    def _kinds_in(self, text: str) -> frozenset[str]:
        return frozenset(_kinds(singular_words(text), self.kind_of))


def borne_by_payer(part: Fact, charges: tuple[Charge, ...]) -> bool:
    """False for a part that is priced and that the customer pays alone: nobody else asks why."""
    shares = [share for c in charges if part.id in c.fact_ids for share in c.shares if share.net]
    return not shares or any(share.payer != "customer" for share in shares)


def _thing(detail: Step | Part) -> str:
    return detail.object if isinstance(detail, Step) else detail.name


def _same_word(one: str, other: str) -> bool:
    short, long = sorted((one, other), key=len)
    return one == other or (len(short) >= _SHORTEST and long.startswith(short))


def _kinds(words: tuple[str, ...], kind_of: Callable[[str], str | None]) -> Iterator[str]:
    for end in range(1, len(words) + 1):
        if kind := kind_of(" ".join(words[max(0, end - _LONGEST_NAME) : end])):
            yield kind

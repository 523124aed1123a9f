"""Which facts support the cause: one that nothing supports is an opinion, and claims are refused for it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from jobnotes.checking.pairs import SameObject
from jobnotes.checking.phrases import has_any
from jobnotes.office.names import has_words, singular_words
from jobnotes.record import Fact, FaultCode, Measurement, Photo, PhotoCue, Statement, Support

Fits = Mapping[str, Sequence[int]]
"""For a failure, the failure modes (FMI) of codes that fit it."""


@dataclass(frozen=True, slots=True)
class Weighing:
    """What bears a cause out: failure modes that fit a failure, and words of a photo's cue by which it shows
    something else than what failed ("new", "label")."""

    fits: Fits = field(default_factory=dict)
    not_photos: tuple[str, ...] = ()


def supports(
    cause: Fact,
    facts: Sequence[Fact],
    photos: Sequence[Photo],
    same_object: SameObject,
    weighing: Weighing,
    little: frozenset[str] = frozenset(),
) -> tuple[Support, ...]:
    """What among `facts` supports `cause`: readings outside their limits and findings at its component,
    fault codes whose failure mode (FMI) fits its failure, and photos of any of these.

    `facts` are those that may be relied on; nothing else counts. `little` words make no two names alike.
    """
    if not isinstance(cause.detail, Statement):
        return ()
    found: list[Support] = []
    shown = {cause.id}
    for fact in facts:
        match fact.detail:
            case Measurement(verdict="outside", subject=str(subject)) if about(
                cause.detail, subject, same_object, little
            ):
                found.append(Support(cause.id, fact.id, "reading"))
            case Statement(kind="finding") as finding if about(
                cause.detail, finding.component or finding.text, same_object, little
            ):
                found.append(Support(cause.id, fact.id, "finding"))
            case FaultCode(fmi=int(fmi)) if fmi in weighing.fits.get(cause.detail.failure or "", ()):
                found.append(Support(cause.id, fact.id, "code"))
            case PhotoCue(subject=str(subject)) if about(cause.detail, subject, same_object, little):
                if has_any(subject, weighing.not_photos):
                    continue
                # the cue says what is on the photo, but the photo is the support
            case _:
                continue
        shown.add(fact.id)
    found += [Support(cause.id, p.id, "photo") for p in photos if shown & set(p.fact_ids)]
    return tuple(found)


def about(cause: Statement, name: str, same_object: SameObject, little: frozenset[str] = frozenset()) -> bool:
    """True if `name` is the cause's component or shares a word with it: "sensor plug", "height sensor"."""
    if not cause.component:
        return False
    words = set(singular_words(cause.component)) - little
    return same_object(cause.component, name) or not words.isdisjoint(singular_words(name))


def names(statement: Statement, part: str, same_object: SameObject) -> bool:
    """True if the statement is about that part: by its words, or as its component."""
    return has_words(statement.text, part) or (
        statement.component is not None and same_object(statement.component, part)
    )

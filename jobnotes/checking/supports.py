"""Which facts support the cause: one that nothing supports is an opinion, and claims are refused for it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
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
    something else than what failed ("new", "label").

    `circuit_modes` tell of an electric circuit alone, and fit only what is of one of the `circuit_kinds`: an
    air hose that chafed opens no circuit. A code in one of the `gone_states` tells what is no more.
    """

    fits: Fits = field(default_factory=dict)
    not_photos: tuple[str, ...] = ()
    circuit_modes: frozenset[int] = frozenset()
    circuit_kinds: frozenset[str] = frozenset()
    gone_states: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Things:
    """What is known of the names of things: which may be one, the kind of each, and how a text says that
    things failed. `little` words make no two names alike."""

    same_object: SameObject
    kind_of: Callable[[str], str | None]
    failures_in: Callable[[str], frozenset[str]]
    little: frozenset[str] = frozenset()


def supports(
    cause: Fact,
    facts: Sequence[Fact],
    photos: Sequence[Photo],
    things: Things,
    weighing: Weighing,
) -> tuple[Support, ...]:
    """What among `facts` supports `cause`: readings outside their limits and findings at its component,
    fault codes whose failure mode (FMI) fits how it failed, and photos of any of these.

    `facts` are those that may be relied on; nothing else counts.
    """
    if not isinstance(cause.detail, Statement):
        return ()
    same_object, little = things.same_object, things.little
    fitting = _fitting(cause.detail, things, weighing)
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
            case FaultCode(fmi=int(fmi), state=state) if fmi in fitting and state not in weighing.gone_states:
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


def _fitting(cause: Statement, things: Things, weighing: Weighing) -> frozenset[int]:
    """The failure modes that fit how the cause's component failed, or what else failed with it."""
    failures = things.failures_in(cause.text) | {cause.failure or ""}
    fitting = frozenset(mode for failure in failures for mode in weighing.fits.get(failure, ()))
    # "seal of the sensor connector": what it is the seal of counts too
    parts = re.split(r"\b(?:of|on|at|to|in)\b", cause.component or "")
    circuit = any(things.kind_of(part) in weighing.circuit_kinds for part in parts)
    return fitting if circuit else fitting - weighing.circuit_modes


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

"""Job cards among the photos: which job the photos behind them are of.

A card begins its job in the roll of the camera that photographed it, until the next card. Photos behind the
card of another job are kept and named, and show nothing of this one.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from jobnotes.errors import Problem
from jobnotes.reading.job.job_card import SCHEME, BadCardError, card_in, plain_number
from jobnotes.record import Fact, Identity, Photo, Shown

#: what a problem with job cards is filed under, with the photo's name behind it
ON_CARD = "job card in "
_MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Bound:
    """Facts and photos in the order given. `problems`: what has to be said of the cards."""

    facts: tuple[Fact, ...]
    photos: tuple[Photo, ...]
    problems: tuple[Problem, ...]


def with_cards(photos: Sequence[Photo]) -> tuple[tuple[Photo, ...], tuple[Problem, ...]]:
    """Each photo with the job card that is seen in it, and what looks like one but can't be used."""
    found, problems = [], []
    for photo in photos:
        card = None
        try:
            card = card_in(photo.sight.texts) if photo.sight else None
        except BadCardError as error:
            problems.append(Problem(f"{ON_CARD}{photo.file}", f"{error}, so it was not used"))
        found.append(replace(photo, card=card, job=None))
    return tuple(found), tuple(problems)


def bind(
    facts: Sequence[Fact], photos: Sequence[Photo], as_taken: Mapping[str, datetime], stated: str | None
) -> Bound:
    """Tell by the cards which photos are of another job, and hold the job number that was said against them.

    `as_taken` is when its camera says that it took a photo, by the photo's id; `stated` is the job number by
    the office. What was heard contradicting the only card is doubted, rather than the card's photos; what the
    office stated or a person decided stands, and the card is another job's.
    """
    cards = [p for p in photos if p.card]
    if not cards:
        return Bound(tuple(facts), tuple(photos), ())
    shown = {_number(p): p.card.number for p in cards if p.card}
    own, firm = _own_number(facts, stated, shown)
    facts = tuple(_held_against(fact, cards, own) for fact in facts)
    if own is None or (own not in shown and not firm):
        problems = [_untold(cards, list(shown.values()), own)] if len(shown) > 1 else []
        return Bound(facts, tuple(photos), tuple(problems))

    problems = []
    others: dict[str, str] = {}
    for roll in _rolls(photos, as_taken):
        for card, behind in _stretches(roll):
            if _number(card) != own:
                others |= dict.fromkeys((p.id for p in (card, *behind)), shown[_number(card)])
                problems.append(_elsewhere(card, shown[_number(card)], behind))
    return Bound(facts, tuple(replace(p, job=others.get(p.id)) for p in photos), tuple(problems))


def says_number_of(photo: Photo, facts: Sequence[Fact]) -> tuple[str, ...]:
    """The facts that say the job number on the photo's card."""
    return tuple(f.id for f in facts if f.stands and photo.card and _said_number(f) == _number(photo))


def _rolls(photos: Sequence[Photo], as_taken: Mapping[str, datetime]) -> list[list[Photo]]:
    """The photos of each camera as it took them."""
    rolls: dict[str | None, list[Photo]] = {}
    for photo in sorted(photos, key=lambda p: (as_taken[p.id].timestamp(), p.file)):
        rolls.setdefault(photo.camera, []).append(photo)
    return list(rolls.values())


def _stretches(roll: Sequence[Photo]) -> list[tuple[Photo, list[Photo]]]:
    """Each card of a roll with the photos behind it; the same card again goes on with its job."""
    found: list[tuple[Photo, list[Photo]]] = []
    for photo in roll:
        if photo.card is None:
            if found:
                found[-1][1].append(photo)
        elif found and _number(found[-1][0]) == _number(photo):
            found[-1][1].append(photo)
        else:
            found.append((photo, []))
    return found


def _number(photo: Photo) -> str:
    """The number on its card, as numbers are compared."""
    return plain_number(photo.card.number) if photo.card else ""


def _said_number(fact: Fact) -> str | None:
    if isinstance(fact.detail, Identity) and fact.kind == "job_number":
        return plain_number(fact.detail.value)
    return None


def _own_number(
    facts: Sequence[Fact], stated: str | None, shown: Mapping[str, str]
) -> tuple[str | None, bool]:
    """This job's number as it is compared, and whether more than a recogniser's ear says so.

    In order: what the office states, what a person decided, what was heard and is on a card, what was heard;
    without any of these, the number of the cards, if it is one.
    """
    if stated and plain_number(stated):
        return plain_number(stated), True
    said = [(fact, number) for fact in facts if fact.usable and (number := _said_number(fact))]
    decided = [number for fact, number in said if fact.status != "sure"]
    if decided:
        return decided[-1], True
    heard = [number for _, number in said]
    on_card = [number for number in heard if number in shown]
    if on_card or heard:
        return (on_card or heard)[-1], False
    return (next(iter(shown)), False) if len(shown) == 1 else (None, False)


def _held_against(fact: Fact, cards: Sequence[Photo], own: str | None) -> Fact:
    """A job number that was said, with what the cards show of it; doubted where they show another."""
    said = _said_number(fact)
    if said is None or not fact.stands:
        return fact
    # what was held against it before is held against it anew
    fact = replace(fact, shown=tuple(s for s in fact.shown if not s.text.startswith(f"{SCHEME}:")))
    same = [p for p in cards if _number(p) == said]
    if same:
        return replace(fact, shown=(*fact.shown, *(_shown(p, agrees=True) for p in same)))
    mine = [p for p in cards if _number(p) == own] or cards
    fact = replace(fact, shown=(*fact.shown, *(_shown(p, agrees=False) for p in mine)))
    if fact.status not in ("sure", "check"):
        return fact
    numbers = " and ".join(dict.fromkeys(p.card.number for p in mine if p.card))
    reason = f"the job card photographed as {mine[0].id} says {numbers}"
    if fact.why and reason in fact.why:
        return fact
    return replace(fact, status="check", why=f"{fact.why}; {reason}" if fact.why else reason)


def _shown(photo: Photo, *, agrees: bool) -> Shown:
    assert photo.card is not None
    assert photo.sight is not None
    code = next(t for t in photo.sight.texts if t.symbology and t.text.startswith(f"{SCHEME}:"))
    return Shown(photo.id, "value", photo.card.number, code.text, code.corners, agrees)


def _untold(cards: Sequence[Photo], numbers: Sequence[str], own: str | None) -> Problem:
    files = _names(cards)
    which = "none of them is of the job that was named" if own else "no job number was said or stated"
    return Problem(
        f"{ON_CARD}{cards[0].file}",
        f"there are cards of jobs {', '.join(numbers)} ({files}), and {which}; state the job's number, so "
        "that only its own photos are linked",
    )


def _elsewhere(card: Photo, number: str, behind: Sequence[Photo]) -> Problem:
    photos = [p for p in behind if not p.card]
    told = "no photo behind it"
    if photos:
        count, verb = ("1 photo", "is") if len(photos) == 1 else (f"{len(photos)} photos", "are")
        told = f"{count} behind it ({_names(photos)}) {verb} kept, and linked to nothing of this job"
    return Problem(f"{ON_CARD}{card.file}", f"it is of job {number}: {told}")


def _names(photos: Sequence[Photo]) -> str:
    first, last = photos[0].file, photos[-1].file
    return ", ".join(p.file for p in photos) if len(photos) <= _MOST_NAMED else f"{first} … {last}"

"""Which photos are takes of the same thing, of which one is enough to show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from jobnotes.record import Photo, Sight

_FEW_BITS = 10  # of 64, in which the fingerprints of two takes differ at most; docs/photos.md has how many do
_WITHIN_S = 180.0  # the same place an hour later is before and after


def group_alike(photos: Sequence[Photo]) -> tuple[Photo, ...]:
    """The photos in the order given; in `like` of all but the best of a group is the best.

    Alike are those of one camera that were taken within three minutes of each other, look alike, and in which
    no different numbers were read: a meter is photographed twice since it shows something else. The best has
    the fewest flaws, and of those it is the sharpest.
    """
    groups: list[list[Photo]] = []
    for photo in sorted(photos, key=lambda p: (p.taken_at.timestamp(), p.id)):
        group = next((g for g in reversed(groups) if all(_alike(photo, other) for other in g)), None)
        if group is None:
            groups.append([photo])
        else:
            group.append(photo)
    best_of = {photo.id: max(group, key=_worth).id for group in groups for photo in group}
    return tuple(
        replace(photo, like=None if best_of[photo.id] == photo.id else best_of[photo.id]) for photo in photos
    )


def _worth(photo: Photo) -> tuple[int, float]:
    sight = photo.sight
    return (-len(sight.flaws), sight.sharpness or 0.0) if sight else (0, 0.0)


def _alike(one: Photo, other: Photo) -> bool:
    if one.sight is None or other.sight is None or one.camera != other.camera:
        return False
    if abs((one.taken_at - other.taken_at).total_seconds()) > _WITHIN_S:
        return False
    first, second = one.sight.fingerprint, other.sight.fingerprint
    if first is None or second is None or (int(first, 16) ^ int(second, 16)).bit_count() > _FEW_BITS:
        return False
    here, there = _numbers(one.sight), _numbers(other.sight)
    return here <= there or there <= here


def _numbers(sight: Sight) -> set[str]:
    words = (word for text in sight.texts for word in text.text.split())
    return {word for word in words if sum(c.isdigit() for c in word) > 1}

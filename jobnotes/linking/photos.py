"""Photos to facts: each photo goes to what it shows of what was said, and to what was said around its spoken
cue, or else at about its time.

Pure and deterministic: linking what is already linked gives the same again. What a person has linked
stays as they left it. What they moved stands in the facts' `photos` until then: a photo's digest behind "+"
where they put it, behind "-" where they took it away.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

from jobnotes.errors import Problem
from jobnotes.linking.card_clock import CardShot, judge_by_cards
from jobnotes.linking.job_cards import bind, says_number_of, with_cards
from jobnotes.linking.words import content_words, head_word
from jobnotes.record import (
    CameraClock,
    Clock,
    Fact,
    Identity,
    LabourSaid,
    Note,
    Photo,
    PhotoCue,
    PhotoTimeDoubt,
)

WINDOW_S = 90.0
# A photo belongs to a cue up to this long before and after it, in seconds. Common practice, no source.
CUE_BEFORE_S, CUE_AFTER_S = 60.0, 20.0
# A silence longer than this ends a breath; a breath counts only so far around its cue.
BREATH_PAUSE_S, BREATH_REACH_S = 1.2, 15.0
# What is said this close before or after the cue is taken as meant by it, whatever the pauses.
CLOSE_S, CLOSE_AFTER_S = 4.0, 2.0
# How far from the cue a fact may be that speaks of the same thing, or that is the only one there is.
SUBJECT_REACH_S = 30.0
UNKNOWN_CAMERA = "unknown camera"
#: How a photo is linked that neither a cue nor a person put where it is.
UNCUED = ("value", "time", None)

# What the photo of a cue costs when it is taken before the cue rather than after, and what a cue costs that
# is left without its photo: so that two cues in one breath get one photo each.
_BEFORE_FACTOR, _CUE_LEFT_OUT = 2.0, 10.0

# how a fact that was not linked yet names a photo that a person moved (jobnotes.library.decisions)
_PUT, _TAKEN = "+", "-"


@dataclass(frozen=True, slots=True)
class Linked:
    """Facts and photos in the order given, their links the same from both sides; a judgement per camera; what
    is to be said of job cards."""

    facts: tuple[Fact, ...]
    photos: tuple[Photo, ...]
    camera_clocks: tuple[CameraClock, ...]
    problems: tuple[Problem, ...] = ()


def link(
    facts: Sequence[Fact],
    photos: Sequence[Photo],
    notes: Sequence[Note],
    *,
    number: str | None = None,
    window_s: float = WINDOW_S,
) -> Linked:
    """Correct the cameras' clocks where a job card or spoken cues prove an offset, then link photos to facts.

    A photo goes to its cue (the nearest in time; several photos of one breath to its cues in order) and to
    the facts that the cue is about: those near it that it names, or else the one said next to it; for a cue
    that names nothing, those of the same breath. A photo without a cue goes to the facts nearest in time, if
    any lie within `window_s` seconds. What it shows of facts (their `shown`) counts more than time, and comes
    on top of a cue. One that is near nothing keeps no links. Rejected facts and facts without a time get no
    photos. A job card shows only its number, and what was photographed behind another job's card nothing of
    this one; `number` is this job's by the office.
    """
    starts = {note.id: note.started_at for note in notes}
    said = [fact for fact in facts if fact.stands and fact.source is None]
    spoken = [s for fact in said if (s := _spoken(fact, starts))]
    cues = sorted((s for s in spoken if isinstance(s.fact.detail, PhotoCue)), key=_Spoken.order)
    things = sorted((s for s in spoken if _can_be_shown(s.fact)), key=_Spoken.order)
    breaths = {note.id: _breaths(note) for note in notes}

    photos, unusable = with_cards(photos)
    # judged from the camera's own times, so that judging again comes to the same
    as_taken = {p.id: _later(p.taken_at, -p.clock_offset_s) for p in photos}
    bound = bind(facts, photos, as_taken, number)
    facts = bound.facts
    clocks, photos = _set_clocks(bound.photos, as_taken, [c.at for c in cues])
    cue_of = _cues_of([p for p in photos if p.linked_by != "person" and not (p.card or p.job)], cues)
    put, taken = _marked(_PUT, facts), _marked(_TAKEN, facts)
    linked: list[Photo] = []
    for photo in photos:
        if photo.linked_by == "person":
            now = replace(photo, fact_ids=_followed(photo.fact_ids, facts))
        elif photo.card or photo.job:
            ids = () if photo.job else says_number_of(photo, facts)
            now = replace(photo, fact_ids=ids, linked_by="value" if ids else None)
        elif cue := cue_of.get(photo.id):
            about = _about(cue, things, breaths.get(cue.fact.note or "", ()))
            ids = (cue.fact.id, *(s.fact.id for s in about))
            now = replace(photo, fact_ids=ids, linked_by="cue")
        else:
            near = _nearest(photo.taken_at.timestamp(), things, window_s)
            ids = tuple(s.fact.id for s in near)
            now = replace(photo, fact_ids=ids, linked_by="time" if ids else None)
        if photo.linked_by != "person" and not (photo.card or photo.job):
            now = _with_shown(now, facts)
        if photo.sha256 in put or photo.sha256 in taken:
            own = _followed(put.get(photo.sha256, ()), facts)
            others = [i for i in now.fact_ids if i not in (*own, *taken.get(photo.sha256, ()))]
            ids = (*own, *others)
            now = replace(now, fact_ids=ids, linked_by="person" if ids else None)
        linked.append(now)
    problems = (*unusable, *bound.problems)
    return Linked(_with_photos(facts, linked), tuple(linked), clocks, problems)


def _with_shown(photo: Photo, facts: Sequence[Fact]) -> Photo:
    """The photo with the facts that it shows something of: before those of its cue, instead of those of its
    time."""
    showing = [f for f in facts if any(shown.photo == photo.id for shown in f.shown)]
    if not showing:
        return photo
    agreeing = [
        f for f in showing if f.source is None and any(s.photo == photo.id and s.agrees for s in f.shown)
    ]
    shown = _followed([f.id for f in sorted(showing, key=lambda f: f not in agreeing)], facts)
    others = () if photo.linked_by == "time" and agreeing else photo.fact_ids
    ids = tuple(dict.fromkeys((*shown, *others)))
    by_value = agreeing or photo.linked_by is None
    return replace(photo, fact_ids=ids, linked_by="value" if by_value and ids else photo.linked_by)


# --- times ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Spoken:
    """A fact with the POSIX times, in seconds, at which its words begin and end."""

    fact: Fact
    at: datetime
    start: float
    end: float

    def order(self) -> tuple[float, float, str]:
        return self.start, self.end, self.fact.id

    def gap(self, start: float, end: float) -> float:
        """Seconds of silence or other words between this fact and a stretch; 0 where they overlap."""
        return max(self.start - end, start - self.end, 0.0)


def _spoken(fact: Fact, starts: dict[str, datetime]) -> _Spoken | None:
    at = fact.at
    if at is None and fact.note in starts and fact.start_s is not None:
        at = _later(starts[fact.note], fact.start_s)
    if at is None:
        return None
    length = fact.end_s - fact.start_s if fact.end_s is not None and fact.start_s is not None else 0.0
    return _Spoken(fact, at, at.timestamp(), at.timestamp() + max(length, 0.0))


def _later(time: datetime, seconds: float) -> datetime:
    # adding to a local time would add to the wall clock, and be an hour off when summer time begins or ends
    return (time.astimezone(UTC) + timedelta(seconds=seconds)).astimezone(time.tzinfo)


def _can_be_shown(fact: Fact) -> bool:
    """A photo shows things, not time spent."""
    return not isinstance(fact.detail, PhotoCue | Clock | LabourSaid)


def _set_clocks(
    photos: Sequence[Photo], as_taken: Mapping[str, datetime], cue_times: Sequence[datetime]
) -> tuple[tuple[CameraClock, ...], list[Photo]]:
    clocks: dict[str | None, CameraClock] = {}
    for camera in dict.fromkeys(p.camera for p in photos):
        roll = [p for p in photos if p.camera == camera]
        shots = [
            CardShot(p.id, as_taken[p.id], p.card, p.taken_at_source == "exif")
            for p in sorted(roll, key=lambda p: (as_taken[p.id].timestamp(), p.id))
            if p.card
        ]
        times = [as_taken[p.id] for p in roll if not p.card]
        clocks[camera] = judge_by_cards(shots, cue_times, times, camera or UNKNOWN_CAMERA)
    corrected = []
    for photo in photos:
        offset = clocks[photo.camera].offset_s
        if offset != photo.clock_offset_s:
            photo = replace(photo, taken_at=_later(as_taken[photo.id], offset), clock_offset_s=offset)
        # a file's own time stays in doubt, whatever the clock of the camera
        if photo.taken_at_doubt in (None, "camera clock"):
            doubt: PhotoTimeDoubt | None = None if clocks[photo.camera].proved else "camera clock"
            photo = replace(photo, taken_at_doubt=doubt)
        corrected.append(photo)
    return tuple(clocks.values()), corrected


# --- photo to cue --------------------------------------------------------------------------------


def _cues_of(photos: Sequence[Photo], cues: Sequence[_Spoken]) -> dict[str, _Spoken]:
    """The cue of each photo that is near one, by the photo's id.

    Photos and cues keep their order, and the sum of the distances is least, where a cue without a photo
    counts as some seconds too: dynamic programming over (photos so far, last cue used).
    """
    near = sorted(
        (p for p in photos if any(_cost(p, c) is not None for c in cues)),
        key=lambda p: (p.taken_at.timestamp(), p.id),
    )
    # best[k]: the least cost with the photos so far, the last of them at cue k, and the choice of each
    best: dict[int, tuple[float, tuple[int, ...]]] = {-1: (0.0, ())}
    for photo in near:
        then: dict[int, tuple[float, tuple[int, ...]]] = {}
        for k, cue in enumerate(cues):
            cost = _cost(photo, cue)
            before = [
                (total + cost + max(0, k - last - 1) * _CUE_LEFT_OUT, path)
                for last, (total, path) in best.items()
                if cost is not None and last <= k
            ]
            if before:
                total, path = min(before)
                then[k] = (total, (*path, k))
        best = then
    ends = ((total + (len(cues) - 1 - k) * _CUE_LEFT_OUT, path) for k, (total, path) in best.items())
    return {photo.id: cues[k] for photo, k in zip(near, min(ends)[1], strict=True)}


def _cost(photo: Photo, cue: _Spoken) -> float | None:
    """The distance in seconds, more if the photo came first; None where it's too far to belong."""
    lag = photo.taken_at.timestamp() - cue.start
    if lag > CUE_BEFORE_S + cue.end - cue.start or lag < -CUE_AFTER_S:
        return None
    return lag if lag >= 0 else -lag * _BEFORE_FACTOR


# --- cue to facts, time to facts -----------------------------------------------------------------


def _about(cue: _Spoken, things: Sequence[_Spoken], breaths: Sequence[tuple[float, float]]) -> list[_Spoken]:
    """The facts that a cue is about, nearest first: those of what it names, or else those near it."""
    near = [
        (gap, s)
        for s in things
        if s.fact.note == cue.fact.note and (gap := s.gap(cue.start, cue.end)) <= SUBJECT_REACH_S
    ]
    near.sort(key=lambda g: (g[0], g[1].order()))
    subject = content_words(getattr(cue.fact.detail, "subject", None) or "")
    # "the new sensor" is first of all about a sensor, less about its bracket
    if same := [s for _, s in near if subject & _heads_of(s.fact)]:
        return same
    if same := [s for _, s in near if subject & _names_of(s.fact)]:
        return same
    breath = [s for gap, s in near if gap <= _close(cue, s) or _in_one(breaths, cue, s, gap)]
    if same := [s for s in breath if subject & content_words(s.fact.quote)]:
        return same
    if not subject:
        return breath or [s for _, s in near[:1]]
    # a photo of the gauge is about the reading next to it, but never about the odometer that it doesn't name
    return [s for gap, s in near if gap <= _close(cue, s) and not isinstance(s.fact.detail, Identity)][:1]


def _close(cue: _Spoken, other: _Spoken) -> float:
    return CLOSE_S if other.start < cue.start else CLOSE_AFTER_S


def _nearest(time: float, things: Sequence[_Spoken], window_s: float) -> list[_Spoken]:
    """The fact nearest in time and those said along with it, nearest first; none beyond the window."""
    near = sorted(((s.gap(time, time), s) for s in things), key=lambda g: (g[0], g[1].order()))
    if not near or near[0][0] > window_s:
        return []
    first = near[0][1]
    return [s for gap, s in near if s.gap(first.start, first.end) <= CLOSE_S and gap <= window_s]


def _breaths(note: Note) -> list[tuple[float, float]]:
    """The stretches of a note without a pause, as seconds from its start."""
    times = [(w.start_s, w.end_s) for w in note.words if w.start_s is not None and w.end_s is not None]
    if not times:
        return []
    cuts = [k + 1 for k, (a, b) in enumerate(pairwise(times)) if b[0] - a[1] > BREATH_PAUSE_S]
    return [(times[i][0], times[j - 1][1]) for i, j in pairwise([0, *cuts, len(times)])]


def _in_one(breaths: Sequence[tuple[float, float]], one: _Spoken, other: _Spoken, gap: float) -> bool:
    starts = (one.fact.start_s, other.fact.start_s)
    return gap <= BREATH_REACH_S and any(
        all(s is not None and a <= s <= b for s in starts) for a, b in breaths
    )


def _said_names(fact: Fact) -> list[str]:
    said = (getattr(fact.detail, name, None) for name in ("subject", "name", "object", "component"))
    return [name for name in said if name]


def _heads_of(fact: Fact) -> frozenset[str]:
    # what was read of a vehicle is named by its kind: an odometer, a registration
    names = [fact.kind.replace("_", " ")] if isinstance(fact.detail, Identity) else _said_names(fact)
    return frozenset(head for name in names if (head := head_word(name)))


def _names_of(fact: Fact) -> frozenset[str]:
    return content_words(" ".join((*_said_names(fact), getattr(fact.detail, "text", ""))))


# --- both ways -----------------------------------------------------------------------------------


def _marked(mark: str, facts: Sequence[Fact]) -> dict[str, list[str]]:
    """The facts that a person put a photo to, or took it from, by the photo's digest."""
    found: dict[str, list[str]] = {}
    for fact in facts:
        for photo in fact.photos:
            if photo.startswith(mark):
                found.setdefault(photo.removeprefix(mark), []).append(fact.id)
    return found


def _followed(fact_ids: Sequence[str], facts: Sequence[Fact]) -> tuple[str, ...]:
    """The facts as they stand now: one that was corrected hands its photos to the fact that corrects it."""
    by_id = {fact.id: fact for fact in facts}
    ids: dict[str, None] = {}
    for fact_id in fact_ids:
        fact, seen = by_id.get(fact_id), {fact_id}
        while fact and not fact.stands and fact.superseded_by and fact.superseded_by not in seen:
            seen.add(fact.superseded_by)
            fact = by_id.get(fact.superseded_by)
        if fact and fact.stands:
            ids[fact.id] = None
    return tuple(ids)


def _with_photos(facts: Sequence[Fact], photos: Sequence[Photo]) -> tuple[Fact, ...]:
    photos_of: dict[str, list[str]] = {}
    for photo in sorted(photos, key=lambda p: (p.taken_at.timestamp(), p.id)):
        for fact_id in photo.fact_ids:
            photos_of.setdefault(fact_id, []).append(photo.id)
    return tuple(replace(fact, photos=tuple(photos_of.get(fact.id, ()))) for fact in facts)

"""A camera's clock by the job cards that it has photographed.

A live card shows the workshop's clock of the second in which it is photographed, so that the camera's error
is the difference, to the second. A printed one was photographed some time later, nobody knows when: it only
says that the camera's clock can't be right where that shows an earlier time. One that states when it is to be
photographed is taken at its word, to within a minute.

What photos are linked by is how their times lie to those of the recordings. Where the phone that records is
also the camera, both share a clock, and correcting the photos alone would tear them from their words: where
the spoken cues prove that, they go before the card, and the message says both.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from jobnotes.linking.camera_clock import REACH_S, SLOW_HAND_S, Judgement, agreeing, judgement, setting
from jobnotes.record import CameraClock, JobCard

# Two photos of live cards by one clock agree to this, in seconds: each is read to the second.
_SAME_S = 2.0
# How far a clock may be off: in the wrong zone, and some minutes wrong there. What is further off is a
# picture of an old card, or a date that nobody set. Common practice, no source.
_MOST_OFF_S = REACH_S + 900.0
# A card that isn't live is photographed this long after its time, at most. Common practice, no source.
_STATED_WITHIN = "to within a minute"


@dataclass(frozen=True, slots=True)
class CardShot:
    """A photo of a job card: its id, and when its camera, uncorrected, says that it took it.

    `by_camera` is False where the time is not the camera's own, but a file's.
    """

    photo: str
    taken_at: datetime
    card: JobCard
    by_camera: bool = True

    @property
    def off_s(self) -> float:
        """What has to be added to the camera's time to come to the card's. Both show whole seconds."""
        return (self.card.clock - self.taken_at.replace(microsecond=0)).total_seconds()


def judge_by_cards(
    shots: Sequence[CardShot],
    cue_times: Sequence[datetime],
    photo_times: Sequence[datetime],
    camera: str,
) -> CameraClock:
    """The camera's clock by its `shots` of cards, in the order in which they were taken; where they tell
    nothing, by the spoken cues, as `camera_clock.judge` does. `photo_times` are of its other photos."""
    by_cues = judgement(cue_times, photo_times, camera)
    own = [shot for shot in shots if shot.by_camera]
    told: str | None = None
    for kind in ("live", "stated"):
        of_kind = [shot for shot in own if shot.card.clock_is == kind]
        if of_kind:
            usable, told = _told(of_kind)
            if usable is not None:
                return _by_card(usable, told, by_cues, cue_times, photo_times)
            break
    if told is None and shots and not own:
        told = (
            f"the job card photographed as {shots[0].photo} tells nothing of it: the photo has no EXIF time"
        )
    clock = by_cues.clock
    for remark in (told, _too_early(own, clock.offset_s)):
        if remark:
            clock = replace(clock, message=f"{clock.message}; {remark}")
    return clock


def _told(shots: Sequence[CardShot]) -> tuple[CardShot | None, str]:
    """The shot that tells the clock, and what more there is to say; or None, and why."""
    first = shots[0]
    for shot in shots:
        if abs(shot.off_s) > _MOST_OFF_S:
            off = setting(shot.off_s)
            return None, f"by the job card photographed as {shot.photo} it would be {off}, which is too far"
    apart = max(shots, key=lambda shot: abs(shot.off_s - first.off_s))
    spread = abs(apart.off_s - first.off_s)
    if spread <= _SAME_S or (first.card.clock_is == "stated" and spread < SLOW_HAND_S):
        return first, ""
    differ = f"{setting(first.off_s)} by {first.photo}, {setting(apart.off_s)} by {apart.photo}"
    if spread < SLOW_HAND_S:
        return first, f"the job cards differ a little: {differ}"
    return None, f"the job cards contradict each other: {differ}"


def _by_card(
    shot: CardShot,
    more: str,
    by_cues: Judgement,
    cue_times: Sequence[datetime],
    photo_times: Sequence[datetime],
) -> CameraClock:
    stated = shot.card.clock_is == "stated"
    offset = shot.off_s
    if stated and abs(offset) < SLOW_HAND_S:
        offset = 0.0
    support = agreeing(cue_times, photo_times, offset)
    by_name = " for a stated time" if stated else ""
    within = f", {_STATED_WITHIN}" if stated else ""
    lead = f"job card{by_name} photographed as {shot.photo}: camera clock is {setting(offset)}{within}"

    against = _against(offset, support, by_cues, cue_times, photo_times)
    if against is not None:
        clock, why = against
        done = "; times left as they are" if clock.offset_s == 0 else ""
        return replace(clock, message=f"{lead}; {why}{done}")
    clock = replace(by_cues.clock, offset_s=offset, support=support, card=shot.photo, proved=True)
    done = "; corrected" if offset else ""
    return replace(clock, message=f"{lead}{done}{f'; {more}' if more else ''}")


def _against(
    offset: float,
    support: int,
    by_cues: Judgement,
    cue_times: Sequence[datetime],
    photo_times: Sequence[datetime],
) -> tuple[CameraClock, str] | None:
    """The clock by the cues, and why, where they speak against setting it by the card."""
    shared = "the recordings' clock may be off as well, or the card was not of that moment"
    if by_cues.proved:
        if abs(by_cues.clock.offset_s - offset) <= SLOW_HAND_S:
            return None
        return by_cues.clock, f"but by the spoken cues, {by_cues.clock.message}; {shared}"
    as_it_is = agreeing(cue_times, photo_times, 0.0)
    if abs(offset) > SLOW_HAND_S and not support and as_it_is >= 2:
        clock = replace(by_cues.clock, offset_s=0.0, support=as_it_is, proved=False)
        return (
            clock,
            f"but {as_it_is} spoken cues fit the photos' times as they are, and none fits that; {shared}",
        )
    return None


def _too_early(shots: Sequence[CardShot], offset_s: float) -> str | None:
    """That the clock, with what is added to it, shows a card before the time that stands on it."""
    early = [(shot.off_s - offset_s, shot) for shot in shots]
    most, shot = max(early, key=lambda e: e[0], default=(0.0, None))
    if shot is None or most < SLOW_HAND_S or shot.card.clock_is == "live":
        return None
    return (
        f"the job card photographed as {shot.photo} was printed at {shot.card.clock:%H:%M:%S}, so the clock "
        f"is at least {setting(most)}"
    )

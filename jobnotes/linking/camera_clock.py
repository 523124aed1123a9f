"""Is a camera's clock right? Told from the pattern of spoken photo cues and photo times.

People say "taking a photo of the plate" and shoot, or shoot and say so; the photo follows its cue by some
seconds. A camera whose clock is off by a constant has the whole pattern shifted by that constant, so the
constant is where the two patterns fit. An offset is applied only when the fit can't be chance: a wrong
offset would put every photo beside the wrong words, which is worse than none.

The times of other facts are not used. They lie so close together that photos fit them at any offset.
"""

from __future__ import annotations

import math
from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from statistics import median

from jobnotes.record import CameraClock

# How long after its cue (before it, if negative) a photo is taken, in seconds. Common practice, no source.
LAG_MIN_S, LAG_MAX_S, LAG_TYPICAL_S = -10.0, 25.0, 7.0
# Time zones reach from UTC−12 to UTC+14 (IANA time zone database); clocks are wrong by no more than that.
REACH_S = 14 * 3600.0
# Time zones in use, with and without summer time, differ by whole quarters of an hour (same source).
ZONE_STEP_S = 900.0
MIN_SUPPORT = 3
# A shorter shift can't be told from a slow hand, so the clock is left alone. Common practice, no source.
SLOW_HAND_S = 120.0
# Chance that photos without any relation to the cues would fit as well, at most. A clock that is right needs
# little proof, as nothing is changed; one off by an odd number of seconds, the rarest, needs the most. The
# estimate in `_chance` is an upper bound: with these values the tests find far fewer false offsets.
CHANCE_RIGHT, CHANCE_ZONE, CHANCE_ODD = 0.05, 0.1, 0.02

_WINDOW_S = LAG_MAX_S - LAG_MIN_S
_GRID_S = 5.0
_ZONE_STEPS = int(REACH_S // ZONE_STEP_S)
_ZONES = sorted((k * ZONE_STEP_S for k in range(-_ZONE_STEPS, _ZONE_STEPS + 1)), key=abs)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the cues tell of one camera's clock; `proved` is False where they prove nothing."""

    clock: CameraClock
    proved: bool = False


def judge(
    cue_times: Sequence[datetime], photo_times: Sequence[datetime], camera: str = "unknown camera"
) -> CameraClock:
    """The clock of `judgement`, which says what is asked for."""
    return judgement(cue_times, photo_times, camera).clock


def agreeing(cue_times: Sequence[datetime], photo_times: Sequence[datetime], offset_s: float) -> int:
    """How many pairs of a cue and a photo agree on that offset."""
    cues, photos = (sorted(t.timestamp() for t in times) for times in (cue_times, photo_times))
    return len(_pairs(cues, photos, offset_s))


def judgement(
    cue_times: Sequence[datetime], photo_times: Sequence[datetime], camera: str = "unknown camera"
) -> Judgement:
    """What to add to this camera's times so that its photos fall to the cues, with the support for it.

    Both sequences are timezone-aware, in any order; `photo_times` are as the camera wrote them. Offsets of
    whole quarter hours (zones, summer time) come out exact, others to within some seconds: the lag between
    word and shutter isn't known better.
    """
    cues = sorted(t.timestamp() for t in cue_times)
    photos = sorted(t.timestamp() for t in photo_times)
    of = min(len(cues), len(photos))

    def verdict(offset: float, support: int, message: str, *, proved: bool = False) -> Judgement:
        clock = CameraClock(camera, offset, support, of, message, proved=proved)
        return Judgement(clock, proved)

    right = len(_pairs(cues, photos, 0.0))
    if of < MIN_SUPPORT:
        counts = f"{_count(len(cues), 'spoken photo cue')}, {_count(len(photos), 'photo')}"
        return verdict(0.0, right, f"not enough spoken cues to tell ({counts}); times left as they are")

    best = _best(cues, photos)
    if best.support < MIN_SUPPORT or _chance(cues, photos, best) > _allowed(best.offset_s):
        return verdict(
            0.0,
            right,
            f"the spoken photo cues show no clear pattern (at best {best.support} of {of} pairs agree); "
            "times left as they are",
        )
    rival = _rival(cues, photos, best)
    if rival is not None:
        return verdict(
            0.0,
            right,
            f"the spoken photo cues fit more than one clock setting ({setting(best.offset_s)} and "
            f"{setting(rival)}); times left as they are",
        )
    agree = f"{best.support} of {of} pairs of spoken cue and photo agree"
    if best.offset_s == 0:
        return verdict(0.0, best.support, f"camera clock is right: {agree}", proved=True)
    if abs(best.offset_s) < SLOW_HAND_S:
        within = f"{SLOW_HAND_S / 60:.0f} min"
        return verdict(
            0.0,
            right,
            f"camera clock is right to within {within}: {agree}; times left as they are",
            proved=True,
        )
    told = f"camera clock is {setting(best.offset_s)}: {agree}; corrected"
    return verdict(best.offset_s, best.support, told, proved=True)


@dataclass(frozen=True, slots=True)
class _Fit:
    offset_s: float
    support: int


def _pairs(cues: Sequence[float], photos: Sequence[float], offset_s: float) -> list[tuple[int, int]]:
    """The most one-to-one (cue, photo) index pairs that agree at this offset; both sequences sorted.

    Taking the earliest that fits is optimal, since all windows are of one length.
    """
    pairs, i, j = [], 0, 0
    while i < len(cues) and j < len(photos):
        lag = photos[j] + offset_s - cues[i]
        if lag < LAG_MIN_S:
            j += 1
        elif lag > LAG_MAX_S:
            i += 1
        else:
            pairs.append((i, j))
            i, j = i + 1, j + 1
    return pairs


def _best(cues: Sequence[float], photos: Sequence[float]) -> _Fit:
    """The best-supported offset; quarter hours are preferred to odd ones, small ones to large ones."""
    zone = max((_Fit(o, len(_pairs(cues, photos, o))) for o in _ZONES), key=lambda f: f.support)
    odd = _scan(cues, photos, floor=zone.support)
    if odd is None:
        return zone
    lags = [photos[j] + odd.offset_s - cues[i] for i, j in _pairs(cues, photos, odd.offset_s)]
    centred = round(odd.offset_s + LAG_TYPICAL_S - median(lags))
    # centring must not lose a pair that lies at the edge of the window
    kept = len(_pairs(cues, photos, centred)) >= odd.support
    return _Fit(float(centred) if kept else odd.offset_s, odd.support)


def _scan(
    cues: Sequence[float], photos: Sequence[float], floor: int, apart_from: float | None = None
) -> _Fit | None:
    """The best-supported offset on a fine grid, if it has more support than `floor`.

    Those so close to `apart_from` that they rest on the same pairs are left out.
    """
    shifts = sorted(c - p for c in cues for p in photos)
    # something fits only near a difference, so the rest of the grid needs no look
    grid: set[int] = set()
    for shift in shifts:
        if abs(shift) <= REACH_S:
            low, high = (shift + LAG_MIN_S) / _GRID_S, (shift + LAG_MAX_S) / _GRID_S
            grid.update(range(math.ceil(low), math.floor(high) + 1))
    candidates = []
    for offset in (k * _GRID_S for k in grid):
        if apart_from is not None and abs(offset - apart_from) <= _WINDOW_S:
            continue
        bound = bisect_right(shifts, offset - LAG_MIN_S) - bisect_left(shifts, offset - LAG_MAX_S)
        if bound > floor:
            candidates.append((-bound, abs(offset), offset))
    best: _Fit | None = None
    for negative_bound, _, offset in sorted(candidates):
        if -negative_bound <= floor:
            break
        support = len(_pairs(cues, photos, offset))
        if support > floor:
            best, floor = _Fit(offset, support), support
    return best


def _rival(cues: Sequence[float], photos: Sequence[float], best: _Fit) -> float | None:
    """Another offset that fits nearly as well, so that the best can't be told from it.

    An odd offset has to come closer to rival a quarter hour than the other way round.
    """
    clear = max(2, math.ceil(best.support / 4))
    for offset in _ZONES:
        if (
            abs(offset - best.offset_s) > _WINDOW_S
            and len(_pairs(cues, photos, offset)) > best.support - clear
        ):
            return offset
    clear = clear if _is_odd(best.offset_s) else max(1, best.support // 4)
    odd = _scan(cues, photos, floor=best.support - clear, apart_from=best.offset_s)
    return odd.offset_s if odd else None


def _chance(cues: Sequence[float], photos: Sequence[float], fit: _Fit) -> float:
    """How likely photos unrelated to the cues would fit so well at some offset that was tried (0–1).

    Matches by chance are taken as Poisson distributed, and the trials as independent (Bonferroni). People
    shoot in bursts, and two bursts that meet agree in many pairs at once, so bursts are counted, not pairs.
    """
    pairs = _pairs(cues, photos, fit.offset_s)
    cue_bursts, photo_bursts = _bursts(cues), _bursts(photos)
    met = min(len({cue_bursts[i] for i, _ in pairs}), len({photo_bursts[j] for _, j in pairs}))
    cue_starts, photo_starts = _starts(cues, cue_bursts), _starts(photos, photo_bursts)
    width = _WINDOW_S + _mean_length(cues, cue_bursts) + _mean_length(photos, photo_bursts)

    spans = (cues[-1] - cues[0], photos[-1] - photos[0])
    expected = len(cue_starts) * len(photo_starts) * width / max(*spans, width)
    # a job of several days is busy only in parts of its span, so the neighbourhood of the fit counts too
    reach = 3600.0
    near = [c - p for c in cue_starts for p in photo_starts if width < abs(c - p - fit.offset_s) <= reach]
    expected = max(expected, len(near) * width / (2 * reach))

    reached = min(sum(spans) + 2 * width, 2 * REACH_S)
    if fit.offset_s == 0:
        trials = 1.0
    elif _is_odd(fit.offset_s):
        trials = 1 + 3 * reached / _WINDOW_S
    else:
        trials = 1 + reached / ZONE_STEP_S
    return min(1.0, trials * _poisson_tail(met, expected))


def _allowed(offset_s: float) -> float:
    if offset_s == 0:
        return CHANCE_RIGHT
    return CHANCE_ODD if _is_odd(offset_s) else CHANCE_ZONE


def _is_odd(offset_s: float) -> bool:
    return offset_s % ZONE_STEP_S != 0


def _bursts(times: Sequence[float]) -> list[int]:
    """The number of the burst that each sorted time belongs to: no gap in a burst exceeds the window."""
    numbers = [0] * len(times)
    for k in range(1, len(times)):
        numbers[k] = numbers[k - 1] + (times[k] - times[k - 1] > _WINDOW_S)
    return numbers


def _starts(times: Sequence[float], bursts: Sequence[int]) -> list[float]:
    return [t for k, t in enumerate(times) if k == 0 or bursts[k] != bursts[k - 1]]


def _mean_length(times: Sequence[float], bursts: Sequence[int]) -> float:
    inside = sum(b - a for k, (a, b) in enumerate(pairwise(times)) if bursts[k] == bursts[k + 1])
    return inside / (bursts[-1] + 1)


def _poisson_tail(at_least: int, mean: float) -> float:
    """P(X ≥ at_least) for a Poisson variable X."""
    term = below = math.exp(-mean)
    for k in range(1, at_least):
        term *= mean / k
        below += term
    return max(0.0, 1.0 - below) if at_least else 1.0


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}{'' if number == 1 else 's'}"


def setting(offset_s: float) -> str:
    """An offset in words: what the camera's clock is, when this has to be added to it."""
    if offset_s == 0:
        return "right"
    hours, rest = divmod(round(abs(offset_s)), 3600)
    minutes, seconds = divmod(rest, 60)
    parts = [f"{n} {u}" for n, u in ((hours, "h"), (minutes, "min"), (seconds, "s")) if n]
    return f"{' '.join(parts)} {'slow' if offset_s > 0 else 'fast'}"

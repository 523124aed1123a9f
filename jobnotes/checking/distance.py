"""What an odometer or hour meter shows, compared in one unit."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from jobnotes.record import Odometer

KM_PER_MILE = Decimal("1.609344")  # the international mile, exact (NIST SP 811 appendix B.8)
UNITS = frozenset({"km", "[mi_i]"})


def number(counter: Odometer | None) -> Decimal | None:
    """What it shows, in its own unit; None if that is no number."""
    try:
        value = Decimal(counter.value) if counter else None
    except InvalidOperation:
        return None
    return value if value is not None and value.is_finite() else None


def in_km(value: Decimal, unit: str | None) -> Decimal:
    return value * KM_PER_MILE if unit == "[mi_i]" else value


def driven(then: Odometer | None, now: Odometer | None) -> Decimal | None:
    """The distance between the two, in whole units of `now`; None where it can't be told."""
    way = _between(then, now)
    # where it went back one of the two was misread, or the counter was replaced
    if way is None or way < 0 or now is None:
        return None
    return (way / in_km(Decimal(1), now.unit)).quantize(Decimal(1), ROUND_HALF_UP)


def went_back(then: Odometer | None, now: Odometer | None) -> bool:
    way = _between(then, now)
    return way is not None and way < 0


def _between(then: Odometer | None, now: Odometer | None) -> Decimal | None:
    """In kilometres."""
    before, after = number(then), number(now)
    if then is None or now is None or before is None or after is None:
        return None
    return in_km(after, now.unit) - in_km(before, then.unit)

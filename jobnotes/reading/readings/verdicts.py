"""Limits in the unit of their reading, and the verdict that follows.

A nominal value without a tolerance bounds nothing exactly: a reading that rounds to it is within, one that is
more than `CLEARLY_OFF` away is outside, and between the two no verdict is given."""

from __future__ import annotations

from decimal import Decimal
from typing import Literal

from jobnotes.reading.readings.quantities import Quantity, said_like_volts
from jobnotes.reading.trade.knowledge import Trade, convert
from jobnotes.record import Limit

#: Relative distance from a nominal value that is plainly outside (common practice, no source).
CLEARLY_OFF = Decimal("0.10")


Verdict = Literal["within", "outside", "no limit given"]


def verdict_of(value: Decimal, limit: Limit | None) -> tuple[Verdict, str | None]:
    """(verdict, doubt) of a value against a limit in the same unit."""
    if limit is None:
        return "no limit given", None
    if limit.min is not None or limit.max is not None:
        if limit.min is not None and value < limit.min:
            return "outside", None
        if limit.max is not None and value > limit.max:
            return "outside", None
        return "within", None
    assert limit.nominal is not None
    exponent = limit.nominal.as_tuple().exponent
    place = Decimal(1).scaleb(exponent if isinstance(exponent, int) else 0)
    if abs(value - limit.nominal) * 2 <= place:
        return "within", None
    if abs(value - limit.nominal) > CLEARLY_OFF * abs(limit.nominal):
        return "outside", None
    return "no limit given", None


def limit_of(trade: Trade, q: Quantity) -> tuple[Limit | None, list[tuple[int, int]], list[str]]:
    assert q.unit is not None
    low: Decimal | None = None
    high: Decimal | None = None
    nominal: Decimal | None = None
    spans: list[tuple[int, int]] = []
    doubts: list[str] = []
    sources = list(q.limits)
    if q.tolerance is not None and not sources:
        return None, spans, doubts
    for o in sources:
        spans.append((min(o.cue_start, o.start), o.end))
        _split_limit(o, q)
        value = _in_unit(trade, o.value, o, q.unit.ucum)
        top = _in_unit(trade, o.high, o, q.unit.ucum) if o.high is not None else None
        if value is None or (o.high is not None and top is None):
            doubts.append("the limit is in a unit that can't be compared")
            continue
        if o.high is not None:
            low, high = (value, top) if top is not None and value <= top else (top, value)
        elif o.tolerance is not None:
            nominal, low, high = value, value - o.tolerance, value + o.tolerance
        elif o.role == "max":
            high = value
        elif o.role == "min":
            low = value
        else:
            nominal = value
    if low is None and high is None and nominal is None:
        return None, spans, doubts
    if low is not None and high is not None and low > high:
        doubts.append(f"the limits contradict each other: at least {low}, at most {high}")
    return Limit(low, high, nominal, "said"), spans, doubts


def _in_unit(trade: Trade, value: Decimal, q: Quantity, unit: str) -> Decimal | None:
    if q.unit is None or q.unit.ucum == unit:
        return value
    converted = convert(trade, float(value), q.unit.ucum, unit)
    return None if converted is None else Decimal(f"{converted:.6g}")


def _split_limit(o: Quantity, q: Quantity) -> None:
    """ "limit twenty-seven five": said like the voltage that it bounds."""
    if o.unit is None and q.unit is not None and q.unit.ucum == "V" and said_like_volts(o):
        o.value = Decimal(".".join(o.number.atoms))
        if o.high is not None and o.high > 99 and o.high == o.high.to_integral_value():
            o.high = o.high / 10

"""Amounts of money: rounded to a currency's minor unit, and divided without losing any of it."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal, localcontext

from jobnotes.office.currency import minor_unit

# more digits than any product of a quantity, a price and two percentages that the office's files may hold
_DIGITS = 100


def places(code: str) -> int:
    """Decimal places of the currency's minor unit (ISO 4217). ValueError for what nobody pays with."""
    found = minor_unit(code)
    if found is None:
        raise ValueError(f"{code} has no minor unit")
    return found


def rounded(amount: Decimal, to_places: int) -> Decimal:
    """Half up, away from zero; exact whatever the size of the amount."""
    with localcontext() as context:
        context.prec = _DIGITS
        return amount.quantize(Decimal(1).scaleb(-to_places), ROUND_HALF_UP)


def product(*factors: Decimal) -> Decimal:
    """Exactly: the usual 28 digits of Decimal could round it once before it is rounded."""
    with localcontext() as context:
        context.prec = _DIGITS
        found = Decimal(1)
        for factor in factors:
            found *= factor
        return found


def percent(amount: Decimal, of_100: Decimal, to_places: int) -> Decimal:
    """So many percent of the amount, rounded half up."""
    return rounded(product(amount, of_100, Decimal("0.01")), to_places)


def divided(amount: Decimal, percents: Sequence[Decimal], to_places: int) -> tuple[Decimal, ...]:
    """`amount`, which has those places, in parts by `percents` (of 100 in all); the parts add up to it.

    Largest remainder: each part is rounded down, and what is left goes, a minor unit each, to those that lost
    most by that; of equals, to the first.
    """
    with localcontext() as context:
        context.prec = _DIGITS
        unit = Decimal(1).scaleb(-to_places)
        exact = [amount * share / 100 for share in percents]
        parts = [value.quantize(unit, ROUND_DOWN) for value in exact]
        left = int((amount - sum(parts, Decimal(0))) / unit)
        sign = 1 if left >= 0 else -1
        by_loss = sorted(range(len(parts)), key=lambda n: (-abs(exact[n] - parts[n]), n))
        for n in by_loss[: abs(left)]:
            parts[n] += sign * unit
        return tuple(parts)

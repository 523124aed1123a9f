"""Amounts in a currency, by ISO 4217."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_DOWN, ROUND_HALF_UP, Decimal, localcontext

from iso4217 import Currency


def places(code: str) -> int:
    """Decimal places of the currency's minor unit: JPY 0, EUR 2, KWD 3. ValueError for what is no currency.

    Source: the table of ISO 4217's maintenance agency, as package iso4217 carries it.
    """
    exponent = Currency(code).exponent
    if exponent is None:
        raise ValueError(f"{code} has no minor unit")
    return int(exponent)


def rounded(amount: Decimal, to_places: int) -> Decimal:
    """Half up, away from zero; exact whatever the size of the amount."""
    with localcontext() as context:
        context.prec = 60
        return amount.quantize(Decimal(1).scaleb(-to_places), ROUND_HALF_UP)


def divided(amount: Decimal, percents: Sequence[Decimal], to_places: int) -> tuple[Decimal, ...]:
    """`amount`, which has those places, in parts by `percents` (of 100 in all); the parts add up to it.

    Each part is rounded down, and what is left goes, a minor unit each, to those that lost most by that; of
    equals, to the first.
    """
    with localcontext() as context:
        context.prec = 60
        unit = Decimal(1).scaleb(-to_places)
        exact = [amount * percent / 100 for percent in percents]
        parts = [value.quantize(unit, ROUND_DOWN) for value in exact]
        left = int((amount - sum(parts, Decimal(0))) / unit)
        sign = 1 if left >= 0 else -1
        by_loss = sorted(range(len(parts)), key=lambda n: (-abs(exact[n] - parts[n]), n))
        for n in by_loss[: abs(left)]:
            parts[n] += sign * unit
        return tuple(parts)

"""Currencies by ISO 4217."""

from __future__ import annotations

from iso4217 import Currency


def minor_unit(code: str) -> int | None:
    """Decimal places of the currency's minor unit: JPY 0, EUR 2, KWD 3. None for what nobody pays with.

    Source: the table of ISO 4217's maintenance agency, as the package iso4217 carries it. Gold, testing codes
    and the like stand there without a minor unit; a currency that is no longer valid doesn't stand there.
    """
    try:
        places: int | None = Currency(code).exponent
    except ValueError:
        return None
    return places

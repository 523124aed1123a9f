"""Units that things are sold in, by UCUM code, and amounts turned from one into another."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal, localcontext

PIECE = "1"
HOUR = "h"

# What one of each is in the first of its kind; all are exact. Metric by definition; pound, inch and imperial
# gallon with their multiples by the international agreement of 1959 and the Units of Measurement Regulations
# 1995, the US gallon as 231 cubic inches (NIST Handbook 44, Appendix C).
_KINDS: tuple[Mapping[str, Decimal], ...] = tuple(
    {unit: Decimal(factor) for unit, factor in kind.items()}
    for kind in (
        {PIECE: "1"},
        {
            "L": "1",
            "dL": "0.1",
            "cL": "0.01",
            "mL": "0.001",
            "m3": "1000",
            "cm3": "0.001",
            "[gal_us]": "3.785411784",
            "[qt_us]": "0.946352946",
            "[pt_us]": "0.473176473",
            "[foz_us]": "0.0295735295625",
            "[gal_br]": "4.54609",
            "[qt_br]": "1.1365225",
            "[pt_br]": "0.56826125",
            "[foz_br]": "0.0284130625",
        },
        {
            "kg": "1",
            "g": "0.001",
            "mg": "0.000001",
            "t": "1000",
            "[lb_av]": "0.45359237",
            "[oz_av]": "0.028349523125",
        },
        {
            "m": "1",
            "cm": "0.01",
            "mm": "0.001",
            "[in_i]": "0.0254",
            "[ft_i]": "0.3048",
            "[yd_i]": "0.9144",
        },
        {"m2": "1"},
        {HOUR: "1"},
    )
)
#: what a price may be for
UNITS = frozenset(unit for kind in _KINDS for unit in kind)
# how offices write a piece
_PIECES = frozenset({"", "piece", "pieces", "pc", "pcs", "pce", "each", "ea", "unit", "units", "off"})
# UCUM itself has both "l" and "L" for the litre
_LITRES = {"l": "L", "dl": "dL", "cl": "cL", "ml": "mL"}
# finer than anything is measured out; only an amount in a unit of another system has so many places
_PLACES = Decimal("0.000001")


def unit_named(text: str) -> str | None:
    """The UCUM code that `text` is or means; None for what nothing is sold in."""
    plain = text.strip()
    if plain.casefold() in _PIECES:
        return PIECE
    code = _LITRES.get(plain, plain)
    return code if code in UNITS else None


def in_unit(amount: Decimal, unit: str, wanted: str) -> Decimal | None:
    """`amount` in the UCUM unit `wanted`, to six places; None where the two measure different things."""
    if unit == wanted:
        return amount
    kind = next((kind for kind in _KINDS if unit in kind and wanted in kind), None)
    if kind is None:
        return None
    with localcontext() as context:
        context.prec = 60
        exact = amount * kind[unit] / kind[wanted]
        found = exact.quantize(_PLACES, ROUND_HALF_UP).normalize()
        # without noughts at its end, but 500 is not to become 5E+2
        return found.quantize(Decimal(1)) if found == found.to_integral_value() else found

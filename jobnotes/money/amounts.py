"""An amount that was said, in the unit that a price is for."""

from __future__ import annotations

from decimal import Decimal

# UCUM codes by what they measure, as a factor to the first of each; all exact
_FACTORS: tuple[dict[str, Decimal], ...] = (
    {
        "L": Decimal(1),
        "dL": Decimal("0.1"),
        "cL": Decimal("0.01"),
        "mL": Decimal("0.001"),
        "cm3": Decimal("0.001"),
    },
    {"kg": Decimal(1), "g": Decimal("0.001"), "mg": Decimal("0.000001"), "t": Decimal(1000)},
    {"m": Decimal(1), "dm": Decimal("0.1"), "cm": Decimal("0.01"), "mm": Decimal("0.001")},
    {"h": Decimal(1)},
)


def in_unit(amount: Decimal, unit: str, wanted: str) -> Decimal | None:
    """`amount` in the UCUM unit `wanted`; None where it can't be told exactly."""
    if unit == wanted:
        return amount
    for factors in _FACTORS:
        if unit in factors and wanted in factors:
            exact = amount * factors[unit] / factors[wanted]
            # "500" litres is not 5E+2, and 0.500 isn't said as such
            return exact.normalize() if exact != exact.to_integral_value() else exact.to_integral_value()
    return None

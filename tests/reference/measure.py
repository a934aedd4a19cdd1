"""Units by pint: what each kind of figure is typed and shown in, and what it is in SI base units.

The table is this file's own, so a wrong unit under ``templates/`` shows as a wrong figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import pint

Units = Literal["us", "si"]

UREG: pint.UnitRegistry[Any] = pint.UnitRegistry()
Q = UREG.Quantity

KINDS: dict[str, dict[Units, str]] = {
    "plain": {"us": "", "si": ""},
    "percent": {"us": "percent", "si": "percent"},
    "mark": {"us": "inch/16", "si": "millimeter"},
    "inch": {"us": "inch", "si": "millimeter"},
    "length": {"us": "foot", "si": "meter"},
    "thickness": {"us": "inch", "si": "millimeter"},
    "area": {"us": "foot**2", "si": "meter**2"},
    "volume": {"us": "yard**3", "si": "meter**3"},
    "liquid": {"us": "gallon", "si": "liter"},
    "weight": {"us": "pound", "si": "kilogram"},
    "heavy": {"us": "short_ton", "si": "metric_ton"},
    "slope": {"us": "inch/foot", "si": "millimeter/meter"},
    "weight_per_volume": {"us": "pound/yard**3", "si": "kilogram/meter**3"},
    "heavy_per_volume": {"us": "short_ton/yard**3", "si": "metric_ton/meter**3"},
    "weight_per_area": {"us": "pound/(100*foot**2)", "si": "kilogram/meter**2"},
    "weight_per_length": {"us": "pound/foot", "si": "kilogram/meter"},
    "area_per_liquid": {"us": "foot**2/gallon", "si": "meter**2/liter"},
    "liquid_per_volume": {"us": "gallon/yard**3", "si": "liter/meter**3"},
    "hours": {"us": "hour", "si": "hour"},
    "angle": {"us": "degree", "si": "degree"},
}


@cache
def factor(kind: str, units: Units) -> float:
    """Return how much of the SI base unit one of this kind is."""
    return float(UREG.parse_expression(KINDS[kind][units] or "1 * meter/meter").to_base_units().m)


def base(value: float, kind: str, units: Units) -> float:
    """Return a typed or shown figure in SI base units: meters, kilograms, seconds, radians."""
    return value * factor(kind, units)


@dataclass(frozen=True)
class Length:
    """A length as a tape shows it: whole sixteenths of an inch, or whole millimeters."""

    marks: int
    units: Units

    @property
    def base(self) -> float:
        """Return it in meters."""
        return base(self.marks, "mark", self.units)

    def cells(self) -> dict[str, float | None]:
        """Return what is typed, by the end of the cell's key."""
        if self.units == "si":
            return {".m": self.marks / 1000}
        feet, rest = divmod(self.marks, 12 * 16)
        return {".ft": float(feet), ".in": rest / 16}

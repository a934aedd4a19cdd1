"""Percentages: people and files say 5, a cell holds 0.05 and shows it as 5 %."""

from __future__ import annotations

from typing import TypeVar

from .model import Part

TYPED = "0.0###%"
"""The number format of a typed percentage: all that was typed, and at least one decimal.

No format shows both 5 % as 5% and 7.5 % as 7.5%, so a rule of the cell shows whole ones as
``WHOLE``; a program that knows no such rule shows 5.0%, which is as true.
"""
WHOLE = "0%"

Anything = TypeVar("Anything")

_DIGITS = 15  # what a spreadsheet keeps; beyond them is the dust of binary numbers


def is_percent(part: Part) -> bool:
    """Tell whether the cells of a part hold shares and show them as percentages."""
    return "%" in part.format


def share(percent: float) -> float:
    """Return the share that a percentage is: 0.05 for 5."""
    return float(f"{percent / 100:.{_DIGITS}g}")


def percent(share: float) -> float:
    """Return the percentage that a share is: 5 for 0.05."""
    return float(f"{share * 100:.{_DIGITS}g}")


def told(part: Part, value: Anything) -> Anything | float:
    """Return what a cell holds as people and files say it; only shares differ."""
    number = _number(part, value)
    return value if number is None else percent(number)


def kept(part: Part, value: Anything) -> Anything | float:
    """Return what people and files say as a cell holds it; only percentages differ."""
    number = _number(part, value)
    return value if number is None else share(number)


def _number(part: Part, value: object) -> float | None:
    """Return a number of a percent cell; nothing for a word, a blank or another cell."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if is_percent(part) else None

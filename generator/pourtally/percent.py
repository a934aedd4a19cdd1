"""Percentages: people and files say 5, a cell holds 0.05 and shows it as 5 %."""

from __future__ import annotations

from typing import TypeVar

from .model import Part

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
    return percent(value) if is_percent(part) and _is_number(value) else value


def kept(part: Part, value: Anything) -> Anything | float:
    """Return what people and files say as a cell holds it; only percentages differ."""
    return share(value) if is_percent(part) and _is_number(value) else value


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)

"""Values as a cell holds them: numbers, days and times of the day as spreadsheets count."""

from __future__ import annotations

from datetime import date, time
from typing import Any

from .model import Scalar

_EXCEL_EPOCH = date(1899, 12, 30).toordinal()


def day_share(clock: time) -> float:
    """Return a time of the day as spreadsheets keep it: 0.25 is six in the morning."""
    seconds = (clock.hour * 60 + clock.minute) * 60 + clock.second
    return seconds / 86400


def day_number(day: date) -> float:
    """Return a date as spreadsheets count days."""
    return float(day.toordinal() - _EXCEL_EPOCH)


def scalar(value: Any) -> Scalar:
    """Return a value as a cell holds it: numbers as float, dates and times as day numbers."""
    if isinstance(value, date):
        return day_number(value)
    if isinstance(value, time):
        return day_share(value)
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(value)
    return value if value is None else str(value)

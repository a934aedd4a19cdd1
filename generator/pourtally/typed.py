"""What a person typed in one cell to the value that is recorded, or what is wrong with it."""

from __future__ import annotations

import re
from datetime import date, datetime, time, timedelta
from typing import Any

from . import accept
from .model import Part, Scalar
from .percent import is_percent, kept, told
from .scalar import scalar

_SIGNED = re.compile(r"\s*([\d.,]+)[\s%]*%\s*")


def taken(part: Part, kind: str, value: Any, plain: bool = False) -> tuple[Scalar, str]:
    """Return a cell's value as it is recorded, or what is wrong with it and what to do.

    In a workbook of ``plain`` percentages, as older versions made them, 5 % stands as 5.
    """
    if kind in ("f", "e"):
        came = "a formula without a stored value" if kind == "f" else f"the error {value}"
        again = "type it" if kind == "f" else "type it again"
        return None, f"came {came}; expected {accept.expected(part)}: {again}"
    shares = is_percent(part) and not plain
    if kind == "%" and part.entry == "number" and not shares:
        return None, (
            f"came {value * 100:g}%, which a spreadsheet keeps as {value:g}; "
            f"expected {accept.expected(part)}: clear the cell's format and type {value * 100:g}"
        )
    if part.entry == "time":
        value = _clock(value)
    if isinstance(value, (datetime, time, timedelta)) and part.entry not in ("date", "time"):
        return None, (
            f"came {_moment(value)}, since the cell is formatted as a date or time; "
            f"expected {accept.expected(part)}: clear the cell's format and type it again"
        )
    if shares:
        return _share(part, value)
    if part.entry in ("text", "choice") and accept.is_number(value):
        value = f"{value:.15g}"
    if part.entry == "date":
        value = _day(value)
    value = kept(part, value)
    wrong = accept.problem(part, value)
    if not wrong:
        return scalar(value), ""
    return None, f"{wrong}: {_what_to_do(part, value)}"


def _share(part: Part, value: Any) -> tuple[Scalar, str]:
    """Return what stands in a percent cell, whose words and hundredfold are slips of its sign."""
    wrong = accept.problem(part, value)
    if not wrong:
        return scalar(value), ""
    if accept.is_number(value):
        meant = not accept.problem(part, kept(part, value))
        fix = f"type {value:g} for {value:g} %" if meant else _what_to_do(part, value)
        return None, f"came {told(part, value):g}%; expected {accept.expected(part)}: {fix}"
    if match := _SIGNED.fullmatch(str(value)):
        return None, f"came {value!r}: the cell adds the % itself; type {match.group(1)}"
    return None, f"{wrong}: {_what_to_do(part, value)}"


def _day(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.date()
    if accept.is_number(value) and 1 <= value < 1_000_000:
        return date(1899, 12, 30) + timedelta(days=int(value))
    return value


def _clock(value: Any) -> Any:
    """Return a time of the day, whichever way a spreadsheet kept it; a day alone is none."""
    if isinstance(value, datetime) and value.time() != time(0):
        return value.time()
    if isinstance(value, timedelta):
        value = value / timedelta(days=1)
    if accept.is_number(value) and 0 <= value < 1:
        return (datetime.min + timedelta(seconds=round(value * 86400))).time()
    return value


def _moment(value: datetime | time | timedelta) -> str:
    if isinstance(value, datetime) and value.time() == time(0):
        return f"the date {value:%Y-%m-%d}"
    return f"the time {value}"


def _what_to_do(part: Part, value: Any) -> str:
    if part.entry == "number" and isinstance(value, str):
        return "type the number alone, without unit or words"
    return "correct it, or empty the cell" if part.limits.optional else "correct it"

"""What somebody typed into the cells of a length, where it is no plain number of each.

The formulas of a workbook take a text for 0.  Whoever reads the workbook takes it for what
it says, and tells so; what a spreadsheet made a date of is told and not taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from .accept import is_number, shown
from .lengths import Length, as_typed, feet_and_inches, in_words, meters

_DATES = range(36526, 73051)
"""The days of 2000 to 2099 as cells count them, more than any length has feet."""
_DAY_ZERO = datetime(1899, 12, 30)
Content = tuple[str, Any]


@dataclass(frozen=True)
class Taped:
    """The numbers of a length's cells, or what is wrong with the cell ``at``."""

    numbers: tuple[float | None, ...] = ()
    note: str = ""
    problem: str = ""
    at: int = 0


def taped(cells: Sequence[Content]) -> Taped | None:
    """Return what a length's cells hold, feet and inches or meters; None if nothing is odd."""
    for at, (kind, value) in enumerate(cells):
        if day := _day(kind, value):
            return Taped(problem=_date_told(day, len(cells)), at=at)
    texts = [at for at, (_, value) in enumerate(cells) if isinstance(value, str) and value.strip()]
    plain = all(kind in ("n", "s") for kind, _ in cells)
    if not (texts and plain):
        return None
    said = [value.strip() if isinstance(value, str) else value for _, value in cells]
    return _feet(said, texts) if len(cells) > 1 else _meters(said[0])


def _meters(text: str) -> Taped:
    found = meters(text)
    if isinstance(found, str):
        return Taped(problem=f"came {shown(text)}; {found}")
    return Taped((found,), _told(text, found, f"type {found:.10g}"))


def _feet(said: list[Any], texts: list[int]) -> Taped:
    """Return feet and inches, of which each may stand in either cell, but once."""
    feet: list[float] = []
    inches: list[float] = []
    for at, one in enumerate(said):
        found = _one(one, inches=at > 0)
        if isinstance(found, str):
            return Taped(problem=f"came {shown(one)}; {found}", at=at)
        feet += [found.feet] if found.feet is not None else []
        inches += [found.inches] if found.inches is not None else []
    at = texts[0]
    if len(feet) > 1 or len(inches) > 1:
        other = shown(said[1 - at])
        return Taped(problem=f"came {shown(said[at])} where the other cell of the length has "
                             f"{other}; expected feet in one and inches in the other",
                     at=at)  # fmt: skip
    whole = Length(*(next(iter(numbers), None) for numbers in (feet, inches)))
    typed = " and ".join(f"{number or 0:.10g}" for number in (whole.feet, whole.inches))
    words = " ".join(str(said[n]) for n in texts)
    note = _told(words, whole, f"type {typed} into its two cells")
    return Taped((whole.feet, whole.inches), note, at=at)


def _one(value: Any, inches: bool) -> Length | str:
    """Return what one cell says; a 0 beside a text says nothing."""
    if isinstance(value, str) and value:
        return feet_and_inches(value, inches)
    number = float(value) if is_number(value) and value else None
    return Length(inches=number) if inches else Length(number)


def _told(text: str, found: Length | float, do: str) -> str:
    return (f"{text} is read as {in_words(found)}, and what is told here is worked out with it; "
            f"the workbook itself takes it for 0 until you {do}")  # fmt: skip


def _day(kind: str, value: Any) -> date | None:
    """Return the date that a cell holds, or may hold without being shown as one."""
    if isinstance(value, datetime):
        return value.date()
    if isinstance(value, date):
        return value
    dated = kind == "n" and is_number(value) and _DATES.start <= value < _DATES.stop
    return (_DAY_ZERO + timedelta(days=int(value))).date() if dated else None


def _date_told(day: date, cells: int) -> str:
    came = f"came the date {day:%Y-%m-%d}"
    if cells == 1:
        return f"{came}; expected meters: clear the cell's format and type it again"
    ways, feet, inches = as_typed(day)
    return (f"{came}: the spreadsheet made one of {ways}; clear the cell's format, then type "
            f"{feet} in the feet cell and {inches} in the inches cell")  # fmt: skip

"""What feeds a formula: which of many failing ones are to blame, and what some figures need."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from .grid import Cell, Place, is_formula
from .model import Scalar
from .place import address, column_number

_INPUT = re.compile(
    r'"[^"]*"|(?<![\w$])(?:(\w+)!)?\$?([A-Z]{1,3})\$?(\d+)(?::\$?([A-Z]{1,3})\$?(\d+))?(?![\w(])'
)

_Area = tuple[str, int, int, int, int]
"""A sheet, and the first and last row and column of cells on it."""


@dataclass(frozen=True)
class Failure:
    """A formula's cell that came out as an error, or as nothing, and what it gave."""

    cell: Cell
    gave: Scalar


def told(failures: list[Failure]) -> str:
    """Return which formulas failed by themselves, a key a line, and how many with them."""
    causes = roots(failures)
    alike: dict[str, list[Failure]] = {}
    for cause in causes:
        cell = cause.cell
        alike.setdefault(cell.part or address(cell.row, cell.column), []).append(cause)
    many = "1 formula" if len(causes) == 1 else f"{len(causes)} formulas"
    led = len(failures) - len(causes)
    after = f", and {led} more that use what came of it" if led else ""
    return f"{many} failed{after}:\n  " + "\n  ".join(_line(*item) for item in alike.items())


def roots(failures: list[Failure]) -> list[Failure]:
    """Return the failures that no other one feeds."""
    failed = {f.cell.place for f in failures}
    return [f for f in failures if not any(place in failed for place in inputs(f.cell))]


def inputs(cell: Cell) -> Iterator[Place]:
    """Yield the place of each cell that a formula's cell names, alone or in a range."""
    for area in _areas(cell):
        yield from _within(area)


class Upstream:
    """The cells of a workbook by what they are worked out from; each formula is read once."""

    def __init__(self, cells: list[Cell]) -> None:
        """Take all cells of a workbook."""
        self._standing = {cell.place: cell for cell in cells}
        self._named: dict[Place, frozenset[_Area]] = {}

    def of(self, keys: Collection[str]) -> list[Cell]:
        """Return the cells of some parts and all that these are worked out from, in their order."""
        walked: set[_Area] = set()
        found: set[Place] = set()
        ahead = [place for place, cell in self._standing.items() if cell.part in keys]
        while ahead:
            here = ahead.pop()
            if here in self._standing and here not in found:
                found.add(here)
                fresh = self._areas(here) - walked  # many formulas name the same range
                walked |= fresh
                for area in fresh:
                    ahead += _within(area)
        return [cell for place, cell in self._standing.items() if place in found]

    def _areas(self, place: Place) -> frozenset[_Area]:
        if place not in self._named:
            cell = self._standing[place]
            areas = _areas(cell) if is_formula(cell.content) else ()
            self._named[place] = frozenset(areas)
        return self._named[place]


def _areas(cell: Cell) -> Iterator[_Area]:
    for match in _INPUT.finditer(str(cell.content)):
        sheet, column, row, last_column, last_row = match.groups()
        if not column:
            continue  # words
        columns = column_number(column), column_number(last_column or column)
        yield sheet or cell.sheet, int(row) - 1, int(last_row or row) - 1, *columns


def _within(area: _Area) -> Iterator[Place]:
    sheet, first_row, last_row, first_column, last_column = area
    for row in range(first_row, last_row + 1):
        for column in range(first_column, last_column + 1):
            yield sheet, row, column


def _line(key: str, causes: list[Failure]) -> str:
    """Return what is said of the failing lines of one key: the first, and how many more."""
    cell, gave = causes[0].cell, causes[0].gave
    where = f"{cell.sheet} {key}" + (f"[{cell.line + 1}]" if cell.part else "")
    more = f" (and {len(causes) - 1} more of its lines)" if len(causes) > 1 else ""
    return f"{where} {cell.content} gave {'nothing' if gave is None else gave}{more}"

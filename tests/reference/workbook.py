"""A workbook filled in by a test: entries typed line by line, results by the real formulas.

The workbook is opened once and stays open: typing into it and working it out again takes a
fraction of building it.  ``test_reference`` makes sure that both ways agree.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import ironcalc

from pourtally.grid import Cell, is_formula
from pourtally.percent import kept, told
from shop import laid_out, usual_cells

from .measure import Length, Units, base

Typed = dict[str, Any]
"""{block: lines, or one line, of {entry: value}}; a value None empties a cell."""


class Answers:
    """The values of one workbook."""

    def __init__(self, units: Units, values: dict[str, list[Any]]) -> None:
        """Take {part key: one value a line}."""
        self.units, self.values = units, values

    def __getitem__(self, key: str) -> list[Any]:
        """Return a column as the workbook shows it."""
        return self.values[key]

    def base(self, key: str, kind: str) -> list[float]:
        """Return a column of figures of one kind in SI base units."""
        return [base(v or 0.0, kind, self.units) for v in self.values[key]]


class Workbook:
    """One workbook, open in the engine with its usual entries."""

    def __init__(self, units: Units) -> None:
        """Write every cell once."""
        self.units = units
        book, _ = laid_out(units)
        self._sheets = {sheet.name: number for number, sheet in enumerate(book.sheets)}
        self._model = ironcalc.create("book", "en", "UTC", "en")
        for name, number in self._sheets.items():
            if number:
                self._model.add_sheet(name)
            else:
                self._model.rename_sheet(0, name)
        self._cells = usual_cells(units)
        self._at = {(c.part, c.line): c for c in self._cells if c.part}
        for cell in self._cells:
            if cell.content is not None and (cell.part or not isinstance(cell.content, str)):
                self._type(cell, cell.content)

    def answers(self, typed: Typed) -> Answers:
        """Type entries over the usual ones, work everything out, and take them back."""
        parts = laid_out(self.units)[0].parts
        given = {(key, n): kept(parts[key][2], value) for key, n, value in contents(typed)}
        for where, value in given.items():
            self._type(self._at[where], value)
        self._model.evaluate()
        values: dict[str, list[Any]] = {}
        for cell in self._at.values():
            value = given.get((cell.part, cell.line), cell.content)
            if is_formula(cell.content):
                here = self._place(cell)
                value = self._model.get_cell_value(*here)
                failed = self._model.get_cell_type(*here) == ironcalc.CellType.ErrorValue
                assert value is not None and not failed, f"{cell}: {value}"
            values.setdefault(cell.part, []).append(told(parts[cell.part][2], value))
        for where in given:
            self._type(self._at[where], self._at[where].content)
        return Answers(self.units, values)

    def _place(self, cell: Cell) -> tuple[int, int, int]:
        return self._sheets[cell.sheet], cell.row + 1, cell.column + 1

    def _type(self, cell: Cell, content: Any) -> None:
        if content is None:
            self._model.clear_cell_contents(*self._place(cell))
        elif is_formula(content):
            self._model.update_cell_with_formula(*self._place(cell), content)
        elif isinstance(content, str):
            self._model.update_cell_with_text(*self._place(cell), content)
        else:
            self._model.update_cell_with_number(*self._place(cell), float(content))


def contents(typed: Typed) -> Iterator[tuple[str, int, Any]]:
    """Return every cell that is typed: its part's key, its line from 0, its content."""
    for block, lines in typed.items():
        for number, line in enumerate(lines if isinstance(lines, list) else [lines]):
            for key, value in line.items():
                parts = value.cells() if isinstance(value, Length) else {"": value}
                for suffix, content in parts.items():
                    yield f"{block}.{key}{suffix}", number, content


@lru_cache(maxsize=2)
def _open(units: Units) -> Workbook:
    return Workbook(units)


def answers(units: Units, typed: Typed) -> Answers:
    """Return what a workbook with these entries shows."""
    return _open(units).answers(typed)

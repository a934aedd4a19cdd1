"""The values of a workbook's formulas, from one engine, in memory.

The engine gets the very cells that are written, so what a phone preview shows is what
a spreadsheet program works out.
"""

from __future__ import annotations

import ironcalc

from .cause import Failure, told
from .grid import Cell, Place, is_formula
from .model import Scalar, TemplateError


class RecalcError(TemplateError):
    """A formula came out as an error or as nothing; the text names those to blame."""


class Calculator:
    """The engine with all formulas of one lay-out in it, ready for one job after the other.

    Loading the formulas takes longer than working them out, and they are the same for
    every job: only the cells that hold something else than before are put in anew.
    """

    def __init__(self, cells: list[Cell], sheets: list[str]) -> None:
        """Load the cells of a workbook with these sheets, in order."""
        self._model = ironcalc.create("book", "en", "UTC", "en")
        for index, name in enumerate(sheets):
            if index:
                self._model.add_sheet(name)
            else:
                self._model.rename_sheet(0, name)
        self._numbers = {name: index for index, name in enumerate(sheets)}
        self._held: dict[Place, Scalar] = {}
        self._formulas = [(c, self._at(c), c.content) for c in cells if is_formula(c.content)]
        for _, here, formula in self._formulas:
            self._model.update_cell_with_formula(*here, formula)

    def values(self, cells: list[Cell]) -> dict[Place, Scalar]:
        """Return the value of every formula cell; raise ``RecalcError`` where one fails."""
        for cell in cells:
            if not is_formula(cell.content):
                self._put(cell)
        self._model.evaluate()
        values: dict[Place, Scalar] = {}
        failures = []
        for cell, here, _ in self._formulas:
            value = self._model.get_cell_value(*here)
            if isinstance(value, bool):
                value = float(value)
            if value is None or (isinstance(value, str) and self._failed(here)):
                failures.append(Failure(cell, value))
            values[cell.place] = value
        if failures:
            raise RecalcError(told(failures))
        return values

    def _failed(self, here: tuple[int, int, int]) -> bool:
        return self._model.get_cell_type(*here) == ironcalc.CellType.ErrorValue

    def _at(self, cell: Cell) -> tuple[int, int, int]:
        """Return sheet, row and column as the engine counts them."""
        return self._numbers[cell.sheet], cell.row + 1, cell.column + 1

    def _put(self, cell: Cell) -> None:
        content, place = cell.content, cell.place
        if content == "":
            content = None  # nothing is written there
        if self._held.get(place) == content:
            return
        self._held[place] = content
        if content is None:
            self._model.clear_cell_contents(*self._at(cell))
        elif isinstance(content, float):
            self._model.update_cell_with_number(*self._at(cell), content)
        else:
            self._model.update_cell_with_text(*self._at(cell), content)

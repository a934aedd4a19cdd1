"""The values of a workbook's formulas, from one engine, in memory.

The engine gets the very cells that are written, so what a phone preview shows is what
a spreadsheet program works out.
"""

from __future__ import annotations

import ironcalc

from .grid import Cell, is_formula
from .model import Scalar

Place = tuple[str, int, int]
"""Sheet, row and column, counted from 0."""


class RecalcError(Exception):
    """A formula came out as an error or as nothing; the text names the cells."""


_ERRORS = {
    "#REF!", "#NAME?", "#VALUE!", "#DIV/0!", "#N/A", "#NUM!", "#NULL!", "#ERROR!", "#CIRC!",
    "#SPILL!", "#CALC!", "#N/IMPL!",
}  # fmt: skip
"""What the engine gives in place of a value; other words may start with # too, as bar #3."""


def recalculate(cells: list[Cell], sheets: list[str]) -> dict[Place, Scalar]:
    """Return the value of every formula cell; raise ``RecalcError`` where one fails."""
    model = ironcalc.create("book", "en", "UTC", "en")
    for index, name in enumerate(sheets):
        if index:
            model.add_sheet(name)
        else:
            model.rename_sheet(0, name)
    numbers = {name: index for index, name in enumerate(sheets)}
    formulas = []
    for cell in cells:
        here = (numbers[cell.sheet], cell.row + 1, cell.column + 1)
        if is_formula(cell.content):
            model.update_cell_with_formula(*here, cell.content)
            formulas.append(cell)
        elif isinstance(cell.content, float):
            model.update_cell_with_number(*here, cell.content)
        elif isinstance(cell.content, str) and cell.part:
            model.update_cell_with_text(*here, cell.content)
    model.evaluate()
    values: dict[Place, Scalar] = {}
    wrong = []
    for cell in formulas:
        value = model.get_cell_value(numbers[cell.sheet], cell.row + 1, cell.column + 1)
        if isinstance(value, bool):
            value = float(value)
        if value is None or value in _ERRORS:
            wrong.append(f"{cell.sheet} {cell.part}[{cell.line + 1}] {cell.content} gave {value}")
        values[cell.sheet, cell.row, cell.column] = value
    if wrong:
        raise RecalcError(f"{len(wrong)} formulas failed:\n  " + "\n  ".join(wrong[:20]))
    return values

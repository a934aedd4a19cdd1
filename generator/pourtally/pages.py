"""How wide columns and how tall rows are, worked out from what stands in them."""

from __future__ import annotations

import textwrap

from .grid import Cell
from .model import Sheet
from .place import Places, column_number

USUAL_WIDTH = 11.0  # characters
LINE_WIDTH = 6.0
LABEL_WIDTH = 34.0
HEAD_HEIGHT = 44.0  # points: three lines of a header
LINE_HEIGHT = 13.0
ROW_HEIGHT = 15.0
USUAL_LETTERS = 10.0  # points
RUNNING = {"note": 0.85, "intro": 0.95, "words": 0.95, "title": 1.8}
"""Roles whose words run on over empty cells, and a letter's width against a usual one."""


def widths(sheet: Sheet, last_column: int) -> dict[int, float]:
    """Return every column's width in characters: the usual ones, then the sheet's own."""
    out = dict.fromkeys(range(last_column + 1), USUAL_WIDTH) | {0: LINE_WIDTH, 1: LABEL_WIDTH}
    for letters, width in sheet.widths:
        first, _, last = letters.partition(":")
        for column in range(column_number(first), column_number(last or first) + 1):
            out[column] = width
    return out


def last_column(cells: list[Cell], columns: dict[int, float]) -> int:
    """Return the last column that words run over, so that print does not cut them off."""
    last = max(columns)
    for cell in cells:
        if cell.role in RUNNING and isinstance(cell.content, str):
            room, column = len(cell.content) * RUNNING[cell.role], cell.column
            while room > columns.get(column, USUAL_WIDTH):
                room -= columns.get(column, USUAL_WIDTH)
                column += 1
            last = max(last, column)
    return last


def heights(
    places: Places, sheet: Sheet, cells: list[Cell], columns: dict[int, float]
) -> dict[int, float]:
    """Return the heights in points of header rows, and of rows whose words run over lines."""
    scale = sheet.letters / USUAL_LETTERS
    out = {
        s.head_row: HEAD_HEIGHT * scale
        for s in places.stands
        if s.sheet == sheet.name and s.head_row >= 0 and s.block.shape == "table"
    }
    for cell in cells:
        if cell.role == "wrap" and isinstance(cell.content, str):
            lines = len(textwrap.wrap(cell.content, max(int(columns[cell.column] * 1.15 / scale), 8)))
            height = (max(lines, 1) * LINE_HEIGHT + 2) * scale
            out[cell.row] = max(height, out.get(cell.row, 0))
    return out

"""Which ranges of formulas leave out lines of what they read.

A formula reads a column whole, from its first line to its last, or else runs down its own
block as far as its own line.  A range that is short by a line comes out right on every job
that leaves this line empty, so nobody would see it on most of them.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Mapping

from pourtally.grid import Cell, Place, is_formula
from pourtally.model import Book
from pourtally.place import column_number

_RANGE = re.compile(r"(?:(\w+)!)?\$?([A-Z]{1,3})\$?(\d+):\$?([A-Z]{1,3})\$?(\d+)")


class Ranges:
    """The columns of one lay-out, to hold ranges against."""

    def __init__(self, book: Book, cells: Mapping[Place, Cell]) -> None:
        """Take a lay-out and its cells."""
        self._book, self._cells = book, cells
        self._held: dict[tuple[str, ...], dict[str, list[int]]] = {}

    def cut(self, cell: Cell) -> list[str]:
        """Return the ranges of a cell that leave out lines of a column."""
        if not is_formula(cell.content) or cell.part not in self._book.parts:
            return []  # what a sheet says of itself looks at the checks of this sheet alone
        return [
            f"{cell.part}, line {cell.line + 1}: lines {lines[0] + 1} to {lines[-1] + 1} of {part}"
            for area in _RANGE.findall(str(cell.content))
            for part, lines in self._short(area[0] or cell.sheet, *area[1:]).items()
            if not self._runs(cell, part, lines)
        ]

    def _short(self, *area: str) -> dict[str, list[int]]:
        """Return {part: those of its lines that are in a range, where some are not}."""
        if area not in self._held:
            sheet, left, top, right, bottom = area
            found = defaultdict(list)
            for row in range(int(top) - 1, int(bottom)):
                for column in range(column_number(left), column_number(right) + 1):
                    cell = self._cells.get((sheet, row, column))
                    if cell and cell.part:
                        found[cell.part].append(cell.line)
            self._held[area] = {
                part: lines for part, lines in found.items()
                if len(lines) < self._book.parts[part][0].lines
            }  # fmt: skip
        return self._held[area]

    def _runs(self, cell: Cell, part: str, lines: list[int]) -> bool:
        """Tell whether lines end before or at a cell's own, begin at or after it, or are it."""
        block, own = self._book.parts[part][0], cell.line
        runs = (range(own), range(own + 1), range(own + 1, block.lines), [own])
        return block.key == self._book.parts[cell.part][0].key and lines in map(list, runs)

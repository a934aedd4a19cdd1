"""One template made ready: its book, where everything stands, its blank cells, its engine.

A command makes ``Templates`` once and passes them, or one of them, along; so whatever it
does, a template is loaded once, and what follows from it is worked out once.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from .grid import Cell, Place, enter, lay
from .load import load_book
from .model import Book, Entries, Scalar, Units
from .place import Places, place
from .recalc import Calculator


@dataclass(frozen=True)
class Template:
    """A book with all that is the same for every job of it."""

    book: Book

    @property
    def units(self) -> Units:
        """Return its system of units."""
        return self.book.units

    @cached_property
    def places(self) -> Places:
        """Return the place of every cell."""
        return place(self.book)

    @cached_property
    def blank(self) -> list[Cell]:
        """Return the cells of a blank workbook; their formulas are the same for every job."""
        return lay(self.book, self.places)

    @cached_property
    def calculator(self) -> Calculator:
        """Return the engine with the formulas in it."""
        return Calculator(self.blank, [s.name for s in self.book.sheets])

    def work_out(self, entries: Entries) -> tuple[list[Cell], dict[Place, Scalar]]:
        """Return the cells of a workbook filled with entries, and its formulas' values.

        Raises ``RecalcError`` where a formula fails.
        """
        cells = enter(self.book, self.blank, entries)
        return cells, self.calculator.values(cells)

    def results(self, entries: Entries) -> Entries:
        """Return every entry and result of a job: {part key: one value a line}."""
        cells, values = self.work_out(entries)
        out: Entries = {}
        for cell in cells:
            if cell.part:
                value = values.get(cell.place, cell.content)
                out.setdefault(cell.part, []).append(value)
        return out


class Templates(dict[Units, Template]):
    """The template in each system of units, loaded when it is first asked for."""

    def __missing__(self, units: Units) -> Template:
        """Load a template; raise ``TemplateError`` where its files have a mistake."""
        self[units] = Template(load_book(units))
        return self[units]

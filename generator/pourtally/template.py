"""One template made ready: its book, where everything stands, its blank cells, its engine.

A command makes ``Templates`` once and passes them, or one of them, along; so whatever it
does, a template is loaded once, and what follows from it is worked out once.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from .grid import Cell, Place, enter, lay
from .hint import near
from .load import load_book
from .model import SIZES, Book, Entries, Scalar, Size, TemplateError, Units
from .place import Places, place
from .recalc import Calculator

KEYS = ("day", "stops", "state", "state_also", "check_say", "check_first", "check_state",
        "states", "fractions", "sized")  # fmt: skip
"""What the program itself looks at in a job's workbook; ``sheets.toml`` names the parts."""


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


class Templates(dict[tuple[Units, Size], Template]):
    """The template in each system of units and each size, loaded when it is first asked for."""

    def __missing__(self, key: tuple[Units, Size]) -> Template:
        """Load a template; raise ``TemplateError`` where its files have a mistake."""
        book = load_book(*key)
        if mistakes := list(_key_mistakes(book)):
            raise TemplateError("\n".join(mistakes))
        self[key] = Template(book)
        return self[key]

    def larger(self, book: Book) -> Iterator[Book]:
        """Yield the books of all larger sizes, the least first."""
        for size in SIZES[SIZES.index(book.size) + 1 :]:
            yield self[book.units, size].book


def _key_mistakes(book: Book) -> Iterator[str]:
    """Yield what is wrong with the keys that ``sheets.toml`` names."""
    if lacking := [name for name in KEYS if name not in book.keys]:
        yield f"sheets.toml: keys: lacks {', '.join(lacking)}"
    for name, key in book.keys.items():
        if name not in KEYS:
            yield f"sheets.toml: keys: unknown key '{name}'; {near(name, KEYS)}"
        elif key not in book.parts:
            yield f"sheets.toml: keys: {name} '{key}'; {near(key, book.parts)}"
    for key in book.summary:
        if key not in book.parts:
            yield f"sheets.toml: summary: '{key}'; {near(str(key), book.parts)}"
    for sheet in book.sheets:
        if sheet.language and f"{sheet.language}.no" not in book.parts:
            hint = near(sheet.language, book.parts)
            yield f"sheets.toml: sheet {sheet.name}: language '{sheet.language}'; {hint}"

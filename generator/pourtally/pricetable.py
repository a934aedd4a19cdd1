"""What a company keeps from job to job, as a CSV file says it.

A row is one figure: its table, its line and its name, as job files call them.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import cached_property

from . import accept, csvfile
from .csvfile import Row
from .model import PRICE_COLUMNS, Block, Book, Entries, Field, Part, Scalar
from .values import plain

EMPTY = "(empty)"
PLACE = "place"
"""The table, and the figure, of the row that says which place a file's figures are from."""
COLUMNS = ("table", "line", "what", "figure", "value", *PRICE_COLUMNS, "meaning")
NEEDED = ("table", "figure", "value")
LEARNED = ("jobs", "with all", "least", "most", "spread", "odd ones")
"""What a file of learned rates says besides; nothing of it is loaded."""


@dataclass(frozen=True)
class Table:
    """A block whose entries are carried, and how its lines are told apart."""

    block: Block

    @cached_property
    def entries(self) -> dict[str, tuple[Field, Part]]:
        """Return its entries by the names a file calls them; what is of one job is none."""
        return {
            part.key.split(".", 1)[1]: (item, part)
            for item in self.block.fields
            for part in item.typed
            if not item.once and part.role != "yours"
        }

    @cached_property
    def coded(self) -> bool:
        """Tell whether its lines have codes."""
        return any(self.block.codes)

    @cached_property
    def name(self) -> Part | None:
        """Return the entry that holds the name of a line, where names are typed."""
        first = next(iter(self.entries.values()))[1]
        known = self.block.lines > 1 and not (self.coded or self.called or self.block.in_order)
        return first if known and first.entry == "text" else None

    @cached_property
    def called(self) -> Part | None:
        """Return what a line is called, where that is said for it and not typed."""
        first = self.block.fields[0].parts[0]
        return first if self.block.lines > 1 and first.kind != "entry" else None

    @cached_property
    def main(self) -> Part | None:
        """Return the figure of a line that the other columns of its row speak of."""
        numbers = [p for _, p in self.entries.values() if p.entry == "number"]
        return numbers[0] if numbers and self.block.lines > 1 else None

    @cached_property
    def beside(self) -> dict[str, Part]:
        """Return {column: the part that stands in it, in the row of the line's main figure}."""
        fields = self.block.fields if self.main else ()
        return {item.csv: item.parts[0] for item in fields if item.csv}

    def words(self, worked: Entries, line: int) -> str:
        """Return what a line is called."""
        return str(worked[self.block.fields[0].parts[0].key][line] or "")

    def row(self, worked: Entries, line: int, figure: str, value: str) -> Row:
        """Return the row of one figure."""
        item, part = self.entries[figure]
        table = self.block.lines > 1
        mark = self.block.codes[line] if self.coded else str(line + 1) if table else ""
        row = {
            "table": self.block.key,
            "line": mark,
            "what": csvfile.untouched(self.words(worked, line)) if table else "",
            "figure": figure,
            "value": value,
            "unit": part.unit,
            "meaning": f"{self.block.title}: {accept.label(item, part)}",
        }
        if part is self.main:
            row |= {c: said(p, worked[p.key][line]) for c, p in self.beside.items()}
        return row


def tables(book: Book) -> dict[str, Table]:
    """Return the blocks that hold what is the company's, by their key."""
    wanted = {sheet.name for sheet in book.sheets if sheet.carried}
    found = (Table(b) for b in book.blocks if b.carried or b.sheet in wanted)
    return {table.block.key: table for table in found if table.entries}


def said(part: Part, value: Scalar) -> str:
    """Return a value as a file says it: a number plainly, a day as 2026-05-14."""
    value = plain(part, value)
    if value is None or value == "":
        return ""
    if isinstance(value, float):
        return figure(value)
    return str(value) if part.entry in ("date", "time") else csvfile.untouched(str(value))


def figure(value: float) -> str:
    """Return a number without an exponent or thousands commas."""
    return format(Decimal(repr(value)).normalize(), "f")

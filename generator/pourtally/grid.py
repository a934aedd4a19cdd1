"""The finished content of every cell, ready to be recalculated or written.

``lay`` turns a book and its places into a flat list of cells with the usual entries, and
``enter`` puts a person's entries in; the engine evaluates the same list that the writer
writes, so the two cannot differ.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TypeGuard

from . import top
from .formula import asks_line
from .model import WORKINGS, Block, Book, Entries, Field, Part, Scalar, Sheet
from .place import (
    LABEL_COLUMN,
    Places,
    Stand,
    goal,
)
from .resolve import Resolver

Place = tuple[str, int, int]
"""Sheet, row and column of a cell, counted from 0."""

NO_NAME = "\N{NO-BREAK SPACE}"
"""What ends the head of a list, unseen: else a bar named "Bar" would be found in its own head."""
UNSEEN = ";;;"
"""The number format of what formulas need and nobody reads."""


@dataclass(frozen=True)
class Cell:
    """One cell: where it stands, what it holds and how it looks.

    A formula's ``content`` starts with ``=``; ``role`` names the look; ``part`` and
    ``line`` say which declared part it shows, where it shows one; it runs over ``span`` columns.
    """

    sheet: str
    row: int
    column: int
    content: Scalar
    role: str
    format: str = "General"
    part: str = ""
    line: int = 0
    span: int = 1

    @property
    def place(self) -> Place:
        """Return where it stands."""
        return self.sheet, self.row, self.column


def lay(book: Book, places: Places) -> list[Cell]:
    """Return every cell of the workbook with its usual entries, block by block."""
    cells = [Cell(s.name, *one) for s in book.sheets for one in top.head(book, places, s)]
    resolver = Resolver(book, places)
    for stand in places.stands:
        cells += _block_words(book, places, stand)
        twin = stand.sheet != stand.block.sheet
        if stand.block.shape == "table" or (twin and stand.block.shape == "page"):
            cells += _table_frame(book, places, stand)
        elif stand.block.shape == "across":
            cells += _across_frame(book, places, stand)
        elif stand.block.shape == "form":
            cells += _form_frame(book, places, stand)
        for part in stand.parts:
            cells += _part_cells(book, places, resolver, stand.block, part)
    return cells


def enter(book: Book, cells: list[Cell], entries: Entries) -> list[Cell]:
    """Return the cells with the contents of all entries replaced by those of a person.

    What is given by another workbook comes in the same way.
    """
    typed = {
        key: entries[key]
        for key, (_, _, part) in book.parts.items()
        if key in entries and (part.kind == "entry" or part.given)
    }
    return [_entered(c, typed[c.part]) if c.part in typed else c for c in cells]


def _entered(cell: Cell, lines: list[Scalar]) -> Cell:
    content = lines[cell.line] if cell.line < len(lines) else None
    return cell if content == cell.content else replace(cell, content=content)


def is_formula(content: Scalar) -> TypeGuard[str]:
    """Tell whether a cell's content is a formula."""
    return isinstance(content, str) and content.startswith("=")


def _block_words(book: Book, places: Places, stand: Stand) -> list[Cell]:
    block = stand.block
    twin = stand.sheet == WORKINGS and block.sheet != WORKINGS
    if block.shape == "page" and not twin:
        return []
    title = top.said(book, places, stand.sheet, block.title, block.also)
    cells = [Cell(stand.sheet, stand.title_row, stand.left, title, "heading")]
    if block.key == top.page_of(book, stand.sheet).frozen:
        cells = []  # the title of the sheet stands right above
    if twin:
        return cells
    cells = [] if block.untitled else cells
    row = stand.title_row + len(cells)
    if block.note:
        cells.append(Cell(stand.sheet, row, stand.left, block.note, "note"))
        row += 1
    for index, (words, also) in enumerate(zip(block.words, block.words_also, strict=True)):
        text = top.said(book, places, stand.sheet, words, also)
        cells.append(Cell(stand.sheet, row + index, LABEL_COLUMN, text, "words"))
    return cells


def _form_frame(book: Book, places: Places, stand: Stand) -> list[Cell]:
    cells = []
    sheet = stand.sheet
    if stand.head_row >= 0:
        yours = any(p.role == "yours" for p in stand.parts)
        names = ("computed", "yours", "used", "unit", "meaning")
        beside = [""] * (stand.side_by_side - 1)
        heads = names if yours else ("entry", *beside, "unit", "effect")
        for column, name in enumerate(("", "", *heads)):
            text = book.words[name] if name else ""
            cells.append(Cell(sheet, stand.head_row, column, text, "header"))
    keys = {p.key for p in stand.parts}
    shown = [(f, [p for p in f.parts if p.key in keys]) for f in stand.block.fields]
    shown = [(item, parts) for item, parts in shown if parts]
    page = top.page_of(book, sheet)
    values = LABEL_COLUMN + page.label_columns
    after = values + stand.side_by_side
    effect = any(p.role == "effect" for p in stand.parts)
    for row, (item, parts) in enumerate(shown, stand.first_row):
        label = top.said(book, places, sheet, item.label, item.also)
        cells.append(Cell(sheet, row, LABEL_COLUMN, label, "label"))
        cells += [Cell(sheet, row, c, "", "label") for c in range(LABEL_COLUMN + 1, values)]
        cells.append(Cell(sheet, row, after, _units(parts), "unit"))
        if sheet != WORKINGS and not page.language:
            cells.append(Cell(sheet, row, after + effect + 1, item.explained, "note"))
    return cells


def _units(parts: list[Part]) -> str:
    """Return the units of cells side by side; a percentage beside its effect shows its own."""
    effect = any(p.role == "effect" for p in parts)
    told = [p.unit for p in parts if p.unit and not (effect and p.kind == "entry")]
    return ", ".join(dict.fromkeys(told))


def _table_frame(book: Book, places: Places, stand: Stand) -> list[Cell]:
    sheet, block = stand.sheet, stand.block
    page = top.page_of(book, sheet)
    numbered = _numbered(book, stand, page)
    role, word = ("caption", "at_line") if page.paper else ("header", "line")
    headed = numbered and not page.outside
    cells = [Cell(sheet, stand.head_row, 0, book.words[word], role)] if headed else []
    fields = {p.key: f for f in block.fields for p in f.parts}
    for part in stand.parts:
        item, column = fields[part.key], places.spots[part.key].column
        text = head(item, part, "\n") + NO_NAME * (part.kind == "entry" and not part.unit)
        if item.also:
            unit = f", {part.unit}" if part.unit else ""
            text = top.said(book, places, sheet, item.heading or item.label, item.also, unit)
        span = part.span if sheet == block.sheet else 1
        if page.outside:
            role = "over_amount" if part.role == "said_amount" else "over_words"
        cells.append(Cell(sheet, stand.head_row, column, text, role, span=span))
    cells += _over(stand, fields)
    for line in range(block.lines if numbered else 0):
        row = stand.first_row + line
        look = ("words", UNSEEN) if page.outside else ("line", "0")
        cells.append(Cell(sheet, row, 0, float(line + 1), *look))
    return cells


def _over(stand: Stand, fields: dict[str, Field]) -> list[Cell]:
    """Return the words over the heads, each over the first of its columns, ruled over all."""
    cells, before = [], ""
    for column, part in enumerate(stand.parts, stand.first_column):
        over = fields[part.key].over
        if over:
            words = over if over != before else ""
            cells.append(Cell(stand.sheet, stand.head_row - 1, column, words, "over"))
        before = over
    return cells


def _numbered(book: Book, stand: Stand, page: Sheet) -> bool:
    """Tell whether numbers stand beside the lines of a table: on Workings only if asked for."""
    block = stand.block
    asking = {
        p.key: p for p in (*stand.parts, *block.parts(working=True))
    }  # of both its parts there
    if stand.sheet == WORKINGS:
        return any(asks_line(book, block, p) for p in asking.values())
    return block.numbered and not stand.left and (block.lines > 1 or not page.paper)


def head(item: Field, part: Part, before_unit: str = " ") -> str:
    """Return the words over a column: what it is, and its unit."""
    name = item.heading or item.label
    if part.role == "effect":
        name = part.heading  # the entry stands right before it
    elif part.heading != item.label:
        name = f"{name}, {part.heading}" if part.heading != part.unit else name
    return f"{name}{before_unit}{part.unit}" if part.unit else name


def _across_frame(book: Book, places: Places, stand: Stand) -> list[Cell]:
    sheet, block = stand.sheet, stand.block
    cells = [Cell(sheet, stand.head_row, 0, book.words["unit"], "header")]
    cells.append(Cell(sheet, stand.head_row, LABEL_COLUMN, block.title, "header"))
    for line in range(block.lines):
        column = LABEL_COLUMN + 1 + line
        cells.append(Cell(sheet, stand.head_row, column, float(line + 1), "header", "0"))
    after = LABEL_COLUMN + 1 + block.lines
    cells.append(Cell(sheet, stand.head_row, after, book.words["meaning"], "header"))
    fields = {p.key: f for f in block.fields for p in f.parts}
    row = stand.first_row
    for part in stand.parts:
        item = fields[part.key]
        first = part.key == next(p.key for p in item.parts if p.working is part.working)
        label = top.said(book, places, sheet, item.label, item.also) if first else ""
        cells.append(Cell(sheet, row, LABEL_COLUMN, label, "label"))
        cells.append(Cell(sheet, row, 0, part.unit, "unit"))
        if first and sheet != WORKINGS:
            cells.append(Cell(sheet, row, after, item.explained, "note"))
        row += 1
    return cells


def _stands(book: Book, key: str) -> bool:
    """Tell whether what words lead to is there: a sheet on which nothing stands is left out."""
    return "." in key or any(sheet.name == key for sheet in book.sheets)


def _told_of(book: Book, places: Places, what: str, key: str) -> Scalar:
    """Return the sheet of the cell that a link to a key goes to, or its row or column."""
    sheet, row, column = goal(book, places, key)
    return sheet if what == "sheet" else float({"row": row, "column": column}[what] + 1)


def _part_cells(
    book: Book, places: Places, resolver: Resolver, block: Block, part: Part
) -> list[Cell]:
    spot, role = places.spots[part.key], part.role
    cells = []
    said = block.shape == "page" and part.kind == "text" and not part.given
    for line in range(len(part.values) if said else block.lines):  # words may be fewer than lines
        row, column = spot.at(line)
        content = part.value(line)
        if part.kind == "formula" and part.formula(line):
            content = resolver.formula(block, part, line)
        elif part.also and line < len(part.also):
            content = top.said(book, places, spot.sheet, str(content), part.also[line])
        if line < len(part.goes) and not _stands(book, part.goes[line]):
            content = None
        if part.tells:
            content = _told_of(book, places, part.tells, str(content))
        span = part.span if spot.sheet == block.sheet else 1
        if role == "long":
            cells += _run(spot.sheet, row, column, span)
            span = 1
        cells.append(
            Cell(spot.sheet, row, column, content, role, part.format, part.key, line, span)
        )
    return cells


def _run(sheet: str, row: int, column: int, span: int) -> list[Cell]:
    """Return the empty cells that long words run over: what is typed is never merged."""
    over = range(column + 1, column + span)
    return [Cell(sheet, row, c, "", "run_end" if c == over[-1] else "run") for c in over]

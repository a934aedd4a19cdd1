"""Where every cell stands: the only room that forms an address.

A block stands on its own sheet; those of its parts that are workings stand, line for
line, in a twin of the block on the sheet of workings.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from .model import WORKINGS, Block, Book, Part, Sheet

LINK_ROW = 0  # never printed; then the title, the state of the checks, what the sheet is for
FIRST_ROW = 5
FROZEN_ROW = 3  # of a block whose head stays in sight: it has no title
LABEL_COLUMN = 1


@dataclass(frozen=True)
class Spot:
    """The first cell of a part, counted from 0, and the way its lines run."""

    sheet: str
    row: int
    column: int
    down: bool

    def at(self, line: int) -> tuple[int, int]:
        """Return row and column of one line."""
        return (self.row + line, self.column) if self.down else (self.row, self.column + line)


@dataclass(frozen=True)
class Stand:
    """Where a block stands on one sheet: its rows and what stands in them."""

    block: Block
    sheet: str
    title_row: int
    head_row: int  # -1 where a block has no header row
    first_row: int
    parts: tuple[Part, ...]
    left: int = 0  # the column of its title and its lines' numbers

    @property
    def first_column(self) -> int:
        """The column of a table's first part: beside another, it needs no line's numbers."""
        return self.left or LABEL_COLUMN

    @property
    def side_by_side(self) -> int:
        """How many cells a form's rows have before its units; what a cell comes to is after."""
        here = {p.key for p in self.parts if p.role != "effect"}
        rows = (
            sum(p.span if p.role == "long" else 1 for p in item.parts if p.key in here)
            for item in self.block.fields
        )
        return max(rows, default=0)


@dataclass(frozen=True)
class Places:
    """The lay-out of a whole book."""

    spots: dict[str, Spot]
    stands: tuple[Stand, ...]

    def stand(self, block_key: str, sheet: str) -> Stand:
        """Return where a block stands on a sheet."""
        return next(s for s in self.stands if s.block.key == block_key and s.sheet == sheet)


def place(book: Book) -> Places:
    """Lay out a book sheet by sheet, block under block, in the order declared."""
    spots: dict[str, Spot] = {}
    stands: list[Stand] = []
    for sheet in book.sheets:
        row = top = FROZEN_ROW if sheet.frozen else FIRST_ROW
        own = [(b, b.parts(working=False)) for b in book.blocks if b.sheet == sheet.name]
        own.sort(key=lambda one: bool(one[0].at) or one[0].shape == "page", reverse=True)
        twins = [(b, b.parts(working=True)) for b in book.blocks] if sheet.name == WORKINGS else []
        own.sort(key=lambda one: one[0].key != sheet.frozen)
        for block, parts in own + twins:
            if parts or (block.words and block.sheet == sheet.name):
                left = 0
                if block.beside and sheet.name == block.sheet:
                    left = stands[-1].first_column + sum(p.span for p in stands[-1].parts)
                top = top if left else row
                if block.at and sheet.name == block.sheet:
                    top, left = cell_at(block.at)
                end = _stand(block, parts, sheet, top, left, spots, stands) + 2
                row = max(row, end) if block.at or block.shape == "page" else end
    return Places(spots, tuple(stands))


def _stand(
    block: Block, parts: list[Part], page: Sheet, row: int, left: int, spots: dict[str, Spot],
    out: list[Stand],
) -> int:  # fmt: skip
    title_row, sheet = row, page.name
    if block.shape == "page" and sheet == block.sheet:
        return _page(block, parts, sheet, spots, out)
    row += 2 if block.note and sheet == block.sheet else 1
    row -= block.untitled and sheet == block.sheet
    words = len(block.words) if sheet == block.sheet else 0
    drawing = block.drawing_rows if sheet == block.sheet else 0
    over = drawing if block.shape == "table" else 0
    row += words + over
    row += has_over(block, parts)
    head_row = row if needs_head(block, parts) else -1
    row += head_row >= 0
    row += drawing - over if head_row >= 0 else 0
    first_row = row
    out.append(Stand(block, sheet, title_row, head_row, first_row, tuple(parts), left))
    if block.shape in ("table", "page"):
        column = left or LABEL_COLUMN
        for part in parts:
            spots[part.key] = Spot(sheet, row, column, down=True)
            column += part.span if sheet == block.sheet else 1
        row += block.lines
    elif block.shape == "across":
        for part in parts:
            spots[part.key] = Spot(sheet, row, LABEL_COLUMN + 1, down=False)
            row += 1
    else:
        row = max(_form_rows(out[-1], page, spots), first_row + drawing)
    return row


def _page(
    block: Block, parts: list[Part], sheet: str, spots: dict[str, Spot], out: list[Stand]
) -> int:
    """Place each part where it says, and return the row after the last one."""
    for part in parts:
        spots[part.key] = Spot(sheet, *cell_at(part.at), down=True)
    top = min(spots[part.key].row for part in parts)
    out.append(Stand(block, sheet, top, -1, top, tuple(parts)))
    return max(spots[part.key].row for part in parts) + block.lines


def _form_rows(stand: Stand, page: Sheet, spots: dict[str, Spot]) -> int:
    """Place the cells of a form; a row is its label, its cells, their unit, and the effect."""
    row, values = stand.first_row, LABEL_COLUMN + page.label_columns
    keys = {p.key for p in stand.parts}
    for item in stand.block.fields:
        here = [p for p in item.parts if p.key in keys]
        column = values
        for part in here:
            effect = part.role == "effect"
            at = values + stand.side_by_side + 1 if effect else column
            spots[part.key] = Spot(stand.sheet, row, at, down=True)
            column += not effect
        row += bool(here)
    return row


def has_over(block: Block, parts: list[Part]) -> bool:
    """Tell whether words stand over the heads of a table, in a row of their own."""
    shown = {part.key for part in parts}
    said = any(f.over and shown & {p.key for p in f.parts} for f in block.fields)
    return block.shape == "table" and said


def goal(book: Book, places: Places, key: str) -> tuple[str, int, int]:
    """Return sheet, row and column of the cell that a link to a key goes to, or to a sheet.

    That is the first one to type in, else the first of what is shown, or of the sheet.
    """
    if key in {sheet.name for sheet in book.sheets}:
        typed = [places.spots[k] for k in book.entries()]
        first = min(((s.row, s.column) for s in typed if s.sheet == key), default=(0, 0))
        return key, *first
    named, line = book.pointed(key)
    part = book.goal(named)
    spot = places.spots[part.key if part else named]
    return spot.sheet, *spot.at(line)


def needs_head(block: Block, parts: list[Part]) -> bool:
    """Tell whether a block has a header row: tables do, and forms of several kinds of cells."""
    if block.shape == "form":
        return any(p.role in ("yours", "effect") for p in parts)
    return bool(parts)


@lru_cache(maxsize=1000)
def column_name(column: int) -> str:
    """Return the letters of a column counted from 0."""
    name, number = "", column + 1
    while number:
        number, rest = divmod(number - 1, 26)
        name = chr(65 + rest) + name
    return name


def cell_at(place: str) -> tuple[int, int]:
    """Return the row and column, counted from 0, of an address such as ``B3``."""
    letters = place.rstrip("0123456789")
    return int(place[len(letters) :]) - 1, column_number(letters)


def column_number(name: str) -> int:
    """Return the column of its letters, counted from 0."""
    number = 0
    for letter in name:
        number = number * 26 + ord(letter) - 64
    return number - 1


def address(row: int, column: int, fixed: bool = False) -> str:
    """Return ``B3``, or ``$B$3`` when fixed."""
    mark = "$" if fixed else ""
    return f"{mark}{column_name(column)}{mark}{row + 1}"


def column_range(book: Book, places: Places, key: str, to: str = "") -> str:
    """Return the fixed range of a part's whole column, or to that of another, with its sheet."""
    spot, lines = places.spots[key], book.parts[key][0].lines
    first, last = spot.at(0), places.spots[to or key].at(lines - 1)
    return f"{spot.sheet}!{address(*first, fixed=True)}:{address(*last, fixed=True)}"

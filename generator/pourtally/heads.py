"""Where entries stand in a workbook, by the locked cells that their names stand on.

Before 0.5.0 a name stood on the entry itself, and went along when that cell was cut and
pasted elsewhere.  So a name of such a workbook is held against the head over it, or the
label beside it; where they differ, the head says where the entry is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from .accept import label
from .grid import head
from .model import Block, Book, Field, Part
from .moved import worked_out
from .place import LABEL_COLUMN, Places, address
from .reading import anchor
from .sheets import Cells, Sheets, Where

ANCHORED = (0, 5)
"""The first version whose names stand on locked cells."""

Spots = dict[str, Where]


def first_cells(
    book: Book, places: Places, typed: Sheets, names: Spots, made: tuple[int, ...]
) -> Spots:
    """Return where the first line of each entry stands, from the cells its name stands on.

    What a version worked out bore its name itself.
    """
    spots, entries = dict(names), book.entries()
    for key, (sheet, row, column) in names.items():
        if key in entries and worked_out(key, made):
            continue
        if key in entries:
            down, right = anchor(book, places, key).way
            spots[key] = (sheet, row + down, column + right)
        elif key not in book.parts and "." in key:
            spots[key] = (sheet, *unknown_first(typed[sheet], names, key))
    return spots


def unknown_first(cells: Cells, names: Spots, name: str) -> tuple[int, int]:
    """Return where the first line of an entry stands that no block of ours has any more."""
    sheet, row, column = names[name]
    if cells.get((row + 1, 0), ("", None))[1] == 1:
        return row + 1, column
    alike = sorted(n for n, where in names.items() if where == (sheet, row, column))
    return row, column + 1 + alike.index(name)


def checked(book: Book, places: Places, typed: Sheets, names: Spots) -> tuple[Spots, list[str]]:
    """Return the same for names that stand on entries, and each name that went astray."""
    spots, problems = dict(names), []
    for block in book.blocks:
        own = {p.key: (f, p) for f in block.fields for p in f.parts if p.kind == "entry"}
        own = {key: both for key, both in own.items() if key in names}
        for key, there in _astray(block, own, places, typed, names):
            sheet, row, column = names[key]
            said = f"{sheet} {address(row, column)} ({block.title}, {label(*own[key])})"
            if there:
                spots[key] = there
                under = f"read from {address(*there[1:])}, under its head"
            else:
                del spots[key]
                under = "its head is not found, so usual values are taken"
            problems.append(f"{said}: its name was moved there when a cell was cut; {under}")
    return spots, problems


_Own = dict[str, tuple[Field, Part]]


def _astray(
    block: Block, own: _Own, places: Places, typed: Sheets, names: Spots
) -> Iterator[tuple[str, Where | None]]:
    """Yield each name of a block that is not where it should be, and where that is."""
    if not own:
        return
    sheet = Counter(names[key][0] for key in own).most_common(1)[0][0]
    there = [names[key] for key in own if names[key][0] == sheet]
    taken = Counter(there)
    first = _first(block, typed[sheet], there)
    for key, (item, part) in own.items():
        here = names[key]
        found = [*_headed(block, item, part, places, typed[sheet], first)]
        if here[0] == sheet and here[1:] in found:
            continue
        line = here[2] if block.shape == "across" else here[1]
        in_line = block.shape == "form" or line == first
        if here[0] != sheet or taken[here] > 1 or not in_line or found:
            nearest = min(found, key=lambda at: abs(at[0] - there[0][1]), default=None)
            yield key, nearest and (sheet, *nearest)


def _first(block: Block, cells: Cells, there: list[Where]) -> int:
    """Return the row of a table's first line, or the column of one that runs across."""
    lines = Counter(column if block.shape == "across" else row for _, row, column in there)
    ((at, _),) = lines.most_common(1)
    _, number = cells.get((at, 0), ("", None))
    if block.shape == "table" and isinstance(number, (int, float)):
        up = at - int(number) + 1
        return up if cells.get((up, 0), ("", None))[1] == 1 else at
    return at


def _headed(
    block: Block, item: Field, part: Part, places: Places, cells: Cells, first: int
) -> Iterator[tuple[int, int]]:
    """Yield the cells that have the head or the label of an entry."""
    if block.shape == "table":
        said = _plain(head(item, part))
        over = {column: words for (row, column), (_, words) in cells.items() if row == first - 1}
        yield from ((first, column) for column, words in over.items() if _plain(words) == said)
        return
    labels = {row: words for (row, column), (_, words) in cells.items() if column == LABEL_COLUMN}
    across = block.shape == "across"
    down = [p for p in item.parts if not p.working].index(part) if across else 0
    column = first if across else places.spots[part.key].column
    yield from ((row + down, column) for row, words in labels.items()
                if _plain(words) == _plain(item.label))  # fmt: skip


def _plain(words: object) -> str:
    return " ".join(str(words).split())

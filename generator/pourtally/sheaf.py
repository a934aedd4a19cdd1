"""On which printed pages the rows of a sheet come, and how small: the same on Letter and on A4.

A spreadsheet left to itself cuts a drawing in two and ends on a page of three lines.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from math import ceil, inf

from . import charts, pages
from .model import Book, Sheet
from .place import LABEL_COLUMN, Places, Stand

PAPER = {True: (11.0, 8.27), False: (8.27, 11.0)}
"""Inches of a page, wide or tall: of Letter and A4 the lesser."""
SPARE_WIDE, SPARE_TALL = 0.93, 0.97
"""The part of a page that is planned for: LibreOffice's columns are 6 % wider than a screen's."""
PIXELS, POINTS = 96.0, 72.0  # to the inch
PAGE, SPLIT, NEVER, THIN = 1.0, 1.5, 50.0, 10.0
"""What one page more costs, a table that is torn, a drawing that is, and a page nearly empty."""
LEAST = 0.25  # of a page: less is nearly empty
TOGETHER = 3  # lines of a table that stand with its head, or are left for a further page


@dataclass(frozen=True)
class Sheaf:
    """How small a sheet prints, and the rows, and the columns, that begin a further page."""

    percent: int
    rows: tuple[int, ...]
    columns: tuple[int, ...]


def sheaf(
    book: Book,
    places: Places,
    sheet: Sheet,
    sizes: tuple[dict[int, float], dict[int, float]],
    ends: tuple[int, int, int],
) -> Sheaf:
    """Return the pages of a sheet; ``sizes`` are of its columns and rows, as far as they are set.

    ``ends`` are the first and the last row that print, and the last column.
    """
    columns, tall = sizes
    head, last_row, last_column = ends
    wide, high = PAPER[sheet.landscape]
    left, right, above, below = pages.MARGINS
    pixels = [pages.pixels({0: columns.get(c, pages.UNSET_WIDTH)}) for c in range(last_column + 1)]
    printed, right_hand = _side_by_side(pixels, pages.across(sheet, columns))
    percent = min(100.0, 100 * SPARE_WIDE * (wide - left - right) * PIXELS / printed)
    usual = sheet.row_height or pages.ROW_HEIGHT * sheet.letters / pages.USUAL_LETTERS
    rows = [tall.get(row, usual) for row in range(head, last_row + 1)]
    room = SPARE_TALL * (high - above - below) * POINTS
    if sheet.breaks:
        own = (0, *(row - head for row in sheet.breaks), len(rows))
        tallest = max(sum(rows[first:after]) for first, after in pairwise(own))
        return Sheaf(int(min(percent, 100 * room / tallest)), sheet.breaks, right_hand)
    costs = _costs(book, places, sheet, range(head, last_row + 1))
    begun = breaks(rows, costs, 100 * room / int(percent))
    return Sheaf(int(percent), tuple(head + row for row in begun), right_hand)


def of_a_paper(sheet: Sheet, tall: dict[int, float], last_row: int) -> int:
    """Return the percent at which a paper whose rows say where its pages end fits them.

    The first row stands on each of them again.
    """
    own = (0, *sheet.breaks, last_row + 1)
    rows = [tall.get(row, pages.ROW_HEIGHT) for row in range(last_row + 1)]
    spans = (sum(rows[first:after]) + (rows[0] if first else 0) for first, after in pairwise(own))
    return min(100, int(100 * pages.OWN_TALL / max(spans)))


def _side_by_side(pixels: Sequence[int], across: int) -> tuple[int, tuple[int, ...]]:
    """Return the least width of so many pages, and the columns that begin those to the right.

    Each of those has the names of the lines again.
    """
    names = sum(pixels[: LABEL_COLUMN + 1])
    width = names + ceil((sum(pixels) - names) / across)
    while True:
        begun, filled = [], 0
        for column, wide in enumerate(pixels):
            if filled + wide > width:
                begun.append(column)
                filled = names
            filled += wide
        if len(begun) < across:
            return width, tuple(begun)
        width += 1


def breaks(tall: Sequence[float], costs: Sequence[float], room: float) -> list[int]:
    """Return the rows that begin a further page, so that all costs together are least.

    ``tall`` are the heights of the rows, ``costs`` what a page costs that begins with each;
    ``room`` is the height of a page, on which the first row stands again.
    """
    upto = list(accumulate(tall, initial=0.0))
    best = [(0.0, 0)] + [(inf, 0)] * len(tall)
    for after in range(1, len(upto)):
        for first in range(after - 1, -1, -1):
            filled = (upto[after] - upto[first] + (tall[0] if first else 0)) / room
            if filled > 1 and first < after - 1:
                break
            thin = THIN if filled < LEAST else (1 - filled) ** 2
            cost = best[first][0] + PAGE + thin + (costs[first] if first else 0)
            best[after] = min(best[after], (cost, first))
    begun, row = [], best[-1][1]
    while row:
        begun.append(row)
        row = best[row][1]
    return begun[::-1]


def _costs(book: Book, places: Places, sheet: Sheet, rows: range) -> list[float]:
    """Return what a page costs that begins with each row: nothing where a title does."""
    own = [s for s in places.stands if s.sheet == sheet.name]
    spread = [(s, range(s.title_row + 1, _bottom(places, s) + 1)) for s in own]
    drawn = {row for stand in own for row in _drawn(book, places, stand)}
    titles = {stand.title_row for stand in own}
    out = []
    for row in rows:
        cut = [row in _torn(stand, inner) for stand, inner in spread if row in inner]
        free = 0.0 if row in titles and not cut else SPLIT if cut and all(cut) else NEVER
        out.append(NEVER if row in drawn else free)
    return out


def _drawn(book: Book, places: Places, stand: Stand) -> Iterator[int]:
    """Yield the rows whose upper edge runs through a drawing of a block."""
    if stand.sheet == stand.block.sheet:
        for pile in charts.piles(book, stand.block):
            first, _ = charts.corner(places, stand, pile[0])
            points = charts.size(stand.block, pile[0])[1] * POINTS / PIXELS
            yield from range(first + 1, first + ceil(points / pages.ROW_HEIGHT) + 1)


def _bottom(places: Places, stand: Stand) -> int:
    last = stand.block.lines - 1
    said = stand.title_row + len(stand.block.words)
    return max([said, *(places.spots[part.key].at(last)[0] for part in stand.parts)])


def _torn(stand: Stand, inner: range) -> Iterator[int]:
    """Yield the rows before which a block may be torn: of a length's feet and inches neither."""
    row = stand.first_row
    if stand.block.shape == "across":
        for item in stand.block.fields:
            yield row
            row += sum(part in stand.parts for part in item.parts)
    else:
        yield from range(row + TOGETHER, inner.stop + 1 - TOGETHER)

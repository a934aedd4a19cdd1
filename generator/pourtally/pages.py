"""How wide columns and how tall rows are, worked out from what stands in them."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from functools import lru_cache
from math import ceil

from .grid import Cell, is_formula
from .model import Book, Sheet
from .place import LABEL_COLUMN, LINK_ROW, Places, Stand

USUAL_WIDTH = 11.0  # characters
UNSET_WIDTH = 8.43
LINE_WIDTH = 6.0
LABEL_WIDTH = 34.0
WINDOW = 1290  # pixels: what a screen of 1366 shows of a sheet
SIDEBAR = 1170  # of them what LibreOffice leaves, whose columns are 8 % wider on a screen
READ = {True: 1740, False: 1290}  # pixels on a page, wide or tall: more are two pages side by side
LINE_HEIGHT = 13.0  # points
ROW_HEIGHT = 15.0
LINK_HEIGHT = 13.5
TITLE_HEIGHT = 22.5
MARGINS = (0.4, 0.4, 0.5, 0.6)  # inches: left, right, top, bottom
TIGHT = (0.35, 0.35, 0.35, 0.5)  # of a paper
OWN = (0.35, 0.35, 0.4, 0.55)  # of one that goes outside: 680 pixels by OWN_TALL
OWN_TALL = 720.0  # points
USUAL_LETTERS = 10.0  # points
RUNNING = {"note": 0.85, "intro": 0.95, "words": 0.95, "title": 1.8, "masthead": 2.0}
"""Roles whose words run on over empty cells, and a letter's width against a usual one."""
WRAPPED = {
    "wrap": 1.0,
    "row_wrapped": 1.0,
    "clause": 1.0,
    "paragraph": 1.0,
    "step": 1.0,
    "caption": 0.9,
    "header": 0.9,
    "fine": 0.9,
}
"""Roles whose words run on over lines, and the size of their letters against a usual one."""
KEPT = {
    "double": (2, 0.9),
    "sentence": (2, 1.0),
    "passage": (3, 0.87),
    "signing": (2, 1.1),
    "pen": (2, 1.03),
    "open": (2, 1.0),
    "first_open": (3, 0.86),
    "side_words": (2, 0.88),
    "under_words": (2, 0.88),
    "small_print": (3, 0.82),
}
"""The same with the lines kept for them, whatever stands there now: a row does not grow
by itself where a formula says more."""
TALL = {"masthead": 32.0, "title": 26.0, "heading": 18.0, "sum": 20.0}
"""Points of a row of large letters, on a paper that goes outside."""
PAGE_TALL = {
    "page_title": 30.0,
    "job_name": 30.0,
    "big": 30.0,
    "section": 20.0,
    "total": 22.0,
    "name": 19.0,
    "moment": 16.0,
    "line_moment": 16.0,
    "masthead": 28.0,
    "rule": 4.5,
    "gap": 7.5,
    "big_amount": 30.0,
    "claim": 22.0,
    "said_head": 22.0,
    "pen_words": 25.0,
    "pen_line": 25.0,
}
"""Points of a row of large letters, on a page."""
CLOSE_HEIGHT = 13.5
"""Points of a usual row there: all are set, so it is known where a page ends."""
GAP_HEIGHT = 4.0
"""Points of an empty row on a paper."""
LOGO_GAP = 3
"""Pixels over a logo, and under it."""
_POINT = 0.75  # of a pixel
_SAID = re.compile(r'"((?:[^"]|"")*)"')


def widths(places: Places, sheet: Sheet, last_column: int) -> dict[int, float]:
    """Return every column's width in characters: the widest asked for there, else the usual."""
    usual = sheet.usual_width or USUAL_WIDTH
    out = dict.fromkeys(range(last_column + 1), usual) | {0: LINE_WIDTH, LABEL_COLUMN: LABEL_WIDTH}
    stands = [s for s in places.stands if s.sheet == sheet.name]
    fields = [asked for stand in stands for asked in _fields(places, stand)]
    taken = {column for column, _ in fields}  # units and notes run on over what others take
    frame = [asked for stand in stands for asked in _frame(places, stand, sheet)]
    asked: dict[int, float] = {}
    for column, width in (*fields, *(one for one in frame if one[0] not in taken)):
        asked[column] = max(width, asked.get(column, 0.0))
    asked[0] = sheet.line_width
    asked[LABEL_COLUMN] = max(sheet.label_width, asked.get(LABEL_COLUMN, 0.0))
    out |= {column: width for column, width in asked.items() if width}
    return out | dict(enumerate(sheet.columns))


def _fields(places: Places, stand: Stand) -> Iterator[tuple[int, float]]:
    """Yield each column a field of a block stands in, and how wide it asks it to be."""
    own = stand.sheet == stand.block.sheet  # the widths of workings are the sheet's
    wide = {p.key: f.width for f in stand.block.fields for p in f.parts}
    for part in stand.parts:
        spot = places.spots[part.key]
        for line in range(1 if spot.down else stand.block.lines):
            for column in range(part.span if own else 1):
                yield spot.at(line)[1] + column, own * wide[part.key] / part.span


def _frame(places: Places, stand: Stand, sheet: Sheet) -> Iterator[tuple[int, float]]:
    """Yield the columns of a form's units and notes, which stand after its last cell."""
    columns = [column for column, _ in _fields(places, stand)]
    if stand.block.shape == "form":
        unit = min(columns) + stand.side_by_side
        yield unit, sheet.unit_width
        yield max(unit, *columns) + 1, sheet.note_width
    if stand.block.shape == "across":
        yield max(columns) + 1, sheet.note_width


def in_sight(places: Places, sheet: Sheet, columns: dict[int, float]) -> tuple[int, int]:
    """Return how many rows, and columns, stay in sight when others are scrolled away."""
    rows = LINK_ROW + 3
    if sheet.frozen:
        rows = places.stand(sheet.frozen, sheet.name).first_row
    across = any(s.sheet == sheet.name and s.block.shape == "across" for s in places.stands)
    return rows, LABEL_COLUMN + 1 if across or pixels(columns) > WINDOW else 0


def zoom(columns: dict[int, float]) -> int:
    """Return the percent at which a sheet is seen whole that fits a window, else 100."""
    wide = pixels(columns)
    return int(100 * SIDEBAR / wide) if SIDEBAR < wide <= WINDOW else 100


def pixels(columns: dict[int, float]) -> int:
    """Return how wide columns are on a screen."""
    return sum(int(width * 7 + 5) for width in columns.values())


def across(sheet: Sheet, columns: dict[int, float]) -> int:
    """Return on how many pages side by side a sheet is printed, so that it can be read."""
    if sheet.paper:
        return 1
    kept = pixels({column: columns[column] for column in (0, LABEL_COLUMN)})
    return max(1, ceil((pixels(columns) - kept) / (READ[sheet.landscape] - kept)))


def foot(places: Places, sheet: Sheet, last_row: int) -> int:
    """Return the last row that is printed."""
    if sheet.hidden or not sheet.printed:
        return last_row
    own = [stand for stand in places.stands if stand.sheet == sheet.name]
    after = own.index(places.stand(sheet.printed, sheet.name)) + 1
    return own[after].title_row - 1 if after < len(own) else last_row


def cursors(book: Book, cells: list[Cell]) -> dict[str, tuple[int, int]]:
    """Return {sheet: its first cell that somebody fills in, else its first one}.

    What chooses the shape that a form's drawing shows is not yet a measure.
    """
    shown = {f"{b.key}." for b in book.blocks if b.shape == "form" and b.charts}
    entries = {key for key in book.entries() if not key.startswith(tuple(shown))}
    out: dict[str, tuple[int, int]] = {}
    for cell in cells:
        if cell.part in entries:
            at = cell.row, cell.column
            out[cell.sheet] = min(at, out.get(cell.sheet, at))
    return {sheet.name: out.get(sheet.name, (LINK_ROW, 0)) for sheet in book.sheets}


def last_column(cells: list[Cell], columns: dict[int, float]) -> int:
    """Return the last column that words run over, so that print does not cut them off."""
    last = max(columns)
    for cell in cells:
        if cell.role in RUNNING and cell.span == 1 and isinstance(cell.content, str):
            letters = max(map(len, _texts(cell.content)))
            room, column = letters * RUNNING[cell.role], cell.column
            while room > columns.get(column, USUAL_WIDTH):
                room -= columns.get(column, USUAL_WIDTH)
                column += 1
            last = max(last, column)
    return last


def _texts(content: str) -> list[str]:
    """Return a text, or all the texts that a formula may say."""
    return [*_SAID.findall(content), ""] if is_formula(content) else [content]


def heights(sheet: Sheet, cells: list[Cell], columns: dict[int, float]) -> dict[int, float]:
    """Return the heights in points of header rows, and of rows whose words run over lines."""
    scale = sheet.letters / USUAL_LETTERS
    out = {} if sheet.bare else {LINK_ROW: LINK_HEIGHT, LINK_ROW + 1: TITLE_HEIGHT * scale}
    if sheet.paper:
        filled = {c.row for c in cells if c.content not in (None, "", 0.0) or c.role == "entry"}
        gaps = set(range(max(filled))) - filled
        out |= dict.fromkeys(gaps - out.keys(), GAP_HEIGHT * scale)
    if sheet.outside:
        out |= dict.fromkeys(filled, CLOSE_HEIGHT * scale)
        ruled = {cell.row for cell in cells if cell.role == "rule"}
        out |= dict.fromkeys(ruled, PAGE_TALL["rule"] * scale)
    for cell in cells:
        if cell.role in WRAPPED and isinstance(cell.content, str) and cell.content:
            over = range(cell.column, cell.column + cell.span)
            wide = sum(columns.get(column, USUAL_WIDTH) for column in over)
            room = max(int(wide * 1.15 / scale / WRAPPED[cell.role]), 8)
            lines = max(_lines(text, room, cell.role) for text in _texts(cell.content))
            height = (max(lines, 1) * LINE_HEIGHT * WRAPPED[cell.role] + 2) * scale
            if lines > 1 or cell.role != "clause":  # one that is set no longer grows as you type
                out[cell.row] = max(height, out.get(cell.row, 0))
        elif cell.role in KEPT:
            lines, size = KEPT[cell.role]
            height = (lines * LINE_HEIGHT * size + 2) * scale
            out[cell.row] = max(height, out.get(cell.row, 0))
        elif cell.role in PAGE_TALL:
            out[cell.row] = max(PAGE_TALL[cell.role] * scale, out.get(cell.row, 0))
        elif cell.role in TALL and sheet.outside:
            out[cell.row] = TALL[cell.role] * scale
    return out


def head_height(sheet: Sheet, tall: float, logo: int) -> float:
    """Return the points of a first row, ``tall`` of itself, with a logo of so many pixels.

    What stands in the rows below is then never under the logo.
    """
    words = TALL["masthead"] * sheet.letters / USUAL_LETTERS
    return max(tall, words, (logo + 2 * LOGO_GAP) * _POINT)


@lru_cache(maxsize=20_000)  # the same words stand in every job
def _lines(text: str, room: int, role: str) -> int:
    """Return how many lines a text takes in so many characters."""
    texts = text.split("\n") if role in ("step", "header", "fine", "caption") else [text]
    return sum(max(1, len(textwrap.wrap(one, room))) for one in texts)

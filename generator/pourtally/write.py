"""A book's cells and values to an .xlsx file; the only room that talks to XlsxWriter."""

from __future__ import annotations

import os
import tempfile
import textwrap
import warnings
from datetime import UTC, datetime
from pathlib import Path

import xlsxwriter
from xlsxwriter.chart_scatter import ChartScatter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from . import style
from .grid import Cell, is_formula
from .model import Block, Book, Chart, Part, Scalar, Sheet
from .place import LABEL_COLUMN, Places, Spot, address, column_number, column_range
from .recalc import Place

_CREATED = datetime(2026, 1, 1, tzinfo=UTC)  # same input, same bytes
_HEAD_HEIGHT = 44.0
_LINE_HEIGHT = 13.0
_DRAWING = 172  # pixels: square, so that both axes have one scale


def write(
    book: Book, places: Places, cells: list[Cell], values: dict[Place, Scalar], path: Path
) -> None:
    """Write the workbook beside ``path`` and rename it there, whole or not at all."""
    handle, name = tempfile.mkstemp(suffix=".xlsx", prefix=".part-", dir=path.parent)
    os.close(handle)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            _write(book, places, cells, values, name)
        os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _write(
    book: Book, places: Places, cells: list[Cell], values: dict[Place, Scalar], name: str
) -> None:
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    workbook = xlsxwriter.Workbook(name, options)
    workbook.set_properties(
        {"title": book.title, "comments": f"{book.title} {book.version} {book.units}",
         "created": _CREATED}
    )  # fmt: skip
    workbook.set_calc_mode("auto")
    sheets = {s.name: workbook.add_worksheet(s.name) for s in book.sheets}
    formats: dict[tuple[str, str], Format] = {}
    for cell in cells:
        look = (cell.role, cell.format)
        if look not in formats:
            formats[look] = workbook.add_format(style.properties(*look))
        _write_cell(book, places, sheets[cell.sheet], cell, values, formats[look])
    for key, spot in places.spots.items():
        where = address(*spot.at(0), fixed=True)
        workbook.define_name(key, f"={spot.sheet}!{where}")
    for key, (block, _, part) in book.entries().items():
        _validate(book, places, sheets[places.spots[key].sheet], block, part)
    _hide_empty_marks(places, workbook, sheets, book)
    _state_words(book, places, workbook, sheets)
    _draw(book, places, workbook, sheets)
    for sheet in book.sheets:
        _set_up(book, places, sheets[sheet.name], sheet, cells)
    workbook.close()


def _write_cell(
    book: Book, places: Places, sheet: Worksheet, cell: Cell, values: dict[Place, Scalar],
    look: Format,
) -> None:  # fmt: skip
    row, column, content = cell.row, cell.column, cell.content
    if is_formula(content):
        value = values[cell.sheet, row, column]
        sheet.write_formula(row, column, content, look, value)
    elif cell.role == "link":
        target = places.spots.get(f"{content}.ft") or places.spots[str(content)]
        there = address(*target.at(0))
        label = f"{target.sheet} {there}"
        sheet.write_url(row, column, f"internal:'{target.sheet}'!{there}", look, label)
    elif content is None or content == "":
        sheet.write_blank(row, column, None, look)
    elif isinstance(content, float):
        sheet.write_number(row, column, content, look)
    else:
        sheet.write_string(row, column, str(content), look)


def _validate(book: Book, places: Places, sheet: Worksheet, block: Block, part: Part) -> None:
    spot, limits, words = places.spots[part.key], part.limits, book.words
    first, last = spot.at(0), spot.at(block.lines - 1)
    rule: dict[str, object] = {"ignore_blank": True, "error_title": words["entry_error_title"]}
    if part.entry == "text":
        return
    if part.entry == "choice":
        rule["validate"] = "list"
        rule["source"] = "=" + column_range(book, places, limits.choices)
        rule["error_message"] = words["entry_error_choice"]
    else:
        rule["validate"] = "decimal"
        rule.update(criteria="between", minimum=limits.least, maximum=limits.most)
        low, high = f"{limits.least:g}", f"{limits.most:g}"
        if part.entry == "date":
            low, high = "2000-01-01", "2099-12-31"
        rule["error_message"] = words["entry_error_number"].format(
            low=low, high=high, unit=part.unit
        )
    sheet.data_validation(*first, *last, rule)


def _hide_empty_marks(
    places: Places, workbook: Workbook, sheets: dict[str, Worksheet], book: Book
) -> None:
    """Show nothing where feet and inches are both 0, and 0 where only one of them is."""
    nothing = workbook.add_format({"num_format": ";;;"})
    for key, (block, _, part) in book.parts.items():
        if part.role == "mark" and key.endswith(".ft"):
            feet, inches = places.spots[key], places.spots[key[:-2] + "in"]
            first = (feet.at(0), inches.at(0))
            rule = {"type": "formula", "format": nothing,
                    "criteria": f"=AND({_row_fixed(feet)}=0,{_row_fixed(inches)}=0)"}  # fmt: skip
            last = inches.at(block.lines - 1)
            sheets[feet.sheet].conditional_format(*first[0], *last, rule)


def _row_fixed(spot: Spot) -> str:
    row, column = spot.at(0)
    name = address(row, column)
    return f"${name}" if spot.down else name.rstrip("0123456789") + f"${row + 1}"


def _state_words(
    book: Book, places: Places, workbook: Workbook, sheets: dict[str, Worksheet]
) -> None:
    looks = {
        word: workbook.add_format({"font_color": color, "bold": True})
        for word, color in style.STATES.items()
    }
    for key, (block, _, part) in book.parts.items():
        if part.role in ("state", "says", "headline"):
            spot = places.spots[key]
            for word, look in looks.items():
                rule = {"type": "text", "criteria": "begins with", "value": word, "format": look}
                sheets[spot.sheet].conditional_format(
                    *spot.at(0), *spot.at(block.lines - 1), rule
                )


def _draw(book: Book, places: Places, workbook: Workbook, sheets: dict[str, Worksheet]) -> None:
    for block in book.blocks:
        for chart in block.charts:
            stand = places.stand(block.key, block.sheet)
            column = LABEL_COLUMN + chart.line
            sheets[block.sheet].insert_chart(
                stand.head_row + 1, column, _chart(places, workbook, chart),
                {"description": chart.words, "object_position": 1, "x_offset": 4, "y_offset": 3},
            )  # fmt: skip


def _chart(places: Places, workbook: Workbook, chart: Chart) -> ChartScatter:
    drawing = workbook.add_chart({"type": "scatter", "subtype": "straight"})
    for series in chart.series:
        ranges = {}
        for name, key in (("categories", series.x), ("values", series.y)):
            spot = places.spots[key]
            ranges[name] = [spot.sheet, *spot.at(series.first - 1), *spot.at(series.last - 1)]
        line = {"color": style.SLATE, "width": series.width}
        drawing.add_series({**ranges, "line": line, "marker": {"type": "none"}})
    axis = {"min": 0, "max": 1, "visible": False, "major_gridlines": {"visible": False}}
    drawing.set_x_axis(axis)
    drawing.set_y_axis(axis)
    drawing.set_legend({"none": True})
    drawing.set_title({"none": True})
    drawing.set_size({"width": _DRAWING, "height": _DRAWING})
    drawing.set_plotarea({"layout": {"x": 0.04, "y": 0.04, "width": 0.92, "height": 0.92}})
    drawing.set_chartarea({"border": {"none": True}})
    return drawing


def _widths(sheet: Sheet, last_column: int) -> dict[int, float]:
    """Return every column's width in characters: the usual ones, then the sheet's own."""
    widths = {column: 11.0 for column in range(last_column + 1)} | {0: 6.0, 1: 34.0}
    for letters, width in sheet.widths:
        first, _, last = letters.partition(":")
        for column in range(column_number(first), column_number(last or first) + 1):
            widths[column] = width
    return widths


def _heights(
    places: Places, sheet: Sheet, cells: list[Cell], widths: dict[int, float]
) -> dict[int, float]:
    """Return the heights in points of header rows, and of rows whose words run over lines."""
    heights = {
        s.head_row: _HEAD_HEIGHT
        for s in places.stands
        if s.sheet == sheet.name and s.head_row >= 0 and s.block.shape == "table"
    }
    for cell in cells:
        if cell.role == "wrap" and isinstance(cell.content, str):
            lines = len(textwrap.wrap(cell.content, max(int(widths[cell.column] * 1.05), 8)))
            height = max(lines, 1) * _LINE_HEIGHT + 2
            heights[cell.row] = max(height, heights.get(cell.row, 0))
    return heights


def _set_up(
    book: Book, places: Places, page: Worksheet, sheet: Sheet, cells: list[Cell]
) -> None:
    mine = [c for c in cells if c.sheet == sheet.name]
    last_row = max(c.row for c in mine)
    last_column = max(c.column for c in mine)
    widths = _widths(sheet, last_column)
    for column, width in widths.items():
        page.set_column(column, column, width)
    for row, height in _heights(places, sheet, mine, widths).items():
        page.set_row(row, height)
    page.hide_gridlines(2)
    page.set_tab_color(sheet.tint)
    page.protect("", {"format_columns": True, "format_rows": True, "objects": False})
    page.set_paper(1 if book.units == "us" else 9)
    if sheet.landscape:
        page.set_landscape()
    page.set_margins(0.5, 0.5, 0.6, 0.7)
    page.fit_to_pages(1, 0)
    page.print_area(0, 0, last_row, last_column)
    page.repeat_rows(0)
    page.freeze_panes(1, 0)
    page.set_footer(f"&L{book.title} {book.version}  &A&RPage &P of &N")



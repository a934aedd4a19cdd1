"""A book's cells and values to an .xlsx file; the only room that talks to XlsxWriter."""

from __future__ import annotations

import os
import tempfile
import warnings
import zipfile
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import xlsxwriter
from xlsxwriter.chart_scatter import ChartScatter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from . import pages, style
from .grid import Cell, is_formula
from .model import Block, Book, Chart, Field, Part, Run, Scalar, Sheet
from .percent import is_percent, told
from .place import LABEL_COLUMN, Places, Spot, Stand, address, column_number, column_range
from .recalc import Place

_CREATED = datetime(2026, 1, 1, tzinfo=UTC)  # same input, same bytes
_NAMED = ("order", "headline")  # beside every entry: what others look for in a workbook
_SMALL, _LARGE = 172, 340  # pixels of a drawing: square, so that both axes have one scale
_WIDE, _ROW = 1200, 20  # pixels of a timeline, and of each row it stands over


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
        _squeeze(Path(name))
        Path(name).chmod(0o644)
        Path(name).replace(path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _squeeze(path: Path) -> None:
    """Pack a workbook as tightly as zip can: it goes by mail and lies on phones."""
    with zipfile.ZipFile(path) as loose:
        parts = [(info, loose.read(info)) for info in loose.infolist()]
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as tight:
        for info, content in parts:
            tight.writestr(info, content, zipfile.ZIP_DEFLATED, 9)


class _Page(Worksheet):  # type: ignore[misc]  # XlsxWriter has no types
    """A sheet that does not search its formulas for functions newer than any we use.

    The search takes half of the time of writing.  A test holds formulas to older functions.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")


@dataclass(frozen=True)
class _Desk:
    """What every step of writing one workbook has at hand."""

    book: Book
    places: Places
    workbook: Workbook
    sheets: dict[str, Worksheet]


def _write(
    book: Book, places: Places, cells: list[Cell], values: dict[Place, Scalar], name: str
) -> None:
    options = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
    workbook = xlsxwriter.Workbook(name, options)
    properties = {"title": book.title, "created": _CREATED}
    if book.kept:
        properties["comments"] = f"{book.title} {book.version} {book.units}"
    workbook.set_properties(properties)
    sheets = {s.name: workbook.add_worksheet(s.name, _Page) for s in book.sheets}
    desk = _Desk(book, places, workbook, sheets)
    _write_cells(desk, cells, values)
    for key, (_, _, part) in book.parts.items():
        if book.kept and (part.kind == "entry" or part.role in _NAMED):
            spot = places.spots[key]
            where = address(*spot.at(0), fixed=True)
            workbook.define_name(key, f"={spot.sheet}!{where}")
    for block, item, part in book.entries().values():
        _validate(desk, block, item, part)
    _hide_empty_marks(desk)
    _state_words(desk)
    _draw(desk)
    for sheet in book.sheets:
        _set_up(desk, sheet, [c for c in cells if c.sheet == sheet.name])
    workbook.close()


def _write_cells(desk: _Desk, cells: list[Cell], values: dict[Place, Scalar]) -> None:
    formats: dict[tuple[str, str, float], Format] = {}
    letters = {s.name: s.letters for s in desk.book.sheets}
    for cell in cells:
        look = (cell.role, cell.format, letters[cell.sheet])
        if look not in formats:
            formats[look] = desk.workbook.add_format(style.properties(*look))
        page, where, form = desk.sheets[cell.sheet], (cell.row, cell.column), formats[look]
        content = cell.content
        if is_formula(content):
            page.write_formula(*where, content, form, values[cell.sheet, *where])
        elif cell.role == "link":
            _write_link(desk, page, cell, form)
        elif content is None or content == "":
            page.write_blank(*where, None, form)
        elif isinstance(content, float):
            page.write_number(*where, content, form)
        else:
            page.write_string(*where, content, form)


def _write_link(desk: _Desk, page: Worksheet, cell: Cell, form: Format) -> None:
    """Write a link to the first cell that a person types of the part named."""
    spots = desk.places.spots
    typed = (spots.get(f"{cell.content}{cell_of}") for cell_of in (".ft", ".m", ""))
    target = next(spot for spot in typed if spot)
    there = address(*target.at(0))
    words = f"{target.sheet} {there}"
    page.write_url(cell.row, cell.column, f"internal:'{target.sheet}'!{there}", form, words)


def _validate(desk: _Desk, block: Block, item: Field, part: Part) -> None:
    spot, limits, words = desk.places.spots[part.key], part.limits, desk.book.words
    first, last = spot.at(0), spot.at(block.lines - 1)
    rule: dict[str, object] = {"ignore_blank": True, "error_title": words["entry_error_title"]}
    if part.entry == "text":
        return
    if item.note and (block.shape == "table" or is_percent(part)):  # a form shows others beside
        rule.update(input_title=item.label[:32], input_message=item.note[:255])
    if part.entry == "choice":
        rule["validate"] = "list"
        rule["source"] = "=" + column_range(desk.book, desk.places, limits.choices)
        rule["error_message"] = words["entry_error_choice"]
    else:
        rule["validate"] = "decimal"
        rule.update(criteria="between", minimum=limits.least, maximum=limits.most)
        low, high = (f"{told(part, end):g}" for end in (limits.least, limits.most))
        if part.entry == "date":
            low, high = "2000-01-01", "2099-12-31"
        if part.entry == "time":
            low, high = "0:00", "23:59"
        rule["error_message"] = words["entry_error_number"].format(
            low=low, high=high, unit=part.unit
        )
    desk.sheets[spot.sheet].data_validation(*first, *last, rule)


def _hide_empty_marks(desk: _Desk) -> None:
    """Show nothing where feet and inches are both 0, and 0 where only one of them is."""
    nothing = desk.workbook.add_format({"num_format": ";;;"})
    for key, (block, _, part) in desk.book.parts.items():
        if part.role == "mark" and key.endswith(".ft"):
            feet, inches = (desk.places.spots[key[:-2] + unit] for unit in ("ft", "in"))
            first = (feet.at(0), inches.at(0))
            rule = {"type": "formula", "format": nothing,
                    "criteria": f"=AND({_row_fixed(feet)}=0,{_row_fixed(inches)}=0)"}  # fmt: skip
            last = inches.at(block.lines - 1)
            desk.sheets[feet.sheet].conditional_format(*first[0], *last, rule)


def _row_fixed(spot: Spot) -> str:
    row, column = spot.at(0)
    name = address(row, column)
    return f"${name}" if spot.down else name.rstrip("0123456789") + f"${row + 1}"


def _state_words(desk: _Desk) -> None:
    looks = {
        word: desk.workbook.add_format({"font_color": color, "bold": True})
        for word, color in style.STATES.items()
    }
    for key, (block, _, part) in desk.book.parts.items():
        if part.role in ("state", "says", "headline"):
            spot = desk.places.spots[key]
            for word, look in looks.items():
                rule = {"type": "text", "criteria": "begins with", "value": word, "format": look}
                desk.sheets[spot.sheet].conditional_format(
                    *spot.at(0), *spot.at(block.lines - 1), rule
                )


def _draw(desk: _Desk) -> None:
    for block in desk.book.blocks:
        for chart in block.charts:
            row, column = _beside(desk.places.stand(block.key, block.sheet), chart)
            placed = {
                "description": chart.words,
                "object_position": 1,
                "x_offset": 4,
                "y_offset": 3,
            }
            drawing = _timeline(desk, block, chart) if chart.axis else _plan(desk, block, chart)
            desk.sheets[block.sheet].insert_chart(row, column, drawing, placed)


def _beside(stand: Stand, chart: Chart) -> tuple[int, int]:
    """Return the row and column where a drawing's upper left corner stands."""
    if chart.axis:
        return stand.head_row - stand.block.drawing_rows, LABEL_COLUMN
    if stand.block.shape == "across":
        return stand.head_row + 1, LABEL_COLUMN + chart.line
    right = LABEL_COLUMN + len(stand.parts) + 1
    column = column_number(chart.column) if chart.column else right
    return stand.first_row + chart.line - 1, column


def _lines(desk: _Desk, chart: Chart) -> ChartScatter:
    drawing = desk.workbook.add_chart({"type": "scatter", "subtype": "straight"})
    for series in chart.series:
        ranges = {"categories": _run(desk, series.x), "values": _run(desk, series.y)}
        line = {"color": style.TONES[series.tone], "width": series.width}
        told = {**ranges, "line": line, "marker": {"type": "none"}}
        if series.name:
            sheet, row, column, *_ = _run(desk, series.name)
            told["name"] = [sheet, row, column]
            last = series.x.last_line - series.x.first_line
            hidden = [{"delete": True}] * last
            font = {"color": style.INK, "size": 9}
            told["data_labels"] = {"series_name": True, "value": False, "position": "right",
                                   "custom": [*hidden, None], "font": font}  # fmt: skip
        drawing.add_series(told)
    drawing.set_legend({"none": True})
    drawing.set_title({"none": True})
    drawing.set_chartarea({"border": {"none": True}, "fill": {"none": True}})
    return drawing


def _timeline(desk: _Desk, block: Block, chart: Chart) -> ChartScatter:
    """Draw lines over a level axis from 0 to 1; they bring their own hours and names."""
    drawing = _lines(desk, chart)
    no_lines = {"major_gridlines": {"visible": False}}
    font = {"color": style.INK, "size": 9, "bold": False}
    drawing.set_x_axis({"min": 0, "max": 1, "name": chart.axis, "name_font": font,
                        "major_tick_mark": "none", "label_position": "none",
                        "line": {"color": style.LINE}, **no_lines})  # fmt: skip
    drawing.set_y_axis({"min": 0, "max": chart.rows, "visible": False, **no_lines})
    drawing.set_size({"width": _WIDE, "height": block.drawing_rows * _ROW - 6})
    drawing.set_plotarea({"layout": {"x": 0.01, "y": 0.02, "width": 0.98, "height": 0.9}})
    return drawing


def _plan(desk: _Desk, block: Block, chart: Chart) -> ChartScatter:
    side = _LARGE if block.shape in ("table", "words") else _SMALL
    drawing = _lines(desk, chart)
    axis = {"min": 0, "max": 1, "visible": False, "major_gridlines": {"visible": False}}
    drawing.set_x_axis(axis)
    drawing.set_y_axis(axis)
    drawing.set_size({"width": side, "height": side})
    layout = {"x": 0.04, "y": 0.04, "width": 0.92, "height": 0.92}
    drawing.set_plotarea({"layout": layout, "fill": {"none": True}})  # words under it stay seen
    return drawing


def _run(desk: _Desk, run: Run) -> list[str | int]:
    first, last = desk.places.spots[run.first], desk.places.spots[run.last]
    return [first.sheet, *first.at(run.first_line), *last.at(run.last_line)]


def _set_up(desk: _Desk, sheet: Sheet, cells: list[Cell]) -> None:
    book, page = desk.book, desk.sheets[sheet.name]
    last_row, last_column = max(c.row for c in cells), max(c.column for c in cells)
    columns = pages.widths(sheet, last_column)
    for column, width in columns.items():
        page.set_column(column, column, width)
    if sheet.letters != pages.USUAL_LETTERS:
        page.set_default_row(pages.ROW_HEIGHT * sheet.letters / pages.USUAL_LETTERS)
    for row, height in pages.heights(desk.places, sheet, cells, columns).items():
        page.set_row(row, height)
    page.hide_gridlines(2)
    page.set_tab_color(sheet.tint)
    page.protect("", {"format_columns": True, "format_rows": True, "objects": False})
    page.set_paper(1 if book.units == "us" else 9)
    if sheet.landscape:
        page.set_landscape()
    page.set_margins(*(pages.TIGHT if sheet.paper else pages.MARGINS))
    page.fit_to_pages(1, sheet.paper)
    page.print_area(0, 0, sheet.printed or last_row, pages.last_column(cells, columns))
    page.repeat_rows(0)
    page.freeze_panes(1, 0)
    made = f"{book.title} {book.version}  " if book.kept else ""
    page.set_footer(f"&L{made}&A&RPage &P of &N")

"""A book's cells and values to an .xlsx file; the only room that talks to XlsxWriter."""

from __future__ import annotations

import re
import warnings
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import Any

import xlsxwriter
from xlsxwriter.format import Format
from xlsxwriter.workbook import Workbook
from xlsxwriter.worksheet import Worksheet

from . import asked, charts, pages, style, top
from .grid import Cell, Place, is_formula
from .model import STATES, Book, Scalar, Sheet
from .output import OVER, Care, write_bytes
from .percent import TYPED, WHOLE
from .place import LABEL_COLUMN, LINK_ROW, Places, Spot, address, goal
from .reading import anchor
from .sheaf import of_a_paper, sheaf

_CONTENTS = re.compile(rb"<HeadingPairs>.*?</TitlesOfParts>")  # the names of all cells again
_LOOKS = re.compile(rb"<cellXfs.*</cellXfs>")
_LOOK = re.compile(rb"<xf ([^>]*?)(?:/>|>(.*?)</xf>)")
_CREATED = datetime(2026, 1, 1, tzinfo=UTC)  # same input, same bytes
_LAST_COLUMN = 16383
_USUAL_CELL = {"font_name": "Calibri", "font_size": 11, "locked": False}
"""The style a cell takes that was cut: it must stay an entry, so what is not says so itself."""
_NAMED = ("order", "headline")  # beside every entry: what others look for in a workbook


def write(
    book: Book,
    places: Places,
    cells: list[Cell],
    values: dict[Place, Scalar],
    path: Path,
    face: style.Face = style.PLAIN,
    care: Care = OVER,
) -> None:
    """Write the workbook to ``path``, whole or not at all."""
    held = BytesIO()  # all of it in memory: no disk that is full, and nothing left where it ends
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        _write(book, places, cells, values, held, face)
    write_bytes(path, _squeezed(held), care)


def _squeezed(held: BytesIO) -> bytes:
    """Pack a workbook as tightly as zip can: it goes by mail and lies on phones."""
    packed = BytesIO()
    with (
        zipfile.ZipFile(held) as loose,
        zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as tight,
    ):
        for info in loose.infolist():
            content = _LOOKS.sub(_locked, _CONTENTS.sub(b"", loose.read(info)))
            tight.writestr(info, content, zipfile.ZIP_DEFLATED, 9)
    return packed.getvalue()


def _locked(looks: re.Match[bytes]) -> bytes:
    """Say of each look that is locked that it is, as XlsxWriter does of open ones alone.

    The usual style is open, and some programs take from it what a look leaves unsaid.
    """
    return _LOOK.sub(_told, looks[0])


def _told(look: re.Match[bytes]) -> bytes:
    if b"<protection" in look[0]:
        return look[0]
    inner = look[2] or b""
    return b'<xf %b applyProtection="1">%b<protection locked="1"/></xf>' % (look[1], inner)


class _Page(Worksheet):  # type: ignore[misc]  # XlsxWriter has no types
    """A sheet that does not search its formulas for functions newer than any we use.

    The search takes half of the time of writing.  A test holds formulas to older functions.
    All columns after the last one written share its style, without a look at each.  A link
    does not repeat the words of its cell, nor a row tell how far it reaches.
    """

    def _prepare_formula(self, formula: str, expand_future_functions: bool = False) -> str:
        return formula.removeprefix("=")

    def _calculate_spans(self) -> None:
        self.row_spans: dict[int, str] = {}

    def _write_hyperlink_internal(self, row: int, col: int, url: Any) -> None:
        there = [("ref", address(row, col)), ("location", url._link)]
        self._xml_empty_tag("hyperlink", there)

    def _write_col_info(self, col_min: int, col_max: int, col_info: object) -> None:
        """Write columns; the last one told stands for all that follow, up to the sheet's end."""
        last = col_max == max(self.col_info)
        super()._write_col_info(col_min, _LAST_COLUMN if last else col_max, col_info)

    def _xml_formula_element(
        self, formula: str, result: Scalar, attributes: Sequence[tuple[str, object]] = ()
    ) -> None:
        """Write a formula and its value: an empty text as a text, and spaces at its ends kept.

        XlsxWriter leaves out what kind an empty text is, which means a number, and programs
        that read it strip what is not said to be kept.
        """
        kind = [("t", "str")] if result == "" else []
        told = "".join(f' {key}="{value}"' for key, value in (*attributes, *kind))
        kept = ' xml:space="preserve"' if str(result) != str(result).strip() else ""
        value = self._escape_data(result)
        self.fh.write(f"<c{told}><f>{self._escape_data(formula)}</f><v{kept}>{value}</v></c>")


@dataclass(frozen=True)
class _Desk:
    """What every step of writing one workbook has at hand."""

    book: Book
    places: Places
    workbook: Workbook
    sheets: dict[str, Worksheet]
    face: style.Face
    owner: str
    cursors: dict[str, tuple[int, int]]


def _write(
    book: Book, places: Places, cells: list[Cell], values: dict[Place, Scalar],
    held: BytesIO, face: style.Face,
) -> None:  # fmt: skip
    plain = dict.fromkeys(("strings_to_formulas", "strings_to_urls", "strings_to_numbers"), False)
    options = plain | {"default_format_properties": _USUAL_CELL, "in_memory": True}
    workbook = xlsxwriter.Workbook(held, options)
    properties = {"title": book.title, "created": _CREATED}
    if book.kept:
        properties["comments"] = (
            f"{book.title} {book.version} {book.units} {book.size} {book.local.key}"
        )
    workbook.set_properties(properties)
    sheets = {s.name: workbook.add_worksheet(s.name, _Page) for s in book.sheets}
    cursors = pages.cursors(book, cells)
    desk = _Desk(book, places, workbook, sheets, face, _owner(book, cells, values), cursors)
    _write_cells(desk, cells, values)
    for key, (block, _, part) in book.parts.items():
        coded = block.codes and key == f"{block.key}.code"
        if book.kept and (part.kind == "entry" or part.role in _NAMED or coded):
            spot = places.spots[key]
            at = anchor(book, places, key).at if part.kind == "entry" else spot.at(0)
            workbook.define_name(key, f"={spot.sheet}!{address(*at, fixed=True)}")
    for block, item, part in book.entries().values():
        spot = places.spots[part.key]
        ends = (*spot.at(0), *spot.at(block.lines - 1))
        sheets[spot.sheet].data_validation(*ends, asked.rule(book, places, block, item, part))
    _hide_empty_marks(desk)
    _whole_percents(desk)
    _state_words(desk, cells)
    _rules(desk)
    _draw(desk)
    by_sheet: dict[str, list[Cell]] = {sheet.name: [] for sheet in book.sheets}
    for cell in cells:
        by_sheet[cell.sheet].append(cell)
    for sheet in book.sheets:
        _set_up(desk, sheet, by_sheet[sheet.name])
    workbook.close()


def _owner(book: Book, cells: list[Cell], values: dict[Place, Scalar]) -> str:
    """Return the name of the company whose papers these are."""
    named = (values.get(c.place, c.content) for c in cells if c.part == book.keys.get("company"))
    return str(next(named, None) or book.words["nameless"])


def _write_cells(desk: _Desk, cells: list[Cell], values: dict[Place, Scalar]) -> None:
    formats: dict[tuple[str, str, float], Format] = {}
    letters = {s.name: s.letters for s in desk.book.sheets}
    for cell in cells:
        look = (cell.role, cell.format, letters[cell.sheet])
        if look not in formats:
            formats[look] = desk.workbook.add_format(style.properties(*look, desk.face.accent))
        page, where, form = desk.sheets[cell.sheet], (cell.row, cell.column), formats[look]
        content = cell.content
        if cell.span > 1:
            page.merge_range(*where, cell.row, cell.column + cell.span - 1, "", form)
        if is_formula(content):
            page.write_formula(*where, content, form, _stored(values[cell.place], cell.format))
        elif content and (cell.role in ("link", "linked") or _goes(desk.book, cell)):
            _write_link(desk, page, cell, form)
        elif cell.role == "way":
            there = str(content).removeprefix(top.BACK).removesuffix(top.ON)
            link = f"internal:'{there}'!{address(*desk.cursors[there])}"
            page.write_url(*where, link, form, content)
        elif content is None or content == "":
            if style.seen(cell.role):
                page.write_blank(*where, None, form)
        elif isinstance(content, float):
            page.write_number(*where, content, form)
        else:
            page.write_string(*where, content, form)


def _stored(value: Scalar, look: str) -> Scalar:
    """Return a value in twelve digits, a whole number without a point.

    A time has fifteen, as a spreadsheet keeps: cut to twelve, 9:30 would show as 9:29, and a
    day with its time would be off by milliseconds.
    """
    time = "h:mm" in look or "[h]" in look or (isinstance(value, float) and abs(value) >= 10_000)
    digits = 15 if time else 12
    short = float(f"{value:.{digits}g}") if isinstance(value, float) else value
    return int(short) if isinstance(short, float) and short.is_integer() else short


def _goes(book: Book, cell: Cell) -> str:
    """Return the key or the sheet that fixed words lead to, if they do."""
    goes = book.parts[cell.part][2].goes if cell.part else ()
    return goes[cell.line] if cell.line < len(goes) else ""


def _write_link(desk: _Desk, page: Worksheet, cell: Cell, form: Format) -> None:
    """Write a link to the first cell that a person types of the part named.

    Words that are linked say themselves what they are, and go where they say, or else to the
    part that the code of their line is.
    """
    key = _goes(desk.book, cell)
    linked = cell.role == "linked" or bool(key)
    codes = desk.book.parts[cell.part][0].codes
    key = key or (codes[cell.line] if linked else str(cell.content))
    sheet, row, column = goal(desk.book, desk.places, key)
    there = address(row, column)
    words = str(cell.content) if linked else f"{sheet} {there}"
    page.write_url(cell.row, cell.column, f"internal:'{sheet}'!{there}", form, words)


def _hide_empty_marks(desk: _Desk) -> None:
    """Show nothing where feet and inches are both 0, and 0 where only one of them is."""
    nothing = desk.workbook.add_format({"num_format": ";;;"})
    for block in desk.book.blocks:
        for item in block.fields:
            marks = [p for p in item.parts if p.role == "mark" and not p.working]
            if len(marks) > 1:
                feet, inches = (desk.places.spots[p.key] for p in marks)
                both = f"=AND({_row_fixed(feet)}=0,{_row_fixed(inches)}=0)"
                rule = {"type": "formula", "format": nothing, "criteria": both}
                ends = (*feet.at(0), *inches.at(block.lines - 1))
                desk.sheets[feet.sheet].conditional_format(*ends, rule)


def _whole_percents(desk: _Desk) -> None:
    """Show typed percentages that are whole without decimals."""
    look = desk.workbook.add_format({"num_format": WHOLE})
    for key, (block, _, part) in desk.book.parts.items():
        if part.format == TYPED:
            spot = desk.places.spots[key]
            percent = f"{address(*spot.at(0))}*100"
            rule = {"type": "formula", "format": look,
                    "criteria": f"=ROUND({percent},6)=ROUND({percent},0)"}  # fmt: skip
            ends = (*spot.at(0), *spot.at(block.lines - 1))
            desk.sheets[spot.sheet].conditional_format(*ends, rule)


def _row_fixed(spot: Spot) -> str:
    row, column = spot.at(0)
    name = address(row, column)
    return f"${name}" if spot.down else name.rstrip("0123456789") + f"${row + 1}"


STATED = ("state", "says", "headline", "double", "verdict", "first_open", "row_state")
"""The roles whose words may begin with that of a state, and take its color then."""


def _state_words(desk: _Desk, cells: list[Cell]) -> None:
    if "states" not in desk.book.keys:
        return
    words = desk.book.parts[desk.book.keys["states"]][2].values
    looks = {
        word: desk.workbook.add_format({"font_color": style.STATES[state], "bold": True})
        for state, word in zip(STATES, words, strict=True)
    }
    shown: dict[str, list[str]] = {}
    for key, (block, _, part) in desk.book.parts.items():
        if part.role in STATED:
            spot = desk.places.spots[key]
            ends = (address(*spot.at(line)) for line in (0, block.lines - 1))
            shown.setdefault(spot.sheet, []).append(":".join(dict.fromkeys(ends)))
    for cell in cells:
        if cell.role == "status":
            shown.setdefault(cell.sheet, []).append(address(cell.row, cell.column))
    for sheet, ranges in shown.items():
        for word, look in looks.items():
            rule = {"type": "text", "criteria": "begins with", "value": word, "format": look,
                    "multi_range": " ".join(ranges)}  # fmt: skip
            desk.sheets[sheet].conditional_format(ranges[0], rule)


def _rules(desk: _Desk) -> None:
    """Draw the lines of a paper only under what is said, so that an empty row is white.

    A line of a table is drawn whole where its first cell says something.
    """
    looks = {
        role: desk.workbook.add_format({"bottom": kind, "bottom_color": color})
        for role, (kind, color) in style.RULED.items()
    }
    firsts: dict[tuple[str, int], str] = {}
    for key, (block, _, part) in desk.book.parts.items():
        if part.role in looks and not part.working:
            spot = desk.places.spots[key]
            (row, column), (last, _) = spot.at(0), spot.at(block.lines - 1)
            cell = f"${address(row, column)}"
            if part.role in style.WHOLE:
                cell = firsts.setdefault((block.key, row), cell)
            rule = {"type": "formula", "format": looks[part.role],
                    "criteria": f'=AND({cell}<>"",{cell}<>0)'}  # fmt: skip
            ends = (row, column, last, column + part.span - 1)
            desk.sheets[spot.sheet].conditional_format(*ends, rule)


def _draw(desk: _Desk) -> None:
    for block in desk.book.blocks:
        for pile in charts.piles(desk.book, block):
            stand = desk.places.stand(block.key, block.sheet)
            row, column = charts.corner(desk.places, stand, pile[0])
            for number, chart in enumerate(pile):
                drawing = desk.workbook.add_chart(charts.kind(chart))
                charts.draw(drawing, desk.places, block, chart)
                again = chart.words in {one.words for one in pile[:number]}  # say it once
                placed = {
                    "description": chart.words,
                    "decorative": again,
                    "object_position": 1,
                    "x_offset": 4,
                    "y_offset": 3,
                }
                desk.sheets[block.sheet].insert_chart(row, column, drawing, placed)


def _set_up(desk: _Desk, sheet: Sheet, cells: list[Cell]) -> None:
    book, page = desk.book, desk.sheets[sheet.name]
    cells = [c for c in cells if not (sheet.bare and c.role == "way")]  # it stands beside the page
    last_row = max(c.row for c in cells)
    last_column = max(c.column + c.span - 1 for c in cells)
    columns = pages.widths(desk.places, sheet, last_column)
    locked = desk.workbook.add_format({"locked": True})
    for column, width in columns.items():
        page.set_column(column, column, width, locked)
    page.set_column(last_column + 1, last_column + 1, None, locked)
    if sheet.row_height or sheet.letters != pages.USUAL_LETTERS:
        usual = pages.ROW_HEIGHT * sheet.letters / pages.USUAL_LETTERS
        page.set_default_row(sheet.row_height or usual)
    head = 0 if sheet.bare else LINK_ROW + 1
    tall = pages.heights(sheet, cells, columns)
    last_printed = pages.last_column(cells, columns)
    if sheet.logo and desk.face.logo:
        tall[head] = pages.head_height(sheet, tall.get(head, 0.0), desk.face.logo.height)
        _stand(desk, page, desk.face.logo, (head, sheet.logo_column or last_printed + 1))
    for row, height in tall.items():
        page.set_row(row, height)
    page.hide_gridlines(2)
    page.set_zoom(pages.zoom(columns))
    page.set_selection(*desk.cursors[sheet.name] * 2)
    if not sheet.bare:
        page.freeze_panes(*pages.in_sight(desk.places, sheet, columns))
    groups = list(dict.fromkeys(s.group for s in book.sheets))
    page.set_tab_color(style.TABS[groups.index(sheet.group) % len(style.TABS)])
    if sheet.hidden:
        page.hide()
    page.protect("", {"format_columns": True, "format_rows": True, "objects": True})
    foot = pages.foot(desk.places, sheet, last_row)
    _print(desk, sheet, (columns, tall), (head, foot, last_printed))


def _print(
    desk: _Desk,
    sheet: Sheet,
    sizes: tuple[dict[int, float], dict[int, float]],
    ends: tuple[int, int, int],
) -> None:
    """Set up how a sheet prints, from what ``sheaf`` asks for."""
    book, page = desk.book, desk.sheets[sheet.name]
    head, foot, last_printed = ends
    _, tall = sizes
    page.set_paper(1 if book.local.paper == "Letter" else 9)
    if sheet.landscape:
        page.set_landscape()
    if sheet.bare and sheet.outside:
        page.set_margins(*pages.OWN)
        page.center_horizontally()
        page.set_print_scale(of_a_paper(sheet, tall, foot))
        page.set_h_pagebreaks(sheet.breaks)
    elif sheet.paper or sheet.hidden:
        page.set_margins(*pages.TIGHT)
        page.fit_to_pages(1, sheet.paper)
    else:
        page.set_margins(*pages.MARGINS)
        made = sheaf(book, desk.places, sheet, sizes, ends)
        page.set_print_scale(made.percent)
        page.set_h_pagebreaks(made.rows)
        page.set_v_pagebreaks(made.columns)
        if made.columns:
            page.repeat_columns(0, LABEL_COLUMN)
    empty = (foot + 1, 0) * 2  # a hidden sheet is not printed with the others either
    page.print_area(*(empty if sheet.hidden else (head, 0, foot, last_printed)))
    if not sheet.bare or sheet.outside:
        page.repeat_rows(0)  # whose paper it is
    if not sheet.bare:
        page.repeat_rows(head)
    page.set_start_page(1)  # of this sheet, whatever is printed before it
    made_by = f"&L{book.title} {book.version}  &A" if book.kept and not sheet.paper else ""
    page.set_footer(f"{made_by}&R&9Page &P")  # &N counts the pages of all sheets printed with it


def _stand(desk: _Desk, page: Worksheet, logo: style.Logo, at: tuple[int, int]) -> None:
    """Put the logo into the row of the title, so that it ends where its column begins."""
    placed = {
        "image_data": BytesIO(logo.png),
        "description": desk.book.words["logo"].format(name=desk.owner),
        "object_position": 2,  # a column that is made wider does not stretch it
        "x_offset": -logo.width,
        "y_offset": pages.LOGO_GAP,
        "x_scale": logo.scale[0],
        "y_scale": logo.scale[1],
    }
    page.insert_image(*at, "logo.png", placed)

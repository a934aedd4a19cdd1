"""What stays in sight of a sheet: its width, its head, the way to others, what is wrong on it."""

from __future__ import annotations

import re
import zipfile
from collections import Counter
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils.cell import range_boundaries

from pourtally import pages, style
from pourtally.grid import is_formula
from pourtally.model import Size, Units
from pourtally.place import LINK_ROW, address
from shop import laid_out, usual_cells
from test_structure import contrast, luminance

SIZED = pytest.mark.parametrize(
    ("units", "size"), [("us", "usual"), ("si", "usual"), ("us", "small"), ("si", "small")]
)
ABOUT = 70
"""Pixels of a window that may be taken by what stays in sight above a table's own head."""
FRAMES = ("entry", "remark", "clause", "yours", "pen", "sample", "yours_shown")  # or shown as one


def columns_of(units: Units, size: Size, name: str) -> dict[int, float]:
    """Return the widths of a sheet's columns."""
    book, places = laid_out(units, size)
    sheet = next(s for s in book.sheets if s.name == name)
    last = max(c.column for c in usual_cells(units, size) if c.sheet == name)
    return pages.widths(places, sheet, last)


@SIZED
def test_no_sheet_is_wider_than_a_window_or_than_it_says(units: Units, size: Size) -> None:
    book, _ = laid_out(units, size)
    shown = [s for s in book.sheets if not s.hidden]
    wide = {s.name: pages.pixels(columns_of(units, size, s.name)) for s in shown}
    room = {s.name: s.wide or pages.WINDOW for s in shown}
    assert {n: w for n, w in wide.items() if w > room[n]} == {}


def test_a_sheet_that_fits_a_window_is_seen_whole_in_a_narrower_one(
    shelf: Callable[[str], Path],
) -> None:
    """LibreOffice shows columns 8 % wider, beside a bar of its own: 1,266 pixels are left."""
    bare = {s.name for s in laid_out("us")[0].sheets if s.bare}  # with ways beside the page
    for sheet in openpyxl.load_workbook(shelf("blank-us")):
        zoom = sheet.sheet_view.zoomScale or 100
        wide = pages.pixels(columns_of("us", "usual", sheet.title))
        assert 90 <= zoom <= 100, sheet.title
        if wide <= pages.WINDOW and sheet.title not in bare:
            assert wide * 1.08 * zoom / 100 <= 1266, sheet.title


def test_a_sheet_that_may_be_wide_needs_it() -> None:
    book, _ = laid_out("us")
    said = [s for s in book.sheets if s.wide]
    wide = {s.name: pages.pixels(columns_of("us", "usual", s.name)) for s in said}
    assert all(pages.WINDOW < wide[s.name] <= s.wide < wide[s.name] + 50 for s in said)


@SIZED
def test_the_head_of_every_sheet_is_slim(units: Units, size: Size) -> None:
    book, _ = laid_out(units, size)
    cells = usual_cells(units, size)
    for sheet in (s for s in book.sheets if not (s.paper or s.bare)):
        own = [c for c in cells if c.sheet == sheet.name]
        rows = pages.heights(sheet, own, columns_of(units, size, sheet.name))
        points = sum(rows.get(row, pages.ROW_HEIGHT) for row in range(LINK_ROW, LINK_ROW + 3))
        assert points / 0.75 <= ABOUT, sheet.name


def test_sheets_lead_to_the_ones_beside_them_and_to_the_first(shelf: Callable[[str], Path]) -> None:
    workbook = openpyxl.load_workbook(shelf("blank-us"))
    shown = [s.title for s in workbook if s.sheet_state == "visible"]
    assert len(shown) <= 27
    assert workbook.active.title == shown[0]
    bare = {s.name for s in laid_out("us")[0].sheets if s.bare}
    for before, after in pairwise(shown):
        assert before in bare or _way(workbook[before], "D") == after
        if after in bare:
            continue
        assert (_way(workbook[after], "B"), _way(workbook[after], "C")) == (before, shown[0])
        assert workbook[after].print_area.startswith(f"'{after}'!$A$2:")


def test_the_ways_beside_a_page_are_not_printed(shelf: Callable[[str], Path]) -> None:
    workbook = openpyxl.load_workbook(shelf("demo"))
    for sheet in (s for s in laid_out("us")[0].sheets if s.paper and s.bare):
        page = workbook[sheet.name]
        *_, last, bottom = range_boundaries(page.print_area.partition("!")[2])
        ways = [c for row in page.iter_rows(max_row=bottom) for c in row if c.hyperlink]
        assert len(ways) >= 2, sheet.name
        assert [c.coordinate for c in ways if c.column <= last] == [], sheet.name


def _way(sheet: object, column: str) -> str:
    link = sheet[f"{column}{LINK_ROW + 1}"].hyperlink  # type: ignore[index]
    return str(link.location).partition("!")[0].strip("'")


def test_the_cursor_waits_in_the_first_entry(shelf: Callable[[str], Path]) -> None:
    book, cells = laid_out("us")[0], usual_cells("us")
    entries = book.entries().keys() - {"shown_slab.rectangle", "shown_walk.walk"}  # of a drawing
    workbook = openpyxl.load_workbook(shelf("blank-us"))
    for sheet in workbook:
        typed = [(c.row, c.column) for c in cells if c.sheet == sheet.title and c.part in entries]
        views = sheet.sheet_view.selection
        assert views[-1].activeCell == address(*min(typed, default=(LINK_ROW, 0))), sheet.title


@SIZED
def test_no_two_things_stand_in_one_cell(units: Units, size: Size) -> None:
    stand = Counter(cell.place for cell in usual_cells(units, size))
    assert [place for place, count in stand.items() if count > 1] == []


def test_only_workings_are_hidden(shelf: Callable[[str], Path]) -> None:
    workbook = openpyxl.load_workbook(shelf("blank-us"))
    assert [s.title for s in workbook if s.sheet_state != "visible"] == ["Workings"]


def test_a_sheet_says_what_is_wrong_on_it(shelf: Callable[[str], Path]) -> None:
    book, cells = laid_out("us")[0], usual_cells("us")
    heads = {c.sheet: str(c.content) for c in cells if c.role == "status"}
    typed = {b.sheet for b, _, _ in book.entries().values()} - {"Start"}
    quiet = {s.name for s in book.sheets if s.outside or s.language or s.bare}
    for sheet in typed - quiet:
        assert "COUNTIF(Checks!" in heads[sheet] or "SUM(Checks!" in heads[sheet], sheet
    with zipfile.ZipFile(shelf("spoiled-us")) as package:
        words = package.read("xl/worksheets/sheet2.xml").decode()
    told = re.search(r'r="A3"[^>]*><f>[^<]*</f><v>([^<]*)</v>', words)
    assert told
    assert re.search(r"STOP: .* · on this sheet [1-9]\d*: ", told[1])


def test_checks_and_limits_stand_in_the_order_of_sheets() -> None:
    book, _ = laid_out("us")
    order = [s.name for s in book.sheets]
    of = {b.key: order.index(b.sheet) for b in book.blocks}
    limits = [of[code.split(".", maxsplit=1)[0]] for code in book.parts["limits.say"][0].codes]
    checks = [of[str(v).split(".", maxsplit=1)[0]] for v in book.parts["checks.at"][2].values]
    assert (limits, checks) == (sorted(limits), sorted(checks))


@SIZED
def test_a_head_that_stays_in_sight_is_the_first_on_its_sheet(units: Units, size: Size) -> None:
    book, places = laid_out(units, size)
    frozen = [s for s in book.sheets if s.frozen]
    assert frozen
    for sheet in frozen:
        first = next(stand for stand in places.stands if stand.sheet == sheet.name)
        assert first.block.key == sheet.frozen
        assert pages.in_sight(places, sheet, {})[0] == first.head_row + 1 <= 7


# Looks -----------------------------------------------------------------------------------


@pytest.mark.parametrize("role", FRAMES)
def test_an_entry_is_seen_without_color(role: str) -> None:
    look = style.ROLES[role]
    assert look["border"] == 1
    for ground in (style.PAPER, look["bg_color"]):
        assert contrast(look["border_color"], ground) >= 3


def test_the_rule_under_a_head_is_seen() -> None:
    look = style.ROLES["header"]
    assert contrast(look["bottom_color"], look["bg_color"]) >= 3


def test_nothing_but_an_entry_stands_in_a_box() -> None:
    assert {role for role, look in style.ROLES.items() if "border" in look} == set(FRAMES)


def test_tabs_side_by_side_differ_in_gray() -> None:
    for one, other in pairwise(style.TABS):
        assert abs(luminance(one) - luminance(other)) > 0.15
    book, _ = laid_out("us")
    assert len({s.group for s in book.sheets}) <= len(style.TABS)


def test_words_over_heads_stand_over_columns_side_by_side() -> None:
    book, cells = laid_out("us")[0], usual_cells("us")
    said = {f.over for b in book.blocks for f in b.fields if f.over}
    shown = [c for c in cells if c.role == "over"]
    assert {str(c.content) for c in shown} - {""} == said
    assert not [c for c in shown if is_formula(c.content)]

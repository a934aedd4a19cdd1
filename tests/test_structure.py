"""The workbook's structure, over the live declarations and the built files.

What is asked of every cell here is asked of a new trade item the moment it is declared.
"""

from __future__ import annotations

import ast
import os
import re
import subprocess
import sys
import tempfile
import zipfile
from collections.abc import Callable, Iterator
from functools import lru_cache
from graphlib import TopologicalSorter
from pathlib import Path
from xml.etree import ElementTree as ET

import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.utils import column_index_from_string
from openpyxl.workbook import Workbook
from openpyxl.worksheet.worksheet import Worksheet

import pourtally
from conftest import JOBS, LOOKED_AT, SIZED
from pourtally import style
from pourtally.cause import inputs
from pourtally.charts import piles
from pourtally.files import templates_folder
from pourtally.grid import Cell, is_formula
from pourtally.model import Book, Part, Units
from pourtally.place import address
from shop import laid_out, results, usual_cells, write_copy

pytestmark = pytest.mark.xdist_group("structure")  # its workbooks are made once

SAFE = {
    "SUM", "SUMIF", "SUMIFS", "SUMPRODUCT", "COUNTIF", "COUNTIFS", "COUNTA", "COUNT", "MIN", "MAX",
    "ABS", "INT", "ROUND", "ROUNDUP", "ROUNDDOWN", "SQRT", "PI", "SIN", "COS", "TAN", "ASIN",
    "ATAN2", "RADIANS", "EXP", "LN", "IF", "AND", "OR", "NOT", "IFERROR", "ISERROR", "ISNUMBER",
    "ISTEXT", "ISBLANK", "N", "INDEX", "MATCH", "CHOOSE", "DATE", "EDATE", "NA", "NORMSDIST",
    "NORMSINV", "SUBSTITUTE", "TRIM", "FIXED", "RIGHT", "MONTH", "DAY", "WEEKDAY", "LEN", "LOWER",
    "ADDRESS", "HYPERLINK",
}  # fmt: skip
"""Functions that every engine tried works out alike, and that depend on nothing outside."""
SHOWING = {"LEFT", "LEN", "SEARCH"}
"""What the writing library itself puts in a rule that tints a cell by its first word."""
ROUNDINGS = {"ROUND", "ROUNDUP", "ROUNDDOWN", "FIXED"}
LONGEST = 255
LONG = 100
FEW = 0.105  # a place in the drawing is looked up by the number of its shape
"""The greatest share of the declared formulas that may be longer than ``LONG``."""
LETTER, A4 = 1, 9
LAST_COLUMN = 16384
HEAVIEST = 1300 * 1024  # bytes: 30 for each of 39,000 formulas, and drawings; it goes by mail

MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
NAMED = ("order", "headline")
UNITS = pytest.mark.parametrize("units", ["us", "si"])


@lru_cache(maxsize=4)
def read(path: Path) -> Workbook:
    return openpyxl.load_workbook(path)


@pytest.fixture(params=["blank-us", "blank-si", "filled-us", "filled-si", "filled-us-small"])
def opened(request: pytest.FixtureRequest, shelf: Callable[[str], Path]) -> tuple[Book, Workbook]:
    """Return the declarations of a workbook and the workbook as read from its file."""
    name: str = request.param
    units: Units = "si" if name.endswith("si") else "us"
    return laid_out(units, "small" if name in SIZED else "usual")[0], read(shelf(name))


@pytest.fixture(params=["blank-us", "blank-si"])
def blank(request: pytest.FixtureRequest, shelf: Callable[[str], Path]) -> tuple[Book, Workbook]:
    """Return the same for the workbooks that nobody has filled in."""
    units: Units = "us" if request.param.endswith("us") else "si"
    return laid_out(units)[0], read(shelf(request.param))


def formulas(book: Book, sheets: Workbook) -> Iterator[tuple[str, str]]:
    """Yield one written formula for each that is declared, the last line's, with its key.

    A read of an entry, which is one cell of a range between locked ones, is told as that cell.
    """
    for key, (block, _, part) in book.parts.items():
        if part.kind == "formula":
            alike = len(part.formulas) == 1
            for line in [block.lines - 1] if alike else range(block.lines):
                if part.formula(line):
                    cell = cell_of(book, sheets, key, line)
                    yield key, shown_short(str(cell.value))


def cell_of(book: Book, sheets: Workbook, key: str, line: int = 0) -> openpyxl.cell.Cell:
    """Return a part's cell: by the name written in the file, or a working by its place."""
    block, item, part = book.parts[key]
    across = block.shape == "across"
    if key in sheets.defined_names:
        ((sheet, address),) = sheets.defined_names[key].destinations
        first = sheets[sheet][address.replace("$", "")]
        if part.kind == "entry":  # its name stands on the head of its column, or on its label
            beside = [p for p in item.parts if not p.working].index(part) + 1
            down = block.shape == "table"
            first = first.offset(down, 0 if down else 1 if across else beside)
    else:
        spot = laid_out(book.units, book.size)[1].spots[key]
        first = sheets[spot.sheet].cell(spot.row + 1, spot.column + 1)
    return first.offset(0, line) if across else first.offset(line, 0)


_READ = (
    r"INDEX\(((?:\w+!)?)\$([A-Z]+)\$(\d+):\$[A-Z]+\$\d+,"
    r"(?:1,\d+|\d+,1|\$A\d+\+1,1|1,\$A\d+\+1|1,[A-Z]+\$\d+\+1)\)"
)
ENTRY = re.compile(rf'IFERROR\({_READ}&"",""\)|IFERROR\(N\({_READ}\),0\)|{_READ}')
"""An entry as formulas read it: the n-th cell of a row or a column, n a number or a line's.

Around it stands what an error value in that cell is read as.
"""


def shown_short(formula: str) -> str:
    """Return a formula with each read of an entry told as its cell."""

    def cell(found: re.Match[str]) -> str:
        groups = [g for g in found.groups() if g is not None]
        at = "".join(groups)
        return f"N({at})" if found[0].startswith("IFERROR(N(") else at

    return ENTRY.sub(cell, formula)


def tokens(formula: str) -> list[Token]:
    return list(Tokenizer(formula).items)


def is_call(token: Token) -> bool:
    return bool(token.type == Token.FUNC and token.subtype == Token.OPEN)


# Formulas ------------------------------------------------------------------------------


def test_formulas_use_safe_functions_only(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    used = {
        (key, t.value.rstrip("("))
        for key, formula in formulas(book, sheets)
        for t in tokens(formula)
        if is_call(t)
    }
    assert {(key, name) for key, name in used if name not in SAFE} == set()


def test_rules_of_cells_use_safe_functions_only(blank: tuple[Book, Workbook]) -> None:
    _, sheets = blank
    rules = [
        str(formula)
        for sheet in sheets
        for ranges in sheet.conditional_formatting
        for rule in ranges.rules
        for formula in rule.formula
    ]
    rules += [
        str(formula)
        for sheet in sheets
        for rule in sheet.data_validations.dataValidation
        for formula in (rule.formula1, rule.formula2)
        if formula
    ]
    assert rules
    names = {t.value.rstrip("(") for r in rules for t in tokens(f"={r}") if is_call(t)}
    assert names <= SAFE | SHOWING


def test_what_is_counted_is_asked_for_in_whole_numbers(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    _, places = laid_out(book.units)
    asked = {
        (sheet.title, str(rule.sqref).partition(":")[0]): rule
        for sheet in sheets
        for rule in sheet.data_validations.dataValidation
    }
    kinds = {
        key: asked[places.spots[key].sheet, address(*places.spots[key].at(0))]
        for key, (_, _, part) in book.entries().items()
        if part.entry == "number"
    }
    counted = {key for key, rule in kinds.items() if rule.type == "whole"}
    assert {"pieces.count", "steps.count"} <= counted
    assert counted == {key for key in kinds if book.parts[key][2].limits.whole}
    assert all(kinds[key].error.startswith("A whole number from ") for key in counted)


def test_no_formula_holds_a_number_of_its_own(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    found = [(k, n) for k, f in formulas(book, sheets) for n in numbers(f) if n not in "012"]
    assert found == []


def numbers(formula: str) -> Iterator[str]:
    """Yield the numbers written in a formula, but digits of a rounding and rows of links."""
    calls: list[list[str | int]] = []
    for token in tokens(formula):
        if token.subtype == Token.OPEN:
            calls.append([token.value.rstrip("("), 1])
        elif token.subtype == Token.CLOSE:
            calls.pop()
        elif token.type == Token.SEP and calls:
            calls[-1][1] = int(calls[-1][1]) + 1
        elif token.subtype == Token.NUMBER:
            digits = calls and calls[-1][0] in ROUNDINGS and calls[-1][1] == 2
            before = formula[: formula.find(f"&{token.value}+")]
            row = re.search(r'"#\w+![A-Z]+"$', before)  # where the lines of a table begin
            yield from () if digits or row else (token.value,)


def test_formulas_are_short(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    lengths = {key: len(formula) for key, formula in formulas(book, sheets)}
    assert {k: n for k, n in lengths.items() if n > LONGEST} == {}
    # The place of a choice and a mark in words are two patterns of the generator's own, said
    # once there: what counts is what the trade's files write
    several = [f for b in book.blocks for f in b.fields if len(f.parts) > 1]
    patterns = {f"{f.key}{of}" for f in several for of in (".no", ".says", ".odd")}
    declared = {k: n for k, n in lengths.items() if k not in patterns}
    long = {k: n for k, n in declared.items() if n > LONG}
    share = len(long) / len(declared)
    assert share <= FEW, f"{share:.1%} are longer than {LONG}: {sorted(long)}"


@UNITS
def test_words_in_a_formula_are_as_short_as_excel_takes_them(units: Units) -> None:
    said = {
        words
        for cell in usual_cells(units)
        if is_formula(cell.content)
        for words in re.findall(r'"((?:[^"]|"")*)"', cell.content)
    }
    assert len(said) > 100
    assert {words for words in said if len(words) > 255} == set()


def test_no_if_stands_inside_another(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    assert [key for key, formula in formulas(book, sheets) if deepest_if(formula) > 1] == []


def deepest_if(formula: str) -> int:
    open_calls: list[str] = []
    deepest = 0
    for token in tokens(formula):
        if token.subtype == Token.OPEN:
            open_calls.append(token.value)
            deepest = max(deepest, open_calls.count("IF("))
        elif token.subtype == Token.CLOSE:
            open_calls.pop()
    return deepest


def test_a_column_holds_one_formula(opened: tuple[Book, Workbook]) -> None:
    book, sheets = opened
    several = []
    for key, (block, _, part) in book.parts.items():
        if part.kind == "formula" and len(part.formulas) == 1:
            column = [cell_of(book, sheets, key, line).value for line in range(block.lines)]
            first = tokens(str(column[0]))
            if not all(follows(first, tokens(str(f)), n) for n, f in enumerate(column)):
                several.append(key)
    assert several == []


def follows(first: list[Token], later: list[Token], lines: int) -> bool:
    """Tell whether a formula is the first line's with every free cell so many lines on.

    The lines of a block run down or to the right; a free cell steps one way or the other,
    and a part of it behind a dollar sign stays.
    """
    if len(first) != len(later):
        return False
    for one, other in zip(first, later, strict=True):
        if one.subtype != Token.RANGE:
            if one.value != other.value:
                return False
            continue
        (sheet, here), (sheet_later, there) = corners(one.value), corners(other.value)
        if sheet != sheet_later or not (
            there == [step(c, lines, 0) for c in here] or there == [step(c, 0, lines) for c in here]
        ):
            return False
    return True


Corner = tuple[str, int, str, int]
"""A dollar sign or nothing and the column, the same and the row."""


def corners(reference: str) -> tuple[str, list[Corner]]:
    sheet, _, area = reference.rpartition("!")
    found = re.findall(r"(\$?)([A-Z]+)(\$?)(\d+)", area)
    return sheet, [(c, column_index_from_string(x), r, int(n)) for c, x, r, n in found]


def step(corner: Corner, down: int, right: int) -> Corner:
    fixed_column, column, fixed_row, row = corner
    column += 0 if fixed_column else right or (down if fixed_row else 0)
    row += 0 if fixed_row else down or (right if fixed_column else 0)
    return fixed_column, column, fixed_row, row


@pytest.mark.parametrize(
    ("later", "same"),
    [
        ("=A3+$B$2*SUM(C5:C11)", True),
        ("=C1+$B$2*SUM(E3:E9)", True),
        ("=A1+$B$2*SUM(C5:C11)", False),
        ("=A3+$B$4*SUM(C5:C11)", False),
        ("=A3+$B$2*SUM(C5:C10)", False),
        ("=A3+$B$2*MAX(C5:C11)", False),
        ("=A3-$B$2*SUM(C5:C11)", False),
    ],
)
def test_a_formula_that_strays_from_its_column_is_caught(later: str, same: bool) -> None:
    assert follows(tokens("=A1+$B$2*SUM(C3:C9)"), tokens(later), 2) is same


def test_nothing_but_the_digits_of_a_rounding_is_let_through() -> None:
    assert list(numbers("=ROUND(A1*3,6)+12*MAX(A2,0)")) == ["3", "12", "0"]
    assert deepest_if("=IF(A1,IF(A2,1,0),0)") == 2
    assert deepest_if("=IF(A1,1,0)+IF(A2,1,0)") == 1


# Cells -----------------------------------------------------------------------------------


def test_entries_and_only_entries_are_unlocked(opened: tuple[Book, Workbook]) -> None:
    book, sheets = opened
    free = {
        (sheet.title, cell.coordinate): cell.value
        for sheet in sheets
        for cell in written(sheet)
        if not cell.protection.locked
    }
    entries = {
        (cell.parent.title, cell.coordinate)
        for key, (block, _, _) in book.entries().items()
        for cell in (cell_of(book, sheets, key, line) for line in range(block.lines))
    }
    assert set(free) == entries
    assert [place for place, value in free.items() if str(value).startswith("=")] == []
    assert [s.title for s in sheets if not s.protection.sheet] == []


def written(sheet: Worksheet) -> Iterator[openpyxl.cell.Cell]:
    """Yield the cells that stand in the file; others take the style of their column."""
    yield from (cell for row in sheet.iter_rows() for cell in row if cell.has_style)


def test_what_is_not_written_is_locked_and_a_cell_that_was_cut_is_not(
    blank: tuple[Book, Workbook],
) -> None:
    _, sheets = blank
    assert sheets._named_styles["Normal"].protection.locked is False
    for sheet in sheets:
        columns = sorted(sheet.column_dimensions.values(), key=lambda c: int(c.min))
        assert [c.min for c in columns] == [1, *(c.max + 1 for c in columns[:-1])], sheet.title
        assert columns[-1].max == LAST_COLUMN, sheet.title
        assert all(c.protection.locked for c in columns), sheet.title


def test_no_formula_names_a_cell_that_can_be_moved(opened: tuple[Book, Workbook]) -> None:
    _, sheets = opened
    named = {
        (area, cell.parent.title, cell.coordinate)
        for sheet in sheets
        for cell in written(sheet)
        if str(cell.value).startswith("=")
        for area in areas(str(cell.value))
    }
    free = {
        (sheet.title, cell.coordinate)
        for sheet in sheets
        for cell in written(sheet)
        if not cell.protection.locked
    }
    moved = [
        (title, at, area)
        for area, title, at in named
        for sheet, cells in [area.rpartition("!")[::2]]
        for corner in cells.replace("$", "").split(":")
        if (sheet or title, corner) in free
    ]
    assert len(named) > 10_000
    assert moved == []


def areas(formula: str) -> Iterator[str]:
    """Yield the cells and ranges that a formula names."""
    without_words = re.sub(r'"[^"]*"', "", formula)
    yield from re.findall(f"(?<![\\w$!])(?:\\w+!)?{CELL}(?::{CELL})?", without_words)


CELL = r"\$?[A-Z]{1,3}\$?\d+"


def test_a_row_is_indexed_by_row_and_column(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    rows = [
        (key, rest)
        for key, formula in formulas(book, sheets)
        for first, last, rest in re.findall(rf"INDEX\((?:\w+!)?{ROW}:{ROW},([^()]*)", formula)
        if first == last
    ]
    assert len(rows) > 5
    assert [(key, rest) for key, rest in rows if not rest.startswith("1,")] == []


ROW = r"\$?[A-Z]+\$?(\d+)"


@UNITS
def test_no_range_holds_what_its_formula_feeds(units: Units) -> None:
    by_place = {c.place: c for c in usual_cells(units) if is_formula(c.content)}
    needs = {at: by_place.keys() & set(inputs(cell)) for at, cell in by_place.items()}
    assert sum(map(len, needs.values())) > 10 * len(by_place)
    TopologicalSorter(needs).prepare()  # it names the cells of a circle


def test_a_formula_that_names_an_entry_or_stands_in_its_own_range_would_be_caught() -> None:
    assert [*areas('=IF(Measure!$D$5>0,SUM(B2:$B$9),"A1")&C3')] == ["Measure!$D$5", "B2:$B$9", "C3"]
    own = Cell("Rates", 4, 2, "=SUM($C$1:$C$9)", "result")
    assert own.place in set(inputs(own))
    read = "=N(INDEX(Measure!$D$26:$D$67,$A27+1,1))*2"
    assert shown_short(read) == "=N(Measure!D26)*2"
    assert ENTRY.search("=INDEX($D$26:$D$67,MATCH(1,$E$26:$E$67,0),1)") is None


def test_every_name_reads_back_to_the_one_cell_that_its_label_names(
    blank: tuple[Book, Workbook],
) -> None:
    book, sheets = blank
    named = {k for k, (_, _, p) in book.parts.items() if p.kind == "entry" or p.role in NAMED}
    named |= {key for b in book.blocks if b.codes if (key := f"{b.key}.code") in book.parts}
    assert set(sheets.defined_names) == named
    for key in named:
        block, item, _ = book.parts[key]
        ((sheet, address),) = sheets.defined_names[key].destinations
        assert re.fullmatch(r"\$[A-Z]+\$\d+", address), f"{key} is {address}, not one cell"
        cell = sheets[sheet][address.replace("$", "")]
        assert cell.protection.locked, key
        if block.shape == "table":
            entry = book.parts[key][2].kind == "entry"
            label = cell.offset(0 if entry else -1, 0).value
            assert str(label).startswith(item.heading or item.label), key
        else:
            rows = range(cell.row, 0, -1)
            label = next(v for r in rows if (v := cell.parent.cell(r, 2).value))
            assert label == item.label, key


def test_a_picture_or_a_note_can_be_put_on_any_sheet(blank: tuple[Book, Workbook]) -> None:
    _, sheets = blank
    assert {s.title: s.protection.objects for s in sheets if s.protection.objects} == {}


@UNITS
def test_every_line_whose_number_a_formula_asks_for_is_numbered(units: Units) -> None:
    numbers = {(c.sheet, c.row) for c in usual_cells(units) if c.column == 0 and c.content}
    asked = {
        (cell.sheet, int(row) - 1)
        for cell in usual_cells(units)
        if is_formula(cell.content)
        for row in re.findall(r"(?<!!)\$A\$?(\d+)", cell.content)
    }
    assert len(asked) > 500
    assert asked - numbers == set()


@UNITS
def test_every_number_typed_has_limits(units: Units) -> None:
    typed = [p for _, _, p in laid_out(units)[0].entries().values() if is_number(p)]
    assert [p.key for p in typed if not p.limits.least < p.limits.most] == []


@UNITS
def test_every_rate_says_where_it_comes_from(units: Units) -> None:
    book, _ = laid_out(units)
    rates = [t for t in book.entries().values() if t[0].sheet == "Rates" and is_number(t[2])]
    assert len(rates) > 10
    assert [part.key for _, item, part in rates if not item.source] == []


def is_number(part: Part) -> bool:
    return part.entry in ("number", "date")


# Sheets ----------------------------------------------------------------------------------


def test_sheets_have_names_of_their_own_and_no_merged_cells(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    names = [s.title.casefold() for s in sheets]
    assert len(names) == len(set(names))
    filled = {block.sheet for block, _, _ in book.entries().values()}
    pages = {s.name for s in book.sheets if s.bare or s.name not in filled}  # nothing is typed
    assert {s.title for s in sheets if s.merged_cells.ranges} <= pages
    places = laid_out(book.units, book.size)[1]
    for key, (block, _, _) in book.entries().items():  # what is typed stands in a cell of its own
        spot = places.spots[key]
        typed = {address(*spot.at(line)) for line in range(block.lines)}
        merged = {str(m).split(":")[0] for m in sheets[spot.sheet].merged_cells.ranges}
        assert not typed & merged, key


def test_every_sheet_is_ready_to_print(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    papers = {s.name: s.paper for s in book.sheets}
    free = {s.name for s in book.sheets if s.bare}
    fitted = {s.name for s in book.sheets if s.hidden or (s.paper and not s.outside)}
    for sheet in sheets:
        assert sheet.print_area, sheet.title
        fits = sheet.sheet_properties.pageSetUpPr
        assert bool(fits and fits.fitToPage) == (sheet.title in fitted), sheet.title
        assert bool(sheet.col_breaks.brk) == bool(sheet.print_title_cols), sheet.title
        if sheet.title in fitted:
            pages = sheet.page_setup.fitToHeight
            assert (1 if pages is None else pages) == papers[sheet.title], sheet.title
        assert sheet.page_setup.paperSize == (LETTER if book.units == "us" else A4), sheet.title
        assert sheet.print_title_rows or sheet.title in free, sheet.title
        footer = sheet.oddFooter
        words = "".join(str(p.text) for p in (footer.left, footer.center, footer.right))
        assert "&P" in words, sheet.title
        assert (book.version in words) != bool(papers[sheet.title]), sheet.title
        assert not (papers[sheet.title] and book.title in words), sheet.title
        assert sheet.page_setup.useFirstPageNumber, sheet.title
        assert sheet.freeze_panes or sheet.title in free, sheet.title


# Files -----------------------------------------------------------------------------------


def drawn(units: Units) -> int:
    """Return how many drawings a workbook has, with those that are repeated."""
    book, _ = laid_out(units)
    return sum(len(pile) for block in book.blocks for pile in piles(book, block))


def test_every_drawing_is_told_in_words_and_a_pile_of_them_once(
    shelf: Callable[[str], Path],
) -> None:
    told: list[str | None] = []
    with zipfile.ZipFile(shelf("blank-us")) as package:
        for name in package.namelist():
            if re.fullmatch(r"xl/drawings/drawing\d+\.xml", name):
                frames = ET.fromstring(package.read(name)).iter()
                own = [f for f in frames if f.tag.endswith("}cNvPr")]
                dumb = [any(e.tag.endswith("}decorative") for e in f.iter()) for f in own]
                assert [f.get("descr") is None for f in own] == dumb
                told += [f.get("descr") for f in own]
    book, _ = laid_out("us")
    each = [{one.words for one in pile} for block in book.blocks for pile in piles(book, block)]
    assert len(told) == drawn("us") > len(each)
    assert sorted(filter(None, told)) == sorted(words for pile in each for words in pile)


@pytest.mark.parametrize("job", [name for name in LOOKED_AT if name in JOBS])
def test_a_filled_workbook_is_light(job: str, shelf: Callable[[str], Path]) -> None:
    assert shelf(job).stat().st_size <= HEAVIEST


def test_one_filled_to_the_last_line_of_everything_is_hardly_heavier(
    shelf: Callable[[str], Path],
) -> None:
    assert shelf("filled-us").stat().st_size <= 1.1 * HEAVIEST
    assert shelf("filled-si").stat().st_size <= 1.1 * HEAVIEST


def test_a_workbook_says_nothing_of_the_machine_it_was_built_on(workbook: Path) -> None:
    places = {str(Path.home()), tempfile.gettempdir(), str(Path.cwd()), str(templates_folder())}
    words = [f"{p.rstrip('/')}/".encode() for p in places] + [b"/home/", b"/Users/", b":\\"]
    with zipfile.ZipFile(workbook) as package:
        for name in package.namelist():
            content = package.read(name)
            assert [w for w in words if w in content] == [], name


def test_the_same_input_gives_the_same_bytes(shelf: Callable[[str], Path], tmp_path: Path) -> None:
    code = (
        "import sys; sys.path.insert(0, sys.argv[1])\n"
        "from pathlib import Path; from filled import filled; from shop import build\n"
        "build('us', filled('us'), Path(sys.argv[2]))"
    )
    again = tmp_path / "again.xlsx"
    subprocess.run(
        [sys.executable, "-c", code, str(Path(__file__).parent), str(again)],
        check=True,
        env={**os.environ, "PYTHONHASHSEED": "1", "TZ": "Asia/Tokyo"},
    )
    assert again.read_bytes() == shelf("filled-us").read_bytes()


# Looks -----------------------------------------------------------------------------------


@pytest.mark.parametrize("role", style.ROLES)
def test_words_stand_out_from_their_ground(role: str) -> None:
    look = style.properties(role, "General", 10.0)
    ground = look.get("bg_color", "#FFFFFF")
    inks = [look["font_color"]]
    if role in ("state", "says", "headline"):
        inks += style.STATES.values()
    assert [ink for ink in inks if contrast(ink, ground) < 4.5] == []


@pytest.mark.parametrize("role", ["masthead", "accent_head"])
def test_heads_of_papers_take_the_color_of_the_company(role: str) -> None:
    assert style.properties(role, "General", 10.0)["font_color"] == style.ACCENT
    assert style.properties(role, "General", 10.0, "#1B4D3E")["font_color"] == "#1B4D3E"
    assert style.properties("title", "General", 10.0, "#1B4D3E")["font_color"] == style.SLATE


def contrast(one: str, other: str) -> float:
    """Return the contrast of two colors by the definition of WCAG 2.2."""
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def luminance(color: str) -> float:
    parts = [int(color[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def test_contrast_is_measured_as_published() -> None:
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)


def test_every_drawing_shows_rows_that_are_hidden(shelf: Callable[[str], Path]) -> None:
    with zipfile.ZipFile(shelf("blank-us")) as package:
        charts = [n for n in package.namelist() if n.startswith("xl/charts/chart")]
        only_seen = [n for n in charts if b'plotVisOnly val="1"' in package.read(n)]
    assert len(charts) == drawn("us")
    assert only_seen == []


def bare_points(path: Path) -> list[str]:
    """Return the number formats that may show a number with a bare point behind it, as "4."."""
    with zipfile.ZipFile(path) as package:
        formats = ET.fromstring(package.read("xl/styles.xml")).iter(f"{MAIN}numFmt")
        codes = [f.get("formatCode", "") for f in formats]
    assert len(codes) > 5
    return [code for code in codes if re.search(r"[0#?]\.(?!0)", code)]


def test_no_number_is_shown_with_a_bare_point(workbook: Path) -> None:
    assert bare_points(workbook) == []


@UNITS
def test_no_number_of_the_copy_is_shown_with_a_bare_point(units: Units, tmp_path: Path) -> None:
    write_copy(units, results(units, {}), tmp_path / "copy.xlsx")
    assert bare_points(tmp_path / "copy.xlsx") == []


def test_an_empty_text_is_stored_as_a_text(workbook: Path) -> None:
    empty = 0
    with zipfile.ZipFile(workbook) as package:
        for name in package.namelist():
            if re.fullmatch(r"xl/worksheets/sheet\d+\.xml", name):
                for cell in ET.fromstring(package.read(name)).iter(f"{MAIN}c"):
                    if cell.find(f"{MAIN}f") is not None and not cell.findtext(f"{MAIN}v"):
                        assert cell.get("t") == "str", (name, cell.get("r"))
                        empty += 1
    assert empty


# Rooms of the generator ------------------------------------------------------------------

ROOMS = [
    "model", "style", "hint", "lengths", "opened", "unpack", "bounds", "guard", "output",
    "sheets", "percent", "scalar", "files",
    "syntax", "schema", "local", "declared", "rules", "shorthand", "expand", "gather", "fields",
    "drawings", "formula", "cells", "declare", "accept", "typed", "taped", "follow", "sound",
    "place",
    "load", "reading", "resolve", "top", "grid", "pages", "moved", "jobfile", "new", "cause",
    "recalc",
    "wording", "template", "trial", "company", "logo", "companyfile", "charts", "sheaf", "asked",
    "write",
    "lines", "heads", "read", "values", "signed", "csvfile", "pricetable", "pricesave",
    "priceline", "priceload", "build", "many", "summary", "outlines",
    "arcs", "drawn", "paper", "sketch",
    "plan", "pdf", "share", "demo", "returned", "learn", "books",
    "telling", "cli_make", "cli_show", "cli_carry", "cli",
]  # fmt: skip
"""Each room may use the ones before it and none after."""
ALONE = {"model", "style", "hint", "lengths", "opened", "unpack", "bounds", "output", "outlines"}
"""Rooms that use no other."""
COMMANDS = {"telling", "cli_make", "cli_show", "cli_carry", "cli"}
"""Rooms of the command line: they alone print, and share one library."""
SOURCES = sorted(p for p in Path(pourtally.__file__).parent.glob("*.py") if p.stem != "__init__")


def imports(source: Path) -> tuple[set[str], set[str]]:
    """Return the rooms and the libraries that a room imports anywhere in its text."""
    rooms, libraries = set(), set()
    for node in ast.walk(ast.parse(source.read_text("utf-8"))):
        if isinstance(node, ast.Import):
            libraries |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.level:
            rooms |= {node.module} if node.module else {a.name for a in node.names}
        elif isinstance(node, ast.ImportFrom):
            libraries.add(str(node.module).split(".")[0])
    return rooms, libraries - set(sys.stdlib_module_names)


@pytest.mark.parametrize("source", SOURCES, ids=lambda p: p.stem)
def test_a_room_uses_only_rooms_before_it(source: Path) -> None:
    assert source.stem in ROOMS, "give the new room its place in ROOMS"
    before = set() if source.stem in ALONE else set(ROOMS[: ROOMS.index(source.stem)])
    assert imports(source)[0] - before == set()


def test_a_library_is_imported_in_one_room_only() -> None:
    users: dict[str, set[str]] = {}
    for source in SOURCES:
        for library in imports(source)[1]:
            users.setdefault(library, set()).add(source.stem)
    assert users["xlsxwriter"] == {"write"}
    assert users.pop("click") == COMMANDS
    assert {library: rooms for library, rooms in users.items() if len(rooms) > 1} == {}


def test_only_the_command_line_prints_or_ends_the_program() -> None:
    for source in SOURCES:
        if source.stem not in COMMANDS:
            calls = [
                n for n in ast.walk(ast.parse(source.read_text("utf-8"))) if isinstance(n, ast.Call)
            ]
            names = {ast.unparse(c.func) for c in calls}
            assert names & {"print", "input", "exit", "sys.exit"} == set(), source.stem

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
from pathlib import Path
from xml.etree import ElementTree as ET

import openpyxl
import pytest
from openpyxl.formula import Tokenizer
from openpyxl.formula.tokenizer import Token
from openpyxl.utils import column_index_from_string
from openpyxl.workbook import Workbook

import pourtally
from conftest import JOBS, LOOKED_AT
from pourtally import style
from pourtally.files import templates_folder
from pourtally.grid import is_formula
from pourtally.model import Book, Part, Units
from shop import laid_out, usual_cells

SAFE = {
    "SUM", "SUMIF", "SUMIFS", "SUMPRODUCT", "COUNTIF", "COUNTIFS", "COUNTA", "COUNT", "MIN", "MAX",
    "ABS", "INT", "ROUND", "ROUNDUP", "ROUNDDOWN", "SQRT", "PI", "SIN", "COS", "TAN", "ASIN",
    "ATAN2", "RADIANS", "EXP", "LN", "IF", "AND", "OR", "NOT", "IFERROR", "ISNUMBER", "ISTEXT",
    "ISBLANK", "N", "INDEX", "MATCH", "CHOOSE", "DATE", "EDATE", "NA", "NORMSDIST", "NORMSINV",
    "TEXT", "LEN",
}  # fmt: skip
"""Functions that every engine tried works out alike, and that depend on nothing outside."""
SHOWING = {"LEFT", "LEN", "SEARCH"}
"""What the writing library itself puts in a rule that tints a cell by its first word."""
ROUNDINGS = {"ROUND", "ROUNDUP", "ROUNDDOWN"}
LONGEST = 255
LONG = 100
FEW = 0.08
"""The greatest share of the declared formulas that may be longer than ``LONG``."""
LETTER, A4 = 1, 9
HEAVIEST = 660 * 1024  # bytes: under 30 for each of 22,700 formulas; it still goes by mail

NAMED = ("order", "headline")
UNITS = pytest.mark.parametrize("units", ["us", "si"])


@lru_cache(maxsize=4)
def read(path: Path) -> Workbook:
    return openpyxl.load_workbook(path)


@pytest.fixture(params=["blank-us", "blank-si", "filled-us", "filled-si"])
def opened(request: pytest.FixtureRequest, shelf: Callable[[str], Path]) -> tuple[Book, Workbook]:
    """Return the declarations of a workbook and the workbook as read from its file."""
    name: str = request.param
    units: Units = "us" if name.endswith("us") else "si"
    return laid_out(units)[0], read(shelf(name))


@pytest.fixture(params=["blank-us", "blank-si"])
def blank(request: pytest.FixtureRequest, shelf: Callable[[str], Path]) -> tuple[Book, Workbook]:
    """Return the same for the workbooks that nobody has filled in."""
    units: Units = "us" if request.param.endswith("us") else "si"
    return laid_out(units)[0], read(shelf(request.param))


def formulas(book: Book, sheets: Workbook) -> Iterator[tuple[str, str]]:
    """Yield one written formula for each that is declared, the last line's, with its key."""
    for key, (block, _, part) in book.parts.items():
        if part.kind == "formula":
            alike = len(part.formulas) == 1
            for line in [block.lines - 1] if alike else range(block.lines):
                if part.formula(line):
                    yield key, str(cell_of(book, sheets, key, line).value)


def cell_of(book: Book, sheets: Workbook, key: str, line: int = 0) -> openpyxl.cell.Cell:
    """Return a part's cell: by the name written in the file, or a working by its place."""
    if key in sheets.defined_names:
        ((sheet, address),) = sheets.defined_names[key].destinations
        first = sheets[sheet][address.replace("$", "")]
    else:
        spot = laid_out(book.units)[1].spots[key]
        first = sheets[spot.sheet].cell(spot.row + 1, spot.column + 1)
    across = book.parts[key][0].shape == "across"
    return first.offset(0, line) if across else first.offset(line, 0)


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


def test_no_formula_holds_a_number_of_its_own(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    found = [(k, n) for k, f in formulas(book, sheets) for n in numbers(f) if n not in "012"]
    assert found == []


def numbers(formula: str) -> Iterator[str]:
    """Yield the numbers written in a formula, but for the digits of a rounding."""
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
            yield from () if digits else (token.value,)


def test_formulas_are_short(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    lengths = {key: len(formula) for key, formula in formulas(book, sheets)}
    assert {k: n for k, n in lengths.items() if n > LONGEST} == {}
    long = {k: n for k, n in lengths.items() if n > LONG}
    share = len(long) / len(lengths)
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
        for row in sheet.iter_rows()
        for cell in row
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
        if block.shape == "table":
            label = cell.offset(-1, 0).value
            assert str(label).startswith(item.heading or item.label), key
        else:
            rows = range(cell.row, 0, -1)
            label = next(v for r in rows if (v := cell.parent.cell(r, 2).value))
            assert label == item.label, key


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
    _, sheets = blank
    names = [s.title.casefold() for s in sheets]
    assert len(names) == len(set(names))
    assert {s.title: s.merged_cells.ranges for s in sheets if s.merged_cells.ranges} == {}


def test_every_sheet_is_ready_to_print(blank: tuple[Book, Workbook]) -> None:
    book, sheets = blank
    papers = {s.name: s.paper for s in book.sheets}
    for sheet in sheets:
        assert sheet.print_area, sheet.title
        assert sheet.sheet_properties.pageSetUpPr.fitToPage, sheet.title
        assert sheet.page_setup.fitToWidth in (None, 1), sheet.title  # 1 where nothing is said
        pages = sheet.page_setup.fitToHeight
        assert (1 if pages is None else pages) == papers[sheet.title], sheet.title
        assert sheet.page_setup.paperSize == (LETTER if book.units == "us" else A4), sheet.title
        assert sheet.print_title_rows, sheet.title
        footer = sheet.oddFooter
        words = "".join(str(p.text) for p in (footer.left, footer.center, footer.right))
        assert "&P" in words, sheet.title
        assert book.version in words, sheet.title
        assert sheet.freeze_panes, sheet.title


# Files -----------------------------------------------------------------------------------


def test_every_drawing_is_told_in_words(shelf: Callable[[str], Path]) -> None:
    drawings = sum(len(block.charts) for block in laid_out("us")[0].blocks)
    told = []
    with zipfile.ZipFile(shelf("blank-us")) as package:
        for name in package.namelist():
            if re.fullmatch(r"xl/drawings/drawing\d+\.xml", name):
                frames = ET.fromstring(package.read(name)).iter()
                told += [f.get("descr") for f in frames if f.tag.endswith("}cNvPr")]
    assert len(told) == drawings > 0
    assert all(told)


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


# Rooms of the generator ------------------------------------------------------------------

ROOMS = [
    "model", "style", "hint", "guard", "output", "sheets", "percent", "scalar", "files",
    "syntax", "schema", "declared", "rules", "shorthand", "expand", "gather", "fields",
    "formula", "cells", "declare", "accept", "typed", "follow", "sound", "place", "load",
    "grid", "pages", "jobfile", "new", "cause", "recalc", "template", "charts", "write",
    "build", "lines", "read", "values", "pdf", "share", "demo", "csvfile", "pricetable",
    "pricesave", "priceline", "priceload", "learn", "telling", "cli_make", "cli_show",
    "cli_carry", "cli",
]  # fmt: skip
"""Each room may use the ones before it and none after."""
ALONE = {"model", "style", "hint", "guard", "output", "csvfile"}
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

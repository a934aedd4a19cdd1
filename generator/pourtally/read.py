"""A workbook that a person filled in to its entries; the only room that reads with openpyxl.

Entries are found by their names, so they are found where somebody put a row in above
them.  Only entries are taken: results are worked out afresh by the caller.
"""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.utils.cell import coordinate_to_tuple

from . import accept
from .grid import lay
from .guard import UnusableError, workbook_bytes
from .load import load_book, release
from .model import Block, Book, Entries, Part, Scalar, Units
from .place import Places, address, place
from .typed import taken

_MOST_ROWS, _MOST_COLUMNS = 3000, 120
_CELL = re.compile(r"(?:'(.+)'|([^'!]+))!\$?([A-Z]{1,3})\$?(\d{1,7})")
_FRAME = ("heading", "header", "label", "unit")

Typed = tuple[str, Any]
"""Kind of a cell as openpyxl calls it (n, s, b, d, e, f), or %, and what it holds."""

Sheets = dict[str, dict[tuple[int, int], Typed]]
Where = tuple[str, int, int]


@dataclass(frozen=True)
class Filled:
    """What was taken from a workbook, and everything that was wrong with it."""

    units: Units
    entries: Entries
    problems: list[str]


@dataclass(frozen=True)
class _Source:
    """A workbook's cells as typed and as last worked out, its names and its description."""

    typed: Sheets
    stored: Sheets
    names: dict[str, Where]
    description: str


@dataclass
class _Reading:
    """What is gathered while a workbook is read."""

    source: _Source
    book: Book
    places: Places
    older: bool
    spots: dict[str, Where]
    entries: Entries = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    chosen: list[tuple[str, Part, int, str]] = field(default_factory=list)


def read_workbook(path: Path) -> Filled:
    """Return the entries of a filled-in workbook; raise ``UnusableError`` where there are none."""
    source = _open(workbook_bytes(path))
    made, ours = _version(source), _numbers(release())
    if made > ours:
        raise UnusableError(
            f"made by a newer version, {'.'.join(map(str, made))}; this is {release()}: "
            "update this program"
        )
    units, spots = _identify(source)
    book = load_book(units)
    reading = _Reading(source, book, place(book), made < ours, spots)
    for block in book.blocks:
        if any(p.kind == "entry" for f in block.fields for p in f.parts):
            _read_block(reading, block)
    for where, part, line, name in reading.chosen:
        if wrong := accept.choice_problem(book, part, name, reading.entries):
            reading.problems.append(f"{where}: {wrong}; choose one of the list")
            reading.entries[part.key][line] = None
    return Filled(units, reading.entries, reading.problems)


def _version(source: _Source) -> tuple[int, ...]:
    """Return the version that made a workbook, by its description or the words on its sheets."""
    made_by = re.compile(load_book("us").title + r" (\d+(?:\.\d+)*)")
    typed = (value for cells in source.typed.values() for _, value in cells.values())
    for words in (source.description, *(v for v in typed if isinstance(v, str))):
        if match := made_by.search(words):
            return _numbers(match.group(1))
    return _numbers(release())


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(n) for n in re.findall(r"\d+", version)[:3])


def _open(raw: bytes) -> _Source:
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what openpyxl cannot keep, it need not
            typed = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, keep_links=False)
            stored = openpyxl.load_workbook(
                io.BytesIO(raw), read_only=True, keep_links=False, data_only=True
            )
            return _Source(_cells(typed), _cells(stored), _names(typed),
                           str(typed.properties.description or "").strip())  # fmt: skip
    except Exception as error:  # openpyxl fails in any way the damage leads to
        raise UnusableError(
            f"damaged: it cannot be read as a workbook ({type(error).__name__}: {error}); "
            "open it in your spreadsheet program and save it again"
        ) from error


def _cells(workbook: Any) -> Sheets:
    return {
        sheet.title: {
            (row, column): (_kind(cell), cell.value)
            for row, cells in enumerate(sheet.iter_rows(max_row=_MOST_ROWS, max_col=_MOST_COLUMNS))
            for column, cell in enumerate(cells)
            if cell.value is not None
        }
        for sheet in workbook.worksheets
    }


def _kind(cell: Any) -> str:
    return "%" if cell.data_type == "n" and "%" in cell.number_format else str(cell.data_type)


def _names(workbook: Any) -> dict[str, Where]:
    names: dict[str, Where] = {}
    for name, defined in workbook.defined_names.items():
        match = _CELL.fullmatch(defined.value or "")
        if match:
            sheet = (match.group(1) or match.group(2)).replace("''", "'")
            row, column = coordinate_to_tuple(match.group(3) + match.group(4))
            names[name] = (sheet, row - 1, column - 1)
    return names


def _identify(source: _Source) -> tuple[Units, dict[str, Where]]:
    """Return the units, and where each part stands: by names, or else by the words."""
    options: tuple[Units, ...] = ("us", "si")
    found = {u: len(load_book(u).entries().keys() & source.names.keys()) for u in options}
    units = max(options, key=lambda u: found[u])
    if 2 * found[units] > len(load_book(units).entries()):
        return units, source.names
    for units in options:
        book = load_book(units)
        places = place(book)
        frame = [c for c in lay(book, places) if c.role in _FRAME and _plain(c.content)]
        if all(
            source.typed.get(c.sheet, {}).get((c.row, c.column), ("", ""))[1] == c.content
            for c in frame
        ):
            return units, {k: (s.sheet, *s.at(0)) for k, s in places.spots.items()}
    raise UnusableError("a workbook, but not one that Pourtally made, or its sheets were rebuilt")


def _plain(content: Scalar) -> bool:
    return bool(content) and "\n" not in str(content)  # programs differ in line ends


def _read_block(reading: _Reading, block: Block) -> None:
    lines = _lines_there(reading, block)
    if lines < block.lines and not reading.older:
        sheet = reading.places.stand(block.key, block.sheet).sheet
        reading.problems.append(
            f"{sheet}, {block.title}: line {lines + 1} is not where it belongs, so nothing of "
            "this table is taken; a row or column was put in or taken out: undo that, or copy "
            "the entries into a fresh workbook"
        )
        lines = 0
    for item in block.fields:
        for part in item.parts:
            if part.kind != "entry":
                continue
            if part.key not in reading.spots:
                if not reading.older:
                    reading.problems.append(
                        f"{block.title}, {accept.label(item, part)}: its cell is gone, so its "
                        "usual value is taken; copy the entries into a fresh workbook"
                    )
                continue
            reading.entries[part.key] = [None] * block.lines
            for line in range(lines):
                named = f"{block.title}, {accept.label(item, part)}"
                _read_cell(reading, part, line, named if block.lines == 1
                           else f"{named}, line {line + 1}")  # fmt: skip


def _lines_there(reading: _Reading, block: Block) -> int:
    """Return how many lines of a block stand in order, judged by the line numbers beside them."""
    if block.lines == 1:
        return 1
    stand = reading.places.stand(block.key, block.sheet)
    first = stand.parts[0].key
    if first not in reading.spots:
        return 0
    sheet, row, column = reading.spots[first]
    marks = reading.source.typed.get(sheet, {})
    down = reading.places.spots[first].down
    head = row - (stand.first_row - stand.head_row)
    for line in range(block.lines):
        at = (row + line, 0) if down else (head, column + line)
        if marks.get(at, ("", None))[1] != line + 1:
            return line
    return block.lines


def _read_cell(reading: _Reading, part: Part, line: int, named: str) -> None:
    sheet, row, column = reading.spots[part.key]
    at = (row + line, column) if reading.places.spots[part.key].down else (row, column + line)
    kind, value = reading.source.typed.get(sheet, {}).get(at, ("n", None))
    if value is None or (isinstance(value, str) and not value.strip()):
        return
    where = f"{sheet} {address(*at)} ({named})"
    if kind == "f":
        kind, value = reading.source.stored.get(sheet, {}).get(at, ("n", None))
        if value is None:
            reading.problems.append(f"{where}: came a formula without a stored value; "
                                    f"expected {accept.expected(part)}: type it")  # fmt: skip
            return
        if kind != "e":
            reading.problems.append(
                f"{where}: holds a formula; its stored value {accept.shown(value)} is taken: "
                "type the value itself"
            )
    value, wrong = taken(part, kind, value)
    if wrong:
        reading.problems.append(f"{where}: {wrong}")
        return
    if part.entry == "choice":
        reading.chosen.append((where, part, line, str(value)))
    reading.entries[part.key][line] = value

"""A workbook that a person filled in to its entries, with every problem it has.

Entries are found by their names, so they are found where somebody put a row in above
them.  Only entries are taken: results are worked out afresh by the caller.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

from . import accept
from .grid import Cell, lay
from .guard import UnusableError, workbook_bytes
from .load import load_book, release
from .model import Block, Book, Entries, Part, Units
from .place import Places, address, place
from .sheets import Cells, Sheets, Where
from .typed import taken

_SHARES = (0, 4)  # the version whose cells hold percentages as shares
_FRAME = ("heading", "header", "label", "unit")
_UNITS: tuple[Units, ...] = ("us", "si")


@dataclass(frozen=True)
class Filled:
    """What was taken from a workbook, everything wrong with it, and what cannot be taken."""

    units: Units
    entries: Entries
    problems: list[str]
    added: list[str]


@dataclass
class _Reading:
    """A workbook, where its entries stand, and what is gathered while it is read."""

    raw: bytes
    typed: Sheets
    made: tuple[int, ...]
    older: bool
    book: Book
    places: Places
    spots: dict[str, Where]
    entries: Entries = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    chosen: list[tuple[str, Part, int, str]] = field(default_factory=list)

    @cached_property
    def stored(self) -> Sheets:
        """Return the cells as last worked out: asked only where a formula was typed."""
        return Sheets(self.raw, stored=True)


def read_workbook(path: Path) -> Filled:
    """Return the entries of a filled-in workbook; raise ``UnusableError`` where there are none."""
    raw = workbook_bytes(path)
    typed = Sheets(raw)
    made, ours = _version(typed), _numbers(release())
    if made > ours:
        raise UnusableError(
            f"made by a newer version, {'.'.join(map(str, made))}; this is {release()}: "
            "update this program"
        )
    units, spots = _identify(typed)
    book = load_book(units)
    reading = _Reading(raw, typed, made, made < ours, book, place(book), spots)
    for block in book.blocks:
        if any(p.kind == "entry" for f in block.fields for p in f.parts):
            _read_block(reading, block)
    if reading.older:
        reading.problems += _left_behind(reading)
    for where, part, line, name in reading.chosen:
        if wrong := accept.choice_problem(book, part, name, reading.entries):
            reading.problems.append(f"{where}: {wrong}; choose one of the list")
            reading.entries[part.key][line] = None
    added = typed.added({s.name for s in book.sheets})
    return Filled(units, reading.entries, reading.problems, added)


def _left_behind(reading: _Reading) -> list[str]:
    """Return a problem for each filled entry of an older version that has no place any more."""
    return [
        f"{sheet} {address(*at)} ({name}): {accept.shown(value)} is not carried over, since this "
        "version has no such entry: type it where it belongs now"
        for name in sorted(reading.spots.keys() - reading.book.parts.keys())
        for sheet in [reading.spots[name][0]]
        for at, (kind, value) in _column(reading.typed[sheet], *reading.spots[name][1:])
        if kind != "f" and not _blank(value)
    ]


def _column(cells: Cells, row: int, column: int) -> Iterator[tuple[tuple[int, int], Any]]:
    """Yield the cell a name points at, and those below it as long as their lines are numbered."""
    line = 0
    while not line or cells.get((row + line, 0), ("", None))[1] == line + 1:
        yield (row + line, column), cells.get((row + line, column), ("n", None))
        line += 1


def _version(typed: Sheets) -> tuple[int, ...]:
    """Return the version that made it, by its properties or the words of its first sheet."""
    book = load_book("us")
    made_by = re.compile(book.title + r" (\d+(?:\.\d+)*)")
    first = (str(value) for _, value in typed[book.sheets[0].name].values())
    for words in (typed.description(), *first):
        if match := made_by.search(words):
            return _numbers(match.group(1))
    return _numbers(release())


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(n) for n in re.findall(r"\d+", version)[:3])


def _identify(typed: Sheets) -> tuple[Units, dict[str, Where]]:
    """Return the units, and where each part stands: by names, or else by the words."""
    names = typed.names()
    found = {u: len(load_book(u).entries().keys() & names.keys()) for u in _UNITS}
    units = max(_UNITS, key=lambda u: found[u])
    if 2 * found[units] > len(load_book(units).entries()):
        return units, names
    for units in _UNITS:
        book = load_book(units)
        places = place(book)
        if all(_stands(typed, cell) for cell in lay(book, places) if cell.role in _FRAME):
            return units, {k: (s.sheet, *s.at(0)) for k, s in places.spots.items()}
    raise UnusableError("a workbook, but not one that Pourtally made, or its sheets were rebuilt")


def _stands(typed: Sheets, cell: Cell) -> bool:
    """Tell whether words of the template stand where they should; programs differ in line ends."""
    if not cell.content or "\n" in str(cell.content):
        return True
    return bool(typed[cell.sheet].get((cell.row, cell.column), ("", ""))[1] == cell.content)


def _read_block(reading: _Reading, block: Block) -> None:
    fields = [(f, p) for f in block.fields for p in f.parts if p.kind == "entry"]
    gone = [accept.label(f, p) for f, p in fields if p.key not in reading.spots]
    if gone and not reading.older:
        reading.problems.append(
            f"{block.title}: not found, so usual values are taken: {'; '.join(gone)}. "
            "Copy the entries into a fresh workbook"
        )
    fields = [(f, p) for f, p in fields if p.key in reading.spots]
    lines = _lines_there(reading, block) if fields else 0
    if fields and lines < block.lines and not reading.older:
        reading.problems.append(
            f"{block.title}: line {lines + 1} is not where it belongs, so nothing of this table "
            "is taken. A row or column was put in or taken out: undo that, or copy the entries "
            "into a fresh workbook"
        )
        lines = 0
    for item, part in fields:
        reading.entries[part.key] = [None] * block.lines
        named = f"{block.title}, {accept.label(item, part)}"
        for line in range(lines):
            which = f", line {line + 1}" if block.lines > 1 else ""
            _read_cell(reading, part, line, named + which)


def _lines_there(reading: _Reading, block: Block) -> int:
    """Return how many lines of a block stand in order, judged by the line numbers beside them."""
    if block.lines == 1:
        return 1
    stand = reading.places.stand(block.key, block.sheet)
    entries = [p.key for p in stand.parts if p.kind == "entry"]
    first = next((key for key in entries if key in reading.spots), "")
    if not first:
        return 0
    sheet, row, column = reading.spots[first]
    ours = reading.places.spots[first]
    down = ours.down
    head = row - (ours.row - stand.head_row)
    for line in range(block.lines):
        at = (row + line, 0) if down else (head, column + line)
        if reading.typed[sheet].get(at, ("", None))[1] != line + 1:
            return line
    return block.lines


def _read_cell(reading: _Reading, part: Part, line: int, named: str) -> None:
    sheet, row, column = reading.spots[part.key]
    at = (row + line, column) if reading.places.spots[part.key].down else (row, column + line)
    where = f"{sheet} {address(*at)} ({named})"
    kind, value = reading.typed[sheet].get(at, ("n", None))
    formula = kind == "f"
    if formula:
        kind, value = reading.stored[sheet].get(at, ("f", value))
    if _blank(value):
        return
    recorded, wrong = taken(part, kind, value, plain=reading.made < _SHARES)
    if wrong:
        reading.problems.append(f"{where}: {wrong}")
        return
    if formula:
        reading.problems.append(
            f"{where}: holds a formula; its stored value {accept.shown(value)} is taken: "
            "type the value itself"
        )
    if part.entry == "choice":
        reading.chosen.append((where, part, line, str(recorded)))
    reading.entries[part.key][line] = recorded


def _blank(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())

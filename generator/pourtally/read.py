"""A workbook that a person filled in to its entries, with every problem it has.

Entries are found by their names, so they are found where somebody put a row in above
them, and lines that items give by their codes, so they are found where the template has
others since.  Only entries are taken: results are worked out afresh by the caller.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property
from itertools import count, product
from pathlib import Path
from typing import Any

from . import accept, local
from .files import release
from .grid import Cell
from .guard import Package, UnusableError, package
from .heads import ANCHORED, checked, first_cells
from .hint import near
from .lines import Given, known_lines
from .model import SIZES, UNITS, Block, Book, Entries, Field, Part, Size, Units
from .moved import (
    beside,
    clear_spare,
    gone,
    move_of,
    moves,
    price_at_nothing,
    renamed,
    settle,
    spread,
    was_usual,
    worked_out,
)
from .place import Places, address
from .scalar import scalar
from .sheets import Cells, Sheets, Where
from .taped import taped
from .template import Template, Templates
from .typed import taken

_FRAME = ("heading", "header", "label", "unit")
_DIGITS = 9  # of a number of a version; whatever has more is newer all the same
_SHARES = (0, 4)  # the version whose cells hold percentages as shares
_KEY = re.compile(r"[a-z]\w*(\.\w+)+")


@dataclass(frozen=True)
class Filled:
    """What was taken from a workbook, everything wrong with it, and what cannot be taken.

    ``notes`` say what was taken otherwise than it was typed.
    """

    template: Template
    entries: Entries
    problems: list[str]
    added: list[str]
    notes: list[str] = field(default_factory=list)

    def every_entry(self) -> Entries:
        """Return a column for each entry: as it was taken, or with its usual values."""
        return {
            key: list(self.entries.get(key) or [part.value(n) for n in range(block.lines)])
            for key, (block, _, part) in self.template.book.entries().items()
        }


@dataclass
class _Reading:
    """A workbook, where its entries stand, and what is gathered while it is read."""

    package: Package
    typed: Sheets
    made: tuple[int, ...]
    template: Template
    spots: dict[str, Where]
    by_older_names: frozenset[str] = frozenset()
    entries: Entries = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    chosen: list[tuple[str, Part, int, str]] = field(default_factory=list)

    @property
    def book(self) -> Book:
        """Return the declarations of what is read."""
        return self.template.book

    @property
    def places(self) -> Places:
        """Return where everything stands in a fresh workbook."""
        return self.template.places

    @property
    def older(self) -> bool:
        """Tell whether an older version made it, which had other entries."""
        return self.made < _numbers(release())

    @cached_property
    def astray(self) -> dict[str, str]:
        """Return the names that point at no cell."""
        return self.typed.astray()

    @cached_property
    def stored(self) -> Sheets:
        """Return the cells as last worked out: asked only where a formula was typed."""
        return Sheets(self.package, stored=True)


def read_workbook(path: Path, templates: Templates) -> Filled:
    """Return the entries of a filled-in workbook; raise ``UnusableError`` where there are none."""
    came = package(path)
    typed = Sheets(came)
    made = _version(typed, templates)
    if made > _numbers(release()):
        raise UnusableError(
            f"made by a newer version, {'.'.join(map(str, made))}; this is {release()}: "
            "update this program"
        )
    template, spots, astray = _identify(typed, made, templates)
    book = template.book
    older_names = frozenset(m.old for name in typed.names() if (m := move_of(name)))
    reading = _Reading(came, typed, made, template, spots, older_names)
    reading.problems += astray
    for block in book.blocks:
        if any(p.kind == "entry" for f in block.fields for p in f.parts):
            _read_block(reading, block)
    _settle(reading)
    reading.problems += _left_behind(reading)
    for where, part, line, name in reading.chosen:
        if wrong := accept.choice_problem(book, part, name, reading.entries):
            reading.problems.append(f"{where}: {wrong}; choose one of the list")
            reading.entries[part.key][line] = None
    added = typed.added({s.name for s in book.sheets}, book.words["logo"].partition("{")[0])
    return Filled(template, reading.entries, reading.problems, added, reading.notes)


def _settle(reading: _Reading) -> None:
    """Take what has another name since, or stood once for what each line says itself now."""
    entries, book = reading.entries, reading.book
    settle(entries, {m.old: range(len(entries[m.new])) for m in moves()
                     if m.less and m.old in reading.by_older_names})  # fmt: skip
    clear_spare(entries, book, reading.made)
    if at_nothing := price_at_nothing(entries, book, reading.made):
        reading.notes.append(
            f"Prices: {', '.join(at_nothing)} had no line in that version and are taken at 0, "
            "so that no price moves: type what they cost you"
        )
    for key, said in beside().items():
        if worked_out(said["figure"], reading.made) and said["was"] in reading.spots:
            sheet, *at = reading.spots[said["was"]]
            _, stood = reading.stored[sheet].get((at[0], at[1]), ("n", None))
            entries[key] = [None if figure is None else _as_it_stood(stood)
                            for figure in entries[said["figure"]]]  # fmt: skip
    for name in reading.spots.keys() - book.parts.keys():
        move = move_of(name)
        if move and move.spreads:
            sheet, *at = reading.spots[name]
            _, value = reading.typed[sheet].get((at[0], at[1]), ("n", None))
            part = book.parts[move.new][2]
            now = None if _blank(value) else scalar(accept.current(book, part, value))
            for line in spread(entries, book, move, now):
                where = f"{sheet} {address(at[0], at[1])} ({name})"
                reading.chosen.append((where, part, line, str(now)))


def _left_behind(reading: _Reading) -> list[str]:
    """Return a problem for each filled entry of another template that has no place in ours.

    Of one that is gone a note says what counts now, where it was changed.
    """
    problems = []
    for name, where, value in _strangers(reading):
        if now := gone(name):
            if not was_usual(name, reading.book.units, value):
                reading.notes.append(f"{where}: {accept.shown(value)} is not carried over: {now}")
        else:
            problems.append(f"{where}: {accept.shown(value)} is not carried over, since this "
                            "version has no such entry: type it where it belongs now")  # fmt: skip
    return problems


def _strangers(reading: _Reading) -> Iterator[tuple[str, str, Any]]:
    """Yield name, place and content of each filled entry that ours does not have."""
    for name in sorted(reading.spots.keys() - reading.book.parts.keys()):
        if _KEY.fullmatch(name) and not name.endswith(".code") and not move_of(name):
            sheet, row, column = reading.spots[name]
            for at, (kind, value) in _column(reading.typed[sheet], row, column):
                if kind != "f" and not _blank(value):
                    yield name, f"{sheet} {address(*at)} ({name})", value


def _column(cells: Cells, row: int, column: int) -> Iterator[tuple[tuple[int, int], Any]]:
    """Yield the cell a name points at, and those below it as long as their lines are numbered."""
    line = 0
    while not line or cells.get((row + line, 0), ("", None))[1] == line + 1:
        yield (row + line, column), cells.get((row + line, column), ("n", None))
        line += 1


def _version(typed: Sheets, templates: Templates) -> tuple[int, ...]:
    """Return the version that made it, by its properties or the words of its first sheet."""
    made_by = _made_by(typed, templates)
    return _numbers(made_by.group(1) if made_by else release())


def _made_by(typed: Sheets, templates: Templates) -> re.Match[str] | None:
    """Return where its properties, or its first sheet, name the version, units and size."""
    book = templates["us", "usual"].book
    named = re.compile(
        rf"{book.title} (\d+(?:\.\d+)*)(?: ({'|'.join(UNITS)})\b)?"
        rf"(?:.*\b({'|'.join(SIZES)})\b)?(.*)"
    )
    first = (str(value) for _, value in typed[book.sheets[0].name].values())
    return next(filter(None, map(named.search, (typed.description(), *first))), None)


def _numbers(version: str) -> tuple[int, ...]:
    return tuple(int(n[:_DIGITS]) for n in re.findall(r"\d+", version)[:3])


def _identify(
    typed: Sheets, made: tuple[int, ...], templates: Templates
) -> tuple[Template, dict[str, Where], list[str]]:
    """Return the template, where each part stands, by names or else by the words, and problems."""
    names = typed.names()
    place = _place(typed, templates)
    several = [templates[units, "usual", place] for units in UNITS]
    found = [len(t.book.entries().keys() & names.keys()) for t in several]
    most = found.index(max(found))
    if 3 * found[most] > len(several[most].book.entries()):
        best = templates[UNITS[most], _size(typed, names, UNITS[most], templates), place]
        names = renamed(names, best.book)
        if made >= ANCHORED:
            return best, first_cells(best.book, best.places, typed, names, made), []
        return best, *checked(best.book, best.places, typed, names)
    for key in product(UNITS, SIZES):
        template = templates[*key, place]
        if all(_stands(typed, cell) for cell in template.blank if cell.role in _FRAME):
            spots = template.places.spots.items()
            return template, {k: (s.sheet, *s.at(0)) for k, s in spots}, []
    raise UnusableError("a workbook, but not one that Pourtally made, or its sheets were rebuilt")


def _place(typed: Sheets, templates: Templates) -> str:
    """Return the place it is for, as its properties or first sheet say; none before 0.9.0."""
    made_by = _made_by(typed, templates)
    words = made_by.group(4).strip(" .") if made_by else ""
    if not words or words in local.known():
        return words
    for key in local.known():
        if words.endswith(local.said(key).name):
            return key
    if re.fullmatch(r"[a-z-]+", words):
        raise UnusableError(f"made for the place {words!r}, and there is no such file among those "
                            f"of places; {near(words, local.known())}")  # fmt: skip
    return ""


def _size(typed: Sheets, names: dict[str, Where], units: Units, templates: Templates) -> Size:
    """Return its size: what it says itself, else by the lines of a table; usual before 0.5.0."""
    if made_by := _made_by(typed, templates):
        return next((size for size in SIZES if size == made_by.group(3)), "usual")
    for size in SIZES:
        book = templates[units, size].book
        key = book.keys["sized"]
        sheet, row, _ = names.get(key, ("", 0, 0))
        if _numbered(typed[sheet], row) == book.parts[key][0].lines:
            return size
    return "usual"


def _numbered(cells: Cells, row: int) -> int:
    """Return how many lines of a table are numbered, whose name stands on its head or under it."""
    first = row + (cells.get((row, 0), ("", None))[1] != 1)
    return next(n for n in count() if cells.get((first + n, 0), ("", None))[1] != n + 1)


def _stands(typed: Sheets, cell: Cell) -> bool:
    """Tell whether words of the template stand where they should; programs differ in line ends."""
    if not cell.content or "\n" in str(cell.content):
        return True
    return bool(typed[cell.sheet].get((cell.row, cell.column), ("", ""))[1] == cell.content)


def _read_block(reading: _Reading, block: Block) -> None:
    _tell_missing(reading, block)
    entries = ((f, p) for f in block.fields for p in f.parts if p.kind == "entry")
    fields = [(f, p) for f, p in entries if p.key in reading.spots]
    if not fields:
        return
    given = Given(reading.typed, reading.spots, reading.made)
    lines, problems = known_lines(given, reading.places, block, [p.key for _, p in fields])
    reading.problems += problems
    for item in dict.fromkeys(f for f, _ in fields if f.is_length):
        _read_lengths(reading, block, item, lines)
    for item, part in fields:
        column = [None if n in lines.values() else part.value(n) for n in range(block.lines)]
        reading.entries[part.key] = column
        named = f"{block.title}, {accept.label(item, part)}"
        for there, line in lines.items():
            which = f", line {there + 1}" if len(lines) > 1 else ""
            _read_cell(reading, part, there, line, named + which)


def _read_lengths(
    reading: _Reading, block: Block, item: Field, lines: dict[int, int | str]
) -> None:
    """Put numbers in place of what was written as a length, and take out what is none."""
    parts = [p for p in item.typed if p.key in reading.spots]
    for there, line in lines.items():
        where = [_at(reading, part, there) for part in parts]
        cells = reading.typed[where[0][0]]
        found = taped([cells.get(at, ("n", None)) for _, at in where])
        if not found or len(parts) < len(item.typed) or isinstance(line, str):
            continue
        sheet, at = where[found.at]
        which = f", line {line + 1}" if len(lines) > 1 else ""
        label = accept.label(item, parts[found.at])
        named = f"{sheet} {address(*at)} ({block.title}, {label}{which})"
        told = reading.problems if found.problem else reading.notes
        told.append(f"{named}: {found.problem or found.note}")
        for n, (_, at) in enumerate(where):
            cells[at] = ("n", found.numbers[n] if found.numbers else None)


def _tell_missing(reading: _Reading, block: Block) -> None:
    """Note the entries of a block that are not found, and where their names point instead."""
    entries = ((f, p) for f in block.fields for p in f.parts if p.kind == "entry")
    missing = {p.key: accept.label(f, p) for f, p in entries if p.key not in reading.spots}
    if reading.older or not _was_there(reading, block):
        missing = {key: label for key, label in missing.items() if key in reading.astray}
    if missing:
        gone = [label + _points_at(reading, key) for key, label in missing.items()]
        reading.problems.append(
            f"{block.title}: not found, so usual values are taken: {'; '.join(gone)}. "
            "Copy the entries into a fresh workbook"
        )


def _points_at(reading: _Reading, key: str) -> str:
    there = reading.astray.get(key)
    return f" (its name points at {there})" if there else ""


def _was_there(reading: _Reading, block: Block) -> bool:
    """Tell whether the template that made a workbook had a block, judged by its title."""
    cells = reading.typed[block.sheet]
    return not cells or any(block.title in str(said) for _, said in cells.values())


def _read_cell(reading: _Reading, part: Part, there: int, line: int | str, named: str) -> None:
    """Take the cell of a line there as the entry of a line here, or say that there is none."""
    sheet, at = _at(reading, part, there)
    where = f"{sheet} {address(*at)} ({named})"
    kind, value = reading.typed[sheet].get(at, ("n", None))
    formula = kind == "f"
    if formula:
        kind, value = reading.stored[sheet].get(at, ("f", value))
    if worked_out(part.key, reading.made):
        value, formula = _as_it_stood(value), False
    if _blank(value):
        return
    now = accept.current(reading.book, part, value)
    recorded, wrong = taken(part, kind, now, plain=reading.made < _SHARES)
    if isinstance(line, str):
        if wrong or recorded not in part.values:
            reading.problems.append(_not_here(where, line, value))
        return
    if wrong:
        reading.problems.append(f"{where}: {wrong}")
        return
    if formula:
        reading.notes.append(f"{where}: holds a formula; its value {accept.shown(value)} is taken")
    if part.entry == "choice":
        reading.chosen.append((where, part, line, str(recorded)))
    reading.entries[part.key][line] = recorded


def _as_it_stood(value: Any) -> float | None:
    """Return a figure that was worked out and is typed now; 0 stood where there was none."""
    return round(float(value), 2) or None if isinstance(value, (int, float)) else None


def _at(reading: _Reading, part: Part, there: int) -> tuple[str, tuple[int, int]]:
    """Return sheet and cell of an entry's line."""
    sheet, row, column = reading.spots[part.key]
    down = reading.places.spots[part.key].down
    return sheet, (row + there, column) if down else (row, column + there)


def _not_here(where: str, code: str, value: Any) -> str:
    return (
        f"{where}: {accept.shown(value)} is not carried over, since there is no line "
        f"{code!r} here: type it where it belongs now"
    )


def _blank(value: Any) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())

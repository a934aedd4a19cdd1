"""A workbook's prices to a CSV file."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from . import csvfile
from .csvfile import Row
from .model import Entries, Part
from .pricetable import COLUMNS, EMPTY, PLACE, Table, said, tables
from .read import read_workbook
from .template import Templates


def saved(workbook: Path, templates: Templates) -> tuple[str, list[str], list[str]]:
    """Return the price file of a workbook, all problems that stand in its way, and notes."""
    filled = read_workbook(workbook, templates)
    book = filled.template.book
    worked = filled.template.results(filled.entries)
    meaning = book.words["figures_place"].format(place=book.local.name)
    place = {"table": PLACE, "figure": PLACE, "value": book.local.key, "meaning": meaning}
    rows: list[Row] = [place]
    problems, notes = list(filled.problems), list(filled.notes)
    for table in tables(book).values():
        for line in range(table.block.lines):
            if table.name and _nameless(table, worked, line):
                notes.append(f"{table.block.title}, line {line + 1}: left out, since no name "
                             "says in another workbook which it is")  # fmt: skip
                continue
            rows += _line(table, worked, line)
        rows += _left_out(table, worked)
    return csvfile.text(COLUMNS, rows), problems, notes


def _nameless(table: Table, worked: Entries, line: int) -> bool:
    """Tell whether a line without a name holds anything that a fresh workbook has not."""
    fresh = table.name and not table.name.value(line)
    return not table.words(worked, line) and any(
        worked[p.key][line] not in (None, "", p.value(line) if fresh else None)
        for _, p in table.entries.values()
    )


def _line(table: Table, worked: Entries, line: int) -> Iterator[Row]:
    """Yield the row of each figure of a line, and at least one that names it."""
    if table.name and not table.words(worked, line):
        return
    shown = table.beside.values()
    others = {
        name: part
        for name, (_, part) in table.entries.items()
        if part not in (*shown, table.name) and not _as_named(table, part, worked, line)
    }
    rows = []
    for name, part in others.items():
        value = said(part, worked[part.key][line])
        emptied = EMPTY if part.value(line) not in (None, "") else ""
        asked = part is table.main and (table.coded or _any_said(table, worked, line))
        if value or emptied or asked:
            rows.append(table.row(worked, line, name, value or emptied))
    if table.name and not rows:
        name = next(iter(table.entries))
        rows.append(table.row(worked, line, name, said(table.name, worked[table.name.key][line])))
    yield from rows


def _as_named(table: Table, part: Part, worked: Entries, line: int) -> bool:
    """Tell whether a former name is the name itself, which says nothing."""
    return bool(part.former and worked[part.key][line] == table.words(worked, line))


def _any_said(table: Table, worked: Entries, line: int) -> bool:
    return any(p.kind == "entry" and worked[p.key][line] for p in table.beside.values())


def _left_out(table: Table, worked: Entries) -> Iterator[Row]:
    """Yield a row for each line a fresh workbook has by itself and this one has no more."""
    if table.name:
        there = {str(n).strip().casefold() for n in worked[table.name.key] if n}
        for line, usual in enumerate(table.name.values):
            if usual and str(usual).strip().casefold() not in there:
                row = table.row(worked, line, next(iter(table.entries)), EMPTY)
                yield row | {"line": "", "what": csvfile.untouched(str(usual))}

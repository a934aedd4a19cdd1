"""A price file into a workbook's entries.

What a row leaves empty stays as it is; "(empty)" empties it.
"""

from __future__ import annotations

from datetime import time
from pathlib import Path

from . import accept, csvfile
from .csvfile import Row
from .hint import near
from .model import Part
from .percent import is_percent, kept
from .priceline import Loaded, Loading, find, leave_out, leaves_out
from .pricetable import COLUMNS, EMPTY, LEARNED, NEEDED, tables
from .read import read_workbook
from .scalar import scalar
from .signed import keep
from .template import Templates


def loaded(workbook: Path, prices: Path, templates: Templates) -> Loaded:
    """Return the entries of a workbook with those of a price file put in."""
    filled = read_workbook(workbook, templates)
    book = filled.template.book
    entries = filled.every_entry()
    told, notes = ([f"{workbook}: {w}" for w in words] for words in (filled.problems, filled.notes))
    out = Loaded(filled.template, entries, filled.added, told, notes)
    sheet, problems = csvfile.read(prices, NEEDED, (*COLUMNS, *LEARNED))
    out.problems += problems
    if problems:
        return out
    out.notes += [f"{prices}: the column {c} is not read" for c in sheet.unknown]
    out.kept = keep(filled.template, entries)
    loading = Loading(prices, out, tables(book), sheet)
    for at, row in sorted(sheet.rows, key=lambda r: not leaves_out(loading, r[1])):
        _row(loading, at, row)
    for at, part, name in loading.chosen:
        if wrong := accept.choice_problem(book, part, name, entries):
            loading.wrong(at, "value", wrong)
    _same_units(loading)
    return out


def _row(loading: Loading, at: int, row: Row) -> None:
    wanted, name = (row[c].strip().casefold() for c in ("table", "figure"))
    table = loading.tables.get(wanted)
    if table is None:
        hint = near(wanted, loading.tables, "expected one of")
        loading.wrong(at, "table", f"came {row['table']!r}; {hint}")
        return
    if name not in table.entries:
        hint = near(name, table.entries, "expected one of")
        loading.wrong(at, "figure", f"came {row['figure']!r}; {hint}")
        return
    part = table.entries[name][1]
    if leaves_out(loading, row):
        leave_out(loading, table, at, row)
        return
    line = find(loading, table, at, row)
    if line is None:
        return
    before = loading.given.setdefault((part.key, line), at)
    if before != at:
        loading.wrong(at, "figure", f"{name} of this line stands in line {before} already; "
                      "keep one of them")  # fmt: skip
        return
    came = row["value"].strip()
    _set(loading, at, "value", part, line, row["value"])
    if part is table.main:
        for column, said_of_it in table.beside.items():
            if said_of_it.kind == "entry" and column in row:
                new = row[column] if row[column].strip() or came in ("", EMPTY) else EMPTY
                _set(loading, at, column, said_of_it, line, new)
    loading.units.append((at, table, line, part, row))


def _set(loading: Loading, at: int, column: str, part: Part, line: int, came: str) -> None:
    """Put a cell of a file in the place of an entry, or say what is wrong with it."""
    if not came.strip():
        return
    if came.strip() == EMPTY:
        loading.out.entries[part.key][line] = None
        return
    commas, words = (
        loading.sheet.commas,
        accept.current(loading.out.template.book, part, csvfile.bare(came)),
    )
    value: object = words
    if part.entry == "number":
        bare = words.strip().removesuffix("%") if is_percent(part) else words
        value = kept(part, csvfile.number(bare, commas))
    elif part.entry == "date":
        value = csvfile.day(words, commas)
    elif part.entry == "time":
        value = _clock(words)
    if value is None:
        loading.wrong(at, column, f"came {words.strip()!r}; expected {accept.expected(part)}: "
                      f"{_fix(part, commas)}")  # fmt: skip
    elif wrong := accept.problem(part, value):
        loading.wrong(at, column, f"{wrong}: correct it, or leave it empty")
    else:
        if part.entry == "choice":
            loading.chosen.append((at, part, words))
        loading.out.entries[part.key][line] = scalar(value)
        loading.out.taken += column == "value"


def _clock(words: str) -> time | None:
    try:
        return time.fromisoformat(words.strip().rjust(5, "0"))
    except ValueError:
        return None


def _fix(part: Part, commas: bool) -> str:
    if part.entry == "number" and commas:
        return "write it as 9,50; 1,234 could be two numbers, so write 1234 or 1,2340"
    return {
        "number": "write it as 9.50, without unit or words",
        "date": "write it as 2026-05-14",
        "time": "write it as 07:30",
    }[part.entry]


def _same_units(loading: Loading) -> None:
    """Note each figure that a file gives for another unit, or a code for another thing."""
    worked = loading.out.template.results(loading.out.entries)
    for at, table, line, part, row in loading.units:
        unit = table.beside.get("unit") if part is table.main else None
        ours = part.unit if unit is None else str(worked[unit.key][line] or "")
        theirs = csvfile.bare(row.get("unit", "")).strip()
        if theirs and ours and theirs.casefold() != ours.casefold():
            loading.wrong(at, "unit", f"came {theirs!r}; its unit in the workbook is {ours!r}: "
                          "correct the figure and its unit")  # fmt: skip
        name, told = table.words(worked, line), csvfile.bare(row.get("what", "")).strip()
        if table.coded and row["value"].strip() and told and name and told != name.strip():
            loading.out.notes.append(f"{loading.path}, line {at}: {row['line']} is {told!r} there "
                                     f"and {name!r} in the workbook; loaded")  # fmt: skip
